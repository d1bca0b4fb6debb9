"""Words that cannot be spoken or heard as they are written."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from sayso.plain_letters import plain_letters
from sayso.procedure.checks.view import View
from sayso.procedure.model import AskChoice
from sayso.procedure.problems import Problem

_CHECK = "speech"

#: Written forms that a voice reads wrongly -> what to write.
_UNITS_WRITTEN = (
    (re.compile(r"\bN[.·*]?m\b"), "newton metres"),
    (re.compile(r"\blbf?[.·*-]?(ft|in)\b|\b(ft|in)[.·*-]?lbf?\b"), "foot pounds or inch pounds"),
    (re.compile(r"\d+\s?(mm|kPa|psi|km/h|mph|kg|Ah|kWh|mA|kV)\b"), "the unit in words"),
    (re.compile(r"\d+\s?[VA]\b"), "volts or amps"),
    (re.compile(r"\d+\s?°|°\s?C"), "degrees"),
)
_READABLE = frozenset("'’-–,.;:?!()/\"“”%+&…")


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        step = one.step
        texts: list[tuple[tuple[str | int, ...], str]] = [
            (("say",), step.say),
            (("brief",), step.brief),
            (("ask", "question"), step.question),
            (("why",), step.why),
            (("hint",), step.hint),
            *((("caution", n, "say"), caution.say) for n, caution in enumerate(step.cautions)),
        ]
        for path, text in texts:
            if not text:
                continue
            for pattern, words in _UNITS_WRITTEN:
                match = pattern.search(text)
                if match:
                    yield view.problem(
                        one,
                        path,
                        f"'{match.group().strip()}' is written, not said",
                        f"write {words}",
                        "warning",
                        _CHECK,
                    )
            odd = sorted(
                {c for c in text if not (c.isalnum() or c.isspace() or c in _READABLE or _is_mark(c))}
            )
            if odd:
                yield view.problem(
                    one, path, f"the voice cannot say {' '.join(odd)}", "write it in words", "warning", _CHECK
                )
        if isinstance(step.ask, AskChoice):
            for option in step.ask.options:
                path = ("ask", "options", option.value)
                for phrase in option.words:
                    if re.search(r"[^a-z_\s'’-]", plain_letters(phrase)):
                        yield view.problem(
                            one,
                            path,
                            f"'{phrase}' cannot be heard as it is written",
                            "write the words that are said, as 'twenty to one'",
                            "error",
                            _CHECK,
                        )
                    elif view.ear is not None:
                        guessed = view.ear.guessed(phrase)
                        if guessed:
                            yield view.problem(
                                one,
                                path,
                                f"how '{', '.join(guessed)}' is said is guessed from its spelling",
                                "say how under 'words:' at the top, or use another word",
                                "warning",
                                _CHECK,
                            )


def _is_mark(character: str) -> bool:
    return unicodedata.category(character).startswith("M")
