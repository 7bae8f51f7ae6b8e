"""A joint's screws as a small figure, numbered in the order in which they are tightened."""

from __future__ import annotations

import numpy as np
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable

from railgen.holes.table import FloatArray
from railgen.papers.card_page import INK, WHITE
from railgen.papers.fonts import CAPITAL_SHARE, font_name

_RADIUS = 2.3 * mm
_SCALE = mm / 6
"""Points of paper for a millimetre of steel, unless that is too much for the figure's width or height."""
_HIGHEST = 34 * mm
_APART = 1.06
"""Centres of neighbouring circles are this many diameters apart at least."""
_LEAST_TYPE = 4.0  # points
_EDGE = 0.6 * mm


class JointFigure(Flowable):  # type: ignore[misc]
    """Circles at the screws' places with their numbers; offsets (n, 2) mm in tightening order, width in points."""

    def __init__(self, offsets: FloatArray, width: float) -> None:
        super().__init__()
        span = np.ptp(offsets, axis=0)
        room = np.array([width, _HIGHEST]) - 2 * (_RADIUS + _EDGE)
        fits = [float(most / least) for most, least in zip(room, span, strict=True) if least > 0]
        scale = min([_SCALE, *fits])
        self.radius = min(_RADIUS, _nearest(offsets) * scale / 2 / _APART)
        size = span * scale + 2 * (_RADIUS + _EDGE)
        self.width, self.height = width, float(size[1])
        low = offsets.min(axis=0)
        left = (width - size[0]) / 2
        self.centres = (offsets - low) * scale + np.array([left, 0.0]) + _RADIUS + _EDGE

    def wrap(self, *_: float) -> tuple[float, float]:
        """Its size in points."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw the circles, the first one black, with their numbers."""
        canvas = self.canv
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.8)
        for number, (x, y) in enumerate(self.centres.tolist(), 1):
            first = number == 1
            canvas.setFillColor(INK if first else WHITE)
            canvas.circle(x, y, self.radius, stroke=1, fill=1)
            canvas.setFillColor(WHITE if first else INK)
            size = max(_LEAST_TYPE, min(7.0, 7.0 * self.radius / _RADIUS))
            canvas.setFont(font_name(bold=True), size)
            width = stringWidth(str(number), font_name(bold=True), size)
            canvas.drawString(x - width / 2, y - size * CAPITAL_SHARE / 2, str(number))


def _nearest(offsets: FloatArray) -> float:
    """Least distance between two screws, mm; infinite for one."""
    apart = np.linalg.norm(offsets[:, None, :] - offsets[None], axis=-1)
    np.fill_diagonal(apart, np.inf)
    return float(apart.min())
