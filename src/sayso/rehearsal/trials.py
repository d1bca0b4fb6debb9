"""What the model made of words that people say in jobs: every try measured, none invented.

Kept as `trials.json` beside the model. (`confusions.json` there is another thing: shares over recordings, for
the check of words that sound alike.)
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from sayso.hearing.errors import HearingError
from sayso.hearing.speech_model import graph_file

FILE = "trials.json"
#: Instead of words: somebody spoke and nothing legal was heard; nothing was noticed at all.
NO_MATCH, NOTHING = "(no match)", "(nothing)"
CONDITIONS: Mapping[str, float | None] = {"clean": None, "10": 10.0, "0": 0.0}


class TrialsError(HearingError):
    """No measurement, or a file that is none."""


@dataclass(frozen=True, slots=True)
class Try:
    """One thing said once. `voice` indexes `Trials.voices`; `noisy`: the ear found the place loud."""

    question: str
    said: str
    heard: str
    voice: int
    confidence: float
    noisy: bool

    @property
    def right(self) -> bool:
        return self.heard == self.said


@dataclass(frozen=True)
class Trials:
    """`model`: first 12 hex digits of the SHA-256 over acoustic model and graph; `tries` by condition."""

    model: str
    voices: tuple[str, ...]
    tries: Mapping[str, tuple[Try, ...]]


def model_hash(model: Path) -> str:
    files = [f for f in (model / "am" / "final.mdl", model / "final.mdl") if f.is_file()]
    if not files:
        raise TrialsError(f"{model}: holds no am/final.mdl")
    graph = graph_file(model, "HCLr.fst")
    found = hashlib.sha256()
    for file in (files[0], *([graph] if graph.is_file() else [])):
        found.update(file.read_bytes())
    return found.hexdigest()[:12]


def write(trials: Trials, file: Path) -> None:
    """question -> said -> heard -> [voice, confidence in hundredths, noisy 0/1] of each try."""
    conditions = {name: _nested(tries) for name, tries in trials.tries.items()}
    body = {"model": trials.model, "voices": list(trials.voices)}
    lines = [
        f"{json.dumps(name)}: {{\n"
        + ",\n".join(f"{json.dumps(key)}: {_short(rows)}" for key, rows in sorted(questions.items()))
        + "\n}"
        for name, questions in conditions.items()
    ]
    head = json.dumps(body, indent=1)[:-2]
    file.write_text(f'{head},\n "conditions": {{\n' + ",\n".join(lines) + "\n}}\n", encoding="utf-8")


def read(file: Path) -> Trials:
    """Raises TrialsError when there is no such file or it does not hold trials."""
    if not file.is_file():
        raise TrialsError(f"{file}: not there; measure it with 'sayso trials'")
    try:
        body = json.loads(file.read_text(encoding="utf-8"))
        tries = {
            name: tuple(
                Try(question, said, heard, voice, hundredths / 100, bool(noisy))
                for question, rows in questions.items()
                for said, outcomes in rows.items()
                for heard, each in outcomes.items()
                for voice, hundredths, noisy in each
            )
            for name, questions in body["conditions"].items()
        }
        return Trials(body["model"], tuple(body["voices"]), tries)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise TrialsError(f"{file}: holds no trials ({error}); measure anew with 'sayso trials'") from error


def _nested(tries: Iterable[Try]) -> dict[str, dict[str, dict[str, list[tuple[int, int, int]]]]]:
    found: dict[str, dict[str, dict[str, list[tuple[int, int, int]]]]] = {}
    for t in tries:
        rows = found.setdefault(t.question, {}).setdefault(t.said, {}).setdefault(t.heard, [])
        rows.append((t.voice, round(100 * t.confidence), int(t.noisy)))
    return found


def _short(rows: object) -> str:
    return json.dumps(rows, separators=(",", ":"), ensure_ascii=False)
