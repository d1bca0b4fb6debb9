"""Train the network for a given number of seconds: frame labels first, then lattice-free maximum mutual
information.

python train.py WORK_DIR DATA_DIR OUT_DIR SECONDS [--from STATE.pt|final.mdl] [--no-frames]
torchrun --nproc-per-node GPUS train.py ... shares every batch among the GPUs of one machine.

WORK_DIR holds human.opus and human.json, perhaps crowd and read likewise, DATA_DIR the synthetic shards
(new ones are taken in between epochs), OUT_DIR gets folded.npz (what goes into final.mdl), state.pt (to go
on from) and start.pt (what it went on from, for average.py).
"""

from __future__ import annotations

import argparse
import itertools
import math
import os
import random
import time
from collections.abc import Callable
from pathlib import Path
from typing import cast

import numpy as np
import torch
import torch.distributed as dist
import torch.nn.functional as F  # noqa: N812
from numpy.typing import NDArray
from torch import Tensor

import nnet3_file
from augment import NoiseBank, augment
from features import WARPS, Mfcc
from fullsum import Trigram, denominator, numerator, transcript_states
from net import Net, folded, grown, rescaled, settle, unfolded
from phones import N_PDFS, N_PHONES, PHONE_ID
from speech_data import Batch, Corpus, Utterance, draw, prepared, recorded, silence, usable

CE_SHARE = 0.22  # of the time with frame labels alone
PEAK_RATE = 2e-3
SEED = int(os.environ.get("RECIPE_SEED", "0"))
RANK, RANKS = int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1"))


def agreed(value: object) -> object:
    """The first process's value in every process: what is decided by the clock must be decided alike."""
    if RANKS == 1:
        return value
    box = [value]
    dist.broadcast_object_list(box, src=0)
    return box[0]


def average_gradients(net: torch.nn.Module) -> None:
    grads = [p.grad for p in net.parameters() if p.grad is not None]
    flat = torch.cat([g.flatten() for g in grads])
    dist.all_reduce(flat)
    flat /= RANKS
    at = 0
    for g in grads:
        g.copy_(flat[at : at + g.numel()].view_as(g))
        at += g.numel()


def trigram(corpus: Corpus, seed: int) -> Trigram:
    """Counted over all transcripts, with the optional silences kept at random."""
    rng = np.random.default_rng(seed)
    state, optional, count = (corpus.tables[k].cpu().numpy() for k in ("state", "optional", "count"))
    place = np.arange(state.shape[1])[None]
    inside = place < count[:, None]
    edge = (place == 0) | (place == count[:, None] - 1)
    keep = inside & (~optional | (rng.random(state.shape) < np.where(edge, 0.85, 0.3)))
    # two silences in front of each utterance keep one utterance's end out of the next one's beginning
    flat = np.concatenate([np.zeros((len(state), 2), np.int64), state.astype(np.int64)], 1)
    keep = np.concatenate([np.ones((len(state), 2), bool), keep], 1)
    first = np.zeros(flat.shape, bool)
    first[:, :2] = True
    seq, skip = flat[keep], first[keep]
    c = np.zeros(N_PHONES**3)
    valid = ~skip[2:]
    np.add.at(c, (seq[:-2] * N_PHONES**2 + seq[1:-1] * N_PHONES + seq[2:])[valid], 1)
    return Trigram(torch.from_numpy(c.reshape(N_PHONES, N_PHONES, N_PHONES)))


def masked_features(mfcc: Mfcc, x: Tensor) -> Tensor:
    """Random vocal-tract warp, then bands and moments of the log-mel picture hidden."""
    b, dev = len(x), x.device
    bank = torch.where(
        torch.rand(b, device=dev) < 0.35, len(WARPS), torch.randint(0, len(WARPS), (b,), device=dev)
    )
    m = mfcc.log_mel(x, bank)
    t = m.shape[1]
    mean = m.mean(1, keepdim=True)
    fi, ti = torch.arange(40, device=dev)[None], torch.arange(t, device=dev)[None]

    def span(size: int, width: float, p: float, i: Tensor) -> Tensor:
        start = torch.rand(b, 1, device=dev) * size
        w = torch.rand(b, 1, device=dev) * width * (torch.rand(b, 1, device=dev) < p)
        return (i >= start) & (i < start + w)

    hide = (span(40, 8, 0.35, fi) | span(40, 5, 0.2, fi))[:, None, :] | span(t, 9, 0.3, ti)[:, :, None]
    return mfcc.cepstra(torch.where(hide, mean, m))


def spelled(choices: list[list[str]], pick: tuple[int, ...]) -> tuple[list[int], list[bool]]:
    """Phones and word starts of an utterance with variant pick[k] of word k."""
    phones: list[int] = []
    starts: list[bool] = []
    for word, k in zip(choices, pick, strict=True):
        ids = [PHONE_ID[p] for p in word[k].split()]
        phones += ids
        starts += [True] + [False] * (len(ids) - 1)
    return phones, starts


def picks_to_try(choices: list[list[str]], most: int) -> list[tuple[int, ...]]:
    """Every combination of variants if there are at most `most`, else the firsts and all single changes."""
    if math.prod(map(len, choices)) <= most:
        return list(itertools.product(*(range(len(c)) for c in choices)))
    first = [0] * len(choices)
    changes = [(k, v) for k, c in enumerate(choices) for v in range(1, len(c))]
    return [tuple(first), *((*first[:k], v, *first[k + 1 :]) for k, v in changes)]


def best_pick(choices: list[list[str]], picks: list[tuple[int, ...]], fit: NDArray) -> tuple[int, ...]:
    """The pick that fits best; of single changes all that are better than none."""
    if len(picks) == math.prod(map(len, choices)):
        return picks[int(np.argmax(fit))]
    best = list(picks[0])
    gain = [float(fit[0])] * len(choices)
    for pick, value in zip(picks[1:], fit[1:], strict=True):
        k = next(k for k, v in enumerate(pick) if v)
        if value > gain[k]:
            best[k], gain[k] = pick[k], float(value)
    return tuple(best)


@torch.no_grad()
def choose_variants(
    corpus: Corpus, spoken: dict[int, list[list[str]]], net: Net, mfcc: Mfcc, most: int = 8
) -> int:
    """Pick for each recording the combination of pronunciations that fits best; returns how many
    changed. Where there are more than `most`, each word that fits better with another one, all else as the
    dictionary's first, gets it."""
    net.eval()
    jobs = [(i, picks) for i, choices in spoken.items() if len(picks := picks_to_try(choices, most)) > 1]
    jobs.sort(key=lambda j: len(spoken[j[0]]))
    changed = 0
    for at in range(0, len(jobs), 64):
        part = jobs[at : at + 64]
        batch = draw(corpus, np.array([i for i, _ in part]), varied=False)
        scores = net(mfcc(batch.x + 5 * torch.randn_like(batch.x)))[0].float()
        rows = [row for row, (_, picks) in enumerate(part) for _ in picks]
        trials = [(i, spelled(spoken[i], pick)) for i, picks in part for pick in picks]
        states = [transcript_states(*t) for _, t in trials]
        k, dev = max(len(s) for s, _ in states), scores.device
        state = torch.tensor([s + [0] * (k - len(s)) for s, _ in states], device=dev)
        optional = torch.tensor([o + [False] * (k - len(o)) for _, o in states], device=dev)
        n = torch.tensor([len(s) for s, _ in states], device=dev)
        index = torch.tensor(rows, device=dev)
        got = numerator(scores[index], batch.frames[index], state, optional, n).cpu().numpy()
        at_row = 0
        for i, picks in part:
            fit = got[at_row : at_row + len(picks)]
            at_row += len(picks)
            changed += corpus.relabel(i, *spelled(spoken[i], best_pick(spoken[i], picks, fit)))
    net.train()
    return changed


def people(work: Path) -> list[Utterance]:
    """AN4 and, where it is there, what a crowd recorded, what others read, and their letters, digits and
    single words ("short"); RECIPE_AN4 of AN4 at most."""
    out = recorded(work / "human", "an4", PHONE_ID)[: int(os.environ.get("RECIPE_AN4", "1000000"))]
    for source in ("crowd", "read", "short"):
        for packed in sorted(work.glob(f"{source}*.json")):
            out += recorded(packed, source, PHONE_ID)
    return out


class _Scores(torch.nn.Module):
    def __init__(self, lm: Trigram) -> None:
        super().__init__()
        self.lm = lm

    def forward(
        self, seq: Tensor, frames: Tensor, state: Tensor, optional: Tensor, count: Tensor
    ) -> tuple[Tensor, Tensor]:
        return numerator(seq, frames, state, optional, count), denominator(seq, frames, self.lm)


class Criterion:
    """Numerator and denominator scores; on a GPU each bucket's thousands of small kernels run as one
    recorded graph."""

    def __init__(self, lm: Trigram, graphs: bool) -> None:
        self.scores, self.graphs = _Scores(lm), graphs
        self.recorded: dict[tuple[int, ...], Callable[..., tuple[Tensor, Tensor]]] = {}

    def __call__(self, room: int, seq: Tensor, frames: Tensor, batch: Batch) -> tuple[Tensor, Tensor]:
        args = (seq, frames, batch.state, batch.optional, batch.count)
        if not self.graphs:
            return self.scores(*args)
        key = (room, *seq.shape, batch.state.shape[1])
        if key not in self.recorded:
            sample = tuple(x.detach().clone() for x in args)
            sample[0].requires_grad_(True)
            self.recorded[key] = torch.cuda.make_graphed_callables(_Scores(self.scores.lm), sample)
        return self.recorded[key](*args)


def main() -> None:
    ap = argparse.ArgumentParser()
    ap.add_argument("work", type=Path)
    ap.add_argument("data", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("seconds", type=float)
    ap.add_argument("--from", dest="start", type=Path)
    ap.add_argument("--batch-seconds", type=float, default=700)
    ap.add_argument("--no-frames", action="store_true")
    ap.add_argument(
        "--old-share", type=float, default=1.0, help="of the rate, for all but the picture branch"
    )
    ap.add_argument("--rate", type=float, default=PEAK_RATE)
    a = ap.parse_args()
    began = time.time()

    def say(*what: object) -> None:
        if RANK == 0:
            print(f"[train {time.time() - began:.0f}s]", *what, flush=True)

    cuda = torch.cuda.is_available()
    dev = "cuda" if cuda else "cpu"
    if cuda:
        torch.cuda.set_device(int(os.environ.get("LOCAL_RANK", "0")))
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    if RANKS > 1:
        dist.init_process_group("nccl" if cuda else "gloo")
    torch.manual_seed(1)
    r = random.Random(1 + SEED)
    a.out.mkdir(parents=True, exist_ok=True)
    corpus = Corpus(dev)
    human = [u for u in people(a.work) if usable(u)]
    spoken = dict(zip(corpus.add(prepared(human)), [u.choices for u in human], strict=True))
    said_by_people = len(corpus.audio)
    seen: set[Path] = set()

    def take_new(limit: int = 1000) -> bool:
        fresh = [p for p in sorted(a.data.glob("*.npz")) if p not in seen and ".tmp" not in p.name][:limit]
        fresh = cast(list[Path], agreed(fresh))
        for p in fresh:
            try:
                with np.load(p) as z:
                    corpus.add({k: z[k] for k in z.files})
            except (OSError, ValueError) as e:
                say("skipped", p.name, e)
            seen.add(p)
        return bool(fresh)

    take_new()
    corpus.add(prepared(silence(max(40, len(corpus) // 50), 1.6)))
    say(len(corpus), "utterances", f"{len(corpus.audio) / 57.6e6:.2f} h")
    mfcc = Mfcc(dev)
    net = Net().to(dev)
    ema = Net().to(dev)
    step = 0
    lm = trigram(corpus, step).to(dev)
    if a.start:
        if a.start.suffix == ".mdl":
            small = unfolded(nnet3_file.read(a.start, nnet3_file.OUTPUT_BIAS)).to(dev)
            r_some = random.Random(2)
            some = [draw(corpus, i, room) for room, i in corpus.batches(60, r_some)[:60]]
            quiet = torch.zeros(1, 1, dtype=torch.bool, device=dev)
            few = NoiseBank(64, 6.0, dev, corpus.audio)
            settle(small, [mfcc(augment(b.x, b.loud, few, quiet)) for b in some])
            rescaled(small)
            saved = {"net": small.state_dict(), "step": 0}
        else:
            saved = torch.load(a.start, map_location=dev)
        net.load_state_dict(grown(saved["net"], net))
        step = saved["step"]
        say(
            "going on from",
            a.start,
            "step",
            step,
            "variants changed",
            choose_variants(corpus, spoken, net, mfcc),
        )
    ema.load_state_dict(net.state_dict())
    ema.eval()
    if a.start:
        save_state(ema, step, a.out / "start.pt")
    torch.manual_seed(100 + RANK + 1000 * SEED)  # the same start, each process its own noise
    say("parameters", sum(p.numel() for p in net.parameters()))
    bank = NoiseBank(2400 if cuda else 20, 6.0, dev, corpus.audio, said_by_people)
    say("noise ready")
    # a branch that is new has more to learn than what it joins
    new = [p for n, p in net.named_parameters() if n.startswith("picture.")]
    old = [p for n, p in net.named_parameters() if not n.startswith("picture.")]
    groups = [{"params": new, "share": 1.0}, {"params": old, "share": a.old_share}]
    opt = torch.optim.AdamW(groups, lr=a.rate, weight_decay=0.02, betas=(0.9, 0.98))
    net.train()
    frames_only = not a.start and not a.no_frames
    log_prior: Tensor | None = None
    last_save, last_say = time.time(), 0.0
    p = p_began = cast(float, agreed((time.time() - began) / a.seconds))
    counts = torch.ones(N_PDFS, device=dev)
    running: dict[str, float] = {}
    criterion = Criterion(lm, cuda)
    while True:
        if take_new(3):
            bank.speech = corpus.audio
            say(len(corpus), "utterances", f"{len(corpus.audio) / 57.6e6:.2f} h")
        for room, index in corpus.batches(a.batch_seconds, r, labelled_only=frames_only):
            if RANKS == 1 or step % 10 == 0:
                p = cast(float, agreed((time.time() - began) / a.seconds))
            if p >= 1:
                break
            index = index[RANK::RANKS]
            lr = a.rate * min(1.0, (p - p_began) / 0.03 + 0.02)
            lr *= 0.5 * (1 + math.cos(math.pi * min(1.0, p))) * 0.99 + 0.01
            for group in opt.param_groups:
                group["lr"] = lr * group["share"]
            if frames_only and p > CE_SHARE:
                frames_only = False
                log_prior = (counts / counts.sum()).log()
                with torch.no_grad():
                    net.head.bias -= 0.7 * log_prior.clamp(min=-9)
                ema.load_state_dict(net.state_dict())
                n = choose_variants(corpus, spoken, net, mfcc)
                criterion = Criterion(trigram(corpus, step).to(dev), cuda)
                say("sequence criterion from here; pronunciations changed:", n)
                break
            with torch.no_grad():
                batch = draw(corpus, index, room)
                x = augment(batch.x, batch.loud, bank, batch.quiet)
                feats = masked_features(mfcc, x)
            with torch.autocast(dev, torch.bfloat16, enabled=cuda):
                seq, frame = net(feats)
            seq, frame = seq.float(), frame.float()
            t = min(seq.shape[1], batch.labels.shape[1])
            seq, frame, labels = seq[:, :t], frame[:, :t], batch.labels[:, :t]
            known = labels >= 0
            loss_ce = (
                F.cross_entropy(frame.transpose(1, 2), labels, ignore_index=-100)
                if known.any()
                else (seq.sum() + frame.sum()) * 0
            )
            parts = {"ce": loss_ce.detach()}
            if frames_only:
                loss = loss_ce + F.cross_entropy(seq.transpose(1, 2), labels, ignore_index=-100)
                counts += torch.bincount(labels[known], minlength=N_PDFS)
            else:
                frames = batch.frames.clamp(max=t)
                num, den = criterion(room, seq, frames, batch)
                good = num > -1e5
                mmi = torch.where(good, den - num, torch.zeros_like(num)).sum() / frames[good].sum().clamp(
                    min=1
                )
                loss = mmi + 0.15 * loss_ce + 3e-4 * seq.pow(2).mean()
                parts |= {"mmi": mmi.detach(), "bad": (~good).float().mean()}
            opt.zero_grad(set_to_none=True)
            loss.backward()
            if RANKS > 1:
                average_gradients(net)
            norm = torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            opt.step()
            step += 1
            decay = min(0.998, step / (step + 50))
            with torch.no_grad():
                mine, theirs = list(net.state_dict().values()), list(ema.state_dict().values())
                floats = [(m, e) for m, e in zip(mine, theirs, strict=True) if e.dtype.is_floating_point]
                torch._foreach_lerp_([e for _, e in floats], [m for m, _ in floats], 1 - decay)
            if step % 20 == 0:
                for k, v in parts.items():
                    running[k] = 0.8 * running.get(k, float(v)) + 0.2 * float(v)
                if not math.isfinite(float(norm)):
                    say("gradient not finite at step", step)
            if time.time() - last_say > (15 if cuda else 5):
                last_say = time.time()
                say(
                    f"step {step} p {p:.2f} lr {lr:.1e}",
                    {k: round(v, 4) for k, v in running.items()},
                    f"B {len(index)} T {t} norm {float(norm):.2f}",
                )
            if time.time() - last_save > 120 and not frames_only:
                last_save = time.time()
                save(ema, net, step, a.out)
        if p >= 1:
            break
    save(ema, net, step, a.out)
    say("done, steps", step)


def save(ema: Net, net: Net, step: int, out: Path) -> None:
    if RANK:
        return
    np.savez(
        out / "folded.tmp.npz",
        **{k: v.astype(np.float16 if v.ndim == 2 else np.float32) for k, v in folded(ema).items()},
    )
    (out / "folded.tmp.npz").rename(out / "folded.npz")
    save_state(ema, step, out / "state.pt")


def save_state(net: Net, step: int, path: Path) -> None:
    if RANK:
        return
    half = {
        k: v.half() if v.dtype.is_floating_point and v.dim() > 1 else v for k, v in net.state_dict().items()
    }
    torch.save(dict(net=half, step=step), path.with_suffix(".tmp"))
    path.with_suffix(".tmp").rename(path)


if __name__ == "__main__":
    main()
