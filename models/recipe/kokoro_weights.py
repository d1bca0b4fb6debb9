"""Kokoro-82M weights out of the int8 ONNX file: ONNX initialisers -> arrays with the names of the torch
modules.

The ONNX export folded weight normalisation into the convolutions and renamed the matrices; this module
finds each
one again by the scope of its initialiser and its order in that scope. Quantised tensors stay quantised on
disk
(value = (q - zero_point) * scale), so the packed file is about as large as the ONNX file.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]
LSTM_NAMES = (
    "predictor.text_encoder.lstms.0",
    "predictor.text_encoder.lstms.2",
    "predictor.text_encoder.lstms.4",
    "predictor.lstm",
    "text_encoder.lstm",
    "predictor.shared",
)
# order of the weight-normalised convolutions inside one scope, as the exporter numbered them
RESBLOCK = ("convs1.0", "convs2.0", "convs1.1", "convs2.1", "convs1.2", "convs2.2")
GENERATOR = ("ups.0", "ups.1", "conv_post")


def _dequantised(path: Path) -> dict[str, Array]:
    """Every float tensor of the file by its initialiser name, quantised ones restored."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    raw = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
    zero: dict[str, str] = {}
    for node in graph.node:
        names = list(node.input)
        if node.op_type in ("ConvInteger", "MatMulInteger") and len(names) > 3:
            zero[names[1]] = names[3]
        elif node.op_type == "DynamicQuantizeLSTM":
            zero[names[1]], zero[names[2]] = names[9], names[11]
        elif node.op_type == "DequantizeLinear":
            # the quantised table is gathered first: the scale names it
            zero[names[1].replace("_scale", "_quantized")] = names[2]
    out: dict[str, Array] = {}
    for name, value in raw.items():
        if name.endswith("_quantized"):
            scale = raw[name.replace("_quantized", "_scale")]
            point = raw[zero[name]] if name in zero else np.zeros((), value.dtype)
            w = value.astype(np.float32) - point.astype(np.float32).reshape(_broadcast(point, value))
            out[name[: -len("_quantized")]] = w * scale.reshape(_broadcast(scale, value))
        elif value.dtype == np.float32 and not name.endswith("_scale"):
            out[name] = value
    return out


def _broadcast(small: NDArray, big: NDArray) -> tuple[int, ...]:
    if small.ndim == 0:
        return ()
    if big.ndim == 3:  # LSTM: one value a direction
        return (small.shape[0], 1, 1)
    return (1, small.shape[0])


def _lstm(found: dict[str, Array], number: int, to: str) -> dict[str, Array]:
    """ONNX gates i o f c, matrices [direction, in, 4 h] -> torch gates i f g o, [4 h, in]."""
    w, r, b = (found[f"onnx::LSTM_{number + k}"] for k in (1, 2, 0))
    h = w.shape[2] // 4
    order = np.concatenate([np.arange(h) + g * h for g in (0, 2, 3, 1)])
    out: dict[str, Array] = {}
    for d, suffix in enumerate(("", "_reverse")):
        out[f"{to}.weight_ih_l0{suffix}"] = w[d].T[order]
        out[f"{to}.weight_hh_l0{suffix}"] = r[d].T[order]
        out[f"{to}.bias_ih_l0{suffix}"] = b[d][: 4 * h][order]
        out[f"{to}.bias_hh_l0{suffix}"] = b[d][4 * h :][order]
    return out


def load(path: Path) -> dict[str, Array]:
    """All tensors of the network under the names that kokoro_net.py uses."""
    found = _dequantised(path)
    out: dict[str, Array] = {}
    for name, value in found.items():
        if name.startswith(("encoder.", "decoder.decoder.")):
            short = name.removeprefix("encoder.").replace("decoder.decoder.", "decoder.")
            # linear layers were exported transposed, convolutions and embeddings were not
            out[short] = value.T if value.ndim == 2 and short.endswith("fc.weight") else value
    numbers = sorted(
        {int(m[1]) for n in found if (m := re.match(r"onnx::LSTM_(\d+)$", n)) and found[n].ndim == 2}
    )
    for number, to in zip(numbers, LSTM_NAMES, strict=True):
        out.update(_lstm(found, number, to))
    scopes: dict[str, list[tuple[int, Array]]] = {}
    for name, value in found.items():
        m = re.match(r"/(decoder/decoder|encoder)/(.*)/?Mul(?:_(\d+))?_output_0$", name)
        if m and value.ndim == 3 and min(value.shape[:1]) >= 1 and value.size > 1:
            scopes.setdefault(m[1] + "|" + m[2].rstrip("/"), []).append((int(m[3] or 0), value))
    for key, convs in scopes.items():
        root, scope = key.split("|")
        ordered = [v for _, v in sorted(convs, key=lambda z: z[0])]
        dotted = scope.replace("/", ".")
        prefix = "decoder." if root.startswith("decoder") else ""
        if root == "encoder" and re.match(r"(F0|N)\.\d$", dotted):
            prefix = "predictor."
        if dotted == "":
            names = ["decoder.F0_conv", "decoder.N_conv"]
        elif dotted == "generator":
            names = [f"decoder.generator.{n}" for n in GENERATOR]
        elif "resblocks" in dotted or "noise_res" in dotted:
            names = [f"decoder.{dotted}.{n}" for n in RESBLOCK]
        elif dotted == "asr_res":
            names = ["decoder.asr_res.0"]
        elif dotted.startswith("text_encoder.cnn"):
            names = [f"{dotted}.0"]
        elif len(ordered) == 4:
            names = [f"{prefix}{dotted}.{n}" for n in ("pool", "conv1", "conv2", "conv1x1")]
        elif "l_sin_gen" in dotted or "norm" in dotted:
            continue
        else:
            names = [f"{prefix}{dotted}.{n}" for n in ("conv1", "conv2", "conv1x1")][: len(ordered)]
        for n, v in zip(names, ordered, strict=True):
            out[n + ".weight"] = v
    layer = "bert.encoder.albert_layer_groups.0.albert_layers.0."
    mats = sorted((int(m[1]), n) for n in found if (m := re.match(r"onnx::MatMul_(\d+)", n)))
    targets = (
        "bert.encoder.embedding_hidden_mapping_in",
        layer + "attention.query",
        layer + "attention.key",
        layer + "attention.value",
        layer + "attention.dense",
        layer + "ffn",
        layer + "ffn_output",
        "bert_encoder",
        "predictor.duration_proj.linear_layer",
        "decoder.generator.m_source.l_linear",
    )
    for (_, n), to in zip(mats, targets, strict=True):
        out[to + ".weight"] = found[n].T
    return {k: np.ascontiguousarray(v) for k, v in out.items()}


def _step(row: NDArray) -> float:
    """The distance of neighbouring quantisation levels in one row."""
    gaps = np.diff(np.unique(row))
    gaps = gaps[gaps > 1e-7]
    return float(gaps.min()) if len(gaps) else 1.0


def pack(onnx_path: Path, out: Path) -> None:
    """weights.npz: every tensor as int8 (or float16 where it has to be exact) with a scale, for a small
    transfer."""
    stored: dict[str, NDArray] = {}
    for name, value in load(onnx_path).items():
        flat = np.abs(value).max()
        levels = np.unique(value)
        if value.size > 4096 and flat > 0 and len(levels) <= 256:
            step = np.float32(np.diff(levels).min())
            q = np.round(value / step)
            if np.abs(q).max() <= 32767:
                stored[name + ".q"] = q.astype(np.int8 if np.abs(q).max() <= 127 else np.int16)
                stored[name + ".s"] = step
                continue
        if value.size > 4096 and value.ndim == 2:  # one scale a row, as the linear layers have
            step = np.array([[_step(row)] for row in value], np.float32)
            q = np.round(value / step)
            if np.abs(q).max() <= 255 and np.abs(q * step - value).max() < 1e-3 * flat:
                stored[name + ".q"] = q.astype(np.int8 if np.abs(q).max() <= 127 else np.int16)
                stored[name + ".s"] = step
                continue
        stored[name + ".q"] = value.astype(np.float32 if value.size < 4096 else np.float16)
        stored[name + ".s"] = np.float32(1)
    np.savez(out, **stored)
