"""Opening a record, starting and resuming jobs, and what the database itself refuses."""

from __future__ import annotations

import hashlib
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import insert
from sqlalchemy.exc import DBAPIError

from sayso.dialogue.effects import Record
from sayso.record import JobInUseError, Journal, NotRecordedError, RecordError, Store, open_store
from sayso.record.errors import FutureRevisionError, NotARecordError, ReadOnlyError
from sayso.record.tables import entries, metadata

TEXT = "procedure: wren-48-brake\nsteps: []\n"


def begin(store: Store, job: str = "J1", at_ms: int = 1_000, **meta: str) -> Journal:
    return store.start(
        job,
        "wren-48-brake",
        "Wren 48, brake adjustment",
        2,
        hashlib.sha256(TEXT.encode()).hexdigest(),
        TEXT,
        {"machine": "W-017", "person": "Ada", "bay": "2", **meta},
        outline={"steps": []},
        at_ms=at_ms,
    )


def heard(at_ms: int, *words: str) -> dict[str, object]:
    return {"type": "Heard", "at_ms": at_ms, "words": list(words), "confidence": 0.98}


def test_a_commit_holds_the_event_and_its_entries_in_order(any_store: Store) -> None:
    with begin(any_store) as journal:
        journal.commit(heard(2_000, "nine"), [Record("answer", {"name": "gap", "value": 0.3})])
        journal.commit(heard(3_000, "yes"), [{"kind": "witness", "data": {"person": "Bo"}}])
        assert [e["words"] for e in journal.events()] == [["nine"], ["yes"]]
        found = journal.entries()
    assert [(e.seq, e.kind, e.at_ms) for e in found] == [
        (0, "opened", 1_000),
        (1, "event", 2_000),
        (2, "answer", 2_000),
        (3, "event", 3_000),
        (4, "witness", 3_000),
    ]
    assert [e.prev for e in found[1:]] == [e.hash for e in found[:-1]]


def test_what_was_committed_is_there_when_the_record_is_opened_again(tmp_path: Path) -> None:
    with open_store(tmp_path / "r.db") as store, begin(store) as journal:
        journal.commit(heard(2_000, "nine"))
        head = journal.head
    with open_store(tmp_path / "r.db") as store:
        assert store.head("J1") == head
        assert [row.job for row in store.open_jobs()] == ["J1"]
        with store.resume("J1") as journal:
            journal.commit({"type": "Resumed", "at_ms": 9_000}, [Record("ended", {"outcome": "complete"})])
        assert store.open_jobs() == []
        assert store.jobs()[0].ended_ms == 9_000


def test_a_job_that_has_ended_is_not_resumed(any_store: Store) -> None:
    with begin(any_store) as journal:
        journal.commit(heard(2_000, "done"), [Record("ended", {"outcome": "complete"})])
    with pytest.raises(RecordError, match="has ended"):
        any_store.resume("J1")


def test_a_job_name_is_used_once(any_store: Store) -> None:
    begin(any_store).close()
    with pytest.raises(RecordError, match="already a job J1"):
        begin(any_store)


def test_an_unknown_job_is_named_in_the_error(any_store: Store) -> None:
    with pytest.raises(RecordError, match="job J9 is not in this record"):
        any_store.resume("J9")


def test_the_exact_text_and_outline_are_kept_once_for_many_jobs(any_store: Store) -> None:
    for job in ("J1", "J2"):
        begin(any_store, job).close()
    assert any_store.text("J2") == TEXT
    with any_store.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM documents").scalar() == 2


def test_a_second_journal_on_the_same_job_is_refused_until_the_first_is_closed(any_store: Store) -> None:
    journal = begin(any_store)
    with pytest.raises(JobInUseError, match="being run by another process"):
        any_store.resume("J1")
    journal.close()
    any_store.resume("J1").close()


def test_two_jobs_run_side_by_side(any_store: Store) -> None:
    with begin(any_store, "J1") as one, begin(any_store, "J2") as two:
        for number in range(5):
            one.commit(heard(2_000 + number, "one"))
            two.commit(heard(2_000 + number, "two"))
        assert one.head.seq == two.head.seq == 5


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET kind = 'note' WHERE seq = 1",
        "UPDATE entries SET at_ms = 5",
        "DELETE FROM entries WHERE seq = 1",
        "DELETE FROM jobs",
        "UPDATE jobs SET machine = 'W-018'",
        "UPDATE documents SET body = ''",
        "DELETE FROM documents",
        "UPDATE clips SET audio = ''",
        "DELETE FROM clips",
        "UPDATE this_store SET id = 'x'",
    ],
)
def test_the_database_itself_refuses_to_change_or_remove(any_store: Store, statement: str) -> None:
    with begin(any_store) as journal:
        journal.commit(heard(2_000, "nine"))
        journal.keep_clip(b"RIFF....")
        before = journal.entries()
        with pytest.raises(NotRecordedError, match="append-only"), any_store.writing() as connection:
            connection.exec_driver_sql(statement)
        assert journal.entries() == before


def test_postgresql_refuses_to_truncate(any_store: Store) -> None:
    if any_store.path is not None:
        pytest.skip("SQLite has no TRUNCATE")
    begin(any_store).close()
    with pytest.raises(NotRecordedError, match="append-only"), any_store.writing() as connection:
        connection.exec_driver_sql("TRUNCATE entries")


def test_sqlite_does_not_let_an_insert_replace_an_entry(tmp_path: Path) -> None:
    with open_store(tmp_path / "r.db") as store, begin(store) as journal:
        journal.commit(heard(2_000, "nine"))
        before = journal.entries()
    # a plain sqlite3 shell: none of sayso's settings are on
    shell = sqlite3.connect(tmp_path / "r.db")
    with pytest.raises(sqlite3.IntegrityError, match="already there"):
        shell.execute(
            "INSERT OR REPLACE INTO entries "
            "SELECT job, seq, at_ms, 'note', data, prev, 'ff' FROM entries WHERE seq = 1"
        )
    shell.execute(
        "INSERT OR REPLACE INTO entries "
        "SELECT job, seq, at_ms, 'note', data, prev, hash FROM entries WHERE seq = 1"
    )
    shell.commit()
    shell.close()
    with open_store(tmp_path / "r.db") as store:
        assert store.entries("J1") == before


def test_an_entry_that_does_not_follow_the_last_one_is_refused(any_store: Store) -> None:
    with begin(any_store) as journal:
        journal.commit(heard(2_000, "nine"))
        last = journal.entries()[-1].as_row()
    for wrong in (
        {**last, "seq": 5, "hash": "a" * 64},  # a gap
        {**last, "seq": 2, "prev": "b" * 64, "hash": "c" * 64},  # another predecessor
        {**last, "job": "J2", "seq": 1, "hash": "d" * 64},  # no beginning
    ):
        with pytest.raises(DBAPIError, match="does not follow"), any_store.engine.connect() as connection:
            connection.execute(insert(entries), [wrong])


def test_events_need_a_whole_number_of_milliseconds(store: Store) -> None:
    with begin(store) as journal:
        for at_ms in (None, 1.5, "now", True):
            with pytest.raises(NotRecordedError, match="at_ms"):
                journal.commit({"type": "NoInput", "at_ms": at_ms})
        assert journal.head.seq == 0


def test_a_refused_value_leaves_nothing_of_its_commit(any_store: Store) -> None:
    with begin(any_store) as journal:
        with pytest.raises(NotRecordedError):
            journal.commit(heard(2_000, "nine"), [Record("answer", {"value": float("nan")})])
        journal.commit(heard(2_000, "nine"), [Record("answer", {"value": 9.0})])
        assert [e.kind for e in journal.entries()] == ["opened", "event", "answer"]


def test_clips_are_kept_by_their_hash(any_store: Store) -> None:
    with begin(any_store) as journal:
        name = journal.keep_clip(b"RIFF1234")
        assert journal.keep_clip(b"RIFF1234") == name == hashlib.sha256(b"RIFF1234").hexdigest()
        assert any_store.clip("J1", name) == ("audio/wav", b"RIFF1234")
        assert any_store.clip("J1", "0" * 64) is None


def test_a_closed_journal_writes_nothing(store: Store) -> None:
    journal = begin(store)
    journal.close()
    journal.close()
    with pytest.raises(NotRecordedError, match="closed"):
        journal.commit(heard(2_000, "nine"))


# --- bad files: one clear error, and not a byte of them changed ------------------------------------------


def sound_file(path: Path) -> Path:
    with open_store(path) as store, begin(store) as journal:
        for number in range(40):
            journal.commit(heard(2_000 + number, "nine", "point", "five"))
    return path


def refused(path: Path, kind: type[RecordError], match: str) -> None:
    before = path.read_bytes()
    for read_only in (False, True):
        with pytest.raises(kind, match=match) as caught:
            open_store(path, read_only=read_only)
        assert str(path) in str(caught.value)
    assert path.read_bytes() == before


def test_a_text_file_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    path.write_text("job,seq\n" * 50)
    refused(path, NotARecordError, "no SQLite database")


def test_a_database_cut_short_is_refused_untouched(tmp_path: Path) -> None:
    path = sound_file(tmp_path / "r.db")
    whole = path.read_bytes()
    for length in (50, 4096, len(whole) // 2, len(whole) - 1):
        path.write_bytes(whole[:length])
        refused(path, NotARecordError, "cut short|no SQLite")


def test_a_database_of_another_program_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE orders(id)")
    other.commit()
    other.close()
    refused(path, NotARecordError, "another program")


def test_a_future_revision_is_refused_untouched(tmp_path: Path) -> None:
    path = sound_file(tmp_path / "r.db")
    shell = sqlite3.connect(path)
    shell.execute("UPDATE alembic_version SET version_num = '0999'")
    shell.commit()
    shell.close()
    refused(path, FutureRevisionError, "newer than this sayso knows")
    shell = sqlite3.connect(path)
    shell.execute("PRAGMA user_version = 999")
    shell.commit()
    shell.close()
    refused(path, FutureRevisionError, "newer than this sayso knows")


def test_a_postgresql_database_of_another_program_or_revision_is_refused(any_store: Store) -> None:
    if any_store.path is not None:
        pytest.skip("the SQLite cases stand above")
    address = any_store.engine.url.set(drivername="postgresql").render_as_string()
    with any_store.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0999'")
    with pytest.raises(FutureRevisionError, match="0999"):
        open_store(address)
    with any_store.writing() as connection:
        connection.exec_driver_sql("DROP TABLE alembic_version")
    with pytest.raises(NotARecordError, match="holds other tables"):
        open_store(address)


def test_a_missing_record_is_not_made_when_it_is_only_to_be_read(tmp_path: Path) -> None:
    with pytest.raises(NotARecordError, match="no such record"):
        open_store(tmp_path / "r.db", read_only=True)
    assert list(tmp_path.iterdir()) == []


def test_a_record_whose_making_was_cut_off_is_none_yet_and_can_be_begun(tmp_path: Path) -> None:
    """A full disk leaves an empty file, or one page without a table (SQLite, "Database File Format", 1.3)."""
    one_page, empty = tmp_path / "page.sqlite", tmp_path / "empty.sqlite"
    with closing(sqlite3.connect(one_page)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
    assert one_page.stat().st_size == 4096
    empty.touch()
    for path in (one_page, empty):
        with pytest.raises(NotARecordError, match="no such record yet; begin a job"):
            open_store(path, read_only=True)
        open_store(path).close()
        open_store(path, read_only=True).close()


def test_a_folder_is_no_record(tmp_path: Path) -> None:
    with pytest.raises(NotARecordError, match="cannot be read"):
        open_store(tmp_path)


def test_the_migrations_make_exactly_the_tables_that_the_code_uses(any_store: Store) -> None:
    # alembic's own comparison of a database with table definitions
    with any_store.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []


def test_two_processes_may_make_a_record_at_once(tmp_path: Path) -> None:
    program = f"from sayso.record import open_store\nprint(open_store({str(tmp_path / 'r.db')!r}).id)"
    makers = [
        subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True) for _ in range(3)
    ]
    assert len({maker.communicate(timeout=60)[0] for maker in makers}) == 1
    assert [maker.returncode for maker in makers] == [0, 0, 0]


def test_a_postgresql_record_opened_for_reading_cannot_be_written(any_store: Store) -> None:
    if any_store.path is not None:
        pytest.skip("the SQLite case stands below")
    begin(any_store).close()
    address = any_store.engine.url.set(drivername="postgresql").render_as_string()
    with open_store(address, read_only=True) as reader:
        assert len(reader.entries("J1")) == 1
        with pytest.raises(ReadOnlyError):
            reader.keep_clip("J1", b"x")


def test_a_record_opened_for_reading_cannot_be_written(tmp_path: Path) -> None:
    path = sound_file(tmp_path / "r.db")
    with open_store(path, read_only=True) as store:
        assert len(store.entries("J1")) == 41
        with pytest.raises(NotRecordedError):
            store.keep_clip("J1", b"x")


def test_another_process_is_refused_the_job_and_gets_it_when_the_first_one_dies(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    with open_store(path) as store:
        begin(store).close()
    holder = subprocess.Popen(
        [
            sys.executable,
            "-c",
            f"from sayso.record import open_store\nj = open_store({str(path)!r}).resume('J1')\n"
            "print('held', flush=True)\nimport time; time.sleep(60)",
        ],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with open_store(path) as store:
            with pytest.raises(JobInUseError):
                store.resume("J1")
            holder.kill()
            holder.wait()
            store.resume("J1").close()
    finally:
        holder.kill()
        holder.wait()
