"""Jobs done by a technician who is misheard as often as the shipped model was measured to mishear.

Outside check: read-back as radio and air traffic practise it (the hearer repeats a critical value, the
speaker confirms or corrects it): common practice, no source. The mishearing is that of
`models/shop-english/trials.json`, measured with synthetic voices that the model never heard and with the AN4
test recordings (CMU, 1991).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from sayso.answers.answer import Answer, NotUnderstood
from sayso.procedure import read
from sayso.procedure.model import AskNote, Procedure
from sayso.rehearsal import wordings
from sayso.rehearsal.machine_truth import true_answer
from sayso.rehearsal.misheard import Channel
from sayso.rehearsal.simulated_technician import Temper, as_said
from sayso.rehearsal.simulation import Tally, exactly, simulate
from sayso.rehearsal.trials import NO_MATCH, Trials, TrialsError, Try, write
from sayso.rehearsal.trials import read as read_trials

ROOT = Path(__file__).parents[2]
SEED = 8


@pytest.fixture(scope="module")
def procedures() -> list[Procedure]:
    return [read(file) for file in sorted((ROOT / "procedures").glob("*.yaml"))]


@pytest.fixture(scope="module")
def measured() -> Trials:
    return read_trials(ROOT / "models" / "shop-english" / "trials.json")


def without_read_back(procedures: Sequence[Procedure]) -> list[Procedure]:
    return [
        replace(
            procedure,
            steps=tuple(replace(step, ask=replace(step.ask, read_back=False)) for step in procedure.steps),
        )
        for procedure in procedures
    ]


def assert_nothing_confirmed_is_wrong(tally: Tally) -> None:
    assert tally.counts["read back and confirmed"] > 100
    stories = [wrong for wrong in tally.wrong if wrong.confirmed]
    assert tally.counts["wrong after read-back"] == 0, stories[:2]
    assert tally.counts["critical wrong, not read back"] == 0
    assert tally.counts["unfinished"] == 0


@pytest.mark.parametrize("noise", ["clean", "10", "0"])
def test_no_value_that_was_read_back_is_recorded_wrong(
    procedures: list[Procedure], measured: Trials, noise: str
) -> None:
    misheard, without = simulate(procedures, 36, trials=measured, condition=noise, seed=SEED)
    assert_nothing_confirmed_is_wrong(misheard)
    assert misheard.counts["misheard"] > 20
    assert without.counts["values"] > 100
    assert without.counts["wrong after read-back"] == without.counts["wrong, echo only"] == 0


def test_nor_when_every_error_comes_five_times_as_often(
    procedures: list[Procedure], measured: Trials
) -> None:
    misheard, _ = simulate(procedures, 27, trials=measured, condition="10", seed=SEED, worse=5.0)
    assert_nothing_confirmed_is_wrong(misheard)


def test_without_read_back_the_same_technician_gets_wrong_values_into_the_record(
    procedures: list[Procedure], measured: Trials
) -> None:
    bare = without_read_back(procedures)
    misheard, _ = simulate(bare, 180, trials=measured, condition="10", seed=SEED, worse=5.0)
    assert misheard.counts["critical values"] == 0
    assert misheard.counts["wrong, echo only"] > 0


def test_one_who_does_not_listen_to_the_read_back_gets_wrong_values_confirmed(
    procedures: list[Procedure], measured: Trials
) -> None:
    careless = Temper(overlooks_read_back=1.0)
    misheard, _ = simulate(
        procedures, 18, trials=measured, condition="0", seed=SEED, temper=careless, worse=3.0
    )
    assert misheard.counts["wrong after read-back"] > 0


def test_the_same_seed_gives_the_same_jobs_however_many_processes_do_them(
    procedures: list[Procedure], measured: Trials
) -> None:
    one, _ = simulate(procedures[1:4], 3, trials=measured, condition="10", seed=SEED)
    two, _ = simulate(procedures[1:4], 3, trials=measured, condition="10", seed=SEED, workers=2)
    other, _ = simulate(procedures[1:4], 3, trials=measured, condition="10", seed=SEED + 1)
    assert (one.counts, one.outcomes) == (two.counts, two.outcomes)
    assert one.counts != other.counts


def test_the_technician_hears_in_every_read_back_and_echo_the_value_that_it_says(
    procedures: list[Procedure],
) -> None:
    from sayso import answers

    rng = Random(SEED)
    for procedure in procedures:
        for step in procedure.steps:
            if isinstance(step.ask, AskNote):
                continue
            truth = true_answer(step, rng)
            for text in (answers.read_back(step.ask, truth), answers.echo(step.ask, truth)):
                found = answers.understand(step.ask, as_said(text, step.ask))
                assert not isinstance(found, NotUnderstood), text
                assert wordings.same(found, truth) or truth.kind == "torque", text


def test_what_he_says_and_types_means_what_is_true(procedures: list[Procedure]) -> None:
    from sayso import answers

    rng = Random(SEED)
    for procedure in procedures:
        for step in procedure.steps:
            truth = true_answer(step, rng, wrench="lbf.ft")
            spelled = wordings.said(step.ask, truth, rng, wrench="lbf.ft", spelled=True)
            for words in (
                wordings.said(step.ask, truth, rng, wrench="lbf.ft"),
                spelled,
                tuple(wordings.typed(step.ask, truth).split()),
            ):
                found = answers.understand(step.ask, words, wrench="lbf.ft")
                assert isinstance(found, Answer), words
                assert found.value == pytest.approx(truth.value) if isinstance(truth.value, float) else True


# --- the channel ---------------------------------------------------------------------------------


def table(*tries: Try) -> Trials:
    return Trials("none", ("a voice", "another"), {"clean": tries})


FIFTY = tuple(
    Try("answer count 1..60", "fifty", heard, voice, 0.9, False)
    for voice in (0, 1)
    for heard in ("fifty", "fifty", "fifty", "fifteen")
)


def test_a_phrase_comes_out_as_often_wrong_as_it_was_measured() -> None:
    channel = Channel(table(*FIFTY), "clean")
    rng = Random(1)
    heard = [channel.say("answer count 1..60", "fifty", 0, rng).heard for _ in range(4000)]
    assert heard.count("fifteen") / len(heard) == pytest.approx(0.25, abs=0.03)


def test_five_times_worse_is_five_times_as_many_errors_and_never_more_than_nine_in_ten() -> None:
    rng = Random(1)
    mild = Channel(table(*FIFTY), "clean", worse=2.0)
    heard = [mild.say("answer count 1..60", "fifty", 0, rng).heard for _ in range(4000)]
    assert heard.count("fifteen") / len(heard) == pytest.approx(0.5, abs=0.03)
    hard = Channel(table(*FIFTY), "clean", worse=50.0)
    heard = [hard.say("answer count 1..60", "fifty", 0, rng).heard for _ in range(4000)]
    assert heard.count("fifteen") / len(heard) == pytest.approx(0.9, abs=0.03)


def test_a_phrase_never_tried_is_drawn_word_by_word() -> None:
    tries = [
        Try("answer measure V", "one five", heard, 0, 0.9, False)
        for heard in ("one five", "one five", "one nine", "one nine")
    ]
    channel = Channel(table(*tries), "clean")
    rng = Random(1)
    heard = [channel.say("answer measure V", "five five one", 0, rng).heard for _ in range(2000)]
    assert set(heard) == {"five five one", "nine five one", "five nine one", "nine nine one"}
    assert heard.count("five five one") / len(heard) == pytest.approx(0.25, abs=0.04)


def test_a_word_that_was_never_tried_is_not_heard() -> None:
    channel = Channel(table(*FIFTY), "clean")
    assert channel.say("answer count 1..60", "zebra", 0, Random(1)).heard == NO_MATCH


def test_the_error_free_ear_hears_what_is_said() -> None:
    assert exactly("answer done", "done", 0, Random(1)).heard == "done"


def test_trials_are_read_as_they_were_written(tmp_path: Path) -> None:
    file = tmp_path / "trials.json"
    write(table(*FIFTY), file)
    found = read_trials(file)
    assert found.voices == ("a voice", "another")
    assert sorted(map(repr, found.tries["clean"])) == sorted(map(repr, FIFTY))


def test_a_file_that_holds_no_trials_is_named(tmp_path: Path) -> None:
    file = tmp_path / "trials.json"
    with pytest.raises(TrialsError, match="sayso trials"):
        read_trials(file)
    file.write_text("[]", encoding="utf-8")
    with pytest.raises(TrialsError, match=r"trials\.json"):
        read_trials(file)


def test_a_condition_that_was_not_measured_is_refused() -> None:
    with pytest.raises(TrialsError, match="clean"):
        Channel(table(*FIFTY), "20")


@pytest.mark.long
@pytest.mark.parametrize("noise", ["clean", "10", "0"])
def test_ten_thousand_jobs_and_no_value_that_was_read_back_is_wrong(
    procedures: list[Procedure], measured: Trials, noise: str
) -> None:
    misheard, _ = simulate(procedures, 10_000, trials=measured, condition=noise, seed=SEED, workers=2)
    assert_nothing_confirmed_is_wrong(misheard)
