"""Placements to the hole table: features gathered from the catalogue, turned, developed, shared, put through liners."""

from __future__ import annotations

import numpy as np

from railgen.frame.development import (
    blank_angle,
    develop,
    develop_liner,
    liner_blank_angle,
    mirror_angle,
    mirror_blank,
    panel_of,
)
from railgen.frame.panels import Panel
from railgen.frame.rail import RailShape
from railgen.holes.shapes import cores_of
from railgen.holes.sharing import merge_shared
from railgen.holes.table import (
    COUNTERSINK,
    DRILL,
    LINER,
    MARK,
    NONE,
    RH,
    BoolArray,
    FloatArray,
    HoleTable,
    stacked,
)
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import Placements, ResolvedOrder


def hole_table(order: ResolvedOrder, catalogue: Catalogue, placements: Placements) -> HoleTable:
    """The whole hole table of a serial: shared holes merged, the liner's rows after the rail's."""
    rail_rows = merge_shared(rail_features(order, catalogue, placements))
    return with_liner(order, rail_rows)


def rail_features(order: ResolvedOrder, catalogue: Catalogue, placements: Placements) -> HoleTable:
    """One row for each feature of each placement on the rails, nothing merged."""
    start = catalogue.start[placements.component]
    count = catalogue.start[placements.component + 1] - start
    placement = np.repeat(np.arange(len(count)), count)
    ends = np.cumsum(count)
    row = np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - count, count) + np.repeat(start, count)
    rail, direction = order.rail, placements.direction[placement]
    station = placements.station[placement] + direction * catalogue.station[row]
    across = (
        catalogue.across[row]
        + rail.section.depth * catalogue.of_depth[row]
        + rail.section.flange * catalogue.of_flange[row]
    )
    angle = np.where(direction < 0, mirror_angle(catalogue.angle[row]), catalogue.angle[row])
    panel = panel_of(rail, catalogue.face[row], station, across).astype(np.int64)
    u, v = develop(rail, panel, station, across)
    side = placements.side[placement]
    turned = blank_angle(rail, panel, angle)
    owner = placements.component[placement]
    return HoleTable(
        names=catalogue.names,
        side=side,
        part=np.zeros(len(row), dtype=np.int64),
        panel=panel,
        station=station,
        across=across,
        u=u,
        v=v,
        blank_x=_blank_x(u, side == RH, rail.blank_length),
        shape=catalogue.shape[row],
        diameter=catalogue.diameter[row],
        length=catalogue.length[row],
        angle=angle,
        blank_angle=np.where(side == RH, mirror_angle(turned), turned),
        corner_radius=catalogue.corner_radius[row],
        fastener=catalogue.fastener[row],
        operation=catalogue.operation[row],
        locating=catalogue.locating[row],
        strings=catalogue.strings[row],
        shareable=catalogue.shareable[row],
        component=owner,
        instance=placements.instance[placement],
        feature=catalogue.feature[row],
        tool=np.full(len(row), NONE, dtype=np.int64),
        owner_start=np.arange(len(row) + 1),
        owners=owner,
    )


def _blank_x(u: FloatArray, is_rh: BoolArray, length: float) -> FloatArray:
    return np.where(is_rh, mirror_blank(u, length), u)


def with_liner(order: ResolvedOrder, rail_rows: HoleTable) -> HoleTable:
    """The table with the liner's rows: every rail feature that meets the liner goes through it."""
    liner = order.rail.liner
    if liner is None:
        return rail_rows
    rows = rail_rows.rows(through_liner(order.rail, rail_rows))
    face = rows.face
    u, v = develop_liner(liner, face, rows.station, rows.across)
    angle = liner_blank_angle(face, rows.angle)
    is_rh = rows.side == RH
    through = rows.with_columns(
        part=np.full(len(rows), LINER),
        panel=face,
        u=u,
        v=v,
        blank_x=_blank_x(u, is_rh, liner.length),
        blank_angle=np.where(is_rh, mirror_angle(angle), angle),
        # A countersink is in the rail's outside face; below it the liner has the plain drilled hole.
        operation=np.where(rows.operation == COUNTERSINK, DRILL, rows.operation),
    )
    return stacked([rail_rows, through])


def through_liner(rail: RailShape, rows: HoleTable) -> BoolArray:
    """Rows of the rail whose openings meet the liner's web (web features) or its flanges (flange features)."""
    liner = rail.liner
    if liner is None:
        return np.zeros(len(rows), dtype=np.bool_)
    cores = cores_of(rows, np.full(len(rows), rail.section.thickness))
    along, across = cores.reach(rows.angle)
    along, across = along + cores.radius, across + cores.radius
    meets = (rows.station + along > liner.start) & (rows.station - along < liner.end)
    on_web = np.isin(rows.panel, (Panel.WEB, Panel.TAIL_WEB))
    flange_met = rows.across - across < liner.flange_edge
    return np.asarray(meets & (on_web | flange_met) & (rows.shape != MARK))
