"""A component as it moves along a real rail: each feature in pieces within which its surroundings do not change."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import tan

import numpy as np

from railgen.data.component import Component
from railgen.frame.panels import Panel
from railgen.frame.taper import TaperShape
from railgen.holes.shapes import cores_of
from railgen.holes.table import FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, through_liner, with_liner
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder
from railgen.rules.limits import LimitTable
from railgen.rules.pattern import Pattern

SHORTEST = 1e-9
"""mm; no piece is shorter."""


@dataclass(frozen=True)
class Moving:
    """Rows of a moving component's features, each good for the component's stations from low to high (mm).

    pattern: the rows as they lie where the component stands at ``at``, the middle of their piece.
    """

    pattern: Pattern
    at: FloatArray
    low: FloatArray
    high: FloatArray


def moving(
    component: Component,
    side: int,
    window: tuple[float, float],
    order: ResolvedOrder,
    catalogue: Catalogue,
    limits: LimitTable,
) -> Moving:
    """All features of all instances on one side, for stations of the first instance within a window (mm).

    Raises ValueError for a component that repeats up to a station: its instances do not move as one.
    """
    instances = instances_of(component, side, catalogue.index[component.id])
    still = rail_features(order, catalogue, placements(instances))
    cuts = np.sort(np.clip(_cuts(Pattern(order, still, limits)), *window), axis=1)
    cuts = np.concatenate([np.full((len(still), 1), window[0]), cuts, np.full((len(still), 1), window[1])], axis=1)
    row, piece = np.nonzero(np.diff(cuts, axis=1) > SHORTEST)
    low, high = cuts[row, piece], cuts[row, piece + 1]
    at, which = np.unique((low + high) / 2, return_inverse=True)
    everywhere = [(index, on, n, x + s, d) for s in at.tolist() for index, on, n, x, d in instances]
    table = rail_features(order, catalogue, placements(everywhere)).rows(which * len(still) + row)
    back = np.concatenate([np.arange(len(table)), np.flatnonzero(through_liner(order.rail, table))])
    pattern = Pattern(order, with_liner(order, table), limits)
    return Moving(pattern, at[which][back], low[back], high[back])


def instances_of(component: Component, side: int, index: int) -> list[tuple[int, int, int, float, float]]:
    """Rows of Placements with the first instance at station 0; index: the component's row in the catalogue.

    Raises ValueError for a component that repeats up to a station.
    """
    repeat = component.repeat
    if repeat is not None and repeat.to is not None:
        raise ValueError(f"{component.id} repeats up to a station: its instances do not move as one")
    count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
    direction = -1.0 if component.side == "turned" and side else 1.0
    return [(index, side, number + 1, number * pitch, direction) for number in range(count)]


def _cuts(pattern: Pattern) -> FloatArray:
    """(rows, any) stations of the component at which a feature's limits, panel or parts change, infinite where none."""
    order, table = pattern.order, pattern.table
    spans = [(zone.start, zone.end) for zone in order.order.limits.zones]
    spans += [order.zones[name] for name in sorted(zones_named(pattern.limits)) if name in order.zones]
    found = [mark - table.station for span in spans for mark in span]
    if order.rail.liner:
        cores = cores_of(table, np.full(len(table), order.rail.section.thickness))
        reach = cores.reach(table.angle)[0] + cores.radius
        found += [order.rail.liner.start - reach - table.station, order.rail.liner.end + reach - table.station]
    if order.rail.taper:
        found += _taper_cuts(pattern, order.rail.taper)
    return np.stack(found, axis=1) if found else np.empty((len(table), 0))


def zones_named(limits: LimitTable, rules: frozenset[str] | None = None) -> set[str]:
    """Stretches of a family that any row names, of some rules or of all."""
    held = [entry for (rule, _), rows in limits.rows.items() if rules is None or rule in rules for entry in rows]
    return {entry.row.when.zone for entry in held if entry.row.when and entry.row.when.zone}


def _taper_cuts(pattern: Pattern, taper: TaperShape) -> Iterator[FloatArray]:
    """Where features change their panel, and where the local depth passes a figure that a limit asks for."""
    table = pattern.table
    web = table.face == Panel.WEB
    hinge_x, hinge_z = taper.hinge
    apex_x, slit = taper.apex
    yield np.where(web, hinge_x + (table.across - hinge_z) * tan(taper.slope / 2), taper.start) - table.station
    yield np.where(web, apex_x + (slit - table.across) / tan(taper.slope), taper.start) - table.station
    yield apex_x - table.station
    yield taper.start - table.station
    for depth in _depths_asked(pattern):
        yield taper.start + (taper.depth - depth) / tan(taper.slope) - table.station


def _depths_asked(pattern: Pattern) -> Iterator[FloatArray | float]:
    """Depths at which a row begins or ceases to hold, and at which a passage takes just its share."""
    angle = np.degrees(pattern.rail.taper.slope) if pattern.rail.taper else 0.0
    widths = [2 * (pattern.cores.reach(pattern.table.angle + turn)[1] + pattern.cores.radius) for turn in (0.0, angle)]
    for (rule, measure), held in pattern.limits.rows.items():
        for row in (entry.row for entry in held):
            bounds = row.when.depth if row.when else None
            if bounds:
                yield from (v for v in (bounds.least, bounds.most, bounds.above, bounds.below) if v is not None)
            if (rule, measure, row.of) == ("hole-size", "passage", "depth") and row.error:
                yield from (width / row.error for width in widths)
