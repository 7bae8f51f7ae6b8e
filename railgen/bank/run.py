"""A whole bank from its orders to its summary: handed out in chunks, done by a crew, summed up in bank order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path, PurePath

from railgen.bank.crews import Crew, in_bank_order
from railgen.bank.job import BankJob, Done, Unread
from railgen.bank.seen import SerialsSeen
from railgen.bank.summary import summary_files
from railgen.bank.tables import SerialTable
from railgen.bank.tally import Tally
from railgen.data.component import serial_key
from railgen.data.messages import InputError, Problem
from railgen.data.order_files import unread_orders
from railgen.data.order_input import OrderInput
from railgen.formats.folder import write_folder

SUMMARY = "summary"


def run_bank(paths: Iterable[Path], job: BankJob, crew: Crew, watch: Callable[[Done], None]) -> Tally:
    """Do every order of some files and write ``DIR/summary``; ``watch`` sees each order as it is done, in bank order.

    Raises InputError where the summary cannot be written. However it ends, no serial is left half done.
    """
    tally, serials = Tally(), SerialTable()
    try:
        for done in done_orders(paths, crew):
            tally.add(done)
            serials.add(done)
            watch(done)
    finally:
        crew.stop()
    write_folder(job.output, SUMMARY, summary_files(tally, serials, job))
    return tally


def done_orders(paths: Iterable[Path], crew: Crew) -> Iterator[Done]:
    """Every order of some files, done, in their order."""
    with closing(SerialsSeen()) as seen:
        orders = each_serial_once(unread_orders(paths), seen)
        for chunk in in_bank_order(crew, iter(lambda: tuple(islice(orders, crew.chunk)), ())):
            yield from chunk


def in_build_order(paths: Iterable[Path]) -> list[Unread]:
    """All orders, each serial once: by build date, then by serial; those that cannot be read come first."""
    with closing(SerialsSeen()) as seen:
        orders = list(each_serial_once(unread_orders(paths), seen))
    return sorted(orders, key=_build_place)


def _build_place(unread: Unread) -> tuple[str, str, int]:
    order = unread.read().order
    return ("", "", 0) if order is None else (order.build_date.isoformat(), *serial_key(order.serial))


def each_serial_once(orders: Iterable[Unread], seen: SerialsSeen) -> Iterator[Unread]:
    """The orders; one whose serial was named before is refused in its place."""
    for unread in orders:
        serial = unread.serial
        first = seen.first_place(serial, unread.place) if serial else None
        if first is None:
            yield unread
            continue
        hint = f"It stands first at {PurePath(first).name}."
        problem = Problem(unread.place, "serial", repr(serial), "each serial once in a bank", hint)
        yield OrderInput(unread.place, serial, "", None, InputError([problem]))
