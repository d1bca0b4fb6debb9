"""The commands as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sayso.cli import main
from tests.procedure.fifteen_steps import FIFTEEN

DEMOS = Path(__file__).parents[2] / "procedures"
FIRST = str(DEMOS / "wren-48-first-inspection.yaml")


def typed(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        main(list(words))
    out = capsys.readouterr()
    return int(ended.value.code or 0), out.out, out.err


@pytest.fixture
def hitch(tmp_path: Path) -> Path:
    file = tmp_path / "hitch.yaml"
    file.write_text(FIFTEEN)
    return file


def test_check_says_that_nothing_is_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    """With the ear's part: 'it is dead' is not held against 'not met', which is no word at a choice."""
    files = (
        FIRST,
        str(DEMOS / "charger-fault-search.yaml"),
        str(DEMOS / "battery-receiving-inspection.yaml"),
    )
    assert typed(capsys, "check", *files)[:2] == (0, "3 files: nothing to put right\n")


def test_check_ends_with_2_on_an_error_and_tells_it_on_a_line(
    capsys: pytest.CaptureFixture[str], hitch: Path
) -> None:
    hitch.write_text(FIFTEEN.replace("unit: mm", "unit: V"))
    code, out, _ = typed(capsys, "check", "--no-sound", str(hitch))
    assert code == 2
    assert out.startswith(f"{hitch}:52:36: the unit 'V' does not fit 'ball_gap'; write a unit such as mm")


def test_check_gives_json_for_editors(capsys: pytest.CaptureFixture[str], hitch: Path) -> None:
    hitch.write_text(FIFTEEN.replace("unit: mm", "unit: V"))
    found = json.loads(typed(capsys, "check", "--no-sound", "--json", str(hitch))[1])
    assert found[0]["place"] == {"file": str(hitch), "line": 52, "column": 36}
    assert found[0]["severity"] == "error"


def test_walk_prints_the_coverage(capsys: pytest.CaptureFixture[str], hitch: Path) -> None:
    code, out, _ = typed(capsys, "walk", str(hitch))
    assert code == 0, out
    assert "steps    15 of 15 (100 %)" in out


def test_draw_card_and_schema_write_files(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert typed(capsys, "draw", FIRST, "-o", str(tmp_path / "a.dot"))[0] == 0
    assert (tmp_path / "a.dot").read_text().startswith("digraph")
    assert typed(capsys, "card", FIRST, "--no-picture", "-o", str(tmp_path / "a.html"))[0] == 0
    code, _, err = typed(capsys, "card", FIRST, "--no-picture", "-o", str(tmp_path / "a.pdf"))
    assert (code, "name it a.html" in err) == (2, True)
    assert (tmp_path / "a.html").read_text().startswith("<!doctype html>")
    assert json.loads(typed(capsys, "schema")[1])["title"] == "sayso procedure"
    assert "walk-round: Walk once around the tug." in typed(capsys, "draw", FIRST)[1]


def test_functions_lists_the_calculations_with_their_sources(capsys: pytest.CaptureFixture[str]) -> None:
    out = typed(capsys, "functions", "discharge")[1]
    assert out.startswith("discharge_time(resistance_ohm, capacitance_uf, start_v, safe_v)\n    Time to fall")
    assert "source: " in out


def test_grammars_lists_what_can_be_said(capsys: pytest.CaptureFixture[str]) -> None:
    out = typed(capsys, "grammars", FIRST)[1]
    assert "choice: walk-round\n  no damage, nothing, a scratch" in out


def test_diff_tells_what_it_means_for_an_open_job(
    capsys: pytest.CaptureFixture[str], hitch: Path, tmp_path: Path
) -> None:
    new = tmp_path / "new.yaml"
    new.write_text(FIFTEEN.replace("target: 50", "target: 55").replace("revision: 1", "revision: 2"))
    code, out, _ = typed(capsys, "diff", str(hitch), str(new), "--up-to", "torque")
    assert code == 0
    assert out.startswith("! step torque: torque: 50 (±5) N·m")
    assert "stop, and have the lead hand decide" in out


def test_bring_in_writes_the_draft_and_says_what_is_missing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "list.md").write_text("1. Torque the cap to 20 Nm.\n2. Fit the cap.\n")
    code, out, err = typed(capsys, "bring-in", str(tmp_path / "list.md"), "-o", str(tmp_path / "d.yaml"))
    assert (code, out) == (0, f"written: {tmp_path / 'd.yaml'}\n")
    assert "has no tolerance" in err


def test_script_check_and_fill(capsys: pytest.CaptureFixture[str], hitch: Path, tmp_path: Path) -> None:
    job = tmp_path / "job.txt"
    job.write_text("procedure: hitch.yaml\n\nyou: ready\nyou: done\n")
    assert typed(capsys, "script", "check", str(job))[0] == 2
    assert typed(capsys, "script", "fill", str(job))[0] == 0
    assert typed(capsys, "script", "check", str(job))[:2] == (0, f"{job}: as it was\n")
    first = next(line for line in job.read_text().splitlines() if line.startswith("sayso: "))
    job.write_text(job.read_text().replace(first, f"{first} Twice.", 1))
    assert f"{job}: 1 line unlike\n" in typed(capsys, "script", "check", str(job))[1]


def test_a_job_of_the_record_is_replayed_on_another_revision(
    capsys: pytest.CaptureFixture[str], hitch: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A real record, begun as the session begins it."""
    from sayso.dialogue import advance, begin
    from sayso.dialogue.codec import event_to_json
    from sayso.dialogue.effects import Record
    from sayso.procedure import read
    from sayso.record.store import open_store
    from sayso.session.opening import JobOptions, open_job
    from tests.rehearsal.test_against_revision import SAID, events

    place = tmp_path / "record.db"
    with open_store(place) as store:
        job, _ = open_job(store, read(hitch), JobOptions(person="Tam"))
        state = begin(read(hitch))
        for event in events(SAID):
            state, effects = advance(state, event)
            records = [{"kind": e.kind, "data": dict(e.data)} for e in effects if isinstance(e, Record)]
            job.journal.commit(event_to_json(event), records)
        name = job.journal.job
        job.journal.close()
    hitch.write_text(
        FIFTEEN.replace("  - id: hitch-off\n", "  - id: look\n    say: Look at it.\n  - id: hitch-off\n")
    )
    code, out, err = typed(capsys, "replay", name, str(hitch), "--store", str(place))
    assert (code, err) == (0, "")
    assert out == "step look: would be done, and was not: Look at it.\n1 thing would have gone otherwise\n"
    assert typed(capsys, "replay", "1", str(hitch), "--store", str(place)) == (0, out, "")  # by its number
    monkeypatch.setenv("SAYSO_STORE", str(place))
    assert typed(capsys, "replay", name[:12], str(hitch)) == (0, out, "")  # in the usual record


WITH_PARAMETERS = """
procedure: heron-80-chock
title: {en: Chock, de: Keile}
revision: 1
defers_to: {en: The maker's manual comes first., de: Das Handbuch geht vor.}
parameters:
  bay:
  axle: light
steps:
  - id: chock
    say: {en: Chock it in <bay>., de: Keile in <bay>.}
  - id: second-pair
    when: '"<axle>" == "heavy"'
    say: {en: Chock the second axle., de: Auch die zweite Achse.}
"""


def test_a_replay_has_the_parameters_and_the_language_of_the_job(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """It had those that the file gives when none are told, in English: the second axle of a heavy tug "was
    done, and would not be"; a file that gives none was refused, and `sayso resume` sends people there."""
    from sayso.dialogue import advance, begin
    from sayso.dialogue.codec import event_to_json
    from sayso.dialogue.events import Heard, Started
    from sayso.procedure import read
    from sayso.record.store import open_store
    from sayso.session.opening import JobOptions, open_job

    file, place = tmp_path / "chock.yaml", tmp_path / "record.db"
    file.write_text(WITH_PARAMETERS)
    given = {"bay": "three", "axle": "heavy"}
    procedure = read(file, language="de", parameters=given)
    with open_store(place) as store:
        job, _ = open_job(store, procedure, JobOptions(language="de", parameters=given))
        state = begin(procedure)
        for event in (Started(0, "J"), Heard(1, ("done",)), Heard(2, ("done",))):
            state, _ = advance(state, event)
            job.journal.commit(event_to_json(event), [])
        assert state.outcome
        job.journal.close()
    replay = ("replay", "1", str(file), "--store", str(place))
    assert typed(capsys, *replay) == (0, "the job would have gone the same way\n", "")
    code, out, _ = typed(capsys, *replay, "--set", "axle=light")
    assert (code, out.splitlines()[0]) == (0, "step second-pair: was done, and would not be")
    file.write_text(WITH_PARAMETERS.replace("  bay:\n", "").replace("<bay>", "bay three"))
    code, out, err = typed(capsys, *replay)
    assert (code, out) == (0, "the job would have gone the same way\n")
    assert err == "sayso: chock.yaml has no parameter 'bay' (the job: three)\n"
