"""Sentences that are too long to be kept in mind when heard.

20 words for an instruction or a caution, 25 for a description: ASD-STE100, rules on procedures and on
descriptions, known second hand.
"""

from __future__ import annotations

from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.checks.words_of_work import sentences, words
from sayso.procedure.problems import Problem

_CHECK = "sentences"
INSTRUCTION = 20
DESCRIPTION = 25


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        step = one.step
        texts: list[tuple[tuple[str | int, ...], str, int]] = [
            (("say",), step.say, INSTRUCTION),
            (("brief",), step.brief, INSTRUCTION),
            (("ask", "question"), step.question, INSTRUCTION),
            (("why",), step.why, DESCRIPTION),
            (("hint",), step.hint, DESCRIPTION),
        ]
        texts += [
            (("caution", n, "say"), caution.say, INSTRUCTION) for n, caution in enumerate(step.cautions)
        ]
        texts += [(("mistakes", n), mistake, DESCRIPTION) for n, mistake in enumerate(step.mistakes)]
        for path, text, limit in texts:
            if len(text) < 2 * limit:
                continue
            for sentence in sentences(text):
                count = len(words(sentence))
                if count > limit:
                    kind = "an instruction" if limit == INSTRUCTION else "a description"
                    yield view.problem(
                        one,
                        path,
                        f"{kind} of {count} words ('{_short(sentence)}')",
                        f"say it in at most {limit} words, or in two sentences",
                        "warning",
                        _CHECK,
                    )
        paragraph = len(sentences(step.say))
        if paragraph > 3:
            yield view.problem(
                one, ("say",), f"{paragraph} sentences in one step", "make two steps of it", "warning", _CHECK
            )


def _short(sentence: str) -> str:
    listed = sentence.split()
    return " ".join(listed[:5]) + " ..." if len(listed) > 5 else sentence
