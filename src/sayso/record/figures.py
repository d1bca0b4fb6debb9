"""Figures over many jobs, straight from the entries of either store: where time goes, what is badly
heard, how torques lie against their targets, what deviates."""

from __future__ import annotations

import time
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median
from typing import Any

import numpy as np

from sayso.answers.torque import said_without_number
from sayso.dialogue.asked import one_name
from sayso.record.capability import Capability, capability
from sayso.record.figures_queries import FiguresReader, JobSeen
from sayso.record.store import Store
from sayso.record.story import LONGEST_AT_A_STEP_MS


@dataclass(frozen=True, slots=True)
class Spread:
    """Seconds: the 10th, 25th, 50th, 75th and 90th percentile of `n` values (linear interpolation)."""

    n: int
    p10: float
    p25: float
    p50: float
    p75: float
    p90: float


@dataclass(frozen=True, slots=True)
class StepFigure:
    """`again_share`: not understood, no answer, repeat asked or help asked, per visit."""

    procedure: str
    step: str
    say: str
    visits: int
    seconds: Spread | None
    no_matches: int
    no_inputs: int
    helps: int
    repeats: int

    @property
    def again_share(self) -> float:
        return (self.no_matches + self.no_inputs + self.helps + self.repeats) / max(1, self.visits)


@dataclass(frozen=True, slots=True)
class TorqueFigure:
    """First readings of one fastener. `histogram`: counts in equal classes from `start` to `end`.

    `unread`: times at which the wrench showed no number ("clicked", "it keeps turning"). The target or nought
    that is recorded then is no reading: it would make a process look better, or worse, than it is.
    `capability` None: nothing was ever read.
    """

    procedure: str
    step: str
    name: str
    unit: str
    target: float | None
    low: float | None
    high: float | None
    outside: int
    unread: int
    capability: Capability | None
    histogram: tuple[int, ...]
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class VariantFigure:
    """Jobs that took the same branches. `jobs_deviating`: with at least one deviation or skipped step."""

    procedure: str
    variant: str
    jobs: int
    jobs_deviating: int
    deviations: int
    skipped: int


@dataclass(frozen=True, slots=True)
class PersonFigure:
    """Only when the shop turns it on. `minutes`: median time of a finished job that nobody else had in hand.
    Of a job that was handed over each person has what happened while it was theirs."""

    person: str
    jobs: int
    minutes: float | None
    deviations: int
    again_share: float


@dataclass(frozen=True, slots=True)
class Figures:
    """`people` is None unless it was asked for; `left_out` counts visits of over 4 h or with the clock set
    back."""

    where: str
    made_ms: int
    jobs: int
    finished: int
    entries: int
    first_ms: int | None
    last_ms: int | None
    outcomes: tuple[tuple[str, int], ...]
    steps: tuple[StepFigure, ...]
    torques: tuple[TorqueFigure, ...]
    variants: tuple[VariantFigure, ...]
    people: tuple[PersonFigure, ...] | None
    left_out: int
    #: the revisions that were done, of each procedure: figures over several are of different texts
    revisions: tuple[tuple[str, tuple[int, ...]], ...] = ()
    seconds_taken: float = 0.0


@dataclass(slots=True)
class _Step:
    seconds: list[float] = field(default_factory=list)
    visits: int = 0
    counts: Counter[str] = field(default_factory=Counter)


def figures_of(
    store: Store,
    *,
    procedure: str | None = None,
    revision: int | None = None,
    since_ms: int | None = None,
    until_ms: int | None = None,
    people: bool = False,
) -> Figures:
    """All figures. `since_ms`: only jobs opened then or later; `until_ms`: only jobs opened before.

    Raises RecordError when the record cannot be read.
    """
    begun = time.perf_counter()
    with store.reading() as connection:
        reader = FiguresReader(
            connection,
            sqlite=store.path is not None,
            procedure=procedure,
            revision=revision,
            since_ms=since_ms,
            until_ms=until_ms,
        )
        known = reader.jobs()
        outlines = reader.outlines()
        steps, left_out = _steps(reader, known)
        torques = _answers(reader, known, outlines)
        counted = reader.count()
    says = {(p, str(s["id"])): str(s["say"]) for p, o in outlines.items() for s in o.get("steps", ())}
    return Figures(
        where=store.where,
        made_ms=int(time.time() * 1000),
        jobs=len(known),
        finished=sum(job.ended_ms is not None for job in known.values()),
        entries=counted,
        first_ms=min((job.opened_ms for job in known.values()), default=None),
        last_ms=max((job.ended_ms or job.opened_ms for job in known.values()), default=None),
        outcomes=tuple(reader.outcomes.most_common()),
        steps=tuple(_step_figure(key, step, says.get(key, key[1])) for key, step in steps.items()),
        torques=torques,
        variants=_variants(known.values()),
        people=_people(known.values()) if people else None,
        left_out=left_out,
        revisions=_revisions(known.values()),
        seconds_taken=time.perf_counter() - begun,
    )


def _steps(reader: FiguresReader, known: Mapping[str, JobSeen]) -> tuple[dict[tuple[str, str], _Step], int]:
    pauses, told = reader.pauses(), reader.told()
    found: dict[tuple[str, str], _Step] = {}
    starts: dict[str, tuple[list[int], list[str]]] = {}
    left_out = 0
    before: tuple[str, int, int, str] | None = None
    for job, seq, at_ms, step in reader.entered():
        if job not in known:
            continue
        if before is not None and before[0] == job:
            # A learner's guess before the step was told is no time at the step.
            begun = max(
                ((number, ms) for number, ms in told.get(job, ()) if before[1] < number < seq),
                default=(before[1], before[2]),
            )
            ms = at_ms - begun[1]
            if job in pauses:
                ms -= sum(pause for at, pause in pauses[job] if begun[0] < at <= seq)
            key = (known[job].procedure, before[3])
            if 0 <= ms <= LONGEST_AT_A_STEP_MS:
                found[key].seconds.append(ms / 1000)
            else:
                left_out += 1
        if step is None:
            before = None
            continue
        before = (job, seq, at_ms, step)
        known[job].count("visits", seq)
        key = (known[job].procedure, step)
        found.setdefault(key, _Step()).visits += 1
        numbers, names = starts.setdefault(job, ([], []))
        numbers.append(seq)
        names.append(step)
    for job, seq, what in reader.asked_again():
        numbers, names = starts.get(job, ([], []))
        at = bisect_right(numbers, seq) - 1
        if at >= 0:
            found[(known[job].procedure, names[at])].counts[what] += 1
            known[job].count("again", seq)
    return found, left_out


def _step_figure(key: tuple[str, str], step: _Step, say: str) -> StepFigure:
    counts = step.counts
    return StepFigure(
        key[0],
        key[1],
        say,
        step.visits,
        spread(step.seconds),
        counts["no_match"],
        counts["no_input"],
        counts["help"],
        counts["repeat"],
    )


def spread(values: Sequence[float]) -> Spread | None:
    """The percentiles of `values`; None when there are none."""
    if not len(values):
        return None
    p10, p25, p50, p75, p90 = (float(x) for x in np.percentile(values, (10, 25, 50, 75, 90)))
    return Spread(len(values), p10, p25, p50, p75, p90)


def _answers(
    reader: FiguresReader, known: Mapping[str, JobSeen], outlines: Mapping[str, Mapping[str, Any]]
) -> tuple[TorqueFigure, ...]:
    branching = {
        (procedure, str(step["id"])): step["then"]
        for procedure, outline in outlines.items()
        for step in outline.get("steps", ())
        if len({str(case["target"]) for case in step["then"]["cases"]}) > 1
    }
    readings: dict[tuple[Any, ...], list[tuple[float | None, bool]]] = defaultdict(list)
    seen: set[tuple[str, Any, str]] = set()
    for job, seq, kind, data in reader.answers():
        if job not in known:
            continue
        about = known[job]
        step = str(data.get("step", ""))
        if kind == "skipped":
            about.count("skipped", seq)
            continue
        if kind == "deviation":
            about.count("deviations", seq)
        then = branching.get((about.procedure, step))
        if then is not None and kind != "deviation":
            about.branches[str(data.get("name", step))] = _branch(then, data.get("value"))
        visit = (job, data.get("visit"), step)
        if data.get("kind") == "torque" and visit not in seen and isinstance(data.get("value"), int | float):
            seen.add(visit)  # the first reading: what was put right later is no measure of the process
            key = (about.procedure, step, str(data.get("name", "")), str(data.get("unit", "")),
                   data.get("target"), data.get("low"), data.get("high"))  # fmt: skip
            unread = said_without_number(str(data.get("said", "")).split())
            value = None if unread else float(data["value"])
            readings[key].append((value, bool(data.get("within", True))))
    return tuple(_torque_figure(key, values) for key, values in readings.items())


def _branch(then: Mapping[str, Any], value: Any) -> str:
    """The branch that an answer took, in few words: its value, or the prefix of a serial."""
    text = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    if then.get("compare") == "prefix":
        return next((str(c["when"]) for c in then["cases"] if text.startswith(str(c["when"]))), "other")
    cases = [str(case["when"]) for case in then["cases"] if not case.get("is_condition")]
    return text if text in cases else "other"


def _torque_figure(key: tuple[Any, ...], readings: Sequence[tuple[float | None, bool]]) -> TorqueFigure:
    procedure, step, name, unit, target, low, high = key
    values = np.array([value for value, _ in readings if value is not None])
    if low is not None and high is not None:
        start, end = low - (high - low) / 2, high + (high - low) / 2
    else:
        start, end = (float(values.min()), float(values.max()) + 1e-9) if len(values) else (0.0, 1.0)
    counts, _ = np.histogram(np.clip(values, start, end), bins=24, range=(start, end))
    return TorqueFigure(
        procedure,
        step,
        name,
        unit,
        target,
        low,
        high,
        sum(not within for _, within in readings),
        len(readings) - len(values),
        capability(values.tolist(), low, high) if len(values) else None,
        tuple(int(n) for n in counts),
        float(start),
        float(end),
    )


def _revisions(known: Iterable[JobSeen]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    found: dict[str, set[int]] = defaultdict(set)
    for job in known:
        found[job.procedure].add(job.revision)
    return tuple((procedure, tuple(sorted(numbers))) for procedure, numbers in sorted(found.items()))


def _variants(known: Iterable[JobSeen]) -> tuple[VariantFigure, ...]:
    members_of: dict[str, list[JobSeen]] = defaultdict(list)
    for job in known:
        members_of[job.procedure].append(job)
    found: list[VariantFigure] = []
    for procedure, members in members_of.items():
        telling = _telling(members)
        groups: dict[str, list[JobSeen]] = defaultdict(list)
        for job in members:
            words = [
                f"{name.replace('_', ' ')} {job.branches[name]}" for name in telling if name in job.branches
            ]
            groups[", ".join(words) or "all the same"].append(job)
        found += [_variant(procedure, variant, group) for variant, group in groups.items()]
    return tuple(sorted(found, key=lambda variant: -variant.jobs))


def _telling(members: Sequence[JobSeen]) -> list[str]:
    """The branching answers that were not the same in every job: only they tell variants apart."""
    names = dict.fromkeys(name for job in members for name in job.branches)
    return [name for name in names if len({job.branches.get(name) for job in members}) > 1]


def _variant(procedure: str, variant: str, group: Sequence[JobSeen]) -> VariantFigure:
    return VariantFigure(
        procedure,
        variant,
        len(group),
        sum(bool(job.deviations or job.skipped) for job in group),
        sum(job.deviations for job in group),
        sum(job.skipped for job in group),
    )


def _people(known: Iterable[JobSeen]) -> tuple[PersonFigure, ...]:
    groups: dict[str, list[JobSeen]] = defaultdict(list)
    named: dict[str, str] = {}
    for job in known:
        for name in job.people:
            # 'Ann' and 'ann' are one person, by the name given first
            groups[named.setdefault(one_name(name), name)].append(job)
    found = []
    for person, members in sorted(groups.items()):
        alone = [job for job in members if not job.changes]
        minutes = [(j.ended_ms - j.opened_ms - j.jumped_ms) / 60_000 for j in alone if j.ended_ms is not None]
        found.append(
            PersonFigure(
                person or "not named",
                len(members),
                median(minutes) if minutes else None,
                sum(j.share(person, "deviations") + j.share(person, "skipped") for j in members),
                sum(j.share(person, "again") for j in members)
                / max(1, sum(j.share(person, "visits") for j in members)),
            )
        )
    return tuple(found)
