"""What a person knows, where the clock of the laptop was wrong for a day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sayso.dialogue.codec import event_to_json
from sayso.dialogue.effects import Record
from sayso.dialogue.events import Heard
from sayso.record import Store, open_store
from sayso.shop.progress import progress_of, reviews_of_person
from sayso.shop.schedule import known_points, to_ask

NOW = datetime(2026, 11, 28, 8, 0, tzinfo=UTC)
POINT = "p/nut/torque"


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "jobs.sqlite") as store:
        yield store


def guessed(store: Store, job: str, when: datetime, *, right: bool) -> None:
    """A job in which Ann was asked once before telling."""
    at_ms = round(when.timestamp() * 1000)
    prediction = {"step": "nut", "question": "nut/torque", "outcome": "right" if right else "wrong"}
    journal = store.start(job, "p", "P", 1, "0" * 64, "text", {"person": "Ann"}, at_ms=at_ms)
    with journal:
        journal.commit(event_to_json(Heard(at_ms, ("nine",))), [Record("prediction", prediction)])


@pytest.mark.parametrize("ahead", [timedelta(days=40), timedelta(days=3650)])
def test_an_answer_dated_after_today_is_no_later_than_what_followed_it(
    record: Store, ahead: timedelta
) -> None:
    """Its wrong guess of yesterday counted as made before the right one of "2036": known, and not asked again
    for ten years."""
    guessed(record, "J1", NOW + ahead, right=True)
    guessed(record, "J2", NOW - timedelta(days=1), right=False)
    known = known_points(reviews_of_person(record, "Ann", now=NOW))
    assert known[POINT].last_right is False
    assert known[POINT].due < NOW + timedelta(days=3)
    (skill,) = progress_of(record, "Ann", NOW).skills
    assert skill.recall is not None
    assert skill.recall < 0.9


def test_the_latest_answer_of_a_clock_that_was_ahead_is_asked_about_again(record: Store) -> None:
    guessed(record, "J1", NOW + timedelta(days=3650), right=True)
    later = NOW + timedelta(days=60)
    guessed(record, "J2", NOW + timedelta(days=30), right=True)
    known = known_points(reviews_of_person(record, "Ann", now=later))
    assert to_ask([POINT], known, later, 5) == (POINT,)


def test_days_in_order_are_left_as_they_are(record: Store) -> None:
    days = [NOW - timedelta(days=days) for days in (9, 5, 1)]
    for number, day in enumerate(days):
        guessed(record, f"J{number}", day, right=True)
    found = reviews_of_person(record, "Ann", now=NOW)
    assert [review.at_ms for review in found] == [round(day.timestamp() * 1000) for day in days]
