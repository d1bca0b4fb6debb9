"""Run as a program: a job on a watched disk. Writes the log of all disk acts as a pickle.

python -m tests.record.spied_job RECORD LOG COMMITS BYTES
"""

from __future__ import annotations

import pickle
import sys
from pathlib import Path

from sayso.dialogue.effects import Record
from sayso.record import open_store
from tests.record.disk_spy import DiskSpy


def main(record: str, log: str, commits: int, size: int) -> None:
    spy = DiskSpy()
    with (
        open_store(record) as store,
        store.start("J1", "wren-48-brake", "Wren 48", 1, "0" * 64, "text", {}, at_ms=1) as journal,
    ):
        spy.note(f"{journal.head.seq} {journal.head.hash}")
        for number in range(commits):
            # Sizes differ, so that frames fall on many offsets.
            words = "nine " * (1 + (number * 37) % size // 5)
            journal.commit(
                {"type": "Heard", "at_ms": 2 + number, "words": words.split()},
                [Record("answer", {"value": number})],
            )
            spy.note(f"{journal.head.seq} {journal.head.hash}")
    Path(log).write_bytes(pickle.dumps([(a.what, a.path, a.offset, a.data) for a in spy.log]))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
