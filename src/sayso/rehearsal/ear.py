"""What the checks of a procedure ask of hearing: which answers sound alike, which words are only guessed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from sayso.dialogue.control_words import SYNONYMS, Control, phrases
from sayso.hearing.grammar import normalise
from sayso.hearing.letter_to_sound import LetterToSoundError
from sayso.hearing.pronunciations import Said, model_lexicon, pronounce
from sayso.hearing.sounds_alike import TOO_NEAR, alike_pairs, distance, measured_confusions
from sayso.hearing.speech_model import ModelError, find_model
from sayso.plain_letters import plain_letters
from sayso.procedure.checks.view import AlikeWords
from sayso.procedure.model import Ask, AskChoice

#: Other words for findings that are often asked for. Common practice, no source.
OTHER_WORDS: Mapping[str, tuple[str, ...]] = {
    "worn": ("used up", "thin"),
    "torn": ("ripped", "split"),
    "bent": ("crooked", "out of true"),
    "loose": ("slack",),
    "tight": ("firm",),
    "left": ("port side", "near side"),
    "right": ("starboard side", "off side"),
    "cracked": ("broken through", "split"),
    "fine": ("good as new", "all right"),
    "low": ("under the mark",),
    "no": ("negative",),
    "slow": ("sluggish",),
    "red": ("crimson",),
    "green": ("lime",),
    "hot": ("overheated",),
    "wet": ("damp",),
    "off": ("switched off",),
    "on": ("switched on",),
    "short": ("stubby",),
    "thick": ("heavy duty",),
    "thin": ("light duty",),
    "new": ("unused",),
    "missing": ("not there",),
    "leaking": ("dripping",),
    "clean": ("spotless",),
    "clear": ("nothing to see",),
    "fifteen": ("one five",),
    "fifty": ("five zero",),
    "sixteen": ("one six",),
    "sixty": ("six zero",),
    "thirteen": ("one three",),
    "thirty": ("three zero",),
}

#: A choice has no limits to miss; 'what was ...' is said with the name of an answer behind it.
NEVER_AT_A_CHOICE = (Control.WHAT_WAS, Control.NOT_MET)


#: What somebody says who is frightened must do the same at every step.
ALWAYS_OBEYED = frozenset((*SYNONYMS[Control.STOP], *SYNONYMS[Control.HOLD]))


def _control_too(phrase: str) -> AlikeWords:
    if phrase in ALWAYS_OBEYED:
        why = "it stops or holds the job everywhere else, and here it would be an answer"
        return AlikeWords(phrase, phrase, why, wrong=True)
    return AlikeWords(phrase, phrase, "it is a control word too, and the answer wins here")


def _heard_as(text: str) -> tuple[str, ...]:
    return normalise(plain_letters(text))


@dataclass(frozen=True)
class Ear:
    """`words`: pronunciations that the procedure gives. `model`: a vosk model directory, None the shipped."""

    words: Mapping[str, str] = field(default_factory=dict)
    model: str | None = None

    @cached_property
    def _model(self) -> Path | None:
        try:
            return find_model(self.model)
        except ModelError:
            return None

    @cached_property
    def _lexicon(self) -> Mapping[str, tuple[str, ...]]:
        return model_lexicon(self._model) if self._model is not None else {}

    @cached_property
    def _confusions(self) -> Mapping[tuple[str, str], float]:
        return measured_confusions(self._model) if self._model is not None else {}

    def guessed(self, text: str) -> Sequence[str]:
        return [word for word, said in self._said(_heard_as(text)).items() if said.source == "spelling"]

    def alike(self, ask: Ask) -> Sequence[AlikeWords]:
        """Pairs of options, and options beside the control words that can always be said."""
        if not isinstance(ask, AskChoice):
            return []
        options = [tuple(map(plain_letters, option.words)) for option in ask.options]
        # One group: which control words are like each other is not this procedure's matter.
        here = [c for c in Control if c not in NEVER_AT_A_CHOICE]
        controls = [phrases(here)]
        said = self._pronunciations(phrase for group in [*options, *controls] for phrase in group)
        own = {phrase for group in options for phrase in group}
        found = [_control_too(phrase) for phrase in sorted(own) if phrase in controls[0]]
        for pair in alike_pairs([*options, *controls], said, self._confusions):
            if pair.first not in own and pair.second not in own:
                continue
            why = f"distance {pair.distance:.2f}, apart is {TOO_NEAR} and more"
            if pair.confused:
                why += f", measured: confused {pair.confused:.0%} of the time"
            if pair.first not in own or pair.second not in own:
                why += ", one is a control word"
            replace = pair.first if pair.first in own else pair.second
            found.append(AlikeWords(pair.first, pair.second, why, self._instead(replace, options, controls)))
        return found

    def _instead(
        self, phrase: str, options: Sequence[Sequence[str]], controls: Sequence[Sequence[str]]
    ) -> str:
        """Other words for `phrase`, or for one that it is confused with, far from everything else."""
        others = [p for group in [*options, *controls] for p in group if p != phrase]
        tried = list(OTHER_WORDS.get(phrase, ()))
        for word in phrase.split():
            tried += [phrase.replace(word, other) for other in OTHER_WORDS.get(word, ()) if word != phrase]
        said = self._pronunciations([*others, *tried])
        far = [(min(distance(t, other, said) for other in others), t) for t in tried]
        best = max(far, default=(0.0, ""))
        return best[1] if best[0] >= TOO_NEAR else ""

    def _pronunciations(self, texts: Iterable[str]) -> dict[str, tuple[str, ...]]:
        words = [word for text in texts for word in _heard_as(text)]
        return {word: said.pronunciations for word, said in self._said(words).items()}

    def _said(self, words: Iterable[str]) -> dict[str, Said]:
        wanted = list(dict.fromkeys(words))
        given = {word: self._lexicon[word] for word in wanted if word in self._lexicon}
        words = {plain_letters(word): said for word, said in self.words.items()}
        own = {w: ((words[w],) if words[w] else ()) for w in wanted if w in words}
        try:
            return pronounce(wanted, {**given, **own})
        except LetterToSoundError:
            known = [word for word in wanted if word in given or own.get(word)]
            unknown = {word: Said(word, (), "spelling") for word in wanted if word not in known}
            return {**pronounce(known, {**given, **own}), **unknown}
