"""vosk behind two calls: set a grammar, feed audio; results carry words with confidences and times."""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from sayso.hearing.grammar import UNKNOWN, Grammar, compile_grammar
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.same_sound import OneSpelling, one_spelling
from sayso.hearing.speech_model import ModelError, SpeechModel, missing_words

SAMPLE_RATE = 16_000

#: Recognisers kept by grammar. vosk 0.3.45 leaks the old grammar at each SetGrammar, while a recogniser
#: that is freed gives all back; a job comes back to the same few dozen grammars again and again.
KEPT_GRAMMARS = 24


@dataclass(frozen=True, slots=True)
class HeardWord:
    """Times in seconds from the first sample fed since the last `start`."""

    word: str
    confidence: float
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Result:
    """What vosk made of an utterance. `words` may hold '[unk]'; `alternatives` are other readings."""

    words: tuple[HeardWord, ...]
    alternatives: tuple[tuple[str, ...], ...] = ()

    @property
    def text(self) -> tuple[str, ...]:
        return tuple(w.word for w in self.words)

    @property
    def confidence(self) -> float:
        """The least certain word decides; 0 when nothing was heard."""
        return min((w.confidence for w in self.words), default=0.0)

    @property
    def has_unknown(self) -> bool:
        return any(w.word == UNKNOWN for w in self.words)


class Recogniser:
    """Feeds 16 kHz mono 16-bit audio to vosk. One utterance: listen, accept..., finish.

    vosk ends an utterance by rules of its own (conf/model.conf); those segments are joined here, because
    the end of speech is sayso's to decide. `SetPartialWords` stays off: it drops every word whose end is
    not aligned yet and so holds partial results back by more than half a second (measured, vosk 0.3.45).
    """

    def __init__(self, model: SpeechModel, sample_rate: int = SAMPLE_RATE) -> None:
        self._model = model
        self._rate = sample_rate
        self._kept: OrderedDict[str, Any] = OrderedDict()
        self._vosk: Any = None
        self._grammar: Grammar | None = None
        self._spelling: OneSpelling | None = None
        self._segments: list[HeardWord] = []
        self._partial: tuple[str, ...] = ()
        self._fed = 0
        self._offset = 0
        self._clock_zero: dict[int, int] = {}

    @property
    def grammar(self) -> Grammar | None:
        return self._grammar

    @property
    def model(self) -> SpeechModel:
        return self._model

    def listen(self, phrases: Iterable[str], decoys: Iterable[str] = ()) -> Grammar:
        """Set the grammar for what comes next and forget any audio fed before.

        Raises ModelError naming the words that the model does not know (vosk would drop them and keep
        the rest of the phrase, so that 'five nope' would be heard as 'five').
        """
        spelling, grammar = _compiled(self._model.path, tuple(phrases), tuple(decoys))
        absent = missing_words(self._model, sorted(grammar.words))
        if absent:
            raise ModelError(
                f"{self._model.name}: not in this model's vocabulary: {', '.join(absent)}; "
                "add a pronunciation to the shop's lexicon or use other words"
            )
        if not self._model.run_time_grammar:
            raise ModelError(
                f"{self._model.name}: this model takes no grammar at run time (no graph/HCLr.fst); "
                "use a small vosk model or the one that ships with sayso"
            )
        self._use(grammar.json)
        self._grammar = grammar
        self._spelling = spelling
        return grammar

    def dictate(self) -> None:
        """Listen without a grammar (the model's own language model): for notes and for comparisons."""
        self._use("")
        self._grammar = None
        self._spelling = None

    def _use(self, key: str) -> None:
        import vosk

        if self._vosk is not None:
            self._settle()
        if key in self._kept:
            self._kept.move_to_end(key)
        else:
            arguments = (key,) if key else ()
            made = vosk.KaldiRecognizer(self._model.handle, self._rate, *arguments)
            made.SetWords(True)
            self._kept[key] = made
            self._clock_zero[id(made)] = 0
            if len(self._kept) > KEPT_GRAMMARS:
                _, dropped = self._kept.popitem(last=False)
                self._clock_zero.pop(id(dropped), None)
        self._vosk = self._kept[key]
        self._begin()

    def _begin(self) -> None:
        self._segments = []
        self._partial = ()
        self._fed = 0

    def _settle(self) -> None:
        """Leave the recogniser at the start of an utterance; its own clock runs on over resets."""
        if self._fed:
            self._vosk.FinalResult()
            self._clock_zero[id(self._vosk)] += self._fed
        self._begin()

    def again(self) -> None:
        """Forget the audio fed since listen(), keep the grammar."""
        self._settle()

    def accept(self, pcm: bytes) -> tuple[str, ...] | None:
        """Feed audio; the words so far when they changed, else None."""
        if self._vosk is None:
            raise RuntimeError("listen() comes before accept()")
        self._fed += len(pcm) // 2
        if self._vosk.AcceptWaveform(pcm):
            self._segments.extend(self._words(json.loads(self._vosk.Result())))
            words = tuple(w.word for w in self._segments)
        else:
            tail = json.loads(self._vosk.PartialResult()).get("partial", "").split()
            words = (*(w.word for w in self._segments), *tail)
        words = self._as_written(words)
        if words == self._partial:
            return None
        self._partial = words
        return words

    @property
    def partial(self) -> tuple[str, ...]:
        return self._partial

    def finish(self) -> Result:
        """The final result of all audio since listen() or the last finish()."""
        if self._vosk is None:
            raise RuntimeError("listen() comes before finish()")
        self._segments.extend(self._words(json.loads(self._vosk.FinalResult())))
        written = self._as_written(tuple(w.word for w in self._segments))
        words = tuple(replace(w, word=as_is) for w, as_is in zip(self._segments, written, strict=True))
        self._clock_zero[id(self._vosk)] += self._fed
        self._begin()
        return Result(words)

    def _as_written(self, words: tuple[str, ...]) -> tuple[str, ...]:
        return self._spelling.as_written(words) if self._spelling is not None else words

    def _words(self, result: dict[str, Any]) -> list[HeardWord]:
        zero = self._clock_zero[id(self._vosk)] / self._rate
        return [
            HeardWord(
                w["word"], float(w.get("conf", 1.0)), round(w["start"] - zero, 2), round(w["end"] - zero, 2)
            )
            for w in result.get("result", ())
        ]

    def alternatives(self, pcm: bytes, count: int = 4) -> tuple[tuple[str, ...], ...]:
        """Other readings of `pcm` under the current grammar, best first.

        Asking vosk for alternatives takes the per-word confidence away, so this is a second pass over
        the kept audio (about 0.01 x its length), run only where an answer is in doubt.
        """
        import vosk

        arguments = (self._grammar.json,) if self._grammar else ()
        second = vosk.KaldiRecognizer(self._model.handle, self._rate, *arguments)
        second.SetMaxAlternatives(count)
        second.AcceptWaveform(pcm)
        found = json.loads(second.FinalResult()).get("alternatives", ())
        return distinct(self._as_written(tuple(a.get("text", "").split())) for a in found)

    def among_whole(
        self, pcm: bytes, stands_alone: Callable[[str], bool], least: float = 0.0
    ) -> tuple[str, ...]:
        """What `pcm` is when it has to be a phrase of the current grammar made of words that stand alone;
        empty for anything else, and for words less sure than `least` (vosk's own confidence).

        Words that only occur inside phrases ("a" of "say that again") take short answers away from voices
        that clip them ("eight"). 25 ms of one core for a second of clean sound, some 80 ms in noise.
        """
        phrases = self._grammar.phrases if self._grammar else ()
        alone = {p for p in phrases if len(p) == 1 and stands_alone(self._as_written(p)[0])}
        whole = [" ".join(p) for p in phrases if all((word,) in alone for word in p)]
        if not whole:
            return ()
        heard = self._heard_among(pcm, whole, whole_only=True)
        sure = all(w.word != UNKNOWN and w.confidence >= least for w in heard)
        return self._as_written(tuple(w.word for w in heard)) if sure else ()

    def stands_up(self, pcm: bytes, words: Sequence[str], rivals: Sequence[str], advantage: int) -> bool:
        """Are `words` heard again in `pcm` when each of `rivals` may have been said as well?

        The words count as `advantage` times likelier than each rival. About 25 ms for a second of sound.
        """
        heard = self._heard_among(pcm, [" ".join(words)] * advantage + list(rivals))
        return [w.word for w in heard if w.word != UNKNOWN] == list(words)

    def _heard_among(
        self, pcm: bytes, phrases: Sequence[str], *, whole_only: bool = False
    ) -> tuple[HeardWord, ...]:
        """Words of `pcm` under a grammar of its own: `phrases` and [unk].

        `whole_only`: [unk] in it makes it worth nothing. The best path tells that at once; the lattice behind
        a final result of noise that fits [unk] as well as anything took 11 s for 2.7 s of sound (measured).
        """
        import vosk

        second = vosk.KaldiRecognizer(self._model.handle, self._rate, json.dumps([*phrases, UNKNOWN]))
        second.SetWords(True)
        second.AcceptWaveform(pcm)
        if whole_only:
            likeliest = json.loads(second.PartialResult()).get("partial", "").split()
            if not likeliest or UNKNOWN in likeliest:
                return ()
        found = json.loads(second.FinalResult()).get("result", ())
        return tuple(HeardWord(w["word"], float(w.get("conf", 1.0)), w["start"], w["end"]) for w in found)


@lru_cache(maxsize=4 * KEPT_GRAMMARS)
def _compiled(model: Path, phrases: tuple[str, ...], decoys: tuple[str, ...]) -> tuple[OneSpelling, Grammar]:
    """Worked out once for each question of a job, which comes back to the same ones (1.3 ms each)."""
    spelling = one_spelling(phrases, decoys, model_lexicon(model))
    return spelling, compile_grammar(map(" ".join, spelling.phrases), map(" ".join, spelling.decoys))


def distinct(readings: Iterable[Sequence[str]]) -> tuple[tuple[str, ...], ...]:
    """Readings without [unk] and without repeats, in order, empty ones left out."""
    kept = (tuple(w for w in words if w != UNKNOWN) for words in readings)
    return tuple(dict.fromkeys(words for words in kept if words))
