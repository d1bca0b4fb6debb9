"""One record in one SQLite file: looking before touching, and how it is opened.

Write-ahead log (WAL), not the rollback journal, because
- a commit is one append and one sync (a rollback journal needs three or four), so that the next word
  is not kept waiting; `synchronous=FULL` makes that sync happen at every commit;
- each log frame carries a checksum, so a frame torn by a power cut is recognised and left out;
- the screen and the report read while the job writes.
Its price: the two files `-wal` and `-shm` belong to the record while it is open (they are merged and
removed when it is closed), and it must lie on a disk of this machine, not on a network share.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import QueuePool

from sayso.record.errors import FutureRevisionError, NotARecordError, ReadOnlyError, explain
from sayso.record.schema import REVISIONS

#: File format fields: SQLite manual, "Database File Format", section 1.3.
_MAGIC: Final = b"SQLite format 3\0"
_APPLICATION_ID: Final = 0x73617973  # 'says'
#: How long another writer may hold the file, seconds.
_BUSY_S: Final = 10.0


def look(path: Path) -> bool:
    """Refuse, before anything is opened for writing, what is no whole record of a revision known here.

    False for a file that holds nothing yet: its making was cut off, by a full disk, say."""
    size = path.stat().st_size
    if _unfinished(path, "-wal") or _unfinished(path, "-journal"):
        # A crash left work that SQLite must finish first: the header may be old, torn or not yet there.
        return _look_inside(path)
    if size == 0:
        return False
    with path.open("rb") as file:
        header = file.read(100)
    if len(header) < 100 or not header.startswith(_MAGIC):
        raise NotARecordError(
            f"{path}: this file is no SQLite database; give a record of sayso; left untouched"
        )
    page = int.from_bytes(header[16:18], "big")
    page = 65536 if page == 1 else page
    pages = int.from_bytes(header[28:32], "big")
    if size < page * pages:
        raise NotARecordError(
            f"{path}: the file is cut short: {size} bytes of {page * pages}; restore a copy or take the "
            "jobs back from the shop's database; left untouched"
        )
    # One page alone holds no table: a record whose making was cut off before its first transaction.
    application, revision = (int.from_bytes(header[at : at + 4], "big") for at in (68, 60))
    _judge(path, application, revision, empty=pages == 1)
    return pages > 1


def _unfinished(path: Path, ending: str) -> bool:
    beside = path.with_name(path.name + ending)
    return beside.exists() and beside.stat().st_size > 0


def _look_inside(path: Path) -> bool:
    """Ask SQLite itself, without switching anything over."""
    address = "file:" + quote(str(path.absolute()))
    try:
        with closing(sqlite3.connect(address + "?mode=rw", uri=True, timeout=_BUSY_S)) as connection:
            empty = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
            application = connection.execute("PRAGMA application_id").fetchone()[0]
            revision = connection.execute("PRAGMA user_version").fetchone()[0]
    except sqlite3.OperationalError:
        return True  # a folder that may only be read, say: the opening proper will tell
    except sqlite3.DatabaseError as error:
        raise NotARecordError(
            f"{path}: the file is damaged or no record of sayso ({error}); left untouched"
        ) from None
    _judge(path, application, revision, empty=empty)
    return not empty


def _judge(path: Path, application: int, revision: int, *, empty: bool) -> None:
    if application != _APPLICATION_ID and not (empty and application == 0):
        raise NotARecordError(
            f"{path}: this SQLite database belongs to another program; give a record of sayso; left untouched"
        )
    if revision > len(REVISIONS):
        raise FutureRevisionError(
            f"{path}: this record has schema revision {revision:04}, newer than this sayso knows "
            f"({REVISIONS[-1]}); update sayso; left untouched"
        )


def engine_for(path: Path, *, read_only: bool, may_be_new: bool = True) -> Engine:
    """An engine on `path`; the file is created when missing, if it `may_be_new` and is not `read_only`."""
    begun = False
    if path.exists():
        try:
            begun = look(path)
        except OSError as error:  # a folder, a file of somebody else
            raise NotARecordError(f"{path}: it cannot be read: {error.strerror}; give a record") from None
    if not begun and (read_only or not may_be_new):
        told = "there is no such record yet; begin a job, or check the name"
        if path.exists() and path.stat().st_size:  # a plain copy of a record in use looks the same
            copied = f"sayso deliver {path.name} copies all"
            told += f"; a copy made while a job ran lacks what was in its -wal ({copied})"
        raise NotARecordError(f"{path}: {told}")
    if not path.parent.is_dir():
        # Never made here: a slip in the name would begin a second record where nobody looks for it.
        raise NotARecordError(f"{path}: there is no folder {path.parent}; make it first, or check the name")
    address = "file:" + quote(str(path.absolute())) + _mode(path, read_only)
    # Our own `creator`, because a plain URL cannot say mode=ro nor immutable=1.
    engine = create_engine(
        "sqlite://",
        creator=lambda: sqlite3.connect(
            address, uri=True, isolation_level=None, timeout=_BUSY_S, check_same_thread=False
        ),
        poolclass=QueuePool,  # what "sqlite://" would choose shares one connection
    )
    event.listen(engine, "connect", _prepare_reader if read_only else _prepare_writer)
    event.listen(engine, "begin", _begin)
    try:
        engine.connect().close()
    except DBAPIError as error:
        engine.dispose()
        raise explain(error, path) from None
    return engine


def _mode(path: Path, read_only: bool) -> str:
    if not read_only:
        return "?mode=rwc"
    if os.access(path.parent, os.W_OK) or path.with_name(path.name + "-shm").exists():
        return "?mode=ro"
    if _unfinished(path, "-wal"):
        raise ReadOnlyError(
            f"{path}: its newest entries are still in {path.name}-wal and the folder may only be read; "
            "copy both files to a folder that may be written and open the copy"
        )
    # A read-only folder cannot hold the shared-memory file that WAL wants, and nobody can write: immutable.
    return "?mode=ro&immutable=1"


def _prepare_writer(connection: sqlite3.Connection, _: Any) -> None:
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA fullfsync=ON")  # macOS: a plain fsync there does not reach the platter
    connection.execute("PRAGMA checkpoint_fullfsync=ON")
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA recursive_triggers=ON")
    connection.execute("PRAGMA temp_store=MEMORY")


def _prepare_reader(connection: sqlite3.Connection, _: Any) -> None:
    connection.execute("PRAGMA query_only=ON")
    connection.execute("PRAGMA temp_store=MEMORY")


def _begin(connection: Any) -> None:
    # IMMEDIATE for writers: a transaction that starts as a reader and then writes could be refused half-way.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
