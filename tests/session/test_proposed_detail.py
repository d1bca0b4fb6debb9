"""A proposal of more or less detail end to end: this shop's jobs in the record, and a job that differs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from sayso.dialogue.effects import Say
from sayso.dialogue.events import Heard
from sayso.record.figures import figures_of
from sayso.record.store import Store
from sayso.session.opening import ENOUGH_JOBS, JobOptions, Level, open_job, read_procedure

STEPS = 6
JOB = "procedure: bolts\ntitle: Bolts\nrevision: 1\nsteps:\n" + "".join(
    f"  - id: bolt-{i}\n    say: Tighten bolt {i}.\n    why: It holds.\n" for i in range(STEPS)
)
PACES = (30, 34, 38, 42, 46, 50, 54, 58)  #: seconds a step in the shop's jobs


def work(store: Store, file: Path, pace_s: float, level: Level, before: Sequence[str] = ()) -> list[str]:
    """A whole job through the real journal, each step `pace_s` long; all that was said."""
    options = JobOptions(person="Ann", level=level)
    job, first = open_job(store, read_procedure(file, "en", {}), options)
    said = [e.text for e in job.handle(first) if isinstance(e, Say)]
    at = first.at_ms
    while job.outcome is None:
        at += round(pace_s * 1000)
        for words in (*before, "done"):
            at += 1
            said += [e.text for e in job.handle(Heard(at, (words,), typed=True)) if isinstance(e, Say)]
    job.journal.close()
    return said


@pytest.fixture
def shop(store: Store, tmp_path: Path) -> tuple[Store, Path]:
    file = tmp_path / "bolts.yaml"
    file.write_text(JOB)
    for pace in PACES[:ENOUGH_JOBS]:
        assert not proposals(work(store, file, pace, "normal")), "proposed before anything was known"
    return store, file


def proposals(said: list[str]) -> list[str]:
    return [text for text in said if "detail if you want it" in text]


@pytest.mark.parametrize(
    ("pace_s", "level", "told"),
    [
        (
            5,
            "normal",
            ["5 of 5 steps were quicker than they mostly are here. Say less detail if you want it."],
        ),
        (5, "brief", []),
        (44, "normal", []),
        (
            90,
            "normal",
            ["5 of 5 steps took longer than they mostly do here. Say more detail if you want it."],
        ),
        (90, "full", []),
    ],
)
def test_time_is_compared_with_this_shops_own_jobs(
    shop: tuple[Store, Path], pace_s: float, level: Level, told: list[str]
) -> None:
    """The quartiles of eight paces from 30 to 58 s in steps of 4 are 37 and 51 s (linear interpolation)."""
    store, file = shop
    usual = figures_of(store).steps[0].seconds
    assert usual is not None
    # the clock runs beside the simulated seconds: half a second of a loaded machine is no fault
    assert (usual.p25, usual.p75) == pytest.approx((37, 51), abs=0.5)
    assert proposals(work(store, file, pace_s, level)) == told


def test_what_is_proposed_can_be_had_by_saying_it(shop: tuple[Store, Path]) -> None:
    store, file = shop
    said = work(store, file, 44, "normal", ("repeat", "more detail"))
    assert "You asked for a repeat or for help" not in " ".join(
        said
    )  # full from the first step on: nothing more
    assert "It holds." in said
    said = work(store, file, 44, "normal", ("repeat",))
    assert proposals(said) == [
        "You asked for a repeat or for help in 5 of 5 steps. Say more detail if you want it."
    ]


def test_answers_that_are_not_understood_lead_to_a_proposal(shop: tuple[Store, Path]) -> None:
    store, file = shop
    assert proposals(work(store, file, 44, "brief", ("banana", "banana"))) == [
        "In 5 of 5 steps I did not understand you at once. Say more detail if you want it."
    ]
