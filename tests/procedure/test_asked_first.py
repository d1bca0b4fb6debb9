"""`predict` in a procedure file: what is asked of a learner before a step is told, and where it never is."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.dialogue.step_questions import questions_of
from sayso.procedure import check, read

HEAD = "procedure: nut\ntitle: Nut\nrevision: 1\ndefers_to: The maker's manual comes first.\n"
STEP = """\
  - id: seat
    say: Torque the castle nut.
    ask: {torque: seat, target: 40 N.m, within: 10 %}
"""
WAY = "    predict: {question: Which way does it turn?, right: clockwise, wrong: [counter clockwise]}\n"


def file_with(folder: Path, steps: str, head: str = HEAD) -> Path:
    file = folder / "nut.yaml"
    file.write_text(f"{head}steps:\n{steps}")
    return file


def asked(file: Path) -> list[str]:
    return [question.text for of_step in questions_of(read(file)) for question in of_step]


def test_a_torque_is_asked_without_a_word_in_the_file(tmp_path: Path) -> None:
    assert asked(file_with(tmp_path, STEP)) == ["Torque the castle nut: to what torque?"]


def test_a_question_of_its_own_comes_first(tmp_path: Path) -> None:
    assert asked(file_with(tmp_path, STEP + WAY)) == ["Which way does it turn?", "And to what torque?"]


def test_a_step_or_the_whole_procedure_may_leave_it_out(tmp_path: Path) -> None:
    assert asked(file_with(tmp_path, STEP + "    predict: false\n")) == []
    assert asked(file_with(tmp_path, STEP + WAY, HEAD + "predict: false\n")) == []


@pytest.mark.parametrize(
    ("more", "what"),
    [
        (
            "    caution: {level: notice, say: The thread strips.}\n    predict: true\n",
            "nothing is asked before this step is told: it carries a caution",
        ),
        (
            "    predict: {question: Which way?, right: clockwise, wrong: [Clockwise]}\n",
            "'clockwise' is among the wrong answers, or one of them comes twice",
        ),
    ],
)
def test_a_question_that_can_never_be_asked_is_told_with_its_line(
    tmp_path: Path, more: str, what: str
) -> None:
    found = [p for p in check(file_with(tmp_path, STEP + more)) if p.severity == "error"]
    assert [p.what for p in found] == [what]
    assert found[0].place.line == 6 + STEP.count("\n") + more.count("\n") - 1


def test_nothing_to_ask_is_told(tmp_path: Path) -> None:
    found = check(file_with(tmp_path, "  - id: look\n    say: Look at it.\n    predict: true\n"))
    assert any("there is nothing to ask before telling" in p.what for p in found)


def test_a_misspelt_key_is_told_with_the_keys_that_there_are(tmp_path: Path) -> None:
    wrong = WAY.replace("right:", "rigth:")
    found = check(file_with(tmp_path, STEP + wrong))
    assert any("'rigth' is not known here" in p.what and "right" in p.write for p in found)
