"""Orders from banks: CSV, Parquet and folders of TOML give the same orders, row by row, and broken rows are named."""

from __future__ import annotations

import datetime
import random
import tracemalloc
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from railgen.data.bank import csv_rows
from railgen.data.bank_parquet import parquet_rows
from railgen.data.messages import InputError
from railgen.data.order_files import count_orders, read_orders, unread_orders

BANK = Path(__file__).parent.parent / "samples" / "bank-200.csv"
HEADER = "serial,family,build_date,wheelbase,options"
ROWS = (
    "X-1,tractor,2027-01-05,5000,AAA01 AAA02",
    "X-2,tractor,2027-01-06,,",
    "X-3,tractor,2027-01-07,4999.5,AAA01",
)


def bank(folder: Path, *rows: str, header: str = HEADER) -> Path:
    path = folder / "bank.csv"
    path.write_bytes("\n".join([header, *rows, ""]).encode("utf-8", "surrogateescape"))
    return path


def parquet(folder: Path, columns: dict[str, list[object]], **more: object) -> Path:
    path = folder / "bank.parquet"
    pq.write_table(pa.table(columns), path, **more)
    return path


COLUMNS: dict[str, list[object]] = {
    "serial": ["X-1", "X-2", "X-3"],
    "family": ["tractor"] * 3,
    "build_date": [datetime.date(2027, 1, day) for day in (5, 6, 7)],
    "wheelbase": [5000.0, None, 4999.5],
    "options": [["AAA01", "AAA02"], None, ["AAA01"]],
}


def test_csv_and_parquet_say_the_same(tmp_path: Path) -> None:
    from_csv = list(read_orders([bank(tmp_path, *ROWS)]))
    typed = list(read_orders([parquet(tmp_path, COLUMNS)]))
    text = {
        name: [None if v is None else " ".join(v) if isinstance(v, list) else str(v) for v in column]
        for name, column in COLUMNS.items()
    }
    as_text = list(read_orders([parquet(tmp_path, text)]))
    assert [given.order for given in from_csv] == [given.order for given in typed] == [g.order for g in as_text]
    assert [given.sha256 for given in from_csv] == [given.sha256 for given in typed]
    assert all(given.order for given in from_csv)
    assert [given.order.wheelbase for given in from_csv if given.order] == [5000.0, None, 4999.5]


def test_numbers_survive_parquet_exactly(tmp_path: Path) -> None:
    draw = random.Random(7)
    values = [draw.uniform(1, 10_000) for _ in range(200)]
    columns: dict[str, list[object]] = {
        "serial": [f"X-{number}" for number in range(200)],
        "family": ["tractor"] * 200,
        "build_date": ["2027-01-05"] * 200,
        "wheelbase": list(values),
    }
    read = [given.order.wheelbase for given in read_orders([parquet(tmp_path, columns)]) if given.order]
    assert read == values


def test_a_folder_gives_its_orders_by_file_name(tmp_path: Path) -> None:
    for number in (3, 1, 2):
        text = f'serial = "X-{number}"\nfamily = "tractor"\nbuild_date = 2027-01-05\n'
        (tmp_path / f"order-{number}.toml").write_text(text)
    (tmp_path / "notes.txt").write_text("no order")
    assert [given.serial for given in read_orders([tmp_path])] == ["X-1", "X-2", "X-3"]
    assert count_orders([tmp_path, BANK]) == 203


def test_the_digest_is_of_what_a_row_says(tmp_path: Path) -> None:
    plain = next(csv_rows(bank(tmp_path, "X-1,tractor,2027-01-05,5000,AAA01")))
    moved = next(
        csv_rows(
            bank(
                tmp_path,
                ",AAA01, X-1 ,tractor,2027-01-05,5000",
                header="revision,options,serial,family,build_date,wheelbase",
            )
        )
    )
    other = next(csv_rows(bank(tmp_path, "X-1,tractor,2027-01-05,5050,AAA01")))
    assert plain.sha256 == moved.sha256 != other.sha256


BROKEN = {
    "no UTF-8": ("X-9,tractor,2027-01-05,\udcff,AAA01", "line 3", "byte 0xff"),
    "cells missing": ("X-9,tractor", "line 3", "2 cells"),
    "a word for a number": ("X-9,tractor,2027-01-05,long,", "line 3", "a number with ."),
    "an endless cell": (f'X-9,tractor,2027-01-05,"{"9" * 140_000}",', "line 3", "comma-separated"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_row_is_named_and_the_others_go_on(name: str, tmp_path: Path) -> None:
    row, place, found = BROKEN[name]
    given = list(read_orders([bank(tmp_path, ROWS[0], row, ROWS[2])]))
    assert [g.serial for g in given] == ["X-1", "", "X-3"]
    assert place in str(given[1].error)
    assert found in str(given[1].error)


FILES = {
    "cut off": (lambda data: data[: len(data) // 2], "whole Parquet file"),
    "no Parquet": (lambda data: b"serial,family\n", "whole Parquet file"),
    "empty": (lambda data: b"", "whole Parquet file"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_broken_parquet_file_is_named_and_other_files_go_on(name: str, tmp_path: Path) -> None:
    change, expected = FILES[name]
    path = parquet(tmp_path, COLUMNS)
    path.write_bytes(change(path.read_bytes()))
    given = list(read_orders([path, bank(tmp_path, *ROWS)]))
    assert [g.serial for g in given] == ["", "X-1", "X-2", "X-3"]
    assert "bank.parquet" in str(given[0].error)
    assert expected in str(given[0].error)


def test_a_parquet_file_broken_in_the_middle_gives_the_rows_before(tmp_path: Path) -> None:
    count = 5000
    columns: dict[str, list[object]] = {
        "serial": [f"X-{number}" for number in range(count)],
        "family": ["tractor"] * count,
        "build_date": ["2027-01-05"] * count,
        "wheelbase": [float(number) for number in range(1, count + 1)],
    }
    path = parquet(tmp_path, columns, row_group_size=1000, use_dictionary=False, compression="snappy")
    data = bytearray(path.read_bytes())
    place = len(data) * 6 // 10
    data[place : place + 2000] = bytes(2000)
    path.write_bytes(bytes(data))
    given = list(unread_orders([path]))
    *rows, last = given
    assert 1000 <= len(rows) < count
    assert last.read().error is not None
    assert "row " in str(last.read().error)


def test_columns_of_a_parquet_file_are_checked(tmp_path: Path) -> None:
    columns = {("wheel_base" if name == "wheelbase" else name): column for name, column in COLUMNS.items()}
    with pytest.raises(InputError, match="Did you mean 'wheelbase'"):
        list(parquet_rows(parquet(tmp_path, columns)))


def test_a_long_bank_is_never_held_in_memory(tmp_path: Path) -> None:
    header, *lines = BANK.read_text().splitlines()
    path = bank(tmp_path, *(line for _ in range(100) for line in lines), header=header)
    tracemalloc.start()
    try:
        assert sum(1 for _ in unread_orders([path])) == 20_000
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 1_000_000 < path.stat().st_size
