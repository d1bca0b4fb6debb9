"""Figures over many jobs, against published formulas, hand-made jobs, and a second program (DuckDB)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pytest
from scipy import stats

from sayso.dialogue.codec import event_to_json
from sayso.dialogue.effects import Record
from sayso.dialogue.events import Heard, KeyPressed
from sayso.record import Store, open_store
from sayso.record.capability import capability, from_summary
from sayso.record.export import export
from sayso.record.figures import figures_of, spread
from sayso.record.figures_page import render_page, write_page
from sayso.record.story_telling import story_of
from tests.record.done_jobs import do_job
from tests.record.many_jobs import fill


def test_capability_gives_the_worked_example_of_the_nist_handbook() -> None:
    # NIST/SEMATECH e-Handbook 6.1.6: USL 20, LSL 8, mean 16, s 2 (numbers from memory, page not reached):
    # Cp = 1.0, k = 1/3, Cpk = Cp (1 - k) = 0.6667
    found = from_summary(50, 16.0, 2.0, 8.0, 20.0)
    assert found.cp == pytest.approx(1.0)
    assert found.cpk == pytest.approx(0.6667, abs=5e-5)
    assert found.cpk == pytest.approx(1.0 * (1 - abs(14 - 16) / 6))


def test_the_interval_of_cpk_holds_the_true_value_about_nineteen_times_in_twenty() -> None:
    luck = np.random.default_rng(1)
    true = min(26.4 - 24.3, 24.3 - 21.6) / (3 * 0.5)
    hits = 0
    for _ in range(1000):
        found = capability(luck.normal(24.3, 0.5, 60).tolist(), 21.6, 26.4)
        assert found.cpk_low is not None
        assert found.cpk_high is not None
        hits += found.cpk_low <= true <= found.cpk_high
    low, high = stats.binom.interval(0.9999, 1000, 0.95)
    assert low - 15 <= hits <= high  # an approximation, a little short for small samples


def test_capability_of_one_sided_or_constant_values() -> None:
    assert capability([4.0, 5.0, 6.0], None, 9.0).cpk == pytest.approx((9 - 5) / 3)
    assert capability([4.0, 5.0, 6.0], None, 9.0).cp is None
    assert capability([5.0, 5.0], 4.0, 6.0).cpk is None
    assert capability([5.0], 4.0, 6.0).s is None


def test_a_spread_is_numpys_and_the_textbooks() -> None:
    found = spread([float(n) for n in range(1, 102)])
    assert found is not None
    assert (found.p10, found.p25, found.p50, found.p75, found.p90) == (11, 26, 51, 76, 91)
    assert spread([]) is None


def entered(step: str, visit: int) -> Record:
    return Record("step_entered", {"step": step, "visit": visit})


def torque(step: str, value: float, visit: int, kind: str = "answer", said: str = "nine") -> Record:
    within = 8.1 <= value <= 9.9
    return Record(
        kind,
        {
            "step": step,
            "visit": visit,
            "name": "busbar",
            "kind": "torque",
            "value": value,
            "unit": "N.m",
            "target": 9.0,
            "low": 8.1,
            "high": 9.9,
            "within": within,
            "said": said,
        },
    )


OUTLINE: dict[str, Any] = {
    "steps": [
        {
            "id": "pins",
            "say": "Count the pins.",
            "then": {
                "compare": "value",
                "cases": [
                    {"when": "8", "target": "bus", "is_condition": False},
                    {"when": "12", "target": "stay", "is_condition": False},
                ],
            },
        },
        {"id": "bus", "say": "Torque the screws.", "then": {"compare": "value", "cases": []}},
    ]
}


def small_job(
    store: Store, job: str, person: str, pins: int, readings: list[float], *, hold_s: int = 0
) -> None:
    """Pins asked for 10 s, then a torque that takes 30 s and a hold; readings but the last are deviations."""
    journal = store.start(job, "p", "P", 1, "0" * 64, "text", {"person": person}, outline=OUTLINE, at_ms=0)
    with journal:

        def say(at_s: int, words: str, *records: Record) -> None:
            journal.commit(event_to_json(Heard(at_s * 1000, tuple(words.split()))), records)

        say(0, "ready", entered("pins", 0))
        if job == "J1":
            say(5, "say again")
        else:
            journal.commit(event_to_json(KeyPressed(5_000, "repeat")))
        say(6, "what", Record("no_match", {"step": "pins"}))
        answer = {"step": "pins", "visit": 0, "name": "pins", "kind": "count", "value": pins}
        say(10, "eight", Record("answer", answer), entered("bus", 1))
        at = 10
        if hold_s:
            say(15, "hold", Record("hold", {"step": "bus"}))
            say(15 + hold_s, "carry on", Record("carried_on", {"step": "bus"}))
            at += hold_s
        for reading in readings[:-1]:
            say(at + 20, "low", torque("bus", reading, 1, "deviation"))
        say(at + 30, "nine", torque("bus", readings[-1], 1), Record("ended", {"outcome": "complete"}))


@pytest.fixture
def few(any_store: Store) -> Store:
    small_job(any_store, "J1", "Ada", 8, [9.0])
    small_job(any_store, "J2", "Ada", 8, [9.2], hold_s=600)
    small_job(any_store, "J3", "Bo", 12, [7.0, 9.1])
    return any_store


def test_times_leave_out_holds(few: Store) -> None:
    found = {step.step: step for step in figures_of(few).steps}
    assert found["pins"].seconds is not None
    assert found["bus"].seconds is not None
    assert found["pins"].seconds.p50 == 10
    assert (found["bus"].seconds.p10, found["bus"].seconds.p90, found["bus"].visits) == (30, 30, 3)


@pytest.mark.parametrize(
    ("between", "step_s"),
    [
        # (second, kind, data) between the start at 10 and the answer at 1000
        ([(20, "device", {"lost": True}), (620, "device", {"lost": False})], 390),
        ([(20, "device", {"lost": True}), (620, "carried_on", {})], 390),  # by a key
        ([(20, "device", {"lost": True}), (620, "resumed", {})], 390),
        ([(20, "device", {"lost": True})], 990),  # not over: nobody knows how long
        ([(20, "hold", {}), (120, "device", {"lost": True}), (220, "device", {"lost": False}),
          (620, "carried_on", {})], 390),
        ([(20, "device", {"lost": True}), (120, "hold", {}), (220, "device", {"lost": False}),
          (620, "carried_on", {})], 390),
        ([(20, "hold", {}), (120, "device", {"lost": True}), (220, "resumed", {}),
          (620, "carried_on", {})], 390),
        ([(20, "hold", {}), (120, "resumed", {}), (620, "carried_on", {})], 390),
    ],
)  # fmt: skip
def test_times_leave_out_a_lost_microphone_as_they_do_a_hold(
    any_store: Store, between: list[tuple[int, str, dict[str, Any]]], step_s: int
) -> None:
    """The job waits for it. Ten minutes of an empty headset made its step a slow one, and the usual time of a
    step longer for everybody; report and figures agree."""
    journal = any_store.start("J9", "p", "P", 1, "0" * 64, "text", {}, outline=OUTLINE, at_ms=0)
    with journal:

        def happens(at_s: int, *records: Record) -> None:
            journal.commit(event_to_json(Heard(at_s * 1000, ("x",))), records)

        happens(10, entered("bus", 0))
        for at_s, kind, data in between:
            happens(at_s, Record(kind, {"step": "bus", "device": "microphone", **data}))
        happens(1000, torque("bus", 9.0, 0), Record("ended", {"outcome": "complete"}))
    (bus,) = figures_of(any_store).steps
    assert bus.seconds is not None
    assert bus.seconds.p50 == step_s
    (visit,) = story_of(any_store.entries("J9")).visits
    assert visit.working_ms == step_s * 1000


def test_times_leave_out_what_a_learner_guessed_before_a_step_was_told(any_store: Store) -> None:
    """A hold in the guess is taken off once: it ends before the step is told."""
    journal = any_store.start("J9", "p", "P", 1, "0" * 64, "text", {"person": "Ann"}, at_ms=0)
    with journal:

        def say(at_s: int, words: str, *records: Record) -> None:
            journal.commit(event_to_json(Heard(at_s * 1000, tuple(words.split()))), records)

        guess = {"step": "bus", "visit": 0, "question": "bus/torque", "outcome": "wrong"}
        say(0, "ready", entered("bus", 0))
        say(20, "hold", Record("hold", {"step": "bus"}))
        say(80, "carry on", Record("carried_on", {"step": "bus"}))
        say(100, "nine", Record("prediction", {**guess, "question": "bus/way"}))
        say(200, "nine", Record("prediction", guess))
        say(210, "hold", Record("hold", {"step": "bus"}))
        say(215, "carry on", Record("carried_on", {"step": "bus"}))
        say(230, "nine", torque("bus", 9.0, 0), entered("last", 1))
        say(240, "done", Record("ended", {"outcome": "complete"}))
    seconds = {step.step: step.seconds.p50 for step in figures_of(any_store).steps if step.seconds}
    assert seconds == {"bus": 25, "last": 10}
    first, _ = story_of(any_store.entries("J9")).visits
    assert first.working_ms == 25_000


def test_time_at_other_steps_is_no_time_of_a_step_come_back_to(any_store: Store) -> None:
    journal = any_store.start("J9", "p", "P", 1, "0" * 64, "text", {}, outline=OUTLINE, at_ms=0)
    count = {"step": "pins", "visit": 0, "name": "pins", "kind": "count", "value": 8}
    back = Record("step_entered", {"step": "pins", "visit": 0, "again": True})
    changed = Record("answer_changed", {**count, "value": 12, "before": {**count}})
    with journal:
        for at_s, words, records in (
            (0, "ready", [entered("pins", 0)]),
            (10, "eight", [Record("answer", count), entered("bus", 1)]),
            (610, "back", [back]),
            (615, "twelve", [changed, entered("bus", 2)]),
        ):
            journal.commit(event_to_json(Heard(at_s * 1000, (words,))), records)
    pins = story_of(any_store.entries("J9")).visits[0]
    assert pins.working_ms == 15_000  # 10 s and 5 s; the ten minutes belong to the other step


def test_what_was_asked_again_is_counted_at_its_step(few: Store) -> None:
    found = {step.step: step for step in figures_of(few).steps}
    assert (found["pins"].no_matches, found["pins"].repeats, found["bus"].repeats) == (3, 3, 0)
    assert found["pins"].again_share == pytest.approx(2.0)
    assert found["pins"].say == "Count the pins."


def test_torques_count_the_first_reading(few: Store) -> None:
    (found,) = figures_of(few).torques
    assert found.capability is not None
    assert (found.capability.n, found.outside) == (3, 1)
    assert found.capability.mean == pytest.approx((9.0 + 9.2 + 7.0) / 3)
    assert sum(found.histogram) == 3


@pytest.mark.parametrize(("said", "value"), [("clicked", 9.0), ("it keeps turning", 0.0)])
def test_what_no_wrench_showed_is_no_reading(few: Store, tmp_path: Path, said: str, value: float) -> None:
    """A click wrench tells that a torque was reached and no value (ISO 6789-1, type II, from memory): the
    target recorded for it in every job would make any process look capable."""
    before = figures_of(few).torques[0]
    for number in range(5):
        with few.start(f"C{number}", "p", "P", 1, "0" * 64, "text", {}, outline=OUTLINE, at_ms=0) as journal:
            event = event_to_json(Heard(1000, tuple(said.split())))
            journal.commit(event, [entered("bus", 0), torque("bus", value, 0, said=said)])
    (found,) = figures_of(few).torques
    assert found.capability == before.capability
    assert found.histogram == before.histogram
    assert (found.unread, before.unread) == (5, 0)
    assert found.outside - before.outside == (
        5 if value == 0 else 0
    )  # it counts as out of limits all the same
    page = write_page(figures_of(few), tmp_path / "f.html").read_text()
    assert "5 without a number" in page


def test_a_fastener_that_was_only_ever_clicked_has_no_cpk(any_store: Store, tmp_path: Path) -> None:
    with any_store.start("C", "p", "P", 1, "0" * 64, "text", {}, outline=OUTLINE, at_ms=0) as journal:
        event = event_to_json(Heard(1000, ("clicked",)))
        journal.commit(event, [entered("bus", 0), torque("bus", 9.0, 0, said="clicked")])
    (found,) = figures_of(any_store).torques
    assert (found.capability, found.unread) == (None, 1)
    assert "<dd>0, 1 without a number" in write_page(figures_of(any_store), tmp_path / "f.html").read_text()


def test_deviations_are_told_apart_by_variant(few: Store) -> None:
    found = {v.variant: (v.jobs, v.jobs_deviating, v.deviations) for v in figures_of(few).variants}
    assert found == {"pins 8": (2, 0, 0), "pins 12": (1, 1, 1)}


def test_one_person_is_one_however_the_name_is_spelled(any_store: Store) -> None:
    """A dot or a capital made two people of one, each with half of the jobs."""
    small_job(any_store, "J1", "R. Tarn", 8, [9.0])
    small_job(any_store, "J2", "r tarn", 8, [7.0, 9.2])
    found = figures_of(any_store, people=True).people
    assert found is not None
    assert [(p.person, p.jobs, p.deviations) for p in found] == [("R. Tarn", 2, 1)]


def test_people_are_counted_only_when_that_is_turned_on(few: Store) -> None:
    off, on = figures_of(few), figures_of(few, people=True)
    assert off.people is None
    assert "Ada" not in render_page(off)
    assert on.people is not None
    assert [(p.person, p.jobs, p.deviations) for p in on.people] == [("Ada", 2, 0), ("Bo", 1, 1)]
    assert "Ada" in render_page(on)


def test_what_the_second_person_did_does_not_count_for_the_first(any_store: Store) -> None:
    """Ada counts the pins, Bo tightens with more asking and too little torque, Ada comes back for the end."""
    journal = any_store.start(
        "J4", "p", "P", 1, "0" * 64, "text", {"person": "Ada"}, outline=OUTLINE, at_ms=0
    )
    with journal:

        def say(at_s: int, words: str, *records: Record) -> None:
            journal.commit(event_to_json(Heard(at_s * 1000, tuple(words.split()))), records)

        def handed(from_: str, to: str) -> Record:
            return Record("person_changed", {"step": "bus", "from": from_, "to": to})

        say(0, "ready", entered("pins", 0))
        say(10, "eight", Record("no_match", {"step": "pins"}))
        say(20, "ready", handed("Ada", "Bo"), entered("bus", 1))
        say(30, "what", Record("no_match", {"step": "bus"}), Record("no_input", {"step": "bus"}))
        say(40, "what", Record("help", {"step": "bus"}), torque("bus", 7.0, 1, "deviation"))
        say(50, "off", Record("skipped", {"step": "bus", "visit": 1, "reason": "no time"}))
        say(60, "back", handed("Bo", "ada"))
        say(70, "low", torque("bus", 7.0, 1, "deviation"), Record("ended", {"outcome": "complete"}))
    small_job(any_store, "J3", "Bo", 12, [7.0, 9.1])
    figures = figures_of(any_store, people=True)
    assert figures.people is not None
    found = {p.person: (p.jobs, p.deviations, p.again_share, p.minutes) for p in figures.people}
    # of J3 two visits, two times asked again, one deviation, 40 s
    assert found == {"Ada": (1, 1, 1 / 1, None), "Bo": (2, 2 + 1, (3 + 2) / (1 + 2), 40 / 60)}
    assert sum(variant.deviations for variant in figures.variants) == 3  # of the jobs: as ever


def test_only_some_jobs_can_be_asked_for(few: Store) -> None:
    assert figures_of(few, procedure="q").jobs == 0
    assert figures_of(few, since_ms=1).jobs == 0
    assert figures_of(few, procedure="p", since_ms=0).jobs == 3
    assert "Nothing to show" in render_page(figures_of(few, procedure="q"))


def test_duckdb_over_the_parquet_export_gives_the_same_figures(tmp_path: Path) -> None:
    with open_store(tmp_path / "r.db") as store:
        fill(store, 6_000)
        found = figures_of(store)
        path = export(store, [row.job for row in store.jobs()], tmp_path / "jobs.parquet", "parquet")
    database = duckdb.connect()
    medians = dict(
        database.execute(
            f"SELECT step, quantile_cont(seconds, 0.5) FROM '{path}' "
            "WHERE row IN ('answer', 'skipped') AND seconds IS NOT NULL GROUP BY step"
        ).fetchall()
    )
    ours = {step.step: step.seconds.p50 for step in found.steps if step.seconds is not None}
    assert ours.keys() == medians.keys()
    assert all(ours[step] == pytest.approx(medians[step], abs=0.002) for step in ours)
    torques = database.execute(
        f"SELECT name, count(*), avg(number), stddev_samp(number) FROM ("
        f"SELECT *, row_number() OVER (PARTITION BY job, step, name ORDER BY seq) AS nth FROM '{path}' "
        "WHERE kind = 'torque') WHERE nth = 1 GROUP BY name"
    ).fetchall()
    theirs = {name: (count, mean, s) for name, count, mean, s in torques}
    for figure in found.torques:
        count, mean, s = theirs[figure.name]
        assert figure.capability is not None
        assert figure.capability.n == count
        assert figure.capability.mean == pytest.approx(mean)
        assert figure.capability.s == pytest.approx(s)


def test_figures_over_several_procedures_say_of_which_each_is(tmp_path: Path) -> None:
    """ "Chock both rear wheels" stood there four times, and "mounting" is a torque of many procedures."""
    with open_store(tmp_path / "r.sqlite") as store:
        for name in ("wren-48-brake-adjustment", "wren-48-wheel-bearing"):
            do_job(store, name=name)
        page = render_page(figures_of(store))
        one = render_page(figures_of(store, procedure="wren-48-wheel-bearing"))
    assert page.count('<th scope="rowgroup" colspan="5"><strong>wren-48-') == 2
    assert '<span class="aside">chock, wren-48-brake-adjustment</span>' in page or (
        '<p class="aside">wren-48-wheel-bearing</p>' in page
    )
    assert 'scope="rowgroup"' not in one
    assert ", wren-48-wheel-bearing" not in one
