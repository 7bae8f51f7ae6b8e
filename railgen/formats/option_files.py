"""Clashes of options as data: JSON of one option, CSV of a family's whole matrix."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from railgen.placing.catalogue_proof import DRIVES, ComponentClash, Proof
from railgen.placing.clash_example import Example, example_of
from railgen.placing.crowding import Crowding
from railgen.placing.regions import Region
from railgen.placing.stretches import in_words, stretches
from railgen.placing.verdicts import Matrix, OptionClash

MATRIX_COLUMNS = (
    "family",
    "section",
    "limits",
    "first",
    "first_name",
    "second",
    "second_name",
    "verdict",
    "orders",
    "drives",
    "components",
    "rules",
)
"""Columns of a matrix; lists are joined by ``;``."""


def matrix_csv(matrix: Matrix) -> bytes:
    """Every two options of a family, and each by itself, one row each."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(MATRIX_COLUMNS)
    order, options = matrix.proof.order, matrix.proof.catalogue.library.options
    for cell in matrix.cells.values():
        names = (cell.first, options[cell.first].name, cell.second, options[cell.second].name)
        told = [clash for clash in cell.clashes if clash.found.forced.any] or list(cell.clashes)
        words = dict.fromkeys(_orders(clash, matrix.proof) for clash in told)
        drives = [drive for drive in DRIVES if any(drive in clash.drives for clash in told)]
        rules = sorted({" ".join(reason) for clash in told for reason in clash.found.reasons})
        components = dict.fromkeys(name for clash in told for name in names_of(clash))
        row = (order.family.id, order.section, order.limit_set, *names, cell.verdict)
        writer.writerow([*row, "; ".join(words), ";".join(drives), ";".join(components), ";".join(rules)])
    return stream.getvalue().encode("utf-8")


def _orders(clash: ComponentClash, proof: Proof) -> str:
    found = clash.found
    return in_words(found.forced if found.forced.any else found.possible, proof.order.family.units)


def names_of(clash: ComponentClash) -> tuple[str, ...]:
    """Ids of the components that clash."""
    return (clash.first.id, clash.second.id) if clash.second else (clash.first.id,)


def clash_data(cell: OptionClash, proof: Proof, other: str) -> dict[str, Any]:
    """One option pair as data; other: the code that is told, seen from the option asked for."""
    option = proof.catalogue.library.options[other]
    clashes = [_component_clash(clash, proof) for clash in cell.clashes]
    return {"with": other, "name": option.name, "verdict": cell.verdict, "clashes": clashes}


def _component_clash(clash: ComponentClash, proof: Proof) -> dict[str, Any]:
    found, units = clash.found, proof.order.family.units
    where = found.forced if found.forced.any else found.possible
    example = example_of(proof, clash)
    return {
        "components": list(names_of(clash)),
        "side": clash.side,
        "drives": list(clash.drives),
        "floats": [part.id for part in (clash.first, clash.second) if part is not None and part.floating],
        "certain": found.forced.any,
        "orders": in_words(where, units),
        "where": region_data(where),
        "rules": [
            {"rule": rule, "measure": measure, "where": region_data(region)}
            for (rule, measure), region in found.by_reason.items()
        ],
        "example": _example(example) if example else None,
    }


def region_data(found: Region) -> list[dict[str, Any]]:
    """A region: stretches with open intervals (mm) and the values on the dimension's steps that lie inside."""
    return [
        {
            "fixed": {name: list(values) for name, values in stretch.fixed},
            "along": stretch.along,
            "intervals_mm": [list(ends) for ends in stretch.intervals],
            "values_mm": list(stretch.values),
        }
        for stretch in stretches(found)
    ]


def _example(example: Example) -> dict[str, Any]:
    return {
        "values_mm": example.values,
        "side": example.side,
        "holes": [{"rule": t.reason[0], "measure": t.reason[1], "holes": list(t.holes)} for t in example.touches],
    }


def crowding_data(crowding: Crowding) -> Mapping[str, Any]:
    """What pairs cannot decide, bounded."""
    return {
        "floats": [
            {"component": room.component, "stations": room.stations, "never_closed": room.always_free}
            for room in crowding.rooms
        ],
        "lines": [
            {
                "rule": line.rule,
                "component": line.component,
                "bound": line.bound,
                "limit": line.limit,
                "kept": line.is_kept,
                "with": list(line.others),
            }
            for line in crowding.lines
        ],
    }
