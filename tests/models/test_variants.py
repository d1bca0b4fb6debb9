"""The recipe's second pronunciation of words whose vowel many speakers have merged with another."""

from __future__ import annotations

import importlib

import pytest

from .test_shop_english import MODEL, ROOT


def test_a_merged_vowel_is_tried_as_cmudict_itself_lists_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "models" / "recipe"))
    lexicon = importlib.import_module("lexicon")
    # CMUdict (in the shipped lexicon) has both for these; the recipe's rule must make the one of the other
    listed = lexicon.read(MODEL / "graph" / "lexicon.txt")
    for word in ("on", "fog", "coffee", "caught"):
        both = {" ".join(phones) for phones in listed[word]}
        rounded = sorted(p for p in both if "AO" in p.split())
        assert rounded, word
        assert set(lexicon.with_merger(rounded)) <= both, word
    assert lexicon.with_merger(["AO F"]) == ["AO F", "AA F"]


def test_no_vowel_before_r_is_merged_and_nothing_is_said_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "models" / "recipe"))
    lexicon = importlib.import_module("lexicon")
    assert lexicon.with_merger(["F AO R"]) == ["F AO R"]
    assert lexicon.with_merger(["AO N", "AA N"]) == ["AO N", "AA N"]
    assert lexicon.with_merger(["AO R AO L"]) == ["AO R AO L", "AO R AA L"]
