"""When to ask again: spaced repetition by FSRS (Free Spaced Repetition Scheduler, version 6, by py-fsrs).

Source of the algorithm: Ye, Su, Cao, 'A Stochastic Shortest Path Algorithm for Optimizing Spaced
Repetition Scheduling', KDD 2022 (doi 10.1145/3534678.3539081), and the py-fsrs project.
Everything is worked out from the recorded reviews each time: there is no second truth beside the journal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import mean

from fsrs import Card, Rating, Scheduler

#: Share of points that should still be known when they are asked again (FSRS's own default).
DESIRED_RETENTION = 0.9

#: What an answer is worth is counted over so many days ahead (7, 30 and 90 were tried on learners of their
#: own; 30 was best, by little).
AHEAD_DAYS = 30

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
    card: Card

    def recall_at(self, when: datetime) -> float:
        """Probability (0..1) that the point is recalled at `when`, by the FSRS forgetting curve."""
        return float(_SCHEDULER.get_card_retrievability(self.card, when))


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
            card=card,
        )
        for point, card in cards.items()
    }


def gain(known: Known | None, now: datetime) -> float:
    """How much more of a point would be known over the next month, 0..1, if it were asked now.

    Right or wrong, the answer is told, so both outcomes count, each with its chance by the forgetting curve.
    None is a point that was never asked: nothing is known of it, and the first answer is taken as wrong."""
    card = known.card if known else Card(card_id=0)
    right_now = known.recall_at(now) if known else 0.0
    after_right, _ = _SCHEDULER.review_card(card, Rating.Good, now)
    after_wrong, _ = _SCHEDULER.review_card(card, Rating.Again, now)
    asked = right_now * _over_a_month(after_right, now) + (1 - right_now) * _over_a_month(after_wrong, now)
    return asked - _over_a_month(card, now)


def _over_a_month(card: Card, now: datetime) -> float:
    days = [AHEAD_DAYS * (i + 0.5) / 5 for i in range(5)]
    return mean(_SCHEDULER.get_card_retrievability(card, now + timedelta(days=day)) for day in days)


def to_ask(points: Iterable[str], known: Mapping[str, Known], now: datetime, limit: int) -> tuple[str, ...]:
    """Which points to ask now, at most `limit`, out of those that are due and those that are new.

    Where not all of them can be asked, those come first that gain most from it (`gain`). Before, the due ones
    came first, best known of them first: with few questions a day new points then waited behind a backlog for
    months, and what was once forgotten was never asked again (tests/shop/simulated_class.py)."""
    open_points = [point for point in points if point not in known or known[point].due <= now]
    gains = {point: gain(known.get(point), now) for point in open_points}
    return tuple(sorted(open_points, key=lambda point: -gains[point])[:limit])
