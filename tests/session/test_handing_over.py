"""A job that another person takes over, from the real command into record, report, export and sign-off."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from sayso.record.figures import figures_of
from sayso.record.hands import names_in
from sayso.record.report import ReportOptions, render
from sayso.record.store import Store, open_store
from sayso.record.story_telling import story_of
from sayso.session.errors import UserError
from sayso.session.job_options import person_named
from sayso.shop.progress import progress_of
from tests.session.conftest import HARNESS_SWAP
from tests.session.test_commands import sayso

ADA, BO, CY = "Ada Finch", "Bo Tarn", "Cy Vale"
CODES = {ADA: "4471", BO: "1962", CY: "5180"}
WITNESSES = [word for name, code in CODES.items() for word in ("--witness", f"{code}={name}")]
#: Ada isolates the pack, measures, and leaves while her count of the pins waits for a yes.
ADAS = ("understood", "done", "3 V", "yes", "7")
#: What Bo does: he counts anew, a torque too low is put right, and the job is stopped before its end.
BOS = ("yes", "8", "yes", "done", "HK1234", "yes", "6", "yes", "9", "yes", "stop", "yes")
ADAS_STEPS, BOS_STEPS = {"isolate", "voltage"}, {"pins", "short-harness", "serial", "clamp"}


def lines(*words: str) -> str:
    return "\n".join(words) + "\n"


@pytest.fixture(scope="module")
def handed_over(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a record with one job: Ada began it, Bo ended it."""
    home = tmp_path_factory.mktemp("depot")
    store = str(home / "shop.sqlite")
    begun_by_ada = sayso(
        "run", str(HARNESS_SWAP), "--typed", "--store", store, "--machine", "tug 12", "--person", ADA,
        *WITNESSES, typed="\n".join(ADAS), home=home,
    )  # fmt: skip
    assert begun_by_ada.returncode == 3, begun_by_ada.stderr
    ended_by_bo = sayso(
        "resume", "--typed", "--store", store, "--person", f"  {BO} ", typed=lines(*BOS), home=home
    )
    assert ended_by_bo.returncode == 5, ended_by_bo.stderr
    assert f"Carrying on with {BO}: Wren 48 harness swap, step 3 of 8" in ended_by_bo.stdout
    return home


@pytest.fixture
def record(handed_over: Path) -> Store:
    with open_store(str(handed_over / "shop.sqlite"), read_only=True) as opened:
        return opened


def test_each_answer_is_of_who_gave_it(record: Store) -> None:
    story = story_of(record.entries(record.jobs()[0].job))
    by = {visit.step: story.person_at(visit.answer.seq) for visit in story.visits if visit.answer}
    assert by == dict.fromkeys(ADAS_STEPS, ADA) | dict.fromkeys(BOS_STEPS, BO)
    assert {given.name: given.value for given in story.answers}["pins"] == 8  # not the seven of who left
    assert (story.person, story.people, [hand.person for hand in story.taken_over]) == (ADA, [ADA, BO], [BO])


def test_the_report_names_both_and_from_when(record: Store) -> None:
    job = record.jobs()[0].job
    text = render(record, job)
    assert re.search(rf"<dt>Done by</dt><dd>{ADA}; from [\d:]{{8}} {BO}</dd>", text)
    steps = text[text.index("Every step and answer") :]
    row = r"<th scope=\"row\">{}.*?</th>\s*<td class=\"strong\">.*?</td>\s*<td>{}</td>"
    assert re.search(row.format("Measure the link voltage", ADA), steps, re.DOTALL)
    assert re.search(row.format("Torque the clamp screw", BO), steps, re.DOTALL)
    hidden = render(record, job, ReportOptions(anonymous=True))
    assert re.search(r"<dt>Done by</dt><dd>person \d; from [\d:]{8} person \d</dd>", hidden)
    assert not re.search(r"\b(Ada|Finch|Bo|Tarn)\b", hidden)


def test_the_export_says_who_at_each_row(handed_over: Path) -> None:
    store = str(handed_over / "shop.sqlite")
    for out in ("jobs.csv", "hidden.csv", "hidden.json"):
        how = ["--anonymous"] if out.startswith("hidden") else []
        done = sayso("export", "--store", store, *how, "-o", str(handed_over / out), home=handed_over)
        assert done.returncode == 0, done.stderr
    rows = list(csv.DictReader((handed_over / "jobs.csv").open(encoding="utf-8-sig")))
    # the row of a job that was not finished is of who ended it, at the step where that was
    assert [(row["step"], row["person"]) for row in rows if row["row"] == "not finished"] == [("lights", BO)]
    by = {(row["step"], row["person"]) for row in rows if row["row"] != "not finished"}
    assert by == {(step, ADA) for step in ADAS_STEPS} | {(step, BO) for step in BOS_STEPS}
    assert [row["person"] for row in rows if row["row"] == "deviation"] == [BO]

    hidden = list(csv.DictReader((handed_over / "hidden.csv").open(encoding="utf-8-sig")))
    other = {(row["person"], hidden_row["person"]) for row, hidden_row in zip(rows, hidden, strict=True)}
    assert len(other) == 2, "each name has one pseudonym, and they are told apart"
    whole = json.loads((handed_over / "hidden.json").read_text(encoding="utf-8"))
    entries = whole["jobs"][0]["entries"]
    (change,) = [entry["data"] for entry in entries if entry["kind"] == "person_changed"]
    assert {change["from"], change["to"]} == {pseudonym for _, pseudonym in other}
    for text in (json.dumps(entries), (handed_over / "hidden.csv").read_text(encoding="utf-8")):
        assert not re.search(r"\b(Ada|Finch|Bo|Tarn|Cy|Vale)\b", text, re.IGNORECASE)


def test_lists_name_both_and_figures_give_each_their_own(handed_over: Path, record: Store) -> None:
    listed = sayso("jobs", "--store", str(handed_over / "shop.sqlite"), home=handed_over)
    assert f"{ADA}, {BO}" in " ".join(listed.stdout.split())
    assert names_in(record) == [ADA, BO]
    people = figures_of(record, people=True).people
    assert people is not None
    # Bo's one torque too low; the time of a job that two did is nobody's
    assert [(p.person, p.jobs, p.deviations, p.minutes) for p in people] == [
        (ADA, 1, 0, None),
        (BO, 1, 1, None),
    ]
    assert [progress_of(record, name).jobs for name in (ADA, BO, CY)] == [1, 1, 0]


def test_the_record_is_sound_and_only_a_third_one_signs(handed_over: Path) -> None:
    store = str(handed_over / "shop.sqlite")
    assert sayso("verify", "--store", store, home=handed_over).returncode == 0
    sign = ("sign-off", "--all", "--why", "Seen on the lift.", "--store", store)
    for own in (ADA, BO):
        refused = sayso(*sign, typed=lines(CODES[own]), home=handed_over)
        assert refused.returncode == 2
        assert f"{own} worked on this job; a second person must sign it off" in refused.stderr
        assert len(refused.stderr.splitlines()) == 1
    signed = sayso(*sign, typed=lines(CODES[CY]), home=handed_over)
    assert signed.returncode == 0, signed.stderr
    assert f"signed off by {CY}" in signed.stdout
    assert sayso("verify", "--store", store, home=handed_over).returncode == 0
    with open_store(store, read_only=True) as record:
        story = story_of(record.entries(record.jobs()[0].job))
        assert {d.signed.name for d in story.open_deviations if d.signed} == {CY}
        assert story.unsigned_deviations == []


def test_a_job_in_one_persons_hands_reads_as_before(tmp_path: Path) -> None:
    store = str(tmp_path / "shop.sqlite")
    run = ("run", str(HARNESS_SWAP), "--typed", "--store", store, "--person", ADA)
    sayso(*run, typed=lines(*ADAS[:4]), home=tmp_path)
    gone_on = sayso(
        "resume", "--typed", "--store", store, "--person", "ada finch", typed=lines(*BOS[1:]), home=tmp_path
    )
    assert "Carrying on: Wren 48 harness swap" in gone_on.stdout
    with open_store(store, read_only=True) as record:
        job = record.jobs()[0].job
        assert record.entries(job, kinds=("person_changed",)) == []
        text = render(record, job)
    assert f"<dt>Done by</dt><dd>{ADA}</dd>" in text
    assert "Given by" not in text


def test_a_name_that_cannot_be_is_one_error_and_nothing_is_recorded(
    handed_over: Path, tmp_path: Path
) -> None:
    with pytest.raises(UserError, match="line break or a control character"):
        person_named("Bo\nTarn")
    store = str(tmp_path / "shop.sqlite")
    sayso(
        "run",
        str(HARNESS_SWAP),
        "--typed",
        "--store",
        store,
        "--person",
        ADA,
        typed=lines("understood"),
        home=tmp_path,
    )
    refused = sayso("resume", "--typed", "--store", store, "--person", "Bo\tTarn", home=tmp_path)
    assert (refused.returncode, len(refused.stderr.splitlines())) == (2, 1)
    with open_store(store, read_only=True) as record:
        assert record.entries(record.jobs()[0].job, kinds=("resumed",)) == []
