"""A question's phrases become one vosk grammar, with nothing lost and [unk] always in."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.hearing.grammar import MAX_PHRASES, UNKNOWN, compile_grammar, normalise


def test_unknown_is_always_in_the_grammar() -> None:
    assert json.loads(compile_grammar(["yes", "no"]).json) == ["yes", "no", UNKNOWN]


def test_the_same_phrase_written_twice_is_there_once() -> None:
    assert compile_grammar(["Carry on", "carry  on", "carry-on"]).phrases == (("carry", "on"),)


def test_a_question_without_phrases_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one phrase"):
        compile_grammar(["", "  "])


def test_decoys_are_listened_for_but_are_no_answers() -> None:
    grammar = compile_grammar(["done"], decoys=["dung"])
    assert "dung" in json.loads(grammar.json)
    assert grammar.words == {"done"}


@given(st.lists(st.text("abcdefgh' -", min_size=1, max_size=20), min_size=1, max_size=20))
def test_every_word_of_every_phrase_is_in_the_grammar(phrases: list[str]) -> None:
    words = {w for p in phrases for w in normalise(p)}
    if not words:
        return
    grammar = compile_grammar(phrases)
    assert grammar.words == words
    assert {w for line in json.loads(grammar.json) for w in line.split()} == words | {UNKNOWN}


def test_a_huge_list_is_cut_but_keeps_every_pair_of_neighbours() -> None:
    phrases = [f"w{a} w{b} w{c}" for a in range(20) for b in range(20) for c in range(20)]
    lines = json.loads(compile_grammar(phrases).json)[:-1]
    assert len(lines) <= MAX_PHRASES

    def pairs(of: list[str]) -> set[tuple[str, str]]:
        return {pair for line in of for pair in zip(line.split(), line.split()[1:], strict=False)}

    assert pairs(lines) == pairs(phrases)
