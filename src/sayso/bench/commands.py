"""The command `sayso bench`: how a job by voice fares on this machine, over a real audio path."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from sayso.bench.false_accepts import Overheard, Tally
    from sayso.bench.measuring import Times
    from sayso.bench.noise_curve import Point
    from sayso.bench.slow_speakers import SlowSpeech
    from sayso.bench.talk import Half

HALVES: dict[str, Half] = {"A": "A", "B": "B"}
#: Later than this an imitated room is none (0.006 s in 25 s at a load of 2).
ROOM_LATE_S = 0.15
#: In this order: what is spoiled by a busy machine comes first.
PARTS = ("replies", "slow", "noise", "each-noise", "talk", "prompts")


def bench(
    part: Annotated[
        list[str] | None,
        typer.Option(help=f"One of {', '.join(PARTS)}; repeat for several. Default: all of them."),
    ] = None,
    minutes: Annotated[
        float, typer.Option(help="Minutes of sound in all for 'talk' and again for 'prompts'.")
    ] = 20.0,
    shards: Annotated[
        int, typer.Option(help="Streams of that sound at once: 60 minutes in 4 streams take 15.")
    ] = 4,
    half: Annotated[str, typer.Option(help="Half of the talk: A was tuned on, B is for reporting.")] = "B",
    seed: Annotated[int, typer.Option(help="Which talk is made.")] = 1,
    recordings: Annotated[
        Path | None, typer.Option(help="Recordings of people, to be part of the talk.")
    ] = None,
    open_ear: Annotated[
        bool,
        typer.Option("--open-ear", help="'prompts' as with `run --open-ear`, listening while it speaks."),
    ] = False,
    speech: Annotated[str, typer.Option(help="Voice of espeak-ng that plays the technician.")] = "en-gb",
    model: Annotated[str | None, typer.Option(help="A vosk model directory.")] = None,
    out: Annotated[Path | None, typer.Option("--json", help="Write all figures here.")] = None,
    pictures: Annotated[
        Path | None, typer.Option(help="Draw the reply times and the noise curve into this folder (SVG).")
    ] = None,
) -> None:
    """Measure this machine's voice: reply times, slow speakers, noise, talk nearby, its own prompts.

    Private PulseAudio servers, nothing is heard. replies: 5 minutes; slow: 3; noise: 10;
    each-noise: 10; talk and prompts: minutes / shards each. Keep the machine idle meanwhile.
    """
    from sayso.session.errors import UserError

    wanted = tuple(part or PARTS)
    unknown = [name for name in wanted if name not in PARTS]
    if unknown:
        raise UserError(f"--part: '{unknown[0]}' is no part of the bench; write one of {', '.join(PARTS)}")
    own_half = HALVES.get(half.upper())
    if own_half is None:
        raise UserError(f"--half: '{half}' is no half; write A or B")
    figures: dict[str, Any] = {}
    for name in (name for name in PARTS if name in wanted):
        print(f"sayso: bench of {name}; nothing is heard", file=sys.stderr)
        if name == "replies":
            from sayso.bench.measuring import measure

            times = measure(speech, model=model)
            show(times)
            figures[name] = times.as_json()
        elif name == "slow":
            from sayso.bench.slow_speakers import slow_speakers

            slow = slow_speakers(model)
            show_slow(slow)
            figures[name] = [one.as_json() for one in slow]
        elif name == "noise":
            from sayso.bench.noise_curve import noise_curve

            points = noise_curve(model=model)
            show_noise(points)
            figures[name] = [point.as_json() for point in points]
        elif name == "each-noise":
            from sayso.bench.noise_curve import each_noise

            points = each_noise(model=model)
            show_noise(points)
            figures[name] = [point.as_json() for point in points]
        else:
            from sayso.bench import false_accepts

            streams = (
                false_accepts.talk_nearby(
                    minutes,
                    half=own_half,
                    shards=shards,
                    seed=seed,
                    model=model,
                    recordings=recordings,
                )
                if name == "talk"
                else false_accepts.own_prompts(
                    minutes,
                    shards=shards,
                    seed=seed,
                    model=model,
                    arguments=("--open-ear",) if open_ear else (),
                )
            )
            show_false_accepts(streams)
            figures[name] = false_accepts.as_json(streams)
        if out is not None:  # after each part: a bench that is stopped keeps what it has
            out.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    if pictures is not None:
        from sayso.bench.picture import draw_all

        draw_all(figures, pictures)


def show_slow(slow: Sequence[SlowSpeech]) -> None:
    """Prints the cut-offs of slow speakers."""
    from rich.console import Console
    from rich.table import Table

    table = Table("slow speakers", "pauses inside groups", "between groups", "answers", "cut off")
    for one in slow:
        inside, between = (f"{low:g} to {high:g} s" if high else "-" for low, high in one.pauses_s)
        table.add_row(one.manner, inside, between, str(one.answers), str(one.cut_off))
    Console().print(table)


def show_noise(points: Sequence[Point]) -> None:
    """Prints what was accepted at each level of noise."""
    from rich.console import Console
    from rich.table import Table

    table = Table(
        "speech over noise", "answers", "accepted right", "accepted wrong", "read back",
        "extra turns an answer", "by keys",
    )  # fmt: skip
    for point in points:
        table.add_row(
            "quiet room" if point.snr_db is None else f"{point.snr_db:g} dB {point.noise}".strip(),
            str(point.asked), str(point.right), str(point.wrong), str(point.read_backs),
            f"{point.extra_turns:.2f}", str(point.by_keys),
        )  # fmt: skip
    Console().print(table)


def show_false_accepts(streams: Sequence[Overheard]) -> None:
    """Prints what was taken that nobody gave, and from what."""
    from rich.console import Console
    from rich.table import Table

    from sayso.bench.false_accepts import tally

    table = Table(
        "not meant for sayso", "minutes", "answers taken", "orders taken", "an hour", "asked back",
        "not understood", "voice cut off",
    )  # fmt: skip
    for line in tally(streams):
        table.add_row(
            line.what, _minutes(line), str(line.answers), str(line.orders), f"{line.per_hour:.1f}",
            str(line.asked_back), str(line.not_understood), str(line.barge_ins),
        )  # fmt: skip
    Console().print(table)
    for stream in streams:
        for taken, cause in zip(stream.taken, stream.causes, strict=False):
            print(f"{stream.what} ({stream.title}): {taken.what} '{taken.words}' at {cause}")
    late_s = max((stream.room_late_s for stream in streams), default=0.0)
    if late_s > ROOM_LATE_S:
        print(
            f"sayso: the machine was busy: the imitated room brought the voice back {late_s:.1f} s late, "
            "as no room does; measure again on an idle machine",
            file=sys.stderr,
        )


def _minutes(line: Tally) -> str:
    """With how long the voice spoke: a job that took itself at its word and is on hold says no more."""
    spoken = f" ({line.voice_minutes:.0f} of voice)" if line.voice_minutes else ""
    return f"{line.minutes:.0f}{spoken}"


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
