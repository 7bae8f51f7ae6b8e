"""Papers of many serials as one PDF, in build order; serials are planned, printed and forgotten one by one."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from railgen.bank.job import Unread
from railgen.data.findings import has_errors
from railgen.data.messages import InputError, Problem, one_of
from railgen.data.order_input import held_to
from railgen.formats.folder import whole_file
from railgen.frame.rail import Part
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import SerialPlan
from railgen.papers.merge import PdfMerge
from railgen.papers.wording import say
from railgen.pipeline import ALWAYS, Paper, paper, plan
from railgen.shop.part_work import parts_of
from railgen.shop.work_stations import WORK_STATIONS, WorkStation


@dataclass(frozen=True)
class Printing:
    """What is printed: papers in this order.

    only: the one part, with its side, whose route card or slips are printed again; at: the work stations of slips.
    """

    papers: tuple[Paper, ...]
    only: tuple[Part, str] | None = None
    limits: str | None = None
    at: tuple[WorkStation, ...] = WORK_STATIONS


@dataclass(frozen=True)
class Printed:
    """What became of one order: its serial and pages, papers that error findings held back, or what was wrong."""

    serial: str
    pages: int
    held_back: tuple[Paper, ...] = ()
    error: InputError | None = None


class NothingPrinted(Exception):  # noqa: N818 - it is no error of the program's
    """No order had a page to print; no file was touched."""


def print_papers(
    orders: Iterable[Unread], catalogue: Catalogue, printing: Printing, target: Path, watch: Callable[[Printed], None]
) -> int:
    """Print the papers of orders into one PDF, in their order; returns the number of pages.

    ``watch`` sees each order as it is done. An order that is wrong, or papers that an error finding holds back, are
    left out and the others printed. Raises NothingPrinted where no page is left, InputError where the file cannot be
    written.
    """
    with whole_file(target) as stream:
        merge = PdfMerge(stream)
        for unread in orders:
            watch(_print_one(unread, catalogue, printing, merge))
        if not merge.pages:
            raise NothingPrinted
        merge.close(target.stem)
        return merge.pages


def _print_one(unread: Unread, catalogue: Catalogue, printing: Printing, merge: PdfMerge) -> Printed:
    given = held_to(unread.read(), printing.limits)
    before = merge.pages
    try:
        if given.error is not None or given.order is None:
            raise given.error or InputError([])
        planned = plan(given.order, catalogue, given.place)
        only = _part_of(planned, given.place, printing.only)
        barred = {name for name in printing.papers if name not in ALWAYS} if has_errors(planned.findings) else set()
        made = [(name, paper(planned, name, only, printing.at)) for name in printing.papers if name not in barred]
    except InputError as error:
        return Printed(given.serial, 0, error=error)
    for name, pdf in made:
        if pdf is not None:
            merge.add(pdf, say("subject.paper", serial=planned.serial, paper=say(f"paper.{name}")))
    held_back = tuple(name for name in printing.papers if name in barred)
    return Printed(planned.serial, merge.pages - before, held_back)


def _part_of(planned: SerialPlan, place: str, only: tuple[Part, str] | None) -> Collection[tuple[Part, str]] | None:
    """The part asked for as the route card takes it. Raises InputError where the serial has no such part."""
    if only is None:
        return None
    parts = list(parts_of(planned))
    if only not in parts:
        names = [f"{side}-{part}" for part, side in parts]
        raise InputError(
            [Problem(place, "--part", f"{only[1]}-{only[0]}", f"a part of {planned.serial}: {one_of(names)}")]
        )
    return (only,)
