"""The rated joints on sheets: each bolt group with the forces on its bolts, and every hole's use of every mode."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.data.component import Component
from railgen.data.local import datum_across
from railgen.holes.table import FACES, SIDES, FloatArray, HoleTable, IntArray
from railgen.layout.plan import SerialPlan
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable, text_width, wrapped
from railgen.papers.scales import SCALES, fitting_scale
from railgen.papers.sheet import (
    BLACK,
    BLUE,
    EDGE,
    FRAME_LEFT,
    FRAME_TOP,
    GREY,
    RED,
    THIN,
    Figures,
    Item,
    Pen,
    Text,
    circles,
    polygon,
    rectangle,
    segments,
)
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.wording import say
from railgen.strength.joints import MODES, JointCheck

_COLUMNS = (
    ("component", 62.0, False),
    ("hole", 70.0, False),
    ("side", 12.0, False),
    ("load", 12.0, True),
    ("sheared", 18.0, True),
    ("pulled", 18.0, True),
    ("clamp", 18.0, True),
    *((mode, 20.0, True) for mode in MODES),
    ("governs", 28.0, False),
    ("margin", 18.0, True),
)
_FIGURE_WIDTH, _FIGURE_HEIGHT = 92.0, 84.0
_FIGURES = 4
_FORCE, _FOOT, _RATED = Pen(0.35, BLUE), Pen(0.18, GREY), Pen(0.6, RED)
_FOOT_FILL = "#f0f0f0"
_GREATEST_ARROW, _RATED_ARROW, _LEAST_HOLE = 15.0, 14.0, 0.8
_HEAD, _HALF_HEAD = 2.0, 0.6
_USE_COLOURS = ((1.0, RED), (0.9, "#b07000"), (0.0, BLACK))
"""Colour of a use from so much on."""


@dataclass(frozen=True, eq=False)
class _Group:
    """The bolts of one placed joint under one load: rows into the joint check."""

    component: Component
    side: int
    load: int
    bolts: IntArray


def joint_pages(plan: SerialPlan, check: JointCheck) -> tuple[tuple[Item, ...], ...]:
    """Pages with all rated joints; none where there are none."""
    groups = list(_groups(plan, check))
    if not groups:
        return ()
    figures = list(_figures(plan, check, groups))
    top = FRAME_TOP - 10.0 - _FIGURE_HEIGHT - 6.0
    columns = [Column(_word(key), width, right) for key, width, right in _COLUMNS]
    rows = [_row(plan.holes, check, index) for group in groups for index in group.bolts.tolist()]
    first, *rest = table_pages(columns, rows, FRAME_LEFT + 3, top, STRIP_TOP + 2.0)
    title = Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, say("strength_joint.heading"), LARGE, bold=True)
    return ((title, *figures, *first), *((title, *page) for page in rest))


def _groups(plan: SerialPlan, check: JointCheck) -> Iterator[_Group]:
    """Joints by component, side, place and load."""
    forces, holes = check.forces, plan.holes
    for component in np.unique(forces.component).tolist():
        entry = plan.order.library.components[holes.names.components[component]]
        for side in range(len(SIDES)):
            for load in range(len(entry.loads)):
                here = (forces.component == component) & (forces.load == load) & (holes.side[forces.row] == side)
                bolts = np.flatnonzero(here)
                if len(bolts):
                    yield _Group(entry, side, load, bolts)


def _row(holes: HoleTable, check: JointCheck, index: int) -> Row:
    row = int(check.forces.row[index])
    uses = check.utilisation[:, index]
    governs, greatest = int(check.governing[index]), float(check.greatest[index])
    cells = (
        holes.names.components[int(check.forces.component[index])],
        holes.hole_id(row),
        SIDES[holes.side[row]],
        str(int(check.forces.load[index]) + 1),
        f"{check.forces.shear[index] / 1e3:.1f}",
        f"{check.forces.tension[index] / 1e3:.1f}",
        f"{check.clamp[index] / 1e3:.1f}",
        *(f"{use:.3f}" for use in uses.tolist()),
        _word(MODES[governs]),
        f"{1 / greatest - 1:.2f}" if greatest else "-",
    )
    return Row(cells, colour=_colour(greatest))


def _word(name: str) -> str:
    """The word for a mode or a column."""
    return say(f"strength_joint.{name.replace(' ', '_').replace('-', '_')}")


def _colour(use: float) -> str:
    return next(colour for least, colour in _USE_COLOURS if use > least or least == 0.0)


def _figures(plan: SerialPlan, check: JointCheck, groups: Sequence[_Group]) -> Iterator[Item]:
    """The worst group of each component and load, as many as go across the sheet."""
    worst: dict[tuple[str, int], _Group] = {}
    for group in groups:
        key = group.component.id, group.load
        greatest = float(check.greatest[group.bolts].max())
        if key not in worst or greatest > float(check.greatest[worst[key].bolts].max()) + 1e-9:
            worst[key] = group
    for place, group in enumerate(list(worst.values())[:_FIGURES]):
        left = FRAME_LEFT + 3 + place * (_FIGURE_WIDTH + 3.0)
        yield from _figure(plan, check, group, left, FRAME_TOP - 10.0)


def _figure(plan: SerialPlan, check: JointCheck, group: _Group, left: float, top: float) -> Iterator[Item]:
    """A bolt group seen square to its face: feet, holes with their greatest use, forces of the part on the bolts."""
    holes, rows = plan.holes, check.forces.row[group.bolts]
    bottom, right = top - _FIGURE_HEIGHT, left + _FIGURE_WIDTH
    yield rectangle(left, bottom, right, top, THIN)
    load = group.component.loads[group.load]
    direction = ", ".join(f"{part:g}" for part in load.direction)
    titles = (
        (f"{group.component.id}, {SIDES[group.side]}", MIDDLE, True),
        (say("strength_joint.rated", force=load.force, direction=direction), SMALL, False),
    )
    y = top - 4.6
    for words, height, bold in titles:
        yield Text(left + 2, y, fitted(printable(words), height, _FIGURE_WIDTH - 4, bold), height, bold=bold)
        y -= 4.2
    face = int(holes.face[rows[0]])
    centres = np.stack([holes.station[rows], holes.across[rows]], axis=-1)
    feet, attack = _feet(plan, group, face, centres), _attack(plan, group, face)
    corners = np.concatenate([centres, *feet, *attack[:1]])
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    room = np.array([_FIGURE_WIDTH - 2 * _GREATEST_ARROW - 4, _FIGURE_HEIGHT - 30.0])
    spread = np.maximum(np.ptp(corners, axis=0), 1.0)
    scale = max(fitting_scale(float(size), float(space), SCALES) for size, space in zip(spread, room, strict=True))
    mirror = np.array([-1.0 if group.side == 1 else 1.0, -1.0 if FACES[face] == "bottom" else 1.0])
    at = np.array([(left + right) / 2, bottom + (_FIGURE_HEIGHT - 12.0) / 2 + 4.0])

    def paper(points: FloatArray) -> FloatArray:
        return np.asarray(at + (points - middle) / scale * mirror)

    for foot in feet:
        yield polygon(paper(foot), _FOOT, _FOOT_FILL)
    yield from _bolts(check, group.bolts, paper(centres), mirror, holes, scale)
    if attack:
        point, way = paper(attack[0])[0], attack[1][0] * mirror
        if float(np.hypot(*way)) > 1e-6:
            yield from _arrow(point, way / np.hypot(*way), _RATED_ARROW, _RATED)
        yield circles([tuple(point)], 0.8, None, RED)
    words = say("strength_joint.seen", face=say(f"short_face.{FACES[face]}"), scale=scale)
    for number, line in enumerate(wrapped(words, SMALL, _FIGURE_WIDTH - 4)[::-1]):
        yield Text(left + 2, bottom + 1.6 + 2.8 * number, line, SMALL, colour=GREY)


def _attack(plan: SerialPlan, group: _Group, face: int) -> list[FloatArray]:
    """Where the rated load of the side's first instance acts, and its direction, as seen square to the web, (1, 2)."""
    if FACES[face] != "web":
        return []
    placed, load = plan.placements, group.component.loads[group.load]
    index = list(plan.order.library.components).index(group.component.id)
    place = int(np.flatnonzero((placed.component == index) & (placed.side == group.side))[0])
    station = float(placed.station[place] + placed.direction[place] * load.station)
    return [np.array([[station, load.height]]), np.array([[load.direction[0], load.direction[2]]])]


def _feet(plan: SerialPlan, group: _Group, face: int, centres: FloatArray) -> list[FloatArray]:
    """The component's feet on the face that hold one of its bolts, as (station, across)."""
    section, placed = plan.order.rail.section, plan.placements
    index = list(plan.order.library.components).index(group.component.id)
    found: list[FloatArray] = []
    for place in np.flatnonzero((placed.component == index) & (placed.side == group.side)).tolist():
        for foot in group.component.footprints:
            if foot.face != FACES[face]:
                continue
            datum = datum_across(foot.datum, section.depth, section.flange)
            turned = np.array([placed.direction[place], 1.0])
            corners = np.array(foot.polygon, dtype=np.float64) * turned + np.array([placed.station[place], datum])
            inside = (centres >= corners.min(axis=0)) & (centres <= corners.max(axis=0))
            if inside.all(axis=1).any():
                found.append(corners)
    return found


def _bolts(
    check: JointCheck, bolts: IntArray, at: FloatArray, mirror: FloatArray, holes: HoleTable, scale: float
) -> Iterator[Item]:
    """Holes with their greatest use, and the shear on each as an arrow that begins at the hole's centre."""
    forces = check.forces
    greatest = max(float(forces.shear[bolts].max()), 1e-9)
    for bolt, (x, y) in zip(bolts.tolist(), at.tolist(), strict=True):
        use, row = float(check.greatest[bolt]), int(forces.row[bolt])
        radius = max(float(holes.diameter[row]) / 2 / scale, _LEAST_HOLE)
        yield circles([(x, y)], radius, EDGE, "#ffffff")
        way = np.array([forces.along[bolt], forces.across[bolt]]) * mirror
        yield from _arrow(np.array([x, y]), way, _GREATEST_ARROW * float(forces.shear[bolt]) / greatest, _FORCE)
        words = f"{use:.2f}"
        below = y - radius - 0.6 - SMALL
        yield Text(x - text_width(words, SMALL, True) / 2, below, words, SMALL, bold=True, colour=_colour(use))


def _arrow(start: FloatArray, way: FloatArray, length: float, pen: Pen) -> Iterator[Item]:
    """An arrow from a point; none where it is shorter than its head."""
    if length <= _HEAD:
        return
    tip = start + way * length
    neck, side = tip - way * _HEAD, np.array([-way[1], way[0]]) * _HALF_HEAD
    yield segments([[tuple(start), tuple(neck)]], pen)
    yield Figures("MLLZ", np.array([tip, neck + side, neck - side])[None], None, pen.colour)
