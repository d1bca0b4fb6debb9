"""What an apprentice is asked about a procedure, and how a quiz on it runs and is judged."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sayso.dialogue import advance, begin
from sayso.dialogue.effects import End, Record, Say
from sayso.dialogue.events import Heard, Started
from sayso.procedure import read
from sayso.procedure.model import AskChoice, AskTorque, Procedure
from sayso.shop.learning_points import LearningPoint, points_of
from sayso.shop.quiz import points_in, quiz_text, reviews_of

DEMO = Path(__file__).parents[2] / "procedures" / "wren-48-drive-controller.yaml"


@pytest.fixture(scope="module")
def procedure() -> Procedure:
    return read(DEMO)


@pytest.fixture(scope="module")
def points(procedure: Procedure) -> tuple[LearningPoint, ...]:
    return points_of(procedure)


def test_torques_order_reasons_and_branches_are_asked(points: tuple[LearningPoint, ...]) -> None:
    assert {p.kind for p in points} == {"torque", "way", "order", "reason", "branch"}
    assert len({p.id for p in points}) == len(points)


def test_no_caution_is_ever_made_a_question(procedure: Procedure, points: tuple[LearningPoint, ...]) -> None:
    cautions = [c.say for s in procedure.steps for c in s.cautions]
    assert cautions
    for point in points:
        assert not any(c in point.question or c in point.tell for c in cautions)


def test_a_choice_has_one_right_answer_among_three_different_ones(points: tuple[LearningPoint, ...]) -> None:
    for point in points:
        if isinstance(point.ask, AskChoice):
            assert point.right in {o.value for o in point.ask.options}
            assert 2 <= len(point.ask.options) <= 3
            listed = [part for part in point.question.split(" ") if part in ("First:", "Second:", "Third:")]
            assert len(listed) == len(point.ask.options)


MANY_WAYS = """\
procedure: ways
title: Many ways
revision: 1
steps:
  - id: pins
    say: Count the pins.
    ask: {count: pins, from: 1, to: 9}
    then: {1: a, 2: b, 3: c, 4: d, 5: e, otherwise: f}
  - {id: a, say: Fit the amber lead., then: end}
  - {id: b, say: Fit the black lead., then: end}
  - {id: c, say: Fit the copper lead., then: end}
  - {id: d, say: Fit the drain lead., then: end}
  - {id: e, say: Fit the earth lead., then: end}
  - {id: f, say: Call the lead hand., then: end}
"""
ASKED = """\
import sys
from pathlib import Path
from sayso.procedure import read
from sayso.shop.learning_points import points_of
for point in points_of(read(Path(sys.argv[1]))):
    print(point.id, point.question, point.right)
"""


def test_a_quiz_is_the_same_in_every_run_however_many_ways_there_are(tmp_path: Path) -> None:
    """PYTHONHASHSEED (Python's documentation) orders the texts in a set anew: what is offered may not hang
    on it, or a resumed quiz would be another one."""
    file = tmp_path / "ways.yaml"
    file.write_text(MANY_WAYS)
    asked = {
        subprocess.run(
            [sys.executable, "-c", ASKED, str(file)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(asked) == 1
    assert "ways/pins/branch/5" in asked.pop()


def test_what_if_is_asked_of_a_yes_or_no_too() -> None:
    bearing = {p.id: p for p in points_of(read(DEMO.parent / "wren-48-wheel-bearing.yaml"))}
    asked = bearing["wren-48-wheel-bearing/shake/branch/no"]
    assert asked.question.startswith(
        "Shake the wheel at the top. Does the stand stay firm? You find no. What do you do then?"
    )
    assert asked.tell == "With no: Set the stand anew."


def test_not_the_same_two_wrong_ways_are_offered_every_time(tmp_path: Path) -> None:
    file = tmp_path / "ways.yaml"
    file.write_text(MANY_WAYS)
    offered = " ".join(p.question for p in points_of(read(file)) if p.kind == "branch")
    for lead in ("amber", "black", "copper", "drain", "earth"):
        assert 0 < offered.count(f" the {lead} lead") <= 3  # once right, twice wrong


def right_words(point: LearningPoint, right: bool) -> tuple[str, ...]:
    if isinstance(point.ask, AskTorque):
        value = point.ask.target if right else point.ask.target * 2
        return (f"{value:.2f}", "N.m")
    if right:
        return (point.right,)
    return (next(o.value for o in point.ask.options if o.value != point.right),)  # type: ignore[union-attr]


def run_quiz(
    quiz: Procedure, points: list[LearningPoint], wrong: set[int]
) -> tuple[list[tuple[str, int]], list[str]]:
    """Drive the quiz by typed answers; (accepted answers as (step, ms), all that was said)."""
    state = begin(quiz)
    at = 1_000
    state, effects = advance(state, Started(at_ms=at, job="quiz-1"))
    answered: list[tuple[str, int]] = []
    said: list[str] = []
    for _ in range(200):
        said += [e.text for e in effects if isinstance(e, Say)]
        answered += [(e.data["step"], at) for e in effects if isinstance(e, Record) and e.kind == "answer"]
        if any(isinstance(e, End) for e in effects):
            return answered, said
        at += 1_000
        words: tuple[str, ...] = ("yes",)
        if state.awaiting == "answer":
            step = state.step.id
            words = ("done",)
            if step.startswith("ask-"):
                number = int(step.removeprefix("ask-").removesuffix("-after-right"))
                words = right_words(points[number], number not in wrong)
        elif state.awaiting in ("ready", "caution"):
            words = ("done",)
        state, effects = advance(state, Heard(at_ms=at, words=words, typed=True))
    raise AssertionError(f"the quiz did not end: {said[-5:]}")


def test_a_wrong_answer_is_told_and_counted_and_the_quiz_goes_on(
    procedure: Procedure, points: tuple[LearningPoint, ...], tmp_path: Path
) -> None:
    chosen = [next(p for p in points if p.kind == kind) for kind in ("torque", "way", "reason", "branch")]
    ids = [p.id for p in chosen]
    file = tmp_path / "quiz.yaml"
    file.write_text(quiz_text(procedure, ids))
    assert points_in(file.read_text()) == tuple(ids)
    quiz = read(file)
    for wrong in (set(), {0}, {1, 3}, {0, 1, 2, 3}):
        answered, said = run_quiz(quiz, chosen, wrong)
        reviews = reviews_of(ids, answered)
        assert [r.right for r in reviews] == [i not in wrong for i in range(4)]
        for i in range(4):
            assert any(chosen[i].tell in text for text in said) == (i in wrong)
        assert sum(text.startswith("Right. ") for text in said) == 4 - len(wrong)


def test_a_broken_off_quiz_counts_only_what_was_finished(points: tuple[LearningPoint, ...]) -> None:
    ids = [p.id for p in points[:3]]
    assert reviews_of(ids, []) == ()
    assert reviews_of(ids, [("ask-0", 5)]) == ()
    assert [r.point for r in reviews_of(ids, [("ask-0", 5), ("ask-1", 6)])] == [ids[0]]
