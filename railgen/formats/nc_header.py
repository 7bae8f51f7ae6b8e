"""The head of a program: comments that say what it makes and of which blank, and what is read from them again."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from railgen.data.post import PostProcessor
from railgen.formats.cautions import CAUTIONS
from railgen.formats.nc_numbers import angle_text
from railgen.shop.hit_order import HitOrder


@dataclass(frozen=True)
class ProgramHead:
    """What a program says of itself. Lengths mm; ``tools``: id and angle (degrees) by mounting and station."""

    serial: str
    side: str
    part: str
    revision: str
    length: float
    width: float
    thickness: float
    gauge_edge: str
    stop_x: float
    press: str
    post: str
    tools: Mapping[tuple[int, int], tuple[str, float]]


def head_lines(found: HitOrder, post: PostProcessor) -> Iterator[str]:
    """The texts of the head's comments, each within the post-processor's longest comment."""
    hits = found.hits
    work, lie, press = hits.work, hits.lie, hits.press
    yield f"SERIAL {work.plan.serial}"
    yield f"SIDE {work.side}"
    yield f"PART {work.part}"
    yield f"REVISION {work.plan.order.order.revision}"
    yield f"BLANK {lie.length:.6f} X {lie.width:.6f} X {lie.thickness:.6f} MM"
    yield f"STEEL {work.steel_name}"
    yield "OUTSIDE FACE UP"
    yield f"GAUGE {press.gauge_edge} EDGE AT Y 0 AND {press.gauge_end} END AT X {lie.stop_x:.6f} MM"
    yield f"PRESS {press.id}"
    yield f"POST {post.id}"
    yield f"PROGRAM IN {post.units.upper()}, {post.moves.upper()}, HITS {len(hits)}"
    yield f"CYCLE TIME {found.cycle.total:.1f} S"
    for station in hits.stations:
        place = f"{station.mounting}.{station.number}"
        yield f"TOOL {place} A{angle_text(station.angle)} {station.tool.id}"
    for caution in CAUTIONS:
        yield from textwrap.wrap(caution, post.longest_comment)


def comment_text(text: str, post: PostProcessor) -> str:
    """A text as a comment: plain letters, none of the comment's own signs, no longer than allowed."""
    plain = text.encode("ascii", "replace").decode("ascii")
    for sign in "".join(post.comment_signs).strip():
        plain = plain.replace(sign, "")
    return post.comment.replace("{text}", plain[: post.longest_comment])


_NUMBER = r"(-?[0-9]+(?:\.[0-9]+)?)"
_FORMS = {
    "SERIAL": r"SERIAL ([A-Z]+-[0-9]+)",
    "SIDE": r"SIDE (LH|RH)",
    "PART": r"PART (rail|liner)",
    "REVISION": r"REVISION ([A-Z0-9]+)",
    "BLANK": rf"BLANK {_NUMBER} X {_NUMBER} X {_NUMBER} MM",
    "GAUGE": rf"GAUGE (bottom|top) EDGE AT Y 0 AND (?:front|rear) END AT X {_NUMBER} MM",
    "PRESS": r"PRESS ([a-z0-9-]+)",
    "POST": r"POST ([a-z0-9-]+)",
}
_TOOL = re.compile(rf"TOOL ([0-9]+)\.([0-9]+) A{_NUMBER} (.+)")


def head_of(comments: Sequence[str]) -> ProgramHead:
    """The head that some comments make. Raises ValueError naming what is missing or stands twice."""
    found: dict[str, tuple[str, ...]] = {}
    tools: dict[tuple[int, int], tuple[str, float]] = {}
    for comment in comments:
        tool = _TOOL.fullmatch(comment)
        if tool:
            place = (int(tool[1]), int(tool[2]))
            if place in tools:
                raise ValueError(f"two tools at {tool[1]}.{tool[2]}")
            tools[place] = (tool[4], float(tool[3]))
        for name, form in _FORMS.items():
            match = re.fullmatch(form, comment)
            if match and name in found:
                raise ValueError(f"two comments {name}")
            if match:
                found[name] = tuple(match.groups())
    missing = [name for name in _FORMS if name not in found]
    if missing:
        raise ValueError(f"no comment {', '.join(missing)}")
    length, width, thickness = map(float, found["BLANK"])
    return ProgramHead(
        serial=found["SERIAL"][0],
        side=found["SIDE"][0],
        part=found["PART"][0],
        revision=found["REVISION"][0],
        length=length,
        width=width,
        thickness=thickness,
        gauge_edge=found["GAUGE"][0],
        stop_x=float(found["GAUGE"][1]),
        press=found["PRESS"][0],
        post=found["POST"][0],
        tools=tools,
    )
