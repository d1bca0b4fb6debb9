"""Full-sum scores over the two-pdf phone HMM: the transcript's (numerator) and a phone trigram's
(denominator).

A phone is one state: entered with pdf 2i, held with pdf 2i+1. Their difference is the (lattice-free)
maximum mutual
information criterion; both are differentiable, so training needs no alignment.
"""

from __future__ import annotations

import torch
from torch import Tensor

from phones import N_PHONES

NEG = -1e9


def transcript_states(phones: list[int], starts: list[bool]) -> tuple[list[int], list[bool]]:
    """Phones of an utterance -> states with silence that may be skipped around every word."""
    state, optional = [], []
    for p, s in zip(phones, starts, strict=True):
        if s:
            state.append(0)
            optional.append(True)
        state.append(p)
        optional.append(False)
    state.append(0)
    optional.append(phones != [])
    return state, optional


def numerator(x: Tensor, frames: Tensor, state: Tensor, optional: Tensor, n: Tensor) -> Tensor:
    """x [B, T, pdfs] scores, frames [B], state/optional [B, K], n [B] states -> log score [B]."""
    b, t_max, _ = x.shape
    enter = x.gather(2, (2 * state)[:, None].expand(-1, t_max, -1))
    stay = x.gather(2, (2 * state + 1)[:, None].expand(-1, t_max, -1))
    k = torch.arange(state.shape[1], device=x.device)
    # the state before may be skipped when it is an optional silence
    no_skip = ~torch.cat([torch.zeros_like(optional[:, :1]), optional[:, :-1]], 1) | (k < 2)
    first = torch.where((k == 0) | ((k == 1) & optional[:, :1]), 0.0, NEG)
    a = first + enter[:, 0]
    pad1, pad2 = x.new_full((b, 1), NEG), x.new_full((b, 2), NEG)
    for t in range(1, t_max):
        one = torch.cat([pad1, a[:, :-1]], 1)
        two = torch.cat([pad2, a[:, :-2]], 1).masked_fill(no_skip, NEG)
        new = torch.logaddexp(torch.logaddexp(one, two) + enter[:, t], a + stay[:, t])
        a = torch.where((t < frames)[:, None], new, a)
    last = a.gather(1, (n - 1)[:, None])[:, 0]
    before = a.gather(1, (n - 2).clamp(min=0)[:, None])[:, 0]
    may_end_before = optional.gather(1, (n - 1)[:, None])[:, 0] & (n > 1)
    return torch.where(may_end_before, torch.logaddexp(last, before), last)


class Trigram:
    """Phone trigram P(next | before, this), estimated from transcripts with silences put in at random."""

    def __init__(self, counts: Tensor) -> None:
        c3 = counts.double()
        c2 = c3.sum(0, keepdim=True)  # this, next
        c1 = c2.sum(1, keepdim=True)
        p1 = (c1 + 0.5) / (c1 + 0.5).sum()
        p2 = (c2 + 8 * p1) / (c2.sum(2, keepdim=True) + 8)
        p3 = (c3 + 8 * p2) / (c3.sum(2, keepdim=True) + 8)
        self.p = p3.permute(1, 0, 2).float().contiguous()  # [this, before, next]
        self.first = counts[0, 0].double() + 0.1
        self.first = (self.first / self.first.sum()).float()

    def to(self, device: str | torch.device) -> Trigram:
        self.p, self.first = self.p.to(device), self.first.to(device)
        return self


def denominator(x: Tensor, frames: Tensor, lm: Trigram) -> Tensor:
    """Log score [B] of all phone strings under the trigram. x [B, T, pdfs] in float32."""
    b, t_max, _ = x.shape
    top = x.amax(2, keepdim=True).detach()
    e = torch.exp((x - top).clamp(min=-60))
    enter, stay = e[:, :, 0::2], e[:, :, 1::2]  # [B, T, phones]
    # a [this, B, before]
    a = x.new_zeros(N_PHONES, b, N_PHONES)
    start = (lm.first * enter[:, 0]).T  # [this, B]
    a = torch.cat([start[:, :, None], a[:, :, 1:]], 2)
    total = a.sum((0, 2))
    log_z = torch.log(total)
    a = a / total[None, :, None]
    for t in range(1, t_max):
        into = torch.bmm(a, lm.p).permute(2, 1, 0)  # [next, B, this]: 'this' becomes 'before'
        new = (into * enter[:, t].T[:, :, None] + a * stay[:, t].T[:, :, None]) + 1e-12
        live = t < frames
        total = torch.where(live, new.sum((0, 2)), torch.ones_like(log_z))
        a = torch.where(live[None, :, None], new / total[None, :, None], a)
        log_z = log_z + torch.log(total)
    inside = torch.arange(t_max, device=x.device)[None] < frames[:, None]
    return log_z + (top[:, :, 0] * inside).sum(1)
