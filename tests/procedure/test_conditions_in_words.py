"""Conditions on the printed card, in words. What the operators mean: the CEL language definition."""

from pathlib import Path

import pytest

from sayso.procedure.card import card
from sayso.procedure.conditions_in_words import condition_in_words
from sayso.procedure.drawing import dot
from sayso.procedure.reading import read
from tests.procedure.kept import procedure

DEMOS = Path(__file__).parents[2] / "procedures"

ASKED = procedure(
    "- {id: one, say: Measure it., ask: {measure: oil_gap, unit: mm, above: 0}}\n"
    "- {id: two, say: Torque it., ask: {torque: stud, target: 9 N.m, within: 10 %}}\n"
    "- {id: three, say: Look., ask: {choice: hitch, options: [pin, ball]}}\n"
    "- {id: four, say: Is the key out?, ask: {yes_no: key_out}}\n"
    "- {id: five, say: Read the plate., ask: {serial: plate, pattern: '[A-Z]{2}[0-9]{2}'}}\n"
)


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("answers.oil_gap > 1.5", "oil gap is more than 1.5 mm"),
        ("1.5 >= answers.oil_gap", "1.5 mm is at least oil gap"),
        ("answers.stud < 8", "stud is less than 8 N·m"),
        ("answers.stud <= 8 * 1.1", "stud is at most 8 × 1.1"),
        ('answers["hitch"] == "ball"', "hitch is ball"),
        ('answers.hitch != "ball"', "hitch is not ball"),
        ('!(answers.hitch == "ball")', "hitch is not ball"),
        ('answers.hitch in ["pin", "ball"]', "hitch is one of pin, ball"),
        ("answers.key_out", "key out is yes"),
        ("!answers.key_out", "key out is no"),
        ("answers.key_out == false", "key out is no"),
        ("!(answers.oil_gap > 1)", "not (oil gap is more than 1 mm)"),
        ('answers.plate.startsWith("RX")', "plate begins with RX"),
        ("has(answers.plate)", "plate was answered"),
        ('has(answers.plate) && answers.plate.startsWith("RX")', "plate begins with RX"),
        ("answers.oil_gap == -2.0", "oil gap is −2 mm"),
        ('"single" == "double"', "“single” is “double”"),
        ("2.0 * (answers.oil_gap + 1.0) > 3.0", "2 × (oil gap + 1) is more than 3"),
        (
            "answers.key_out || answers.stud > 8 && answers.oil_gap < 1",
            "key out is yes or (stud is more than 8 N·m and oil gap is less than 1 mm)",
        ),
        (
            "[answers.oil_gap, answers.stud].exists(g, g - answers.stud > 0.06)",
            "for any g of oil gap, stud: g - stud is more than 0.06",
        ),
    ],
)
def test_a_condition_in_words(source: str, words: str) -> None:
    assert condition_in_words(source, ASKED) == words


def test_whether_it_was_answered_is_told_where_it_matters() -> None:
    """`b || a` can be true while `a` is missing (CEL's "or" asks for one side), has(a) cannot."""
    words = condition_in_words("has(answers.plate) && (answers.key_out || answers.plate == 'RX01')", ASKED)
    assert words == "plate was answered and (key out is yes or plate is RX01)"


@pytest.mark.parametrize("source", ["answers.key_out ? true : false", 'answers.plate.matches("R.")'])
def test_what_has_no_short_words_is_shown_as_it_is_written(source: str) -> None:
    assert condition_in_words(source, ASKED) == source


@pytest.mark.parametrize("file", sorted(DEMOS.glob("*.yaml")), ids=lambda file: file.stem)
def test_no_card_and_no_drawing_shows_the_language_of_conditions(file: Path) -> None:
    found = read(file)
    shown = card(found) + dot(found)
    for sign in ("answers.", "answers[", "&&", "&amp;&amp;", "||", "has("):
        assert sign not in shown


def test_an_arrow_past_a_step_says_unless_what() -> None:
    drawn = dot(
        procedure(
            "- {id: a, say: Is it heavy?, ask: {yes_no: heavy}}\n"
            "- {id: b, say: Fetch the hoist., when: answers.heavy}\n"
            "- {id: c, say: Lift it.}\n"
        )
    )
    assert '"b" -> "c" [label="unless heavy is yes", style=dotted];' in drawn


def test_the_card_tells_at_which_step_the_answer_stands() -> None:
    page = card(
        procedure(
            "- {id: a, say: Which hitch?, ask: {choice: hitch, options: [pin, ball]}}\n"
            "- {id: b, say: Grease the ball., when: 'answers.hitch == \"ball\"'}\n"
            "- id: c\n  say: Measure the gap.\n  ask: {measure: gap, unit: mm, above: 0}\n"
            "  then: [{if: answers.gap > 2, go: a}, {otherwise: end}]\n"
        )
    )
    assert "Only when hitch is ball (answered at step 1)" in page
    assert "if gap is more than 2 mm &rarr; 1" in page
