"""kill -9 at any moment of a real job: what was acknowledged is there once, and the job goes on where it was.

Method: a parent starts a child that commits and acknowledges, kills it at a random instant, and looks.
SIGKILL cannot show a missing sync (the kernel's cache lives on): that is test_power_cut.py's matter.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import random
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from sayso import dialogue
from sayso.dialogue.codec import event_from_json
from sayso.record import open_store
from sayso.record.verify import verify_job
from tests.record.killed_job import MOMENTS, read_procedure, run, state_hash


@pytest.fixture
def disk() -> Iterator[Path]:
    """A folder on a real disk, so that commits take their true time."""
    folder = Path(tempfile.mkdtemp(prefix="sayso-kill-"))
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


@dataclass
class Told:
    """What the child had said when it died."""

    acknowledged: dict[str, tuple[int, str]] = field(default_factory=dict)  # job -> last seq, state hash
    resumed: list[tuple[str, int, str]] = field(default_factory=list)
    moment: str = "starting"
    acks: int = 0

    def take(self, message: tuple[Any, ...]) -> None:
        match message:
            case ("moment", moment):
                self.moment = moment
            case ("ack", job, seq, state):
                self.acknowledged[job] = (seq, state)
                self.acks += 1
                self.moment = "between"
            case ("resumed", job, seq, state):
                self.resumed.append((job, seq, state))


def one_life(context: Any, folder: Path, seed: int, luck: random.Random, moment: str) -> Told:
    """Start the child, kill it at the n-th `moment` after a random part of a second."""
    mine, its = context.Pipe()
    child = context.Process(target=run, args=(str(folder), seed, its), daemon=True)
    child.start()
    its.close()
    told = Told()
    wait_for = luck.randrange(1, 4 if moment == "reporting" else 25)
    with contextlib.suppress(EOFError):
        while wait_for:
            message = mine.recv()
            told.take(message)
            wait_for -= message == ("moment", moment)
        time.sleep(luck.random() ** 2 * (0.08 if moment == "reporting" else 0.012))
    child.kill()
    with contextlib.suppress(EOFError):
        while True:  # what it had said before it died is still in the pipe
            told.take(mine.recv())
    child.join()
    mine.close()
    child.close()
    return told


def kill_again_and_again(folder: Path, kills: int, seed: int) -> Counter[str]:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.record.killed_job"])
    luck = random.Random(seed)
    found = read_procedure()
    counts: Counter[str] = Counter()
    known: dict[str, tuple[int, str]] = {}  # everything ever acknowledged
    last_look: dict[str, tuple[int, str]] = {}  # what stood in the record after the kill before
    for number in range(kills):
        moment = list(MOMENTS)[number % len(MOMENTS)]
        told = one_life(context, folder, seed + number, luck, moment)
        counts[f"killed while {told.moment}"] += 1
        counts["acknowledged commits"] += told.acks
        for job, seq, state in told.resumed:
            assert (seq, state) == last_look[job], "not resumed where the record had left it"
            counts["resumed at the same state"] += 1
        known |= told.acknowledged
        with open_store(folder / "r.db") as store:
            for job in (told.acknowledged.keys() | {j for j, _, _ in told.resumed}) & known.keys():
                seq, state = known[job]
                entries = store.entries(job)
                assert verify_job(store, job).sound
                assert len(entries) > seq, f"acknowledged entry {seq} is lost"
                events = [entry for entry in entries if entry.kind == "event"]
                upto = [event_from_json(entry.data) for entry in events if entry.seq <= seq]
                assert state_hash(dialogue.replay(found, upto)) == state, "the replayed state is another"
                beyond = [entry for entry in events if entry.seq > seq]
                assert len(beyond) <= 1, "more than the one commit that was under way"
                counts["commit under way was whole"] += len(beyond)
                whole = [event_from_json(entry.data) for entry in events]
                last_look[job] = (entries[-1].seq, state_hash(dialogue.replay(found, whole)))
                utterances = [e.data["utterance"] for e in events if e.data["type"] == "VoiceFinished"]
                assert len(utterances) == len(set(utterances)), "an event stands there twice"
                answers = [(e.data["visit"], e.data["name"]) for e in entries if e.kind == "answer"]
                assert len(answers) == len(set(answers)), "an answer stands there twice"
            for row in store.open_jobs():
                if row.job not in known:  # killed after its opening entry and before it could say so
                    known[row.job] = (0, state_hash(dialogue.begin(found)))
                    last_look[row.job] = known[row.job]
        report = folder / "report.html"
        if report.exists():
            assert report.read_text("utf-8").rstrip().endswith("</html>"), "half a report"
            counts["reports found whole"] += 1
        unfinished = len(list(folder.glob(".report.html.*")))
        assert unfinished <= 1, "the next report takes away what the kill before it left"
        counts["unfinished reports left beside"] += unfinished
    counts["kills"] = kills
    with open_store(folder / "r.db") as store:
        counts["jobs"] = len(store.jobs())
        counts["entries"] = sum(len(store.entries(row.job)) for row in store.jobs())
    return counts


def told(counts: Counter[str]) -> str:
    return "\n".join(f"  {count:>7,} {what}" for what, count in sorted(counts.items()))


def test_nothing_acknowledged_is_lost_or_doubled_by_kills(
    disk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    counts = kill_again_and_again(disk, 48, seed=1)
    with capsys.disabled():
        print(f"\n{told(counts)}")
    assert counts["resumed at the same state"] >= 40
    assert all(counts[f"killed while {moment}"] >= 3 for moment in MOMENTS)


@pytest.mark.long
def test_nothing_acknowledged_is_lost_or_doubled_by_a_thousand_kills(
    disk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    counts = kill_again_and_again(disk, 1_000, seed=2)
    with capsys.disabled():
        print(f"\n{told(counts)}")
    assert counts["resumed at the same state"] >= 900
    assert all(counts[f"killed while {moment}"] >= 50 for moment in MOMENTS)
