"""The serials a bank has named so far, and where: kept outside the program's memory, since a bank may be long."""

from __future__ import annotations

import sqlite3


class SerialsSeen:
    """Serials with the place each was first named at; a temporary file that is gone when it is closed."""

    def __init__(self) -> None:
        self._seen = sqlite3.connect("", isolation_level=None)
        self._seen.execute("PRAGMA journal_mode = OFF")
        self._seen.execute("CREATE TABLE seen (serial TEXT PRIMARY KEY, place TEXT) WITHOUT ROWID")
        self._seen.execute("BEGIN")

    def first_place(self, serial: str, place: str) -> str | None:
        """None where the serial is new, and it is remembered with its place; else where it was named first."""
        try:
            self._seen.execute("INSERT INTO seen VALUES (?, ?)", (serial, place))
        except sqlite3.IntegrityError:
            (first,) = self._seen.execute("SELECT place FROM seen WHERE serial = ?", (serial,)).fetchone()
            return str(first)
        return None

    def close(self) -> None:
        """Forget everything."""
        self._seen.close()
