"""Spoken notes: kept as sound with the job, because free speech is not recognised reliably."""

from __future__ import annotations

from sayso.answers.answer import Answer
from sayso.dialogue import accepting, asking, control_words, holding
from sayso.dialogue.control_words import Control
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Aside, Awaiting
from sayso.dialogue.turn import Turn
from sayso.procedure.model import AskNote


def begin(turn: Turn) -> None:
    """'note': keep the next free speech. The shell sends ClipKept when it has the sound."""
    number = turn.state.notes + 1
    turn.update(aside=Aside.NOTE, notes=number, note_closing=False)
    asking.ask_again(turn)
    turn.keep_clip(f"note {number}", turn.state.settings.note_s)


def heard(turn: Turn, spoken: Spoken) -> None:
    """While a note is spoken only 'end note' and keys act; typed words, or words with a clip, are the note.

    Any key ends it: whoever presses one is done speaking, and 'hold' holds besides.
    """
    found = control_words.match(spoken.words, turn.state.settings.control_words)
    if spoken.key or (found is not None and found.control is Control.END_NOTE):
        close(turn)
        if found is not None and found.control is Control.HOLD:
            holding.hold(turn)
    elif spoken.clip or spoken.typed:
        _kept(turn, clip=spoken.clip, text=" ".join(spoken.words), seconds=0.0)


def typed(turn: Turn, text: str) -> None:
    """A note that was typed in one line with its order."""
    turn.update(aside=Aside.NOTE, notes=turn.state.notes + 1)
    _kept(turn, clip="", text=text, seconds=0.0)


def close(turn: Turn) -> None:
    """'end note': ask the shell for what it has (KeepClip of 0 s). Said twice, it leaves without a clip."""
    state = turn.state
    if state.note_closing:
        _kept(turn, clip="", text="", seconds=0.0)
        return
    turn.update(note_closing=True)
    turn.keep_clip(_open_note(turn), 0.0)


def clip_kept(turn: Turn, note: str, clip: str, seconds: float) -> None:
    state = turn.state
    if state.aside is Aside.NOTE and note == _open_note(turn):
        _kept(turn, clip=clip, text="", seconds=seconds)
    elif (
        state.aside is None
        and state.awaiting is Awaiting.ANSWER
        and isinstance(state.step.ask, AskNote)
        and note == state.step.ask.name
    ):
        turn.update(note_closing=False)  # the next step that asks for a note closes its own
        if not clip and not seconds:
            if not state.on_hold:
                asking.ask_again(turn, "No note was kept.")
                _open_again(turn)
            return
        turn.record("note", step=state.visit.step, note=note, clip=clip, seconds=seconds, text="")
        if not state.on_hold:
            accepting.accept(turn, Answer("note", clip), 1.0)
    else:
        # It came late (the job went on meanwhile): what was spoken is kept all the same.
        step = state.visit.step if state.at_step else ""
        turn.record("note", step=step, note=note, clip=clip, seconds=seconds, text="")


def _open_note(turn: Turn) -> str:
    state = turn.state
    if state.aside is None and isinstance(state.step.ask, AskNote):
        return state.step.ask.name
    return f"note {state.notes}"


def _kept(turn: Turn, *, clip: str, text: str, seconds: float) -> None:
    state = turn.state
    step = state.visit.step if state.at_step else ""
    turn.record("note", step=step, note=_open_note(turn), clip=clip, text=text, seconds=seconds)
    turn.update(aside=None, note_closing=False)
    if not state.on_hold:
        asking.ask_again(turn, "Note kept." if clip or text else "No note was kept.")
        _open_again(turn)


def _open_again(turn: Turn) -> None:
    """The note that the step itself asks for: one recording runs at a time, and another took its place."""
    state = turn.state
    if asking.listening_for_note(state):
        turn.keep_clip(_open_note(turn), state.settings.note_s)
