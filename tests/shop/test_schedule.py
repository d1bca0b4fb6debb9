"""When a point is asked again. Outside check: the figures of FSRS as its authors publish them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.shop.schedule import DESIRED_RETENTION, Review, gain, known_points, to_ask
from tests.shop.simulated_class import compare

DAY_MS = 86_400_000
START = datetime(2026, 1, 5, 8, tzinfo=UTC)
START_MS = int(START.timestamp() * 1000)


def review(point: str, day: float, right: bool = True) -> Review:
    return Review(point, START_MS + int(day * DAY_MS), right)


def test_a_point_is_due_when_its_recall_has_fallen_to_nine_in_ten() -> None:
    """FSRS defines stability as the time in which recall falls from 100 % to 90 % (Ye et al., KDD 2022)."""
    known = known_points([review("torque", 0), review("torque", 3)])["torque"]
    assert abs(known.recall_at(known.due) - DESIRED_RETENTION) < 0.02


def test_the_pause_grows_with_each_right_answer_and_falls_after_a_wrong_one() -> None:
    pauses = []
    reviews: list[Review] = []
    day = 0.0
    for _ in range(4):
        reviews.append(review("torque", day))
        pause = (
            known_points(reviews)["torque"].due - datetime.fromtimestamp(START_MS / 1000, UTC)
        ) / timedelta(days=1) - day
        pauses.append(pause)
        day += pause
    assert pauses == sorted(pauses)
    assert pauses[-1] > 3 * pauses[0]
    reviews.append(review("torque", day, right=False))
    known = known_points(reviews)["torque"]
    assert known.lapses == 1
    assert (known.due - datetime.fromtimestamp(reviews[-1].at_ms / 1000, UTC)) / timedelta(days=1) < pauses[
        -1
    ]


def test_due_points_and_new_ones_are_asked_and_known_ones_are_left_alone() -> None:
    known = known_points([review("forgotten", 0, right=False), review("fresh", 9.9)])
    now = START + timedelta(days=10)
    assert set(to_ask(["fresh", "new", "forgotten"], known, now, 5)) == {"forgotten", "new"}


def test_a_backlog_never_keeps_a_new_point_waiting() -> None:
    known = known_points([review(f"old-{i}", 0, right=i % 2 == 0) for i in range(20)])
    asked = to_ask([*known, "new"], known, START + timedelta(days=30), 3)
    assert "new" in asked


@given(st.lists(st.tuples(st.integers(0, 60), st.booleans()), min_size=1, max_size=8), st.integers(61, 400))
def test_asking_never_costs_anything_that_is_known(shown: list[tuple[int, bool]], day: int) -> None:
    known = known_points([review("torque", at, right) for at, right in dict(shown).items()])["torque"]
    if known.due <= START + timedelta(days=day):
        assert gain(known, START + timedelta(days=day)) > 0


@given(st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 400), st.booleans()), max_size=25))
def test_the_same_reviews_in_any_order_give_the_same_schedule(shown: list[tuple[str, int, bool]]) -> None:
    unique = {(p, d): r for p, d, r in shown}
    reviews = [review(p, d, r) for (p, d), r in unique.items()]
    assert known_points(reviews) == known_points(reversed(reviews))


@pytest.mark.parametrize("per_day", [6, 12])
def test_a_simulated_class_keeps_more_while_learning_than_going_round_and_round(per_day: int) -> None:
    """Six of the fifty learners, so that it is quick; the module prints the whole class."""
    result = compare(6, per_day)
    assert result.scheduled[0] > result.fixed[0]
