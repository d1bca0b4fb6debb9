"""A job that was done, replayed from its journal against another revision: what would have gone otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sayso import dialogue
from sayso.dialogue.events import Event, Started
from sayso.dialogue.state import State, Visit
from sayso.procedure.model import AskDone, Procedure, Step
from sayso.rehearsal import bench as on_bench
from sayso.rehearsal.bench import Bench, BenchError


@dataclass(frozen=True, slots=True)
class Otherwise:
    """One thing that would have gone otherwise. `step` is '' for the end of the job."""

    step: str
    what: str

    def __str__(self) -> str:
        return f"step {self.step}: {self.what}" if self.step else self.what


def against_revision(old: Procedure, new: Procedure, events: Iterable[Event]) -> list[Otherwise]:
    """What would differ had the job been done on `new`, with the same answers to the same steps.

    `events` are those of the journal, oldest first. A step that is new and asks for more than 'done' ends
    the comparison there: nobody knows its answer.
    """
    told = list(events)
    state = dialogue.replay(old, told)
    started = next((event for event in told if isinstance(event, Started)), None)
    visits = [visit for visit in state.trail if visit.finished]
    found: list[Otherwise] = []
    went: list[str] = []
    answers = _by_step(visits)
    used: dict[str, int] = {}
    try:
        bench = on_bench.settle(
            on_bench.start(
                new,
                person=started.person if started else "Bench",
                wrench=started.wrench if started else "N.m",
                witnesses=started.witnesses if started and started.witnesses else on_bench.WITNESSES,
            )
        )
        while not bench.ended and len(went) < 5 * max(len(visits), 20):
            step = new.step(bench.step)
            given_again = sum(min(times, len(answers.get(name, ()))) for name, times in used.items())
            if not _ended(state) and given_again == len(visits):
                return _and_not_done([*found, *_where_it_stands(old, state, step)], visits, [*went, step.id])
            went.append(step.id)
            turn = used.get(step.id, 0)
            used[step.id] = turn + 1
            given = answers.get(step.id, [])
            if turn < len(given):
                bench = _again(bench, given[turn])
            elif isinstance(step.ask, AskDone):
                if step.id not in answers:
                    found.append(Otherwise(step.id, f"would be done, and was not: {step.say}"))
                bench = on_bench.answer(bench, "done")
            elif len(visits) < len(old.steps) and not _ended(state) and not given:
                found.append(Otherwise(step.id, f"the open job would come here next: {step.say}"))
                return _and_not_done(found, visits, went)
            else:
                found.append(Otherwise(step.id, f"would be asked, and nobody knows the answer: {step.say}"))
                return _and_not_done(found, visits, went)
    except BenchError as error:
        step_id = went[-1] if went else ""
        found.append(Otherwise(step_id, f"the answer of that day would not be taken: {error}"))
        return _and_not_done(found, visits, went)
    if bench.outcome != state.outcome and _ended(state):
        found.append(Otherwise("", f"the job would end '{bench.outcome}' instead of '{state.outcome}'"))
    return _and_not_done(found, visits, went)


def _again(bench: Bench, given: Visit) -> Bench:
    """What was done at this visit, done again: also a step skipped, or a value that somebody let stand."""
    if given.answer is None:
        return on_bench.skip(bench, given.skipped)
    said = " ".join(given.answer.said)
    return on_bench.answer(bench, said) if given.answer.within else on_bench.out_of_limits(bench, said)


def _where_it_stands(old: Procedure, state: State, step: Step) -> list[Otherwise]:
    """All that was done is done again: what lies ahead of an open job was not left out by anybody."""
    if not state.at_step or step.id != state.visit.step:
        return [Otherwise(step.id, f"the open job would come here next: {step.say}")]
    before = old.step(step.id).say
    return [Otherwise(step.id, f"here the job stands; it says now: {step.say}")] if step.say != before else []


def _and_not_done(found: list[Otherwise], visits: Sequence[Visit], went: Sequence[str]) -> list[Otherwise]:
    gone = dict.fromkeys(visit.step for visit in visits if visit.step not in went)
    return [*found, *(Otherwise(step, "was done, and would not be") for step in gone)]


def _by_step(visits: Iterable[Visit]) -> dict[str, list[Visit]]:
    found: dict[str, list[Visit]] = {}
    for visit in visits:
        found.setdefault(visit.step, []).append(visit)
    return found


def _ended(state: State) -> bool:
    return state.outcome != ""
