"""The questions of procedures as the ear meets them: the real grammar of each, and what people say to it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from random import Random

from pyrsistent import pvector

from sayso import dialogue
from sayso.answers.answer import Completeness
from sayso.answers.phonetic_alphabet import ALPHABET
from sayso.answers.torque import AT_TORQUE
from sayso.dialogue import asking, control_words, reasons
from sayso.dialogue.effects import Listen
from sayso.dialogue.state import Aside, Awaiting, Pending, State, Visit
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTorque,
    Procedure,
    Step,
)
from sayso.rehearsal import wordings
from sayso.rehearsal.bench import WITNESSES
from sayso.rehearsal.machine_truth import true_answer
from sayso.session.completeness import completeness_for
from sayso.session.phrases import EarGrammar, Lexicon, grammar_for

#: Control words that a simulated technician uses; any other control may still be heard by mistake.
CONTROLS_SAID = (
    "repeat", "say again", "why", "hold", "hold on", "carry on", "okay sayso", "how far am i", "undo",
    "undo that", "help", "back", "keep it", "newton metre wrench", "foot pound wrench", "end note",
)  # fmt: skip
LETTERS = "".join(ALPHABET)
WRENCHES = ("N.m", "lbf.ft", "lbf.in")
MEASURED = ("measure", "torque")
#: Values drawn for each question of this kind.
VALUES = {"count": 8, "measure": 3, "torque": 3, "serial": 3, "time": 7, "witness": 2}
#: Most things said to one question; procedures that ask the same bring their values together up to this.
MOST_SAID = 30
#: So many more values are drawn, and those are said too that hold a word which none before them held.
MORE_DRAWN = 150


@dataclass(frozen=True)
class Question:
    """`key` names what is asked and its range; `said` what is said to it; the rest is for the ear, as the
    ear of a job gets it."""

    key: str
    listen: Listen
    grammar: EarGrammar
    complete: Callable[[Sequence[str]], Completeness]
    said: tuple[str, ...]


def key_of(what: str, ask: Ask | None) -> str:
    """ "answer count 4..16", "confirm serial", "caution": questions with one key have like grammars.

    What is said to a read-back is yes, no and a value, so a read-back is keyed by the kind alone.
    """
    if ask is None or what not in ("answer", "confirm", "deviation"):
        return what
    if what == "deviation":
        what = "answer"
    detail = ""
    if what == "answer":
        match ask:
            case AskCount():
                detail = f"{ask.low}..{ask.high}"
            case AskMeasure():
                detail = ask.unit
            case AskSerial():
                detail = ask.pattern or "any"
            case AskChoice():
                detail = "|".join(sorted(option.words[0] for option in ask.options))
            case _:
                detail = ""
    return f"{what} {ask.kind} {detail}".strip()


def questions(procedures: Iterable[Procedure], lexicon: Lexicon, seed: int = 1) -> list[Question]:
    """Every question of the procedures once per key, with the things that people say to it."""
    found: dict[str, Question] = {}
    for procedure in procedures:
        for question in _of(procedure, lexicon, seed):
            before = found.get(question.key)
            if before is not None:
                more = tuple(dict.fromkeys((*before.said, *question.said)))
                # another grammar of the same key brings other values: those are tried under the first only
                # when its words allow them, so that nothing is counted as misheard that could not be heard
                words = {word for phrase in before.grammar.phrases for word in phrase.split()}
                more = tuple(p for p in more if p in before.said or set(p.split()) <= words)
                found[question.key] = replace(before, said=more[:MOST_SAID])
            else:
                found[question.key] = question
    return list(found.values())


def _of(procedure: Procedure, lexicon: Lexicon, seed: int) -> Iterator[Question]:
    start = replace(dialogue.begin(procedure), witnesses=WITNESSES)
    first = _at(start, procedure.steps[0])

    def plain(state: State, key: str, said: Iterable[str]) -> Question:
        return _plain(state, lexicon, key, said)

    yield plain(replace(first, held=True), "hold", control_words.wake_phrases())
    yield plain(replace(first, aside=Aside.STOP), "stop", (*wordings.YES, *wordings.NO))
    yield plain(replace(first, aside=Aside.SKIP_REASON), "skip_reason", ("no", "another reason"))
    yield plain(replace(first, aside=Aside.NOTE), "note", ("end note",))
    for awaiting, said in (
        (Awaiting.READY, (*asking.READY, "done", "repeat")),
        (Awaiting.CAUTION, (*asking.ACKNOWLEDGE, "undo", "repeat", "why")),
        (Awaiting.WAIT, ("done", "repeat", "how long", "why", "hold")),
        (Awaiting.SETTLE, (*asking.UNDONE[:3], *asking.KEEP[:2])),
        (Awaiting.KEEP_REASON, ("another reason", "needed anyway", *reasons.KEEP_REASONS)),
        (Awaiting.STILL_HOLDS, (*wordings.YES, *wordings.NO)),
    ):
        yield plain(replace(first, awaiting=awaiting), awaiting.value, said)
    seen: set[str] = set()
    for index, step in enumerate(procedure.steps):
        if isinstance(step.ask, AskNote) or (isinstance(step.ask, AskDone) and "answer done" in seen):
            continue
        rng = Random(f"{seed} {procedure.id} {index}")
        for what in ("answer", "confirm"):
            seen.add(key_of(what, step.ask))
            yield _at_step(_at(start, step), lexicon, step, what, rng)


def _plain(state: State, lexicon: Lexicon, key: str, said: Iterable[str]) -> Question:
    listen = asking.listen(state)
    grammar = grammar_for(state, listen, lexicon)
    return Question(key, listen, grammar, completeness_for(state, listen), tuple(dict.fromkeys(said)))


def _at_step(state: State, lexicon: Lexicon, step: Step, what: str, rng: Random) -> Question:
    ask = step.ask
    confirming = what == "confirm"
    values = [true_answer(step, rng, witnesses=WITNESSES) for _ in range(VALUES.get(ask.kind, 8))]
    if confirming:
        state = replace(state, awaiting=Awaiting.CONFIRM, pending=Pending(values[0], 1.0))
    listen = asking.listen(state)
    grammar = grammar_for(state, listen, lexicon)
    said: dict[str, None] = {}
    for value in values:
        for spelled in (False, True) if ask.kind in ("count", "measure", "torque") else (False,):
            said[" ".join(wordings.said(ask, value, rng, witnesses=WITNESSES, spelled=spelled))] = None
    if ask.kind in MEASURED and not confirming:
        said |= dict.fromkeys(
            _with_new_words(step, rng, {word for phrase in said for word in phrase.split()})
        )
    if isinstance(ask, AskSerial) and not confirming and "[A-Z]" in (ask.pattern or ""):
        # every letter by both of its names, two at a time: words that no drawn serial may hold
        pairs = [LETTERS[at : at + 2] for at in range(0, 26, 2)]
        said |= dict.fromkeys(" ".join(c.lower() for c in pair) for pair in pairs)
        said |= dict.fromkeys(" ".join(ALPHABET[c] for c in pair) for pair in pairs)
    if confirming:
        shorter = list(said)[:4]
        said = dict.fromkeys((*wordings.YES, *wordings.NO, *(f"no {v}" for v in shorter), *shorter))
    elif isinstance(ask, AskChoice):
        said |= dict.fromkeys(phrase for option in ask.options for phrase in option.words)
    elif ask.kind == "yes_no":
        said |= dict.fromkeys((*wordings.YES, *wordings.NO))
    elif isinstance(ask, AskDone):
        said |= dict.fromkeys((*wordings.DONE, *CONTROLS_SAID))
    if not isinstance(ask, AskDone):
        said |= dict.fromkeys(("undo", "keep it", "repeat"))
    # the question's own phrases too: of "o" and "oh" the grammar holds one, and people say both
    allowed = {*listen.phrases, *grammar.phrases}
    words = {word for phrase in allowed for word in phrase.split()}
    legal = tuple(p for p in said if p in allowed or (ask.kind in VALUES and set(p.split()) <= words))
    return Question(key_of(what, ask), listen, grammar, completeness_for(state, listen), legal)


def _with_new_words(step: Step, rng: Random, known: set[str]) -> Iterator[str]:
    """Ways to answer, each with a word that is not among the known ones: numbers have many."""
    for draw in range(MORE_DRAWN):
        wrench = WRENCHES[draw % len(WRENCHES)] if isinstance(step.ask, AskTorque) else "N.m"
        value = true_answer(step, rng, wrench=wrench, witnesses=WITNESSES)
        words = wordings.said(step.ask, value, rng, wrench=wrench, witnesses=WITNESSES)
        if not known.issuperset(words):
            known.update(words)
            yield " ".join(words)
    if isinstance(step.ask, AskTorque):  # the wrench has clicked: no number is said
        yield from (phrase for phrase in AT_TORQUE if not known.issuperset(phrase.split()))


def _at(state: State, step: Step) -> State:
    return replace(state, trail=pvector([Visit(step.id)]), at=0, awaiting=Awaiting.ANSWER)
