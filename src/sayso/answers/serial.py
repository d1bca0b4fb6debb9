"""A serial: letters and digits, said one by one, by the phonetic alphabet, in twos, doubled.

How it is read:

- letters by name or by the ITU/ICAO alphabet; digits by name; "zero" and "nought" are the digit 0;
- "oh" (and the letter name "o") is 0 or O: the pattern decides; where it allows both it is taken as 0 and
  always read back ("zero" or "oscar"), and "oscar" is always the letter;
- "double four" 44, "triple seven" 777, yet "double u" is W (UU where the pattern has no W);
- "twenty three" is 23 (203 only where the pattern rejects 23);
  "fifteen" 15; "one hundred" 100;
- "dash", "slash", "point"; a dash that the pattern demands may be left out, one it does not know is dropped.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import regex

from sayso.answers import spoken
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.confusions import CONFUSABLE_LETTERS, like_letters
from sayso.answers.letter_for_word import without_explanations
from sayso.answers.number_grammar import MOST_PHRASES, cover
from sayso.answers.number_words import DIGIT_WORDS, REPEATS, TEENS, TENS, UNITS
from sayso.answers.phonetic_alphabet import ALPHABET, ALSO, LETTER_OF
from sayso.answers.words import UNKNOWN, is_typed, lowered, sentence, split_words, without_fillers
from sayso.procedure.model import AskSerial

MARK_WORDS = {"dash": "-", "hyphen": "-", "slash": "/", "stroke": "/", "point": ".", "dot": "."}
_SILENT_MARKS = "-/. _"
_CHARACTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-/._ "
_SAID_AROUND = frozenset({"capital", "letter", "number", "digit", "serial", "and", "then"})
#: Words that are never letters of a serial by themselves.
_NO_LETTERS = frozenset({*MARK_WORDS, *REPEATS, *_SAID_AROUND})
#: Words that mean something here, in capitals too: "KILO TRIPLE SEVEN".
_WORDS = frozenset({*LETTER_OF, *_NO_LETTERS, *DIGIT_WORDS, *TEENS, *TENS, "hundred", "thousand"})
#: What stands on a plate before a serial, and what follows it in one word ("SN:KD123").
_LABEL = regex.compile(r"(?:S/?N|SER|NO|NR)[.:#]*(?<=[.:#])(.*)|(?:S/?N|SER|NO|NR)[.:#]*()", regex.IGNORECASE)
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"))
_OPEN_PATTERN = r"[A-Z0-9](?:[-/. ]?[A-Z0-9]){1,39}"
_LONGEST = 40
#: A longer run of small letters is a word that nobody knows, not letters of a serial.
_MOST_SMALL_LETTERS = 3
#: More readings than this of one string of words are not told apart; the first by preference are kept.
_MOST_READINGS = 200


def phrases(ask: AskSerial) -> tuple[str, ...]:
    return _phrases(ask.pattern)


@lru_cache(maxsize=256)
def _phrases(pattern: str | None) -> tuple[str, ...]:
    """Every word alone, so that any order is possible, and the pairs that the pattern allows."""
    digits = (*UNITS, "oh")
    letters = tuple(letter.lower() for letter in ALPHABET)
    spelled = (*ALPHABET.values(), *(word for word in ALSO if "-" not in word))
    singles = (*digits, "niner", *letters, *spelled, "double", "triple", *TEENS, *TENS)
    pairs = _legal_pairs(pattern)
    legal = {character for pair in pairs for character in pair}
    marks = tuple(word for word in ("dash", "slash") if MARK_WORDS[word] in legal)
    digit_pairs = [f"{a} {b}" for a in UNITS for b in UNITS if a + b and (_digit(a), _digit(b)) in pairs]
    letter_digit = [
        f"{word} {digit}"
        for letter, word in ALPHABET.items()
        for digit in UNITS[:10]
        if (letter, _digit(digit)) in pairs
    ]
    letter_pairs = [f"{a.lower()} {b.lower()}" for a, b in sorted(pairs) if a.isalpha() and b.isalpha()]
    if len(letter_pairs) > 60:
        letter_pairs = []
    repeats = [f"{repeat} {word}" for repeat in ("double", "triple") for word in digits]
    return cover((*singles, *marks, *digit_pairs, *repeats, *letter_pairs, *letter_digit), MOST_PHRASES)


def understand(ask: AskSerial, words: Sequence[str]) -> Answer | NotUnderstood:
    """An explained letter ("c for charlie") is that letter; of what the ear makes of it, only where nothing
    else fits."""
    plain = without_explanations(_as_written(ask, split_words(words)))
    found = _understand(ask, plain)
    heard = without_explanations(plain, heard=True)
    # without a pattern an unknown sound may be a character that would be lost
    if not isinstance(found, Answer) and heard != plain and ask.pattern is not None:
        explained = _understand(ask, heard)
        if isinstance(explained, Answer) or explained.reason == "incomplete":
            found = explained
    return replace(found, said=tuple(words)) if isinstance(found, Answer) else found


def _as_written(ask: AskSerial, words: tuple[str, ...]) -> tuple[str, ...]:
    """Typed from a plate: a dash as writing programs make it; "S/N" in front where the pattern has none."""
    words = tuple(word.translate(_DASHES) for word in words)
    label = _LABEL.fullmatch(words[0]) if words and ask.pattern is not None else None
    if label is None or isinstance(_understand(ask, words), Answer):
        return words
    return (*(part for part in label.groups() if part), *words[1:]) or words


def _understand(ask: AskSerial, words: Sequence[str]) -> Answer | NotUnderstood:
    pattern = _compiled(ask.pattern)
    if is_typed(words) or _is_written(words, pattern):
        text = "".join(split_words(words)).upper()
        by_words = len(words) > 1 and any(word in LETTER_OF or word in _NO_LETTERS for word in lowered(words))
        fits = [made for made in _with_marks(text, pattern) if pattern.fullmatch(made)]
        if fits and by_words and _says_a_character(words):
            # "A B triple 7" fits [A-Z0-9]{5,9} as ABTRIPLE7 too
            spelled = _fitting([_usual(_options(token)) for token in _tokens(_parts(words))], pattern)
            fits = spelled or fits
        if fits and not (by_words and ask.pattern is None):  # where all fits, "hotel 12" is not HOTEL12
            return Answer("serial", fits[0], said=tuple(words))
        if not by_words:
            return _does_not_fit(ask, text, words)
    tokens = _tokens(_parts(words))
    if not tokens:
        return NotUnderstood("no_match", choices(ask))
    options = [_options(token) for token in tokens]
    if any(not option for option in options):
        return NotUnderstood("no_match", choices(ask))
    usual = [_usual(option) for option in options]
    fits = _fitting(usual, pattern)
    if fits:
        return Answer("serial", fits[0], said=tuple(words))
    if any(_beginnings(usual, pattern)):
        return NotUnderstood("incomplete", "")
    fits = _fitting(options, pattern)
    if len(fits) == 1:
        return Answer("serial", fits[0], said=tuple(words))
    if fits:
        found = tuple(Answer("serial", text, said=tuple(words)) for text in fits[:4])
        asked = ", or ".join(spoken.serial(text, spell=True) for text in fits[:2])
        return NotUnderstood("ambiguous", sentence(f"{asked}? Say it digit by digit"), found)
    if any(_beginnings(options, pattern)):
        return NotUnderstood("incomplete", "")
    return _does_not_fit(ask, "".join(option[0] for option in options), words)


def completeness(ask: AskSerial, words: Sequence[str]) -> Completeness:
    """Complete when the pattern fits; it can grow while the pattern lets one more character follow."""
    pattern = _compiled(ask.pattern)
    complete = isinstance(understand(ask, words), Answer)
    words = without_explanations(words)
    explained = without_explanations(words, heard=True)
    if explained != tuple(words) and not _beginnings([_options(t) for t in _tokens(words)], pattern):
        words = explained
    tokens = _tokens(words)
    if not tokens:
        return Completeness(False, True)
    if tokens[-1] in REPEATS:
        return Completeness(False, True)
    options = [_options(token) for token in tokens]
    if any(not option for option in options):
        return Completeness(complete, False)
    if tokens[-1] in TENS and _beginnings([*options[:-1], _options(f"{tokens[-1]} one")[:1]], pattern):
        return Completeness(complete, True)
    grows = any(
        pattern.fullmatch(text + character, partial=True)
        for text in _beginnings(options, pattern)
        for character in _CHARACTERS
    )
    return Completeness(complete, grows)


def spoken_value(ask: AskSerial, answer: Answer, *, spell: bool = False) -> str:
    return spoken.serial(str(answer.value), spell=spell)


def choices(ask: AskSerial) -> str:
    return "Say the serial letter by letter, or by the alphabet: alfa, bravo, charlie; digits one by one."


def confusable(ask: AskSerial, answer: Answer) -> bool:
    if is_typed(answer.said):
        return False
    said = set(lowered(answer.said))
    bare_letters = {word.upper() for word in said if len(word) == 1}
    alike = {"oh", "o", "u", "five", "nine", *TEENS[3:], *TENS[1:]}
    return UNKNOWN in said or bool(alike & said) or bool(bare_letters & CONFUSABLE_LETTERS)


def _says_a_character(words: Sequence[str]) -> bool:
    """A word of the alphabet, a repeat or a mark ("hotel", "triple", "dash"), not only letters one by one."""
    return any(len(word) > 1 and (word in LETTER_OF or word in _NO_LETTERS) for word in lowered(words))


def _parts(words: Sequence[str]) -> list[str]:
    typed = is_typed(words)
    return [part for word in split_words(words) for part in _character_by_character(word, typed)]


def _character_by_character(word: str, typed: bool) -> tuple[str, ...]:
    """ "123" typed beside words of the alphabet ("hotel kilo 123") is three digits, "HK3" three characters;
    "hk" is two letters where digits show that somebody types."""
    plain = word.isascii() and word.isalnum() and word.lower() not in _WORDS
    written = word.isupper() or any(map(str.isdigit, word)) or (typed and len(word) <= _MOST_SMALL_LETTERS)
    if not plain or not written:
        return (word,)
    return tuple(UNITS[int(character)] if character.isdigit() else character for character in word)


# --- words -> characters ---------------------------------------------------------------------------


def _tokens(words: Sequence[str]) -> tuple[str, ...]:
    """Words that stand for characters, doubles and two-digit numbers joined: "double four" is one token."""
    said = [word for word in without_fillers(lowered(words)) if word not in _SAID_AROUND]
    said = " ".join(said).replace("x ray", "xray").split()
    tokens: list[str] = []
    for word in said:
        if tokens and _joins(tokens[-1], word):
            tokens[-1] += f" {word}"
        else:
            tokens.append(word)
    return tuple(tokens)


def _joins(before: str, word: str) -> bool:
    """True for a word that makes one token with the word before it: "double | four", "twenty | three"."""
    if before in REPEATS:
        return True
    if word in ("hundred", "thousand"):
        return DIGIT_WORDS.get(before, 0) > 0
    return before in TENS and DIGIT_WORDS.get(word, 0) > 0


def _options(token: str) -> tuple[str, ...]:
    """The characters a token stands for, the preferred reading first; () for a word that is none."""
    if token in ("oh", "o"):
        return ("0", "O")
    if token in DIGIT_WORDS:
        return (str(DIGIT_WORDS[token]),)
    if token in LETTER_OF:
        return (LETTER_OF[token],)
    if token in MARK_WORDS:
        return (MARK_WORDS[token], "")
    if token in TEENS:
        return (str(10 + TEENS.index(token)),)
    if token == "double u":
        return ("W", "UU")  # the name of a letter before it is two of another
    first, _, second = token.partition(" ")
    if first in REPEATS:
        return tuple(character * REPEATS[first] for character in _options(second) if len(character) == 1)
    if first in TENS:
        tens = str(20 + 10 * TENS.index(first))
        return (tens[0] + str(DIGIT_WORDS[second]), tens + str(DIGIT_WORDS[second])) if second else (tens,)
    if second in ("hundred", "thousand"):
        return (str(DIGIT_WORDS[first]) + ("00" if second == "hundred" else "000"),)
    return ()


def _usual(option: tuple[str, ...]) -> tuple[str, ...]:
    """The readings that count first: twenty three is 23; "oh" is 0, or O where the pattern has a letter."""
    return option if option in (_options("oh"), _options("dash")) else option[:1]


def _fitting(options: Sequence[Sequence[str]], pattern: regex.Pattern[str]) -> list[str]:
    return [text for text in _beginnings(options, pattern) if pattern.fullmatch(text)]


def _beginnings(options: Sequence[Sequence[str]], pattern: regex.Pattern[str]) -> list[str]:
    """Every text that the options spell and that the pattern could still end well from."""
    texts = [""]
    for option in options:
        texts = list(
            dict.fromkeys(
                grown
                for text in texts
                for characters in option
                for grown in _grown(text, characters, pattern)
            )
        )[:_MOST_READINGS]
    return texts


def _grown(text: str, characters: str, pattern: regex.Pattern[str]) -> Iterator[str]:
    """`text` with `characters` behind it, with the dash that the pattern demands between them."""
    for character in characters:
        for between in ("", *_SILENT_MARKS):
            longer = text + between + character
            if len(longer) <= _LONGEST and pattern.fullmatch(longer, partial=True):
                text = longer
                break
        else:
            return
    yield text


def _with_marks(text: str, pattern: regex.Pattern[str]) -> list[str]:
    return list(dict.fromkeys([text, *_beginnings(list(text), pattern), *_beginnings(
        [c for c in text if c not in _SILENT_MARKS], pattern)]))  # fmt: skip


def _is_written(words: Sequence[str], pattern: regex.Pattern[str]) -> bool:
    """Typed letters without a digit ("KDXY"): in capitals, or one word that fits the pattern as it is."""
    tokens = split_words(words)
    if any(len(token) > 1 and token.isupper() for token in tokens):
        return True
    return len(tokens) == 1 and len(tokens[0]) > 1 and tokens[0].lower() not in LETTER_OF and (
        pattern.pattern != _OPEN_PATTERN and pattern.fullmatch(tokens[0].upper()) is not None
    )  # fmt: skip


def _does_not_fit(ask: AskSerial, text: str, words: Sequence[str]) -> NotUnderstood:
    """Say what was heard, and the serials that fit when one letter was taken for one that sounds like it."""
    pattern = _compiled(ask.pattern)
    near = [
        made
        for place, character in enumerate(text[:_LONGEST])
        for other in like_letters(character)
        for made in _beginnings([*text[:place], other, *text[place + 1 :]], pattern)
        if pattern.fullmatch(made)
    ]
    found = tuple(Answer("serial", made, said=tuple(words)) for made in dict.fromkeys(near))[:4]
    heard = sentence(
        f"I heard {spoken.serial(text[:_LONGEST], spell=True)}, which is no serial for this part"
    )
    if len(found) == 1:
        meant = spoken.serial(str(found[0].value), spell=True)
        return NotUnderstood("pattern", f"{heard} If it is {meant}, say that.", found)
    return NotUnderstood("pattern", heard, found)


@lru_cache(maxsize=256)
def _compiled(pattern: str | None) -> regex.Pattern[str]:
    """Serials are kept in capitals, whatever the case of the pattern."""
    return regex.compile(pattern or _OPEN_PATTERN, regex.IGNORECASE)


def _legal_pairs(pattern: str | None) -> frozenset[tuple[str, str]]:
    """Characters that may follow one another, found by growing a few sample texts along the pattern."""
    compiled = _compiled(pattern)
    found: set[tuple[str, str]] = set()
    texts = [""]
    for _ in range(16):
        longer: list[str] = []
        for text in texts:
            following = [c for c in _CHARACTERS if compiled.fullmatch(text + c, partial=True)]
            if text:
                found |= {(text[-1], c) for c in following}
            longer += [text + c for c in following]
        # one text for each last character: what may come next depends on little else
        texts = list({text[-1]: text for text in longer}.values())
    return frozenset(found)


def _digit(word: str) -> str:
    return str(DIGIT_WORDS[word])


def digits_that_may_be(words: Sequence[str]) -> set[str]:
    """Every string of digits that the words may spell: "forty two oh one" -> 4201, and 40201."""
    tokens = _tokens(words)
    options = [tuple(o for o in _options(token) if o.isdigit()) for token in tokens]
    if not tokens or len(tokens) > _LONGEST or any(not option for option in options):
        return set()
    texts = [""]
    for option in options:
        texts = [text + digits for text in texts for digits in option][:_MOST_READINGS]
    return set(texts)
