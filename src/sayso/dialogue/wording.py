"""How the dialogue words a time, a place in the job, a step's name, a limit: short, for the ear."""

from __future__ import annotations

import re
from datetime import date

from sayso import answers
from sayso.answers import spoken
from sayso.dialogue.several import several
from sayso.dialogue.state import State
from sayso.procedure.model import AskTorque, Caution, Part, Step
from sayso.procedure.wording import listed as listed


def duration(seconds: float) -> str:
    """'4 minutes 20 seconds'; rounded up, so that nobody starts a second too soon."""
    whole = int(-(-seconds // 1))
    hours, rest = divmod(max(whole, 0), 3600)
    minutes, left = divmod(rest, 60)
    parts = [
        f"{count} {name}{'' if count == 1 else 's'}"
        for count, name in ((hours, "hour"), (minutes, "minute"), (left, "second"))
        if count
    ]
    return " ".join(parts) or "0 seconds"


def day(iso: str) -> str:
    """'2027-03-31' as it is said: 31 March 2027."""
    when = date.fromisoformat(iso)
    return f"{when.day} {when:%B %Y}"


def caution_text(caution: Caution) -> str:
    """The signal word first (ANSI Z535.6 signal words)."""
    return f"{caution.level.value.capitalize()}. {caution.say}"


#: What a name that is cut short does not end in: words that lead on, and what stands before them.
_LEADS_ON = re.compile(
    r"([ ,;:]+(a|an|and|at|between|by|for|from|in|into|its|of|on|onto|or|over|that|the|their|to|under|until"
    r"|which|while|with|your))*[ ,;:]*$",
    re.IGNORECASE,
)


def short_name(step: Step, longest: int = 60) -> str:
    """A step named in a few words, to be said in a sentence: the beginning of what it says."""
    first = re.split(r"(?<=[.!?])\s", step.say.strip(), maxsplit=1)[0].rstrip(".!?")
    if not first:
        return step.id.replace("-", " ").replace("_", " ")
    if len(first) <= longest:
        return first
    return _LEADS_ON.sub("", first[:longest].rsplit(" ", 1)[0])


def number_of(state: State) -> tuple[int, int, bool]:
    """(number of this step on the way, steps on the whole way, whether that is certain)."""
    position = state.procedure.position(state.visit.step)
    return state.at + 1, state.at + state.plan.remaining[position], state.plan.certain[position]


UNIT_NAMES = {"N.m": "newton metres", "lbf.ft": "foot pounds", "lbf.in": "inch pounds"}


def place_in_job(state: State) -> str:
    number, of, certain = number_of(state)
    return f"step {number} of {of}" if certain else f"step {number} of {of} at the most"


def spoken_name(answer_name: str) -> str:
    return answer_name.replace("_", " ").replace("-", " ").lower()


def plain_number(value: float) -> str:
    """As few digits as tell the value to a thousandth: 9, 6.64, 0.125."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def part_text(part: Part, language: str = "en") -> str:
    """'three metres of hose', '2 screws', 'hose'."""
    if part.unit:
        return f"{spoken.quantity(part.quantity, part.unit)} of {part.name}"
    name = several(part.name) if language == "en" else part.name
    return part.name if part.quantity == 1 else f"{plain_number(part.quantity)} {name}"


def part_label(part: Part) -> str:
    """For the eye: '60 g of bearing grease', '2 × screw', 'hose'."""
    if part.unit:
        return f"{plain_number(part.quantity)} {part.unit} of {part.name}"
    return part.name if part.quantity == 1 else f"{plain_number(part.quantity)} × {part.name}"


def torque_target(ask: AskTorque, wrench: str) -> str:
    """'Target six point six foot pounds, each of the 2 fasteners.'"""
    each = f", each of the {ask.fasteners} fasteners" if ask.fasteners > 1 else ""
    return f"Target {answers.torque_target(ask, wrench)}{each}."
