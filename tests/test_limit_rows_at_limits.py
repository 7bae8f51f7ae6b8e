"""Every figure of every row of every published limit set: what is at it and outside it passes, what is inside it not.

The row holds just as it stands in its set: with what it is of, with its table, and where it says that it holds. What it
asks for on a rail is worked out here. Ratios are held a hundred-thousandth off, counts by one more hole, lengths by a
micrometre; values at the limits of random rails are in ``test_rules_at_limits``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import pi

import pytest
import test_strength_bending as bent
import test_strength_joint_rules as joints
from at_limit_cases import CASES
from at_limit_counts import COUNTED
from at_limit_rails import Asked, Draw, Table, draw, holes, part
from at_limit_shapes import stocked
from builders import FRONT, STEEL
from clearance_cases import Placed, demo, pattern
from strength_cases import planned
from test_rules_at_limits import BOTH_SIDES, IN_RATIOS, MICROMETRE, RATIO, WITH_LINER, WITH_TAPER, of_measure

from railgen.data.findings import Finding
from railgen.data.limit_sets import MEASURES, LimitRow
from railgen.frame.rail import RailShape
from railgen.frame.section import Section, properties
from railgen.rules.check import every_finding
from railgen.rules.drain import drain
from railgen.rules.pattern import Pattern
from railgen.rules.strength import bending
from railgen.shop.hanging import LEAST_POCKET

SIDES = 2
NO_LIMIT = {
    "bending front-axle": "a note that compares what the order gives with what the masses make",
    "bending rear-axle": "a note that compares what the order gives with what the masses make",
    "grip screw-length": "a screw that is too short for its stack whatever a set says; held in test_shop_kit",
    "taper-shape upset": "a note, unless a zone of an order has a limit for it; held in test_rules_at_limits",
}
"""Measures that no published set has a row for."""
NOT_OF_HOLES = dict.fromkeys(
    (f"option-rule {measure}" for measure in MEASURES["option-rule"]),
    "counts options of an order and nothing of a rail; orders of test_oracle break each, and others do not",
)


@dataclass(frozen=True)
class Limit:
    """One figure of a row of a set: that of an error or a warning, or one entry of its table."""

    limit_set: str
    row: LimitRow
    severity: str
    figure: float
    size: float | None = None
    above: float = 0.0

    @property
    def measure(self) -> str:
        return f"{self.row.rule} {self.row.measure}"

    @property
    def as_row(self) -> Table:
        """The row as a set's file has it."""
        return self.row.model_dump(exclude_none=True, exclude_defaults=True)

    def __str__(self) -> str:
        when = "" if self.row.when is None else f" {sorted(self.as_row['when'].items())}"
        what = f" {self.size:g}" if self.size else ""
        return f"{self.limit_set} {self.measure}{what} {self.severity} {self.figure:g} {self.row.of or ''}{when}"


def published() -> Iterator[Limit]:
    """All of them, as the demo library's files have them."""
    for name, limit_set in demo().limit_sets.items():
        for row in limit_set.rows:
            for severity, figure in (("error", row.error), ("warning", row.warning)):
                if figure is not None:
                    yield Limit(name, row, severity, figure)
            above = 0.0
            for size, figure in row.table:
                yield Limit(name, row, "error", figure, size, above)
                above = size


EVERY = list(published())
OWN = {"off-rail outside", "duplicate-hole pair", "size-conflict pair"}
"""Measures whose random cases in test_rules_at_limits are held to the sets' own rows, which have no other figure."""
_SHAPED = {case.partition(",")[0] for case in CASES} - OWN
SHAPED = [limit for limit in EVERY if limit.measure in _SHAPED]
COUNTS = [limit for limit in EVERY if limit.row.unit == "count"]
NONE_ALLOWED = [limit for limit in EVERY if limit.measure in COUNTED and limit.row.unit == "violations"]
NET_SECTIONS = [limit for limit in EVERY if limit.row.rule == "net-section"]


def hole_for(limit: Limit) -> tuple[float, float]:
    """A hole (mm) that the row is for, and its screw: the largest whose fine hole it is not smaller than, or itself."""
    screws = sorted((f.diameter, f.holes.fine, f.holes.coarse) for f in demo().fasteners.values() if f.holes)
    when = limit.row.when
    sizes = when.bolt if when and when.bolt else None
    if limit.size is None and sizes is None:
        return (18.0 if when and when.hole and when.hole.above else 15.0), 14.0
    low, high = (limit.above, limit.size) if limit.size else (sizes.above or 0.0 if sizes else 0.0, 1e9)
    largest = max(coarse for _, _, coarse in screws)
    for diameter, fine, _ in screws:
        if low < diameter <= high and max(d for d, f, _ in screws if f <= fine) == diameter:
            return fine, diameter
    assert high > largest, f"no screw of more than {low:g} and at most {high:g} mm"
    hole = min(max(low, largest) + 1.0, high)
    return hole, hole


def drawn_for(limit: Limit, seed: int) -> Draw:
    """A random rail with the row, and what it asks for there."""
    plain = draw(seed, limit.measure in WITH_TAPER, limit.measure in WITH_LINER)
    hole, bolt = hole_for(limit)
    liner = plain.rail.liner
    sizes = {"t": plain.section.thickness, "depth": plain.section.depth, "hole": hole, "bolt": bolt}
    sizes |= {"liner t": liner.section.thickness} if liner else {}
    of = 1.0 if limit.row.of is None or limit.row.table else sizes[limit.row.of]
    sized = hole if limit.row.of in ("hole", "bolt") or (limit.row.when and limit.row.when.hole) else 0.0
    return replace(plain, asked=Asked(limit.as_row, limit.figure * of, sized))


def of_steel(made: Pattern, limit: Limit) -> Pattern:
    """The pattern on a rail of a steel that the row is for."""
    asked = limit.row.when.tensile if limit.row.when else None
    if asked is None or asked.most is None:
        return made
    order = replace(made.order, rail_steel=STEEL.model_copy(update={"tensile_least": asked.most}))
    return replace(made, order=order, _evaluated={}, _computed={})


def of_severity(found: list[Finding], limit: Limit) -> int:
    return sum(finding.severity == limit.severity for finding in of_measure(found, limit.measure))


UNREACHED = {("aisc-360", 22.0): "no screw of the library", ("aisc-360", 24.0): "no screw of the library"}
"""Entries of a table that no hole of the library's screws comes under, by set and size."""


@pytest.mark.parametrize("limit", SHAPED, ids=str)
def test_a_row_at_its_limit_outside_and_inside(limit: Limit) -> None:
    if (limit.limit_set, limit.size) in UNREACHED:
        with pytest.raises(AssertionError, match="no screw"):
            hole_for(limit)
        return
    step = RATIO if limit.measure in IN_RATIOS else MICROMETRE
    for number, name in enumerate(CASES):
        if name.partition(",")[0] != limit.measure or name == "ramp-flush proud, of a foot":
            continue  # no ply is so thin that it stands less than not at all above a ramp
        found = []
        for shift in (0.0, step, -step):
            drawn = drawn_for(limit, 7000 + number)
            found.append(of_severity(every_finding(of_steel(CASES[name](drawn, shift), limit)), limit))
        assert found == [0, 0, SIDES if limit.measure in BOTH_SIDES else 1], name


@pytest.mark.parametrize("limit", COUNTS, ids=str)
def test_one_hole_fewer_as_many_and_one_more_than_a_row_allows(limit: Limit) -> None:
    name = limit.measure + (", by centres" if limit.row.counted == "centres" else "")
    build, _ = COUNTED[name]
    most = round(limit.figure)
    found = [of_severity(every_finding(build(count, limit.as_row)), limit) for count in (most - 1, most, most + 1)]
    assert found == [0, 0, 1]


@pytest.mark.parametrize("limit", NONE_ALLOWED, ids=str)
def test_none_and_one_where_a_row_allows_none(limit: Limit) -> None:
    build, _ = COUNTED[limit.measure]
    assert [of_severity(every_finding(build(count, limit.as_row)), limit) for count in (0, 1)] == [0, 1]


IN_WEB, IN_FLANGE = 70.0, 60.0
"""Where the holes of a weak line are: so far above and below mid-depth, and so far from the web's outside face."""


def inertia(section: Section) -> float:
    """Second moment of area of a channel by hand, mm4: web and flanges between the bends, which are quarter rings."""
    t, corner, inner = section.thickness, section.tangent, section.inside_radius
    straight, flat, arm = section.depth - 2 * corner, section.flange - corner, (section.depth - t) / 2
    ring, first, second = pi / 4 * (corner**2 - inner**2), (corner**3 - inner**3) / 3, pi / 16 * (corner**4 - inner**4)
    bends = 2 * (second + straight * first + ring * (straight / 2) ** 2)
    return t * straight**3 / 12 + 2 * (flat * t**3 / 12 + flat * t * arm**2) + bends


def ratio_left(sections: list[Section], wide: float, in_flange: float) -> float:
    """Modulus left over the gross one of channels one in another, their middles at one height.

    Two equal holes are in the web and one in each flange: what they take is alike to both sides, so the axis stays.
    """
    gross = taken = 0.0
    for section in sections:
        t, arm = section.thickness, (section.depth - section.thickness) / 2
        gross += inertia(section)
        taken += 2 * t * (wide**3 / 12 + wide * IN_WEB**2) + 2 * in_flange * (t**3 / 12 + t * arm**2)
    return 1 - taken / gross


@pytest.mark.parametrize("limit", NET_SECTIONS, ids=str)
def test_a_line_that_leaves_what_a_row_asks_for_or_a_hundred_thousandth_less_or_more(limit: Limit) -> None:
    """Ahead of the last axle and behind it. A liner lies with its middle at the rail's; the holes pass through it."""
    rail = draw(8, liner=True).rail
    assert rail.liner is not None
    rail = replace(rail, liner=replace(rail.liner, end=4800.0))
    sections = [rail.section, *([rail.liner.section] if limit.row.measure == "with-liner" and rail.liner else [])]
    station = 1000.0 if limit.row.when and limit.row.when.zone == "ahead_of_last_axle" else 4500.0
    in_flange = 16.0 if limit.figure < 0.85 else 2.0

    def found(wide: float) -> list[Finding]:
        middle = rail.section.depth / 2
        groups = [holes((0.0, middle - IN_WEB), (0.0, middle + IN_WEB), diameter=wide)]
        groups += [holes((0.0, IN_FLANGE), face=face, diameter=in_flange) for face in ("top", "bottom")]
        owners = [Placed(part(f"p{number}", group), station) for number, group in enumerate(groups)]
        return every_finding(pattern(owners, rail, [limit.as_row]))

    counts = []
    for asked in (limit.figure, limit.figure + RATIO, limit.figure - RATIO):
        low, high = 2.0, 100.0
        while high - low > 1e-9:
            middle = (low + high) / 2
            low, high = (middle, high) if ratio_left(sections, middle, in_flange) > asked else (low, middle)
        counts.append(of_severity(found(low), limit))
    assert counts == [0, 0, 1]


def beams(value: float, limit: Limit) -> list[Finding]:
    serial = planned([bent.BRACKET], loads=bent.BODY)
    return list(bending(bent.pattern(serial), bent.checked(serial, bent.weak(serial, value, 2600.0))))


def bolts(value: float, limit: Limit) -> list[Finding]:
    return joints.findings(joints.scaled(value))


def clamped(value: float, limit: Limit) -> list[Finding]:
    """M16 through 9.5 mm of rail and a ply."""
    return joints.clamped([{"thickness": value * 16 - 9.5, "surface": "outside"}])


def hung(value: float, limit: Limit) -> list[Finding]:
    """A rail hung level by its ends, open side up, so short that it sags by so much: 5 w L4 / (384 E I)."""
    section = draw(9).section
    rigid = properties(section)
    load = rigid.area * 7.85e-6 * 9.80665
    length = (value * 384 * 210_000 * rigid.iyy / (5 * load)) ** 0.25
    finishing = demo().finishing
    rack = finishing.rack.model_copy(update={"open_side": "up", "slope": 0.0, "hook_stations": (0.0, length)})
    made = pattern([], RailShape(section, FRONT, FRONT + length, None, None), [limit.as_row])
    return list(drain(stocked(made, finishing=finishing.model_copy(update={"rack": rack}))))


STRENGTH: dict[str, tuple[Callable[[float, Limit], list[Finding]], int, tuple[float, float]]] = {
    "bending stress": (beams, 1, (-RATIO, RATIO)),
    "joint utilisation": (bolts, 8, (-RATIO, RATIO)),
    "grip bolt-diameters": (clamped, 8, (RATIO, -RATIO)),
    "drain depth": (hung, SIDES, (LEAST_POCKET - MICROMETRE, LEAST_POCKET + MICROMETRE)),
}
"""What makes a value, how many findings it has, and what is outside and what inside: of drain the least pocket."""


OF_STRENGTH = [limit for limit in EVERY if limit.measure in STRENGTH]


@pytest.mark.parametrize("limit", OF_STRENGTH, ids=str)
def test_a_row_of_strength_at_its_limit_outside_and_inside(limit: Limit) -> None:
    make, many, (outside, inside) = STRENGTH[limit.measure]
    at = 0.0 if limit.measure != "drain depth" else outside
    found = [make(limit.figure + off, limit) for off in (at, outside, inside)]
    assert [of_severity(findings, limit) for findings in found] == [0, 0, many]


def test_every_figure_of_every_set_is_held_above_and_every_measure_has_one() -> None:
    """What the tests above are given: nothing that the sets have is left out but what is said why."""
    held = [*SHAPED, *COUNTS, *NONE_ALLOWED, *NET_SECTIONS, *OF_STRENGTH]
    assert {limit.measure for limit in EVERY if limit not in held} == set(NOT_OF_HOLES) | OWN
    every = {f"{rule} {measure}" for rule, measures in MEASURES.items() for measure in measures}
    assert every - {limit.measure for limit in EVERY} == set(NO_LIMIT)
