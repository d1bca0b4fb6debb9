"""Several viewers, reload, a cut wire, a program that hangs or starts anew: the page finds its way back."""

from __future__ import annotations

import inspect
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from sayso.screen.live import LiveView
from sayso.screen.server import Screen
from tests.screen.browser import offline
from tests.screen.page_states import Shown
from tests.screen.relay import Relay


@pytest.fixture
def shown(browser: Browser) -> Iterator[Shown]:
    open_job = Shown(browser)
    yield open_job
    open_job.close()


@pytest.fixture
def relay(shown: Shown) -> Iterator[Relay]:
    wire = Relay(shown.screen.port)
    yield wire
    wire.close()


def viewer(shown: Shown, relay: Relay) -> Page:
    page = shown.context.new_page()
    page.goto(f"http://127.0.0.1:{relay.port}/?token={shown.screen.token}")
    return page


def test_three_viewers_see_the_same_and_one_that_leaves_disturbs_nobody(shown: Shown) -> None:
    viewers = [shown.page, *(shown.context.new_page() for _ in range(2))]
    for page in viewers[1:]:
        page.goto(f"http://127.0.0.1:{shown.screen.port}/")
    shown.to("bars")
    for page in viewers:
        expect(page.locator("#step-text")).to_have_text("Torque the two busbar screws.")
    viewers.pop().close()
    viewers[-1].reload()
    shown.hear("nine")
    for page in viewers:
        expect(page.locator("#question")).to_contain_text("Nine newton metres. Yes?")
    viewers[0].keyboard.press("y")
    viewers[1].keyboard.press("n")
    viewers[1].wait_for_timeout(300)
    assert shown.pressed == [("key", "yes"), ("key", "no")]


def test_a_page_that_was_cut_off_says_so_and_then_shows_what_happened(shown: Shown, relay: Relay) -> None:
    page = viewer(shown, relay)
    shown.to("chock")
    expect(page.locator("#step-text")).to_have_text("Chock both rear wheels on both sides.")
    relay.cut()
    expect(page.locator("#lost")).to_be_visible()
    expect(page.locator(".keys")).to_be_hidden()
    shown.to("bars")
    expect(shown.page.locator("#step-text")).to_have_text("Torque the two busbar screws.")
    expect(page.locator("#step-text")).to_have_text("Chock both rear wheels on both sides.")
    relay.mend()
    expect(page.locator("#step-text")).to_have_text("Torque the two busbar screws.", timeout=15_000)
    expect(page.locator("#lost")).to_be_hidden()
    page.keyboard.press("h")
    page.wait_for_timeout(300)
    assert shown.pressed == [("key", "help")]


def test_a_program_that_hangs_is_noticed(shown: Shown, relay: Relay) -> None:
    """The connection stays open, only nothing comes: the browser itself would never say so."""
    shown.context.clock.install()
    page = viewer(shown, relay)
    shown.to("chock")
    expect(page.locator("#state-word")).to_have_text("Listening")
    relay.stall()
    page.clock.fast_forward(page.evaluate("SILENT_MS") - 3000)
    expect(page.locator("#lost")).to_be_hidden()
    page.clock.fast_forward(5000)
    expect(page.locator("#lost")).to_be_visible()
    expect(page.locator("#state-word")).to_have_text("No contact")
    relay.mend()
    expect(page.locator("#state-word")).to_have_text("Listening", timeout=15_000)
    expect(page.locator("#lost")).to_be_hidden()


def test_a_quiet_job_is_not_taken_for_one_that_hangs(shown: Shown) -> None:
    beat_s = inspect.signature(LiveView.follow).parameters["heartbeat_s"].default
    assert 1000 * 2 * beat_s < shown.page.evaluate("SILENT_MS")
    shown.page.evaluate("stream.addEventListener('beat', () => { document.body.dataset.beat = 'yes'; })")
    shown.page.wait_for_selector("body[data-beat=yes]")


def test_after_a_restart_the_old_page_says_where_the_new_one_is(shown: Shown) -> None:
    """A resumed job has another token: its address was printed anew, and the old page may not see it."""
    shown.to("bars")
    expect(shown.page.locator("#step-text")).to_have_text("Torque the two busbar screws.")
    port = shown.screen.port
    shown.screen.stop()
    again = Screen(None, port=port)
    again.start()
    try:
        again.publish({"title": "Another job", "mode": "listening"})
        expect(shown.page.locator("#lost")).to_contain_text(
            "Open the address that it printed", timeout=15_000
        )
        expect(shown.page.locator("body")).not_to_contain_text("Another job")
        shown.page.goto(again.address)
        expect(shown.page.locator("#job")).to_have_text("Another job")
    finally:
        again.stop()


def test_the_check_that_nothing_is_asked_of_the_world_can_fail(browser: Browser) -> None:
    """192.0.2.1 is nobody's address (RFC 5737); the request is refused before it leaves."""
    context = browser.new_context()
    check = offline(context)
    page = check.__enter__().new_page()
    page.set_content('<img src="http://192.0.2.1/picture.png">')
    page.wait_for_timeout(200)
    with pytest.raises(AssertionError, match="outside this machine"):
        check.__exit__(None, None, None)
    context.close()
