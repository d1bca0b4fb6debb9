"""What is tried to measure mishearing: the grammar of a real job, and each thing said often enough."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from sayso.answers.denials import DENIALS
from sayso.answers.number_words import ways
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.speech_model import find_model
from sayso.procedure import read
from sayso.rehearsal.misheard import ENOUGH
from sayso.rehearsal.questions_heard import Question, questions
from sayso.rehearsal.trials import CONDITIONS, model_hash
from sayso.rehearsal.trials import read as read_trials
from sayso.rehearsal.trying import MOST_QUESTIONS, tried_at

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def asked() -> list[Question]:
    procedures = [read(file) for file in sorted((ROOT / "procedures").glob("*.yaml"))]
    return questions(procedures, model_lexicon(find_model(None)))


def test_the_ear_of_a_trial_knows_denied_orders_as_that_of_a_job_does(asked: list[Question]) -> None:
    of = {question.key: question.grammar for question in asked}
    assert {f"{denial} done" for denial in DENIALS} <= set(of["answer done"].decoys)
    assert "don't stop" in of["answer count 4..16"].decoys


def test_at_a_read_back_a_correction_in_one_breath_is_in_the_grammar_that_is_tried(
    asked: list[Question],
) -> None:
    confirm = next(question for question in asked if question.key == "confirm count")
    assert {"yes", "no", "no four"} <= set(confirm.grammar.phrases)


def test_everything_said_is_tried_and_what_is_said_everywhere_at_a_few_questions(
    asked: list[Question],
) -> None:
    chosen = tried_at(asked)
    times = Counter(
        (q.key.split()[0], phrase) for q, tried in zip(asked, chosen, strict=True) for phrase in tried
    )
    assert set(times) == {(q.key.split()[0], phrase) for q in asked for phrase in q.said}
    assert max(times.values()) == MOST_QUESTIONS
    assert times["confirm", "yes"] == MOST_QUESTIONS
    assert chosen == tried_at(asked)


def test_the_shipped_trials_are_of_the_shipped_model_and_of_every_question(asked: list[Question]) -> None:
    trials = read_trials(ROOT / "models" / "shop-english" / "trials.json")
    assert trials.model == model_hash(ROOT / "models" / "shop-english")
    for condition in CONDITIONS:
        made = Counter((t.question, t.said) for t in trials.tries[condition])
        missing = [
            (q.key, phrase)
            for q, tried in zip(asked, tried_at(asked), strict=True)
            for phrase in tried
            if made[q.key, phrase] < ENOUGH
        ]
        assert not missing, condition


def test_every_word_of_a_torque_or_a_measure_is_tried_somewhere(asked: list[Question]) -> None:
    """What was never tried counts as never understood in the simulation, which says nothing of the model."""
    tried = {word for question in asked for phrase in question.said for word in phrase.split()}
    numbers = {word for number in (*range(20), *range(20, 100, 10)) for word in ways(number)[0]}
    words = {
        *numbers,
        "hundred",
        "thousand",
        "point",
        "foot",
        "inch",
        "pounds",
        "newton",
        "metres",
        "clicked",
    }
    assert words <= tried
