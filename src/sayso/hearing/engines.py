"""Speech engines behind one call, so that they can be measured side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from sayso.extras import how_to_add
from sayso.hearing.errors import HearingError
from sayso.hearing.grammar import UNKNOWN, normalise
from sayso.hearing.pronunciations import pronounce, teach
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.speech_model import load_model

#: Engine name of the model that the optional pocketsphinx package ships: the baseline.
POCKETSPHINX = "pocketsphinx"


@dataclass(frozen=True, slots=True)
class Transcript:
    """`words` without [unk]; `rejected` when the engine itself says that it is not in the grammar."""

    words: tuple[str, ...]
    confidence: float
    seconds_per_word: float = 0.0
    unknown: float = 0.0
    rejected: bool = False


class Engine(Protocol):
    name: str

    def prepare(self, phrases: Sequence[str]) -> None: ...
    def transcribe(self, pcm: bytes) -> Transcript: ...


class VoskEngine:
    """Any vosk model directory; words that it lacks are taught when its files allow it."""

    def __init__(self, path: Path | None) -> None:
        self._model = load_model(path)
        self.name = self._model.name
        self.recogniser = Recogniser(self._model)

    def prepare(self, phrases: Sequence[str]) -> None:
        words = {word for phrase in phrases for word in normalise(phrase)}
        taught, added = teach(self._model, sorted(words))
        if added:
            self._model = taught
            self.recogniser = Recogniser(taught)
        self.recogniser.listen(phrases)

    def transcribe(self, pcm: bytes) -> Transcript:
        step = 4000 * 2
        for at in range(0, len(pcm), step):
            self.recogniser.accept(pcm[at : at + step])
        result = self.recogniser.finish()
        kept = [w for w in result.words if w.word != UNKNOWN]
        return Transcript(
            words=tuple(w.word for w in kept),
            confidence=min((w.confidence for w in kept), default=0.0),
            seconds_per_word=min((w.end - w.start for w in kept), default=0.0),
            unknown=(len(result.words) - len(kept)) / max(1, len(result.words)),
            rejected=result.has_unknown or not kept,
        )


class PocketsphinxEngine:
    """The US English model in the pocketsphinx package, with a grammar of the same phrases in any order."""

    name = POCKETSPHINX

    def __init__(self) -> None:
        try:
            import pocketsphinx
        except ImportError as error:
            raise HearingError(
                f"pocketsphinx is not installed; this brings it: {how_to_add('pocketsphinx')}"
            ) from error
        self._library: Any = pocketsphinx
        self._decoder: Any = None

    def prepare(self, phrases: Sequence[str]) -> None:
        units = list(dict.fromkeys(" ".join(normalise(p)) for p in phrases))
        words = sorted({w for unit in units for w in unit.split()})
        self._decoder = self._library.Decoder(samprate=16000, loglevel="FATAL", bestpath=False, lm=None)
        for word, said in pronounce(words).items():
            if self._decoder.lookup_word(word) is None:
                self._decoder.add_word(word, said.pronunciations[0], True)
        choices = " | ".join(units)
        self._decoder.add_jsgf_string(
            "answers", f"#JSGF V1.0;\ngrammar answers;\npublic <answer> = ( {choices} )+ ;\n"
        )
        self._decoder.activate_search("answers")

    def transcribe(self, pcm: bytes) -> Transcript:
        self._decoder.start_utt()
        self._decoder.process_raw(pcm, no_search=False, full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        words = tuple(found.hypstr.split()) if found is not None else ()
        # with a grammar pocketsphinx gives no posterior, so it cannot be asked how sure it is
        return Transcript(words, 1.0 if words else 0.0, rejected=not words)


def open_engine(name: str) -> Engine:
    """'pocketsphinx', or the path of a vosk model directory ('' for the model that would be used)."""
    if name == POCKETSPHINX:
        return PocketsphinxEngine()
    return VoskEngine(Path(name) if name else None)
