"""The recipe's reader and writer of `final.mdl`, held against Kaldi itself inside the vosk package.

Kaldi's compressed-matrix layout is in its compressed-matrix.h (from memory); that vosk hears the same words
with what was read and written again is the check from outside.
"""

from __future__ import annotations

import importlib
import shutil
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from vosk import Model, SetLogLevel

from .test_shop_english import MODEL, ROOT, heard, recording, said


@pytest.fixture
def nnet3_file(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "models" / "recipe"))
    return importlib.import_module("nnet3_file")


def words_heard(model: Path) -> dict[str, list[str]]:
    SetLogLevel(-1)
    loaded = Model(str(model))
    grammar = sorted({word for words in said().values() for word in words})
    return {name: heard(loaded, recording(name), grammar) for name in list(said())[:12]}


def test_the_shipped_net_read_and_written_again_hears_the_same(
    nnet3_file: ModuleType, tmp_path: Path
) -> None:
    again = tmp_path / "again"
    for part in ("conf", "graph"):
        shutil.copytree(MODEL / part, again / part)
    weights = nnet3_file.read(MODEL / "am" / "final.mdl", nnet3_file.OUTPUT_BIAS)
    np.savez(tmp_path / "folded.npz", **weights)
    nnet3_file.write(
        tmp_path / "folded.npz", again / "am" / "final.mdl", garbage=None, bias=nnet3_file.OUTPUT_BIAS
    )
    twice = nnet3_file.read(again / "am" / "final.mdl", nnet3_file.OUTPUT_BIAS)
    assert twice.keys() == weights.keys()
    for name, w in weights.items():
        # a second rounding to the 256 values of a column moves a weight by a step at most
        assert np.allclose(twice[name], w, rtol=0, atol=float(np.ptp(w)) / 64 + 1e-6), name
    before = words_heard(MODEL)
    assert any(before.values())
    assert words_heard(again) == before


def test_one_byte_a_value_keeps_each_column_to_its_own_range(nnet3_file: ModuleType) -> None:
    rng = np.random.default_rng(3)
    w = rng.standard_normal((96, 40)) * np.exp(rng.uniform(-3, 0, 40))
    stored = nnet3_file._one_byte(w)
    assert stored[:3] == b"CM "
    assert len(stored) == 3 + 16 + 40 * (8 + 96)
    low, span, rows, columns = np.frombuffer(stored[3:19], "<f4,<f4,<i4,<i4")[0].tolist()
    back = nnet3_file._one_byte_read(low, span, rows, columns, stored[19:])
    # half of the values lie in the middle two quarters, cut in 128 steps; the outer quarters in 64 and 63
    assert (np.abs(back - w).max(0) <= np.ptp(w, axis=0) / 63 + span / 65535).all()
