"""A power cut at any moment: what was acknowledged is there, whole and once.

The disks that a cut can leave are put together from the true order of writes and syncs: everything
before a file's last sync is on the disk, of what came later any part may be missing or torn (method:
as in the published test descriptions of SQLite, "Crash testing", where unsynchronised writes are
reordered and damaged by a special VFS).
"""

from __future__ import annotations

import os
import pickle
import random
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from sayso.dialogue.effects import Record
from sayso.record import open_store
from sayso.record.verify import verify_job
from tests.record.disk_spy import Act

SECTOR = 512


@dataclass
class OneFile:
    """A file on the simulated disk: what is surely there, and what was written since the last sync."""

    sure: bytearray = field(default_factory=bytearray)
    exists: bool = False
    pending: list[Act] = field(default_factory=list)


def apply(content: bytearray, act: Act, data: bytes | None = None) -> None:
    if act.what == "truncate":
        del content[act.offset :]
        content.extend(b"\0" * (act.offset - len(content)))
        return
    data = act.data if data is None else data
    end = act.offset + len(data)
    content.extend(b"\0" * (end - len(content)))
    content[act.offset : end] = data


class Disk:
    """Follows a log; `after_cut` gives a disk that a cut right now could leave behind."""

    def __init__(self) -> None:
        self.files: dict[str, OneFile] = {}
        self.acknowledged: list[tuple[int, str]] = []

    def follow(self, act: Act) -> None:
        if act.what == "ack":
            seq, head = act.path.split()
            self.acknowledged.append((int(seq), head))
            return
        file = self.files.setdefault(act.path, OneFile())
        if act.what == "sync":
            for pending in file.pending:
                apply(file.sure, pending)
            file.pending.clear()
            file.exists = True
        elif act.what == "delete":
            self.files.pop(act.path)
        else:
            file.pending.append(act)

    def after_cut(self, luck: random.Random, manner: str) -> dict[str, bytes]:
        left: dict[str, bytes] = {}
        for path, file in self.files.items():
            if path.endswith("-shm"):
                continue  # shared memory does not outlive the cut
            content = bytearray(file.sure)
            for act in self._survivors(file.pending, luck, manner):
                data = act.data
                if act.what == "write" and manner == "torn" and luck.random() < 0.5:
                    cut = luck.randrange(len(data) + 1)
                    if luck.random() < 0.5:  # whole sectors only, as most disks write
                        cut -= cut % SECTOR
                    data = data[:cut] if luck.random() < 0.7 else data[:cut] + luck.randbytes(len(data) - cut)
                apply(content, act, data)
            if file.exists or content:
                left[path] = bytes(content)
        return left

    @staticmethod
    def _survivors(pending: list[Act], luck: random.Random, manner: str) -> list[Act]:
        if manner == "lost":
            return []
        if manner == "kept":
            return pending
        return [act for act in pending if luck.random() < 0.5]  # any of them, in any combination


MANNERS = ("lost", "kept", "some", "torn")


def spied(folder: Path, commits: int, size: int) -> list[Act]:
    log = folder / "log.pickle"
    elsewhere = folder / "working-folder"
    elsewhere.mkdir()
    subprocess.run(
        [
            sys.executable,
            "-m",
            "tests.record.spied_job",
            str(folder / "r.db"),
            str(log),
            str(commits),
            str(size),
        ],
        check=True,
        timeout=120,
        cwd=elsewhere,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    # The record's files lie beside it and nowhere else: the spy must hand SQLite the very names it was given.
    assert list(elsewhere.iterdir()) == []
    return [Act(*values) for values in pickle.loads(log.read_bytes())]


def cuts(log: list[Act], luck: random.Random, share: float) -> Iterator[tuple[Disk, str]]:
    disk = Disk()
    for act in log:
        disk.follow(act)
        for manner in MANNERS:
            if luck.random() < share:
                yield disk, manner


def check_after(folder: Path, left: dict[str, bytes], acknowledged: list[tuple[int, str]]) -> int:
    """Open what is left as a restarted sayso would; gives how many entries were found beyond the
    acknowledged ones (those of the commit that was under way, or none)."""
    for old in folder.glob("r.db*"):
        if old.is_file():
            old.unlink()
    for path, content in left.items():
        (folder / Path(path).name).write_bytes(content)
    with open_store(folder / "r.db") as store:
        if not acknowledged and not store.jobs():
            return 0
        found = store.entries("J1")
        assert verify_job(store, "J1").faults == ()
        hashes = [entry.hash for entry in found]
        for seq, head in acknowledged:
            assert hashes[seq] == head, f"entry {seq} was acknowledged and is lost"
        beyond = len(found) - 1 - (acknowledged[-1][0] if acknowledged else -1)
        assert beyond in (0, 1, 2), "more than the commit under way"
        assert (len(found) - 1) % 2 == 0, "half a commit"
        with store.resume("J1") as journal:
            assert journal.head.seq == len(found) - 1
            journal.commit({"type": "Resumed", "at_ms": 9}, [Record("resumed")])
        assert verify_job(store, "J1").sound
    return beyond


def run(tmp_path: Path, folder: Path, *, commits: int, size: int, share: float, seed: int) -> dict[str, int]:
    log = spied(tmp_path, commits, size)
    luck = random.Random(seed)
    counts = {"disk acts": len(log), "syncs": sum(a.what == "sync" for a in log), "cuts": 0, "under way": 0}
    counts |= dict.fromkeys(MANNERS, 0)
    for disk, manner in cuts(log, luck, share):
        beyond = check_after(folder, disk.after_cut(luck, manner), disk.acknowledged)
        counts["cuts"] += 1
        counts["under way"] += beyond > 0
        counts[manner] += 1
    return counts


def test_every_commit_is_synced_before_it_returns(tmp_path: Path) -> None:
    log = spied(tmp_path, 20, 100)
    # between two acknowledgements at least one sync of the log, after its last write
    since: list[str] = []
    acks = 0
    for act in log:
        if act.what == "ack":
            acks += 1
            writes = [i for i, what in enumerate(since) if what == "write"]
            syncs = [i for i, what in enumerate(since) if what == "sync"]
            assert writes
            assert syncs
            assert syncs[-1] > writes[-1], "acknowledged with unsynced writes"
            since.clear()
        elif act.path.endswith(("-wal", "r.db")):
            since.append(act.what)
    assert acks == 21


def test_nothing_acknowledged_is_lost_in_a_power_cut(
    tmp_path: Path, quick_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    counts = run(tmp_path, quick_folder, commits=60, size=400, share=0.1, seed=31)
    with capsys.disabled():
        print(f"\npower cuts: {counts}")
    assert counts["cuts"] > 150
    assert all(counts[manner] > 20 for manner in MANNERS)
    assert counts["under way"] > 0


@pytest.mark.long
def test_nothing_acknowledged_is_lost_in_power_cuts_of_a_long_job(
    tmp_path: Path, quick_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # enough pages for the log to be folded into the main file several times while the job runs
    counts = run(tmp_path, quick_folder, commits=400, size=9000, share=0.15, seed=32)
    with capsys.disabled():
        print(f"\npower cuts: {counts}")
    assert counts["cuts"] > 1500


def log_and_main(tmp_path: Path, commits: int) -> tuple[dict[str, bytes], list[tuple[int, str]], list[int]]:
    """The two files as they lie on the disk after the last acknowledgement, and the log's length at each."""
    disk = Disk()
    lengths: list[int] = []
    last: dict[str, bytes] = {}
    for act in spied(tmp_path, commits, 200):
        disk.follow(act)
        if act.what == "ack":
            last = disk.after_cut(random.Random(0), "lost")
            lengths.append(next(len(data) for path, data in last.items() if path.endswith("-wal")))
    return last, disk.acknowledged, lengths


@pytest.mark.parametrize("offsets", [100, pytest.param(7000, marks=pytest.mark.long)])
def test_the_log_cut_at_any_byte_loses_only_what_was_written_after_it(
    tmp_path: Path, quick_folder: Path, offsets: int, capsys: pytest.CaptureFixture[str]
) -> None:
    left, acknowledged, lengths = log_and_main(tmp_path, 8)
    log_name = next(path for path in left if path.endswith("-wal"))
    # from the second acknowledgement on, so that there is a job
    every = range(lengths[1], lengths[-1] + 1)
    chosen = sorted(random.Random(7).sample(every, offsets))
    for offset in chosen:
        kept = [ack for ack, length in zip(acknowledged, lengths, strict=True) if length <= offset]
        check_after(quick_folder, {**left, log_name: left[log_name][:offset]}, kept)
    with capsys.disabled():
        print(f"\nlog cut at {len(chosen)} of {len(every)} offsets")


def test_rubbish_after_the_last_commit_is_not_taken_for_entries(tmp_path: Path, quick_folder: Path) -> None:
    left, acknowledged, _ = log_and_main(tmp_path, 6)
    log_name = next(path for path in left if path.endswith("-wal"))
    luck = random.Random(3)
    for length in (1, 24, 511, 512, 4096, 4120, 20_000):
        assert (
            check_after(
                quick_folder, {**left, log_name: left[log_name] + luck.randbytes(length)}, acknowledged
            )
            == 0
        )
