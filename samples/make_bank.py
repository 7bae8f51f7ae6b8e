"""Write the demo's order bank: 200 serials over the three families, the same bytes each time.

Run it where railgen is installed: ``python samples/make_bank.py [FILE]`` (default: bank-200.csv beside this script).
Options are drawn so that every order is buildable: what an option requires is ordered with it, what it excludes is
not, and what stands beside the rail between cab and rear axle has room there.
"""

from __future__ import annotations

import csv
import datetime
import io
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from railgen.data.component import BUILT_IN_ANCHORS, ORDER_DIMENSIONS, Family, Parameter
from railgen.data.library import Library, load_library

SEED = 20270301
ORDERS = 200
A_DAY = 40
FIRST_DAY = datetime.date(2027, 3, 1)
FIRST_NUMBER = {"plough-carrier": 1101, "timber-tractor": 2101, "street-sweeper": 3101}
SHARE = {"plough-carrier": 0.42, "timber-tractor": 0.33, "street-sweeper": 0.25}


@dataclass(frozen=True)
class Recipe:
    """What orders of a family are made of.

    one_of: groups of alternatives, each order has exactly one of each (named twice: twice as likely); maybe: further
    options by their probability; tanks: side of the tanks that come by length; start: where the space beside the rail
    begins, mm behind the gearbox cross member.
    """

    one_of: tuple[str, ...]
    maybe: dict[float, str]
    tanks: dict[str, str]
    start: float


BESIDE = {
    "LH": {"NRG40": 520.0, "NRG60": 400.0, "HAR40": 340.0},
    "RH": {"NRG45": 520.0, "HAR30": 640.0, "BOD95": 480.0, "NRG50": 780.0, "NRG70": 560.0, "FRM60": 130.0},
}
"""Length along the rail, mm, that an option takes beside it, by side."""
ROOM_OF_CROSS_MEMBERS = 150.0  # mm, kept free between gearbox and rear axles
LOW_TANK = "BOD70"

RECIPES = {
    "plough-carrier": Recipe(
        one_of=(
            "FRM10",
            "FNT10, FNT10, FNT20, FNT30, FNT30 FNT70",
            "PWU10, PWU20",
            "CAB10, CAB10 CAB40, CAB20, CAB30",
            "NRG10",
            "NRG40, NRG40, NRG45",
            "NRG50, NRG50, NRG55",
            "AXL10 AXL40",
            "TAI10 TAI30, TAI20 TAI30",
            "BOD10, BOD10, BOD20",
            "HAR10 HAR20 HAR30",
        ),
        maybe={
            0.2: "CAB60 FRM60 FRM70",
            0.3: "FRM50 PWU80 BOD95 HAR60",
            0.5: "PWU50 AXL70 TAI60 TAI80 HAR40",
            0.6: "FNT50 CAB50 NRG60 NRG80 AXL75 AXL80 HAR15 HAR70 HAR80",
            0.7: "TAI50 HAR50",
        },
        tanks={"NRG10": "LH"},
        start=-20.0,
    ),
    "timber-tractor": Recipe(
        one_of=(
            "FRM20",
            "FNT30, FNT30 FNT70",
            "PWU10, PWU20, PWU20",
            "CAB10, CAB10 CAB40, CAB20, CAB20",
            "NRG10",
            "NRG40, NRG40, NRG45",
            "NRG50, NRG50, NRG55",
            "AXL20",
            "AXL40, AXL50",
            "TAI15 TAI35 TAI40",
            "BOD30, BOD40, BOD50",
            "HAR10 HAR20 HAR30",
        ),
        maybe={
            0.2: "FRM50 PWU80 BOD90 BOD95",
            0.4: "CAB60 PWU50 NRG20 AXL70 HAR60",
            0.5: "FNT50 NRG60 NRG80 HAR40",
            0.7: "CAB50 AXL75 AXL80 TAI55 HAR50 HAR80",
        },
        tanks={"NRG10": "LH", "NRG20": "RH"},
        start=-20.0,
    ),
    "street-sweeper": Recipe(
        one_of=(
            "FRM30",
            "FNT40, FNT45",
            "PWU30, PWU30, PWU40",
            "CAB70, CAB75",
            "NRG30 NRG70",
            "NRG40, NRG40, NRG45",
            "AXL30",
            "AXL60, AXL60 AXL66, AXL65",
            "TAI70 TAI72",
            "BOD60",
            "HAR10 HAR20",
        ),
        maybe={
            0.2: "BOD95",
            0.5: "PWU50 NRG60 NRG80 AXL72 BOD85 BOD88 HAR50 HAR80",
            0.7: "FNT60 TAI74 BOD70 BOD75 BOD80 HAR30",
        },
        tanks={"NRG30": "LH"},
        start=190.5,
    ),
}


def dates(count: int) -> list[datetime.date]:
    """Build dates of so many serials: working days from the first, A_DAY serials a day."""
    day, found = FIRST_DAY, list[datetime.date]()
    while len(found) < count:
        if day.weekday() < 5:
            found += [day] * A_DAY
        day += datetime.timedelta(days=1)
    return found[:count]


def values(parameter: Parameter) -> list[float]:
    """Every value that a dimension or a parameter may have, mm."""
    if parameter.choices:
        return list(parameter.choices)
    step = parameter.step or max(parameter.most - parameter.least, 1.0)
    return [parameter.least + index * step for index in range(int((parameter.most - parameter.least) / step + 1.001))]


def station(family: Family, anchor: str, dimensions: dict[str, float]) -> float:
    """Station of an anchor, mm."""
    form = (BUILT_IN_ANCHORS | family.anchors)[anchor]
    return form.offset + sum(factor * dimensions[name] for name, factor in form.per.items())


def draw_options(recipe: Recipe, family: Family, library: Library, draw: random.Random) -> set[str]:
    """One of each group, then what may be added without breaking requires, excludes or families."""
    chosen: set[str] = set()
    for group in recipe.one_of:
        chosen |= set(draw.choice(group.split(", ")).split())
    for probability, codes in recipe.maybe.items():
        for code in codes.split():
            wanted = draw.random() < probability
            added = chosen | {code} | set(library.options[code].requires)
            if wanted and is_buildable(added, family, library):
                chosen = added
    if not is_buildable(chosen, family, library):
        return draw_options(recipe, family, library, draw)
    return chosen


def is_buildable(chosen: set[str], family: Family, library: Library) -> bool:
    """Whether options go together in a family."""
    return all(
        family.id in option.families and set(option.requires) <= chosen and not set(option.excludes) & chosen
        for option in (library.options[code] for code in chosen)
    )


def fit_beside_rail(
    chosen: set[str], family: Family, library: Library, dimensions: dict[str, float], draw: random.Random
) -> tuple[set[str], dict[str, float]]:
    """Options and tank lengths (mm, by column) that find room beside each rail between gearbox and rear axles."""
    recipe = RECIPES[family.id]
    room = station(family, "rear_group_front", dimensions) - station(family, "gearbox", dimensions)
    room -= recipe.start + ROOM_OF_CROSS_MEMBERS
    lengths: dict[str, float] = {}
    for side, taken in BESIDE.items():
        tanks = {
            code: tank_lengths(code, library) for code, at in recipe.tanks.items() if at == side and code in chosen
        }
        least = sum(min(allowed) for allowed in tanks.values())
        beside = [code for code in taken if code in chosen]
        while beside and sum(taken[code] for code in beside) + least > room:
            dropped = draw.choice(beside)
            beside.remove(dropped)
            chosen = without(chosen, dropped, library)
        left = room - sum(taken[code] for code in beside)
        for code, allowed in tanks.items():
            lengths[f"parameters.{code}.length"] = draw.choice([value for value in allowed if value <= left])
    return fit_low_tank(chosen, lengths, room, library, draw)


def fit_low_tank(
    chosen: set[str], lengths: dict[str, float], room: float, library: Library, draw: random.Random
) -> tuple[set[str], dict[str, float]]:
    """The low tank, where its front bracket stays behind the last bracket of what hangs beside the rail ahead of it."""
    if LOW_TANK not in chosen:
        return chosen, lengths
    ahead = max(sum(lengths.values()), BESIDE["RH"]["NRG70"] if "NRG70" in chosen else 0.0)
    fitting = [value for value in tank_lengths(LOW_TANK, library) if value + ahead + 200 <= room]
    if not fitting:
        return without(chosen, LOW_TANK, library), lengths
    return chosen, lengths | {f"parameters.{LOW_TANK}.length": draw.choice(fitting)}


def tank_lengths(code: str, library: Library) -> list[float]:
    """Lengths that an option's tank comes in, mm."""
    return values(library.options[code].parameters["length"])


def without(chosen: set[str], dropped: str, library: Library) -> set[str]:
    """The options less one, and less those that require it."""
    left = chosen - {dropped}
    return {code for code in left if set(library.options[code].requires) <= left}


def taper_cells(family: Family, dimensions: dict[str, float], draw: random.Random) -> dict[str, object]:
    """A tail taper for the timber tractor."""
    rear = station(family, "rail_rear", dimensions)
    return {
        "taper.start": rear - draw.choice((950, 1000, 1050, 1100, 1150)),
        "taper.end_depth": draw.choice((198, 200, 205, 208)),
        "taper.slit_depth": draw.choice((70, 72, 74)),
        "taper.root_gap": 3,
        "taper.trim": 15,
        "taper.relief_diameter": draw.choice((14, 16)),
        "taper.wedge": draw.choice(("after-forming", "after-forming", "in-blank")),
    }


def liner_cells(family: Family, dimensions: dict[str, float], draw: random.Random) -> dict[str, object]:
    """A liner for the plough carrier, from the power unit to the bogie; its ends lie between components."""
    bogie = station(family, "bogie_centre", dimensions)
    section = draw.choice(("L280.4x76x7", "L280.4x76x7", "L280x78x8", "L280.2x74x6.5"))
    return {
        "liner.start": 202.5,
        "liner.end": bogie + draw.choice((-322, -322, 322)),
        "liner.section": section,
        "liner.steel": draw.choice(("S700MC", "S700MC", "S500MC")),
    }


def order_cells(number: int, family: Family, library: Library, draw: random.Random) -> dict[str, object]:
    """One row of the bank by column name; lengths in the family's units."""
    dimensions: dict[str, float] = {name: draw.choice(values(allowed)) for name, allowed in family.dimensions.items()}
    spare = draw.choice(("front_overhang", "rear_overhang"))  # one dimension is left to the family's default
    dimensions |= {name: allowed.default for name, allowed in family.dimensions.items() if name == spare}
    chosen = draw_options(RECIPES[family.id], family, library, draw)
    chosen, lengths = fit_beside_rail(chosen, family, library, dimensions, draw)
    per_unit = 25.4 if family.units == "in" else 1.0
    lengths_mm = {name: value for name, value in (dimensions | lengths).items() if name != spare}
    cells: dict[str, object] = {name: round(value / per_unit, 6) for name, value in lengths_mm.items()}
    if family.id == "street-sweeper":
        cells["units"] = "in"
        cells["drive"] = draw.choice(("", "", "dual"))
    if family.id == "timber-tractor":
        cells |= taper_cells(family, dimensions, draw)
    if family.id == "plough-carrier" and draw.random() < 0.6:
        cells |= liner_cells(family, dimensions, draw)
    if draw.random() < 0.1:
        cells["limits.set"] = "house"
    serial = f"{family.serial_prefix}-{number}"
    cells |= load_cells(serial, family, dimensions)
    return cells | {"serial": serial, "family": family.id, "revision": "A", "options": " ".join(sorted(chosen))}


BODIES = {
    "plough-carrier": (range(8000, 12001, 500), 1600.0, 200.0),
    "timber-tractor": (range(7000, 11001, 500), 2500.0, 1400.0),
    "street-sweeper": (range(4500, 6001, 500), 1447.8, 254.0),
}
"""By family: masses of the body or of what bears on the coupling (kg), and how far what it rests on keeps from the
front axle and from the rail's rear end, mm."""
SHARE_WITH_LOADS = 0.7


def load_cells(serial: str, family: Family, dimensions: dict[str, float]) -> dict[str, object]:
    """Loads of the order, for some orders; drawn by serial, so that all else in the bank does not hang on them."""
    draw = random.Random(serial)
    if draw.random() > SHARE_WITH_LOADS:
        return {}
    masses, start, spared = BODIES[family.id]
    per_unit = 25.4 if family.units == "in" else 1.0
    end = station(family, "rail_rear", dimensions) - spared
    return {
        "loads.dynamic_factor": draw.choice((2, 2, 2.5)),
        "loads.body_mass": draw.choice(masses),
        "loads.body_start": round(start / per_unit, 6),
        "loads.body_end": round(end / per_unit, 6),
    }


def bank_rows(library: Library) -> Iterator[dict[str, object]]:
    """All rows of the bank in build order."""
    draw = random.Random(SEED)
    number = dict(FIRST_NUMBER)
    for day in dates(ORDERS):
        name = draw.choices(list(SHARE), list(SHARE.values()))[0]
        yield order_cells(number[name], library.families[name], library, draw) | {"build_date": day.isoformat()}
        number[name] += 1


def columns(rows: list[dict[str, object]]) -> list[str]:
    """Columns in the order of an order's keys, only those that are used."""
    first = ["serial", "family", "build_date", "revision", "units", "drive", *ORDER_DIMENSIONS, "options"]
    used = {name for row in rows for name in row}
    return [*first, *sorted(used - set(first))]


def cell(value: object) -> str:
    """A value as text: whole numbers without a decimal point."""
    return f"{value:.10g}" if isinstance(value, int | float) else str(value)


def bank_text(library: Library) -> str:
    """The bank as CSV."""
    rows = list(bank_rows(library))
    names = columns(rows)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([[cell(row.get(name, "")) for name in names] for row in rows])
    return text.getvalue()


def main() -> None:
    here = Path(__file__).resolve().parent
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else here / f"bank-{ORDERS}.csv"
    target.write_text(bank_text(load_library(here.parent / "hole_libraries")), encoding="utf-8", newline="")


if __name__ == "__main__":
    main()
