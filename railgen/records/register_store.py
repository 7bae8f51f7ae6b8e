"""Where the register is kept: an SQLite file or a PostgreSQL database, its tables and the guards on them.

Records are only ever added. The tables' triggers refuse to change or delete a row whoever asks; whoever takes the
triggers away is found out by the chain of digests (``register_audit``).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import (
    URL,
    Column,
    Connection,
    Double,
    Engine,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    create_engine,
    event,
    inspect,
    make_url,
    text,
)
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

from railgen.data.messages import InputError, Problem

_BUSY_SECONDS = 60
"""How long a writer waits for another one."""
_CONNECT_SECONDS = 10
_LOCK = 0x7261696C
"""Number of the lock that writers of a register on PostgreSQL take in turn."""
_CHANGED = "a register is only added to: nothing in it is changed or deleted"
_METADATA = MetaData()

RECORD = Table(
    "railgen_record",
    _METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(16), nullable=False),
    Column("serial", String(16), nullable=False, index=True),
    Column("revision", String(3), nullable=False),
    Column("part", String(16), nullable=False),
    Column("value", String(300), nullable=False),
    Column("body", Text, nullable=False),
    Column("digest", String(64), nullable=False),
    Index("ix_railgen_record_kind_value", "kind", "value"),
)
"""The chain of records; all but ``digest`` stands in ``body`` too, beside it only to be found by."""
CONTENT = Table(
    "railgen_content",
    _METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("stored", LargeBinary, nullable=False),
)
"""Files by the sha256 of their bytes, each once, compressed by zlib."""
SPAN = Table(
    "railgen_span",
    _METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("side", String(2), primary_key=True),
    Column("part", String(5), primary_key=True),
    Column("component", String(48), primary_key=True, index=True),
    Column("least", Double, nullable=False),
    Column("greatest", Double, nullable=False),
    Column("holes", Integer, nullable=False),
)
"""For each released hole table the stations (mm) between which each component has holes, to find serials by."""
TABLES = (RECORD, CONTENT, SPAN)


@dataclass(frozen=True)
class Store:
    """An open register: its engine, and its place as messages name it."""

    engine: Engine
    place: str

    @property
    def is_sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One unchanging view of the register. Raises InputError where the database cannot be used."""
        options = {} if self.is_sqlite else {"isolation_level": "REPEATABLE READ"}
        with self._reported(), self.engine.connect().execution_options(**options) as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The register to oneself, written whole at the end or not at all. Raises InputError as ``reading`` does."""
        with self._reported(), self.engine.connect().execution_options(writing=True) as connection, connection.begin():
            if not self.is_sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
            yield connection

    @contextmanager
    def _reported(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise _unusable(self.place, error) from None

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def open_store(place: str, make: bool = False) -> Store:
    """The register at a path (an SQLite file) or a URL (sqlite:// or postgresql://); made where `make` says so.

    Raises InputError where it cannot be reached, or is no register and shall not be made.
    """
    url, shown = _url(place)
    if url.get_backend_name() == "sqlite" and not make and not Path(url.database or "").is_file():
        hint = "`railgen release` makes one; name another by --register or RAILGEN_REGISTER."
        raise InputError([Problem(shown, "", "no register here", "the file of a register", hint)])
    store = Store(_engine(url, shown), shown)
    found = _tables(store)
    missing = [table.name for table in TABLES if table.name not in found]
    if not missing:
        return store
    if url.get_backend_name() == "sqlite" and found:
        raise InputError([Problem(shown, "", "a database of something else", "a register, or no file yet")])
    if not make:
        hint = "`railgen release` makes the register's tables."
        raise InputError([Problem(shown, "", "a database without a register", "a register", hint)])
    make_tables(store)
    return store


def _url(place: str) -> tuple[URL, str]:
    """The URL of a place, and the place as messages name it: never with a password."""
    if "://" not in place:
        return URL.create("sqlite", database=place), place
    try:
        url = make_url(place)
        backend = url.get_backend_name()
    except (ArgumentError, ValueError):
        raise InputError([Problem("register", "", repr(place.split("@")[-1]), _ALLOWED)]) from None
    shown = url.render_as_string(hide_password=True)
    if backend == "sqlite" and url.database and url.database != ":memory:":
        return url.set(drivername="sqlite"), shown
    if backend in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg"), shown
    raise InputError([Problem(shown, "", repr(backend), _ALLOWED)])


_ALLOWED = "the path of a file, sqlite:///PATH, or postgresql://USER@HOST:PORT/DATABASE"


def _engine(url: URL, shown: str) -> Engine:
    try:
        if url.get_backend_name() == "sqlite":
            engine = create_engine(url, connect_args={"timeout": _BUSY_SECONDS})
            event.listen(engine, "connect", _leave_transactions_to_us)
            event.listen(engine, "begin", _begin)
            return engine
        return create_engine(url, connect_args={"connect_timeout": _CONNECT_SECONDS}, pool_size=1)
    except ModuleNotFoundError as error:
        hint = "Install it: pip install 'railgen[postgres]'."
        raise InputError([Problem(shown, "", f"no {error.name} installed", "a driver of PostgreSQL", hint)]) from None
    except SQLAlchemyError as error:
        raise InputError([Problem(shown, "", _first_line(error), _ALLOWED)]) from None


def _leave_transactions_to_us(dbapi_connection: object, _: object) -> None:
    """Python's sqlite3 opens transactions by itself, too late to keep other writers out; it shall not."""
    dbapi_connection.isolation_level = None  # type: ignore[attr-defined]


def _begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _tables(store: Store) -> list[str]:
    with store.reading() as connection:
        return inspect(connection).get_table_names()


def make_tables(store: Store) -> None:
    """Make the tables and their guards, where another process has not just done so."""
    with store.writing() as connection:
        if inspect(connection).has_table(RECORD.name):
            return
        _METADATA.create_all(connection)
        for statement in _sqlite_guards() if store.is_sqlite else _postgresql_guards():
            connection.exec_driver_sql(statement)


def _sqlite_guards() -> Iterator[str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{_CHANGED}'); END"
    for table in TABLES:
        yield f"CREATE TRIGGER {table.name}_update BEFORE UPDATE ON {table.name} {refuse}"
        yield f"CREATE TRIGGER {table.name}_delete BEFORE DELETE ON {table.name} {refuse}"
        # INSERT OR REPLACE would delete a row without asking the trigger above.
        same = " AND ".join(f"{column.name} = NEW.{column.name}" for column in table.primary_key)
        there = f"WHEN EXISTS (SELECT 1 FROM {table.name} WHERE {same})"
        yield f"CREATE TRIGGER {table.name}_insert BEFORE INSERT ON {table.name} {there} {refuse}"


def _postgresql_guards() -> Iterator[str]:
    yield (
        "CREATE FUNCTION railgen_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_CHANGED}'; END $$"
    )
    for table in TABLES:
        rows, refuse = f"ON {table.name} FOR EACH ROW", "EXECUTE FUNCTION railgen_refuse()"
        yield f"CREATE TRIGGER {table.name}_update BEFORE UPDATE {rows} {refuse}"
        yield f"CREATE TRIGGER {table.name}_delete BEFORE DELETE {rows} {refuse}"
        whole = f"ON {table.name} FOR EACH STATEMENT"
        yield f"CREATE TRIGGER {table.name}_truncate BEFORE TRUNCATE {whole} {refuse}"


def missing_guards(store: Store, connection: Connection) -> list[str]:
    """Names of the triggers that should refuse changes and are not there or are switched off."""
    last = "insert" if store.is_sqlite else "truncate"
    needed = [f"{table.name}_{event_name}" for table in TABLES for event_name in ("update", "delete", last)]
    query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    if not store.is_sqlite:
        query = (
            "SELECT tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
            "WHERE tgenabled IN ('O', 'A') AND pg_table_is_visible(pg_class.oid)"
        )
    found = set(connection.execute(text(query)).scalars())
    return [name for name in needed if name not in found]


_HINTS = (
    ("disk is full", "Make room: the register is as it was before."),
    ("No space left", "Make room: the register is as it was before."),
    ("readonly", "Check the rights on the file and its folder."),
    ("unable to open", "Check that the folder exists and may be written to."),
    ("locked", "Another process is writing: try again when it is done."),
    ("not a database", "Name the register by --register or RAILGEN_REGISTER."),
    ("malformed", "The file is damaged: restore a backup with `railgen register restore`."),
    ("connection", "Check that the server runs, and host, port and name."),
)


def _unusable(place: str, error: DBAPIError) -> InputError:
    reason = _first_line(error.orig or error)
    hint = next((hint for words, hint in _HINTS if words in reason), "")
    return InputError([Problem(place, "", reason, "a database of a register that can be used", hint)])


def _first_line(error: BaseException) -> str:
    lines = str(error).strip().splitlines()
    return lines[0].strip().rstrip(".") if lines else type(error).__name__
