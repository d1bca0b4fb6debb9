"""A short oral quiz, written as a procedure: so the same voice, ear, check, record and resume serve it.

Each question is a step; a wrong answer leads over a step that tells the right one. So that a right answer
is told as right, each question but the first is there twice: as it is come to from a right answer ("Right.
What comes next?") and from a step that told. Nothing is ever asked about a caution, and the quiz says at
its start that no machine is to be touched.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

import yaml

from sayso.answers.measure import NOT_KNOWN
from sayso.procedure.model import END, AskChoice, AskTorque, Procedure
from sayso.procedure.quizzes import QUIZ_PREFIX
from sayso.shop.learning_points import LearningPoint, points_of
from sayso.shop.schedule import Review

ASKS = "ask-{}"
TELLS = "tell-{}"
SIGN_OFF = "sign-off"
#: behind the id of a step that is come to from a right answer
AFTER_RIGHT = "-after-right"
#: the echo of the answer, then the telling
HEARD_WHEN_TOLD = 2
#: a guessed torque is heard up to this many times the right one
WIDE = 4.0
_POINT_LINE = re.compile(r"^# ask-(\d+): (.+)$", re.MULTILINE)


def quiz_text(procedure: Procedure, chosen: Sequence[str], *, sign_off: bool = False) -> str:
    """The procedure file of a quiz on the points `chosen` (their ids). Raises KeyError for an unknown point.

    With `sign_off` a witness closes it: the shop's proof that the answers were given by this person."""
    points = {p.id: p for p in points_of(procedure)}
    steps: list[dict[str, Any]] = []
    for number, point_id in enumerate(chosen):
        point = points[point_id]
        onwards = ASKS.format(number + 1) if number + 1 < len(chosen) else SIGN_OFF
        steps.append(_asks(point, number, onwards))
        if number:
            steps.append(_asks(point, number, onwards, after_right=True))
        steps.append(_tells(point, number, onwards))
    steps += [_last(sign_off), _last(sign_off, after_right=True)]
    quiz = {
        "procedure": f"{QUIZ_PREFIX}{procedure.id}",
        "title": f"Quiz: {procedure.title}",
        "revision": procedure.revision,
        "language": procedure.language,
        "defers_to": "This is a quiz. Touch no machine while it runs. Who does not know says tell me.",
        "words": dict(procedure.words),
        "steps": steps,
    }
    named = "".join(f"# {ASKS.format(i)}: {point}\n" for i, point in enumerate(chosen))
    head = f"# Made by sayso from {procedure.id}, revision {procedure.revision}, {procedure.text_hash}\n"
    return head + named + yaml.safe_dump(quiz, sort_keys=False, allow_unicode=True, width=110)


def _step(id_: str, say: str, name: str, after_right: bool) -> tuple[dict[str, Any], str]:
    """The step so far, and the name of its answer: no two answers of a procedure share one."""
    if not after_right:
        return {"id": id_, "say": say}, name
    return {"id": id_ + AFTER_RIGHT, "say": f"Right. {say}"}, f"{name}_after_right"


def _asks(point: LearningPoint, number: int, onwards: str, *, after_right: bool = False) -> dict[str, Any]:
    asks, name = _step(ASKS.format(number), point.question, f"point_{number}", after_right)
    asks["skill"] = point.skill
    right, wrong = onwards + AFTER_RIGHT, TELLS.format(number)
    if isinstance(point.ask, AskTorque):
        # asked as a plain measurement: a wrong guess is no deviation of a machine
        asks["ask"] = {
            "measure": name,
            "question": "How many newton metres?",
            "unit": "N.m",
            "plausible": [0.0, WIDE * point.ask.target],
            "read_back": True,
        }
        inside = f"answers.{name} >= {point.ask.low!r} && answers.{name} <= {point.ask.high!r}"
        asks["then"] = [{"if": inside, "go": right}, {"otherwise": wrong}]
    else:
        assert isinstance(point.ask, AskChoice)
        asks["ask"] = {
            "choice": name,
            "question": "Which one?",
            "options": {o.value: list(o.words) for o in point.ask.options} | {NOT_KNOWN[0]: list(NOT_KNOWN)},
        }
        asks["then"] = {point.right: right, "otherwise": wrong}
    return asks


def _tells(point: LearningPoint, number: int, onwards: str) -> dict[str, Any]:
    return {
        "id": TELLS.format(number),
        "say": f"Not this time. {point.tell}",
        "ask": {"done": f"told_{number}", "question": "Say done when you have it."},
        "then": onwards,
    }


def _last(sign_off: bool, *, after_right: bool = False) -> dict[str, Any]:
    last, name = _step(SIGN_OFF, "That was the last question.", "sign_off", after_right)
    if sign_off:
        last["ask"] = {"witness": name, "question": "The witness signs this off now: name or code."}
    else:
        last["ask"] = {"done": name, "question": "Say done to close the quiz."}
    last["then"] = END
    return last


def points_in(text: str) -> tuple[str, ...]:
    """The points that a quiz file asks, in order: its own opening comments name them."""
    return tuple(point for _, point in _POINT_LINE.findall(text))


def told_in(happened: Iterable[tuple[str, Mapping[str, Any]]]) -> frozenset[str]:
    """The telling steps whose words were heard. `happened`: (kind, data) of a quiz's entries 'step_entered'
    and 'event', in order.

    The record says of each utterance whether it came to its end. At a telling step the first is what was
    taken for the answer, the second tells the right one. Who hears at the first that it was misheard, and
    takes it back before the second is over, was not told. The step at which the quiz stands tells at once, or
    when it is taken up again."""
    told = set()
    at, heard = "", 0
    for kind, data in happened:
        if kind == "step_entered":
            at, heard = str(data["step"]), 0
        elif data.get("type") == "VoiceFinished" and not data.get("cut") and at.startswith(TELLS.format("")):
            heard += 1
            if heard == HEARD_WHEN_TOLD:
                told.add(at)
    return frozenset({*told, at})


def reviews_of(
    chosen: Sequence[str], answers: Iterable[tuple[str, int]], told: Collection[str] = ()
) -> tuple[Review, ...]:
    """What a finished or broken-off quiz shows. `answers`: (step id, epoch ms) of every accepted answer;
    `told`: the telling steps that were heard (told_in).

    A point was right when its question was answered and the next one reached without the telling step. Who
    is told the answer did not know it, whether they stop there or go back and give the right one."""
    done = {step.removesuffix(AFTER_RIGHT): at for step, at in answers}
    found = []
    for number, point in enumerate(chosen):
        asked = done.get(ASKS.format(number))
        onwards = ASKS.format(number + 1) if number + 1 < len(chosen) else SIGN_OFF
        was_told = TELLS.format(number) in done or TELLS.format(number) in told
        if asked is not None and (was_told or onwards in done):
            found.append(Review(point=point, at_ms=asked, right=not was_told))
    return tuple(found)
