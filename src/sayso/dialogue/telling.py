"""What is said when a step is come to: cautions first, then the step, as much of it as the level asks for."""

from __future__ import annotations

from sayso.dialogue import asking, predictions, prompts, waiting, wording
from sayso.dialogue.state import Awaiting, State
from sayso.dialogue.turn import Turn
from sayso.procedure.model import AskDone, AskNote, AskTorque, AskWitness, Step


def tell(turn: Turn) -> None:
    """Cautions of the step in hand that are not dealt with yet, then the step and its question.

    A DANGER or WARNING stops here until it is acknowledged. No level and no quiet mode leaves one out.
    """
    step = turn.state.step
    while (number := turn.state.visit.cautions) < len(step.cautions):
        caution = step.cautions[number]
        _tell_caution(turn, number)
        if caution.level.needs_acknowledgement:
            turn.update(awaiting=Awaiting.CAUTION)
            asking.enter_question(turn)
            turn.say(prompts.CAUTION_PROMPT, "question")
            return
        turn.update_visit(turn.state.at, cautions=number + 1)
    if not _asked_first(turn):
        _tell_step(turn)


def _asked_first(turn: Turn) -> bool:
    """Ask the learner before telling. False when there is nothing (more) to ask about this step."""
    question = predictions.next_question(turn.state)
    if question is None:
        return False
    first = not turn.state.predicting_explained
    turn.update(awaiting=Awaiting.PREDICT, predicting=question.id, predicting_explained=True)
    asking.enter_question(turn)
    if first:
        turn.say("First a question, hands off. Say tell me if you do not know.", "reply")
    elif not question.text.startswith("And "):
        turn.say("First a question.", "reply")
    text, kind = prompts.open_question(turn.state, turn.at_ms)
    turn.say(text, kind)
    return True


def tell_cautions_again(turn: Turn) -> None:
    """Those that were dealt with on this visit: on coming back, after a restart, or when asked for."""
    for number in range(turn.state.visit.cautions):
        _tell_caution(turn, number, again=True)


def _tell_caution(turn: Turn, number: int, *, again: bool = False) -> None:
    tell_caution_of(turn, turn.state.step, number, again=again, visit=turn.state.at)


def tell_caution_of(turn: Turn, step: Step, number: int, *, again: bool, **visit: int) -> None:
    """A caution of any step; `visit` is left out where its work is taken back and no visit is under way."""
    caution = step.cautions[number]
    turn.say(wording.caution_text(caution), "caution", interruptible=False)
    turn.record(
        "caution_told",
        step=step.id,
        caution=number,
        level=caution.level.value,
        text=caution.say,
        again=again,
        **visit,
    )


def tell_question(turn: Turn) -> None:
    """The step in hand was told before: only its question, or the time that is left to wait."""
    asking.enter_question(turn)
    if waiting.begin_or_go_on(turn):
        waiting.announce(turn)
        return
    turn.update(awaiting=Awaiting.ANSWER)
    turn.say(prompts.step_question(turn.state), "question")
    open_note(turn)


def tell_in_full(turn: Turn) -> None:
    """For 'repeat': the step's words and its question, whatever the level is."""
    step, state = turn.state.step, turn.state
    turn.say(step.say, "step")
    if state.awaiting is Awaiting.WAIT:
        turn.say(prompts.time_left(state, turn.at_ms), "reply")
    else:
        text = prompts.step_question(state)
        turn.say("" if text == step.say else text, "question")


def _tell_step(turn: Turn) -> None:
    state = turn.state
    step = state.step
    for text in step_texts(step, state):
        turn.say(text, "step")
    turn.update_visit(state.at, begun=True)
    asking.enter_question(turn)
    if waiting.begin_or_go_on(turn):
        waiting.announce(turn)
        return
    turn.update(awaiting=Awaiting.ANSWER)
    turn.say(question_after(step, turn.state), "question")
    open_note(turn)


def open_note(turn: Turn) -> None:
    state = turn.state
    if isinstance(state.step.ask, AskNote) and state.awaiting is Awaiting.ANSWER:
        turn.keep_clip(state.step.ask.name, state.settings.note_s)


def step_texts(step: Step, state: State) -> list[str]:
    """The step itself. Brief level and quiet mode: only what hands that know the job cannot do without."""
    if state.quiet or state.level == "brief":
        if step.brief:
            return [step.brief]
        # A question of its own tells what is asked. A torque's often does not ("What does the wrench read?"),
        # and the right torque on the wrong bolt is what must not happen; a hold point's never does.
        asks_for_itself = step.question and not isinstance(step.ask, AskDone | AskTorque)
        return [] if asks_for_itself else [step.say]
    if state.level == "normal":
        return [step.say]
    texts = [step.say, step.why, step.hint]
    texts += [f"Often gone wrong: {mistake}" for mistake in step.mistakes]
    return [text for text in texts if text]


def question_after(step: Step, state: State) -> str:
    """The question that follows the step's words; empty when the step's own words ask."""
    ask = step.ask
    target = wording.torque_target(ask, state.wrench) if isinstance(ask, AskTorque) else ""
    question = step.question
    if not question and isinstance(ask, AskTorque | AskWitness | AskNote):
        question = prompts.default_question(step)
    if not question and isinstance(ask, AskDone) and state.level == "full" and not state.quiet:
        question = "" if _knows_done(state) else "Say done when it is done."
    return f"{target} {question}".strip()


def _knows_done(state: State) -> bool:
    """Who has said it at two steps of this job knows: from then on it is only in the way."""
    said = 0
    for visit in state.trail:  # as a rule it is over after a few steps, however long the job
        said += visit.answer is not None and visit.answer.kind == "done"
        if said == 2:
            return True
    return False


def tell_more(turn: Turn) -> None:
    """For 'more detail' at a step that was told: what its shorter telling left out."""
    state = turn.state
    if state.aside is not None or not state.at_step or state.awaiting not in (Awaiting.ANSWER, Awaiting.WAIT):
        return
    told = (prompts.step_question(state), *((state.step.say,) if state.level == "full" else ()))
    for text in step_texts(state.step, state):
        if text not in told:
            turn.say(text, "step")
