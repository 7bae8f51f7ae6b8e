"""One archive a serial: complete, readable, and the same bytes each time."""

from __future__ import annotations

import zipfile
from io import BytesIO

import pytest

from railgen.formats.archive import archive_bytes

FILES = {"manifest.json": b"{}\n", "P-1001-LH-rail.dxf": b"0\nEOF\n" * 200, "P-1001-holes.csv": b""}


def test_what_is_in_it() -> None:
    with zipfile.ZipFile(BytesIO(archive_bytes("P-1001", FILES))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["P-1001/P-1001-LH-rail.dxf", "P-1001/P-1001-holes.csv", "P-1001/manifest.json"]
        assert {name: archive.read(f"P-1001/{name}") for name in FILES} == FILES
        for entry in archive.infolist():
            assert (entry.date_time, entry.extra, entry.comment) == ((1980, 1, 1, 0, 0, 0), b"", b"")
            assert (entry.create_system, entry.external_attr >> 16) == (3, 0o100644)


def test_same_bytes_whatever_clock_and_order(monkeypatch: pytest.MonkeyPatch) -> None:
    first = archive_bytes("P-1001", FILES)
    monkeypatch.setattr("time.localtime", lambda *_: (2031, 7, 9, 1, 2, 3, 0, 1, 0))
    monkeypatch.setattr("time.time", lambda: 1.9e9)
    assert archive_bytes("P-1001", dict(reversed(FILES.items()))) == first
    assert archive_bytes("P-1001", FILES | {"manifest.json": b"{ }"}) != first
