"""One door to all kinds of answer: the same questions for each, sent to the kind's own file.

`wrench` is the torque unit of the wrench in hand ('N.m', 'lbf.ft', 'lbf.in'); only torque uses it.
`witnesses` are (spoken code, name) pairs of the shop; only witness uses them.
All functions are pure and never raise for any words; grammars are cached per question.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

from sayso.answers import (
    choice,
    count,
    done,
    measure,
    note,
    serial,
    time_of_day,
    torque,
    witness,
    yes_no,
)
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.words import sentence
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTime,
    AskTorque,
    AskWitness,
    AskYesNo,
)

Witnesses = Sequence[tuple[str, str]]


def phrases(ask: Ask, *, wrench: str = "N.m", witnesses: Witnesses = ()) -> tuple[str, ...]:
    """The words and phrases of the recogniser's grammar for this question: answers only, at most 400.

    Lower case, a to z and apostrophe. No control words, no correction words (`CORRECTION_PHRASES`), no
    [unk]. Numbers that are not legal but sound like legal ones are in, so that `understand` can refuse them.
    """
    match ask:
        case AskDone():
            return done.phrases(ask)
        case AskYesNo():
            return yes_no.phrases(ask)
        case AskChoice():
            return choice.phrases(ask)
        case AskCount():
            return count.phrases(ask)
        case AskMeasure():
            return measure.phrases(ask)
        case AskTorque():
            return torque.phrases(ask, wrench)
        case AskSerial():
            return serial.phrases(ask)
        case AskTime():
            return time_of_day.phrases(ask)
        case AskNote():
            return note.phrases(ask)
        case AskWitness():
            return witness.phrases(ask, witnesses)
        case _:
            assert_never(ask)


def understand(
    ask: Ask, words: Sequence[str], *, wrench: str = "N.m", witnesses: Witnesses = ()
) -> Answer | NotUnderstood:
    """What the words mean as an answer to `ask`; spoken words and typed text alike. Never raises.

    Control words and corrections must be taken out before (`split_correction`). A value outside a
    measure's or torque's limits is an Answer with `within=False`; one that cannot be is NotUnderstood.
    """
    match ask:
        case AskDone():
            return done.understand(ask, words)
        case AskYesNo():
            return yes_no.understand(ask, words)
        case AskChoice():
            return choice.understand(ask, words)
        case AskCount():
            return count.understand(ask, words)
        case AskMeasure():
            return measure.understand(ask, words)
        case AskTorque():
            return torque.understand(ask, words, wrench)
        case AskSerial():
            return serial.understand(ask, words)
        case AskTime():
            return time_of_day.understand(ask, words)
        case AskNote():
            return note.understand(ask, words)
        case AskWitness():
            return witness.understand(ask, words, witnesses)
        case _:
            assert_never(ask)


def completeness(
    ask: Ask, words: Sequence[str], *, wrench: str = "N.m", witnesses: Witnesses = ()
) -> Completeness:
    """For the endpointer, on a partial result: are these words a whole answer, and could they go on?

    (True, False): end at once; (True, True): wait a little; (False, True): wait longer; (False, False):
    nothing legal can come of it.
    """
    match ask:
        case AskDone():
            return done.completeness(ask, words)
        case AskYesNo():
            return yes_no.completeness(ask, words)
        case AskChoice():
            return choice.completeness(ask, words)
        case AskCount():
            return count.completeness(ask, words)
        case AskMeasure():
            return measure.completeness(ask, words)
        case AskTorque():
            return torque.completeness(ask, words, wrench)
        case AskSerial():
            return serial.completeness(ask, words)
        case AskTime():
            return time_of_day.completeness(ask, words)
        case AskNote():
            return note.completeness(ask, words)
        case AskWitness():
            return witness.completeness(ask, words, witnesses)
        case _:
            assert_never(ask)


def spoken_value(ask: Ask, answer: Answer, *, spell: bool = False) -> str:
    """The value alone as sayso says it, no full stop: "fifteen, one five", "kilo delta, one two three"."""
    match ask:
        case AskDone():
            return done.spoken_value(ask, answer)
        case AskYesNo():
            return yes_no.spoken_value(ask, answer)
        case AskChoice():
            return choice.spoken_value(ask, answer)
        case AskCount():
            return count.spoken_value(ask, answer)
        case AskMeasure():
            return measure.spoken_value(ask, answer)
        case AskTorque():
            return torque.spoken_value(ask, answer)
        case AskSerial():
            return serial.spoken_value(ask, answer, spell=spell)
        case AskTime():
            return time_of_day.spoken_value(ask, answer)
        case AskNote():
            return note.spoken_value(ask, answer)
        case AskWitness():
            return witness.spoken_value(ask, answer)
        case _:
            assert_never(ask)


def read_back(ask: Ask, answer: Answer, *, spell: bool = False) -> str:
    """What sayso says to have an answer confirmed: "Nine newton metres. Yes?".

    Two different values never have the same read-back. A value outside its limits is said to be so.
    """
    value = spoken_value(ask, answer, spell=spell)
    outside = deviation(ask, answer)
    return f"{sentence(f'{value}, {outside}' if outside else value)} Yes?"


def offer(ask: Ask, answer: Answer) -> str:
    """What sayso says when it only guesses: "Did I hear nine newton metres?" """
    value = spoken_value(ask, answer)
    outside = deviation(ask, answer)
    return f"Did I hear {value}, {outside}?" if outside else f"Did I hear {value}?"


def echo(ask: Ask, answer: Answer) -> str:
    """The short echo of an answer that needs no confirmation: "Twelve." """
    match ask:
        case AskCount():
            return sentence(count.spoken_value(ask, answer, careful=False))
        case AskMeasure():
            return sentence(measure.spoken_value(ask, answer, careful=False))
        case AskTorque():
            return sentence(torque.spoken_value(ask, answer, careful=False))
        case _:
            return sentence(spoken_value(ask, answer))


def deviation(ask: Ask, answer: Answer, *, wrench: str = "") -> str:
    """A clause that says which limit a value broke, "above the limit of five volts"; '' when inside."""
    match ask:
        case AskMeasure():
            return measure.deviation(ask, answer)
        case AskTorque():
            return torque.deviation(ask, answer, wrench)
        case _:
            return ""


def choices(ask: Ask, *, wrench: str = "N.m", witnesses: Witnesses = ()) -> str:
    """One sentence that tells what may be answered: "You can say a number from six to fourteen." """
    match ask:
        case AskDone():
            return done.choices(ask)
        case AskYesNo():
            return yes_no.choices(ask)
        case AskChoice():
            return choice.choices(ask)
        case AskCount():
            return count.choices(ask)
        case AskMeasure():
            return measure.choices(ask)
        case AskTorque():
            return torque.choices(ask, wrench)
        case AskSerial():
            return serial.choices(ask)
        case AskTime():
            return time_of_day.choices(ask)
        case AskNote():
            return note.choices(ask)
        case AskWitness():
            return witness.choices(ask, witnesses)
        case _:
            assert_never(ask)


def confusable(ask: Ask, answer: Answer) -> bool:
    """True when this answer may be another one misheard: read it back whatever its confidence."""
    match ask:
        case AskDone():
            return done.confusable(ask, answer)
        case AskYesNo():
            return yes_no.confusable(ask, answer)
        case AskChoice():
            return choice.confusable(ask, answer)
        case AskCount():
            return count.confusable(ask, answer)
        case AskMeasure():
            return measure.confusable(ask, answer)
        case AskTorque():
            return torque.confusable(ask, answer)
        case AskSerial():
            return serial.confusable(ask, answer)
        case AskTime():
            return time_of_day.confusable(ask, answer)
        case AskNote():
            return note.confusable(ask, answer)
        case AskWitness():
            return witness.confusable(ask, answer)
        case _:
            assert_never(ask)
