"""A shop writes how its words are said: plain lines, or the W3C's Pronunciation Lexicon Specification 1.0."""

from pathlib import Path

import pytest

from sayso.hearing.pronunciations import pronounce, teach
from sayso.hearing.shop_lexicon import LexiconError, read_shop_lexicon
from sayso.hearing.speech_model import SpeechModel

PLS = """<?xml version="1.0" encoding="UTF-8"?>
<lexicon version="1.0" xmlns="http://www.w3.org/2005/01/pronunciation-lexicon"
    alphabet="ipa" xml:lang="en-GB">
  <lexeme><grapheme>judgment</grapheme><grapheme>judgement</grapheme><phoneme>ˈdʒʌdʒ.mənt</phoneme></lexeme>
  <lexeme>
    <grapheme>Kibblewick</grapheme>
    <phoneme alphabet="x-arpabet">K IH1 B AH0 L W IH2 K</phoneme>
    <phoneme>ˈkɪbəlwɪk</phoneme>
  </lexeme>
</lexicon>
"""


def written(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "shop.lexicon"
    file.write_text(text, encoding="utf-8")
    return file


def test_plain_lines_with_comments_and_several_ways(tmp_path: Path) -> None:
    text = "# brands\nKibblewick K IH1 B AH0 L W IH2 K  # as in chick\n\nzorblat\tZ AO R\nzorblat(2) Z OW R\n"
    assert read_shop_lexicon(written(tmp_path, text)) == {
        "kibblewick": ("K IH B AH L W IH K",),
        "zorblat": ("Z AO R", "Z OW R"),
    }


def test_pls_with_two_spellings_and_two_alphabets(tmp_path: Path) -> None:
    """'judgment'/'judgement' with IPA is the multiple-orthographies example of PLS 1.0 (from memory)."""
    assert read_shop_lexicon(written(tmp_path, PLS)) == {
        "judgment": ("JH AH JH M AH N T",),
        "judgement": ("JH AH JH M AH N T",),
        "kibblewick": ("K IH B AH L W IH K",),
    }


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wren R EH N\nkibblewick K IH QQ\n", r"shop\.lexicon:2: .*'kibblewick': 'QQ' is no ARPAbet phone"),
        ("wren\n", r"shop\.lexicon:1: .*no phones"),
        (
            "<lexicon>\n<lexeme><grapheme>a b</grapheme><phoneme>æ</phoneme></lexeme></lexicon>",
            r":2: 'a b' is not one",
        ),
        ("<lexicon>\n<lexeme>\n<grapheme>a</grapheme>\n</lexeme></lexicon>", r":4: a <lexeme> needs"),
        ("<lexicon>\n<lexeme><grapheme>a</grapheme><alias>b</alias></lexeme></lexicon>", r":2: <alias>"),
        ("<lexicon>\n<lexeme><grapheme>a</grapheme>\n<phoneme>ʘ</phoneme></lexeme></lexicon>", r":3: 'ʘ'"),
        (
            '<lexicon alphabet="x-sampa">\n<lexeme><grapheme>a</grapheme>'
            "<phoneme>{</phoneme></lexeme></lexicon>",
            "x-sampa",
        ),
        ("<lexicon><lexeme>", r":1: not well-formed XML"),
        ("<words/>", r"<words> is not a PLS lexicon"),
        ('<!DOCTYPE l [<!ENTITY a "b">]>\n<lexicon/>', "DOCTYPE is not allowed"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(LexiconError, match=told):
        read_shop_lexicon(written(tmp_path, text))


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(LexiconError, match="no such lexicon"):
        read_shop_lexicon(tmp_path / "none.txt")


def test_the_shop_comes_before_the_model_and_the_model_before_the_spelling(model: SpeechModel) -> None:
    said = pronounce(["seven", "five", "zorblat"], {"seven": ("S EH V AH N ER",)}, model)
    assert [(s.word, s.source) for s in said.values()] == [
        ("seven", "given"),
        ("five", "model"),
        ("zorblat", "spelling"),
    ]
    assert said["five"].pronunciations == ("F AY V",)


def test_an_empty_pronunciation_asks_for_a_guess(model: SpeechModel) -> None:
    assert pronounce(["five"], {"five": ()}, model)["five"].source == "spelling"


def test_nothing_is_rebuilt_when_nothing_is_missing(model: SpeechModel) -> None:
    taught, added = teach(model, ["yes", "no", "five"], {"five": ("F AY V",)})
    assert taught is model
    assert added == ()


def test_missing_words_are_taught_and_told(model: SpeechModel, tmp_path: Path) -> None:
    taught, added = teach(model, ["yes", "zorblat"], {"yes": ("Y EH S AH",)}, tmp_path)
    assert {a.word: a.source for a in added} == {"zorblat": "spelling", "yes": "given"}
    assert taught.knows("zorblat")
    again, nothing = teach(taught, ["yes", "zorblat"], {"yes": ("Y EH S AH",)}, tmp_path)
    assert again is taught
    assert nothing == ()
