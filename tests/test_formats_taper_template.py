"""The taper's template, read back, against the taper's own sizes."""

from __future__ import annotations

from math import hypot
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from builders import SECTION, rail_shape, resolved_order

from railgen.formats.cut_entities import BEND, MARK, NOTE, Line, Point, Text
from railgen.formats.cut_file import CutFile, read_cut_file
from railgen.formats.taper_template import taper_entities, taper_file
from railgen.frame.rail import RailShape
from railgen.holes.table import SIDES

RAIL = rail_shape("after-forming")


def read(folder: Path, rail: RailShape, side: str, version: str = "R12") -> CutFile:
    file = folder / "taper.dxf"
    file.write_bytes(taper_file(resolved_order(rail), side, version))  # type: ignore[arg-type]
    assert not ezdxf.readfile(file).audit().errors
    return read_cut_file(file)


def in_web(rail: RailShape, side: str, x: float) -> float:
    """Station of a template's x."""
    return rail.front + (rail.blank_length - x if side == "RH" else x)


@pytest.mark.parametrize("version", ["R12", "R2018"])
@pytest.mark.parametrize("taper", ["after-forming", "in-blank"])
@pytest.mark.parametrize("side", SIDES)
def test_cut_is_the_tapers(side: str, taper: str, version: str, tmp_path: Path) -> None:
    rail = rail_shape(taper)  # type: ignore[arg-type]
    shape, drawn = rail.taper, read(tmp_path, rail, side, version)
    assert shape is not None
    (cut,) = drawn.second_cuts
    points = [(in_web(rail, side, x), z) for x, z, _ in cut.vertices]
    assert sorted(z for x, z in points if x == pytest.approx(shape.blank_rear, abs=1e-6)) == pytest.approx(
        [float(shape.lower_cut_z(shape.blank_rear)), shape.apex[1]], abs=1e-6
    )
    on_hole = [point for point in points if hypot(point[0] - shape.apex[0], point[1] - shape.apex[1]) < 20]
    assert len(on_hole) == 3
    for x, z in on_hole:
        assert hypot(x - shape.apex[0], z - shape.apex[1]) == pytest.approx(shape.relief_radius, abs=1e-6)
    (mark,) = drawn.features
    assert (in_web(rail, side, mark.x), mark.y) == pytest.approx(shape.apex, abs=1e-6)


@pytest.mark.parametrize("side", SIDES)
def test_fold_and_edge(side: str, tmp_path: Path) -> None:
    drawn = read(tmp_path, RAIL, side)
    (fold,) = drawn.bends
    assert RAIL.taper is not None
    assert [in_web(RAIL, side, x) for x in (fold.x1, fold.x2)] == pytest.approx([RAIL.taper.start] * 2, abs=1e-6)
    edge = np.array(drawn.outline.vertices)
    stations = [in_web(RAIL, side, x) for x in edge[:, 0]]
    assert max(stations) == pytest.approx(RAIL.taper.blank_rear, abs=1e-6)
    assert min(stations) < RAIL.taper.front
    assert (edge[:, 1].min(), edge[:, 1].max()) == (0, SECTION.depth)


def test_rh_template_is_the_mirror_image(tmp_path: Path) -> None:
    left, right = (taper_entities(resolved_order(RAIL), side) for side in SIDES)  # type: ignore[arg-type]
    for layer in (BEND, MARK, NOTE):
        lines = [[e for e in drawn if isinstance(e, Line) and e.layer == layer] for drawn in (left, right)]
        assert len(lines[0]) == len(lines[1]) > 0
        for a, b in zip(*lines, strict=True):
            assert (RAIL.blank_length - a.x1, RAIL.blank_length - a.x2) == pytest.approx((b.x1, b.x2), abs=2e-8)
            assert (a.y1, a.y2) == (b.y1, b.y2)
    (a,), (b,) = ([e for e in drawn if isinstance(e, Point)] for drawn in (left, right))
    assert RAIL.blank_length - a.x == pytest.approx(b.x, abs=2e-8)


def test_words() -> None:
    for side in SIDES:
        drawn = taper_entities(resolved_order(RAIL), side)  # type: ignore[arg-type]
        stamped = [e.text for e in drawn if isinstance(e, Text) and e.layer == MARK]
        notes = " ".join(e.text for e in drawn if isinstance(e, Text) and e.layer == NOTE)
        assert stamped == [f"P-1001 {side} TAPER", "FRONT"]
        assert "Relief hole 24 mm, root gap 3 mm, 15 mm to trim" in notes
        assert "release of the responsible chassis engineer" in notes


def test_no_line_lies_on_another() -> None:
    drawn = taper_entities(resolved_order(RAIL), "LH")
    ends = [frozenset([(e.x1, e.y1), (e.x2, e.y2)]) for e in drawn if isinstance(e, Line)]
    assert len(set(ends)) == len(ends)


def test_rail_without_a_taper_has_none() -> None:
    with pytest.raises(ValueError, match="no tail taper"):
        taper_file(resolved_order(rail_shape()), "LH")
