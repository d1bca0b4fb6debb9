"""A short oral quiz, built as a procedure: so the same voice, ear, record and resume serve it.

Each question is a step; a wrong answer leads over a step that tells the right one. Nothing is ever
asked about a caution, and the quiz says at its start that no machine is to be touched.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace

from sayso.procedure.model import (
    Ask,
    AskDone,
    AskTorque,
    AskWitness,
    Branch,
    Branches,
    Place,
    Procedure,
    Step,
)
from sayso.shop.learning_points import LearningPoint, points_of
from sayso.shop.schedule import Review

#: id of the step that asks point number i, and of the one that tells its answer
ASKS = "ask-{}"
TELLS = "tell-{}"
SIGN_OFF = "sign-off"
QUIZ_PREFIX = "quiz:"
#: a guessed torque is heard up to this many times the right one
WIDE = 4.0


def quiz_of(procedure: Procedure, chosen: Sequence[str], *, sign_off: bool = False) -> Procedure:
    """A quiz on the points `chosen` (their ids). Raises KeyError for an unknown point.

    With `sign_off` a witness closes it: the shop's proof that the answers were given by this person."""
    points = {p.id: p for p in points_of(procedure)}
    steps: list[Step] = []
    for number, point_id in enumerate(chosen):
        steps.extend(_question(points[point_id], number, len(chosen), procedure))
    ask: Ask = AskWitness(name="sign_off") if sign_off else AskDone(name="over")
    close = "The witness signs this off now." if sign_off else "Say done."
    last = Step(
        id=SIGN_OFF,
        say=f"That was the last question. {close}",
        ask=ask,
        place=procedure.steps[0].place,
    )
    text = "\n".join([procedure.text_hash, *chosen, str(sign_off)])
    return Procedure(
        id=f"{QUIZ_PREFIX}{procedure.id}",
        title=f"Quiz: {procedure.title}",
        revision=procedure.revision,
        steps=(*steps, last),
        text_hash=hashlib.sha256(text.encode()).hexdigest(),
        file=procedure.file,
        language=procedure.language,
        words=procedure.words,
        defers_to="This is a quiz. Touch no machine while it runs.",
    )


def _question(point: LearningPoint, number: int, of: int, procedure: Procedure) -> tuple[Step, Step]:
    onwards = ASKS.format(number + 1) if number + 1 < of else SIGN_OFF
    name = f"point_{number}"
    place: Place = procedure.step(point.step).place
    if isinstance(point.ask, AskTorque):
        # a torque outside its limits is a wrong answer here, not a deviation: so no limits, but a condition
        ask: Ask = AskTorque(name, point.ask.target, 0.0, WIDE * point.ask.target, point.ask.unit)
        right = Branch(
            f"answers.{name} >= {point.ask.low!r} && answers.{name} <= {point.ask.high!r}", onwards, True
        )
    else:
        ask = replace(point.ask, name=name)
        right = Branch(point.right, onwards)
    asks = Step(
        id=ASKS.format(number),
        say=point.question,
        ask=ask,
        place=place,
        then=Branches(cases=(right,), otherwise=TELLS.format(number)),
        skill=point.skill,
    )
    tells = Step(
        id=TELLS.format(number),
        say=f"Not this time. {point.tell} Say done when you have it.",
        ask=AskDone(name=f"told_{number}"),
        place=place,
        then=Branches(otherwise=onwards),
        skill=point.skill,
    )
    return asks, tells


def reviews_of(
    quiz: Procedure, chosen: Sequence[str], answers: Iterable[tuple[str, int]]
) -> tuple[Review, ...]:
    """What a finished or broken-off quiz shows. `answers`: (step id, epoch ms) of every accepted answer.

    A point was right when its question was answered and its telling step was not."""
    done = dict(answers)
    found = []
    for number, point in enumerate(chosen):
        asked = done.get(ASKS.format(number))
        onwards = ASKS.format(number + 1) if number + 1 < len(chosen) else SIGN_OFF
        told = TELLS.format(number) in done
        if asked is not None and (told or onwards in done):
            found.append(Review(point=point, at_ms=asked, right=not told))
    return tuple(found)
