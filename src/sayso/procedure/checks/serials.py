"""Serial patterns and the prefixes that are branched on: do they cover each other?

The pattern is turned into a finite automaton (greenery), so the answer is exact and an example is shown.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from sayso.procedure.checks.view import View
from sayso.procedure.model import AskSerial
from sayso.procedure.problems import Problem

_CHECK = "serials"
_LONGEST = 40


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        ask = one.step.ask
        if not isinstance(ask, AskSerial):
            continue
        prefixes = tuple(case.when for case in one.step.then.cases if not case.is_condition)
        if ask.pattern is None:
            if prefixes and one.step.then.otherwise is None and not one.step.ends:
                yield view.problem(
                    one,
                    ("then",),
                    "a serial with another beginning leads nowhere",
                    "add 'otherwise: step-id'",
                    "error",
                    _CHECK,
                )
            continue
        found = _look(ask.pattern, prefixes)
        if found is None:
            yield view.problem(
                one,
                ("ask", "pattern"),
                f"the pattern '{ask.pattern}' is too complicated to be checked",
                "use letters, digits, [..], (..|..), ? and {n}",
                "hint",
                _CHECK,
            )
            continue
        unsayable, impossible, uncovered = found
        if unsayable:
            yield view.problem(
                one,
                ("ask", "pattern"),
                f"no serial of capital letters and digits fits '{ask.pattern}'",
                'write capital letters and digits, as "[A-Z]{2}[0-9]{6}"',
                "error",
                _CHECK,
            )
            continue
        if prefixes and uncovered is None and one.step.then.otherwise is not None:
            yield view.problem(
                one,
                ("then", "otherwise"),
                f"every serial that fits '{ask.pattern}' has a branch: 'otherwise' never happens",
                "remove it, or let the pattern allow other beginnings",
                "warning",
                _CHECK,
            )
        for prefix in impossible:
            yield view.problem(
                one,
                ("then", prefix),
                f"no serial that fits '{ask.pattern}' starts with '{prefix}'",
                "write a beginning that fits, or change the pattern",
                "error",
                _CHECK,
            )
        if prefixes and uncovered is not None and one.step.then.otherwise is None and not one.step.ends:
            yield view.problem(
                one,
                ("then",),
                f"no branch for a serial such as '{uncovered}'",
                "add its beginning, or 'otherwise: step-id'",
                "error",
                _CHECK,
            )


@lru_cache(maxsize=256)
def _look(pattern: str, prefixes: tuple[str, ...]) -> tuple[bool, tuple[str, ...], str | None] | None:
    """(cannot be spoken, prefixes that no serial has, a serial without a prefix); None: too complicated."""
    if len(pattern) > 200 or _size(pattern) > 200 or re.search(r"\(\?|\\[bBAZ1-9]", pattern):
        return None
    try:
        import greenery

        serials = greenery.parse(pattern).to_fsm()
        spoken = greenery.parse(f"[A-Z0-9]{{1,{_LONGEST}}}").to_fsm()
        serials = serials & spoken
        starts = {
            prefix: greenery.parse(re.sub(r"(\W)", r"\\\1", prefix) + ".*").to_fsm() for prefix in prefixes
        }
        impossible = tuple(prefix for prefix, start in starts.items() if (serials & start).empty())
        rest = serials
        for start in starts.values():
            rest = rest - start
        return serials.empty(), impossible, _shortest(rest)
    except (ValueError, KeyError, IndexError, TypeError, RecursionError, NotImplementedError):
        return None


def _size(pattern: str) -> int:
    """How large the automaton may get: the repeats multiplied where nested, roughly."""
    size = len(pattern)
    for number in re.findall(r"\{(?:\d*,)?(\d+)\}", pattern):
        size += int(number)
    nested = len(re.findall(r"\}\)*\)\s*\{", pattern))
    return size * (50 if nested else 1)


def _shortest(fsm: Any) -> str | None:
    """A shortest text that the automaton accepts, letters and digits preferred; None when there is none."""
    queue: deque[tuple[Any, str]] = deque([(fsm.initial, "")])
    seen = {fsm.initial}
    while queue:
        state, text = queue.popleft()
        if state in fsm.finals:
            return text
        for symbols, target in fsm.map.get(state, {}).items():
            if target not in seen and fsm.islive(target):
                letter = _letter(symbols)
                if letter:
                    seen.add(target)
                    queue.append((target, text + letter))
    return None


def _letter(symbols: Any) -> str:
    for letter in "AXZ0123456789BCDEFGHIJKLMNOPQRSTUVWY":
        if symbols.accepts(letter):
            return letter
    return ""
