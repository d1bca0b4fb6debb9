"""The speech model with every word of the job in its vocabulary; only the first such job waits for it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import platformdirs

from sayso.hearing.lexicon_graph import has_own_layout
from sayso.hearing.pronunciations import teach
from sayso.hearing.speech_model import SpeechModel, check_files, find_model, graph_file, load_model
from sayso.procedure.model import Procedure
from sayso.session.vocabulary import vocabulary

Given = Mapping[str, tuple[str, ...]]
Witnesses = tuple[tuple[str, str], ...]


def taught_model(path: str | None, procedure: Procedure, witnesses: Witnesses = ()) -> SpeechModel:
    """Raises ModelError when the model is missing or cannot be taught a word that the job needs."""
    found = find_model(path)
    check_files(found)
    wanted = sorted(vocabulary(procedure, witnesses))
    given: Given = {word.lower(): (said,) if said else () for word, said in procedure.words}
    note = _note(found, wanted, given)
    return _taught_before(found, note) or _taught_now(found, wanted, given, note)


def _taught_now(found: Path, wanted: list[str], given: Given, note: Path) -> SpeechModel:
    """Which words the model lacks is read from its word list: loading it to ask, and again with the words
    added, would cost a quarter of a second and its memory twice."""
    lookahead, words = graph_file(found, "HCLr.fst"), graph_file(found, "words.txt")
    if not (words.is_file() and lookahead.is_file() and has_own_layout(lookahead)):
        return teach(load_model(found), wanted, given)[0]
    unloaded = SpeechModel(found, WordList(words), run_time_grammar=True, rebuildable=True)
    taught, added = teach(unloaded, wanted, given)
    if not added:
        return load_model(found)
    note.parent.mkdir(parents=True, exist_ok=True)
    note.write_text(json.dumps({"path": str(taught.path), "added": list(taught.added_words)}))
    return taught


def _taught_before(found: Path, note: Path) -> SpeechModel | None:
    try:
        known = json.loads(note.read_text())
        path, added = Path(known["path"]), tuple(known["added"])
    except (OSError, ValueError, KeyError):
        return None
    if not path.is_dir():
        return None
    return replace(load_model(path), origin=found, added_words=added)


def _note(found: Path, wanted: Iterable[str], given: Given) -> Path:
    """Where it is noted which taught model serves these words: named by all that it was made from."""
    parts = (found / "am" / "final.mdl", graph_file(found, "HCLr.fst"), graph_file(found, "words.txt"))
    states = [part.stat() for part in parts if part.is_file()]
    made_from = [str(found.resolve()), *((state.st_size, state.st_mtime_ns) for state in states)]
    text = json.dumps([made_from, list(wanted), sorted(given.items())])
    folder = Path(platformdirs.user_cache_dir("sayso", appauthor=False)) / "taught"
    return folder / f"{sha256(text.encode()).hexdigest()[:24]}.json"


class WordList:
    """A model's vocabulary without the model, asked as vosk's own handle is."""

    def __init__(self, words: Path) -> None:
        with words.open(encoding="utf-8") as lines:
            self._words = {line.split(" ", 1)[0] for line in lines}

    def vosk_model_find_word(self, word: str) -> int:
        """-1 for a word that is not there, as vosk says it."""
        return 0 if word in self._words else -1
