"""The route of a part: which operations it has, in which order, and the figures in them."""

from __future__ import annotations

from dataclasses import replace
from math import acos, pi, sqrt

import numpy as np
import pytest
from builders import STEEL, Hole
from pydantic import ValidationError
from shop_plans import FINISHING, HOLES, PRESS, shop_library, shop_plan

from railgen.data.library import Library
from railgen.data.messages import InputError
from railgen.data.plant import OPERATIONS, Finishing, Press
from railgen.data.stock import Steel
from railgen.frame.measure import part_measures
from railgen.layout.plan import SerialPlan
from railgen.records.register_facts import FACT_KINDS
from railgen.shop.card_line import CardLine
from railgen.shop.operation import Operation
from railgen.shop.part_work import part_work, parts_of
from railgen.shop.route import TASKS, route
from railgen.shop.tools import tool_uses

RAIL_ONLY = [kind for kind in OPERATIONS if kind not in ("dress", "taper", "nest")]


def kinds(operations: tuple[Operation, ...]) -> list[str]:
    return [operation.kind for operation in operations]


def operation(plan: SerialPlan, kind: str, part: str = "rail", side: str = "LH") -> Operation:
    """The one operation of a kind on a part's route."""
    found = [step for step in route(plan, part, side) if step.kind == kind]  # type: ignore[arg-type]
    assert len(found) == 1
    return found[0]


def values(lines: tuple[CardLine, ...], key: str) -> dict[str, object]:
    """Values of the one line with a key."""
    found = [dict(line.values) for line in lines if line.key == key]
    assert len(found) == 1, [line.key for line in lines]
    return found[0]


def library_with(**changes: object) -> Library:
    """The test library with other finishing data."""
    return replace(shop_library(), finishing=Finishing.model_validate(FINISHING.model_dump() | changes))


def test_every_operation_of_the_library_has_a_task() -> None:
    assert tuple(TASKS) == OPERATIONS


def test_order_of_work_of_a_plain_rail() -> None:
    steps = route(shop_plan(), "rail", "LH")
    assert kinds(steps) == RAIL_ONLY
    assert [step.number for step in steps] == [10 * n for n in range(1, len(steps) + 1)]


def test_taper_and_nesting_appear_where_there_is_one() -> None:
    assert kinds(route(shop_plan("after-forming", liner=True), "rail", "RH")) == [
        kind for kind in OPERATIONS if kind != "dress"
    ]
    assert "nest" not in kinds(route(shop_plan("after-forming"), "rail", "RH"))


def test_strings_are_dressed_between_drilling_and_deburring() -> None:
    tools = [tool.model_dump() | {"strings": tool.id == "R 25"} for tool in PRESS.tools]
    press = Press.model_validate(PRESS.model_dump() | {"tools": tools})
    library = replace(shop_library(), presses={press.id: press})
    holes = [*HOLES, Hole(2000.0, 150.0, 25.0, shape="slot", length=60.0, component="passage", sides=("LH",))]
    plan = shop_plan(holes=holes, library=library)
    found = kinds(route(plan, "rail", "LH"))
    assert found[found.index("dress") - 1 : found.index("dress") + 2] == ["drill", "dress", "deburr"]
    assert "dress" not in kinds(route(plan, "rail", "RH"))
    step = operation(plan, "dress")
    given = values(step.instructions, "dress.openings")
    # Circles of 12.5 mm radius, 35 mm in 8 steps: 12.5 - sqrt(12.5^2 - (35 / 8 / 2)^2) = 0.193 mm.
    assert (given["count"], given["first"], given["last"]) == (1, 3000.0, 3000.0)
    assert given["scallop"] == pytest.approx(12.5 - sqrt(12.5**2 - (35 / 8 / 2) ** 2))
    assert float(str(given["scallop"])) <= values(step.limits, "dress.limit")["scallop"] == 0.2
    work = part_work(plan, "rail", "LH")
    row = int(np.flatnonzero(work.holes.length == 60.0)[0])
    assert work.strokes[row] == 9
    # The force is that of the tool that makes the string, not of the opening: pi d t x 0.75 of the highest tensile.
    assert work.forces[row] == pytest.approx(pi * 25.0 * 9.5 * 0.75 * STEEL.tensile_most)
    uses = {use.tool.id: use.hits for use in tool_uses(work.holes, press, np.array([row]), work.strokes) if use.tool}
    assert uses == {"R 25": 9}


def test_liner_goes_its_own_way_and_is_racked_in_its_rail() -> None:
    steps = kinds(route(shop_plan("after-forming", liner=True), "liner", "LH"))
    expected = "blank punch drill deburr form straighten inspect peen clean coat nest"
    assert steps == expected.split()


def test_only_what_the_part_needs() -> None:
    bare = shop_plan(holes=[Hole(1000, 150, 9.0, operation="drill", sides=("LH",))])
    shaping = ["blank", "drill", "deburr", "form", "straighten", "inspect", "peen", "clean", "coat", "rack"]
    assert kinds(route(bare, "rail", "LH")) == shaping
    # The RH rail has no hole at all: nothing to drill, nothing to peen around.
    assert kinds(route(bare, "rail", "RH")) == [kind for kind in shaping if kind not in ("drill", "peen")]


def test_order_comes_from_the_library() -> None:
    order = list(OPERATIONS)
    order.remove("straighten")
    order.insert(order.index("stud") + 1, "straighten")
    steps = kinds(route(shop_plan(library=library_with(operations=order)), "rail", "LH"))
    assert steps == [kind for kind in order if kind in RAIL_ONLY]


def test_a_liner_that_is_not_there_has_no_route() -> None:
    with pytest.raises(ValueError, match="no liner"):
        route(shop_plan(), "liner", "LH")


def test_parts_of_a_serial() -> None:
    assert list(parts_of(shop_plan())) == [("rail", "LH"), ("rail", "RH")]
    assert list(parts_of(shop_plan(liner=True)))[2:] == [("liner", "LH"), ("liner", "RH")]


def test_blank_of_a_plain_and_of_a_cut_one() -> None:
    plain = operation(shop_plan(), "blank")
    size = values(plain.instructions, "blank.cut")
    assert size["length"] == 6000.0
    # 2 (90 - 33.5) + (300 - 67) + pi (24 + K 9.5), K = (0.65 + 0.5 log10(24 / 9.5)) / 2 (DIN 6935, memory).
    assert size["width"] == pytest.approx(434.10, abs=0.005)
    assert values(plain.targets, "blank.mass")["mass"] == pytest.approx(6000 * 434.101 * 9.5 * 7850e-9, rel=1e-4)
    after = operation(shop_plan("after-forming"), "blank")
    assert values(after.instructions, "blank.trim")["trim"] == 15.0
    assert not [line for line in after.instructions if line.key == "blank.wedge"]
    inside = operation(shop_plan("in-blank"), "blank")
    assert values(inside.instructions, "blank.wedge")["relief"] == 24.0
    heavier, lighter = (values(step.targets, "blank.mass")["mass"] for step in (after, inside))
    assert heavier > lighter  # type: ignore[operator]


def test_what_the_register_asks_for_later_is_written_down() -> None:
    records = {step.kind: step.records for step in route(shop_plan(), "rail", "LH") if step.records}
    assert records == {"blank": ("coil", "heat"), "peen": ("peening_lot",), "coat": ("coating_lot",)}
    assert {name.replace("_", "-") for names in records.values() for name in names} <= set(FACT_KINDS)


def test_locating_holes_are_told_with_their_tool_and_place() -> None:
    step = operation(shop_plan(), "locating")
    hits = values(step.instructions, "locating.hits")
    assert (hits["hits"], hits["tool"]) == (3, "R 17")
    assert values(step.instructions, "locating.span")["first_x"] == 100.0
    assert values(step.targets, "press.greatest")["force"] == pytest.approx(pi * 17 * 9.5 * 712.5 / 1000)
    assert values(step.limits, "press.force")["force"] == PRESS.force
    mirrored = values(operation(shop_plan(), "locating", side="RH").instructions, "locating.span")
    assert (mirrored["first_x"], mirrored["last_x"]) == (100.0, 5900.0)


def test_punching_counts_what_is_left_for_it() -> None:
    step = operation(shop_plan(), "punch")
    # Hanger hole, its screw's hole, slot, rectangle and flange hole; the stud's centre mark besides.
    assert values(step.instructions, "punch.holes") == {"holes": 5, "tools": 4}
    assert values(step.instructions, "punch.marks") == {"marks": 1}
    edge = 2 * (70 - 10) + 2 * (40 - 10) + pi * 10
    assert values(step.targets, "press.greatest")["force"] == pytest.approx(edge * 9.5 * 712.5 / 1000)
    assert not [line for line in step.cautions if line.key in ("tool.missing", "press.over")]


def test_missing_tools_and_too_much_force_are_cautioned() -> None:
    weak = Press.model_validate(
        PRESS.model_dump() | {"force": 300.0, "tools": [{"id": "R 25", "shape": "round", "diameter": 25.0}]}
    )
    step = operation(shop_plan(library=replace(shop_library(), presses={PRESS.id: weak})), "punch")
    assert values(step.cautions, "tool.missing") == {"count": 5}
    values(step.cautions, "press.over")


def test_marks_alone_need_no_force() -> None:
    step = operation(shop_plan(holes=[Hole(1000, 150, shape="mark", operation="stud")]), "punch")
    assert step.targets == ()
    assert [line.key for line in step.instructions] == ["punch.marks", "punch.stamp"]


def test_drilling_and_countersinking() -> None:
    step = operation(shop_plan(), "drill")
    drilled = [(line.values["count"], line.values["size"]) for line in step.instructions if line.key == "drill.holes"]
    assert [(count, size.values["diameter"]) for count, size in drilled] == [(1, 9.0), (1, 17.5)]  # type: ignore[union-attr]
    sunk = values(step.instructions, "drill.countersink")
    assert sunk == {"count": 1, "fastener": "M16x1.5 flush", "diameter": 32.0, "angle": 90.0}


def test_forming_follows_the_steel() -> None:
    step = operation(shop_plan(), "form")
    assert values(step.instructions, "form.bend_bottom")["number"] == 1
    assert values(step.limits, "form.least_radius")["radius"] == pytest.approx(2.5 * 9.5)
    assert step.cautions == ()
    stiff = Steel(standard="EN 10149-2", bands=(STEEL.model_copy(update={"least_bend_radius": 3.0}),))
    plan = shop_plan()
    order = replace(plan.order, rail_steel=stiff.bands[0])
    values(operation(replace(plan, order=order), "form").cautions, "form.too_tight")


def test_force_of_a_bend_over_an_open_die() -> None:
    # 1.33 x 950 MPa x 6000 mm x 9.5 mm / 8 = 9002 kN, the die 76 open (common practice, from memory).
    press = {"forming": {"force": 8000.0}}
    step = operation(shop_plan(library=library_with(**press)), "form")
    told = values(step.targets, "form.force")
    assert (told["force"], told["opening"]) == pytest.approx((1.33 * 950 * 6000 * 9.5 / 8 / 1000, 76.0))
    assert values(step.limits, "form.press")["share"] == pytest.approx(told["force"] / 8000)  # type: ignore[operator]
    values(step.cautions, "form.over")


def test_a_steel_without_forming_data_is_refused_by_name() -> None:
    plan = shop_plan()
    bare = replace(plan.order, rail_steel=STEEL.model_copy(update={"spring_back": None}))
    with pytest.raises(InputError, match=r"steels\.toml: steels\.S700MC\.bands, 9\.5 mm: spring_back: found nothing"):
        route(replace(plan, order=bare), "rail", "LH")


def test_form_tolerances_grow_with_the_part() -> None:
    held = {"form": {"bow": 1.0, "camber": 0.5, "twist": 0.25, "angle": 0.8, "depth": 0.7}}
    steps = route(shop_plan(library=library_with(**held)), "rail", "LH")
    targets = next(step.targets for step in steps if step.kind == "straighten")
    assert values(targets, "straighten.bow")["limit"] == pytest.approx(6.0)
    assert values(targets, "straighten.camber")["limit"] == pytest.approx(3.0)
    assert values(targets, "straighten.twist")["limit"] == pytest.approx(1.5)
    assert values(targets, "straighten.angle")["limit"] == 0.8
    assert values(targets, "straighten.depth") == {"depth": 300, "limit": 0.7}


@pytest.mark.parametrize(
    ("first", "moved", "reason"),
    [
        ("peen", "punch", "peen before punch: after peening nothing may be punched"),
        ("peen", "drill", "peen before drill: after peening nothing may be"),
        ("peen", "form", "peen before form: after peening nothing may be"),
        ("peen", "taper", "peen before taper: after peening nothing may be"),
        ("peen", "stud", "peen before stud: after peening nothing may be"),
        ("peen", "straighten", "peen before straighten: after peening nothing may be"),
        ("inspect", "stud", "what is made after the inspection is not inspected"),
        ("peen", "inspect", "what an inspection finds cannot be put right after peening"),
        ("clean", "peen", "coating comes last on the bare part"),
        ("coat", "clean", "coating goes over clean steel"),
        ("nest", "coat", "rail and liner are coated apart"),
        ("rack", "nest", "a liner is racked in its rail"),
        ("punch", "locating", "gauged from the locating holes"),
        ("deburr", "punch", "punched in the flat blank"),
        ("form", "drill", "drilled in the flat blank"),
        ("straighten", "form", "only a formed part is straightened"),
        ("locating", "blank", "before it is cut"),
    ],
)
def test_an_order_of_work_that_cannot_be_is_refused_with_the_reason(first: str, moved: str, reason: str) -> None:
    order = [kind for kind in OPERATIONS if kind != moved]
    order.insert(order.index(first) + 1, moved)  # type: ignore[arg-type]
    with pytest.raises(ValidationError, match=reason):
        library_with(operations=order)


def test_heat_above_the_peening_limit_is_refused() -> None:
    # 475 degF (246 degC), AMS 2430 (memory).
    hot = FINISHING.coating.model_dump() | {"bake_temperature": 247.0}
    with pytest.raises(ValidationError, match="hotter than peened steel may get"):
        library_with(coating=hot)
    assert library_with(coating=hot | {"bake_temperature": 246.0})


@pytest.mark.parametrize(("wedge", "cut"), [("after-forming", "taper.cut"), ("in-blank", "taper.cut_in_blank")])
def test_taper_tells_cut_fold_and_weld(wedge: str, cut: str) -> None:
    plan = shop_plan(wedge)  # type: ignore[arg-type]
    taper = plan.order.rail.taper
    assert taper is not None
    step = operation(plan, "taper")
    assert values(step.instructions, cut)["relief"] == 24.0
    assert values(step.instructions, "taper.fold")["slope"] == pytest.approx(3.8141, abs=1e-4)
    weld = values(step.instructions, "taper.weld")
    assert weld["length"] == pytest.approx(taper.seam_length)
    assert weld["metal"] == pytest.approx(3.0 * 9.5 * taper.seam_length * 7850e-6)
    assert values(step.inputs, "taper.procedure")["procedure"] == "WPS-RAIL-04"
    assert values(step.limits, "taper.relief")["radius"] == taper.least_relief_radius


def test_studs_by_fastener() -> None:
    extra = Hole(3100, 150, shape="mark", operation="stud", fastener="stud M8")
    step = operation(shop_plan(holes=[*HOLES, extra]), "stud")
    told = values(step.instructions, "stud.weld")
    assert told == {"count": 2, "fastener": "stud M8", "first": 2800.0, "last": 3100.0}
    assert values(step.inputs, "stud.procedure")["procedure"] == "WPS-STUD-02"


def test_inspection_counts_holes_by_face() -> None:
    step = operation(shop_plan(), "inspect")
    assert values(step.instructions, "inspect.count") == {"web": 9, "top": 1, "bottom": 0, "total": 10}
    # Three locating holes; none of the others has a screw that the test library knows but the flush one.
    assert values(step.instructions, "inspect.plan") == {"count": 4}
    stretch = values(step.inputs, "inspect.temperature")
    assert (stretch["metre"], stretch["whole"]) == pytest.approx((0.0117, 0.0702))
    assert values(step.targets, "inspect.length")["length"] == 6000.0
    assert step.sign_off == ("inspector", "date")


def test_peening_window_passes_and_area() -> None:
    step = operation(shop_plan(), "peen")
    window = values(step.limits, "peen.intensity")
    assert (window["least"], window["most"], window["gauge"]) == (0.20, 0.30, "A")
    assert values(step.instructions, "peen.passes")["passes"] == 4
    # Ten holes with rings of 20: the ring's width times the edge, and pi times the width squared, on two faces. Four
    # of 17 lie 26.5 from a tangent, where their rings of radius 28.5 end; the hanger's two rings meet.
    edges = 17 * 5 * pi + 25 * pi + 17.5 * pi + 9 * pi + (pi * 18 + 44) + (2 * 60 + 2 * 30 + 10 * pi)
    beyond = 28.5**2 * acos(26.5 / 28.5) - 26.5 * sqrt(28.5**2 - 26.5**2)
    assert values(step.instructions, "peen.rings")["holes"] == 10
    assert values(step.instructions, "peen.area")["area"] == pytest.approx(
        2e-6 * (edges * 20 + 10 * pi * 20**2 - 4 * beyond - overlaps()), rel=1e-3
    )


def overlaps() -> float:
    """What the rings of the hanger's two holes at station 0, 50 apart, have in common (mm2)."""
    x, z = np.meshgrid(np.arange(-40, 40, 0.1), np.arange(60, 200, 0.1))
    both = (np.hypot(x, z - 150) <= 12.5 + 20) & (np.hypot(x, z - 100) <= 8.5 + 20)
    return float(np.count_nonzero(both)) * 0.01


def test_no_intensity_window_names_the_file() -> None:
    peening = FINISHING.peening.model_dump()
    peening["bands"] = [peening["bands"][1]]
    with pytest.raises(InputError, match=r"finishing\.toml: peening\.bands: found .*9\.5 mm"):
        route(shop_plan(library=library_with(peening=peening)), "rail", "LH")
    peening = FINISHING.peening.model_dump() | {"single_pass_coverage": 0.0}
    with pytest.raises(InputError, match=r"peening\.single_pass_coverage"):
        route(shop_plan(library=library_with(peening=peening)), "rail", "LH")


def test_coating_takes_the_measured_surface() -> None:
    plan = shop_plan("after-forming")
    step = operation(plan, "coat")
    edges = 17 * 5 * pi + 25 * pi + 17.5 * pi + 9 * pi + (pi * 18 + 44) + (2 * 60 + 2 * 30 + 10 * pi)
    areas = 5 * pi * 8.5**2 + pi * 12.5**2 + pi * 8.75**2 + pi * 4.5**2 + pi * 9**2 + 18 * 22
    areas += 40 * 70 - (4 - pi) * 25
    surface = part_measures(plan.order.rail, "rail", areas, edges).surface
    assert values(step.instructions, "coat.area")["area"] == pytest.approx(surface * 1e-6, rel=1e-9)
    solids = values(step.instructions, "coat.solids")
    assert solids["solids_least"] == pytest.approx(surface * 25e-6 * 1.3)
    assert solids["volume_most"] == pytest.approx(surface * 35e-6)
    assert values(step.limits, "coat.heat")["temperature"] == 246.0


def test_too_long_and_too_heavy_for_the_rack() -> None:
    rack = FINISHING.rack.model_dump() | {"longest_part": 5999.0, "highest_mass": 100.0}
    step = operation(shop_plan(library=library_with(rack=rack)), "clean")
    assert {"clean.too_long", "clean.too_heavy"} <= {line.key for line in step.cautions}
    assert not {"clean.too_long", "clean.too_heavy"} & {line.key for line in operation(shop_plan(), "clean").cautions}


def test_rails_are_racked_beside_their_partners() -> None:
    for side, partner in (("LH", "RH"), ("RH", "LH")):
        told = values(operation(shop_plan(), "rack", side=side).instructions, "rack.beside")
        assert told == {"partner": partner, "serial": "P-1001"}


def test_standard_times_by_hand() -> None:
    plan = shop_plan("after-forming", liner=True)
    taper = plan.order.rail.taper
    assert taper is not None
    minutes = {step.kind: step.minutes for step in route(plan, "rail", "LH")}
    assert minutes["locating"] == pytest.approx(1.0 + 3 * 0.05)
    assert minutes["punch"] == pytest.approx(4.0 + 6 * 0.02)
    assert minutes["drill"] == pytest.approx(5.0 + 2 * 0.6)
    assert minutes["form"] == pytest.approx(3.0 + 2 * 2.0)
    assert minutes["taper"] == pytest.approx(20.0 + 12.0 * taper.seam_length / 1000)
    assert minutes["stud"] == pytest.approx(3.0 + 0.3)
    nozzle = values(operation(plan, "peen").instructions, "peen.passes")["minutes"]
    assert minutes["peen"] == pytest.approx(8.0 + 10 * 0.2 + nozzle)  # type: ignore[operator]
    assert minutes["coat"] is None


def test_time_of_nesting_stands_on_the_liners_card_alone() -> None:
    plan = shop_plan(liner=True, library=library_with(times={"nest": {"fixed": 9.0, "each": 0.1}}))
    assert operation(plan, "nest", "liner").minutes == pytest.approx(9.0 + 3 * 0.1)
    assert operation(plan, "nest", "rail").minutes is None


def test_part_work_knows_section_and_steel_of_the_liner() -> None:
    work = part_work(shop_plan(liner=True), "liner", "RH")
    assert (work.section_name, work.steel_name, work.thickness) == ("280x76x6", "S500MC", 6.0)
    assert work.finished_length == work.blank_length == 2000.0
    assert len(work.holes) == 3
