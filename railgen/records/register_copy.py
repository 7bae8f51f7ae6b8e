"""Backup and restore: a whole register as one SQLite file, from and to any kind of database."""

from __future__ import annotations

import os
from pathlib import Path

from sqlalchemy import Connection, Table, select

from railgen.data.messages import InputError, Problem
from railgen.records.register_audit import Audit, audit, audit_connection
from railgen.records.register_chain import head
from railgen.records.register_store import TABLES, Store, open_store

_ROWS_AT_ONCE = 200


def backup(store: Store, target: Path) -> Audit:
    """Copy a register into a new SQLite file, which is a register itself; returns the audit of the copy.

    The file appears when it is complete and its audit has found nothing. Raises InputError where it exists already,
    cannot be written, or the register itself is not intact.
    """
    if target.exists():
        raise InputError([Problem(str(target), "", "a file", "a new file", "Name another; no backup is overwritten.")])
    beside = target.with_name(f".{target.name}-{os.getpid()}")
    try:
        copy = open_store(str(beside), make=True)
        try:
            with store.reading() as source, copy.writing() as written:
                _copy_tables(source, written)
            found = audit(copy)
        finally:
            copy.close()
        _refuse_damaged(found, store.place)
        beside.rename(target)
    except OSError as error:
        found_words = error.strerror or type(error).__name__
        raise InputError([Problem(str(target), "", found_words, "a new file that can be written")]) from None
    finally:
        for left in (beside, beside.with_name(f"{beside.name}-journal")):
            left.unlink(missing_ok=True)
    return found


def restore(store: Store, source: Path) -> Audit:
    """Copy a backup into a register that has no record yet; returns the audit of what was restored.

    Nothing is written where the copy's audit finds something. Raises InputError then, where the register has records
    already, and where the backup cannot be read.
    """
    backup_store = open_store(str(source))
    try:
        with backup_store.reading() as read, store.writing() as written:
            if head(written)[0]:
                hint = "Name a new one by --register; what is recorded is never overwritten."
                raise InputError([Problem(store.place, "", "a register with records", "an empty one", hint)])
            _copy_tables(read, written)
            found = audit_connection(store, written)
            _refuse_damaged(found, str(source))
    finally:
        backup_store.close()
    return found


def _refuse_damaged(found: Audit, place: str) -> None:
    if found.problems:
        more = f" and {len(found.problems) - 1} more" if len(found.problems) > 1 else ""
        raise InputError([Problem(place, "", f"{found.problems[0]}{more}", "a register that its audit finds intact")])


def _copy_tables(source: Connection, target: Connection) -> None:
    for table in TABLES:
        _copy_table(source, target, table)


def _copy_table(source: Connection, target: Connection, table: Table) -> None:
    query = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=_ROWS_AT_ONCE)
    for rows in source.execute(query).partitions():
        target.execute(table.insert(), [dict(row._mapping) for row in rows])
