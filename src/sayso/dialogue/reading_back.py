"""Read-back: when a value is said back before it counts, and what happens to one that was wrong."""

from __future__ import annotations

from dataclasses import replace

from sayso import answers
from sayso.answers.answer import Answer
from sayso.answers.measure import is_not_known
from sayso.answers.words import UNKNOWN, lowered
from sayso.dialogue import asked, prompts
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Awaiting, Pending, State
from sayso.dialogue.turn import Turn
from sayso.procedure.model import Ask, AskChoice, AskMeasure, AskWitness

#: after this many rejected values the same value heard again is not offered a third time
REJECTIONS = 2

#: "About eight", "should be eight": perhaps nobody counted
_HEDGES = frozenset({"about", "should"})


def is_needed(turn: Turn, answer: Answer, spoken: Spoken) -> bool:
    """Critical, out of limits, unsure, noisy, hedged, easily confused, typed with "?", rejected before,
    or a correction that may mean two things."""
    state = turn.state
    ask = state.step.ask
    no_value = isinstance(ask, AskMeasure) and is_not_known(ask, answer.said)
    return (
        (ask.read_back and not no_value)
        or not answer.within
        or not spoken.sure(state.threshold)
        or spoken.noisy
        or "".join(spoken.words[-1:]).endswith("?")
        or bool(_HEDGES & set(lowered(spoken.words)))
        or bool(state.tries.rejected)
        or answers.confusable(ask, answer)
        or _corrected_unclearly(ask, spoken.words, no_value)
    )


def _corrected_unclearly(ask: Ask, words: tuple[str, ...], no_value: bool) -> bool:
    """ "No good", "good, no oil"; an unknown sound, which is in no answer then; or one that means two things.
    "No idea" (`no_value`) corrects nothing."""
    if not answers.is_correction(words):
        return False
    return (
        isinstance(ask, AskChoice)
        or UNKNOWN in words
        or (not no_value and answers.is_unsure_correction(words))
    )


def begin(turn: Turn, answer: Answer, confidence: float) -> None:
    """Say the value back. A value that was rejected before and is heard again twice leads to spelling."""
    state = turn.state
    if own_witness(turn, answer):  # a correction too, or what the recogniser thought less likely
        turn.update(pending=None, awaiting=asked_before(state))
        return
    rejected = state.tries.rejected
    misheard = answer.value in rejected and not state.heard.typed  # what was typed is what was meant
    if misheard and len(rejected) >= REJECTIONS and not state.tries.spelling:
        turn.update(pending=None, awaiting=asked_before(state), tries=replace(state.tries, spelling=True))
        heard = answers.echo(state.step.ask, answer)
        other_way = prompts.piece_by_piece(state.step.ask)
        turn.say(f"I keep hearing {heard[:1].lower()}{heard[1:]} {other_way}", "no_match")
        return
    spelled = state.tries.spelling or bool(rejected)
    turn.update(awaiting=Awaiting.CONFIRM, pending=Pending(answer, confidence, spelled))
    turn.update(tries=replace(turn.state.tries, no_input=0, no_match=0))
    turn.say(prompts.read_back_text(turn.state), "read_back")


def own_witness(turn: Turn, answer: Answer) -> bool:
    """Says so, and True, where somebody would release at a hold point what they did themselves."""
    state = turn.state
    if not isinstance(state.step.ask, AskWitness) or not asked.has_worked(state, str(answer.value)):
        return False
    turn.say(asked.not_a_second_person(state, "The witness", str(answer.value)), "no_match")
    turn.record("no_match", step=state.visit.step, context="witness is the person at work", count=0)
    return True


def reject(turn: Turn) -> None:
    """The read-back value is wrong: ask again and remember it."""
    forget(turn)
    turn.update(awaiting=asked_before(turn.state))
    turn.say("Again, please.", "question")


def asked_before(state: State) -> Awaiting:
    """After a value outside its limits was confirmed the question is still what to do about it."""
    return Awaiting.ANSWER if state.deviation is None else Awaiting.DEVIATION


def forget(turn: Turn) -> None:
    """Drop the value that was read back, and remember that it was wrong."""
    state = turn.state
    assert state.pending is not None
    value = state.pending.answer.value
    rejected = (*state.tries.rejected, value)
    turn.update(pending=None, tries=replace(state.tries, rejected=rejected, no_input=0, no_match=0))
