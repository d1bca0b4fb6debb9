"""Real vosk, real sound: what is said in a grammar comes back as words with confidences and times."""

from collections.abc import Iterable

import pytest

from sayso.answers import phrases
from sayso.hearing import recogniser as recogniser_module
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.same_sound import Lexicon, OneSpelling, one_spelling
from sayso.hearing.speech_model import ModelError, SpeechModel
from sayso.procedure.model import AskMeasure

from .conftest import DIGITS, Say


def test_a_digit_is_heard(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    recogniser.accept(say("five", before=0.8))
    result = recogniser.finish()
    assert result.text == ("five",)
    assert 0 < result.confidence <= 1
    assert 0.5 < result.words[0].start < result.words[0].end < 1.8


def test_partial_words_come_while_speech_goes_on(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    pcm = say("five", "seven", pause=0.2)
    seen = [words for at in range(0, len(pcm), 960) if (words := recogniser.accept(pcm[at : at + 960]))]
    assert ("five",) in seen
    assert recogniser.finish().text == ("five", "seven")


def test_segments_that_vosk_ends_by_its_own_rules_are_joined(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    pcm = say("five", "seven", pause=1.6)
    for at in range(0, len(pcm), 960):
        recogniser.accept(pcm[at : at + 960])
    assert recogniser.partial == ("five", "seven")
    words = recogniser.finish().words
    assert [w.word for w in words] == ["five", "seven"]
    assert words[1].start - words[0].end > 1.0


def test_times_start_anew_with_every_utterance(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    starts = []
    for _ in range(3):
        recogniser.accept(say("five", before=0.8))
        starts.append(recogniser.finish().words[0].start)
    assert max(starts) - min(starts) < 0.15


def test_what_was_fed_before_a_new_question_is_forgotten(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    recogniser.accept(say("five"))
    recogniser.listen(["yes", "no"])
    recogniser.accept(say("no"))
    assert recogniser.finish().text == ("no",)
    recogniser.listen(DIGITS)
    recogniser.accept(say("seven"))
    assert recogniser.finish().text == ("seven",)


def test_a_question_that_comes_back_is_not_worked_out_again(
    recogniser: Recogniser, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked_out: list[tuple[str, ...]] = []

    def counted(phrases: Iterable[str], decoys: Iterable[str], lexicon: Lexicon) -> OneSpelling:
        worked_out.append(tuple(phrases))
        return one_spelling(worked_out[-1], decoys, lexicon)

    monkeypatch.setattr(recogniser_module, "one_spelling", counted)
    first = recogniser.listen(["four", "what for", "nine"])
    recogniser.listen(["yes", "what for"])
    assert recogniser.listen(["four", "what for", "nine"]) == first
    assert worked_out == [("four", "what for", "nine"), ("yes", "what for")]
    recogniser.listen(["four", "what for"], decoys=["nine"])
    assert len(worked_out) == 3


def test_a_word_the_model_lacks_is_an_error_that_names_it(recogniser: Recogniser) -> None:
    with pytest.raises(ModelError, match="zorblat"):
        recogniser.listen(["five", "five zorblat"])


def test_a_model_without_run_time_grammars_is_refused(model: SpeechModel) -> None:
    fixed = SpeechModel(model.path, model.handle, run_time_grammar=False)
    with pytest.raises(ModelError, match="takes no grammar"):
        Recogniser(fixed).listen(["yes"])


def test_no_more_recognisers_are_kept_than_agreed(
    recogniser: Recogniser, say: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recogniser_module, "KEPT_GRAMMARS", 2)
    for digit in DIGITS:
        recogniser.listen([digit, "yes"])
        recogniser.accept(bytes(3200))
    assert len(recogniser._kept) == 2
    recogniser.listen(DIGITS)
    recogniser.accept(say("five"))
    assert recogniser.finish().text == ("five",)


def test_other_readings_are_legal_ones_without_repeats(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    readings = recogniser.alternatives(say("five"))
    assert readings[0] == ("five",)
    assert len(set(readings)) == len(readings)
    assert all(word in DIGITS for words in readings for word in words)


@pytest.mark.parametrize("talk", ["hello", "banana", "the weather is nice today"])
def test_talk_does_not_have_to_be_an_answer(recogniser: Recogniser, say: Say, talk: str) -> None:
    recogniser.listen([*DIGITS, "say a word"])
    assert recogniser.among_whole(say(talk), lambda word: word in DIGITS) == ()


def test_words_that_only_stand_in_phrases_are_left_out_of_a_second_hearing(
    recogniser: Recogniser, say: Say
) -> None:
    recogniser.listen([*DIGITS, "say a word", "say eight"])
    assert recogniser.among_whole(say("say eight"), lambda word: word in DIGITS) in [(), ("eight",)]
    assert recogniser.among_whole(say("eight"), lambda word: word in DIGITS) == ("eight",)
    assert recogniser.among_whole(say("eight"), lambda word: False) == ()


def test_a_second_hearing_can_be_asked_to_be_sure(recogniser: Recogniser, say: Say) -> None:
    recogniser.listen(DIGITS)
    assert recogniser.among_whole(say("eight"), lambda word: True, 0.9) == ("eight",)
    assert recogniser.among_whole(say("eight"), lambda word: True, 1.01) == ()


def test_accepting_before_listening_is_a_mistake_of_the_program(recogniser: Recogniser) -> None:
    with pytest.raises(RuntimeError, match="listen"):
        recogniser.accept(bytes(960))


@pytest.mark.parametrize("words", ["five degrees below zero", "ten below zero", "minus five degrees"])
def test_a_sign_said_behind_a_temperature_is_heard(recogniser: Recogniser, say: Say, words: str) -> None:
    """Before the question listened for it, "ten below zero" could come out as "[unk] zero"."""
    ask = AskMeasure("bay", "degC", low=-30, high=60)
    known = model_lexicon(recogniser.model.path)
    recogniser.listen([p for p in phrases(ask) if all(word in known for word in p.split())])
    recogniser.accept(say(words))
    assert recogniser.finish().text == tuple(words.split())
