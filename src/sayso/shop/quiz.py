"""A short oral quiz, written as a procedure: so the same voice, ear, check, record and resume serve it.

Each question is a step; a wrong answer leads over a step that tells the right one. Nothing is ever
asked about a caution, and the quiz says at its start that no machine is to be touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

import yaml

from sayso.procedure.model import AskChoice, AskTorque, Procedure
from sayso.shop.learning_points import LearningPoint, points_of
from sayso.shop.schedule import Review

ASKS = "ask-{}"
TELLS = "tell-{}"
SIGN_OFF = "sign-off"
QUIZ_PREFIX = "quiz-"
#: a guessed torque is heard up to this many times the right one
WIDE = 4.0
_POINT_LINE = re.compile(r"^# ask-(\d+): (.+)$", re.MULTILINE)


def quiz_text(procedure: Procedure, chosen: Sequence[str], *, sign_off: bool = False) -> str:
    """The procedure file of a quiz on the points `chosen` (their ids). Raises KeyError for an unknown point.

    With `sign_off` a witness closes it: the shop's proof that the answers were given by this person."""
    points = {p.id: p for p in points_of(procedure)}
    steps: list[dict[str, Any]] = []
    for number, point_id in enumerate(chosen):
        onwards = ASKS.format(number + 1) if number + 1 < len(chosen) else SIGN_OFF
        steps += _question(points[point_id], number, onwards)
    last: dict[str, Any] = {"id": SIGN_OFF, "say": "That was the last question."}
    if sign_off:
        last["ask"] = {"witness": "sign_off", "question": "The witness signs this off now."}
    quiz = {
        "procedure": f"{QUIZ_PREFIX}{procedure.id}",
        "title": f"Quiz: {procedure.title}",
        "revision": procedure.revision,
        "language": procedure.language,
        "defers_to": "This is a quiz. Touch no machine while it runs.",
        "words": dict(procedure.words),
        "steps": [*steps, last],
    }
    named = "".join(f"# {ASKS.format(i)}: {point}\n" for i, point in enumerate(chosen))
    head = f"# Made by sayso from {procedure.id}, revision {procedure.revision}, {procedure.text_hash}\n"
    return head + named + yaml.safe_dump(quiz, sort_keys=False, allow_unicode=True, width=110)


def _question(point: LearningPoint, number: int, onwards: str) -> tuple[dict[str, Any], dict[str, Any]]:
    name, tells = f"point_{number}", TELLS.format(number)
    asks: dict[str, Any] = {"id": ASKS.format(number), "say": point.question, "skill": point.skill}
    if isinstance(point.ask, AskTorque):
        # asked as a plain measurement: a wrong guess is no deviation of a machine
        asks["ask"] = {
            "measure": name,
            "unit": "N.m",
            "plausible": [0.0, WIDE * point.ask.target],
            "read_back": True,
        }
        inside = f"answers.{name} >= {point.ask.low!r} && answers.{name} <= {point.ask.high!r}"
        asks["then"] = [{"if": inside, "go": onwards}, {"otherwise": tells}]
    else:
        assert isinstance(point.ask, AskChoice)
        asks["ask"] = {
            "choice": name,
            "question": "Which one?",
            "options": {o.value: list(o.words) for o in point.ask.options},
        }
        asks["then"] = {point.right: onwards, "otherwise": tells}
    told = {
        "id": tells,
        "say": f"Not this time. {point.tell}",
        "ask": {"done": f"told_{number}", "question": "Say done when you have it."},
        "then": onwards,
    }
    return asks, told


def points_in(text: str) -> tuple[str, ...]:
    """The points that a quiz file asks, in order: its own opening comments name them."""
    return tuple(point for _, point in _POINT_LINE.findall(text))


def reviews_of(chosen: Sequence[str], answers: Iterable[tuple[str, int]]) -> tuple[Review, ...]:
    """What a finished or broken-off quiz shows. `answers`: (step id, epoch ms) of every accepted answer.

    A point was right when its question was answered and the next one reached without the telling step."""
    done = dict(answers)
    found = []
    for number, point in enumerate(chosen):
        asked = done.get(ASKS.format(number))
        onwards = ASKS.format(number + 1) if number + 1 < len(chosen) else SIGN_OFF
        told = TELLS.format(number) in done
        if asked is not None and (told or onwards in done):
            found.append(Review(point=point, at_ms=asked, right=not told))
    return tuple(found)
