"""A job on the keyboard with its page: both answer the same questions, and the terminal shows no code."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from sayso.record.store import open_store

JOB = """\
procedure: lamp
title: Heron 80, lamp
revision: 1
defers_to: The maker's manual comes first.
steps:
  - {id: one, say: Pull the key out.}
  - {id: two, say: Count the screws., ask: {count: screws, from: 1, to: 9}}
  - {id: seen, say: The lead hand looks., ask: {witness: seen_by, role: lead hand, codes: {"274658": R Tarn}}}
"""


def press(browser: urllib.request.OpenerDirector, address: str, what: dict[str, str]) -> None:
    time.sleep(1)  # a key that comes within a quarter of a second of a question was meant for the one before
    body = json.dumps(what).encode()
    request = urllib.request.Request(f"{address}press", body, {"content-type": "application/json"})
    with browser.open(request, timeout=20) as reply:
        assert reply.status == 204


def test_a_typed_job_shows_its_page_and_takes_its_keys(tmp_path: Path) -> None:
    """--page was left out without a word where --typed was given."""
    (tmp_path / "lamp.yaml").write_text(JOB)
    store = tmp_path / "jobs.sqlite"
    job = subprocess.Popen(
        [sys.executable, "-m", "sayso.cli", "run", "lamp.yaml", "--typed", "--page", "--store", str(store)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "HOME": str(tmp_path)},
    )
    assert job.stderr is not None
    assert job.stdout is not None
    try:
        found = re.search(r"the page: (http\S+)", job.stderr.readline())
        assert found is not None
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        browser.open(found.group(1), timeout=20).close()  # gives the cookie without which no key counts
        address = found.group(1).partition("?")[0].rstrip("/") + "/"
        said = _read_to(job, "Pull the key out.")
        press(browser, address, {"key": "done"})
        said += _read_to(job, "Count the screws.")
        press(browser, address, {"words": "four"})
        said += _read_to(job, "name or code")
        press(browser, address, {"words": "274658"})
        said += _read_to(job, "Yes?")
        press(browser, address, {"key": "yes"})
        said += job.stdout.read()
        assert job.wait(60) == 0
    finally:
        job.kill()
        job.wait()
    assert "page> done" in said
    assert "page> four" in said
    assert "page> code" in said
    assert "274658" not in said
    with open_store(store) as record:
        (row,) = record.jobs()
        values = [entry.data["value"] for entry in record.entries(row.job, kinds=("answer",))]
    assert values[1] == 4


def _read_to(job: subprocess.Popen[str], wanted: str) -> str:
    """What it says up to the line with `wanted`, and the question mark after it."""
    assert job.stdout is not None
    said = ""
    while wanted not in said:
        line = job.stdout.readline()
        assert line, f"it ended before '{wanted}': {said}"
        said += line
    return said
