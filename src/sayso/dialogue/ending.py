"""The end of a job: what was out of limits or skipped is told first, then it is closed."""

from __future__ import annotations

from sayso import answers
from sayso.dialogue import wording
from sayso.dialogue.effects import End, StopListening
from sayso.dialogue.state import Awaiting
from sayso.dialogue.turn import Turn


def finish_job(turn: Turn, outcome: str, reason: str = "") -> None:
    """Says the summary, records the end and closes the ear. Nothing acts on the job after this."""
    state = turn.state
    deviations: list[str] = []
    skipped: list[str] = []
    done = put_right = 0
    stands = {visit.step: visit.answer for visit in state.trail if visit.answer is not None}
    for visit in state.trail:
        step = state.procedure.step(visit.step)
        if visit.skipped:
            skipped.append(f"{wording.short_name(step)}, {visit.skipped}")
        elif visit.answer is not None:
            done += 1
            if not visit.answer.within and stands[visit.step].within:
                put_right += 1  # measured again later, and then it was within: nothing that stands
            elif not visit.answer.within:
                said = answers.echo(step.ask, visit.answer).rstrip(".")
                deviations.append(f"{wording.short_name(step)}, {said[:1].lower()}{said[1:]}")
    unsettled = [visit.step for visit in (*state.to_settle, *state.carried.values())]
    for name in sorted(state.timers):
        turn.cancel_timer(name)
    sentences = []
    if deviations:
        sentences.append(f"Out of limits: {'; '.join(deviations)}.")
    if put_right:
        value = "value was" if put_right == 1 else "values were"
        sentences.append(f"{put_right} {value} out of limits and put right.")
    if skipped:
        sentences.append(f"Skipped: {'; '.join(skipped)}.")
    if unsettled:
        open_work = [wording.short_name(state.procedure.step(name)) for name in sorted(unsettled)]
        sentences.append(f"Left unsettled after a change: {wording.listed(open_work)}.")
    sentences.append(f"{done} step{'' if done == 1 else 's'} done.")
    sentences.append(
        {"complete": "The job is complete.", "stopped": "The job is stopped."}.get(
            outcome, f"The job ends: {outcome}."
        )
    )
    turn.record(
        "ended",
        outcome=outcome,
        reason=reason,
        done=done,
        deviations=len(deviations),
        skipped=len(skipped),
        unsettled=sorted(unsettled),
    )
    turn.update(awaiting=Awaiting.ENDED, aside=None, pending=None, outcome=outcome)
    turn.say(" ".join(sentences), "end")
    turn.effects.append(StopListening())
    turn.effects.append(End(outcome))
