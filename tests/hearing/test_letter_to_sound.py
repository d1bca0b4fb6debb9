"""espeak-ng's rules written in ARPAbet, checked against CMUdict (an outside source)."""

import random
import re

import pytest
from rapidfuzz.distance import Levenshtein

from sayso.arpabet import ARPABET
from sayso.hearing import letter_to_sound
from sayso.hearing.letter_to_sound import LetterToSoundError, arpabet_of_ipa, say_words
from sayso.hearing.pronunciations import large_dictionary


@pytest.mark.parametrize(
    ("ipa", "phones"),
    [  # IPA of espeak-ng and of dictionaries; ARPAbet as CMUdict writes the word
        ("fˈɜːnhɪl", "F ER N HH IH L"),
        ("ɡˈeɪdʒ", "G EY JH"),
        ("θˈʌɹoʊ", "TH ER OW"),
        ("ˈæʒɚ", "AE ZH ER"),
        ("tʃɔɪs", "CH OY S"),
        ("ˈkwɪkli", "K W IH K L IY"),
        ("bʌtn̩", "B AH T AH N"),
        ("həˈləʊ", "HH AH L OW"),
    ],
)
def test_ipa_becomes_arpabet(ipa: str, phones: str) -> None:
    assert " ".join(arpabet_of_ipa(ipa)) == phones


def test_a_sound_that_english_lacks_is_named() -> None:
    with pytest.raises(ValueError, match="ʘ"):
        arpabet_of_ipa("ʘa")


def test_phone_error_against_cmudict_is_below_an_eighth() -> None:
    """3,000 words drawn from CMUdict by a seed; the nearest of its pronunciations counts.

    Measured: 10.1 % of phones, 59 % of words exactly; names make up much of CMUdict.
    """
    dictionary = large_dictionary()
    if not dictionary:
        pytest.skip("needs the optional pocketsphinx package, which carries CMUdict")
    words = sorted(w for w in dictionary if re.fullmatch("[a-z]{3,}", w))
    drawn = random.Random(1).sample(words, 3000)
    errors = phones = 0
    for word, said in zip(drawn, say_words(drawn), strict=True):
        ways = [tuple(p.split()) for p in dictionary[word]]
        nearest = min(ways, key=lambda way: Levenshtein.distance(way, said))
        errors += Levenshtein.distance(nearest, said)
        phones += len(nearest)
    assert errors / phones < 0.125


def test_every_phone_that_comes_out_is_one_the_model_has() -> None:
    words = ["kibblewick", "zorblat", "naïve", "fjord", "wren's", "tug48x", "façade", "xylem", "loch"]
    assert all(phone in ARPABET for phones in say_words(words) for phone in phones)


def test_words_come_back_in_order_one_each() -> None:
    said = say_words(["stop", "a", "mister", "no", "i", "dr"])
    assert len(said) == 6
    assert said[0] == ("S", "T", "AA", "P")
    assert said[3] == ("N", "OW")


def test_nothing_to_say_starts_no_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letter_to_sound.subprocess, "run", None)
    assert say_words([]) == []


def test_without_espeak_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letter_to_sound.shutil, "which", lambda name: None)
    with pytest.raises(LetterToSoundError, match=r"zorblat.*espeak-ng is not installed"):
        say_words(["zorblat"])
