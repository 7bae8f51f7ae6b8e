"""Registers for tests: on SQLite, and on a PostgreSQL server where RAILGEN_TEST_POSTGRES names one by its URL."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from register_folders import serial_folder
from sqlalchemy import create_engine, text

from railgen.cli.main import main
from railgen.records.register_folder import Inputs, read_release_folder
from railgen.records.register_release import Signed, release
from railgen.records.register_store import Store

POSTGRES = "RAILGEN_TEST_POSTGRES"
WHO = Signed("A. O'Neil", "2027-03-01")
NOTHING = Inputs()


def new_database() -> Iterator[str]:
    """The URL of a new database on the server of the tests; skipped where there is no server."""
    server = os.environ.get(POSTGRES)
    if not server:
        pytest.skip(f"no PostgreSQL server: {POSTGRES} is not set")
    name = f"register_{uuid.uuid4().hex}"
    engine = create_engine(server.replace("postgresql://", "postgresql+psycopg://"), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    yield server.rsplit("/", 1)[0] + f"/{name}"
    with engine.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    engine.dispose()


def run(*arguments: object, code: int = 0) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return result


def put(store: Store, parent: Path, serial: str, revision: str = "A", **more: Any) -> Path:
    folder = serial_folder(parent, serial, revision, **more)
    release(store, read_release_folder(folder), WHO, NOTHING)
    return folder
