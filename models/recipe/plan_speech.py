"""Write the plan of the synthetic speech: token sequences for Kokoro and texts for the other synthesisers."""

from __future__ import annotations

import json
import random
from pathlib import Path

import numpy as np

from kokoro_text import tokens
from texts import Speaker


def plan(out: Path, vocab: dict[str, int], count: int, others: int, seed: int) -> None:
    """plan.npz: flat tokens / owners / phones with offsets; others.json: [[word, phones without
    stress]...] a text."""
    speaker, r = Speaker(seed), random.Random(seed + 1)
    flat: dict[str, list[int]] = {k: [] for k in ("token", "owner", "phone")}
    at: dict[str, list[int]] = {"token": [0], "phone": [0]}
    accents: list[int] = []
    for _ in range(count):
        ids, owner, phones, accent = tokens(speaker.utterance(), vocab, r)
        flat["token"] += ids
        flat["owner"] += owner
        flat["phone"] += phones
        at["token"].append(len(flat["token"]))
        at["phone"].append(len(flat["phone"]))
        accents.append(("american", "british", "foreign").index(accent))
    np.savez_compressed(
        out / "plan.npz",
        token=np.array(flat["token"], np.uint8),
        owner=np.array(flat["owner"], np.int16),
        phone=np.array(flat["phone"], np.uint8),
        token_at=np.array(at["token"], np.int32),
        phone_at=np.array(at["phone"], np.int32),
        accent=np.array(accents, np.uint8),
    )
    texts = [[[w, [p.rstrip("012") for p in ph]] for w, ph in speaker.utterance()] for _ in range(others)]
    (out / "others.json").write_text(json.dumps(texts))
