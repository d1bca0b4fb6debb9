"""What the page shows: one JSON-ready value that says all of where the job stands."""

from __future__ import annotations

from typing import Literal, TypedDict

from sayso import answers
from sayso.answers.answer import Answer
from sayso.dialogue import asked, asking, prompts, wording
from sayso.dialogue.state import Aside, Awaiting, State
from sayso.procedure.model import AskTorque, AskWitness

#: finished steps marked in the drawing of the branches: the newest few, for the same reason
SHOWN_WAY = 200
#: answers and problems on the page: the newest few, so that a page costs the same at step 2,000
SHOWN_ANSWERS = 12

Condition = Literal["speaking", "listening", "waiting", "held", "ended"]


class CautionView(TypedDict):
    level: str  #: danger, warning, caution, notice
    text: str
    acknowledged: bool  #: also true for a level that needs no acknowledgement, once told


class TorqueView(TypedDict):
    target: float  #: in `unit`, the unit of the wrench in hand
    low: float
    high: float
    unit: str  #: N.m, lbf.ft, lbf.in
    fasteners: int


class AnswerView(TypedDict):
    name: str
    said: str  #: as sayso says it
    value: bool | int | float | str
    unit: str
    within: bool


class HeardView(TypedDict):
    words: str
    confidence: float
    used: bool  #: it was an answer or a control word
    typed: bool  #: by a key or on a keyboard, not by voice


class View(TypedDict):
    job: str
    title: str
    revision: int
    machine: str
    person: str
    condition: Condition  #: 'waiting': a dwell runs, or silence is being waited out
    awaiting: str  #: see state.Awaiting; an open side talk (note, stop, skip_reason) comes first
    step: str  #: id, '' before the first step
    step_title: str
    number: int  #: of this step on the way, from 1; 0 before the first
    of: int  #: steps on the whole way
    certain: bool  #: false while a branch ahead may make the way shorter
    section: str
    done: int  #: steps behind on the way
    remaining: int  #: steps ahead on the way, this one included
    way: list[str]  #: ids of the steps behind on the way, oldest first
    cautions: list[CautionView]
    text: str  #: the step in its own words
    why: str
    hint: str
    question: str  #: the open question in full
    choices: str  #: what may be said
    saying: str  #: the utterance being spoken, or the last one
    heard: HeardView
    code_asked: bool  #: a second person's code is being asked for: a large screen must not show it
    before: list[str]  #: what must be to hand, while that is being asked; else empty
    out_of_limits: str  #: the confirmed value that lies outside its limits, as sayso says it; else ''
    read_back: str  #: the value waiting for a yes, '' when none
    timer_due_ms: int  #: epoch ms at which the dwell of this step ends; 0 when none runs
    waited: bool  #: the dwell of this step is over: what is left of it is its question
    picture: str
    torque: TorqueView | None
    answers: list[AnswerView]  #: newest last
    level: str
    quiet: bool
    noisy: bool
    wrench: str
    device_lost: str
    problem: str
    outcome: str
    to_settle: list[str]  #: steps of an abandoned branch that still have to be undone or kept


def view(state: State, now_ms: int) -> View:
    at_step = state.at_step
    step = state.step if at_step else None
    number, of, certain = wording.number_of(state) if at_step else (0, len(state.procedure.steps), False)
    question, _ = prompts.open_question(state, now_ms)
    what = state.aside.value if state.aside is not None else state.awaiting.value
    ended = state.awaiting is Awaiting.ENDED
    # what is being guessed at is not shown beside the question
    guessing = state.awaiting is Awaiting.PREDICT
    return View(
        job=state.job,
        title=state.procedure.title,
        revision=state.procedure.revision,
        machine=state.machine,
        person=state.person,
        condition=_condition(state),
        awaiting=what,
        step=step.id if step else "",
        step_title=wording.short_name(step) if step else "",
        number=number,
        of=of,
        certain=certain,
        section=step.section if step else "",
        done=number if ended and number else max(0, number - 1),
        remaining=0 if ended else of - max(0, number - 1),
        way=[visit.step for visit in state.trail[-SHOWN_WAY:] if visit.finished],
        cautions=_cautions(state) if at_step else [],
        text=step.say if step else "",
        why=step.why if step and not guessing else "",
        hint=step.hint if step and not guessing else "",
        question=question,
        choices="" if ended else prompts.choices(state),
        saying=state.saying,
        heard=HeardView(
            words=_heard_words(state),
            confidence=state.heard.confidence,
            used=state.heard.used,
            typed=state.heard.typed,
        ),
        code_asked=code_asked(state),
        before=_before(state),
        out_of_limits=answers.echo(state.step.ask, state.deviation) if state.deviation is not None else "",
        read_back=prompts.read_back_text(state) if state.awaiting is Awaiting.CONFIRM else "",
        timer_due_ms=max(0, state.visit.due_ms) if at_step else 0,
        waited=at_step and state.visit.due_ms < 0,
        picture=step.picture if step and not guessing else "",
        torque=_torque(step.ask, state.wrench)
        if step and isinstance(step.ask, AskTorque) and not guessing
        else None,
        answers=_answers(state),
        level=state.level,
        quiet=state.quiet,
        noisy=state.noisy,
        wrench=state.wrench,
        device_lost=state.device_lost,
        problem=state.problem,
        outcome=state.outcome,
        to_settle=[wording.short_name(state.procedure.step(visit.step)) for visit in state.to_settle],
    )


#: What the page shows for a code: letters for four metres are for everybody, a code is one person's.
CODE_SHOWN = "code"
SHORTEST_CODE = 3


def code_asked(state: State) -> bool:
    if state.aside is not None or not state.at_step:
        return state.aside in (Aside.NOT_MET_CODE, Aside.NOT_MET_CONFIRM)
    return isinstance(state.step.ask, AskWitness)


def _heard_words(state: State) -> str:
    words = state.heard.words
    # Fewer digits are rather the answer to the question before, which stands until a word is heard here.
    long = sum(len(word) if word.isdigit() else 1 for word in words) >= SHORTEST_CODE
    if long and asked.is_code(words) and (code_asked(state) or _was_a_code(state, words)):
        return CODE_SHOWN
    return " ".join(words)


def _was_a_code(state: State, words: tuple[str, ...]) -> bool:
    """Said at the step before, a hold point that needed no yes: it stands until the next word is heard."""
    if state.at < 1:
        return False
    ask = state.procedure.step(state.trail[state.at - 1].step).ask
    return isinstance(ask, AskWitness) and isinstance(asked.understood(state, ask, words), Answer)


def _condition(state: State) -> Condition:
    if state.awaiting is Awaiting.ENDED:
        return "ended"
    if state.on_hold:
        return "held"
    if state.speaking:
        return "speaking"
    if asking.listening_for_note(state):
        return "listening"  # for as long as it takes
    return "waiting" if asking.patience(state) is None else "listening"


def _before(state: State) -> list[str]:
    if state.awaiting is not Awaiting.READY:
        return []
    before = state.procedure.before
    return [*before.tools, *(wording.part_label(part) for part in before.parts), *before.conditions]


def _cautions(state: State) -> list[CautionView]:
    passed = state.visit.cautions
    return [
        CautionView(level=caution.level.value, text=caution.say, acknowledged=number < passed)
        for number, caution in enumerate(state.step.cautions)
    ]


def _torque(ask: AskTorque, wrench: str) -> TorqueView:
    target, low, high = answers.torque_in_wrench_unit(ask, wrench)
    return TorqueView(target=target, low=low, high=high, unit=wrench, fasteners=ask.fasteners)


def _answers(state: State) -> list[AnswerView]:
    shown: list[AnswerView] = []
    for name in state.recent[-SHOWN_ANSWERS:]:
        index = state.given_at.get(name)
        answer = state.trail[index].answer if index is not None else None
        if index is not None and answer is not None:
            ask = state.procedure.step(state.trail[index].step).ask
            shown.append(
                AnswerView(
                    name=name,
                    said=answers.echo(ask, answer),
                    value=answer.value,
                    unit=answer.unit,
                    within=answer.within,
                )
            )
    return shown
