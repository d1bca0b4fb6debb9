"""Full disk, failing disk, read-only folder, clock set back: a clear error, nothing lost, and on it goes."""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest

from sayso.record import RecordError, open_store
from sayso.record.deliver import deliver
from sayso.record.verify import verify, verify_job
from tests.record.test_store import begin, heard, sound_file

HOME = Path(__file__).parents[2]


def child(program: str, *arguments: object, file_limit: int | None = None) -> Any:
    """Run a Python program in a process of its own; gives what it prints as JSON."""

    def before() -> None:
        if file_limit is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (file_limit, file_limit))

    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(program), *map(str, arguments)],
        preexec_fn=before,
        capture_output=True,
        text=True,
        timeout=60,
        cwd=HOME,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


FILL = """
    import json, signal, sys
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # the write fails with EFBIG instead
    from sayso.record import NotRecordedError, open_store
    from tests.record.test_store import begin, heard
    acknowledged, errors = [], []
    with open_store(sys.argv[1]) as store, begin(store) as journal:
        for number in range(5000):
            try:
                journal.commit(heard(2_000 + number, *["nine"] * 300))
                acknowledged.append(journal.head.hash)
            except NotRecordedError as error:
                errors.append(str(error))
                if len(errors) == 3:
                    break
        if len(sys.argv) > 2:  # somebody makes room, the same journal goes on
            import os
            os.unlink(sys.argv[2])
            journal.commit(heard(9_000, "after"))
            acknowledged.append(journal.head.hash)
    print(json.dumps({"acknowledged": acknowledged, "errors": errors}))
"""


def check(path: Path, acknowledged: list[str]) -> None:
    with open_store(path) as store:
        assert [e.hash for e in store.entries("J1")][1:] == acknowledged
        assert verify(store).sound
        with store.resume("J1") as journal:
            journal.commit(heard(99_000, "on"))


def test_a_file_that_may_not_grow_gives_a_clear_error_and_loses_nothing(tmp_path: Path) -> None:
    told = child(FILL, tmp_path / "r.db", file_limit=700_000)
    assert len(told["acknowledged"]) > 20
    assert len(told["errors"]) == 3
    assert all("the disk" in error and "r.db" in error for error in told["errors"])
    check(tmp_path / "r.db", told["acknowledged"])


def test_a_full_disk_gives_a_clear_error_and_work_goes_on_when_there_is_room(tmp_path: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("mounting a small disk needs root; the file limit above stands in for it")
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", disk], check=False).returncode:
        pytest.skip("no small disk can be mounted here; the file limit above stands in for it")
    try:
        ballast = disk / "ballast"
        ballast.write_bytes(b"x" * 300_000)
        told = child(FILL, disk / "r.db", ballast)
        assert len(told["acknowledged"]) > 20
        assert len(told["errors"]) == 3
        assert all("disk is full" in error or "refuses to" in error for error in told["errors"])
        shutil.copytree(disk, tmp_path / "copy")
        check(tmp_path / "copy" / "r.db", told["acknowledged"])
    finally:
        subprocess.run(["umount", disk], check=True)


FAILING = """
    import json, sys
    what, which, code = sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    from tests.record.disk_spy import DiskSpy
    counted = 0
    armed = False
    failed_at = []
    def fail(act):
        global counted
        if armed and act.what == what and act.path.endswith("-wal"):
            counted += 1
            if counted == which:
                failed_at.append(len(spy.log))
                return code
        return 0
    spy = DiskSpy(fail)
    from sayso.record import NotRecordedError, open_store
    from tests.record.test_store import begin, heard
    acknowledged, errors = [], []
    with open_store(sys.argv[1]) as store, begin(store) as journal:
        armed = True
        for number in range(12):
            try:
                journal.commit(heard(2_000 + number, "nine"))
            except NotRecordedError as error:
                errors.append(str(error))
                journal.commit(heard(2_000 + number, "nine"))  # once more, as the shell does
            acknowledged.append(journal.head.hash)
            spy.note("ack")
    acts = [a.path if a.what == "ack" else f"{a.what} {a.path.rsplit('/', 1)[-1]}" for a in spy.log]
    print(json.dumps({"acknowledged": acknowledged, "errors": errors,
                      "acts_after_failure": acts[failed_at[0]:]}))
"""


@pytest.mark.parametrize(
    ("what", "code"),
    # result codes: sqlite.org/rescode.html
    [("write", 778), ("write", 13)],
    ids=["SQLITE_IOERR_WRITE", "SQLITE_FULL"],
)
@pytest.mark.parametrize("which", [1, 6])
def test_a_disk_that_fails_once_is_told_and_the_entry_stands_once(
    tmp_path: Path, what: str, code: int, which: int
) -> None:
    told = child(FAILING, tmp_path / "r.db", what, which, code)
    assert len(told["errors"]) == 1
    assert "not recorded" in told["errors"][0]
    assert len(told["acknowledged"]) == 12
    check(tmp_path / "r.db", told["acknowledged"])


@pytest.mark.parametrize("which", [1, 6])
def test_after_a_sync_that_failed_the_entry_is_written_again_before_it_counts(
    tmp_path: Path, which: int
) -> None:
    told = child(FAILING, tmp_path / "r.db", "sync", which, 1034)  # SQLITE_IOERR_FSYNC
    (error,) = told["errors"]  # told, and committed once more as the shell does
    assert "SQLITE_IOERR_FSYNC" in error
    # What reached the log once cannot be trusted: the main file was written and synced before going on.
    after = told["acts_after_failure"]
    assert after.index("sync r.db") > after.index("write r.db")
    assert after.index("sync r.db") < after.index("ack")
    check(tmp_path / "r.db", told["acknowledged"])


READ_ONLY = """
    import json, os, sys
    import sqlalchemy.dialects.sqlite.pysqlite
    from sayso.record import RecordError, open_store
    from sayso.record.verify import verify
    os.setgid(int(sys.argv[2]))  # after the imports: Python itself may lie where nobody else can read
    os.setuid(int(sys.argv[2]))
    said = {}
    try:
        open_store(sys.argv[1])
    except RecordError as error:
        said["write"] = [type(error).__name__, str(error)]
    with open_store(sys.argv[1], read_only=True) as store:
        said["entries"] = len(store.entries("J1"))
        said["sound"] = verify(store).sound
    print(json.dumps(said))
"""
NOBODY = 65534


def test_a_read_only_folder_is_told_and_its_record_can_still_be_read(quick_folder: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("needs another user to be refused")
    folder = quick_folder / "shelf"
    folder.mkdir()
    quick_folder.chmod(0o755)
    path = sound_file(folder / "r.db")
    shutil.rmtree(folder / "r.db-locks")
    before = path.read_bytes()
    folder.chmod(0o555)
    path.chmod(0o444)
    said = child(READ_ONLY, path, NOBODY)
    assert said["write"][0] == "ReadOnlyError"
    assert str(path) in said["write"][1]
    assert said["entries"] == 41
    assert said["sound"]
    assert path.read_bytes() == before
    assert sorted(p.name for p in folder.iterdir()) == ["r.db"]


def test_a_clock_set_back_changes_no_order_and_is_remarked(tmp_path: Path) -> None:
    with open_store(tmp_path / "r.db") as store, begin(store) as journal:
        for at_ms in (50_000, 60_000, 10_000, 11_000):
            journal.commit(heard(at_ms, str(at_ms)))
        assert [e["at_ms"] for e in journal.events()] == [50_000, 60_000, 10_000, 11_000]
        verdict = verify_job(store, "J1")
    assert verdict.sound
    assert verdict.remarks == ("the clock was set back by 50 s before entry 3; the order recorded stands",)


def test_a_backup_made_while_a_job_runs_is_whole_and_the_job_goes_on_in_what_was_put_back(
    tmp_path: Path,
) -> None:
    """A plain copy is not: SQLite's manual ("Write-Ahead Logging") has the newest pages in the -wal file."""
    with open_store(tmp_path / "jobs.sqlite") as store:
        with begin(store) as journal:
            journal.commit(heard(2_000, "nine"))
            shutil.copy(tmp_path / "jobs.sqlite", tmp_path / "copy.sqlite")
            with open_store(tmp_path / "backup.sqlite") as backup:
                assert [d.outcome for d in deliver(store, backup)] == ["sent"]
        with pytest.raises(RecordError, match=r"lacks what was in its -wal \(sayso deliver copy\.sqlite"):
            open_store(tmp_path / "copy.sqlite", read_only=True)
        with (
            open_store(tmp_path / "backup.sqlite") as backup,
            open_store(tmp_path / "new.sqlite") as put_back,
        ):
            deliver(backup, put_back)
            assert put_back.entries("J1") == store.entries("J1")
            with put_back.resume("J1") as journal:
                journal.commit(heard(3_000, "yes"))
            assert verify(put_back).sound
            assert len(put_back.entries("J1")) == len(store.entries("J1")) + 1
