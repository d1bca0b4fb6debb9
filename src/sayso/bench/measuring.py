"""Runs the bench's job over private audio and takes the times between what is spoken and what is heard."""

from __future__ import annotations

import contextlib
import platform
import re
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import psutil

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.sayso_program import SaysoProgram
from sayso.bench.sound_watch import SoundWatch
from sayso.bench.speech_source import SpeechSource
from sayso.bench.technician import Reply, Technician
from sayso.hearing.endpoint import SILENCES

JOB = Path(__file__).with_name("bench-job.yaml")
#: A reply later than this was no reply to that turn (the word was not understood and it waits).
NO_REPLY_S = 4.0
STOP_ROUNDS = 6
#: The job is left there, still running, so that its memory can be read.
LAST_STEP = "put the tools away"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of question: what is said to it, and the silence after which its answer counts as ended."""

    name: str
    said: str
    prompt: str
    endpoint_s: float


KINDS = (
    Kind("done", "done", "open the cover", SILENCES["short"].settled),
    Kind("yes or no", "yes", "do the lights work", SILENCES["short"].settled),
    Kind("count", "eight", "count the pins", SILENCES["number"].settled),
    Kind("measure", "three volts", "measure the voltage", SILENCES["number"].settled),
    Kind("serial", "hotel kilo one two three four", "read the serial", SILENCES["spelled"].settled),
    Kind("read-back", "yes", r"yes\?$", SILENCES["short"].settled),
)


@dataclass
class Times:
    """All in seconds. `replies`: end of speech to first sound of the reply, by kind of question."""

    replies: dict[str, list[float]] = field(default_factory=dict)
    first_word: list[float] = field(default_factory=list)
    stop_from_end: list[float] = field(default_factory=list)
    stop_from_start: list[float] = field(default_factory=list)
    memory_mb: float = 0.0
    cpu_share: float = 0.0
    machine: str = ""
    speech: str = ""
    load_before: float = 0.0

    def as_json(self) -> dict[str, Any]:
        return asdict(self)


def measure(speech: str = "en-gb", *, model: str | None = None) -> Times:
    """The whole bench; takes four to five minutes. Raises PrivateAudioError or SpeechSourceError."""
    times = Times(machine=this_machine(), speech=f"espeak-ng {speech} (synthetic)")
    times.load_before = psutil.getloadavg()[0]
    with tempfile.TemporaryDirectory(prefix="sayso-bench-") as name, PrivateAudio() as audio:
        audio.add_room_tone()
        folder = Path(name)
        source = SpeechSource(folder, voice=speech)
        for kind in KINDS:  # rendered before anything is timed
            source.file(kind.said)
        source.file("stop")
        _replies(audio, source, folder, times, model)
        _stops(audio, source, folder, times, model)
    return times


def percentile_95(values: list[float]) -> float:
    return quantiles(values, n=20, method="inclusive")[-1] if len(values) > 1 else values[0]


def summary(values: list[float]) -> tuple[int, float, float]:
    """Count, median and 95th percentile."""
    return len(values), median(values), percentile_95(values)


def this_machine() -> str:
    name = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.is_file():
        models = [
            line.split(":")[1].strip() for line in info.read_text().splitlines() if "model name" in line
        ]
        name = models[0] if models else name
    return f"{name}, {psutil.cpu_count()} CPUs, {platform.system()} {platform.release()}"


def _replies(
    audio: PrivateAudio, source: SpeechSource, folder: Path, times: Times, model: str | None
) -> None:
    with _technician(audio, source, folder / "replies.sqlite", False, model) as technician:
        first = technician.loudspeaker.wait_for_sound(60.0, technician.program.started)
        if first is not None:
            times.first_word.append(first - technician.program.started)
        script = [Reply(kind.prompt, kind.said, times=99) for kind in KINDS[:-1]]
        script.insert(0, Reply(KINDS[-1].prompt, KINDS[-1].said, times=99))
        used_before, _ = _usage(technician.program)
        began = time.monotonic()
        technician.work(script, timeout_s=420, until=LAST_STEP)
        used, times.memory_mb = _usage(technician.program)
        times.cpu_share = (used - used_before) / (time.monotonic() - began)
        for turn in technician.turns:
            spoken = technician.microphone.last_sound_between(turn.began, turn.ended + 0.2)
            reply = technician.loudspeaker.first_sound(spoken) if spoken is not None else None
            kind = _kind_of(turn.prompt)
            if spoken is not None and reply is not None and kind and reply - spoken < NO_REPLY_S:
                times.replies.setdefault(kind, []).append(reply - spoken)


def _stops(audio: PrivateAudio, source: SpeechSource, folder: Path, times: Times, model: str | None) -> None:
    """'stop' said while the voice speaks, with a headset: how long until it is silent."""
    for number in range(STOP_ROUNDS):
        with _technician(audio, source, folder / f"stop-{number}.sqlite", True, model) as technician:
            first = technician.loudspeaker.wait_for_sound(60.0, technician.program.started)
            if first is None:
                continue
            times.first_word.append(first - technician.program.started)
            time.sleep(0.6)  # well inside the title
            turn = technician.say("stop")
            began = technician.microphone.first_sound(turn.began)
            ended = technician.microphone.last_sound_between(turn.began, turn.ended + 0.2)
            if began is None or ended is None:
                continue
            # the question 'stop for good?' follows some 0.2 s after the cut
            silent = technician.loudspeaker.silent_from(began, gap_s=0.1, within_s=3.0)
            if silent is not None:
                times.stop_from_start.append(silent - began)
                times.stop_from_end.append(silent - ended)


def _kind_of(prompt: str) -> str:
    for kind in reversed(KINDS):
        if re.search(kind.prompt, prompt, re.IGNORECASE):
            return kind.name
    return ""


@contextlib.contextmanager
def _technician(
    audio: PrivateAudio, source: SpeechSource, store: Path, headset: bool, model: str | None
) -> Iterator[Technician]:
    """sayso on the bench's job, with a technician in its room."""
    arguments = ["run", str(JOB), "--store", str(store), *(["--headset"] if headset else [])]
    arguments += ["--model", model] if model else []
    with (
        SoundWatch(audio.environment, "speaker.monitor") as loudspeaker,
        SoundWatch(audio.environment, "mic.monitor") as microphone,
    ):
        time.sleep(0.3)  # the watchers run before the clock does
        with SaysoProgram(arguments, audio.environment) as program:
            yield Technician(audio, program, source, loudspeaker, microphone)


def _usage(program: SaysoProgram) -> tuple[float, float]:
    """Seconds of processor used so far and megabytes held now, by sayso and its voice together."""
    process = psutil.Process(program.process.pid)
    family = (process, *process.children(recursive=True))
    seconds = sum(one.cpu_times().user + one.cpu_times().system for one in family)
    return seconds, sum(_own_bytes(one) for one in family) / 1e6


def _own_bytes(process: psutil.Process) -> int:
    """Its share of memory: pages that several processes use are counted once (only Linux can tell)."""
    full = process.memory_full_info()
    return int(getattr(full, "pss", full.rss))
