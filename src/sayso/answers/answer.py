"""What an answer is once understood, and the four questions every kind of answer can reply to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal


@dataclass(frozen=True, slots=True)
class Answer:
    """A value as recorded: JSON-ready, with what was said kept beside it.

    value:  bool (yes_no), int (count), float (measure, torque: in the question's own unit / N.m),
            str (choice value, serial, time 'HH:MM', witness name, note id), True for done.
    unit:   unit of `value` ('' when it has none).
    said:   the words that gave it.
    said_value / said_unit: the number in the unit that was spoken, when it differs from `unit`.
    within: False when a measured value or torque lies outside its limits (a deviation).
    """

    kind: str
    value: bool | int | float | str
    unit: str = ""
    said: tuple[str, ...] = ()
    said_value: float | None = None
    said_unit: str = ""
    within: bool = True

    def as_json(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "value": self.value,
            "unit": self.unit,
            "said": " ".join(self.said),
            "said_value": self.said_value,
            "said_unit": self.said_unit,
            "within": self.within,
        }


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Why words are no legal answer. `say` is what to tell the technician (may be '').

    reason: 'no_match' not an answer at all; 'incomplete' more words are needed; 'out_of_range' a value
    that cannot be (count outside low..high, implausible measure); 'pattern' a serial that does not fit;
    'ambiguous' two values have this reading (`choices` holds both).
    """

    reason: Literal["no_match", "incomplete", "out_of_range", "pattern", "ambiguous"]
    say: str = ""
    choices: tuple[Answer, ...] = ()


@dataclass(frozen=True, slots=True)
class Completeness:
    """For endpointing on partial results: may these words be a whole answer, and could it go on?"""

    complete: bool
    can_grow: bool
