"""A DXF a tool or a layer: together they are the cut file, nothing twice and nothing left out."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from builders import Hole, rail_shape, rail_table, resolved_order
from shop_plans import PRESS, shop_library

from railgen.data.plant import Press
from railgen.formats.cut_entities import MARK, NOTE, OUTLINE, SECOND, Circle, Entity, Text
from railgen.formats.cut_file import cut_entities
from railgen.formats.dxf import DxfVersion, read_dxf
from railgen.formats.names import Side, tool_words
from railgen.formats.split_files import purpose_files, tool_files
from railgen.layout.plan import ResolvedOrder

RAIL = rail_shape("after-forming", liner=True)
HOLES = [
    *(Hole(100 * i, 150, diameter=17, tool="R 17") for i in range(9)),
    *(Hole(100 * i, 100, diameter=20, tool="R 20") for i in range(5)),
    Hole(2000, 100, diameter=11, shape="slot", length=30, angle=30, tool="S 11x30"),
    Hole(-300, 150, shape="mark", tool="marker"),
    Hole(-500, 150, diameter=9, operation="drill"),
]
TABLE = rail_table(RAIL, HOLES)
CRIB = ({"id": "R 17", "shape": "round", "diameter": 17.0}, {"id": "marker", "shape": "mark"})


def with_crib(*tools: dict[str, object]) -> ResolvedOrder:
    """The order on a press with these tools."""
    press = Press.model_validate(PRESS.model_dump() | {"tools": tools})
    return resolved_order(RAIL, library=replace(shop_library(), presses={press.id: press}))


ORDER = with_crib(*CRIB)


def entities(folder: Path, content: bytes) -> list[Entity]:
    file = folder / "part.dxf"
    file.write_bytes(content)
    return read_dxf(file)


@pytest.mark.parametrize("version", ["R12", "R2018"])
@pytest.mark.parametrize("side", ["LH", "RH"])
def test_a_file_a_tool(side: Side, version: DxfVersion, tmp_path: Path) -> None:
    files = tool_files(ORDER, TABLE, side, "rail", version=version)
    stem = f"P-1001-{side}-rail-tool-"
    assert sorted(files) == [f"{stem}{word}.dxf" for word in ("R-17", "R-20", "S-11x30", "marker")]
    whole = [e for e in cut_entities(ORDER, TABLE, side, "rail") if e.layer not in (NOTE, "BEND")]
    drawn: list[Entity] = []
    for content in files.values():
        found = entities(tmp_path, content)
        (edge,) = (e for e in found if e.layer == OUTLINE)
        assert edge in whole
        drawn += [e for e in found if e.layer not in (OUTLINE, NOTE)]
        assert any("release of the responsible chassis engineer" in e.text for e in found if isinstance(e, Text))
    assert Counter(drawn) == Counter(e for e in whole if e.layer not in (OUTLINE, SECOND))
    assert [e.text for e in entities(tmp_path, files[f"{stem}marker.dxf"]) if e.layer == MARK and isinstance(e, Text)]
    assert {e.radius for e in entities(tmp_path, files[f"{stem}R-17.dxf"]) if isinstance(e, Circle)} == {8.5}


@pytest.mark.parametrize("side", ["LH", "RH"])
def test_stamped_text_stands_in_the_marking_tools_file_though_it_makes_nothing_else(side: Side, tmp_path: Path) -> None:
    table = rail_table(RAIL, [hole for hole in HOLES if hole.shape != "mark"])
    files = tool_files(ORDER, table, side, "rail")
    (name,) = (name for name in files if "marker" in name)
    whole = [e for e in cut_entities(ORDER, table, side, "rail") if e.layer == MARK]
    found = entities(tmp_path, files[name])
    assert [e for e in found if e.layer == MARK] == whole != []
    assert any("tool marker, 0 off, and the stamped text" in e.text for e in found if isinstance(e, Text))
    assert not any("marker" in name for name in tool_files(with_crib(CRIB[0]), table, side, "rail"))


def test_titles_name_tool_and_number(tmp_path: Path) -> None:
    found = entities(tmp_path, tool_files(ORDER, TABLE, "LH", "liner")["P-1001-LH-liner-tool-R-17.dxf"])
    titles = [e.text for e in found if isinstance(e, Text)]
    assert titles[0] == "P-1001 LH LINER, revision A, tool R 17, 3 off"


@pytest.mark.parametrize("side", ["LH", "RH"])
def test_a_file_a_layer(side: Side, tmp_path: Path) -> None:
    files = purpose_files(ORDER, TABLE, side, "rail")
    layers = ["BEND", "HOLES", "MARK", "SECOND", "SLOTS"]
    assert sorted(files) == [f"P-1001-{side}-rail-layer-{layer}.dxf" for layer in layers]
    whole = cut_entities(ORDER, TABLE, side, "rail")
    for name, content in files.items():
        layer = name.removesuffix(".dxf").rsplit("-", 1)[1]
        found = entities(tmp_path, content)
        assert [e for e in found if e.layer == layer] == [e for e in whole if e.layer == layer] != []
        assert {e.layer for e in found} == {OUTLINE, layer, NOTE}
    assert any(isinstance(e, Text) for e in entities(tmp_path, files[f"P-1001-{side}-rail-layer-{MARK}.dxf"]))


def test_tools_whose_names_look_alike_in_file_names() -> None:
    assert tool_words(["R 17", "R/17", "r 17", "S 11x30", "marker"]) == {
        "R 17": "R-17",
        "R/17": "R-17-2",
        "S 11x30": "S-11x30",
        "marker": "marker",
        "r 17": "r-17-3",
    }
