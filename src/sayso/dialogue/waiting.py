"""The dwell of a step: a timer that runs while other talk goes on, and the question that waits for it."""

from __future__ import annotations

from sayso.dialogue import asking, prompts, wording
from sayso.dialogue.state import Awaiting
from sayso.dialogue.turn import Turn


def timer_name(step_id: str, index: int) -> str:
    return f"wait {step_id} {index}"


def begin_or_go_on(turn: Turn) -> bool:
    """Start the dwell of the step in hand, or see how it stands. True while it is not over."""
    state = turn.state
    step, visit = state.step, state.visit
    if step.wait_s <= 0 or visit.due_ms < 0 or visit.finished:
        return False
    if visit.due_ms == 0:
        due = turn.at_ms + round(step.wait_s * 1000)
        turn.update_visit(state.at, due_ms=due)
        turn.start_timer(timer_name(step.id, state.at), state.at, due)
        turn.record("timer_started", step=step.id, seconds=step.wait_s, due_ms=due)
        return True
    if turn.at_ms >= visit.due_ms:
        over(turn, timer_name(step.id, state.at), state.at)
        return False
    return True


def over(turn: Turn, name: str, index: int) -> None:
    """The dwell of the visit at `index` has passed, whether the timer said so or the clock of an event."""
    turn.cancel_timer(name)
    turn.update_visit(index, due_ms=-1)
    turn.record("timer_done", step=turn.state.trail[index].step)


def timer_done(turn: Turn, name: str) -> None:
    """Remembered while the job is on hold or something else is talked about; told at once otherwise."""
    state = turn.state
    index = state.timers.get(name)
    if index is None:
        return
    turn.update(timers=state.timers.remove(name))
    turn.update_visit(index, due_ms=-1)
    turn.record("timer_done", step=state.trail[index].step)
    if index == state.at and state.awaiting is Awaiting.WAIT and state.aside is None and not state.on_hold:
        ask_after_wait(turn)


def ask_after_wait(turn: Turn) -> None:
    turn.update(awaiting=Awaiting.ANSWER)
    asking.enter_question(turn)
    turn.say("The time is up.", "alert")
    turn.say(prompts.step_question(turn.state) or "Say done to go on.", "question")


def announce(turn: Turn) -> None:
    """The step was told; its dwell has begun."""
    turn.update(awaiting=Awaiting.WAIT)
    left = max(0, turn.state.visit.due_ms - turn.at_ms) / 1000.0
    turn.say(f"{wording.duration(left)}. I will ask when the time is up.", "step")


def too_early(turn: Turn) -> None:
    turn.say(f"Not yet. {prompts.time_left(turn.state, turn.at_ms)}", "reply")


def restart_timers(turn: Turn) -> None:
    """After a restart of the program: running dwells go on to the time at which they were due."""
    for name, index in sorted(turn.state.timers.items()):
        due = turn.state.trail[index].due_ms
        if turn.at_ms >= due:
            over(turn, name, index)
        else:
            turn.start_timer(name, index, due)
