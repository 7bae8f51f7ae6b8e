"""What finishes a part: peening, cleaning, electrocoat, nesting of the liner, racking."""

from __future__ import annotations

from railgen.data.messages import InputError, Problem
from railgen.data.plant import PeeningBand
from railgen.frame.rail import part_front, required_liner
from railgen.holes.table import FACES, LINER, SIDES
from railgen.shop.card_line import CardLine, line
from railgen.shop.coating import film
from railgen.shop.hanging import hang
from railgen.shop.operation import Task
from railgen.shop.part_work import PartWork
from railgen.shop.peening import (
    FACES_PEENED,
    Peened,
    coverage_after,
    intensity_window,
    nozzle_minutes,
    passes_for,
    peened,
)
from railgen.shop.sizes import size_at


def peen(work: PartWork) -> Task | None:
    """Peen around each hole on both faces."""
    peening = work.finishing.peening
    found = peened(work.rail, work.part, work.holes, peening)
    if not found.area:
        return None
    window, passes = _window_and_passes(work)
    minutes = nozzle_minutes(peening, found.path)
    return Task(
        inputs=(line("peen.shot", shot=peening.shot),),
        instructions=(
            *_peened_places(work, found),
            line("peen.area", area=FACES_PEENED * found.area * 1e-6),
            line("peen.passes", passes=passes, minutes=minutes),
            *((line("peen.strips"),) if len(work.hole_rows) else ()),
        ),
        targets=(
            line(
                "peen.coverage",
                coverage=peening.coverage,
                reached=coverage_after(passes, peening.single_pass_coverage) * 100,
            ),
        ),
        limits=(
            line(
                "peen.intensity",
                least=window.intensity_least,
                most=window.intensity_most,
                gauge=window.gauge,
                source=window.source,
            ),
        ),
        cautions=(
            line("peen.last"),
            line(
                "peen.heat",
                temperature=peening.highest_temperature_after,
                source=peening.temperature_source,
            ),
        ),
        units=len(work.hole_rows),
        machine_minutes=minutes,
        records=("peening_lot",),
    )


def _peened_places(work: PartWork, found: Peened) -> tuple[CardLine, ...]:
    """What is peened: holes, edges, relief hole and seam, as far as there are any."""
    peening, rows = work.finishing.peening, work.hole_rows
    places = [line("peen.rings", holes=len(rows), width=peening.ring_width)] if len(rows) else []
    if found.edges:
        places.append(line("peen.edges", width=peening.edge_width, length=found.edges / 1000))
    if found.relief:
        places.append(line("peen.relief", width=peening.ring_width))
    if found.seam:
        places.append(line("peen.seam", width=peening.seam_width, length=found.seam / 2))
    return tuple(places)


def clean(work: PartWork) -> Task:
    """Clean the part, hung as the rack data say."""
    rack = work.finishing.rack
    return Task(
        instructions=(
            line("clean.wash"),
            line(f"clean.hang_{rack.open_side}", slope=abs(rack.slope)),
            line("clean.slope_rear" if rack.slope >= 0 else "clean.slope_front", slope=abs(rack.slope)),
        ),
        limits=(_rack_limit(work),),
        cautions=(line("clean.no_blast"), *_rack_cautions(work), *_pockets(work)),
    )


def coat(work: PartWork) -> Task:
    """Electrocoat and bake."""
    coating, area = work.finishing.coating, work.measures.surface
    least, most = (film(coating, area, thickness) for thickness in (coating.film_least, coating.film_most))
    rack = work.finishing.rack
    return Task(
        instructions=(
            line("coat.area", area=area * 1e-6),
            line(
                "coat.solids",
                volume_least=least.volume,
                volume_most=most.volume,
                solids_least=least.solids,
                solids_most=most.solids,
            ),
            line("coat.charge", least=least.charge / 1000, most=most.charge / 1000),
            *_rack_load(work, most.charge / 1000),
            *masked_features(work),
            line("coat.bake", temperature=coating.bake_temperature, minutes=coating.bake_minutes),
        ),
        targets=(line("coat.film", least=coating.film_least, most=coating.film_most, source=coating.source),),
        limits=(
            line("coat.heat", temperature=work.finishing.peening.highest_temperature_after),
            line("coat.tank", tank=rack.tank_length, oven=rack.oven_length),
        ),
        cautions=(line("coat.last"),),
        records=("coating_lot",),
    )


def nest(work: PartWork) -> Task | None:
    """Nest the liner in its rail; the time stands on the liner's card."""
    if work.rail.liner is None:
        return None
    liner = required_liner(work.rail)
    table = work.plan.holes
    is_liner = (table.part == LINER) & (table.side == SIDES.index(work.side))
    through = int(is_liner.sum())
    return Task(
        inputs=(line(f"nest.{work.part}", side=work.side),),
        instructions=(
            line("nest.stations", start=liner.start, end=liner.end),
            line("nest.holes", holes=through),
        ),
        targets=(line("nest.gap", gap=liner.gap / 2),),
        units=through,
        timed=work.part == "liner",
    )


def rack(work: PartWork) -> Task | None:
    """Rack the rail beside its partner; a liner is in its rail by then."""
    if work.part == "liner":
        return None
    partner = SIDES[1 - SIDES.index(work.side)]
    return Task(
        instructions=(
            line("rack.beside", partner=partner, serial=work.plan.serial),
            line("rack.order", date=work.plan.order.order.build_date.isoformat()),
        ),
        targets=(_mass(work),),
        cautions=(line("rack.film"),),
    )


def _window_and_passes(work: PartWork) -> tuple[PeeningBand, int]:
    """Intensity window and passes. Raises InputError, naming the file, where the data give none."""
    peening = work.finishing.peening
    file = f"{work.plan.order.library.folder}/finishing.toml"
    try:
        window = intensity_window(peening, work.thickness, work.steel.tensile_most)
    except ValueError as error:
        allowed = "a window for the thickness and the steel of every part"
        raise InputError([Problem(file, "peening.bands", str(error), allowed)]) from error
    try:
        return window, passes_for(peening.coverage, peening.single_pass_coverage)
    except ValueError as error:
        share = f"{peening.single_pass_coverage:g}"
        raise InputError([Problem(file, "peening.single_pass_coverage", share, "a share above 0")]) from error


def _rack_limit(work: PartWork) -> CardLine:
    rack = work.finishing.rack
    return line("clean.rack", mass=work.measures.mass, highest=rack.highest_mass, longest=rack.longest_part)


def _rack_cautions(work: PartWork) -> tuple[CardLine, ...]:
    rack = work.finishing.rack
    cautions = []
    if work.measures.mass > rack.highest_mass:
        cautions.append(line("clean.too_heavy"))
    if work.finished_length > min(rack.longest_part, rack.tank_length, rack.oven_length):
        cautions.append(line("clean.too_long", length=work.finished_length))
    return tuple(cautions)


def _rack_load(work: PartWork, charge: float) -> tuple[CardLine, ...]:
    """How many such parts a rack carries, and their area and greatest charge (kC) together; nothing if not one."""
    parts = int(work.finishing.rack.highest_mass // work.measures.mass)
    if not parts:
        return ()
    area = parts * work.measures.surface * 1e-6
    return (line("coat.rack", parts=parts, mass=parts * work.measures.mass, area=area, charge=parts * charge),)


def masked_features(work: PartWork) -> tuple[CardLine, ...]:
    """The features that are masked while the part is coated, one line each."""
    library, holes = work.plan.order.library.components, work.holes
    masked = {name for name, component in library.items() if component.masked}
    return tuple(
        line(
            f"coat.mask_{FACES[holes.face[row]]}",
            hole=holes.hole_id(row),
            size=size_at(holes, row),
            station=float(holes.station[row]),
            across=float(holes.across[row]),
        )
        for row in range(len(holes))
        if masked.intersection(holes.owners_of(row))
    )


def _pockets(work: PartWork) -> tuple[CardLine, ...]:
    """What the part holds as it hangs, pocket by pocket."""
    hanging, front = hang(work.rail, work.part, work.finishing.rack, work.holes), part_front(work.rail, work.part)
    held = tuple(
        line(f"clean.{hanging.holds}", depth=depth, station=front + deepest) for _, _, deepest, depth in hanging.pockets
    )
    unheld = work.finishing.rack.hook_stations and not len(hanging.sag.hooks) and hanging.holds
    return (*held, line("clean.hooks")) if unheld else held


def _mass(work: PartWork) -> CardLine:
    liner = work.rail.liner
    return line("rack.mass_with_liner" if liner else "rack.mass", mass=work.measures.mass)
