"""What is asked of a bank, and one serial of it: planned, checked, written and remembered, or kept as it stands."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import railgen
from railgen.bank.memory import kept_record, remember
from railgen.bank.record import SerialRecord, record_of
from railgen.data.bank import BankRow
from railgen.data.library import Library
from railgen.data.messages import InputError, Problem
from railgen.data.order_input import OrderInput, held_to
from railgen.formats.folder import write_folder
from railgen.layout.catalogue import Catalogue
from railgen.papers.wording import Wording, shipped_wording, speaking
from railgen.pipeline import Choices, plan, serial_files

Unread = BankRow | OrderInput
"""An order of a bank as it is handed out: a row, or an order file's order."""


@dataclass(frozen=True)
class BankJob:
    """What is asked of every order of a bank. Choices without kinds: nothing is written but records and summary.

    name: of the bank, as the summary is headed; words: of its papers.
    """

    library: Library
    output: Path
    choices: Choices
    limits: str | None
    name: str
    words: Wording = field(default_factory=shipped_wording)

    @cached_property
    def digest(self) -> str:
        """Changes with the library, the program's version, or what is asked for."""
        asked = (*self.choices.kinds, self.choices.dxf, *self.choices.pictures, f"limits {self.limits or 'own'}")
        return _sha256(self.library.digest, railgen.__version__, *asked, self.words.sha256)

    def key(self, given: OrderInput) -> str:
        """Changes with anything that shapes what is made of an order."""
        return _sha256(self.digest, given.sha256)


def _sha256(*texts: str) -> str:
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()


@dataclass(frozen=True)
class Done:
    """An order of the bank, done: its record, or the problems for which it has none.

    kept: whether it stood complete and unchanged from an earlier run.
    """

    place: str
    serial: str
    record: SerialRecord | None
    problems: tuple[Problem, ...] = ()
    kept: bool = False


def do_chunk(chunk: Sequence[Unread], job: BankJob, catalogue: Catalogue) -> list[Done]:
    """Some orders, one after the other."""
    with speaking(job.words):
        return [do_order(unread, job, catalogue) for unread in chunk]


def do_order(unread: Unread, job: BankJob, catalogue: Catalogue) -> Done:
    """One order; whatever is wrong with it is in the result, so that the others go on."""
    try:
        return _done(held_to(unread.read(), job.limits), job, catalogue)
    except InputError as error:
        return Done(unread.place, unread.serial, None, error.problems)
    except Exception as error:  # a fault of the program in one order must not cost a night's run
        found = f"a fault in railgen: {type(error).__name__}: {str(error)[:200]}"
        hint = "Report it together with this order; the other orders go on."
        return Done(unread.place, unread.serial, None, (Problem(unread.place, "", found, "an order planned", hint),))


def _done(given: OrderInput, job: BankJob, catalogue: Catalogue) -> Done:
    if given.order is None:
        raise given.error or InputError([])
    key, choices = job.key(given), job.choices
    kept = kept_record(job.output, given.serial, key, bool(choices.kinds))
    if kept:
        return Done(given.place, given.serial, kept, kept=True)
    planned = plan(given.order, catalogue, given.place)
    record = record_of(planned)
    files = serial_files(planned, given.name, given.sha256, choices) if choices.kinds else {}
    # The record comes first: a serial counts as complete once the folder stands that its record speaks of.
    remember(job.output, record, key, files)
    if files:
        write_folder(job.output, given.serial, files)
    return Done(given.place, given.serial, record)
