"""An impact as files: one row a serial, one row a hole that differs, and a page."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import railgen
from railgen.papers.page import Html, details, page, section, severity, table, tiles
from railgen.records.compare import KINDS, alike, in_words
from railgen.records.impact import STATES, Impact, SerialImpact

SERIALS, HOLES, PAGE = "impact-serials.csv", "impact-holes.csv", "impact.html"
SERIAL_COLUMNS = (
    *("serial", "family", "state", "released", "no_longer_matches", "parts", "rail"),
    *(*KINDS, "new", "gone", "problems"),
)
HOLE_COLUMNS = ("serial", "side", "part", "face", "hole", "component", "what", "along_mm", "across_mm")
_MOST = 300
_CLASSES = {"changed": "errors", "findings": "warnings", "same": "clean"}


def impact_files(impact: Impact) -> dict[str, bytes]:
    """All files by name."""
    return {
        SERIALS: _csv(SERIAL_COLUMNS, (_serial_row(one) for one in impact.serials)),
        HOLES: _csv(HOLE_COLUMNS, _hole_rows(impact)),
        PAGE: _page(impact),
    }


def _csv(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return stream.getvalue().encode("utf-8")


def _serial_row(one: SerialImpact) -> tuple[object, ...]:
    yes = {True: "yes", False: "no"}
    counts = (one.counts[kind] for kind in KINDS)
    parts, problems = ";".join(one.parts), "; ".join(map(str, one.problems))
    match = yes[one.no_longer_matches] if one.is_released else ""
    row = (one.serial, one.family, one.state, yes[one.is_released], match, parts, "; ".join(one.rail))
    return (*row, *counts, len(one.new), len(one.gone), problems)


def _hole_rows(impact: Impact) -> Iterator[tuple[object, ...]]:
    for one in impact.serials:
        for change in one.changes:
            hole = change.hole
            moved = (f"{change.along_mm:.9f}", f"{change.across_mm:.9f}") if "moved" in change.kinds else ("", "")
            yield one.serial, hole.side, hole.part, hole.face, hole.hole, hole.component, in_words(change), *moved


def impact_data(impact: Impact) -> dict[str, Any]:
    """All of an impact as plain data; serials that are the same by name alone."""
    return {
        "before": _library(impact.before.library.about.revision, impact.before.library.digest),
        "after": _library(impact.after.library.about.revision, impact.after.library.digest),
        "states": {state: sum(one.state == state for one in impact.serials) for state in STATES},
        "released_no_longer_match": [one.serial for one in impact.broken],
        "released_not_in_bank": list(impact.not_in_bank),
        "take_effect": {family: impact.take_effect(family) or None for family in families(impact)},
        "components": [
            {
                "component": one.component,
                "serials": len(one.serials),
                "released": list(one.released),
                **one.counts,
                "take_effect": list(one.take_effect),
            }
            for one in impact.components
        ],
        "findings": [
            dict(zip(("which", "rule", "measure", "severity", "findings", "serials"), row, strict=True))
            for row in impact.findings
        ],
        "serials": [_serial_data(one) for one in impact.serials if one.state != "same"],
        "same": [one.serial for one in impact.serials if one.state == "same"],
    }


def _library(revision: str, digest: str) -> dict[str, str]:
    return {"revision": revision, "sha256": digest}


def _serial_data(one: SerialImpact) -> dict[str, Any]:
    return {
        "serial": one.serial,
        "family": one.family,
        "state": one.state,
        "released": one.is_released,
        "parts": list(one.parts),
        "rail": list(one.rail),
        "changes": [change.as_dict() for change in one.changes],
        "new": [finding.as_dict() for finding in one.new],
        "gone": [finding.as_dict() for finding in one.gone],
        "problems": [str(problem) for problem in one.problems],
    }


def families(impact: Impact) -> list[str]:
    """Families of the bank's orders."""
    return sorted({one.family for one in impact.serials})


def effect_words(impact: Impact, family: str) -> str:
    """From which serial the change can take effect, in words."""
    serial = impact.take_effect(family)
    return f"from {serial} on" if serial else "from any serial: no punched rail of the bank is touched"


def _page(impact: Impact) -> bytes:
    states = Counter(one.state for one in impact.serials)
    figures: list[tuple[str, str, str]] = [
        (f"{states[state]:,}", state, _CLASSES.get(state, "refused")) for state in STATES if states[state]
    ]
    figures.append((f"{len(impact.broken):,}", "punched, no longer match", "errors" if impact.broken else "clean"))
    old, new = impact.before.library, impact.after.library
    about = f"Revision {old.about.revision} against {new.about.revision} over {len(impact.serials):,} orders."
    body = [
        tiles(figures),
        _effect(impact),
        _components(impact),
        _findings(impact),
        _released(impact),
        _serials(impact),
    ]
    made_by = f"railgen {railgen.__version__}; libraries sha256 {old.digest} and {new.digest}."
    return page(f"Impact on {new.about.name}", about, body, made_by)


def _effect(impact: Impact) -> str:
    rows = [(family, effect_words(impact, family)) for family in families(impact)]
    about = (
        "The first serial after the last punched one that the change would touch. Give it as valid_from to what is new "
        "and the serial before it as valid_to to what it takes the place of, and no punched rail changes."
    )
    return section("From which serial the change can take effect", about, table(["family", "the whole change"], rows))


def _components(impact: Impact) -> str:
    head = ["component", "serials", "punched", *KINDS, "can take effect from"]
    rows = [
        (
            one.component,
            len(one.serials),
            len(one.released),
            *(one.counts[kind] for kind in KINDS),
            ", ".join(one.take_effect) or "any serial",
        )
        for one in impact.components
    ]
    if not rows:
        return section("Components", "No hole of any serial differs.")
    return section("Components", "Holes that move, appear or vanish, over the whole bank.", table(head, rows))


def _findings(impact: Impact) -> str:
    rows = [
        (Html(f"<b>{which}</b>"), rule, measure, severity(of), count, serials)
        for which, rule, measure, of, count, serials in impact.findings
    ]
    if not rows:
        return section("Findings", "None comes, none goes.")
    head = ["", "rule", "measure", "severity", "findings", "in serials"]
    return section("Findings that come and go", "", table(head, rows))


def _released(impact: Impact) -> str:
    parts = []
    if impact.broken:
        rows = [(one.serial, one.family, ", ".join(one.parts) or one.state) for one in impact.broken]
        parts.append(table(["serial", "family", "parts that would no longer match"], rows))
    punched = sum(one.is_released for one in impact.serials)
    about = f"{punched:,} serials of the bank are punched already; {len(impact.broken):,} would no longer match."
    if impact.not_in_bank:
        about += f" Not in the bank, so not looked at: {', '.join(impact.not_in_bank)}."
    return section("Rails already punched", about, *parts)


def _serials(impact: Impact) -> str:
    told = [one for one in impact.serials if one.state != "same"]
    rows = [
        (one.serial, one.family, one.state, *(one.counts[kind] for kind in KINDS), len(one.new), len(one.gone))
        for one in told[:_MOST]
    ]
    head = ["serial", "family", "", *KINDS, "new findings", "gone"]
    more = f" The first {_MOST} of {len(told):,}; {SERIALS} has all." if len(told) > _MOST else ""
    listing = [table(head, rows)] if rows else []
    listing += [details(f"{one.serial}: {one.state}", _told(one)) for one in told[:_MOST]]
    return section("Serials that change", f"{len(told):,} of {len(impact.serials):,}.{more}", *listing)


def _told(one: SerialImpact) -> str:
    """What differs in one serial."""
    parts = [table(["rail"], [(words,) for words in one.rail])] if one.rail else []
    if one.changes and one.comparison:
        lines = [
            (group.component, f"{group.part}, {group.face}", group.words, len(group.changes))
            for group in alike(one.comparison)
        ]
        parts.append(table(["component", "part", "what", "holes"], lines))
    found = [("new", finding) for finding in one.new] + [("gone", finding) for finding in one.gone]
    if found:
        rows = [(which, severity(finding.severity), finding.rule, finding.message) for which, finding in found]
        parts.append(table(["", "severity", "rule", "finding"], rows))
    if one.problems:
        parts.append(table(["problem"], [(str(problem),) for problem in one.problems]))
    return "".join(parts)
