"""Holding a job and carrying on: a break, a lost microphone, a program that was started again.

While a job is on hold only the wake phrases act, so that talk to a colleague does not drive it.
"""

from __future__ import annotations

from collections.abc import Sequence

from sayso import answers
from sayso.dialogue import (
    asking,
    control_words,
    guidance,
    handing_over,
    prompts,
    telling,
    tools_in_hand,
    waiting,
    wording,
)
from sayso.dialogue.control_words import Control
from sayso.dialogue.effects import StopListening
from sayso.dialogue.events import ToolInHand
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Aside, Awaiting
from sayso.dialogue.turn import Turn

HELD = "On hold. Say carry on, or okay sayso."


def hold(turn: Turn, why: str = "") -> None:
    turn.update(held=True)
    guidance.interrupted(turn)
    turn.record("hold", **_step(turn), why=why)
    turn.say(f"{why} {HELD}" if why else HELD, "reply")


def heard_on_hold(turn: Turn, spoken: Spoken) -> bool:
    """True when the words were a wake phrase. Other talk leaves no trace at all; a typed line is meant for
    sayso, and whoever typed a value must not take it for recorded."""
    control = control_words.match_wake(spoken.words)
    if control is None and spoken.typed and not spoken.key:
        turn.say(HELD, "reply")
        return False
    if control is None or not spoken.sure(turn.state.threshold):
        return False
    if control is Control.CARRY_ON:
        carry_on(turn)
    else:
        turn.say(f"Yes. {HELD}", "reply")
    return True


def carry_on(turn: Turn) -> None:
    """By voice, or by a key while the microphone is away: the job then goes on by keys."""
    turn.update(held=False, device_lost="")
    turn.record("carried_on", **_step(turn))
    same_question(turn, "Carrying on.")


def same_question(turn: Turn, preface: str) -> None:
    """The question that was open, asked anew; a dwell that ended meanwhile is over now."""
    state = turn.state
    if state.aside is None and state.awaiting is Awaiting.WAIT and not waiting.begin_or_go_on(turn):
        turn.say(preface, "reply")
        waiting.ask_after_wait(turn)
        return
    asking.ask_again(turn, preface)
    if state.aside is None and state.awaiting is Awaiting.ANSWER:
        telling.open_note(turn)


def device_lost(turn: Turn, device: str) -> None:
    turn.update(device_lost=device or "device")
    guidance.interrupted(turn)
    turn.record("device", device=device, lost=True)
    turn.silence()
    turn.say(f"I lost the {device or 'microphone'}. The job holds until it is back.", "alert")
    turn.effects.append(StopListening())


def device_back(turn: Turn, device: str) -> None:
    if not turn.state.device_lost:
        return
    turn.update(device_lost="")
    turn.record("device", device=device, lost=False)
    if turn.state.held:
        turn.say(f"The {device or 'microphone'} is back. {HELD}", "alert")
    else:
        same_question(turn, f"The {device or 'microphone'} is back.")


def resumed(turn: Turn, tools: Sequence[ToolInHand] = (), person: str = "") -> None:
    """After a break or a crash: where the job stands, the cautions of the step again, the same question.

    `person` takes the job over, when that is another one."""
    state = turn.state
    # Whatever was playing or being recorded went with the old process.
    turn.update(device_lost="", finished_utterance=state.utterance, cut=False)
    guidance.interrupted(turn)
    if state.aside is Aside.NOTE:
        turn.update(aside=None, note_closing=False)
    turn.record("resumed", **_step(turn))
    before = state.deviation
    taken_over = handing_over.take_over(turn, person)
    tools_in_hand.take(turn, tools)
    waiting.restart_timers(turn)
    state = turn.state
    where = f", {wording.place_in_job(state)}" if state.at_step else ""
    whose = f" with {state.person}" if taken_over else ""
    # a job's name is for reading, not for the ear
    stands = ""
    if before is not None and state.deviation is None:
        # who takes over is asked anew, and must not learn only from the report what stands in the record
        stands = f" Recorded here as out of limits: {answers.echo(state.step.ask, before)}"
    said = f"Carrying on{whose}: {state.procedure.title}{where}.{stands}"
    if state.held:
        now = f"Now{whose}: " if taken_over else ""
        turn.say(f"{now}{state.procedure.title}{where}.{stands} {HELD}", "reply")
        return
    if not state.at_step or state.awaiting in asking.SETTLING:
        asking.ask_again(turn, said)
        return
    turn.say(said, "reply")
    telling.tell_cautions_again(turn)
    # a note that was being spoken is over: its step is told as any other
    if state.awaiting in (Awaiting.ANSWER, Awaiting.WAIT) and turn.state.aside is None:
        question = prompts.question_text(state.step, state)
        # while a wait runs it is the time left that is told, not the question
        waits = state.awaiting is Awaiting.WAIT and state.visit.due_ms > turn.at_ms
        if waits or not question.endswith(state.step.say):
            turn.say(state.step.say, "step")
    elif state.awaiting in (Awaiting.ANSWER, Awaiting.WAIT, Awaiting.CONFIRM, Awaiting.DEVIATION):
        # "Measure again": what, and what came out? Nobody knows after a lunch.
        turn.say(state.step.say, "step")
        if state.deviation is not None and state.aside is not Aside.NOT_MET_CONFIRM:
            turn.say(f"Out of limits: {answers.echo(state.step.ask, state.deviation)}", "reply")
    same_question(turn, "")


def _step(turn: Turn) -> dict[str, str]:
    return {"step": turn.state.visit.step if turn.state.at_step else ""}
