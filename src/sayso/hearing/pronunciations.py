"""Where the pronunciation of a word comes from: procedure, shop's lexicon, model, dictionary, spelling."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from sayso.hearing.letter_to_sound import say_words
from sayso.hearing.lexicon_graph import read_lexicon
from sayso.hearing.shop_lexicon import check_phones
from sayso.hearing.speech_model import SpeechModel, missing_words, with_words

Source = Literal["given", "model", "dictionary", "spelling"]


@dataclass(frozen=True, slots=True)
class Said:
    """How a word is said: strings of ARPAbet phones, and who says so ('spelling' is a guess)."""

    word: str
    pronunciations: tuple[str, ...]
    source: Source

    def __str__(self) -> str:
        return f"{self.word}: {' or '.join(self.pronunciations)} ({self.source})"


@lru_cache(maxsize=4)
def model_lexicon(model: Path) -> Mapping[str, tuple[str, ...]]:
    """The model's own pronunciations; empty when its files do not tell them."""
    text = model / "graph" / "lexicon.txt"
    found: dict[str, list[str]] = {}
    if text.is_file():
        for line in text.read_text(encoding="utf-8").splitlines():
            word, _, phones = line.strip().partition(" ")
            if phones:
                found.setdefault(word, []).append(phones.strip())
        return {word: tuple(several) for word, several in found.items()}
    try:
        lexicon, _ = read_lexicon(model)
    except (OSError, ValueError, KeyError):
        return {}
    return {word: tuple(" ".join(p) for p in several) for word, several in lexicon.items()}


@lru_cache(maxsize=1)
def large_dictionary() -> Mapping[str, tuple[str, ...]]:
    """CMUdict as the optional pocketsphinx package carries it (BSD text); empty without that package."""
    try:
        import pocketsphinx

        path = Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"))
        text = path.read_text(encoding="utf-8")
    except (ImportError, OSError):
        return {}
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        word, _, phones = line.partition(" ")
        found.setdefault(re.sub(r"\(\d+\)$", "", word), []).append(phones.strip())
    return {word: tuple(several) for word, several in found.items()}


def pronounce(
    words: Iterable[str], given: Mapping[str, tuple[str, ...]] | None = None, model: SpeechModel | None = None
) -> dict[str, Said]:
    """Pronunciations of `words`. `given` (the procedure's words and the shop's lexicon) comes first; an
    empty tuple there means: guess from the spelling. Raises LetterToSoundError when there is no way left."""
    known = model_lexicon(model.path) if model is not None else {}
    given = given or {}
    found: dict[str, Said] = {}
    guess: list[str] = []
    for word in dict.fromkeys(words):
        if given.get(word):
            found[word] = Said(word, tuple(check_phones(p) for p in given[word]), "given")
        elif word in known and word not in given:
            found[word] = Said(word, known[word], "model")
        elif word in large_dictionary() and word not in given:
            found[word] = Said(word, large_dictionary()[word], "dictionary")
        else:
            guess.append(word)
    for word, phones in zip(guess, say_words(guess), strict=True):
        found[word] = Said(word, (" ".join(phones),), "spelling")
    return found


def teach(
    model: SpeechModel,
    words: Iterable[str],
    given: Mapping[str, tuple[str, ...]] | None = None,
    cache: Path | None = None,
) -> tuple[SpeechModel, tuple[Said, ...]]:
    """The model with every word of `words` in its vocabulary, and what had to be added and how it is said.

    A word with a `given` pronunciation gets it even when the model has the word. Nothing is rebuilt when
    nothing is missing. Raises ModelError naming the words when the model cannot be added to.
    """
    asked = tuple(dict.fromkeys(words))
    given = given or {}
    have = model_lexicon(model.path) if model.rebuildable else {}
    differs = [w for w in asked if given.get(w) and not set(given[w]) <= set(have.get(w, ()))]
    wanted = tuple(dict.fromkeys((*missing_words(model, asked), *(differs if model.rebuildable else ()))))
    if not wanted:
        return model, ()
    if not model.rebuildable:
        with_words(model, {w: () for w in wanted})  # raises the error that names them
    added = pronounce(wanted, given, None)
    taught = with_words(model, {word: said.pronunciations for word, said in added.items()}, cache)
    return taught, tuple(added.values())
