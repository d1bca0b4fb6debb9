"""Word times of AN4 train: an earlier vosk model hears each utterance with its transcript as the only
grammar.

Utterances that it does not hear whole get no times, and no single words are cut from them.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import soundfile as sf

from pack_human import transcripts


def align(an4: Path, model_dir: Path, out: Path) -> tuple[int, int]:
    """Writes {name: {words, times: [[start s, end s]...]}}; returns (aligned, all)."""
    from vosk import KaldiRecognizer, Model, SetLogLevel

    SetLogLevel(-1)
    model = Model(str(model_dir))
    found: dict[str, dict[str, list]] = {}
    for name, words in sorted(transcripts(an4, "train").items()):
        x, rate = sf.read(an4 / f"train/{name}.flac", dtype="int16")
        heard = KaldiRecognizer(model, rate, json.dumps([" ".join(words)]))
        heard.SetWords(True)
        result = []
        for part in (x, np.zeros(3200, np.int16)):
            if heard.AcceptWaveform(part.tobytes()):
                result += json.loads(heard.Result()).get("result", [])
        result += json.loads(heard.FinalResult()).get("result", [])
        whole = [r["word"] for r in result] == words
        found[name] = {"words": words, "times": [[r["start"], r["end"]] for r in result] if whole else []}
    out.write_text(json.dumps(found))
    return sum(bool(f["times"]) for f in found.values()), len(found)
