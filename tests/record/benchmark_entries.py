"""How long the record takes with 1,000 to 1,000,000 entries: run by hand, prints a table of medians.

    python -m tests.record.benchmark_entries [--most 1000000] [--repeats 5] [--folder FOLDER] [--postgres]

With --postgres the largest record is also delivered to a PostgreSQL server of its own and timed there.

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
from sayso.record import Store, open_store
from sayso.record.deliver import deliver
from sayso.record.export import as_csv, rows_of
from sayso.record.figures import figures_of
from sayso.record.figures_page import render_page
from sayso.record.report import ReportOptions, render
from sayso.record.verify import verify
from tests.record.conftest import running_server
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


def measure(path: Path | str, repeats: int) -> dict[str, tuple[float, float]]:
    """Of PostgreSQL the processor seconds are this side's only."""
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
    ask.add_argument("--postgres", action="store_true")
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
            show(measure(path, options.repeats))
            if options.postgres and size * 10 > options.most:
                measure_delivered(path, Path(scratch), options.repeats)
            path.unlink()
            size *= 10


def show(found: dict[str, tuple[float, float]]) -> None:
    for what, (wall, cpu) in found.items():
        print(f"  {what:<18} {wall * 1000:>10.1f} ms   processor {cpu * 1000:>10.1f} ms", flush=True)


def measure_delivered(path: Path, scratch: Path, repeats: int) -> None:
    """The same jobs in a PostgreSQL server that is started for it (Debian's defaults, on this disk)."""
    with running_server() as server:
        address = server.new_database("bench")
        with open_store(path) as laptop, open_store(address) as shop:
            started = time.perf_counter()
            sent = deliver(laptop, shop)
            seconds = time.perf_counter() - started
            size = shop_size(shop)
        outcomes = {delivery.outcome for delivery in sent}
        print(f"\nPostgreSQL: {len(sent)} jobs delivered in {seconds:.1f} s ({outcomes}), {size:.1f} MB")
        show(measure(address, repeats))


def shop_size(shop: Store) -> float:
    with shop.reading() as connection:
        return (
            float(connection.exec_driver_sql("SELECT pg_database_size(current_database())").scalar_one())
            / 1e6
        )


if __name__ == "__main__":
    main()
