"""A job by voice over real audio, watched in a real Chromium: the page shows what is said and heard."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest
from playwright.sync_api import Page

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.technician import Reply, Technician
from tests.journeys.rooms import technician_at
from tests.screen.browser import chromium

pytestmark = pytest.mark.audio

JOB = Path(__file__).with_name("harness-swap.yaml")
SCRIPT = (
    Reply("understood to go on", "understood", times=4),
    Reply("isolate the pack|say done", "done", times=4),
    Reply(r"three volts.*yes\?", "yes", times=3),
    Reply("volt", "three volts", times=4),
    Reply(r"eight.*yes\?", "yes", times=3),
    Reply("pins", "eight", times=4),
    Reply(r"(done|understood)\. yes\?", "yes", times=8),
    Reply(r"yes\?|is it what you read", "no", times=8),
)
#: What the page shows, read in one go.
SHOWN = """() => {
  const at = (id) => document.getElementById(id);
  return {
    mode: document.body.dataset.mode,
    step: at('step-text').textContent,
    caution: at('caution').hidden ? '' : at('signal-word').textContent,
    heard: at('heard').textContent,
    level: Number(at('level').value),
  };
}"""
STEPS = ("Measure the link voltage", "Count the populated pins of the signal plug", "Fit the short harness")


def page_address(technician: Technician) -> str:
    until = time.monotonic() + 30
    while time.monotonic() < until:
        for line in technician.program.errors:
            if "the page: " in line:
                return line.split("the page: ")[1].strip()
        time.sleep(0.05)
    raise AssertionError(technician.transcript())


def watch(page: Page, work: threading.Thread) -> list[dict[str, object]]:
    seen: list[dict[str, object]] = []
    while work.is_alive():
        now = page.evaluate(SHOWN)
        if not seen or seen[-1] != now:
            seen.append(now)
        page.wait_for_timeout(40)
    return seen


def test_the_page_follows_a_job_by_voice(virtual_audio: PrivateAudio, tmp_path: Path) -> None:
    arguments = ["run", str(JOB), "--store", str(tmp_path / "jobs.sqlite"), "--page"]
    lost: list[BaseException] = []
    with chromium() as browser, technician_at(virtual_audio, arguments, tmp_path / "voice") as technician:
        page = browser.new_page()
        page.goto(page_address(technician))

        def work() -> None:
            try:
                technician.work(SCRIPT, timeout_s=120, until="fit the short harness")
            except BaseException as error:  # told by the test below, with the transcript
                lost.append(error)

        by_voice = threading.Thread(target=work)
        by_voice.start()
        seen = watch(page, by_voice)
        page.wait_for_timeout(500)
        seen.append(page.evaluate(SHOWN))
        page.locator("[data-key=hold]").click()
        page.wait_for_function("document.body.dataset.mode === 'held'", timeout=5000)
        technician.program.interrupt()
        technician.program.wait(10)
    assert not lost, lost
    steps = [str(s["step"]) for s in seen]
    for text in STEPS:
        assert any(text in step for step in steps), (text, steps)
    assert {"speaking", "listening"} <= {s["mode"] for s in seen}
    assert "warning" in {s["caution"] for s in seen}
    assert any("eight" in str(s["heard"]) for s in seen)
    assert max(float(str(s["level"])) for s in seen) > 5  # the meter moves with the microphone
