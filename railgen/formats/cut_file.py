"""The cut file of one blank: hole table and the frame's lines as entities on layers, written as DXF and read back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import NamedTuple

import numpy as np

from railgen.data.messages import InputError, Problem
from railgen.formats.cut_contours import opening_paths, recognised
from railgen.formats.cut_entities import (
    BEND,
    HOLES,
    OUTLINE,
    SECOND,
    SLOTS,
    Circle,
    Entity,
    Line,
    Path,
    Point,
    Text,
    lines,
    path,
    rounded,
)
from railgen.formats.cut_entities import MARK as MARK_LAYER
from railgen.formats.cut_notes import cut_file_notes, note_texts
from railgen.formats.dxf import DxfVersion, dxf_bytes, read_dxf
from railgen.formats.names import Part, Side
from railgen.formats.stamp import CLEARANCE, Place, find_place, stamp_entities
from railgen.frame.blank import bend_lines, blank_outline, second_cuts
from railgen.frame.contour import mirror_contour, mirror_polyline
from railgen.frame.panels import Face
from railgen.frame.rail import RailShape, part_length, part_section, required_liner
from railgen.holes.shapes import Cores, cores_of
from railgen.holes.table import MARK, PARTS, PUNCH, ROUND, SIDES, FloatArray, HoleTable
from railgen.layout.plan import ResolvedOrder

_STAMP_FROM_END = 30.0  # mm; common practice, no source
NO_FEET: FloatArray = np.empty((0, 4))


def cut_file(
    order: ResolvedOrder,
    holes: HoleTable,
    side: Side,
    part: Part,
    feet: FloatArray = NO_FEET,
    version: DxfVersion = "R12",
) -> bytes:
    """The cut file of one blank as DXF; the arguments as in ``cut_entities``."""
    return dxf_bytes(cut_entities(order, holes, side, part, feet), version)


def cut_entities(
    order: ResolvedOrder, holes: HoleTable, side: Side, part: Part, feet: FloatArray = NO_FEET
) -> list[Entity]:
    """Everything on one blank, as drawn: outside face up, the RH blank the mirror image of the LH one.

    holes: the whole hole table; feet: boxes (n, 4) as ``feet.web_feet`` gives them, which the stamped text keeps clear
    of. Raises ValueError when a liner is asked for and there is none.
    """
    rows = holes.rows((holes.side == SIDES.index(side)) & (holes.part == PARTS.index(part)))
    cores = cores_of(rows, np.full(len(rows), part_section(order.rail, part).thickness))
    entities = _blank_lines(order.rail, part, side)
    entities += feature_entities(rows, cores)
    text = f"{order.serial} {side} {part.upper()}"
    place = stamp_place(order.rail, rows, cores, part, feet, text)
    if place:
        entities += stamp_entities(text, place, part_length(order.rail, part) if side == "RH" else None)
    notes = cut_file_notes(order, rows, side, part, stamped=place is not None)
    return entities + note_texts(notes, part_section(order.rail, part).developed_width)


def blank_edge(rail: RailShape, part: Part, side: Side) -> Path:
    """The blank's edge, as drawn. Raises ValueError when a liner is asked for and there is none."""
    edge = blank_outline(rail, part)
    return path(OUTLINE, mirror_contour(edge, part_length(rail, part)) if side == "RH" else edge)


def _blank_lines(rail: RailShape, part: Part, side: Side) -> list[Entity]:
    cuts, bends = second_cuts(rail) if part == "rail" else [], bend_lines(rail, part)
    if side == "RH":
        length = part_length(rail, part)
        cuts = [mirror_contour(cut, length) for cut in cuts]
        bends = [mirror_polyline(bend, length) for bend in bends]
    return [blank_edge(rail, part, side), *(path(SECOND, cut) for cut in cuts), *lines(BEND, bends)]


def feature_entities(rows: HoleTable, cores: Cores) -> Iterator[Entity]:
    """Round holes, slots and rectangles, then marks of one blank, each in the table's order, with their cores."""
    is_punched, is_round, is_mark = rows.operation == PUNCH, rows.shape == ROUND, rows.shape == MARK
    x, y = rounded(rows.blank_x), rounded(rows.v)
    radius = rounded(rows.diameter / 2)
    for layer, chosen in ((HOLES, is_round & is_punched), (SECOND, is_round & ~is_punched)):
        for row in np.flatnonzero(chosen).tolist():
            yield Circle(layer, x[row], y[row], radius[row])
    index = np.flatnonzero(~is_round & ~is_mark)
    if len(index):
        shaped = rows.rows(index)
        layers = [SLOTS if punched else SECOND for punched in is_punched[index].tolist()]
        chosen_cores = Cores(cores.half_length[index], cores.half_width[index], cores.radius[index])
        yield from opening_paths(layers, shaped.blank_x, shaped.v, shaped.blank_angle, shaped.shape, chosen_cores)
    for row in np.flatnonzero(is_mark).tolist():
        yield Point(MARK_LAYER, x[row], y[row])


def stamp_place(
    rail: RailShape, rows: HoleTable, cores: Cores, part: Part, feet: FloatArray, text: str
) -> Place | None:
    """Where the blank is stamped: flat web ahead of any taper, clear of holes, feet and bends; None without room."""
    section = part_section(rail, part)
    start, end, offset = rail.front, rail.taper.front if rail.taper else rail.rear, 0.0
    if part == "liner":
        liner = required_liner(rail)
        start, end, offset = liner.start, liner.end, liner.offset_z
    low, high = section.web_lower_tangent_blank_y, section.web_upper_tangent_blank_y
    steel = (_STAMP_FROM_END, end - start - _STAMP_FROM_END, low + CLEARANCE, high - CLEARANCE)
    along, across = cores.reach(rows.blank_angle)
    along, across = along + cores.radius, across + cores.radius
    boxes = np.column_stack([rows.u - along, rows.v - across, rows.u + along, rows.v + across])
    # On the web blank_y is the height plus a constant.
    rise = float(section.blank_y(Face.WEB, 0.0)) - offset
    return find_place(text, steel, np.concatenate([boxes, feet + np.array([-start, rise, -start, rise])]))


class DrawnFeature(NamedTuple):
    """One feature as read: centre and sizes in mm, angle in degrees as drawn; sizes that do not apply are 0."""

    layer: str
    shape: str
    x: float
    y: float
    diameter: float
    length: float
    angle: float
    corner_radius: float


@dataclass(frozen=True)
class CutFile:
    """A cut file as read back.

    entities: all of them, as they stand; outline: the blank's edge; features: holes, slots, rectangles and centre
    marks; second_cuts: open cuts made after forming; bends: bend and fold lines; stamp: text and arrow; notes: text.
    """

    entities: tuple[Entity, ...]
    outline: Path
    features: tuple[DrawnFeature, ...]
    second_cuts: tuple[Path, ...]
    bends: tuple[Line, ...]
    stamp: tuple[Text | Line, ...]
    notes: tuple[Text, ...]


def read_cut_file(file: FilePath) -> CutFile:
    """A cut file, R12 or R2018, with its contours recognised as slots and rectangles.

    Raises InputError, naming every problem, when it cannot be read or holds what no cut file may.
    """
    return cut_file_of(read_dxf(file), str(file))


def cut_file_of(entities: Sequence[Entity], file: str) -> CutFile:
    """A cut file from its entities as read; ``file`` names it in messages.

    Raises InputError, naming every problem, where they hold what no cut file may.
    """
    problems: list[Problem] = []
    features = []
    outlines = [e for e in entities if isinstance(e, Path) and e.layer == OUTLINE and e.closed]
    for number, entity in enumerate(entities, 1):
        key = f"entity {number}"
        if not _belongs(entity):
            allowed = "circles on HOLES, closed polylines on SLOTS, and so on for each layer"
            problems.append(Problem(file, key, f"a {_kind(entity)} on {entity.layer}", allowed))
            continue
        feature = _feature(entity)
        if feature:
            features.append(feature)
        elif isinstance(entity, Path) and entity.closed and entity.layer != OUTLINE:
            problems.append(Problem(file, key, f"another contour on {entity.layer}", "a slot or a rectangle"))
    if len(outlines) != 1:
        problems.append(Problem(file, OUTLINE, f"{len(outlines)} closed contours", "one closed contour"))
    if problems:
        raise InputError(problems)
    return CutFile(
        entities=tuple(entities),
        outline=outlines[0],
        features=tuple(features),
        second_cuts=tuple(e for e in entities if isinstance(e, Path) and e.layer == SECOND and not e.closed),
        bends=tuple(e for e in entities if isinstance(e, Line) and e.layer == BEND),
        stamp=tuple(e for e in entities if isinstance(e, Text | Line) and e.layer == MARK_LAYER),
        notes=tuple(e for e in entities if isinstance(e, Text) and e.layer != MARK_LAYER),
    )


_ALLOWED: dict[str, tuple[type, ...]] = {
    OUTLINE: (Path,),
    HOLES: (Circle,),
    SLOTS: (Path,),
    BEND: (Line,),
    SECOND: (Circle, Path),
    MARK_LAYER: (Point, Text, Line),
}


def _belongs(entity: Entity) -> bool:
    """Whether a layer may hold the entity; NOTE may hold anything."""
    if not isinstance(entity, _ALLOWED.get(entity.layer, (Circle, Path, Line, Point, Text))):
        return False
    return not isinstance(entity, Path) or entity.closed or entity.layer not in (OUTLINE, SLOTS)


def _kind(entity: Entity) -> str:
    if isinstance(entity, Path):
        return "closed polyline" if entity.closed else "open polyline"
    return type(entity).__name__.lower()


def _feature(entity: Entity) -> DrawnFeature | None:
    """The feature that an entity draws, None for what draws none."""
    if isinstance(entity, Circle) and entity.layer in (HOLES, SECOND):
        return DrawnFeature(entity.layer, "round", entity.x, entity.y, 2 * entity.radius, 0.0, 0.0, 0.0)
    if isinstance(entity, Point) and entity.layer == MARK_LAYER:
        return DrawnFeature(entity.layer, "mark", entity.x, entity.y, 0.0, 0.0, 0.0, 0.0)
    if isinstance(entity, Path) and entity.layer in (SLOTS, SECOND):
        opening = recognised(entity)
        return DrawnFeature(entity.layer, *opening) if opening else None
    return None
