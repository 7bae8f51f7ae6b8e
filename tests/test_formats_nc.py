"""Programs for the press: post-processors as data, programs written and read back."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from builders import Hole
from hypothesis import given, settings
from hypothesis import strategies as st
from press_blanks import axis_time, dense_holes, hits_on, press_with, work_of

from railgen.data.messages import InputError
from railgen.data.post import PostProcessor
from railgen.data.reading import validate
from railgen.formats.cautions import CAUTIONS
from railgen.formats.nc_numbers import NumberForm, angle_text, number_form
from railgen.formats.nc_program import program_number, write_program
from railgen.formats.nc_reader import Program, read_program
from railgen.shop.hit_order import HitOrder, order_hits
from railgen.shop.hits import Stamp, hits_of

POSTS = Path(__file__).resolve().parents[1] / "hole_libraries" / "posts"
FILES = ("gantry-absolute", "feed-line-incremental")


def table_of(name: str) -> dict[str, Any]:
    return tomllib.loads((POSTS / f"{name}.toml").read_text(encoding="utf-8"))


def post(name: str = FILES[0], **changes: Any) -> PostProcessor:
    return validate(table_of(name) | changes, PostProcessor, f"posts/{name}.toml")


def refusal(**changes: Any) -> str:
    with pytest.raises(InputError) as error:
        post(**changes)
    return str(error.value)


def small_order(**press: Any) -> HitOrder:
    holes = [Hole(0.0, 150.0, 17.0), Hole(200.0, 100.0, 25.0), Hole(40.0, 150.0, 18.0, shape="slot", length=40.0)]
    return order_hits(hits_on([Hole(-900.0, 150.0, 17.0, feature="loc"), *holes], press_with(**press)))


# Post-processors


@pytest.mark.parametrize("name", FILES)
def test_the_worked_examples_are_valid(name: str) -> None:
    assert post(name).id == name


def test_an_unknown_key_is_refused_with_its_place() -> None:
    text = refusal(hits=["X{x} Y{y}"])
    assert "posts/gantry-absolute.toml: hits: found an unknown key" in text
    assert "Did you mean 'hit'?" in text


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"hit": ["X{x} Y{z}"]}, "hit", "{z} in 'X{x} Y{z}' is no place of hit; allowed: one of x, y"),
        ({"change": ["T{statoin}"]}, "change", "Did you mean 'station'?"),
        ({"hit": ["X{x}"]}, "hit", "hit needs the places {y}"),
        ({"hit": ["X{x} Y{y}", "Z{x}"]}, "hit", "found twice: x"),
        ({"hit": ["X{x!r} Y{y}"]}, "hit", "a plain name and nothing else"),
        ({"hit": ["X{x.real} Y{y}"]}, "hit", "a plain name and nothing else"),
        ({"hit": ["X{x:>9} Y{y}"]}, "hit", "a plain name and nothing else"),
        ({"hit": ["X{x} Y{y"]}, "hit", "expected '}' before end of string"),
        ({"hit": ["X{x} Y{y} punch"]}, "", "'punch' in 'X{x} Y{y} punch' of hit is no word"),
        ({"hit": ["X{x} Y{y}", "(now)"]}, "", "hit has a line without words"),
        ({"stamp": ["X{x} Y{y} L{text}"]}, "", "must stand in a comment"),
        ({"mount": ["T0 C0 M6 P{mounting}"], "change": ["T{station} C{angle} M6 P{angle}"]}, "change", "twice: angle"),
        ({"mount": ["T0 C{mounting} M6"]}, "", "may be read as"),
        ({"comment": "REM {text}"}, "", "comment needs a sign"),
        ({"comment": "(words)"}, "comment", "comment needs the places {text}"),
        ({"ending": "dxf"}, "ending", "these endings stand for other files"),
        ({"decimals": 9}, "decimals", "less than or equal to 6"),
        ({"units": "cm"}, "units", "'mm' or 'in'"),
    ],
)
def test_what_a_template_may_not_hold(changes: dict[str, Any], place: str, words: str) -> None:
    text = refusal(**changes)
    assert words in text
    assert "posts/gantry-absolute.toml" + (f": {place}" if place else "") in text


# Numbers


def test_lengths_as_written() -> None:
    point, whole = NumberForm(0.001, 3, True), NumberForm(0.00254, 4, False)
    written = [point.text(point.count(v)) for v in (0.0, -0.0004, 12.3456, -0.05)]
    assert written == ["0.000", "0.000", "12.346", "-0.050"]
    assert [whole.text(whole.count(v)) for v in (25.4, -2.54)] == ["10000", "-1000"]
    assert [point.read(t) for t in ("12.346", "-.05", "+7", "7.")] == [12346, -50, 7000, 7000]
    with pytest.raises(ValueError, match="more than 3 decimals"):
        point.read("1.2345")
    assert [angle_text(a) for a in (0.0, 90.0, 22.5)] == ["0", "90", "22.5"]


# Programs


def test_a_small_program_word_for_word() -> None:
    found = small_order()
    lines = write_program(found, post()).decode("ascii").split("\n")
    assert lines[0] == "%"
    assert lines[-2:] == ["%", ""]
    words = [line for line in lines if line.startswith("N")]
    assert words == [
        "N10 O10011",
        "N20 G71 G90",
        "N30 G92 X0.000 Y0",
        *_body(found),
        f"N{10 * (len(words) - 1)} M5",
        f"N{10 * len(words)} M30",
    ]


def _body(found: HitOrder) -> list[str]:
    """The body as one would write it down."""
    lines, tool = [], None
    for hit in found.order.tolist():
        station = found.hits.stations[int(found.hits.station[hit])]
        if station is not tool:
            lines.append(f"T{station.number} C0 M6")
            tool = station
        lines.append(f"X{found.hits.x[hit]:.3f} Y{found.hits.y[hit]:.3f} M20")
    return [f"N{40 + 10 * n} {line}" for n, line in enumerate(lines)]


def test_the_head_names_serial_side_part_blank_and_cautions() -> None:
    found = small_order()
    text = write_program(found, post()).decode("ascii")
    for words in ("(SERIAL P-1001)", "(SIDE LH)", "(PART rail)", "(BLANK 6000.000000 X ", "(OUTSIDE FACE UP)"):
        assert words in text
    comments = " ".join(re.findall(r"\((.*)\)", text))
    assert all(caution in comments for caution in CAUTIONS)
    assert "(TOOL 1.1 A0 R 17)" in text


def test_each_blank_has_a_number_of_its_own() -> None:
    sides = {side: hits_on([Hole(0.0, 150.0)], side=side) for side in ("LH", "RH")}
    assert {side: program_number(hits) for side, hits in sides.items()} == {"LH": 10011, "RH": 10012}


def same(found: HitOrder, program: Program) -> None:
    """A program read back makes the hits of an order, each within half of its last decimal."""
    hits, stages = found.hits, found.stages.stages
    assert len(program.hits) == len(hits)
    half = program.resolution / 2 + 1e-9
    for hit, number, read in zip(found.order.tolist(), found.stage.tolist(), program.hits, strict=True):
        station = hits.stations[int(hits.station[hit])]
        assert abs(read.x - hits.x[hit]) <= half
        assert abs(read.y - hits.y[hit]) <= half
        assert (read.station, read.mounting) == (station.number, station.mounting)
        assert program.tool_of(read) == (station.tool.id, station.angle)
        assert read.run == stages[number].feed_pass
        shift = hits.press.clamp_shifts[stages[number].shift]
        assert (read.shift or 0.0) == pytest.approx(shift, abs=half)
    blank_x, blank_y = hits.lie.to_press(hits.x[found.order], hits.y[found.order])
    read_x, read_y = program.blank_places()
    assert np.abs(read_x - blank_x).max() <= half + 1e-6
    assert np.abs(read_y - blank_y).max() <= half + 1e-6
    work = hits.work
    head = program.head
    assert (head.serial, head.side, head.part, head.press) == ("P-1001", work.side, "rail", hits.press.id)
    assert (head.length, head.width) == pytest.approx((work.blank_length, work.blank_width), abs=1e-6)


CLAMPS = [{"station": s, "width": 400.0, "depth": 150.0} for s in (700.0, 2500.0, 4300.0)]


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"clamps": CLAMPS, "clamp_shifts": [0.0, 512.345]},
        {"mounted_tools": 4},
        {"feed_may_return": False, "gauge_edge": "top", "gauge_end": "rear"},
    ],
)
def test_every_program_reads_back_to_its_last_decimal(name: str, changes: dict[str, Any]) -> None:
    for side in ("LH", "RH"):
        found = order_hits(hits_on(dense_holes(7, 70), press_with(**changes), side))
        content = write_program(found, post(name))
        same(found, read_program(content, post(name), "program"))
        assert content == write_program(found, post(name))


@given(st.sampled_from(FILES), st.integers(1, 6), st.sampled_from(("mm", "in")), st.booleans(), st.booleans())
@settings(max_examples=12, deadline=None)
def test_units_moves_decimals_and_points_change_nothing(
    name: str, decimals: int, units: str, incremental: bool, point: bool
) -> None:
    changes = {
        "units": units,
        "decimals": decimals,
        "moves": "incremental" if incremental else "absolute",
        "numbers": "point" if point else "increments",
    }
    found = order_hits(hits_on(dense_holes(decimals, 40)))
    read = read_program(write_program(found, post(name, **changes)), post(name, **changes), "program")
    assert read.resolution == number_form(post(name, **changes)).resolution
    same(found, read)


def test_increments_do_not_add_up_their_rounding() -> None:
    holes = [Hole(-900.0 + 33.3337 * n, 150.0) for n in range(150)]
    found = order_hits(hits_on(holes))
    read = read_program(write_program(found, post(FILES[1])), post(FILES[1]), "program")
    errors = [abs(r.x - found.hits.x[h]) for h, r in zip(found.order.tolist(), read.hits, strict=True)]
    assert max(errors) <= 0.00254 / 2 + 1e-9


def test_the_cycle_time_follows_from_the_program_alone() -> None:
    """Words in, seconds out: what a press would do with the program, without the order it was made from."""
    found = order_hits(hits_on(dense_holes(3, 120)))
    press = found.hits.press
    program = read_program(write_program(found, post()), post(), "program")
    x, y, station, time = program.head.stop_x, 0.0, 0, press.load_time
    for hit in program.hits:
        move = max(axis_time(hit.x - x, press.along), axis_time(hit.y - y, press.across))
        time += max(move, press.change_time) if station not in (0, hit.station) else move
        time += press.hit_time
        x, y, station = hit.x, hit.y, hit.station
    time += max(axis_time(program.head.stop_x - x, press.along), axis_time(y, press.across))
    assert time == pytest.approx(found.cycle.total, abs=1e-3)


def test_a_stamp_is_written_and_read_with_its_text() -> None:
    stamp = Stamp(1500.25, 200.0, 10.0, "P-1001 LH RAIL")
    found = order_hits(hits_of(work_of([Hole(0.0, 150.0)]), stamps=[stamp]))
    for name in FILES:
        read = read_program(write_program(found, post(name)), post(name), "program")
        assert [(h.text, h.station) for h in read.hits if h.text] == [("P-1001 LH RAIL", 2)]
    assert "X1500.250 Y200.000 H10.000 M25 (P-1001 LH RAIL)" in write_program(found, post()).decode()


def test_a_block_that_a_blank_needs_and_the_post_lacks_is_named() -> None:
    found = order_hits(hits_on(dense_holes(1, 40), press_with(mounted_tools=3)))
    with pytest.raises(InputError, match=r"post-processor gantry-absolute: mount: found nothing.*P-1001 LH rail"):
        write_program(found, post(mount=[]))


# Damaged programs


def damaged(change: Any, name: str = FILES[0]) -> str:
    content = write_program(small_order(), post(name))
    with pytest.raises(InputError) as error:
        read_program(change(content), post(name), "P-1001-LH-rail.nc")
    return str(error.value)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda c: c.replace(b" M20", b" M21", 1), "P-1001-LH-rail.nc: line 24: found 'X"),
        (lambda c: c.replace(b"(SIDE LH)\n", b""), "head: found no comment SIDE"),
        (lambda c: c.replace(b"(SIDE LH)", b"(SIDE LH)\n(SIDE RH)"), "head: found two comments SIDE"),
        (lambda c: c.replace(b" T1 ", b" T9 "), "found tool station 1.9; allowed: one of the head's tools"),
        (lambda c: c[: len(c) // 2 * 2 - 12], "allowed: the block end"),
        (lambda c: c + b"N900 M30\n", "found 'M5'; allowed: one of the blocks"),
        (lambda c: c.replace(b"X", b"\xff", 1), "found byte 0xff"),
        (lambda c: re.sub(rb"X(\d+)\.\d+ Y(\d+\.\d+) M20", rb"X\1.12345 Y\2 M20", c, count=1), "more than 3 decimals"),
        (lambda c: b"", "head: found no comment SERIAL"),
    ],
)
def test_a_damaged_program_is_refused_with_the_line(change: Any, words: str) -> None:
    assert words in damaged(change)


@given(st.binary(max_size=300), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_no_bytes_make_the_reader_stumble(noise: bytes, at: int) -> None:
    content = write_program(small_order(), post(FILES[1]))
    spoilt = content[:at] + noise + content[at:]
    read: Program | InputError
    try:
        read = read_program(spoilt, post(FILES[1]), "program")
    except InputError as error:
        read = error
    assert isinstance(read, Program) or all(problem.file == "program" for problem in read.problems)
