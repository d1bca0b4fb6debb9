# ruff: noqa: E501  (a table of cases, one a line)
"""Files as other machines and people write them: Windows line ends, marks, encodings, slips in many steps."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sayso.procedure import check, read
from sayso.procedure.bring_in.sheet import outline_from_csv
from sayso.procedure.reading import read_all

PLAIN = """\
procedure: key
title: Key
revision: 1
defers_to: The manual.
steps:
  - id: out
    say: Pull the key out.
"""
WINDOWS = PLAIN.replace("\n", "\r\n")


def told(path: Path) -> list[str]:
    return [str(problem).partition(path.name)[2] for problem in check(path) if problem.severity == "error"]


@pytest.mark.parametrize("text", [WINDOWS, "\ufeff" + PLAIN, "\ufeff" + WINDOWS])
def test_windows_line_ends_and_a_byte_order_mark_are_read(tmp_path: Path, text: str) -> None:
    file = tmp_path / "key.yaml"
    file.write_bytes(text.encode())
    assert read(file).steps[0].say == "Pull the key out."


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-be"])
def test_a_file_in_utf_16_is_told_by_that_name(tmp_path: Path, encoding: str) -> None:
    file = tmp_path / "key.yaml"
    text = PLAIN if encoding == "utf-16" else "\ufeff" + PLAIN
    file.write_bytes(text.encode(encoding))
    assert told(file) == [":1:1: the file is UTF-16 text, which some editors call Unicode; save it as UTF-8"]


def test_a_control_character_written_as_an_escape_is_refused(tmp_path: Path) -> None:
    """PostgreSQL's text takes no U+0000 (its manual, 'Character Types'): the job could never be delivered."""
    file = tmp_path / "key.yaml"
    file.write_text(PLAIN.replace("title: Key", 'title: "Key\\0"'))
    assert told(file) == [":2:8: a control character (U+0000) in this text; remove it"]


def test_a_folder_is_told_to_be_one(tmp_path: Path) -> None:
    (tmp_path / "key.yaml").mkdir()
    (problem,) = told(tmp_path / "key.yaml")
    assert problem.endswith("give a procedure file in that folder")


def test_the_folder_one_stands_in_is_told_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (problem,) = read_all(".").problems
    assert str(problem).startswith(f"{tmp_path}:1:1: the file '{tmp_path.name}' cannot be read")


def test_only_a_file_with_a_like_name_is_proposed(tmp_path: Path) -> None:
    (tmp_path / "fnc.yaml").write_text("")
    (tmp_path / "wheel-bearing.yaml").write_text("")
    assert "write 'wheel-bearing.yaml'" in str(read_all(tmp_path / "wheel-baering.yml").problems[0])
    assert "fnc" not in str(read_all(tmp_path / "nosuch.yaml").problems[0])


def test_wrong_names_are_told_in_the_same_pass_as_steps_that_cannot_be_read(tmp_path: Path) -> None:
    file = tmp_path / "pads.yaml"
    file.write_text(
        PLAIN
        + "    ask: {yes_no: out}\n    then: {yes: bolt, no: nowhere}\n"
        + "  - id: bolt\n    say: Torque the bolt.\n    ask: {torque: bolt, target: 9 N.m}\n"
        + "  - id: bolt\n    sya: Torque it again.\n"
    )
    found = "\n".join(told(file))
    assert "there is no step 'nowhere'" in found
    assert "there is no step 'bolt'" not in found
    assert "has no tolerance" in found
    assert "the step id 'bolt' is used twice (first in line 10)" in found


def test_an_include_that_cannot_be_read_makes_no_target_wrong(tmp_path: Path) -> None:
    file = tmp_path / "pads.yaml"
    file.write_text(PLAIN + "    then: shared-step\n  - include: missing.yaml\n")
    problems = read_all(file).errors
    assert len(problems) == 1
    assert "missing.yaml" in str(problems[0])


def test_a_sheet_whose_steps_are_numbered_is_brought_in_by_its_words() -> None:
    """A column called 'step' that holds 1, 2, 3 is no instruction."""
    outline = outline_from_csv("step;say;torque\n1;Pull the key out;\n2.;Torque the bolt;9 Nm\n")
    assert [step.text for step in outline.steps] == ["Pull the key out", "Torque the bolt"]
    assert outline.steps[1].target == "9 Nm"


def test_shipped_procedures_are_known_by_name_to_every_command(tmp_path: Path) -> None:
    for command in (["check"], ["draw", "--text"], ["grammars"]):
        done = subprocess.run(
            [sys.executable, "-m", "sayso.cli", command[0], "charger-fault-search", *command[1:]],
            cwd=tmp_path,
            env={**os.environ},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("line", "told_at"),
    [
        ("     say: Out.", ":7:6: 'say' stands deeper than the key above, so it reads as more of that text; line"),
        ("    say: 'Don't drop it.'", ":7:14: the text goes on after its closing ': 'Don'; put the whole text in \""),
        ('    say: "Out" and away.', ":7:14: the text goes on after its closing \": \"Out\"; put the whole text in '"),
        ("    say: Out.\n  -id: in", ":8:3: '-id' has no blank after its '-'; write '- id: ...'"),
        ("    say:\xa0Out.\n    why: It rolls.", ":7:9: a no-break space follows the ':' (U+00A0); use a plain"),
        ("    say: Out.\n    <<: {why: It rolls.}", ":8:5: a merge key '<<' is not allowed; write its keys out"),
        ("    say: !!str Out.", ":7:10: a tag '!!str' is not allowed; remove it"),
    ],
)  # fmt: skip
def test_what_libyaml_stumbles_over_is_told_as_the_slip_that_it_is(
    tmp_path: Path, line: str, told_at: str
) -> None:
    file = tmp_path / "key.yaml"
    file.write_text(PLAIN.replace("    say: Pull the key out.", line).replace("- id: out", "- id: out-of-it"))
    (problem,) = told(file)
    assert problem.startswith(told_at)
