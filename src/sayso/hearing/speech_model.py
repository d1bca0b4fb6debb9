"""Finding a vosk model directory, loading it, and saying what its files allow."""

from __future__ import annotations

import contextlib
import importlib
import os
import sys
import threading
import types
from collections.abc import Iterable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sayso.hearing.errors import HearingError

#: Names a model directory to use instead of the shipped one.
MODEL_VARIABLE = "SAYSO_MODEL"
SHIPPED_NAME = "shop-english"
#: Of Kaldi: errors only. Its warnings (a lattice cut at 50 MB in loud noise) would stand in the middle of a
#: job on the screen and help nobody; words missing in the vocabulary are found by sayso itself.
LOG_LEVEL = -2


class ModelError(HearingError):
    """A model directory that is missing or incomplete, or words that it cannot be taught."""


@dataclass(frozen=True)
class SpeechModel:
    """A loaded model. `handle` is the vosk.Model; keep the SpeechModel as long as a Recogniser lives.

    run_time_grammar: the lexicon graph stands apart (HCLr.fst + Gr.fst), so a grammar can be given per
    question.
    """

    path: Path
    handle: Any = field(repr=False, compare=False)
    run_time_grammar: bool
    #: words added by sayso on top of the model as it was found.
    added_words: tuple[str, ...] = ()
    #: where the model was before words were added; equals `path` when none were.
    origin: Path | None = None

    @property
    def name(self) -> str:
        return (self.origin or self.path).name

    @property
    def rebuildable(self) -> bool:
        """The graph has the layout that sayso writes, so words can be added. Found out when asked (a tenth of
        a second): most jobs have no word to add, and the first word need not wait."""
        from sayso.hearing.lexicon_graph import has_own_layout

        return self.run_time_grammar and has_own_layout(graph_file(self.path, "HCLr.fst"))

    def knows(self, word: str) -> bool:
        return bool(self.handle.vosk_model_find_word(word) >= 0)


def shipped_model() -> Path | None:
    """The model that came with sayso: inside the installed package, else in the source tree."""
    package = Path(__file__).resolve().parents[1]
    for candidate in (
        package / "_shipped" / "models" / SHIPPED_NAME,
        package.parents[1] / "models" / SHIPPED_NAME,
    ):
        if candidate.is_dir():
            return candidate
    return None


def find_model(path: str | os.PathLike[str] | None = None) -> Path:
    """Explicit path, else $SAYSO_MODEL, else the shipped model. Raises ModelError when there is none."""
    named = path or os.environ.get(MODEL_VARIABLE) or None
    if named is not None:
        found = Path(named).expanduser()
        source = "" if path else f" (named by {MODEL_VARIABLE})"
        if not found.exists():
            raise ModelError(
                f"{found}: no such model directory{source}; write the path of an unpacked vosk model"
            )
        if not found.is_dir():
            raise ModelError(f"{found}: is a file{source}; unpack it with 'sayso model fetch {found}'")
        return found
    shipped = shipped_model()
    if shipped is None:
        raise ModelError(
            f"no speech model is installed; give one with --model or set {MODEL_VARIABLE} to its directory"
        )
    return shipped


def graph_file(model: Path, name: str) -> Path:
    """A graph file, which stock models keep in graph/ or (older ones) in the top directory."""
    inside = model / "graph" / name
    return inside if inside.exists() or not (model / name).exists() else model / name


def check_files(path: Path) -> None:
    """Raises ModelError naming the first thing that vosk would fail on (it only logs and returns NULL)."""
    acoustic = [path / "am" / "final.mdl", path / "final.mdl"]
    if not any(p.is_file() for p in acoustic):
        inner = [p for p in path.iterdir() if p.is_dir() and (p / "am" / "final.mdl").is_file()]
        hint = (
            f"; did you mean {inner[0]}?"
            if inner
            else "; write the directory that holds am/, conf/ and graph/"
        )
        raise ModelError(f"{path}: not a vosk model, am/final.mdl is missing{hint}")
    has_lookahead = graph_file(path, "HCLr.fst").is_file() and graph_file(path, "Gr.fst").is_file()
    has_static = graph_file(path, "HCLG.fst").is_file()
    if not has_lookahead and not has_static:
        raise ModelError(
            f"{path}: incomplete vosk model, graph/HCLr.fst with graph/Gr.fst (or graph/HCLG.fst) is missing"
        )
    if not (path / "conf" / "mfcc.conf").is_file() and not (path / "mfcc.conf").is_file():
        raise ModelError(f"{path}: incomplete vosk model, conf/mfcc.conf is missing")
    empty = [p for p in acoustic if p.is_file() and p.stat().st_size < 1000]
    if empty:
        raise ModelError(
            f"{path}: {empty[0].relative_to(path)} holds no model (is it an unfetched large file?)"
        )


#: Being loaded before anybody asked: directory -> vosk.Model.
_coming: dict[Path, Future[Any]] = {}


def load_ahead(path: Path) -> None:
    """Begin to load this directory in the background: `load_model` then waits for the rest only.

    Loading takes no part of Python's lock, so the rest of the program is imported meanwhile. Never raises:
    what is wrong with the directory is told by `load_model`.
    """
    coming: Future[Any] = Future()

    def load() -> None:
        try:
            coming.set_result(_loaded(path))
        except Exception as error:
            coming.set_exception(error)

    _coming[path] = coming
    threading.Thread(target=load, name="model ahead", daemon=True).start()


def _handle(found: Path) -> Any:
    """The vosk.Model of a directory. What was loaded ahead is used once, and let go when it is another."""
    ahead = _coming.pop(found, None)
    _coming.clear()
    if ahead is not None:
        with contextlib.suppress(Exception):
            return ahead.result()
    return _loaded(found)


def _loaded(directory: Path) -> Any:
    vosk = _vosk()
    vosk.SetLogLevel(LOG_LEVEL)
    return vosk.Model(str(directory))


def _vosk() -> Any:
    """The vosk module. It imports a client of the web, to fetch models with, which sayso never does: a tenth
    of a second of each start. That one is imported when somebody does use it."""
    if "vosk" not in sys.modules and "requests" not in sys.modules:
        stand_in = types.ModuleType("requests")
        stand_in.__getattr__ = lambda name: getattr(importlib.import_module("requests"), name)  # type: ignore[method-assign]
        sys.modules["requests"] = stand_in
        try:
            import vosk
        finally:
            del sys.modules["requests"]
    import vosk

    return vosk


def load_model(path: str | os.PathLike[str] | None = None) -> SpeechModel:
    """Load a vosk model directory. Raises ModelError with one line that says what is wrong."""
    found = find_model(path)
    check_files(found)
    try:
        handle = _handle(found)
    except Exception as error:  # vosk raises a bare Exception whatever the cause
        raise ModelError(f"{found}: vosk could not load this model ({error}); unpack it afresh") from error
    return SpeechModel(found, handle, run_time_grammar=graph_file(found, "HCLr.fst").is_file())


def missing_words(model: SpeechModel, words: Iterable[str]) -> tuple[str, ...]:
    """Words (each once, in order) that the model's vocabulary lacks: vosk would drop them silently."""
    return tuple(word for word in dict.fromkeys(words) if not model.knows(word))


def with_words(
    model: SpeechModel, words: Mapping[str, tuple[str, ...]], cache: Path | None = None
) -> SpeechModel:
    """The same model with `words` added: word -> pronunciations, each a string of ARPAbet phones.

    The model's own directory is never altered: the rebuilt graph lies in a cache directory named by
    the hash of what went into it. Words that the model knows already gain the given pronunciations.
    Raises ModelError naming the words when the model's files do not allow it.
    """
    from sayso.hearing.lexicon_graph import extended_model

    if not words:
        return model
    if not model.rebuildable:
        listed = ", ".join(sorted(words))
        why = (
            "its lexicon graph was made by other tools"
            if model.run_time_grammar
            else "its graph is compiled into one file (HCLG.fst)"
        )
        raise ModelError(
            f"{model.name}: words cannot be added to this model ({why}): {listed}; "
            "use other words, or the model that ships with sayso"
        )
    directory = extended_model(model.origin or model.path, model.path, words, cache)
    loaded = load_model(directory)
    added = tuple(dict.fromkeys((*model.added_words, *words)))
    return SpeechModel(
        path=directory,
        handle=loaded.handle,
        run_time_grammar=loaded.run_time_grammar,
        added_words=added,
        origin=model.origin or model.path,
    )
