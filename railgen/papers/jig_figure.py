"""The ladder in its jig: a plan with cross members, pins and diagonals, and the LH rail's side with their heights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_lowercase, ascii_uppercase

import numpy as np

from railgen.holes.table import LH, RH, SIDES, FloatArray
from railgen.layout.plan import SerialPlan
from railgen.papers.fonts import LARGE, MIDDLE, text_width
from railgen.papers.labels import isotonic
from railgen.papers.scales import REDUCTIONS
from railgen.papers.sheet import (
    AXIS,
    BLACK,
    EDGE,
    FRAME_LEFT,
    FRAME_RIGHT,
    GREY,
    OUTLINE,
    THIN,
    Figures,
    Item,
    Pen,
    Text,
    centred,
    circles,
    polygon,
    polyline,
    rectangle,
    segments,
)
from railgen.papers.wording import Wording
from railgen.shop.jig import CrossMember, Diagonals, JigSetting

ACROSS = 10
"""Scale across the rails and up them, 1 to this: the ladder is drawn wider than it is, so that it can be read."""
_LEFT, _RIGHT = FRAME_LEFT + 26.0, FRAME_RIGHT - 16.0
_LABEL_STEP = MIDDLE * 1.5
_JOG = 5.0
_FLANGE, _MEMBER, _PIN = "#dfe5ea", "#b9c6d1", "#ffffff"
_BALLOON = 3.1
_BAY_PEN, _PIN_PEN = Pen(0.18, GREY, (2.0, 1.0)), Pen(0.3, "#1f4e8c", (6.0, 1.0, 1.0, 1.0))


@dataclass(frozen=True)
class Ladder:
    """Where the plan lies on the sheet: `base` is the y of the LH web's outside face; `scale`: along, 1 to this."""

    plan: SerialPlan
    setting: JigSetting
    base: float
    scale: int

    def x(self, station: float) -> float:
        """x on the sheet of a station."""
        rail = self.plan.order.rail
        return (_LEFT + _RIGHT) / 2 + (station - (rail.front + rail.rear) / 2) / self.scale

    def y(self, across: float) -> float:
        """y on the sheet of a distance from the LH web's outside face."""
        return self.base + across / ACROSS

    @property
    def top(self) -> float:
        """y of the RH web's outside face."""
        return self.y(self.setting.frame_width)


def along_scale(plan: SerialPlan) -> int:
    """The first scale at which the whole rail goes across the sheet."""
    return next((scale for scale in REDUCTIONS if plan.order.rail.length / scale <= _RIGHT - _LEFT), REDUCTIONS[-1])


def pin_letters(setting: JigSetting) -> tuple[str, ...]:
    """A letter for each locating pin, from the front; past Z they are doubled."""
    return tuple(_letters(ascii_uppercase, len(setting.locating)))


def bay_letters(setting: JigSetting) -> tuple[str, ...]:
    """A letter for each bay, from the front."""
    return tuple(_letters(ascii_lowercase, len(setting.bays)))


def _letters(alphabet: str, count: int) -> list[str]:
    return [alphabet[place % 26] * (place // 26 + 1) for place in range(count)]


def ladder_items(ladder: Ladder, words: Wording) -> list[Item]:
    """The plan with all that is labelled in it."""
    return [
        *_rails(ladder, words),
        *_members(ladder.setting.members, ladder),
        *_diagonals(ladder, words),
        *_rail_names(ladder, words),
        *_balloons(ladder),
        *_pins(ladder),
        *_width(ladder, words),
        *_labels_above(ladder, words),
        *_labels_below(ladder, words),
    ]


def _rails(ladder: Ladder, words: Wording) -> list[Item]:
    """Both rails from above: flange pale, the web's outside face as a wide line."""
    rail, width = ladder.plan.order.rail, ladder.setting.frame_width
    front, rear, flange = ladder.x(rail.front), ladder.x(rail.rear), rail.section.flange
    items: list[Item] = []
    for outside, inward in ((0.0, flange), (width, width - flange)):
        low, high = sorted((ladder.y(outside), ladder.y(inward)))
        items.append(rectangle(front, low, rear, high, EDGE, _FLANGE))
        items.append(segments([[(front, ladder.y(outside)), (rear, ladder.y(outside))]], Pen(0.7)))
    middle = ladder.y(width / 2)
    arrow = [(FRAME_LEFT + 2, middle), (FRAME_LEFT + 7, middle + 2), (FRAME_LEFT + 7, middle - 2)]
    return [
        *items,
        polygon(arrow, None, BLACK),
        Text(FRAME_LEFT + 5.2, middle + 4, words.say("jig.front"), MIDDLE, angle=90),
    ]


def _rail_names(ladder: Ladder, words: Wording) -> list[Item]:
    """Which rail is which, beside each in the longest bay."""
    rail, bays = ladder.plan.order.rail, ladder.setting.bays
    ends = max(bays, key=lambda bay: bay.clear).diagonals if bays else ladder.setting.by_ends
    middle = (ends.front[LH][0] + ends.rear[LH][0]) / 2
    inward, width = rail.section.flange + 45.0, ladder.setting.frame_width
    items: list[Item] = []
    for side, across in zip(SIDES, (inward, width - inward), strict=True):
        told = words.say("jig.rail", side=side, serial=ladder.plan.serial)
        items += _tag(ladder.x(middle), ladder.y(across), told)
    return items


def _members(members: Sequence[CrossMember], ladder: Ladder) -> list[Item]:
    width = ladder.setting.frame_width
    items: list[Item] = []
    for member in members:
        left, right = member.ends
        if left and right:
            corners = [(left.front, left.face), (left.rear, left.face)]
            corners += [(right.rear, width - right.face), (right.front, width - right.face)]
        else:
            end = left or right
            assert end is not None  # a cross member has an end
            face, inward = (end.face, width / 4) if left else (width - end.face, width * 3 / 4)
            corners = [(end.front, face), (end.rear, face), (end.rear, inward), (end.front, inward)]
        items.append(polygon([(ladder.x(x), ladder.y(y)) for x, y in corners], EDGE, _MEMBER))
    return items


def _balloons(ladder: Ladder) -> list[Item]:
    """The cross members' numbers; neighbours that are near each other stand at different heights."""
    items: list[Item] = []
    last, row = -np.inf, 0
    for number, member in enumerate(ladder.setting.members, 1):
        x = ladder.x((member.front + member.rear) / 2)
        row = (row + 1) % 3 if x - last < 2 * _BALLOON + 0.5 else 0
        last = x
        left, right = member.ends
        middle = 0.5 if left and right else 0.15 if left else 0.85
        y = ladder.y(ladder.setting.frame_width * middle) + (0.0, 7.5, -7.5)[row]
        items += [circles([(x, y)], _BALLOON, EDGE, "#ffffff"), centred(x, y, str(number), MIDDLE, bold=True)]
    return items


def _pins(ladder: Ladder) -> list[Item]:
    """The locating pins at the webs' outside faces, each with its letter."""
    width, items = ladder.setting.frame_width, list[Item]()
    for letter, pin in zip(pin_letters(ladder.setting), ladder.setting.locating, strict=True):
        for side, across, way in ((LH, 0.0, -1), (RH, width, 1)):
            if np.isnan(pin.station[side]):
                continue
            at = ladder.x(pin.station[side]), ladder.y(across)
            items += _target(*at)
            items.append(centred(at[0] + 3.2, at[1] + way * 3.0, letter, MIDDLE, bold=True))
    return items


def _target(x: float, y: float) -> list[Item]:
    cross = [[(x - 2.2, y), (x + 2.2, y)], [(x, y - 2.2), (x, y + 2.2)]]
    return [circles([(x, y)], 1.4, Pen(0.35), _PIN), segments(cross, THIN)]


def _diagonals(ladder: Ladder, words: Wording) -> list[Item]:
    """Diagonals of the bays with their letters, and those between pins."""
    setting, items = ladder.setting, list[Item]()
    items += [_crossed(bay.diagonals, ladder, _BAY_PEN) for bay in setting.bays]
    if setting.by_pins:
        items.append(_crossed(setting.by_pins, ladder, _PIN_PEN))
    for letter, bay in zip(bay_letters(setting), setting.bays, strict=True):
        points = np.array([*bay.diagonals.front, *bay.diagonals.rear]).mean(axis=0)
        items += _tag(ladder.x(points[0]), ladder.y(points[1] + _TAG_OFF), letter)
    if setting.by_pins:
        items += _pin_tags(setting.by_pins, ladder, words.say("jig_diagonals.pins_name"))
    return items


_TAG_OFF = -90.0
"""A bay's letter stands this far (mm of steel) beside the middle, clear of the diagonals between the pins."""


def _pin_tags(found: Diagonals, ladder: Ladder, name: str) -> list[Item]:
    """The name of the diagonals between pins, on both of them a quarter into the longest bay that they cross there."""
    front, rear = max(x for x, _ in found.front), min(x for x, _ in found.rear)
    places = [(bay.clear, bay.diagonals.front[LH][0] + bay.clear / 4) for bay in ladder.setting.bays]
    crossed = [place for place in places if front < place[1] < rear]
    station = max(crossed)[1] if crossed else front + (rear - front) / 4
    items: list[Item] = []
    for near, far in ((found.front[LH], found.rear[RH]), (found.front[RH], found.rear[LH])):
        share = (station - near[0]) / (far[0] - near[0]) if far[0] != near[0] else 0.5
        if 0 < share < 1:
            items += _tag(ladder.x(station), ladder.y(near[1] + share * (far[1] - near[1])), name)
    return items


def _crossed(found: Diagonals, ladder: Ladder, pen: Pen) -> Figures:
    (lf, rf), (lr, rr) = found.front, found.rear
    return segments([[(ladder.x(x), ladder.y(y)) for x, y in pair] for pair in ((lf, rr), (rf, lr))], pen)


def _tag(x: float, y: float, words: str) -> list[Item]:
    half = text_width(words, MIDDLE, bold=True) / 2 + 0.5
    return [rectangle(x - half, y - 2.0, x + half, y + 2.0, None, "#ffffff"), centred(x, y, words, MIDDLE, bold=True)]


def _width(ladder: Ladder, words: Wording) -> list[Item]:
    """The frame width as a dimension ahead of the front ends."""
    x = ladder.x(ladder.plan.order.rail.front) - 8.0
    low, high = ladder.base, ladder.top
    heads = [[(x, y), (x + 0.6, y + way * 3), (x - 0.6, y + way * 3)] for y, way in ((low, 1), (high, -1))]
    lines = [[(x, low), (x, high)], *([(x - 1.5, y), (x + 7.0, y)] for y in (low, high))]
    told = words.say("jig.frame_width", width=ladder.setting.frame_width)
    text = Text(x - 1.2, (low + high) / 2, told, LARGE, "middle", bold=True, angle=90)
    return [segments(lines, THIN), *(polygon(head, None, BLACK) for head in heads), text]


def _labels_above(ladder: Ladder, words: Wording) -> list[Item]:
    """Stations of the cross members' datums, above the RH rail; of RH where they are not those of LH, both."""
    labels: list[tuple[float, float, str]] = []
    for number, member in enumerate(ladder.setting.members, 1):
        stations = sorted({round(end.station, 1) for end in member.ends if end})
        for station in stations:
            sides = [SIDES[place] for place, end in enumerate(member.ends) if end and round(end.station, 1) == station]
            told = words.say("jig.member_label", number=number, station=station)
            labels.append((station, ladder.top, told if len(sides) == len(SIDES) else f"{told} {sides[0]}"))
    return _upright_labels(ladder, labels, ladder.top + 1.0, upward=True)


def _labels_below(ladder: Ladder, words: Wording) -> list[Item]:
    """Stations of pins, axles and rail ends, below the LH rail."""
    rail, order = ladder.plan.order.rail, ladder.plan.order
    named = {
        "rail_front": rail.front,
        "front_axle": 0.0,
        "rear_axle": order.dimensions["wheelbase"],
        "rail_rear": rail.rear,
    }
    labels = [
        (station, ladder.base, words.say("jig.anchor_label", name=words.say(f"jig.{name}"), station=station))
        for name, station in named.items()
    ]
    for letter, pin in zip(pin_letters(ladder.setting), ladder.setting.locating, strict=True):
        for station in sorted({round(value, 1) for value in pin.station if not np.isnan(value)}):
            labels.append((station, ladder.base, words.say("jig.pin_label", letter=letter, station=station)))
    return _upright_labels(ladder, labels, ladder.base - 1.0, upward=False)


def _upright_labels(ladder: Ladder, labels: list[tuple[float, float, str]], start: float, upward: bool) -> list[Item]:
    """Words that stand on end beside the plan, spread so that none touches the next, each led to its station."""
    labels = sorted(labels)
    targets = np.array([ladder.x(station) for station, _, _ in labels])
    places = spread(targets, _LABEL_STEP, FRAME_LEFT + 3.0, FRAME_RIGHT - 2.0)
    way = 1 if upward else -1
    items: list[Item] = []
    for (_, edge, told), target, place in zip(labels, targets.tolist(), places.tolist(), strict=True):
        bends = [(target, edge), (target, start + way), (place, start + way * _JOG), (place, start + way * (_JOG + 1))]
        items.append(polyline(bends, THIN))
        anchor = start + way * (_JOG + 1.6)
        items.append(Text(place + MIDDLE / 2, anchor, told, MIDDLE, "left" if upward else "right", angle=90))
    return items


def spread(targets: FloatArray, step: float, left: float, right: float) -> FloatArray:
    """Places nearest to ascending targets, at least a step apart, from left to right; they need not fit."""
    offset = np.arange(len(targets)) * step
    least, most = left, max(right - (len(targets) - 1) * step, left)
    return np.clip(isotonic(targets - offset), least, most) + offset


def side_items(ladder: Ladder, base: float, words: Wording) -> list[Item]:
    """The LH rail from outside, its bottom at y = `base`: feet of the cross members, and pins with their heights."""
    rail = ladder.plan.order.rail
    bends = [rail.front, *([rail.taper.start] if rail.taper else []), rail.rear]
    tops = [(ladder.x(x), base + float(rail.depth_at(np.array([x]))[0]) / ACROSS) for x in bends]
    outline = [(ladder.x(rail.front), base), *tops, (ladder.x(rail.rear), base)]
    items: list[Item] = [polygon(outline, OUTLINE, _FLANGE)]
    numbered = [(number, end) for number, member in enumerate(ladder.setting.members, 1) if (end := member.ends[LH])]
    for _, end in numbered:
        low, high = base + end.low / ACROSS - 1.2, base + end.high / ACROSS + 1.2
        items.append(rectangle(ladder.x(end.front), low, ladder.x(end.rear), high, EDGE, _MEMBER))
    middles = np.array([ladder.x((end.front + end.rear) / 2) for _, end in numbered])
    for (number, _), x in zip(numbered, spread(middles, _LABEL_STEP + 1.5, _LEFT, _RIGHT).tolist(), strict=True):
        items.append(Text(x, base - 3.6, str(number), MIDDLE, "middle", bold=True))
    for axle in (0.0, ladder.plan.order.dimensions["wheelbase"]):
        x = ladder.x(axle)
        items.append(segments([[(x, base - 0.5), (x, base + rail.section.depth / ACROSS + 0.5)]], AXIS))
    top = base + rail.section.depth / ACROSS
    for letter, pin in zip(pin_letters(ladder.setting), ladder.setting.locating, strict=True):
        if np.isnan(pin.station[LH]):
            continue
        x, y = ladder.x(pin.station[LH]), base + pin.height[LH] / ACROSS
        items += [segments([[(x, y), (x, top + 1.2)]], THIN), *_target(x, y)]
        told = words.say("jig.height_label", letter=letter, height=pin.height[LH])
        items.append(Text(x, top + 2.0, told, MIDDLE, "middle", bold=True))
    return items
