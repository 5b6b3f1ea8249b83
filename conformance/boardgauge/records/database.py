"""Open the database of the records, make it where there is none, and bring an older one up to date.

Law of this module: a write is one transaction that begins by taking the write lock, so that many benches can share a
database and a program that is killed leaves all that was committed and nothing else. In SQLite that is the write-ahead
log with every commit on the disk before it counts. What is wrong with a database is told in words.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from attrs import frozen
from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

LATEST = "0002"
"""The version of the database that this program reads and writes."""
VERSION_TABLE = "boardgauge_version"
MIGRATIONS = Path(__file__).parent / "migrations"
WAIT = 60.0
"""Seconds that a writer waits for the others."""
TRIES = 5
"""How often records are brought up to date anew after another bench got into the way."""
_WRITING = "boardgauge_writing"


class UnusableRecords(Exception):
    """A database that cannot be opened or used; the message says why and what to do."""


@frozen
class Records:
    """An open database. ``name`` is what it is called to people, without a password."""

    name: str
    engine: Engine

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the database throughout. Raises UnusableRecords."""
        with _told(self.name), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that alone may write; leaving it commits, an exception undoes. Raises UnusableRecords."""
        with _told(self.name), self.engine.connect() as plain:
            connection = plain.execution_options(**{_WRITING: True})
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


@contextmanager
def open_records(given: str, *, make: bool = False) -> Iterator[Records]:
    """Open the records at a path (SQLite) or a SQLAlchemy URL; ``make``: where there are none, make them.

    An older database is brought up to date first. Raises UnusableRecords.
    """
    url = _url(given)
    name = hidden(given)
    if url.get_backend_name() == "sqlite":
        _look_at_file(url, name, make)
        url = url if make else _as_it_may_be_read(url)
    try:
        engine = create_engine(url)
    except (NoSuchModuleError, ArgumentError) as error:
        raise UnusableRecords(f"{name}: {_first(error)}") from None
    except ImportError as error:
        raise UnusableRecords(
            f"{name}: the driver for this kind of database is not installed ({error.name}); install it with pip"
        ) from None
    if engine.dialect.name == "sqlite":
        _for_sqlite(engine)
    records = Records(name, engine)
    try:
        bring_up_to_date(records, make=make)
        yield records
    finally:
        records.close()


def hidden(given: str) -> str:
    """Give what a database is called to people: a path as it is, a URL without its password."""
    if "://" not in given:
        return given
    try:
        return make_url(given).render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        return given.partition("://")[0] + "://..."


def bring_up_to_date(records: Records, *, make: bool, latest: str = LATEST, migrations: Path = MIGRATIONS) -> None:
    """Bring a database to the latest version, in one transaction. Raises UnusableRecords."""
    for left in reversed(range(TRIES)):
        with records.reading() as connection:
            if _version(connection, records.name, make) == latest:
                return
        try:
            _bring(records, make, latest, migrations)
            return
        except UnusableRecords as error:
            # A database without one lock for all: another bench was making the same tables at that moment.
            if not isinstance(error.__cause__, DBAPIError) or not left:
                raise
            time.sleep(0.2 * (TRIES - left))


def _bring(records: Records, make: bool, latest: str, migrations: Path) -> None:
    if records.engine.dialect.name == "sqlite":
        _write_ahead(records)
    with records.writing() as connection:
        # Another bench may have done it while this one waited for the lock.
        if _version(connection, records.name, make) != latest:
            _upgrade(connection, records.name, latest, migrations)


def _upgrade(connection: Connection, name: str, latest: str, migrations: Path) -> None:
    # Here, since a database is up to date nearly always.
    from alembic import command
    from alembic.config import Config
    from alembic.util import CommandError

    config = Config()
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, latest)
    except CommandError as error:
        raise UnusableRecords(
            f"{name}: made by a later version of Boardgauge ({_first(error)}); update Boardgauge to use it"
        ) from None


def _version(connection: Connection, name: str, make: bool) -> str | None:
    tables = set(inspect(connection).get_table_names())
    if VERSION_TABLE in tables:
        found = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()
        return None if found is None else str(found)
    if tables & {"runs", "boards", "specs", "files", "timings"}:
        raise UnusableRecords(f"{name}: holds tables of something else; expected records of Boardgauge or nothing")
    if not make:
        raise UnusableRecords(f"{name}: holds no records; `boardgauge judge ... --record {name}` makes them")
    return None


def _url(given: str) -> URL:
    if "://" not in given:
        return URL.create("sqlite", database=given)
    try:
        return make_url(given)
    except (ArgumentError, ValueError):
        raise UnusableRecords(
            f"{hidden(given)}: expected the path of a file, or a URL such as postgresql+psycopg://user@server/records"
        ) from None


def _look_at_file(url: URL, name: str, make: bool) -> None:
    """Tell what is wrong with the file before the library does."""
    if not url.database or url.database == ":memory:":
        raise UnusableRecords(f"{name}: expected the path of a file; records in memory would be gone at once")
    path = Path(url.database)
    if path.is_dir():
        raise UnusableRecords(f"{name}: is a folder; expected a file")
    if not path.exists():
        if not make:
            raise UnusableRecords(f"{name}: no such file; `boardgauge judge ... --record {name}` makes it")
        if not path.parent.is_dir():
            raise UnusableRecords(f"{name}: there is no folder {path.parent}")


def _as_it_may_be_read(url: URL) -> URL:
    """Give the URL by which a file is read where nothing beside it may be written.

    The write-ahead log asks even a reader to write beside the file, unless it is told that nothing will change. That is
    so where no log lies there; where one does, what it holds is not in the file yet, and the library is to see to it.
    """
    path = Path(str(url.database))
    if url.query or (os.access(path, os.W_OK) and os.access(path.absolute().parent, os.W_OK)):
        return url
    unchanging = {} if path.with_name(f"{path.name}-wal").exists() else {"immutable": "1"}
    return url.set(database=path.absolute().as_uri(), query={"uri": "true", "mode": "ro", **unchanging})


def _for_sqlite(engine: Engine) -> None:
    """Let SQLite keep what is committed through a loss of power, and let transactions begin where we say."""

    @event.listens_for(engine, "connect")
    def connected(dbapi: sqlite3.Connection, _: Any) -> None:
        # The driver would begin transactions by itself, and not before changes of tables.
        dbapi.isolation_level = None
        dbapi.execute(f"PRAGMA busy_timeout = {int(WAIT * 1000)}")
        dbapi.execute("PRAGMA foreign_keys = ON")
        dbapi.execute("PRAGMA synchronous = FULL")

    @event.listens_for(engine, "begin")
    def begun(connection: Connection) -> None:
        # A writer that first read and then wanted the lock could be refused it without having waited.
        writing = connection.get_execution_options().get(_WRITING, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _write_ahead(records: Records) -> None:
    """Turn the write-ahead log on: readers and a writer then do not wait for each other. The file keeps it."""
    until = time.monotonic() + WAIT
    with _told(records.name):
        raw = records.engine.raw_connection()
        try:
            while True:
                try:
                    raw.cursor().execute("PRAGMA journal_mode = WAL")
                    return
                except sqlite3.OperationalError as error:
                    # For this change alone the library does not wait by itself.
                    if "locked" not in str(error) or time.monotonic() > until:
                        raise
                    time.sleep(0.02)
        finally:
            raw.close()


@contextmanager
def _told(name: str) -> Iterator[None]:
    """Turn what the library raises into words."""
    try:
        yield
    except DBAPIError as error:
        raise UnusableRecords(f"{name}: {_plain(str(error.orig))}") from error
    except sqlite3.Error as error:
        raise UnusableRecords(f"{name}: {_plain(str(error))}") from error
    except SQLAlchemyError as error:
        raise UnusableRecords(f"{name}: {_first(error)}") from error


def _plain(message: str) -> str:
    first = (message.splitlines() or ["it cannot be used"])[0]
    return {
        "file is not a database": "is no database; expected a SQLite file of records",
        "database is locked": f"others were writing to it for more than {WAIT:.0f} s; try again",
        "attempt to write a readonly database": ("cannot be written to; copy it into a folder where you may write"),
        "unable to open database file": "cannot be opened; is it, and its folder, readable and writable?",
        "database disk image is malformed": "the file is damaged; fetch it from a backup",
    }.get(first, first)


def _first(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
