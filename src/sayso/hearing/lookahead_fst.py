"""Writes and reads the two OpenFst binary files that vosk loads: olabel_lookahead and const.

Layout (confirmed by parsing a stock model's file to its last byte, and by stock vosk loading what is
written here): header | int32 magic | complete const FST | add-on present, no input data, output data |
reach_input, keep_relabel | int32 final label | int64 states, each: int64 intervals, (int32 begin,
int32 end)..., int32 labels covered. Arcs of a state must be sorted by output label.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

#: (input label, output label, weight, next state); weights are negative natural logs.
Arc = tuple[int, int, float, int]
#: Half-open label ranges [begin, end).
Intervals = tuple[tuple[int, int], ...]

_FST_MAGIC = 2125659606
_ADD_ON_MAGIC = 446681434
EXPANDED, ACCEPTOR, INPUT_SORTED, OUTPUT_SORTED = 0x1, 0x10000, 0x10000000, 0x40000000

_STATE = np.dtype([("final", "<f4"), ("first", "<u4"), ("arcs", "<u4"), ("ieps", "<u4"), ("oeps", "<u4")])
_ARC = np.dtype([("i", "<i4"), ("o", "<i4"), ("w", "<f4"), ("next", "<i4")])


def _header(kind: str, version: int, properties: int, start: int, states: int, arcs: int) -> bytes:
    def text(value: str) -> bytes:
        return struct.pack("<i", len(value)) + value.encode("ascii")

    return (
        struct.pack("<i", _FST_MAGIC)
        + text(kind)
        + text("standard")
        + struct.pack("<iiQqqq", version, 0, properties, start, states, arcs)
    )


def const_fst(
    states: Sequence[Sequence[Arc]], finals: Mapping[int, float], start: int, properties: int
) -> bytes:
    """The bytes of a const FST. A state without an entry in `finals` is not final."""
    table = np.zeros(len(states), _STATE)
    table["final"] = np.inf
    for state, weight in finals.items():
        table["final"][state] = weight
    counts = np.fromiter((len(arcs) for arcs in states), dtype=np.int64, count=len(states))
    table["arcs"] = counts
    table["first"] = np.concatenate(([0], np.cumsum(counts)[:-1]))
    arcs = np.array([arc for arcs in states for arc in arcs], _ARC)
    owner = np.repeat(np.arange(len(states)), counts)
    table["ieps"] = np.bincount(owner[arcs["i"] == 0], minlength=len(states))
    table["oeps"] = np.bincount(owner[arcs["o"] == 0], minlength=len(states))
    head = _header("const", 2, properties, start, len(states), len(arcs))
    return head + table.tobytes() + arcs.tobytes()


def lookahead_fst(
    states: Sequence[Sequence[Arc]],
    finals: Mapping[int, float],
    start: int,
    reachable: Sequence[Intervals],
    final_label: int,
) -> bytes:
    """The bytes of an olabel_lookahead FST; `reachable[s]` are the output labels met first from state s.

    `final_label` is the label that stands for 'the end can be reached' in those intervals.
    """
    inner = const_fst(states, finals, start, EXPANDED | OUTPUT_SORTED)
    parts = [
        _header("olabel_lookahead", 1, EXPANDED | OUTPUT_SORTED, -1, 0, 0),
        struct.pack("<i", _ADD_ON_MAGIC),
        inner,
        b"\x01\x00\x01",
        b"\x00\x00",
        struct.pack("<iq", final_label, len(states)),
    ]
    for intervals in reachable:
        flat = [edge for interval in intervals for edge in interval]
        covered = sum(end - begin for begin, end in intervals)
        parts.append(struct.pack(f"<q{len(flat)}ii", len(intervals), *flat, covered))
    return b"".join(parts)


@dataclass(frozen=True, slots=True, eq=False)
class ReadFst:
    start: int
    finals: npt.NDArray[np.float32]
    states: list[list[Arc]]


def read_lookahead_fst(path: Path) -> ReadFst:
    """The arcs of an olabel_lookahead file (its reachability data is passed over).

    Raises ValueError when the file is not one.
    """
    data = path.read_bytes()
    try:
        kind, at, *_ = _read_header(data, 0)
        if kind != "olabel_lookahead" or struct.unpack_from("<i", data, at)[0] != _ADD_ON_MAGIC:
            raise ValueError(f"{path}: not an olabel_lookahead graph")
        kind, at, start, states, arcs = _read_header(data, at + 4)
        if kind != "const":
            raise ValueError(f"{path}: holds a {kind} graph, not a const one")
        table = np.frombuffer(data, _STATE, states, at)
        listed = np.frombuffer(data, _ARC, arcs, at + states * _STATE.itemsize)
    except (struct.error, UnicodeDecodeError) as error:
        raise ValueError(f"{path}: not a readable graph") from error
    flat: list[Arc] = listed.tolist()
    firsts: list[int] = table["first"].tolist()
    counts: list[int] = table["arcs"].tolist()
    out = [flat[first : first + count] for first, count in zip(firsts, counts, strict=True)]
    return ReadFst(start=start, finals=table["final"].copy(), states=out)


def _read_header(data: bytes, at: int) -> tuple[str, int, int, int, int]:
    def text(position: int) -> tuple[str, int]:
        length = struct.unpack_from("<i", data, position)[0]
        if not 0 <= length < 64:
            raise ValueError("not an OpenFst file")
        end = position + 4 + length
        return data[position + 4 : end].decode("ascii"), end

    if len(data) < at + 4 or struct.unpack_from("<i", data, at)[0] != _FST_MAGIC:
        raise ValueError("not an OpenFst file")
    kind, at = text(at + 4)
    _, at = text(at)
    _, _, _, start, states, arcs = struct.unpack_from("<iiQqqq", data, at)
    return kind, at + struct.calcsize("<iiQqqq"), start, states, arcs
