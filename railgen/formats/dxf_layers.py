"""How the layers of cut files look."""

from __future__ import annotations

from railgen.formats.cut_entities import BEND, HOLES, MARK, NOTE, OUTLINE, SECOND, SLOTS

COLOURS = {OUTLINE: 7, HOLES: 1, SLOTS: 30, BEND: 5, SECOND: 6, MARK: 3, NOTE: 8}
"""AutoCAD colour index of each layer."""
DASHED_LAYERS = (BEND,)
"""Layers drawn with centre lines."""
