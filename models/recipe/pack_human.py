"""AN4 training speech for the device: one opus file, and a list of utterances with phone variants and word
times.

python pack_human.py AN4_DIR TIMES_JSON OUT_DIR     (TIMES_JSON: word times by any earlier model, see
align_an4.py)
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

# four women, six men: never trained on, everything is tuned on them
DEV_SPEAKERS = ("fbbh", "ffmm", "fkai", "fplp", "mblw", "mcel", "mjda", "mrcb", "mmkw", "mtos")


def dictionary(an4: Path) -> dict[str, list[str]]:
    """Word (lower case) -> phone strings, as AN4's own dictionary has them."""
    words: dict[str, list[str]] = {}
    for line in (an4 / "etc/an4.dic").read_text().splitlines():
        if line.strip():
            word, *phones = line.split()
            words.setdefault(re.sub(r"\(\d\)", "", word).lower(), []).append(" ".join(phones))
    words["a"] = ["EY"]
    # the dictionary's first "one" is "HH W AH N"; offered as a choice it was taken for half of all ones and
    # the net learned a breath that nobody says
    words["one"] = ["W AH N"]
    return words


def transcripts(an4: Path, part: str) -> dict[str, list[str]]:
    out = {}
    for line in (an4 / f"etc/an4_{part}.transcription").read_text().splitlines():
        text, name = re.match(r"(.*)\((.*)\)", line.strip()).groups()  # type: ignore[union-attr]
        out[name] = [w.lower() for w in text.split() if not w.startswith("<")]
    return out


def write_opus(audio: list[NDArray[np.int16]], out: Path, bits: str = "40k") -> None:
    """One file after another at 16 kHz; readers cut it by the numbers of samples."""
    with tempfile.NamedTemporaryFile(suffix=".wav") as f:
        sf.write(f.name, np.concatenate(audio), 16000)
        command = ["ffmpeg", "-loglevel", "error", "-y", "-i", f.name, "-c:a", "libopus", "-b:a", bits]
        subprocess.run([*command, str(out)], check=True)


def main() -> None:
    an4, times_file, out = map(Path, sys.argv[1:4])
    out.mkdir(parents=True, exist_ok=True)
    prons, times = dictionary(an4), json.loads(times_file.read_text())
    audio, items = [], []
    for name, words in sorted(transcripts(an4, "train").items()):
        speaker = name.split("-")[1]
        if speaker in DEV_SPEAKERS:
            continue
        x, rate = sf.read(an4 / f"train/{name}.flac", dtype="int16")
        assert rate == 16000
        audio.append(x)
        items.append(
            dict(
                n=len(x),
                speaker=speaker,
                words=[prons[w] for w in words],
                times=[t[:2] for t in times.get(name, {}).get("times", [])],
            )
        )
    write_opus(audio, out / "human.opus")
    (out / "human.json").write_text(json.dumps(items))
    print(len(items), "utterances", sum(len(a) for a in audio) / 57.6e6, "h")


if __name__ == "__main__":
    main()
