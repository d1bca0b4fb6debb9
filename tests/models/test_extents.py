"""The recipe's gates: what they eat of a word is its weak hiss, never its vowel."""

from __future__ import annotations

import importlib
import itertools
from types import ModuleType

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from .test_shop_english import ROOT

RATE = 16_000


@pytest.fixture
def extents(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "models" / "recipe"))
    return importlib.import_module("extents")


def tone(hertz: float, seconds: float, level: float) -> NDArray[np.float64]:
    return level * np.sin(2 * np.pi * hertz * np.arange(int(seconds * RATE)) / RATE)


def test_a_gate_eats_the_hiss_in_front_of_a_vowel(extents: ModuleType) -> None:
    # like the s of "six", above a telephone's band
    quiet, hiss, vowel = np.zeros(1600), tone(5500, 0.12, 4000), tone(180, 0.2, 12000)
    word = np.concatenate([quiet, hiss, vowel, quiet]).astype(np.int16)
    begins, ends = 1600, 1600 + len(hiss) + len(vowel)
    first, last = extents.extent(word)
    assert abs(first - begins) <= 80
    assert abs(last - ends) <= 80
    for opened, closed in extents.gated(word)[1:]:
        assert abs(opened - (begins + len(hiss))) <= 160
        assert abs(closed - ends) <= 80


@given(st.lists(st.integers(0, 20_000), min_size=3, max_size=60))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_gate_that_opens_later_keeps_less(extents: ModuleType, levels: list[int]) -> None:
    sound = np.concatenate([tone(300, 0.01, level) for level in levels]).astype(np.int16)
    kept = extents.gated(sound)
    assert len(kept) == len(extents.GATES)
    for (first, last), (later, sooner) in itertools.pairwise(kept):
        assert 0 <= first <= later
        assert sooner <= last <= len(sound)


def test_silence_is_kept_whole(extents: ModuleType) -> None:
    assert extents.extent(np.zeros(900, np.int16)) == (0, 900)
    assert set(extents.gated(np.zeros(900, np.int16))) == {(0, 900)}
