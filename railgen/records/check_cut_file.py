"""Cut files against the hole table, and the two hands of a blank against each other."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path as FilePath

import numpy as np

from railgen.data.messages import InputError
from railgen.formats.cut_entities import Line, Text
from railgen.formats.cut_file import CutFile
from railgen.formats.names import Part, Side
from railgen.frame.development import mirror_blank
from railgen.records.discrepancy import Discrepancy, Kind
from railgen.records.features import Features, Tolerance, differences, drawn_features, match
from railgen.records.subject import Subject

DXF = Tolerance(place=1e-6, size=3e-6, angle=1e-4)
"""Nine decimals of a millimetre; sizes of slots are those of several vertices together."""
_EDGE = 1e-6
_NOTED = 6e-4  # mm: notes give the blank's size to three decimals
_NAMED = re.compile(r"\b([A-Z]{1,4}-[0-9]{1,9}) (LH|RH) (RAIL|LINER|TAPER)\b")
_SIZE = re.compile(r"^Blank ([0-9.]+) x ([0-9.]+) x ([0-9.]+) mm")
_LEAST_CORNER = 3.0
_MIRRORED_FROM = 4
"""A file with at least this many holes out of place, and most of them, is tried the other way round."""


def check_cut_file(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """A blank's cut file, None for any other file."""
    blank = subject.blanks.get(file.name)
    return _check(subject, file.name, *blank) if blank else None


def _check(subject: Subject, name: str, side: Side, part: Part) -> Iterator[Discrepancy]:
    drawn = subject.drawn(name)
    if drawn.refusal:
        yield Discrepancy("file unreadable", name, f"not as this program writes it: {first_problem(drawn.refusal)}")
    cut = drawn.content
    texts = [text.text for text in (*cut.stamp, *cut.notes) if isinstance(text, Text)]
    yield from check_named(name, texts, subject.serial, side, part.upper())
    yield from _check_edge(name, cut)
    yield from _check_arrow(name, cut, side)
    yield from check_features(subject, name, cut, side, part)


def first_problem(error: InputError) -> str:
    """The first problem of an input, its file left out."""
    problem = error.problems[0]
    return f"{problem.key}: found {problem.found}; allowed: {problem.allowed}" if problem.key else problem.found


def check_named(name: str, texts: list[str], serial: str, side: str, part: str) -> Iterator[Discrepancy]:
    """Serial, hand and part as a file's texts name them; ``part`` in capitals."""
    named = [found.groups() for text in texts for found in _NAMED.finditer(text)]
    if not named:
        yield Discrepancy("wrong serial", name, f"nowhere names {serial} {side} {part}")
    for other_serial, other_side, other_part in sorted(set(named)):
        if other_serial != serial:
            yield Discrepancy("wrong serial", name, f"is marked {other_serial}, should be {serial}")
        if other_side != side:
            yield Discrepancy("wrong hand", name, f"is marked {other_side}, should be {side}")
        if other_part != part:
            yield Discrepancy("wrong part", name, f"is marked {other_part}, should be {part}")


def check_features(
    subject: Subject, name: str, cut: CutFile, side: Side, part: Part, tolerance: Tolerance = DXF
) -> Iterator[Discrepancy]:
    """Features of one blank against the hole table, or the one word for a file that is another's or turned over."""
    table, drawn = subject.features(side, part), drawn_features(cut.features, "layer")
    length, width = np.ptp(np.array(cut.outline.vertices)[:, :2], axis=0).tolist()
    whole = whole_file(table, subject.features(other_hand(side), part), drawn, (length, width), tolerance)
    if whole:
        yield Discrepancy(whole[0], name, whole[1])
        return
    yield from differences(name, table, drawn, tolerance)
    yield from _check_corners(name, cut)


def other_hand(side: Side) -> Side:
    """The other side's name."""
    return "RH" if side == "LH" else "LH"


def whole_file(
    table: Features, other: Features, drawn: Features, sizes: tuple[float, float], tolerance: Tolerance
) -> tuple[Kind, str] | None:
    """What the whole file is instead of what it should be, where that explains nearly all of its differences.

    table: what it should hold; other: what the other hand's should; sizes: length and width of the blank, mm.
    """
    lost = len(match(table, drawn, tolerance).lost)
    if lost < _MIRRORED_FROM or lost < len(table) / 3:
        return None
    length, width = sizes
    tries: list[tuple[Kind, str, Features, Features]] = [
        ("wrong hand", "holds the holes of the other hand", other, drawn),
        ("wrong hand", "is drawn end for end", table, drawn.placed(mirror_blank(drawn.x, length), drawn.y)),
        ("wrong hand", "is drawn upside down", table, drawn.placed(drawn.x, width - drawn.y)),
        ("wrong hand", "is turned half round", table, drawn.placed(length - drawn.x, width - drawn.y)),
    ]
    for kind, words, expected, found in tries:
        if len(expected) and len(match(expected, found, tolerance).lost) <= lost / 10:
            return kind, words
    return None


def _check_corners(name: str, cut: CutFile) -> Iterator[Discrepancy]:
    """Corner radii of rectangles, which the hole table leaves out: never less than the steel asks for."""
    thickness = next((float(found[3]) for note in cut.notes if (found := _SIZE.match(note.text))), 0.0)
    least = max(thickness / 2, _LEAST_CORNER)
    for feature in cut.features:
        wanted = min(least, feature.diameter / 2)
        if feature.shape == "rectangle" and feature.corner_radius < wanted - DXF.size:
            words = f"corner radius {feature.corner_radius:.3f} mm of a rectangle, at least {wanted:.3f}"
            yield Discrepancy("wrong size", name, f"{words}, at x {feature.x:.3f}, y {feature.y:.3f}")


def _check_edge(name: str, cut: CutFile) -> Iterator[Discrepancy]:
    """The blank's edge from 0, of the size that the note names; bends over its length, the same from either edge."""
    vertices = np.array(cut.outline.vertices)[:, :2]
    (x, y), (length, width) = vertices.min(axis=0).tolist(), np.ptp(vertices, axis=0).tolist()
    if max(abs(x), abs(y)) > _EDGE:
        yield Discrepancy("wrong edge", name, f"the blank's edge begins at x {x:.3f}, y {y:.3f}, should begin at 0, 0")
    sizes = next((found for note in cut.notes if (found := _SIZE.match(note.text))), None)
    if sizes is None:
        yield Discrepancy("wrong edge", name, "no note names the blank's size")
    elif max(abs(length - float(sizes[1])), abs(width - float(sizes[2]))) > _NOTED:
        words = f"the blank's edge is {length:.3f} x {width:.3f} mm, its note says {sizes[1]} x {sizes[2]}"
        yield Discrepancy("wrong edge", name, words)
    along = [bend for bend in cut.bends if abs(bend.y2 - bend.y1) <= _EDGE]
    if len(along) != 2:
        yield Discrepancy("wrong bend", name, f"{len(along)} bends along the blank, should be 2")
        return
    if abs(along[0].y1 + along[1].y1 - width) > 2 * _EDGE:
        words = f"bends at y {along[0].y1:.3f} and {along[1].y1:.3f} are not alike from the edges of {width:.3f} mm"
        yield Discrepancy("wrong bend", name, words)
    for bend in along:
        if abs(min(bend.x1, bend.x2)) > _EDGE or abs(max(bend.x1, bend.x2) - length) > _EDGE:
            words = f"the bend at y {bend.y1:.3f} runs from x {bend.x1:.3f} to {bend.x2:.3f}, not over the whole length"
            yield Discrepancy("wrong bend", name, words)


def _check_arrow(name: str, cut: CutFile, side: Side) -> Iterator[Discrepancy]:
    """The stamped arrow points at the front end: x = 0 on LH blanks, the other end on RH ones."""
    arrow = [line for line in cut.stamp if isinstance(line, Line)]
    if not arrow:
        return
    tips = {(line.x1, line.y1) for line in arrow}
    shaft = max(arrow, key=lambda line: abs(line.x2 - line.x1))
    ahead = shaft.x1 < shaft.x2 if side == "LH" else shaft.x1 > shaft.x2
    if len(tips) != 1 or not ahead:
        yield Discrepancy("wrong hand", name, "the stamped arrow does not point at the front end")
