"""The files of a bank's summary: a page to look at, and the tables behind it."""

from __future__ import annotations

from railgen.bank.job import BankJob
from railgen.bank.tables import SerialTable, total_tables
from railgen.bank.tally import Tally

PAGE = "summary.html"


def summary_files(tally: Tally, serials: SerialTable, job: BankJob) -> dict[str, bytes]:
    """Every file of ``DIR/summary`` by its name."""
    from railgen.bank.summary_page import summary_page

    return {PAGE: summary_page(tally, job), "serials.parquet": serials.content(), **total_tables(tally)}
