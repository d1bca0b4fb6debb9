"""How a job starts, and that no caution is ever left out.

Outside check: signal words and their levels follow ANSI Z535.4-2007 section 4.14 (second hand:
safetylabel.com): DANGER and WARNING can kill or maim, CAUTION and NOTICE cannot.
"""

from __future__ import annotations

import pytest

from sayso.procedure.model import AskCount, AskMeasure, Before, Caution, CautionLevel, Part

from .bench_job import BenchJob, step, warning


def test_the_job_says_its_title_and_revision_and_what_it_defers_to() -> None:
    job = BenchJob(step("one"), defers_to="The maker's manual comes first.")
    assert job.said.startswith("Bench job, revision 2. The maker's manual comes first.")
    assert job.at == "one"


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("brake pad", "brake pads"),
        ("M 8 terminal screw with washer", "M 8 terminal screws with washer"),
        ("screw M8", "screws M8"),
        ("termination resistor of one hundred ohms", "termination resistors of one hundred ohms"),
        ("carbon brush", "carbon brushes"),
        ("battery", "batteries"),
        ("key", "keys"),
        ("lock nuts", "lock nuts"),
        ("half shell, upper", "half shells, upper"),
        ("KD77", "KD77"),
    ],
)
def test_several_of_a_part_are_told_in_the_plural(name: str, told: str) -> None:
    """School grammar of English, from memory."""
    job = BenchJob(step("one"), before=Before(parts=(Part(name, 4),)))
    assert f"Parts: 4 {told}." in job.said


def test_tools_parts_and_conditions_are_told_and_wait_for_ready() -> None:
    before = Before(
        ("a meter", "a torque wrench"), (Part("screw", 4), Part("grease", 20, "g")), ("The key is out.",)
    )
    job = BenchJob(step("one"), before=before)
    assert "Tools: a meter and a torque wrench." in job.said
    assert "Parts: 4 screws and twenty grams of grease." in job.said
    assert "The key is out." in job.said
    assert not job.state.at_step
    job.hears("ready")
    assert job.at == "one"
    assert job.recorded("caution_acknowledged")[0]["conditions"] == ["The key is out."]


@pytest.mark.parametrize("level", [CautionLevel.DANGER, CautionLevel.WARNING])
@pytest.mark.parametrize("word", ["understood", "ok", "okay", "got it", "done", "yes"])
def test_danger_and_warning_stop_before_the_step_until_acknowledged(level: CautionLevel, word: str) -> None:
    job = BenchJob(step("lift", "Lift the axle.", cautions=Caution(level, "It can crush you.")))
    assert f"{level.value.capitalize()}. It can crush you." in job.said
    assert "Lift the axle." not in job.said
    job.hears(word)
    assert job.said == "Lift the axle."
    assert job.recorded("caution_acknowledged")[0]["said"] == word


@pytest.mark.parametrize("level", [CautionLevel.CAUTION, CautionLevel.NOTICE])
def test_caution_and_notice_are_told_and_the_step_follows_at_once(level: CautionLevel) -> None:
    job = BenchJob(step("lift", "Lift the cover.", cautions=Caution(level, "Sharp fins.")))
    assert job.said.endswith(f"{level.value.capitalize()}. Sharp fins. Lift the cover.")


def test_a_caution_cannot_be_talked_over() -> None:
    job = BenchJob(step("lift", cautions=warning()))
    says = [e for e in job.effects if getattr(e, "kind", "") == "caution"]
    assert says
    assert not any(e.interruptible for e in says)  # type: ignore[union-attr]


def test_an_answer_given_instead_of_understood_is_not_taken() -> None:
    job = BenchJob(step("pins", ask=AskCount("pins", 1, 20), cautions=warning()))
    job.hears("eight")
    assert job.recorded("answer") == []
    assert "Say understood" in job.said


def test_a_mumbled_understood_is_asked_for_again() -> None:
    job = BenchJob(step("lift", cautions=warning()))
    job.hears("understood", confidence=0.3)
    assert job.recorded("caution_acknowledged") == []


@pytest.mark.parametrize("how", [{"level": "brief"}, {"quiet": True}])
def test_brief_and_quiet_leave_no_caution_out(how: dict[str, object]) -> None:
    notice = Caution(CautionLevel.NOTICE, "Keep the label.")
    job = BenchJob(step("lift", "Lift it.", brief="Lift.", cautions=(warning("It falls."), notice)), **how)
    assert "Warning. It falls." in job.said
    job.hears("understood")
    assert job.said == "Notice. Keep the label. Lift."


def test_each_time_a_loop_comes_round_the_warning_is_acknowledged_anew() -> None:
    volts = AskMeasure("volts", "V", below=5.0, high=60.0)
    job = BenchJob(step("measure", ask=volts, cautions=warning(), out_of_limits="measure"), step("next"))
    job.hears_each("understood", "twelve", "yes")
    assert job.at == "measure"
    assert "Warning." in job.said
    job.hears("three")
    assert job.recorded("answer")[-1]["value"] == 12.0  # the three was not taken: the warning comes first
    job.hears_each("understood", "three")
    assert job.recorded("answer")[-1]["value"] == 3.0


def test_going_back_tells_the_warning_again_but_asks_no_second_understood() -> None:
    job = BenchJob(step("lift", "Lift it.", cautions=warning("It falls.")), step("two"))
    job.hears_each("understood", "done", "back")
    assert "Warning. It falls. Lift it." in job.said
    job.hears("done")
    assert job.at == "two"


def test_say_the_warning_tells_it_again() -> None:
    job = BenchJob(step("lift", "Lift it.", cautions=warning("It falls.")))
    job.hears_each("understood", "say the warning")
    assert "Warning. It falls." in job.said
