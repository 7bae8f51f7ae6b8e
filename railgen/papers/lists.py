"""The lists at the end of a drawing: every component with its stations, every finding with its number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from railgen.data.findings import Finding
from railgen.holes.table import RAIL, SIDES, IntArray
from railgen.papers.elevation_layout import ElevationLayout
from railgen.papers.fonts import LARGE
from railgen.papers.sheet import BLACK, FRAME_LEFT, FRAME_TOP, RED, Item, Text
from railgen.papers.style import DrawingStyle
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.wording import say

_COMPONENT_WIDTHS = {
    "component": 58,
    "what": 74,
    "kind": 28,
    "brought_by": 26,
    "features_LH": 18,
    "features_RH": 18,
    "stations_LH": 84,
    "stations_RH": 84,
}
_FINDING_WIDTHS = {
    "number": 10,
    "severity": 16,
    "rule": 32,
    "place": 50,
    "value": 20,
    "limit": 44,
    "message": 108,
    "remedy": 110,
}
_RIGHT = ("features_LH", "features_RH", "number", "value")
"""Columns of numbers."""
_TOP, _BOTTOM, _LEFT = FRAME_TOP - 10.0, STRIP_TOP + 2.0, FRAME_LEFT


def _columns(widths: Mapping[str, float]) -> list[Column]:
    return [Column(say(f"list.{key}"), width, right=key in _RIGHT) for key, width in widths.items()]


def component_pages(subject: Subject) -> tuple[tuple[Item, ...], ...]:
    """Pages of the component list, in the order of the components' names."""
    counts = _feature_counts(subject)
    rows = [_component_row(subject, index, counts) for index in np.unique(subject.plan.placements.component).tolist()]
    rows.sort(key=lambda row: row.cells[0])
    return _titled(say("list.components"), table_pages(_columns(_COMPONENT_WIDTHS), rows, _LEFT, _TOP, _BOTTOM))


def _feature_counts(subject: Subject) -> IntArray:
    """Rail features by component and side; a shared one counts for each of its owners."""
    holes = subject.holes
    counts = np.zeros((len(holes.names.components), len(SIDES)), dtype=np.int64)
    rows = np.repeat(np.arange(len(holes)), np.diff(holes.owner_start))
    on_rail = holes.part[rows] == RAIL
    pairs = np.unique(np.stack([rows[on_rail], holes.owners[on_rail]], axis=-1), axis=0)
    np.add.at(counts, (pairs[:, 1], holes.side[pairs[:, 0]]), 1)
    return counts


def _component_row(subject: Subject, index: int, counts: IntArray) -> Row:
    order, placed = subject.plan.order, subject.plan.placements
    name = subject.holes.names.components[index]
    component = order.library.components.get(name)
    stations = [
        ", ".join(
            subject.style.length(station)
            for station in np.sort(placed.station[(placed.component == index) & (placed.side == side)])
        )
        for side in (0, 1)
    ]
    return Row(
        (
            name,
            component.name if component else "",
            say(f"kind.{component.kind.replace(' ', '_')}") if component else "",
            " ".join(order.bringing.get(name, ())),
            *(str(count) for count in counts[index]),
            *(text or "-" for text in stations),
        )
    )


def finding_pages(subject: Subject, sheet_numbers: Mapping[int, Sequence[int]]) -> tuple[tuple[Item, ...], ...]:
    """Pages of the findings list; `sheet_numbers`: the sheets on which each finding, by its number, is ringed."""
    rows = [
        _finding_row(subject.style, number, finding, sheet_numbers.get(number, ()))
        for number, finding in enumerate(subject.findings, 1)
    ]
    rows = rows or [Row(("", "", say("list.no_findings"), "", "", "", "", ""))]
    return _titled(say("list.findings"), table_pages(_columns(_FINDING_WIDTHS), rows, _LEFT, _TOP, _BOTTOM))


def _finding_row(style: DrawingStyle, number: int, finding: Finding, sheets: Sequence[int]) -> Row:
    limit = _quantity(finding.limit, finding.unit)
    return Row(
        (
            str(number),
            say(f"severity.{finding.severity}"),
            f"{finding.rule} {finding.measure}",
            _place(style, finding, sheets),
            _quantity(finding.value, finding.unit),
            "; ".join(part for part in (limit, finding.source) if part),
            finding.message,
            finding.remedy,
        ),
        colour=RED if finding.severity == "error" else BLACK,
    )


def _place(style: DrawingStyle, finding: Finding, sheets: Sequence[int]) -> str:
    """Where it is: side, part, face, station, the sheets that ring it, and what its message does not name."""
    part = say(f"part.{finding.part}", side=finding.side) if finding.part and finding.side else finding.side
    parts = [" ".join(word for word in (part, say(f"face.{finding.face}") if finding.face else "") if word)]
    if finding.station_mm is not None:
        parts.append(say("list.station", station=style.length(finding.station_mm)))
    if sheets:
        parts.append(say("list.on_sheets" if len(sheets) > 1 else "list.on_sheet", sheets=", ".join(map(str, sheets))))
    named = finding.holes or finding.components
    parts += [name for name in named if name not in finding.message]
    return ", ".join(part for part in parts if part)


def _quantity(value: float | None, unit: str) -> str:
    if value is None:
        return ""
    shown = f"{value:.3f}".rstrip("0").rstrip(".")
    return shown if unit == "count" else f"{shown} {unit}".strip()


def _titled(title: str, pages: tuple[tuple[Item, ...], ...]) -> tuple[tuple[Item, ...], ...]:
    titled = []
    for number, page in enumerate(pages, 1):
        words = title if len(pages) == 1 else say("list.page", title=title, page=number, pages=len(pages))
        titled.append((Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, words, LARGE, bold=True), *page))
    return tuple(titled)


def ringed_on(layouts: Sequence[tuple[int, ElevationLayout]]) -> dict[int, list[int]]:
    """Sheet numbers on which each finding, by its number, is called out; `layouts` with their sheets' numbers."""
    sheets: dict[int, list[int]] = {}
    for sheet, layout in layouts:
        for band in layout.bands.values():
            for callout in band.callouts:
                for number in callout.findings:
                    sheets.setdefault(number, []).append(sheet)
    return {number: sorted(set(found)) for number, found in sheets.items()}
