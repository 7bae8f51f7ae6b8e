"""Where things stand on an elevation sheet: the three views, bands of dimensions and labels beside them, the ruler."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, FloatArray
from railgen.papers.callouts import (
    Band,
    Callout,
    anchor_callouts,
    flange_band,
    name_callouts,
    shape_callouts,
)
from railgen.papers.elevation_dimensions import across_dimensions, side_depth, station_dimensions
from railgen.papers.labels import Placing, place_labels
from railgen.papers.part import DrawnPart
from railgen.papers.rings import Ring, finding_callouts
from railgen.papers.running import NOTHING, Running, Way
from railgen.papers.sheet import FRAME_LEFT, FRAME_RIGHT, FRAME_TOP
from railgen.papers.stretches import SCALE, Stretch, first_cuts, middle_cut, stretch_between
from railgen.papers.style import Projection
from railgen.papers.subject import Subject
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View

NAMES = 7.5
"""Width (mm) along the sheet's left edge in which the views are named."""
HEADER = 10.0
"""Height of the sheet's heading, mm; so too below."""
RULER = 7.0
FOOT = 7.0
"""Height below the lowest view in which match lines are named, in two rows where the stretch is short."""
ROW = 3.4
_BEYOND = 1.5
"""Height left between the last row and whatever comes next, mm."""
_LEAST_JOG, _GREATEST_JOG, _STEEPNESS = 2.0, 9.0, 0.3
_EMPTY_BAND, _GREATEST_SPARE = 2.0, 14.0
_MOST_ROWS = {Band.ANCHORS: 4, Band.ABOVE: 8, Band.UPPER: 14, Band.LOWER: 14, Band.BELOW: 8}
_LABELS_LEFT, _LABELS_RIGHT = FRAME_LEFT + 2.0, FRAME_RIGHT - 1.5
_FARTHEST = 30.0
"""Dimensions moved further than this (mm) ask for a shorter stretch."""


@dataclass(frozen=True, eq=False)
class BandLayout:
    """Labels of one band in order along the sheet, with their staffs and rows, and the dimensions before them.

    `jog`: height (mm) in which leaders go from where they leave the dimensions to their staff's x, more where they go
    far; `left_out`: how many labels find no room; `running`: dimensions between the view and the labels.
    """

    callouts: tuple[Callout, ...]
    placing: Placing
    jog: float
    left_out: int = 0
    running: Running = NOTHING

    @property
    def labels_height(self) -> float:
        """Height (mm) that the labels take."""
        return self.jog + ROW * self.placing.rows + _BEYOND if self.callouts else 0.0

    @property
    def height(self) -> float:
        """Height (mm) that the band takes."""
        return max(self.running.depth + self.labels_height, _EMPTY_BAND)


@dataclass(frozen=True, eq=False)
class ElevationLayout:
    """One elevation sheet: its part, side and stretch, its views by face, its bands, its ruler's height, its rings.

    `sides`: the dimensions across each view, at its left and its right.
    """

    part: DrawnPart
    side: int
    stretch: Stretch
    views: Mapping[Face, View]
    bands: Mapping[Band, BandLayout]
    ruler: float
    rings: tuple[Ring, ...]
    sides: Mapping[tuple[Face, Way], Running]

    @property
    def left_out(self) -> int:
        """How many labels and dimensions find no room on the sheet."""
        labels = sum(band.left_out + band.running.left_out for band in self.bands.values())
        return labels + sum(side.left_out for side in self.sides.values())


def elevation_layouts(
    subject: Subject, part: DrawnPart
) -> tuple[tuple[ElevationLayout, ...], tuple[ElevationLayout, ...]]:
    """The elevation sheets of LH and of RH, cut at the same stations.

    A stretch too crowded for its labels and dimensions on either side is cut in two. Where even the shortest stretch is
    too crowded, what finds no room is counted on the sheet.
    """
    width = view_width(subject, part)
    cuts = pairwise(first_cuts(subject, part, width))
    pairs = [pair for start, end in cuts for pair in _pairs(subject, part, start, end, width)]
    return tuple(lh for lh, _ in pairs), tuple(rh for _, rh in pairs)


def view_width(subject: Subject, part: DrawnPart) -> float:
    """Greatest length of a view, mm of paper: what the dimensions across it leave of the sheet."""
    return FRAME_RIGHT - FRAME_LEFT - NAMES - 2 * side_depth(subject, part)


def _pairs(
    subject: Subject, part: DrawnPart, start: float, end: float, width: float
) -> Iterator[tuple[ElevationLayout, ElevationLayout]]:
    """LH and RH sheet of each stretch between two match lines."""
    stretch = stretch_between(subject, part, start, end, width)
    lh, rh = (_layout(subject, part, side, stretch, width) for side in (0, 1))
    middle = None if _fits(lh) and _fits(rh) else middle_cut(subject, part, start, end)
    if middle is None:
        yield _settled(lh), _settled(rh)
    else:
        yield from _pairs(subject, part, start, middle, width)
        yield from _pairs(subject, part, middle, end, width)


def _layout(subject: Subject, part: DrawnPart, side: int, stretch: Stretch, width: float) -> ElevationLayout:
    """All labels and dimensions placed as well as may be, nothing yet at its height."""
    rings, numbers = finding_callouts(subject, part, side, stretch)
    callouts = [*anchor_callouts(subject, stretch), *numbers, *name_callouts(subject, part, side, stretch)]
    callouts += shape_callouts(subject, stretch) if part.part == RAIL else []
    views = _views(part, side, stretch, width, subject.style.projection)
    faces = {Band.LOWER: Face.WEB, **{flange_band(face, subject.style): face for face in (Face.TOP, Face.BOTTOM)}}
    bands = {}
    for band in Band:
        own = [callout for callout in callouts if callout.band == band]
        dimensions = NOTHING
        if band in faces:
            view = views[faces[band]]
            leaders = leaders_of(own, view)
            dimensions = station_dimensions(subject, part, side, stretch, view, leaders)
        bands[band] = band_layout(own, views[Face.WEB], _MOST_ROWS[band], dimensions)
    sides = {
        (face, way): dimensions
        for face, view in views.items()
        for way, dimensions in across_dimensions(subject, part, side, stretch, view).items()
    }
    return ElevationLayout(part, side, stretch, views, bands, 0.0, tuple(rings), sides)


def leaders_of(callouts: Sequence[Callout], view: View) -> FloatArray:
    """x at which the labels' leaders leave a view, in the labels' order."""
    stations = np.array([callout.station for callout in callouts])
    return np.asarray(view.x(stations) + np.array([callout.aside for callout in callouts]))


def band_layout(callouts: Sequence[Callout], view: View, most_rows: int, dimensions: Running = NOTHING) -> BandLayout:
    """The labels in order along the view, placed in at most `most_rows` rows; those that find no room are dropped.

    `dimensions` between view and labels, with a slot for the leader of each label; none with labels dropped.
    """
    targets = dimensions.slots if dimensions.words else leaders_of(callouts, view)
    order = np.argsort(targets, kind="stable")
    chosen = tuple(callouts[index] for index in order)
    widths = np.array([callout.width for callout in chosen])
    placing = place_labels(targets[order], widths, _LABELS_LEFT, _LABELS_RIGHT, most_rows)
    if placing is not None:
        farthest = float(np.abs(placing.staff - targets[order]).max(initial=0.0))
        jog = float(np.clip(_STEEPNESS * farthest, _LEAST_JOG, _GREATEST_JOG))
        return BandLayout(chosen, placing, jog, running=replace(dimensions, slots=targets[order]))
    kept = _without_least(callouts)
    slots = dimensions.slots[kept] if dimensions.words else dimensions.slots
    fewer = band_layout([callouts[index] for index in kept], view, most_rows, replace(dimensions, slots=slots))
    return replace(fewer, left_out=len(callouts) - len(fewer.callouts))


def _without_least(callouts: Sequence[Callout]) -> list[int]:
    """All but a twentieth of the labels: notes go first, then names, then warnings, errors last."""
    rank = {"note": 0, "": 1, "warning": 2, "error": 3}
    order = sorted(range(len(callouts)), key=lambda index: (rank[callouts[index].severity], -index))
    dropped = set(order[: max(len(order) // 20, 1)])
    return [index for index in range(len(callouts)) if index not in dropped]


def _room(part: DrawnPart) -> float:
    """Height (mm) that the bands may take together."""
    section = part.section
    views = (section.depth + 2 * section.flange) / SCALE
    return FRAME_TOP - HEADER - STRIP_TOP - RULER - FOOT - views - 3.0


def _fits(layout: ElevationLayout) -> bool:
    heights = sum(band.height for band in layout.bands.values())
    near = all(band.running.farthest <= _FARTHEST for band in layout.bands.values())
    return near and heights <= _room(layout.part) and not layout.left_out


def _settled(layout: ElevationLayout) -> ElevationLayout:
    """The layout with everything at its height; bands too high together give up rows, then all their labels."""
    bands = dict(layout.bands)
    rows = {band: max(kept.placing.rows, 1) for band, kept in bands.items()}
    while sum(band.height for band in bands.values()) > _room(layout.part) and max(rows.values()) > 1:
        highest = max(rows, key=lambda band: rows[band])
        rows[highest] -= 1
        before = bands[highest]
        fewer = band_layout(before.callouts, layout.views[Face.WEB], rows[highest], before.running)
        bands[highest] = replace(fewer, left_out=before.left_out + fewer.left_out)
        rows[highest] = min(rows[highest], max(fewer.placing.rows, 1))
    for band in (Band.BELOW, Band.ABOVE, Band.LOWER, Band.UPPER):
        if sum(kept.height for kept in bands.values()) > _room(layout.part):
            before = bands[band]
            without = band_layout((), layout.views[Face.WEB], 1, replace(before.running, slots=np.empty(0)))
            bands[band] = replace(without, left_out=before.left_out + len(before.callouts))
    return _at_heights(layout, bands)


def _at_heights(layout: ElevationLayout, bands: dict[Band, BandLayout]) -> ElevationLayout:
    section, third = layout.part.section, not layout.views[Face.TOP].below
    depth, flange = section.depth / SCALE, section.flange / SCALE
    spare = max(_room(layout.part) - sum(band.height for band in bands.values()), 0.0)
    gap = min(spare / 5, _GREATEST_SPARE)
    ruler = FRAME_TOP - HEADER - gap / 2 - bands[Band.ANCHORS].height
    upper = ruler - RULER - gap - bands[Band.ABOVE].height - flange
    web = upper - bands[Band.UPPER].height - gap - depth
    lower = web - bands[Band.LOWER].height - gap - flange
    # The bottom flange grows downward from its base.
    bases = {Face.WEB: web, Face.TOP: upper if third else lower, Face.BOTTOM: (lower if third else upper) + flange}
    views = {face: replace(view, base=bases[face]) for face, view in layout.views.items()}
    sides = {(face, way): placed.moved(bases[face]) for (face, way), placed in layout.sides.items()}
    return replace(layout, views=views, bands=bands, ruler=ruler, sides=sides)


def _views(part: DrawnPart, side: int, stretch: Stretch, width: float, projection: Projection) -> dict[Face, View]:
    length = (stretch.drawn_end - stretch.drawn_start) / SCALE
    depth = (FRAME_RIGHT - FRAME_LEFT - NAMES - width) / 2
    left = FRAME_LEFT + NAMES + depth + (width - length) / 2
    return {
        face: View(
            face=face,
            start=stretch.drawn_start,
            end=stretch.drawn_end,
            left=left,
            base=0.0,
            scale=1 / SCALE,
            breadth=part.breadth(face),
            mirrored=side == 1,
            down=face == Face.BOTTOM,
            zero=part.zero(face),
            below=(face == Face.BOTTOM) == (projection == "third"),
        )
        for face in (Face.TOP, Face.WEB, Face.BOTTOM)
    }
