"""What goes to the press besides the cut files: the hits of every blank in order, their programs, and their press."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from railgen.data.messages import InputError, Problem
from railgen.data.post import PostProcessor
from railgen.formats.feet import web_feet
from railgen.formats.names import Part, Side, press_name, program_name
from railgen.formats.nc_program import write_program
from railgen.formats.nc_stamps import blank_stamps
from railgen.formats.press_file import press_json
from railgen.layout.plan import SerialPlan
from railgen.shop.hit_order import HitOrder, order_hits
from railgen.shop.hits import Hits, hits_of
from railgen.shop.part_work import part_work
from railgen.shop.tools import needs_tool

_SIDES: tuple[Side, ...] = ("LH", "RH")


def blank_orders(planned: SerialPlan) -> tuple[HitOrder, ...]:
    """The hits of every blank that has any, in order. Raises InputError naming all that the press cannot make.

    Text is left to be stamped by hand where the press's post-processor knows no stamping.
    """
    found, problems, post = list[Hits](), list[Problem](), _post_of(planned)
    by_press = post is None or bool(post.stamp)
    parts: tuple[Part, ...] = ("rail", "liner") if planned.order.rail.liner else ("rail",)
    for part, side in product(parts, _SIDES):
        work = part_work(planned, part, side)
        if not needs_tool(work.holes).any():
            continue
        feet = web_feet(planned.order, planned.placements, side)
        try:
            found.append(hits_of(work, stamps=blank_stamps(work, work.press, feet) if by_press else ()))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(order_hits(hits) for hits in found)


def _post_of(planned: SerialPlan) -> PostProcessor | None:
    """What the press's programs are written by, None where it names nothing."""
    library = planned.order.library
    return library.posts[library.press.post] if library.press.post else None


def program_files(planned: SerialPlan, orders: Sequence[HitOrder]) -> dict[str, bytes]:
    """The program of each blank, none where the press names no post-processor, and the press itself, by name."""
    post = _post_of(planned)
    files = {press_name(planned.serial): press_json(planned.order.library.press, post)}
    if post is not None:
        for found in orders:
            work = found.hits.work
            files[program_name(planned.serial, work.side, work.part, post.ending)] = write_program(found, post)
    return files
