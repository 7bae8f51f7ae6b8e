"""Cut files of one tool or one layer against the hole table and the blank's cut file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path as FilePath

import numpy as np

from railgen.formats.cut_entities import LAYERS, MARK, NOTE, OUTLINE, Circle, Entity, Path, Point, Text
from railgen.formats.cut_file import CutFile
from railgen.formats.names import Part, Side, purpose_file_name, tool_file_name, tool_words
from railgen.records.check_cut_file import DXF, check_named, first_problem
from railgen.records.check_hands import same_points, vertices
from railgen.records.discrepancy import Discrepancy
from railgen.records.features import differences, drawn_features, match
from railgen.records.subject import Subject

_SIDES: tuple[Side, ...] = ("LH", "RH")
_PARTS: tuple[Part, ...] = ("rail", "liner")


def check_tool_file(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """The cut file of one tool, None for any other file."""
    for side in _SIDES:
        for part in _PARTS:
            if not file.name.startswith(tool_file_name(subject.serial, side, part, "").removesuffix(".dxf")):
                continue
            return _check_tool(subject, file.name, side, part)
    return None


def tool_file_names(subject: Subject, side: Side, part: Part) -> dict[str, str]:
    """Tools that the hole table names for a blank, and the one that stamps it, by the names of their cut files."""
    tools = {subject.holes.tool[row] for row in subject.rows(side, part).tolist()} - {""}
    blank = subject.cut_file(side, part)
    words = tool_words(tools, subject.marking_tool if blank and blank.stamp else None)
    return {tool_file_name(subject.serial, side, part, word): tool for tool, word in words.items()}


def missing_tool_files(subject: Subject) -> Iterator[Discrepancy]:
    """Tools of a blank that have no cut file of their own where others have."""
    there = {file.name for file in subject.folder.iterdir()}
    for side in _SIDES:
        for part in _PARTS:
            names = tool_file_names(subject, side, part)
            if not there.isdisjoint(names):
                for name in sorted(names.keys() - there):
                    yield Discrepancy("file missing", name, f"the cut file of tool {names[name]} is missing")


def _check_tool(subject: Subject, name: str, side: Side, part: Part) -> Iterator[Discrepancy]:
    tool = tool_file_names(subject, side, part).get(name)
    if tool is None:
        yield Discrepancy("wrong tool", name, f"the hole table uses no such tool on the {side} {part}")
        return
    drawn = subject.drawn(name)
    if drawn.refusal:
        yield Discrepancy("file unreadable", name, f"not as this program writes it: {first_problem(drawn.refusal)}")
    cut = drawn.content
    yield from _check_frame(subject, name, cut, side, part)
    if not any(f"tool {tool}," in note.text for note in cut.notes):
        yield Discrepancy("wrong tool", name, f"no note names tool {tool}")
    blank = subject.cut_file(side, part)
    stamp = _lines(blank, MARK) if blank and tool == subject.marking_tool else Counter()
    if blank and _lines(cut, MARK) != stamp:
        yield Discrepancy("wrong cut", name, "the text it stamps is not what the blank's cut file has of this tool")
    rows, whole = subject.rows(side, part), subject.features(side, part)
    mine = np.array([subject.holes.tool[row] == tool for row in rows.tolist()], dtype=np.bool_)
    found = drawn_features(cut.features, "layer")
    others = match(whole, found, DXF)
    strangers = [(i, j) for i, j in zip(others.table.tolist(), others.drawn.tolist(), strict=True) if not mine[i]]
    for i, _ in strangers:
        words = f"{whole.hole[i]} at {whole.place(i)} is made by {subject.holes.tool[rows[i]] or 'no tool'}"
        yield Discrepancy("wrong tool", name, words, (whole.hole[i],))
    kept = np.setdiff1d(np.arange(len(found)), [j for _, j in strangers])
    yield from differences(name, whole.rows(np.flatnonzero(mine)), found.rows(kept), DXF)


def check_layer_file(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """The cut file of one layer, None for any other file."""
    for side in _SIDES:
        for part in _PARTS:
            for layer in LAYERS:
                if file.name == purpose_file_name(subject.serial, side, part, layer):
                    return _check_layer(subject, file.name, side, part, layer)
    return None


def _check_layer(subject: Subject, name: str, side: Side, part: Part, layer: str) -> Iterator[Discrepancy]:
    drawn = subject.drawn(name)
    if drawn.refusal:
        yield Discrepancy("file unreadable", name, f"not as this program writes it: {first_problem(drawn.refusal)}")
    cut = drawn.content
    yield from _check_frame(subject, name, cut, side, part)
    for other in sorted({entity.layer for entity in cut.entities} - {OUTLINE, NOTE, layer}):
        yield Discrepancy("wrong layer", name, f"holds something on {other}, should hold {layer} alone")
    table = subject.features(side, part)
    mine = np.flatnonzero([where == layer for where in table.where])
    yield from differences(name, table.rows(mine), drawn_features(cut.features, "layer"), DXF)
    whole = subject.cut_file(side, part)
    if whole and _lines(cut, layer) != _lines(whole, layer):
        yield Discrepancy("wrong cut", name, f"lines and text on {layer} are not those of the blank's cut file")


def _lines(cut: CutFile, layer: str) -> Counter[Entity]:
    """What a layer holds besides features."""
    kept = (e for e in cut.entities if e.layer == layer and not isinstance(e, Circle | Point))
    return Counter(e for e in kept if not (isinstance(e, Path) and e.closed))


def _check_frame(subject: Subject, name: str, cut: CutFile, side: Side, part: Part) -> Iterator[Discrepancy]:
    """Marked as this serial's, side's and part's, with the blank's edge round it."""
    texts = [text.text for text in (*cut.stamp, *cut.notes) if isinstance(text, Text)]
    yield from check_named(name, texts, subject.serial, side, part.upper())
    whole = subject.cut_file(side, part)
    if whole and not same_points(vertices([whole.outline]), vertices([cut.outline])):
        yield Discrepancy("wrong edge", name, "the blank's edge is not that of its cut file")
