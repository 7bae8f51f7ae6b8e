"""Measured against nominal: synthetic measurements with known faults, each found and nothing else."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from inspection_cases import DEPTH, FRONT, REAR, library, measured, places, rows_of, table, turned

from railgen.data.inspection import ComponentTolerances, Tolerances
from railgen.data.messages import InputError
from railgen.formats.measured import MeasuredRows
from railgen.holes.inspection import Fit, PartInspection
from railgen.records.inspect import Choices, inspect_parts

NOMINAL = table()
LH = rows_of(NOMINAL, "LH")
WEB = rows_of(NOMINAL, "LH", "web")


def inspect(rows: MeasuredRows, limits: Tolerances | None = None, **choices: object) -> PartInspection:
    """The one part measured."""
    (part,), _ = inspect_parts(NOMINAL, rows, library(), limits or Tolerances(), Choices(**choices))  # type: ignore[arg-type]
    return part


def scattered(kept: list[int], seed: int = 0, scatter: float = 0.05) -> np.ndarray:
    return places(NOMINAL, kept) + np.random.default_rng(seed).normal(0, scatter, (len(kept), 2))


@pytest.mark.parametrize("fit", ["datums", "best", "none"])
def test_a_good_part_is_good(fit: Fit) -> None:
    part = inspect(measured(NOMINAL, LH, scattered(LH)), fit=fit)
    assert part.good
    assert (part.wrong_hand, part.alike, len(part.hole), len(part.extra)) == ("", False, len(LH), 0)


@pytest.mark.parametrize("fit", ["datums", "best"])
@pytest.mark.parametrize("turn", [0.0, 0.0007, -0.004])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (3.2, -1.7), (1500.0, 12.0), (-2200.0, -8.0)])
def test_shift_and_turn_of_the_measuring_are_taken_out(fit: Fit, turn: float, shift: tuple[float, float]) -> None:
    part = inspect(measured(NOMINAL, WEB, turned(places(NOMINAL, WEB), turn, shift)), fit=fit)
    assert part.good
    assert part.position.max() < 1e-6
    (web,) = part.fits
    assert np.radians(web.turn) == pytest.approx(-turn, abs=1e-9)
    assert turned(np.array([shift]), -turn, (0.0, 0.0))[0] == pytest.approx([-s for s in web.shift], abs=1e-6)


def test_without_fit_the_shift_stays_in() -> None:
    part = inspect(measured(NOMINAL, WEB, places(NOMINAL, WEB) + np.array([0.3, -0.4])), fit="none")
    assert part.position == pytest.approx(1.0)  # 2 sqrt(0.3^2 + 0.4^2), ASME Y14.5 (memory)
    assert part.deviation == pytest.approx(np.tile([0.3, -0.4], (len(WEB), 1)))


@pytest.mark.parametrize("temperature", [-15.0, 5.0, 20.0, 38.0])
def test_temperature_is_corrected(temperature: float) -> None:
    rows = measured(NOMINAL, WEB, places(NOMINAL, WEB), temperature=temperature)
    good = inspect(rows, fit="none", temperature=temperature)
    assert good.position.max() < 1e-9
    assert good.stretch == pytest.approx(0.0, abs=1e-9)
    # Not corrected, the length says how far from 20 degC the steel was: 11.7e-6 1/K (memory).
    assert inspect(rows).stretch == pytest.approx(11.7e-6 * (temperature - 20) * 1000, abs=1e-9)


def test_each_fault_is_found_and_nothing_else() -> None:
    kept = list(WEB)
    points = scattered(kept, scatter=0.02)
    single = kept.index(WEB[10])
    points[single] += [0.7, 0.0]  # out of its group, which is held to 0.5, within 3.0 on the part
    far = kept.index(WEB[30])
    points[far] += [0.0, 1.9]  # out of both
    block = [kept.index(row) for row in WEB if NOMINAL.hole[row].startswith("bracket-2.12.")]
    points[block] += [0.0, 1.8]  # a whole group off its place, good in itself
    rows = measured(NOMINAL, kept, points)
    rows.diameter_mm[kept.index(WEB[50])] += 0.8
    rows.diameter_mm[kept.index(WEB[54])] -= 0.1
    part = inspect(rows, Tolerances(component={"bracket-3": ComponentTolerances(group=0.5)}))
    assert NOMINAL.hole[WEB[10]].startswith("bracket-3.")
    found = {part.hole[row]: part.faults_of(row) for row in np.flatnonzero(part.out)}
    assert found == {
        NOMINAL.hole[WEB[10]]: ("group",),
        NOMINAL.hole[WEB[30]]: ("station", "group"),
        **{NOMINAL.hole[kept[row]]: ("station",) for row in block},
        NOMINAL.hole[WEB[50]]: ("size",),
        NOMINAL.hole[WEB[54]]: ("size",),
    }


def test_missing_and_extra_holes_are_found_with_their_place() -> None:
    gone = {NOMINAL.hole[WEB[row]] for row in (7, 40, 41)}
    kept = [row for row in WEB if NOMINAL.hole[row] not in gone]
    rows = measured(NOMINAL, kept, scattered(kept))
    more = MeasuredRows(
        (*rows.part, "rail"),
        (*rows.side, "LH"),
        (*rows.face, "web"),
        np.append(rows.station_mm, 2222.0),
        np.append(rows.across_mm, 270.0),
        np.append(rows.diameter_mm, 9.0),
    )
    part = inspect(more)
    assert {part.hole[row] for row in np.flatnonzero(np.isnan(part.measured[:, 0]))} == gone
    assert {part.hole[row] for row in np.flatnonzero(part.out)} == gone
    assert part.extra[0] == pytest.approx([2222.0, 270.0], abs=0.3)
    assert part.extra_diameter.tolist() == [9.0]
    assert not part.good


def test_a_hole_farther_off_than_the_search_is_missing_and_extra() -> None:
    points = scattered(WEB)
    points[20] += [0.0, 14.0]
    rows = measured(NOMINAL, WEB, points)
    near = inspect(rows)
    assert (int(np.isnan(near.measured[:, 0]).sum()), len(near.extra)) == (1, 1)
    wide = inspect(rows, search=20.0)
    assert (int(np.isnan(wide.measured[:, 0]).sum()), len(wide.extra)) == (0, 0)
    assert wide.position.max() == pytest.approx(28.0, abs=0.6)


def test_some_holes_alone_may_be_measured() -> None:
    kept = [row for row in WEB if NOMINAL.hole[row] in (FRONT, REAR)] + WEB[20:44]
    rows = measured(NOMINAL, kept, scattered(kept))
    assert inspect(rows).fault[:, 0].sum() == len(WEB) - len(kept)
    part = inspect(rows, partial=True)
    assert part.good
    assert len(part.hole) == len(kept)


WRONG = {
    "the holes of the RH rail": ("RH", np.array([1.0, 1.0]), (0.0, 0.0)),
    "front and rear reversed (a mirror image)": ("LH", np.array([-1.0, 1.0]), (4100.0, 0.0)),
    "upside down (a mirror image)": ("LH", np.array([1.0, -1.0]), (0.0, DEPTH)),
    "turned end for end": ("LH", np.array([-1.0, -1.0]), (4100.0, DEPTH)),
    "the holes of the RH rail, upside down (a mirror image)": ("RH", np.array([1.0, -1.0]), (0.0, DEPTH)),
}


@pytest.mark.parametrize("fit", ["datums", "best"])
@pytest.mark.parametrize("words", WRONG)
def test_a_wrong_hand_is_named(words: str, fit: Fit) -> None:
    side, signs, shift = WRONG[words]
    kept = rows_of(NOMINAL, side, "web")
    points = scattered(kept) * signs + shift
    part = inspect(measured(NOMINAL, kept, points, side="LH"), fit=fit)
    assert part.wrong_hand == words
    assert not part.good


def test_a_few_wrong_holes_make_no_wrong_hand() -> None:
    points = scattered(WEB)
    points[10:20] += [0.0, 25.0]
    part = inspect(measured(NOMINAL, WEB, points))
    assert part.wrong_hand == ""
    assert not part.good


def test_where_both_hands_are_alike_it_is_said() -> None:
    right = rows_of(NOMINAL, "RH")
    columns = {field.name: getattr(NOMINAL, field.name) for field in dataclasses.fields(NOMINAL)}
    same = {
        name: np.concatenate([values[LH], values[LH]])
        if isinstance(values, np.ndarray)
        else tuple(values[row] for row in LH) * 2
        for name, values in columns.items()
    } | {"side": ("LH",) * len(LH) + ("RH",) * len(LH)}
    symmetric = type(NOMINAL)(**same)
    rows = measured(NOMINAL, LH, scattered(LH))
    (part,), _ = inspect_parts(symmetric, rows, library(), Tolerances(), Choices())
    assert part.alike
    assert part.good
    assert len(right) == len(LH)


def test_the_datum_fit_rests_on_the_locating_holes_alone() -> None:
    points = places(NOMINAL, WEB)
    off = [NOMINAL.hole[row] not in (FRONT, REAR) for row in WEB]
    points[off] += [0.0, 0.9]
    by_datums = inspect(measured(NOMINAL, WEB, points))
    assert by_datums.position[np.array(off)] == pytest.approx(1.8)
    assert by_datums.fits[0].holes == 2
    by_all = inspect(measured(NOMINAL, WEB, points), fit="best")
    assert by_all.position[np.array(off)].max() < 0.2


def test_a_flange_takes_its_station_from_the_webs_datums() -> None:
    rows = measured(NOMINAL, LH, places(NOMINAL, LH) + np.array([5.0, 0.0]))
    part = inspect(rows)
    assert part.good
    assert {fit.face: round(fit.shift[0], 6) for fit in part.fits} == {"web": -5.0, "bottom": -5.0}


def test_without_locating_holes_the_datum_fit_is_refused() -> None:
    kept = [row for row in WEB if NOMINAL.hole[row] not in (FRONT, REAR)]
    with pytest.raises(InputError, match=r"0 locating holes measured on the web; the hole table has 2.*--fit best"):
        inspect(measured(NOMINAL, kept, scattered(kept)))


def test_bonus_is_what_a_hole_was_measured_larger_where_it_is_stated() -> None:
    row = 10
    points = places(NOMINAL, WEB)
    points[row] += [0.0, 0.6]
    rows = measured(NOMINAL, WEB, points)
    rows.diameter_mm[row] += 0.4
    plain = inspect(rows, Tolerances(station=1.0))
    assert (plain.bonus[row], plain.station_tolerance[row], plain.position[row]) == (0.0, 1.0, pytest.approx(1.2))
    assert plain.faults_of(row) == ("station",)
    with_bonus = inspect(rows, Tolerances(station=1.0, bonus=True))
    assert with_bonus.bonus[row] == pytest.approx(0.4)
    assert with_bonus.station_tolerance[row] == pytest.approx(1.4)
    assert with_bonus.group_tolerance[row] == pytest.approx(1.9)
    assert with_bonus.good
    # Where holes may be smaller than nominal, the bonus counts from the least size.
    assert inspect(rows, Tolerances(bonus=True, size_below=0.1)).bonus[row] == pytest.approx(0.5)


def test_tolerances_follow_from_bolts_locating_holes_and_components() -> None:
    limits = Tolerances(station=4.0, locating=0.3, component={"bracket-3": ComponentTolerances(station=2.5, group=0.7)})
    part = inspect(measured(NOMINAL, LH, places(NOMINAL, LH)), limits)
    by_hole = {hole: (part.station_tolerance[row], part.group_tolerance[row]) for row, hole in enumerate(part.hole)}
    assert by_hole[FRONT] == (0.3, 0.3)
    assert by_hole["bracket-1.1.a1"] == (4.0, pytest.approx(1.5))  # hole 17.5 less bolt 16, floating fastener (memory)
    assert by_hole["plate.1.a1"] == (4.0, pytest.approx(1.5))  # 13.5 less 12
    assert by_hole["bracket-3.3.a1"] == (2.5, 0.7)


def test_a_group_is_good_where_any_place_of_its_zones_holds_it() -> None:
    # One hole is off by more than its own zone allows; moved over a little, the four zones hold all holes.
    rows = [row for row in WEB if NOMINAL.hole[row].startswith("bracket-2.12.")]
    points = places(NOMINAL, WEB)
    points[WEB.index(rows[0])] += [0.0, 1.2]
    part = inspect(measured(NOMINAL, WEB, points))
    at = [part.hole.index(NOMINAL.hole[row]) for row in rows]
    assert part.group_position[at].max() <= 1.5
    assert not part.fault[at][:, 2].any()


def test_unknown_parts_and_fasteners_are_refused() -> None:
    liner = MeasuredRows(("liner",), ("LH",), ("web",), np.array([1.0]), np.array([2.0]), np.array([np.nan]))
    with pytest.raises(InputError, match="LH-liner: found 1 rows"):
        inspect_parts(NOMINAL, liner, library(), Tolerances(), Choices())
    strange = dataclasses.replace(NOMINAL, fastener=("M99",) * len(NOMINAL))
    rows = measured(NOMINAL, LH, scattered(LH))
    with pytest.raises(InputError, match="no 'M99'"):
        inspect_parts(strange, rows, library(), Tolerances(), Choices())


def test_faces_that_nobody_measured_are_named() -> None:
    _, not_measured = inspect_parts(NOMINAL, measured(NOMINAL, WEB, scattered(WEB)), library(), Tolerances(), Choices())
    assert not_measured == ("LH rail bottom", "RH rail web", "RH rail bottom")
