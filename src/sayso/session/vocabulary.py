"""Every word that a job may have to hear, so that the model is taught them before the first question."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from pyrsistent import pvector

from sayso import dialogue
from sayso.dialogue import asking
from sayso.dialogue.conduct import WRENCHES
from sayso.dialogue.predictions import ask_of
from sayso.dialogue.state import Aside, Awaiting, State, Visit
from sayso.hearing.grammar import UNKNOWN, normalise
from sayso.procedure.model import AskDone, AskTorque, Procedure, Step


def vocabulary(procedure: Procedure, witnesses: tuple[tuple[str, str], ...] = ()) -> frozenset[str]:
    """Words of every question, read-back, aside and control of `procedure`, in lower case.

    Found by asking the machine itself what it would listen for, so no list has to be kept in step with it.
    """
    phrases: set[str] = set()
    for state in _listening_states(procedure, witnesses):
        phrases.update(asking.listen(state).phrases)
    found = {word for phrase in phrases for word in normalise(phrase)}
    return frozenset(found - {UNKNOWN})


def _listening_states(procedure: Procedure, witnesses: tuple[tuple[str, str], ...]) -> Iterator[State]:
    start = dialogue.begin(procedure)
    names = tuple(dict.fromkeys(step.ask.name for step in procedure.steps))
    first = replace(_at(start, procedure.steps[0]), witnesses=witnesses, recent=names)
    yield replace(first, held=True)
    for aside in Aside:
        yield replace(first, aside=aside)
    for awaiting in Awaiting:
        if awaiting not in (Awaiting.START, Awaiting.ENDED, Awaiting.CONFIRM):
            yield replace(first, awaiting=awaiting)
    yield from _questions_before_telling(start)
    for step in _one_of_each_ask(procedure.steps):
        at_step = replace(_at(start, step), witnesses=witnesses)
        for wrench in WRENCHES.values() if isinstance(step.ask, AskTorque) else ("N.m",):
            for awaiting in (Awaiting.ANSWER, Awaiting.CONFIRM):
                yield replace(at_step, awaiting=awaiting, wrench=wrench)


def _questions_before_telling(start: State) -> Iterator[State]:
    seen: set[object] = set()
    for step, questions in zip(start.procedure.steps, start.plan.questions, strict=True):
        for question in questions:
            for wrench in WRENCHES.values() if question.kind == "torque" else ("N.m",):
                asked = ask_of(question, step, wrench)
                if asked not in seen:
                    seen.add(asked)
                    at_step = replace(_at(start, step), awaiting=Awaiting.PREDICT, wrench=wrench)
                    yield replace(at_step, predicting=question.id)
    if any(start.plan.questions):
        for off in (False, True):
            at_first = _at(start, start.procedure.steps[0])
            yield replace(at_first, level="full", ask_first=("any",), questions_off=off)


def _one_of_each_ask(steps: Iterable[Step]) -> Iterator[Step]:
    """Questions that differ in their name only are heard alike (a job of 2,000 'done's asks once)."""
    seen: set[object] = set()
    for step in steps:
        kind = AskDone("") if isinstance(step.ask, AskDone) else step.ask
        if kind not in seen:
            seen.add(kind)
            yield step


def _at(state: State, step: Step) -> State:
    return replace(state, trail=pvector([Visit(step.id)]), at=0, awaiting=Awaiting.ANSWER)
