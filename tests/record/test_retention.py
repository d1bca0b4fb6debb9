"""Personal data go after the time a shop has set; that they went stays on record."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.dialogue.effects import Record
from sayso.record import NotRecordedError, Store, open_store
from sayso.record.retention import Removal, carry_out, due
from sayso.record.verify import verify
from tests.record.test_store import begin, heard

DAY = 86_400_000
SECRET = b"RIFF a voice that says Ada Finch " * 400


@pytest.fixture
def old_and_new(any_store: Store) -> Store:
    for job, end_day in (("J1", 1), ("J2", 300), ("J3", 390)):
        with begin(any_store, job) as journal:
            clip = journal.keep_clip(SECRET + job.encode())
            journal.commit(heard(end_day * DAY, "note"), [Record("note", {"clip": clip})])
            journal.commit(heard(end_day * DAY, "done"), [Record("ended", {"outcome": "complete"})])
    with begin(any_store, "open") as journal:
        journal.commit(heard(DAY, "hold"))
    return any_store


def test_what_is_due_counts_from_the_end_of_the_job_and_leaves_open_jobs(old_and_new: Store) -> None:
    found = due(old_and_new, audio_days=50, jobs_days=365, now_ms=400 * DAY)
    assert [(r.job, r.what, r.age_days) for r in found] == [("J1", "job", 399), ("J2", "clips", 100)]
    assert due(old_and_new, audio_days=None, jobs_days=None, now_ms=400 * DAY) == []


def test_a_job_done_while_the_laptop_had_lost_the_time_is_no_older_than_the_job_before_it(
    any_store: Store,
) -> None:
    """A machine whose clock's battery is dead begins in 1970 (the Unix epoch); one that ran ahead of today
    makes nothing younger."""
    for job, begun_day, end_day in (("J1", 380, 381), ("J2", 0, 1), ("J3", 900, 2), ("J4", 3, 4)):
        with begin(any_store, job, at_ms=begun_day * DAY) as journal:
            journal.commit(heard(end_day * DAY, "done"), [Record("ended", {"outcome": "complete"})])
    assert due(any_store, audio_days=None, jobs_days=30, now_ms=400 * DAY) == []
    found = due(any_store, audio_days=None, jobs_days=30, now_ms=420 * DAY)
    assert sorted((r.job, r.age_days) for r in found) == [("J1", 39), ("J2", 40), ("J3", 40), ("J4", 40)]


def test_only_what_is_due_goes_and_the_rest_stays_sound(old_and_new: Store) -> None:
    kept = {job: old_and_new.entries(job) for job in ("J2", "J3", "open")}
    head = old_and_new.head("J1").hash
    for removal in due(old_and_new, audio_days=50, jobs_days=365, now_ms=400 * DAY):
        carry_out(old_and_new, removal, "older than the shop keeps it", now_ms=400 * DAY)
    assert [row.job for row in old_and_new.jobs()] == ["J2", "J3", "open"]
    assert {job: old_and_new.entries(job) for job in kept} == kept
    verdict = verify(old_and_new)
    assert verdict.sound, [str(fault) for fault in verdict.faults]
    remarks = [*verdict.remarks, *(remark for job in verdict.jobs for remark in job.remarks)]
    assert any("J1 was removed" in remark and head[:16] in remark for remark in remarks)
    assert any("was removed: older than the shop keeps it" in remark for remark in remarks)
    assert due(old_and_new, audio_days=50, jobs_days=365, now_ms=400 * DAY) == []


def test_jobs_go_on_being_counted_after_a_removal(old_and_new: Store) -> None:
    for job in ("J1", "J2", "J3"):
        carry_out(old_and_new, Removal(job, "job", 1.0), "test")
    begin(old_and_new, "J4").close()
    assert [row.number for row in old_and_new.jobs()] == [4, 5]
    assert verify(old_and_new).sound


def test_without_its_note_nothing_can_be_removed(old_and_new: Store) -> None:
    for table in ("clips", "entries", "jobs"):
        with pytest.raises(NotRecordedError, match="append-only"), old_and_new.writing() as connection:
            connection.exec_driver_sql(f"DELETE FROM {table} WHERE job = 'J1'")


def test_what_was_removed_is_no_longer_in_the_file(tmp_path: Path) -> None:
    with open_store(tmp_path / "r.db") as store, begin(store, "J1") as journal:
        journal.keep_clip(SECRET)
        journal.commit(heard(DAY, "done"), [Record("ended", {"outcome": "complete"})])
        journal.close()
        carry_out(store, Removal("J1", "job", 1.0), "test")
        on_disk = b"".join(path.read_bytes() for path in tmp_path.glob("r.db*") if path.is_file())
        assert b"a voice that says" not in on_disk
        assert b'"done"' not in on_disk
