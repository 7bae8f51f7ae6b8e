"""The order bank as Parquet: the columns of the CSV, with numbers, dates and lists as such or as text."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from railgen.data.bank import BankRow, check_header
from railgen.data.messages import InputError, Problem

_ROWS_AT_ONCE = 1024


def parquet_rows(path: Path) -> Iterator[BankRow]:
    """The rows of a bank as Parquet, read as they are asked for; a stretch that cannot be read is reported as a row.

    Raises InputError where the file as a whole cannot be used: no such file, truncated, an unknown column.
    """
    import pyarrow as pa
    from pyarrow.parquet import ParquetFile

    _check_readable(path)
    try:
        file = ParquetFile(path)
    except (pa.ArrowException, OSError) as error:
        hint = "It may have been cut off while it was copied: copy it again."
        raise InputError([Problem(str(path), "", _first_line(error), "a whole Parquet file", hint)]) from None
    with file:
        header = tuple(str(name) for name in file.schema_arrow.names)
        check_header(header, str(path))
        first = 1
        batches = file.iter_batches(batch_size=_ROWS_AT_ONCE)
        while True:
            try:
                batch = next(batches, None)
            except (pa.ArrowException, OSError) as error:
                place = f"{path}: row {first} and on"
                yield BankRow(path.name, place, header, (), Problem(place, "", _first_line(error), "rows to be read"))
                return
            if batch is None:
                return
            columns = [column.to_pylist() for column in batch.columns]
            for number, values in enumerate(zip(*columns, strict=True), first):
                cells = tuple(_cell(value) for value in values)
                if any(cells):
                    yield BankRow(path.name, f"{path}: row {number}", header, cells)
            first += batch.num_rows


def parquet_count(path: Path) -> int:
    """How many rows the file has; 0 where it cannot be read."""
    import pyarrow as pa
    from pyarrow.parquet import ParquetFile

    try:
        with ParquetFile(path) as file:
            return int(file.metadata.num_rows)
    except (pa.ArrowException, OSError):
        return 0


def _check_readable(path: Path) -> None:
    try:
        with path.open("rb"):
            pass
    except OSError as error:
        found, hint = error.strerror or type(error).__name__, "Check the path."
        raise InputError([Problem(str(path), "", found, "a file that can be read", hint)]) from None


def _cell(value: Any) -> str:
    """A value as a cell of the CSV has it; reading it back gives the same number."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime.datetime) and value.time() == datetime.time():
        return value.date().isoformat()
    if isinstance(value, list | tuple):
        return " ".join(str(item) for item in value)
    return str(value)


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0][:160]
