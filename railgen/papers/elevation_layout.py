"""Where things stand on an elevation sheet: the three views, the bands of labels between them, the rulers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from railgen.frame.panels import Face
from railgen.papers.callouts import (
    Band,
    Callout,
    anchor_callouts,
    name_callouts,
    shape_callouts,
)
from railgen.papers.labels import Placing, place_labels
from railgen.papers.rings import Ring, finding_callouts
from railgen.papers.sheet import FRAME_LEFT, FRAME_RIGHT, FRAME_TOP
from railgen.papers.stretches import SCALE, VIEW_WIDTH, Stretch, first_cuts, middle_cut, stretch_between
from railgen.papers.subject import Subject
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View

VIEWS_LEFT = 42.0
VIEWS_RIGHT = VIEWS_LEFT + VIEW_WIDTH
HEADER = 10.0
"""Height of the sheet's heading, mm; so too below."""
RULER = 7.0
ROW = 3.4
_BEYOND = 1.5
"""Height left between the last row and whatever comes next, mm."""
_LEAST_JOG, _GREATEST_JOG, _STEEPNESS = 4.0, 9.0, 0.3
_EMPTY_BAND, _GREATEST_SPARE = 2.0, 14.0
_MOST_ROWS = {Band.ANCHORS: 4, Band.TOP: 8, Band.UPPER: 14, Band.LOWER: 14, Band.BOTTOM: 8}
_LABELS_LEFT, _LABELS_RIGHT = FRAME_LEFT + 2.0, FRAME_RIGHT - 1.5


@dataclass(frozen=True, eq=False)
class BandLayout:
    """Labels of one band in order along the sheet, with their staffs and rows.

    `jog`: height (mm) in which leaders go from their target's x to their staff's, more where they go far;
    `left_out`: how many labels find no room.
    """

    callouts: tuple[Callout, ...]
    placing: Placing
    jog: float
    left_out: int = 0

    @property
    def height(self) -> float:
        """Height (mm) that the band takes."""
        return self.jog + ROW * self.placing.rows + _BEYOND if self.callouts else _EMPTY_BAND


@dataclass(frozen=True, eq=False)
class ElevationLayout:
    """One elevation sheet: its side and stretch, its views by face, its bands, its rulers' heights, its rings."""

    side: int
    stretch: Stretch
    views: Mapping[Face, View]
    bands: Mapping[Band, BandLayout]
    rulers: tuple[float, float]
    rings: tuple[Ring, ...]


def elevation_layouts(subject: Subject) -> tuple[tuple[ElevationLayout, ...], tuple[ElevationLayout, ...]]:
    """The elevation sheets of LH and of RH, cut at the same stations.

    A stretch too crowded for its labels on either side is cut in two. Where even the shortest stretch is too crowded,
    the labels that find no room are counted on the sheet.
    """
    pairs = [pair for start, end in pairwise(first_cuts(subject)) for pair in _pairs(subject, start, end)]
    return tuple(lh for lh, _ in pairs), tuple(rh for _, rh in pairs)


def _pairs(subject: Subject, start: float, end: float) -> Iterator[tuple[ElevationLayout, ElevationLayout]]:
    """LH and RH sheet of each stretch between two match lines."""
    stretch = stretch_between(subject, start, end)
    lh, rh = (_layout(subject, side, stretch) for side in (0, 1))
    middle = None if _fits(subject, lh) and _fits(subject, rh) else middle_cut(subject, start, end)
    if middle is None:
        yield _settled(subject, lh), _settled(subject, rh)
    else:
        yield from _pairs(subject, start, middle)
        yield from _pairs(subject, middle, end)


def _layout(subject: Subject, side: int, stretch: Stretch) -> ElevationLayout:
    """All labels placed as well as may be, nothing yet at its height."""
    rings, numbers = finding_callouts(subject, side, stretch)
    callouts = [*anchor_callouts(subject, stretch), *shape_callouts(subject, stretch), *numbers]
    callouts += name_callouts(subject, side, stretch)
    views = _views(subject, side, stretch)
    bands = {
        band: band_layout([c for c in callouts if c.band == band], views[Face.WEB], _MOST_ROWS[band]) for band in Band
    }
    return ElevationLayout(side, stretch, views, bands, (0.0, 0.0), tuple(rings))


def band_layout(callouts: Sequence[Callout], view: View, most_rows: int) -> BandLayout:
    """The labels in order along the view, placed in at most `most_rows` rows; those that find no room are dropped."""
    stations = np.array([callout.station for callout in callouts])
    targets = view.x(stations) + np.array([callout.aside for callout in callouts])
    order = np.argsort(targets, kind="stable")
    chosen = [callouts[index] for index in order]
    widths = np.array([callout.width for callout in chosen])
    placing = place_labels(targets[order], widths, _LABELS_LEFT, _LABELS_RIGHT, most_rows)
    if placing is not None:
        farthest = float(np.abs(placing.staff - targets[order]).max(initial=0.0))
        return BandLayout(tuple(chosen), placing, float(np.clip(_STEEPNESS * farthest, _LEAST_JOG, _GREATEST_JOG)))
    fewer = band_layout(_without_least(callouts), view, most_rows)
    return replace(fewer, left_out=len(callouts) - len(fewer.callouts))


def _without_least(callouts: Sequence[Callout]) -> list[Callout]:
    """All but a twentieth of the labels: notes go first, then names, then warnings, errors last."""
    rank = {"note": 0, "": 1, "warning": 2, "error": 3}
    order = sorted(range(len(callouts)), key=lambda index: (rank[callouts[index].severity], -index))
    dropped = set(order[: max(len(order) // 20, 1)])
    return [callout for index, callout in enumerate(callouts) if index not in dropped]


def _room(subject: Subject) -> float:
    """Height (mm) that the bands may take together."""
    section = subject.plan.order.rail.section
    return FRAME_TOP - HEADER - STRIP_TOP - 2 * RULER - (section.depth + 2 * section.flange) / SCALE - 3.0


def _fits(subject: Subject, layout: ElevationLayout) -> bool:
    heights = sum(band.height for band in layout.bands.values())
    return heights <= _room(subject) and not any(band.left_out for band in layout.bands.values())


def _settled(subject: Subject, layout: ElevationLayout) -> ElevationLayout:
    """The layout with everything at its height; bands that are too high together give up rows."""
    bands = dict(layout.bands)
    rows = {band: max(kept.placing.rows, 1) for band, kept in bands.items()}
    while sum(band.height for band in bands.values()) > _room(subject) and max(rows.values()) > 1:
        highest = max(rows, key=lambda band: rows[band])
        rows[highest] -= 1
        before = bands[highest]
        fewer = band_layout(before.callouts, layout.views[Face.WEB], rows[highest])
        bands[highest] = replace(fewer, left_out=before.left_out + fewer.left_out)
        rows[highest] = min(rows[highest], max(fewer.placing.rows, 1))
    return _at_heights(subject, layout, bands)


def _at_heights(subject: Subject, layout: ElevationLayout, bands: dict[Band, BandLayout]) -> ElevationLayout:
    section = subject.plan.order.rail.section
    depth, flange = section.depth / SCALE, section.flange / SCALE
    spare = max(_room(subject) - sum(band.height for band in bands.values()), 0.0)
    gap = min(spare / 5, _GREATEST_SPARE)
    upper_ruler = FRAME_TOP - HEADER - gap / 2 - bands[Band.ANCHORS].height
    top = upper_ruler - RULER - gap - bands[Band.TOP].height - flange
    web = top - bands[Band.UPPER].height - gap - depth
    bottom = web - bands[Band.LOWER].height - gap
    lower_ruler = bottom - flange - bands[Band.BOTTOM].height - gap
    bases = {Face.WEB: web, Face.TOP: top, Face.BOTTOM: bottom}
    views = {face: replace(view, base=bases[face]) for face, view in layout.views.items()}
    return ElevationLayout(layout.side, layout.stretch, views, bands, (upper_ruler, lower_ruler), layout.rings)


def _views(subject: Subject, side: int, stretch: Stretch) -> dict[Face, View]:
    section = subject.plan.order.rail.section
    length = (stretch.drawn_end - stretch.drawn_start) / SCALE
    left = (VIEWS_LEFT + VIEWS_RIGHT - length) / 2
    breadths = {Face.WEB: section.depth, Face.TOP: section.flange, Face.BOTTOM: section.flange}
    return {
        face: View(
            face=face,
            start=stretch.drawn_start,
            end=stretch.drawn_end,
            left=left,
            base=0.0,
            scale=1 / SCALE,
            breadth=breadth,
            mirrored=side == 1,
            down=face == Face.BOTTOM,
        )
        for face, breadth in breadths.items()
    }
