"""What will probably be said next: the machine is a pure function, so it can be asked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sayso import dialogue
from sayso.dialogue.effects import Effect, Listen, Say
from sayso.dialogue.events import Heard, NoInput, TimerDone
from sayso.dialogue.state import State

#: Rendering a reply takes 10-20 ms and working it out about 1 ms: forty are ready within a second.
AT_MOST = 40
#: These come at any question; they are tried first, after them the answers of the question itself.
ANYWHERE = ("done", "yes", "no", "repeat", "understood", "hold", "help", "how far", "back", "undo")


def replies_to(state: State, words: Iterable[str], at_ms: int) -> tuple[Say, ...]:
    """What would be spoken if `words` were heard now, with full confidence. Changes nothing."""
    return _says(dialogue.advance(state, Heard(at_ms, tuple(words)))[1])


def likely_replies(state: State, listen: Listen, at_ms: int) -> Iterator[Say]:
    """What would be spoken after each likely event at the question that is open, likeliest first."""
    phrases = set(listen.phrases)
    first = [p for p in ANYWHERE if p in phrases]
    answers = [p for p in listen.phrases if p not in first]
    for phrase in (*first, *answers[: AT_MOST - len(first)]):
        yield from replies_to(state, phrase.split(), at_ms)
    for name in state.timers:
        yield from _says(dialogue.advance(state, TimerDone(at_ms, name))[1])
    if listen.no_input_s is not None:
        yield from _says(dialogue.advance(state, NoInput(at_ms))[1])


def _says(effects: Iterable[Effect]) -> tuple[Say, ...]:
    return tuple(effect for effect in effects if isinstance(effect, Say))
