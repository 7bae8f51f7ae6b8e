"""Lists of places on a route card: holes made one by one, the measuring plan, Almen strips, the most stressed holes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from railgen.frame.rail import part_front
from railgen.holes.table import COUNTERSINK, DRILL, FACES, NONE, OPERATIONS, PARTS, SIDES, STUD
from railgen.papers.card_lists import heading, listing
from railgen.papers.card_page import WIDTH, style
from railgen.papers.cell_text import paragraph
from railgen.papers.wording import Wording
from railgen.shop.measuring import measuring_plan
from railgen.shop.part_work import PartWork
from railgen.shop.sizes import size_at
from railgen.shop.strips import strip_places
from railgen.strength.criticality import Criticality

MOST_CRITICAL = 8
"""So many of the most stressed holes of a part are listed."""


DRILLED = (DRILL, COUNTERSINK)
"""Operations of holes that the press does not make."""


def positions_table(work: PartWork, words: Wording, operations: Sequence[int] = (*DRILLED, STUD)) -> list[Flowable]:
    """Where each hole is that is drilled or countersunk, and each stud: in the blank and on the finished part."""
    holes = work.holes
    rows = np.flatnonzero(np.isin(holes.operation, operations))
    if not len(rows):
        return []
    body = [
        [
            holes.hole_id(row),
            words.say(f"holes.{OPERATIONS[holes.operation[row]]}"),
            words.text(size_at(holes, row)),
            words.say("holes.none") if holes.fastener[row] == NONE else holes.fastener_of(row),
            words.say(f"face.{FACES[holes.face[row]]}"),
            words.say("positions.number", value=float(holes.blank_x[row])),
            words.say("positions.number", value=float(holes.v[row])),
            *_place(work, row, words),
        ]
        for row in rows[np.lexsort((holes.station[rows], holes.operation[rows]))].tolist()
    ]
    head = ("hole", "made", "size", "fastener", "face", "blank_x", "blank_y", "front", "across")
    widths = [44 * mm, 18 * mm, 19 * mm, 22 * mm, 20 * mm, 16 * mm, 14 * mm, 15 * mm]
    return listing("positions", head, body, [*widths, WIDTH - sum(widths)], words, sums=0, whole=len(body) <= 12)


def measuring_table(work: PartWork, words: Wording) -> list[Flowable]:
    """The measuring plan, with places to write the readings."""
    plan, holes = measuring_plan(work), work.holes
    if not len(plan):
        return []
    body = [
        [
            holes.hole_id(row),
            words.say(f"face.{FACES[holes.face[row]]}"),
            *_place(work, row, words),
            words.text(size_at(holes, row)),
            words.say("measuring.tolerance", value=group),
            words.say("measuring.tolerance", value=station),
            "",
            "",
        ]
        for row, group, station in zip(plan.row.tolist(), plan.group.tolist(), plan.station.tolist(), strict=True)
    ]
    head = ("hole", "face", "front", "across", "size", "group", "station", "read_front", "read_across")
    widths = [50 * mm, 20 * mm, 18 * mm, 16 * mm, 20 * mm, 11 * mm, 11 * mm, 18 * mm]
    told = words.say("measuring.told", source=work.finishing.tolerances.source)
    made = listing("measuring", head, body, [*widths, WIDTH - sum(widths)], words, sums=0, whole=False)
    return [*made, paragraph(told, style(7, colour="grey"))]


def strips_table(work: PartWork, ranked: Sequence[tuple[int, int]], words: Wording) -> list[Flowable]:
    """Where Almen strips stand, with places to write their arc heights; ranked: rows with ranks, the worst first."""
    strips = strip_places(work, ranked[0][0] if ranked else None)
    rows = list(dict.fromkeys(strip.row for strip in strips))
    if not rows:
        return []
    body = [
        [
            str(number),
            work.holes.hole_id(row),
            words.say(f"face.{FACES[work.holes.face[row]]}"),
            *_place(work, row, words),
            "",
            "",
        ]
        for number, row in enumerate(rows, 1)
    ]
    head = ("number", "hole", "face", "front", "across", "outside", "inside")
    widths = [10 * mm, 56 * mm, 20 * mm, 22 * mm, 18 * mm, 28 * mm]
    return listing("strips", head, body, [*widths, WIDTH - sum(widths)], words, sums=0)


def critical_table(work: PartWork, critical: Criticality, words: Wording) -> list[Flowable]:
    """The most stressed holes of the part; without loads in the order a line that says so."""
    if not len(work.hole_rows):
        return []
    if not len(critical):
        told = paragraph(words.say("critical.no_loads"), style(7.5))
        return [KeepTogether([heading("critical.title", words), told])]
    peak = dict(zip(critical.row.tolist(), critical.peak.tolist(), strict=True))
    rows = rows_in_plan(work)
    body = [
        [
            str(rank),
            work.holes.hole_id(row),
            words.say(f"face.{FACES[work.holes.face[row]]}"),
            *_place(work, row, words),
            words.text(size_at(work.holes, row)),
            f"{peak[rows[row]]:.0f}",
            "",
        ]
        for row, rank in ranked_rows(work, critical)
    ]
    head = ("rank", "hole", "face", "front", "across", "size", "peak", "seen")
    widths = [11 * mm, 54 * mm, 20 * mm, 20 * mm, 18 * mm, 26 * mm, 15 * mm]
    made = listing("critical", head, body, [*widths, WIDTH - sum(widths)], words, sums=0)
    return [*made, paragraph(words.say("critical.told"), style(7, colour="grey"))]


def ranked_rows(work: PartWork, critical: Criticality) -> list[tuple[int, int]]:
    """Rows of the part's holes with their ranks in the serial, the most stressed first."""
    own = {row: place for place, row in enumerate(rows_in_plan(work))}
    pairs = zip(critical.row.tolist(), critical.rank.tolist(), strict=True)
    return [(own[row], rank) for row, rank in pairs if row in own][:MOST_CRITICAL]


def rows_in_plan(work: PartWork) -> list[int]:
    """For each of the part's holes its row in the serial's hole table."""
    table = work.plan.holes
    own = (table.side == SIDES.index(work.side)) & (table.part == PARTS.index(work.part))
    return [int(row) for row in np.flatnonzero(own)]


def _place(work: PartWork, row: int, words: Wording) -> tuple[str, str]:
    """From the part's front end, and height on the web or across from it on a flange."""
    front = float(work.holes.station[row]) - part_front(work.rail, work.part)
    return tuple(words.say("positions.number", value=value) for value in (front, float(work.holes.across[row])))  # type: ignore[return-value]
