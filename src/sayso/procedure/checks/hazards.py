"""Steps that speak of a hazard while no caution has been told: a hint, because only a person can judge it."""

from __future__ import annotations

from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.checks.words_of_work import HAZARDS, words
from sayso.procedure.problems import Problem


def find(view: View) -> Iterator[Problem]:
    if not view.whole:  # what was told before may stand in what could not be read
        return
    told: set[str] = set()
    for one in view.steps:
        cautioned = {word for caution in one.step.cautions for word in words(caution.say.lower())}
        said = set(words(one.step.say.lower()))
        for hazard, (calls, covers) in HAZARDS.items():
            if cautioned & covers:
                told.add(hazard)
            elif hazard not in told and said & calls:
                told.add(hazard)  # one hint a family is enough
                yield view.problem(
                    one,
                    ("say",),
                    f"the step speaks of '{min(said & calls)}', no caution about {hazard} came before",
                    "add 'caution: {level: ..., say: ...}' if it can hurt somebody",
                    "hint",
                    "hazards",
                )
    if view.root.get("defers_to") is None:
        yield Problem(
            view.root.place,
            "nothing says what comes before this procedure",
            "add 'defers_to: The maker's manual, local codes and licensed practice come first.'",
            "hint",
            "hazards",
        )
