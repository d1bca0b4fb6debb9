"""What this machine's models were taught by earlier jobs: small notes in the cache, read before a job begins.

Imports little: the program looks here, and begins to load a model, before the rest of it is imported.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from sayso.hearing.speech_model import ModelError, check_files, find_model, graph_file, load_ahead
from sayso.session.places import cache_folder

Given = Mapping[str, tuple[str, ...]]

#: A model that was taught more words than this begins anew with the job's own.
MOST_ADDED = 3_000


def begin_to_load(path: str | None) -> None:
    """Loads in the background what the last job here used: most often this one needs the same."""
    with contextlib.suppress(ModelError, OSError):
        found = find_model(path)
        check_files(found)
        used = _used(found)
        load_ahead(Path(used.read_text()) if used.is_file() else found)


def note_use(found: Path, used: Path) -> None:
    """The model that a job with `found` in fact uses; a cache that cannot be written is no reason to fail."""
    with contextlib.suppress(OSError):
        _used(found).parent.mkdir(parents=True, exist_ok=True)
        _used(found).write_text(str(used))


def _used(found: Path) -> Path:
    return _named(found, "used").with_suffix(".txt")


def noted(note: Path) -> tuple[Path, tuple[str, ...]] | None:
    try:
        known = json.loads(note.read_text())
        path, added = Path(known["path"]), tuple(known["added"])
    except (OSError, ValueError, KeyError):
        return None
    return (path, added) if path.is_dir() else None


def note_for(found: Path, wanted: Iterable[str], given: Given) -> Path:
    """Where it is noted which taught model serves these words: named by all that it was made from."""
    return _named(found, list(wanted), sorted(given.items()))


def last_note(found: Path) -> Path:
    """Where it is noted what this model was taught last."""
    return _named(found, "last")


def _named(found: Path, *made_from: object) -> Path:
    parts = (found / "am" / "final.mdl", graph_file(found, "HCLr.fst"), graph_file(found, "words.txt"))
    states = [part.stat() for part in parts if part.is_file()]
    model = [str(found.resolve()), *((state.st_size, state.st_mtime_ns) for state in states)]
    text = json.dumps([model, *made_from])
    folder = cache_folder() / "taught"
    return folder / f"{sha256(text.encode()).hexdigest()[:24]}.json"


def last_taught(found: Path, wanted: list[str], given: Given) -> tuple[Path, tuple[str, ...], dict[str, Any]]:
    """The model with the words of earlier jobs, unless one of them says a word of this job in its own way."""
    try:
        last = json.loads(last_note(found).read_text())
        path, added, said_so = Path(last["path"]), tuple(last["added"]), dict(last["given"])
    except (OSError, ValueError, KeyError):
        return found, (), {}
    own_way = any(list(given.get(word, ())) != said_so.get(word, []) for word in wanted)
    if own_way or len(added) > MOST_ADDED or not graph_file(path, "words.txt").is_file():
        return found, (), {}
    return path, added, said_so
