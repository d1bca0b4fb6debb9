"""Which tool measured, and whether its calibration held: from the command into record, report, export."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from sayso.record.store import open_store
from sayso.record.story_telling import story_of
from sayso.session.errors import UserError
from sayso.session.job_options import tools_named
from sayso.session.opening import JobOptions, read_procedure
from sayso.session.running import begun, taken_up
from sayso.session.tools_in_hand import tools_today
from tests.session.conftest import HARNESS_SWAP
from tests.session.test_commands import sayso
from tests.session.typed_job import WHOLE_JOB

TODAY = date.today()
AHEAD, PAST = TODAY + timedelta(days=40), TODAY - timedelta(days=40)


def test_a_job_tells_records_and_reports_its_tools(tmp_path: Path) -> None:
    store = tmp_path / "shop.sqlite"
    tools = ("--tool", f"wrench 3={AHEAD}", "--tool", f"meter 1 = {PAST}", "--tool", "steel rule")
    done = sayso(
        "run", str(HARNESS_SWAP), "--typed", "--store", str(store), *tools, typed="\n".join(WHOLE_JOB) + "\n",
        home=tmp_path,
    )  # fmt: skip
    ended = f"{PAST.day} {PAST:%B %Y}"
    assert f"The calibration of meter 1 ended on {ended}. Take another tool." in done.stdout
    assert "wrench 3" not in done.stdout

    report = tmp_path / "job.html"
    assert sayso("report", "--store", str(store), "-o", str(report), home=tmp_path).returncode == 0
    text = report.read_text(encoding="utf-8")
    assert f"calibrated until {AHEAD}" in text
    assert f"Tool in hand after its calibration had ended: meter 1, {PAST}" in text
    assert "calibration not told" in text

    out = tmp_path / "jobs.csv"
    assert sayso("export", "--store", str(store), "-o", str(out), home=tmp_path).returncode == 0
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8-sig"))))
    held = f"wrench 3, calibrated until {AHEAD}; meter 1, calibrated until {PAST}; steel rule"
    assert {row["tools"] for row in rows} == {held}
    overdue = [row for row in rows if row["row"] == "tool overdue"]
    assert [(row["text"], row["signed_by"]) for row in overdue] == [(f"meter 1, {PAST}", "")]
    assert sayso("verify", "--store", str(store), home=tmp_path).returncode == 0


def test_a_tool_is_told_of_once_and_again_when_its_day_passes_during_the_job(tmp_path: Path) -> None:
    found = read_procedure(HARNESS_SWAP, "en", {})
    with open_store(str(tmp_path / "shop.sqlite")) as store:
        with begun(store, found, JobOptions(tools=(("wrench 3", str(TODAY)), ("meter 1", str(PAST))))) as (
            job,
            first,
        ):
            job.handle(first)
        with taken_up(store, None) as (job, event):  # the same day: nothing new
            assert event.tools == ()  # type: ignore[union-attr]
            job.handle(event)
        with taken_up(store, None, (("wrench 4", str(AHEAD)),)) as (job, event):
            assert event.tools == (("wrench 4", str(AHEAD), False),)  # type: ignore[union-attr]
            job.clock.now_ms = lambda: int((datetime.now(UTC) + timedelta(days=2)).timestamp() * 1000)  # type: ignore[method-assign]
            from sayso.session.tools_in_hand import taken_up_with

            later = taken_up_with(store, job)
            assert later.tools == (("wrench 3", str(TODAY), True),)
            job.handle(later)
        story = story_of(store.entries(store.jobs()[0].job))
    assert [(t.name, t.overdue) for t in story.tools] == [("meter 1", True), ("wrench 3", True)]
    assert [d.what for d in story.deviations] == [f"meter 1, {PAST}", f"wrench 3, {TODAY}"]
    assert len(story.unsigned_deviations) == 2


def test_the_last_day_of_a_calibration_still_counts() -> None:
    noon = int(datetime(2026, 11, 28, 12).timestamp() * 1000)
    days = ("2026-11-27", "2026-11-28", "")
    assert [overdue for _, _, overdue in tools_today([(d, d) for d in days], noon)] == [True, False, False]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (
            ["wrench 3=31.3.2027"],
            "--tool wrench 3=31.3.2027: write the last day of the calibration as YEAR-MONTH",
        ),
        (["wrench 3=2027-02-30"], "as YEAR-MONTH-DAY"),
        (["wrench 3=20270331"], "as YEAR-MONTH-DAY"),
        (["=2027-03-31"], "write NAME=DAY, such as 'wrench 3=2027-03-31'"),
        (["meter", "meter=2027-03-31"], "meter is named twice"),
        (["a\nb"], "line break"),
    ],
)
def test_a_tool_that_cannot_be_is_told_in_one_line(given: list[str], told: str) -> None:
    with pytest.raises(UserError) as error:
        tools_named(given)
    assert told in str(error.value)
