"""The way through the procedure: on to the next step, and what a changed answer does to work already done."""

from __future__ import annotations

from dataclasses import replace

from sayso.dialogue import asking, branching, ending, guidance, prompts, standing, telling, waiting, wording
from sayso.dialogue.branching import Way
from sayso.dialogue.state import Awaiting, State, Target, Visit
from sayso.dialogue.turn import Turn


def start(turn: Turn) -> None:
    way = branching.first_way(turn.state)
    _record_passed(turn, way)
    come_to(turn, way.target)


def go_on(turn: Turn, index: int) -> None:
    """The visit at `index` is finished: on to the step after it.

    When it was finished before (an answer was changed) the way is walked again from there. As long as it
    leads where it led, the work after it stands and the job goes back to where it was. Where it parts from
    the old way, the work on the abandoned branch has to be settled first.
    """
    while True:
        state = turn.state
        way = branching.way_after(state, state.trail[index])
        if index + 1 == len(state.trail):
            _record_passed(turn, way)
            come_to(turn, way.target)
            return
        ahead = state.trail[index + 1]
        if way.target.step != ahead.step:
            _part_from_the_old_way(turn, index)
            return
        index += 1
        if not ahead.finished:
            turn.update(at=index)
            come_back_to(turn)
            return


def come_to(turn: Turn, target: Target) -> None:
    """A step that is new on this way, or the end of it."""
    state = turn.state
    if state.carried:
        left_behind = _no_longer_reached(state, target)
        if left_behind:
            turn.update(carried=_without(state, left_behind))
            _settle(turn, left_behind, target)
            return
        if target.step in state.carried:
            _ask_whether_it_holds(turn, target)
            return
    if not target.step:
        ending.finish_job(turn, target.outcome)
        return
    turn.visit_added(Visit(target.step))
    _clear_question(turn)
    guidance.step_entered(turn)
    number, of, _ = wording.number_of(turn.state)
    turn.record("step_entered", step=target.step, visit=turn.state.at, number=number, of=of)
    telling.tell(turn)


def come_back_to(turn: Turn) -> None:
    """A step of this way that was come to before: its cautions are told again, what was answered stands."""
    _clear_question(turn)
    guidance.step_entered(turn)
    guidance.interrupted(turn)
    state = turn.state
    turn.record("step_entered", step=state.visit.step, visit=state.at, number=state.at + 1, again=True)
    telling.tell_cautions_again(turn)
    if not state.visit.begun and state.visit.answer is None:
        # Also one that was skipped at its warning: nothing is answered before that is acknowledged.
        telling.tell(turn)
        return
    turn.say(state.step.say, "step")
    asking.enter_question(turn)
    if waiting.begin_or_go_on(turn):
        waiting.announce(turn)
        return
    turn.update(awaiting=Awaiting.ANSWER)
    text = prompts.step_question(turn.state)
    turn.say(text.removeprefix(state.step.say), "question")
    telling.open_note(turn)


def settled(turn: Turn) -> None:
    """One step of the abandoned branch was dealt with: the next one, or on along the new way."""
    state = turn.state
    left = state.to_settle[:-1]
    turn.update(to_settle=left)
    if left:
        turn.update(awaiting=Awaiting.SETTLE)
        _ask_to_settle(turn)
        return
    turn.update(after_settle=Target())
    come_to(turn, state.after_settle)


def still_holds(turn: Turn) -> None:
    """The work met again on the new way stands as it is."""
    for name in turn.state.again:
        carried = turn.state.carried
        turn.visit_added(carried[name])
        index = turn.state.at
        turn.update(carried=carried.remove(name), accepted=turn.state.accepted.cons(index))
        standing.give(turn, index)
        why = "done before the change, still holds"
        turn.record("step_passed_over", step=name, visit=index, why=why)
    turn.update(again=())
    go_on(turn, turn.state.at)


def to_do_again(turn: Turn) -> None:
    """The first of the steps met again does not hold any more: it is done anew; the others are met later."""
    name = turn.state.again[0]
    turn.record("undone", step=name, how="to be done again")
    turn.update(again=(), carried=turn.state.carried.remove(name))
    come_to(turn, Target(step=name))


# --- how ----------------------------------------------------------------------------------------


def _part_from_the_old_way(turn: Turn, index: int) -> None:
    state = turn.state
    tail = tuple(state.trail[index + 1 :])
    for name, at in sorted(state.timers.items()):
        if at > index:
            turn.cancel_timer(name)
    turn.update(trail=state.trail[: index + 1], at=index)
    standing.recollect(turn)
    way = branching.way_after(turn.state, turn.state.trail[index])
    if state.only_said:  # a quiz: what was said on the other way is asked anew where it comes again
        _record_passed(turn, way)
        come_to(turn, way.target)
        return
    worked_on = tuple(visit for visit in tail if visit.answer is not None or visit.begun)
    abandoned = _latest_of_each(tuple(v for v in worked_on if not _is_reached(turn.state, way.target, v)))
    met_later = tuple(v for v in worked_on if v.answer is not None and _is_reached(turn.state, way.target, v))
    turn.update(carried=turn.state.carried.update({visit.step: visit for visit in met_later}))
    _record_passed(turn, way)
    if abandoned:
        _settle(turn, abandoned, way.target)
    else:
        turn.say("That changes the way.", "reply")
        come_to(turn, way.target)


def _settle(turn: Turn, abandoned: tuple[Visit, ...], target: Target) -> None:
    """List the work that is not on the new way; the last done is taken back first."""
    state = turn.state
    _clear_question(turn)
    names = [wording.short_name(state.procedure.step(visit.step)) for visit in abandoned]
    turn.update(
        awaiting=Awaiting.SETTLE, to_settle=abandoned, after_settle=target, at=len(turn.state.trail) - 1
    )
    turn.record("to_undo", steps=[visit.step for visit in abandoned], next=target.step or target.outcome)
    if len(names) == 1:
        turn.say("One step was done or begun on the other way.", "alert")
    else:
        turn.say(f"{len(names)} steps were done or begun on the other way: {wording.listed(names)}.", "alert")
    _ask_to_settle(turn)


def _ask_to_settle(turn: Turn) -> None:
    """What could hurt when it was done can hurt when it is taken back: its dangers and warnings first."""
    step = turn.state.procedure.step(turn.state.to_settle[-1].step)
    for number, caution in enumerate(step.cautions):
        if caution.level.needs_acknowledgement:
            telling.tell_caution_of(turn, step, number, again=True)
    asking.ask_again(turn)


def _ask_whether_it_holds(turn: Turn, target: Target) -> None:
    """Work done before the change is met on the new way: one question for the whole run of such steps."""
    state = turn.state
    again: list[str] = []
    while target.step in state.carried and target.step not in again:
        again.append(target.step)
        visit = state.carried[target.step]
        if visit.answer is not None:
            name = state.procedure.step(visit.step).ask.name
            state = replace(state, values=state.values.set(name, visit.answer.value))
        way = branching.way_after(state, visit)
        if way.passed:
            break
        target = way.target
    turn.update(awaiting=Awaiting.STILL_HOLDS, again=tuple(again))
    asking.ask_again(turn)


def _no_longer_reached(state: State, target: Target) -> tuple[Visit, ...]:
    visits = sorted(state.carried.values(), key=lambda visit: state.procedure.position(visit.step))
    return tuple(visit for visit in visits if not _is_reached(state, target, visit))


def _is_reached(state: State, target: Target, visit: Visit) -> bool:
    """On the way from the step in hand to `target` and on."""
    if not target.step:
        return False
    position = state.procedure.position
    return position(visit.step) in state.plan.ahead(position(target.step), position(state.visit.step))


def _latest_of_each(visits: tuple[Visit, ...]) -> tuple[Visit, ...]:
    """A step visited twice has to be settled once."""
    return tuple({visit.step: visit for visit in visits}.values())


def _without(state: State, visits: tuple[Visit, ...]) -> object:
    carried = state.carried
    for visit in visits:
        carried = carried.discard(visit.step)
    return carried


def _clear_question(turn: Turn) -> None:
    turn.update(pending=None, deviation=None, aside=None, not_met="", predicting="", first_guess=None)


def _record_passed(turn: Turn, way: Way) -> None:
    for problem in way.problems:
        turn.update(problem=problem)
    for name in way.passed:
        step = turn.state.procedure.step(name)
        turn.record("step_passed_over", step=name, why=f"does not apply: {step.when}")
    if way.problems:
        turn.record(
            "step_passed_over", step="", why="condition could not be worked out", problems=list(way.problems)
        )
