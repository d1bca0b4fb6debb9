"""Which answers stand: what branches, conditions and 'what was ...' go by.

They are exactly the answers given on the way that is walked now. Where a question was met more than once, the
latest visit counts. Answers of work that is carried over a changed branch count again once it holds.
"""

from __future__ import annotations

from pyrsistent import pmap

from sayso.dialogue.state import Value
from sayso.dialogue.turn import Turn
from sayso.procedure.model import AskDone

#: names that 'what was ...' offers; a longer list would make every grammar grow with the job
RECENT = 16


def give(turn: Turn, index: int) -> None:
    """The visit at `index` was answered. The same cost at any length of the job."""
    state = turn.state
    visit = state.trail[index]
    ask = state.procedure.step(visit.step).ask
    if visit.answer is None or state.given_at.get(ask.name, -1) > index:
        return
    recent = tuple(name for name in state.recent if name != ask.name)
    if not isinstance(ask, AskDone):
        recent = (*recent, ask.name)[-RECENT:]
    turn.update(
        values=state.values.set(ask.name, visit.answer.value),
        given_at=state.given_at.set(ask.name, index),
        recent=recent,
    )


def recollect(turn: Turn) -> None:
    """After answers were taken away: all of them anew, from the trail. Rare, and as long as the trail."""
    state = turn.state
    values: dict[str, Value] = {}
    given: dict[str, int] = {}
    recent: dict[str, None] = {}
    for index, visit in enumerate(state.trail):
        if visit.answer is None:
            continue
        ask = state.procedure.step(visit.step).ask
        values[ask.name] = visit.answer.value
        given[ask.name] = index
        if not isinstance(ask, AskDone):
            recent.pop(ask.name, None)
            recent[ask.name] = None
    turn.update(values=pmap(values), given_at=pmap(given), recent=tuple(recent)[-RECENT:])
