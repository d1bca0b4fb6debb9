"""All checks in one pass."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from sayso.procedure.checks import (
    actions,
    alike,
    asked_first,
    branches,
    caution_order,
    goes_in_words,
    hazards,
    names,
    never_equal,
    never_holds,
    pictures,
    sentences,
    serials,
    speech,
    units,
)
from sayso.procedure.checks.view import Ear, View
from sayso.procedure.model import Place
from sayso.procedure.problems import Problem, in_file_order
from sayso.procedure.reading import Reading, read_all

_FAMILIES: tuple[Callable[[View], Iterable[Problem]], ...] = (
    branches.find,
    goes_in_words.find,
    names.find,
    never_equal.find,
    never_holds.find,
    caution_order.find,
    hazards.find,
    units.find,
    serials.find,
    sentences.find,
    actions.find,
    speech.find,
    alike.find,
    pictures.find,
    asked_first.find,
)


def check(
    path: str | Path,
    *,
    language: str = "en",
    parameters: Mapping[str, str] | None = None,
    ear: Ear | None = None,
) -> list[Problem]:
    """Every problem of the procedure in `path`, in file order: errors, warnings and hints."""
    return check_reading(read_all(path, language=language, parameters=parameters), ear)


def check_reading(reading: Reading, ear: Ear | None = None) -> list[Problem]:
    """Like `check`, for a file that was read already.

    While some steps cannot be read, what needs the whole procedure (is a step reached, was a caution told
    before) is left out: it would blame steps that are right. All else is told at once.
    """
    if reading.root is None or not reading.steps:
        return reading.problems
    view = View(
        tuple(reading.steps),
        reading.root,
        reading.folder,
        ear,
        whole=not reading.errors,
        unread=reading.unread if reading.all_steps_seen else None,
    )
    found = list(reading.problems)
    for find in _FAMILIES:
        found.extend(_with_folder(problem, reading.folder) for problem in find(view))
    return in_file_order(found)


def _with_folder(problem: Problem, folder: Path) -> Problem:
    if folder == Path():
        return problem
    place = problem.place
    return replace(problem, place=Place(str(folder / place.file), place.line, place.column))
