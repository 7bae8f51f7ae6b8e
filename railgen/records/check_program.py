"""Programs against the hole table, the press and the blank's cut file: every hit, its tool, the stamp, the clamps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np

from railgen.data.plant import Press
from railgen.data.post import PostProcessor
from railgen.formats.cut_entities import Text
from railgen.formats.names import Part, Side, press_name
from railgen.formats.nc_reader import Program, ProgramHit, read_program
from railgen.formats.nc_stamps import front_sign
from railgen.holes.shapes import core_geometries
from railgen.holes.table import SHAPES, BoolArray
from railgen.records.check_cut_file import check_named, other_hand, whole_file
from railgen.records.discrepancy import Discrepancy, Kind
from railgen.records.features import Features, Tolerance, differences
from railgen.records.hit_features import program_features, table_hits
from railgen.records.subject import Subject
from railgen.shop.clamps import clear_at_shifts
from railgen.shop.press_lie import PressLie, press_lie
from railgen.shop.tools import tool_core

_SIZE, _ANGLE = 3e-6, 1e-3
"""mm between a tool and its hole, of several rounded inches; degrees as programs write them."""
_SHIFT = 0.5  # mm
_SIZED = 1e-5  # mm: heads give the blank's size to six decimals
_SIDES: tuple[Side, ...] = ("LH", "RH")
_PARTS: tuple[Part, ...] = ("rail", "liner")


def check_program(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """A blank's program, None for any other file."""
    blank = subject.programs.get(file.name)
    post = subject.press_file.post if blank else None
    return None if blank is None or post is None else _check(subject, file, post, *blank)


def check_press(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """The press that programs are for, None for any other file; raises InputError where it cannot be read."""
    if file.name != press_name(subject.serial):
        return None
    return _check_press(subject, file.name)


def _check_press(subject: Subject, name: str) -> Iterator[Discrepancy]:
    made_for, found = subject.manifest.settings.get("press"), subject.press_file.press.id
    if made_for is not None and found != made_for:
        yield Discrepancy("wrong setting", name, f"is of press {found}, the manifest says {made_for}")


def missing_programs(subject: Subject, names: Sequence[str]) -> Iterator[Discrepancy]:
    """Blanks without a program, and a press that is not told of, where the manifest says that there are programs."""
    if "press" not in subject.manifest.settings:
        return
    if not subject.has_press_file:
        if any(len(subject.hit_rows(side, part)) for part in _PARTS for side in _SIDES):
            yield Discrepancy("file missing", press_name(subject.serial), "the press that programs are for is missing")
        return
    for name in sorted(subject.programs.keys() - set(names) - subject.manifest.files.keys()):
        yield Discrepancy("file missing", name, "the blank's program is missing")


def _check(subject: Subject, file: FilePath, post: PostProcessor, side: Side, part: Part) -> Iterator[Discrepancy]:
    program, name, press = read_program(file.read_bytes(), post, str(file)), file.name, subject.press_file.press
    head = program.head
    titles = [f"{head.serial} {head.side} {head.part.upper()}", *(hit.text for hit in program.hits if hit.text)]
    yield from check_named(name, titles, subject.serial, side, part.upper())
    lie = _lie(subject, program, press, side, part)
    yield from _check_head(subject, name, program, lie)
    yield from _check_tools(name, program, press)
    plain = [hit for hit in program.hits if hit.text is None]
    table, drawn = table_hits(subject, side, part, lie.thickness), program_features(program, plain, press)
    tolerance = Tolerance(0.75 * program.resolution + 1e-6, _SIZE, _ANGLE)
    other = table_hits(subject, other_hand(side), part, lie.thickness)
    whole = whole_file(table, other, drawn, (lie.length, lie.width), tolerance)
    if whole:
        yield Discrepancy(whole[0], name, whole[1])
    else:
        yield from differences(name, table, drawn, tolerance, "wrong tool")
    yield from _check_stamps(subject, name, program, side, part)
    yield from _check_clamps(name, plain, drawn, press, lie)
    yield from _check_feed(name, program, press)


def _lie(subject: Subject, program: Program, press: Press, side: Side, part: Part) -> PressLie:
    """How the blank lies on the press: of the size that its cut file draws or, without one, its program names."""
    head = program.head
    length, width = subject.outline_sizes(side, part) or (head.length, head.width)
    return press_lie(press, side, length, width, head.thickness)


def _check_head(subject: Subject, name: str, program: Program, lie: PressLie) -> Iterator[Discrepancy]:
    """What the head says of revision, press, blank and gauging."""
    head, file = program.head, subject.press_file
    said = {"revision": head.revision, "press": head.press, "post-processor": head.post, "gauge edge": head.gauge_edge}
    right = {
        "revision": subject.manifest.settings.get("revision", head.revision),
        "press": file.press.id,
        "post-processor": file.post.id if file.post else "none",
        "gauge edge": file.press.gauge_edge,
    }
    for what, wanted in right.items():
        if said[what] != wanted:
            yield Discrepancy("wrong setting", name, f"the head's {what} is {said[what]}, should be {wanted}")
    sizes = {"length": (head.length, lie.length), "width": (head.width, lie.width), "stop": (head.stop_x, lie.stop_x)}
    for what, (found, wanted_size) in sizes.items():
        if abs(found - wanted_size) > _SIZED:
            words = f"the head's {what} is {found:.3f} mm, should be {wanted_size:.3f} mm"
            yield Discrepancy("wrong edge", name, words, by_mm=found - wanted_size)


def _check_tools(name: str, program: Program, press: Press) -> Iterator[Discrepancy]:
    """Tools of the head: each in the crib, at a station that the press has, at an angle that it may be set to."""
    crib = {tool.id: tool for tool in press.tools}
    for (mounting, station), (tool, angle) in sorted(program.head.tools.items()):
        place = f"station {mounting}.{station}"
        if tool not in crib:
            yield Discrepancy("wrong tool", name, f"{place}: the crib of {press.id} has no tool {tool}")
        elif crib[tool].angles and not any(abs((angle - a + 90) % 180 - 90) <= _ANGLE for a in crib[tool].angles):
            yield Discrepancy("wrong tool", name, f"{place}: {tool} cannot be set to {angle:g} degrees")
        if not 1 <= station <= press.mounted_tools:
            yield Discrepancy("wrong tool", name, f"{place}: the press has {press.mounted_tools} stations")


def _check_stamps(subject: Subject, name: str, program: Program, side: Side, part: Part) -> Iterator[Discrepancy]:
    """Stamped text against that of the cut file: the same words at the same places, by the marking tool."""
    cut, file = subject.cut_file(side, part), subject.press_file
    stamps = [hit for hit in program.hits if hit.text is not None]
    by_press = file.post is not None and file.post.stamp and any(tool.shape == "mark" for tool in file.press.tools)
    if cut is None or not (stamps or by_press):
        return
    x, y = program.blank_places()
    at = [place for place, hit in enumerate(program.hits) if hit.text is not None]
    sign = front_sign(side, program.head.gauge_edge)
    found = sorted((hit.text or "", float(x[i]), float(y[i])) for i, hit in zip(at, stamps, strict=True))
    texts = [text for text in cut.stamp if isinstance(text, Text)]
    wanted = sorted((sign if text.text == "FRONT" else text.text, text.x, text.y) for text in texts)
    if [text for text, *_ in found] != [text for text, *_ in wanted]:
        # The same words but for the sign by FRONT are those of the other hand.
        kind: Kind = "wrong hand" if len(found) == len(wanted) else "wrong cut"
        yield Discrepancy(kind, name, f"stamps {_quoted(found)}, the cut file has {_quoted(wanted)}")
        return
    for (text, *place), (_, *right) in zip(found, wanted, strict=True):
        by = float(np.hypot(place[0] - right[0], place[1] - right[1]))
        if by > 0.75 * program.resolution + _SIZED:
            yield Discrepancy("wrong cut", name, f"stamps {text} {by:.3f} mm from where the cut file has it", by_mm=by)


def _quoted(texts: Sequence[tuple[str, float, float]]) -> str:
    return ", ".join(f"'{text}'" for text, *_ in texts) or "nothing"


def _check_clamps(
    name: str, hits: Sequence[ProgramHit], drawn: Features, press: Press, lie: PressLie
) -> Iterator[Discrepancy]:
    """No hit in a clamp's dead zone while the clamp stands there."""
    if not press.clamps or not hits:
        return
    clear, shifts = _clear(hits, drawn, press, lie), np.array(press.clamp_shifts, dtype=np.float64)
    for place, hit in enumerate(hits):
        number = 0 if hit.shift is None else int(np.argmin(np.abs(shifts - hit.shift)))
        if hit.shift is not None and abs(shifts[number] - hit.shift) > _SHIFT:
            words = f"line {hit.line}: the clamps stand {hit.shift:g} mm on, which is none of their places"
            yield Discrepancy("wrong setting", name, words)
        elif not clear[place, number]:
            yield Discrepancy("wrong setting", name, f"line {hit.line}: the hit lies in a clamp's dead zone")


def _clear(hits: Sequence[ProgramHit], drawn: Features, press: Press, lie: PressLie) -> BoolArray:
    """Whether each hit is clear of the clamps at each of their shifts, (n, shifts)."""
    crib = {tool.id: tool_core(tool, lie.thickness) for tool in press.tools}
    core = np.array([crib.get(name, (0.0, 0.0, 0.0)) for name in drawn.where], dtype=np.float64)
    place = np.array([(hit.x, hit.y) for hit in hits], dtype=np.float64)
    deepest = max(clamp.depth for clamp in press.clamps) + press.clamp_dead_zone
    near = np.flatnonzero(place[:, 1] - core.sum(axis=1) < deepest)
    shape = np.array([SHAPES.index(drawn.shape[row]) if drawn.shape[row] in SHAPES else 0 for row in near.tolist()])
    shapes = core_geometries(place[near, 0], place[near, 1], drawn.angle[near], shape, core[near, 0], core[near, 1])
    clear = np.ones((len(hits), len(press.clamp_shifts)), dtype=np.bool_)
    clear[near] = clear_at_shifts(shapes, core[near, 2], press, lie)
    return clear


def _check_feed(name: str, program: Program, press: Press) -> Iterator[Discrepancy]:
    """No move back where the feed cannot go back."""
    if press.feed_may_return:
        return
    for before, after in pairwise(program.hits):
        back = abs(before.x - program.head.stop_x) - abs(after.x - program.head.stop_x)
        if before.run == after.run and back > 2 * program.resolution:
            yield Discrepancy("wrong setting", name, f"line {after.line}: the feed would go back {back:.3f} mm")
