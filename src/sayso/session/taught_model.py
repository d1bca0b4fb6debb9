"""The speech model with every word of the job in its vocabulary; only the first such job waits for it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from sayso.hearing.lexicon_graph import has_own_layout
from sayso.hearing.pronunciations import teach
from sayso.hearing.speech_model import SpeechModel, check_files, find_model, graph_file, load_model
from sayso.plain_letters import plain_letters
from sayso.procedure.model import Procedure
from sayso.session.places import cache_folder
from sayso.session.taught_notes import Given, last_note, last_taught, note_for, note_use, noted
from sayso.session.vocabulary import vocabulary

Witnesses = tuple[tuple[str, str], ...]


def taught_model(path: str | None, procedure: Procedure, witnesses: Witnesses = ()) -> SpeechModel:
    """Raises ModelError when the model is missing or cannot be taught a word that the job needs."""
    found = find_model(path)
    check_files(found)
    wanted = sorted(vocabulary(procedure, witnesses))
    given = _given(procedure)
    note = note_for(found, wanted, given)
    model = _taught_before(found, note) or _taught_now(found, wanted, given, note)
    note_use(found, model.path)
    return model


def taught_ahead(path: str | None, procedure: Procedure, told: Callable[[int], None]) -> None:
    """Teaches the model the words of `procedure` now, so that its first job need not wait for it.

    `told` is called with the number of words before the second or two that it takes. Raises ModelError.
    """
    found = find_model(path)
    check_files(found)
    wanted = sorted(vocabulary(procedure))
    given = _given(procedure)
    note = note_for(found, wanted, given)
    if noted(note) is None:
        lacking = WordList(graph_file(found, "words.txt"))
        told(sum(lacking.vosk_model_find_word(word) < 0 for word in wanted))
        _taught_now(found, wanted, given, note)


def _given(procedure: Procedure) -> Given:
    """The procedure's own pronunciations, by the letters that its questions listen for."""
    return {plain_letters(word): (said,) if said else () for word, said in procedure.words}


def _taught_now(found: Path, wanted: list[str], given: Given, note: Path) -> SpeechModel:
    """Which words the model lacks is read from its word list: loading it to ask, and again with the words
    added, would cost a quarter of a second and its memory twice.

    It is added to what other procedures taught the model before: one whose words are all there waits for
    nothing."""
    lookahead, words = graph_file(found, "HCLr.fst"), graph_file(found, "words.txt")
    if not (words.is_file() and lookahead.is_file() and has_own_layout(lookahead)):
        return teach(load_model(found), wanted, given, cache=cache_folder() / "models")[0]
    path, before, said_so = last_taught(found, wanted, given)
    known = WordList(graph_file(path, "words.txt"))
    unloaded = SpeechModel(path, known, run_time_grammar=True, origin=found, added_words=before)
    taught, added = teach(unloaded, wanted, given, cache=cache_folder() / "models")
    if not added:
        taught = replace(load_model(path), origin=found, added_words=before)
    note.parent.mkdir(parents=True, exist_ok=True)
    listed = {"path": str(taught.path), "added": list(taught.added_words)}
    note.write_text(json.dumps(listed))
    last_note(found).write_text(json.dumps({**listed, "given": {**said_so, **given}}))
    return taught


def _taught_before(found: Path, note: Path) -> SpeechModel | None:
    known = noted(note)
    return None if known is None else replace(load_model(known[0]), origin=found, added_words=known[1])


class WordList:
    """A model's vocabulary without the model, asked as vosk's own handle is."""

    def __init__(self, words: Path) -> None:
        with words.open(encoding="utf-8") as lines:
            self._words = {line.split(" ", 1)[0] for line in lines}

    def vosk_model_find_word(self, word: str) -> int:
        """-1 for a word that is not there, as vosk says it."""
        return 0 if word in self._words else -1
