"""More than one action in a step: the second one is done from memory, or not at all."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.checks.words_of_work import ACTIONS, sentences, words
from sayso.procedure.problems import Problem

#: Where a clause with a verb of its own may begin.
_JOINS = re.compile(r",\s*(?:and\s+|then\s+)*|\s+and\s+then\s+|\s+and\s+|\s+then\s+", re.IGNORECASE)

_OBJECT = frozenset(
    (
        "a",
        "an",
        "the",
        "it",
        "them",
        "its",
        "your",
        "this",
        "that",
        "these",
        "those",
        "all",
        "both",
        "each",
        "one",
        "two",
    )
)

#: What is read off, and the acts that may be told again because they are the reading.
_TAKEN_AFTER_A_WAIT = frozenset(("measure", "count", "serial", "time"))
_TAKES_A_READING = frozenset(("measure", "count", "read", "check", "look", "watch", "hold"))


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        found = actions(one.step.say)
        if len(found) > 1:
            yield view.problem(
                one,
                ("say",),
                f"{len(found)} actions in one step ({_first_few(found)})",
                "make a step of each; 'wait' and 'ask' need no words in 'say'",
                "warning",
                "actions",
            )
        step = one.step
        told_again = step.wait_s > 0 and not step.question and step.ask.kind in _TAKEN_AFTER_A_WAIT
        if told_again and found and found[0] not in _TAKES_A_READING:
            yield view.problem(
                one,
                ("wait",),
                f"when the time is up the step is told again, as if to {found[0]} once more",
                "give 'ask' a 'question: ...', which is asked then instead",
                "hint",
                "actions",
            )


def _first_few(verbs: list[str]) -> str:
    """A whole chapter pasted into one step names its first acts, no page of them."""
    return ", ".join([*verbs[:6], *(["..."] if len(verbs) > 6 else [])])


def actions(text: str) -> list[str]:
    """The verbs of `text` that start an instruction: 'Lift the cover and unplug the fan.' has two."""
    found: list[str] = []
    for sentence in sentences(text):
        if sentence.rstrip().endswith("?"):
            continue  # a question asks, it does not instruct
        clauses = _JOINS.split(sentence)
        for number, clause in enumerate(clauses):
            said = words(clause.lower())
            if said[:1] == ["then"]:
                said = said[1:]
            # Most verbs are nouns too ('your lock and tag'): an object must follow.
            if len(said) > 1 and said[0] in ACTIONS and (number == 0 or said[1] in _OBJECT):
                found.append(said[0])
    return found
