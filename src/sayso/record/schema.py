"""Which schema a database has, and bringing an older one up to date."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DBAPIError

from sayso.record.errors import FutureRevisionError, NotARecordError, ReadOnlyError, explain
from sayso.record.identity import guard_identity

#: Oldest first. Alembic knows them too; this list spares its import when nothing is to be done.
REVISIONS: Final[tuple[str, ...]] = ("0001",)


def bring_up_to_date(connection: Connection, where: str, *, may_write: bool) -> None:
    """Create or migrate the tables inside the caller's transaction.

    Raises FutureRevisionError for a schema this sayso does not know, NotARecordError for tables of
    some other program, ReadOnlyError when a migration is needed and `may_write` is false.
    """
    revision = _revision(connection, where)
    if revision == REVISIONS[-1]:
        return
    if revision is not None and revision not in REVISIONS:
        raise FutureRevisionError(
            f"{where}: this record has schema revision {revision}, newer than this sayso knows "
            f"({REVISIONS[-1]}); update sayso, or open a copy with the newer one; nothing was touched"
        )
    if not may_write:
        what = "is empty" if revision is None else f"has the older schema revision {revision}"
        raise ReadOnlyError(f"{where}: this record {what}; open it once where it may be written")
    if revision is None:
        _holds_every_sign(connection, where)
    # Imported late: a third of a second that only a new or an old record needs to pay.
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "sayso.record:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    if revision is None:
        guard_identity(connection)


def _holds_every_sign(connection: Connection, where: str) -> None:
    """A name of another language, or a sign, must not stop a job in its middle. (SQL_ASCII keeps every byte
    as it is: PostgreSQL manual, "Character Set Support".)"""
    if connection.dialect.name != "postgresql":
        return
    encoding = connection.execute(text("SHOW server_encoding")).scalar()
    if encoding not in ("UTF8", "SQL_ASCII"):
        raise NotARecordError(
            f"{where}: this database keeps texts in {encoding}, which lacks signs that a record may hold; "
            "have its owner make another one: createdb -E UTF8 -T template0 NAME; nothing was touched"
        )


def _revision(connection: Connection, where: str) -> str | None:
    """The schema revision, None for an empty database."""
    try:
        tables = set(inspect(connection).get_table_names())
        if "alembic_version" in tables and "entries" in tables:
            found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
            if found is None:
                raise NotARecordError(
                    f"{where}: the line that says which form this record has was taken out (table "
                    "alembic_version); keep it as it is and restore a copy; nothing was touched"
                )
            return str(found)
    except DBAPIError as error:
        raise explain(error, where) from None
    if tables:
        raise NotARecordError(
            f"{where}: this database holds other tables ({', '.join(sorted(tables)[:5])}) and is no record "
            "of sayso; give another file or an empty database; nothing was touched"
        )
    return None
