"""A part as it hangs on its rack, from the side: slope, sag, hooks, ways out, and the pockets that do not drain."""

from __future__ import annotations

from typing import Any

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from railgen.papers.card_lists import heading
from railgen.papers.card_page import GREY, INK, RED, WIDTH, style
from railgen.papers.cell_text import paragraph
from railgen.papers.fonts import font_name
from railgen.papers.wording import Wording
from railgen.shop.hanging import Hanging, hang
from railgen.shop.part_work import PartWork

_HEIGHT, _EDGE = 20 * mm, 8 * mm
_ROOM = _HEIGHT - 9 * mm
_TYPE = 6.5
_TICK, _HOOK = 1.4 * mm, 2.0 * mm


def hanging_block(work: PartWork, words: Wording) -> list[Flowable]:
    """The figure with what it tells; nothing where the web hangs upright, since then nothing is held."""
    hanging = hang(work.rail, work.part, work.finishing.rack, work.holes)
    if not hanging.holds:
        return []
    figure = HangingFigure(hanging, words)
    key = "some" if hanging.pockets else "none"
    deepest = max((pocket[3] for pocket in hanging.pockets), default=0.0)
    pockets = words.say(f"hanging.{key}_{hanging.holds}", count=len(hanging.pockets), depth=deepest)
    told = words.say(f"hanging.told_{hanging.holds}", times=figure.times, pockets=pockets)
    return [KeepTogether([heading("hanging.title", words), paragraph(told, style(7.5)), figure])]


class HangingFigure(Flowable):  # type: ignore[misc]
    """The web's inside face from the front end, at the left, to the rear end; heights are drawn larger than lengths."""

    def __init__(self, hanging: Hanging, words: Wording) -> None:
        super().__init__()
        self.hanging, self.words = hanging, words
        length = float(hanging.x[-1])
        self.scale = float((WIDTH - 2 * _EDGE) / length)
        held = np.concatenate([hanging.height, hanging.level])
        self.low, span = float(held.min()), float(np.ptp(held))
        self.upright = float(min(_ROOM / span, 200 * self.scale)) if span > 0 else self.scale

    @property
    def times(self) -> float:
        """How much larger heights are drawn than lengths."""
        return self.upright / self.scale

    def wrap(self, *_: float) -> tuple[float, float]:
        """Its size in points."""
        return WIDTH, _HEIGHT

    def draw(self) -> None:
        """Pockets, the face, ways out and hooks."""
        canvas, hanging = self.canv, self.hanging
        x = _EDGE + hanging.x * self.scale
        face, level = (self._up(heights) for heights in (hanging.height, hanging.level))
        canvas.setFillColor(RED)
        _area(canvas, x, face, level)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.2)
        _line(canvas, x, face)
        canvas.setLineWidth(0.5)
        for place in np.flatnonzero(hanging.way_out).tolist():
            canvas.line(x[place], face[place] - _TICK / 2, x[place], face[place] + _TICK / 2)
        canvas.setFillColor(INK)
        for hook in hanging.sag.hooks.tolist():
            at = int(np.argmin(np.abs(hanging.x - hook)))
            _hook(canvas, float(x[at]), float(face[at]) + 0.6 * mm)
        canvas.setFillColor(GREY)
        canvas.setFont(font_name(), _TYPE)
        below = 1.0 * mm
        canvas.drawString(_EDGE, below, self.words.say("hanging.front"))
        canvas.drawRightString(WIDTH - _EDGE, below, self.words.say("hanging.rear"))

    def _up(self, heights: Any) -> Any:
        return 4.5 * mm + (heights - self.low) * self.upright


def _line(canvas: Any, x: Any, y: Any) -> None:
    path = canvas.beginPath()
    path.moveTo(float(x[0]), float(y[0]))
    for a, b in zip(x[1:].tolist(), y[1:].tolist(), strict=True):
        path.lineTo(a, b)
    canvas.drawPath(path, stroke=1, fill=0)


def _area(canvas: Any, x: Any, face: Any, level: Any) -> None:
    """What stands between the face and the level."""
    path = canvas.beginPath()
    path.moveTo(float(x[0]), float(face[0]))
    outline = [*zip(x.tolist(), face.tolist(), strict=True), *zip(x[::-1].tolist(), level[::-1].tolist(), strict=True)]
    for a, b in outline[1:]:
        path.lineTo(a, b)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _hook(canvas: Any, x: float, y: float) -> None:
    path = canvas.beginPath()
    path.moveTo(x, y)
    path.lineTo(x - _HOOK / 2, y + _HOOK)
    path.lineTo(x + _HOOK / 2, y + _HOOK)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
