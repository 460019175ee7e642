"""Opening the catalog's database: read-only for those who ask, for writing only where migrations run."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote, unquote

import sqlalchemy as sa
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from catalog.tables import SCHEMA_REVISION, release

WAIT_SECONDS: Final = 5
"""How long to wait for a lock, or for a database server to answer."""
_GIVES_UP: Final = {
    "connect_timeout": WAIT_SECONDS,
    "tcp_user_timeout": 1000 * WAIT_SECONDS,
    "keepalives_idle": WAIT_SECONDS,
    "keepalives_interval": 1,
    "keepalives_count": WAIT_SECONDS,
}
"""For PostgreSQL's driver: a server that has gone without a word is given up, as one that refuses."""


UPGRADE_WAIT_SECONDS: Final = 300
"""How long an upgrade waits for another one: longer than a release of a hundred thousand parts takes."""


class DatabaseFault(Exception):
    """The catalog's database cannot be used; the message is one plain sentence."""


class NotAsPublished(DatabaseFault):
    """The database holds something else than what was published."""


def open_read_only(url: str) -> sa.Engine:
    """An engine that can only read, on a database that holds a published catalog of this program's schema.

    Raises
    ------
    DatabaseFault
        When the database is missing, empty, of another schema revision, or locked.
    """
    address = _address(url)
    if address.get_backend_name() == "sqlite":
        path = _existing_file(address)
        read_only = URL.create(
            "sqlite", database=f"file:{quote(str(path.absolute()))}", query={"mode": "ro", "uri": "true"}
        )
        # Opened anew each time, so that a file put in its place is seen, and that it is gone too.
        engine = sa.create_engine(read_only, connect_args={"timeout": WAIT_SECONDS}, poolclass=sa.NullPool)
        sa.event.listen(engine, "begin", lambda _: _finish_rollback(path))
        _control_transactions(engine, "BEGIN")
    else:
        # One moment's view of all tables, and no way to write.
        options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        engine = sa.create_engine(address, execution_options=options, pool_pre_ping=True, connect_args=_GIVES_UP)
        sa.event.listen(engine, "do_connect", _connect_impatiently)
    try:
        with reading(engine) as connection:
            check_schema(connection)
            if connection.scalar(sa.select(release.c.number).limit(1)) is None:
                raise DatabaseFault(
                    f"{_name(engine.url)} holds no release; `beltplane catalog upgrade` publishes them."
                )
    except DatabaseFault:
        engine.dispose()
        raise
    return engine


def open_for_migration(url: str) -> sa.Engine:
    """An engine for migrations: a failed one is rolled back whole, on SQLite too."""
    address = _address(url)
    if address.get_backend_name() == "sqlite":
        if not address.database or address.database == ":memory:":
            raise DatabaseFault("A catalog in SQLite needs a file: sqlite:///catalog.db")
        engine = sa.create_engine(address, connect_args={"timeout": UPGRADE_WAIT_SECONDS}, poolclass=sa.NullPool)
        # The lock is taken before anything is read, so that two migrations cannot interleave.
        _control_transactions(engine, "BEGIN IMMEDIATE")
        # Readers are held up by what is written to the file, so nothing is until the end.
        sa.event.listen(engine, "connect", lambda connection, _: connection.execute("PRAGMA cache_spill = OFF"))
        return engine
    return sa.create_engine(address, poolclass=sa.NullPool, connect_args={"connect_timeout": WAIT_SECONDS})


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection with one consistent view of the database.

    Raises
    ------
    DatabaseFault
        When the database cannot be read, in one plain sentence.
    """
    with plain_faults(engine.url), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def plain_faults(url: URL) -> Iterator[None]:
    """Turn a database driver's error into a DatabaseFault."""
    try:
        yield
    except DBAPIError as fault:
        raise DatabaseFault(_sentence(url, fault)) from fault


def check_schema(connection: sa.Connection) -> None:
    """Refuse a database that is empty or of another schema revision.

    Raises
    ------
    DatabaseFault
    """
    name = _name(connection.engine.url)
    if not sa.inspect(connection).has_table("alembic_version"):
        raise DatabaseFault(f"{name} holds no catalog; `beltplane catalog upgrade` makes one.")
    revisions = sorted(connection.scalars(sa.text("SELECT version_num FROM alembic_version")))
    if not revisions:
        raise DatabaseFault(f"{name} holds no catalog; `beltplane catalog upgrade` makes one.")
    if SCHEMA_REVISION not in revisions:
        raise DatabaseFault(
            f"{name} is at revision {', '.join(revisions)} and this program needs {SCHEMA_REVISION}; "
            "`beltplane catalog upgrade` brings an older one up to it."
        )


def _address(url: str) -> URL:
    try:
        address = sa.make_url(url)
    except ArgumentError:
        raise DatabaseFault("The database's address is not one; write it as sqlite:///catalog.db") from None
    if address.drivername in {"postgresql", "postgres"}:
        address = address.set(drivername="postgresql+psycopg")
    try:
        address.get_dialect()
    except NoSuchModuleError:
        address = address.set(drivername="unknown")
    if address.drivername not in {"sqlite", "sqlite+pysqlite", "postgresql+psycopg"}:
        raise DatabaseFault("The catalog is kept in SQLite (sqlite:///catalog.db) or PostgreSQL (postgresql://...).")
    return address


def _existing_file(address: URL) -> Path:
    if not address.database or address.database == ":memory:":
        raise DatabaseFault("A catalog in SQLite needs a file: sqlite:///catalog.db")
    path = Path(address.database)
    if not path.is_file():
        raise DatabaseFault(f"There is no catalog database at {path}; `beltplane catalog upgrade` makes one.")
    return path


def _control_transactions(engine: sa.Engine, begin: str) -> None:
    """Have SQLite begin transactions when SQLAlchemy does (its driver would wait for the first write)."""

    @sa.event.listens_for(engine, "connect")
    def connect(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None

    @sa.event.listens_for(engine, "begin")
    def start(connection: sa.Connection) -> None:
        connection.exec_driver_sql(begin)


def _finish_rollback(path: Path) -> None:
    """Have SQLite undo what a migration that was killed has left in the file; a read-only connection cannot.

    SQLite itself knows from its locks whether a journal is such a leftover or that of a migration at work.
    """
    if path.with_name(f"{path.name}-journal").exists():
        with suppress(sqlite3.Error), closing(sqlite3.connect(path, timeout=WAIT_SECONDS)) as connection:
            connection.execute("SELECT 1 FROM sqlite_master").fetchone()


def _connect_impatiently(_: object, __: object, arguments: list[Any], named: dict[str, Any]) -> Any:
    from catalog.postgresql import ImpatientConnection  # where SQLite serves, PostgreSQL's driver is not loaded

    return ImpatientConnection.connect(*arguments, **named)


def _name(url: URL) -> str:
    if url.get_backend_name() == "sqlite":
        path = str(url.database)
        return unquote(path.removeprefix("file:")) if path.startswith("file:") else path
    return f"The database {url.database} at {url.host or url.query.get('host', 'the usual place')}"


def _sentence(url: URL, fault: DBAPIError) -> str:
    reason = " ".join(str(fault.orig).split())
    if "locked" in reason or "lock timeout" in reason:
        return f"{_name(url)} is locked by another program; try again when that has finished."
    if getattr(fault.orig, "sqlite_errorname", "") == "SQLITE_READONLY_ROLLBACK":
        return f"{_name(url)} was left in the middle of an upgrade; `beltplane catalog upgrade` puts it right."
    if "not a database" in reason:
        return f"{_name(url)} is not an SQLite database."
    return f"{_name(url)} cannot be used: {reason}."
