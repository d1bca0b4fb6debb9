"""What can be learnt from a procedure: its values, its order, its branches and its reasons.

Cautions are left out on purpose: what can hurt is always told, never made a guessing game.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from sayso.answers import torque_target
from sayso.dialogue.step_questions import first_sentence, to_what_torque
from sayso.procedure.asking_first import why_never
from sayso.procedure.model import (
    END,
    Ask,
    AskChoice,
    AskCount,
    AskTorque,
    AskYesNo,
    Option,
    Prediction,
    Procedure,
    Step,
)

PointKind = Literal["torque", "way", "order", "branch", "reason"]

#: A spoken list of more than three is hard to hold in mind while the hands are busy.
CHOICES = 3
LETTER_WORDS = ("first", "second", "third")


@dataclass(frozen=True, slots=True)
class LearningPoint:
    """One thing to know. `ask` is what is asked in the quiz, `right` the text of the right answer value."""

    id: str
    skill: str
    kind: PointKind
    step: str
    question: str
    ask: Ask
    right: str
    tell: str


def points_of(procedure: Procedure) -> tuple[LearningPoint, ...]:
    """Every learning point of a procedure, in the order of its steps. Ids stay the same between
    revisions as long as the step's id does, so what an apprentice knows survives an edit."""
    return tuple(_points(procedure))


def _points(procedure: Procedure) -> Iterator[LearningPoint]:
    says = [first_sentence(step.say) for step in procedure.steps]
    whys = [first_sentence(step.why) for step in procedure.steps]
    for position, step in enumerate(procedure.steps):
        skill = step.skill or procedure.id
        stem = f"{procedure.id}/{step.id}"
        if step.prediction is not None and not why_never(step):
            yield _way(step, step.prediction, stem, skill)
        if isinstance(step.ask, AskTorque):
            yield _torque(step, step.ask, stem, skill)
        if position and position + 1 < len(procedure.steps):
            order = _order(procedure, position, says, stem, skill)
            if order:
                yield order
        if step.why:
            reason = _reason(procedure, position, whys, stem, skill)
            if reason:
                yield reason
        if step.then.cases and isinstance(step.ask, AskCount | AskChoice | AskYesNo):
            yield from _branches(procedure, step, stem, skill)


def _one_of_three(
    step: Step,
    kind: PointKind,
    stem: str,
    skill: str,
    *,
    question: str,
    right: str,
    wrong: Sequence[str],
    tell: str,
    case: str = "",
) -> LearningPoint:
    """A point that is asked with its answers: `case` tells several of one kind and step apart."""
    id_ = f"{stem}/{kind}/{case}" if case else f"{stem}/{kind}"
    ask, listed, value = _choice(id_, right, wrong)
    return LearningPoint(
        id=id_,
        skill=skill,
        kind=kind,
        step=step.id,
        question=f"{question} {listed}",
        ask=ask,
        right=value,
        tell=tell,
    )


def _way(step: Step, prediction: Prediction, stem: str, skill: str) -> LearningPoint:
    return _one_of_three(
        step,
        "way",
        stem,
        skill,
        question=f"{first_sentence(step.say)}. {prediction.question}",
        right=prediction.right,
        wrong=prediction.wrong,
        tell=f"It is {prediction.right}.",
    )


def _torque(step: Step, ask: AskTorque, stem: str, skill: str) -> LearningPoint:
    return LearningPoint(
        id=f"{stem}/torque",
        skill=skill,
        kind="torque",
        step=step.id,
        question=to_what_torque(step),
        ask=AskTorque(
            name="guess", target=ask.target, low=ask.low, high=ask.high, unit=ask.unit, read_back=False
        ),
        right="within",
        tell=f"It is {torque_target(ask, ask.unit)}.",
    )


def _choice(stem: str, right: str, wrong: Sequence[str]) -> tuple[AskChoice, str, str]:
    """A spoken choice of three: (ask, spoken list, right value). The order depends only on the point's id."""
    texts = sorted([right, *wrong[: CHOICES - 1]], key=lambda text: hash_order(stem, text))
    options = tuple(
        Option(value=word, words=(word, f"the {word}", f"the {word} one"))
        for word, _ in zip(LETTER_WORDS, texts, strict=False)
    )
    listed = " ".join(
        f"{word.capitalize()}: {text}." for word, text in zip(LETTER_WORDS, texts, strict=False)
    )
    return AskChoice(name="guess", options=options), listed, LETTER_WORDS[texts.index(right)]


def hash_order(stem: str, text: str) -> str:
    """A fixed shuffle: the same on every machine and run, so that a quiz can be replayed."""
    return hashlib.sha256(f"{stem}\n{text}".encode()).hexdigest()


def _near(position: int, texts: Sequence[str]) -> list[str]:
    """Texts of other steps, nearest first, each once: believable wrong answers."""
    order = sorted(range(len(texts)), key=lambda i: (abs(i - position), i))
    seen: dict[str, None] = {}
    for i in order:
        if i != position and texts[i] and texts[i] != texts[position]:
            seen.setdefault(texts[i], None)
    return list(seen)


def _order(
    procedure: Procedure, position: int, texts: Sequence[str], stem: str, skill: str
) -> LearningPoint | None:
    step = procedure.steps[position]
    if step.then.cases or step.then.otherwise or step.ends:
        return None
    following = procedure.steps[position + 1]
    if following.when:
        return None
    right = texts[position + 1]
    wrong = [t for t in _near(position + 1, texts) if t != texts[position]]
    if len(wrong) < CHOICES - 1:
        return None
    return _one_of_three(
        step,
        "order",
        stem,
        skill,
        question=f"You have done this: {texts[position]}. What comes next?",
        right=right,
        wrong=wrong,
        tell=f"Next comes: {right}.",
    )


def _reason(
    procedure: Procedure, position: int, reasons: Sequence[str], stem: str, skill: str
) -> LearningPoint | None:
    step = procedure.steps[position]
    wrong = _near(position, reasons)
    if len(wrong) < CHOICES - 1:
        return None
    return _one_of_three(
        step,
        "reason",
        stem,
        skill,
        question=f"{first_sentence(step.say)}: why?",
        right=reasons[position],
        wrong=wrong,
        tell=f"Because: {step.why}",
    )


def _branches(procedure: Procedure, step: Step, stem: str, skill: str) -> Iterator[LearningPoint]:
    cases = [c for c in step.then.cases if not c.is_condition and c.target != END]
    named = [*(c.target for c in cases), step.then.otherwise or END]
    # a dict, not a set: a set's order differs from run to run, and with it what is offered
    spoken = {t: first_sentence(procedure.step(t).say) for t in dict.fromkeys(named) if t != END}
    for case in cases:
        right = spoken[case.target]
        # the ways that stand after the right one, round and round: each is offered as often as any other
        texts = list(dict.fromkeys(spoken.values()))
        after = texts.index(right) + 1
        wrong = [text for text in (*texts[after:], *texts[:after]) if text != right]
        if not wrong:
            continue
        yield _one_of_three(
            step,
            "branch",
            stem,
            skill,
            question=f"{_asked(step)} You find {case.when}. What do you do then?",
            right=right,
            wrong=wrong,
            tell=f"With {case.when}: {right}.",
            case=case.when,
        )


def _asked(step: Step) -> str:
    """A bare yes or no needs the question that it answers."""
    said = f"{first_sentence(step.say)}."
    return f"{said} {step.question}" if isinstance(step.ask, AskYesNo) and step.question else said
