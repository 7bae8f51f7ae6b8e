"""Pictures of a clash for pages: the two components on the unrolled rail, and the orders in which they clash. SVG."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from railgen.frame.development import mirror_angle
from railgen.frame.panels import Face
from railgen.frame.section import Section
from railgen.holes.shapes import cores_of
from railgen.holes.table import MARK, RH, FloatArray, HoleTable
from railgen.papers.frame_clash_picture import FIRST, HIT, SECOND, frame_picture, ruler
from railgen.placing.clash_example import Example

SETTLED = "#7fa8cf"
"""Colour of orders in which a floating component has to settle elsewhere."""
_MARGIN = 70.0
"""mm of rail drawn either side of what meets."""
_NARROWEST, _WIDEST = 560.0, 1200.0


def clash_picture(example: Example, section: Section, front: float, names: Sequence[str]) -> str:
    """The blank around what meets, seen with its outside face up: free edges, bends, both components, holes in error.

    Of components on two sides the frame from above. front: station at which the blank's u is 0, mm.
    """
    if "-" in example.side:
        return frame_picture(example, names)
    low, high = _window(example, front)
    width, height = high - low, section.developed_width
    parts = [*_steel(section, low, high, [end - front for end in example.ends]), *_feet(example, section, low + front)]
    hit = {(table, row) for touch in example.touches for table, row in enumerate(touch.rows)}
    for number, (table, colour) in enumerate(((example.first.table, FIRST), (example.second.table, SECOND))):
        for row, shape in _outlines(table, low, high, section):
            style = (
                f'fill="{HIT}" fill-opacity=".28" stroke="{HIT}"'
                if (number, row) in hit
                else (f'fill="#fff" stroke="{colour}"')
            )
            parts.append(f'<g {style} stroke-width="1.6" vector-effect="non-scaling-stroke">{shape}</g>')
    parts += _envelopes(example, section, low + front, width)
    parts += _touch_lines(example, low, height)
    parts += ruler(low + front, high + front, height)
    air = 0.03 * width
    box = f"{-air:.1f} {-air:.1f} {width + 2 * air:.1f} {height + 3.4 * air:.1f}"
    return f'<svg viewBox="{box}" role="img" aria-label="{escape(" and ".join(names))}">{"".join(parts)}</svg>'


def _window(example: Example, front: float) -> tuple[float, float]:
    """From-to (u of the blank, mm) around what is in error, or around both components."""
    tables = (example.first.table, example.second.table)
    met = [float(tables[n].u[row]) for touch in example.touches for n, row in enumerate(touch.rows) if row >= 0]
    widest = _WIDEST
    if not met:
        met, widest = [end - front for end in _met_without_holes(example)], np.inf
    met = met or [u for table in tables for u in table.u.tolist()]
    low, high = min(met) - _MARGIN, max(met) + _MARGIN
    middle, half = (low + high) / 2, min(max(high - low, _NARROWEST), widest) / 2
    return middle - half, middle + half


def _met_without_holes(example: Example) -> Iterator[float]:
    """Ends (stations) of feet and envelopes."""
    for part in (example.first, example.second):
        yield from (end for box in part.boxes for end in box.station)
        yield from (x for foot in part.feet for x, _ in foot.corners)


def _feet(example: Example, section: Section, start: float) -> Iterator[str]:
    """Feet as they lie on the blank; start: station of the picture's left edge."""
    height = section.developed_width
    for part, colour in ((example.first, FIRST), (example.second, SECOND)):
        for foot in part.feet:
            points = " ".join(
                f"{x - start:.2f},{height - float(section.blank_y(Face(foot.face), across)):.2f}"
                for x, across in foot.corners
            )
            yield f'<polygon points="{points}" fill="{colour}" fill-opacity=".1" stroke="{colour}" stroke-width=".8" />'


def _envelopes(example: Example, section: Section, start: float, width: float) -> Iterator[str]:
    """Envelopes in station and height, where two of them are too near; start: station of the picture's left edge."""
    if not any(touch.rows[0] < 0 for touch in example.touches):
        return
    height = section.developed_width
    for part, colour in ((example.first, FIRST), (example.second, SECOND)):
        for box in part.boxes:
            low, high = (min(max(end - start, 0.0), width) for end in box.station)
            ends = (float(section.blank_y(Face.WEB, z)) for z in box.height)
            down, up = (min(max(end, 0.0), height) for end in ends)
            if low < high and down < up:
                yield (
                    f'<rect x="{low:.2f}" y="{height - up:.2f}" width="{high - low:.2f}" height="{up - down:.2f}" '
                    f'fill="{colour}" fill-opacity=".12" stroke="{colour}" stroke-dasharray="7 4" />'
                )


def _steel(section: Section, low: float, high: float, ends: Sequence[float]) -> Iterator[str]:
    """The blank as far as it reaches in the picture; ends: of the rail, in u as low and high."""
    start = min(max(ends[0] - low, 0.0), high - low)
    width, height = max(min(ends[1], high) - low - start, 0.0), section.developed_width
    yield f'<rect x="{start:.2f}" y="0" width="{width:.2f}" height="{height:.2f}" fill="#eef1f4" stroke="#5f6770" />'
    bends = (
        (section.bottom_tangent_blank_y, section.web_lower_tangent_blank_y),
        (section.web_upper_tangent_blank_y, section.top_tangent_blank_y),
    )
    for below, above in bends:
        yield (
            f'<rect x="{start:.2f}" y="{height - above:.2f}" width="{width:.2f}" height="{above - below:.2f}" '
            'fill="#d9dee4" />'
        )


def _outlines(table: HoleTable, low: float, high: float, section: Section) -> Iterator[tuple[int, str]]:
    """Every feature that lies in the window as an SVG shape."""
    height = section.developed_width
    cores = cores_of(table, np.full(len(table), section.thickness))
    angle = np.where(table.side == RH, mirror_angle(table.blank_angle), table.blank_angle)
    for row in np.flatnonzero((table.u > low) & (table.u < high)).tolist():
        x, y = float(table.u[row]) - low, height - float(table.v[row])
        if table.shape[row] == MARK:
            yield row, f'<path d="M{x - 5:.2f} {y:.2f}h10M{x:.2f} {y - 5:.2f}v10" />'
            continue
        radius = float(cores.radius[row])
        half = float(cores.half_length[row]) + radius, float(cores.half_width[row]) + radius
        yield (
            row,
            (
                f'<rect x="{x - half[0]:.2f}" y="{y - half[1]:.2f}" width="{2 * half[0]:.2f}" '
                f'height="{2 * half[1]:.2f}" rx="{radius:.2f}" '
                f'transform="rotate({-float(angle[row]):.3f} {x:.2f} {y:.2f})" />'
            ),
        )


def _touch_lines(example: Example, low: float, height: float) -> Iterator[str]:
    for i, j in dict.fromkeys(touch.rows for touch in example.touches if min(touch.rows) >= 0):
        a, b = example.first.table, example.second.table
        yield (
            f'<line x1="{a.u[i] - low:.2f}" y1="{height - a.v[i]:.2f}" x2="{b.u[j] - low:.2f}" '
            f'y2="{height - b.v[j]:.2f}" stroke="{HIT}" stroke-width="1.2" stroke-dasharray="4 3" />'
        )


def legend(names: Sequence[str]) -> str:
    """The components in their colours."""
    return " and ".join(
        f'<b style="color: {colour}">{escape(name)}</b>' for name, colour in zip(names, (FIRST, SECOND), strict=False)
    )


def orders_strip(
    least: float, most: float, runs: Sequence[tuple[float, float]], values: FloatArray, colour: str = HIT
) -> str:
    """A dimension from its least to its most as a line: its steps as ticks, intervals of clash in a colour."""
    width, scale = 220.0, 214.0 / max(most - least, 1e-9)

    def at(value: float) -> float:
        return 3.0 + (min(max(value, least), most) - least) * scale

    bars = "".join(
        f'<rect x="{at(low):.1f}" y="3" width="{max(at(high) - at(low), 1.5):.1f}" height="10" fill="{colour}" />'
        for low, high in runs
    )
    ticks = "".join(
        f'<line x1="{at(v):.1f}" y1="13" x2="{at(v):.1f}" y2="16" stroke="#8a929b" stroke-width=".7" />'
        for v in (values.tolist() if len(values) <= 80 else [])
    )
    line = '<rect x="3" y="3" width="214" height="10" fill="#dfe4e9" />'
    return f'<svg class="strip" viewBox="0 0 {width:.0f} 17">{line}{bars}{ticks}</svg>'
