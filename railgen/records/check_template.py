"""The taper's templates against the rails' cut files: the same cut and fold, 1:1 over the web."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path as FilePath

import numpy as np

from railgen.data.messages import InputError
from railgen.formats.cut_entities import BEND, MARK, OUTLINE, SECOND, Circle, Entity, Line, Path, Point, Text
from railgen.formats.cut_file import CutFile
from railgen.formats.dxf import read_dxf
from railgen.formats.dxf_tags import read_dxf_tags
from railgen.formats.names import Side, taper_name
from railgen.holes.table import FloatArray
from railgen.records.check_cut_file import check_named, first_problem
from railgen.records.check_hands import mirrored, same_points, vertices
from railgen.records.discrepancy import Discrepancy
from railgen.records.subject import Subject, blank_corners

_CUT_VERTICES = 5
_SIDES: tuple[Side, ...] = ("LH", "RH")


def check_template(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """A taper's template, None for any other file."""
    side = next((side for side in _SIDES if file.name == taper_name(subject.serial, side)), None)
    return _check(subject, file, side) if side else None


def _check(subject: Subject, file: FilePath, side: Side) -> Iterator[Discrepancy]:
    entities, refusal = _read(file)
    if refusal:
        yield Discrepancy("file unreadable", file.name, f"not as this program writes it: {first_problem(refusal)}")
    texts = [entity.text for entity in entities if isinstance(entity, Text)]
    yield from check_named(file.name, texts, subject.serial, side, "TAPER")
    cuts = [e for e in entities if isinstance(e, Path) and e.layer == SECOND]
    folds = [e for e in entities if isinstance(e, Line) and e.layer == BEND]
    centres = [e for e in entities if isinstance(e, Point) and e.layer == MARK]
    strangers = [e for e in entities if isinstance(e, Circle) or (isinstance(e, Path) and e.layer == OUTLINE)]
    if (len(cuts), len(folds), len(centres), len(strangers)) != (1, 1, 1, 1):
        words = "should hold one cut on SECOND, one fold on BEND, the relief hole's centre on MARK and its own edge"
        yield Discrepancy("wrong cut", file.name, words)
        return
    rail = subject.cut_file(side, "rail")
    if rail is None:
        return
    meant, fold = _cut_of(rail), next((bend for bend in rail.bends if abs(bend.x2 - bend.x1) < 1e-6), None)
    if meant is None or fold is None:
        yield Discrepancy("wrong cut", file.name, "the rail's cut file has no taper")
        return
    drawn = vertices(cuts)
    # Heights on the web and blank_y differ by a constant; the slit, highest of the cut, is the same line in both.
    rise = meant[:, 1].max() - drawn[:, 1].max()
    if not same_points(drawn + np.array([0.0, rise]), meant):
        yield Discrepancy("wrong cut", file.name, f"the cut is not that of {side} rail's cut file")
    if abs(folds[0].x1 - fold.x1) > 1e-6 or abs(folds[0].x2 - fold.x1) > 1e-6:
        words = f"the fold is at x {folds[0].x1:.3f}, in the rail's cut file at {fold.x1:.3f}"
        yield Discrepancy("wrong bend", file.name, words)
    yield from _check_centre(file.name, centres[0], cuts[0])
    yield from _check_other_hand(subject, file, side, entities)


def _read(file: FilePath) -> tuple[list[Entity], InputError | None]:
    try:
        return read_dxf_tags(file), None
    except InputError as error:
        try:
            return read_dxf(file), error
        except InputError:
            raise error from None


def _cut_of(rail: CutFile) -> FloatArray | None:
    """Vertices of the wedge's cut: on SECOND, or the five of the blank's edge that its corners leave."""
    if rail.second_cuts:
        return vertices(rail.second_cuts)
    edge = vertices([rail.outline])
    cut = edge[~blank_corners(edge)]
    return cut if len(cut) == _CUT_VERTICES else None


def _check_centre(name: str, centre: Point, cut: Path) -> Iterator[Discrepancy]:
    """The relief hole's centre is as far from all three points of its arcs."""
    bulges = [bulge for _, _, bulge in cut.vertices]
    arcs = [index for index, bulge in enumerate(bulges) if bulge]
    on_hole = [cut.vertices[index] for index in arcs] + [cut.vertices[(arcs[-1] + 1) % len(bulges)]] if arcs else []
    radii = [float(np.hypot(x - centre.x, y - centre.y)) for x, y, _ in on_hole]
    if len(radii) != 3 or max(radii) - min(radii) > 1e-5:
        yield Discrepancy("wrong cut", name, "the relief hole's centre is not the centre of its arcs")


def _check_other_hand(subject: Subject, file: FilePath, side: Side, entities: list[Entity]) -> Iterator[Discrepancy]:
    """The template's own edge is the mirror image of the other hand's."""
    if side == "RH":
        return
    other = subject.folder / taper_name(subject.serial, "RH")
    sizes = subject.outline_sizes("RH", "rail")
    if sizes is None or not other.exists():
        return
    try:
        others, _ = _read(other)
    except InputError:
        return
    edges = [vertices(e for e in found if isinstance(e, Path) and e.layer == OUTLINE) for found in (entities, others)]
    if not same_points(edges[0], mirrored(edges[1], sizes[0])):
        words = f"the template's edge is not the mirror image of that in {other.name}; one of them is wrong"
        yield Discrepancy("wrong edge", file.name, words)
