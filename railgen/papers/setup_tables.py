"""Tables of the setup sheet: tool stations with their first measurements, the cycle time, and what to heed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from railgen.holes.table import NONE
from railgen.papers.fonts import MIDDLE, SMALL, wrapped
from railgen.papers.legend import legend_symbol
from railgen.papers.press_view import path_pen
from railgen.papers.sheet import BLACK, RED, Figures, Item, Text, segments
from railgen.papers.symbols import HoleChart
from railgen.papers.tables import LINE, Column, Row, table_pages
from railgen.papers.wording import say
from railgen.shop.hit_order import HitOrder
from railgen.shop.hits import Hits
from railgen.shop.station_uses import StationUse, station_uses

_STATIONS = {
    "station": 22,
    "tool": 60,
    "angle": 18,
    "hits": 16,
    "force": 32,
    "share": 24,
    "clearance": 36,
    "regrind": 32,
    "after": 30,
    "limit": 22,
}
_MEASURED = {
    "station": 22,
    "hole": 92,
    "hit": 14,
    "stop": 24,
    "edge": 24,
    "size": 44,
    "read_stop": 36,
    "read_edge": 36,
    "read_size": 36,
    "initials": 32,
}
_CYCLE = {"part": 62, "seconds": 16, "plain": 22}
_RIGHT = ("angle", "hits", "force", "share", "clearance", "regrind", "after", "limit", "hit", "stop", "edge")
"""Columns of numbers, with those of the cycle time."""


def _columns(table: str, widths: Mapping[str, float]) -> tuple[Column, ...]:
    numbers = (*_RIGHT, "seconds", "plain")
    return tuple(Column(say(f"{table}.{key}"), width, right=key in numbers) for key, width in widths.items())


Pages = tuple[tuple[Item, ...], ...]


def station_pages(found: HitOrder, chart: HoleChart, left: float, top: float, bottom: float) -> Pages:
    """The tool stations, one a row; as many pages as they need."""
    uses = station_uses(found)
    rows = [_station_row(found, chart, place, use) for place, use in enumerate(uses)]
    total = (say("setup_stations.all"), "", "", str(sum(use.hits for use in uses)), *[""] * (len(_STATIONS) - 4))
    return table_pages(_columns("setup_stations", _STATIONS), [*rows, Row(total, bold=True)], left, top, bottom)


def _station_row(found: HitOrder, chart: HoleChart, place: int, use: StationUse) -> Row:
    hits, tool = found.hits, use.station.tool
    clearance = say("setup_stations.not_given") if use.clearance is None else f"{use.clearance:.2f}"
    cells = (
        station_name(found, use),
        tool.id,
        f"{use.station.angle:g}" if tool.length else "",
        str(use.hits),
        f"{use.force / 1000:.1f}" if use.force else "-",
        f"{use.force / 1000 / hits.press.force:.0%}" if use.force else "-",
        clearance if use.force else "-",
        str(tool.hits_since_regrind),
        say("setup_stations.due", hits=use.hits_after) if use.due else str(use.hits_after),
        str(tool.regrind_limit),
    )
    return Row(cells, colour=RED if use.due else BLACK, symbol=_symbol(hits, chart, place, use))


def measured_pages(found: HitOrder, chart: HoleChart, left: float, top: float, bottom: float) -> Pages:
    """What is measured on the first blank: of each tool the first hole and the one farthest from the stop."""
    rows = [row for place, use in enumerate(station_uses(found)) for row in _measured_rows(found, chart, place, use)]
    return table_pages(_columns("setup_measured", _MEASURED), rows, left, top, bottom)


def _measured_rows(found: HitOrder, chart: HoleChart, place: int, use: StationUse) -> Iterator[Row]:
    hits, table = found.hits, found.hits.work.holes
    x, y = hits.lie.to_press(table.blank_x, table.v)
    way = hits.lie.from_stop(x)
    in_order = found.order[(hits.station == hits.station[use.first])[found.order]]
    made = hits.row[in_order]
    rows = made[made != NONE]
    if not len(rows):
        return
    chosen = {int(rows[0]): say("setup_measured.first")}
    chosen.setdefault(int(rows[np.argmax(way[rows])]), say("setup_measured.farthest"))
    string = say("setup_measured.string")
    for row, why in chosen.items():
        cells = (
            station_name(found, use),
            f"{table.hole_id(row)} ({why})",
            str(int(np.flatnonzero(hits.row[found.order] == row)[0]) + 1),
            f"{way[row]:.2f}",
            f"{y[row]:.2f}",
            chart.classes[int(chart.row_class[row])].size + string * (row in hits.scallops),
            *[""] * 4,
        )
        yield Row(cells, symbol=_symbol(hits, chart, place, use))


def station_name(found: HitOrder, use: StationUse) -> str:
    """The station's number, with the mounting ahead of it where tools are mounted more than once."""
    if found.stages.mountings or use.station.mounting > 1:
        return f"{use.station.mounting}.{use.station.number}"
    return str(use.station.number)


def _symbol(hits: Hits, chart: HoleChart, place: int, use: StationUse) -> tuple[Figures, ...]:
    """The line of the station's path and the symbol of what it makes, right of the station's number."""
    items: list[Figures] = [segments([[(-2.5, 0.0), (3.0, 0.0)]], path_pen(place))]
    row = int(hits.row[use.first])
    if row != NONE:
        index = int(chart.row_class[row])
        symbol = legend_symbol(chart.classes[index], chart.fills[index], 5.8, 0.0)
        items += [item for item in symbol if isinstance(item, Figures)]
    return tuple(items)


def cycle_table(found: HitOrder, left: float, top: float) -> tuple[Item, ...]:
    """The cycle time and its parts, beside those of the plain order."""
    cycle, plain = found.cycle, found.plain
    parts = [
        (say("setup_cycle.load"), cycle.load, plain.load),
        (say("setup_cycle.moves"), cycle.moves, plain.moves),
        (say("setup_cycle.changes"), cycle.changes, plain.changes),
        (say("setup_cycle.hits", hits=len(found.hits)), cycle.hits, plain.hits),
    ]
    if cycle.repositions:
        parts.append((say("setup_cycle.clamps"), cycle.repositions, plain.repositions))
    if cycle.mountings:
        parts.append((say("setup_cycle.mounted"), cycle.mountings, plain.mountings))
    rows = [Row((name, f"{own:.1f}", f"{other:.1f}")) for name, own, other in parts]
    rows.append(Row((say("setup_cycle.cycle"), f"{cycle.total:.1f}", f"{plain.total:.1f}"), bold=True))
    proved = say("setup_cycle.proved", gap=found.gap)
    rows.append(Row((proved, f"{found.least_cycle:.1f}", "")))
    return table_pages(_columns("setup_cycle", _CYCLE), rows, left, top, top - 60)[0]


def notes(found: HitOrder, left: float, right: float, top: float) -> list[Item]:
    """What to heed at the press, from y = ``top`` down."""
    items: list[Item] = [Text(left, top, say("setup_notes.title"), MIDDLE, bold=True)]
    y = top - LINE - 1.2
    for note in _notes(found):
        for place, line in enumerate(wrapped(note, SMALL, right - left - 2)):
            items.append(Text(left + (0 if place == 0 else 2), y, line, SMALL))
            y -= LINE
    return items


def _notes(found: HitOrder) -> Iterator[str]:
    texts = list(_texts(found))
    yield from (f"{place}. {text}" for place, text in enumerate(texts, 1))


def _texts(found: HitOrder) -> Iterator[str]:
    hits, stages, press = found.hits, found.stages, found.hits.press
    count = np.count_nonzero(hits.locating)
    if count:
        yield say("setup_notes.locating", count=int(count))
    yield say("setup_notes.measure")
    if press.change_while_moving:
        yield say("setup_notes.ram")
    if stages.repositions:
        yield say("setup_notes.clamps")
    if stages.mountings:
        yield say("setup_notes.mountings", count=stages.mountings)
    if stages.passes > 1:
        yield say("setup_notes.passes", count=stages.passes)
    if hits.scallops:
        deepest = max(hits.scallops.values())
        key = "dress_one" if len(hits.scallops) == 1 else "dress"
        yield say(f"setup_notes.{key}", count=len(hits.scallops), deepest=deepest)
    if hits.stamps:
        stamps = [say("setup_notes.stamp", text=stamp.text, height=stamp.height) for stamp in hits.stamps]
        yield say("setup_notes.stamps", stamps=say("setup_notes.and").join(stamps))
    else:
        yield say("setup_notes.unstamped")
