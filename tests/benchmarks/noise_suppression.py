"""Does noise suppression help the recogniser? Recordings in workshop noise, as they are and suppressed.

    python -m tests.benchmarks.noise_suppression AN4_DIR [MODEL]

AN4 (CMU, 1991), training part, only speakers that the model was not trained on: their single orders and six
sentences of each. A library that is not installed is left out: WebRTC's suppressor (livekit) and libspeexdsp
are there anyway; `pip install noisereduce pyrnnoise` into a folder on PYTHONPATH brings the other two.
noisereduce looks ahead and is given the noise before the words, which no live job could do as well.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import re
import sys
import time
from collections.abc import Callable, Mapping
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soxr

from sayso.hearing.engines import VoskEngine
from sayso.hearing.evaluation import LEAD_S, noisy_copy
from sayso.hearing.recordings import RATE, read_sound, to_pcm
from sayso.hearing.scores import RESAMPLES, SEED, Scored, score, word_error

#: models/recipe/pack_human.py keeps them out of the training data.
SPEAKERS = ("fbbh", "ffmm", "fkai", "fplp", "mblw", "mcel", "mjda", "mrcb", "mmkw", "mtos")
SENTENCES = 6
SNRS_DB = (None, 10.0, 5.0, 0.0)

Sound = npt.NDArray[np.float64]
Suppress = Callable[[Sound], Sound]


def webrtc(sound: Sound) -> Sound:
    from livekit.rtc.apm import AudioProcessingModule
    from livekit.rtc.audio_frame import AudioFrame

    library = AudioProcessingModule(noise_suppression=True)
    out = bytearray()
    pcm, step = to_pcm(sound), RATE // 100 * 2
    for at in range(0, len(pcm) - step + 1, step):
        frame = AudioFrame(bytearray(pcm[at : at + step]), RATE, 1, step // 2)
        library.process_stream(frame)
        out += bytes(frame.data)
    return np.frombuffer(bytes(out), "<i2") / 32768


def speex(sound: Sound) -> Sound:
    """libspeexdsp's preprocessor as it comes: noise reduction of at most 15 dB, nothing else."""
    library = ctypes.CDLL(ctypes.util.find_library("speexdsp") or "libspeexdsp.so.1")
    library.speex_preprocess_state_init.restype = ctypes.c_void_p
    step = RATE // 100
    state = ctypes.c_void_p(library.speex_preprocess_state_init(step, RATE))
    samples = np.frombuffer(to_pcm(sound), "<i2").copy()
    for at in range(0, len(samples) - step + 1, step):
        library.speex_preprocess_run(state, samples[at : at + step].ctypes.data_as(ctypes.c_void_p))
    library.speex_preprocess_state_destroy(state)
    return np.asarray(samples / 32768)


def rnnoise(sound: Sound) -> Sound:
    """At 48 kHz, as it was trained."""
    spec = find_spec("pyrnnoise")
    assert spec is not None
    assert spec.origin is not None
    library = ctypes.CDLL(str(Path(spec.origin).parent / "librnnoise.so"))
    library.rnnoise_create.restype = ctypes.c_void_p
    state = ctypes.c_void_p(library.rnnoise_create(None))
    step = int(library.rnnoise_get_frame_size())
    samples = np.ascontiguousarray(soxr.resample(sound, RATE, 48_000) * 32768, dtype=np.float32)
    for at in range(0, len(samples) - step + 1, step):
        frame = samples[at : at + step].ctypes.data_as(ctypes.c_void_p)
        library.rnnoise_process_frame(state, frame, frame)
    library.rnnoise_destroy(state)
    return np.asarray(soxr.resample(samples.astype(np.float64) / 32768, 48_000, RATE))


def spectral_gate(sound: Sound) -> Sound:
    from noisereduce import reduce_noise  # type: ignore[import-not-found, unused-ignore]

    noise = sound[: int(LEAD_S * RATE)]
    return np.asarray(reduce_noise(y=sound, sr=RATE, stationary=True, y_noise=noise))


def ways() -> Mapping[str, Suppress]:
    found: dict[str, Suppress] = {"as it is": lambda sound: sound}
    if find_spec("livekit"):
        found["WebRTC (livekit)"] = webrtc
    if ctypes.util.find_library("speexdsp"):
        found["libspeexdsp"] = speex
    if find_spec("pyrnnoise"):
        found["RNNoise (pyrnnoise)"] = rnnoise
    if find_spec("noisereduce"):
        found["spectral gate (noisereduce)"] = spectral_gate
    return found


def recordings(an4: Path) -> list[tuple[Path, tuple[str, ...]]]:
    """Single orders of all speakers, and the first sentences of each."""
    found: list[tuple[Path, tuple[str, ...]]] = []
    taken = dict.fromkeys(SPEAKERS, 0)
    for line in (an4 / "etc" / "an4_train.transcription").read_text().splitlines():
        told = re.match(r"(.*)\((.*)\)", line.strip())
        assert told is not None, line
        words = tuple(word.lower() for word in told[1].split() if not word.startswith("<"))
        speaker = told[2].split("-")[1]
        if speaker not in taken:
            continue
        order = len(words) == 1 and len(words[0]) > 1
        if order or taken[speaker] < SENTENCES:
            taken[speaker] += not order
            found.append((an4 / "train" / f"{told[2]}.flac", words))
    return found


def more_errors(plain: list[Scored], other: list[Scored]) -> str:
    """Word error with suppression less that without, in points, 95 % bootstrap over the same utterances."""
    more = np.array([b.errors - a.errors for a, b in zip(plain, other, strict=True)], dtype=float)
    words = np.array([len(a.said) for a in plain], dtype=float)
    picks = np.random.default_rng(SEED).integers(0, len(more), size=(RESAMPLES, len(more)))
    low, high = np.quantile(100 * more[picks].sum(axis=1) / words[picks].sum(axis=1), (0.025, 0.975))
    return f"{100 * more.sum() / words.sum():+.1f} ({low:+.1f} to {high:+.1f})"


def main() -> None:
    said = recordings(Path(sys.argv[1]))
    engine = VoskEngine(Path(sys.argv[2]) if len(sys.argv) > 2 else None)
    engine.prepare(sorted({word for _, words in said for word in words}))
    print(f"{len(said)} utterances, {sum(len(words) for _, words in said)} words, model {engine.name}")
    for snr_db in SNRS_DB:
        plain: list[Scored] = []
        for name, suppress in ways().items():
            scored, spent, seconds = [], 0.0, 0.0
            for index, (path, words) in enumerate(said):
                sound = noisy_copy(read_sound(path), snr_db, index)
                began = time.process_time()
                sound = suppress(sound)
                spent += time.process_time() - began
                seconds += len(sound) / RATE
                scored.append(score(words, engine.transcribe(to_pcm(sound)).words))
            plain = plain or scored
            level = "clean" if snr_db is None else f"{snr_db:g} dB"
            print(
                f"{level:>6}  {name:<28} word error % {word_error(scored)!s:<18} "
                f"against none {more_errors(plain, scored):<24} cost {100 * spent / seconds:.1f} % of a core",
                flush=True,
            )


if __name__ == "__main__":
    main()
