"""The command `sayso bench`: reply times over a real audio path, as a table, JSON and a picture."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from sayso.bench.measuring import Times


def bench(
    speech: Annotated[str, typer.Option(help="Voice of espeak-ng that plays the technician.")] = "en-gb",
    model: Annotated[str | None, typer.Option(help="A vosk model directory.")] = None,
    out: Annotated[Path | None, typer.Option("--json", help="Write all figures here.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Draw the distribution here (.svg or .png).")] = None,
) -> None:
    """Reply times of sayso on this machine, over a private PulseAudio: four to five minutes.

    A scripted technician answers a job by voice; the times lie between its last sound at the microphone and
    the first sound at the loudspeaker.
    """
    from sayso.bench.measuring import measure

    print("sayso: the bench runs for about five minutes; nothing is heard", file=sys.stderr)
    times = measure(speech, model=model)
    show(times)
    if out is not None:
        out.write_text(json.dumps(times.as_json(), indent=1) + "\n", encoding="utf-8")
    if picture is not None:
        from sayso.bench.picture import draw

        draw(times, picture)


def show(times: Times) -> None:
    """Prints the table."""
    from rich.console import Console
    from rich.table import Table

    from sayso.bench.measuring import KINDS

    table = Table(
        "from the end of speech to the first sound of the reply", "n", "median", "95 %", "of it silence"
    )
    every: list[float] = []
    beyond: list[float] = []
    for kind in KINDS:
        values = times.replies.get(kind.name, [])
        if not values:
            table.add_row(kind.name, "0", "-", "-", f"{kind.endpoint_s * 1000:.0f} ms")
            continue
        every += values
        beyond += [value - kind.endpoint_s for value in values]
        table.add_row(*_row(kind.name, values), f"{kind.endpoint_s * 1000:.0f} ms")
    if every:
        table.add_section()
        table.add_row(*_row("all", every), "")
        table.add_row(*_row("all, beyond the silence that ends an answer", beyond), "bar 300 / 600 ms")
    console = Console()
    console.print(table)
    other = Table("other", "n", "median", "95 %", "")
    for name, values, bar in (
        ("'stop' (headset): end of the word to silence", times.stop_from_end, "bar 250 ms"),
        ("'stop' (headset): start of the word to silence", times.stop_from_start, ""),
        ("start of the program to the first word", times.first_word, "bar 2000 ms"),
    ):
        if values:
            other.add_row(*_row(name, values), bar)
    console.print(other)
    n = len(times.first_word)
    print(f"memory of sayso with model and voice: {times.memory_mb:.0f} MB (bar 300 MB)")
    print(f"processor during a job: {times.cpu_share:.2f} of one core")
    print(
        f"machine: {times.machine}; load before: {times.load_before:.1f}; starts: {n}; speech: {times.speech}"
    )


def _row(name: str, values: list[float]) -> tuple[str, str, str, str]:
    from sayso.bench.measuring import summary

    count, middle, late = summary(values)
    return name, str(count), f"{middle * 1000:.0f} ms", f"{late * 1000:.0f} ms"
