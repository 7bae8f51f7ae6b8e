"""The inspection report: a sheet with the picture of each part's deviations, then what is wrong as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from railgen.holes.inspection import Inspection, PartInspection
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable, wrapped
from railgen.papers.inspection_picture import deviation_items
from railgen.papers.pdf import write_pdf
from railgen.papers.sheet import (
    BLACK,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    OUTLINE,
    RED,
    Item,
    Sheet,
    Text,
    rectangle,
)
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.wording import cautions, say

_COLUMNS = (
    ("number", 10.0, True),
    ("part", 20.0, False),
    ("hole", 68.0, False),
    ("face", 14.0, False),
    ("station", 22.0, True),
    ("across", 18.0, True),
    ("off_along", 18.0, True),
    ("off_across", 18.0, True),
    ("position", 18.0, True),
    ("allowed", 18.0, True),
    ("in_group", 18.0, True),
    ("allowed", 18.0, True),
    ("diameter", 18.0, True),
    ("measured", 18.0, True),
    ("wrong", 78.0, False),
)
_TOP, _BOTTOM = FRAME_TOP - 13.0, FRAME_BOTTOM + 12.0


def inspection_pdf(inspection: Inspection) -> bytes:
    """The report as a PDF, A3 landscape. The same inspection gives the same bytes."""
    return write_pdf(inspection_sheets(inspection), say("inspection.subject", serial=inspection.serial))


def inspection_pictures(inspection: Inspection) -> Iterator[tuple[str, bytes]]:
    """For each part its name and the sheet with its deviations as SVG."""
    from railgen.papers.pictures import write_picture

    sheets = inspection_sheets(inspection)
    for part, sheet in zip(inspection.parts, sheets, strict=False):
        yield part.name, write_picture(sheet, "svg")


def inspection_sheets(inspection: Inspection) -> tuple[Sheet, ...]:
    """All sheets of a report: one a part in their order, then the table of what is wrong."""
    numbers = faulty_rows(inspection)
    bodies: list[tuple[str, Sequence[Item]]] = []
    for part in inspection.parts:
        lines = summary_lines(inspection, part)
        items = [
            *_lines(lines, FRAME_TOP - 13.5, bool(part.wrong_hand)),
            *deviation_items(part, numbers[part.name], FRAME_TOP - 16.0 - 3.2 * len(lines), _BOTTOM),
        ]
        bodies.append((say("inspection.deviations", part=part.name), items))
    columns = [Column(say(f"inspection_table.{key}"), width, right) for key, width, right in _COLUMNS]
    pages = table_pages(columns, _rows(inspection, numbers), FRAME_LEFT + 3, _TOP, _BOTTOM)
    bodies += [(say("inspection.wrong"), page) for page in pages]
    return tuple(
        Sheet(f"{number} {name}", (*_frame(inspection, name, number, len(bodies)), *items))
        for number, (name, items) in enumerate(bodies, 1)
    )


def faulty_rows(inspection: Inspection) -> dict[str, dict[int, int]]:
    """By part the number that each faulty row has in the table; extra holes follow with rows of n and more."""
    numbers, count = {}, 0
    for part in inspection.parts:
        rows = [*np.flatnonzero(part.out).tolist(), *range(len(part.hole), len(part.hole) + len(part.extra))]
        numbers[part.name] = {row: count + index for index, row in enumerate(rows, 1)}
        count += len(rows)
    return numbers


def summary_lines(inspection: Inspection, part: PartInspection) -> list[str]:
    """What the sheet of a part says in words."""
    there = ~np.isnan(part.measured[:, 0])
    missing = int((~there).sum())
    first = say(
        "inspection.found",
        found=int(there.sum()),
        holes=len(part.hole),
        missing=missing,
        extra=len(part.extra),
        out=int(part.out.sum()) - missing,
    )
    if there.any():
        position = part.position[there]
        most, middle = float(position.max()), float(np.median(position))
        first += "; " + say("inspection.position", middle=middle, most=most)
    lines = [first, _fit_words(inspection, part)]
    if part.wrong_hand:
        lines.insert(0, say("inspection.wrong_hand", found=part.wrong_hand))
    elif part.alike:
        lines.append(say("inspection.alike"))
    return lines


def _fit_words(inspection: Inspection, part: PartInspection) -> str:
    fits = [
        say(
            "inspection.turned",
            face=say(f"short_face.{fit.face}"),
            turn=float(np.radians(fit.turn)) * 1000,
            along=fit.shift[0],
            across=fit.shift[1],
        )
        for fit in part.fits
        if fit.holes
    ]
    length = say("inspection.length", stretch=part.stretch, temperature=inspection.temperature)
    return "; ".join((say(f"inspection.fit_{inspection.fit}"), *fits, length))


def _lines(lines: Sequence[str], top: float, wrong_hand: bool) -> list[Item]:
    items: list[Item] = []
    for index, line in enumerate(lines):
        wrong = wrong_hand and index == 0
        words = fitted(printable(line), SMALL, FRAME_RIGHT - FRAME_LEFT - 6, wrong)
        items.append(Text(FRAME_LEFT + 3, top - 3.2 * index, words, SMALL, bold=wrong, colour=RED if wrong else BLACK))
    return items


def _rows(inspection: Inspection, numbers: dict[str, dict[int, int]]) -> list[Row]:
    rows = [
        _hole_row(part, row, number) if row < len(part.hole) else _extra_row(part, row - len(part.hole), number)
        for part in inspection.parts
        for row, number in numbers[part.name].items()
    ]
    return rows or [Row(("", "", say("inspection.nothing"), *[""] * 12))]


def _hole_row(part: PartInspection, row: int, number: int) -> Row:
    values = (
        *part.nominal[row],
        *part.deviation[row],
        part.position[row],
        part.station_tolerance[row],
        part.group_position[row],
        part.group_tolerance[row],
        part.diameter[row],
        part.measured_diameter[row],
    )
    words = ", ".join(say(f"inspection.fault_{fault}") for fault in part.faults_of(row))
    face = say(f"short_face.{part.face[row]}")
    return Row((str(number), part.name, part.hole[row], face, *map(_number, values), words), colour=RED)


def _extra_row(part: PartInspection, row: int, number: int) -> Row:
    place = map(_number, part.extra[row])
    size = _number(part.extra_diameter[row])
    cells = (
        str(number),
        part.name,
        "",
        say(f"short_face.{part.extra_face[row]}"),
        *place,
        *[""] * 7,
        size,
        say("inspection.extra"),
    )
    return Row(cells, colour=RED)


def _number(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.2f}"


def _frame(inspection: Inspection, name: str, number: int, count: int) -> Iterator[Item]:
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE)
    about = say("inspection.revision", revision=inspection.revision) if inspection.revision else ""
    title = " ".join(words for words in (inspection.serial, about) if words)
    yield Text(FRAME_LEFT + 3, FRAME_TOP - 7.5, f"{title}: {name}", LARGE, bold=True)
    verdict = say("inspection.good" if inspection.good else "inspection.bad")
    on = say("inspection.measured_on", date=inspection.on) if inspection.on else ""
    told = "; ".join(words for words in (verdict, on, say("page.sheet", sheet=number, sheets=count)) if words)
    colour = BLACK if inspection.good else RED
    yield Text(FRAME_RIGHT - 3, FRAME_TOP - 7.2, told, MIDDLE, "right", True, colour)
    file, sha256 = inspection.measured
    measured = say("inspection.measured", file=file, sha256=sha256[:16], tolerances=inspection.source)
    words = " ".join((measured, *cautions()))
    for index, line in enumerate(wrapped(printable(words), SMALL, FRAME_RIGHT - FRAME_LEFT - 6)[:3]):
        yield Text(FRAME_LEFT + 3, FRAME_BOTTOM + 8.0 - 3.0 * index, line, SMALL)
