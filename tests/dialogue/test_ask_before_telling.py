"""At full detail a learner is asked before a step is told; never where it can hurt, and never in the way."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sayso.dialogue import advance, begin, replay
from sayso.dialogue.codec import event_from_json
from sayso.dialogue.effects import Record, Say
from sayso.dialogue.events import Event, Heard, KeyPressed, NoInput, NoMatch, Started, TimerDone
from sayso.dialogue.snapshot import from_json
from sayso.dialogue.state import Aside, Awaiting, State
from sayso.procedure.model import (
    AskCount,
    AskDone,
    AskMeasure,
    AskTorque,
    AskWitness,
    Caution,
    CautionLevel,
    Prediction,
    Procedure,
    Step,
)

from .bench_job import WITNESSES, BenchJob, step
from .some_procedures import WORDS, procedures

NUT = AskTorque("nut", 40.0, 36.0, 44.0)
WAY = Prediction("Which way do you turn the nut?", "clockwise", ("anticlockwise",))


def nut(**more: object) -> Step:
    return step("seat", "Torque the castle nut.", NUT, **more)


def learner(*steps: Step, **more: object) -> BenchJob:
    """A job at full detail in which everything that may be asked first is."""
    job = BenchJob(*steps, level="full", **more)
    ids = tuple(question.id for questions in job.state.plan.questions for question in questions)
    return BenchJob(*steps, level="full", ask_first=ids, **more)


def predictions(job: BenchJob) -> list[tuple[object, object]]:
    return [(data["question"], data["outcome"]) for data in job.recorded("prediction")]


def test_the_torque_is_asked_for_then_judged_and_told_anyway() -> None:
    job = learner(nut())
    assert "Torque the castle nut: to what torque?" in job.said
    assert "forty" not in job.said
    job.hears("forty two newton metres")
    assert job.said.startswith("Right.")
    assert "Torque the castle nut. Target forty newton metres. What does the wrench read?" in job.said
    assert predictions(job) == [("seat/torque", "right")]


def test_a_guess_is_never_the_answer_of_the_step() -> None:
    job = learner(nut())
    job.hears("forty")
    assert job.recorded("answer") == []
    job.hears("thirty nine").hears("yes")
    assert [data["value"] for data in job.recorded("answer")] == [39.0]


def test_a_wrong_guess_gets_a_nudge_and_a_second_try() -> None:
    job = learner(nut())
    job.hears("twenty")
    assert job.said == "Not quite. It is more. Once more, or say tell me."
    job.hears("forty")
    assert job.said.startswith("Right.")
    assert predictions(job) == [("seat/torque", "helped")]


def test_two_wrong_guesses_are_told_kindly_and_the_step_follows() -> None:
    job = learner(nut())
    job.hears_each("twenty", "ninety")
    assert job.said.startswith("Not this time. It is forty newton metres. Torque the castle nut.")
    assert predictions(job) == [("seat/torque", "wrong")]


def test_which_way_and_to_what_torque() -> None:
    job = learner(nut(prediction=WAY))
    assert job.said.endswith("Which way do you turn the nut? Anticlockwise or clockwise?")
    job.hears("clockwise")
    assert job.said == "Right. And to what torque?"
    job.hears("forty")
    assert predictions(job) == [("seat/way", "right"), ("seat/torque", "right")]


def test_an_expected_value_is_worked_out_from_the_answers_so_far() -> None:
    cells = step("cells", "Count the cells.", AskCount("cells", 10, 40))
    volts = step(
        "volts",
        "Measure the voltage.",
        AskMeasure("volts", "V", low=0, high=100),
        expect="answers.cells * 2.0",
    )
    job = learner(cells, volts)
    job.hears("twenty four")
    assert job.said.endswith("Measure the voltage: what do you expect to read?")
    job.hears_each("twenty", "sixty")
    assert "Not this time. Expect about forty eight volts." in job.said
    assert job.recorded("prediction")[0]["right"] == 48.0


def test_a_value_that_cannot_be_worked_out_is_not_asked_for() -> None:
    job = learner(step("volts", "Measure.", AskMeasure("volts", "V"), expect="answers.cells * 2.0"))
    assert job.state.awaiting is Awaiting.ANSWER


@pytest.mark.parametrize("words", ["tell me", "skip", "pass", "done"])
def test_the_learner_may_leave_a_question_at_any_time_and_it_counts_for_nothing(words: str) -> None:
    job = learner(nut())
    job.hears(words)
    assert "Torque the castle nut. Target forty newton metres." in job.said
    assert predictions(job) == [("seat/torque", "told")]
    assert job.recorded("skipped", "answer") == []


def test_i_do_not_know_is_a_weak_point() -> None:
    job = learner(nut())
    job.hears("i do not know")
    assert predictions(job) == [("seat/torque", "not known")]


def test_silence_and_noise_never_hold_up_the_job() -> None:
    for happens in (BenchJob.silence, BenchJob.noise):
        job = learner(nut())
        happens(job)
        assert job.said == "Your guess, or say tell me."
        happens(job)
        assert "Target forty newton metres." in job.said
        assert predictions(job) == [("seat/torque", "no answer")]
        assert job.recorded("no_match", "no_input") == []


def test_an_unsure_guess_is_never_counted_as_wrong() -> None:
    job = learner(nut())
    job.hears("twenty", confidence=0.3)
    assert job.state.first_guess is None
    job.hears("forty", confidence=0.3)
    assert predictions(job) == [("seat/torque", "right")]


def test_it_is_switched_off_and_on_by_voice() -> None:
    job = learner(nut(), step("wheel", "Torque the wheel nuts.", AskTorque("wheel", 90.0, 81.0, 99.0)))
    assert "questions off" in job.listening.phrases
    job.hears("questions off")
    assert "Target forty newton metres." in job.said
    assert "questions on" in job.listening.phrases
    job.hears("forty").hears("yes")
    assert "Target ninety newton metres." in job.said
    job = learner(nut(), step("wheel", "Torque the wheel nuts.", AskTorque("wheel", 90.0, 81.0, 99.0)))
    job.hears_each("questions off", "questions on", "forty", "yes")
    assert job.said.endswith("Torque the wheel nuts: to what torque?")


@pytest.mark.parametrize("words", ["less detail", "fewer words"])
def test_less_talk_tells_the_step_at_once(words: str) -> None:
    job = learner(nut())
    job.hears(words)
    assert "Target forty newton metres." in job.said
    assert job.state.awaiting is Awaiting.ANSWER


def test_only_full_detail_asks_and_only_what_is_worth_asking() -> None:
    for level in ("normal", "brief"):
        assert BenchJob(nut(), level=level, ask_first=("seat/torque",)).state.awaiting is Awaiting.ANSWER
    assert (
        BenchJob(nut(), level="full", quiet=True, ask_first=("seat/torque",)).state.awaiting
        is Awaiting.ANSWER
    )
    assert BenchJob(nut(), level="full", ask_first=("other/torque",)).state.awaiting is Awaiting.ANSWER


def test_the_page_does_not_give_the_answer_away() -> None:
    job = learner(nut(why="Because.", hint="Forty.", picture="nut.svg"))
    view = job.shown
    assert view["awaiting"] == "predict"
    assert (view["torque"], view["picture"], view["why"], view["hint"]) == (None, "", "", "")
    assert "why" not in job.listening.phrases
    job.hears("tell me")
    assert job.shown["torque"]["target"] == 40.0


def test_hold_repeat_and_a_restart_come_back_to_the_question() -> None:
    job = learner(nut())
    job.hears_each("twenty", "repeat")
    assert job.said == "Torque the castle nut: to what torque?"
    job.hears_each("hold", "carry on")
    assert job.said.endswith("Torque the castle nut: to what torque?")
    job.hears("forty")
    assert predictions(job) == [("seat/torque", "helped")]


def test_a_step_that_was_gone_back_from_is_asked_about_once() -> None:
    first = step("one")
    job = learner(first, nut())
    job.hears("done").hears("back")
    assert job.at == "one"
    job.hears("keep it")
    assert job.said.endswith("Torque the castle nut: to what torque?")
    job.hears_each("tell me", "back", "keep it")
    assert job.state.awaiting is Awaiting.ANSWER


CAUTIONS = [Caution(level, "It can hurt.") for level in CautionLevel]


@pytest.mark.parametrize("caution", CAUTIONS)
def test_a_step_with_a_caution_is_told_never_asked(caution: Caution) -> None:
    for more in ({}, {"ask_first": "yes"}, {"prediction": WAY, "ask_first": "yes"}):
        assert learner(nut(cautions=caution, **more)).state.plan.questions == ((),)


def test_a_hold_point_and_a_critical_answer_are_never_asked() -> None:
    critical = AskMeasure("volts", "V", below=5, read_back=True)
    assert learner(step("volts", "", critical, expect="3.0", ask_first="yes")).state.plan.questions == ((),)
    witness = step("w", "", AskWitness("w"), prediction=WAY, ask_first="yes")
    assert learner(witness).state.plan.questions == ((),)


def test_nothing_is_asked_in_a_section_with_a_warning_unless_the_procedure_says_it_is_over() -> None:
    live = step("live", cautions=Caution(CautionLevel.WARNING, "The drive is live."), section="Check")
    asked = [
        bool(questions)
        for questions in learner(
            live,
            nut(section="Check"),
            replace(nut(section="Fit"), id="fit"),
            replace(nut(section="Check", ask_first="yes"), id="over"),
            replace(nut(section="Fit", ask_first="no"), id="off"),
        ).state.plan.questions
    ]
    assert asked == [False, False, True, True, False]


def test_a_procedure_may_leave_it_out_altogether() -> None:
    job = learner(nut())
    assert begin(replace(job.procedure, ask_first=False)).plan.questions == ((),)


def test_a_journal_of_before_there_were_questions_replays_as_it_was() -> None:
    """The event as version 0.1.0 wrote it: no `ask_first`."""
    old = {"type": "Started", "at_ms": 1, "job": "J", "level": "full", "wrench": "N.m", "usual": []}
    job = BenchJob(nut())
    state, effects = advance(begin(job.procedure), event_from_json(old))
    assert state.awaiting is Awaiting.ANSWER
    assert not any(isinstance(e, Record) and e.kind == "prediction" for e in effects)
    assert "questions off" not in effects[-2].phrases  # type: ignore[union-attr]


# --- whatever is said ---------------------------------------------------------------------------


@st.composite
def lessons(draw: st.DrawFn) -> Procedure:
    """Any procedure, in which many steps could be asked about."""
    found = draw(procedures())
    calm = draw(st.booleans())  # half of them without any hazard: questions then come up often
    steps = []
    for one in found.steps:
        more: dict[str, object] = {"ask_first": draw(st.sampled_from(["by_rule", "yes", "no"]))}
        if calm:
            more = {"ask_first": "yes", "cautions": (), "when": ""}
            if one.ask.kind in ("done", "torque", "measure") and draw(st.booleans()):
                more["ask"] = replace(NUT, name=one.ask.name)
        if draw(st.booleans()):
            more["prediction"] = WAY
        if one.ask.kind in ("measure", "count"):
            more["expect"] = draw(st.sampled_from(["8", "8.0", "answers.answer_1 * 2", "'text'", "1/0"]))
        steps.append(replace(one, section=draw(st.sampled_from(["", "Fit", "Check"])), **more))  # type: ignore[arg-type]
    return replace(found, steps=tuple(steps))


GUESSES = (
    "tell me",
    "skip",
    "i do not know",
    "clockwise",
    "anticlockwise",
    "nine",
    "eight",
    "twelve",
    "fourteen",
    "done",
    "undo",
    "back",
    "hold",
    "carry on",
    "repeat",
    "help",
    "questions off",
    "questions on",
    "less detail",
    "more detail",
    "note",
    "end note",
    "stop",
    "no",
    "why",
)


def event(draw: st.DataObject, state: State, now: int) -> Event:
    choice = draw.draw(st.integers(0, 11))
    if choice == 0:
        return NoInput(now)
    if choice == 1:
        return NoMatch(now)
    if choice == 2:
        return KeyPressed(now, draw.draw(st.sampled_from(["done", "skip", "yes", "back", "help"])))
    if choice <= 5 or state.awaiting is Awaiting.PREDICT:
        words = draw.draw(st.sampled_from(GUESSES))
    elif state.awaiting is Awaiting.ANSWER and state.aside is not Aside.STOP:
        words = draw.draw(st.sampled_from(WORDS[state.step.ask.kind]))
    else:
        words = {
            Awaiting.READY: "ready",
            Awaiting.CAUTION: "understood",
            Awaiting.SETTLE: "undone",
            Awaiting.KEEP_REASON: "no harm",
        }.get(state.awaiting, "yes")
        words = "no" if state.aside is Aside.STOP else words
    return Heard(now, tuple(words.split()), draw.draw(st.sampled_from([1.0, 1.0, 0.3])))


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(procedure=lessons(), data=st.data())
def test_whatever_is_said_what_can_hurt_is_told_and_no_guess_is_an_answer(
    procedure: Procedure, data: st.DataObject
) -> None:
    ids = tuple(question.id for questions in begin(procedure).plan.questions for question in questions)
    now = 1_000
    events: list[Event] = [Started(now, "J", witnesses=WITNESSES, level="full", ask_first=ids)]
    state, effects = advance(begin(procedure), events[0])
    told: set[tuple[int, int]] = set()
    asked: list[str] = []
    for _ in range(40):
        records = [e for e in effects if isinstance(e, Record)]
        # what is told again before work is taken back belongs to no visit
        cautions = [r.data for r in records if r.kind == "caution_told" and "visit" in r.data]
        told |= {(c["visit"], c["caution"]) for c in cautions}
        asked += [r.data["question"] for r in records if r.kind == "prediction"]
        if state.awaiting is Awaiting.ENDED:
            break
        if state.awaiting is Awaiting.PREDICT:
            ask = state.step.ask
            assert not state.step.cautions, "a question where it can hurt"
            assert ask.kind == "torque" or not ask.read_back, "a question where the answer is critical"
            assert ask.kind != "witness"
            assert not state.visit.begun, "asked after it was told"
        if state.at_step and state.visit.begun:
            assert all(
                (state.at, number) in told or state.visit.step in state.carried
                for number in range(len(state.step.cautions))
            ), "a step was told before its caution"
        before = state
        now += 2_000
        timers = [name for name, at in state.timers.items() if now >= state.trail[at].due_ms]
        events.append(TimerDone(now, timers[0]) if timers else event(data, state, now))
        state, effects = advance(state, events[-1])
        answered = [e for e in effects if isinstance(e, Record) and e.kind in ("answer", "answer_changed")]
        if before.awaiting is Awaiting.PREDICT:
            assert not answered, "a guess became the step's answer"
        if any(isinstance(e, Say) and e.text == "Right." for e in effects):
            assert before.awaiting is Awaiting.PREDICT
    assert len(asked) == len(set(asked)), "the same question twice in one job"
    assert replay(procedure, events) == state
    assert from_json(procedure, state.as_json()) == state


def test_a_done_step_is_never_asked_about() -> None:
    assert learner(step("one", "Do it.", AskDone("one"))).state.plan.questions == ((),)


def test_a_guess_is_listened_for_in_the_words_of_the_step_and_with_room_to_be_wrong() -> None:
    job = learner(nut())
    phrases = set(job.listening.phrases)
    assert {"twenty", "one", "hundred", "newton metres", "inch pounds"} <= {
        w for p in phrases for w in (p, p.split()[0], " ".join(p.split()[-2:]))
    }
    assert not {"clicked", "at torque"} & phrases
