"""Measures engines on recordings: accuracy clean and in noise, false accepts, speed, and as in a job."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sayso.hearing.calibration import Bin, Features, reliability
from sayso.hearing.endpoint import Completeness, CompletenessOf, Pace, Whole, anything_goes
from sayso.hearing.engines import Engine, VoskEngine
from sayso.hearing.hearing_events import Final, NoMatch
from sayso.hearing.listening import Listener
from sayso.hearing.recordings import RATE, Recording, read_sound, to_pcm
from sayso.hearing.scores import (
    Interval,
    Scored,
    confusions,
    heard_as,
    score,
    sentence_error,
    word_error,
)
from sayso.hearing.voice_activity import FRAME, VoiceActivity
from sayso.hearing.workshop_noise import NOISES, with_noise

#: None is the recording as it is.
DEFAULT_SNRS: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0, 0.0)
#: Silence put around each recording, as between the turns of a job.
LEAD_S, TAIL_S = 0.6, 2.0
#: Silence after talk, longer than any that ends a short answer.
DECIDED_S = 1.3
#: Recordings are of a room, so the silence around them is not digital: very soft noise at this level.
ROOM_DBFS = -70.0

Sound = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Row:
    """One engine at one noise level. `cpu` is CPU seconds per second of audio on one core."""

    engine: str
    snr_db: float | None
    utterances: int
    words: int
    word_error: Interval
    sentence_error: Interval
    confusions: tuple[tuple[str, str, int], ...]
    rejected: int
    cpu: float
    scored: tuple[Scored, ...] = field(repr=False, default=())
    promised: tuple[float, ...] = field(repr=False, default=())
    features: tuple[Features, ...] = field(repr=False, default=())


@dataclass(frozen=True, slots=True)
class FalseAccepts:
    """Answers taken from sound that was not meant for sayso."""

    engine: str
    hours: float
    accepted: int
    rejected: int
    words: tuple[tuple[str, int], ...]
    features: tuple[Features, ...] = field(repr=False, default=())

    @property
    def per_hour(self) -> float:
        return self.accepted / self.hours if self.hours else 0.0


@dataclass(frozen=True, slots=True)
class AsInAJob:
    """The whole path with sayso's own endpointing. Delays are seconds from the end of speech to the decision.

    cut_off: utterances of which more than one final result came, or whose result came before speech ended.
    """

    engine: str
    snr_db: float | None
    utterances: int
    right: Interval
    cut_off: int
    nothing: int
    delay_median: float
    delay_p95: float
    delays: tuple[float, ...] = field(repr=False, default=())
    promised: tuple[float, ...] = field(repr=False, default=())
    correct: tuple[bool, ...] = field(repr=False, default=())
    features: tuple[Features, ...] = field(repr=False, default=())


def vocabulary(recordings: Sequence[Recording]) -> tuple[str, ...]:
    """All words that are said: a grammar in which they may follow one another in any order."""
    return tuple(sorted({word for r in recordings for word in r.words or ()}))


def phrases_said(recordings: Sequence[Recording]) -> tuple[str, ...]:
    return tuple(sorted({" ".join(r.words) for r in recordings if r.words}))


def room(count: int, seed: int) -> Sound:
    return np.asarray(np.random.default_rng(seed).standard_normal(count) * 10 ** (ROOM_DBFS / 20))


def noisy_copy(sound: Sound, snr_db: float | None, index: int) -> Sound:
    """The recording with lead and tail, in noise of a kind that goes round by `index`; always the same."""
    padded = np.concatenate((np.zeros(int(LEAD_S * RATE)), sound, np.zeros(int(0.5 * RATE))))
    if snr_db is None:
        return padded + room(len(padded), index)
    kind = list(NOISES)[index % len(NOISES)]
    return with_noise(padded, kind, snr_db, [index, int(snr_db) + 100])


def measure(
    engine: Engine, recordings: Sequence[Recording], phrases: Sequence[str], snr_db: float | None
) -> Row:
    """Accuracy on whole recordings (their ends are given, not found)."""
    engine.prepare(phrases)
    scored, promised, features = [], [], []
    cpu = audio = 0.0
    rejected = 0
    for index, recording in enumerate(recordings):
        sound = noisy_copy(read_sound(recording.path), snr_db, index)
        pcm = to_pcm(sound)
        begin = time.process_time()
        found = engine.transcribe(pcm)
        cpu += time.process_time() - begin
        audio += len(sound) / RATE
        scored.append(score(recording.words or (), found.words))
        rejected += found.rejected
        promised.append(found.confidence)
        features.append(
            Features(
                found.confidence, found.seconds_per_word, 40.0 if snr_db is None else snr_db, found.unknown,
                len(found.words),
            )
        )  # fmt: skip
    return Row(
        engine=engine.name,
        snr_db=snr_db,
        utterances=len(scored),
        words=sum(len(s.said) for s in scored),
        word_error=word_error(scored),
        sentence_error=sentence_error(scored),
        confusions=confusions(scored),
        rejected=rejected,
        cpu=cpu / max(audio, 1e-9),
        scored=tuple(scored),
        promised=tuple(promised),
        features=tuple(features),
    )


def speech_end(sound: Sound) -> float:
    """When speech ends in a clean recording, in seconds: its last frame that carries voice or friction."""
    activity = VoiceActivity()
    samples = np.clip(sound * 32768, -32768, 32767).astype("<i2")
    last = 0.0
    before = 0.0
    for at in range(0, len(samples) - FRAME + 1, FRAME):
        now = activity.feed(samples[at : at + FRAME].tobytes())
        if now.speech_s > before:
            last = (at + FRAME) / RATE
            before = now.speech_s
    return last


def one_of(phrases: Sequence[str]) -> CompletenessOf:
    """Completeness for a closed list of phrases."""
    whole = {tuple(p.split()) for p in phrases}

    def completeness(words: Sequence[str]) -> Completeness:
        said = tuple(words)
        longer = any(len(p) > len(said) and p[: len(said)] == said for p in whole)
        return Whole(said in whole, longer)

    return completeness


def measure_as_in_a_job(
    engine: VoskEngine,
    recordings: Sequence[Recording],
    phrases: Sequence[str],
    snr_db: float | None,
    *,
    pace: Pace,
    completeness: CompletenessOf = anything_goes,
    uncalibrated: bool = False,
) -> AsInAJob:
    """Through the listener: voice activity, endpoint, rejection and confidence as when a job is done."""
    engine.prepare(phrases)
    delays, promised, correct, features = [], [], [], []
    cut = nothing = 0
    scored = []
    for index, recording in enumerate(recordings):
        clean = read_sound(recording.path)
        sound = noisy_copy(clean, snr_db, index)
        end = LEAD_S + speech_end(clean + room(len(clean), index))
        listener = _listener(engine, uncalibrated)
        # the room before the question was asked: the noise floor is known when a person answers
        before = noisy_copy(np.zeros(RATE), None, index) if snr_db is None else sound[: int(LEAD_S * RATE)]
        listener.feed(to_pcm(np.concatenate((before, before))))
        shift = listener.now_s
        finals: list[Final | NoMatch] = []
        listener.listen(phrases, pace=pace, completeness=completeness)
        silence = sound[-int(0.4 * RATE) :]
        tail = np.tile(silence, int(TAIL_S / 0.4) + 1)
        for event in _relisten(listener, to_pcm(np.concatenate((sound, tail))), phrases, pace, completeness):
            finals.append(event)
        heard = tuple(w for f in finals if isinstance(f, Final) for w in f.words)
        result = score(recording.words or (), heard)
        scored.append(result)
        first = next((f for f in finals if isinstance(f, Final)), None)
        if first is None:
            nothing += 1
            continue
        early = first.at_s - shift < end - 0.05
        pieces = sum(isinstance(f, Final) for f in finals)
        if pieces > 1 or early:
            cut += 1
        else:
            delays.append(first.at_s - shift - end)
        promised.append(first.confidence)
        correct.append(first.words == recording.words)
        if first.features is not None:
            features.append(first.features)
    wrong = sentence_error(scored)
    return AsInAJob(
        engine=engine.name,
        snr_db=snr_db,
        utterances=len(scored),
        right=Interval(1 - wrong.value, 1 - wrong.high, 1 - wrong.low),
        cut_off=cut,
        nothing=nothing,
        delay_median=float(np.median(delays)) if delays else float("nan"),
        delay_p95=float(np.quantile(delays, 0.95)) if delays else float("nan"),
        delays=tuple(round(d, 3) for d in delays),
        promised=tuple(promised),
        correct=tuple(correct),
        features=tuple(features),
    )


def _listener(engine: VoskEngine, uncalibrated: bool) -> Listener:
    if uncalibrated:
        return Listener(engine.recogniser, ear="open", calibration=None)
    return Listener(engine.recogniser, ear="open")


def exactly(count: int) -> CompletenessOf:
    """Completeness of an answer that has so many words (a serial whose pattern is known)."""

    def completeness(words: Sequence[str]) -> Completeness:
        return Whole(len(words) == count, len(words) < count)

    return completeness


def up_to(count: int) -> CompletenessOf:
    """Completeness of an answer that any of its beginnings may be, too (a number)."""

    def completeness(words: Sequence[str]) -> Completeness:
        return Whole(bool(words), len(words) < count)

    return completeness


def _relisten(
    listener: Listener, pcm: bytes, phrases: Sequence[str], pace: Pace, completeness: CompletenessOf
) -> Iterator[Final | NoMatch]:
    """Finals and no-matches of a recording; the question is asked again after each."""
    step = RATE * 30 // 1000 * 2
    for at in range(0, len(pcm), step):
        for event in listener.feed(pcm[at : at + step]):
            if isinstance(event, Final | NoMatch):
                yield event
                listener.listen(phrases, pace=pace, completeness=completeness)


def measure_false_accepts(
    engine: VoskEngine,
    recordings: Sequence[Recording],
    phrases: Sequence[str],
    *,
    threshold: float = 0.0,
    completeness: CompletenessOf | None = None,
    uncalibrated: bool = False,
) -> FalseAccepts:
    """Answers accepted from recordings that were not meant for sayso, by the path of a job."""
    engine.prepare(phrases)
    listener = _listener(engine, uncalibrated)
    whole = completeness or one_of(phrases)
    words: dict[str, int] = {}
    features: list[Features] = []
    accepted = rejected = 0
    seconds = 0.0
    for index, recording in enumerate(recordings):
        sound = read_sound(recording.path)
        seconds += len(sound) / RATE
        # many recordings stop with the last sound: without silence after it nothing would be decided
        sound = np.concatenate((sound, room(int(DECIDED_S * RATE), index)))
        listener.listen(phrases, pace="short", completeness=whole)
        for event in _relisten(listener, to_pcm(sound), phrases, "short", whole):
            if isinstance(event, Final) and whole(event.words).complete and event.confidence >= threshold:
                accepted += 1
                if event.features is not None:
                    features.append(event.features)
                said = " ".join(event.words)
                words[said] = words.get(said, 0) + 1
            else:
                rejected += 1
        listener.stop()
    most = sorted(words.items(), key=lambda item: (-item[1], item[0]))[:12]
    return FalseAccepts(engine.name, seconds / 3600, accepted, rejected, tuple(most), tuple(features))


def reliability_of(runs: Sequence[AsInAJob]) -> tuple[Bin, ...]:
    """Promised confidence against what came true, over all runs."""
    promised = np.array([p for run in runs for p in run.promised])
    right = np.array([float(c) for run in runs for c in run.correct])
    return reliability(promised, right) if len(promised) else ()


def as_json(rows: Sequence[Row]) -> list[dict[str, object]]:
    return [
        {
            "engine": r.engine,
            "snr_db": r.snr_db,
            "utterances": r.utterances,
            "words": r.words,
            "word_error": _interval(r.word_error),
            "sentence_error": _interval(r.sentence_error),
            "rejected": r.rejected,
            "cpu_per_second": round(r.cpu, 5),
            "confusions": [list(c) for c in r.confusions],
            "heard_as": heard_as(r.scored),
        }
        for r in rows
    ]


def _interval(value: Interval) -> dict[str, float]:
    return {"value": round(value.value, 5), "low": round(value.low, 5), "high": round(value.high, 5)}


__all__ = [
    "DEFAULT_SNRS",
    "AsInAJob",
    "FalseAccepts",
    "Row",
    "anything_goes",
    "as_json",
    "exactly",
    "measure",
    "measure_as_in_a_job",
    "measure_false_accepts",
    "one_of",
    "phrases_said",
    "reliability_of",
    "up_to",
    "vocabulary",
]
