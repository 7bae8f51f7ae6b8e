"""What a tail taper adds to the intervals: panels that move slantwise in the blank, and distances to its cuts."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, sin

import numpy as np

from railgen.frame.panels import Panel
from railgen.frame.rail import RailShape, required_taper
from railgen.frame.taper import Point, TaperShape
from railgen.holes.table import RAIL, FloatArray, HoleTable, IntArray
from railgen.placing.slices import generators, near_spans
from railgen.placing.spans import Spans, spans
from railgen.placing.terms import Term
from railgen.rules.pattern import Pattern

_TOUCHING = 1e-9
"""mm: a distance that stands for none, where a distance above zero is needed."""


def blank_velocity(rail: RailShape, table: HoleTable) -> FloatArray:
    """(n, 2) of each row's blank position over its station: along the blank, but in the tail's turned panels."""
    velocity = np.tile([1.0, 0.0], (len(table), 1))
    if rail.taper:
        slope = rail.taper.slope
        velocity[table.panel == Panel.TAIL_TOP] = 1.0 / cos(slope), 0.0
        velocity[table.panel == Panel.TAIL_WEB] = cos(slope), sin(slope)
    return velocity


def upset_terms(pattern: Pattern, velocity: FloatArray) -> list[Term]:
    """Distance of strip features to the seam and to the upset steel at the bisector."""
    table, taper = pattern.table, pattern.rail.taper
    strip = np.flatnonzero(table.panel == Panel.TAIL_WEB)
    if taper is None or not len(strip):
        return []
    slit = float(pattern.rail.section.blank_y(0, taper.apex[1]))
    square, _ = pattern.cores.reach(table.angle + np.degrees(taper.slope / 2))
    behind = taper.behind_bisector(table.station, table.across)
    to_seam, to_upset = np.full((2, len(table)), np.inf)
    to_seam[strip] = (table.v - pattern.reach[1] - slit)[strip]
    to_upset[strip] = (behind - taper.upset_half_width - square - pattern.cores.radius)[strip]
    evenly = np.full(len(table), cos(taper.slope / 2))
    return [Term(to_seam, velocity[:, 1], 0), Term(to_upset, evenly, 0)]


def cut_spans(pattern: Pattern, reason: tuple[str, str], rows: IntArray, limit: FloatArray) -> Iterator[Spans]:
    """Steps in which true shapes of web and strip come nearer to the taper's cuts than limits (mm, one a row)."""
    taper, table = pattern.rail.taper, pattern.table
    if taper is None:
        return
    for panel, cut in ((Panel.WEB, taper.lower_cut_edge), (Panel.TAIL_WEB, taper.seam)):
        mine = (table.panel[rows] == panel) & (table.part[rows] == RAIL)
        some, least = rows[mine], limit[mine] + pattern.cores.radius[rows[mine]]
        if reason[0] != "weld-clearance":
            yield _near(pattern, reason, some, ((taper.apex, taper.apex),), least + taper.relief_radius)
        if reason[0] != "off-rail":
            yield _near(pattern, reason, some, (cut,), least)
        elif panel == Panel.WEB:
            yield from _closed_by_taken(pattern, reason, some, least)


def _closed_by_taken(pattern: Pattern, reason: tuple[str, str], rows: IntArray, least: FloatArray) -> Iterator[Spans]:
    """Steps in which web features come nearer than distances (mm) to what the taper takes from the web.

    A distance below zero is a depth: a mark, which has no radius, is off the rail where it lies that deep inside.
    """
    taper = required_taper(pattern.rail)
    deep = least < 0
    for some, inset in ((~deep, 0.0), (deep, float(-least.min(initial=0.0)))):
        for corners in _taken_from_web(taper, inset):
            outline = tuple(zip(corners, corners[1:] + corners[:1], strict=True))
            yield _near(pattern, reason, rows[some], outline, np.maximum(least[some], _TOUCHING))


def _near(
    pattern: Pattern,
    reason: tuple[str, str],
    rows: IntArray,
    outline: tuple[tuple[Point, Point], ...],
    distance: FloatArray,
) -> Spans:
    """Steps in which cores are nearer than a distance to a convex shape given by its sides, in the finished part.

    A core that comes near a convex shape or leaves it is first and last near to one of its sides.
    """
    table, cores = pattern.table, pattern.cores
    own = generators(cores.half_length[rows], cores.half_width[rows], table.angle[rows])
    low, high = np.full(len(rows), np.inf), np.full(len(rows), -np.inf)
    for (x0, z0), (x1, z1) in outline:
        side = np.broadcast_to([[[(x1 - x0) / 2, (z1 - z0) / 2], [0.0, 0.0]]], (len(rows), 2, 2))
        first, last = near_spans(table.across[rows] - (z0 + z1) / 2, np.concatenate([own, side], axis=1), distance)
        step = (x0 + x1) / 2 - table.station[rows]
        low, high = np.minimum(low, first + step), np.maximum(high, last + step)
    return spans(reason, low, high, rows)


def _taken_from_web(taper: TaperShape, inset: float) -> tuple[tuple[Point, ...], ...]:
    """What is no web behind the bisector, in two convex pieces: upset steel with strip, wedge with gap.

    inset: how far inside its edges toward the web, mm.
    """
    apex_x, slit = taper.apex
    _, (rear, cut_z) = taper.lower_cut_edge
    cut_rear = (rear, cut_z + inset / cos(taper.slope))
    gap, reached = taper.root_gap - inset, inset / cos(taper.slope / 2)
    tip = (apex_x - gap * sin(taper.slope), slit - gap * cos(taper.slope))
    at_slit = (taper.start - float(taper.upset_reach(slit)) + reached, slit)
    at_top = (taper.start - float(taper.upset_reach(taper.depth)) + reached, taper.depth)
    end = (taper.rear, taper.depth)
    return (taper.apex, at_slit, at_top, end), (cut_rear, tip, taper.apex, end)
