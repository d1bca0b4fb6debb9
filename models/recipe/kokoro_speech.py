"""Synthesise the plan on the GPU with ever-new speakers: shards of 16 kHz audio with phone times.

python kokoro_speech.py WORK_DIR OUT_DIR RANK RANKS SECONDS   (needs weights.npz, voices.npz, plan.npz in
WORK_DIR)

A new speaker is a random blend of packaged voices (timbre and prosody blended apart, slightly past the
blend's edge),
with its own pitch, pitch movement and tempo.
"""

from __future__ import annotations

import math
import os
import sys
import time
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from kokoro_net import FRAME, STYLE, Encoded, KokoroNet
from speech_data import Utterance, prepared

GROUP = 8192  # utterances drawn together, then batched by token count
SECONDS_A_BATCH = 120.0
MAX_FRAMES = 400


def load_weights(path: Path) -> dict[str, Tensor]:
    """weights.npz as written by kokoro_weights.pack: float16 or int8 with scale."""
    z = np.load(path)
    return {
        k[:-2]: torch.from_numpy(z[k].astype(np.float32) * z[k[:-2] + ".s"])
        for k in z.files
        if k.endswith(".q")
    }


def blend(voices: Tensor, home: Tensor, g: torch.Generator, rows: Tensor) -> Tensor:
    """voices [V, R, 256]; home [B, V] weights a speaker may use; rows [B] -> style [B, 256]."""
    dev = voices.device
    b = len(rows)
    parts = []
    for half in (slice(0, STYLE), slice(STYLE, 2 * STYLE)):
        spread = torch.rand(b, 1, generator=g, device=dev) * 3
        logits = torch.randn(b, len(voices), generator=g, device=dev) * (1.5 + spread)
        w = torch.softmax(logits.masked_fill(home == 0, -1e9), -1)
        style = torch.einsum("bv,bvs->bs", w, voices[:, :, half].permute(1, 0, 2)[rows])
        mean = torch.einsum(
            "bv,bvs->bs", home / home.sum(1, keepdim=True), voices[:, :, half].permute(1, 0, 2)[rows]
        )
        push = 1 + torch.rand(b, 1, generator=g, device=dev) * 0.35
        parts.append(mean + (style - mean) * push)
    return torch.cat(parts, 1)


def to_16k(audio: Tensor) -> Tensor:
    """24 kHz -> 16 kHz by cutting the spectrum; length must be a multiple of 3."""
    n = audio.shape[1]
    spec = torch.fft.rfft(audio)
    return torch.fft.irfft(spec[:, : n // 3 + 1], n * 2 // 3) * (2 / 3)


def labels(
    frames: NDArray[np.int64], owner: NDArray[np.int16], n: int
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Start time in seconds of each phone (index into the utterance's phones; 255 = silence)."""
    start = np.concatenate([[0], np.cumsum(frames)])[:-1]
    own = np.concatenate([[-1], owner, [-1]])
    segs: list[tuple[int, int]] = []
    for t, o, f in zip(start, own, frames, strict=True):
        if o < 0:
            # a gap between words is silence only when it is long enough to be heard as one
            if (f >= 3 or t == 0 or t == start[-1]) and (not segs or segs[-1][0] != 255):
                segs.append((255, int(t)))
            continue
        if not segs or segs[-1][0] != o:
            segs.append((int(o), int(t)))
    seen = {o for o, _ in segs}
    out: list[tuple[int, float]] = []
    for k, (o, t) in enumerate(segs):
        out.append((o, float(t)))
        nxt, end = (o + 1, segs[k + 1][1] if k + 1 < len(segs) else int(frames.sum()))
        if (
            o != 255 and nxt < n and nxt not in seen
        ):  # a phone without a token: the last part of the one before
            out.append((nxt, t + (end - t) * 0.7))
    return (
        np.array([o for o, _ in out], np.uint8),
        np.array([t * FRAME / 24000 for _, t in out], np.float32),
    )


def one_word(u: Utterance, rng: np.random.Generator) -> Utterance | None:
    """Half of the longer utterances also give one word cut out of the flow: how hurried answers and clips
    sound."""
    if sum(u.starts) < 2 or rng.random() < 0.5 or u.seg is None or u.st is None:
        return None
    spoken = np.flatnonzero(u.seg != 0)
    if len(spoken) != len(u.phones):
        return None
    begins = np.flatnonzero(u.starts)
    w = int(rng.integers(len(begins)))
    a, b = int(begins[w]), int(begins[w + 1]) if w + 1 < len(begins) else len(u.phones)
    last = int(spoken[b - 1])
    t0 = float(u.st[spoken[a]])
    t1 = float(u.st[last + 1]) if last + 1 < len(u.st) else len(u.x) / 16000
    if not 0.12 < t1 - t0 < 2:
        return None
    i, j = max(0, int((t0 - 0.03) * 16000)), min(len(u.x), int((t1 + 0.03) * 16000))
    seg = np.concatenate([[0], u.seg[spoken[a] : last + 1], [0]]).astype(np.uint8)
    st = np.concatenate([[0.0], u.st[spoken[a] : last + 1] - i / 16000, [t1 - i / 16000]]).astype(np.float32)
    return Utterance(u.x[i:j].copy(), u.phones[a:b], u.starts[a:b], "kokoro", seg, st)


def faithful(net: KokoroNet, exact: KokoroNet, ids: Tensor, style: Tensor) -> float:
    """Correlation of the log spectra that the fast and the exact network make of one batch."""
    spectra = []
    for n in (net, exact):
        torch.manual_seed(0)
        enc = n.encode(ids, style)
        frames = torch.full(ids.shape, 4, device=ids.device)
        y = n.speak(
            enc,
            frames,
            style,
            torch.ones(len(ids), 2, device=ids.device),
            torch.zeros(len(ids), device=ids.device),
        )
        spectra.append(y.unfold(1, 480, 480) * torch.hann_window(480, device=ids.device))
    a, b = ((torch.fft.rfft(s.float()).abs() + 1e-3).log().flatten() for s in spectra)
    return float(torch.corrcoef(torch.stack([a, b]))[0, 1])


def main() -> None:
    work, out, rank, ranks, seconds = Path(sys.argv[1]), Path(sys.argv[2]), *map(int, sys.argv[3:6])
    out.mkdir(parents=True, exist_ok=True)
    began = time.time()
    cuda = torch.cuda.is_available()
    dev = f"cuda:{rank % torch.cuda.device_count()}" if cuda else "cpu"
    dtype = torch.float16 if cuda and os.environ.get("KOKORO_HALF", "1") == "1" else torch.float32
    if cuda:
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    net = KokoroNet(load_weights(work / "weights.npz"), dev, dtype)
    z = np.load(work / "voices.npz")
    names = list(z.files)
    voices = torch.from_numpy(np.stack([z[n].astype(np.float32) for n in names])).to(dev)
    english = torch.tensor([n[0] in "ab" for n in names], device=dev).float()
    british = torch.tensor([n[0] == "b" for n in names], device=dev).float()
    p = np.load(work / "plan.npz")
    plan = {k: p[k] for k in p.files}
    seed = int(os.environ.get("RECIPE_SEED", "0"))
    g = torch.Generator(device=dev).manual_seed(1000 + rank + 1000 * seed)
    rng = np.random.default_rng((seed, rank))
    if dtype == torch.float16:
        first = plan["token"][: plan["token_at"][1]].astype(np.int64)
        ids = torch.from_numpy(np.pad(np.tile(first, (8, 1)), ((0, 0), (1, 1)))).to(dev)
        style = voices[:8, 12]
        r = faithful(net, KokoroNet(net.w, dev, torch.float32), ids, style)
        print(f"kokoro {rank}: half precision agrees to {r:.3f}", flush=True)
        if not r > 0.9:
            net = KokoroNet(net.w, dev, torch.float32)
    budget = float(os.environ.get("KOKORO_BATCH_S", SECONDS_A_BATCH)) if cuda else 10.0
    total = len(plan["accent"])
    made, audio_s, shard = 0, 0.0, 0
    while time.time() - began < seconds:
        group = (GROUP if shard else GROUP // 4) if cuda else 24
        mine = (
            rng.integers(0, total, group)
            if total < group * ranks
            else rng.permutation(total)[rank::ranks][:group]
        )
        keep: list[Utterance] = []
        count = np.diff(plan["token_at"])[mine]
        for tokens in np.unique(count):
            idx = mine[count == tokens]
            if tokens > 90 or tokens < 1:
                continue
            ids = np.stack(
                [plan["token"][plan["token_at"][i] : plan["token_at"][i + 1]] for i in idx]
            ).astype(np.int64)
            ids_t = torch.from_numpy(np.pad(ids, ((0, 0), (1, 1)))).to(dev)
            b = len(idx)
            accent = torch.from_numpy(plan["accent"][idx].astype(np.int64)).to(dev)
            u = torch.rand(b, 1, generator=g, device=dev)
            home = torch.where(
                (accent == 2)[:, None],
                1 - english * (u < 0.5),
                torch.where(
                    ((accent == 1)[:, None]) & (u < 0.7),
                    british,
                    torch.where(u > 0.88, torch.ones_like(english), english),
                ),
            )
            rows = (int(tokens) - 1 + torch.randint(-4, 25, (b,), generator=g, device=dev)).clamp(
                0, voices.shape[1] - 1
            )
            style = blend(voices, home, g, rows)
            enc_parts = [net.encode(ids_t[k : k + 512], style[k : k + 512]) for k in range(0, b, 512)]
            duration = torch.cat([e.duration for e in enc_parts])
            prosody = torch.cat([e.prosody for e in enc_parts])
            text = torch.cat([e.text for e in enc_parts])
            single = 1.0 if tokens < 14 else 0.75
            tempo = torch.exp(torch.randn(b, 1, generator=g, device=dev) * 0.30 * single + 0.12)
            jitter = torch.exp(torch.randn(duration.shape, generator=g, device=dev) * 0.15)
            frames = (duration * tempo * jitter).round().clamp(min=1, max=24).long()
            frames[:, 0] = torch.randint(2, 16, (b,), generator=g, device=dev)
            frames[:, -1] = torch.randint(4, 14, (b,), generator=g, device=dev)
            order = torch.argsort(frames.sum(1))
            sums = frames.sum(1)[order].tolist()
            at = 0
            while at < b:
                end = at + 1
                while (
                    end < b
                    and sums[end] <= sums[at] + max(5, sums[at] // 9)
                    and (end + 1 - at) * sums[end] * FRAME / 24000 < budget
                ):
                    end += 1
                pick = order[at:end]
                at = end
                if sums[end - 1] > MAX_FRAMES:
                    continue
                fr = frames[pick].clone()
                # what is missing to the longest of the batch becomes silence in front and behind
                missing = sums[end - 1] - fr.sum(1)
                ahead = (missing * torch.rand(len(pick), generator=g, device=dev)).long()
                fr[:, 0] += ahead
                fr[:, -1] += missing - ahead
                enc = Encoded(prosody[pick], text[pick], duration[pick])
                k = len(pick)
                pitch = torch.stack(
                    [
                        torch.exp(torch.randn(k, generator=g, device=dev) * 0.10),
                        torch.exp(torch.randn(k, generator=g, device=dev) * 0.3),
                    ],
                    1,
                )
                energy = torch.randn(k, generator=g, device=dev) * 0.4
                y = to_16k(net.speak(enc, fr, style[pick], pitch, energy))
                peak = y.abs().amax(1, keepdim=True)
                ok = (torch.isfinite(peak[:, 0]) & (peak[:, 0] > 1e-3)).cpu().numpy()
                wave = (y / peak.clamp(min=1e-3) * 20000).clamp(-32767, 32767).to(torch.int16).cpu().numpy()
                fr_n = fr.cpu().numpy()
                for row, (i, good) in enumerate(zip(idx[pick.cpu().numpy()], ok, strict=True)):
                    if not good:
                        continue
                    own = plan["owner"][plan["token_at"][i] : plan["token_at"][i + 1]]
                    phones = plan["phone"][plan["phone_at"][i] : plan["phone_at"][i + 1]]
                    seg, st = labels(fr_n[row], own, len(phones))
                    ids_n = (phones & 0x7F).tolist()
                    pdf = np.array([0 if q == 255 else ids_n[q] for q in seg], np.uint8)
                    keep.append(Utterance(wave[row], ids_n, (phones >= 0x80).tolist(), "kokoro", pdf, st))
                    audio_s += wave.shape[1] / 16000
                    if (cut := one_word(keep[-1], rng)) is not None:
                        keep.append(cut)
                made += len(pick)
                if time.time() - began > seconds:
                    break
            if time.time() - began > seconds:
                break
        name = out / f"kokoro-{rank}-{shard:03d}.npz"
        if not keep:
            continue
        np.savez(str(name) + ".tmp.npz", **prepared(keep))
        os.replace(str(name) + ".tmp.npz", name)
        shard += 1
        took = time.time() - began
        print(
            f"kokoro {rank}: {made} utterances, {audio_s / 3600:.2f} h in {took:.0f} s "
            f"({audio_s / took:.0f} x real time)",
            flush=True,
        )
    if not math.isfinite(audio_s):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
