"""How sayso talks: pace, loudness, how much it says, the wrench's unit. Changed by voice at any time."""

from __future__ import annotations

from sayso.dialogue import asking, guessed, predictions, telling, wording
from sayso.dialogue.control_words import Control
from sayso.dialogue.state import Awaiting, Level
from sayso.dialogue.turn import Turn

#: One step is clearly heard, five steps lead to the end of the range (chosen by ear).
STEP = 0.15
RATE = (0.55, 1.75)
VOLUME = (0.25, 1.75)
LEVELS: tuple[Level, ...] = ("brief", "normal", "full")
WRENCHES = {
    Control.NEWTON_METRE_WRENCH: "N.m",
    Control.FOOT_POUND_WRENCH: "lbf.ft",
    Control.INCH_POUND_WRENCH: "lbf.in",
}


def change_pace(turn: Turn, by: float) -> None:
    rate = _within(turn.state.rate + by, RATE)
    turn.update(rate=rate)
    _say_again(turn, "Slower." if by < 0 else "Faster.")


def change_volume(turn: Turn, by: float) -> None:
    volume = _within(turn.state.volume + by, VOLUME)
    turn.update(volume=volume)
    _say_again(turn, "Louder." if by > 0 else "Softer.")


def change_level(turn: Turn, by: int) -> None:
    place = min(max(LEVELS.index(turn.state.level) + by, 0), len(LEVELS) - 1)
    level = LEVELS[place]
    if level == turn.state.level:
        turn.say(f"That is the {'most' if by > 0 else 'least'} detail there is.", "reply")
        if by > 0:
            telling.tell_more(turn)
        asking.ask_again(turn)
        return
    turn.update(level=level)
    turn.record("level_changed", level=level, quiet=turn.state.quiet)
    said = {"brief": "Only cautions and questions.", "normal": "Normal detail.", "full": "Full detail."}[
        level
    ]
    _ask_again_or_tell(turn, said, more=by > 0)


def set_quiet(turn: Turn, quiet: bool) -> None:
    turn.update(quiet=quiet)
    turn.record("level_changed", level=turn.state.level, quiet=quiet)
    _ask_again_or_tell(turn, "Fewer words." if quiet else "Normal talk.")


def set_questions(turn: Turn, *, off: bool) -> None:
    """Whether a step is asked about before it is told, for the rest of this job."""
    turn.update(questions_off=off)
    turn.record("level_changed", level=turn.state.level, quiet=turn.state.quiet, questions_off=off)
    _ask_again_or_tell(turn, "No more questions before a step." if off else "I ask before I tell.")


def change_wrench(turn: Turn, control: Control) -> None:
    wrench = WRENCHES[control]
    turn.update(wrench=wrench)
    turn.record("wrench_changed", wrench=wrench)
    asking.ask_again(turn, f"Wrench in {wording.UNIT_NAMES[wrench]}.")


def _ask_again_or_tell(turn: Turn, said: str, *, more: bool = False) -> None:
    """The open question again, unless it was one before telling that is no longer wanted: then the step.
    `more`: what is said of the step only at more detail comes before it."""
    turn.say(said, "reply")
    if turn.state.awaiting is not Awaiting.PREDICT or predictions.next_question(turn.state) is not None:
        if more:
            telling.tell_more(turn)
        asking.ask_again(turn)
        return
    question = predictions.open_question(turn.state)
    if question is not None:
        guessed.close(turn, question, "told")
    telling.tell(turn)


def _say_again(turn: Turn, word: str) -> None:
    """Somebody who asks for slower or louder talk missed what was said."""
    said = turn.state.saying
    turn.say(word, "reply")
    turn.say(said, "reply")


def _within(value: float, bounds: tuple[float, float]) -> float:
    return round(min(max(value, bounds[0]), bounds[1]), 2)
