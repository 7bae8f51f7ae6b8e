"""Programs for the press: the hits of one blank in order, in words of ISO 6983, as its post-processor has them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from railgen.data.messages import InputError, Problem
from railgen.data.post import PostProcessor
from railgen.formats.nc_header import comment_text, head_lines
from railgen.formats.nc_numbers import NumberForm, angle_text, number_form
from railgen.holes.table import NONE, PARTS, SIDES
from railgen.shop.hit_order import HitOrder
from railgen.shop.hits import Hits


def write_program(found: HitOrder, post: PostProcessor) -> bytes:
    """The program of one blank. The same order gives the same bytes.

    Positions are those of the press's axes, rounded to the post-processor's last decimal, each for itself: increments
    are differences of rounded positions, so that nothing adds up. Raises InputError where the blank needs a block that
    the post-processor lacks.
    """
    _refuse(found, post)
    writer = _Writer(found.hits, post, number_form(post))
    body = [line for block in writer.blocks(found) for line in block]
    comments = [comment_text(text, post) for text in head_lines(found, post)]
    # A tape's sign % comes before all else.
    start = writer.filled("start", writer.start_places())
    leading = start[:1] if start[:1] == ["%"] else []
    lines = [*leading, *comments, *_numbered([*start[len(leading) :], *body, *writer.filled("end", {})], post)]
    ending = "\r\n" if post.line_end == "crlf" else "\n"
    return "".join(f"{line}{ending}" for line in lines).encode("ascii")


def program_number(hits: Hits) -> int:
    """A number for the program: the serial's, and a last figure 1 to 4 for LH and RH rail, LH and RH liner."""
    work = hits.work
    return int(work.plan.serial.split("-")[1]) * 10 + 2 * PARTS.index(work.part) + SIDES.index(work.side) + 1


@dataclass
class _Writer:
    """What the press is at: tool station, mounting, clamps' shift, run, and the place (counts of the last decimal)."""

    hits: Hits
    post: PostProcessor
    form: NumberForm
    station: int = NONE
    mounting: int = 1
    shift: int = 0
    run: int = 1
    place: tuple[int, int] = field(default=(0, 0))

    def blocks(self, found: HitOrder) -> Iterator[list[str]]:
        """The lines of each block between start and end."""
        stages = found.stages.stages
        self._load()
        for hit, number in zip(found.order.tolist(), found.stage.tolist(), strict=True):
            stage = stages[number]
            if stage.feed_pass != self.run:
                self.run, self.shift = stage.feed_pass, 0
                self._load()
                yield self.filled("reload", {"run": str(self.run)})
            if stage.shift != self.shift:
                self.shift = stage.shift
                moved = self.hits.press.clamp_shifts[stage.shift]
                yield self.filled("reposition", {"shift": self.form.text(self.form.count(moved))})
            if stage.mounting != self.mounting:
                self.mounting, self.station = stage.mounting, NONE
                yield self.filled("mount", {"mounting": str(self.mounting)})
            yield from self._hit(hit)

    def start_places(self) -> dict[str, str]:
        """Numbers of the places in the start block."""
        lie = self.hits.lie
        lengths = {"length": lie.length, "width": lie.width, "stop": lie.stop_x}
        places = {name: self.form.text(self.form.count(value)) for name, value in lengths.items()}
        return places | {"program": str(program_number(self.hits))}

    def filled(self, block: str, places: Mapping[str, str]) -> list[str]:
        """A block's lines with its places filled."""
        return [line.format_map(places) for line in self.post.lines_of(block)]

    def _load(self) -> None:
        self.place = (self.form.count(self.hits.lie.stop_x), 0)

    def _hit(self, hit: int) -> Iterator[list[str]]:
        if self.hits.station[hit] != self.station:
            self.station = int(self.hits.station[hit])
            chosen = self.hits.stations[self.station]
            yield self.filled("change", {"station": str(chosen.number), "angle": angle_text(chosen.angle)})
        x, y = self.form.count(float(self.hits.x[hit])), self.form.count(float(self.hits.y[hit]))
        base = self.place if self.post.moves == "incremental" else (0, 0)
        self.place = (x, y)
        places = {"x": self.form.text(x - base[0]), "y": self.form.text(y - base[1])}
        stamp = self.hits.stamp_at(hit)
        if stamp is None:
            yield self.filled("hit", places)
            return
        height = self.form.text(self.form.count(stamp.height))
        opening, closing = self.post.comment_signs
        text = comment_text(stamp.text, self.post)[len(opening) :].removesuffix(closing)
        yield self.filled("stamp", places | {"height": height, "text": text})


def _numbered(lines: list[str], post: PostProcessor) -> list[str]:
    """Lines with their numbers, where the post-processor has any; % has none."""
    if post.number is None:
        return lines
    counts = iter(range(post.number_step, post.number_step * (len(lines) + 2), post.number_step))
    return [line if line == "%" else f"{post.number.format(number=next(counts))} {line}" for line in lines]


def _refuse(found: HitOrder, post: PostProcessor) -> None:
    """Raise InputError where the post-processor lacks a block that the blank needs."""
    stages, hits = found.stages, found.hits
    needed = {
        "reposition": (stages.repositions > 0, "clamps must be moved"),
        "mount": (stages.mountings > 0, "needs more tools than are mounted"),
        "reload": (stages.passes > 1, "goes through the press more than once"),
        "stamp": (len(hits.stamps) > 0, "is stamped"),
    }
    work = hits.work
    place = f"{work.plan.serial} {work.side} {work.part}"
    problems = [
        Problem(f"post-processor {post.id}", block, "nothing", "the lines of this block", f"{place}: {why}.")
        for block, (need, why) in needed.items()
        if need and not post.lines_of(block)
    ]
    if problems:
        raise InputError(problems)
