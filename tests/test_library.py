"""The demo library: complete, consistent, and true to its sources."""

from __future__ import annotations

import re
import tomllib
from math import pi
from pathlib import Path

import pytest

from railgen.data.library import Library, load_library
from railgen.layout.catalogue import Catalogue, compile_catalogue

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


def test_mated_parts_have_the_same_features(library: Library) -> None:
    mated: dict[str, list[str]] = {}
    for component in library.components.values():
        if component.mates:
            mated.setdefault(component.mates, []).append(component.side)
    assert len(mated) >= 2
    assert all(sorted(sides) == ["LH", "RH"] for sides in mated.values())


def test_data_files_hold_plain_text() -> None:
    """No tabs, no trailing blanks, ASCII only, and nothing but TOML."""
    for path in sorted(FOLDER.rglob("*")):
        if path.is_file():
            text = path.read_text(encoding="ascii")
            assert path.suffix == ".toml"
            assert not re.search(r"[ \t]+$|\t", text, re.MULTILINE), path
            tomllib.loads(text)
