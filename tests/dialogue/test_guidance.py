"""sayso proposes more or less detail from what it measured, says why, and leaves the choice to the person."""

from __future__ import annotations

from sayso.dialogue import advance, begin, replay
from sayso.dialogue.effects import Say
from sayso.dialogue.events import Event, Heard, Started
from sayso.dialogue.guidance import ENOUGH_STEPS, propose
from sayso.dialogue.snapshot import from_json
from sayso.dialogue.state import Effort
from sayso.procedure.model import AskDone, Place, Procedure, Step

STEPS = tuple(
    Step(f"bolt-{i}", f"Tighten bolt {i}.", AskDone(f"bolt_{i}"), Place("bolts.yaml", i, 1))
    for i in range(12)
)
BOLTS = Procedure("bolts", "Bolts", 1, STEPS, "0" * 64, "bolts.yaml")
USUAL = tuple((step.id, 20.0, 60.0) for step in STEPS)


def job(
    seconds_a_step: float, before_done: tuple[str, ...] = (), **started: object
) -> tuple[list[Event], list[str]]:
    """All events of the job and all that was said, with `before_done` spoken on each step."""
    at = 1_000
    events: list[Event] = [Started(at, "job", **started)]  # type: ignore[arg-type]
    for _ in STEPS:
        for words in before_done:
            events.append(Heard(at + 1, (words,), typed=True))
        at += int(seconds_a_step * 1000)
        events.append(Heard(at, ("done",), typed=True))
    state, said = begin(BOLTS), []
    for event in events:
        state, effects = advance(state, event)
        said += [effect.text for effect in effects if isinstance(effect, Say)]
    assert replay(BOLTS, events) == state
    assert from_json(BOLTS, state.as_json()) == state
    return events, said


def proposals(said: list[str]) -> list[str]:
    return [text for text in said if "detail if you want it" in text]


def test_who_asks_for_repeats_is_offered_more_detail_once_and_told_why() -> None:
    _, said = job(30, ("repeat",))
    assert proposals(said) == [
        "You asked for a repeat or for help in 5 of 5 steps. Say more detail if you want it."
    ]


def test_who_is_slower_than_the_shop_is_offered_more_detail() -> None:
    _, said = job(90, usual=USUAL)
    assert proposals(said) == [
        "5 of 5 steps took longer than they mostly do here. Say more detail if you want it."
    ]


def test_who_is_quicker_than_the_shop_is_offered_less() -> None:
    _, said = job(5, usual=USUAL)
    assert proposals(said) == [
        "5 of 5 steps were quicker than they mostly are here. Say less detail if you want it."
    ]


def test_an_ordinary_job_hears_no_proposal() -> None:
    assert proposals(job(30, usual=USUAL)[1]) == []
    assert proposals(job(5)[1]) == []
    assert proposals(job(30, ("repeat",), quiet=True)[1]) == []


def test_the_least_detail_is_never_lowered_and_the_most_never_raised() -> None:
    quick = (Effort(5, 0, 0, 20, 60),) * ENOUGH_STEPS
    asking = (Effort(30, 1, 0),) * ENOUGH_STEPS
    assert propose("brief", quick) is None
    assert propose("full", asking) is None


def test_missed_words_never_lead_to_less_detail() -> None:
    assert propose("normal", (Effort(5, 0, 1, 20, 60),) * ENOUGH_STEPS) is None
