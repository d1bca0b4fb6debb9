"""Talk and sayso's own prompts over a real audio path: which answers and orders were taken that nobody gave.

Time is bought with machines: `shards` private sound servers run side by side, each with a job of its own.
"""

from __future__ import annotations

import contextlib
import re
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from sayso import procedure
from sayso.bench.overheard import Taken, job_text, taken
from sayso.bench.private_audio import PrivateAudio, PrivateAudioError
from sayso.bench.sayso_program import Line, SaysoProgram
from sayso.bench.sound_watch import SoundWatch
from sayso.bench.talk import Half, Said, room_response, talk
from sayso.dialogue.codec import event_from_json
from sayso.dialogue.events import BargeIn, Event, NoMatch
from sayso.hearing.recordings import RATE
from sayso.procedure.model import Procedure
from sayso.record.store import open_store
from sayso.session.places import procedures_folder

#: Kinds of question that are open in turn, shard by shard. Most of a job's time a step waits for 'done'.
OPEN_QUESTIONS = ("done", "yes or no", "count", "choice", "torque", "serial")
#: Echo at the microphone against the loudspeaker: a box across the bench .. a laptop's own loudspeaker.
ECHO_GAINS = (0.1, 0.25, 0.5, 1.0)
#: Said on the keyboard at each question, so that sayso talks on: nobody speaks in this room.
TALKATIVE = ("repeat", "why", "what can i say", "how far am i", "say the warning")
#: The keyboard is used when the voice has been silent for this long.
QUIET_S = 1.0
START_S = 60.0


@dataclass(frozen=True, slots=True)
class Overheard:
    """What one stream of sound led to. `minutes` of sound; `voice_s` of it sayso's own voice."""

    what: str
    minutes: float
    taken: tuple[Taken, ...]
    causes: tuple[str, ...]
    not_understood: int
    barge_ins: int
    voice_s: float = 0.0
    title: str = ""
    #: the room's echo came so much later than air brings it, at worst: what was taken then is no measure
    room_late_s: float = 0.0

    @property
    def accepted(self) -> tuple[Taken, ...]:
        return tuple(t for t in self.taken if t.what != "asked back")


@dataclass(frozen=True, slots=True)
class Tally:
    """All streams of one kind together."""

    what: str
    minutes: float
    answers: int
    orders: int
    asked_back: int
    not_understood: int
    barge_ins: int
    voice_minutes: float

    @property
    def per_hour(self) -> float:
        return 60 * (self.answers + self.orders) / self.minutes if self.minutes else 0.0


def tally(streams: Sequence[Overheard]) -> tuple[Tally, ...]:
    """One line for each kind of stream."""
    out = []
    for what in dict.fromkeys(s.what for s in streams):
        own = [s for s in streams if s.what == what]
        kinds = [t.what for s in own for t in s.taken]
        out.append(
            Tally(
                what, sum(s.minutes for s in own), kinds.count("answer"), kinds.count("order"),
                kinds.count("asked back"), sum(s.not_understood for s in own),
                sum(s.barge_ins for s in own), sum(s.voice_s for s in own) / 60,
            )
        )  # fmt: skip
    return tuple(out)


def as_json(streams: Sequence[Overheard]) -> dict[str, Any]:
    lines = [{**asdict(t), "per_hour": round(t.per_hour, 2)} for t in tally(streams)]
    return {"tally": lines, "streams": [asdict(s) for s in streams]}


def talk_nearby(
    minutes: float,
    *,
    half: Half = "B",
    shards: int = 4,
    seed: int = 1,
    model: str | None = None,
    recordings: Path | None = None,
    headset: bool = True,
) -> list[Overheard]:
    """`minutes` of talk in all, to jobs that are awake and again to jobs on hold, `shards` streams at once.

    Takes minutes / shards. Raises PrivateAudioError or SpeechSourceError.
    """
    with tempfile.TemporaryDirectory(prefix="sayso-talk-") as name:
        folder = Path(name)
        streams = []
        for shard in range(shards):
            made = talk(half, minutes / shards, seed + shard, folder / "speech", recordings)
            path = folder / f"talk-{shard}.wav"
            soundfile.write(path, made.sound, RATE, subtype="PCM_16")
            streams += [(path, made.said, shard, held) for held in (False, True)]
        with ThreadPoolExecutor(len(streams)) as pool:
            runs = [pool.submit(_to_one_job, *stream, folder, model, headset) for stream in streams]
            return [run.result() for run in runs]


def own_prompts(
    minutes: float, *, shards: int = 4, seed: int = 1, model: str | None = None, arguments: Sequence[str] = ()
) -> list[Overheard]:
    """Jobs on a loudspeaker that their microphone hears, kept talking from the keyboard, `shards` at once.

    All that is heard there is sayso's own voice. Every shard has a room and an echo level of its own.
    """
    with tempfile.TemporaryDirectory(prefix="sayso-prompts-") as name, ThreadPoolExecutor(shards) as pool:
        runs = [
            pool.submit(_to_itself, minutes / shards, shard, seed, Path(name), model, tuple(arguments))
            for shard in range(shards)
        ]
        return [one for run in runs for one in run.result()]


def _to_one_job(
    path: Path, said: tuple[Said, ...], shard: int, held: bool, folder: Path, model: str | None, headset: bool
) -> Overheard:
    kind = OPEN_QUESTIONS[shard % len(OPEN_QUESTIONS)]
    file = folder / f"{kind.replace(' ', '-')}.yaml"
    file.write_text(job_text(kind), encoding="utf-8")
    store = folder / f"talk-{shard}-{held}.sqlite"
    arguments = ["run", str(file), "--store", str(store), *(["--headset"] if headset else [])]
    arguments += ["--model", model] if model else []
    with PrivateAudio() as audio:
        audio.add_room_tone()
        with (
            SoundWatch(audio.environment, "speaker.monitor") as loudspeaker,
            SaysoProgram(arguments, audio.environment, keyboard=True) as program,
        ):
            loudspeaker.wait_for_sound(START_S, program.started)
            loudspeaker.wait_for_silence(QUIET_S, START_S)
            if held:
                program.type("hold")
                if program.wait_for(lambda line: line.text.startswith("On hold"), 10.0) is None:
                    raise PrivateAudioError(f"the job does not go on hold: {program.errors}")
                loudspeaker.wait_for_silence(QUIET_S, START_S)
            began_ms = time.time() * 1000
            subprocess.run(
                ["paplay", "--latency-msec=100", "-d", "mic", str(path)], env=audio.environment, check=True
            )
            time.sleep(2.0)
    minutes = soundfile.info(path).duration / 60
    what = "talk, job on hold" if held else "talk, job awake"
    heard = _events(store)
    found = procedure.read(file)
    got = tuple(taken(found, heard))
    causes = tuple(_cause(said, (one.at_ms - began_ms) / 1000) for one in got)
    return _overheard(what, minutes, got, causes, heard, title=kind)


def _cause(said: Sequence[Said], at_s: float) -> str:
    """What was last said, or begun to be said, before an answer was taken."""
    before = [one for one in said if one.at_s <= at_s]
    return f"{at_s:.1f} s, {before[-1].source}: {before[-1].text}" if before else f"{at_s:.1f} s"


def _overheard(
    what: str, minutes: float, got: tuple[Taken, ...], causes: tuple[str, ...], events: Sequence[Event],
    voice_s: float = 0.0, title: str = "", room_late_s: float = 0.0,
) -> Overheard:  # fmt: skip
    return Overheard(
        what, round(minutes, 2), got, causes, sum(isinstance(e, NoMatch) for e in events),
        sum(isinstance(e, BargeIn) for e in events), round(voice_s, 1), title, round(room_late_s, 2),
    )  # fmt: skip


def _to_itself(
    minutes: float, shard: int, seed: int, folder: Path, model: str | None, extra: tuple[str, ...]
) -> list[Overheard]:
    rng = np.random.default_rng([seed, shard])
    gain = ECHO_GAINS[shard % len(ECHO_GAINS)]
    room = room_response(rng, float(rng.uniform(0.25, 0.8)), float(rng.uniform(0.0, 12.0)))
    scripts = _scripts()
    out: list[Overheard] = []
    until = time.monotonic() + minutes * 60
    with PrivateAudio() as audio:
        audio.add_room_tone()
        audio.add_echo(room, gain)
        for turn in range(1000):
            left_s = until - time.monotonic()
            if left_s < 5:
                break
            script = scripts[(shard + turn) % len(scripts)]
            store = folder / f"own-{shard}-{turn}.sqlite"
            arguments = [
                "run",
                str(script.procedure),
                "--store",
                str(store),
                "--wrench",
                script.wrench,
                *extra,
            ]
            arguments += ["--model", model] if model else []
            began, began_ms = time.monotonic(), time.time() * 1000
            voice_s, told = _kept_talking(audio, arguments, script.lines, left_s)
            events = _events(store)
            got = tuple(taken(_read(script.procedure), events))
            said = [Said(line.at - began, "its own", line.text) for line in told]
            times = tuple(_cause(said, (one.at_ms - began_ms) / 1000) for one in got)
            out.append(
                _overheard("own prompts", (time.monotonic() - began) / 60, got, times, events, voice_s,
                           f"echo {gain:g}, {script.procedure.stem}", audio.room_late_s)
            )  # fmt: skip
    return out


def _kept_talking(
    audio: PrivateAudio, arguments: Sequence[str], lines: Sequence[str], left_s: float
) -> tuple[float, list[Line]]:
    """Types all that the script answers, with questions of every sort between; seconds of voice, words."""
    began = time.monotonic()
    with (
        SoundWatch(audio.environment, "speaker.monitor") as loudspeaker,
        SaysoProgram(arguments, audio.environment, keyboard=True) as program,
    ):
        loudspeaker.wait_for_sound(START_S, began)
        for line in _talkative(lines):
            while program.running:
                if loudspeaker.wait_for_silence(QUIET_S, min(30.0, left_s)) is not None:
                    break
                if time.monotonic() - began > left_s:
                    break
            if not program.running or time.monotonic() - began > left_s:
                break
            typed = time.monotonic()
            program.type(line)
            loudspeaker.wait_for_sound(2.0, typed)
        return loudspeaker.sounds_between(began, time.monotonic()) * 0.01, program.said_since(0)


def _talkative(lines: Sequence[str]) -> Iterator[str]:
    for line in lines:
        if line not in ("ready", "understood"):
            yield from TALKATIVE
        yield line


@dataclass(frozen=True, slots=True)
class Script:
    procedure: Path
    wrench: str
    lines: tuple[str, ...]


def _scripts() -> tuple[Script, ...]:
    """The scripted jobs that come with the demo procedures: what the technician answers there."""
    out = []
    for path in sorted((procedures_folder() / "jobs").glob("*.txt")):
        text = path.read_text(encoding="utf-8")
        head = dict(re.findall(r"^(procedure|wrench): *(.+)$", text, re.MULTILINE))
        lines = tuple(re.findall(r"^you: *(.+)$", text, re.MULTILINE))
        out.append(Script((path.parent / head["procedure"]).resolve(), head.get("wrench", "N.m"), lines))
    return tuple(out)


def _read(path: Path) -> Procedure:
    return procedure.read(path)


def _events(store: Path) -> list[Event]:
    with contextlib.closing(open_store(store, read_only=True)) as record:
        row = record.jobs()[0]
        return [event_from_json(entry.data) for entry in record.entries(row.job, kinds=("event",))]
