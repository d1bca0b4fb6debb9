"""Questions that the technician asks: how far, how long, what was it, why, what can I say."""

from __future__ import annotations

from sayso import answers
from sayso.answers.answer import Answer
from sayso.dialogue import asking, control_words, prompts, telling, undoing, wording
from sayso.dialogue.state import Awaiting, State
from sayso.dialogue.turn import Turn
from sayso.procedure.model import Step


def how_far(turn: Turn) -> None:
    state = turn.state
    if not state.at_step:
        turn.say("Before the first step.", "reply")
    else:
        number, of, _ = wording.number_of(state)
        section = f" {state.step.section}." if state.step.section else ""
        left = of - number
        turn.say(
            f"{wording.place_in_job(state).capitalize()}.{section} "
            f"{'The last one' if not left else f'{left} to go after this'}.",
            "reply",
        )
    asking.ask_again(turn)


def how_long(turn: Turn) -> None:
    state = turn.state
    if state.timers:
        for index in sorted(state.timers.values()):
            visit = state.trail[index]
            left = max(0, visit.due_ms - turn.at_ms) / 1000.0
            where = (
                "" if index == state.at else f" for {wording.short_name(state.procedure.step(visit.step))}"
            )
            turn.say(f"{wording.duration(left)} left{where}.", "reply")
    else:
        turn.say("No wait is running.", "reply")
    if state.awaiting is not Awaiting.WAIT:
        asking.ask_again(turn)


def what_was(turn: Turn, name: str) -> None:
    state = turn.state
    found = _answer_called(state, name)
    if found is None:
        turn.say(f"There is no answer called {name}.", "reply")
    else:
        step, answer = found
        turn.say(
            f"{wording.spoken_name(step.ask.name).capitalize()}: {answers.echo(step.ask, answer)}", "reply"
        )
    asking.ask_again(turn)


def why(turn: Turn) -> None:
    step = turn.state.step
    turn.say(step.why or "The procedure gives no reason for this step.", "reply")
    if turn.state.awaiting is not Awaiting.WAIT:
        asking.ask_again(turn)


def caution_again(turn: Turn) -> None:
    state = turn.state
    if not state.step.cautions:
        turn.say("This step has no caution of its own.", "reply")
    telling.tell_cautions_again(turn)
    asking.ask_again(turn)


def help_(turn: Turn) -> None:
    """The choices of the open question first, then the control words."""
    state = turn.state
    turn.record("help", step=state.visit.step if state.at_step else "", context=asking.context(state))
    turn.say(prompts.choices(state), "help")
    now = asking.controls_now(state)
    words = [control_words.SYNONYMS[c][0] for c in control_words.HELP_ORDER if c in now]
    if words:
        turn.say(f"At any time: {', '.join(words[:-1])} or {words[-1]}.", "help")


def are_you_there(turn: Turn) -> None:
    state = turn.state
    where = f" {wording.place_in_job(state).capitalize()}." if state.at_step else ""
    asking.ask_again(turn, f"Yes, I am listening.{where}")


def repeat(turn: Turn) -> None:
    state = turn.state
    if state.aside is None and state.at_step and state.awaiting in (Awaiting.ANSWER, Awaiting.WAIT):
        asking.enter_question(turn)
        telling.tell_in_full(turn)
    else:
        asking.ask_again(turn)


def _answer_called(state: State, name: str) -> tuple[Step, Answer] | None:
    """By its own name, else the latest of that kind ('the torque', 'the serial')."""
    for by_name in (True, False):
        for answer_name in reversed(state.recent):
            index = state.given_at.get(answer_name)
            if index is None:
                continue
            visit = state.trail[index]
            step = state.procedure.step(visit.step)
            fits = undoing.matches(answer_name, name) if by_name else step.ask.kind == name.replace(" ", "_")
            if visit.answer is not None and fits:
                return step, visit.answer
    for answer_name, index in sorted(state.given_at.items()):
        visit = state.trail[index]
        if visit.answer is not None and undoing.matches(answer_name, name):
            return state.procedure.step(visit.step), visit.answer
    # 'the pressure' for line_pressure: the latest that is called so in part; the reply says its whole name
    for answer_name in (*reversed(state.recent), *sorted(state.given_at)):
        index = state.given_at.get(answer_name)
        if index is not None and undoing.matches_in_part(answer_name, name):
            visit = state.trail[index]
            if visit.answer is not None:
                return state.procedure.step(visit.step), visit.answer
    return None
