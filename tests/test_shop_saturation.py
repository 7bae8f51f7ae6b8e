"""Saturation of Almen strips against the published data set, the closed form, noise, and data that support no curve."""

from __future__ import annotations

import json
from math import log
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.cli.main import main
from railgen.shop.peening import on_gauge
from railgen.shop.saturation import NoSaturation, saturation

ROOT = Path(__file__).parent.parent
SET_1 = np.array([4.0, 6.0, 8.0, 12.0]), np.array([6.0, 6.9, 7.0, 7.0])
"""SAE J2597 table 1, data set 1: minutes, thousandths of an inch (read)."""


def test_the_published_data_set() -> None:
    # SAE J2597 table 1 (read): intensity 6.4, tolerance 1.0, thousandths of an inch.
    found = saturation(*SET_1)
    assert found.intensity == pytest.approx(6.4, abs=0.05)
    assert 4 < found.time < 6


@settings(max_examples=60, deadline=None)
@given(
    height=st.floats(0.05, 20.0),
    rate=st.floats(0.05, 5.0),
    marks=st.lists(st.floats(0.2, 6.0), min_size=2, max_size=8, unique=True),
)
def test_exact_exponentials_give_the_closed_form(height: float, rate: float, marks: list[float]) -> None:
    # h = a (1 - exp(-b t)): T = ln(10) / b, intensity 0.9 a; follows from the definition.
    time = np.array([0.5, 2.5, *marks]) * log(10) / rate
    found = saturation(time, height * (1 - np.exp(-rate * time)))
    assert found.time == pytest.approx(log(10) / rate, rel=1e-5)
    assert found.intensity == pytest.approx(0.9 * height, rel=1e-6)
    doubled = found.at(np.array([found.time, 2 * found.time]))
    assert doubled[1] / doubled[0] == pytest.approx(1.1)


@pytest.mark.parametrize("seed", range(10))
def test_noise_moves_the_point_little(seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0, 0.02, 6)
    time = np.array([1.0, 2, 3, 5, 8, 12])
    found = saturation(time, 0.25 * (1 - np.exp(-0.6 * time)) * (1 + noise))
    assert found.intensity == pytest.approx(0.225, rel=0.03)
    assert found.time == pytest.approx(log(10) / 0.6, rel=0.25)


def test_no_other_curve_of_the_kind_lies_nearer() -> None:
    time, height = SET_1
    found = saturation(time, height)
    least = float(((found.at(time) - height) ** 2).sum())
    for a in np.linspace(6.5, 7.6, 45):
        for b in np.linspace(0.2, 1.2, 201):
            assert ((a * (1 - np.exp(-b * time)) - height) ** 2).sum() >= least - 1e-9


def test_order_and_units_do_not_matter() -> None:
    time, height = SET_1
    found, other = saturation(time, height), saturation(60 * time[::-1], 0.0254 * height[::-1])
    assert other.time == pytest.approx(60 * found.time)
    assert other.intensity == pytest.approx(0.0254 * found.intensity)


@pytest.mark.parametrize(
    ("time", "height", "reason"),
    [
        ([4, 12], [6, 7], "too few points: 2 different times"),
        ([4, 4, 4, 8, 8], [6, 6, 6, 7, 7], "too few points: 2 different times"),
        ([1, 2, 3, 4], [1, 2, 3, 4], "no saturation: .* beyond any time tried"),
        ([1, 2, 3, 4], [3.9, 6.3, 7.8, 8.6], "no saturation: the curve saturates at 4.6"),
        ([4, 6, 8, 12], [7, 7, 7, 7], "the first point lies beyond saturation"),
        ([4, 6, 8, 12], [7, 7, 6.9, 7.1], "the first point lies beyond saturation"),
        ([1, 2, 4, 6, 12], [2.75, 4.4, 4.0, 6.7, 7.0], "no one curve: at time 4 the arc height is 4"),
    ],
)
def test_data_that_support_no_curve_are_refused(time: list[float], height: list[float], reason: str) -> None:
    with pytest.raises(NoSaturation, match=reason):
        saturation(np.array(time, dtype=float), np.array(height, dtype=float))


def test_gauges() -> None:
    # C reading x 3.5 = A reading, A reading x 3 = N reading, roughly (AMS-S-13165 6.10, read).
    assert on_gauge(0.1, "C", "A") == pytest.approx(0.35)
    assert on_gauge(0.2, "A", "N") == pytest.approx(0.6)
    assert on_gauge(0.6, "N", "A") == pytest.approx(0.2)


# The command


def run(tmp_path: Path, text: str, *options: str) -> tuple[int, str]:
    file = tmp_path / "strips.csv"
    file.write_text(text, encoding="utf-8")
    library = ["--library", str(ROOT / "hole_libraries")]
    done = CliRunner().invoke(
        main, ["saturation", str(file), "--output", str(tmp_path / "out"), *library, *options], catch_exceptions=False
    )
    return done.exit_code, done.output


def rows(*pairs: tuple[float | str, float | str]) -> str:
    return "\n".join(["time,arc_height", *(f"{time},{height}" for time, height in pairs), ""])


TABLE = rows(*zip(SET_1[0].tolist(), SET_1[1].tolist(), strict=True))


def test_command_tells_the_point_and_draws_the_curve(tmp_path: Path) -> None:
    status, told = run(tmp_path, TABLE, "--unit", "mil")
    assert status == 0
    assert "intensity 6.41 mil A" in told
    picture = (tmp_path / "out/strips-saturation.png").read_bytes()
    assert picture.startswith(b"\x89PNG")
    run(tmp_path, TABLE, "--unit", "mil")
    assert (tmp_path / "out/strips-saturation.png").read_bytes() == picture
    status, told = run(tmp_path, TABLE, "--unit", "mil", "--json", "--picture", "svg")
    assert json.loads(told)["intensity"] == pytest.approx(6.41, abs=0.005)
    assert (tmp_path / "out/strips-saturation.svg").read_text().startswith("<?xml")


@pytest.mark.parametrize(
    ("thickness", "scale", "inside"),
    # 0.9 x 0.30 = 0.27 mm A lies in the window to 9.525 mm, 0.2032 to 0.3048; 0.36 mm in the one from there up.
    [(9.5, 0.30, True), (9.525, 0.30, False), (9.5, 0.40, False), (9.525, 0.40, True)],
)
def test_intensity_is_held_to_the_window_of_the_thickness(
    tmp_path: Path, thickness: float, scale: float, inside: bool
) -> None:
    time = np.array([1.0, 2, 4, 8])
    text = rows(*zip(time.tolist(), (scale * (1 - np.exp(-time))).tolist(), strict=True))
    status, told = run(tmp_path, text, "--thickness", str(thickness))
    assert status == (0 if inside else 1)
    assert ("is inside the window" if inside else "is OUTSIDE the window") in told


@pytest.mark.parametrize(
    ("text", "named"),
    [
        (rows((4, 6), ("six", 6.9), (8, "high"), (12, 7)), ["line 3, column time: found 'six'", "line 4, column arc_"]),
        (rows((4, 6), (0, 6.9), (8, -1)), ["line 3, column time: found '0'", "line 4, column arc_height: found '-1'"]),
        ("time,height\n4,6\n", ["column arc_height: found nothing", "found 'height'"]),
        ("time,arc_height\n4\n", ["line 2: found 1 cells; allowed: 2 cells"]),
        ("time,arc_height\n", ["found no rows"]),
        ("", ["line 1, column time"]),
        (rows((4, 6), (12, 7)), ["too few points: 2 different times", "Expose more strips."]),
    ],
)
def test_bad_files_are_refused_by_line_and_nothing_is_written(tmp_path: Path, text: str, named: list[str]) -> None:
    status, told = run(tmp_path, text)
    assert status == 2
    for words in named:
        assert words in told
    assert not (tmp_path / "out").exists()


def test_a_thickness_without_a_window_is_refused(tmp_path: Path) -> None:
    status, told = run(tmp_path, TABLE, "--thickness", "40")
    assert status == 2
    assert "no intensity window for steel of 40 mm" in told
