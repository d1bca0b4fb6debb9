"""`sayso evaluate`: how well models hear recordings, and the files that are made of that.

Errors of our own go up to the command line, which prints their one line.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from sayso.hearing import evaluation
from sayso.hearing import evaluation_tables as tables
from sayso.hearing.calibration import Features, fit, write_calibration
from sayso.hearing.endpoint import CompletenessOf, Pace
from sayso.hearing.engines import POCKETSPHINX, Engine, VoskEngine, open_engine
from sayso.hearing.errors import HearingError
from sayso.hearing.evaluation import AsInAJob, Row
from sayso.hearing.evaluation_tables import console
from sayso.hearing.footprint import measure_footprint
from sayso.hearing.recordings import Recording, read_recordings
from sayso.hearing.scores import heard_as
from sayso.hearing.slow_speech import GROUPED_SERIAL, HALTING_NUMBER, Manner, slow_answers
from sayso.hearing.sounds_alike import CONFUSIONS_FILE

_PACES: tuple[Pace, ...] = get_args(Pace)


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
    report: dict[str, Any] = {"accuracy": [], "as_in_a_job": [], "false_accepts": [], "engines": {}}
    given = _phrase_lines(grammar)
    levels, asked_pace = _levels(snr), _pace(pace)
    engines = [open_engine(name) for name in (engine or [""])]
    _footprints(engines, engine or [""], report)
    jobs: list[AsInAJob] = []
    background: list[Features] = []
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
                    console.print(tables.brief(rows[-1]), highlight=False)
            tables.print_rows(folder, rows)
            report["accuracy"] += [{"folder": folder.name, **row} for row in evaluation.as_json(rows)]
            if confusions_to is not None:
                _write_confusions(confusions_to, rows)
            if as_in_a_job or calibrate is not None:
                for one in (e for e in engines if isinstance(e, VoskEngine)):
                    for level in levels:
                        jobs.append(
                            evaluation.measure_as_in_a_job(
                                one, speech, wanted, level, pace=asked_pace,
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
                tables.print_false_accepts(folder, found)
                background += found.features
                report["false_accepts"].append(
                    {"folder": folder.name, "engine": found.engine, "hours": found.hours,
                     "accepted": found.accepted, "per_hour": found.per_hour, "words": found.words}
                )  # fmt: skip
    if jobs:
        tables.print_jobs(jobs)
        report["as_in_a_job"] = [
            {"engine": j.engine, "snr_db": j.snr_db, "utterances": j.utterances, "right": j.right.value,
             "cut_off": j.cut_off, "nothing": j.nothing, "delay_median_s": j.delay_median,
             "delay_p95_s": j.delay_p95}
            for j in jobs
        ]  # fmt: skip
        if calibrate is not None:
            _calibrate(calibrate, jobs, background)
        tables.print_reliability(evaluation.reliability_of(jobs))
    if output is not None:
        output.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")


def _measure_pauses(
    engine: VoskEngine, speech: Sequence[Recording], wanted: Sequence[str], count: int, report: dict[str, Any]
) -> None:
    manners: tuple[tuple[Manner, Pace, CompletenessOf], ...] = (
        (HALTING_NUMBER, "number", evaluation.up_to(HALTING_NUMBER.words)),
        (GROUPED_SERIAL, "spelled", evaluation.exactly(GROUPED_SERIAL.words)),
    )
    for manner, pace, completeness in manners:
        with tempfile.TemporaryDirectory() as folder:
            answers = slow_answers(speech, manner, count, Path(folder))
            found = evaluation.measure_as_in_a_job(
                engine, answers, wanted, None, pace=pace, completeness=completeness
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


def _spread(recordings: Sequence[Recording], most: int) -> tuple[Recording, ...]:
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


def _pace(text: str) -> Pace:
    for pace in _PACES:
        if text == pace:
            return pace
    raise HearingError(f"--pace: '{text}' is not known; write short, number, spelled or free")


def _footprints(engines: Sequence[Engine], names: Sequence[str], report: dict[str, Any]) -> None:
    for one, name in zip(engines, names, strict=True):
        foot = None if name == POCKETSPHINX else measure_footprint(name)
        if foot is not None:
            report["engines"][one.name] = {"load_s": foot.load_s, "peak_mb": foot.peak_mb}
            console.print(f"{one.name}: loads in {foot.load_s:.2f} s, {foot.peak_mb:.0f} MB", highlight=False)


def _calibrate(directory: Path, jobs: Sequence[AsInAJob], background: Sequence[Features]) -> None:
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


def _write_confusions(directory: Path, rows: Sequence[Row]) -> None:
    if not directory.is_dir():
        raise HearingError(f"{directory} is no folder; give the model's own folder to --confusions-to")
    scored = [s for r in rows for s in r.scored]
    file = directory / CONFUSIONS_FILE
    file.write_text(json.dumps({"heard_as": heard_as(scored)}, indent=1) + "\n", encoding="utf-8")
    console.print(f"wrote {file}")
