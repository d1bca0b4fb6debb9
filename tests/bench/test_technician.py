"""The scripted technician answers what was asked, or the bench counts turns that nobody would take."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from sayso.bench.technician import Reply, Technician, Turn

SCRIPT = (
    Reply(r"^eight\..*yes\?$", "yes", times=99),
    Reply(r"yes\?$", "no", times=99),
    Reply("count the pins", "eight", times=99),
)


class Quiet:
    """A program that says nothing; what is typed is kept."""

    def __init__(self) -> None:
        self.running = True
        self.typed: list[str] = []
        self.waited: list[float] = []

    def type(self, words: str) -> None:
        self.typed.append(words)
        self.running = False

    def wait_for(self, _: object, seconds: float, __: int) -> None:
        self.waited.append(seconds)


def technician(monkeypatch: pytest.MonkeyPatch, **more: Any) -> tuple[Technician, list[str]]:
    said: list[str] = []
    nothing: Any = SimpleNamespace()
    made = Technician(
        nothing, more.pop("program", SimpleNamespace(running=True)), nothing, nothing, nothing, **more
    )

    def say(text: str) -> Turn:
        said.append(text)
        made.turns.append(Turn("", text, 0.0, 0.0))
        return made.turns[-1]

    monkeypatch.setattr(made, "say", say)
    return made, said


def answers(monkeypatch: pytest.MonkeyPatch, *prompts: str) -> list[str]:
    made, said = technician(monkeypatch)
    for prompt in prompts:
        made._answer(prompt, SCRIPT, dict.fromkeys(range(len(SCRIPT)), 99))
    return said


def test_who_is_asked_for_yes_or_no_says_it_again_and_not_the_value(monkeypatch: pytest.MonkeyPatch) -> None:
    prompts = ("Count the pins.", "Eight. Yes?", "Say yes, or no and the right value.", "Use the keys.")
    assert answers(monkeypatch, *prompts) == ["eight", "yes", "yes", "yes"]


def test_after_a_no_the_question_is_answered_again(monkeypatch: pytest.MonkeyPatch) -> None:
    prompts = ("Count the pins.", "Nine. Yes?", "Again, please.", "Eight. Yes?")
    assert answers(monkeypatch, *prompts) == ["eight", "no", "eight", "yes"]


def test_who_said_yes_and_was_heard_to_say_no_answers_the_question_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    prompts = ("Count the pins.", "Eight. Yes?", "Again, please.", "How many?", "Use the keys.")
    assert answers(monkeypatch, *prompts) == ["eight", "yes", "eight", "eight", "eight"]


def test_the_last_try_gets_its_time_before_the_keys_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    program: Any = Quiet()
    made, said = technician(monkeypatch, program=program, uses_keys=True, patience_s=(4.0, 4.0))
    made.say("eight")
    made._wait_for_words(0, 1e9)
    assert said == ["eight"] * 3
    assert program.waited[:3] == [4.0] * 3
    assert program.typed == ["eight"]
