"""holes.csv: what is written, read back, and refused."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from builders import Hole, rail_shape, rail_table
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.data.messages import InputError
from railgen.data.reading import Source
from railgen.formats.hole_table import COLUMNS, _problems, hole_rows, hole_table_csv, read_hole_table
from railgen.holes.table import FACES, PARTS, SIDES

RAIL = rail_shape("after-forming", liner=True)
HOLES = [
    Hole(1000, 150, fastener="M16x1.5", owners=("plate", "bracket"), component="stay", tool="round-17", feature="h1"),
    Hole(-800, 60, face="top", shape="slot", diameter=9, length=20, angle=30),
    Hole(4500, 238, shape="rectangle", diameter=20, length=40, angle=5.5),
    Hole(-600, 150, shape="mark", fastener="stud M8", operation="stud"),
    Hole(-600, 60, face="bottom", operation="drill"),
]
HEADER = (
    "serial,side,part,hole,face,station_mm,across_mm,blank_x_mm,blank_y_mm,shape,diameter_mm,length_mm,"
    "angle_deg,tool,components,fastener,operation"
)


def written(folder: Path, content: bytes) -> Path:
    file = folder / "holes.csv"
    file.write_bytes(content)
    return file


def test_columns_and_cells() -> None:
    table = rail_table(rail_shape(), HOLES[:4])
    lines = hole_table_csv("P-1001", table).decode().split("\n")
    assert lines[0] == HEADER
    assert lines[-1] == ""
    assert len(lines) == 2 + len(table)
    rows = {row["shape"]: row for row in csv.DictReader(lines) if row["side"] == "LH"}
    assert rows["round"] == {
        "serial": "P-1001",
        "side": "LH",
        "part": "rail",
        "hole": "stay.1.h1",
        "face": "web",
        "station_mm": "1000.000000000",
        "across_mm": "150.000000000",
        "blank_x_mm": "2000.000000000",
        "blank_y_mm": f"{table.v[(table.shape == 0) & (table.side == 0)][0]:.9f}",
        "shape": "round",
        "diameter_mm": "17.000000000",
        "length_mm": "",
        "angle_deg": "",
        "tool": "round-17",
        "components": "bracket;plate;stay",
        "fastener": "M16x1.5",
        "operation": "punch",
    }
    slot = rows["slot"]
    assert (slot["diameter_mm"], slot["length_mm"], slot["angle_deg"]) == (
        "9.000000000",
        "20.000000000",
        "30.000000000",
    )
    mark = rows["mark"]
    assert (mark["diameter_mm"], mark["length_mm"], mark["angle_deg"], mark["fastener"]) == ("", "", "", "stud M8")


def test_rows_are_in_order_and_no_zero_has_a_minus() -> None:
    shuffled = rail_table(RAIL, [*HOLES, Hole(-1e-12, 150), Hole(2e-12, 140), Hole(2000, 100), Hole(-1000, 150)])
    shuffled = shuffled.rows(np.random.default_rng(3).permutation(len(shuffled)))
    content = hole_table_csv("P-1001", shuffled).decode()
    assert "-0.000000000" not in content
    keys = [
        (
            SIDES.index(r["side"]),
            PARTS.index(r["part"]),
            FACES.index(r["face"]),
            float(r["station_mm"]),
            float(r["across_mm"]),
        )
        for r in csv.DictReader(content.splitlines())
    ]
    assert keys == sorted(keys)
    assert len(keys) == len(shuffled)


SOME_HOLES = st.builds(
    Hole,
    st.floats(-1000, 5000),
    st.floats(40, 260),
    st.floats(1, 100),
    shape=st.sampled_from(["round", "slot", "rectangle", "mark"]),
    length=st.floats(101, 300),
    angle=st.floats(0, 179.9),
    operation=st.sampled_from(["punch", "drill"]),
    fastener=st.sampled_from(["", "M12x1.25", "1/2-20"]),
)


@given(st.lists(SOME_HOLES, min_size=1, max_size=15))
@settings(max_examples=40, deadline=None)
def test_round_trip(tmp_path_factory: pytest.TempPathFactory, holes: list[Hole]) -> None:
    table = rail_table(rail_shape(liner=True), holes)
    content = hole_table_csv("S-3001", table)
    rows = read_hole_table(written(tmp_path_factory.mktemp("csv"), content))
    assert len(rows) == len(table)
    assert set(rows.serial) == {"S-3001"}
    places = (table.station, table.across, table.blank_x, table.v)
    expected = {
        (SIDES[table.side[row]], PARTS[table.part[row]], table.hole_id(row)): [column[row] for column in places]
        for row in range(len(table))
    }
    read = zip(rows.station_mm, rows.across_mm, rows.blank_x_mm, rows.blank_y_mm, strict=True)
    for key, place in zip(zip(rows.side, rows.part, rows.hole, strict=True), read, strict=True):
        assert list(place) == pytest.approx(expected.pop(key), abs=6e-10)
    assert not expected
    long_shape = np.isin(rows.shape, ("slot", "rectangle"))
    assert (np.isnan(rows.length_mm) == ~long_shape).all()
    assert (np.isnan(rows.angle_deg) == ~long_shape).all()
    assert (np.isnan(rows.diameter_mm) == (np.array(rows.shape) == "mark")).all()


def test_table_of_nothing_is_a_header(tmp_path: Path) -> None:
    table = rail_table(rail_shape(), HOLES[:1])
    content = hole_table_csv("P-1001", table.rows(np.zeros(len(table), dtype=bool)))
    assert content.decode() == HEADER + "\n"
    assert len(read_hole_table(written(tmp_path, content))) == 0


GOOD = hole_table_csv("P-1001", rail_table(RAIL, HOLES)).decode()
LINES = GOOD.splitlines()


def with_cell(column: str, value: str, line: int = 2) -> str:
    lines = list(LINES)
    cells = lines[line - 1].split(",")
    cells[COLUMNS.index(column)] = value
    lines[line - 1] = ",".join(cells)
    return "\n".join(lines) + "\n"


ROUND = next(number for number, line in enumerate(LINES, 1) if ",round," in line)
SLOT = next(number for number, line in enumerate(LINES, 1) if ",slot," in line)
BROKEN = {
    "empty": ("", "column serial"),
    "a column missing": (GOOD.replace(",tool", "", 1), "line 1, column tool"),
    "a column misspelt": (GOOD.replace("across_mm", "accross_mm", 1), "Did you mean 'across_mm'?"),
    "a column twice": (GOOD.replace("length_mm", "angle_deg", 1), "angle_deg again"),
    "columns swapped": (GOOD.replace("serial,side", "side,serial", 1), "the columns in the order serial,side"),
    "a cell too many": (GOOD.replace("\nP-1001", "\nP-1001,P-1001", 1), "line 2: found 18 cells"),
    "no such side": (with_cell("side", "left"), "line 2, column side"),
    "no such operation": (with_cell("operation", "punsh"), "Did you mean 'punch'?"),
    "a word for a number": (with_cell("station_mm", "front"), "line 2, column station_mm"),
    "not a number": (with_cell("across_mm", "nan", 3), "line 3, column across_mm"),
    "endless": (with_cell("blank_x_mm", "inf"), "line 2, column blank_x_mm"),
    "empty number": (with_cell("blank_y_mm", ""), "line 2, column blank_y_mm"),
    "a hole of no size": (with_cell("diameter_mm", "0", ROUND), f"line {ROUND}, column diameter_mm"),
    "a round hole with a length": (with_cell("length_mm", "20", ROUND), "a round has none"),
    "a slot without a length": (with_cell("length_mm", "", SLOT), f"line {SLOT}, column length_mm"),
    "an angle too great": (with_cell("angle_deg", "180", SLOT), f"line {SLOT}, column angle_deg"),
    "no owner": (with_cell("components", ""), "line 2, column components"),
    "an empty owner": (with_cell("components", "a;;b"), "line 2, column components"),
    "an open quote": (GOOD.replace("P-1001", '"P-1001', 1), "separated values"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_file_is_refused(name: str, tmp_path: Path) -> None:
    content, words = BROKEN[name]
    assert content != GOOD
    with pytest.raises(InputError) as refused:
        read_hole_table(written(tmp_path, content.encode()))
    assert words in str(refused.value)


@settings(max_examples=150, deadline=None)
@given(
    row=st.integers(1, 9),
    column=st.integers(0, 16),
    cell=st.sampled_from(["", "0", "-1", "180", "nan", "x", "a;", "1e9", " "]),
)
def test_no_cell_is_taken_for_right_by_columns_and_for_wrong_by_rows(row: int, column: int, cell: str) -> None:
    """Columns are checked first; what they refuse must be named by the rows, and the other way round."""
    lines = [line.split(",") for line in hole_table_csv("P-1001", rail_table(RAIL, HOLES)).decode().splitlines()]
    lines[row][column] = cell
    problems = list(_problems("holes.csv", row + 1, lines[row]))
    source = Source("holes.csv", "\n".join(map(",".join, lines)).encode())
    if not problems:
        assert len(hole_rows(source)) == len(lines) - 1
        return
    with pytest.raises(InputError) as error:
        hole_rows(source)
    assert list(error.value.problems) == problems


def test_all_problems_at_once(tmp_path: Path) -> None:
    content = with_cell("side", "left").replace("station_mm", "station_mm").replace("\nP-1001,RH", "\nP-1001,right")
    with pytest.raises(InputError) as refused:
        read_hole_table(written(tmp_path, content.encode()))
    assert len(refused.value.problems) == 1 + sum(line.startswith("P-1001,RH") for line in LINES)


def test_binary_junk_and_missing_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="byte 0xff"):
        read_hole_table(written(tmp_path, b"\xff\xfe" + bytes(50)))
    with pytest.raises(InputError, match="No such file"):
        read_hole_table(tmp_path / "none.csv")
