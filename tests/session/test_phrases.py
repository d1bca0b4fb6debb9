"""What the recogniser is given for a question."""

from __future__ import annotations

from sayso import dialogue
from sayso.dialogue.effects import Listen
from sayso.dialogue.events import Heard, Started
from sayso.procedure.model import Procedure
from sayso.session.phrases import one_of_each_sound, phrases_for

#: From CMUdict 0.7b, stress left out.
LEXICON = {
    "okay": ("OW K EY",), "ok": ("OW K EY",), "metres": ("M IY T ER Z",), "meters": ("M IY T ER Z",),
    "four": ("F AO R",), "for": ("F AO R", "F ER"), "five": ("F AY V",), "nine": ("N AY N",),
}  # fmt: skip


def test_two_spellings_of_one_sound_are_given_once_and_the_first_stays() -> None:
    assert one_of_each_sound(("okay", "ok", "nine metres", "nine meters"), LEXICON) == ("okay", "nine metres")


def test_phrases_that_sound_different_all_stay() -> None:
    phrases = ("four", "five", "nine", "four nine", "nine four")
    assert one_of_each_sound(phrases, LEXICON) == phrases


def test_a_word_that_the_lexicon_lacks_is_its_own_sound() -> None:
    assert one_of_each_sound(("sayso", "okay sayso"), LEXICON) == ("sayso", "okay sayso")


def test_at_a_read_back_the_correction_in_one_breath_is_spelled_out(procedure: Procedure) -> None:
    state, _ = dialogue.advance(dialogue.begin(procedure), Started(1, "job-1"))
    for words in ("understood", "done", "three volts", "yes"):
        state, effects = dialogue.advance(state, Heard(2, tuple(words.split())))
    listen = next(e for e in effects if isinstance(e, Listen))
    assert "no twelve" not in phrases_for(state, listen, {})
    state, effects = dialogue.advance(state, Heard(3, ("eight",)))
    listen = next(e for e in effects if isinstance(e, Listen))
    assert {"yes", "no", "no twelve", "no eight"} <= set(phrases_for(state, listen, {}))
