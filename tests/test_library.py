"""The demo library, the sample orders and the order bank: complete, consistent, and true to their sources."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from math import pi
from pathlib import Path

import numpy as np
import pytest

from railgen.data.bank import read_bank
from railgen.data.library import Library, load_library
from railgen.data.order import Order
from railgen.data.order_files import read_order
from railgen.frame.taper import TaperShape
from railgen.holes.table import LH, NONE, PARTS, PUNCH, RAIL, RH
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.plan import SerialPlan
from railgen.pipeline import plan
from railgen.shop.strings import with_string_tools

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "hole_libraries"
SAMPLES = sorted((ROOT / "samples").glob("*.toml"))
BANK = ROOT / "samples" / "bank-200.csv"
KSI = 6.894757
LBF = 4.4482216e-3  # kN
IN2 = 645.16  # mm2


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(FOLDER)


@pytest.fixture(scope="module")
def catalogue(library: Library) -> Catalogue:
    return compile_catalogue(library)


@pytest.fixture(scope="module")
def plans(catalogue: Catalogue) -> dict[str, SerialPlan]:
    """The sample orders, planned."""
    return {path.stem: plan(_order(path), catalogue) for path in SAMPLES}


def _order(path: Path) -> Order:
    given = read_order(path)
    assert given.error is None, str(given.error)
    assert given.order is not None
    return given.order


# ------------------------------------------------------------------ what the world holds


def test_families_and_options(library: Library) -> None:
    assert set(library.families) == {"plough-carrier", "timber-tractor", "street-sweeper"}
    assert len(library.options) >= 60
    for family in library.families:
        assert sum(family in option.families for option in library.options.values()) >= 25
    assert sum(len(option.families) > 1 for option in library.options.values()) >= 20


def test_option_letters_name_one_place(library: Library) -> None:
    places: dict[str, set[str]] = {}
    for option in library.options.values():
        places.setdefault(option.code[:3], set()).add(option.place)
    assert all(len(names) == 1 for names in places.values())
    assert len(places) == len({next(iter(names)) for names in places.values()})


def test_one_file_a_component(library: Library) -> None:
    files = list((FOLDER / "components").rglob("*.toml"))
    assert sorted(path.stem for path in files) == sorted(library.components)
    assert len(files) >= 100


def test_every_option_brings_a_component(library: Library) -> None:
    bringing = {code for component in library.components.values() for code in component.options}
    assert set(library.options) - bringing == set()


def test_every_way_of_placing_is_used(library: Library) -> None:
    components = library.components.values()
    assert {component.side for component in components} == {"LH", "RH", "both", "turned", "driver", "passenger"}
    assert sum(component.floating is not None for component in components) >= 10
    assert any(component.repeat and component.repeat.greatest_pitch for component in components)
    assert any(component.repeat and component.repeat.count for component in components)
    assert any(component.present and component.present.dimension == "wheelbase" for component in components)
    assert any(component.loads for component in components)
    assert any(component.valid_to for component in components)
    shapes = {f.shape for component in components for g in component.groups for f in g.features}
    assert shapes == {"round", "slot", "rectangle", "mark"}
    operations = {f.operation or g.operation for component in components for g in component.groups for f in g.features}
    assert operations == {"punch", "drill", "countersink", "stud"}


def test_wheelbases_and_spreads(library: Library) -> None:
    """Wheelbases of 3 400 to 6 800 mm in steps of 50 mm, the sweeper's 134 to 268 in by 2 in (invented)."""
    dimensions = {name: family.dimensions for name, family in library.families.items()}
    metric = [dimensions["plough-carrier"], dimensions["timber-tractor"]]
    assert min(d["wheelbase"].least for d in metric) == 3400
    assert max(d["wheelbase"].most for d in metric) == 6800
    assert {d["wheelbase"].step for d in metric} == {50}
    assert {d["axle_spread"].choices for d in metric} == {(1310, 1370, 1450)}
    sweeper = dimensions["street-sweeper"]["wheelbase"]
    assert (sweeper.least, sweeper.most, sweeper.step) == pytest.approx((134 * 25.4, 268 * 25.4, 2 * 25.4))


@pytest.mark.parametrize(
    ("family", "size"),
    [
        ("plough-carrier", (300, 90, 9.5, 24)),
        ("timber-tractor", (270, 90, 8, 20)),
        ("street-sweeper", (260.35, 88.9, 7.9375, 19.05)),
    ],
)
def test_sections_of_the_families(library: Library, family: str, size: tuple[float, ...]) -> None:
    entry = library.sections[library.families[family].section]
    assert (entry.depth, entry.flange, entry.thickness, entry.inside_radius) == pytest.approx(size)


def test_no_bend_is_sharper_than_its_steel_allows(library: Library) -> None:
    steels = [(family.section, family.steel) for family in library.families.values()]
    steels += [(name, "S700MC") for name in library.sections if name.startswith("L")]
    for section, steel in steels:
        entry = library.sections[section]
        band = library.steels[steel].band(entry.thickness)
        assert band is not None
        assert entry.inside_radius >= band.least_bend_radius * entry.thickness - 1e-9, section


# ------------------------------------------------------------------ values with a source


@pytest.mark.parametrize(
    ("name", "holes"),
    [
        ("M12x1.25", (13, 13.5, 14.5)),  # ISO 273, from memory
        ("M14x1.5", (15, 15.5, 16.5)),  # ISO 273, from memory
        ("M16x1.5", (17, 17.5, 18.5)),  # ISO 273
        ("M18x1.5", (19, 20, 21)),  # ISO 273, from memory
        ("M20x1.5", (21, 22, 24)),  # ISO 273, from memory
    ],
)
def test_metric_clearance_holes(library: Library, name: str, holes: tuple[float, ...]) -> None:
    given = library.fasteners[name].holes
    assert given is not None
    assert (given.fine, given.medium, given.coarse) == holes


@pytest.mark.parametrize(("name", "hole"), [("1/2-20", 14.25), ("5/8-18", 17.5), ("3/4-16", 20.5)])
def test_inch_clearance_holes(library: Library, name: str, hole: float) -> None:
    """ASME B18.2.8 normal fit, in mm, as in Machinery's Handbook 31 p. 1743."""
    given = library.fasteners[name].holes
    assert given is not None
    assert given.medium == hole


@pytest.mark.parametrize(
    ("name", "area"),
    [("M12x1.25", 92.1), ("M14x1.5", 125), ("M16x1.5", 167), ("M18x1.5", 216), ("M20x1.5", 272)],
)
def test_metric_stress_areas(library: Library, name: str, area: float) -> None:
    """ISO 898-1, from memory; they agree with pi/4 (d - 0.9382 P)^2 to 0.5 %."""
    fastener = library.fasteners[name]
    assert fastener.stress_area == area
    assert pi / 4 * (fastener.diameter - 0.9382 * fastener.pitch) ** 2 == pytest.approx(area, rel=0.005)


@pytest.mark.parametrize(
    ("name", "area", "threads", "clamp", "torque"),
    [
        ("1/2-20", 0.1600, 20, 14_400, 120),
        ("5/8-18", 0.2560, 18, 23_025, 240),
        ("3/4-16", 0.3730, 16, 33_600, 420),
    ],
)
def test_inch_fasteners(library: Library, name: str, area: float, threads: int, clamp: float, torque: float) -> None:
    """Stress areas of ASME B1.1; clamp and dry torque (K 0.20) of grade 8 as in a distributor's chart after IFI."""
    fastener = library.fasteners[name]
    assert fastener.stress_area == pytest.approx(area * IN2, rel=1e-4)
    assert fastener.pitch == pytest.approx(25.4 / threads)
    assert 0.7854 * (fastener.diameter / 25.4 - 0.9743 / threads) ** 2 == pytest.approx(area, rel=0.002)
    assert fastener.proof_stress == pytest.approx(120 * KSI, rel=0.001)  # SAE J429
    assert fastener.clamp == pytest.approx(clamp * LBF, rel=0.002)
    assert fastener.torque == pytest.approx(torque * 1.3558179, rel=0.005)
    assert fastener.clamp == pytest.approx(0.75 * fastener.proof_stress * fastener.stress_area / 1000, rel=0.005)


def test_torque_follows_from_clamp_and_friction(library: Library) -> None:
    """Torque = K x clamp x diameter."""
    for name, fastener in library.fasteners.items():
        expected = fastener.friction * fastener.clamp * fastener.diameter
        assert fastener.torque == pytest.approx(expected, rel=0.02), name


@pytest.mark.parametrize(
    ("name", "washer", "socket"),
    [("M12x1.25", 24, 28), ("M14x1.5", 28, 32), ("M16x1.5", 30, 38), ("M18x1.5", 34, 42), ("M20x1.5", 37, 46)],
)
def test_washers_and_sockets(library: Library, name: str, washer: float, socket: float) -> None:
    """Common practice, no source."""
    fastener = library.fasteners[name]
    assert (fastener.washer_outside, fastener.socket_outside) == (washer, socket)


@pytest.mark.parametrize(
    ("steel", "thickness", "strengths", "radius"),
    [
        ("S500MC", 3, (500, 550, 700), 1.0),
        ("S500MC", 6, (500, 550, 700), 1.5),
        ("S500MC", 7, (500, 550, 700), 2.0),
        ("S700MC", 3, (700, 750, 950), 1.5),
        ("S700MC", 6, (700, 750, 950), 2.0),
        ("S700MC", 8, (700, 750, 950), 2.5),
        ("S700MC", 9.5, (680, 750, 950), 2.5),
    ],
)
def test_steels(
    library: Library, steel: str, thickness: float, strengths: tuple[float, float, float], radius: float
) -> None:
    """EN 10149-2, from memory; S700MC over 8 mm may have 20 MPa less yield."""
    band = library.steels[steel].band(thickness)
    assert band is not None
    assert (band.yield_strength, band.tensile_least, band.tensile_most) == strengths
    assert band.least_bend_radius == radius


def test_sweeper_steel_is_80_ksi(library: Library) -> None:
    band = library.steels["Grade 80"].band(7.9375)
    assert band is not None
    assert band.yield_strength == pytest.approx(80 * KSI, rel=0.001)


@pytest.mark.parametrize(
    ("thickness", "least", "most"),
    [(2.286, 0.008, 0.012), (9.5, 0.008, 0.012), (9.525, 0.012, 0.016), (9.55, 0.012, 0.016)],
)
def test_peening_intensity(library: Library, thickness: float, least: float, most: float) -> None:
    """AMS-S-13165 table VI, steel below 200 ksi, inches on the A gauge; 0.375 in (9.525 mm) bounds the bands."""
    band = library.finishing.peening.band(thickness)
    assert band is not None
    assert (band.intensity_least, band.intensity_most) == pytest.approx((least * 25.4, most * 25.4))
    assert band.gauge == "A"


# ------------------------------------------------------------------ plant and parts go together


def test_presses_take_the_longest_blanks_and_can_mark_them(library: Library) -> None:
    longest = max(
        sum(family.dimensions[name].most for name in ("wheelbase", "front_overhang", "rear_overhang"))
        for family in library.families.values()
    )
    for press in library.presses.values():
        assert press.longest_blank > longest
        assert sum(tool.shape == "mark" for tool in press.tools) == 1
    assert library.finishing.rack.longest_part > longest


def test_both_presses_have_a_tool_for_every_punched_feature(plans: dict[str, SerialPlan], library: Library) -> None:
    for press in library.presses.values():
        for serial, planned in plans.items():
            holes = planned.holes
            thickness = np.array([planned.order.thickness_of(part) for part in PARTS])[holes.part]
            tools = with_string_tools(holes, press, thickness)
            lacking = np.flatnonzero((tools == NONE) & (holes.operation == PUNCH))
            assert [holes.hole_id(row) for row in lacking] == [], (press.id, serial)


def test_mated_parts_have_the_same_features(library: Library) -> None:
    mated: dict[str, list[str]] = {}
    for component in library.components.values():
        if component.mates:
            mated.setdefault(component.mates, []).append(component.side)
    assert len(mated) >= 2
    assert all(sorted(sides) == ["LH", "RH"] for sides in mated.values())


# ------------------------------------------------------------------ sample orders


def test_samples_cover_the_families() -> None:
    orders = [_order(path) for path in SAMPLES]
    families = [order.family for order in orders]
    assert len(orders) >= 6
    assert all(families.count(name) >= 2 for name in set(families))
    assert len(set(families)) == 3
    assert {order.units for order in orders} == {"mm", "in"}
    assert any(order.drive == "dual" for order in orders)
    assert {order.taper.wedge for order in orders if order.taper} == {"after-forming", "in-blank"}
    assert any(order.liner for order in orders)
    assert any(order.limits.zones for order in orders)


def test_sample_files_are_named_by_serial() -> None:
    assert [path.stem for path in SAMPLES] == [_order(path).serial for path in SAMPLES]


@pytest.mark.parametrize("serial", [path.stem for path in SAMPLES if path.stem != "P-1002"])
def test_samples_have_no_error(plans: dict[str, SerialPlan], serial: str) -> None:
    errors = [finding.message for finding in plans[serial].findings if finding.severity == "error"]
    warnings = [finding.message for finding in plans[serial].findings if finding.severity == "warning"]
    assert errors == []
    assert len(warnings) <= 6


def test_the_deliberate_clash_is_found(plans: dict[str, SerialPlan]) -> None:
    errors = [finding for finding in plans["P-1002"].findings if finding.severity == "error"]
    assert {finding.components for finding in errors} == {("brake-junction-bracket", "pump-bracket")}
    assert {finding.side for finding in errors} == {"RH"}
    assert ("hole-spacing", "centre") in {(finding.rule, finding.measure) for finding in errors}


@pytest.mark.parametrize("wheelbase", [4550, 4600, 4700, 4750])
def test_the_deliberate_clash_is_at_one_wheelbase_only(catalogue: Catalogue, wheelbase: float) -> None:
    order = _order(ROOT / "samples" / "P-1002.toml").model_copy(update={"wheelbase": float(wheelbase)})
    assert [f.message for f in plan(order, catalogue).findings if f.severity == "error"] == []


def test_the_concession_is_needed(catalogue: Catalogue) -> None:
    """Without its zone P-1003 breaks the flange rule; with it, it does not."""
    order = _order(ROOT / "samples" / "P-1003.toml")
    bare = order.model_copy(update={"limits": order.limits.model_copy(update={"zones": ()})})
    errors = {(f.rule, f.components) for f in plan(bare, catalogue).findings if f.severity == "error"}
    assert errors == {("flange-hole", ("subframe-stop-plate",))}


def test_rails_carry_120_to_400_holes(plans: dict[str, SerialPlan]) -> None:
    for serial, planned in plans.items():
        for side in (LH, RH):
            count = int(((planned.holes.side == side) & (planned.holes.part == RAIL)).sum())
            assert 120 <= count <= 400, (serial, side)


def test_samples_float_share_and_locate(plans: dict[str, SerialPlan]) -> None:
    for serial, planned in plans.items():
        floating = [component for component in planned.order.components if component.floating]
        assert 5 <= len(floating) <= 12, serial
        assert any(finding.rule == "shared-hole" for finding in planned.findings), serial
        for side in (LH, RH):
            rail = (planned.holes.side == side) & (planned.holes.part == RAIL)
            assert int((planned.holes.locating & rail).sum()) >= 2, serial


def test_tapers_are_sound(plans: dict[str, SerialPlan]) -> None:
    tapers = [planned.order.rail.taper for planned in plans.values() if planned.order.rail.taper]
    assert len(tapers) >= 2
    for taper in tapers:
        assert isinstance(taper, TaperShape)
        assert taper.relief_radius >= taper.least_relief_radius
        assert 900 <= taper.rear - taper.start <= 1400


# ------------------------------------------------------------------ the order bank


def test_bank_script_writes_the_same_bytes(tmp_path: Path) -> None:
    target = tmp_path / "bank.csv"
    script = ROOT / "samples" / "make_bank.py"
    subprocess.run([sys.executable, str(script), str(target)], check=True, cwd=ROOT, env={"PYTHONPATH": str(ROOT)})
    assert target.read_bytes() == BANK.read_bytes()


def test_bank_rows_are_orders(library: Library) -> None:
    rows = list(read_bank(BANK))
    assert [str(row.error) for row in rows if row.error] == []
    orders = [row.order for row in rows if row.order]
    assert len(orders) == 200
    assert len({order.serial for order in orders}) == 200
    assert {order.family for order in orders} == set(library.families)
    assert not {order.serial for order in orders} & {path.stem for path in SAMPLES}
    days = [order.build_date for order in orders]
    assert days == sorted(days)
    assert all(day.weekday() < 5 and day.year == 2027 for day in days)
    assert max(days.count(day) for day in set(days)) == 40


def test_bank_is_buildable(catalogue: Catalogue) -> None:
    """Every row plans; options obey their rules; nearly all are free of errors."""
    with_errors = []
    for row in read_bank(BANK):
        assert row.order is not None
        planned = plan(row.order, catalogue, row.place)
        assert [f.message for f in planned.findings if f.rule == "option-rule"] == []
        if any(finding.severity == "error" for finding in planned.findings):
            with_errors.append(planned.serial)
    assert len(with_errors) <= 10


def test_bank_uses_most_options(library: Library) -> None:
    ordered = {code for row in read_bank(BANK) if row.order for code in row.order.options}
    assert len(ordered) >= len(library.options) - 2


def test_data_files_hold_plain_text() -> None:
    """No tabs, no trailing blanks, ASCII only, and nothing but TOML."""
    for path in sorted(FOLDER.rglob("*")):
        if path.is_file():
            text = path.read_text(encoding="ascii")
            assert path.suffix == ".toml"
            assert not re.search(r"[ \t]+$|\t", text, re.MULTILINE), path
            tomllib.loads(text)
