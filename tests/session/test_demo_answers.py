"""The answers that CI types into the README's first command do the demo job from end to end."""

from __future__ import annotations

import io
from pathlib import Path

from sayso.record.figures import figures_of
from sayso.record.store import open_store
from sayso.session.opening import JobOptions, read_procedure
from sayso.session.places import demo_procedure
from sayso.session.running import begun, run_typed

ANSWERS = Path(__file__).parents[1] / "journeys" / "demo_job_answers.txt"


def test_the_demo_job_is_done_by_its_typed_answers(tmp_path: Path) -> None:
    procedure = read_procedure(demo_procedure(), "en", {})
    said = io.StringIO()
    with (
        open_store(tmp_path / "jobs.sqlite") as store,
        begun(store, procedure, JobOptions(machine="tug 12")) as (job, first),
        ANSWERS.open() as lines,
    ):
        ended = run_typed(job, first, lines=lines, out=said)
        assert ended.outcome == "complete", said.getvalue()[-800:]
        pins = [
            e.data["value"] for e in store.entries(ended.job, kinds=("answer",)) if e.data["name"] == "pins"
        ]
    assert pins == [12]  # eight was read back, and corrected in one breath


def test_a_rehearsal_counts_in_no_figure_of_the_shop(tmp_path: Path) -> None:
    procedure = read_procedure(demo_procedure(), "en", {})
    with open_store(tmp_path / "jobs.sqlite") as store:
        for rehearsal in (True, False):
            options = JobOptions(machine="tug 12", rehearsal=rehearsal)
            with begun(store, procedure, options) as (job, first), ANSWERS.open() as lines:
                run_typed(job, first, lines=lines, out=io.StringIO())
        figures = figures_of(store)
    assert figures.jobs == 1
    assert {step.visits for step in figures.steps} == {1}
