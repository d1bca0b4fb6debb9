"""Training speech in GPU memory: shards and AN4 in one flat array, drawn in batches of about equal length."""

from __future__ import annotations

import json
import random
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from extents import GATES, extent, gated
from fullsum import transcript_states
from lexicon import is_answer, with_merger

RATE = 16000
MAX_SEGMENTS, MAX_STATES = 96, 96
SOURCES = (
    "kokoro", "other", "an4", "an4word", "silence", "crowd", "read", "readword", "short", "shortword",
    "answer",
)  # fmt: skip
# people speak about half of an epoch when there are 50 to 60 h of synthetic speech
SHARE = {
    "kokoro": 1, "other": 1, "an4": 10, "an4word": 9, "silence": 1, "crowd": 6, "read": 4, "readword": 2,
    "short": 8, "shortword": 5, "answer": 24,
}  # fmt: skip


@dataclass
class Utterance:
    x: NDArray[np.int16]
    phones: list[int]
    starts: list[bool]
    source: str
    seg: NDArray[np.uint8] | None = None
    st: NDArray[np.float32] | None = None
    choices: list[list[str]] = field(
        default_factory=list
    )  # recordings: variants of each word, until one is chosen


def usable(u: Utterance) -> bool:
    """Neither too short nor too long for the tables."""
    return (
        RATE * 0.12 < len(u.x) < RATE * 9.2
        and len(u.phones) + sum(u.starts) + 1 < MAX_STATES
        and (u.seg is None or len(u.seg) < MAX_SEGMENTS)
    )


def prepared(utterances: list[Utterance]) -> dict[str, NDArray]:
    """Flat audio and label tables of usable utterances; this is also the format of a shard on disk."""
    ok = [u for u in utterances if usable(u)]
    n = len(ok)
    table = dict(
        state=np.zeros((n, MAX_STATES), np.uint8),
        optional=np.zeros((n, MAX_STATES), bool),
        count=np.zeros(n, np.int64),
        seg=np.zeros((n, MAX_SEGMENTS), np.uint8),
        st=np.full((n, MAX_SEGMENTS), np.inf, np.float32),
        has=np.zeros(n, bool),
        quiet=np.array([not u.phones for u in ok], bool),
        length=np.array([len(u.x) for u in ok], np.int64),
        source=np.array([SOURCES.index(u.source) for u in ok], np.int64),
    )
    audio, extents, through_gates = [], [], []
    for i, u in enumerate(ok):
        s, o = transcript_states(u.phones, u.starts)
        table["state"][i, : len(s)], table["optional"][i, : len(s)], table["count"][i] = s, o, len(s)
        if u.seg is not None and u.st is not None:
            table["seg"][i, : len(u.seg)], table["st"][i, : len(u.st)], table["has"][i] = u.seg, u.st, True
        elif not u.phones:
            table["st"][i, 0], table["has"][i] = 0.0, True
        audio.append(rescaled(u.x))
        extents.append(extent(audio[-1]))
        through_gates.append(gated(audio[-1]))
    table["first"], table["last"] = np.array(extents, np.int64).reshape(-1, 2).T
    table["gated"] = np.array(through_gates, np.int64).reshape(-1, len(GATES), 2)
    return table | {"audio": np.concatenate(audio) if audio else np.zeros(0, np.int16)}


def recorded(packed: Path, source: str, phone_id: dict[str, int]) -> list[Utterance]:
    """Whole utterances of packed recordings (`packed`.opus and .json) and, where there are word times, their
    single words (source + "word", "answer" for what is answered most: of those hundreds of people say few);
    the first variant of each word until `choose_variants` picks."""
    import soundfile as sf

    audio, rate = sf.read(packed.with_suffix(".opus"), dtype="int16")
    assert rate == RATE
    out: list[Utterance] = []
    at = 0

    def made(x: NDArray[np.int16], words: list[list[str]], source: str) -> Utterance:
        phones, starts = [], []
        for w in words:
            ids = [phone_id[p] for p in w[0].split()]
            phones += ids
            starts += [True] + [False] * (len(ids) - 1)
        return Utterance(x, phones, starts, source, choices=words)

    for item in json.loads(packed.with_suffix(".json").read_text()):
        x = audio[at : at + item["n"]]
        at += item["n"]
        words = [with_merger(variants) for variants in item["words"]]
        out.append(made(x, words, source))
        if item["times"]:
            for k, (word, (t0, t1)) in enumerate(zip(words, item["times"], strict=True)):
                # cut a little outside the word, halfway into a pause at most
                before = item["times"][k - 1][1] if k else 0.0
                after = item["times"][k + 1][0] if k + 1 < len(item["times"]) else len(x) / RATE
                a, b = max(t0 - 0.15, (before + t0) / 2), min(t1 + 0.2, (after + t1) / 2)
                if 0.15 < b - a < 2.0 and len(item["words"]) > 1:
                    of = "answer" if source in ("read", "crowd") and is_answer(word) else f"{source}word"
                    out.append(made(x[int(a * RATE) : int(b * RATE)], [word], of))
    return out


def silence(count: int, seconds: float) -> list[Utterance]:
    zeros = np.zeros(int(seconds * RATE), np.int16)
    return [Utterance(zeros, [], [], "silence") for _ in range(count)]


def rescaled(x: NDArray[np.int16]) -> NDArray[np.int16]:
    """Speech at one level: 3000 RMS over its loud parts."""
    y = x.astype(np.float32)
    a = np.abs(y)
    if a.max(initial=0) == 0:
        return x
    loud = a > a.max() * 0.08
    return np.clip(y * (3000 / np.sqrt((y[loud] ** 2).mean() + 1)), -32700, 32700).astype(np.int16)


class Corpus:
    """Owns the flat audio and the label tables on the device; `add` may be called again while training."""

    def __init__(self, device: str) -> None:
        self.device = device
        self.audio = torch.zeros(0, dtype=torch.int16, device=device)
        self.tables: dict[str, Tensor] = {}

    def __len__(self) -> int:
        return len(self.tables["count"]) if self.tables else 0

    def add(self, table: dict[str, NDArray]) -> range:
        """Returns the numbers of the new utterances."""
        old = len(self)
        length = table["length"]
        table = table | {
            "base": len(self.audio) + np.concatenate([[0], np.cumsum(length)[:-1]]).astype(np.int64)
        }
        if self.tables and set(table) - {"audio"} != set(self.tables):
            raise ValueError("speech of another version of this recipe (a shard to be made again)")
        self.audio = torch.cat([self.audio, torch.from_numpy(table.pop("audio")).to(self.device)])
        for k, v in table.items():
            t = torch.from_numpy(v).to(self.device)
            self.tables[k] = torch.cat([self.tables[k], t]) if k in self.tables else t
        return range(old, len(self))

    def relabel(self, i: int, phones: list[int], starts: list[bool]) -> bool:
        """Write other phones for an utterance; True when they were others."""
        s, o = transcript_states(phones, starts)
        row = torch.zeros(MAX_STATES, dtype=torch.uint8)
        row[: len(s)] = torch.tensor(s, dtype=torch.uint8)
        opt = torch.zeros(MAX_STATES, dtype=torch.bool)
        opt[: len(o)] = torch.tensor(o)
        changed = not torch.equal(row, self.tables["state"][i].cpu())
        self.tables["state"][i], self.tables["optional"][i] = row.to(self.device), opt.to(self.device)
        self.tables["count"][i] = len(s)
        return changed

    def batches(
        self, seconds: float, r: random.Random, labelled_only: bool = False
    ) -> list[tuple[int, NDArray[np.int64]]]:
        """One epoch: (bucket length in 30 ms frames, utterance numbers), sources repeated by SHARE.

        All batches of one bucket have one size, so the criterion can run as a recorded CUDA graph.
        """
        share = np.array([SHARE[k] for k in SOURCES])[self.tables["source"].cpu().numpy()]
        if labelled_only:
            share = share * self.tables["has"].cpu().numpy()
        index = np.repeat(np.arange(len(share)), share)
        rng = np.random.default_rng(r.getrandbits(32))
        t = self.tables
        spoken = ((t["last"] - t["first"]).float() / RATE).cpu().numpy()[index]
        need = (spoken * rng.uniform(1.0, 1.2, len(index)) + rng.uniform(0.1, 0.7, len(index))) / 0.03
        states = t["count"].cpu().numpy()[index]
        bucket = np.maximum(
            np.searchsorted(BUCKETS, need), np.searchsorted([bucket_states(x) for x in BUCKETS], states)
        )
        out: list[tuple[int, NDArray[np.int64]]] = []
        for k, frames in enumerate(BUCKETS):
            mine = rng.permutation(index[bucket == k])
            size = bucket_size(frames, seconds)
            if len(mine) == 0:
                continue
            short = -len(mine) % size
            mine = np.concatenate([mine, rng.choice(mine, short)]) if short else mine
            out += [(frames, m) for m in mine.reshape(-1, size)]
        r.shuffle(out)
        return out


BUCKETS = (24, 30, 36, 44, 52, 62, 74, 88, 106, 128, 156, 190, 240, 310)


def bucket_states(frames: int) -> int:
    """Most states of an utterance in a bucket: hurried speech still has 1.6 frames a state."""
    return min(MAX_STATES, int(frames * 0.62) + 6)


def bucket_size(frames: int, seconds: float) -> int:
    return max(8, int(seconds / (frames * 0.03)))


@dataclass
class Batch:
    x: Tensor
    loud: Tensor
    quiet: Tensor
    frames: Tensor  # output frames (30 ms) that are the utterance's own
    labels: Tensor  # [B, T] pdf, -100 where unknown
    state: Tensor
    optional: Tensor
    count: Tensor


def draw(corpus: Corpus, index: NDArray[np.int64], room: int | None = None, varied: bool = True) -> Batch:
    """Cut, pad with digital silence and change the speed of each utterance; frame labels follow the same
    path.

    room: exact number of 30 ms output frames to make; what does not fit is said faster.
    """
    dev, t = corpus.device, corpus.tables
    i = torch.from_numpy(index).to(dev)
    b = len(i)
    u = torch.rand(12, b, device=dev)
    first, last, length = (t[k][i].float() for k in ("first", "last", "length"))
    if varied:
        # four in ten are cut to the word or just into it, as one-second clips are; others keep up to 0.35 s
        lead = torch.where(u[0] < 0.40, (u[1] * 0.06 - 0.015) * RATE, u[1] * 0.35 * RATE)
        close = (u[0] < 0.30) | (u[0] > 0.85)
        tail = torch.where(close, (u[2] * 0.08 - 0.015) * RATE, (0.03 + u[2] * 0.4) * RATE)
        # one in nine begins or ends up to 80 ms inside the word: a late button, an early end, a hard editor
        spoken = (last - first).clamp(min=0)
        lead = torch.where(u[6] < 0.11, -torch.minimum(u[1] * 0.08 * RATE, 0.2 * spoken), lead)
        tail = torch.where(u[7] < 0.11, -torch.minimum(u[2] * 0.08 * RATE, 0.2 * spoken), tail)
        # one in eight went through a gate; not what has two phones: a "b" without its beginning is an "e"
        gate = t["gated"][i, (u[8] * len(GATES)).long()].float()
        through = (u[9] < 0.12) & (t["count"][i] > 4)
        lead = torch.where(
            through, torch.maximum(first - gate[:, 0], -0.45 * spoken) + u[10] * 0.01 * RATE, lead
        )
        tail = torch.where(
            through, torch.maximum(gate[:, 1] - last, -0.3 * spoken) + u[11] * 0.03 * RATE, tail
        )
        speed = torch.exp(torch.randn(b, device=dev) * 0.09).clamp(0.8, 1.25)
        front = torch.where(u[3] < 0.5, torch.zeros_like(u[3]), u[4] * 0.5 * RATE)
        back = torch.where((u[3] < 0.3) | (u[3] > 0.8), torch.zeros_like(u[3]), u[5] * 0.5 * RATE)
    else:
        lead = tail = torch.full((b,), 0.2 * RATE, device=dev)
        speed = torch.ones(b, device=dev)
        front = back = torch.zeros(b, device=dev)
    quiet = t["quiet"][i]
    a = (first - lead).clamp(min=0)
    z = torch.minimum(last + tail, length)
    a, z = torch.where(quiet, torch.zeros_like(a), a), torch.where(quiet, length, z)
    if room is not None:
        most = (3 * room - 3) * 160.0 + 400
        front, back = front.clamp(max=most * 0.15), back.clamp(max=most * 0.15)
        speed = torch.maximum(speed, (z - a) / (most - front - back))
    own = front + (z - a) / speed + back
    frames_in = ((own - 400) / 160 + 1).floor().clamp(min=3)
    n = int(own.max().item()) // 160 * 160 + 400 if room is None else (3 * room - 3) * 160 + 400
    pos = (torch.arange(n, device=dev)[None] - front[:, None]) * speed[:, None] + a[:, None]
    inside = (pos >= a[:, None]) & (pos < z[:, None] - 2)
    k = pos.clamp(min=0).long()
    f = (pos - k).float()
    k = torch.minimum(k, (length.long() - 3)[:, None]).clamp(min=1) + t["base"][i][:, None]
    p0, p1, p2, p3 = (corpus.audio[(k + d).clamp(0, len(corpus.audio) - 1)].float() for d in (-1, 0, 1, 2))
    # Catmull-Rom: cubic through four samples
    x = p1 + 0.5 * f * (p2 - p0 + f * (2 * p0 - 5 * p1 + 4 * p2 - p3 + f * (3 * (p1 - p2) + p3 - p0)))
    x = x * inside
    t_out = (((n - 400) // 160 + 1) + 2) // 3
    centre = (torch.arange(t_out, device=dev)[None] * 480 + 200 - front[:, None]) * speed[:, None] + a[
        :, None
    ]
    before = centre - 480 * speed[:, None]
    st, seg = t["st"][i], t["seg"][i].long()
    q = (torch.searchsorted(st.contiguous(), (centre / RATE).float().contiguous(), right=True) - 1).clamp(
        min=0
    )
    q0 = (torch.searchsorted(st.contiguous(), (before / RATE).float().contiguous(), right=True) - 1).clamp(
        min=0
    )
    out_side = (centre < a[:, None]) | (centre >= z[:, None])
    ph = torch.where(out_side, torch.zeros_like(q), seg.gather(1, q))
    labels = 2 * ph + (q == q0).long()
    labels = torch.where(out_side, torch.ones_like(labels), labels)
    frames = ((frames_in + 2) // 3).long().clamp(max=t_out)
    late = torch.arange(t_out, device=dev)[None] >= frames[:, None]
    labels = labels.masked_fill(~t["has"][i][:, None] | late, -100)
    n_state = int(t["count"][i].max()) if room is None else bucket_states(room)
    return Batch(
        x,
        torch.full((b, 1), 3000.0, device=dev),
        quiet[:, None],
        frames,
        labels,
        t["state"][i][:, :n_state].long(),
        t["optional"][i][:, :n_state],
        t["count"][i],
    )
