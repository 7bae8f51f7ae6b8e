"""The bending of one rail on a sheet: its loads, shear, moment against what the net section resists, share of yield."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, SIDES, FloatArray
from railgen.layout.plan import SerialPlan
from railgen.papers.callouts import Band, Callout
from railgen.papers.elevation_layout import ROW, band_layout
from railgen.papers.fonts import LARGE, SMALL, printable, text_width
from railgen.papers.frame_plan import labels_above
from railgen.papers.sheet import (
    BLACK,
    BLUE,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    RED,
    Figures,
    Item,
    Pen,
    Text,
    circles,
    polyline,
    rectangle,
    segments,
)
from railgen.papers.strength_field import Field, field_frame, field_of, station_axis
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View, rail_lines
from railgen.papers.wording import say
from railgen.rules.along import quantities_at
from railgen.rules.limits import evaluate
from railgen.rules.strength import Strength
from railgen.strength.bending import RailBending
from railgen.strength.diagram import drawn

_LEFT, _RIGHT = FRAME_LEFT + 18.0, FRAME_RIGHT - 8.0
_FIELD_HEADING = 5.5
"""Height (mm) above each field for its heading."""
_SHARES = {"shear": 0.24, "moment": 0.46, "share": 0.30}
"""Of the height that the three fields have together."""
_NAMED = 14
"""The heaviest components are named above the rail."""
_NAME_ROWS = 3
_LEAST_HOLE = 0.25
_SHEAR_FILL, _MOMENT_FILL = "#dfe9f5", "#d3e2f4"
_CURVE, _RESISTS = Pen(0.3, BLUE), Pen(0.18, "#2c6e2f")
_ERROR, _WARNING = Pen(0.25, RED, (2.0, 1.0)), Pen(0.25, "#b07000", (1.0, 0.8))
_LOAD, _BODY_FILL = Pen(0.18), "#e6e6e6"
_ARROW, _HALF_ARROW = 1.6, 0.45
_LEAST_ARROW, _GREATEST_ARROW = 2.2, 9.0
_BODY = 3.2
_DRAWN_SIDE = 0.4
"""Resistance is drawn on the side of sagging or hogging where the moment reaches this share of its greatest."""
_DRAWN_STEP = 2.0
"""mm of rail between two points of the drawn resistance, besides every line of holes."""
_REACTION = 8.0


@dataclass(frozen=True, eq=False)
class _Scene:
    """What one rail's sheet is drawn from."""

    plan: SerialPlan
    strength: Strength
    rail: RailBending
    view: View

    @property
    def side(self) -> int:
        return self.rail.loads.side


def bending_items(plan: SerialPlan, strength: Strength, rail: RailBending) -> list[Item]:
    """Everything inside the frame and above the title block's strip."""
    shape = plan.order.rail
    scale = (_RIGHT - _LEFT) / shape.length
    mirrored = rail.loads.side == 1
    view = View(Face.WEB, shape.front, shape.rear, _LEFT, 0.0, scale, shape.section.depth, mirrored)
    scene = _Scene(plan, strength, rail, view)
    heading = say("strength.bending_heading", side=SIDES[rail.loads.side], factor=rail.loads.dynamic_factor)
    items: list[Item] = [Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, heading, LARGE, bold=True)]
    loads, low = _loaded_rail(scene, FRAME_TOP - 9.0)
    items += loads
    bottom = STRIP_TOP + 9.0
    room = low - bottom - _FIELD_HEADING * len(_SHARES)
    top = low
    for name, draw in (("shear", _shear), ("moment", _moment), ("share", _share)):
        top -= _FIELD_HEADING
        height = _SHARES[name] * room
        items += draw(scene, top - height, top)
        top -= height
    return [*items, *station_axis(view, bottom, say("strength.from_axle"))]


def _loaded_rail(scene: _Scene, top: float) -> tuple[list[Item], float]:
    """The rail with its loads above and its supports below, and the y below which the sheet is free."""
    plan, view = scene.plan, scene.view
    names = band_layout(_named_masses(scene), view, _NAME_ROWS)
    upper = top - names.height - _GREATEST_ARROW - _BODY - 0.5
    depth = plan.order.rail.section.depth * view.scale
    view = View(Face.WEB, view.start, view.end, view.left, upper - depth, view.scale, view.breadth, view.mirrored)
    above = upper + _GREATEST_ARROW + _BODY
    items = [*rail_lines(plan.order.rail, view), *_holes(scene, view), *_body(scene, view, names.callouts)]
    items += [*_mass_arrows(scene, view, upper), *labels_above(names, view, above, upper + _LEAST_ARROW, _LOAD)]
    supports, low = _supports(scene, view)
    return [*items, *supports], low


def _masses(scene: _Scene) -> tuple[FloatArray, FloatArray]:
    """Stations (mm) and masses (kg) of the side's components that have any."""
    placed, components = scene.plan.placements, list(scene.plan.order.library.components.values())
    mass = np.array([component.mass for component in components])[placed.component]
    mine = (placed.side == scene.side) & (mass > 0)
    return placed.station[mine], mass[mine]


def _named_masses(scene: _Scene) -> list[Callout]:
    """The heaviest components of the side with their masses."""
    placed, components = scene.plan.placements, list(scene.plan.order.library.components.values())
    mine = np.flatnonzero(placed.side == scene.side)
    mass = np.array([components[index].mass for index in placed.component[mine].tolist()])
    heaviest = mine[np.argsort(-mass, kind="stable")][: min(_NAMED, int((mass > 0).sum()))]
    callouts = []
    for index in heaviest.tolist():
        component, station = components[int(placed.component[index])], float(placed.station[index])
        words = say("strength.mass", name=printable(component.id), mass=component.mass)
        if scene.view.start <= station <= scene.view.end:
            callouts.append(Callout(words, Band.ABOVE, Face.TOP, station, 0.0, 0.0))
    return callouts


def _holes(scene: _Scene, view: View) -> Iterator[Item]:
    holes = scene.plan.holes
    rows = np.flatnonzero((holes.side == scene.side) & (holes.part == RAIL) & (holes.face == Face.WEB))
    radius = np.fmax(np.nan_to_num(holes.diameter[rows]) / 2 * view.scale, _LEAST_HOLE)
    centres = view.points(np.stack([holes.station[rows], holes.across[rows]], axis=-1))
    for size in np.unique(radius).tolist():
        yield circles(centres[radius == size], size, Pen(0.1, GREY))


def _mass_arrows(scene: _Scene, view: View, upper: float) -> Iterator[Item]:
    """An arrow on the top flange for each component, longer for more mass."""
    station, mass = _masses(scene)
    if not len(mass):
        return
    length = _LEAST_ARROW + (_GREATEST_ARROW - _LEAST_ARROW) * mass / mass.max()
    yield from _arrows(view.x(station), upper + 0.3, length, _LOAD)


def _arrows(x: FloatArray, tip: float, length: FloatArray, pen: Pen, upward: bool = False) -> Iterator[Item]:
    """Arrows whose tips lie at y = tip: from above, or from below."""
    way = -1.0 if upward else 1.0
    ends = np.stack([np.full(len(x), tip), tip + way * length], axis=-1)
    yield segments(np.stack([np.stack([x, x], -1), ends], axis=-1), pen)
    heads = np.array([(0.0, 0.0), (-_HALF_ARROW, way * _ARROW), (_HALF_ARROW, way * _ARROW)])
    yield Figures("MLLZ", np.stack([x, np.full(len(x), tip)], -1)[:, None] + heads, None, pen.colour)


def _body(scene: _Scene, view: View, named: Sequence[Callout]) -> Iterator[Item]:
    """The body's share of this rail, spread over its length, above the arrows; `named`: what is named above it."""
    loads = scene.plan.order.order.loads
    if loads is None or not loads.body_mass or loads.body_start is None or loads.body_end is None:
        return
    low, high = sorted((float(view.x(loads.body_start)), float(view.x(loads.body_end))))
    bottom = view.upper + _GREATEST_ARROW
    yield rectangle(low, bottom, high, bottom + _BODY - 0.2, _LOAD, _BODY_FILL)
    words = say("strength.body", mass=loads.body_mass / 2)
    # Where the lines down from the names leave most room.
    x = np.sort(view.x(np.array([callout.station for callout in named])))
    ends = np.array([low, *x[(x > low) & (x < high)].tolist(), high])
    widest = int(np.argmax(np.diff(ends)))
    middle = float(ends[widest : widest + 2].mean())
    yield Text(middle, bottom + (_BODY - SMALL) / 2, words, SMALL, "middle")


def _supports(scene: _Scene, view: View) -> tuple[list[Item], float]:
    """Upward forces with their sizes, in two rows where they stand close, and the y below them."""
    supports = scene.rail.loads.supports
    order = np.argsort(view.x(supports.station), kind="stable")
    x, force = view.x(supports.station)[order], supports.force[order]
    tip = view.lower - 0.4
    size = np.abs(force)
    length = _LEAST_ARROW + (_REACTION - _LEAST_ARROW) * size / max(float(size.max()), 1e-9)
    items: list[Item] = list(_arrows(x, tip, length, Pen(0.3, BLUE), upward=True))
    ends = [-np.inf, -np.inf, -np.inf]
    rows = 1
    for at, newtons in zip(x.tolist(), force.tolist(), strict=True):
        words = say("strength.reaction", force=newtons / 1e3)
        half = text_width(words, SMALL) / 2
        at = float(np.clip(at, FRAME_LEFT + 1 + half, FRAME_RIGHT - 1 - half))
        row = next((row for row, end in enumerate(ends) if at - half > end + 1.0), len(ends) - 1)
        ends[row], rows = at + half, max(rows, row + 1)
        items.append(Text(at, tip - _REACTION - 2.6 - ROW * row, words, SMALL, "middle", colour=BLUE))
    return items, tip - _REACTION - 1.0 - ROW * rows


def _shear(scene: _Scene, bottom: float, top: float) -> Iterator[Item]:
    line = drawn(scene.rail.loads.diagram)
    shear = line.shear / 1e3
    field = field_of(scene.view, bottom, top, shear)
    yield field.area(line.station, shear, _SHEAR_FILL)
    yield from field_frame(field, say("strength.shear"), "kN")
    yield polyline(field.points(line.station, shear), _CURVE)
    for index in {int(np.argmax(shear)), int(np.argmin(shear))}:
        yield from _marked(field, line.station[index], shear[index], f"{shear[index]:.1f}")


def _marked(field: Field, station: float, value: float, words: str) -> Iterator[Item]:
    """An extreme with its value beside it, toward the field's middle and toward nothing."""
    x, y = float(field.view.x(station)), float(field.y(value))
    rightward = x < (field.view.left + field.view.right) / 2
    yield circles([(x, y)], 0.5, None, BLUE)
    baseline = y - 1.0 - SMALL if value > 0 else y + 1.0
    yield Text(x + (1.2 if rightward else -1.2), baseline, words, SMALL, "left" if rightward else "right", bold=True)


def _moment(scene: _Scene, bottom: float, top: float) -> Iterator[Item]:
    """Moment, the moment that the net section resists at yield, and what the limits leave of that."""
    line, rail = drawn(scene.rail.loads.diagram), scene.rail
    moment = line.moment / 1e6
    station, resists, error, warning = _resistance(scene)
    greatest = max(float(np.abs(moment).max()), 1e-3)
    sagging, hogging = moment.max() >= _DRAWN_SIDE * greatest, moment.min() <= -_DRAWN_SIDE * greatest
    reached = float(resists.max())
    both_ways = np.array([reached if sagging else 0.0, -reached if hogging else 0.0])
    field = field_of(scene.view, bottom, top, np.concatenate([moment, both_ways]), 0.04)
    yield field.area(line.station, moment, _MOMENT_FILL)
    yield from field_frame(field, say("strength.moment"), "kN m")
    for sign in [sign for sign, there in ((1.0, sagging), (-1.0, hogging)) if there]:
        for factor, pen in ((np.ones(len(station)), _RESISTS), (error, _ERROR), (warning, _WARNING)):
            if np.isfinite(factor).all():
                yield polyline(field.points(station, sign * factor * resists), pen)
    yield polyline(field.points(line.station, moment), _CURVE)
    yield from _legend(field)
    lowest = rail.lowest
    at, value = float(rail.station[lowest]), float(rail.moment[lowest]) / 1e6
    x = float(field.view.x(at))
    yield segments([[(x, float(field.y(value))), (x, field.top if value >= 0 else field.bottom)]], Pen(0.18, RED))
    yield circles([(x, float(field.y(value)))], 0.9, Pen(0.35, RED), "#ffffff")
    margin = say("strength.lowest", margin=rail.margin[lowest], station=at, moment=value)
    resisted = say("strength.of_resistance", resistance=float(rail.resistance[lowest]) / 1e6)
    words = f"{margin} {resisted}"
    rightward = x + 2 + text_width(words, SMALL, True) < field.view.right - 2
    level = field.y(value) + (1.6 if value >= 0 else -1.6 - SMALL)
    yield Text(
        x + (1.8 if rightward else -1.8), float(level), words, SMALL, "left" if rightward else "right", True, RED
    )


def _legend(field: Field) -> Iterator[Item]:
    """What the lines of the moment's field are, at the right of its heading."""
    x = field.view.right
    y = field.top + 1.4
    for key, pen in (("warning", _WARNING), ("error", _ERROR), ("resists", _RESISTS), ("is_moment", _CURVE)):
        words = say(f"strength.{key}")
        x -= text_width(words, SMALL)
        yield Text(x, y, words, SMALL, colour=BLACK)
        yield segments([[(x - 9.0, y + SMALL / 2), (x - 1.2, y + SMALL / 2)]], pen)
        x -= 13.0


def _resistance(scene: _Scene) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Stations along the rail, moments resisted at yield (kN m), and error and warning limits as shares of that."""
    shape = scene.plan.order.rail
    station = np.unique(
        np.concatenate([np.arange(shape.front, shape.rear, _DRAWN_STEP), [shape.rear], scene.rail.station])
    )
    rail, pattern = scene.rail, scene.strength.pattern
    resists = scene.strength.resistance_at(rail.loads.side, station) / 1e6
    limits = evaluate(pattern.limits, "bending", "stress", quantities_at(pattern, station))
    return station, resists, limits.error, limits.warning


def _share(scene: _Scene, bottom: float, top: float) -> Iterator[Item]:
    """Net-section stress over yield at every line of holes."""
    rail, pattern = scene.rail, scene.strength.pattern
    limits = evaluate(pattern.limits, "bending", "stress", quantities_at(pattern, rail.station))
    shown = [values[np.isfinite(values)] for values in (limits.error, limits.warning)]
    field = field_of(scene.view, bottom, top, np.concatenate([rail.utilisation, *shown]), 0.12)
    yield from field_frame(field, say("strength.share"), say("strength.of_yield"))
    x, y = field.view.x(rail.station), field.y(rail.utilisation)
    zero = np.full(len(x), float(field.y(0.0)))
    yield segments(np.stack([np.stack([x, zero], -1), np.stack([x, y], -1)], axis=1), Pen(0.13, BLUE))
    yield circles(np.stack([x, y], -1), 0.45, None, BLUE)
    for values, pen in ((limits.error, _ERROR), (limits.warning, _WARNING)):
        if np.isfinite(values).all():
            yield polyline(field.points(rail.station, values), pen)
    lowest = rail.lowest
    yield circles([(float(x[lowest]), float(y[lowest]))], 0.9, Pen(0.35, RED), "#ffffff")
    words = f"{rail.utilisation[lowest]:.3f}"
    yield Text(float(x[lowest]) + 1.8, float(y[lowest]) + 0.8, words, SMALL, bold=True, colour=RED)
