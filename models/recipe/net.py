"""The acoustic network and its export: time-delay layers, then residual bottleneck blocks at one frame in
30 ms, joined on their way by a branch of two-dimensional layers over the log-mel picture.

Everything in it is an affine map, a two-dimensional convolution, a ReLU, a splice or a sum, so Kaldi's nnet3
can run it; batch normalisation is folded into the maps on export.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812
from numpy.typing import NDArray
from torch import Tensor, nn

from features import N_MEL, mel_from_cepstra
from phones import N_PDFS
from splices import BLOCKS, FRONT, LEFT, PICTURE, PICTURE_AT, RIGHT

ROW_RMS = 0.05  # of a row's weights once trained, seen after the tenth training


@dataclass(frozen=True)
class Size:
    front: int = 256
    stream: int = 384
    hidden: int = 896


class Picture(nn.Module):
    """Cepstra [B, 40, N] -> what small patches of the log-mel picture show, [B, stream, frames of 30 ms].

    A pattern is found wherever on the mel axis it lies, so that voices higher or lower than those of the
    training look alike.
    """

    def __init__(self, stream: int) -> None:
        super().__init__()
        self.register_buffer("unrolled", torch.from_numpy(mel_from_cepstra()), persistent=False)
        self.mel_norm = nn.BatchNorm1d(N_MEL, affine=False)
        filters = (1, *(f for f, _ in PICTURE))
        self.look = nn.ModuleList(
            nn.Conv2d(a, b, 3, stride=(3 if k == 2 else 1, 2 if halves(k) else 1), padding=(0, 1), bias=False)
            for k, (a, b) in enumerate(itertools.pairwise(filters))
        )
        self.look_norm = nn.ModuleList(nn.BatchNorm2d(f) for f, _ in PICTURE)
        self.tell = nn.Conv1d(PICTURE[-1][0] * PICTURE[-1][1], stream, 1)
        nn.init.zeros_(self.tell.weight)
        nn.init.zeros_(self.tell.bias)

    def forward(self, cepstra: Tensor) -> Tensor:
        with torch.autocast(cepstra.device.type, enabled=False):  # bands are differences of large cepstra
            x = self.mel_norm(torch.einsum("mc,bct->bmt", self.unrolled, cepstra.float()))
        x = x.transpose(1, 2)[:, None, 1:]  # [B, 1, N - 1, mel]
        for conv, norm in zip(self.look, self.look_norm, strict=True):
            x = F.relu(norm(conv(x)))
        return self.tell(
            x.permute(0, 3, 1, 2).flatten(1, 2)
        )  # bands with their filters inside, as Kaldi has it


def halves(k: int) -> bool:
    """Does layer k of the picture halve the number of bands?"""
    return PICTURE[k][1] < (PICTURE[k - 1][1] if k else N_MEL)


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
        self.picture = Picture(size.stream)
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
        p = self.picture
        every = [self.input_norm, p.mel_norm, *self.front_norm, *p.look_norm, *self.norm, self.last]
        return every  # type: ignore[return-value]

    def forward(self, feats: Tensor) -> tuple[Tensor, Tensor]:
        t_out = (feats.shape[1] + 2) // 3
        x = F.pad(feats.transpose(1, 2), (LEFT, RIGHT + 2), mode="replicate")
        picture = self.picture(x)
        x = self.input_norm(x)
        for conv, norm in zip(self.front, self.front_norm, strict=True):
            x = norm(F.relu(conv(x)))
        x = self.enter(x)
        # frame k of x now stands for output frame k - (LEFT - 4) / 3
        for k, offsets in enumerate(BLOCKS):
            if k == PICTURE_AT:
                x = x + picture[:, :, : x.shape[2]]
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
    picture = net.picture

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
        if "tell_W" in z:  # nets before 2026-11-27 have no picture
            mel, plain = torch.from_numpy(z["mel_W"]), picture.unrolled  # the same but for a scale a row
            scale = (mel * plain).sum(1) / (plain**2).sum(1)  # type: ignore[operator]
            picture.mel_norm.running_var.copy_(1 / scale**2 - picture.mel_norm.eps)  # type: ignore[operator]
            picture.mel_norm.running_mean.copy_(-torch.from_numpy(z["mel_b"]) / scale)  # type: ignore[operator]
            for k, look in enumerate(picture.look):
                w = z[f"look{k}_W"].reshape(len(z[f"look{k}_b"]), 3, 3, -1)
                look.weight.copy_(torch.from_numpy(w.transpose(0, 3, 1, 2).copy()))
                picture.look_norm[k].bias.copy_(torch.from_numpy(z[f"look{k}_b"]))
            put(picture.tell, "tell")
        put(net.head, "out")
        put(net.frame_head, "out")
    return net


@torch.no_grad()
def settle(net: Net, batches: list[Tensor]) -> None:
    """Give every normalisation the mean and deviation of what reaches it, and undo both in its scale and
    offset: the net says the same, and goes on saying it when training takes them from each batch."""
    # the log-mel picture's own is read back as it was: behind the zeros around the picture nothing undoes it
    norms = [n for n in net.norms() if n is not net.picture.mel_norm]
    sums: dict[nn.Module, list[Tensor]] = {n: [] for n in norms}

    def note(norm: nn.Module, inputs: tuple[Tensor, ...]) -> None:
        x = inputs[0].double()
        over = [d for d in range(x.dim()) if d != 1]
        sums[norm].append(torch.stack([x.mean(over), (x**2).mean(over)]))

    hooks = [n.register_forward_pre_hook(note) for n in norms]
    net.eval()
    for feats in batches:
        net(feats)
    for h in hooks:
        h.remove()
    for norm in norms:
        assert norm.running_mean is not None
        assert norm.running_var is not None
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


@torch.no_grad()
def rescaled(net: Net) -> None:
    """Give a settled net weights of the size that training makes and keeps; it says the same as before.

    Folding puts a normalisation's scale into the rows before it and the columns behind it. Read back, rows
    were a tenth of what they grow to, and the usual rate shook them all loose in the first minute (tenth
    training).
    """
    readers = [*net.front[1:], net.enter]
    behind = [(n, [c]) for n, c in zip(net.front_norm, readers, strict=True)]
    for norm, convs in [*behind, (net.last, [net.head, net.frame_head])]:
        for conv in convs:
            conv.bias += (conv.weight * norm.bias[None, :, None]).sum((1, 2))
            conv.weight *= norm.weight[None, :, None]
        nn.init.ones_(norm.weight)
        nn.init.zeros_(norm.bias)
    p = net.picture
    rows = [*net.front, *net.spread, *p.look]
    for conv, norm in zip(rows, [*net.front_norm, *net.norm, *p.look_norm], strict=True):
        now = conv.weight.flatten(1).norm(dim=1).clamp(min=1e-12)
        c = max(ROW_RMS * conv.weight[0].numel() ** 0.5, 0.577) / now
        conv.weight *= c.view(-1, *[1] * (conv.weight.dim() - 1))
        if conv.bias is not None:
            conv.bias *= c
        was = norm.running_var + norm.eps
        norm.running_mean *= c
        norm.running_var *= c**2
        norm.weight *= (norm.running_var + norm.eps).sqrt() / (c * was.sqrt())


def _bn(norm: nn.BatchNorm1d | nn.BatchNorm2d) -> tuple[NDArray, NDArray]:
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
    p = net.picture
    scale, offset = _bn(p.mel_norm)
    out["mel_W"], out["mel_b"] = p.unrolled.double().cpu().numpy() * scale[:, None], offset
    for k, conv in enumerate(p.look):
        s, o = _bn(p.look_norm[k])
        w = conv.weight.detach().double().cpu().numpy().transpose(0, 2, 3, 1)  # out, time, band, in
        out[f"look{k}_W"], out[f"look{k}_b"] = w.reshape(len(w), -1) * s[:, None], o
    out["tell_W"], out["tell_b"] = _mat(p.tell)
    for k in range(len(BLOCKS)):
        w, b = _mat(net.spread[k])
        s, o = _bn(net.norm[k])
        out[f"spread{k}_W"], out[f"spread{k}_b"] = w * s[:, None], b * s + o
        out[f"back{k}_W"], out[f"back{k}_b"] = _mat(net.back[k])
    s, o = _bn(net.last)
    w, b = _mat(net.head)
    out["out_W"], out["out_b"] = w * s, b + w @ o
    return {k: v.astype(np.float32) for k, v in out.items()}
