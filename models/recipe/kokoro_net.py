"""Kokoro-82M (Apache-2.0) as a batched, inference-only torch network, written for speed on one GPU.

Utterances of one batch have equally many tokens; their durations are chosen by the caller between
`durations` and
`speak`, so all of them can be stretched to one total length and no padding ever enters a normalisation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

FRAME = 600  # samples of 24 kHz audio for one unit of duration (25 ms)
STYLE = 128


@dataclass
class Encoded:
    """What the text side knows before durations are fixed. duration: [B, tokens], in frames, not rounded."""

    prosody: Tensor
    text: Tensor
    duration: Tensor


class KokoroNet:
    """Owns the weights on one device."""

    def __init__(self, weights: dict[str, Tensor], device: str, dtype: torch.dtype = torch.float32) -> None:
        self.w = {k: v.to(device=device, dtype=torch.float32) for k, v in weights.items()}
        self.device, self.dtype = device, dtype
        self.half = {k: v.to(dtype) for k, v in self.w.items() if k.startswith("decoder.")}
        self.lstms = {
            n: self._lstm(n)
            for n in (
                "predictor.text_encoder.lstms.0",
                "predictor.text_encoder.lstms.2",
                "predictor.text_encoder.lstms.4",
                "predictor.lstm",
                "predictor.shared",
                "text_encoder.lstm",
            )
        }
        self.window = torch.hann_window(20, periodic=True, device=device)

    def _lstm(self, name: str) -> nn.LSTM:
        m = nn.LSTM(self.w[f"{name}.weight_ih_l0"].shape[1], 256, batch_first=True, bidirectional=True)
        m.load_state_dict(
            {k.removeprefix(name + "."): v for k, v in self.w.items() if k.startswith(name + ".")}
        )
        m.to(self.device).eval()
        m.flatten_parameters()
        return m

    def _linear(self, x: Tensor, name: str) -> Tensor:
        return F.linear(x, self.w[name + ".weight"], self.w[name + ".bias"])

    # ---------------------------------------------------------------- text side
    def _bert(self, ids: Tensor) -> Tensor:
        w, e = self.w, "bert.embeddings."
        x = (
            F.embedding(ids, w[e + "word_embeddings.weight"])
            + w[e + "position_embeddings.weight"][: ids.shape[1]]
        )
        x = x + w[e + "token_type_embeddings.weight"][0]
        x = F.layer_norm(x, (128,), w[e + "LayerNorm.weight"], w[e + "LayerNorm.bias"], 1e-12)
        x = self._linear(x, "bert.encoder.embedding_hidden_mapping_in")
        p = "bert.encoder.albert_layer_groups.0.albert_layers.0."
        b, t, _ = x.shape
        for _ in range(12):
            q, k, v = (
                self._linear(x, f"{p}attention.{n}").view(b, t, 12, 64).transpose(1, 2)
                for n in ("query", "key", "value")
            )
            a = F.scaled_dot_product_attention(q, k, v).transpose(1, 2).reshape(b, t, 768)
            x = F.layer_norm(
                x + self._linear(a, p + "attention.dense"),
                (768,),
                w[p + "attention.LayerNorm.weight"],
                w[p + "attention.LayerNorm.bias"],
                1e-12,
            )
            h = self._linear(F.gelu(self._linear(x, p + "ffn"), approximate="tanh"), p + "ffn_output")
            x = F.layer_norm(
                h + x,
                (768,),
                w[p + "full_layer_layer_norm.weight"],
                w[p + "full_layer_layer_norm.bias"],
                1e-12,
            )
        return x

    def _text_encoder(self, ids: Tensor) -> Tensor:
        w = self.w
        x = F.embedding(ids, w["text_encoder.embedding.weight"]).transpose(1, 2)
        for k in range(3):
            x = F.conv1d(x, w[f"text_encoder.cnn.{k}.0.weight"], w[f"text_encoder.cnn.{k}.0.bias"], padding=2)
            x = F.layer_norm(
                x.transpose(1, 2),
                (512,),
                w[f"text_encoder.cnn.{k}.1.gamma"],
                w[f"text_encoder.cnn.{k}.1.beta"],
                1e-5,
            ).transpose(1, 2)
            x = F.leaky_relu(x, 0.2)
        return self.lstms["text_encoder.lstm"](x.transpose(1, 2))[0]

    @torch.no_grad()
    def encode(self, ids: Tensor, style: Tensor) -> Encoded:
        """ids [B, tokens] (with the 0 at both ends), style [B, 256]: timbre half, then prosody half."""
        s = style[:, STYLE:]
        wide = s[:, None].expand(-1, ids.shape[1], -1)
        x = self._linear(self._bert(ids), "bert_encoder")
        for k in (0, 2, 4):
            x = self.lstms[f"predictor.text_encoder.lstms.{k}"](torch.cat([x, wide], -1))[0]
            gamma, beta = self._linear(s, f"predictor.text_encoder.lstms.{k + 1}.fc")[:, None].chunk(2, -1)
            x = (1 + gamma) * F.layer_norm(x, (512,)) + beta
        d = torch.cat([x, wide], -1)
        y = self.lstms["predictor.lstm"](d)[0]
        dur = torch.sigmoid(self._linear(y, "predictor.duration_proj.linear_layer")).sum(-1)
        return Encoded(d, self._text_encoder(ids), dur)

    # ---------------------------------------------------------------- sound side
    def _norm(self, x: Tensor, s: Tensor, name: str, w: dict[str, Tensor]) -> Tensor:
        gamma, beta = F.linear(s, w[name + ".fc.weight"], w[name + ".fc.bias"])[:, :, None].chunk(2, 1)
        return torch.addcmul(beta, 1 + gamma, F.instance_norm(x, eps=1e-5))

    def _block(self, x: Tensor, s: Tensor, name: str, w: dict[str, Tensor], up: bool = False) -> Tensor:
        y = F.leaky_relu(self._norm(x, s, name + ".norm1", w), 0.2)
        if up:
            y = F.conv_transpose1d(
                y, w[name + ".pool.weight"], w[name + ".pool.bias"], 2, 1, 1, groups=x.shape[1]
            )
            x = F.interpolate(x, scale_factor=2, mode="nearest")
        y = F.conv1d(y, w[name + ".conv1.weight"], w[name + ".conv1.bias"], padding=1)
        y = F.leaky_relu(self._norm(y, s, name + ".norm2", w), 0.2)
        y = F.conv1d(y, w[name + ".conv2.weight"], w[name + ".conv2.bias"], padding=1)
        if name + ".conv1x1.weight" in w:
            x = F.conv1d(x, w[name + ".conv1x1.weight"])
        return (y + x) * math.sqrt(0.5)

    def _res(self, x: Tensor, s: Tensor, name: str, kernel: int) -> Tensor:
        w = self.half
        for k, d in enumerate((1, 3, 5)):
            y = x
            for conv, norm, alpha, dil in (
                (f"convs1.{k}", f"adain1.{k}", f"alpha1.{k}", d),
                (f"convs2.{k}", f"adain2.{k}", f"alpha2.{k}", 1),
            ):
                y = self._norm(y, s, f"{name}.{norm}", w)
                a = w[f"{name}.{alpha}"]
                y = y + torch.sin(a * y) ** 2 / a
                y = F.conv1d(
                    y,
                    w[f"{name}.{conv}.weight"],
                    w[f"{name}.{conv}.bias"],
                    padding=(kernel * dil - dil) // 2,
                    dilation=dil,
                )
            x = x + y
        return x

    def _source(self, f0: Tensor) -> Tensor:
        """Nine harmonics and noise from f0 [B, T] (80 values a second) -> spectrum and phase [B, 22, 60 T
        + 1]."""
        b, _t = f0.shape
        harmonics = torch.arange(1, 10, device=f0.device, dtype=torch.float32)
        step = (f0[:, :, None] * harmonics / 24000) % 1
        phase = torch.cumsum(step * 300, 1) * 2 * math.pi
        phase = phase + torch.rand(b, 1, 9, device=f0.device) * 2 * math.pi * (harmonics > 1)
        sine = torch.sin(F.interpolate(phase.transpose(1, 2), scale_factor=300, mode="linear")) * 0.1
        voiced = (f0 > 10).float()[:, None].repeat_interleave(300, 2)
        noise = torch.randn_like(sine) * (voiced * 0.003 + (1 - voiced) * 0.1 / 3)
        mix = (sine * voiced + noise).transpose(1, 2)
        wave = torch.tanh(self._linear(mix, "decoder.generator.m_source.l_linear"))[:, :, 0]
        spec = torch.stft(wave, 20, 5, 20, self.window, return_complex=True)
        return torch.cat([spec.abs(), spec.angle()], 1)

    @torch.no_grad()
    def speak(self, enc: Encoded, frames: Tensor, style: Tensor, pitch: Tensor, energy: Tensor) -> Tensor:
        """frames [B, tokens] whole numbers with the same sum in every row -> audio [B, sum * 600] at 24 kHz.

        pitch [B, 2]: factor on F0 and factor on its movement; energy [B]: added to the predicted log energy.
        """
        b, total = frames.shape[0], int(frames[0].sum())
        ends = frames.cumsum(1)
        index = torch.searchsorted(
            ends.float(), torch.arange(total, device=self.device).expand(b, -1).float() + 0.5
        )
        pick = index[:, :, None]
        en = enc.prosody.gather(1, pick.expand(-1, -1, 640))
        asr = enc.text.gather(1, pick.expand(-1, -1, 512)).transpose(1, 2)
        s = style[:, STYLE:]
        shared = self.lstms["predictor.shared"](en)[0].transpose(1, 2)
        curves = []
        for what in ("F0", "N"):
            x = shared
            for k in range(3):
                x = self._block(x, s, f"predictor.{what}.{k}", self.w, up=k == 1)
            curves.append(
                F.conv1d(x, self.w[f"predictor.{what}_proj.weight"], self.w[f"predictor.{what}_proj.bias"])
            )
        f0, n = curves[0][:, 0], curves[1][:, 0] + energy[:, None]
        voiced = f0 > 40
        mean = (f0 * voiced).sum(1, keepdim=True) / voiced.sum(1, keepdim=True).clamp(min=1)
        f0 = torch.where(voiced, ((f0 - mean) * pitch[:, 1:] + mean).clamp(min=45) * pitch[:, :1], f0)
        with torch.autocast(self.device.split(":")[0], self.dtype, enabled=self.dtype != torch.float32):
            return self._decoder(asr, f0, n, style[:, :STYLE])

    def _decoder(self, asr: Tensor, f0: Tensor, n: Tensor, s: Tensor) -> Tensor:
        w, d = self.half, "decoder."
        har = self._source(f0.float()).to(self.dtype)
        s, asr = s.to(self.dtype), asr.to(self.dtype)
        c0, c1 = (
            F.conv1d(v[:, None].to(self.dtype), w[d + k + ".weight"], w[d + k + ".bias"], stride=2, padding=1)
            for v, k in ((f0, "F0_conv"), (n, "N_conv"))
        )
        x = self._block(torch.cat([asr, c0, c1], 1), s, d + "encode", w)
        res = F.conv1d(asr, w[d + "asr_res.0.weight"], w[d + "asr_res.0.bias"])
        for k in range(4):
            x = self._block(torch.cat([x, res, c0, c1], 1), s, f"{d}decode.{k}", w, up=k == 3)
        g = d + "generator."
        for i, (up, kernel, source) in enumerate(((10, 20, 7), (6, 12, 11))):
            x = F.leaky_relu(x, 0.1)
            extra = F.conv1d(
                har,
                w[f"{g}noise_convs.{i}.weight"],
                w[f"{g}noise_convs.{i}.bias"],
                stride=6 if i == 0 else 1,
                padding=3 if i == 0 else 0,
            )
            extra = self._res(extra, s, f"{g}noise_res.{i}", source)
            x = F.conv_transpose1d(x, w[f"{g}ups.{i}.weight"], w[f"{g}ups.{i}.bias"], up, (kernel - up) // 2)
            if i == 1:
                x = F.pad(x, (1, 0), mode="reflect")
            x = x + extra
            y = self._res(x, s, f"{g}resblocks.{3 * i}", 3)
            for j, k in ((1, 7), (2, 11)):
                y = y + self._res(x, s, f"{g}resblocks.{3 * i + j}", k)
            x = y / 3
        x = F.conv1d(F.leaky_relu(x), w[g + "conv_post.weight"], w[g + "conv_post.bias"], padding=3).float()
        spec = torch.polar(torch.exp(x[:, :11].clamp(max=8)), torch.sin(x[:, 11:]))
        return torch.istft(spec, 20, 5, 20, self.window)
