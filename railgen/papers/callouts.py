"""What is called out on an elevation sheet: anchors, components by name, the ends of the liner and the taper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import FACES, IntArray
from railgen.layout.feet import foot_corners
from railgen.papers.fonts import SMALL, printable, text_width
from railgen.papers.stretches import SCALE, Stretch
from railgen.papers.subject import Subject

WORDS_FROM_STAFF = 0.7
"""Distance (mm) from a label's staff to its words."""


class Band(IntEnum):
    """Where labels stand, from the top of the sheet down."""

    ANCHORS = 0
    TOP = 1
    UPPER = 2
    LOWER = 3
    BOTTOM = 4


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
    flange = subject.plan.order.rail.section.flange
    named = [(name, x) for name, x in subject.plan.order.anchors.items() if stretch.bears(x)]
    return [anchor_callout(name, x, flange) for name, x in named]


def anchor_callout(name: str, station: float, across: float) -> Callout:
    """The label of one anchor."""
    return Callout(f"{name.replace('_', ' ')} {station:.1f}", Band.ANCHORS, Face.TOP, station, across, 0.0)


def shape_callouts(subject: Subject, stretch: Stretch) -> list[Callout]:
    """The ends of the liner and the points of the taper that belong to this sheet."""
    rail = subject.plan.order.rail
    points: list[tuple[str, float, float]] = []
    if rail.liner:
        top = rail.section.depth - rail.liner.offset_z
        points += [(f"liner {end} {x:.1f}", x, top) for end, x in (("from", rail.liner.start), ("to", rail.liner.end))]
    if rail.taper:
        points.append((f"taper from {rail.taper.start:.1f}", *rail.taper.hinge))
        points.append((f"relief hole Ø {rail.taper.relief_diameter:g}", *rail.taper.apex))
    return [Callout(words, Band.UPPER, Face.WEB, x, z, 0.0) for words, x, z in points if stretch.bears(x)]


def name_callouts(subject: Subject, side: int, stretch: Stretch) -> list[Callout]:
    """The components of one side whose features belong to this sheet; those without any, at their datum."""
    placed = subject.plan.placements
    names = subject.holes.names.components
    counts = np.bincount(placed.component[placed.side == side], minlength=len(names))
    callouts: list[Callout] = []
    for index in np.flatnonzero(placed.side == side).tolist():
        component, instance = int(placed.component[index]), int(placed.instance[index])
        words = names[component] + (f".{instance}" if counts[component] > 1 else "")
        rows = subject.rows_of.get((side, component, instance))
        if rows is None:
            callouts += _without_features(subject, words, index, stretch)
        else:
            callouts += _with_features(subject, words, rows[stretch.bears(subject.holes.station[rows])])
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
        band = {Face.TOP: Band.TOP, Face.BOTTOM: Band.BOTTOM}.get(face, Band.UPPER)
        yield Callout(printable(words), band, face, float(station), float(across), 0.0)


def _with_features(subject: Subject, words: str, rows: IntArray) -> Iterator[Callout]:
    """One label a face, pointing at the feature nearest to the label's band and to the middle of the others."""
    holes = subject.holes
    for face in Face:
        own = rows[holes.face[rows] == face]
        if len(own):
            band = _band(subject, face, own)
            outward = holes.across[own] * (-1 if band == Band.LOWER else 1)
            off_middle = np.abs(holes.station[own] - holes.station[own].mean())
            chosen = int(own[np.lexsort((holes.station[own], off_middle.round(6), -outward.round(6)))[0]])
            yield _pointing_at(subject, printable(words), band, chosen)


def _band(subject: Subject, face: Face, rows: IntArray) -> Band:
    """Above or below the web, whichever its features are nearer to; outside its own flange."""
    if face != Face.WEB:
        return Band.TOP if face == Face.TOP else Band.BOTTOM
    holes = subject.holes
    middle = subject.plan.order.rail.depth_at(holes.station[rows]) / 2
    return Band.UPPER if float((holes.across[rows] - middle).mean()) >= 0 else Band.LOWER


def _pointing_at(subject: Subject, words: str, band: Band, row: int) -> Callout:
    holes = subject.holes
    reach = float(subject.across[row]) / SCALE
    return Callout(words, band, Face(int(holes.face[row])), float(holes.station[row]), float(holes.across[row]), reach)
