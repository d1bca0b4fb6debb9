"""Every state of the page at both sizes, dark and light: nothing is cut off, all can be read, no barrier.

Outside checks: WCAG 2.2 A and AA by axe-core (axe-playwright-python). Height of letters: a letter of 5
minutes of arc is what normal sight (6/6, Snellen) just makes out; ISO 9241-303 asks for capitals of at least
16 minutes and better 20 to 22 (both from memory; the standard's text was not read). The page is read from
4 m, on a laptop with a 14 inch screen (16 to 9, 310 mm wide). There 16 minutes are 18.6 mm: room for some six
words; 20 words, the longest that the checks let through, cannot be shown so large. So: 16 minutes for what is
short, 10 minutes (twice what the eye needs) for anything that is to be done or answered; 9 where an
acknowledged caution and a picture stand beside it.
"""

from __future__ import annotations

import math

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.screen.page_states import SIZES, THEMES, Shown, every_state

DISTANCE_MM, SCREEN_MM = 4000.0, 310.0
CAPITAL = 0.71  #: height of a capital, as a share of the type size (DejaVu and Noto Sans: 0.71 to 0.73)
LEAST, CROWDED, SHORT = 10.0, 9.0, 16.0  #: minutes of arc
SHORT_TEXT = 24  #: characters
STATES = every_state()
#: axe takes half a second: one half of the states dark and small, the other light and large.
AXE_AT = [("dark", 1366), ("light", 1920)]

CUT_OFF = """() => {
  const visible = (e) => e.checkVisibility() && e.getClientRects().length;
  const faults = [];
  const root = document.documentElement;
  if (root.scrollHeight > innerHeight || root.scrollWidth > innerWidth) faults.push('the page scrolls');
  for (const e of document.querySelectorAll('main *, .band *, .plate *')) {
    if (!visible(e) || e.closest('svg') && e.tagName !== 'svg') continue;
    const box = e.getBoundingClientRect();
    if (box.right > innerWidth + 1 || box.bottom > innerHeight + 1 || box.left < -1 || box.top < -1)
      faults.push(`${e.tagName}#${e.id}.${e.className} leaves the page`);
    // a job's title and what was heard may end in dots: both are told by voice and stand in the record
    const may = e.matches('.job, .heard');
    const clips = getComputedStyle(e).overflow !== 'visible';
    if (clips && !may && e.children.length === 0 && e.scrollWidth > e.clientWidth + 1)
      faults.push(`${e.tagName}#${e.id} is cut off`);
  }
  for (const id of ['step', 'caution-text']) {
    const e = document.getElementById(id);
    if (visible(e) && (e.scrollHeight > e.clientHeight + 2 || e.scrollWidth > e.clientWidth + 2))
      faults.push(`${id} is cut off`);
  }
  const parts = ['.plate', '.path', '#caution', '.step', '#beside', '.band']
    .map((s) => document.querySelector(s)).filter((e) => visible(e))
    .map((e) => [e.id || e.className, e.getBoundingClientRect()]);
  for (const [a, p] of parts) for (const [b, q] of parts)
    if (a < b && p.left < q.right - 1 && q.left < p.right - 1 && p.top < q.bottom - 1 && q.top < p.bottom - 1)
      faults.push(`${a} lies over ${b}`);
  return faults;
}"""
#: A laptop's window at 400 % (1280 x 1024, WCAG 2.2, 1.4.10 from memory), a phone upright and lying.
NARROW = [(320, 256), (390, 844), (844, 390)]
#: There it may scroll down, and nowhere else: nothing is squeezed away, lies over another or leaves sideways.
ONE_COLUMN = """() => {
  const visible = (e) => e && e.checkVisibility() && e.getClientRects().length;
  const faults = [];
  if (document.documentElement.scrollWidth > innerWidth) faults.push('it scrolls sideways');
  for (const e of document.querySelectorAll('main *, .band *, .plate *')) {
    if (!visible(e) || e.closest('svg') && e.tagName !== 'svg') continue;
    const box = e.getBoundingClientRect();
    if (box.right > innerWidth + 1 || box.left < -1) faults.push(`${e.tagName}#${e.id} leaves the page`);
  }
  const parts = ['.plate', '.path', '#caution', '#step', '#beside', '.band']
    .map((s) => document.querySelector(s)).filter(visible);
  for (const e of parts) {
    const cut = getComputedStyle(e).overflow !== 'visible' && e.scrollHeight > e.clientHeight + 2;
    if (cut) faults.push(`${e.id || e.className} is cut off`);
  }
  for (const id of ['step-text', 'caution-text', 'question', 'before']) {
    const e = document.getElementById(id);
    if (!visible(e)) continue;
    const box = e.getBoundingClientRect(), room = e.closest('main').getBoundingClientRect();
    if (box.bottom > room.bottom + 1 || box.top < room.top - 1) faults.push(`${id} runs out of its room`);
  }
  const boxes = parts.map((e) => [e.id || e.className, e.getBoundingClientRect()]);
  for (const [a, p] of boxes) for (const [b, q] of boxes)
    if (a < b && p.left < q.right - 1 && q.left < p.right - 1 && p.top < q.bottom - 1 && q.top < p.bottom - 1)
      faults.push(`${a} lies over ${b}`);
  return faults;
}"""
LETTERS = """() => {
  const focus = {caution: 'caution-text', question: 'question'}[document.body.dataset.focus] || 'step-text';
  const of = (id) => {
    const e = document.getElementById(id);
    return [e.textContent, e.checkVisibility() ? parseFloat(getComputedStyle(e).fontSize) : 0];
  };
  const rest = {question: 'question', alarm: 'alarm', state: 'state-word', heard: 'heard', lost: 'lost',
    torque: 'torque', limits: 'torque-limits', timer: 'timer', where: 'where'};
  return {focus: of(focus), ...Object.fromEntries(Object.entries(rest).map(([k, id]) => [k, of(id)]))};
}"""


IS_CROWDED = "() => ['caution', 'picture'].every((id) => document.getElementById(id).checkVisibility())"


def minutes_of_arc(pixels: float, width: int) -> float:
    """How large a capital of that type size is to the eye under the machine."""
    millimetres = CAPITAL * pixels * SCREEN_MM / width
    return 60 * math.degrees(math.atan(millimetres / DISTANCE_MM))


def settled(page: Page, theme: str, width: int, height: int) -> None:
    page.set_viewport_size({"width": width, "height": height})
    page.evaluate("name => theme(name)", theme)
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


@pytest.mark.parametrize("name", STATES)
def test_nothing_is_cut_off_all_can_be_read_and_nobody_is_shut_out(browser: Browser, name: str) -> None:
    reach, how = STATES[name]
    shown = Shown(browser, **how)  # type: ignore[arg-type]
    try:
        reach(shown)
        shown.caught_up()
        for theme in THEMES:
            for width, height in SIZES:
                settled(shown.page, theme, width, height)
                where = f"{name}, {theme}, {width}"
                assert shown.page.evaluate(CUT_OFF) == [], where
                check_letters(
                    shown.page.evaluate(LETTERS), width, where, crowded=shown.page.evaluate(IS_CROWDED)
                )
                if (theme, width) == AXE_AT[list(STATES).index(name) % 2]:
                    check_barriers(shown.page, where)
        for width, height in NARROW:
            settled(shown.page, "dark", width, height)
            found = shown.page.evaluate(ONE_COLUMN)
            assert found == [], f"{name}, {width} x {height}: {found}"
    finally:
        shown.close()
    assert shown.errors == []


def check_letters(shown: dict[str, tuple[str, float]], width: int, where: str, *, crowded: bool) -> None:
    least = CROWDED if crowded else LEAST
    for part, (text, pixels) in shown.items():
        if not pixels or not text:
            continue
        if shown["focus"][0] == "Have this to hand":  # a list for the bench, before one goes under
            assert minutes_of_arc(pixels, width) >= 5, (where, part, text)
            continue
        seen = minutes_of_arc(pixels, width)
        if part == "focus":
            assert seen >= (SHORT if len(text) <= SHORT_TEXT else least), (where, part, text, seen)
        elif part == "question":
            assert seen >= (5 if crowded else 7), (where, part, text, seen)
        else:
            assert seen >= 5, (where, part, text, seen)


def check_barriers(page: Page, where: str) -> None:
    # axe is put in by the debugger's own world, not by the page: the page's policy forbids foreign script
    tags = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}}
    found = Axe().run(page, options=tags)
    assert found.violations_count == 0, (where, found.generate_report())
