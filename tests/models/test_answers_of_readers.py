"""The recipe's choice of words to cut out of sentences: those that answers are made of count more."""

from __future__ import annotations

import importlib

import pytest

from .test_shop_english import MODEL, ROOT


def test_answers_are_known_by_how_they_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """CMUdict, as the shipped lexicon has it, says how a word sounds."""
    monkeypatch.syspath_prepend(str(ROOT / "models" / "recipe"))
    lexicon, vocabulary = (importlib.import_module(name) for name in ("lexicon", "vocabulary"))
    listed = {
        word: [" ".join(v) for v in said] for word, said in lexicon.read(MODEL / "graph/lexicon.txt").items()
    }
    answers = [*vocabulary.ANSWERS, *vocabulary.DIGITS]
    assert {v for word in answers for v in listed[word]} == lexicon.ANSWERS_SAID
    for word in ("know", "write", "ate", "won"):
        assert lexicon.is_answer(listed[word]), word
    for word in ("the", "offer", "wrench", "upper", "seventy"):
        assert not lexicon.is_answer(listed[word]), word
