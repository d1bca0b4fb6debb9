"""The phrases of a question as the recogniser gets them: each sound once, corrections spelled out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sayso.answers.denials import DENIALS
from sayso.answers.done import DONE
from sayso.dialogue import asked
from sayso.dialogue.control_words import SYNONYMS
from sayso.dialogue.effects import Listen
from sayso.dialogue.state import Awaiting, State
from sayso.hearing.grammar import normalise

Lexicon = Mapping[str, tuple[str, ...]]

_ORDERS = frozenset(phrase for known in (*SYNONYMS.values(), DONE) for phrase in known if " " not in phrase)

#: A grammar is a bigram of its phrases; more than this adds words and no help.
MOST_CORRECTIONS = 60


@dataclass(frozen=True, slots=True)
class EarGrammar:
    """`decoys` are heard for what they are, so that they are not taken for a phrase; they are no answers."""

    phrases: tuple[str, ...]
    decoys: tuple[str, ...]


def grammar_for(state: State, listen: Listen, lexicon: Lexicon) -> EarGrammar:
    """All that the ear of a job listens for at the question that `state` has open."""
    phrases = phrases_for(state, listen, lexicon)
    return EarGrammar(phrases, denials_of(phrases, lexicon))


def phrases_for(state: State, listen: Listen, lexicon: Lexicon) -> tuple[str, ...]:
    """The phrases of `listen` for the question that `state` has open."""
    return one_of_each_sound((*listen.phrases, *_corrections(state)), lexicon)


def denials_of(phrases: Iterable[str], lexicon: Lexicon) -> tuple[str, ...]:
    """ "don't stop" beside "stop": heard for what it is and then no order at all.

    Without them "don't" becomes an unknown sound or another order ("done"), and what is left acts: of 397
    denials by eight synthetic voices three were recorded as "done", three other orders acted and nine were
    read back; with them none, one ("undo") and one. Of 240 real orders 217 and 215 were heard.
    """
    orders = [phrase for phrase in dict.fromkeys(phrases) if phrase in _ORDERS]
    return tuple(f"{denial} {order}" for denial in DENIALS if denial in lexicon for order in orders)


def one_of_each_sound(phrases: Iterable[str], lexicon: Lexicon) -> tuple[str, ...]:
    """Phrases without those that sound exactly like an earlier one.

    Two spellings of one sound ('okay' and 'ok', 'metres' and 'meters') share the recogniser's confidence
    between them: each comes back with 0.5 and every such answer would have to be read back.
    """
    found: dict[tuple[str, ...], str] = {}
    for phrase in phrases:
        sound = tuple(lexicon[word][0] if lexicon.get(word) else word for word in normalise(phrase))
        found.setdefault(sound, phrase)
    return tuple(found.values())


def _corrections(state: State) -> tuple[str, ...]:
    """'no twelve' at a read-back. Without it the recogniser, which only knows 'no' as a whole answer, would
    rather hear 'know twelve' or 'note twelve' (measured with seven synthetic voices)."""
    if state.awaiting is not Awaiting.CONFIRM or not state.at_step or state.on_hold or state.aside:
        return ()
    words = [phrase for phrase in asked.phrases_of(state, state.step.ask) if " " not in phrase]
    return tuple(f"no {word}" for word in words[:MOST_CORRECTIONS])
