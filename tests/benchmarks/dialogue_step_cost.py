"""What one turn of the dialogue costs at step 10 and at step 2,000 of a long job. Run by hand:

python tests/benchmarks/dialogue_step_cost.py
"""

from __future__ import annotations

import statistics
import time

from sayso.dialogue import advance, begin
from sayso.dialogue.events import Heard, Started
from sayso.dialogue.state import Awaiting, State
from sayso.procedure.model import AskCount, AskDone, AskTorque, Caution, CautionLevel, Place, Procedure, Step

STEPS = 2_100
WINDOW = 60


def long_procedure(steps: int) -> Procedure:
    place = Place("long.yaml", 1, 1)
    warning = (Caution(CautionLevel.WARNING, "It falls."),)
    found = []
    for i in range(steps):
        ask = (
            AskDone(f"done_{i}"),
            AskCount(f"count_{i}", 1, 20),
            AskTorque(f"torque_{i}", 9.0, 8.1, 9.9),
        )[i % 3]
        found.append(Step(f"s{i}", f"Step {i}.", ask, place, cautions=warning if i % 10 == 0 else ()))
    return Procedure("long", "Long job", 1, tuple(found), "0" * 64, "long.yaml")


def turn(state: State, now: int) -> tuple[State, float]:
    """One utterance that the job waits for, and the seconds that `advance` took."""
    words = {Awaiting.CAUTION: "understood", Awaiting.CONFIRM: "yes"}.get(state.awaiting)
    words = words or {"done": "done", "count": "eight", "torque": "nine"}[state.step.ask.kind]
    begun = time.perf_counter()
    state, _ = advance(state, Heard(now, (words,)))
    return state, time.perf_counter() - begun


def measure() -> dict[int, float]:
    """Median seconds a turn, in a window of steps after step 10 and after step 2,000."""
    state, _ = advance(begin(long_procedure(STEPS)), Started(0, "J"))
    costs: dict[int, list[float]] = {10: [], 2000: []}
    now = 0
    while state.awaiting is not Awaiting.ENDED and state.at < 2000 + WINDOW:
        now += 1000
        at = state.at
        state, seconds = turn(state, now)
        for start, found in costs.items():
            if start <= at < start + WINDOW:
                found.append(seconds)
    return {start: statistics.median(found) for start, found in costs.items()}


if __name__ == "__main__":
    rounds = [measure() for _ in range(5)]
    early, late = (min(r[start] for r in rounds) for start in (10, 2000))
    print(f"step 10:    {early * 1e6:.0f} µs a turn")
    print(f"step 2,000: {late * 1e6:.0f} µs a turn")
    print(f"ratio:      {late / early:.2f}")
