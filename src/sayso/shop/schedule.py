"""When to ask again: spaced repetition by FSRS (Free Spaced Repetition Scheduler, version 6, by py-fsrs).

Source of the algorithm: Ye, Su, Cao, 'A Stochastic Shortest Path Algorithm for Optimizing Spaced
Repetition Scheduling', KDD 2022 (doi 10.1145/3534678.3539081), and the py-fsrs project.
Everything is worked out from the recorded reviews each time: there is no second truth beside the journal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from fsrs import Card, Rating, Scheduler

#: Share of points that should still be known when they are asked again (FSRS's own default).
DESIRED_RETENTION = 0.9

#: No fuzz: the same reviews must always give the same schedule. No learning steps of minutes: a quiz is
#: held once a day at most, so the first repetition is the next day's.
_SCHEDULER = Scheduler(
    desired_retention=DESIRED_RETENTION, learning_steps=(), relearning_steps=(), enable_fuzzing=False
)


@dataclass(frozen=True, slots=True)
class Review:
    """One answer to a learning point. `helped` when it was right only after a hint or a second try."""

    point: str
    at_ms: int
    right: bool
    helped: bool = False


@dataclass(frozen=True, slots=True)
class Known:
    """How well a point is known. Days for `stability_days` (time until recall falls to 90 %)."""

    point: str
    due: datetime
    stability_days: float
    reviews: int
    lapses: int
    last_right: bool

    def recall_at(self, when: datetime) -> float:
        """Probability (0..1) that the point is recalled at `when`, by the FSRS forgetting curve."""
        card = Card(
            stability=self.stability_days, last_review=self.due - self._interval, due=self.due, difficulty=5.0
        )
        return float(_SCHEDULER.get_card_retrievability(card, when))

    _interval: timedelta = timedelta(0)


def known_points(reviews: Iterable[Review]) -> Mapping[str, Known]:
    """Fold the reviews, in order of time, into what is known of each point."""
    cards: dict[str, Card] = {}
    counts: dict[str, list[int]] = {}
    last: dict[str, bool] = {}
    for review in sorted(reviews, key=lambda r: r.at_ms):
        rating = Rating.Again if not review.right else Rating.Hard if review.helped else Rating.Good
        when = datetime.fromtimestamp(review.at_ms / 1000, UTC)
        card, _ = _SCHEDULER.review_card(cards.get(review.point, Card(card_id=0)), rating, when)
        cards[review.point] = card
        seen = counts.setdefault(review.point, [0, 0])
        seen[0] += 1
        seen[1] += not review.right
        last[review.point] = review.right
    return {
        point: Known(
            point=point,
            due=card.due,
            stability_days=card.stability or 0.0,
            reviews=counts[point][0],
            lapses=counts[point][1],
            last_right=last[point],
            _interval=card.due - (card.last_review or card.due),
        )
        for point, card in cards.items()
    }


def to_ask(points: Iterable[str], known: Mapping[str, Known], now: datetime, limit: int) -> tuple[str, ...]:
    """Which points to ask now, at most `limit`: the due ones first, then new ones in the procedure's order.

    When more are due than can be asked, those still most likely known come first: saving what is about to be
    lost costs less than relearning what is lost (tests/shop/simulated_class.py measured both orders)."""
    listed = list(points)
    due = [p for p in listed if p in known and known[p].due <= now]
    due.sort(key=lambda p: -known[p].recall_at(now))
    new = [p for p in listed if p not in known]
    return tuple((due + new)[:limit])
