"""The `sayso` command as people meet it: one clear line for every mistake, and an exit code that tells."""

from __future__ import annotations

import os
import random
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sayso import cli
from sayso.record.store import open_store
from tests.session.conftest import HARNESS_SWAP
from tests.session.typed_job import ANSWERS, WHOLE_JOB, recorded_answers


def sayso(
    *words: str, typed: str = "", home: Path | None = None, more: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """The real program on a machine without a sound card."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("PULSE", "ALSA", "SAYSO", "XDG"))}
    if home is not None:
        environment["HOME"] = str(home)
    environment.update(more or {})
    return subprocess.run(
        [sys.executable, "-m", "sayso.cli", *words],
        input=typed,
        capture_output=True,
        text=True,
        env=environment,
        timeout=60,
    )


def lines(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.strip()]


def test_help_names_every_command_and_loads_none_of_them() -> None:
    code = "import sys; from sayso import cli; print(cli.overview()); print(sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for name in cli.COMMANDS:
        assert name in done.stdout
    for heavy in ("vosk", "numpy", "sqlalchemy", "sounddevice", "typer"):
        assert f"'{heavy}'" not in done.stdout


def test_names_with_umlauts_are_kept_where_python_is_told_to_know_ascii_only(tmp_path: Path) -> None:
    """LC_ALL=C and PYTHONUTF8=0: Python takes each byte of a name for a sign then (PEP 540)."""
    folder = tmp_path / "Grüße"
    folder.mkdir()
    store = folder / "aufträge.sqlite"
    ascii_only = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "utf-8"}
    words = ("rehearse", str(HARNESS_SWAP), "--store", str(store), "--person", "Jörg")
    begun = sayso(*words, typed="", home=tmp_path, more=ascii_only)
    assert begun.returncode == 3, begun.stderr
    assert f"--store '{store}'" in begun.stderr
    assert store.exists()
    assert "Jörg" in sayso("jobs", "--store", str(store), home=tmp_path, more=ascii_only).stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("runn",), "no command 'runn'; did you mean 'run'?"),
        (("rehearse", "no-such-file"), "no procedure file no-such-file; write a path, or one of: "),
        (("rehearse", str(HARNESS_SWAP), "--wrench", "kg"), "--wrench kg: write N.m, lbf.ft or lbf.in"),
        (("rehearse", str(HARNESS_SWAP), "--level", "loud"), "--level loud: write full, normal or brief"),
        (("rehearse", str(HARNESS_SWAP), "--witness", "427"), "--witness 427: write it as CODE=NAME"),
        (
            ("rehearse", str(HARNESS_SWAP), "--witness", "42a=Ann"),
            "the code '42a' cannot be said digit by digit",
        ),
        (
            ("rehearse", str(HARNESS_SWAP), "--witness", "427="),
            "the code '427' is nobody's; write the person's name",
        ),
        (("rehearse", str(HARNESS_SWAP), "--witness", "427=A,43=B"), "give --witness once for each person"),
        (("rehearse", str(HARNESS_SWAP.parent)), "is a folder; give a procedure file in it"),
        (("resume",), "there is no open job; begin one with: sayso run PROCEDURE"),
        (("run", str(HARNESS_SWAP)), "no loudspeaker or headset found"),
        (("quiz", "wren-48-wheel-bearing", "--person", "Ann"), "go on without sound: add --typed"),
        (("devices",), "this machine has no sound device"),
        (("microphone", "check", "--device", "usb"), "no microphone"),
    ],
)
def test_a_mistake_is_one_line_on_stderr_and_exit_code_2(
    words: tuple[str, ...], told: str, tmp_path: Path
) -> None:
    done = sayso(*words, home=tmp_path)
    assert done.returncode == 2
    assert len(lines(done.stderr)) == 1, done.stderr
    assert told in done.stderr
    assert done.stdout == ""


def test_a_procedure_that_cannot_be_run_names_file_line_and_what_to_write(tmp_path: Path) -> None:
    file = tmp_path / "bad.yaml"
    file.write_text("procedure: bad\ntitle: Bad\nrevision: 1\nsteps:\n  - id: one\n    sya: Look.\n")
    done = sayso("rehearse", str(file), home=tmp_path)
    assert done.returncode == 2
    assert f"{file}:6:" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_job_by_voice_that_cannot_begin_leaves_no_job_behind(tmp_path: Path) -> None:
    store = tmp_path / "jobs.sqlite"
    assert sayso("run", str(HARNESS_SWAP), "--store", str(store), home=tmp_path).returncode == 2
    with open_store(store) as record:
        assert record.jobs() == []


def test_without_sound_the_demo_says_so_in_one_line_and_rehearses_the_same_job(tmp_path: Path) -> None:
    done = sayso("demo", "--store", str(tmp_path / "jobs.sqlite"), typed="ready\n", home=tmp_path)
    *_, told, left = lines(done.stderr)
    assert told.startswith("sayso: no job by voice: ")
    assert done.stderr.count("no job by voice") == 1
    assert "is open (end of input); go on with: sayso resume " in left
    assert done.returncode == 3
    assert done.stdout.startswith("sayso> ")


def test_a_whole_rehearsal_ends_with_code_0_and_says_where_its_report_is(tmp_path: Path) -> None:
    store = str(tmp_path / "jobs.sqlite")
    typed = "\n".join(WHOLE_JOB) + "\n"
    done = sayso("rehearse", str(HARNESS_SWAP), "--store", store, typed=typed, home=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "ended: complete; its report: sayso report wren-48-harness-swap-" in done.stderr


def test_stopping_a_job_has_a_code_of_its_own(tmp_path: Path) -> None:
    store = str(tmp_path / "jobs.sqlite")
    done = sayso("rehearse", str(HARNESS_SWAP), "--store", store, typed="stop\nyes\n", home=tmp_path)
    assert done.returncode == 5, done.stdout


def test_two_programs_cannot_run_the_same_job(tmp_path: Path) -> None:
    store = str(tmp_path / "jobs.sqlite")
    command = [sys.executable, "-m", "sayso.cli", "rehearse", str(HARNESS_SWAP), "--store", store]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as first:
        assert first.stdin is not None
        assert first.stdout is not None
        assert first.stdout.readline().startswith("sayso> ")
        second = sayso("resume", "--typed", "--store", store, home=tmp_path)
        first.stdin.close()
        first.wait(timeout=30)
    assert second.returncode == 2
    assert "is being run by another process" in second.stderr


def test_kill_minus_9_loses_no_answer_and_doubles_none(tmp_path: Path) -> None:
    store = tmp_path / "jobs.sqlite"
    chance = random.Random(7)
    command = [sys.executable, "-m", "sayso.cli", "rehearse", str(HARNESS_SWAP), "--store", str(store)]
    acknowledged = 0
    for _ in range(4):
        with subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        ) as program:
            assert program.stdin is not None
            assert program.stdout is not None
            # The prompt after an answer is printed only when the answer is durable.
            _until_prompt(program.stdout)
            for line in WHOLE_JOB[acknowledged : acknowledged + chance.randrange(1, 3)]:
                program.stdin.write(line + "\n")
                program.stdin.flush()
                _until_prompt(program.stdout)
                acknowledged += 1
            time.sleep(chance.uniform(0, 0.02))
            program.send_signal(signal.SIGKILL)
        command = [sys.executable, "-m", "sayso.cli", "resume", "--typed", "--store", str(store)]
    rest = "\n".join(WHOLE_JOB[acknowledged:]) + "\n"
    done = sayso("resume", "--typed", "--store", str(store), typed=rest, home=tmp_path)
    assert done.returncode == 0, done.stdout
    with open_store(store) as record:
        (row,) = record.jobs()
        assert recorded_answers(record, row.job) == ANSWERS
        names = [e.data["name"] for e in record.entries(row.job, kinds=("answer",))]
        assert len(names) == len(set(names))


WAITING = """\
procedure: discharge
title: Discharge
revision: 1
defers_to: The maker's manual comes first.
steps:
  - {id: key, say: Pull the key out.}
  - {id: clip, say: Clip the discharge lead on., wait: 10 min}
"""


def test_a_wait_of_a_job_taken_up_on_the_keyboard_takes_its_time(tmp_path: Path) -> None:
    """Only a rehearsal lets it pass at once: in a job it may be what lets a capacitor discharge."""
    file, store = tmp_path / "discharge.yaml", str(tmp_path / "jobs.sqlite")
    file.write_text(WAITING)
    for begin, passes in (("run", False), ("rehearse", True)):
        words = (begin, str(file), "--store", store) + (("--typed",) if begin == "run" else ())
        assert sayso(*words, home=tmp_path).returncode == 3
        done = sayso("resume", "--typed", "--store", store, typed="done\nhow long\n", home=tmp_path)
        assert ("The time is up." in done.stdout) is passes, done.stdout
        assert ("minutes left." in done.stdout) is not passes, done.stdout


def test_of_several_open_jobs_it_is_told_which_one_is_taken_up(tmp_path: Path) -> None:
    store = str(tmp_path / "jobs.sqlite")
    for machine in ("tug 1", "tug 2"):
        begin = (
            "run",
            str(HARNESS_SWAP),
            "--typed",
            "--store",
            store,
            "--machine",
            machine,
            "--person",
            "Ann",
        )
        assert sayso(*begin, home=tmp_path).returncode == 3
        told = sayso("resume", "--typed", "--store", store, home=tmp_path).stderr
        assert ("2 jobs are open; this is wren-48-harness-swap-" in told) is (machine == "tug 2")
    assert f"(tug 2, Ann); all of them: sayso jobs --open --store {store}" in told
    by_number = sayso("resume", "1", "--typed", "--store", store, home=tmp_path).stderr
    assert "jobs are open" not in by_number


def _until_prompt(out: object) -> None:
    text = ""
    while not text.endswith("\nyou> "):
        letter = out.read(1)  # type: ignore[attr-defined]
        assert letter, f"the program ended: {text}"
        text += letter


def test_a_fault_of_our_own_is_one_line_too_and_debug_shows_it_all(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_: object) -> int:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(cli, "dispatch", broken)
    with pytest.raises(SystemExit) as ended:
        cli.main(["jobs"])
    assert ended.value.code == 1
    assert lines(capsys.readouterr().err) == [
        "sayso: a fault in sayso itself: ZeroDivisionError: division by zero; run it again with --debug"
    ]
    with pytest.raises(ZeroDivisionError):
        cli.main(["jobs", "--debug"])


def test_a_home_that_may_not_be_written_is_one_line_and_nothing_of_it_is_needed_to_check(
    tmp_path: Path,
) -> None:
    """/dev/null is no folder, so nothing can be made in it, not even by root."""
    nowhere = {
        "XDG_DATA_HOME": "/dev/null/data",
        "XDG_CACHE_HOME": "/dev/null/cache",
        "TMPDIR": str(tmp_path),
    }
    environment = {**os.environ, **nowhere}
    environment.pop("SAYSO_STORE", None)

    def sayso_there(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "sayso.cli", *words],
            env=environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )

    for command in (("rehearse", "charger-fault-search"), ("progress", "Sam"), ("jobs",)):
        done = sayso_there(*command)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1), done.stderr
        assert "name another place with --store FILE or SAYSO_STORE" in done.stderr
    done = sayso_there("check", "charger-fault-search")
    assert done.returncode == 0, done.stderr
    assert any(tmp_path.glob("sayso-*/taught/*.json"))


def test_a_terminal_that_lacks_a_sign_shows_another_one_and_no_fault(tmp_path: Path) -> None:
    """As on a console of an old code page: 'newton metres' stand as N·m, limits with plus and minus."""
    for command in (["draw", "wren-48-drive-controller", "--text"], ["functions"], ["jobs", "--help"]):
        done = subprocess.run(
            [sys.executable, "-m", "sayso.cli", *command],
            env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"},
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr


def test_a_job_left_open_says_the_very_command_that_takes_it_up(tmp_path: Path) -> None:
    store = tmp_path / "a record" / "jobs.sqlite"
    store.parent.mkdir()
    left = sayso("rehearse", str(HARNESS_SWAP), "--store", str(store), typed="understood\n", home=tmp_path)
    command = shlex.split(left.stderr.partition("go on with: sayso ")[2])
    assert "--typed" in command
    # No HOME: nothing but the command itself says where the job is.
    taken_up = sayso(*command, typed="\n".join(WHOLE_JOB[1:]) + "\n", home=tmp_path / "elsewhere")
    assert taken_up.returncode == 0, taken_up.stderr
    assert "ended: complete; its report: " in taken_up.stderr


def test_without_sound_a_job_is_done_on_the_keyboard_and_is_no_rehearsal(tmp_path: Path) -> None:
    store = str(tmp_path / "jobs.sqlite")
    refused = sayso("run", str(HARNESS_SWAP), "--store", store, home=tmp_path)
    assert "go on without sound: add --typed" in refused.stderr
    done = sayso(
        "run", str(HARNESS_SWAP), "--store", store, "--typed", typed="\n".join(WHOLE_JOB[:1]), home=tmp_path
    )
    assert done.returncode == 3, done.stderr
    with open_store(store) as record:
        (row,) = record.jobs()
        assert not record.opening(row.job)["meta"].get("rehearsal")


def test_a_rehearsal_that_nobody_reads_on_ends(tmp_path: Path) -> None:
    """`sayso rehearse ... | head -1`: the thread that asks for the next line must not die unseen."""
    reading, writing = os.pipe()
    store = str(tmp_path / "jobs.sqlite")
    command = [sys.executable, "-m", "sayso.cli", "rehearse", str(HARNESS_SWAP), "--store", store]
    program = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=writing, stderr=subprocess.DEVNULL)
    try:
        os.close(writing)
        said = b""
        while not said.endswith(b"you> "):
            said += os.read(reading, 4096)
        os.close(reading)
        assert program.stdin is not None
        program.stdin.write(b"no such answer\n")
        program.stdin.flush()
        assert program.wait(timeout=30) == 3
    finally:
        program.kill()
        program.wait()


def test_who_begins_anew_on_the_same_machine_is_told_of_the_job_still_open(tmp_path: Path) -> None:
    words = ("run", str(HARNESS_SWAP), "--typed", "--store", str(tmp_path / "jobs.sqlite"))
    first = sayso(*words, "--machine", "tug 12", home=tmp_path)
    assert "still open" not in first.stderr
    with open_store(tmp_path / "jobs.sqlite", read_only=True) as store:
        (row,) = store.open_jobs()
    assert "still open" not in sayso(*words, "--machine", "tug 13", home=tmp_path).stderr
    assert "still open" not in sayso(*words, home=tmp_path).stderr
    assert (
        "still open"
        not in sayso("rehearse", *words[1:2], *words[3:], "--machine", "tug 12", home=tmp_path).stderr
    )
    told = sayso(*words, "--machine", "tug 12", home=tmp_path).stderr
    assert (
        f"a job of this procedure on tug 12 is still open; to go on with it: sayso resume {row.job} " in told
    )


def test_who_begins_where_another_is_at_work_is_told_so_and_not_to_resume(tmp_path: Path) -> None:
    """Resuming would be refused: the job is in the other's hands."""
    words = ("run", str(HARNESS_SWAP), "--typed", "--store", str(tmp_path / "jobs.sqlite"))
    sayso(*words, "--machine", "tug 12", "--person", "Kim", home=tmp_path)
    with open_store(tmp_path / "jobs.sqlite") as store:
        (row,) = store.open_jobs()
        assert not store.is_being_done(row.job)
        journal = store.resume(row.job)
        assert store.is_being_done(row.job)
        told = sayso(*words, "--machine", "Tug  12", "--person", "Lee", home=tmp_path).stderr
        journal.close()
    assert f"on tug 12 is being done at this moment, by Kim: {row.job}\n" in told
    assert "to go on with it" not in told


def test_who_resumes_is_told_that_the_file_was_changed_since(tmp_path: Path) -> None:
    file = tmp_path / "swap.yaml"
    file.write_bytes(HARNESS_SWAP.read_bytes())
    store = ("--typed", "--store", str(tmp_path / "jobs.sqlite"))
    sayso("run", str(file), *store, typed="ready\n", home=tmp_path)
    assert "was changed" not in sayso("resume", *store, home=tmp_path).stderr
    file.write_text(file.read_text("utf-8").replace("revision: ", "revision: 1"), "utf-8")
    told = lines(sayso("resume", *store, home=tmp_path).stderr)
    (line,) = (line for line in told if "swap.yaml was changed since this job began" in line)
    command = shlex.split(line.partition("what the change means for it: ")[2])
    assert sayso(*command[1:], home=tmp_path).stdout == "the job would have gone the same way\n"
    file.unlink()
    assert "was changed" not in sayso("resume", *store, home=tmp_path).stderr


def test_a_code_that_the_hold_points_of_a_procedure_do_not_hear_is_told_at_the_start(tmp_path: Path) -> None:
    named = Path(__file__).parents[2] / "procedures" / "wren-48-drive-controller.yaml"
    rest = ("--typed", "--store", str(tmp_path / "jobs.sqlite"))
    code = ("--witness", "4711=R Moss")
    told = sayso("run", str(named), *rest, *code, home=tmp_path).stderr
    assert "says who releases witness: there --witness (R Moss) does not count" in told
    assert "does not count" not in sayso("run", str(named), *rest, home=tmp_path).stderr
    assert "does not count" not in sayso("run", str(HARNESS_SWAP), *rest, *code, home=tmp_path).stderr
