"""The saturation curve of Almen strips as a picture: strips, curve, the point of saturation and the one at twice it."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from railgen.holes.table import FloatArray
from railgen.papers.fonts import font_file
from railgen.papers.wording import say
from railgen.shop.saturation import GAIN, Saturation

_SIZE = (7.2, 4.6)  # inches
_DOTS_PER_INCH = 150
_INK, _FAINT, _CURVE, _MARK = "#2b3036", "#d5d9de", "#3f6a94", "#b8352c"
_SETTINGS: dict[Any, Any] = {
    "svg.hashsalt": "railgen",
    "svg.fonttype": "path",
    "text.color": _INK,
    "text.parse_math": False,
    "axes.labelcolor": _INK,
    "axes.edgecolor": _INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
}


def saturation_picture(
    kind: str, name: str, strips: tuple[FloatArray, FloatArray], found: Saturation, unit: str
) -> bytes:
    """The curve as a file of a kind ("png" or "svg"); strips: times and arc heights; name: of the strips' file.

    The same strips always give the same bytes.
    """
    buffer = BytesIO()
    with rc_context(_SETTINGS):
        figure = Figure(_SIZE, layout="constrained")
        axes = figure.add_subplot()
        _draw(axes, strips, found, unit)
        axes.set_title(say("saturation.title", name=name), loc="left", fontproperties=_face(11, True), pad=14)
        figure.supxlabel(say("saturation.rule", gain=GAIN), x=0.01, ha="left", fontproperties=_face(7))
        canvas: Any = FigureCanvasSVG(figure) if kind == "svg" else FigureCanvasAgg(figure)
        metadata = {"Date": None, "Creator": "railgen"} if kind == "svg" else {"Software": "railgen"}
        canvas.print_figure(buffer, format=kind, dpi=_DOTS_PER_INCH, metadata=metadata)
    return buffer.getvalue()


def _draw(axes: Axes, strips: tuple[FloatArray, FloatArray], found: Saturation, unit: str) -> None:
    longest = max(float(strips[0].max()), 2 * found.time) * 1.08
    highest = max(float(strips[1].max()), found.height) * 1.18
    times = np.linspace(0, longest, 400)
    axes.plot(times, found.at(times), color=_CURVE, linewidth=1.6)
    for marks in (1, 2):
        time = marks * found.time
        height = float(found.at(np.array([time]))[0])
        axes.plot([time, time, 0], [0, height, height], color=_MARK, linewidth=0.8, linestyle=(0, (5, 3)))
    axes.plot(found.time, found.intensity, "o", color=_MARK, markersize=7)
    axes.plot(*strips, "o", color="white", markeredgecolor=_INK, markeredgewidth=1.3, markersize=6)
    axes.set(xlim=(0, longest), ylim=(0, highest))
    told = say("saturation.point", time=found.time, intensity=found.intensity, unit=unit)
    axes.annotate(
        told,
        (found.time, found.intensity),
        xytext=(12, -34),
        textcoords="offset points",
        fontproperties=_face(9, True),
        color=_MARK,
    )
    axes.annotate(
        say("saturation.twice"), (2 * found.time, 0), (4, 6), textcoords="offset points", fontproperties=_face(8)
    )
    axes.set_xlabel(say("saturation.time"), fontproperties=_face(9))
    axes.set_ylabel(say("saturation.arc_height", unit=unit), fontproperties=_face(9))
    axes.grid(True, color=_FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    for label in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        label.set_fontproperties(_face(8))


def _face(size: float, bold: bool = False) -> FontProperties:
    return FontProperties(fname=font_file(bold), size=size)
