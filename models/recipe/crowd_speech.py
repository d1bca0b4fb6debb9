"""Open recordings by many people on their own microphones, packed like AN4 (see pack_human.py).

python crowd_speech.py COLLECTIONS_DIR MODEL_DIR OUT_DIR     writes crowd.opus and crowd.json

COLLECTIONS_DIR holds any of these checkouts (public GitHub repositories), by these names:
  barista  Picovoice/speech-to-intent-benchmark (Apache-2.0): orders for a drink, over 50 speakers; its labels
           say what each order means, not its words
  wake     Picovoice/wake-word-benchmark (Apache-2.0): five names called, over 50 speakers
  precise  MycroftAI/Precise-Community-Data (public domain): other names called

An earlier model hears every recording with the words that its collection can hold. Only recordings whose
words agree with the label are kept, so a wrong transcript is rare; what the earlier model could not hear at
all is lost, which is the price. MODEL_DIR needs sayso's own layout, since words are added to it.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from pack_human import write_opus

RATE = 16000
MARGIN_S = 0.3  # of room kept before the first word and after the last
# not in the model's lexicon; CMUdict has all but the compounds
PRONUNCIATIONS = {
    "americano": "AH M EH R IH K AA N OW",
    "amelia": "AH M IY L Y AH",
    "athena": "AH TH IY N AH",
    "cappuccino": "K AE P UW CH IY N OW",
    "chatterbox": "CH AE T ER B AA K S",
    "espresso": "EH S P R EH S OW",
    "i'd": "AY D",
    "jarvis": "JH AA R V AH S",
    "latte": "L AA T EY",
    "mocha": "M OW K AH",
    "ounce": "AW N S",
    "roast": "R OW S T",
    "skim": "S K IH M",
    "snowboy": "S N OW B OY",
    "soy": "S OY",
    "sweetener": "S W IY T AH N ER",
}
CALLED = {
    "wake/audio/computer": "computer",
    "wake/audio/jarvis": "jarvis",
    "wake/audio/smart mirror": "smart mirror",
    "wake/audio/snowboy": "snowboy",
    "wake/audio/view glass": "view glass",
    "precise/amelia/en": "amelia",
    "precise/athena/en": "athena",
    "precise/computer/en": "computer",
    "precise/heychatterbox/en-us": "hey chatterbox",
    "precise/heycomputer/en": "hey computer",
}


@dataclass(frozen=True)
class Recording:
    path: Path
    grammar: list[str]
    wanted: list[str]  # phrases that must all be heard
    whole: bool = False  # and nothing else


def plain(text: str) -> str:
    return " ".join(re.sub(r"[^a-z' ]", " ", text.lower()).split())


def orders(folder: Path) -> Iterator[Recording]:
    label = folder / "data/label/label.json"
    if not label.exists():
        return
    said = (folder / "data/watson/corpus.txt").read_text()
    phrases = sorted({plain(line) for line in said.splitlines() if line.strip()})
    labels: dict[str, Any] = json.loads(label.read_text())
    words = {w for p in phrases for w in p.split()}
    words |= {w for v in labels.values() for s in v["slots"].values() for w in plain(s).split()}
    asks = ["could i have", "could i get", "may i have", "i would like", "i'd like", "let me have", "please"]
    grammar = [*phrases, *sorted(words), *asks, "[unk]"]
    for name, v in sorted(labels.items()):
        path = folder / "data/speech/clean" / name
        if path.exists():
            yield Recording(path, grammar, [plain(s) for s in v["slots"].values()])


def calls(collections: Path) -> Iterator[Recording]:
    for folder, name in CALLED.items():
        for path in sorted((collections / folder).glob("*.wav")):
            yield Recording(path, [name, "[unk]"], [name], whole=True)


def heard(model: Any, x: NDArray[np.int16], grammar: list[str]) -> list[dict[str, Any]]:
    """Words with start and end in seconds of x; silence in front, so that a cut start is heard too."""
    from vosk import KaldiRecognizer

    lead = np.zeros(RATE // 5, np.int16)
    recogniser = KaldiRecognizer(model, RATE, json.dumps(grammar))
    recogniser.SetWords(True)
    y = np.concatenate([lead, x, np.zeros(RATE // 3, np.int16)])
    out: list[dict[str, Any]] = []
    for k in range(0, len(y), RATE // 2):
        if recogniser.AcceptWaveform(y[k : k + RATE // 2].tobytes()):
            out += json.loads(recogniser.Result()).get("result", [])
    out += json.loads(recogniser.FinalResult()).get("result", [])
    for word in out:
        word["start"] -= len(lead) / RATE
        word["end"] -= len(lead) / RATE
    return out


def agrees(text: str, r: Recording) -> bool:
    if r.whole:
        return text == r.wanted[0]
    return "[unk]" not in text and bool(text) and all(f" {w} " in f" {text} " for w in r.wanted)


def main() -> None:
    from vosk import Model, SetLogLevel

    from sayso.hearing.lexicon_graph import extended_model, read_lexicon

    SetLogLevel(-1)
    collections, model_dir, out = map(Path, sys.argv[1:4])
    out.mkdir(parents=True, exist_ok=True)
    model_dir = extended_model(model_dir, model_dir, {w: [p] for w, p in PRONUNCIATIONS.items()})
    lexicon, _ = read_lexicon(model_dir)
    model = Model(str(model_dir))
    audio: list[NDArray[np.int16]] = []
    items = []
    tried = 0
    for r in [*orders(collections / "barista"), *calls(collections)]:
        tried += 1
        x, rate = sf.read(r.path, dtype="int16")
        assert (rate, x.ndim) == (RATE, 1), r.path
        words = heard(model, x, r.grammar)
        if not agrees(" ".join(w["word"] for w in words), r):
            continue
        first = max(0, int((words[0]["start"] - MARGIN_S) * RATE))
        x = x[first : int((words[-1]["end"] + MARGIN_S) * RATE)]
        audio.append(x)
        phones = [[" ".join(p) for p in lexicon[w["word"]]] for w in words]
        items.append({"n": len(x), "words": phones, "times": []})
    write_opus(audio, out / "crowd.opus")
    (out / "crowd.json").write_text(json.dumps(items))
    print(len(items), "of", tried, "recordings,", f"{sum(map(len, audio)) / RATE / 3600:.2f} h")


if __name__ == "__main__":
    main()
