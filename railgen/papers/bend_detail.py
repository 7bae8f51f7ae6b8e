"""One bend in section, large: inside radius, thickness and the neutral line along which its length is measured."""

from __future__ import annotations

import numpy as np

from railgen.papers.dimensions import extensions, leader, level_dimension
from railgen.papers.fonts import MIDDLE
from railgen.papers.part import DrawnPart
from railgen.papers.scales import SCALES, fitting_scale
from railgen.papers.section_block import SECTION_FILL
from railgen.papers.sheet import CENTRE, OUTLINE, TANGENT, Figures, Item, Text, arc_curve, segments
from railgen.papers.subject import Subject
from railgen.papers.wording import say

_TITLE, _STUB = 13.0, 12.0
"""Heights (mm): the title with the dimension below it, the flats beside the bend."""
_LEAST_ROOM = 30.0


def bend_detail(subject: Subject, part: DrawnPart, left: float, top: float, room: float) -> list[Item]:
    """The lower bend, web upright at the left; nothing where there is no room for it. `room`: height, mm."""
    if room < _LEAST_ROOM:
        return []
    section, style = part.section, subject.style
    scale = fitting_scale(section.tangent, min(room - _TITLE - _STUB - 4.0, 40.0), SCALES)
    thick, inside = section.thickness / scale, section.inside_radius / scale
    neutral = inside + section.neutral_line * thick
    # The centre of the bend; the web hangs on its left, the flange lies below it.
    x, y = left + 12.0 + thick + inside, top - _TITLE - _STUB
    items: list[Item] = [Text(left, top - MIDDLE, say("bend.title", scale=scale), MIDDLE, bold=True)]
    items.append(_steel((x, y), inside, inside + thick))
    items += [_middle_line((x, y), neutral), _tangents((x, y), inside + thick)]
    diagonal = np.sqrt(0.5)
    at = {"radius": inside, "neutral": neutral}
    touch = {key: (x - radius * diagonal, y - radius * diagonal) for key, radius in at.items()}
    ends = {"radius": (x + 6.0, y + 4.0), "neutral": (x + 6.0, y - 2.0)}
    radius_words = say("bend.radius", value=style.size(section.inside_radius))
    items += leader([touch["radius"], ends["radius"]], radius_words)
    items += leader(
        [touch["neutral"], ends["neutral"]], say("bend.allowance", value=style.length(section.bend_allowance))
    )
    web = x - inside - thick
    above = y + _STUB + 3.0
    items.append(extensions([((web, y + _STUB), (web, above)), ((web + thick, y + _STUB), (web + thick, above))]))
    words = say("section.thickness", value=style.size(section.thickness))
    return [*items, *level_dimension(web, web + thick, above, words, beyond="left")]


def _steel(centre: tuple[float, float], inside: float, outside: float) -> Figures:
    """A quarter of a ring with a flat at either end."""
    x, y = centre
    outer, outer_points = arc_curve(centre, outside, 180.0, 270.0)
    inner, inner_points = arc_curve(centre, inside, 270.0, 180.0)
    first = [(x - outside, y + _STUB), (x - outside, y)]
    second = [(x + _STUB, y - outside), (x + _STUB, y - inside), (x, y - inside)]
    points = np.concatenate([first, outer_points, second, inner_points, [(x - inside, y + _STUB)]])
    return Figures("ML" + outer + "LLL" + inner + "LZ", points[None], OUTLINE, SECTION_FILL)


def _middle_line(centre: tuple[float, float], radius: float) -> Figures:
    x, y = centre
    curve, points = arc_curve(centre, radius, 180.0, 270.0)
    ends = [(x - radius, y + _STUB + 1.5), (x - radius, y)], [(x + _STUB + 1.5, y - radius)]
    return Figures("ML" + curve + "L", np.concatenate([ends[0], points, ends[1]])[None], CENTRE)


def _tangents(centre: tuple[float, float], outside: float) -> Figures:
    x, y = centre
    return segments([[(x - outside - 2.0, y), (x + 2.0, y)], [(x, y - outside - 2.0), (x, y + 2.0)]], TANGENT)
