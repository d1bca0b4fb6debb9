# ruff: noqa: E501  (tables of cases, one a line)
"""Scripted jobs: kept with the procedures, replayed, and told where they go otherwise."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.procedure import ProcedureError
from sayso.rehearsal.script import check_script, filled, read_script
from tests.procedure.fifteen_steps import FIFTEEN

JOBS = Path(__file__).parents[2] / "procedures" / "jobs"

ANSWERS = """\
# the ball hitch, with two bolts
procedure: hitch.yaml
person: Tam

you: ready
you: done
key: repeat
you: done
you: a ball
you: done
you: understood
nobody speaks
you hum
the program restarts
you: done
you: three
"""


@pytest.mark.parametrize("file", sorted(JOBS.glob("*.txt")), ids=lambda f: f.stem)
def test_the_scripted_jobs_of_the_depot_go_as_they_did(file: Path) -> None:
    assert [str(unlike) for unlike in check_script(read_script(file))] == []


def test_a_lead_hand_writes_the_answers_and_sayso_fills_in_the_rest(tmp_path: Path) -> None:
    (tmp_path / "hitch.yaml").write_text(FIFTEEN)
    job = tmp_path / "job.txt"
    job.write_text(ANSWERS)
    text = filled(read_script(job))
    assert text.startswith("# the ball hitch, with two bolts\nprocedure: hitch.yaml\nperson: Tam\n\nsayso: ")
    assert "you: a ball\nsayso: A ball.\nsayso: Unscrew the ball.\n" in text
    assert "sayso: Warning. The hitch weighs thirty kilograms." in text
    job.write_text(text)
    assert check_script(read_script(job)) == []
    assert filled(read_script(job)) == text, "filling twice changes nothing"


def test_a_changed_procedure_is_told_at_the_line_of_the_script(tmp_path: Path) -> None:
    (tmp_path / "hitch.yaml").write_text(FIFTEEN)
    job = tmp_path / "job.txt"
    job.write_text(ANSWERS)
    job.write_text(filled(read_script(job)))
    (tmp_path / "hitch.yaml").write_text(
        FIFTEEN.replace("say: Unscrew the ball.", "say: Unscrew the tow ball.")
    )
    unlike = check_script(read_script(job))
    line = job.read_text().splitlines().index("sayso: Unscrew the ball.") + 1
    assert [str(one) for one in unlike] == [
        f"{job}:{line}:1: the script has 'sayso: Unscrew the ball.', the job has 'sayso: Unscrew the tow ball.'"
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("you: done\n", "the script names no procedure"),
        ("procedure: hitch.yaml\nyuo: done\n", "'yuo: done' is no line of a script; write 'you: ...'"),
        ("procedure: none.yaml\nyou: done\n", "'none.yaml' cannot be read"),
        ("procedure: hitch.yaml\nyou: ready\ntime passes\n", "no timer runs"),
    ],
)
def test_a_script_that_cannot_be_played_is_told(tmp_path: Path, text: str, told: str) -> None:
    (tmp_path / "hitch.yaml").write_text(FIFTEEN)
    (tmp_path / "job.txt").write_text(text)
    with pytest.raises(ProcedureError) as raised:
        filled(read_script(tmp_path / "job.txt"))
    assert told in str(raised.value)
