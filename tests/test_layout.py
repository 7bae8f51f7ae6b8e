"""Layout: anchors, sides, repeats, options; what moves and what stays."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from railgen.data.component import Component, is_valid_for
from railgen.data.library import Library, load_library
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.data.values import MM_PER_INCH
from railgen.formats.hole_table import hole_table_csv
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.place import repeat_stations, sides_of
from railgen.layout.plan import SerialPlan
from railgen.layout.resolve import resolve
from railgen.pipeline import plan

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "hole_libraries"


@pytest.fixture(scope="module")
def small() -> Catalogue:
    return compile_catalogue(load_library(Path(__file__).parent / "small_library"))


@pytest.fixture(scope="module")
def demo() -> Catalogue:
    return compile_catalogue(load_library(DEMO))


def order(**values: Any) -> Order:
    given = {"serial": "X-1", "family": "tractor", "build_date": datetime.date(2027, 1, 5), **values}
    return Order.model_validate(given)


def positions(planned: SerialPlan) -> dict[tuple[str, str, str], tuple[float, float]]:
    """Station and across of every feature by side, part and hole."""
    table = planned.holes
    sides, parts = ("LH", "RH"), ("rail", "liner")
    return {
        (sides[table.side[row]], parts[table.part[row]], table.hole_id(row)): (
            float(table.station[row]),
            float(table.across[row]),
        )
        for row in range(len(table))
    }


def with_anchor(library: Library, family: str, anchor: str, by: float) -> Library:
    """The library with one anchor moved rearward."""
    from dataclasses import replace

    old = library.families[family]
    form = old.anchors[anchor]
    moved = form.model_copy(update={"offset": form.offset + by})
    changed = old.model_copy(update={"anchors": {**old.anchors, anchor: moved}})
    return replace(library, families={**library.families, family: changed})


@pytest.mark.parametrize("by", [-50.0, 25.0])
def test_moving_an_anchor_moves_its_components_alone(small: Catalogue, by: float) -> None:
    codes = ("AAA01", "AAA03")
    before = positions(plan(order(options=codes), small))
    library = with_anchor(small.library, "tractor", "mid", by)
    after = positions(plan(order(options=codes), compile_catalogue(library)))
    assert before.keys() == after.keys()
    for key, (station, across) in before.items():
        moves = key[2].startswith("bracket.")
        assert after[key] == pytest.approx((station + (by if moves else 0.0), across), abs=1e-9)


def test_a_turned_part_changes_the_sign_of_its_offsets_on_rh(small: Catalogue) -> None:
    found = positions(plan(order(options=("AAA03",)), small))
    datum = 5000 + 0.5 * 1370 + 400 + 0.5 * 800
    assert found["LH", "rail", "clamp.1.a"] == pytest.approx((datum + 10, 62))
    assert found["RH", "rail", "clamp.1.a"] == pytest.approx((datum - 10, 62))


@pytest.mark.parametrize(
    ("side", "drive", "expected"),
    [
        ("driver", "left", (0,)),
        ("driver", "right", (1,)),
        ("driver", "dual", (0, 1)),
        ("passenger", "left", (1,)),
        ("passenger", "right", (0,)),
        ("passenger", "dual", ()),
        ("LH", "right", (0,)),
        ("RH", "left", (1,)),
        ("both", "left", (0, 1)),
        ("turned", "dual", (0, 1)),
    ],
)
def test_sides(small: Catalogue, side: str, drive: str, expected: tuple[int, ...]) -> None:
    component = small.library.components["bracket"].model_copy(update={"side": side})
    assert sides_of(component, drive) == expected


def repeated(small: Catalogue, repeat: dict[str, Any]) -> Component:
    plain = small.library.components["bracket"].model_dump()
    plain["repeat"] = repeat
    return Component.model_validate(plain)


@pytest.mark.parametrize(
    ("span", "greatest", "gaps"),
    [(1000, 250, 4), (1001, 250, 5), (999, 250, 4), (0, 250, 0), (250, 250, 1), (10, 250, 1)],
)
def test_repeats_up_to_a_station_are_the_fewest_and_equal(
    small: Catalogue, span: float, greatest: float, gaps: int
) -> None:
    component = repeated(small, {"greatest_pitch": greatest, "to": {"anchor": "front_axle", "offset": span}})
    stations = repeat_stations(component, 0.0, resolve(order(), small.library))
    assert len(stations) == gaps + 1
    assert stations[0] == 0.0
    assert stations[-1] == pytest.approx(span if gaps else 0.0)
    steps = np.diff(stations)
    assert np.ptp(steps) < 1e-9 if gaps else len(steps) == 0
    assert (steps <= greatest + 1e-9).all()


def test_a_repeat_that_would_run_forward_is_refused(small: Catalogue) -> None:
    component = repeated(small, {"greatest_pitch": 100, "to": {"anchor": "front_axle", "offset": -5}})
    with pytest.raises(InputError, match="present"):
        repeat_stations(component, 0.0, resolve(order(), small.library))


@pytest.mark.parametrize(
    ("bounds", "serial", "day", "expected"),
    [
        ({"valid_from": "X-10"}, "X-9", 1, False),
        ({"valid_from": "X-10"}, "X-10", 1, True),
        ({"valid_from": "X-9"}, "X-10", 1, True),
        ({"valid_to": "X-10"}, "X-11", 1, False),
        ({"valid_from": "W-900"}, "X-1", 1, True),
        ({"valid_from": datetime.date(2027, 1, 5)}, "X-1", 4, False),
        ({"valid_from": datetime.date(2027, 1, 5)}, "X-1", 5, True),
        ({"valid_to": datetime.date(2027, 1, 5)}, "X-1", 6, False),
        ({"valid_from": datetime.date(2027, 1, 2), "valid_to": "X-3"}, "X-3", 3, True),
    ],
)
def test_validity_by_serial_and_by_date(
    small: Catalogue, bounds: dict[str, Any], serial: str, day: int, expected: bool
) -> None:
    option = small.library.options["AAA01"].model_copy(update=bounds)
    assert is_valid_for(option, serial, datetime.date(2027, 1, day)) is expected


def test_a_crowded_float_settles_at_the_nearest_free_station(small: Catalogue) -> None:
    planned = plan(order(options=("AAA01", "AAA02")), small)
    notes = [f for f in planned.findings if f.rule == "placed"]
    assert [f.components for f in notes] == [("tank-foot",)]
    settled = float(notes[0].value or 0.0)
    assert settled != 2600.0
    assert (settled - 2600.0) % 25.0 == 0.0
    assert not any(f.severity == "error" for f in planned.findings)
    nearer = [2600.0 + step * 25.0 for step in range(-16, 29) if abs(step) * 25.0 < abs(settled - 2600.0)]
    component = small.library.components["tank-foot"]
    for station in nearer:
        fixed = component.model_copy(
            update={
                "floating": None,
                "position": component.position.model_copy(update={"offset": station - 2500.0}),
            }
        )
        library = _with_component(small.library, fixed)
        there = plan(order(options=("AAA01", "AAA02")), compile_catalogue(library))
        assert any(f.severity == "error" for f in there.findings), station


def _with_component(library: Library, component: Component) -> Library:
    from dataclasses import replace

    return replace(library, components={**library.components, component.id: component})


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_adding_an_option_moves_no_holes_of_others_without_a_note(demo: Catalogue, data: st.DataObject) -> None:
    library = demo.library
    family = data.draw(st.sampled_from(sorted(library.families)))
    sold = sorted(code for code, option in library.options.items() if family in option.families)
    codes = data.draw(st.lists(st.sampled_from(sold), unique=True, min_size=2, max_size=12))
    serial = f"{library.families[family].serial_prefix}-1500"
    given = {"serial": serial, "family": family, "build_date": datetime.date(2027, 3, 1)}
    before = plan(Order.model_validate({**given, "options": codes[:-1]}), demo)
    after = plan(Order.model_validate({**given, "options": codes}), demo)
    moved = {name for f in (*before.findings, *after.findings) if f.rule == "placed" for name in f.components}
    shared = {hole: f.components for f in after.findings if f.rule == "shared-hole" for hole in f.holes}
    there = positions(after)
    for key, place in positions(before).items():
        component = key[2].partition(".")[0]
        if component in moved:
            continue
        if key not in there:
            # The hole may now be another owner's first: then a note names both.
            assert any(component in owners for owners in shared.values()), key
            continue
        assert there[key] == pytest.approx(place, abs=1e-9)


def test_inch_and_millimetre_files_of_one_order_give_one_table(demo: Catalogue) -> None:
    plain: dict[str, Any] = {
        "serial": "T-2100",
        "family": "timber-tractor",
        "build_date": datetime.date(2027, 3, 1),
        "options": sorted(c for c, o in demo.library.options.items() if o.families == ("timber-tractor",))[:6],
        "wheelbase": 3900.0,
        "front_overhang": float(demo.library.families["timber-tractor"].dimensions["front_overhang"].default),
    }
    inches = {k: v / MM_PER_INCH if isinstance(v, float) else v for k, v in plain.items()} | {"units": "in"}
    tables = [
        hole_table_csv("T-2100", plan(Order.model_validate(v, context={"units": v.get("units", "mm")}), demo).holes)
        for v in (plain, inches)
    ]
    assert tables[0] == tables[1]
    assert len(tables[0].splitlines()) > 20
