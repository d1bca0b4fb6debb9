"""Asking, asking again, and what is listened for: the counts and the patience of each question."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Literal

from sayso import answers
from sayso.dialogue import asked, control_words, guidance, predictions, prompts, reasons
from sayso.dialogue.control_words import Control
from sayso.dialogue.effects import Listen
from sayso.dialogue.in_writing import in_writing
from sayso.dialogue.state import Aside, Awaiting, State, Tries
from sayso.dialogue.turn import Turn
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
    AskYesNo,
)

#: 'Yes' and 'ok' at a caution: any plain sign that it was heard and taken in.
ACKNOWLEDGE = ("understood", "i understand", "ok", "okay", "got it", "done", "yes", "all right")
READY = ("ready", "all ready", "we are ready")
UNDONE = ("undone", "it is undone", "taken back", "taken off", "removed")
KEEP = ("keep it", "keep", "leave it", "leave it in")

#: To a question before telling: tell me the step, I do not want to guess; and: I do not know.
TELL_ME = ("tell me", "just tell me", "skip", "pass")
NOT_KNOWN = ("i do not know", "do not know", "no idea")

USE_KEYS = "Use the keys if I do not hear you. I keep listening."

#: So often a question that was not understood is asked again.
NOT_UNDERSTOOD = 3

Pace = Literal["short", "number", "spelled", "free"]


def enter_question(turn: Turn) -> None:
    """Counts start anew whenever a question is entered (VoiceXML 2.1, noinput and nomatch counts)."""
    turn.update(tries=Tries())


def ask_again(turn: Turn, preface: str = "") -> None:
    """The open question, after a side talk: entered anew."""
    enter_question(turn)
    text, kind = prompts.open_question(turn.state, turn.at_ms)
    turn.say(preface, "reply")
    turn.say(text, kind, interruptible=kind != "caution")


# --- silence and words not understood -----------------------------------------------------------


def no_input(turn: Turn) -> None:
    """Nobody spoke. At a step that only waits for 'done' sayso asks once and then waits quietly, for hours
    if need be; other questions are asked three times in changing words."""
    state = turn.state
    count = state.tries.no_input + 1
    if count > silences_answered(state):
        return
    turn.update(tries=replace(state.tries, no_input=count))
    turn.record("no_input", **_where(state), count=count)
    turn.say(_reprompt(state, count), "no_input")


def count_wrong_code(turn: Turn, what: str) -> int | None:
    """A wrong code was given (`what`, for the record). How many by now when no more are taken, else None."""
    state = turn.state
    wrong = state.tries.wrong_codes + 1
    turn.update(tries=replace(state.tries, wrong_codes=wrong), problem=what)
    turn.record("no_match", step=state.visit.step, context=what, count=wrong)
    return wrong if wrong >= state.settings.wrong_codes else None


def no_match(turn: Turn, told: str = "") -> None:
    """Something was said that is no answer. `told` says what is wrong with it, when that is known."""
    told = in_writing(turn.state, told)
    count = count_no_match(turn, told)
    state = turn.state
    if told and count < 3:
        turn.say(told, "no_match")
        if count == 2 and prompts.choices(state) != told:
            turn.say(prompts.choices(state), "no_match")
    elif count <= NOT_UNDERSTOOD:
        turn.say(_reprompt(state, count), "no_match")
    # From the fourth on nothing is said: tools and talk next to the bench must not make sayso chatter.


def count_no_match(turn: Turn, told: str = "") -> int:
    """How often by now the open question was not understood; the entry in the record says so."""
    state = turn.state
    count = state.tries.no_match + 1
    guidance.not_understood(turn)
    turn.update(tries=replace(state.tries, no_match=count), problem=told or "not understood")
    turn.record("no_match", **_where(state), count=count)
    return count


def silences_answered(state: State) -> int:
    if state.aside is None and state.awaiting is Awaiting.ANSWER and isinstance(state.step.ask, AskDone):
        return 1
    return 3


def _reprompt(state: State, count: int) -> str:
    if count == 1:
        return _shorter(state)
    if count == 2:
        return prompts.choices(state)
    if state.aside is None and state.awaiting is Awaiting.ANSWER and can_be_spelled(state.step.ask):
        return prompts.piece_by_piece(state.step.ask)
    return USE_KEYS


def _shorter(state: State) -> str:
    if state.aside is Aside.STOP:
        return "Stop, yes or no?"
    if state.aside is Aside.SKIP_REASON:
        return "The reason, please."
    if state.aside is Aside.NOT_MET_REASON:
        return "The reason, please, or no."
    if state.aside is Aside.NOT_MET_CODE:
        return f"Code of the {asked.second_person(state).role}?"
    if state.aside is Aside.NOT_MET_CONFIRM:
        return "Yes or no?"
    if state.aside is Aside.NOTE:
        return ""
    match state.awaiting:
        case Awaiting.READY:
            return "Ready?"
        case Awaiting.CAUTION:
            return prompts.CAUTION_PROMPT
        case Awaiting.ANSWER:
            return prompts.short_question(state)
        case Awaiting.CONFIRM:
            return prompts.read_back_text(state)
        case Awaiting.SETTLE:
            return "Undone, or keep it?"
        case Awaiting.STILL_HOLDS:
            return "Does it still hold, yes or no?"
        case Awaiting.KEEP_REASON:
            return "The reason, please."
        case Awaiting.DEVIATION:
            return prompts.deviation_question(state)
        case _:
            return ""


def can_be_spelled(ask: Ask) -> bool:
    return isinstance(ask, AskSerial | AskCount | AskMeasure | AskTorque | AskTime)


def _where(state: State) -> dict[str, str]:
    return {"step": state.visit.step if state.at_step else "", "context": context(state)}


# --- listening ----------------------------------------------------------------------------------


def context(state: State) -> str:
    """What is being listened for, for logs and the page: 'answer plug-type', 'confirm plug-type', 'hold'."""
    if state.on_hold:
        return "hold"
    what = state.aside.value if state.aside is not None else state.awaiting.value
    return f"{what} {state.visit.step}" if state.at_step else what


def listen(state: State) -> Listen:
    return Listen(
        phrases=tuple(dict.fromkeys((*_own_phrases(state), *_control_phrases(state)))),
        pace=_pace(state),
        context=context(state),
        no_input_s=patience(state),
        keep_clip=listening_for_note(state),
        offers=may_offer(state),
    )


def patience(state: State) -> float | None:
    """Seconds of silence before NoInput; None waits quietly and still listens."""
    if state.on_hold or listening_for_note(state):
        return None
    if state.aside is None and state.awaiting is Awaiting.WAIT:
        return None
    if state.pending is not None and state.pending.offered:
        return state.settings.no_input_s  # a guess that nobody answers is dropped
    if state.tries.no_input >= silences_answered(state):
        return None
    if state.aside is None and state.awaiting in (Awaiting.ANSWER, Awaiting.READY, Awaiting.SETTLE):
        return state.settings.work_no_input_s
    return state.settings.no_input_s


def may_offer(state: State) -> bool:
    """Whether a guess at what was not understood may be said back: only at the question of a step, once sayso
    was heard to its end, where a value is asked for. Guessing at a second person's code would tell it."""
    return (
        not state.on_hold
        and state.aside is None
        and state.awaiting in (Awaiting.ANSWER, Awaiting.DEVIATION)
        and isinstance(state.step.ask, AskCount | AskMeasure | AskTorque | AskTime | AskChoice | AskYesNo)
    )


def listening_for_note(state: State) -> bool:
    if state.on_hold:
        return False
    if state.aside is not None:
        return state.aside is Aside.NOTE
    return state.awaiting is Awaiting.ANSWER and isinstance(state.step.ask, AskNote)


def _pace(state: State) -> Pace:
    if state.on_hold:
        return "short"
    if state.aside is None and state.awaiting is Awaiting.PREDICT:
        guess = asked.open_ask(state)
        return "number" if guess is not None and can_be_spelled(guess) else "short"
    if listening_for_note(state):
        return "free"
    if state.aside is Aside.NOT_MET_CODE:
        return "number"
    if state.aside is None and state.awaiting in (Awaiting.ANSWER, Awaiting.CONFIRM, Awaiting.DEVIATION):
        ask = state.step.ask
        if isinstance(ask, AskSerial):
            return "spelled"
        if can_be_spelled(ask) or ask.kind == "witness":
            return "number"
    return "short"


def _own_phrases(state: State) -> tuple[str, ...]:
    if state.on_hold:
        return control_words.wake_phrases()
    match state.aside:
        case Aside.STOP:
            return asked.yes_no_phrases()
        case Aside.SKIP_REASON:
            return (*reasons.reason_phrases(reasons.SKIP_REASONS), *reasons.NOT_SKIPPED)
        case Aside.NOT_MET_REASON:
            return (*reasons.reason_phrases(reasons.NOT_MET_REASONS), *reasons.STAY_WITH_IT)
        case Aside.NOT_MET_CODE:
            return (*asked.phrases_of(state, asked.second_person(state)), *reasons.STAY_WITH_IT)
        case Aside.NOT_MET_CONFIRM:
            return asked.yes_no_phrases()
        case Aside.NOTE:
            return control_words.SYNONYMS[Control.END_NOTE]
    match state.awaiting:
        case Awaiting.READY:
            return (*READY, *asked.done_phrases())
        case Awaiting.CAUTION:
            return ACKNOWLEDGE
        case Awaiting.PREDICT:
            question = predictions.open_question(state)
            guesses = predictions.phrases_of(question, state.step, state.wrench) if question else ()
            return (*guesses, *TELL_ME, *NOT_KNOWN, *answers.CORRECTION_PHRASES)
        case Awaiting.WAIT:
            return asked.done_phrases()
        case Awaiting.ANSWER | Awaiting.DEVIATION:
            return (
                *asked.phrases_of(state, state.step.ask),
                *asked.done_phrases(),
                *answers.CORRECTION_PHRASES,
            )
        case Awaiting.CONFIRM:
            return asked.confirmation_phrases_of(state, state.step.ask)
        case Awaiting.SETTLE:
            return (*UNDONE, *KEEP)
        case Awaiting.KEEP_REASON:
            return reasons.reason_phrases(reasons.KEEP_REASONS)
        case Awaiting.STILL_HOLDS:
            return (*asked.yes_no_phrases(), *KEEP)
        case _:
            return ()


@lru_cache(maxsize=256)
def _phrases_of(
    controls: tuple[Control, ...], names: tuple[str, ...], extra: control_words.Extra
) -> tuple[str, ...]:
    return control_words.phrases(controls, names, extra)


def _control_phrases(state: State) -> tuple[str, ...]:
    names = tuple(name.replace("_", " ").replace("-", " ").lower() for name in state.recent)
    return _phrases_of(controls_now(state), names, state.settings.control_words)


_ANY_TIME = (
    Control.REPEAT,
    Control.SLOWER,
    Control.FASTER,
    Control.LOUDER,
    Control.SOFTER,
    Control.FEWER_WORDS,
    Control.MORE_WORDS,
    Control.MORE_DETAIL,
    Control.LESS_DETAIL,
    Control.HOLD,
    Control.CARRY_ON,
    Control.HOW_FAR,
    Control.WHAT_WAS,
    Control.NOTE,
    Control.HELP,
    Control.STOP,
    Control.CALL_LEAD,
    Control.ARE_YOU_THERE,
    Control.NEWTON_METRE_WRENCH,
    Control.FOOT_POUND_WRENCH,
    Control.INCH_POUND_WRENCH,
)
_AT_A_STEP = (
    *_ANY_TIME,
    Control.BACK,
    Control.SKIP,
    Control.HOW_LONG,
    Control.CHANGE,
    Control.UNDO,
    Control.WHY,
    Control.CAUTION_AGAIN,
)
#: 'skip' leaves the question out, not the step; 'why' would give the answer away
_BEFORE_TELLING = (*_ANY_TIME, Control.BACK, Control.CHANGE, Control.UNDO, Control.CAUTION_AGAIN)
_ASIDE = (Control.REPEAT, Control.HELP, Control.HOLD, Control.ARE_YOU_THERE)
#: while work on an abandoned branch is being settled, the way itself may not change
SETTLING = (Awaiting.SETTLE, Awaiting.KEEP_REASON, Awaiting.STILL_HOLDS)


def controls_now(state: State) -> tuple[Control, ...]:
    """The control words that act at this moment."""
    if state.on_hold or state.awaiting in (Awaiting.START, Awaiting.ENDED):
        return ()
    if state.aside is Aside.NOTE:
        return (Control.END_NOTE,)
    if state.aside is not None:
        return _ASIDE
    if state.awaiting is Awaiting.READY or state.awaiting in SETTLING:
        return _ANY_TIME
    if state.awaiting is Awaiting.PREDICT:
        return (*_BEFORE_TELLING, Control.QUESTIONS_OFF)
    if listening_for_note(state):
        return (Control.END_NOTE, *_AT_A_STEP)
    if state.awaiting is Awaiting.DEVIATION:
        return (*_AT_A_STEP, Control.NOT_MET)
    if state.ask_first and state.level == "full":
        return (*_AT_A_STEP, Control.QUESTIONS_ON if state.questions_off else Control.QUESTIONS_OFF)
    return _AT_A_STEP
