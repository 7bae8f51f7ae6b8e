"""The inspection's command, files, pictures and run charts."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from inspection_cases import library, measured, places, rows_of, table
from register_folders import serial_folder

from railgen.cli.main import main
from railgen.data.inspection import Tolerances
from railgen.data.messages import InputError
from railgen.formats.hole_table import COLUMNS
from railgen.formats.inspection_file import inspection_json, read_inspection
from railgen.formats.measured import MeasuredRows, measured_csv, read_measured
from railgen.holes.inspection import Inspection
from railgen.records.inspect import Choices, inspect_parts
from railgen.records.inspect_chart import chart, limits_of, run_chart

NOMINAL = table()
BOTH = [*rows_of(NOMINAL, "LH"), *rows_of(NOMINAL, "RH")]
DEMO = Path(__file__).parent.parent / "hole_libraries"
HEADER = "part,side,face,station_mm,across_mm,diameter_mm\n"


def run(*arguments: object, code: int = 0) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return result


def hole_table_text() -> str:
    """NOMINAL as a holes.csv."""
    lines = [",".join(COLUMNS)]
    for row in range(len(NOMINAL)):
        numbers = (NOMINAL.station_mm, NOMINAL.across_mm, NOMINAL.blank_x_mm, NOMINAL.blank_y_mm)
        where = ",".join(f"{column[row]:.9f}" for column in numbers)
        head = f"{NOMINAL.serial[row]},{NOMINAL.side[row]},rail,{NOMINAL.hole[row]},{NOMINAL.face[row]},{where}"
        tail = f"{NOMINAL.tool[row]},{NOMINAL.components[row][0]},{NOMINAL.fastener[row]},punch"
        lines.append(f"{head},round,{NOMINAL.diameter_mm[row]:.9f},,,{tail}")
    return "\n".join([*lines, ""])


def measurement(seed: int = 0, scatter: float = 0.05, stretch: float = 0.0, wear: float = 0.0) -> MeasuredRows:
    rng = np.random.default_rng(seed)
    points = places(NOMINAL, BOTH) * [1 + stretch, 1.0] + rng.normal(0, scatter, (len(BOTH), 2))
    rows = measured(NOMINAL, BOTH, points)
    punched = np.array([NOMINAL.tool[row] == "R 17.5" for row in BOTH])
    rows.diameter_mm[punched] += 0.1 - wear + rng.normal(0, 0.005, int(punched.sum()))
    return rows


def inspection(serial: str = "P-1", on: str = "", **more: float) -> Inspection:
    parts, not_measured = inspect_parts(NOMINAL, measurement(**more), library(), Tolerances(), Choices())  # type: ignore[arg-type]
    return Inspection(serial, "A", "datums", 20.0, ("m.csv", "0" * 64), on, "a source", parts, not_measured)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A serial's folder with the hole table above; inspections are written beside it."""
    path = tmp_path / "out/P-1"
    path.mkdir(parents=True)
    (path / "P-1-holes.csv").write_text(hole_table_text())
    return path


def ask(folder: Path, rows: MeasuredRows | str, *more: object, code: int = 0) -> Result:
    file = folder.parent.parent / "shift-2.csv"
    file.write_bytes(rows.encode() if isinstance(rows, str) else measured_csv(rows))
    return run("inspect", "P-1", file, "--library", DEMO, "--output", folder.parent, *more, code=code)


def test_a_good_part_is_reported_with_files_of_the_same_bytes_every_time(folder: Path) -> None:
    result = ask(folder, measurement())
    assert result.output.count("within all tolerances") == 2
    written = folder.parent / "inspections/P-1-shift-2"
    names = ["inspection-LH-rail.svg", "inspection-RH-rail.svg", "inspection.csv", "inspection.json", "inspection.pdf"]
    before = {path.name: path.read_bytes() for path in written.iterdir()}
    assert sorted(before) == names
    ask(folder, measurement())
    assert {path.name: path.read_bytes() for path in written.iterdir()} == before
    assert len(before["inspection.csv"].decode().splitlines()) == len(NOMINAL) + 1


def test_a_bad_part_ends_with_1_and_names_the_holes(folder: Path) -> None:
    rows = measurement()
    rows.across_mm[10] += 4.0
    result = ask(folder, rows, "--json", code=1)
    plain = json.loads(result.output)
    (bad,) = [hole for hole in plain["parts"][0]["holes"] if "station" in hole["faults"]]
    assert bad["hole"] == NOMINAL.hole[BOTH[10]]
    assert bad["position_mm"] == pytest.approx(8.0, abs=0.4)
    assert not plain["good"]
    assert bad["hole"] in ask(folder, rows, code=1).output


def test_a_mirrored_rail_is_named_on_screen_and_sheet(folder: Path) -> None:
    rows = measurement()
    swapped = MeasuredRows(
        rows.part,
        tuple({"LH": "RH", "RH": "LH"}[side] for side in rows.side),
        rows.face,
        rows.station_mm,
        rows.across_mm,
        rows.diameter_mm,
    )
    assert "WRONG HAND: what was measured is the holes of the RH rail" in ask(folder, swapped, code=1).output


def test_inspections_come_back_from_their_file(tmp_path: Path) -> None:
    rows = measurement()
    kept = np.ones(len(rows), dtype=bool)
    kept[5] = False
    fewer = MeasuredRows(
        *(tuple(v for v, k in zip(column, kept, strict=True) if k) for column in (rows.part, rows.side, rows.face)),
        rows.station_mm[kept],
        rows.across_mm[kept],
        rows.diameter_mm[kept],
    )
    fewer.across_mm[20] += 30
    parts, rest = inspect_parts(NOMINAL, fewer, library(), Tolerances(), Choices())
    given = Inspection("P-1", "A", "datums", 20.0, ("m.csv", "0" * 64), "2027-03-01", "a source", parts, rest)
    path = tmp_path / "inspection.json"
    path.write_bytes(inspection_json(given))
    back = read_inspection(path)
    assert inspection_json(back) == path.read_bytes()
    assert back.parts[0].fault.tolist() == given.parts[0].fault.tolist()
    assert back.parts[0].extra == pytest.approx(given.parts[0].extra, abs=1e-6)


def test_measured_holes_round_trip(tmp_path: Path) -> None:
    rows = measurement()
    rows.diameter_mm[3] = np.nan
    path = tmp_path / "m.csv"
    path.write_bytes(measured_csv(rows))
    back = read_measured(path)
    assert (back.part, back.side, back.face) == (rows.part, rows.side, rows.face)
    for name in ("station_mm", "across_mm", "diameter_mm"):
        assert getattr(back, name) == pytest.approx(getattr(rows, name), abs=1e-6, nan_ok=True)


BAD_FILES: dict[str, tuple[str, str]] = {
    "empty": ("", "column part: found nothing"),
    "header alone": (HEADER, "at least one measured hole"),
    "wrong column": (HEADER.replace("station_mm", "station") + "rail,LH,web,1,2,3\n", "Did you mean 'station_mm'?"),
    "another order": ("side,part,face,station_mm,across_mm,diameter_mm\n", "the columns in the order"),
    "column twice": (HEADER.strip() + ",face\n", "face again"),
    "unknown side": (HEADER + "rail,left,web,1,2,3\n", "line 2, column side: found 'left'"),
    "unknown face": (HEADER + "rail,LH,wep,1,2,3\n", "Did you mean 'web'?"),
    "no number": (HEADER + "rail,LH,web,one,2,3\n", "line 2, column station_mm: found 'one'"),
    "comma as decimal sign": (HEADER + "rail,LH,web,1,5,2,3\n", "line 2: found 7 cells"),
    "NaN": (HEADER + "rail,LH,web,nan,2,3\n", "column station_mm: found 'nan'"),
    "infinite": (HEADER + "rail,LH,web,1,inf,3\n", "column across_mm: found 'inf'"),
    "negative diameter": (HEADER + "rail,LH,web,1,2,-3\n", "a number above 0"),
    "unclosed quote": (HEADER + 'rail,LH,web,"1,2,3\n', "comma-separated values"),
}


@pytest.mark.parametrize("case", BAD_FILES)
def test_bad_measured_files_are_refused_with_line_and_column(folder: Path, case: str) -> None:
    text, words = BAD_FILES[case]
    assert words in ask(folder, text, code=2).output
    assert not (folder.parent / "inspections").exists()


def test_other_bad_input_is_refused(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "m.csv"
    file.write_bytes(measured_csv(measurement()))
    said = ("--library", DEMO, "--output", folder.parent)
    assert "No such file" in run("inspect", "P-2", file, *said, code=2).output
    assert "No such file" in run("inspect", "P-1", tmp_path / "nowhere.csv", *said, code=2).output
    assert "SERIAL MEASURED.csv" in run("inspect", "P-1", *said, code=2).output
    assert "with --register only" in run("inspect", "P-1", file, "--revision", "A", *said, code=2).output
    assert "--temperature" in run("inspect", "P-1", file, "--temperature", "nan", *said, code=2).output
    (tmp_path / "t.toml").write_text("stattion = 2.0\n")
    wrong = run("inspect", "P-1", file, "--tolerances", tmp_path / "t.toml", *said, code=2).output
    assert "Did you mean 'station'?" in wrong
    (tmp_path / "bad.json").write_text('{"serial": "P-1"}')
    assert "parts: found nothing" in run("inspect", "--chart", tmp_path / "bad.json", *said, code=2).output
    (tmp_path / "list.json").write_text("[]")
    with pytest.raises(InputError, match="an object"):
        read_inspection(tmp_path / "list.json")


def test_inspecting_against_the_register_uses_what_was_released(folder: Path, tmp_path: Path) -> None:
    place = tmp_path / "register.sqlite"
    released = serial_folder(tmp_path / "built", "P-1", holes=20)
    said = ("--by", "A", "--on", "2027-03-01", "--register", place, "--library", DEMO)
    run("release", released, *said)
    table_file = tmp_path / "as-measured.csv"
    rows = [line.split(",") for line in (released / "P-1-holes.csv").read_text().splitlines()[1:]]
    lines = [f"{row[2]},{row[1]},{row[4]},{row[5]},{row[6]},{row[10]}" for row in rows]
    table_file.write_text(HEADER + "\n".join(lines) + "\n")
    asked = ("inspect", "P-1", table_file, "--fit", "best", "--library", DEMO, "--output", tmp_path / "o")
    assert "within all tolerances" in run(*asked, "--register", place).output
    assert "released serial" in run(*asked[:1], "P-7", *asked[2:], "--register", place, code=2).output
    assert "no register here" in run(*asked, "--register", tmp_path / "none.sqlite", code=2).output


def test_the_pdf_renders(folder: Path, tmp_path: Path) -> None:
    import shutil

    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed")
    rows = measurement()
    rows.across_mm[10] += 4.0
    ask(folder, rows, code=1)
    pdf = folder.parent / "inspections/P-1-shift-2/inspection.pdf"
    subprocess.run(["pdftoppm", "-r", "40", "-png", pdf, tmp_path / "page"], check=True)
    assert len(list(tmp_path.glob("page-*.png"))) == 3


def test_limits_are_those_of_single_values() -> None:
    values = np.array([10.0, 12.0, 11.0, 13.0, 9.0])
    # mean 11, moving ranges 2 1 2 4: mean 2.25; 2.66 x 2.25 = 5.985 (Shewhart, from memory)
    assert limits_of(values) == pytest.approx((11.0, 5.015, 16.985))
    assert np.isnan(limits_of(values[:4])[1])


CHARTS: dict[str, tuple[list[float], tuple[str, ...], list[int]]] = {
    "steady": ([0.0, 0.1] * 6, (), []),
    "constant": ([0.5] * 12, (), []),
    "one beyond": ([0.0, 0.4] * 6 + [1.6], ("beyond the limits",), [12]),
    "a run": ([0.0, 0.4] * 4 + [0.3, 0.29] * 4, ("8 or more in a row on one side of the mean",), list(range(7, 16))),
    "few": ([0.0, 5.0, 0.0, 9.0], (), []),
}


@pytest.mark.parametrize("case", CHARTS)
def test_what_a_chart_shows(case: str) -> None:
    values, words, rows = CHARTS[case]
    found = chart("x", "mm", [(f"P-{row}", value) for row, value in enumerate(values)])
    assert found.words == words
    assert np.flatnonzero(found.signals).tolist() == rows


@pytest.mark.parametrize(("sign", "word"), [(1, "rising"), (-1, "falling")])
def test_a_trend_is_six_points_one_after_the_other(sign: int, word: str) -> None:
    rising = [0.0, 0.3, 0.1, 0.2, 0.05, *(0.06 + 0.02 * step for step in range(6)), 0.1, 0.0]
    found = chart("x", "mm", [("P", sign * value) for value in rising])
    assert f"6 or more one after the other {word}" in found.words
    five = [0.0, 0.3, 0.1, 0.2, 0.05, 0.06, 0.08, 0.1, 0.01, 0.2, 0.0]
    assert not chart("x", "mm", [("P", sign * value) for value in five]).words


def test_a_drifting_press_and_a_worn_punch_show_in_the_run_chart() -> None:
    dates = [f"2027-03-{day:02d}" for day in range(1, 15)]
    made = [
        inspection(f"P-{n + 1}", on, seed=n, stretch=4e-6 * n, wear=0.02 * n)
        for n, on in enumerate(dates)  # type: ignore[arg-type]
    ]
    charts = {one.title: one for one in run_chart(made[::-1])}
    assert charts["press, LH-rail: length"].names == tuple(f"P-{n}" for n in range(1, 15))
    assert any("rising" in words for words in charts["press, LH-rail: length"].words)
    assert any("falling" in words for words in charts["tool R 17.5, LH-rail: diameter"].words)
    # Flange holes lie in no one direction of the blank, so the web alone tells of tools.
    assert not any("R 13.5" in title for title in charts)
    steady = run_chart([inspection(f"P-{n + 1}", on, seed=n) for n, on in enumerate(dates)])  # type: ignore[arg-type]
    assert not any("one after the other" in words for one in steady for words in one.words)


def test_the_chart_command_reads_inspections_and_writes_pdf_and_svg(folder: Path, tmp_path: Path) -> None:
    files = []
    for number in range(6):
        path = tmp_path / f"{number}.json"
        path.write_bytes(inspection_json(inspection(f"P-{number + 1}", seed=number)))
        files.append(path)
    plain = json.loads(run("inspect", "--chart", *files, "--output", tmp_path / "o", "--json").output)
    assert {point["serial"] for point in plain[0]["points"]} == {f"P-{n}" for n in range(1, 7)}
    written = sorted(path.name for path in (tmp_path / "o/inspections/run-chart").iterdir())
    assert written[-1] == "run-chart.pdf"
    assert "run-chart-1.svg" in written
    assert "quantities show something" in run("inspect", "--chart", *files, "--output", tmp_path / "o").output
