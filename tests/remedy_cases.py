"""Orders in which components clash, and every shift of one of them tried in turn, as the oracle of remedies."""

from __future__ import annotations

import datetime
import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from railgen.data.component import Component, Option
from railgen.data.findings import Finding
from railgen.data.library import load_library
from railgen.data.order import Order
from railgen.data.order_files import read_order
from railgen.holes.table import HoleTable
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import preferred_station
from railgen.layout.plan import Placements, ResolvedOrder, SerialPlan
from railgen.pipeline import plan
from railgen.placing.remedies import Search, is_between
from railgen.placing.shifts import Checks, Shift
from railgen.rules.check import every_finding
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.strength import strength_findings

Table = dict[str, Any]
DEMO = Path(__file__).parent.parent / "hole_libraries"
STATION = 2400.0
"""mm behind the front axle, where nothing else of the invented truck is."""
LINES = {"net-section", "holes-in-line"}


@cache
def _library() -> Any:
    library = load_library(DEMO)
    option = Option.model_validate({"code": "AAA01", "name": "x", "place": "frame", "families": ["plough-carrier"]})
    return replace(library, options={**library.options, "AAA01": option})


def part(name: str, at: float, **keys: Any) -> Table:
    """A component of the left rail that stands so far (mm) behind where all of a case do."""
    plain = {"id": name, "name": name, "options": ["AAA01"], "kind": "bracket", "side": "LH"}
    return plain | {"position": {"anchor": "front_axle", "offset": STATION + at}} | keys


def holes(*places: tuple[float, float], face: str = "web", **keys: Any) -> Table:
    """Holes at (station, across from the bottom or the web), M16 unless something else is said."""
    features = [{"id": f"f{number}", "station": x, "across": y} for number, (x, y) in enumerate(places)]
    datum = "bottom" if face == "web" else "web"
    return {"face": face, "datum": datum, "fastener": "M16x1.5", "features": features} | keys


def foot(low: float, high: float, bottom: float = 60.0, top: float = 240.0) -> Table:
    """A rectangular foot on the web's outside."""
    polygon = [[low, bottom], [high, bottom], [high, top], [low, top]]
    return {"face": "web", "surface": "outside", "datum": "bottom", "polygon": polygon}


def box(low: float, high: float, across: tuple[float, float], clearance: str = "static") -> Table:
    """An envelope over the web's depth."""
    return {"clearance": clearance, "station": (low, high), "height": (50.0, 250.0), "across": across}


def planned(components: list[Table], **entries: Any) -> tuple[SerialPlan, Catalogue]:
    """A serial of these components and nothing else, and its catalogue."""
    models = sorted((Component.model_validate(entry) for entry in components), key=lambda model: model.id)
    catalogue = compile_catalogue(replace(_library(), components={model.id: model for model in models}))
    plain = {
        "serial": "P-9001",
        "family": "plough-carrier",
        "build_date": datetime.date(2027, 1, 5),
        "options": ["AAA01"],
    }
    return plan(Order.model_validate(plain | entries), catalogue), catalogue


@dataclass(frozen=True)
class Sweep:
    """An order as it stands, and what the rules find wherever a component is put."""

    planned: SerialPlan
    catalogue: Catalogue
    _after: dict[tuple[str, float], list[Finding]] = field(default_factory=dict, repr=False)

    @property
    def order(self) -> ResolvedOrder:
        return self.planned.order

    @property
    def between(self) -> list[Finding]:
        """The findings that a remedy is searched for."""
        return [finding for finding in self.planned.findings if is_between(finding)]

    def _pattern(self, placed: Placements, table: HoleTable | None) -> Pattern:
        holes_there = hole_table(self.order, self.catalogue, placed) if table is None else table
        return pattern_of(self.order, holes_there, placed)

    @property
    def checks(self) -> Checks:
        """The rules, as remedies are given them."""
        return Checks(
            shapes=lambda placed, table: every_finding(self._pattern(placed, table)),
            strength=lambda placed, table: strength_findings(self._pattern(placed, table)),
        )

    def search(self) -> Search:
        return Search(self.order, self.catalogue, self.planned.placements, self.planned.findings, self.checks)

    def after(self, component: str, by: float) -> list[Finding]:
        """All findings with a component moved, mm."""
        key = (component, round(by, 6))
        if key not in self._after:
            standing = self.planned.placements
            rows = standing.component == self.catalogue.index[component]
            pattern = self._pattern(replace(standing, station=standing.station + np.where(rows, by, 0.0)), None)
            self._after[key] = [*every_finding(pattern), *strength_findings(pattern)]
        return self._after[key]

    def serves(self, finding: Finding, component: str, by: float) -> bool:
        """Whether a shift takes a finding away, an error as an error, and no error is found that was not before."""
        after = self.after(component, by)
        graver = ("error",) if finding.severity == "error" else ("error", "warning")
        if any(_alike(finding, other, component) for other in after if other.severity in graver):
            return False
        before = [other for other in self.planned.findings if other.severity == "error"]
        return all(any(_alike(old, new, component) for old in before) for new in after if new.severity == "error")

    def smaller_that_serves(
        self, finding: Finding, component: str, within: float, step: float, widens: bool = False
    ) -> float | None:
        """The least multiple of a step that serves, below some shift; every one of them in the window is tried.

        widens: those beyond a float's window too.
        """
        for number in range(1, int(within / step + 1e-6) + 1):
            for by in (number * step, -number * step):
                allowed = widens or self._in_window(component, by)
                if number * step < within - 1e-6 and allowed and self.serves(finding, component, by):
                    return by
        return None

    def _in_window(self, component: str, by: float) -> bool:
        """Whether a float stays in its window; what is fixed may go anywhere."""
        part = next(part for part in self.order.components if part.id == component)
        if part.floating is None:
            return True
        standing = self.planned.placements
        at = float(standing.station[standing.component == self.catalogue.index[component]].min())
        offset = at + by - preferred_station(part, self.order) + part.position.offset
        return part.floating.least - 1e-6 <= offset <= part.floating.most + 1e-6

    def told(self) -> Iterator[tuple[Finding, str, Shift | None]]:
        """Each finding with the shift of each of its components that the search tells, None where it tells none."""
        search = self.search()
        for finding in self.between:
            shifts = {shift.component: shift for shift in search.shifts(finding)}
            for component in search.movable(finding):
                yield finding, component.id, shifts.get(component.id)


def _alike(one: Finding, other: Finding, moved: str) -> bool:
    """Whether two findings are one: by all that they name, lines by what stands still or what is left on them."""
    if (one.rule, one.measure, one.side) != (other.rule, other.measure, other.side):
        return False
    if one.rule in LINES or (one.rule, one.measure) == ("flange-hole", "count"):
        still = [{hole for hole in f.holes if not hole.startswith(f"{moved}.")} for f in (one, other)]
        return bool(still[0] & still[1]) or set(other.holes) <= set(one.holes)
    if one.rule == "bending":
        return True
    names = [(f.part, f.face, sorted(f.holes), f.components) for f in (one, other)]
    return names[0] == names[1]


def sample(serial: str) -> Sweep:
    """A sample order."""
    catalogue = compile_catalogue(load_library(DEMO))
    order = read_order(DEMO.parent / "samples" / f"{serial}.toml").order
    assert order is not None
    return Sweep(plan(order, catalogue), catalogue)


def swept(components: list[Table], **entries: Any) -> Sweep:
    """An order of these components and nothing else."""
    return Sweep(*planned(components, **entries))


STUD = holes((0, 160), fastener="M8 stud", operation="stud")
STUD["features"][0]["shape"] = "mark"
WIDE = {"diameter": 44.0, "fastener": None, "operation": "drill"}
LINER = {"start": 1000.0, "end": 4000.0, "section": "L280x78x8", "steel": "S700MC"}
CASES: dict[str, tuple[list[Table], Table]] = {
    "hole-spacing": ([part("aa", 0, groups=[holes((0, 150))]), part("bb", 25, groups=[holes((0, 160))])], {}),
    "washer-seat": ([part("aa", 0, groups=[holes((0, 150))]), part("bb", 22, groups=[holes((0, 170))])], {}),
    "size-conflict": (
        [part("aa", 0, groups=[holes((0, 150))]), part("bb", 4, groups=[holes((0, 150), fastener="M12x1.25")])],
        {},
    ),
    "wrench-access": ([part("aa", 0, groups=[holes((0, 150))]), part("bb", 25, groups=[holes((0, 165))])], {}),
    "wrench-access lengths": (
        [
            part("aa", 0, groups=[holes((0, 150))]),
            part("bb", 0, groups=[holes((150, 100))], envelopes=[box(-40, 40, (-60, -20))]),
        ],
        {},
    ),
    "footprint-clash": (
        [
            part("aa", 0, groups=[holes((0, 100), (0, 200))], footprints=[foot(-40, 40)]),
            part("bb", 70, groups=[holes((0, 100), (0, 200))], footprints=[foot(-40, 40)]),
        ],
        {},
    ),
    "footprint-clash washer": (
        [
            part("aa", 0, groups=[holes((0, 100), (0, 200))]),
            part("bb", 45, groups=[holes((0, 150))], footprints=[foot(-30, 30)]),
        ],
        {},
    ),
    "space-clash": (
        [
            part("aa", 0, groups=[holes((0, 150))], envelopes=[box(-100, 100, (-300, -120))]),
            part("bb", 190, groups=[holes((0, 150))], envelopes=[box(-100, 100, (-300, -120), "service")]),
        ],
        {},
    ),
    "net-section rail": (
        [
            part("aa", 0, groups=[holes((0, 70), (0, 230), **WIDE)]),
            part("bb", 20, flange_holes=True, groups=[holes((0, 60), (-130, 60), face="top")]),
        ],
        {},
    ),
    "net-section with-liner": (
        [
            part("aa", 0, groups=[holes((0, 75), (0, 225), **WIDE)]),
            part("bb", 20, flange_holes=True, groups=[holes((0, 55), (-130, 55), face="bottom")]),
        ],
        {"liner": LINER},
    ),
    "holes-in-line": (
        [
            part("aa", 0, groups=[holes((0, 70), (0, 150), (0, 230), fastener="M12x1.25")]),
            part("bb", 8, groups=[holes((0, 110), (0, 190), fastener="M12x1.25")]),
        ],
        {},
    ),
    "flange-hole": (
        [
            part("aa", 0, flange_holes=True, groups=[holes((0, 45), face="top", fastener="M12x1.25")]),
            part("bb", 6, flange_holes=True, groups=[holes((0, 72), face="top", fastener="M12x1.25")]),
        ],
        {},
    ),
    "weld-clearance": (
        [
            part("aa", 0, groups=[holes((0, 150))]),
            part("bb", 20, groups=[STUD]),
        ],
        {},
    ),
}


def random_case(seed: int) -> list[Table]:
    """Three or four components near each other with holes, and some with feet and envelopes."""
    rng = random.Random(seed)
    found = []
    for number in range(rng.randint(3, 4)):
        at, columns = rng.choice([0.0, 30.0, 55.0, 90.0, 130.0]) + rng.randint(-8, 8), rng.randint(1, 2)
        places = [(40.0 * x * rng.choice([1, 2]), z) for x in range(columns) for z in rng.sample(range(70, 240, 10), 2)]
        keys: Table = {"groups": [holes(*places, fastener=rng.choice(["M12x1.25", "M16x1.5"]))]}
        if rng.random() < 0.4:
            keys["footprints"] = [foot(-25.0, 25.0 + places[-1][0], 55.0, 245.0)]
        if rng.random() < 0.4:
            keys["envelopes"] = [box(-80.0, 80.0, (-250.0, -90.0), rng.choice(["static", "service"]))]
        if rng.random() < 0.5:
            keys["floating"] = {"least": STATION + at - 40, "most": STATION + at + 40, "pitch": rng.choice([5, 10, 25])}
        found.append(part(f"part-{number}", at, **keys))
    return found
