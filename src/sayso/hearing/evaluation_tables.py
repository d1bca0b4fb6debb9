"""What `sayso evaluate` prints: accuracy by noise, results as in a job, reliability, false accepts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table

from sayso.hearing.calibration import Bin
from sayso.hearing.evaluation import AsInAJob, FalseAccepts, Row

console = Console()


def level(snr_db: float | None) -> str:
    return "clean" if snr_db is None else f"{snr_db:g} dB"


def brief(row: Row) -> str:
    return f"  {row.engine} {level(row.snr_db)}: word error {row.word_error}"


def print_rows(folder: Path, rows: Sequence[Row]) -> None:
    table = Table(
        title=f"{folder.name}: {rows[0].utterances} utterances, {rows[0].words} words (95 % intervals)"
    )
    for title in ("engine", "noise", "word error %", "sentence error %", "rejected", "CPU s per s"):
        table.add_column(title, justify="left" if title == "engine" else "right")
    for r in rows:
        table.add_row(
            r.engine,
            level(r.snr_db),
            str(r.word_error),
            str(r.sentence_error),
            str(r.rejected),
            f"{r.cpu:.4f}",
        )
    console.print(table)
    for r in rows:
        pairs = ", ".join(f"{a or '(nothing)'} > {b or '(nothing)'} {n}" for a, b, n in r.confusions[:8])
        console.print(f"{r.engine} {level(r.snr_db)} confusions: {pairs or 'none'}", highlight=False)


def print_jobs(jobs: Sequence[AsInAJob]) -> None:
    table = Table(title="as in a job: own endpointing; delay from the end of speech to the decision")
    for title in ("engine", "noise", "right %", "cut off", "no answer", "delay median s", "p95 s"):
        table.add_column(title, justify="left" if title == "engine" else "right")
    for j in jobs:
        table.add_row(
            j.engine, level(j.snr_db), str(j.right), f"{j.cut_off}/{j.utterances}", str(j.nothing),
            f"{j.delay_median:.2f}", f"{j.delay_p95:.2f}",
        )  # fmt: skip
    console.print(table)


def print_reliability(curve: Iterable[Bin]) -> None:
    table = Table(title="reliability: promised confidence against what came true")
    for title in ("promised %", "right %", "results"):
        table.add_column(title, justify="right")
    for b in curve:
        table.add_row(f"{100 * b.promised:.0f}", f"{100 * b.right:.0f}", str(b.count))
    console.print(table)


def print_false_accepts(folder: Path, found: FalseAccepts) -> None:
    words = ", ".join(f"{w} {n}" for w, n in found.words) or "none"
    console.print(
        f"{folder.name}: {found.engine}: {found.accepted} accepted in {found.hours:.2f} h = "
        f"{found.per_hour:.1f} per hour ({words}); {found.rejected} rejected",
        highlight=False,
    )
