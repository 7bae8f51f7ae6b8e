"""Pictures of a bank's totals as SVG, to stand inside a page; drawn by matplotlib, the same totals, the same bytes."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from railgen.bank.record import CLEAN, ERRORS, REFUSED, WARNINGS

COLOURS = {
    CLEAN: "#2e7d5b",
    WARNINGS: "#d79b1e",
    ERRORS: "#b8352c",
    REFUSED: "#767d86",
    "note": "#9fb4c7",
    "warning": "#d79b1e",
    "error": "#b8352c",
    "plain": "#3f6a94",
}
"""Colours of outcomes and severities, and of everything else."""
_SERIES = ("#3f6a94", "#9dbcd6", "#1f3550", "#c2a04a", "#6f9c86", "#8a6d8f")
"""Colours of parts that have none of their own, one after the other."""
_HANDS = {"LH": "#9dbcd6", "RH": "#d9c590"}
_INK, _FAINT = "#2b3036", "#d5d9de"
_WIDTH = 7.2  # inches
_ROW = 0.27  # inches a bar
_LETTER = 0.08  # inches a letter
_SETTINGS: dict[Any, Any] = {
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": 9,
    "text.color": _INK,
    "text.parse_math": False,
    "axes.labelcolor": _INK,
    "axes.edgecolor": _FAINT,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
}


def stacked_bars(name: str, labels: Sequence[str], parts: Mapping[str, Sequence[int]], unit: str) -> str:
    """A horizontal bar for each label, the first on top, made of parts (severities, outcomes); ``unit`` is counted."""
    with rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure = Figure((_WIDTH, 0.75 + _ROW * len(labels)), layout="constrained")
        axes = figure.add_subplot()
        rows = np.arange(len(labels))
        left = np.zeros(len(labels))
        for number, (part, counts) in enumerate(parts.items()):
            colour = COLOURS.get(part, _SERIES[number % len(_SERIES)])
            axes.barh(rows, counts, left=left, height=0.72, color=colour, label=part)
            left += np.asarray(counts)
        for row, total in zip(rows.tolist(), left.tolist(), strict=True):
            axes.annotate(f" {total:,.0f}", (total, row), va="center", fontsize=8)
        axes.set_yticks(rows, list(labels))
        axes.set_ylim(len(labels) - 0.4, -0.6)
        axes.set_xlim(0, max(float(left.max(initial=0)), 1.0) * 1.12)
        axes.tick_params(axis="y", length=0)
        axes.xaxis.set_major_locator(_whole_numbers())
        axes.xaxis.grid(True, color=_FAINT, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.set_xlabel(unit)
        if len(parts) > 1:
            _legend(figure, len(parts))
        return _svg(figure)


def columns_by_day(name: str, days: Sequence[str], parts: Mapping[str, Sequence[int]]) -> str:
    """A column for each build date, made of parts by outcome."""
    with rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure = Figure((_WIDTH, 2.4), layout="constrained")
        axes = figure.add_subplot()
        places, base = np.arange(len(days)), np.zeros(len(days))
        for part, counts in parts.items():
            axes.bar(places, counts, bottom=base, width=0.8, color=COLOURS[part], label=part)
            base += np.asarray(counts)
        step = max(1, -(-len(days) // 8))
        axes.set_xticks(places[::step], list(days[::step]))
        axes.set_ylabel("serials")
        axes.yaxis.set_major_locator(_whole_numbers())
        axes.yaxis.grid(True, color=_FAINT, linewidth=0.6)
        axes.set_axisbelow(True)
        _legend(figure, len(parts))
        return _svg(figure)


def length_histograms(name: str, lengths: Mapping[str, tuple[Sequence[float], Sequence[int]]]) -> str:
    """Numbers of blanks by length (mm), one picture a section, all on one axis of lengths."""
    longest = max((max(values) for values, _ in lengths.values()), default=1.0)
    step = 250.0 if longest > 4000 else 100.0
    shortest = min((min(values) for values, _ in lengths.values()), default=0.0)
    edges = np.arange(shortest // step * step, longest + 2 * step, step)
    with rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure = Figure((_WIDTH, 0.5 + 1.05 * max(len(lengths), 1)), layout="constrained")
        all_axes = figure.subplots(max(len(lengths), 1), 1, sharex=True, squeeze=False)[:, 0]
        for axes, (section, (values, counts)) in zip(all_axes, lengths.items(), strict=False):
            numbers, _ = np.histogram(values, bins=edges, weights=counts)
            axes.bar(edges[:-1], numbers, width=step * 0.92, align="edge", color=COLOURS["plain"])
            axes.set_title(section, loc="left", fontsize=9, pad=2)
            axes.yaxis.set_major_locator(_whole_numbers(3))
            axes.yaxis.grid(True, color=_FAINT, linewidth=0.6)
            axes.set_axisbelow(True)
        all_axes[-1].set_xlabel(f"length of the blank, mm (a bar is {step:g} mm wide)")
        return _svg(figure)


def heat_map(name: str, components: Sequence[str], counts: np.ndarray, unit: str) -> str:
    """Findings between components: a square for each pair, (n, n), darker for more; the lower half is drawn."""
    size = len(components)
    with rc_context({**_SETTINGS, "svg.hashsalt": name}):
        names = _LETTER * max(map(len, components), default=0)  # they stand upright below
        figure = Figure((_WIDTH, 0.5 + names + 0.25 * size), layout="constrained")
        axes = figure.add_subplot()
        shown = np.where(np.tril(np.ones((size, size))) > 0, counts, 0)
        most = max(float(shown.max(initial=0)), 1.0)
        for row, column in np.argwhere(shown > 0).tolist():
            share = float(shown[row, column]) / most
            colour = _between("#f5ddd9", COLOURS["error"], share)
            axes.add_patch(_square(column, row, colour))
            ink = "white" if share > 0.55 else _INK
            axes.annotate(f"{shown[row, column]:g}", (column, row), ha="center", va="center", fontsize=7, color=ink)
        axes.set_xlim(-0.5, size - 0.5)
        axes.set_ylim(size - 0.5, -0.5)
        axes.set_xticks(range(size), list(components), rotation=90)
        axes.set_yticks(range(size), list(components))
        axes.tick_params(length=0)
        axes.set_title(unit, loc="left", fontsize=9)
        axes.set_xticks(np.arange(size) - 0.5, minor=True)
        axes.set_yticks(np.arange(size) - 0.5, minor=True)
        axes.grid(True, which="minor", color=_FAINT, linewidth=0.5)
        axes.tick_params(which="minor", length=0)
        return _svg(figure)


@dataclass(frozen=True)
class StockBar:
    """A stock length (mm) as it is drawn, with its pieces: from, length (mm), side and serial of each."""

    label: str
    stock: float
    pieces: tuple[tuple[float, float, str, str], ...]


def cut_bars(name: str, bars: Sequence[StockBar]) -> str:
    """Stock lengths one below the other to one scale, with what is cut from each; what is left over stays white."""
    longest = max((bar.stock for bar in bars), default=1.0)
    with rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure = Figure((_WIDTH, 0.75 + 0.2 * len(bars)), layout="constrained")
        axes = figure.add_subplot()
        for row, bar in enumerate(bars):
            axes.barh(row, bar.stock, height=0.8, color="white", edgecolor=_INK, linewidth=0.5)
            for start, length, side, serial in bar.pieces:
                axes.barh(row, length, left=start, height=0.8, color=_HANDS[side], edgecolor=_INK, linewidth=0.4)
                if length > 0.09 * longest:
                    middle = start + length / 2, row
                    axes.annotate(f"{serial} {side}", middle, ha="center", va="center_baseline", fontsize=6.5)
        axes.set_yticks(range(len(bars)), [bar.label for bar in bars], fontsize=7.5)
        axes.set_ylim(len(bars) - 0.4, -0.6)
        axes.set_xlim(0, longest)
        axes.tick_params(axis="y", length=0)
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("mm from the bar's end")
        return _svg(figure)


def _square(x: float, y: float, colour: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle((x - 0.5, y - 0.5), 1, 1, facecolor=colour, edgecolor="none")


def _between(light: str, dark: str, share: float) -> str:
    ends = [[int(colour[i : i + 2], 16) for i in (1, 3, 5)] for colour in (light, dark)]
    mixed = [round(a + (b - a) * share) for a, b in zip(*ends, strict=True)]
    return "#" + "".join(f"{value:02x}" for value in mixed)


def _whole_numbers(most: int = 7) -> Any:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(most, integer=True)


def _legend(figure: Figure, columns: int) -> None:
    figure.legend(loc="outside upper right", ncols=columns, frameon=False, fontsize=8, handlelength=1, handleheight=1)


def _svg(figure: Figure) -> str:
    """The figure as an svg element, without what only a file of its own needs."""
    buffer = io.BytesIO()
    canvas: Any = FigureCanvasSVG(figure)
    canvas.print_figure(buffer, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = buffer.getvalue().decode()
    return text[text.index("<svg") :].strip()
