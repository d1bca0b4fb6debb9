"""Kaldi's high-resolution MFCC in torch (conf/mfcc.conf: 40 mel bins of 20-7600 Hz, 40 cepstra, no energy,
no dither)."""

from __future__ import annotations

import math

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

WINDOW, HOP, FFT = 400, 160, 512
N_MEL = 40
WARPS = np.linspace(
    0.84, 1.28, 30
)  # vocal-tract-like warps of the frequency axis; the last bank of all is unwarped


def _mel(f: NDArray | float) -> NDArray:
    return 1127 * np.log(1 + np.asarray(f) / 700)


def mel_bank(warp: float) -> NDArray[np.float32]:
    """[40, 257] triangles; a warp > 1 reads the spectrum of a shorter vocal tract as if it were average."""
    m = _mel(np.arange(FFT // 2) * 16000 / FFT * warp)
    low, high = _mel(20.0), _mel(7600.0)
    step = (high - low) / (N_MEL + 1)
    bank = np.zeros((N_MEL, FFT // 2 + 1), np.float32)
    for b in range(N_MEL):
        left = low + b * step
        rise, fall = (m - left) / step, (left + 2 * step - m) / step
        bank[b, :-1] = np.clip(np.minimum(rise, fall), 0, None)
    return bank


def cepstra_from_mel() -> NDArray[np.float32]:
    """[40, 40]: log-mel bands -> cepstra, liftered as Kaldi does."""
    k = np.arange(N_MEL)[:, None]
    dct = np.sqrt(2 / N_MEL) * np.cos(math.pi / N_MEL * (np.arange(N_MEL)[None] + 0.5) * k)
    dct[0] = np.sqrt(1 / N_MEL)
    lift = 1 + 11 * np.sin(math.pi * np.arange(N_MEL) / 22)
    return (dct * lift[:, None]).astype(np.float32)


def mel_from_cepstra() -> NDArray[np.float32]:
    """[40, 40]: the way back. All 40 cepstra are kept, so nothing is lost."""
    return np.linalg.inv(cepstra_from_mel().astype(np.float64)).astype(np.float32)


class Mfcc:
    """Owns the tables on one device. Samples are on the int16 scale, frames start every 10 ms, none hangs
    over."""

    def __init__(self, device: str) -> None:
        n = np.arange(WINDOW)
        self.window = torch.tensor(
            (0.5 - 0.5 * np.cos(2 * math.pi * n / (WINDOW - 1))) ** 0.85, dtype=torch.float32, device=device
        )
        self.banks = torch.tensor(np.stack([mel_bank(w) for w in [*WARPS, 1.0]]), device=device)
        self.dct = torch.tensor(cepstra_from_mel(), device=device)

    def log_mel(self, x: Tensor, bank: Tensor | None = None) -> Tensor:
        """x [B, N] -> [B, frames, 40]; bank [B] picks a warp."""
        fr = x.unfold(1, WINDOW, HOP)
        fr = fr - fr.mean(-1, keepdim=True)
        fr = torch.cat([fr[..., :1] * (1 - 0.97), fr[..., 1:] - 0.97 * fr[..., :-1]], -1) * self.window
        power = torch.fft.rfft(fr, FFT).abs() ** 2
        banks = self.banks[-1:].expand(len(x), -1, -1) if bank is None else self.banks[bank]
        return torch.bmm(power, banks.transpose(1, 2)).clamp(min=1.1920929e-07).log()

    def cepstra(self, log_mel: Tensor) -> Tensor:
        return log_mel @ self.dct.T

    def __call__(self, x: Tensor) -> Tensor:
        return self.cepstra(self.log_mel(x))
