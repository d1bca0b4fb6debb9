"""What sayso accepts in workshop noise, on a real audio path: right and wrong ones, read-backs, extra turns.

At every noise level a scripted technician does the bench's job by voice and puts right what was misheard, as
a person would. Levels run side by side, each on a private sound server.
"""

from __future__ import annotations

import contextlib
import re
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sayso.bench.measuring import JOB, KINDS, LAST_STEP
from sayso.bench.private_audio import PrivateAudio
from sayso.bench.sayso_program import SaysoProgram
from sayso.bench.sound_watch import SoundWatch
from sayso.bench.speech_source import SpeechSource
from sayso.bench.technician import READ_BACK, LostThreadError, Reply, Technician
from sayso.hearing.recordings import RATE, read_sound
from sayso.hearing.workshop_noise import NOISES, speech_power
from sayso.record.store import open_store

#: dB of speech over noise at the microphone; None is the quiet room.
LEVELS: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0, 0.0)
#: engine and voice of the technicians: each does the job once at each level.
VOICES = (("espeak-ng", "en-gb"), ("flite", "slt"))
#: What the record must hold for what the technician means, by the beginning of the answer's name.
MEANT = {"lights": True, "pins": 8, "volts": 3, "serial": "HK1234"}
#: At which each noise is tried by itself: the level at which they differ most.
BY_ITSELF_DB = 10.0
#: Longest that a job may take; in loud noise not all of it is done by then.
LIMIT_S = 330.0
NOISE_S = 40
#: Without any reply the answer is said again after so many seconds, twice; then the keys are used.
PATIENCE_S = (4.0, 4.0)


#: dB of speech over noise (None: a quiet room), and the kind of noise ('': all in turn).
Condition = tuple[float | None, str]


@dataclass(frozen=True, slots=True)
class Point:
    """One condition over all voices. `turns` of the technician; `needed`: when all is heard at once.
    `noise`: one kind of noise, or '' for all kinds in turn."""

    snr_db: float | None
    noise: str
    asked: int
    right: int
    wrong: int
    read_backs: int
    turns: int
    needed: int
    by_keys: int

    @property
    def accepted_right(self) -> float:
        """Share of the accepted answers that were meant."""
        return self.right / max(1, self.right + self.wrong)

    @property
    def extra_turns(self) -> float:
        """Turns beyond the needed ones, for an accepted answer."""
        return (self.turns - self.needed) / max(1, self.right + self.wrong)

    def as_json(self) -> dict[str, Any]:
        return {
            "snr_db": self.snr_db, **({"noise": self.noise} if self.noise else {}),
            "asked": self.asked, "accepted_right": self.right, "accepted_wrong": self.wrong,
            "read_backs": self.read_backs, "turns": self.turns, "turns_needed": self.needed,
            "by_keys": self.by_keys,
            "extra_turns_per_answer": round(self.extra_turns, 3),
        }  # fmt: skip


def noise_curve(
    levels: Sequence[float | None] = LEVELS, *, model: str | None = None, at_once: int = 5
) -> list[Point]:
    """All kinds of noise in turn, at each level. Takes three to six minutes for each voice.

    Raises PrivateAudioError or SpeechSourceError."""
    return _points([(level, "") for level in levels], model, at_once)


def each_noise(snr_db: float = BY_ITSELF_DB, *, model: str | None = None, at_once: int = 4) -> list[Point]:
    """Each kind of noise by itself: what to keep away from first. Time and errors as `noise_curve`."""
    return _points([(snr_db, kind) for kind in NOISES], model, at_once)


def _points(conditions: Sequence[Condition], model: str | None, at_once: int) -> list[Point]:
    with (
        tempfile.TemporaryDirectory(prefix="sayso-noise-") as name,
        ThreadPoolExecutor(at_once) as pool,
    ):
        runs = [
            (condition, pool.submit(_job, condition, *voice, Path(name), model))
            for voice in VOICES
            for condition in conditions
        ]
        done = [(condition, run.result()) for condition, run in runs]
    return [_together(one, [p for condition, p in done if condition == one]) for one in conditions]


def _together(condition: Condition, points: Sequence[Point]) -> Point:
    def total(name: str) -> int:
        return sum(int(getattr(p, name)) for p in points)

    return Point(*condition, *(total(n) for n in list(Point.__dataclass_fields__)[len(condition) :]))


def _job(condition: Condition, engine: str, voice: str, folder: Path, model: str | None) -> Point:
    snr_db, kind = condition
    mark = f"{'quiet' if snr_db is None else int(snr_db)}-{kind.replace(' ', '-')}-{engine}"
    store = folder / f"{mark}.sqlite"
    speech = SpeechSource(folder / mark, engine=engine, voice=voice)
    speech.folder.mkdir()
    arguments = ["run", str(JOB), "--store", str(store), *(["--model", model] if model else [])]
    answers = {asked.said: speech.file(asked.said) for asked in KINDS}
    answers["no"] = speech.file("no")
    power = float(np.median([speech_power(read_sound(path)) for path in answers.values()]))
    with PrivateAudio() as audio:
        audio.add_room_tone()
        if snr_db is not None:
            audio.add_sound(_noise(kind, power / 10 ** (snr_db / 10)))
        with (
            SoundWatch(audio.environment, "speaker.monitor") as loudspeaker,
            SoundWatch(audio.environment, "mic.monitor") as microphone,
            SaysoProgram(arguments, audio.environment, keyboard=True) as program,
        ):
            technician = Technician(
                audio, program, speech, loudspeaker, microphone, patience_s=PATIENCE_S, uses_keys=True
            )
            with contextlib.suppress(LostThreadError):
                technician.work(_script(), timeout_s=LIMIT_S, until=LAST_STEP)
            time.sleep(0.5)
            read_backs = sum(
                bool(re.search(READ_BACK, line.text, re.IGNORECASE)) for line in program.said_since(0)
            )
    return _point(condition, store, read_backs, len(technician.turns), technician.keyed)


def _point(condition: Condition, store: Path, read_backs: int, turns: int, keyed: int) -> Point:
    """Answers that came by the keys count for nothing here but their number."""
    with contextlib.closing(open_store(store, read_only=True)) as record:
        row = record.jobs()[0]
        entries = record.entries(row.job, kinds=("event", "answer", "answer_changed"))
    right = wrong = needed = 0
    typed = False
    for entry in entries:
        if entry.kind == "event":
            typed = bool(entry.data.get("typed"))
            continue
        if typed:
            continue
        name = str(entry.data.get("name", "")).split("_")[0]
        same = entry.data.get("value") == MEANT.get(name, True)
        right += same
        wrong += not same
        needed += 2 if name == "serial" else 1
    return Point(*condition, right + wrong + keyed, right, wrong, read_backs, turns, needed, keyed)


def _script() -> list[Reply]:
    """A read-back of the meant value gets a yes, any other a no; then the question is answered again."""
    said = "|".join(
        (
            r"^eight\.",
            r"^three volts\.",
            r"^hotel kilo, one two, three four\.",
            r"^hotel kilo, one two three four\.",
        )
    )
    return [
        Reply(rf"(?:{said}|done\.|^yes\.).*yes\?$", "yes", times=99),
        Reply(r"yes\?$|is it what you read", "no", times=99),
        *(Reply(kind.prompt, kind.said, times=99) for kind in KINDS[:-1]),
    ]


def _noise(kind: str, power: float) -> np.ndarray:
    """One kind of noise, or with '' all of them in turn, each of the same mean power."""
    rng = np.random.default_rng(8)
    makers = [NOISES[kind]] if kind else list(NOISES.values())
    parts = []
    for make in makers:
        sound = make(rng, NOISE_S // len(makers) * RATE)
        parts.append(sound * np.sqrt(power / max(float((sound**2).mean()), 1e-12)))
    return np.concatenate(parts)
