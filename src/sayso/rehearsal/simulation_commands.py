"""Commands of the simulated technician: trials (measure what is misheard), simulate (do jobs with it)."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from sayso.procedure.commands import Language, Parameter, parameters_from
from sayso.procedure.model import Procedure

Files = Annotated[list[Path], typer.Argument(help="Procedure files (YAML).", show_default=False)]
Model = Annotated[str | None, typer.Option(help="A vosk model directory; the shipped one without it.")]
Out = Annotated[
    Path | None,
    typer.Option("--output", "--out", "-o", help="Where to write; trials.json in the model without it."),
]
Workers = Annotated[int, typer.Option(min=1, help="Processes at work.")]


def trials(
    files: Files,
    model: Model = None,
    takes: Annotated[int, typer.Option(min=1, help="Voices that say each phrase at a question.")] = 2,
    recordings: Annotated[Path | None, typer.Option(help="Recordings with transcripts, tried too.")] = None,
    out: Out = None,
    workers: Workers = 1,
    language: Language = "en",
) -> None:
    """Have all that people say to these procedures spoken, and keep what the model makes of it.

    A phrase that is said to many questions alike is tried at four of them.
    """
    from sayso.hearing.speech_model import find_model
    from sayso.rehearsal.misheard import error_rates
    from sayso.rehearsal.trials import FILE, write
    from sayso.rehearsal.trying import measure

    procedures = [_read(file, language) for file in files]

    def told(line: str) -> None:
        print(line, file=sys.stderr, flush=True)

    found = measure(procedures, model=model, takes=takes, recordings=recordings, workers=workers, told=told)
    file = out or find_model(model) / FILE
    write(found, file)
    for condition, tries in found.tries.items():
        print(f"{condition}: {len(tries)} tries")
        for kind, (count, wrong, refused) in error_rates(tries).items():
            right = f"as said {1 - wrong / count:6.1%}  refused {refused / count:6.1%}"
            print(f"  {kind:<18} {count:>5}  {right}")
    print(f"wrote {file}, model {found.model}, {len(found.voices)} voices")


def simulate(
    files: Files,
    jobs: Annotated[int, typer.Option(min=1, help="Jobs, over the procedures in turn.")] = 1000,
    noise: Annotated[str, typer.Option(help="clean, 10 or 0 (dB of speech over workshop noise).")] = "clean",
    seed: Annotated[int, typer.Option(help="The same seed gives the same jobs.")] = 1,
    worse: Annotated[float, typer.Option(min=1, help="Multiplies every measured error rate.")] = 1.0,
    overlooks_read_back: Annotated[float, typer.Option(help="Share of wrong read-backs said yes to.")] = 0.0,
    table: Annotated[Path | None, typer.Option(help="Trials to use instead of the model's.")] = None,
    model: Model = None,
    workers: Workers = 1,
    as_json: Annotated[bool, typer.Option("--json", help="JSON, with stories of wrong values.")] = False,
    language: Language = "en",
    parameter: Parameter = None,
) -> None:
    """Jobs by a technician who is misheard as measured, through the real dialogue. Exits 2 when a value that
    was read back was recorded wrong."""
    from sayso.hearing.speech_model import find_model
    from sayso.rehearsal.simulated_technician import Temper
    from sayso.rehearsal.simulation import simulate as simulate_jobs
    from sayso.rehearsal.simulation_report import as_data, as_text
    from sayso.rehearsal.trials import FILE, model_hash, read

    procedures = [_read(file, language, parameter) for file in files]
    measured = read(table or find_model(model) / FILE)
    if model_hash(find_model(model)) != measured.model:
        told = f"these trials are of the model {measured.model}, which is not the one that is installed"
        print(f"sayso: {told}; measure anew with 'sayso trials'", file=sys.stderr)
    misheard, plain = simulate_jobs(
        procedures,
        jobs,
        trials=measured,
        condition=noise,
        seed=seed,
        temper=Temper(overlooks_read_back=overlooks_read_back),
        worse=worse,
        workers=workers,
    )
    data = as_data(misheard, plain, noise=noise, seed=seed, worse=worse, model=measured.model)
    if as_json:
        json.dump(data, sys.stdout, indent=1)
        print()
    else:
        print(as_text(data))
    if misheard.counts["wrong after read-back"]:
        raise typer.Exit(2)


def _read(file: Path, language: str, parameter: list[str] | None = None) -> Procedure:
    from sayso.procedure import read

    return read(file, language=language, parameters=parameters_from(parameter))
