"""What is wrong with a procedure file, said so that the lead hand can put it right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rapidfuzz import fuzz, process

from sayso.procedure.model import Place

Severity = Literal["error", "warning", "hint"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to put right: where it stands, what is wrong, what to write instead.

    error: the procedure cannot be run; warning: it runs, and may mislead somebody; hint: could be better.
    `check` names the family that found it.
    """

    place: Place
    what: str
    write: str
    severity: Severity = "error"
    check: str = "reading"

    def __str__(self) -> str:
        kind = "" if self.severity == "error" else f"{self.severity}: "
        return f"{self.place}: {kind}{self.what}; {self.write}"


class ProcedureError(Exception):
    """A procedure that cannot be run. `problems` holds every error found, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def in_file_order(problems: Iterable[Problem]) -> list[Problem]:
    """Problems without repeats (a loop finds the same one in each round), by file and line."""
    first: dict[tuple[Place, str], Problem] = {}
    for problem in problems:
        first.setdefault((problem.place, problem.what), problem)
    return sorted(first.values(), key=lambda p: (p.place.file, p.place.line, p.place.column))


def did_you_mean(word: str, known: Iterable[str], at_least: int = 60) -> str:
    """The known word nearest to `word`, or '' when none is near."""
    found = process.extractOne(
        word, list(known), scorer=fuzz.ratio, processor=str.casefold, score_cutoff=at_least
    )
    return str(found[0]) if found else ""


def write_one_of(word: str, known: Iterable[str]) -> str:
    """'write "sayso"' when one is near, else the list of what is allowed."""
    # The names of a set come in another order each time the program runs.
    names = sorted(known) if isinstance(known, set | frozenset) else list(known)
    near = did_you_mean(word, names)
    if near:
        return f"write '{near}'"
    if not names:
        return "remove it"
    shown = ", ".join(names[:12]) + (", ..." if len(names) > 12 else "")
    return f"write one of: {shown}"
