"""Tables of the setup sheet: tool stations with their first measurements, the cycle time, and what to heed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.holes.table import NONE
from railgen.papers.fonts import MIDDLE, SMALL, wrapped
from railgen.papers.legend import legend_symbol
from railgen.papers.press_view import path_pen
from railgen.papers.sheet import BLACK, RED, Figures, Item, Text, segments
from railgen.papers.symbols import HoleChart
from railgen.papers.tables import LINE, Column, Row, table_pages
from railgen.shop.hit_order import HitOrder
from railgen.shop.hits import Hits
from railgen.shop.station_uses import StationUse, station_uses

_STATIONS = (
    Column("station", 22),
    Column("tool", 60),
    Column("set to, °", 18, right=True),
    Column("hits", 16, right=True),
    Column("greatest force, kN", 32, right=True),
    Column("of the press's", 24, right=True),
    Column("die clearance, mm", 36, right=True),
    Column("hits since regrind", 32, right=True),
    Column("after this blank", 30, right=True),
    Column("limit", 22, right=True),
)
_MEASURED = (
    Column("station", 22),
    Column("hole", 92),
    Column("hit", 14, right=True),
    Column("from the stop", 24, right=True),
    Column("from the edge", 24, right=True),
    Column("size", 44),
    Column("stop, measured", 36),
    Column("edge, measured", 36),
    Column("size, measured", 36),
    Column("initials", 32),
)
_CYCLE = (Column("part of the cycle", 62), Column("s", 16, right=True), Column("plain order, s", 22, right=True))


Pages = tuple[tuple[Item, ...], ...]


def station_pages(found: HitOrder, chart: HoleChart, left: float, top: float, bottom: float) -> Pages:
    """The tool stations, one a row; as many pages as they need."""
    uses = station_uses(found)
    rows = [_station_row(found, chart, place, use) for place, use in enumerate(uses)]
    total = ("all", "", "", str(sum(use.hits for use in uses)), *[""] * (len(_STATIONS) - 4))
    return table_pages(_STATIONS, [*rows, Row(total, bold=True)], left, top, bottom)


def _station_row(found: HitOrder, chart: HoleChart, place: int, use: StationUse) -> Row:
    hits, tool = found.hits, use.station.tool
    clearance = "not given" if use.clearance is None else f"{use.clearance:.2f}"
    cells = (
        station_name(found, use),
        tool.id,
        f"{use.station.angle:g}" if tool.length else "",
        str(use.hits),
        f"{use.force / 1000:.1f}" if use.force else "-",
        f"{use.force / 1000 / hits.press.force:.0%}" if use.force else "-",
        clearance if use.force else "-",
        str(tool.hits_since_regrind),
        f"REGRIND DUE, {use.hits_after}" if use.due else str(use.hits_after),
        str(tool.regrind_limit),
    )
    return Row(cells, colour=RED if use.due else BLACK, symbol=_symbol(hits, chart, place, use))


def measured_pages(found: HitOrder, chart: HoleChart, left: float, top: float, bottom: float) -> Pages:
    """What is measured on the first blank: of each tool the first hole and the one farthest from the stop."""
    rows = [row for place, use in enumerate(station_uses(found)) for row in _measured_rows(found, chart, place, use)]
    return table_pages(_MEASURED, rows, left, top, bottom)


def _measured_rows(found: HitOrder, chart: HoleChart, place: int, use: StationUse) -> Iterator[Row]:
    hits, table = found.hits, found.hits.work.holes
    x, y = hits.lie.to_press(table.blank_x, table.v)
    way = hits.lie.from_stop(x)
    in_order = found.order[(hits.station == hits.station[use.first])[found.order]]
    made = hits.row[in_order]
    rows = made[made != NONE]
    if not len(rows):
        return
    chosen = {int(rows[0]): "first of the tool"}
    chosen.setdefault(int(rows[np.argmax(way[rows])]), "farthest from the stop")
    for row, why in chosen.items():
        cells = (
            station_name(found, use),
            f"{table.hole_id(row)} ({why})",
            str(int(np.flatnonzero(hits.row[found.order] == row)[0]) + 1),
            f"{way[row]:.2f}",
            f"{y[row]:.2f}",
            chart.classes[int(chart.row_class[row])].size + (", string" if row in hits.scallops else ""),
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
        ("load, gauge and unload", cycle.load, plain.load),
        ("moves", cycle.moves, plain.moves),
        ("changes of tool, beyond the moves", cycle.changes, plain.changes),
        (f"{len(found.hits)} hits", cycle.hits, plain.hits),
    ]
    if cycle.repositions:
        parts.append(("clamps moved", cycle.repositions, plain.repositions))
    if cycle.mountings:
        parts.append(("tools mounted", cycle.mountings, plain.mountings))
    rows = [Row((name, f"{own:.1f}", f"{other:.1f}")) for name, own, other in parts]
    rows.append(Row(("cycle", f"{cycle.total:.1f}", f"{plain.total:.1f}"), bold=True))
    rows.append(Row((f"proved: no order takes less than (gap {found.gap:.2%})", f"{found.least_cycle:.1f}", "")))
    return table_pages(_CYCLE, rows, left, top, top - 60)[0]


def notes(found: HitOrder, left: float, right: float, top: float) -> list[Item]:
    """What to heed at the press, from y = ``top`` down."""
    items: list[Item] = [Text(left, top, "At the press", MIDDLE, bold=True)]
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
        yield f"The first {count} hits are the locating holes; measure them before going on."
    yield "Measure the holes of each tool as listed. Stop at the first that is out and ask the NC programmer."
    if press.change_while_moving:
        yield "The ram takes the next tool while the axes move."
    if stages.repositions:
        yield "The program moves the clamps: dashed ones are where they go. They must grip before it goes on."
    if stages.mountings:
        yield f"The program stops {stages.mountings} times for other tools: stations are named mounting.station."
    if stages.passes > 1:
        yield f"The blank goes through {stages.passes} times; the program stops for loading."
    if hits.scallops:
        deepest = max(hits.scallops.values())
        openings = f"{len(hits.scallops)} opening{'' if len(hits.scallops) == 1 else 's'}"
        yield f"DRESS {openings} cut by strings of hits (red dots): scallops to {deepest:.2f} mm."
    if hits.stamps:
        words = " and ".join(f"{stamp.text} ({stamp.height:g} mm)" for stamp in hits.stamps)
        yield f"The marking tool stamps {words} where grey boxes are drawn."
    else:
        yield "Nothing is stamped on the press: mark the part by hand."
