"""Sentences read by many people, cut into short pieces at their pauses and packed like AN4 (pack_human.py).

python read_speech.py INDEX_TSV MODEL_DIR OUT_DIR [PARTS PART]     writes read.opus and read.json

INDEX_TSV has a heading and a line for each recording: path, source, speaker, seconds, words, between tabs
(README.md names the collections that were used). An earlier model is told what was said and says where the
words lie. Of a short recording it need hear only most words, so that voices that it does not understand yet
are not lost; a long one, which has to be cut, it must hear whole. Words that neither model nor CMUdict has
leave their recording out. MODEL_DIR needs sayso's own layout, since words are added to it.
"""

from __future__ import annotations

import csv
import itertools
import json
import re
import sys
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from crowd_speech import MARGIN_S, RATE, heard, plain
from lexicon import cmudict
from pack_human import write_opus

LONGEST_S = 7.0
UNCUT_S = 9.0  # a recording up to this long may stay as it is
HEARD = 0.7  # of its words at least


@dataclass(frozen=True)
class Reading:
    path: Path
    speaker: str
    words: list[str]


def readings(index: Path) -> list[Reading]:
    with index.open(newline="") as f:
        rows = [r for r in csv.reader(f, delimiter="\t", quoting=csv.QUOTE_NONE) if len(r) >= 5][1:]
    out = []
    for path, _, speaker, _, text in (r[:5] for r in rows):
        words = [w.strip("'") for w in plain(text.replace("’", "'")).split() if w.strip("'")]
        if words and not re.search(r"\d", text):
            out.append(Reading(index.parent / path, speaker, words))
    return out


def pieces(words: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Words with times -> runs of at most LONGEST_S, parted at the widest pauses."""
    if len(words) < 2 or words[-1]["end"] - words[0]["start"] <= LONGEST_S:
        return [words]
    pauses = [b["start"] - a["end"] for a, b in itertools.pairwise(words)]
    at = int(np.argmax(pauses)) + 1
    return pieces(words[:at]) + pieces(words[at:])


def main() -> None:
    from vosk import Model, SetLogLevel

    from sayso.hearing.lexicon_graph import extended_model, read_lexicon

    SetLogLevel(-1)
    index, model_dir, out = map(Path, sys.argv[1:4])
    parts, part = (int(a) for a in sys.argv[4:6]) if len(sys.argv) > 5 else (1, 0)
    out.mkdir(parents=True, exist_ok=True)
    lexicon, _ = read_lexicon(model_dir)
    every = readings(index)
    new = {
        w: [" ".join(v) for v in cmudict()[w]]
        for r in every
        for w in r.words
        if w not in lexicon and w in cmudict()
    }
    model_dir = extended_model(model_dir, model_dir, new)
    lexicon, _ = read_lexicon(model_dir)
    model = Model(str(model_dir))
    audio: list[NDArray[np.int16]] = []
    items: list[dict[str, Any]] = []
    tried = 0

    def phones(words: list[str]) -> list[list[str]]:
        return [[" ".join(p) for p in lexicon[w]] for w in words]

    for r in every[part::parts]:
        if any(w not in lexicon for w in r.words):
            continue
        tried += 1
        x, rate = sf.read(r.path, dtype="int16")
        if (rate, x.ndim) != (RATE, 1):
            raise SystemExit(f"{r.path}: must be mono at 16 kHz")
        words = heard(model, x, [" ".join(r.words)])
        found = [w["word"] for w in words]
        if found != r.words:
            same = sum(
                m.size for m in SequenceMatcher(None, found, r.words, autojunk=False).get_matching_blocks()
            )
            if same >= HEARD * len(r.words) and len(x) < UNCUT_S * RATE:
                audio.append(x)
                items.append({"n": len(x), "speaker": r.speaker, "words": phones(r.words), "times": []})
            continue
        for run in pieces(words):
            # halfway into the pause to the neighbours' words
            before = max([w["end"] for w in words if w["end"] <= run[0]["start"]], default=0.0)
            after = min([w["start"] for w in words if w["start"] >= run[-1]["end"]], default=len(x) / RATE)
            a = max(0.0, run[0]["start"] - MARGIN_S, (before + run[0]["start"]) / 2 if before else 0.0)
            z = run[-1]["end"] + min(MARGIN_S, (after - run[-1]["end"]) / (1 if run is words else 2))
            cut = x[int(a * RATE) : int(z * RATE)]
            audio.append(cut)
            items.append(
                {
                    "n": len(cut),
                    "speaker": r.speaker,
                    "words": phones([w["word"] for w in run]),
                    "times": [[w["start"] - a, w["end"] - a] for w in run],
                }
            )
    name = "read" if parts == 1 else f"read{part}"
    write_opus(audio, out / f"{name}.opus", bits="24k")
    (out / f"{name}.json").write_text(json.dumps(items))
    print(len(items), "pieces of", tried, "recordings,", f"{sum(map(len, audio)) / RATE / 3600:.2f} h")


if __name__ == "__main__":
    main()
