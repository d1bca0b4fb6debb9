"""The weights between the start and the end of a training that went on from another one.

python average.py START.pt END.pt OUT_DIR [--share 0.5]

A short training on new speech wins some things and loses others; on the way between the two most of what
was won stays and less is lost (Izmailov et al. 2018, "Averaging weights leads to wider optima", from memory).
It only works along one training: two nets trained apart are not joined by a straight line.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch
from torch import Tensor

from net import Net
from train import save


def between(start: dict[str, Tensor], end: dict[str, Tensor], share: float) -> dict[str, Tensor]:
    """`share` of the end, the rest of the start; counters as the end has them. Means and deviations of the
    normalisations are averaged too."""
    return {
        name: torch.lerp(start[name].float(), e.float(), share) if e.dtype.is_floating_point else e
        for name, e in end.items()
    }


def main() -> None:
    ap = argparse.ArgumentParser()
    ap.add_argument("start", type=Path)
    ap.add_argument("end", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("--share", type=float, default=0.5)
    a = ap.parse_args()
    start, end = (torch.load(f, map_location="cpu") for f in (a.start, a.end))
    net = Net()
    net.load_state_dict(between(start["net"], end["net"], a.share))
    net.eval()
    a.out.mkdir(parents=True, exist_ok=True)
    save(net, net, end["step"], a.out)


if __name__ == "__main__":
    main()
