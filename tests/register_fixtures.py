"""Fixtures of the register's tests: a new register on each kind of database."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from register_places import new_database

from railgen.records.register_store import Store, open_store


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A place for a new register, on each kind of database."""
    if request.param == "sqlite":
        yield str(tmp_path / "register.sqlite")
        return
    yield from new_database()


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    opened = open_store(place, make=True)
    yield opened
    opened.close()
