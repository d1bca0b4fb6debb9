"""The shop's own pronunciations: a plain text file, or W3C PLS 1.0 (Pronunciation Lexicon Specification).

Plain: one line per pronunciation, `word PH PH PH` in ARPAbet without stress, '#' starts a comment.
PLS: <lexeme><grapheme>word</grapheme><phoneme>...</phoneme></lexeme> with alphabet "ipa" (the default) or
"x-arpabet"; the namespace is http://www.w3.org/2005/01/pronunciation-lexicon.
"""

from __future__ import annotations

import re
from pathlib import Path
from xml.parsers import expat

from sayso.arpabet import ARPABET, first_that_is_none, without_stress
from sayso.hearing.errors import HearingError
from sayso.hearing.letter_to_sound import arpabet_of_ipa

#: word -> pronunciations, each a string of ARPAbet phones
ShopLexicon = dict[str, tuple[str, ...]]


class LexiconError(HearingError):
    """A lexicon file that cannot be used: 'file:line: what is wrong; what to write'."""


def read_shop_lexicon(path: Path) -> ShopLexicon:
    """Pronunciations by lower-case word. Raises LexiconError with file and line."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise LexiconError(f"{path}: no such lexicon file") from error
    except UnicodeDecodeError as error:
        raise LexiconError(f"{path}: not UTF-8 text; save it as UTF-8") from error
    found: dict[str, list[str]] = {}
    lines = _pls(path, text) if text.lstrip().startswith("<") else _plain(path, text)
    for word, phones in lines:
        if phones not in found.setdefault(word, []):
            found[word].append(phones)
    return {word: tuple(several) for word, several in found.items()}


def check_phones(text: str) -> str:
    """Phones without stress digits, upper case. Raises ValueError that says what is wrong."""
    if not text.split():
        raise ValueError("no phones")
    if (wrong := first_that_is_none(text)) is not None:
        raise ValueError(f"'{wrong}' is no ARPAbet phone; write phones such as {' '.join(ARPABET[:8])} ...")
    return " ".join(map(without_stress, text.split()))


def _word(path: Path, line: int, text: str) -> str:
    word = text.strip().lower().replace("’", "'")
    if not word or any(c.isspace() for c in word):
        raise LexiconError(f"{path}:{line}: '{text.strip()}' is not one word; write each word on its own")
    return word


def _plain(path: Path, text: str) -> list[tuple[str, str]]:
    out: list[tuple[str, str]] = []
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.split("#", 1)[0].strip()
        if not line:
            continue
        word, _, phones = line.partition(" ") if "\t" not in line else line.partition("\t")
        try:
            out.append((_word(path, number, re.sub(r"\(\d+\)$", "", word)), check_phones(phones)))
        except ValueError as error:
            raise LexiconError(f"{path}:{number}: pronunciation of '{word}': {error}") from error
    return out


def _pls(path: Path, text: str) -> list[tuple[str, str]]:
    """Reads with expat itself, because it knows the line of every element; no entities are allowed."""
    parser = expat.ParserCreate(namespace_separator=" ")
    out: list[tuple[str, str]] = []
    alphabet = ["ipa"]
    graphemes: list[tuple[int, str]] = []
    phonemes: list[tuple[int, str, str]] = []
    gathering: list[str] = []
    state: dict[str, str] = {"in": "", "root": ""}
    opened = [0]

    def local(name: str) -> str:
        return name.rpartition(" ")[2]

    def start(name: str, attributes: dict[str, str]) -> None:
        tag = local(name)
        if not state["root"]:
            state["root"] = tag
            if tag != "lexicon":
                raise LexiconError(
                    f"{path}:{parser.CurrentLineNumber}: <{tag}> is not a PLS lexicon; write <lexicon>"
                )
            alphabet[0] = attributes.get("alphabet", "ipa")
        if tag == "lexeme":
            graphemes.clear()
            phonemes.clear()
        if tag in ("grapheme", "phoneme", "alias"):
            state["in"] = tag
            opened[0] = parser.CurrentLineNumber
            gathering.clear()
            gathering.append(attributes.get("alphabet", alphabet[0]))

    def data(chunk: str) -> None:
        if state["in"]:
            gathering.append(chunk)

    def end(name: str) -> None:
        tag = local(name)
        line = opened[0]
        content = "".join(gathering[1:]).strip()
        if tag == "grapheme":
            graphemes.append((line, content))
        elif tag == "phoneme":
            phonemes.append((line, gathering[0], content))
        elif tag == "alias":
            raise LexiconError(f"{path}:{line}: <alias> is not supported; write a <phoneme>")
        elif tag == "lexeme":
            if not graphemes or not phonemes:
                raise LexiconError(
                    f"{path}:{parser.CurrentLineNumber}: a <lexeme> needs a <grapheme> and a <phoneme>"
                )
            for at, spelling in graphemes:
                for where, kind, said in phonemes:
                    out.append((_word(path, at, spelling), _phones(path, where, kind, said)))
        if tag in ("grapheme", "phoneme", "alias"):
            state["in"] = ""

    def no_doctype(*_: object) -> None:
        raise LexiconError(f"{path}:{parser.CurrentLineNumber}: a DOCTYPE is not allowed here; remove it")

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = data
    parser.StartDoctypeDeclHandler = no_doctype
    try:
        parser.Parse(text.encode(), True)
    except expat.ExpatError as error:
        raise LexiconError(
            f"{path}:{error.lineno}: not well-formed XML ({expat.ErrorString(error.code)})"
        ) from error
    return out


def _phones(path: Path, line: int, alphabet: str, text: str) -> str:
    try:
        if alphabet in ("x-arpabet", "x-cmu"):
            return check_phones(text)
        if alphabet == "ipa":
            return check_phones(" ".join(arpabet_of_ipa(text)))
    except ValueError as error:
        raise LexiconError(f"{path}:{line}: {error}") from error
    raise LexiconError(f"{path}:{line}: alphabet '{alphabet}' is not known; write ipa or x-arpabet")
