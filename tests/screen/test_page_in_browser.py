"""The page in a real Chromium, following a real job: what is shown, what the keys do; nothing is ever markup.

How every state looks is in test_every_page_state.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import Browser, expect

from sayso.dialogue.events import DeviceLost, Heard, KeyPressed
from sayso.dialogue.state import Awaiting
from sayso.procedure.model import Caution, CautionLevel
from tests.screen.page_states import Shown, step, tug

SCRIPT = "<script>document.title='taken'</script><img src=x onerror=\"document.title='taken'\">"


@pytest.fixture
def shown(browser: Browser) -> Iterator[Shown]:
    open_job = Shown(browser)
    yield open_job
    assert open_job.errors == []
    open_job.close()


def test_a_warning_is_seen_with_its_word_its_sign_and_its_text(shown: Shown) -> None:
    shown.to("apart", Awaiting.CAUTION)
    expect(shown.page.locator("#signal-word")).to_have_text("warning")
    expect(shown.page.locator("#caution-text")).to_contain_text("Take off rings and watch.")
    expect(shown.page.locator(".alert")).to_be_visible()
    colour = shown.page.locator(".signal").evaluate("e => getComputedStyle(e).backgroundColor")
    assert colour == "rgb(227, 119, 0)"


def test_a_step_is_not_shown_before_its_warning_is_acknowledged(shown: Shown) -> None:
    shown.to("apart", Awaiting.CAUTION)
    expect(shown.page.locator("#signal-word")).to_have_text("warning")
    expect(shown.page.locator("body")).not_to_contain_text("Pull the battery connector apart.")
    expect(shown.page.locator("#question")).to_have_text("Say: understood")
    shown.hear("understood")
    expect(shown.page.locator("#step-text")).to_have_text("Pull the battery connector apart.")
    expect(shown.page.locator("#signal-word")).to_have_text("warning")


def test_a_notice_has_no_alert_sign(shown: Shown) -> None:
    """ANSI Z535.4: the safety alert symbol is for hazards to people only (from memory)."""
    shown.to("plug")
    expect(shown.page.locator("#signal-word")).to_have_text("notice")
    expect(shown.page.locator(".alert")).to_be_hidden()


def test_the_drawing_of_the_branches_marks_the_step_and_gives_way_to_a_warning(shown: Shown) -> None:
    shown.to("chock")
    shown.page.locator("#map-key").click()
    expect(shown.page.locator("#map .now title")).to_have_text("chock")
    shown.to("lift", Awaiting.CAUTION)
    expect(shown.page.locator("#map")).to_be_hidden()
    shown.page.locator("#map-key").click()
    shown.page.keyboard.press("Escape")
    expect(shown.page.locator("#map")).to_be_hidden()


def test_what_was_heard_and_how_sure_is_shown(shown: Shown) -> None:
    shown.to("pins")
    shown.give(Heard(shown.at, ("twelve",), confidence=0.97))
    expect(shown.page.locator("#heard")).to_have_text("“twelve”")
    expect(shown.page.locator("#sure")).to_have_text("sure")
    expect(shown.page.locator("#question")).to_have_text("Twelve. Yes?")


def test_a_key_is_not_shown_as_heard(shown: Shown) -> None:
    shown.to("chock")
    shown.give(KeyPressed(shown.at, "done"))
    expect(shown.page.locator("#by")).to_have_text("Key")
    expect(shown.page.locator("#heard")).to_have_text("“done”")
    expect(shown.page.locator("#sure")).to_have_text("")
    shown.hear("understood")
    expect(shown.page.locator("#by")).to_have_text("Heard")


def test_a_key_that_does_nothing_says_why_until_the_job_goes_on(shown: Shown) -> None:
    shown.to("chock")
    shown.screen.publish({"notice": "Too early: hear the caution first."})
    expect(shown.page.locator("#alarm")).to_have_text("Too early: hear the caution first.")
    expect(shown.page.locator("#alarm")).to_be_visible()
    shown.hear("done")
    expect(shown.page.locator("#alarm")).to_be_hidden()


def test_where_nobody_asks_there_are_no_keys(shown: Shown) -> None:
    shown.to("chock")
    shown.hear("stop")
    shown.hear("yes")
    expect(shown.page.locator("#step-text")).to_have_text("Stopped")
    expect(shown.page.locator("#question")).to_have_text("0 steps done.")
    expect(shown.page.locator(".keys")).to_be_hidden()
    shown.page.keyboard.press("Enter")
    shown.page.wait_for_timeout(200)
    assert shown.pressed == []


def test_the_drawing_tells_what_is_done_what_is_now_and_what_is_ahead(shown: Shown) -> None:
    shown.to("bars")
    shown.page.locator("#map-key").click()
    expect(shown.page.locator("#map .now title")).to_have_text("bars")
    done = shown.page.locator("#map .done title").all_text_contents()
    assert {"chock", "lift", "pins"} <= set(done)
    assert not {"bars", "serial", "witness"} & set(done)


def test_who_hears_the_page_is_told_of_no_step_ahead_that_it_is_passed(shown: Shown) -> None:
    """The name of a bead's look was read out: "step ahead: passed"."""
    shown.to("bars")
    shown.caught_up()
    told = shown.page.locator("#path li").evaluate_all("all => all.map(e => e.getAttribute('aria-label'))")
    assert told[0] == "step done"
    done = told.count("step done")
    assert told[done].startswith("now: ")
    assert set(told[done + 1 :]) <= {"step ahead", "step ahead, at the most"}


def test_the_picture_is_shown_at_full_detail_only(browser: Browser, shown: Shown) -> None:
    shown.to("pins")
    expect(shown.page.locator("#picture")).to_be_visible()
    assert (
        shown.page.locator("#picture").evaluate("async e => { await e.decode(); return e.naturalWidth; }") > 0
    )
    shown.hear("less detail")
    expect(shown.page.locator("#picture")).to_be_hidden()


def test_the_torque_stands_beside_in_the_wrenchs_unit(shown: Shown) -> None:
    shown.to("bars")
    expect(shown.page.locator("#torque")).to_have_text("9 N·m")
    shown.hear("inch pound wrench")
    expect(shown.page.locator("#torque")).to_contain_text("lbf·in")


def test_a_learners_question_does_not_show_its_answer(browser: Browser) -> None:
    learner = Shown(browser, learns=True)
    learner.to("bars", Awaiting.PREDICT)
    expect(learner.page.locator("#question")).to_have_text("Torque the two busbar screws: to what torque?")
    expect(learner.page.locator("#torque-box")).to_be_hidden()
    learner.hear("nine")
    expect(learner.page.locator("#torque")).to_have_text("9 N·m")
    learner.close()


def test_the_wait_counts_down(shown: Shown) -> None:
    shown.to("soak", Awaiting.WAIT)
    left = """() => {
      const [minutes, seconds] = document.getElementById('timer').textContent.split(':').map(Number);
      return 60 * minutes + seconds;
    }"""
    shown.caught_up()
    first = shown.page.evaluate(left)
    assert 0 < first <= 300
    shown.page.wait_for_function(f"first => ({left})() < first", arg=first)


def test_hold_is_told_by_word_and_shape(shown: Shown) -> None:
    shown.to("bars")
    shown.hear("hold")
    expect(shown.page.locator("#state-word")).to_have_text("On hold")
    expect(shown.page.locator(".s-held")).to_be_visible()
    expect(shown.page.locator(".s-listening")).to_be_hidden()
    expect(shown.page.locator("#hold-key")).to_contain_text("Carry on")


def test_a_lost_and_a_muted_microphone_are_told_on_the_page(shown: Shown) -> None:
    shown.to("bars")
    shown.screen.publish({"muted": True})
    expect(shown.page.locator("#alarm")).to_contain_text("muted or unplugged")
    shown.screen.publish({"muted": False})
    expect(shown.page.locator("#alarm")).to_be_hidden()
    shown.give(DeviceLost(shown.at, "headset"))
    expect(shown.page.locator("#alarm")).to_contain_text("headset is gone")


def test_the_microphones_level_moves(shown: Shown) -> None:
    shown.screen.publish({"mic_db": -60.0})
    expect(shown.page.locator("#level")).to_have_js_property("value", 0)
    shown.screen.publish({"mic_db": -18.0})
    expect(shown.page.locator("#level")).to_have_js_property("value", 42)


def test_keys_pedal_and_typed_words_reach_the_job(shown: Shown) -> None:
    shown.to("bars")
    shown.page.get_by_role("button", name="Repeat").click()
    shown.page.locator("body").press("PageDown")
    for key in ("y", "N", " ", "h", "PageUp", "Enter"):
        shown.page.locator("body").press(key)
    shown.page.get_by_label("Type the answer").fill("9.2 N.m")
    shown.page.keyboard.press("Enter")
    keys = ("repeat", "done", "yes", "no", "hold", "help", "back", "done")
    wanted = [*(("key", key) for key in keys), ("words", "9.2 N.m")]
    for _ in range(100):  # a busy machine's page sends late
        if len(shown.pressed) >= len(wanted):
            break
        shown.page.wait_for_timeout(100)
    assert shown.pressed == wanted


def test_the_keys_are_large_enough_for_gloves(shown: Shown) -> None:
    """15 mm at least on a 14 inch screen (310 mm wide); WCAG 2.2 AA asks for 24 CSS pixels. 15 mm
    for gloved hands is common practice, no source."""
    shown.to("bars")
    shown.caught_up()
    keys = shown.page.locator(".keys button").all()
    assert keys
    for key in keys:
        box = key.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) * 310 / 1366 >= 15


def test_text_of_a_procedure_is_never_markup(browser: Browser) -> None:
    caution = Caution(CautionLevel.CAUTION, SCRIPT)
    odd = replace(step("odd", SCRIPT), question=SCRIPT, hint=SCRIPT, cautions=(caution,), section=SCRIPT)
    shown = Shown(browser, replace(tug(), steps=(odd,), title=SCRIPT))
    expect(shown.page.locator("#step-text")).to_have_text(SCRIPT)
    expect(shown.page.locator("#caution-text")).to_have_text(SCRIPT)
    for place in ("#step-text", "#caution-text", "#question", "#job", "#where"):
        assert shown.page.locator(f"{place} *").count() == 0
    shown.page.locator("#map-key").click()
    expect(shown.page.locator("#map svg")).to_be_visible()
    shown.hear(SCRIPT)
    shown.caught_up()
    assert "taken" not in shown.page.title().split("<")[0]
    assert shown.errors == []
    shown.close()


def test_a_reload_and_a_second_viewer_see_the_same_step(shown: Shown) -> None:
    shown.to("bars")
    shown.page.reload()
    expect(shown.page.locator("#step-text")).to_have_text("Torque the two busbar screws.")
    other = shown.context.new_page()
    other.goto(f"http://127.0.0.1:{shown.screen.port}/")
    expect(other.locator("#step-text")).to_have_text("Torque the two busbar screws.")
    shown.hear("nine")
    for page in (shown.page, other):
        expect(page.locator("#question")).to_contain_text("Nine newton metres. Yes?")


def test_a_page_that_lost_contact_says_so_and_its_keys_are_away(shown: Shown) -> None:
    shown.to("bars")
    expect(shown.page.locator("#step-text")).to_have_text("Torque the two busbar screws.")
    shown.screen.stop()
    expect(shown.page.locator("#lost")).to_contain_text("No contact with sayso")
    expect(shown.page.locator("#state-word")).to_have_text("No contact")
    expect(shown.page.locator(".keys")).to_be_hidden()
    expect(shown.page.locator("#step-text")).to_have_text("Torque the two busbar screws.")
