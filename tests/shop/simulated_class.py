"""Fifty simulated apprentices learn the same points under our schedule and under a fixed one.

Run by hand for the figures: `python -m tests.shop.simulated_class` (about two minutes).

Their memory is not FSRS's own: it follows the spacing model of Pavlik & Anderson (2005), 'Practice and
Forgetting Effects on Vocabulary Memory: An Activation-Based Model of the Spacing Effect', Cognitive
Science 29, 559-586: activation m = ln(sum t_j^-d_j), decay d_j = c*exp(m at the time of practice) + a,
recall = 1/(1+exp((tau-m)/s)); a 0.177, c 0.217, s 0.255, time between sessions scaled by 0.025 (constants
from memory, not checked). tau is -0.704 there, for word pairs; -1.0 here, our choice, since what one does
is kept better. Each learner has an own tau (sd 0.35: some forget faster) and each point a difficulty added
to it (sd 1.0: some points are hard for all).
The fixed class goes round and round through all points, with as many questions on each day as the
other class had, so only the choice of points differs. The order that we had before (due points first, best
known of them first, then new ones) is there to compare with.

What is asked first was chosen on learners 1000 to 1011 and points of difficulties '' and 'fit-a'; the figures
come from other learners (0 to 49) and other difficulties.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from statistics import mean, stdev

from sayso.shop.schedule import Review, known_points, to_ask

A, C, S, BETWEEN = 0.177, 0.217, 0.255, 0.025
TAU, TAU_SPREAD, DIFFICULTY_SPREAD = -1.0, 0.35, 1.0
START = datetime(2026, 1, 5, 8, tzinfo=UTC)
POINTS = tuple(f"point-{i}" for i in range(30))
#: Hard and easy points of the reported class; the class that the choice was made on had others.
DIFFICULTY = {p: random.Random("reported" + p).gauss(0, DIFFICULTY_SPREAD) for p in POINTS}
DAYS = 120
SETTLED_DAY = 40  #: all points have been met by then
EXAM_DAY = 150


@dataclass
class Learner:
    chance: random.Random
    tau: float
    practised: dict[str, list[tuple[float, float]]] = field(default_factory=dict)  #: (seconds, decay)

    def activation(self, point: str, now_s: float) -> float:
        trace = sum(max(1.0, (now_s - at) * BETWEEN) ** -decay for at, decay in self.practised.get(point, []))
        return math.log(trace) if trace else -math.inf

    def recall(self, point: str, now_s: float) -> float:
        m = self.activation(point, now_s)
        return 0.0 if m == -math.inf else 1 / (1 + math.exp((self.tau + DIFFICULTY[point] - m) / S))

    def quiz(self, point: str, now_s: float) -> bool:
        """Answer; right or wrong, the answer is then told, so it counts as practice."""
        right = self.chance.random() < self.recall(point, now_s)
        m = self.activation(point, now_s)
        decay = A if m == -math.inf else C * math.exp(m) + A
        self.practised.setdefault(point, []).append((now_s, decay))
        return right

    def knows(self, when: datetime) -> float:
        return mean(self.recall(p, when.timestamp()) for p in POINTS)


Choose = Callable[[list[Review], datetime, int], tuple[str, ...]]


def by_schedule(per_day: int) -> Choose:
    return lambda reviews, now, _: to_ask(POINTS, known_points(reviews), now, per_day)


def due_before_new(per_day: int) -> Choose:
    """The order of our first version."""

    def choose(reviews: list[Review], now: datetime, _: int) -> tuple[str, ...]:
        known = known_points(reviews)
        due = [p for p in POINTS if p in known and known[p].due <= now]
        due.sort(key=lambda p: -known[p].recall_at(now))
        return tuple([*due, *(p for p in POINTS if p not in known)][:per_day])

    return choose


def round_and_round(counts: list[int]) -> Choose:
    place = 0

    def choose(_: list[Review], __: datetime, day: int) -> tuple[str, ...]:
        nonlocal place
        chosen = tuple(POINTS[(place + i) % len(POINTS)] for i in range(counts[day]))
        place += counts[day]
        return chosen

    return choose


@dataclass(frozen=True)
class Learnt:
    while_learning: float  #: share known, mean of the working days after SETTLED_DAY
    at_exam: float  #: share known on EXAM_DAY, a month after the last quiz
    counts: list[int]  #: questions on each day


def learn(seed: int, choose: Choose) -> Learnt:
    chance = random.Random(seed)
    learner = Learner(chance, tau=chance.gauss(TAU, TAU_SPREAD))
    reviews: list[Review] = []
    counts, known = [], []
    for day in range(DAYS):
        now = START + timedelta(days=day)
        if day >= SETTLED_DAY:
            known.append(learner.knows(now))
        chosen = choose(reviews, now, day) if day % 7 < 5 else ()
        for i, point in enumerate(chosen):
            at = now + timedelta(seconds=30 * i)
            reviews.append(Review(point, int(at.timestamp() * 1000), learner.quiz(point, at.timestamp())))
        counts.append(len(chosen))
    return Learnt(mean(known), learner.knows(START + timedelta(days=EXAM_DAY)), counts)


@dataclass(frozen=True)
class Compared:
    """Shares known, while learning and at the exam, of each class; `questions_each` of ours."""

    per_day: int
    questions_each: float
    scheduled: tuple[float, float]
    fixed: tuple[float, float]
    before: tuple[float, float]
    #: how much more each learner of ours knew than the same learner in the fixed class: mean, and two
    #: standard errors of it; while learning and at the exam
    ahead: tuple[tuple[float, float], tuple[float, float]]


def compare(learners: int, per_day: int) -> Compared:
    ours = [learn(seed, by_schedule(per_day)) for seed in range(learners)]
    theirs = [learn(seed, round_and_round(one.counts)) for seed, one in enumerate(ours)]
    before = [learn(seed, due_before_new(per_day)) for seed in range(learners)]

    def shares(learnt: list[Learnt]) -> tuple[float, float]:
        return mean(x.while_learning for x in learnt), mean(x.at_exam for x in learnt)

    def ahead(more: list[float]) -> tuple[float, float]:
        return mean(more), 2 * stdev(more) / math.sqrt(len(more))

    pairs = list(zip(ours, theirs, strict=True))
    return Compared(
        per_day,
        mean(sum(x.counts) for x in ours),
        shares(ours),
        shares(theirs),
        shares(before),
        (
            ahead([a.while_learning - b.while_learning for a, b in pairs]),
            ahead([a.at_exam - b.at_exam for a, b in pairs]),
        ),
    )


if __name__ == "__main__":
    print(f"50 learners, {len(POINTS)} points, {DAYS} days; share known while learning / a month later")
    for per_day in (3, 6, 12):
        r = compare(50, per_day)
        (more, give), (more_later, give_later) = r.ahead
        print(
            f"at most {per_day:2} a day, {r.questions_each:.0f} questions each: "
            f"our schedule {r.scheduled[0]:.1%} / {r.scheduled[1]:.1%}, "
            f"round and round {r.fixed[0]:.1%} / {r.fixed[1]:.1%}, "
            f"due before new {r.before[0]:.1%} / {r.before[1]:.1%}; "
            f"ours ahead by {100 * more:.1f} ± {100 * give:.1f} / "
            f"{100 * more_later:.1f} ± {100 * give_later:.1f} points"
        )
