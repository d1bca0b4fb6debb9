"""The acoustic network and its export: time-delay layers, then residual bottleneck blocks at one frame in
30 ms.

Everything in it is an affine map, a ReLU, a splice or a sum, so Kaldi's nnet3 can run it; batch
normalisation is
folded into the affine maps on export.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812
from numpy.typing import NDArray
from torch import Tensor, nn

from phones import N_PDFS
from splices import BLOCKS, FRONT, LEFT, RIGHT


@dataclass(frozen=True)
class Size:
    front: int = 256
    stream: int = 384
    hidden: int = 896


class Net(nn.Module):
    """log-mel cepstra [B, T, 40] -> (sequence scores, frame scores), each [B, ceil(T / 3), pdfs]."""

    def __init__(self, size: Size = Size()) -> None:
        super().__init__()
        self.size = size
        dims = (40, size.front, size.front, size.front)
        self.front = nn.ModuleList(
            nn.Conv1d(dims[k], dims[k + 1], len(o), stride=3 if k == 2 else 1) for k, o in enumerate(FRONT)
        )
        self.front_norm = nn.ModuleList(nn.BatchNorm1d(d) for d in dims[1:])
        self.enter = nn.Conv1d(size.front, size.stream, 1)
        self.spread = nn.ModuleList(nn.Conv1d(3 * size.stream, size.hidden, 1, bias=False) for _ in BLOCKS)
        self.norm = nn.ModuleList(nn.BatchNorm1d(size.hidden) for _ in BLOCKS)
        self.back = nn.ModuleList(nn.Conv1d(size.hidden, size.stream, 1) for _ in BLOCKS)
        self.last = nn.BatchNorm1d(size.stream)
        self.head = nn.Conv1d(size.stream, N_PDFS, 1)
        self.frame_head = nn.Conv1d(size.stream, N_PDFS, 1)
        self.input_norm = nn.BatchNorm1d(40, affine=False)
        self.drop = nn.Dropout(0.1)
        for b in self.back:
            nn.init.normal_(b.weight, std=0.02)
            nn.init.zeros_(b.bias)

    def norms(self) -> list[nn.BatchNorm1d]:
        """Every normalisation, in the order in which the speech meets them."""
        return [self.input_norm, *self.front_norm, *self.norm, self.last]  # type: ignore[list-item]

    def forward(self, feats: Tensor) -> tuple[Tensor, Tensor]:
        t_out = (feats.shape[1] + 2) // 3
        x = F.pad(feats.transpose(1, 2), (LEFT, RIGHT + 2), mode="replicate")
        x = self.input_norm(x)
        for conv, norm in zip(self.front, self.front_norm, strict=True):
            x = norm(F.relu(conv(x)))
        x = self.enter(x)
        # frame k of x now stands for output frame k - (LEFT - 4) / 3
        for k, offsets in enumerate(BLOCKS):
            lo, hi = -offsets[0], offsets[2]
            n = x.shape[2] - lo - hi
            parts = [x[:, :, lo + o : lo + o + n] for o in offsets]
            y = F.relu(self.norm[k](self.spread[k](torch.cat(parts, 1))))
            x = x[:, :, lo : lo + n] + self.back[k](self.drop(y))
        x = self.last(x[:, :, :t_out])
        return self.head(x).transpose(1, 2), self.frame_head(x).transpose(1, 2)


def grown(small: dict[str, Tensor], net: Net) -> dict[str, Tensor]:
    """Weights of a narrower or shallower net -> a state for `net` that says exactly the same.

    New hidden units and new blocks are read by zeros, so nothing changes until training gives them something
    to say.
    """
    out = {k: v.clone() for k, v in net.state_dict().items()}
    for name, v in small.items():
        out[name][tuple(slice(0, n) for n in v.shape)] = v.to(out[name])
    had = 1 + max(int(k.split(".")[1]) for k in small if k.startswith("back."))
    for k in range(len(BLOCKS)):
        old = small[f"back.{k}.weight"].shape[1] if k < had else 0
        out[f"back.{k}.weight"][:, old:] = 0
    return out


def unfolded(z: dict[str, NDArray]) -> Net:
    """The net that says what folded maps say: its normalisations do nothing until `settle` measures them."""
    size = Size(len(z["front0_b"]), len(z["enter_b"]), len(z["spread0_b"]))
    net = Net(size)

    def put(conv: nn.Conv1d, name: str) -> None:
        w = z[name + "_W"]
        taps = conv.kernel_size[0]
        conv.weight.copy_(torch.from_numpy(w.reshape(len(w), taps, -1).transpose(0, 2, 1).copy()))
        if conv.bias is not None:
            conv.bias.copy_(torch.from_numpy(z[name + "_b"]))

    with torch.no_grad():
        for norm in net.norms():
            norm.running_var.fill_(1 - norm.eps)  # type: ignore[operator]
        for k, conv in enumerate(net.front):
            put(conv, f"front{k}")
        put(net.enter, "enter")
        for k in range(len(BLOCKS)):
            put(net.spread[k], f"spread{k}")
            net.norm[k].bias.copy_(torch.from_numpy(z[f"spread{k}_b"]))
            put(net.back[k], f"back{k}")
        put(net.head, "out")
        put(net.frame_head, "out")
    return net


@torch.no_grad()
def settle(net: Net, batches: list[Tensor]) -> None:
    """Give every normalisation the mean and deviation of what reaches it, and undo both in its scale and
    offset: the net says the same, and goes on saying it when training takes them from each batch."""
    norms = net.norms()
    sums: dict[nn.Module, list[Tensor]] = {n: [] for n in norms}

    def note(norm: nn.Module, inputs: tuple[Tensor, ...]) -> None:
        x = inputs[0].double()
        sums[norm].append(torch.stack([x.mean((0, 2)), (x**2).mean((0, 2))]))

    hooks = [n.register_forward_pre_hook(note) for n in norms]
    net.eval()
    for feats in batches:
        net(feats)
    for h in hooks:
        h.remove()
    for norm in norms:
        mean, square = torch.stack(sums[norm]).mean(0)
        var = (square - mean**2).clamp(min=1e-6)
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(var)
        deviation = (var + norm.eps).sqrt()
        if norm.affine:
            norm.bias += norm.weight * mean.float()
            norm.weight *= deviation.float()
        else:  # the first convolution undoes it
            conv = net.front[0]
            conv.bias += (conv.weight * mean.float()[None, :, None]).sum((1, 2))
            conv.weight *= deviation.float()[None, :, None]


def _bn(norm: nn.BatchNorm1d) -> tuple[NDArray, NDArray]:
    """scale, offset of a batch norm at run time."""
    std = torch.sqrt(norm.running_var + norm.eps)
    scale = (norm.weight if norm.affine else torch.ones_like(std)) / std
    offset = (norm.bias if norm.affine else torch.zeros_like(std)) - norm.running_mean * scale
    return scale.detach().double().cpu().numpy(), offset.detach().double().cpu().numpy()


def _mat(conv: nn.Conv1d) -> tuple[NDArray, NDArray]:
    """[out, taps * in] with columns tap after tap, bias [out]."""
    w = conv.weight.detach().double().cpu().numpy()
    b = conv.bias.detach().double().cpu().numpy() if conv.bias is not None else np.zeros(len(w))
    return w.transpose(0, 2, 1).reshape(len(w), -1), b


def folded(net: Net) -> dict[str, NDArray]:
    """Plain affine maps `front{k}`, `spread{k}`, `back{k}`, `out` as _W and _b arrays (float32)."""
    out: dict[str, NDArray] = {}
    scale, offset = _bn(net.input_norm)
    for k, conv in enumerate(net.front):
        w, b = _mat(conv)
        taps = w.shape[1] // len(scale)
        out[f"front{k}_W"], out[f"front{k}_b"] = w * np.tile(scale, taps), b + w @ np.tile(offset, taps)
        scale, offset = _bn(net.front_norm[k])
    w, b = _mat(net.enter)
    out["enter_W"], out["enter_b"] = w * scale, b + w @ offset
    for k in range(len(BLOCKS)):
        w, b = _mat(net.spread[k])
        s, o = _bn(net.norm[k])
        out[f"spread{k}_W"], out[f"spread{k}_b"] = w * s[:, None], b * s + o
        out[f"back{k}_W"], out[f"back{k}_b"] = _mat(net.back[k])
    s, o = _bn(net.last)
    w, b = _mat(net.head)
    out["out_W"], out["out_b"] = w * s, b + w @ o
    return {k: v.astype(np.float32) for k, v in out.items()}
