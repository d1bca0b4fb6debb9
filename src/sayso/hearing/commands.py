"""The commands of hearing: `sayso model ...`, `sayso microphone ...`, `sayso evaluate`.

Errors of our own go up to the command line, which prints their one line.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from sayso.hearing.errors import HearingError

console = Console()
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


def evaluate(
    folders: Annotated[
        list[Path], typer.Argument(help="Folders of recordings with transcripts (or without).")
    ],
    engine: Annotated[
        list[str] | None,
        typer.Option(
            "--engine",
            help="Model directory or 'pocketsphinx'; repeat to compare. Default: the model in use.",
        ),
    ] = None,
    snr: Annotated[
        str, typer.Option(help="Noise levels in dB; 'clean' is the recording as it is.")
    ] = "clean,20,10,5,0",
    grammar: Annotated[
        Path | None, typer.Option(help="File with one phrase a line. Default: all words said, in any order.")
    ] = None,
    phrases: Annotated[
        bool, typer.Option("--phrases", help="Grammar of whole transcripts instead of single words.")
    ] = False,
    as_in_a_job: Annotated[
        bool, typer.Option("--as-in-a-job", help="Also through sayso's own endpointing.")
    ] = False,
    pauses: Annotated[
        int,
        typer.Option(help="So many halting answers, joined from single words: are slow speakers cut off?"),
    ] = 0,
    pace: Annotated[str, typer.Option(help="short, number or spelled; for --as-in-a-job.")] = "number",
    most: Annotated[int | None, typer.Option(help="At most this many recordings of each folder.")] = None,
    output: Annotated[
        Path | None, typer.Option("--output", "--out", "-o", help="Write all figures as JSON.")
    ] = None,
    calibrate: Annotated[
        Path | None,
        typer.Option(help="Fit confidences on these (held-out!) recordings; write calibration.json there."),
    ] = None,
    confusions_to: Annotated[
        Path | None, typer.Option(help="Write confusions.json into this model directory.")
    ] = None,
) -> None:
    """Measure speech models on recordings: errors clean and in noise, false accepts, speed.

    A folder without transcripts counts as sound that is not meant for sayso: answers taken from it are
    false accepts per hour (give the phrases with --grammar).
    """
    from sayso.hearing import evaluation
    from sayso.hearing.engines import VoskEngine, open_engine
    from sayso.hearing.recordings import read_recordings

    report: dict[str, Any] = {"accuracy": [], "as_in_a_job": [], "false_accepts": [], "engines": {}}
    given = _phrase_lines(grammar)
    levels = _levels(snr)
    engines = [open_engine(name) for name in (engine or [""])]
    _footprints(engines, engine or [""], report)
    jobs: list[Any] = []
    background: list[Any] = []
    for folder in folders:
        recordings = read_recordings(folder)
        recordings = recordings if most is None else _spread(recordings, most)
        speech = [r for r in recordings if r.words]
        if speech:
            wanted = given or (evaluation.phrases_said(speech) if phrases else evaluation.vocabulary(speech))
            rows = []
            for level in levels:
                for one in engines:
                    rows.append(evaluation.measure(one, speech, wanted, level))
                    console.print(_brief(rows[-1]), highlight=False)
            _print_rows(folder, rows)
            report["accuracy"] += [{"folder": folder.name, **row} for row in evaluation.as_json(rows)]
            if confusions_to is not None:
                _write_confusions(confusions_to, rows)
            if as_in_a_job or calibrate is not None:
                for one in (e for e in engines if isinstance(e, VoskEngine)):
                    for level in levels:
                        jobs.append(
                            evaluation.measure_as_in_a_job(
                                one, speech, wanted, level, pace=_pace(pace),
                                uncalibrated=calibrate is not None,
                                completeness=evaluation.one_of(wanted) if phrases or pace == "short"
                                else evaluation.anything_goes,
                            )
                        )  # fmt: skip
            for one in (e for e in engines if isinstance(e, VoskEngine) and pauses):
                _measure_pauses(one, speech, wanted, pauses, report)
        else:
            if not given:
                raise HearingError(
                    f"{folder}: has no transcripts; give the phrases to listen for with --grammar"
                )
            for one in (e for e in engines if isinstance(e, VoskEngine)):
                found = evaluation.measure_false_accepts(
                    one, recordings, given, uncalibrated=calibrate is not None
                )
                _print_false_accepts(folder, found)
                background += found.features
                report["false_accepts"].append(
                    {"folder": folder.name, "engine": found.engine, "hours": found.hours,
                     "accepted": found.accepted, "per_hour": found.per_hour, "words": found.words}
                )  # fmt: skip
    if jobs:
        _print_jobs(jobs)
        report["as_in_a_job"] = [
            {"engine": j.engine, "snr_db": j.snr_db, "utterances": j.utterances, "right": j.right.value,
             "cut_off": j.cut_off, "nothing": j.nothing, "delay_median_s": j.delay_median,
             "delay_p95_s": j.delay_p95}
            for j in jobs
        ]  # fmt: skip
        if calibrate is not None:
            _calibrate(calibrate, jobs, background)
        _print_reliability(evaluation.reliability_of(jobs))
    if output is not None:
        output.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")


def _measure_pauses(engine: Any, speech: Any, wanted: Any, count: int, report: dict[str, Any]) -> None:
    import tempfile

    from sayso.hearing import evaluation
    from sayso.hearing.slow_speech import GROUPED_SERIAL, HALTING_NUMBER, slow_answers

    manners = (
        (HALTING_NUMBER, "number", evaluation.up_to(HALTING_NUMBER.words)),
        (GROUPED_SERIAL, "spelled", evaluation.exactly(GROUPED_SERIAL.words)),
    )
    for manner, pace, completeness in manners:
        with tempfile.TemporaryDirectory() as folder:
            answers = slow_answers(speech, manner, count, Path(folder))
            found = evaluation.measure_as_in_a_job(
                engine, answers, wanted, None, pace=_pace(pace), completeness=completeness
            )
        console.print(
            f"{manner.name}: {found.cut_off} of {found.utterances} cut off, {found.nothing} not heard, "
            f"decided after {found.delay_median:.2f} s (median), {found.delay_p95:.2f} s (p95)",
            highlight=False,
        )
        report.setdefault("pauses", []).append(
            {"engine": found.engine, "manner": manner.name, "utterances": found.utterances,
             "cut_off": found.cut_off, "nothing": found.nothing, "delay_median_s": found.delay_median,
             "delay_p95_s": found.delay_p95}
        )  # fmt: skip


def _spread(recordings: tuple[Any, ...], most: int) -> tuple[Any, ...]:
    step = max(1.0, len(recordings) / most)
    return tuple(recordings[int(i * step)] for i in range(min(most, len(recordings))))


def _phrase_lines(path: Path | None) -> tuple[str, ...]:
    if path is None:
        return ()
    if not path.is_file():
        raise HearingError(f"{path}: no such file of phrases")
    return tuple(line.strip() for line in path.read_text(encoding="utf-8").splitlines() if line.strip())


def _levels(text: str) -> list[float | None]:
    out: list[float | None] = []
    for part in text.split(","):
        try:
            out.append(None if part.strip() in ("clean", "") else float(part))
        except ValueError as error:
            raise HearingError(f"--snr: '{part}' is no noise level; write e.g. clean,20,10,5,0") from error
    return out


def _pace(text: str) -> Any:
    if text not in ("short", "number", "spelled", "free"):
        raise HearingError(f"--pace: '{text}' is not known; write short, number, spelled or free")
    return text


def _level(snr_db: float | None) -> str:
    return "clean" if snr_db is None else f"{snr_db:g} dB"


def _brief(row: Any) -> str:
    return f"  {row.engine} {_level(row.snr_db)}: word error {row.word_error}"


def _footprints(engines: list[Any], names: list[str], report: dict[str, Any]) -> None:
    from sayso.hearing.engines import POCKETSPHINX
    from sayso.hearing.footprint import measure_footprint

    for one, name in zip(engines, names, strict=True):
        foot = None if name == POCKETSPHINX else measure_footprint(name)
        if foot is not None:
            report["engines"][one.name] = {"load_s": foot.load_s, "peak_mb": foot.peak_mb}
            console.print(f"{one.name}: loads in {foot.load_s:.2f} s, {foot.peak_mb:.0f} MB", highlight=False)


def _print_rows(folder: Path, rows: list[Any]) -> None:
    table = Table(
        title=f"{folder.name}: {rows[0].utterances} utterances, {rows[0].words} words (95 % intervals)"
    )
    for title in ("engine", "noise", "word error %", "sentence error %", "rejected", "CPU s per s"):
        table.add_column(title, justify="left" if title == "engine" else "right")
    for r in rows:
        table.add_row(
            r.engine,
            _level(r.snr_db),
            str(r.word_error),
            str(r.sentence_error),
            str(r.rejected),
            f"{r.cpu:.4f}",
        )
    console.print(table)
    for r in rows:
        pairs = ", ".join(f"{a or '(nothing)'} > {b or '(nothing)'} {n}" for a, b, n in r.confusions[:8])
        console.print(f"{r.engine} {_level(r.snr_db)} confusions: {pairs or 'none'}", highlight=False)


def _print_jobs(jobs: list[Any]) -> None:
    table = Table(title="as in a job: own endpointing; delay from the end of speech to the decision")
    for title in ("engine", "noise", "right %", "cut off", "no answer", "delay median s", "p95 s"):
        table.add_column(title, justify="left" if title == "engine" else "right")
    for j in jobs:
        table.add_row(
            j.engine, _level(j.snr_db), str(j.right), f"{j.cut_off}/{j.utterances}", str(j.nothing),
            f"{j.delay_median:.2f}", f"{j.delay_p95:.2f}",
        )  # fmt: skip
    console.print(table)


def _print_reliability(curve: Any) -> None:
    table = Table(title="reliability: promised confidence against what came true")
    for title in ("promised %", "right %", "results"):
        table.add_column(title, justify="right")
    for b in curve:
        table.add_row(f"{100 * b.promised:.0f}", f"{100 * b.right:.0f}", str(b.count))
    console.print(table)


def _print_false_accepts(folder: Path, found: Any) -> None:
    words = ", ".join(f"{w} {n}" for w, n in found.words) or "none"
    console.print(
        f"{folder.name}: {found.engine}: {found.accepted} accepted in {found.hours:.2f} h = "
        f"{found.per_hour:.1f} per hour ({words}); {found.rejected} rejected",
        highlight=False,
    )


def _calibrate(directory: Path, jobs: list[Any], background: list[Any]) -> None:
    from sayso.hearing.calibration import fit, write_calibration

    features = [f for j in jobs for f in j.features]
    correct = [c for j in jobs for c in j.correct]
    # what was taken from talk and noise that was not meant for sayso is wrong, whatever it was
    features += background
    correct += [False] * len(background)
    if len(features) < 50 or len(set(correct)) < 2:
        raise HearingError(
            f"--calibrate needs at least 50 results, right and wrong ones; there are {len(features)}"
        )
    file = write_calibration(directory, fit(features, correct))
    console.print(f"wrote {file} from {len(features)} results")


def _write_confusions(directory: Path, rows: list[Any]) -> None:
    from sayso.hearing.errors import HearingError
    from sayso.hearing.scores import heard_as
    from sayso.hearing.sounds_alike import CONFUSIONS_FILE

    if not directory.is_dir():
        raise HearingError(f"{directory} is no folder; give the model's own folder to --confusions-to")
    scored = [s for r in rows for s in r.scored]
    file = directory / CONFUSIONS_FILE
    file.write_text(json.dumps({"heard_as": heard_as(scored)}, indent=1) + "\n", encoding="utf-8")
    console.print(f"wrote {file}")
