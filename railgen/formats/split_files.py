"""Cut files in pieces, for controls that take one tool or one purpose at a time: a DXF a tool, or a DXF a layer.

Each holds the blank's edge, what it is for, and a note; laid over each other the layers are the cut file, the tools all
that the press makes of it.
"""

from __future__ import annotations

import numpy as np

from railgen.formats.cautions import CAUTIONS
from railgen.formats.cut_entities import MARK, NOTE, OUTLINE, Entity, Point
from railgen.formats.cut_file import NO_FEET, blank_edge, cut_entities, feature_entities
from railgen.formats.cut_notes import note_texts
from railgen.formats.dxf import DxfVersion, dxf_bytes
from railgen.formats.names import Part, Side, purpose_file_name, tool_file_name, tool_words
from railgen.frame.rail import part_section
from railgen.holes.shapes import Cores, cores_of
from railgen.holes.table import NONE, PARTS, SIDES, FloatArray, HoleTable
from railgen.layout.plan import ResolvedOrder


def tool_files(
    order: ResolvedOrder,
    holes: HoleTable,
    side: Side,
    part: Part,
    feet: FloatArray = NO_FEET,
    version: DxfVersion = "R12",
) -> dict[str, bytes]:
    """A DXF for each tool that a blank needs, by file name: its edge and that tool's features on their layers.

    The stamped text is the marking tool's, where the crib has one; the arguments are those of a cut file. What no tool
    makes (drilled and countersunk holes, the taper's cut) is in none of them. Raises ValueError when a liner is asked
    for and there is none.
    """
    rows = holes.rows((holes.side == SIDES.index(side)) & (holes.part == PARTS.index(part)) & (holes.tool != NONE))
    cores = cores_of(rows, np.full(len(rows), part_section(order.rail, part).thickness))
    marker = next((tool.id for tool in order.library.press.tools if tool.shape == "mark"), None)
    stamp = _stamp(cut_entities(order, holes, side, part, feet)) if marker else []
    used = [holes.names.tools[tool] for tool in np.unique(rows.tool).tolist()]
    words = tool_words(used, marker if stamp else None)
    files = {}
    for name, word in words.items():
        chosen = rows.tool == (holes.names.tools.index(name) if name in used else NONE)
        features = list(feature_entities(rows.rows(chosen), _chosen(cores, chosen)))
        subject = f"tool {name}, {len(features)} off"
        if name == marker and stamp:
            features, subject = [*features, *stamp], f"{subject}, and the stamped text"
        entities = [blank_edge(order.rail, part, side), *features, *_note(order, side, part, subject)]
        files[tool_file_name(order.serial, side, part, word)] = dxf_bytes(entities, version)
    return files


def _stamp(entities: list[Entity]) -> list[Entity]:
    """The stamped text and its arrow."""
    return [entity for entity in entities if entity.layer == MARK and not isinstance(entity, Point)]


def purpose_files(
    order: ResolvedOrder,
    holes: HoleTable,
    side: Side,
    part: Part,
    feet: FloatArray = NO_FEET,
    version: DxfVersion = "R12",
) -> dict[str, bytes]:
    """A DXF for each layer of a blank's cut file that holds anything, by file name; the arguments as there."""
    entities = cut_entities(order, holes, side, part, feet)
    edge = [entity for entity in entities if entity.layer == OUTLINE]
    files = {}
    for layer in sorted({entity.layer for entity in entities} - {OUTLINE, NOTE}):
        alone = [entity for entity in entities if entity.layer == layer]
        note = _note(order, side, part, f"layer {layer} alone")
        files[purpose_file_name(order.serial, side, part, layer)] = dxf_bytes([*edge, *alone, *note], version)
    return files


def _chosen(cores: Cores, chosen: np.ndarray) -> Cores:
    return Cores(cores.half_length[chosen], cores.half_width[chosen], cores.radius[chosen])


def _note(order: ResolvedOrder, side: Side, part: Part, subject: str) -> list[Entity]:
    title = f"{order.serial} {side} {part.upper()}, revision {order.order.revision}, {subject}"
    lines = [title, "1:1 in mm, outside face up.", *CAUTIONS]
    return list(note_texts(lines, part_section(order.rail, part).developed_width))
