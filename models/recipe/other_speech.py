"""flite and espeak-ng speech on all CPU cores, in the shard format of kokoro_speech.py but without phone
times.

python other_speech.py WORK_DIR OUT_DIR SECONDS   (needs others.json in WORK_DIR; TTS_ROOT may hold bin/,
lib/ and
espeak-ng-data of machines that have neither program installed)
"""

from __future__ import annotations

import json
import multiprocessing as mp
import os
import random
import subprocess
import sys
import tempfile
import time
import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from phones import PHONE_ID
from speech_data import Utterance, prepared

ROOT = os.environ.get("TTS_ROOT", "")
ENV = dict(os.environ, LD_LIBRARY_PATH=ROOT + "/lib" if ROOT else "")
FLITE_VOICES = ("slt", "rms", "awb", "kal16")
ACCENTS = ("en-us", "en-us", "en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-029", "en-gb-x-gbclan")
VARIANTS = (
    "",
    "+m1",
    "+m2",
    "+m3",
    "+m4",
    "+m5",
    "+m6",
    "+m7",
    "+f1",
    "+f2",
    "+f3",
    "+f4",
    "+f5",
    "+adam",
    "+linda",
    "+steph",
    "+belinda",
    "+john",
    "+max",
    "+robert",
    "+zac",
    "+Andy",
    "+Annie",
    "+Lee",
    "+Gene",
)
Made = tuple[NDArray[np.int16], NDArray[np.uint8]]


def _spelling(word: str, engine: str) -> str:
    if len(word) == 1:
        return {"a": "eh" if engine == "flite" else "ay"}.get(word, word.upper())
    return word


def speak(job: tuple[int, list[tuple[str, list[str]]]]) -> Made | None:
    """One utterance; None when the synthesiser failed or said next to nothing."""
    number, words = job
    r = random.Random(number)
    exe = ROOT + "/bin/" if ROOT else ""
    with tempfile.NamedTemporaryFile(suffix=".wav") as f:
        engine = "flite" if r.random() < 0.62 else "espeak-ng"
        text = " ".join(_spelling(w, engine) for w, _ in words)
        if engine == "flite":
            cmd = [
                exe + "flite",
                "-voice",
                r.choice(FLITE_VOICES),
                "--setf",
                f"duration_stretch={r.uniform(0.7, 1.5):.2f}",
                "--setf",
                f"int_f0_target_mean={r.uniform(80, 220):.0f}",
                "-t",
                text,
                "-o",
                f.name,
            ]
        else:
            cmd = [
                exe + "espeak-ng",
                *([f"--path={ROOT}"] if ROOT else []),
                "-v",
                r.choice(ACCENTS) + r.choice(VARIANTS),
                "-s",
                str(r.randint(105, 210)),
                "-p",
                str(r.randint(20, 80)),
                "-w",
                f.name,
                text,
            ]
        try:
            subprocess.run(cmd, env=ENV, capture_output=True, timeout=20, check=True)
            with wave.open(f.name) as w:
                rate, x = (
                    w.getframerate(),
                    np.frombuffer(w.readframes(w.getnframes()), np.int16).astype(np.float32),
                )
        except (subprocess.SubprocessError, OSError, wave.Error, EOFError):
            return None
    if len(x) < 0.15 * rate or np.abs(x).max() < 300:
        return None
    if rate != 16000:
        x = resample_poly(
            x, *{8000: (2, 1), 22050: (320, 441), 11025: (640, 441), 32000: (1, 2)}[rate]
        ).astype(np.float32)
    x = x / np.abs(x).max() * 20000
    phones = [PHONE_ID[p] | (0x80 if k == 0 else 0) for _, ph in words for k, p in enumerate(ph)]
    return x.astype(np.int16), np.array(phones, np.uint8)


def main() -> None:
    work, out, seconds = Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3])
    out.mkdir(parents=True, exist_ok=True)
    jobs = list(enumerate(json.loads((work / "others.json").read_text())))
    began, made = time.time(), []
    with mp.Pool(max(1, (os.cpu_count() or 2) - 4)) as pool:
        for got in pool.imap_unordered(speak, jobs, chunksize=8):
            if got is not None:
                made.append(got)
            if time.time() - began > seconds:
                pool.terminate()
                break
    for shard, k in enumerate(range(0, len(made), 8000)):
        part = [
            Utterance(x, (p & 0x7F).tolist(), (p >= 0x80).tolist(), "other") for x, p in made[k : k + 8000]
        ]
        np.savez(out / f"other-{shard:03d}.tmp.npz", **prepared(part))
        (out / f"other-{shard:03d}.tmp.npz").rename(out / f"other-{shard:03d}.npz")
    print(
        f"other: {len(made)} of {len(jobs)} utterances, {sum(len(x) for x, _ in made) / 57.6e6:.2f} h, "
        f"{time.time() - began:.0f} s",
        flush=True,
    )


if __name__ == "__main__":
    main()
