"""Sound that is not meant for sayso: colleagues, telephone prompts, spelling, music, machines, from a seed.

Two halves share no voice, no recording and no line of text, so what was tuned on one can be reported on the
other. Synthetic voices: espeak-ng and flite. Real ones, where they are there: the prompts of Debian's package
asterisk-core-sounds-en-wav (one professional speaker) and a folder of recordings that the caller names.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

import numpy as np
import numpy.typing as npt
from scipy import signal

from sayso.bench.speech_source import SpeechSource
from sayso.hearing.recordings import RATE, Recording, read_recordings, read_sound
from sayso.hearing.workshop_noise import NOISES, speech_power

Sound = npt.NDArray[np.float64]
Half = Literal["A", "B"]
T = TypeVar("T")

SMALL_TALK = Path(__file__).with_name("small-talk.txt")
#: English sentences that a Debian system has anyway: the licences.
DOCUMENTS = ("GPL-3", "MPL-2.0", "GFDL-1.3", "Apache-2.0", "LGPL-2.1", "Artistic")
PROMPTS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
#: engine, voice, words a minute
VOICES: dict[Half, tuple[tuple[str, str, int], ...]] = {
    "A": (
        ("espeak-ng", "en-us+m3", 165), ("flite", "slt", 0), ("espeak-ng", "en-gb+f2", 180),
        ("flite", "awb", 0), ("espeak-ng", "en-gb-x-rp+m1", 150), ("espeak-ng", "en-us+f5", 190),
    ),
    "B": (
        ("espeak-ng", "en-gb-scotland+m2", 165), ("flite", "rms", 0), ("espeak-ng", "en-us+f4", 180),
        ("flite", "kal16", 0), ("espeak-ng", "en-029+f1", 150), ("espeak-ng", "en-gb-x-gbclan+m7", 190),
    ),
}  # fmt: skip
#: How loud talk comes in, dBFS of its loud frames: across the bay to next to the microphone.
LEVELS_DBFS = (-38.0, -16.0)
ROOM_TONE_DBFS = -64.0
#: What the time is spent on; the rest of each piece is a pause.
SHARES = {"small talk": 0.40, "prompts": 0.20, "documents": 0.12, "names": 0.06, "spelling": 0.08,
          "machine": 0.07, "music": 0.07}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Said:
    """One utterance of the stream: when, from what source, which words (empty for music and machines)."""

    at_s: float
    source: str
    text: str


@dataclass(frozen=True, slots=True)
class Talk:
    sound: Sound
    said: tuple[Said, ...]


def talk(half: Half, minutes: float, seed: int, folder: Path, recordings: Path | None = None) -> Talk:
    """A stream of `minutes` of 16 kHz sound; speech is rendered into `folder` once. Same seed, same sound."""
    maker = _Maker(half, seed, folder, recordings)
    return maker.stream(int(minutes * 60 * RATE))


class _Maker:
    def __init__(self, half: Half, seed: int, folder: Path, recordings: Path | None) -> None:
        self._rng = np.random.default_rng([seed, ord(half)])
        self._half: Half = half
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self._talks = _every_other(_talks(), half)
        self._sentences = _every_other(_sentences(), half)
        self._prompts = _every_other(sorted(PROMPTS.glob("*.wav")), half) if PROMPTS.is_dir() else []
        self._spelling = _of_half(recordings, half) if recordings else []
        self._names = sorted({w for text in self._sentences for w in re.findall(r"[a-z]{3,9}", text.lower())})
        self._used: dict[str, int] = {}

    def stream(self, samples: int) -> Talk:
        pieces: list[Sound] = []
        said: list[Said] = []
        at = 0
        kinds = [k for k in SHARES if self._can(k)]
        spent = dict.fromkeys(kinds, 0.0)
        while at < samples:
            # whatever is furthest behind its share comes next
            kind = min(kinds, key=lambda k: spent[k] / SHARES[k] + self._rng.uniform(0, 0.5))
            before = at
            level = 10 ** (self._rng.uniform(*LEVELS_DBFS) / 20)
            room = self._room()
            for source, text, sound in self._piece(kind):
                wet = signal.fftconvolve(sound, room)[: len(sound) + RATE // 4]
                wet *= level / max(np.sqrt(speech_power(wet)), 1e-9)
                if text or kind in ("machine", "music"):
                    said.append(Said(at / RATE, source, text))
                gap = np.zeros(int(self._pause(kind) * RATE))
                pieces += [wet, gap]
                at += len(wet) + len(gap)
            spent[kind] += at - before
        whole = np.concatenate(pieces)[:samples]
        whole = whole + self._rng.standard_normal(len(whole)) * 10 ** (ROOM_TONE_DBFS / 20)
        return Talk(np.clip(whole, -0.99, 0.99), tuple(s for s in said if s.at_s * RATE < samples))

    def _can(self, kind: str) -> bool:
        return {"prompts": bool(self._prompts), "spelling": bool(self._spelling)}.get(kind, True)

    def _pause(self, kind: str) -> float:
        """Turns follow within 0.2 s or so (Stivers et al. 2009); now and then talk rests for some seconds."""
        if kind == "names":
            return float(self._rng.uniform(1.0, 5.0))
        if self._rng.random() < 0.2:
            return float(self._rng.uniform(1.0, 6.0))
        return float(np.clip(self._rng.normal(0.25, 0.3), 0.02, 1.2))

    def _piece(self, kind: str) -> Iterator[tuple[str, str, Sound]]:
        rng = self._rng
        match kind:
            case "small talk":
                first, second = (int(v) for v in rng.permutation(len(VOICES[self._half]))[:2])
                for n, line in enumerate(self._next("talk", self._talks)):
                    yield self._speak((first, second)[n % 2], line)
            case "documents":
                voice = int(rng.integers(len(VOICES[self._half])))
                for _ in range(3):
                    yield self._speak(voice, self._next("sentence", self._sentences))
            case "names":  # a word or two called across the shop: the hardest, nothing comes before or after
                for _ in range(3):
                    words = " ".join(rng.choice(self._names, int(rng.integers(1, 4))))
                    yield self._speak(int(rng.integers(len(VOICES[self._half]))), words)
            case "prompts":
                for _ in range(4):
                    path = self._next("prompt", self._prompts)
                    yield f"telephone prompt {path.stem}", path.stem.replace("-", " "), read_sound(path)
            case "spelling":
                for _ in range(2):
                    one = self._next("spelling", self._spelling)
                    yield f"recording {one.name}", " ".join(one.words or ()), read_sound(one.path)
            case "machine":
                name = list(NOISES)[int(rng.integers(len(NOISES)))]
                yield name, "", NOISES[name](rng, int(rng.uniform(4, 12) * RATE))
            case _:
                yield "music", "", music(rng, int(rng.uniform(8, 20) * RATE))

    def _next(self, name: str, things: Sequence[T]) -> T:
        """Each thing once before any comes again."""
        n = self._used.get(name, int(self._rng.integers(len(things))))
        self._used[name] = n + 1
        return things[n % len(things)]

    def _speak(self, voice: int, text: str) -> tuple[str, str, Sound]:
        engine, name, speed = VOICES[self._half][voice % len(VOICES[self._half])]
        source = SpeechSource(self._folder, engine, name, speed or 150)
        return f"{engine} {name}", text, read_sound(source.file(text))

    def _room(self) -> Sound:
        return room_response(
            self._rng, float(self._rng.uniform(0.2, 0.8)), float(self._rng.uniform(0.0, 14.0))
        )


def room_response(rng: np.random.Generator, rt60_s: float, direct_db: float) -> Sound:
    """Direct sound, then a tail of noise that falls by 60 dB in `rt60_s` (Polack's model of late sound).

    direct_db: energy of the direct sound over that of the tail; it falls with distance.
    """
    count = int(rt60_s * RATE)
    tail = rng.standard_normal(count) * 10 ** (-3.0 * np.arange(count) / count)
    tail[: RATE // 400] = 0  # nothing bounces back within 2.5 ms
    tail *= 10 ** (-direct_db / 20) / max(float(np.sqrt((tail**2).sum())), 1e-9)
    tail[0] = 1.0
    return np.asarray(tail)


def music(rng: np.random.Generator, count: int) -> Sound:
    """Chords, a tune with vibrato that glides as a voice does, and a beat, all from the seed."""
    t = np.arange(count) / RATE
    out = np.zeros(count)
    beat = rng.uniform(0.4, 0.7)
    root = 110 * 2 ** (rng.integers(12) / 12)
    scale = (0, 2, 4, 5, 7, 9, 11, 12)
    for bar in range(int(count / RATE / (4 * beat)) + 1):
        begin, end = int(bar * 4 * beat * RATE), min(int((bar + 1) * 4 * beat * RATE), count)
        for step in (0, 4, 7):
            pitch = root * 2 ** ((scale[int(rng.integers(6))] + step) / 12)
            out[begin:end] += 0.3 * signal.sawtooth(2 * np.pi * pitch * t[begin:end])
    for note in range(int(count / RATE / beat) + 1):
        begin, end = int(note * beat * RATE), min(int((note + 1) * beat * RATE), count)
        pitch = 2 * root * 2 ** (scale[int(rng.integers(len(scale)))] / 12)
        vibrato = 1 + 0.01 * np.sin(2 * np.pi * 5.5 * t[begin:end])
        tune = signal.sawtooth(2 * np.pi * np.cumsum(pitch * vibrato) / RATE)
        fade = np.minimum(1, np.arange(end - begin) / 400) * np.exp(-np.arange(end - begin) / RATE * 1.5)
        b, a = signal.iirpeak(rng.uniform(500, 2200), 4, fs=RATE)
        out[begin:end] += fade * (0.4 * tune + 1.5 * signal.lfilter(b, a, tune))
        hit = rng.standard_normal(min(1200, end - begin)) * np.exp(-np.arange(min(1200, end - begin)) / 250)
        out[begin : begin + len(hit)] += 0.6 * hit
    return out


def _talks() -> list[list[str]]:
    text = SMALL_TALK.read_text(encoding="utf-8")
    lines = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    return [block.strip().splitlines() for block in re.split(r"\n\s*\n", lines) if block.strip()]


def _sentences() -> list[str]:
    found: dict[str, None] = {}
    for name in DOCUMENTS:
        path = Path("/usr/share/common-licenses") / name
        if path.is_file():
            text = re.sub(r"\s+", " ", path.read_text(encoding="utf-8", errors="replace"))
            for sentence in re.split(r"(?<=[.;:])\s", text):
                if 4 <= len(sentence.split()) <= 22 and re.fullmatch(r"[A-Za-z',;:. -]+", sentence):
                    found[sentence] = None
    return list(found) or [line for talk_ in _talks() for line in talk_]


def _every_other(things: list[T], half: Half) -> list[T]:
    return things["AB".index(half) :: 2]


def _of_half(folder: Path, half: Half) -> list[Recording]:
    """Recordings of every other speaker."""
    known = read_recordings(folder)
    speakers = sorted({r.speaker for r in known})
    own = set(speakers["AB".index(half) :: 2])
    return [r for r in known if r.speaker in own and len(r.words or ()) > 1]
