"""Slow speakers over a real audio path: answers with pauses in them, and whether sayso took one for ended."""

from __future__ import annotations

import contextlib
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.sayso_program import SaysoProgram
from sayso.bench.sound_watch import SoundWatch
from sayso.bench.speech_source import SpeechSource
from sayso.bench.technician import LostThreadError, Reply, Technician
from sayso.hearing.recordings import RATE, read_sound
from sayso.hearing.slow_speech import GROUPED_SERIAL, HALTING_NUMBER, Manner
from sayso.record.store import open_store

#: engine, voice, words a minute: the last two draw their words out as well
VOICES = (
    ("espeak-ng", "en-gb", 140),
    ("flite", "slt", 0),
    ("espeak-ng", "en-us", 95),
    ("espeak-ng", "en-gb", 80),
)
ROUNDS = 8
#: Decided earlier than this before the speaker ended: cut off.
MARGIN_S = 0.05
LIMIT_S = 300.0
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
UNITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


@dataclass(frozen=True, slots=True)
class SlowSpeech:
    """`pauses_s`: inside a group and between groups, drawn evenly between the bounds."""

    manner: str
    pauses_s: tuple[tuple[float, float], tuple[float, float]]
    answers: int
    cut_off: int

    def as_json(self) -> dict[str, Any]:
        return asdict(self)


ONE_WORD = Manner("one word, drawn out", (1,), (0.0, 0.0), (0.0, 0.0))


def slow_speakers(model: str | None = None) -> list[SlowSpeech]:
    """Takes about three minutes. Raises PrivateAudioError or SpeechSourceError."""
    with tempfile.TemporaryDirectory(prefix="sayso-slow-") as name, PrivateAudio() as audio:
        folder = Path(name)
        audio.add_room_tone()
        job, script, source = _job(folder)
        store = folder / "slow.sqlite"
        arguments = ["run", str(job), "--store", str(store), *(["--model", model] if model else [])]
        with (
            SoundWatch(audio.environment, "speaker.monitor") as loudspeaker,
            SoundWatch(audio.environment, "mic.monitor") as microphone,
            SaysoProgram(arguments, audio.environment, keyboard=True) as program,
        ):
            technician = Technician(
                audio, program, source, loudspeaker, microphone, patience_s=(6.0,), uses_keys=True
            )
            with contextlib.suppress(LostThreadError):
                technician.work(script, timeout_s=LIMIT_S, until="put the tools away")
            time.sleep(0.3)
            spans = [
                (
                    turn.said,
                    turn.began,
                    microphone.last_sound_between(turn.began, turn.ended + 0.2) or turn.ended,
                )
                for turn in technician.turns
            ]
        decided = _decided(store)
    to_epoch = time.time() - time.monotonic()
    out = []
    for manner in (ONE_WORD, HALTING_NUMBER, GROUPED_SERIAL):
        own = [span for span in spans if _manner(span[0]) is manner]
        cut = sum(
            any(began + to_epoch < at < ended + to_epoch - MARGIN_S for at in decided)
            for _, began, ended in own
        )
        out.append(SlowSpeech(manner.name, (manner.inside, manner.between), len(own), cut))
    return out


def _manner(said: str) -> Manner:
    return {1: ONE_WORD, 2: HALTING_NUMBER}.get(len(said.split()), GROUPED_SERIAL)


def _decided(store: Path) -> list[float]:
    """When sayso took an utterance for ended, in seconds of the system's clock."""
    with contextlib.closing(open_store(store, read_only=True)) as record:
        row = record.jobs()[0]
        events = [entry.data for entry in record.entries(row.job, kinds=("event",))]
    return [e["at_ms"] / 1000 for e in events if e["type"] in ("Heard", "NoMatch") and not e.get("typed")]


def _job(folder: Path) -> tuple[Path, list[Reply], SpeechSource]:
    """A job that asks for a sign, a number and a serial in each round, and how each is said haltingly."""
    rng = np.random.default_rng(8)
    rounds = [str(n) for n in range(1, ROUNDS + 1)]
    listed = ", ".join(f'"{n}"' for n in rounds)
    job = folder / "slow.yaml"
    job.write_text(
        "procedure: slow\ntitle: Bench of slow speakers\nrevision: 1\nsteps:\n"
        f"  - for_each: {{round: [{listed}]}}\n    steps:\n"
        "      - {id: open-<round>, say: Open cover <round>.}\n"
        "      - {id: pins-<round>, say: Count the pins of plug <round>.,\n"
        "         ask: {count: pins_<round>, from: 6, to: 99}}\n"
        "      - {id: serial-<round>, say: Read the serial of plug <round>.,\n"
        '         ask: {serial: serial_<round>, pattern: "[A-Z]{2}[0-9]{6}"}}\n'
        "  - {id: tidy, say: Put the tools away.}\n",
        encoding="utf-8",
    )
    recordings: dict[str, Path] = {}
    script = [Reply(r"yes\?$", "yes", times=999)]
    for number, round_ in enumerate(rounds):
        voice = VOICES[number % len(VOICES)]
        count = f"{rng.choice(TENS)} {rng.choice(UNITS)}"
        serial = " ".join(("hotel", "kilo", *rng.choice(UNITS, 6)))
        for text, manner in (("done", ONE_WORD), (count, HALTING_NUMBER), (serial, GROUPED_SERIAL)):
            recordings.setdefault(text, _haltingly(text, manner, voice, folder, rng))
        name = rf"(?:{UNITS[number]}|{round_})"
        script += [
            Reply(rf"open cover {name}\b", "done", times=99),
            Reply(rf"pins of plug {name}\b", count, times=99),
            Reply(rf"serial of plug {name}\b", serial, times=99),
        ]
    return job, script, SpeechSource(folder, recordings=tuple(recordings.items()))


def _haltingly(
    text: str, manner: Manner, voice: tuple[str, str, int], folder: Path, rng: np.random.Generator
) -> Path:
    engine, name, speed = voice
    into = folder / f"{engine}-{name}-{speed}"
    into.mkdir(exist_ok=True)
    source = SpeechSource(into, engine, name, speed or 140)
    words = iter(text.split())
    parts: list[np.ndarray] = []
    for group, size in enumerate(manner.groups):
        for place in range(size):
            if place or group:
                low, high = manner.inside if place else manner.between
                parts.append(np.zeros(int(rng.uniform(low, high) * RATE)))
            parts.append(read_sound(source.file(next(words))))
    path = into / f"halting-{text.replace(' ', '-')}.wav"
    soundfile.write(path, np.concatenate(parts), RATE, subtype="PCM_16")
    return path
