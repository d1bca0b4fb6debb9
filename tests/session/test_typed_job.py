"""A job on the keyboard, through the same loop and record as a job by voice."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.procedure.model import Procedure
from sayso.record.store import Store
from sayso.session.errors import UserError
from sayso.session.opening import JobOptions, open_job, read_procedure, resume_job
from tests.session.conftest import HARNESS_SWAP
from tests.session.typed_job import ANSWERS, WHOLE_JOB, copy_of, go_on, new_job, recorded_answers


def test_a_whole_job_is_done_and_recorded(store: Store, procedure: Procedure) -> None:
    ended, transcript = new_job(store, procedure, WHOLE_JOB)
    assert ended.outcome == "complete"
    assert recorded_answers(store, ended.job) == ANSWERS
    assert "Fit the short harness." in transcript
    assert "Fit the long harness." not in transcript


def test_the_other_branch_is_taken_on_another_count(store: Store, procedure: Procedure) -> None:
    lines = tuple("12" if line == "8" else line for line in WHOLE_JOB)
    ended, transcript = new_job(store, procedure, lines)
    assert ended.outcome == "complete"
    assert recorded_answers(store, ended.job)["pins"] == 12
    assert "Fit the long harness." in transcript
    assert "Fit the short harness." not in transcript


def test_a_count_that_no_branch_knows_ends_with_the_lead_called(store: Store, procedure: Procedure) -> None:
    ended, _ = new_job(store, procedure, ("understood", "done", "3", "yes", "9", "yes", "done"))
    assert ended.outcome == "lead called"


def test_end_of_input_leaves_the_job_open(store: Store, procedure: Procedure) -> None:
    ended, _ = new_job(store, procedure, WHOLE_JOB[:4])
    assert ended.outcome is None
    assert [row.job for row in store.open_jobs()] == [ended.job]


@pytest.mark.parametrize("cut", range(len(WHOLE_JOB)))
def test_a_job_left_anywhere_goes_on_at_the_same_question(
    store: Store, procedure: Procedure, cut: int
) -> None:
    left, _ = new_job(store, procedure, WHOLE_JOB[:cut])
    ended, _ = go_on(store, None, WHOLE_JOB[cut:])
    assert ended.job == left.job
    assert ended.outcome == "complete"
    assert recorded_answers(store, ended.job) == ANSWERS
    given = [e.data["name"] for e in store.entries(ended.job, kinds=("answer",))]
    assert len(given) == len(set(given)), "an answer was recorded twice"


def test_a_job_goes_on_with_the_text_it_was_begun_with(store: Store, tmp_path: Path) -> None:
    file = copy_of(HARNESS_SWAP, tmp_path / "work")
    new_job(store, read_procedure(file, "en", {}), WHOLE_JOB[:6])
    file.write_text(
        file.read_text()
        .replace("Fit the short harness.", "Paint it green.")
        .replace("revision: 1", "revision: 2")
    )
    ended, transcript = go_on(store, None, WHOLE_JOB[6:])
    assert ended.outcome == "complete"
    assert "Fit the short harness." in transcript
    assert "Paint it green." not in transcript


def test_a_job_goes_on_when_its_file_is_gone(store: Store, tmp_path: Path) -> None:
    file = copy_of(HARNESS_SWAP, tmp_path / "work")
    new_job(store, read_procedure(file, "en", {}), WHOLE_JOB[:6])
    file.unlink()
    ended, _ = go_on(store, None, WHOLE_JOB[6:])
    assert ended.outcome == "complete"


def test_a_job_with_shared_steps_above_its_folder_goes_on(store: Store, tmp_path: Path) -> None:
    (tmp_path / "shared.yaml").write_text(
        "shared: lights\nsteps:\n  - id: lights\n    say: Do the lights work?\n    ask: {yes_no: lights}\n"
    )
    (tmp_path / "wren").mkdir()
    main = tmp_path / "wren" / "check.yaml"
    main.write_text("procedure: check\ntitle: Check\nrevision: 1\nsteps:\n  - include: ../shared.yaml\n")
    left, _ = new_job(store, read_procedure(main, "en", {}), ())
    ended, _ = go_on(store, left.job, ("yes",))
    assert ended.outcome == "complete"


def test_a_job_can_be_named_by_its_number_or_the_beginning_of_its_name(
    store: Store, procedure: Procedure
) -> None:
    left, _ = new_job(store, procedure, ())
    for name in ("1", "wren-48", left.job):
        job = resume_job(store, name)
        assert job.journal.job == left.job
        job.journal.close()


def test_an_unknown_job_is_refused_with_the_list_of_open_ones(store: Store, procedure: Procedure) -> None:
    with pytest.raises(UserError, match="there is no open job"):
        resume_job(store, None)
    left, _ = new_job(store, procedure, ())
    with pytest.raises(UserError, match=left.job):
        resume_job(store, "heron")


def test_two_jobs_begun_in_the_same_second_have_different_names(store: Store, procedure: Procedure) -> None:
    names = set()
    for _ in range(3):
        job, _first = open_job(store, procedure, JobOptions())
        names.add(job.journal.job)
        job.journal.close()
    assert len(names) == 3


def test_typed_answers_may_be_digits_units_and_serials(store: Store, procedure: Procedure) -> None:
    lines = ("understood", "done", "2.5 volts", "yes", "twelve", "yes", "done", "hk1234", "yes",
             "9.0 N.m", "yes", "no", "done")  # fmt: skip
    ended, _ = new_job(store, procedure, lines)
    assert recorded_answers(store, ended.job) == {
        "link_voltage": 2.5, "pins": 12, "harness": "HK1234", "clamp": 9.0, "lights": False,
    }  # fmt: skip


def test_an_empty_line_is_the_done_key(store: Store, procedure: Procedure) -> None:
    ended, transcript = new_job(store, procedure, ("understood", "", "3", "yes"))
    assert "Measure the link voltage." in transcript
    assert ended.outcome is None


def test_a_note_is_typed_in_the_next_line_and_kept(store: Store, procedure: Procedure) -> None:
    lines = ("understood", "note", "clip three is cracked", "done")
    ended, transcript = new_job(store, procedure, lines)
    assert "Note kept." in transcript
    (note,) = store.entries(ended.job, kinds=("note",))
    assert note.data["text"] == "clip three is cracked"
    ended, transcript = new_job(store, procedure, ("understood", "note", "end note", "done"))
    assert "No note was kept." in transcript


def test_whoever_types_is_always_answered(store: Store, procedure: Procedure) -> None:
    """By voice sayso falls silent after the third try, and to talk on hold; a keyboard gets a line always."""
    lines = ("understood", *["banana"] * 6, "hold", "banana", "stop", "carry on")
    _, transcript = new_job(store, procedure, lines)
    blocks = transcript.split("you> ")[2:-1]
    assert len(blocks) == len(lines) - 1
    for block in blocks:
        assert "sayso> " in block, transcript
    assert transcript.count("On hold. Say carry on") == 3
