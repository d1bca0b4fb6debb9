"""Whose each entry is, told from the entries alone: the last person named before it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sayso.dialogue.asked import one_name
from sayso.dialogue.events import Heard, Resumed
from sayso.record import Store, open_store
from sayso.record.chain import Entry, canonical
from sayso.record.hands import changes_of_jobs, people_of, person_now
from sayso.record.names import Pseudonyms
from sayso.record.report import ReportOptions, render
from sayso.record.story_telling import story_of
from sayso.record.verify import verify_job
from sayso.session.opening import JobOptions, open_job, read_procedure, resume_job
from tests.session.conftest import HARNESS_SWAP

PEOPLE = st.sampled_from(["Ada Finch", "Bo Tarn", "bo tarn", "Cy Vale"])


@given(st.lists(st.one_of(PEOPLE, st.none())), PEOPLE)
def test_each_answer_is_of_the_last_person_named_before_it(happened: list[str | None], began: str) -> None:
    """None is an answer, a name is a job handed over."""
    told: list[tuple[str, dict[str, object]]] = [("opened", {"meta": {"person": began}})]
    wanted, now = {}, began
    for number, what in enumerate(happened):
        if what is None:
            wanted[f"s{number}"] = now
            told.append(("step_entered", {"step": f"s{number}", "visit": number}))
            told.append(("answer", {"step": f"s{number}", "visit": number, "name": f"a{number}", "value": 1}))
        else:
            told.append(("person_changed", {"step": "", "from": now, "to": what}))
            now = what
    entries = [
        Entry("J", seq, seq * 10, kind, canonical(data), "0" * 64, "1" * 64)
        for seq, (kind, data) in enumerate(told)
    ]
    story = story_of(entries)
    assert {given.step: story.person_at(given.seq) for given in story.answers} == wanted
    assert story.person == began
    assert {one_name(name) for name in story.people} == {
        one_name(name) for name in (began, *happened) if name is not None
    }
    assert len(story.people) == len({one_name(name) for name in story.people})
    assert story.people[0] == began
    # without names they stay as many, and as far apart
    hidden = Pseudonyms().job(entries)
    left = {side for row in hidden if row["kind"] == "person_changed" for side in row["data"].values()} - {""}
    assert all(re.fullmatch(r"person \d", name) for name in left)
    assert len(left) == (len(story.people) if story.taken_over else 0)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(tmp_path_factory.mktemp("hands") / "jobs.sqlite") as opened:
        yield opened


@settings(max_examples=20, deadline=None)
@given(takers=st.lists(PEOPLE, max_size=4))
def test_the_record_and_the_dialogue_agree_whose_it_is(record: Store, takers: list[str]) -> None:
    found = read_procedure(HARNESS_SWAP, "en", {})
    job, first = open_job(record, found, JobOptions(person="Ada Finch"))
    job.handle(first)
    for taker in takers:
        job.handle(Resumed(job.clock.now_ms(), person=taker))
    name = job.journal.job
    job.journal.close()
    changes = changes_of_jobs(record).get(name, ())
    assert person_now("Ada Finch", changes) == job.state.person
    assert people_of("Ada Finch", changes) == list(job.state.people)
    assert verify_job(record, name).sound
    again = resume_job(record, name)
    assert again.state == job.state
    again.journal.close()


def test_each_ones_word_to_a_warning_stands_in_the_report(record: Store) -> None:
    found = read_procedure(HARNESS_SWAP, "en", {})
    job, first = open_job(record, found, JobOptions(person="Ada Finch"))
    job.handle(first)
    job.handle(Heard(job.clock.now_ms(), ("understood",)))
    job.handle(Resumed(job.clock.now_ms(), person="Bo Tarn"))
    job.handle(Heard(job.clock.now_ms(), ("okay",)))
    job.journal.close()
    story = story_of(record.entries(job.journal.job))
    assert [(c.said, story.person_at(c.seq)) for c in story.cautions] == [
        ("understood", "Ada Finch"),
        ("okay", "Bo Tarn"),
    ]
    text = render(record, job.journal.job, ReportOptions(zone=UTC))
    assert re.search(r"“understood” at [\d:]{8}, Ada Finch", text)
    assert re.search(r"“okay” at [\d:]{8}, Bo Tarn", text)
