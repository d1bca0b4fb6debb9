"""The figures of a simulation, as JSON values and as a page for the eye."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sayso.rehearsal.simulation import Tally

#: Counts of the report, in its order: name in the tally, what it says.
_LINES = (
    ("jobs", "jobs"),
    ("unfinished", "  given up as unfinished"),
    ("stopped unmeant", "  stopped without wanting to"),
    ("turns", "turns"),
    ("spoken", "  by voice"),
    ("misheard", "    heard as other words"),
    ("not heard", "    refused or not noticed"),
    ("keys", "  on the keys"),
    ("values", "values recorded"),
    ("critical values", "  critical"),
    ("read back and confirmed", "  read back and confirmed"),
    ("taken back", "answers taken back"),
    ("wrong after read-back", "WRONG AFTER READ-BACK (must be 0)"),
    ("critical wrong after read-back", "  of these critical"),
    ("critical wrong, not read back", "critical, wrong, not read back (must be 0)"),
    ("wrong, echo only", "wrong where only an echo was asked"),
    ("done taken from other words", "  of these a 'done' taken from other words"),
    ("wrong at the end, echo only", "  still wrong at the end of the job (overlooked)"),
    ("critical wrong at the end", "critical and wrong at the end of the job"),
    ("wrong ways taken", "wrong answers that took another way"),
    ("ways parted from", "ways parted from and settled"),
    ("cautions acknowledged by other words", "cautions acknowledged by other words"),
)


def as_data(
    misheard: Tally, plain: Tally, *, noise: str, seed: int, worse: float, model: str
) -> dict[str, Any]:
    """`plain` are the same machines done by a technician who only answers and is never misheard."""
    jobs, plain_jobs = misheard.counts["jobs"], plain.counts["jobs"]
    turns, least = misheard.counts["turns"] / jobs, plain.counts["turns"] / max(1, plain_jobs)
    return {
        "model": model,
        "noise": noise,
        "seed": seed,
        "worse": worse,
        "counts": {name: misheard.counts[name] for name, _ in _LINES},
        "turns_per_job": round(turns, 2),
        "turns_per_job_without_error": round(least, 2),
        "jobs_without_error": plain_jobs,
        "extra_turns_per_job": round(turns - least, 2),
        "read_backs_per_job": round(misheard.counts["read back and confirmed"] / jobs, 2),
        "keys_per_job": round(misheard.counts["keys"] / jobs, 2),
        "drawn_by": dict(misheard.drawn),
        "outcomes": dict(misheard.outcomes.most_common()),
        "not_understood_by_the_technician": dict(misheard.unparsed.most_common(10)),
        "given_up": [list(story) for story in misheard.stuck],
        "wrong": [asdict(wrong) for wrong in misheard.wrong],
    }


def as_text(data: dict[str, Any]) -> str:
    counts = data["counts"]
    lines = [
        f"model {data['model']}, noise {data['noise']}, seed {data['seed']}"
        + (f", errors {data['worse']:g} times as measured" if data["worse"] > 1 else ""),
        *(f"{said:<52} {counts[name]:>9}" for name, said in _LINES),
        f"{'turns per job':<52} {data['turns_per_job']:>9.2f}",
        f"{'  without any error':<52} {data['turns_per_job_without_error']:>9.2f}",
        f"{'  extra':<52} {data['extra_turns_per_job']:>9.2f}",
    ]
    for wrong in data["wrong"][:3]:
        if wrong["confirmed"]:
            lines += ["", f"{wrong['procedure']}, {wrong['step']}: {wrong['value']}, true {wrong['truth']}"]
            lines += [f"  {turn}" for turn in wrong["story"][-8:]]
    return "\n".join(lines)
