"""Control words, carried out: which of them act now, and what each does."""

from __future__ import annotations

from sayso.dialogue import (
    asking,
    conduct,
    control_words,
    guidance,
    holding,
    not_met,
    noting,
    replies,
    skipping,
    undoing,
)
from sayso.dialogue.control_words import Control, Match
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Aside, Awaiting
from sayso.dialogue.turn import Turn

#: Heard half sure these are done all the same: each leads to the safe side.
_SAFE_WHEN_UNSURE = (Control.STOP, Control.HOLD, Control.REPEAT)


def tried(turn: Turn, spoken: Spoken) -> bool:
    """Carry the words out if they are a control word. False when they are none (or too unsure to act on)."""
    found = control_words.match(spoken.words, turn.state.settings.control_words)
    if found is None:
        return _typed_with_text(turn, spoken)
    if not spoken.sure(turn.state.threshold) and found.control not in _SAFE_WHEN_UNSURE:
        return False
    carry_out(turn, found)
    return True


def _typed_with_text(turn: Turn, spoken: Spoken) -> bool:
    """ "stop, the hook slipped" typed in one line. Where a note is asked for every word is the note's."""
    state = turn.state
    found = control_words.typed_before_text(spoken.words) if spoken.typed and not spoken.key else None
    if found is None or asking.listening_for_note(state) or found[0] not in asking.controls_now(state):
        return False
    control, text = found
    if control is Control.NOTE:
        noting.typed(turn, text)
    else:
        carry_out(turn, Match(control))
    return True


def carry_out(turn: Turn, found: Match) -> None:
    control = found.control
    state = turn.state
    if control not in asking.controls_now(state):
        _not_now(turn, control)
        return
    match control:
        case Control.REPEAT:
            guidance.asked_for_help(turn)
            replies.repeat(turn)
        case Control.SLOWER:
            conduct.change_pace(turn, -conduct.STEP)
        case Control.FASTER:
            conduct.change_pace(turn, conduct.STEP)
        case Control.LOUDER:
            conduct.change_volume(turn, conduct.STEP)
        case Control.SOFTER:
            conduct.change_volume(turn, -conduct.STEP)
        case Control.FEWER_WORDS:
            conduct.set_quiet(turn, True)
        case Control.MORE_WORDS:
            conduct.set_quiet(turn, False)
        case Control.MORE_DETAIL:
            conduct.change_level(turn, 1)
        case Control.LESS_DETAIL:
            conduct.change_level(turn, -1)
        case Control.BACK:
            undoing.back(turn)
        case Control.SKIP:
            skipping.begin(turn)
        case Control.HOLD:
            holding.hold(turn)
        case Control.CARRY_ON:
            _carry_on(turn)
        case Control.HOW_FAR:
            replies.how_far(turn)
        case Control.HOW_LONG:
            replies.how_long(turn)
        case Control.WHAT_WAS:
            replies.what_was(turn, found.name)
        case Control.CHANGE:
            undoing.change(turn, found.name)
        case Control.NOTE:
            noting.begin(turn)
        case Control.END_NOTE:
            noting.close(turn)
        case Control.UNDO:
            undoing.undo(turn)
        case Control.HELP:
            guidance.asked_for_help(turn)
            replies.help_(turn)
        case Control.WHY:
            replies.why(turn)
        case Control.CAUTION_AGAIN:
            replies.caution_again(turn)
        case Control.STOP:
            turn.update(aside=Aside.STOP)
            asking.ask_again(turn)
        case Control.NOT_MET:
            not_met.begin(turn)
        case Control.CALL_LEAD:
            holding.hold(turn, "Call the lead.")
        case Control.ARE_YOU_THERE:
            replies.are_you_there(turn)
        case Control.QUESTIONS_OFF:
            conduct.set_questions(turn, off=True)
        case Control.QUESTIONS_ON:
            conduct.set_questions(turn, off=False)
        case Control.NEWTON_METRE_WRENCH | Control.FOOT_POUND_WRENCH | Control.INCH_POUND_WRENCH:
            conduct.change_wrench(turn, control)


def _carry_on(turn: Turn) -> None:
    state = turn.state
    if state.at_step and state.awaiting is Awaiting.ANSWER and state.visit.finished:
        undoing.keep_and_go_on(turn)
    else:
        asking.ask_again(turn, "The job is not on hold.")


def _not_now(turn: Turn, control: Control) -> None:
    state = turn.state
    words = control_words.SYNONYMS[control][0]
    if state.awaiting in asking.SETTLING:
        why = "first the work on the other way has to be settled"
    elif state.awaiting is Awaiting.READY:
        why = "the first step has not begun"
    elif control is Control.END_NOTE:
        why = "no note is open"
    elif control is Control.NOT_MET:
        asking.ask_again(turn, "First give the value that was reached.")
        return
    else:
        why = "first this question"
    asking.ask_again(turn, f"Not {words} now: {why}.")
