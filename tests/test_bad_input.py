"""Broken orders and libraries: refused with exit status 2 and words that name the place; nothing is written."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from railgen.cli.main import main

SMALL = Path(__file__).parent / "small_library"
GOOD = """
serial = "X-1"
family = "tractor"
build_date = 2027-01-05
options = ["AAA01"]
"""

ORDERS: dict[str, tuple[str | bytes, str]] = {
    "empty file": ("", "an empty file"),
    "binary junk": (b"\x00\xff\xfe\x81junk", "UTF-8"),
    "no TOML": ("serial = = 3", "valid TOML"),
    "unclosed string": ('serial = "X-1\nfamily = "tractor"', "valid TOML"),
    "key twice": (GOOD + 'serial = "X-2"\n', "valid TOML"),
    "10 MB of nesting": ("a = " + "[" * 5_000_000 + "]" * 5_000_000, "at most 4000000 bytes"),
    "deep nesting": ("a = " + "[" * 100_000 + "]" * 100_000, "nested too deep"),
    "path as serial": (GOOD.replace("X-1", "../../x"), "serial: found '../../x'"),
    "serial with quotes": (GOOD.replace('"X-1"', "'X-\"1\"'"), "serial"),
    "serial with angle brackets": (GOOD.replace("X-1", "<X-1>"), "serial"),
    "serial of another family": (GOOD.replace("X-1", "Y-1"), "a serial of family tractor: X- and a number"),
    "serial is a number": (GOOD.replace('"X-1"', "17"), "serial: found 17"),
    "no serial": (GOOD.replace('serial = "X-1"', ""), "serial: found nothing"),
    "no build date": (GOOD.replace("build_date = 2027-01-05", ""), "build_date"),
    "date as text": (GOOD.replace("2027-01-05", '"next week"'), "build_date: found 'next week'"),
    "unknown key": (GOOD + "wheel_base = 5000\n", "Did you mean 'wheelbase'?"),
    "unknown key in a table": (GOOD + "[taper]\nstrat = 1.0\n", "taper.strat"),
    "unknown family": (GOOD.replace("tractor", "tracter"), "Did you mean 'tractor'?"),
    "unknown option": (GOOD.replace("AAA01", "AAB01"), "options[1]: found 'AAB01'"),
    "option in lower case": (GOOD.replace("AAA01", "aaa01"), "options[1]: found 'aaa01'"),
    "option twice": (GOOD.replace('["AAA01"]', '["AAA01", "AAA01"]'), "listed twice: AAA01"),
    "options as text": (GOOD.replace('["AAA01"]', '"AAA01"'), "options: found 'AAA01'"),
    "unknown section": (GOOD + 'section = "300 x 90 x 9"\n', "Did you mean '300 x 90 x 9.5'?"),
    "unknown steel": (GOOD + 'steel = "S700"\n', "Did you mean 'S700MC'?"),
    "unknown limit set": (GOOD + '[limits]\nset = "hause"\n', "Did you mean 'house'?"),
    "NaN": (GOOD + "wheelbase = nan\n", "wheelbase: found nan"),
    "infinity": (GOOD + "wheelbase = inf\n", "wheelbase: found inf"),
    "negative size": (GOOD + "wheelbase = -5000\n", "wheelbase: found -5000"),
    "enormous number": (GOOD + "wheelbase = 1e300\n", "wheelbase: found 1e+300"),
    "enormous integer": (GOOD + f"wheelbase = {'9' * 400}\n", "wheelbase"),
    "integer beyond all digits": (GOOD + f"wheelbase = {'9' * 5000}\n", "digits"),
    "number as text": (GOOD + 'wheelbase = "5000"\n', "wheelbase: found '5000'"),
    "number as a truth value": (GOOD + "wheelbase = true\n", "wheelbase: found True"),
    "wheelbase out of range": (GOOD + "wheelbase = 9000\n", "3000 mm to 7000 mm in steps of 50 mm"),
    "wheelbase off its step": (GOOD + "wheelbase = 5010\n", "in steps of 50 mm"),
    "unknown units": (GOOD + 'units = "cm"\n', "units: found 'cm'"),
    "unknown drive": (GOOD + 'drive = "lefft"\n', "Did you mean 'left'?"),
    "taper without its keys": (GOOD + "[taper]\nstart = 5000\n", "taper.end_depth: found nothing"),
    "taper ahead of nothing": (
        GOOD
        + "[taper]\nstart = 9000\nend_depth = 200\nslit_depth = 80\nroot_gap = 3\ntrim = 15\nrelief_diameter = 40\n",
        "must lie ahead of the rear end",
    ),
    "taper too deep": (
        GOOD
        + "[taper]\nstart = 5500\nend_depth = 90\nslit_depth = 80\nroot_gap = 3\ntrim = 15\nrelief_diameter = 60\n",
        "end_depth 90 mm is too small",
    ),
    "liner inside out": (
        GOOD + '[liner]\nstart = 3000\nend = 1000\nsection = "280 x 75 x 6.5"\nsteel = "S700MC"\n',
        "must be greater than start",
    ),
    "liner does not go in": (
        GOOD + '[liner]\nstart = 1000\nend = 3000\nsection = "300 x 90 x 9.5"\nsteel = "S700MC"\n',
        "does not go into the rail",
    ),
    "zone outside the rail": (
        GOOD + '[[limits.zones]]\nfrom = 20000\nto = 21000\nreason = "r"\napprover = "a"\n'
        'rows = [{rule = "edge-distance", measure = "edge", error = 1.0, source = "s"}]\n',
        "limits.zones[1]: found from 20000 mm to 21000 mm; allowed: stations that meet the rail",
    ),
    "zone inside out": (
        GOOD + '[[limits.zones]]\nfrom = 900\nto = 100\nreason = "r"\napprover = "a"\n'
        'rows = [{rule = "edge-distance", measure = "edge", error = 1.0, source = "s"}]\n',
        "limits.zones[1]: to (100) must be greater than from (900)",
    ),
    "zone with an unknown rule": (
        GOOD + '[[limits.zones]]\nfrom = 0\nto = 100\nreason = "r"\napprover = "a"\n'
        'rows = [{rule = "edge-distanse", measure = "edge", error = 1.0, source = "s"}]\n',
        "edge-distanse",
    ),
    "parameter of an option not ordered": (
        GOOD + "[parameters.AAA03]\nlength = 500\n",
        "Add AAA03 to options",
    ),
    "unknown parameter": (
        GOOD.replace("AAA01", "AAA03") + "[parameters.AAA03]\nlenght = 500\n",
        "Did you mean 'length'?",
    ),
    "body past the rail's end": (
        GOOD + "[loads]\ndynamic_factor = 2.0\nbody_mass = 5000\nbody_start = 1500\nbody_end = 20000\n",
        "loads.body_end: found 20000 mm; allowed: a station on the rail",
    ),
    "body mass without a place": (
        GOOD + "[loads]\ndynamic_factor = 2.0\nbody_mass = 5000\n",
        "body_start and body_end",
    ),
}


def run(*arguments: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(arguments), catch_exceptions=False)
    return result.exit_code, result.output


def write(path: Path, content: str | bytes) -> str:
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return str(path)


@pytest.mark.parametrize("name", ORDERS)
def test_broken_order_is_refused(name: str, tmp_path: Path) -> None:
    content, expected = ORDERS[name]
    order = write(tmp_path / "order.toml", content)
    status, text = run("build", order, "--library", str(SMALL), "--output", str(tmp_path / "out"))
    assert status == 2, text
    assert expected in text
    assert "order.toml" in text
    assert "Traceback" not in text
    assert sorted(p.name for p in tmp_path.iterdir()) == ["order.toml"]


def test_several_problems_come_at_once(tmp_path: Path) -> None:
    order = write(tmp_path / "order.toml", GOOD.replace("AAA01", "AAB01") + 'steel = "S700"\nwheelbase = 9000\n')
    status, text = run("check", order, "--library", str(SMALL))
    assert status == 2
    assert text.count("error:") == 3


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    status, text = run("check", str(tmp_path / "absent.toml"), str(tmp_path), "--library", str(SMALL))
    assert status == 2
    assert "absent.toml" in text
    assert "found a folder" in text


def replaced(file: str, old: str, new: str) -> Callable[[Path], None]:
    def change(library: Path) -> None:
        path = library / file
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    return change


def added(file: str, text: str) -> Callable[[Path], None]:
    def change(library: Path) -> None:
        with (library / file).open("a") as stream:
            stream.write(text)

    return change


def both(*changes: Callable[[Path], None]) -> Callable[[Path], None]:
    def change(library: Path) -> None:
        for one in changes:
            one(library)

    return change


def footprint(polygon: str) -> Callable[[Path], None]:
    foot = f'face = "web", surface = "outside", datum = "middle", polygon = {polygon}'
    return replaced("components/bracket.toml", "mass = 12", f"mass = 12\nfootprints = [{{ {foot} }}]")


def envelope(name: str, ends: str) -> Callable[[Path], None]:
    spans = {"station": "[-50, 50]", "height": "[-40, 40]", "across": "[-90, 0]"} | {name: ends}
    box = ", ".join(f"{key} = {value}" for key, value in spans.items())
    box = f'clearance = "static", datum = "middle", {box}'
    return replaced("components/bracket.toml", "mass = 12", f"mass = 12\nenvelopes = [{{ {box} }}]")


def rated_load(direction: str) -> Callable[[Path], None]:
    return replaced(
        "components/bracket.toml", "mass = 12", f"mass = 12\nloads = [{{ force = 50, height = 150{direction} }}]"
    )


def copied(file: str, to: str) -> Callable[[Path], None]:
    return lambda library: shutil.copy(library / file, library / to) and None


LIBRARIES: dict[str, tuple[Callable[[Path], None], str]] = {
    "no library file": (lambda library: (library / "library.toml").unlink(), "library.toml"),
    "no presses": (lambda library: shutil.rmtree(library / "presses"), "no .toml files"),
    "unknown press": (replaced("library.toml", "bench-press", "bench-pres"), "Did you mean 'bench-press'?"),
    "junk in a component": (
        lambda library: (library / "components/bracket.toml").write_bytes(b"\xff\x00") and None,
        "components/bracket.toml",
    ),
    "component and file differ": (copied("components/bracket.toml", "components/other.toml"), "Rename the file"),
    "feature id twice": (replaced("components/bracket.toml", 'id = "b"', 'id = "a"'), "used twice: a"),
    "component of no option": (replaced("components/bracket.toml", '["AAA01"]', '["AAB01"]'), "options[1]"),
    "unknown anchor": (replaced("components/bracket.toml", 'anchor = "mid"', 'anchor = "midd"'), "Did you mean 'mid'?"),
    "unknown dimension": (
        replaced("components/clamp.toml", '"AAA03.length"', '"AAA03.lenght"'),
        "Did you mean 'length'?",
    ),
    "unknown fastener": (replaced("components/bracket.toml", "M16x1.5", "M16x1.4"), "Did you mean 'M16x1.5'?"),
    "name with angle brackets": (replaced("components/bracket.toml", "Four-bolt", "<b>Four"), "name: found '<b>Four"),
    "name with quotes": (replaced("components/bracket.toml", '"Four-bolt bracket"', "'Four \"bolt\"'"), "name: found"),
    "negative mass": (replaced("components/bracket.toml", "mass = 12", "mass = -12"), "mass: found -12"),
    "footprint that crosses itself": (
        footprint("[[0, 0], [100, 80], [100, 0], [0, 80]]"),
        "components/bracket.toml: footprints[1]: the polygon of a foot must run once round one area and not cross or"
        " touch itself; it does at station and across 50 mm, 40 mm",
    ),
    "footprint in inches that crosses itself": (
        both(
            footprint("[[0, 0], [4, 4], [4, 0], [0, 4]]"),
            replaced("components/bracket.toml", "mass = 12", 'units = "in"\nmass = 12'),
        ),
        "station and across 2 in, 2 in",
    ),
    "footprint that touches itself": (
        footprint("[[0, 0], [100, 0], [50, 40], [100, 80], [0, 80], [50, 40]]"),
        "components/bracket.toml: footprints[1]",
    ),
    "footprint without an area": (
        footprint("[[0, 0], [100, 0], [50, 0]]"),
        "components/bracket.toml: footprints[1]",
    ),
    "footprint of two corners": (
        footprint("[[0, 0], [100, 0]]"),
        "components/bracket.toml: footprints[1].polygon",
    ),
    "envelope inside out along the rail": (
        envelope("station", "[50, -50]"),
        "components/bracket.toml: envelopes[1]: station is inside out: 50 is not less than -50",
    ),
    "envelope inside out in height": (envelope("height", "[40, 40]"), "envelopes[1]: height is inside out"),
    "envelope inside out across": (envelope("across", "[0, -90]"), "envelopes[1]: across is inside out"),
    "rated load without a direction": (
        rated_load(""),
        "components/bracket.toml: loads[1].direction: found nothing",
    ),
    "rated load with a direction of no length": (
        rated_load(", direction = [0, 0, 0]"),
        "components/bracket.toml: loads[1]: the direction of a load must not be zero",
    ),
    "rated load with a direction in a plane only": (
        rated_load(", direction = [1, 0]"),
        "components/bracket.toml: loads[1].direction",
    ),
    "slot without length": (replaced("components/tank-foot.toml", ", length = 40", ""), "slots and rectangles"),
    "slot shorter than wide": (
        replaced("components/tank-foot.toml", "length = 40", "length = 10"),
        "more than the width",
    ),
    "window without its preferred": (
        replaced("components/tank-foot.toml", "most = 800", "most = 50"),
        "does not hold the preferred offset",
    ),
    "self-excluding option": (added("options/AAA01.toml", 'excludes = ["AAA01"]\n'), "excludes itself"),
    "circle of requires": (
        both(
            added("options/AAA01.toml", 'requires = ["AAA02"]\n'),
            added("options/AAA02.toml", 'requires = ["AAA01"]\n'),
        ),
        "a circle through AAA01",
    ),
    "unknown required option": (added("options/AAA01.toml", 'requires = ["AAZ01"]\n'), "requires[1]"),
    "limit sets in a circle": (
        replaced("limits/basics.toml", 'id = "basics"', 'id = "basics"\ninherits = "house"'),
        "limits/basics.toml: inherits: found a circle through basics",
    ),
    "limit set that inherits itself": (
        replaced("limits/house.toml", 'inherits = "basics"', 'inherits = "house"'),
        "limits/house.toml: inherits: found 'house'; allowed: another set",
    ),
    "unknown zone in a limit": (
        replaced("limits/house.toml", 'zone = "behind_last_axle"', 'zone = "behind_last_axel"'),
        "Did you mean 'behind_last_axle'?",
    ),
    "limit without a figure": (
        added("limits/house.toml", '\n[[rows]]\nrule = "off-rail"\nmeasure = "outside"\nsource = "s"\n'),
        "give error, warning or both",
    ),
    "bake too hot": (replaced("finishing.toml", "bake_temperature = 175", "bake_temperature = 300"), "hotter than"),
    "punching after peening": (
        replaced(
            "finishing.toml",
            'weld_procedure = "W-1"',
            'weld_procedure = "W-1"\noperations = ["blank", "locating", "dress", "deburr", "form", "straighten",'
            ' "taper", "stud", "inspect", "peen", "punch", "drill", "clean", "coat", "nest", "rack"]',
        ),
        "nothing may be punched",
    ),
    "section without flat steel": (replaced("sections.toml", "depth = 300", "depth = 60"), "leave no flat steel"),
    "steel without a band": (replaced("sections.toml", "thickness = 9.5", "thickness = 11.5"), "at 11.5 mm"),
    "family lacks an anchor": (
        replaced("families/tractor.toml", "[anchors.last_axle]", "[anchors.rearmost_axle]"),
        "lacks the named stations last_axle",
    ),
    "steel with nothing to form it by": (
        replaced("steels.toml", "least_bend_radius", "# least_bend_radius"),
        "steels.toml: steels.S700MC.bands[1].least_bend_radius: found nothing",
    ),
    "tool twice": (replaced("presses/bench-press.toml", 'id = "R17.5"', 'id = "R13.5"'), "used twice: R13.5"),
}


def test_a_list_whose_entries_are_wrong_is_not_called_too_short_besides(tmp_path: Path) -> None:
    library = tmp_path / "library"
    shutil.copytree(SMALL, library)
    steels = library / "steels.toml"
    text = steels.read_text()
    steels.write_text(text.replace("least_bend_radius", "# least_bend_radius"))
    status, told = run("library", "check", "--library", str(library))
    assert status == 2
    assert told.count("error:") == text.count("least_bend_radius")


@pytest.mark.parametrize("name", LIBRARIES)
def test_broken_library_is_refused(name: str, tmp_path: Path) -> None:
    change, expected = LIBRARIES[name]
    library = tmp_path / "library"
    shutil.copytree(SMALL, library)
    change(library)
    status, text = run("library", "check", "--library", str(library))
    assert status == 2, text
    assert expected in text
    assert "Traceback" not in text


def test_the_small_library_itself_is_sound() -> None:
    status, text = run("library", "check", "--library", str(SMALL))
    assert status == 0, text
    assert "no problems" in text


def test_an_unknown_library_folder_is_named(tmp_path: Path) -> None:
    status, text = run("library", "check", "--library", str(tmp_path / "nowhere"))
    assert status == 2
    assert "nowhere" in text


BANKS: dict[str, tuple[str, str]] = {
    "unknown column": (
        "serial,family,build_date,wheel_base\nX-1,tractor,2027-01-05,5000\n",
        "Did you mean 'wheelbase'?",
    ),
    "column missing": ("serial,family\nX-1,tractor\n", "no column 'build_date'"),
    "column twice": ("serial,family,build_date,serial\nX-1,tractor,2027-01-05,X-2\n", "twice"),
    "too few cells": ("serial,family,build_date\nX-1,tractor\n", "line 2: found 2 cells"),
    "no number": ("serial,family,build_date,wheelbase\nX-1,tractor,2027-01-05,long\n", "line 2: wheelbase"),
    "no date": ("serial,family,build_date\nX-1,tractor,soon\n", "line 2: build_date"),
    "empty": ("", "an empty file"),
    "serial twice": ("serial,family,build_date\nX-1,tractor,2027-01-05\nX-1,tractor,2027-01-05\n", "each serial once"),
}


@pytest.mark.parametrize("name", BANKS)
def test_broken_bank_is_refused(name: str, tmp_path: Path) -> None:
    content, expected = BANKS[name]
    status, text = run("check", write(tmp_path / "bank.csv", content), "--library", str(SMALL))
    assert status == 2, text
    assert expected in text
    assert "Traceback" not in text


def test_one_bad_row_does_not_stop_the_others(tmp_path: Path) -> None:
    bank = "serial,family,build_date,options\nX-1,tractor,2027-01-05,AAA01\nX-2,tracter,2027-01-05,\n"
    bank += "X-3,tractor,2027-01-05,AAA01\n"
    status, text = run("check", write(tmp_path / "bank.csv", bank), "--library", str(SMALL))
    assert status == 2
    assert "X-1" in text
    assert "X-3" in text
    assert "line 3" in text


def test_a_misspelt_command_is_put_right() -> None:
    status, text = run("biuld", "x")
    assert status == 2
    assert "Did you mean 'build'?" in text
