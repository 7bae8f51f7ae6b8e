"""The measuring plan, the places of Almen strips, masked features and the load of a rack, by hand."""

from __future__ import annotations

from dataclasses import replace
from math import floor

import numpy as np
import pytest
from builders import Hole
from clearance_cases import component, demo
from shop_plans import FINISHING, shop_library, shop_plan

from railgen.data.plant import Finishing
from railgen.layout.plan import SerialPlan
from railgen.shop.finish_operations import coat, masked_features
from railgen.shop.measuring import measuring_plan, warm_stretch
from railgen.shop.part_work import PartWork, part_work
from railgen.shop.strips import strip_places

GROUP = [(-60.0, 80.0), (0.0, 80.0), (60.0, 80.0), (-60.0, 200.0), (60.0, 220.0)]


def planned(*holes: Hole, **tables: object) -> SerialPlan:
    """A serial with the demo library's fasteners, and an earth point among its components."""
    finishing = Finishing.model_validate(FINISHING.model_dump() | tables)
    library = replace(
        shop_library(),
        fasteners=demo().fasteners,
        finishing=finishing,
        components={"earth": component("earth", masked=True), "tank": component("tank")},
    )
    return shop_plan(library=library, holes=holes)


def work(*holes: Hole, **tables: object) -> PartWork:
    return part_work(planned(*holes, **tables), "rail", "LH")


def bolted(*places: tuple[float, float], name: str = "tank", **keys: object) -> list[Hole]:
    return [
        Hole(1000 + x, z, 17.5, fastener="M16x1.5", component=name, feature=f"f{number}", **keys)  # type: ignore[arg-type]
        for number, (x, z) in enumerate(places)
    ]


def ids(part: PartWork) -> list[str]:
    return [part.holes.hole_id(row) for row in measuring_plan(part).row.tolist()]


def test_of_each_group_the_two_holes_furthest_apart() -> None:
    # From the foremost, lowest hole (-60, 80) the furthest is (60, 220).
    assert ids(work(*bolted(*GROUP))) == ["tank.1.f0", "tank.1.f4"]


def test_a_group_is_one_instance_on_one_face() -> None:
    second = [replace(hole, instance=2, station=hole.station + 800) for hole in bolted(*GROUP[:2])]
    flange = bolted((0.0, 60.0), face="top")
    assert ids(work(*bolted(*GROUP[:2]), *second, *flange)) == [
        "tank.1.f0",
        "tank.1.f1",
        "tank.2.f0",
        "tank.2.f1",
        "tank.1.f0",
    ]


def test_holes_without_a_screw_marks_and_studs_are_not_measured_but_locating_holes_are() -> None:
    others = [
        Hole(500, 150, 60.0, component="passage"),
        Hole(700, 150, shape="mark", operation="stud", fastener="stud M8"),
        Hole(4900, 60, 16.0, component="pin"),
    ]
    part = work(*others)
    assert ids(part) == ["pin.1.f2"]
    plan = measuring_plan(part)
    assert (plan.station.tolist(), plan.group.tolist()) == ([0.5], [0.5])


def test_tight_within_the_group_by_hole_less_bolt_and_looser_for_the_station() -> None:
    # ASME Y14.5 (memory), floating fastener: 17.5 - 16 = 1.5.
    plan = measuring_plan(work(*bolted(*GROUP)))
    assert plan.group == pytest.approx([1.5, 1.5])
    assert plan.station == pytest.approx([3.0, 3.0])
    other = measuring_plan(work(*bolted(*GROUP), tolerances={"station": 2.0, "component": {"tank": {"group": 0.8}}}))
    assert (other.group.tolist(), other.station.tolist()) == ([0.8, 0.8], [2.0, 2.0])


def test_steel_grows_with_each_degree() -> None:
    # 11.7e-6 a degree (common handbook value, memory): 7 m grow by 0.82 mm in 10 degrees.
    assert 10 * warm_stretch(7000.0) == pytest.approx(0.819)


def test_strips_stand_at_the_ends_and_the_middle_of_the_web_and_amid_each_flange() -> None:
    web = [Hole(x, 150, 17.0) for x in (0.0, 900.0, 2100.0, 3900.0)]
    top = [Hole(x, 60, 13.0, face="top") for x in (200.0, 1000.0, 1900.0)]
    part = work(*web, *top)
    strips = strip_places(part)
    places = [(float(part.holes.station[s.row]), int(part.holes.face[s.row]), s.outside) for s in strips]
    assert places[:6] == [(x, 0, out) for x in (0.0, 2100.0, 3900.0) for out in (True, False)]
    assert places[6:] == [(1000.0, 1, True), (1000.0, 1, False)]
    at_900 = int(np.flatnonzero(part.holes.station == 900.0)[0])
    assert {s.row for s in strip_places(part, at_900)} - {s.row for s in strips} == {at_900}
    assert strip_places(work()) == ()


def test_masked_features_are_listed_by_hole_face_and_place() -> None:
    part = work(
        *bolted(*GROUP[:1]), Hole(1200, 95, 9.0, component="earth"), Hole(1300, 60, 9.0, "top", component="earth")
    )
    found = masked_features(part)
    assert [line.key for line in found] == ["coat.mask_web", "coat.mask_top"]
    assert (found[0].values["hole"], found[0].values["station"], found[0].values["across"]) == ("earth.1.f1", 1200, 95)


def test_a_racks_load_is_what_its_mass_allows() -> None:
    part = work(*bolted(*GROUP))
    least = [line for line in coat(part).instructions if line.key == "coat.rack"]
    parts = floor(900.0 / part.measures.mass)
    assert least[0].values["parts"] == parts
    assert least[0].values["mass"] == pytest.approx(parts * part.measures.mass)
    assert least[0].values["area"] == pytest.approx(parts * part.measures.surface * 1e-6)
    heavy = work(*bolted(*GROUP), rack=FINISHING.rack.model_dump() | {"highest_mass": 100.0})
    assert [line for line in coat(heavy).instructions if line.key == "coat.rack"] == []
