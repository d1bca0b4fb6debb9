"""How long the record takes with 1,000 to 1,000,000 entries: run by hand, prints a table of medians.

    python -m tests.record.benchmark_entries [--most 1000000] [--repeats 5] [--folder FOLDER]

Wall time is what a person waits; processor time is told beside it, because another load on the machine
lengthens only the first. Bars (issue 3): report below 2 s and figures below 5 s at 1,000,000 entries.
"""

from __future__ import annotations

import argparse
import os
import platform
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from sayso.dialogue.effects import Record
from sayso.record import open_store
from sayso.record.export import as_csv, rows_of
from sayso.record.figures import figures_of
from sayso.record.figures_page import render_page
from sayso.record.report import ReportOptions, render
from sayso.record.verify import verify
from tests.record.many_jobs import many


def timed(work: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Median wall and processor seconds."""
    wall, cpu = [], []
    for _ in range(repeats):
        started, busy = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - started)
        cpu.append(time.process_time() - busy)
    return median(wall), median(cpu)


def measure(path: Path, repeats: int) -> dict[str, tuple[float, float]]:
    found: dict[str, tuple[float, float]] = {}

    def opened() -> None:
        open_store(path, read_only=True).close()

    found["open"] = timed(opened, repeats)
    with open_store(path) as store:
        jobs = store.jobs()
        job = jobs[len(jobs) // 2].job
        found["list jobs"] = timed(store.jobs, repeats)
        found["report of a job"] = timed(lambda: render(store, job, ReportOptions(text=False)), repeats)
        found["figures page"] = timed(lambda: render_page(figures_of(store)), repeats)
        found["export a job"] = timed(lambda: as_csv(rows_of(store, [job])), repeats)
        found["verify everything"] = timed(lambda: verify(store), 1)
        name = f"bench-{time.time_ns()}"
        with store.start(name, "bench", "Bench", 1, "0" * 64, "text") as journal:

            def commit() -> None:
                event = {
                    "type": "Heard",
                    "at_ms": int(time.time() * 1000),
                    "words": ["nine", "point", "five"],
                }
                journal.commit(event, [Record("answer", {"name": "busbar", "value": 9.5, "unit": "N.m"})])

            found["commit"] = timed(commit, 50 * repeats)
            journal.commit({"type": "Heard", "at_ms": 0}, [Record("ended", {"outcome": "bench"})])
    return found


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--most", type=int, default=1_000_000)
    ask.add_argument("--repeats", type=int, default=5)
    ask.add_argument("--folder", type=Path, default=None)
    options = ask.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as scratch:
        load = ", ".join(f"{part:.1f}" for part in os.getloadavg())
        print(f"{platform.machine()}, {os.cpu_count()} processors, load {load}")
        size = 1_000
        while size <= options.most:
            path = Path(scratch) / f"{size}.db"
            started = time.perf_counter()
            many(path, size)
            filled = time.perf_counter() - started
            print(f"\n{size:,} entries, {path.stat().st_size / 1e6:.1f} MB, made in {filled:.1f} s")
            for what, (wall, cpu) in measure(path, options.repeats).items():
                print(f"  {what:<18} {wall * 1000:>10.1f} ms   processor {cpu * 1000:>10.1f} ms", flush=True)
            path.unlink()
            size *= 10


if __name__ == "__main__":
    main()
