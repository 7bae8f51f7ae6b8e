"""What is called out on an elevation sheet: anchors, components by name, the ends of the liner and the taper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import FACES, RAIL, IntArray
from railgen.layout.feet import foot_corners
from railgen.papers.fonts import SMALL, printable, text_width
from railgen.papers.part import DrawnPart
from railgen.papers.stretches import SCALE, Stretch
from railgen.papers.style import DrawingStyle
from railgen.papers.subject import Subject
from railgen.papers.wording import say

WORDS_FROM_STAFF = 0.7
"""Distance (mm) from a label's staff to its words."""
_ASLANT, _LEAST_ASIDE = 0.7071, 1.0
"""Where a leader leaves a hole, at half a right angle to its extension line, in radii; mm for the smallest."""


class Band(IntEnum):
    """Where labels stand, from the top of the sheet down: by the anchors' ruler, beside the three views."""

    ANCHORS = 0
    ABOVE = 1
    UPPER = 2
    LOWER = 3
    BELOW = 4


def flange_band(face: Face, style: DrawingStyle) -> Band:
    """The band beside a flange's view: the top flange stands above the web in third-angle projection."""
    return Band.ABOVE if (face == Face.TOP) == (style.projection == "third") else Band.BELOW


def outward(face: Face, band: Band, style: DrawingStyle) -> int:
    """Whether across grows toward a band (1) or away from it (-1)."""
    if face == Face.WEB:
        return -1 if band == Band.LOWER else 1
    return 1 if style.projection == "third" else -1


@dataclass(frozen=True)
class Callout:
    """One label: its words, its band, and what it points at (station and across, mm of steel, on `face`).

    `clear`: mm of paper from that point to where the leader ends, and `aside`: how far to the right of it on the sheet;
    `severity` is empty for names and anchors; `findings`: the numbers of the findings that it stands for.
    """

    words: str
    band: Band
    face: Face
    station: float
    across: float
    clear: float
    severity: str = ""
    findings: tuple[int, ...] = ()
    aside: float = 0.0

    @property
    def width(self) -> float:
        """Length (mm) from the staff to the end of the words, with the box of a finding."""
        return text_width(self.words, SMALL) + WORDS_FROM_STAFF * (2 if self.severity else 1)


def anchor_callouts(subject: Subject, stretch: Stretch) -> list[Callout]:
    """The family's anchors that belong to this sheet, by name and station."""
    named = [(name, x) for name, x in subject.plan.order.anchors.items() if stretch.bears(x)]
    return [anchor_callout(subject.style, name, x) for name, x in named]


def anchor_callout(style: DrawingStyle, name: str, station: float) -> Callout:
    """The label of one anchor."""
    words = say("elevation.anchor", name=name.replace("_", " "), station=style.length(station))
    return Callout(words, Band.ANCHORS, Face.TOP, station, 0.0, 0.0)


def shape_callouts(subject: Subject, stretch: Stretch) -> list[Callout]:
    """The ends of the liner and the points of the taper that belong to a sheet of the rail."""
    rail, style = subject.plan.order.rail, subject.style
    points: list[tuple[str, float, float]] = []
    if rail.liner:
        top = rail.section.depth - rail.liner.offset_z
        ends = (("front", rail.liner.start), ("rear", rail.liner.end))
        points += [(say(f"elevation.liner_{end}", station=style.length(x)), x, top) for end, x in ends]
    if rail.taper:
        points.append((say("elevation.taper", station=style.length(rail.taper.start)), *rail.taper.hinge))
        relief = say("elevation.relief", diameter=style.size(rail.taper.relief_diameter))
        points.append((relief, *rail.taper.apex))
    return [Callout(words, Band.UPPER, Face.WEB, x, z, 0.0) for words, x, z in points if stretch.bears(x)]


def name_callouts(subject: Subject, part: DrawnPart, side: int, stretch: Stretch) -> list[Callout]:
    """The components of one side whose features belong to this sheet; on the rail those without any, at their foot."""
    placed = subject.plan.placements
    names = subject.holes.names.components
    counts = np.bincount(placed.component[placed.side == side], minlength=len(names))
    callouts: list[Callout] = []
    for index in np.flatnonzero(placed.side == side).tolist():
        component, instance = int(placed.component[index]), int(placed.instance[index])
        words = names[component] + (f".{instance}" if counts[component] > 1 else "")
        rows = subject.rows_of[part.part].get((side, component, instance))
        if rows is not None:
            callouts += _with_features(subject, part, words, rows[stretch.bears(subject.holes.station[rows])])
        elif part.part == RAIL:
            callouts += _without_features(subject, words, index, stretch)
    return callouts


def _without_features(subject: Subject, words: str, index: int, stretch: Stretch) -> Iterator[Callout]:
    """A component without features on the rail is named at its first foot; one without a foot is not on the rail."""
    placed, order = subject.plan.placements, subject.plan.order
    component = order.library.components.get(subject.holes.names.components[placed.component[index]])
    if component is None or not component.footprints:
        return
    foot = component.footprints[0]
    corners = foot_corners(foot, order.rail.section, float(placed.station[index]), float(placed.direction[index]))
    station, across = corners.mean(axis=0)
    if stretch.bears(station):
        face = Face(FACES.index(foot.face))
        band = Band.UPPER if face == Face.WEB else flange_band(face, subject.style)
        yield Callout(printable(words), band, face, float(station), float(across), 0.0)


def _with_features(subject: Subject, part: DrawnPart, words: str, rows: IntArray) -> Iterator[Callout]:
    """One label a face, pointing at the feature nearest to the label's band and to the middle of the others."""
    holes = subject.holes
    for face in Face:
        own = rows[holes.face[rows] == face]
        if len(own):
            band = _band(subject, part, face, own)
            toward = holes.across[own] * outward(face, band, subject.style)
            off_middle = np.abs(holes.station[own] - holes.station[own].mean())
            chosen = int(own[np.lexsort((holes.station[own], off_middle.round(6), -toward.round(6)))[0]])
            yield _pointing_at(subject, printable(words), band, chosen)


def _band(subject: Subject, part: DrawnPart, face: Face, rows: IntArray) -> Band:
    """Above or below the web, whichever its features are nearer to; outside its own flange."""
    if face != Face.WEB:
        return flange_band(face, subject.style)
    holes = subject.holes
    middle = part.middle(holes.station[rows])
    return Band.UPPER if float((holes.across[rows] - middle).mean()) >= 0 else Band.LOWER


def _pointing_at(subject: Subject, words: str, band: Band, row: int) -> Callout:
    """A label that points at a feature; where dimensions stand too it leaves aslant, clear of the extension line."""
    holes = subject.holes
    clear, aside = float(subject.across[row]) / SCALE, 0.0
    if band != Band.UPPER:
        reach = float(np.minimum(subject.across, subject.along)[row]) / SCALE
        aside = max(reach * _ASLANT, _LEAST_ASIDE)
        clear = reach * _ASLANT
    station, across = float(holes.station[row]), float(holes.across[row])
    return Callout(words, band, Face(int(holes.face[row])), station, across, clear, aside=aside)
