"""Rule ``press-limit``: what the press, its crib, and the tank, oven and racks after it can take.

All of it is common practice; the force of a hit is perimeter x thickness x shear strength (Machinery's Handbook).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.data.plant import Press
from railgen.frame.rail import Part, part_length, part_section
from railgen.holes.shapes import core_geometries, perimeters_of
from railgen.holes.table import NONE, PUNCH, SIDES, FloatArray, IntArray
from railgen.rules.along import quantities_at
from railgen.rules.breaks import Breaks, breaks, breaks_if_held, each, finding_about
from railgen.rules.limits import HeldRow, Limits, evaluate
from railgen.rules.pattern import Pattern
from railgen.shop.clamps import clamp_boxes
from railgen.shop.press_lie import PressLie, press_lie
from railgen.shop.punching import highest_shear_strength, punching_force
from railgen.shop.strings import hit_strings, tool_perimeter

_PARTS: tuple[Part, ...] = ("rail", "liner")


def press_limit(pattern: Pattern) -> list[Breaks]:
    """Of each punched hole its hit's share of the press's force, and whether crib, reach and clamps let it be hit.

    A hole that a string of hits cuts has its tool in that string: each hit cuts that tool's whole edge at most.
    """
    press, table = pattern.order.library.press, pattern.table
    punched = np.flatnonzero(pattern.is_hole & (table.operation == PUNCH))
    missing, edges = punched[pattern.own_tools[punched] == NONE], perimeters_of(table, pattern.cores)
    if len(missing):
        strings = hit_strings(table, press, pattern.thickness, pattern.own_tools)
        missing = np.setdiff1d(missing, list(strings))
        for row, string in strings.items():
            edges[row] = tool_perimeter(press.tools[string.tool], pattern.thickness[row])
    force = _forces(pattern, edges)[punched] / (press.force * 1000)
    too_far = punched[_from_gauge_edge(pattern, press)[punched] > press.reach + VALUE_TOLERANCE]
    return [
        *breaks_if_held(pattern, "press-limit", "force", punched, force),
        *breaks_if_held(pattern, "press-limit", "reach", too_far, np.ones(len(too_far))),
        *_clamped(pattern, press, punched),
        *breaks_if_held(pattern, "press-limit", "tool", missing, np.ones(len(missing))),
    ]


def _forces(pattern: Pattern, edges: FloatArray) -> FloatArray:
    """Force (N) of a hit on each row, were it punched; ``edges`` (n,): length of what the hit cuts, mm."""
    shear = np.array([highest_shear_strength(pattern.order.steel_of(part)) for part in _PARTS])[pattern.table.part]
    return punching_force(edges, pattern.thickness, shear)


def blank_lies(pattern: Pattern, press: Press) -> Iterator[tuple[int, int, PressLie]]:
    """Side, part and how its blank lies on the press, for every blank of the serial."""
    parts = (0, 1) if pattern.rail.liner else (0,)
    for part in parts:
        name = _PARTS[part]
        width = part_section(pattern.rail, name).developed_width
        for side, hand in enumerate(SIDES):
            length, thickness = part_length(pattern.rail, name), pattern.order.thickness_of(name)
            yield side, part, press_lie(press, hand, length, width, thickness)


def _from_gauge_edge(pattern: Pattern, press: Press) -> FloatArray:
    """Distance of each row's centre from the gauged edge of its blank, mm."""
    width = np.array(
        [part_section(pattern.rail, _PARTS[part]).developed_width for _, part, _ in blank_lies(pattern, press)]
    )
    v = pattern.table.v
    return v if press.gauge_edge == "bottom" else width[:: len(SIDES)][pattern.table.part] - v


def _clamped(pattern: Pattern, press: Press, punched: IntArray) -> list[Breaks]:
    """Hole edge to the nearest clamp, mm, where the clamps leave it most; held to the press's own dead zone too."""
    key = ("press-limit", "clamp")
    if not press.clamps or not pattern.limits.holds(*key):
        return []
    deepest, most = max(clamp.depth for clamp in press.clamps), max(pattern.most_asked(*key), press.clamp_dead_zone)
    near = _from_gauge_edge(pattern, press)[punched] - pattern.reach[1][punched] < deepest + most
    rows = punched[near]
    if not len(rows):
        return []
    limits = with_dead_zone(pattern.limit(*key), press)
    value = np.full(len(pattern.table), np.inf)
    for side, part, lie in blank_lies(pattern, press):
        here = rows[(pattern.table.side[rows] == side) & (pattern.table.part[rows] == part)]
        if not len(here):
            continue
        here = here[_box_clearance(pattern, press, lie, here) < limits.greatest]
        value[here] = _clamp_clearance(pattern, press, lie, here)
    return [breaks(*key, rows, value[rows], limits.at(rows))]


def _box_clearance(pattern: Pattern, press: Press, lie: PressLie, rows: IntArray) -> FloatArray:
    """As ``_clamp_clearance``, of the boxes round the holes: never more."""
    x, y = lie.to_press(pattern.table.blank_x[rows], pattern.table.v[rows])
    along, across = (reach[rows, None] for reach in pattern.reach)
    clearance = np.full(len(rows), -np.inf)
    for shift in press.clamp_shifts:
        low_x, low_y, high_x, high_y = clamp_boxes(press, lie, shift).T
        dx = np.maximum(low_x - x[:, None], x[:, None] - high_x) - along
        dy = np.maximum(low_y - y[:, None], y[:, None] - high_y) - across
        apart = np.hypot(np.maximum(dx, 0.0), np.maximum(dy, 0.0))
        clearance = np.maximum(clearance, apart.min(axis=1, initial=np.inf))
    return clearance


def _clamp_clearance(pattern: Pattern, press: Press, lie: PressLie, rows: IntArray) -> FloatArray:
    table, cores = pattern.table, pattern.cores
    x, y = lie.to_press(table.blank_x[rows], table.v[rows])
    size = table.shape[rows], cores.half_length[rows], cores.half_width[rows]
    shapes = core_geometries(x, y, np.nan_to_num(table.blank_angle[rows]), *size)
    clearance = np.full(len(rows), -np.inf)
    for shift in press.clamp_shifts:
        clamps = np.asarray(shapely.box(*clamp_boxes(press, lie, shift).T))
        distance = shapely.distance(shapes[:, None], clamps).min(axis=1, initial=np.inf)
        clearance = np.maximum(clearance, distance - cores.radius[rows])
    return clearance


def with_dead_zone(limits: Limits, press: Press) -> Limits:
    """The set's limits, or the press's own dead zone where that is wider."""
    own = HeldRow(limits.held[0].row, f"dead zone of press {press.id}")
    held = np.isfinite(limits.error) | np.isfinite(limits.warning)
    wider = held & (press.clamp_dead_zone > limits.error)
    return replace(
        limits,
        error=np.where(wider, press.clamp_dead_zone, limits.error),
        error_source=np.where(wider, len(limits.held), limits.error_source),
        held=(*limits.held, own),
    )


def press_blank(pattern: Pattern) -> Iterator[Finding]:
    """Of each blank how many of its sizes are too large for the press, and its part for tank, oven or rack."""
    key = ("press-limit", "blank")
    if not pattern.limits.holds(*key):
        return
    for side, part, lie in blank_lies(pattern, pattern.order.library.press):
        name = _PARTS[part]
        count = float(_sizes_too_large(pattern, name, lie))
        if count <= pattern.limits.plainly(*key):
            continue
        start = pattern.rail.front if part == 0 or pattern.rail.liner is None else pattern.rail.liner.start
        too_large = np.array([count])
        limits = evaluate(pattern.limits, *key, quantities_at(pattern, np.array([start]), name))
        for _, _, severity, value, limit, held in each(breaks(*key, np.zeros(1, dtype=np.int64), too_large, limits)):
            yield finding_about(
                *key,
                severity,
                side=SIDES[side],
                part=name,
                face="web",
                station=start,
                value=value,
                limit=limit,
                held=held,
            )


def _sizes_too_large(pattern: Pattern, part: str, lie: PressLie) -> int:
    """How many sizes are: the blank's three for the press, the finished length for rack, tank and oven."""
    press, rack = pattern.order.library.press, pattern.order.library.finishing.rack
    length = pattern.rail.length if part == "rail" else lie.length
    sizes = (
        (lie.length, press.longest_blank),
        (lie.width, press.widest_blank),
        (lie.thickness, press.thickest_blank),
        (length, rack.longest_part),
        (length, rack.tank_length),
        (length, rack.oven_length),
    )
    return sum(size > most + VALUE_TOLERANCE for size, most in sizes)
