"""The order with every default filled in and every name looked up; everything wrong with it is reported at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache

from railgen.data.component import BUILT_IN_ANCHORS, ORDER_DIMENSIONS, Family, Parameter, Station
from railgen.data.library import Library, unknown
from railgen.data.messages import InputError, Problem, nearest, one_of
from railgen.data.order import Order
from railgen.data.stock import SectionEntry, Steel, SteelBand
from railgen.data.values import length_text
from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.frame.section import Section, neutral_line_factor
from railgen.frame.taper import TaperShape
from railgen.layout.options import brought_components, option_findings
from railgen.layout.plan import ResolvedOrder


def resolve(order: Order, library: Library, file: str = "order") -> ResolvedOrder:
    """The order against the library. Raises InputError with every problem; ``file`` names the order in it."""
    if order.family not in library.families:
        raise InputError([unknown(order.family, library.families, file, "family", "family")])
    family = library.families[order.family]
    problems = list(_unknown_names(order, library, file))
    problems += _serial_problems(order, family, file)
    dimensions = _dimensions(order, family, library, file, problems)
    if problems:
        raise InputError(problems)
    section, steel = order.section or family.section, order.steel or family.steel
    rail_steel = _steel_band(library, section, steel, file, "steel", problems)
    liner_steel = None
    if order.liner:
        liner_steel = _steel_band(library, order.liner.section, order.liner.steel, file, "liner.steel", problems)
    rail = _rail_shape(order, dimensions, section_of(library.sections[section]), library, file, problems)
    if problems or rail is None or rail_steel is None:
        raise InputError(problems)
    anchors = anchor_stations(family, dimensions)
    zones = zone_stations(family, anchors, dimensions)
    _check_on_rail(order, rail, file)
    brought = brought_components(order, library, dimensions)
    return ResolvedOrder(
        order=order,
        library=library,
        family=family,
        drive=order.drive or family.drive,
        section=section,
        steel=steel,
        rail_steel=rail_steel,
        liner_steel=liner_steel,
        dimensions=dimensions,
        anchors=anchors,
        zones=zones,
        limit_set=order.limits.set,
        rail=rail,
        components=tuple(component for component, _ in brought.values()),
        bringing={name: options for name, (_, options) in brought.items()},
        findings=tuple(option_findings(order, library)),
    )


@lru_cache(maxsize=256)
def section_of(entry: SectionEntry) -> Section:
    """The section's shape; where the file gives no neutral line it follows DIN 6935."""
    neutral_line = entry.neutral_line
    if neutral_line is None:
        neutral_line = neutral_line_factor(entry.inside_radius, entry.thickness)
    return Section(entry.depth, entry.flange, entry.thickness, entry.inside_radius, neutral_line)


def station_of(station: Station, anchors: Mapping[str, float], dimensions: Mapping[str, float]) -> float:
    """Where a station lies for this order, mm."""
    return anchors[station.anchor] + station.offset + _linear(station.per, dimensions)


def _linear(per: Mapping[str, float], dimensions: Mapping[str, float]) -> float:
    return sum(factor * dimensions[name] for name, factor in per.items())


def anchor_stations(family: Family, dimensions: Mapping[str, float]) -> dict[str, float]:
    """Stations of all anchors of a family for the given order dimensions, mm."""
    forms = BUILT_IN_ANCHORS | family.anchors
    return {name: form.offset + _linear(form.per, dimensions) for name, form in forms.items()}


def family_zones(family: Family) -> dict[str, tuple[Station, Station]]:
    """From and to of every zone by name: those that every family has, and its own."""
    front, rear = Station(anchor="rail_front"), Station(anchor="rail_rear")
    hanger, axle = Station(anchor="front_hanger"), Station(anchor="last_axle")
    zones = {
        "ahead_of_front_hanger": (front, hanger),
        "between_front_hanger_and_last_axle": (hanger, axle),
        "ahead_of_last_axle": (front, axle),
        "behind_last_axle": (axle, rear),
    }
    return zones | {name: (zone.start, zone.end) for name, zone in family.zones.items()}


def zone_stations(
    family: Family, anchors: Mapping[str, float], dimensions: Mapping[str, float]
) -> dict[str, tuple[float, float]]:
    """From and to of every zone, mm."""
    return {
        name: (station_of(start, anchors, dimensions), station_of(end, anchors, dimensions))
        for name, (start, end) in family_zones(family).items()
    }


def _unknown_names(order: Order, library: Library, file: str) -> Iterator[Problem]:
    tables: list[tuple[str | None, Mapping[str, object], str, str]] = [
        (order.section, library.sections, "section", "section"),
        (order.steel, library.steels, "steel", "steel"),
        (order.limits.set, library.limit_sets, "limits.set", "limit set"),
    ]
    if order.liner:
        tables.append((order.liner.section, library.sections, "liner.section", "section"))
        tables.append((order.liner.steel, library.steels, "liner.steel", "steel"))
    tables += [(code, library.options, f"options[{index}]", "option") for index, code in enumerate(order.options, 1)]
    for name, table, key, kind in tables:
        if name is not None and name not in table:
            yield unknown(name, table, file, key, kind)
    for code, values in order.parameters.items():
        key = f"parameters.{code}"
        if code not in library.options:
            yield unknown(code, library.options, file, key, "option")
            continue
        if code not in order.options:
            yield Problem(
                file, key, repr(code), "options of this order", f"Add {code} to options, or remove this table."
            )
        known = library.options[code].parameters
        for name in values:
            if name not in known:
                yield Problem(file, f"{key}.{name}", "an unknown parameter", one_of(known), nearest(name, known))


def _serial_problems(order: Order, family: Family, file: str) -> list[Problem]:
    prefix = order.serial.partition("-")[0]
    if prefix == family.serial_prefix:
        return []
    return [
        Problem(
            file, "serial", repr(order.serial), f"a serial of family {family.id}: {family.serial_prefix}- and a number"
        )
    ]


def _dimensions(order: Order, family: Family, library: Library, file: str, problems: list[Problem]) -> dict[str, float]:
    dimensions: dict[str, float] = {}

    def take(name: str, key: str, given: float | None, bounds: Parameter) -> None:
        dimensions[name] = bounds.default if given is None else given
        refusal = "" if given is None else bounds.refusal(given, order.units)
        if refusal:
            found = "" if given is None else length_text(given, order.units)
            problems.append(Problem(file, key, found, refusal))

    allowed: Mapping[str, Parameter] = {str(name): entry for name, entry in family.dimensions.items()}
    for name in ORDER_DIMENSIONS:
        take(name, name, getattr(order, name), allowed[name])
    for option in library.options.values():
        given = order.parameters.get(option.code, {})
        for name, parameter in option.parameters.items():
            take(f"{option.code}.{name}", f"parameters.{option.code}.{name}", given.get(name), parameter)
    return dimensions


def _steel_band(
    library: Library, section: str, steel: str, file: str, key: str, problems: list[Problem]
) -> SteelBand | None:
    thickness = library.sections[section].thickness
    entry: Steel = library.steels[steel]
    band = entry.band(thickness)
    if band is None:
        comes = "; ".join(f"over {b.thickness_above:g} to {b.thickness_to:g} mm" for b in entry.bands)
        problems.append(Problem(file, key, f"{steel} at {thickness:g} mm", f"a thickness it comes in: {comes}"))
    return band


def _rail_shape(
    order: Order,
    dimensions: Mapping[str, float],
    section: Section,
    library: Library,
    file: str,
    problems: list[Problem],
) -> RailShape | None:
    front = -dimensions["front_overhang"]
    rear = dimensions["wheelbase"] + dimensions["rear_overhang"]
    taper, liner = None, None
    try:
        taper = _taper_shape(order, section, rear)
    except ValueError as error:
        problems.append(Problem(file, "taper", "", str(error)))
    try:
        if order.liner:
            inner = section_of(library.sections[order.liner.section])
            liner = LinerShape(order.liner.start, order.liner.end, inner, section)
    except ValueError as error:
        problems.append(Problem(file, "liner", "", str(error)))
    if problems:
        return None
    try:
        return RailShape(section, front, rear, taper, liner)
    except ValueError as error:
        problems.append(Problem(file, "", "", str(error)))
        return None


def _taper_shape(order: Order, section: Section, rear: float) -> TaperShape | None:
    taper = order.taper
    if taper is None:
        return None
    return TaperShape(
        start=taper.start,
        end_depth=taper.end_depth,
        slit_depth=taper.slit_depth,
        root_gap=taper.root_gap,
        trim=taper.trim,
        relief_diameter=taper.relief_diameter,
        in_blank=taper.wedge == "in-blank",
        depth=section.depth,
        thickness=section.thickness,
        tangent=section.tangent,
        rear=rear,
    )


def _check_on_rail(order: Order, rail: RailShape, file: str) -> None:
    """Zones must meet the rail, and a body must rest on it: what lies past an end cannot load it."""
    front, rear = (length_text(end, order.units) for end in (rail.front, rail.rear))
    outside = [
        Problem(
            file,
            f"limits.zones[{index}]",
            f"from {length_text(zone.start, order.units)} to {length_text(zone.end, order.units)}",
            f"stations that meet the rail, {front} to {rear}",
        )
        for index, zone in enumerate(order.limits.zones, 1)
        if zone.end < rail.front or zone.start > rail.rear
    ]
    loads = order.loads
    if loads and loads.body_mass > 0 and loads.body_start is not None and loads.body_end is not None:
        outside += [
            Problem(
                file,
                f"loads.{key}",
                length_text(station, order.units),
                f"a station on the rail, {front} to {rear}",
                "Give the stretch of the rail on which the body rests.",
            )
            for key, station in (("body_start", loads.body_start), ("body_end", loads.body_end))
            if not rail.front <= station <= rail.rear
        ]
    if outside:
        raise InputError(outside)
