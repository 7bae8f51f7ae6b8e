"""What a release has no file of, made anew: from the kept library and order, held to the released hole table."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import cast

from railgen.data.bank import BankRow
from railgen.data.library import load_library
from railgen.data.messages import InputError, Problem
from railgen.data.order_files import read_order
from railgen.data.order_input import OrderInput, held_to
from railgen.formats.dxf import DxfVersion
from railgen.formats.folder import write_whole
from railgen.formats.hole_table import hole_table_csv
from railgen.formats.names import MANIFEST, holes_name
from railgen.layout.catalogue import compile_catalogue
from railgen.layout.plan import SerialPlan
from railgen.pipeline import Choices, cut_files, drawings, plan
from railgen.records.register_chain import Record
from railgen.records.register_queries import kept_inputs, released_files
from railgen.records.register_store import Store


def rebuilt(store: Store, record: Record, what: str) -> dict[str, bytes]:
    """The "drawing" or the "cut files" of a release, however far the library has moved on since.

    Raises InputError as ``replanned`` does.
    """
    planned, settings = replanned(store, record, what)
    if what == "drawing":
        return drawings(planned, Choices())
    return cut_files(planned, cast(DxfVersion, settings["dxf"]))


def replanned(store: Store, record: Record, what: str) -> tuple[SerialPlan, dict[str, str]]:
    """A release planned again from what was kept of its inputs, and its settings; what: is asked for, for messages.

    Raises InputError where library or order were not kept, or where this version of the program makes another hole
    table of them than the released one.
    """
    place = f"revision {record.revision} of {record.serial}"
    kept = kept_inputs(store, record)
    missing = [name for name in ("library", "order") if name not in kept]
    if missing:
        found = f"no {what}, and no {' and no '.join(missing)} kept to make it from"
        raise InputError([Problem("register", place, found, "what was built and released with it")])
    files = released_files(store, record.serial, record.revision)[1]
    settings: dict[str, str] = json.loads(files[MANIFEST])["settings"]
    with tempfile.TemporaryDirectory() as folder:
        planned = _planned(record, kept, settings["limits"], Path(folder))
    if hole_table_csv(record.serial, planned.holes) != files[holes_name(record.serial)]:
        hint = f"Write the inputs with --inputs, and build with railgen {record['recorded_by']}."
        allowed = "the version that made the released hole table"
        raise InputError([Problem("register", place, "another hole table by this version of railgen", allowed, hint)])
    return planned, settings


def _planned(record: Record, kept: dict[str, bytes], limits: str, folder: Path) -> SerialPlan:
    """The serial planned from what was kept; folder: to write it to meanwhile."""
    write_library(kept["library"], folder / "library")
    given = held_to(_order(record["order"]["name"], kept["order"], folder), limits)
    if given.order is None:
        raise given.error or InputError([])
    return plan(given.order, compile_catalogue(load_library(folder / "library")), given.place)


def write_library(kept: bytes, folder: Path) -> None:
    """Write a kept library as the folder of files that it was."""
    for name, words in json.loads(kept).items():
        write_whole(folder / name, words.encode("utf-8"))


def _order(name: str, kept: bytes, folder: Path) -> OrderInput:
    """The kept order: a TOML file, or a row of a bank by column."""
    if name.endswith(".toml"):
        path = folder / Path(name).name
        path.write_bytes(kept)
        return read_order(path)
    cells: dict[str, str] = json.loads(kept)
    return BankRow(name, name, tuple(cells), tuple(cells.values())).read()
