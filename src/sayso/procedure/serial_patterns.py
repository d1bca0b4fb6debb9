"""Which serials fit a pattern: worked out on the finite automaton of the regular expression (greenery)."""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

#: Longest serial that anybody would spell aloud.
LONGEST = 40

#: Beside letters and digits: what is said ("dash", "slash", "point") or may be left unsaid.
_MARKS = "-/. _"


@dataclass(frozen=True, slots=True)
class Serials:
    """What serials of capital letters, digits and marks between them fit a pattern.

    `unsayable`: none at all. `impossible`: prefixes that no serial starts with. `examples`: for each
    possible prefix one serial. `uncovered`: a serial that starts with none of the prefixes, if there is one.
    """

    unsayable: bool
    impossible: tuple[str, ...]
    examples: tuple[tuple[str, str], ...]
    uncovered: str | None


#: How often the thing before it may come: {2}, {2,}, {2,4}.
_REPEAT = re.compile(r"\{\d*(,\d*)?\}")


def left_open(pattern: str) -> str:
    """What is not closed, or closes nothing, in a pattern that Python's engine takes all the same:
    it reads '[A-Z{2}[0-9]' as one list and '{2' as a brace to be spoken. '' when all is closed."""
    at, list_open = 0, False
    while at < len(pattern):
        sign = pattern[at]
        if sign == "\\":
            at += 2
            continue
        if list_open and sign in "[{}":
            return f"the '[' is not closed before the '{sign}'"
        if not list_open:
            repeat = _REPEAT.match(pattern, at)
            if repeat is not None:
                at = repeat.end()
                continue
            if sign == "{":
                return "the '{' is not closed"
            if sign in "]}":
                return f"the '{sign}' closes nothing"
        list_open = sign == "[" or (list_open and sign != "]")
        at += 1
    return ""


@lru_cache(maxsize=256)
def look(pattern: str | None, prefixes: tuple[str, ...] = ()) -> Serials | None:
    """The serials of `pattern` (None: any). None when the pattern is too complicated to be worked out."""
    pattern = pattern if pattern is not None else "[A-Z0-9]{4,12}"
    if len(pattern) > 200 or _size(pattern) > 200 or re.search(r"\(\?|\\[bBAZ1-9]", pattern):
        return None
    try:
        import greenery

        spoken = greenery.parse(rf"[A-Z0-9\-/._ ]{{1,{LONGEST}}}").to_fsm()
        # nobody reads out a serial that is nothing but marks
        serials = greenery.parse(pattern).to_fsm() & spoken & greenery.parse(".*[A-Z0-9].*").to_fsm()
        impossible: list[str] = []
        examples: list[tuple[str, str]] = []
        rest = serials
        for prefix in prefixes:
            start = greenery.parse(re.sub(r"(\W)", r"\\\1", prefix) + ".*").to_fsm()
            example = _shortest(rest & start)
            if example is not None:
                examples.append((prefix, example))
            elif (serials & start).empty():
                impossible.append(prefix)
            rest = rest - start
        return Serials(serials.empty(), tuple(impossible), tuple(examples), _shortest(rest))
    except Exception:  # greenery raises many kinds for the syntax that it does not know
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
    for letter in f"AXZ0123456789BCDEFGHIJKLMNOPQRSTUVWY{_MARKS}":
        if symbols.accepts(letter):
            return letter
    return ""
