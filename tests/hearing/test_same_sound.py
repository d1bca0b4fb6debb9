"""Words that sound the same are one word to the ear, and come back as the phrase is written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sayso import procedure
from sayso.hearing.evaluation import noisy_copy, room
from sayso.hearing.hearing_events import Final
from sayso.hearing.listening import Listener, listen_to
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.recordings import RATE, read_sound, to_pcm
from sayso.hearing.same_sound import one_spelling
from sayso.hearing.speech_model import SpeechModel
from sayso.rehearsal.questions_heard import questions
from sayso.session.phrases import EarGrammar
from sayso.session.taught_model import taught_model

from .conftest import DIGITS, Say

RECORDINGS = Path(__file__).parents[1] / "recordings"

#: Pronunciations as in CMUdict 0.7b (its text is in the pocketsphinx package), its first way first.
CMUDICT = {
    "four": ("F AO R",),
    "for": ("F AO R", "F ER", "F R ER"),
    "what": ("W AH T", "HH W AH T"),
    "two": ("T UW",),
    "to": ("T UW", "T IH", "T AH"),
    "quarter": ("K W AO R T ER",),
    "one": ("W AH N",),
    "no": ("N OW",),
    "know": ("N OW",),
    "don't": ("D OW N T",),
    "why": ("W AY", "HH W AY"),
    "y": ("W AY",),
    "is": ("IH Z",),
    "that": ("DH AE T",),
}


def test_an_answer_lends_its_spelling_to_what_sounds_like_it() -> None:
    spelling = one_spelling(["four", "one", "what for"], [], CMUDICT)
    assert spelling.phrases == (("four",), ("one",), ("what", "four"))
    assert spelling.as_written(("four",)) == ("four",)
    assert spelling.as_written(("what", "four")) == ("what", "for")
    assert spelling.as_written(("[unk]", "what", "four", "[unk]")) == ("[unk]", "what", "for", "[unk]")
    assert spelling.as_written(("one", "four")) == ("one", "four")


def test_the_beginning_of_a_phrase_is_written_as_the_phrase_but_an_answer_stays_one() -> None:
    spelling = one_spelling(["y", "why is that"], ["don't know"], CMUDICT)
    assert spelling.as_written(("y",)) == ("y",)
    assert spelling.as_written(("y", "is")) == ("why", "is")


def test_decoys_too() -> None:
    spelling = one_spelling(["no"], ["don't know"], CMUDICT)
    assert spelling.decoys == (("don't", "no"),)
    assert spelling.as_written(("don't", "no")) == ("don't", "know")


def test_a_word_in_the_midst_of_its_phrases_keeps_the_ways_in_which_it_is_slurred() -> None:
    spelling = one_spelling(["two", "quarter to one"], [], CMUDICT)
    assert ("quarter", "to", "one") in spelling.phrases


def test_a_word_in_the_midst_that_nobody_could_tell_from_an_answer_is_one_word_with_it() -> None:
    """ "I know this" took half of the confidence of every "no" (measured: 19 of 19 of AN4's people, 0.55)."""
    spelling = one_spelling(["no", "i know this"], [], CMUDICT | {"i": ("AY",), "this": ("DH IH S",)})
    assert ("i", "no", "this") in spelling.phrases
    assert spelling.as_written(("no",)) == ("no",)
    assert spelling.as_written(("i", "no", "this")) == ("i", "know", "this")


WORDS = st.sampled_from(sorted(CMUDICT))


def test_an_answer_is_meant_rather_than_a_decoy_that_sounds_like_it() -> None:
    spelling = one_spelling(["don't why", "y"], ["don't y"], CMUDICT)
    assert spelling.as_written(("don't", "y")) == ("don't", "why")


@example(["don't why", "don't y don't", "y"])  # a phrase that sounds like the beginning of another
@given(st.lists(st.lists(WORDS, min_size=1, max_size=4).map(" ".join), min_size=1, max_size=8))
def test_every_phrase_comes_back_as_itself_or_as_one_that_sounds_the_same(phrases: list[str]) -> None:
    spelling = one_spelling(phrases, [], CMUDICT)

    def sounds(words: tuple[str, ...]) -> list[set[str]]:
        return [set(CMUDICT[word]) for word in words]

    asked = {tuple(phrase.split()) for phrase in phrases}
    for spelled in spelling.phrases:
        written = spelling.as_written(spelled)
        assert written in asked
        assert all(a & b for a, b in zip(sounds(written), sounds(spelled), strict=True))


JOB = """\
procedure: pins
title: Pins
revision: 1
steps:
  - {id: pins, say: Count the pins., ask: {count: pins, from: 0, to: 9}}
  - {id: lights, say: Do the lights work?, ask: {yes_no: lights}}
"""


@dataclass(frozen=True)
class Taught:
    model: SpeechModel
    grammars: dict[str, EarGrammar]

    def hears(self, key: str, pcm: bytes) -> tuple[str, ...] | None:
        listener = Listener(Recogniser(self.model))
        listener.listen(self.grammars[key].phrases, decoys=self.grammars[key].decoys)
        heard = [e.words for e in listen_to(listener, pcm) if isinstance(e, Final)]
        return heard[0] if len(heard) == 1 else None


@pytest.fixture(scope="module")
def taught(tmp_path_factory: pytest.TempPathFactory) -> Taught:
    """The ear of a real job: its grammar, with all orders, and the model that was taught its words."""
    file = tmp_path_factory.mktemp("pins") / "pins.yaml"
    file.write_text(JOB, encoding="utf-8")
    found = procedure.read(file)
    model = taught_model(None, found)
    asked = questions([found], model_lexicon(model.path))
    return Taught(model, {question.key: question.grammar for question in asked})


@pytest.mark.parametrize(
    ("key", "word"), [*(("answer count 0..9", word) for word in DIGITS), ("answer yes_no", "yes")]
)
@pytest.mark.parametrize("voice", ["en-us", "en-gb", "en-us+f3"])
def test_a_short_answer_is_not_taken_for_part_of_an_order(
    say: Say, taught: Taught, key: str, word: str, voice: str
) -> None:
    assert taught.hears(key, say(word, voice=voice)) == (word,)


@pytest.mark.parametrize("name", ["an402-mdms2-b", "an416-fjlp-b", "an443-mmxg-b"])
def test_the_no_of_people_is_sure_beside_nope_note_and_i_know_this(taught: Taught, name: str) -> None:
    """CMU's alphanumeric database (AN4), test part: three people who say NO. "I know this" took half of its
    confidence: 0.53 to 0.56. The synthetic voices stop so short that their "no" may as well be a "nope"."""
    sound = read_sound(RECORDINGS / f"{name}.flac")
    grammar = taught.grammars["answer yes_no"]
    listener = Listener(Recogniser(taught.model))
    listener.listen(grammar.phrases, decoys=grammar.decoys)
    pcm = to_pcm(np.concatenate((noisy_copy(sound, None, 3), room(RATE, 4))))
    (final,) = [e for e in listen_to(listener, pcm) if isinstance(e, Final)]
    assert final.words == ("no",)
    assert final.confidence > 0.8
