"""How far a person is, skill by skill, read out of the record each time; nothing is kept beside it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from statistics import mean
from typing import Any

import yaml

from sayso.dialogue.asked import same_person
from sayso.procedure.quizzes import is_quiz
from sayso.record.hands import Changes, changes_of_jobs, people_of, person_at
from sayso.record.store import JobRow, Store
from sayso.shop.before_telling import review_of
from sayso.shop.quiz import ASKS, points_in, reviews_of, told_in
from sayso.shop.schedule import Known, Review, known_points

#: Just after a question its answer is known, right or wrong, since it was told: what counts is what is kept.
AHEAD = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class SignedOff:
    """A witness closed a quiz: who, and when (epoch ms)."""

    job: str
    witness: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class SkillProgress:
    """One skill of one person. `recall` is the mean probability of knowing its points in a week, 0..1; None
    before the first quiz. Steps, helps and no-matches are counted in real jobs, quizzes left out."""

    skill: str
    points: int
    recall: float | None
    lapses: int
    steps_done: int
    helps: int


@dataclass(frozen=True, slots=True)
class PersonProgress:
    person: str
    skills: tuple[SkillProgress, ...]
    signed_off: tuple[SignedOff, ...]
    jobs: int
    quizzes: int


@dataclass
class _Found:
    reviews: list[Review] = field(default_factory=list)
    skill_of: dict[str, str] = field(default_factory=dict)
    signed_off: list[SignedOff] = field(default_factory=list)
    steps: dict[str, int] = field(default_factory=dict)
    helps: dict[str, int] = field(default_factory=dict)
    jobs: int = 0
    quizzes: int = 0


def reviews_of_person(
    store: Store, person: str, latest: int | None = None, now: datetime | None = None
) -> tuple[Review, ...]:
    """Every answer that `person` gave to a learning point, in a quiz or before telling in a job, job by job.

    `latest`: only of so many of their jobs and quizzes: a job must not begin later for a long record.
    """
    when = now or datetime.now(UTC)
    return not_ahead(_read(store, person, when, latest).reviews, when)


def not_ahead(reviews: Sequence[Review], now: datetime) -> tuple[Review, ...]:
    """Answers dated after `now` were given while the clock was ahead: as late as what follows them.

    Dated 2035 they counted as the last word on their points, and nothing was asked again until then."""
    now_ms = round(now.timestamp() * 1000)
    following, found = now_ms, []
    for review in reversed(reviews):
        following = following if review.at_ms > now_ms else review.at_ms
        found.append(replace(review, at_ms=following))
    return tuple(reversed(found))


def progress_of(store: Store, person: str, now: datetime | None = None) -> PersonProgress:
    """Raises RecordError when the record cannot be read. An unknown person has no skills and no jobs."""
    when = now or datetime.now(UTC)
    found = _read(store, person, when)
    known = known_points(not_ahead(found.reviews, when))
    names = sorted({*found.skill_of.values(), *found.steps})
    return PersonProgress(
        person=person,
        skills=tuple(_skill(name, found, known, when) for name in names),
        signed_off=tuple(found.signed_off),
        jobs=found.jobs,
        quizzes=found.quizzes,
    )


def _skill(name: str, found: _Found, known: Mapping[str, Known], when: datetime) -> SkillProgress:
    points = [known[p] for p, skill in found.skill_of.items() if skill == name and p in known]
    return SkillProgress(
        skill=name,
        points=len(points),
        recall=mean(p.recall_at(when + AHEAD) for p in points) if points else None,
        lapses=sum(p.lapses for p in points),
        steps_done=found.steps.get(name, 0),
        helps=found.helps.get(name, 0),
    )


def _in_order(rows: Sequence[JobRow], now: datetime) -> list[JobRow]:
    """Oldest first; one dated after `now` stands before what came after it into the same laptop's record."""
    now_ms = round(now.timestamp() * 1000)
    following: dict[str, int] = {}
    dated: list[tuple[int, int, JobRow]] = []
    for row in sorted(rows, key=lambda row: -row.number):
        at_ms = following.get(row.store, now_ms) if row.opened_ms > now_ms else row.opened_ms
        following[row.store] = at_ms
        dated.append((at_ms, row.number, row))
    return [row for _, _, row in sorted(dated, key=lambda one: one[:2])]


def _read(store: Store, person: str, now: datetime, latest: int | None = None) -> _Found:
    found = _Found()
    changes = changes_of_jobs(store)

    def worked_on(row: JobRow) -> bool:
        people = people_of(row.person, changes.get(row.job, ()))
        return any(same_person(name, person) for name in people)

    rows = _in_order([row for row in store.jobs() if worked_on(row)], now)
    for row in rows[-latest:] if latest else rows:
        meta = store.opening(row.job)["meta"]
        if is_quiz(row.procedure):
            _read_quiz(store, row, found)
        elif not meta.get("rehearsal"):
            _read_job(store, row, found, person, changes.get(row.job, ()))
    return found


def _read_quiz(store: Store, row: JobRow, found: _Found) -> None:
    text = store.text(row.job)
    chosen = points_in(text)
    found.quizzes += 1
    skills = {step["id"]: step.get("skill", row.procedure) for step in yaml.safe_load(text)["steps"]}
    found.skill_of.update({point: skills[ASKS.format(i)] for i, point in enumerate(chosen)})
    entries = store.entries(row.job, kinds=("answer", "witness"))
    happened = store.entries(row.job, kinds=("step_entered", "event"))
    found.reviews += reviews_of(
        chosen,
        [(e.data["step"], e.at_ms) for e in entries if e.data.get("step") is not None],
        told_in((e.kind, e.data) for e in happened),
    )
    found.signed_off += [
        SignedOff(row.job, str(e.data["value"]), e.at_ms)
        for e in entries
        if e.data.get("kind") == "witness" and e.data.get("value")
    ]


def _read_job(store: Store, row: JobRow, found: _Found, person: str, changes: Changes) -> None:
    """What happened in it while it was this person's."""
    found.jobs += 1
    skills = _skills_of_steps(store, row.job)
    for entry in store.entries(row.job, kinds=("answer", "help", "prediction")):
        if not same_person(person_at(row.person, changes, entry.seq), person):
            continue
        skill = skills.get(entry.data.get("step", ""), "")
        if entry.kind == "prediction":
            review = review_of(row.procedure, entry.data, entry.at_ms)
            if review is not None:
                found.reviews.append(review)
                found.skill_of[review.point] = skill or row.procedure
            continue
        if skill:
            counted = found.steps if entry.kind == "answer" else found.helps
            counted[skill] = counted.get(skill, 0) + 1


def _skills_of_steps(store: Store, job: str) -> dict[str, str]:
    outline_hash = store.opening(job).get("outline_sha256")
    if not outline_hash:
        return {}
    outline: dict[str, Any] = json.loads(store.document(outline_hash))
    return {step["id"]: step.get("skill", "") for step in outline["steps"]}
