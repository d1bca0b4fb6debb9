"""The question that stands open, in words: what the job waits for, said so that it can be answered."""

from __future__ import annotations

from sayso import answers
from sayso.dialogue import asked, predictions, reasons, wording
from sayso.dialogue.effects import SayKind
from sayso.dialogue.in_writing import in_writing
from sayso.dialogue.state import Aside, Awaiting, State
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
    Step,
)

Prompt = tuple[str, SayKind]

CAUTION_PROMPT = "Say understood to go on."
#: A step's own question is short enough to be asked again as it stands.
FEW_WORDS = 4
READY_PROMPT = "Say ready when all of it is to hand."


def open_question(state: State, now_ms: int) -> Prompt:
    """What is being asked now, in full; said again by 'repeat', after a break and after a side talk."""
    match state.aside:
        case Aside.STOP:
            return "Stop the job for good? Yes or no.", "question"
        case Aside.SKIP_REASON:
            return (
                f"Why is it skipped? {reasons.reasons_spoken(reasons.SKIP_REASONS).capitalize()}?",
                "question",
            )
        case Aside.NOT_MET_REASON:
            return (
                f"Why is it not met? {reasons.reasons_spoken(reasons.NOT_MET_REASONS).capitalize()}?",
                "question",
            )
        case Aside.NOT_MET_CODE:
            return f"The {asked.second_person(state).role} says the code to let it stand, or no.", "question"
        case Aside.NOT_MET_CONFIRM:
            return let_stand_text(state), "read_back"
        case Aside.NOTE:
            return "Speak your note. Say end note when it is done.", "question"
    match state.awaiting:
        case Awaiting.READY:
            return READY_PROMPT, "question"
        case Awaiting.PREDICT:
            return prediction_text(state), "question"
        case Awaiting.CAUTION:
            caution = state.step.cautions[state.visit.cautions]
            return f"{wording.caution_text(caution)} {CAUTION_PROMPT}", "caution"
        case Awaiting.WAIT:
            return f"{time_left(state, now_ms)} I will ask when the time is up.", "reply"
        case Awaiting.ANSWER:
            return step_question(state), "question"
        case Awaiting.CONFIRM:
            return read_back_text(state), "read_back"
        case Awaiting.DEVIATION:
            return deviation_question(state), "question"
        case Awaiting.SETTLE:
            name = wording.short_name(state.procedure.step(state.to_settle[-1].step))
            return f"{name}. Say undone when it is taken back, or keep it.", "question"
        case Awaiting.KEEP_REASON:
            return f"Why is it kept? {reasons.reasons_spoken(reasons.KEEP_REASONS).capitalize()}?", "question"
        case Awaiting.STILL_HOLDS:
            names = [wording.short_name(state.procedure.step(name)) for name in state.again]
            return f"Done already: {wording.listed(names)}. Does that still hold? Yes or no.", "question"
        case Awaiting.START | Awaiting.ENDED:
            return "", "reply"


def prediction_text(state: State) -> str:
    """What the learner is asked before the step is told, with the choices where there are any."""
    question = predictions.open_question(state)
    if question is None:
        return ""
    ask = predictions.ask_of(question, state.step, state.wrench)
    if not isinstance(ask, AskChoice):
        return question.text
    values = [option.value for option in ask.options]
    listed = f"{', '.join(values[:-1])} or {values[-1]}?"
    return f"{question.text} {listed[:1].upper()}{listed[1:]}"


def step_question(state: State) -> str:
    """The question of the step as it stands, for somebody who knows the step already."""
    step, visit = state.step, state.visit
    if visit.finished:
        kept = f"skipped, {visit.skipped}" if visit.answer is None else answers.echo(step.ask, visit.answer)
        return f"{question_text(step, state)} So far: {kept} Answer again, or say keep it."
    return question_text(step, state)


def question_text(step: Step, state: State) -> str:
    """Target first where there is one, then the question; the step's own words when it has no question."""
    ask = step.ask
    target = wording.torque_target(ask, state.wrench) if isinstance(ask, AskTorque) else ""
    question = step.question or default_question(step)
    return f"{target} {question or step.say}".strip()


def default_question(step: Step) -> str:
    """For steps that give no question and whose words may not ask one."""
    match step.ask:
        case AskTorque():
            return "What does the wrench read?"
        case AskWitness(role=role):
            return f"Hold point. The {role} gives name or code."
        case AskNote():
            return "Speak the note, then say end note."
        case _:
            return ""


def short_question(state: State) -> str:
    """The same question in other, fewer words, after a silence or a word not understood."""
    ask = state.step.ask
    if isinstance(ask, AskDone):
        return "Say done when it is done."
    if isinstance(ask, AskWitness):
        return f"Name or code of the {ask.role}?"
    if isinstance(ask, AskNote):
        return "I am listening for the note."
    if 0 < len(state.step.question.split()) <= FEW_WORDS:
        return state.step.question
    return f"{wording.spoken_name(ask.name).capitalize()}?"


def piece_by_piece(ask: Ask) -> str:
    """Third reprompt and last resort: a way to say it that does not hang on hearing one word right.

    Only ways that the question's grammar hears well: a time's has no digits one after the other."""
    match ask:
        case AskSerial():
            return "Spell it, one letter or digit at a time, or use the keys."
        case AskTime():
            return "Say the hour, then the minutes, such as fourteen thirty, or use the keys."
        case AskChoice() | AskYesNo():
            return "Say it in other words, or use the keys."
        case AskCount(high=high) if high < 10:
            return "Say only the number, or use the keys."
        case AskMeasure(unit=unit) if unit:
            return "Say it digit by digit, then the unit, or use the keys."
        case AskTorque():
            return "Say it digit by digit, then the unit, or use the keys."
        case _:
            return "Say it digit by digit, or use the keys."


def read_back_text(state: State) -> str:
    pending = state.pending
    if pending is None:
        return ""
    ask = state.step.ask
    if pending.offered:
        return answers.offer(ask, pending.answer)
    return answers.read_back(ask, pending.answer, spell=pending.spelled)


def let_stand_text(state: State) -> str:
    """ "Lead hand Meg Hale lets it stand as not met: twelve newton metres, above the limit of ... Yes?" """
    if state.pending is None or state.deviation is None:
        return ""
    person = f"{asked.second_person(state).role} {state.pending.answer.value}"
    value = answers.read_back(state.step.ask, state.deviation)
    return f"{person[:1].upper()}{person[1:]} lets it stand as not met: {value[:1].lower()}{value[1:]}"


def deviation_question(state: State) -> str:
    if state.step.may_skip:
        return "Measure again and give the value, or say skip, or not met, or call the lead."
    return "Measure again and give the value, or say not met, or call the lead."


def time_left(state: State, now_ms: int) -> str:
    left = max(0, state.visit.due_ms - now_ms) / 1000.0
    return f"{wording.duration(left)} left." if left > 0 else "The time is up."


def choices(state: State) -> str:
    """What may be said, or typed, to the open question."""
    return in_writing(state, _choices(state))


def _choices(state: State) -> str:
    match state.aside:
        case Aside.STOP:
            return "Say yes to end the job, no to go on."
        case Aside.SKIP_REASON:
            return f"You can say {reasons.reasons_spoken(reasons.SKIP_REASONS)}."
        case Aside.NOT_MET_REASON:
            return f"You can say {reasons.reasons_spoken(reasons.NOT_MET_REASONS)}. Or say no."
        case Aside.NOT_MET_CODE:
            return "The code, one digit at a time, or no. Say hold if nobody is here."
        case Aside.NOT_MET_CONFIRM:
            return "Say yes, or no."
        case Aside.NOTE:
            return "Say end note to close the note."
    match state.awaiting:
        case Awaiting.READY:
            return "Say ready, or hold."
        case Awaiting.PREDICT:
            question = predictions.open_question(state)
            if question is None:
                return "Say tell me."
            ask = predictions.ask_of(question, state.step, state.wrench)
            return f"{answers.choices(ask, wrench=state.wrench)} Or say tell me, or questions off."
        case Awaiting.CAUTION:
            return "Say understood, got it or okay."
        case Awaiting.WAIT:
            return "Ask how long, why, or say repeat. The time has to pass."
        case Awaiting.ANSWER:
            return answers.choices(state.step.ask, wrench=state.wrench, witnesses=state.witnesses)
        case Awaiting.CONFIRM:
            return "Say yes, or no and the right value."
        case Awaiting.DEVIATION:
            return deviation_question(state)
        case Awaiting.SETTLE:
            return "Say undone, or keep it."
        case Awaiting.KEEP_REASON:
            return f"You can say {reasons.reasons_spoken(reasons.KEEP_REASONS)}."
        case Awaiting.STILL_HOLDS:
            return "Say yes if that work still holds, no to do it again."
        case Awaiting.START | Awaiting.ENDED:
            return ""
