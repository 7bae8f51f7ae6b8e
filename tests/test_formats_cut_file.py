"""Cut files read back equal the hole table, on the right layers, both hands and all parts."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from builders import Hole, rail_shape, rail_table, resolved_order
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.data.messages import InputError
from railgen.formats.cut_entities import (
    BEND,
    HOLES,
    LAYERS,
    MARK,
    OUTLINE,
    SECOND,
    SLOTS,
    Circle,
    Entity,
    Line,
    Point,
    Text,
)
from railgen.formats.cut_entities import Path as DrawnPath
from railgen.formats.cut_file import CutFile, cut_entities, cut_file, read_cut_file
from railgen.frame.blank import blank_outline
from railgen.frame.contour import Contour, contour_points
from railgen.frame.development import blank_angle, liner_blank_angle, mirror_angle
from railgen.frame.panels import Panel
from railgen.frame.rail import RailShape, part_length, part_section
from railgen.holes.table import LINER, OPERATIONS, PARTS, SHAPES, SIDES, HoleTable

CENTRE, SIZE, ANGLE = 1e-6, 3e-6, 1e-4  # mm, mm, degrees

HOLES_OF_ALL_KINDS = [
    Hole(-800.123456789, 150, diameter=17),
    Hole(-700, 61.7, diameter=13, operation="drill"),
    Hole(-600, 180.03, diameter=17.5, operation="countersink", fastener="M16x1.5 flush"),
    Hole(-500, 120, diameter=11, shape="slot", length=27.3, angle=33.3),
    Hole(-400, 150, diameter=40, shape="rectangle", length=90, angle=12.5),
    Hole(-300, 150, diameter=40, shape="rectangle", length=40, corner_radius=8),
    Hole(-200, 150, shape="mark"),
    Hole(-150, 90, shape="mark", operation="stud"),
    Hole(-100, 55, diameter=9, face="top", shape="slot", length=20, angle=160),
    Hole(-50, 60, diameter=11, face="bottom"),
    Hole(0, 60, diameter=9, face="bottom", shape="slot", length=20, angle=20, operation="drill"),
    Hole(700.1, 140, diameter=17),
    Hole(900, 200, diameter=20, shape="slot", length=50, angle=80),
    Hole(1200, 100, diameter=9, operation="countersink", fastener="M16x1.5 flush"),
    Hole(1300, 66, diameter=9, face="top", shape="slot", length=20, angle=100),
    Hole(3200, 150, diameter=11, shape="rectangle", length=22, corner_radius=30),
    Hole(4300, 250.5, diameter=17),
    Hole(4500, 238, diameter=9, shape="slot", length=22, angle=175),
    Hole(4200, 60, diameter=11, face="top", shape="slot", length=30, angle=45),
    Hole(4600, 70, diameter=13),
    *(Hole(1500, 100 + 30 * i, diameter=14, sides=("LH",)) for i in range(3)),
    *(Hole(1700, 100 + 30 * i, diameter=14, sides=("RH",)) for i in range(2)),
]
RAILS = {
    "plain": rail_shape(),
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}
PARTS_OF = {name: PARTS if rail.liner else PARTS[:1] for name, rail in RAILS.items()}
BLANKS = [(name, side, part) for name in RAILS for side in SIDES for part in PARTS_OF[name]]


def written(folder: Path, content: bytes) -> Path:
    file = folder / "blank.dxf"
    file.write_bytes(content)
    return file


def corner_radius(table: HoleTable, row: int, thickness: float) -> float:
    """Design: max(0.5 t, 3 mm) unless a larger one is given; never more than half the shorter side."""
    if SHAPES[table.shape[row]] != "rectangle":
        return 0.0
    return min(max(0.5 * thickness, 3.0, table.corner_radius[row]), min(table.diameter[row], table.length[row]) / 2)


def drawn_angle(rail: RailShape, table: HoleTable, row: int) -> float:
    if table.part[row] == LINER:
        angle = liner_blank_angle(table.face[row], table.angle[row])
    else:
        angle = blank_angle(rail, table.panel[row], table.angle[row])
    return float(mirror_angle(angle) if SIDES[table.side[row]] == "RH" else angle)


def expected_layer(table: HoleTable, row: int) -> str:
    shape = SHAPES[table.shape[row]]
    if shape == "mark":
        return MARK
    if OPERATIONS[table.operation[row]] != "punch":
        return SECOND
    return HOLES if shape == "round" else SLOTS


def check_against_table(drawn: CutFile, rail: RailShape, table: HoleTable, side: str, part: str) -> None:
    rows = np.flatnonzero((table.side == SIDES.index(side)) & (table.part == PARTS.index(part)))
    assert len(drawn.features) == len(rows) > 0
    left = list(drawn.features)
    for row in rows.tolist():
        x, y = table.blank_x[row], table.v[row]
        feature = min(left, key=lambda f: np.hypot(f.x - x, f.y - y))
        left.remove(feature)
        shape = SHAPES[table.shape[row]]
        assert (feature.layer, feature.shape) == (expected_layer(table, row), shape)
        assert np.hypot(feature.x - x, feature.y - y) <= CENTRE
        if shape != "mark":
            assert feature.diameter == pytest.approx(table.diameter[row], abs=SIZE)
        if shape in ("slot", "rectangle"):
            assert feature.length == pytest.approx(table.length[row], abs=SIZE)
            thickness = part_section(rail, part).thickness
            assert feature.corner_radius == pytest.approx(corner_radius(table, row, thickness), abs=SIZE)
            turn = 90 if table.length[row] == table.diameter[row] else 180
            off = (feature.angle - drawn_angle(rail, table, row)) % turn
            assert min(off, turn - off) < ANGLE


@pytest.mark.parametrize("version", ["R12", "R2018"])
@pytest.mark.parametrize(("name", "side", "part"), BLANKS)
def test_file_equals_table(name: str, side: str, part: str, version: str, tmp_path: Path) -> None:
    rail = RAILS[name]
    table = rail_table(rail, HOLES_OF_ALL_KINDS)
    assert name != "cut later" or {Panel.TAIL_WEB, Panel.TAIL_TOP} <= set(table.panel.tolist())
    file = written(tmp_path, cut_file(resolved_order(rail), table, side, part, version=version))
    document = ezdxf.readfile(file)
    assert not document.audit().errors
    assert document.acad_release == version
    assert {entity.dxftype() for entity in document.modelspace()} <= {
        *("CIRCLE", "LINE", "POINT", "TEXT"),
        "POLYLINE" if version == "R12" else "LWPOLYLINE",
    }
    check_against_table(read_cut_file(file), rail, table, side, part)


@pytest.mark.parametrize("version", ["R12", "R2018"])
@pytest.mark.parametrize(("name", "side", "part"), BLANKS)
def test_both_kinds_of_file_hold_the_entities_given(
    name: str, side: str, part: str, version: str, tmp_path: Path
) -> None:
    order, table = resolved_order(RAILS[name]), rail_table(RAILS[name], HOLES_OF_ALL_KINDS)
    drawn = cut_entities(order, table, side, part)
    read = read_cut_file(written(tmp_path, cut_file(order, table, side, part, version=version))).entities
    assert list(read) == drawn


def test_outline_is_the_blank(tmp_path: Path) -> None:
    for name, side, part in BLANKS:
        rail = RAILS[name]
        table = rail_table(rail, HOLES_OF_ALL_KINDS)
        drawn = read_cut_file(written(tmp_path, cut_file(resolved_order(rail), table, side, part)))
        assert drawn.outline.closed
        vertices = np.array(drawn.outline.vertices)
        read = shapely.Polygon(contour_points(Contour(vertices[:, :2], vertices[:, 2])))
        points = contour_points(blank_outline(rail, part))
        if side == "RH":
            points = points * [-1, 1] + [part_length(rail, part), 0]
        assert read.is_valid
        assert read.symmetric_difference(shapely.Polygon(points)).area < 1e-3
        assert len(drawn.second_cuts) == (1 if name == "cut later" else 0)
        assert len(drawn.bends) == (3 if rail.taper and part == "rail" else 2)


def test_drilled_and_countersunk_are_on_second_alone() -> None:
    holes = [Hole(100 * i, 150, operation=("drill", "countersink")[i % 2]) for i in range(20)]
    rail = rail_shape()
    drawn = cut_entities(resolved_order(rail), rail_table(rail, holes), "LH", "rail")
    assert Counter(entity.layer for entity in drawn if isinstance(entity, Circle)) == {SECOND: 20}


def test_countersunk_is_drilled_through_the_liner() -> None:
    rail = rail_shape(liner=True)
    table = rail_table(rail, [Hole(1000, 150, operation="countersink", fastener="M16x1.5 flush")])
    seat = "countersink from the outside face for M16x1.5 flush, seat 32 mm"
    for part, words in (("rail", seat), ("liner", "drill")):
        drawn = cut_entities(resolved_order(rail), table, "LH", part)
        assert [e.layer for e in drawn if isinstance(e, Circle)] == [SECOND]
        assert any(words in e.text for e in drawn if isinstance(e, Text))


def mirrored(entity: Entity, length: float) -> object:
    """An entity without regard to direction and first vertex, mirrored where length is above 0; to a nanometre."""

    def at(x: float, y: float) -> tuple[float, float]:
        return round(length - x if length else x, 8) + 0.0, round(y, 8)

    if isinstance(entity, Circle):
        return entity.layer, at(entity.x, entity.y), entity.radius
    if isinstance(entity, Point):
        return entity.layer, at(entity.x, entity.y)
    if isinstance(entity, Line):
        return entity.layer, frozenset([at(entity.x1, entity.y1), at(entity.x2, entity.y2)])
    assert isinstance(entity, DrawnPath)
    points = [at(x, y) for x, y, _ in entity.vertices]
    following = points[1:] + points[:1] if entity.closed else points[1:]
    bulges = [abs(bulge) for _, _, bulge in entity.vertices]
    pieces = zip(points, following, bulges, strict=False)
    return entity.layer, frozenset((frozenset([a, b]), bulge) for a, b, bulge in pieces)


def about_equal(first: object, second: object) -> bool:
    """Whether two mirrored entities agree to 2e-8 mm, wherever their numbers were rounded."""
    if isinstance(first, float) and isinstance(second, float):
        return abs(first - second) < 2e-8
    if isinstance(first, tuple) and isinstance(second, tuple):
        return len(first) == len(second) and all(map(about_equal, first, second))
    if isinstance(first, frozenset) and isinstance(second, frozenset):
        return len(first) == len(second) and all(any(about_equal(a, b) for b in second) for a in first)
    return first == second


@pytest.mark.parametrize("name", RAILS)
def test_mirrored_lh_is_rh(name: str) -> None:
    rail = RAILS[name]
    table = rail_table(rail, [hole for hole in HOLES_OF_ALL_KINDS if len(hole.sides) == 2])
    for part in PARTS_OF[name]:
        length = part_length(rail, part)
        per_layer = []
        for side, mirror in (("LH", length), ("RH", 0.0)):
            drawn = cut_entities(resolved_order(rail), table, side, part)
            layers = {layer: [e for e in drawn if e.layer == layer and not isinstance(e, Text)] for layer in LAYERS}
            per_layer.append({layer: [mirrored(e, mirror) for e in found] for layer, found in layers.items()})
        left, right = per_layer
        for layer in (OUTLINE, HOLES, SLOTS, SECOND, BEND, MARK):
            assert len(left[layer]) == len(right[layer])
            assert all(any(about_equal(a, b) for b in right[layer]) for a in left[layer]), layer
        assert left[OUTLINE]
        assert left[BEND]
        assert left[MARK]


@pytest.mark.parametrize(("name", "side", "part"), BLANKS)
def test_nothing_is_drawn_twice(name: str, side: str, part: str) -> None:
    rail = RAILS[name]
    drawn = cut_entities(resolved_order(rail), rail_table(rail, HOLES_OF_ALL_KINDS), side, part)
    seen = Counter(mirrored(entity, 0.0)[1:] for entity in drawn if not isinstance(entity, Text))
    assert max(seen.values()) == 1
    edges = [edge for entity in drawn if isinstance(entity, DrawnPath) for edge in mirrored(entity, 0.0)[1]]
    edges += [(mirrored(entity, 0.0)[1], 0.0) for entity in drawn if isinstance(entity, Line)]
    assert len(set(edges)) == len(edges)


@pytest.mark.parametrize(("side", "towards_front"), [("LH", -1), ("RH", 1)])
def test_arrow_points_at_the_front_end(side: str, towards_front: int) -> None:
    rail = rail_shape()
    drawn = cut_entities(resolved_order(rail), rail_table(rail, HOLES_OF_ALL_KINDS), side, "rail")
    shaft, *barbs = (entity for entity in drawn if isinstance(entity, Line) and entity.layer == MARK)
    assert (shaft.x1 - shaft.x2) * towards_front > 0
    assert len(barbs) == 2
    for barb in barbs:
        assert (barb.x1, barb.y1) == (shaft.x1, shaft.y1)
        assert (barb.x1 - barb.x2) * towards_front > 0


def test_stamp_names_serial_part_and_hand() -> None:
    rail = rail_shape(liner=True)
    for side in SIDES:
        for part in PARTS:
            drawn = cut_entities(resolved_order(rail, "T-2001"), rail_table(rail, HOLES_OF_ALL_KINDS), side, part)
            stamped = [entity.text for entity in drawn if isinstance(entity, Text) and entity.layer == MARK]
            assert stamped == [f"T-2001 {side} {part.upper()}", "FRONT"]


def test_notes_carry_the_cautions_and_lie_off_the_steel() -> None:
    rail = rail_shape(liner=True)
    for part in PARTS:
        drawn = cut_entities(resolved_order(rail), rail_table(rail, HOLES_OF_ALL_KINDS), "RH", part)
        notes = [entity for entity in drawn if isinstance(entity, Text) and entity.layer == "NOTE"]
        text = " ".join(note.text for note in notes)
        assert "release of the responsible chassis engineer" in text
        assert "local rules" in text
        assert min(note.y for note in notes) > part_section(rail, part).developed_width
        assert {entity.layer for entity in drawn} <= set(LAYERS)


def test_part_without_room_says_so() -> None:
    rail = rail_shape()
    feet = np.array([[rail.front, 0.0, rail.rear, 300.0]])
    drawn = cut_entities(resolved_order(rail), rail_table(rail, [Hole(0, 150)]), "LH", "rail", feet)
    assert not [entity for entity in drawn if entity.layer == MARK]
    assert any("mark the part by hand" in entity.text for entity in drawn if isinstance(entity, Text))


def test_serial_without_holes_has_an_outline(tmp_path: Path) -> None:
    rail = rail_shape()
    table = rail_table(rail, [Hole(0, 150, sides=("LH",))])
    read = read_cut_file(written(tmp_path, cut_file(resolved_order(rail), table, "RH", "rail")))
    assert read.features == ()
    assert len(read.outline.vertices) == 4


SLOTS_ANYWHERE = st.tuples(st.floats(-950, 4950), st.floats(60, 240), st.floats(5, 40), st.floats(0, 179.999))


@given(st.lists(SLOTS_ANYWHERE, max_size=12))
@settings(max_examples=25, deadline=None)
def test_any_slots_and_holes_come_back(tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[float, ...]]) -> None:
    rail = rail_shape()
    spread = {round(x): (x, z, d, a) for x, z, d, a in rows}.values()
    holes = [Hole(1, 150), *(Hole(x, z, d, shape="slot", length=2.5 * d, angle=a) for x, z, d, a in spread)]
    table = rail_table(rail, holes)
    folder = tmp_path_factory.mktemp("cut")
    for side in SIDES:
        read = read_cut_file(written(folder, cut_file(resolved_order(rail), table, side, "rail")))
        check_against_table(read, rail, table, side, "rail")


GOOD = cut_file(resolved_order(rail_shape()), rail_table(rail_shape(), HOLES_OF_ALL_KINDS), "LH", "rail")
BROKEN = {
    "empty": (b"", "DXF"),
    "words": (b"this is a letter to the press shop\n", "DXF"),
    "binary": (bytes(range(256)) * 40, "DXF"),
    "half of it": (GOOD[: len(GOOD) // 2], "DXF"),
    "a number lost": (GOOD.replace(b"0\nCIRCLE\n8\nHOLES\n10\n", b"0\nCIRCLE\n8\nHOLES\n10\nx", 1), "DXF"),
    "an unknown layer": (GOOD.replace(b"CIRCLE\n8\nHOLES", b"CIRCLE\n8\nHOLE", 1), "one of BEND, HOLES"),
    "a circle on a wrong layer": (GOOD.replace(b"CIRCLE\n8\nHOLES", b"CIRCLE\n8\nSLOTS", 1), "circle on SLOTS"),
    "an open slot": (GOOD.replace(b"8\nSLOTS\n66\n1\n70\n1", b"8\nSLOTS\n66\n1\n70\n0", 1), "open polyline on SLOTS"),
    "no outline": (GOOD.replace(b"8\nOUTLINE\n66", b"8\nNOTE\n66", 1), "0 closed contours"),
    "another contour": (GOOD.replace(b"42\n1.000000000000", b"42\n0.500000000000", 1), "a slot or a rectangle"),
    "a solid": (GOOD.replace(b"0\nPOINT\n8\nMARK", b"0\n3DFACE\n8\nMARK", 1), "3DFACE"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_damaged_file_is_refused(name: str, tmp_path: Path) -> None:
    content, words = BROKEN[name]
    assert content != GOOD
    with pytest.raises(InputError) as refused:
        read_cut_file(written(tmp_path, content))
    assert all(problem.file.endswith("blank.dxf") for problem in refused.value.problems)
    assert words in str(refused.value)


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="No such file"):
        read_cut_file(tmp_path / "none.dxf")
    with pytest.raises(InputError, match="DXF file that can be read"):
        read_cut_file(tmp_path)
