"""The weights between the start and the end of a training that went on from another one.

python average.py START.pt END.pt WORK_DIR DATA_DIR OUT_DIR [--share 0.5]

A short training on new speech wins some things and loses others; on the way between the two most of what
was won stays and less is lost (Izmailov et al. 2018, "Averaging weights leads to wider optima", from memory).
It only works along one training: two nets trained apart are not joined by a straight line.

The means and deviations of the normalisations are not averaged but measured, on some of the training's own
speech (WORK_DIR, DATA_DIR): halfway weights with averaged ones heard nothing once.
"""

from __future__ import annotations

import argparse
import random
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from augment import NoiseBank, augment
from features import Mfcc
from net import Net
from speech_data import Corpus, draw, prepared, silence, usable
from train import masked_features, people, save

Weights = dict[str, Tensor]
Statistics = list[tuple[Tensor, Tensor]]
BATCHES, BATCH_SECONDS, SHARDS, PEOPLE = 30, 120, 5, 400


def between(start: Weights, end: Weights, share: float) -> Weights:
    """`share` of the end, the rest of the start; counters as the end has them. Where the start has no picture
    branch, it has the end's, which tells it nothing."""
    out = {}
    for name, e in end.items():
        s = start.get(name, torch.zeros_like(e) if ".tell." in name else e)
        out[name] = torch.lerp(s.float(), e.float(), share) if e.dtype.is_floating_point else e
    return out


def some_speech(work: Path, data: Path) -> list[Tensor]:
    """Features of people and synthetic voices as the training would hear them."""
    r = random.Random(2)
    corpus, mfcc = Corpus("cpu"), Mfcc("cpu")
    said = [u for u in people(work) if usable(u)]
    corpus.add(prepared(r.sample(said, min(PEOPLE, len(said)))))
    for shard in sorted(data.glob("*.npz"))[:SHARDS]:
        with np.load(shard) as z:
            corpus.add({k: z[k] for k in z.files})
    corpus.add(prepared(silence(60, 1.6)))
    bank = NoiseBank(160, 6.0, "cpu", corpus.audio)
    batches = list(corpus.batches(BATCH_SECONDS, r))
    r.shuffle(batches)
    drawn = [draw(corpus, index, room) for room, index in batches[:BATCHES]]
    return [masked_features(mfcc, augment(b.x, b.loud, bank, b.quiet)) for b in drawn]


def statistics(net: Net) -> Statistics:
    return [(n.running_mean.clone(), n.running_var.clone()) for n in net.norms()]  # type: ignore[union-attr]


def measured(net: Net, speech: list[Tensor]) -> Statistics:
    """Means and variances of what reaches each normalisation, each given the batch's own as in training."""
    for norm in net.norms():
        norm.reset_running_stats()
        norm.momentum = None  # the plain average over all batches
        norm.train()
    for feats in speech:
        net(feats)
    net.eval()
    return statistics(net)


@torch.no_grad()
def averaged(start: Weights, end: Weights, share: float, speech: list[Tensor]) -> Net:
    """The net in between. What little `speech` measures wrongly at both ends, against what each learned over
    its whole training, is taken off in between too."""
    ends = []
    for part in (0.0, 1.0):
        net = Net()
        net.load_state_dict(between(start, end, part))
        net.eval()
        learned = statistics(net)
        ends.append((learned, measured(net, speech)))
    net = Net()
    net.load_state_dict(between(start, end, share))
    net.eval()
    here = measured(net, speech)
    tiny = 1e-6
    for k, norm in enumerate(net.norms()):
        mean, log_var = here[k][0], (here[k][1] + tiny).log()
        for weight, (learned, found) in zip((1 - share, share), ends, strict=True):
            mean = mean + weight * (learned[k][0] - found[k][0])
            off = ((learned[k][1] + tiny) / (found[k][1] + tiny)).log().clamp(-1, 1)
            log_var = log_var + weight * off
        norm.running_mean.copy_(mean)  # type: ignore[union-attr]
        norm.running_var.copy_((log_var.exp() - tiny).clamp(min=0))  # type: ignore[union-attr]
    return net


def main() -> None:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("start", "end", "work", "data", "out"):
        ap.add_argument(name, type=Path)
    ap.add_argument("--share", type=float, default=0.5)
    a = ap.parse_args()
    torch.manual_seed(3)
    start, end = (torch.load(f, map_location="cpu") for f in (a.start, a.end))
    net = averaged(start["net"], end["net"], a.share, some_speech(a.work, a.data))
    a.out.mkdir(parents=True, exist_ok=True)
    save(net, net, end["step"], a.out)


if __name__ == "__main__":
    main()
