"""Ask before telling: the learner's guess is heard, judged kindly, and then the step is told anyway.

It never holds up a job: two silences, two words not understood or "tell me" lead on to the step. Nothing said
here is an answer of the step.
"""

from __future__ import annotations

from dataclasses import replace

from sayso.answers.answer import Answer
from sayso.answers.words import lowered
from sayso.dialogue import asked, asking, controls, guessed, predictions, telling
from sayso.dialogue.guessed import Outcome
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Awaiting, State
from sayso.dialogue.step_questions import Question
from sayso.dialogue.turn import Turn

#: silences, or words not understood, after which the step is told
PATIENCE = 2


def is_open(state: State) -> bool:
    return state.awaiting is Awaiting.PREDICT and state.aside is None and not state.on_hold


def heard(turn: Turn, spoken: Spoken) -> None:
    """A guess, "tell me", "i do not know", or a control word."""
    state = turn.state
    question = predictions.open_question(state)
    if question is None:
        _on_to_the_step(turn)
        return
    text = " ".join(lowered(spoken.words))
    if text in asking.TELL_ME or asked.means_done(spoken.words):
        _finish(turn, question, "told", None)
    elif text in asking.NOT_KNOWN:
        _finish(turn, question, "not known", None)
    else:
        ask = predictions.ask_of(question, state.step, state.wrench)
        result = asked.understood(state, ask, spoken.words)
        if isinstance(result, Answer):
            _judged(turn, question, result, spoken)
        elif not controls.tried(turn, spoken):
            not_understood(turn, result.say)


def not_understood(turn: Turn, told: str = "") -> None:
    tries = turn.state.tries
    turn.update(tries=replace(tries, no_match=tries.no_match + 1), problem=told or "not understood")
    _again_or_on(turn, told)


def silence(turn: Turn) -> None:
    tries = turn.state.tries
    turn.update(tries=replace(tries, no_input=tries.no_input + 1))
    _again_or_on(turn)


def _again_or_on(turn: Turn, told: str = "") -> None:
    tries = turn.state.tries
    question = predictions.open_question(turn.state)
    if question is None or tries.no_match + tries.no_input >= PATIENCE:
        turn.say("I tell you.", "reply")
        if question is not None:
            _finish(turn, question, "no answer", None)
        else:
            _on_to_the_step(turn)
        return
    turn.say(told or "Your guess, or say tell me.", "no_match")


def _judged(turn: Turn, question: Question, answer: Answer, spoken: Spoken) -> None:
    """A wrong guess gets a second try, with a nudge: it may also have been misheard."""
    verdict = predictions.judge(turn.state, question, answer)
    if verdict == "right":
        _finish(turn, question, "right" if turn.state.first_guess is None else "helped", answer)
    elif not spoken.sure(turn.state.threshold):
        not_understood(turn)
    elif turn.state.first_guess is None:
        turn.update(first_guess=answer.value)
        asking.enter_question(turn)
        nudge = {"more": "It is more.", "less": "It is less."}.get(verdict, "")
        turn.say(f"Not quite. {nudge} Once more, or say tell me.", "question")
    else:
        _finish(turn, question, "wrong", answer)


def _finish(turn: Turn, question: Question, outcome: Outcome, answer: Answer | None) -> None:
    guessed.close(turn, question, outcome, answer)
    told = predictions.told(turn.state, question)
    if outcome in ("right", "helped"):
        turn.say("Right.", "echo")
    elif outcome == "wrong":
        turn.say(f"Not this time. {told}", "echo")
    elif question.kind != "torque":  # a torque is told with its step in a moment
        turn.say(told, "echo")
    _on_to_the_step(turn)


def _on_to_the_step(turn: Turn) -> None:
    """The next question about it, or the step itself."""
    turn.update(predicting="")
    telling.tell(turn)
