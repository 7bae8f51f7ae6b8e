"""The sample orders and the order bank: they cover the library, and each is what it is a sample of."""

from __future__ import annotations

import subprocess
import sys
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


def test_both_presses_have_a_tool_for_every_punched_feature(plans: dict[str, SerialPlan], library: Library) -> None:
    for press in library.presses.values():
        for serial, planned in plans.items():
            holes = planned.holes
            thickness = np.array([planned.order.thickness_of(part) for part in PARTS])[holes.part]
            tools = with_string_tools(holes, press, thickness)
            lacking = np.flatnonzero((tools == NONE) & (holes.operation == PUNCH))
            assert [holes.hole_id(row) for row in lacking] == [], (press.id, serial)
