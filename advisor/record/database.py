"""Opens the record's database, SQLite or PostgreSQL, and brings its tables to this program's version."""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from advisor.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator

FILE = "record.sqlite"
# how long a writer waits for another one's transaction
BUSY_S = 20
# one number that all programs of this kind take while they change the tables
_MIGRATING = 7_161_031
_FULL = ("database or disk is full", "no space left", "disk full", "could not extend file")


def address(data: Path | str | None, database: str | None) -> str:
    """The database's URL: the one given, else the file under a data folder. Raises RecordError where there is none."""
    if database is not None:
        return database
    if data is None:
        raise RecordError("no record was named", where="--data", hint="give --data DIR or --database URL")
    return f"sqlite:///{Path(data) / FILE}"


def open_engine(url: str, *, make: bool = True) -> Engine:
    """A connection pool to a database whose tables are of this program's version.

    make: begin a record where there is none; else that is an error. Raises RecordError.
    """
    engine = _engine(url, make)
    try:
        with engine.connect().execution_options(write=True) as connection, connection.begin():
            _to_this_version(connection)
    except DBAPIError as error:
        engine.dispose()
        raise told(error, shown(url)) from None
    except RecordError:
        engine.dispose()
        raise
    _settle(engine.url)
    return engine


def _engine(url: str, make: bool) -> Engine:
    try:
        database_url = make_url(url)
    except ArgumentError:
        raise RecordError("is no database address", where="--database", hint=_HINT) from None
    if database_url.drivername in ("postgresql", "postgres"):
        database_url = database_url.set(drivername="postgresql+psycopg")
    if database_url.drivername == "sqlite":
        return _sqlite(database_url, make)
    if database_url.drivername != "postgresql+psycopg":
        raise RecordError(f"{database_url.drivername!r} is not supported", where="--database", hint=_HINT)
    try:
        return create_engine(
            database_url, pool_size=4, max_overflow=12, pool_pre_ping=True, connect_args={"connect_timeout": 10}
        )
    except ModuleNotFoundError as error:
        what = f"{error.name} is not installed"
        raise RecordError(what, where="--database", hint="pip install 'advisor[postgres]'", exit_code=2) from None
    except NoSuchModuleError:
        raise RecordError(f"{database_url.drivername!r} is not supported", where="--database", hint=_HINT) from None


_HINT = "give postgresql://USER@HOST/NAME, or sqlite:///FILE"


def _sqlite(url: URL, make: bool) -> Engine:
    if not url.database:
        raise RecordError("names no file", where="--database", hint=_HINT)
    path = Path(url.database)
    if not make and not path.is_file():
        raise RecordError("no record here", where=str(path), hint="give the --data or --database of a server")
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not path.exists():
            # nobody else on this machine reads it
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
    except OSError as error:
        raise RecordError(
            error.strerror or "cannot be made", where=str(path), hint="give a folder that can be written"
        ) from None
    engine = create_engine(url, connect_args={"timeout": BUSY_S}, pool_size=4, max_overflow=12)

    @event.listens_for(engine, "connect")
    def _connected(connection: sqlite3.Connection, _: Any) -> None:
        # transactions are begun below, by name
        connection.isolation_level = None
        _keep_a_log(connection)
        connection.execute("PRAGMA synchronous=FULL")

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        writes = connection.get_execution_options().get("write")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _keep_a_log(connection: sqlite3.Connection) -> None:
    """Write ahead. A new file's change to it is refused, not waited for, while another program looks at the file."""
    for left in reversed(range(BUSY_S * 50)):
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or not left:
                raise
            time.sleep(0.02)


def _settle(url: URL) -> None:
    """A new file's name is on the disk before anything is promised about what is in it."""
    if url.drivername == "sqlite" and url.database:
        folder = os.open(Path(url.database).parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _to_this_version(connection: Connection) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _MIGRATING})
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    scripts = ScriptDirectory.from_config(config)
    version = MigrationContext.configure(connection).get_current_revision()
    if version == scripts.get_current_head():
        return
    if version is not None and version not in {script.revision for script in scripts.walk_revisions()}:
        what = f"the database is of version {version}, newer than this program's {scripts.get_current_head()}"
        raise RecordError(what, where="record", hint="use the newer program; nothing was changed")
    command.upgrade(config, "head")


def told(error: DBAPIError, where: str = "record") -> RecordError:
    """What the database said, as an error of ours. full: the disk is."""
    message = " ".join(str(error.orig).split()) or type(error.orig).__name__
    if any(words in message.lower() for words in _FULL):
        hint = "nothing was recorded; make room, then send it again"
        return RecordError("the disk is full", where="record", hint=hint, full=True)
    if "not a database" in message or "malformed" in message:
        return RecordError("is not a record, or is spoilt", where=where, hint="keep the file, and restore a copy")
    return RecordError(message[:200], where=where, hint="is it there, and may this program write to it?")


def shown(url: str) -> str:
    """A database's address without its password."""
    try:
        return make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return "--database"


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """One look at the database as it is at one moment. Raises RecordError."""
    try:
        with engine.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection
    except DBAPIError as error:
        raise told(error) from None
