"""sayso as a program under test can be interrupted, however the tests themselves were started."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from sayso.bench.sayso_program import SaysoProgram

JOB = Path(__file__).parent.parent / "journeys" / "harness-swap.yaml"
#: what the README says of a job that was left open
LEFT_OPEN = 3


@pytest.mark.parametrize(
    "before", [signal.default_int_handler, signal.SIG_IGN], ids=["terminal", "background"]
)
def test_ctrl_c_leaves_the_job_open_whether_or_not_the_tests_run_in_the_background(
    before: signal.Handlers, tmp_path: Path
) -> None:
    """A shell without job control starts `command &` with SIGINT ignored (POSIX.1-2017, Shell Command
    Language, 2.11), and every child inherits that: three journeys waited in vain for the end of a program
    that never got it."""
    arguments = ["rehearse", str(JOB), "--real-time", "--store", str(tmp_path / "jobs.sqlite")]
    was = signal.signal(signal.SIGINT, before)
    try:
        program = SaysoProgram(arguments, os.environ, keyboard=True)
    finally:
        signal.signal(signal.SIGINT, was)
    with program:
        assert program.wait_for(lambda line: line.who == "sayso", 30.0), program.errors
        program.interrupt()
        assert program.wait(10) == LEFT_OPEN
