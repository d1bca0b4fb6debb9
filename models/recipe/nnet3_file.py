"""Write am/final.mdl: Kaldi's transition model and nnet3 network in binary, from folded.npz.

The blocks, nearly all of the net, are stored as Kaldi's compressed matrices of one byte a value (CM), which
any Kaldi reads back as floats; the rest as floats (FM).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from phones import LABELS, N_LABELS, N_PDFS, N_TRANSITION_IDS, PHONE_ID
from splices import BLOCKS, FRONT, LEFT, PICTURE, PICTURE_AT, RIGHT

# the net hears a TH in the breath after "six" and "eight": entering that phone costs this much more (tuned on
# the ten development speakers of AN4 train)
OUTPUT_BIAS = {"TH": -0.8}


def _tok(s: str) -> bytes:
    return s.encode() + b" "


def _i32(x: int) -> bytes:
    return b"\x04" + struct.pack("<i", int(x))


def _f32(x: float) -> bytes:
    return b"\x04" + struct.pack("<f", float(x))


def _f64(x: float) -> bytes:
    return b"\x08" + struct.pack("<d", float(x))


def _ints(v: list[int]) -> bytes:
    return b"\x04" + struct.pack("<i", len(v)) + np.asarray(v, "<i4").tobytes()


def _vector(v: NDArray) -> bytes:
    v = np.ascontiguousarray(v, "<f4")
    return b"FV " + _i32(v.size) + v.tobytes()


def _floats(m: NDArray) -> bytes:
    """FM: as it is. The first layers need it: a unit that hardly ever speaks has outgoing weights thousands
    of times the others', and equal steps of that range lose the others."""
    return b"FM " + _i32(len(m)) + _i32(m.shape[1]) + np.ascontiguousarray(m, "<f4").tobytes()


def _one_byte(m: NDArray) -> bytes:
    """CM: each column between its least, quarter, three-quarter and greatest value in 64, 128 and 63 steps.

    Layout as in Kaldi's compressed-matrix.h (kSpeechFeature): the columns' four values in 16 bits, then
    the bytes column by column.
    """
    x = m.astype(np.float64)
    rows = len(x)
    low, span = float(x.min()), max(float(x.max() - x.min()), 1e-8)
    order = np.sort(x, 0)[[0, rows // 4, 3 * (rows // 4), rows - 1]]
    mark = np.round((order - low) / span * 65535).astype(np.int64)
    for k in range(1, 4):  # strictly rising, as Kaldi wants
        mark[k] = np.maximum(mark[k], mark[k - 1] + 1)
    mark = np.minimum(mark, np.array([65532, 65533, 65534, 65535])[:, None])
    edge = low + span * mark / 65535
    parts = []
    for k, (first, steps) in enumerate(((0, 64), (64, 128), (192, 63))):
        parts.append(first + np.round((x - edge[k]) / (edge[k + 1] - edge[k]) * steps).clip(0, steps))
    q = np.where(x < edge[1], parts[0], np.where(x < edge[2], parts[1], parts[2])).astype(np.uint8)
    return (
        b"CM "
        + struct.pack("<ffii", low, span, *m.shape)
        + mark.T.astype("<u2").tobytes()
        + np.ascontiguousarray(q.T).tobytes()
    )


def _one_byte_read(low: float, span: float, rows: int, columns: int, body: bytes) -> NDArray:
    mark = np.frombuffer(body, "<u2", columns * 4).reshape(columns, 4).T
    edge = low + span * mark.astype(np.float64) / 65535
    q = np.frombuffer(body, np.uint8, rows * columns, offset=8 * columns).reshape(columns, rows).T
    q = q.astype(np.float64)
    parts = [
        edge[k] + (edge[k + 1] - edge[k]) * (q - first) / steps
        for k, (first, steps) in enumerate(((0, 64), (64, 128), (192, 63)))
    ]
    return np.where(q <= 64, parts[0], np.where(q <= 192, parts[1], parts[2]))


def read(path: Path, bias: Mapping[str, float] | None = None) -> dict[str, NDArray]:
    """What `write` stored, as it would be in folded.npz (float32); weights are those that Kaldi reads back.

    bias: what `write` had added, taken off again.
    """
    raw = path.read_bytes()
    at = raw.index(b"<Nnet3>")
    out: dict[str, NDArray] = {}
    while (at := raw.find(b"<ComponentName> ", at)) >= 0:
        at += len(b"<ComponentName> ")
        name, kind = raw[at : raw.index(b"> ", at) + 1].decode().split(" ", 1)
        at += len(name) + 1 + len(kind) + 1
        if kind not in ("<FixedAffineComponent>", "<TimeHeightConvolutionComponent>"):
            continue
        at = raw.index(b"<LinearParams> ", at) + len(b"<LinearParams> ")
        form, at = raw[at : raw.index(b" ", at)].decode(), raw.index(b" ", at) + 1
        if form == "FM":
            _, rows, _, columns = struct.unpack_from("<bibi", raw, at)
            at += 10
            size = 4 * rows * columns
            w = np.frombuffer(raw, "<f4", rows * columns, at).reshape(rows, columns)
        else:
            low, span, rows, columns = struct.unpack_from("<ffii", raw, at)
            at += 16
            if form == "CM":
                size = columns * (8 + rows)
                w = _one_byte_read(low, span, rows, columns, raw[at : at + size])
            else:  # CM2, as models before 2026-11-26 have
                size = 2 * rows * columns
                w = low + span * np.frombuffer(raw, "<u2", rows * columns, at).reshape(rows, columns) / 65535
        at += size + len(b"<BiasParams> ") + len(b"FV ") + 5
        key = name.split(".")[0].replace("output", "out")
        if name != "output.garbage":
            out[key + "_W"] = w.astype(np.float32)
            out[key + "_b"] = np.frombuffer(raw, "<f4", rows, at).copy()
    for phone, more in (bias or {}).items():
        out["out_b"][2 * PHONE_ID[phone]] -= more
    return out


def transition_model() -> bytes:
    """One topology for every label: a state with its own pdf on entry and another for the self-loop."""
    o = _tok("<TransitionModel>") + _tok("<Topology>")
    o += _ints(list(range(1, N_LABELS + 1))) + _ints([-1] + [0] * N_LABELS)
    o += _i32(-1) + _i32(1)  # separate self-loop pdf class; one entry
    o += _i32(2) + _i32(0) + _i32(1) + _i32(2) + _i32(0) + _f32(0.5) + _i32(1) + _f32(0.5)
    o += _i32(-1) + _i32(-1) + _i32(0) + _tok("</Topology>")
    o += _tok("<Tuples>") + _i32(N_LABELS)
    for k, (_, _, phone) in enumerate(LABELS):
        o += _i32(k + 1) + _i32(0) + _i32(2 * phone) + _i32(2 * phone + 1)
    o += _tok("</Tuples>") + _tok("<LogProbs>") + _vector(np.array([0.0] + [np.log(0.5)] * N_TRANSITION_IDS))
    return o + _tok("</LogProbs>") + _tok("</TransitionModel>")


def _affine(w: NDArray, b: NDArray, small: bool = False) -> bytes:
    return (
        _tok("<FixedAffineComponent>")
        + _tok("<LinearParams>")
        + (_one_byte(w) if small else _floats(w))
        + _tok("<BiasParams>")
        + _vector(b)
        + _tok("</FixedAffineComponent>")
    )


def _bool(x: bool) -> bytes:
    return b"T" if x else b"F"


def _look(w: NDArray, b: NDArray, size: tuple[int, int], bands: tuple[int, int], step: int) -> bytes:
    """Three frames `step` apart by three bands. w [filters, time * band * filters before]; size: filters
    before and after; bands: before and after."""
    halve = bands[0] // bands[1]
    offsets = [(t, h) for t in (-step, 0, step) for h in (-1, 0, 1)]
    o = _tok("<TimeHeightConvolutionComponent>") + _tok("<LearningRate>") + _f32(0.0)
    o += _tok("<Model>") + _tok("<ConvolutionModel>")
    for name, value in (
        ("NumFiltersIn", size[0]),
        ("NumFiltersOut", size[1]),
        ("HeightIn", bands[0]),
        ("HeightOut", bands[1]),
        ("HeightSubsampleOut", halve),
    ):
        o += _tok(f"<{name}>") + _i32(value)
    o += _tok("<Offsets>") + b"\x04" + struct.pack("<i", len(offsets)) + np.array(offsets, "<i4").tobytes()
    o += _tok("<RequiredTimeOffsets>") + _ints([-step, 0, step]) + _tok("</ConvolutionModel>")
    o += (
        _tok("<LinearParams>")
        + (_one_byte(w) if size[0] > 1 else _floats(w))
        + _tok("<BiasParams>")
        + _vector(b)
    )
    # what only training would use
    o += _tok("<MaxMemoryMb>") + _f32(200.0) + _tok("<UseNaturalGradient>") + _bool(False)
    o += _tok("<NumMinibatchesHistory>") + _f32(4.0) + _tok("<AlphaInOut>") + _f32(4.0) + _f32(4.0)
    o += _tok("<RankInOut>") + _i32(20) + _i32(20)
    return o + _tok("</TimeHeightConvolutionComponent>")


def _plain(kind: str, dim: int) -> bytes:
    """A component without parameters, with the empty statistics that Kaldi expects."""
    if kind == "NoOpComponent":
        return (
            _tok("<NoOpComponent>")
            + _tok("<Dim>")
            + _i32(dim)
            + _tok("<BackpropScale>")
            + _f32(1.0)
            + _tok("</NoOpComponent>")
        )
    z = _vector(np.zeros(0))
    return (
        _tok(f"<{kind}>")
        + _tok("<Dim>")
        + _i32(dim)
        + _tok("<ValueAvg>")
        + z
        + _tok("<DerivAvg>")
        + z
        + _tok("<Count>")
        + _f64(0)
        + _tok("<OderivRms>")
        + z
        + _tok("<OderivCount>")
        + _f64(0)
        + _tok("<NumDimsSelfRepaired>")
        + _f64(0)
        + _tok("<NumDimsProcessed>")
        + _f64(0)
        + _tok(f"</{kind}>")
    )


def _splice(source: str, offsets: list[int]) -> str:
    parts = [source if o == 0 else f"Offset({source}, {o})" for o in offsets]
    return parts[0] if len(parts) == 1 else f"Append({', '.join(parts)})"


def network(z: dict[str, NDArray], garbage: float | None) -> bytes:
    """garbage: constant log score of the SPN pdfs against normalised scores; None leaves the net's own
    outputs."""
    config = ["input-node name=input dim=40"]
    parts: list[tuple[str, bytes]] = []

    def node(name: str, body: bytes, source: str) -> str:
        config.append(f"component-node name={name} component={name} input={source}")
        parts.append((name, body))
        return name

    def affine(name: str, key: str, source: str) -> str:
        block = key.startswith(("spread", "back", "tell"))
        return node(name, _affine(z[key + "_W"].astype(np.float32), z[key + "_b"], block), source)

    h = "input"
    for k, offsets in enumerate(FRONT):
        h = affine(f"front{k}.affine", f"front{k}", _splice(h, list(offsets)))
        h = node(f"front{k}.relu", _plain("RectifiedLinearComponent", len(z[f"front{k}_b"])), h)
    h = affine("enter.affine", "enter", h)
    picture = affine("mel.affine", "mel", "input") if "mel_W" in z else ""
    before = (1, 40)
    for k, (filters, bands) in enumerate(PICTURE if picture else ()):
        w, b = z[f"look{k}_W"].astype(np.float32), z[f"look{k}_b"]
        body = _look(w, b, (before[0], filters), (before[1], bands), 1 if k < 3 else 3)
        picture = node(f"look{k}.conv", body, picture)
        picture = node(f"look{k}.relu", _plain("RectifiedLinearComponent", filters * bands), picture)
        before = filters, bands
    if picture:
        picture = affine("tell.affine", "tell", picture)
    stream = len(z["enter_b"])
    for k, offsets in enumerate(BLOCKS):
        if picture and k == PICTURE_AT:
            h = node("picture", _plain("NoOpComponent", stream), f"Sum({h}, {picture})")
        y = affine(f"spread{k}.affine", f"spread{k}", _splice(h, [3 * o for o in offsets]))
        y = node(f"spread{k}.relu", _plain("RectifiedLinearComponent", len(z[f"spread{k}_b"])), y)
        y = affine(f"back{k}.affine", f"back{k}", y)
        h = node(f"sum{k}", _plain("NoOpComponent", stream), f"Sum({h}, {y})")
    h = affine("output.affine", "out", h)
    h = node("output.log-softmax", _plain("LogSoftmaxComponent", N_PDFS), h)
    if garbage is not None:
        w, b = np.eye(N_PDFS, dtype=np.float32), np.zeros(N_PDFS, np.float32)
        w[2:4], b[2:4] = 0, garbage
        h = node("output.garbage", _affine(w, b), h)
    config.append(f"output-node name=output input={h} objective=linear")
    o = _tok("<Nnet3>") + b"\n" + "".join(c + "\n" for c in config).encode() + b"\n"
    o += _tok("<NumComponents>") + _i32(len(parts))
    for name, body in parts:
        o += _tok("<ComponentName>") + _tok(name) + body
    return o + _tok("</Nnet3>")


def write(folded: Path, out: Path, garbage: float | None, bias: Mapping[str, float] | None = None) -> None:
    """bias: what to add to the score of entering a phone, by phone name."""
    with np.load(folded) as f:
        z = {k: f[k] for k in f.files}
    for phone, more in (bias or {}).items():
        z["out_b"][2 * PHONE_ID[phone]] += more
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_bytes(
        b"\0B"
        + transition_model()
        + network(z, garbage)
        + _tok("<LeftContext>")
        + _i32(LEFT)
        + _tok("<RightContext>")
        + _i32(RIGHT)
        + _tok("<Priors>")
        + _vector(np.zeros(0))
    )
