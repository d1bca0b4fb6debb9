"""The commands about models and microphones: `sayso model ...`, `sayso microphone ...`.

Errors of our own go up to the command line, which prints their one line.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sayso.hearing.errors import HearingError

model_app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    help="Speech models: what is used, fetching one, teaching words.",
)
microphone_app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Microphones: list them, check level and noise.",
)

ModelOption = Annotated[
    Path | None,
    typer.Option("--model", help="A vosk model directory (default: $SAYSO_MODEL, else the shipped one)."),
]


@model_app.command("show")
def show(model: ModelOption = None) -> None:
    """Which model is used, what its files allow, how long it takes to load."""
    from sayso.hearing.footprint import measure_footprint
    from sayso.hearing.speech_model import load_model

    loaded = load_model(model)
    print(f"model: {loaded.path}")
    print(f"grammar per question: {'yes' if loaded.run_time_grammar else 'no (not usable for jobs)'}")
    print(f"words can be added: {'yes' if loaded.rebuildable else 'no (made by other tools)'}")
    foot = measure_footprint(str(loaded.path))
    if foot:
        print(f"loads in {foot.load_s:.2f} s, {foot.peak_mb:.0f} MB")


@model_app.command("fetch")
def fetch(
    source: Annotated[str, typer.Argument(help="https address or local path of a zipped vosk model")],
    sha256: Annotated[str | None, typer.Option(help="Checksum that the archive must have.")] = None,
    into: Annotated[Path | None, typer.Option(help="Where models are kept.")] = None,
) -> None:
    """Fetch a zipped vosk model, check it and unpack it. The official list: alphacephei.com/vosk/models"""
    from sayso.hearing.model_fetch import fetch_model

    done = fetch_model(source, sha256=sha256, into=into)
    print(f"sha256 {done.sha256}{'' if sha256 else '  (not compared: give it with --sha256 next time)'}")
    print(f"use it with: --model {done.directory}   or   export SAYSO_MODEL={done.directory}")


@model_app.command("words")
def words(
    asked: Annotated[list[str], typer.Argument(help="Words to look up or add")],
    lexicon: Annotated[Path | None, typer.Option(help="The shop's lexicon (plain or PLS).")] = None,
    model: ModelOption = None,
) -> None:
    """How each word is said, who says so, and whether the model has to be given it."""
    from sayso.hearing.pronunciations import pronounce, teach
    from sayso.hearing.shop_lexicon import read_shop_lexicon
    from sayso.hearing.speech_model import load_model

    loaded = load_model(model)
    given = read_shop_lexicon(lexicon) if lexicon else {}
    lower = [w.lower() for w in asked]
    added = {said.word: said for said in teach(loaded, lower, given)[1]}
    for word, said in pronounce(lower, given, loaded).items():
        print(f"{added.get(word, said)}{'  + added to the model' if word in added else ''}")


@microphone_app.command("list")
def list_microphones() -> None:
    """Names of all devices that can record; any part of a name is enough for --device."""
    from sayso.hearing.microphone import input_names

    names = input_names()
    print("\n".join(names) if names else "no device that records was found")


@microphone_app.command("check")
def check_microphone(
    microphone: Annotated[
        str | None, typer.Option("--device", "--microphone", help="Name or part of a name.")
    ] = None,
    seconds: Annotated[float, typer.Option(help="How long to listen.")] = 5.0,
) -> None:
    """Listen for some seconds (speak normally) and say what to change."""
    from sayso.hearing.level_check import advice, measure
    from sayso.hearing.levels import samples_of
    from sayso.hearing.microphone import Block, Lost, Microphone

    pcm = bytearray()
    with Microphone(microphone) as source:
        print(f"listening to {source.name} for {seconds:g} s: say something", flush=True)
        for event in source.events():
            if isinstance(event, Lost):
                raise HearingError(f"microphone '{event.device}' is gone: {event.reason}")
            if isinstance(event, Block):
                pcm += event.pcm
            if len(pcm) >= seconds * 32_000:
                break
    levels = measure(samples_of(bytes(pcm)))
    speech = "no speech" if levels.speech_dbfs is None else f"speech {levels.speech_dbfs:.0f} dBFS"
    print(f"noise {levels.noise_dbfs:.0f} dBFS, {speech}")
    print("\n".join(advice(levels)) or "good")
