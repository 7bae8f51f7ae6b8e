"""A release as it was built: its plan with the holes that as-built facts have added since."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from railgen.data.messages import InputError, Problem
from railgen.holes.table import FACES, PARTS, RAIL, SIDES
from railgen.layout.plan import SerialPlan
from railgen.placing.added_hole import AddedHole, Adding
from railgen.records.register_chain import FACT, Record, records
from railgen.records.register_queries import superseded
from railgen.records.register_rebuild import replanned
from railgen.records.register_store import RECORD, Store


def as_built(store: Store, record: Record) -> SerialPlan:
    """A release planned again, with every hole that facts say was added to its rails, drilled.

    A hole through the liner is added there with the rail's. Raises InputError as ``replanned`` does, and for an added
    hole whose diameter is not known.
    """
    plan, _ = replanned(store, record, "plan")
    for number, hole in enumerate(_added(store, record), 1):
        if hole["diameter_mm"] is None:
            place = f"{hole['side']} {hole['face']} at {hole['station_mm']:g}, {hole['across_mm']:g}"
            hint = "Add the fact again with the diameter, with --corrects."
            raise InputError(
                [Problem("register", record.serial, f"no diameter of the added hole {place}", "one", hint)]
            )
        adding = Adding(plan, AddedHole(hole["diameter_mm"], "drill"), f"as-built-{number}")
        side, face = SIDES.index(hole["side"]), FACES.index(hole["face"])
        plan = adding.built_in(side, face, hole["station_mm"], hole["across_mm"])
    return plan


def _added(store: Store, record: Record) -> Iterator[dict[str, Any]]:
    """Holes that facts about a release have added to its rails; what a later fact corrects does not count."""
    with store.reading() as connection:
        facts = list(records(connection, RECORD.c.serial == record.serial, RECORD.c.kind == FACT))
    corrected = superseded(facts)
    for fact in facts:
        if fact["release"] == record.number and fact.number not in corrected:
            yield from (hole for hole in fact["added"] if hole["part"] == PARTS[RAIL])
