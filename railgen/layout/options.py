"""Option codes to components: requires, excludes, families and validity (rule ``option-rule``)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache

from railgen.data.component import Component, Option, is_valid_for
from railgen.data.findings import Finding
from railgen.data.library import Library, LibraryKey
from railgen.data.order import Order

_SOURCE = "common practice"


def option_findings(order: Order, library: Library) -> Iterator[Finding]:
    """Departures from the rules between options, one finding each."""
    chosen = [library.options[code] for code in sorted(order.options)]
    codes = {option.code for option in chosen}
    for option in chosen:
        for needed in option.requires:
            if needed not in codes:
                yield _finding(
                    "requires",
                    (option.code, needed),
                    f"option {option.code} ({option.name}) requires {needed} ({library.options[needed].name})",
                    f"Order {needed} too, or leave out {option.code}.",
                )
        if order.family not in option.families:
            yield _finding(
                "family",
                (option.code,),
                f"option {option.code} ({option.name}) is not sold in family {order.family};"
                " its components are left out",
                f"Leave out {option.code}.",
            )
        if not is_valid_for(option, order.serial, order.build_date):
            yield _finding(
                "validity",
                (option.code,),
                f"option {option.code} ({option.name}) is not valid for {order.serial}, built {order.build_date}:"
                f" valid {_bounds(option)}",
                f"Leave out {option.code}, or order its successor.",
            )
    yield from _exclusions(chosen)


def _exclusions(chosen: list[Option]) -> Iterator[Finding]:
    pairs = {tuple(sorted((option.code, other))) for option in chosen for other in option.excludes}
    codes = {option.code for option in chosen}
    for first, second in sorted(pairs):
        if {first, second} <= codes:
            yield _finding(
                "excludes",
                (first, second),
                f"options {first} and {second} exclude each other",
                f"Leave out {first} or {second}.",
            )


def _bounds(option: Option) -> str:
    start = f"from {option.valid_from}" if option.valid_from else ""
    end = f"to {option.valid_to}" if option.valid_to else ""
    return " ".join(part for part in (start, end) if part)


def _finding(measure: str, codes: Iterable[str], message: str, remedy: str) -> Finding:
    return Finding(
        rule="option-rule",
        measure=measure,
        severity="error",
        side="",
        part="",
        face="",
        holes=(),
        components=tuple(sorted(codes)),
        station_mm=None,
        value=1.0,
        limit=0.0,
        unit="violations",
        source=_SOURCE,
        message=message,
        remedy=remedy,
    )


def brought_components(
    order: Order, library: Library, dimensions: Mapping[str, float]
) -> dict[str, tuple[Component, tuple[str, ...]]]:
    """Components of this serial by id, each with the options that bring it.

    An option of another family brings nothing; a component outside its validity or its interval is absent.
    """
    sold = {code for code in order.options if order.family in library.options[code].families}
    of_option, components = _of_options(LibraryKey(library)), list(library.components.values())
    brought: dict[str, tuple[Component, tuple[str, ...]]] = {}
    for component in (components[row] for row in sorted({row for code in sold for row in of_option[code]})):
        if is_valid_for(component, order.serial, order.build_date) and _is_present(component, dimensions):
            brought[component.id] = (component, tuple(sorted(sold.intersection(component.options))))
    return brought


@lru_cache(maxsize=8)
def _of_options(library: LibraryKey) -> dict[str, list[int]]:
    """Of each option the components that it brings, by their place in the library."""
    found: dict[str, list[int]] = {code: [] for code in library.library.options}
    for row, component in enumerate(library.library.components.values()):
        for code in component.options:
            found[code].append(row)
    return found


def _is_present(component: Component, dimensions: Mapping[str, float]) -> bool:
    interval = component.present
    if interval is None:
        return True
    value = dimensions[interval.dimension]
    above = interval.least is None or value >= interval.least - 1e-9
    return above and (interval.most is None or value <= interval.most + 1e-9)
