"""Where the stamped text goes, against a plain search, and clear of everything on whole blanks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from builders import Hole, no_placements, rail_shape, rail_table, resolved_order, small_library
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.data.component import Component
from railgen.formats.cut_entities import BEND, MARK, NOTE, Circle, Entity, Line, Path, Point, Text
from railgen.formats.cut_file import cut_entities
from railgen.formats.feet import web_feet
from railgen.formats.stamp import CLEARANCE, find_place, free_corner, stamp_size
from railgen.formats.taper_template import taper_entities
from railgen.frame.contour import Contour, contour_points
from railgen.frame.panels import Face
from railgen.frame.rail import part_section
from railgen.holes.table import PARTS, SIDES
from railgen.layout.plan import Placements

STEEL = (30.0, 970.0, 40.0, 230.0)


def brute_force(obstacles: np.ndarray, size: tuple[float, float]) -> tuple[float, float] | None:
    """Every row, every obstacle's end as a beginning, one after the other."""
    u_from, u_to, v_from, v_to = STEEL
    spare = v_to - v_from - size[1]
    rows = sorted((v_from + spare / 2 + 5 * n for n in range(-40, 41)), key=lambda v: abs(v - v_from - spare / 2))
    best = None
    for v in rows:
        if v < v_from - 1e-9 or v > v_from + spare + 1e-9:
            continue
        for u in sorted([u_from, *(u2 + CLEARANCE for _, _, u2, _ in obstacles)]):
            if u < u_from or u + size[0] > u_to:
                continue
            clear = all(
                (u2 + CLEARANCE <= u or u1 - CLEARANCE >= u + size[0])
                or (v2 + CLEARANCE <= v or v1 - CLEARANCE >= v + size[1])
                for u1, v1, u2, v2 in obstacles
            )
            if clear:
                if best is None or u < best[0]:
                    best = (u, v)
                break
    return best


BOXES = st.tuples(st.integers(-50, 1000), st.integers(0, 260), st.integers(1, 90), st.integers(1, 60))


@given(st.lists(BOXES, max_size=40))
@settings(max_examples=150, deadline=None)
def test_place_is_the_foremost_free_one(boxes: list[tuple[int, int, int, int]]) -> None:
    obstacles = np.array([(u, v, u + w, v + h) for u, v, w, h in boxes], dtype=np.float64).reshape(-1, 4)
    size = stamp_size("P-1001 LH RAIL", 10.0, 2)
    found, expected = free_corner(STEEL, obstacles, size), brute_force(obstacles, size)
    assert (found is None) == (expected is None)
    if found and expected:
        assert found[0] == pytest.approx(expected[0])
        assert abs(found[1] - 121) == pytest.approx(abs(expected[1] - 121))


def test_smaller_letters_and_one_row_where_there_is_less_room() -> None:
    nothing = np.empty((0, 4))
    assert find_place("P-1001 LH RAIL", STEEL, nothing).height == 10  # type: ignore[union-attr]
    flat = find_place("P-1001 LH RAIL", (30, 970, 40, 55), nothing)
    assert flat is not None
    assert (flat.height, flat.rows) == (10, 1)
    short = find_place("P-1001 LH RAIL", (30, 140, 40, 230), nothing)
    assert short is not None
    assert (short.height, short.rows) == (7, 2)
    assert find_place("P-1001 LH RAIL", (30, 70, 40, 230), nothing) is None


def stamped_box(drawn: list[Entity], text_width: float = 1.0) -> shapely.Polygon:
    """Box round everything stamped, letters as wide as they are high."""
    points = []
    for entity in drawn:
        if entity.layer != MARK:
            continue
        if isinstance(entity, Text):
            half = text_width * entity.height * len(entity.text) / 2
            points += [(entity.x - half, entity.y - entity.height / 2), (entity.x + half, entity.y + entity.height / 2)]
        elif isinstance(entity, Line):
            points += [(entity.x1, entity.y1), (entity.x2, entity.y2)]
    low, high = np.min(points, axis=0), np.max(points, axis=0)
    return shapely.box(*low, *high)


def steel_shapes(drawn: list[Entity]) -> list[shapely.Geometry]:
    """Everything else that is drawn on the steel."""
    shapes: list[shapely.Geometry] = []
    for entity in drawn:
        if isinstance(entity, Circle):
            shapes.append(shapely.Point(entity.x, entity.y).buffer(entity.radius))
        elif isinstance(entity, Path):
            vertices = np.array(entity.vertices)
            points = contour_points(Contour(vertices[:, :2], vertices[:, 2], entity.closed))
            shapes.append(shapely.LinearRing(points) if entity.closed else shapely.LineString(points))
        elif isinstance(entity, Point):
            shapes.append(shapely.Point(entity.x, entity.y))
        elif isinstance(entity, Line) and entity.layer in (BEND, NOTE):
            shapes.append(shapely.LineString([(entity.x1, entity.y1), (entity.x2, entity.y2)]))
    return shapes


def crowded(seed: int) -> list[Hole]:
    chance = np.random.default_rng(seed)
    places = [(x, z) for x in np.arange(-960, 3650, 55.0) for z in np.arange(50, 260, 48.0)]
    kept = [place for place in places if chance.random() < 0.93]
    return [
        Hole(x + chance.uniform(-8, 8), z + chance.uniform(-8, 8), diameter=chance.choice([9, 17, 22]), sides=(side,))
        for x, z in kept
        for side in SIDES
    ]


@pytest.mark.parametrize("taper", ["", "after-forming", "in-blank"])
@pytest.mark.parametrize("seed", range(3))
def test_stamp_is_clear_of_everything(taper: str, seed: int) -> None:
    rail = rail_shape(taper, liner=True)  # type: ignore[arg-type]
    order, table = resolved_order(rail), rail_table(rail, crowded(seed))
    for side in SIDES:
        for part in PARTS:
            drawn = cut_entities(order, table, side, part)
            box = stamped_box(drawn)
            assert min(shapely.distance(box, steel_shapes(drawn))) >= CLEARANCE - 1e-3
            section = part_section(rail, part)
            _, low, _, high = box.bounds
            assert low >= section.web_lower_tangent_blank_y + CLEARANCE - 1e-3
            assert high <= section.web_upper_tangent_blank_y - CLEARANCE + 1e-3


@pytest.mark.parametrize("side", SIDES)
def test_template_is_stamped_clear_of_its_lines(side: str) -> None:
    drawn = taper_entities(resolved_order(rail_shape("after-forming")), side)  # type: ignore[arg-type]
    assert min(shapely.distance(stamped_box(drawn), steel_shapes(drawn))) >= CLEARANCE - 1e-3


BRACKET = Component.model_validate(
    {
        "id": "bracket",
        "name": "bracket",
        "options": ["ABC01"],
        "kind": "bracket",
        "side": "both",
        "position": {"anchor": "front_axle"},
        "footprints": [
            {
                "face": "web",
                "surface": "inside",
                "datum": "middle",
                "polygon": [[-100.0, -60.0], [300.0, -60.0], [300.0, 80.0]],
            },
            {"face": "top", "surface": "outside", "datum": "web", "polygon": [[0.0, 40.0], [90.0, 40.0], [90.0, 80.0]]},
        ],
    }
)


def placed(side: int, station: float, direction: float) -> Placements:
    one = np.array([0])
    return Placements(one, np.array([side]), one + 1, np.array([station]), np.array([direction]))


def test_feet_are_boxes_on_the_web() -> None:
    order = resolved_order(rail_shape(), library=small_library([BRACKET]))
    assert web_feet(order, placed(0, 500, 1), "LH").tolist() == [[400, 90, 800, 230]]
    assert web_feet(order, placed(1, 500, -1), "RH").tolist() == [[200, 90, 600, 230]]
    assert web_feet(order, placed(0, 500, 1), "RH").shape == (0, 4)
    assert web_feet(order, no_placements(), "LH").shape == (0, 4)


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("side", SIDES)
def test_stamp_is_clear_of_feet(side: str, part: str) -> None:
    rail = rail_shape(liner=True)
    order = resolved_order(rail, library=small_library([BRACKET]))
    table = rail_table(rail, [Hole(-100, 60)])
    start = rail.front if part == "rail" else 500.0
    feet = web_feet(order, placed(SIDES.index(side), start + 120, 1), side)  # type: ignore[arg-type]
    box = stamped_box(cut_entities(order, table, side, part, feet))  # type: ignore[arg-type]
    section, length = part_section(rail, part), rail.length if part == "rail" else 2000.0  # type: ignore[arg-type]
    lift = 0.0 if part == "rail" else rail.liner.offset_z  # type: ignore[union-attr]
    (u1, z1, u2, z2) = feet[0] - [start, lift, start, lift]
    foot = shapely.box(u1, section.blank_y(Face.WEB, z1), u2, section.blank_y(Face.WEB, z2))
    if side == "RH":
        foot = shapely.affinity.scale(foot, -1, 1, origin=(length / 2, 0))
    assert shapely.distance(box, foot) >= CLEARANCE - 1e-3
    without = stamped_box(cut_entities(order, table, side, part))  # type: ignore[arg-type]
    assert shapely.distance(without, foot) < CLEARANCE
