"""The tables of a bank's summary as Parquet: a row a serial, and the totals; the same orders give the same bytes."""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import PurePath
from typing import Any

import pyarrow as pa
from pyarrow.parquet import ParquetWriter, write_table

from railgen.bank.job import Done
from railgen.bank.record import REFUSED
from railgen.bank.tally import Tally
from railgen.data.messages import Problem

_ROWS_A_GROUP = 1_000  # no more are held at once, however long the bank
_KG = 1e-6  # of a milligram
_SERIALS = pa.schema(
    [
        ("place", pa.string()),
        ("serial", pa.string()),
        ("family", pa.string()),
        ("build_date", pa.date32()),
        ("outcome", pa.string()),
        *((name, pa.int32()) for name in ("errors", "warnings", "notes", "hits", "blanks", "fasteners")),
        ("mass_kg", pa.float64()),
        ("problem", pa.string()),
    ]
)


class SerialTable:
    """``serials.parquet``, gathered row by row and packed as it grows."""

    def __init__(self) -> None:
        self._buffer = io.BytesIO()
        self._writer = ParquetWriter(self._buffer, _SERIALS)
        self._rows: list[dict[str, Any]] = []

    def add(self, done: Done) -> None:
        """Add one order."""
        self._rows.append(_serial_row(done))
        if len(self._rows) == _ROWS_A_GROUP:
            self._pack()

    def content(self) -> bytes:
        """The whole file; nothing can be added afterwards."""
        self._pack()
        self._writer.close()
        return self._buffer.getvalue()

    def _pack(self) -> None:
        if self._rows:
            self._writer.write_table(pa.Table.from_pylist(self._rows, _SERIALS))
            self._rows.clear()


def _serial_row(done: Done) -> dict[str, Any]:
    record = done.record
    row: dict[str, Any] = {"place": PurePath(done.place).name, "serial": done.serial or None}
    if record is None:
        return row | {"outcome": REFUSED, "problem": "\n".join(map(problem_text, done.problems))}
    return row | {
        "family": record.family,
        "build_date": datetime.date.fromisoformat(record.build_date),
        "outcome": record.outcome,
        "errors": record.found("error"),
        "warnings": record.found("warning"),
        "notes": record.found("note"),
        "hits": sum(hits for _, hits, _ in record.hits),
        "blanks": len(record.blanks),
        "fasteners": sum(count for _, count in record.fasteners),
        "mass_kg": _kg(sum(mass for *_, mass in record.masses)),
    }


def problem_text(problem: Problem) -> str:
    """A problem as it stands in the summary: without the folders that the bank happens to lie in."""
    return str(replace(problem, file=PurePath(problem.file).name))


def total_tables(tally: Tally) -> dict[str, bytes]:
    """The totals as Parquet files by name."""
    findings = [(*key, count, tally.serials_with[key]) for key, count in sorted(tally.findings.items())]
    tools = [(tool, hits, tally.features[tool]) for tool, hits in sorted(tally.hits.items())]
    outcomes = [(*key, count) for key, count in sorted(tally.outcomes_of.items())]
    return {
        "outcomes.parquet": _parquet("family outcome serials", outcomes),
        "findings.parquet": _parquet("rule measure severity findings serials", findings),
        "pairs.parquet": _parquet("component other_component rule severity findings", _keyed(tally.pairs.items())),
        "tools.parquet": _parquet("tool hits features", tools),
        "blanks.parquet": _parquet(
            "part section steel thickness_mm width_mm length_mm blanks", _keyed(tally.blanks.items())
        ),
        "steel.parquet": _parquet(
            "steel thickness_mm mass_kg", [(*key, _kg(mass)) for key, mass in sorted(tally.masses.items())]
        ),
        "fasteners.parquet": _parquet("fastener fasteners", sorted(tally.fasteners.items())),
    }


def _keyed(items: Iterable[tuple[tuple[Any, ...], int]]) -> list[tuple[Any, ...]]:
    return [(*key, count) for key, count in sorted(items)]


def _kg(milligrams: int) -> float:
    return round(milligrams * _KG, 3)


_LENGTHS = ("thickness_mm", "width_mm", "length_mm", "mass_kg")
_COUNTS = ("findings", "serials", "hits", "features", "blanks", "fasteners")


def _parquet(names: str, rows: Sequence[tuple[Any, ...]]) -> bytes:
    """Rows as a Parquet file, with column types by name so that an empty table has them too."""
    columns = names.split()
    kinds = {name: pa.float64() if name in _LENGTHS else pa.int64() for name in (*_LENGTHS, *_COUNTS)}
    schema = pa.schema([(name, kinds.get(name, pa.string())) for name in columns])
    values = list(zip(*rows, strict=True)) if rows else [()] * len(columns)
    arrays = [pa.array(column, field.type) for column, field in zip(values, schema, strict=True)]
    buffer = io.BytesIO()
    write_table(pa.Table.from_arrays(arrays, schema=schema), buffer)
    return buffer.getvalue()
