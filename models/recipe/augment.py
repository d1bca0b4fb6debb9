"""What a workshop, a room, a microphone and a telephone do to speech, for a batch on the GPU.

All of it is synthetic; probabilities and ranges are choices of this recipe, no source.
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

RATE = 16000


def _u(b: int, low: float, high: float, dev: torch.device) -> Tensor:
    return torch.empty(b, 1, device=dev).uniform_(low, high)


def _chance(b: int, p: float, dev: torch.device) -> Tensor:
    return torch.rand(b, 1, device=dev) < p


def _unit(x: Tensor) -> Tensor:
    return x / (x.std(1, keepdim=True) + 1e-6)


def _smooth(b: int, points: int, size: int, strength: Tensor, dev: torch.device) -> Tensor:
    """A smooth random gain curve over frequency, in natural log."""
    y = torch.randn(b, 1, points, device=dev) * strength[:, :, None]
    return F.interpolate(y, size, mode="linear", align_corners=True)[:, 0]


# ----------------------------------------------------------------------------------------------------
# noise bank
def _coloured(b: int, n: int, dev: torch.device) -> Tensor:
    spec = torch.fft.rfft(torch.randn(b, n, device=dev))
    f = torch.fft.rfftfreq(n, 1 / RATE).to(dev)[None] + 30
    spec = (
        spec
        * f ** (-_u(b, -0.2, 1.4, dev))
        * torch.exp(_smooth(b, 14, spec.shape[1], _u(b, 0, 1.2, dev), dev))
    )
    return _unit(torch.fft.irfft(spec, n))


def _machine(b: int, n: int, dev: torch.device) -> Tensor:
    """Motors and grinders: many harmonics of a wandering speed, amplitude beating, over coloured noise."""
    t = torch.arange(n, device=dev)[None] / RATE
    base = torch.exp(_u(b, math.log(25), math.log(700), dev))
    wander = 1 + 0.05 * torch.sin(2 * math.pi * _u(b, 0.05, 1.5, dev) * t + _u(b, 0, 6.3, dev)) * _u(
        b, 0, 1, dev
    )
    phase = torch.cumsum(base * wander, 1) * 2 * math.pi / RATE
    y = torch.zeros(b, n, device=dev)
    for k in range(1, 24):
        ok = (base * k < 7600).float()
        y += torch.sin(k * phase + _u(b, 0, 6.3, dev)) * _u(b, 0, 1, dev) * ok / k**0.6
    beat = 1 + _u(b, 0, 0.9, dev) * torch.sin(2 * math.pi * _u(b, 0.5, 30, dev) * t + _u(b, 0, 6.3, dev))
    return _unit(_unit(y) * beat * _u(b, 0.2, 1.5, dev) + _coloured(b, n, dev))


def _hammering(b: int, n: int, dev: torch.device) -> Tensor:
    """Impact wrench, hammer, dropped tools: decaying resonances at a rate of single blows to 40 a second."""
    rate = torch.exp(_u(b, math.log(0.7), math.log(45), dev))
    t = torch.arange(n, device=dev)[None] / RATE
    clock = torch.cumsum(
        rate * (1 + 0.2 * torch.randn(b, n // 400 + 1, device=dev).repeat_interleave(400, 1)[:, :n]), 1
    )
    ticks = (torch.floor(clock / RATE).diff(dim=1, prepend=torch.zeros(b, 1, device=dev)) > 0).float()
    ticks = ticks * (0.3 + torch.rand(b, n, device=dev))
    m = 4000
    tt = t[:, :m]
    ring = torch.zeros(b, m, device=dev)
    for _ in range(7):
        ring += (
            torch.sin(2 * math.pi * _u(b, 200, 7000, dev) * tt)
            * torch.exp(-tt * torch.exp(_u(b, 2.5, 6.0, dev)))
            * _u(b, 0, 1, dev)
        )
    ring += torch.randn(b, m, device=dev) * torch.exp(-tt * _u(b, 100, 500, dev)) * _u(b, 0, 2, dev)
    y = torch.fft.irfft(torch.fft.rfft(ticks, n + m) * torch.fft.rfft(ring, n + m), n + m)[:, :n]
    return _unit(_unit(y) + _coloured(b, n, dev) * _u(b, 0.02, 0.5, dev))


def _music(b: int, n: int, dev: torch.device) -> Tensor:
    """A radio's worth of tones: chords with a beat, three voices and drums."""
    t = torch.arange(n, device=dev)[None] / RATE
    y = torch.zeros(b, n, device=dev)
    for _ in range(4):
        step = _u(b, 0.15, 0.7, dev)
        note = torch.floor(t / step).long() % 64
        scale = 55 * 2 ** (torch.randint(0, 44, (b, 64), device=dev).float() / 12)
        f = scale.gather(1, note)
        env = torch.exp(-(t % step) * _u(b, 0.5, 8, dev))
        phase = torch.cumsum(f, 1) * 2 * math.pi / RATE
        for k in range(1, 7):
            y += torch.sin(k * phase) * env * _u(b, 0, 1, dev) / k
    beat = _u(b, 0.3, 0.6, dev)
    y = _unit(y) + torch.randn(b, n, device=dev) * torch.exp(-(t % beat) * 40) * _u(b, 0, 1.5, dev)
    return _unit(y)


def _mouth(b: int, n: int, dev: torch.device) -> Tensor:
    """Breath, wind, handling and clicks: short bursts of shaped noise."""
    slow = torch.randn(b, 1, n // 1600 + 2, device=dev)
    env = F.interpolate(slow, n, mode="linear")[:, 0].clamp(min=0) ** 2
    spikes = (
        (torch.rand(b, n, device=dev) < _u(b, 0, 4, dev) / RATE).float() * torch.randn(b, n, device=dev) * 20
    )
    k = torch.exp(-torch.arange(200, device=dev) / 15.0)
    spikes = torch.fft.irfft(torch.fft.rfft(spikes, n + 200) * torch.fft.rfft(k, n + 200), n + 200)[:, :n]
    return _unit(_coloured(b, n, dev) * env + spikes * _u(b, 0, 1, dev) + 0.02 * _coloured(b, n, dev))


def _voices(b: int, n: int, dev: torch.device) -> Tensor:
    """One to twelve people far off, or what is like them: a buzz of gliding pitch through resonances that
    change with the syllable. Nobody says a word, so nothing of it is worth hearing."""
    t = torch.arange(n, device=dev)[None] / RATE
    f = torch.fft.rfftfreq(n, 1 / RATE).to(dev)[None].clamp(min=20)
    many = torch.randint(1, 13, (b, 1), device=dev)
    y = torch.zeros(b, n, device=dev)
    for k in range(12):
        glide = F.interpolate(torch.randn(b, 1, 2 + n // 4000, device=dev), n, mode="linear")[:, 0]
        pitch = torch.exp(_u(b, math.log(75), math.log(300), dev) + glide * _u(b, 0, 0.15, dev))
        phase = torch.cumsum(pitch, 1) / RATE + _u(b, 0, 1, dev)
        buzz = 2 * (phase % 1) - 1 + _u(b, 0, 0.7, dev) * torch.randn(b, n, device=dev)
        spec = torch.fft.rfft(buzz, n)
        said = torch.zeros(b, n, device=dev)
        syllable = _u(b, 2, 7, dev) * t + _u(b, 0, 1, dev)
        for vowel in range(3):
            shape = torch.zeros(b, f.shape[1], device=dev, dtype=spec.dtype)
            for low, high in ((230, 900), (800, 2500), (2200, 3400), (3200, 4800)):
                centre, q = _u(b, low, high, dev), torch.exp(_u(b, 0.7, 2.3, dev))
                shape += _u(b, 0.1, 1, dev) / (1 + 1j * q * (f / centre - centre / f))
            said += torch.fft.irfft(spec * shape, n) * (torch.floor(syllable).long() % 3 == vowel)
        loud = (torch.sin(2 * math.pi * syllable) + _u(b, -0.2, 0.8, dev)).clamp(min=0)
        phrase = (
            torch.sin(2 * math.pi * (_u(b, 0.1, 0.6, dev) * t + _u(b, 0, 1, dev))) + _u(b, 0, 1.5, dev)
        ).clamp(0, 1)
        y += _unit(said) * loud * phrase * _u(b, 0.2, 1, dev) * (k < many)
    return _unit(y + 1e-3 * torch.randn(b, n, device=dev))


class NoiseBank:
    """A few thousand clips of every sort of noise; babble is mixed from the speech itself, which begins with
    `people` samples of real voices."""

    def __init__(self, clips: int, seconds: float, device: str, speech: Tensor, people: int = 0) -> None:
        n, dev = int(seconds * RATE), torch.device(device)
        rows = []
        for maker, share in (
            (_coloured, 0.25),
            (_machine, 0.2),
            (_hammering, 0.17),
            (_music, 0.08),
            (_mouth, 0.12),
            (_voices, 0.18),
        ):
            left = max(1, int(clips * share))
            while left > 0:
                b = min(left, 64)
                rows.append((maker(b, n, dev) * 3000).clamp(-32000, 32000).to(torch.int16))
                left -= b
        self.clips = torch.cat(rows)
        self.speech, self.people = speech, people

    def draw(self, b: int, n: int, dev: torch.device) -> Tensor:
        """[b, n], each of unit deviation: one clip, sometimes two, sometimes a crowd of voices."""
        m = self.clips.shape[1]
        at = torch.arange(n, device=dev)[None]

        def clip() -> Tensor:
            which = torch.randint(0, len(self.clips), (b, 1), device=dev)
            return self.clips[which, (torch.randint(0, m, (b, 1), device=dev) + at) % m].float()

        y = _unit(clip())
        y = torch.where(_chance(b, 0.3, dev), _unit(y + _unit(clip()) * _u(b, 0, 1, dev)), y)
        crowd = torch.zeros(b, n, device=dev)
        # in single precision the last start of a hundred hours would lie too late
        whole = torch.full((b, 1), len(self.speech) - n - 1.0, device=dev, dtype=torch.float64)
        theirs = torch.full_like(whole, self.people - n - 1.0)
        for k in range(8):
            # half of a crowd are people, however little of all speech is theirs
            room = torch.where(_chance(b, 0.5, dev), theirs, whole) if self.people > 2 * n else whole
            start = (torch.rand(b, 1, device=dev, dtype=torch.float64) * room).long()
            crowd += self.speech[start + at].float() * (
                _chance(b, 0.6, dev) | torch.tensor(k < 3, device=dev)
            )
        # some crowds stand in a room, not at the microphone
        crowd = _unit(_rooms(crowd, 1 << (n + 9600 - 1).bit_length())) + 0.1 * y
        return torch.where(_chance(b, 0.28, dev), _unit(crowd), y)


# ---------------------------------------------------------------------------------------------------- the
# chain
def _rooms(x: Tensor, nfft: int) -> Tensor:
    """Convolve with random rooms: sparse early echoes and a decaying tail, from close talk to across the
    bay."""
    b, dev, n = len(x), x.device, 9600
    t = torch.arange(n, device=dev)[None] / RATE
    rt = torch.exp(_u(b, math.log(0.07), math.log(0.75), dev))
    tail = torch.randn(b, n, device=dev) * torch.exp(-6.9 * t / rt)
    spec = torch.fft.rfft(tail)
    f = torch.fft.rfftfreq(n, 1 / RATE).to(dev)[None]
    tail = torch.fft.irfft(spec / (1 + (f / _u(b, 800, 8000, dev)) ** 2) ** 0.5, n)
    gap = (_u(b, 0.001, 0.03, dev) * RATE).long()
    at = torch.arange(n, device=dev)[None]
    tail = tail * (at > gap)
    early = (torch.rand(b, n, device=dev) < 12 / 800).float() * torch.randn(b, n, device=dev) * (at < 800)
    tail = tail / (tail.norm(dim=1, keepdim=True) + 1e-6) + 0.4 * early / (
        early.norm(dim=1, keepdim=True) + 1e-6
    )
    h = tail * 10 ** (_u(b, -20, 2, dev) / 20)
    h[:, 0] = 1
    wet = torch.fft.irfft(torch.fft.rfft(x, nfft) * torch.fft.rfft(h, nfft), nfft)[:, : x.shape[1]]
    return torch.where(_chance(b, 0.45, dev), wet, x)


def _gate(x: Tensor, p: float) -> Tensor:
    """What noise suppressors and lossy codecs leave: weak spectral bins gone."""
    win = torch.hann_window(512, device=x.device)
    s = torch.stft(x, 512, 128, 512, win, return_complex=True)
    mag = s.abs()
    floor = mag.amax((1, 2), keepdim=True) * 10 ** (_u(len(x), -60, -28, x.device)[:, :, None] / 20)
    y = torch.istft(s * (mag > floor), 512, 128, 512, win, length=x.shape[1])
    return torch.where(_chance(len(x), p, x.device), y, x)


def _suppressed(x: Tensor, noise: Tensor, p: float) -> Tensor:
    """What the noise suppressor of a headset, telephone or browser leaves of speech in noise: spectral
    subtraction of the noise's mean (known here, so as good as any), smoothed over time, with a floor. It eats
    an f, a final p, a weak beginning, and leaves tones that come and go."""
    b, dev = len(x), x.device
    few = torch.randperm(b, device=dev)[: max(1, round(b * p))]
    y, quiet = x[few], noise[few]
    win = torch.hann_window(512, device=dev)
    s = torch.stft(y, 512, 128, 512, win, return_complex=True)
    power = s.abs() ** 2
    mean = (torch.stft(quiet, 512, 128, 512, win, return_complex=True).abs() ** 2).mean(2, keepdim=True)
    # where there is little noise it takes the weakest of the speech for it
    weakest = power.amax((1, 2), keepdim=True) * 10 ** (_u(len(few), -75, -35, dev)[:, :, None] / 10)
    over = torch.exp(_u(len(few), 0, 1.4, dev))[:, :, None]
    gain = (1 - over * torch.maximum(mean, weakest) / (power + 1e-3)).clamp(min=0) ** 0.5
    slow = F.avg_pool1d(gain, 5, 1, 2)
    gain = torch.where(_chance(len(few), 0.6, dev)[:, :, None], slow, gain)
    floor = 10 ** (_u(len(few), -40, -8, dev)[:, :, None] / 20)
    left = torch.istft(s * torch.maximum(gain, floor), 512, 128, 512, win, length=x.shape[1])
    return x.index_copy(0, few, left)


def _events(b: int, n: int, dev: torch.device) -> Tensor:
    """[b, n], the largest sample of each event at 1 or below: up to three of a click, a knock on the
    microphone and a breath, in one clip of four. Nothing else may sound there, so nothing hides them."""
    t = torch.arange(n, device=dev)[None] / RATE
    y = torch.zeros(b, n, device=dev)
    some = _chance(b, 0.25, dev)
    hiss = torch.randn(b, n, device=dev)
    for _ in range(3):
        since = t - _u(b, 0, n / RATE, dev)
        after = since.clamp(min=0)
        tone = torch.sin(2 * math.pi * torch.exp(_u(b, math.log(300), math.log(6000), dev)) * after)
        click = (tone + hiss * _u(b, 0, 1, dev)) * torch.exp(-after / _u(b, 0.0005, 0.012, dev))
        knock = torch.sin(2 * math.pi * _u(b, 40, 220, dev) * after) * torch.exp(
            -after / _u(b, 0.01, 0.06, dev)
        )
        breath = hiss * torch.exp(-((since / _u(b, 0.03, 0.2, dev)) ** 2)) * 0.3
        kind = torch.rand(b, 1, device=dev)
        one = torch.where(
            kind < 0.45, click * (since > 0), torch.where(kind < 0.7, knock * (since > 0), breath)
        )
        y += one * 10 ** (_u(b, -40, 0, dev) / 20) * (some & _chance(b, 0.6, dev))
    return y


def _muted(x: Tensor, first: Tensor, last: Tensor, p: float) -> Tensor:
    """Digital silence before or after what was said, the noise gone with it: transmission that stops when
    nobody speaks, or a hard editor."""
    b, dev = len(x), x.device
    t = torch.arange(x.shape[1], device=dev)[None]
    before = (t < first - _u(b, -0.01, 0.12, dev) * RATE) & _chance(b, 0.6, dev)
    after = (t > last + _u(b, -0.01, 0.25, dev) * RATE) & _chance(b, 0.7, dev)
    return torch.where((before | after) & _chance(b, p, dev), torch.zeros_like(x), x)


def _mulaw(x: Tensor) -> Tensor:
    v = (x / 32768).clamp(-1, 1)
    y = torch.sign(v) * torch.log1p(255 * v.abs()) / math.log(256)
    y = torch.round(y * 127) / 127
    return torch.sign(y) * (torch.pow(256.0, y.abs()) - 1) / 255 * 32768


def augment(x: Tensor, loud: Tensor, bank: NoiseBank, only_noise: Tensor) -> Tensor:
    """x [B, N] speech on the int16 scale with digital silence around it; loud [B, 1] its level where it
    speaks.

    only_noise [B, 1] marks items without speech: they always get noise.
    """
    b, n = x.shape
    dev = x.device
    nfft = 1 << (n + 9600 - 1).bit_length()
    freq = torch.fft.rfftfreq(nfft, 1 / RATE).to(dev)[None]
    said = x != 0
    first = torch.where(only_noise, 0, said.int().argmax(1, keepdim=True))
    last = torch.where(only_noise, n, n - said.flip(1).int().argmax(1, keepdim=True))
    x = _rooms(x, nfft)
    # the speaker's own spectral tilt and the microphone that hears only the speaker
    spec = torch.fft.rfft(x, nfft)
    spec = spec * torch.exp(_smooth(b, 10, spec.shape[1], _u(b, 0, 0.5, dev), dev))
    x = torch.fft.irfft(spec, nfft)[:, :n]
    noise = bank.draw(b, n, dev)
    kind = torch.rand(b, 1, device=dev)
    snr = torch.where(
        kind < 0.60, _u(b, 1, 20, dev), torch.where(kind < 0.72, _u(b, -6, 5, dev), _u(b, 22, 60, dev))
    )
    noisy = (kind < 0.88) | only_noise
    # some noises start and stop
    t = torch.arange(n, device=dev)[None] / n
    window = ((t > _u(b, -1, 0.6, dev)) & (t < _u(b, 0.4, 2, dev))).float()
    noise = torch.where(noisy, noise * loud * 10 ** (-snr / 20), torch.zeros_like(x)) * window
    # an event may be as loud as the peaks of the speech, some four times its level
    x = x + noise + _events(b, n, dev) * 4 * loud
    x = _suppressed(x, noise, 0.14)
    # channel
    spec = torch.fft.rfft(x, nfft)
    spec = spec * torch.exp(_smooth(b, 7, spec.shape[1], _u(b, 0, 0.6, dev), dev))
    phone = _chance(b, 0.26, dev)
    narrow = _chance(b, 0.10, dev) & ~phone
    high_cut = torch.where(
        phone,
        _u(b, 3200, 4000, dev),
        torch.where(narrow, _u(b, 4200, 7500, dev), torch.full((b, 1), 9000.0, device=dev)),
    )
    low_cut = torch.where(
        phone & _chance(b, 0.6, dev),
        _u(b, 120, 350, dev),
        torch.where(_chance(b, 0.3, dev), _u(b, 40, 250, dev), torch.zeros(b, 1, device=dev)),
    )
    edge = torch.where(_chance(b, 0.5, dev), torch.full((b, 1), 12.0, device=dev), _u(b, 20, 150, dev))
    spec = (
        spec
        * torch.sigmoid((high_cut - freq) / edge)
        * torch.where(low_cut > 0, torch.sigmoid((freq - low_cut) / 25), torch.ones_like(freq))
    )
    x = torch.fft.irfft(spec, nfft)[:, :n]
    x = _gate(x, 0.12)
    # level, overload, telephone coding, rounding
    peak = x.abs().amax(1, keepdim=True) + 1e-3
    level = 10 ** (_u(b, -50, -0.5, dev) / 20) * 32767
    level = torch.where(_chance(b, 0.5, dev), 10 ** (_u(b, -24, -1, dev) / 20) * 32767, level)
    over = torch.where(_chance(b, 0.08, dev), _u(b, 1, 6, dev), torch.ones(b, 1, device=dev))
    limit = level
    y = torch.where(
        _chance(b, 0.5, dev), torch.tanh(x / peak * over) * limit, (x / peak * over).clamp(-1, 1) * limit
    )
    x = torch.where(over > 1, y, x / peak * level)
    x = torch.where(phone & _chance(b, 0.4, dev), _mulaw(x), x)
    # few bits: some recorders keep eight of a level that needs more, and what is quiet is then nothing at all
    step = x.abs().amax(1, keepdim=True) / torch.exp(_u(b, math.log(14), math.log(120), dev))
    step = step.clamp(min=1)
    x = torch.where(_chance(b, 0.09, dev), torch.round(x / step) * step, x)
    x = _muted(x, first, last, 0.1)
    hiss = torch.where(_chance(b, 0.3, dev), _u(b, 0, 3, dev), torch.zeros(b, 1, device=dev))
    return torch.round(x + hiss * torch.randn_like(x)).clamp(-32768, 32767)
