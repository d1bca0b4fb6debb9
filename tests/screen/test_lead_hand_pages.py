"""The lead hand's pages in a real Chromium: jobs with reports, figures, procedures with checks, a rehearsal.

Outside check: WCAG 2.2 A and AA by axe-core.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from sayso.screen import lead_hand
from sayso.screen.lead_hand import lead_hand_routes
from sayso.screen.server import Screen
from tests.screen.browser import chromium, offline

PROCEDURES = Path(__file__).parents[2] / "procedures"
EVIL = "<img src=x onerror=\"document.body.dataset.taken='yes'\">"
BROKEN = f"""\
procedure: broken
title: "{EVIL.replace('"', chr(92) + '"')}"
revision: 1
steps:
  - id: one
    say: "{EVIL.replace('"', chr(92) + '"')}"
    then: nowhere
"""


@pytest.fixture(scope="module")
def lead(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    folder = tmp_path_factory.mktemp("lead")
    shutil.copytree(PROCEDURES, folder / "procedures")
    (folder / "procedures" / "broken.yaml").write_text(BROKEN)
    (folder / "procedures" / "latin.yaml").write_bytes("procedure: latin\ntitle: Brücke\n".encode("latin-1"))
    store = str(folder / "jobs.sqlite")
    one_job(store, folder)
    screen = Screen(None, more_routes=lead_hand_routes(store, folder / "procedures"))
    screen.start()
    with chromium() as browser:
        context = browser.new_context()
        with offline(context):
            page = context.new_page()
            page.goto(screen.address)
            page.goto(f"http://127.0.0.1:{screen.port}/lead")
            yield page
    screen.stop()


def one_job(store: str, folder: Path) -> None:
    """A finished job in the record, done by the real typed session."""
    from sayso.record.store import open_store
    from sayso.session.opening import JobOptions, read_procedure
    from sayso.session.running import begun, run_typed

    file = folder / "small.yaml"
    file.write_text(
        "procedure: small\ntitle: Small job\nrevision: 1\nsteps:\n"
        "  - id: bar\n    say: Torque the busbar screw.\n"
        "    ask: {torque: bar, target: 9 N.m, within: 10 %}\n    skill: torque\n"
    )
    options = JobOptions(machine="tug 12", person=EVIL, level="full")
    tried = folder / "tried.yaml"
    tried.write_text("procedure: tried\ntitle: Tried out\nrevision: 1\nsteps:\n  - {id: one, say: One.}\n")
    with (
        open_store(store) as record,
        begun(record, read_procedure(tried, "en", {}), JobOptions(rehearsal=True)),
    ):
        pass
    lines = folder / "lines.txt"
    lines.write_text(f"i do not know\nnote\n{EVIL}\nnine\nyes\n")
    with (
        open_store(store) as record,
        begun(record, read_procedure(file, "en", {}), options) as (job, first),
        lines.open() as typed,
        (folder / "said.txt").open("w") as said,
    ):
        assert run_typed(job, first, lines=typed, out=said).outcome == "complete"


def go(page: Page, path: str) -> None:
    page.goto(page.url.split("/lead")[0] + path)


def test_a_job_leads_to_its_report_with_the_torque(lead: Page) -> None:
    go(lead, "/lead")
    lead.get_by_role("link", name="Small job").click()
    expect(lead.locator("body")).to_contain_text("9 N")
    assert lead.evaluate("document.body.dataset.taken") is None


def test_a_note_with_script_in_it_is_text_in_the_report(lead: Page) -> None:
    go(lead, "/lead")
    lead.get_by_role("link", name="Small job").click()
    expect(lead.locator("body")).to_contain_text("<img src=x")
    assert lead.locator("img[src=x]").count() == 0
    lead.get_by_role("link", name="Jobs and procedures").click()
    expect(lead.get_by_role("heading", name="Jobs", exact=True)).to_be_visible()


def test_learners_are_shown_skill_by_skill(lead: Page) -> None:
    go(lead, "/lead/people")
    expect(lead.get_by_role("heading", level=2)).to_have_text(EVIL)
    row = lead.locator("tr", has_text="torque")
    expect(row.locator("td")).to_have_text([re.compile(r"\d+ %"), "1", "1", "1", "0"])
    assert lead.evaluate("document.body.dataset.taken") is None


def test_figures_over_all_jobs_are_shown(lead: Page) -> None:
    go(lead, "/lead/figures")
    expect(lead.locator("body")).to_contain_text("1")
    assert lead.evaluate("document.styleSheets.length") > 0


def test_a_broken_procedure_is_shown_with_its_line_and_its_text_is_no_markup(lead: Page) -> None:
    go(lead, "/lead")
    expect(lead.locator("tr", has_text="broken")).to_contain_text("to put right")
    go(lead, "/lead/procedure/broken")
    expect(lead.locator(".problems")).to_contain_text("line 7")
    assert lead.locator("img").count() == 0
    assert lead.evaluate("document.body.dataset.taken") is None


def test_a_procedure_is_rehearsed_in_the_browser_to_its_first_answers(lead: Page) -> None:
    go(lead, "/lead/procedure/wren-48-first-inspection")
    lead.get_by_role("button", name="Rehearse it here").click()
    before = lead.locator(".talk li").count()
    lead.get_by_label("You say").fill("ready")
    lead.get_by_role("button", name="Say it").click()
    expect(lead.locator(".talk .you")).to_contain_text("ready")
    assert lead.locator(".talk li").count() > before + 1


def test_a_rehearsal_at_full_detail_asks_before_telling(lead: Page) -> None:
    go(lead, "/lead/procedure/annual-torque-audit")
    expect(lead.locator("body")).to_contain_text("Asked before telling")
    lead.get_by_label("Detail").select_option("full")
    lead.get_by_role("button", name="Rehearse it here").click()
    for words in ("ready", "done", "done", "done", "understood", "done", "yes", "twelve", "zero", "yes"):
        lead.get_by_label("You say").fill(words)
        lead.get_by_role("button", name="Say it").click()
    for words in ("TW1234", "yes", "yes", "10:30"):
        lead.get_by_label("You say").fill(words)
        lead.get_by_role("button", name="Say it").click()
    expect(lead.locator(".talk")).to_contain_text("to what torque?")


def test_an_unknown_level_of_detail_is_refused(lead: Page) -> None:
    address = lead.url.split("/lead")[0]
    reply = lead.request.post(
        f"{address}/lead/procedure/wren-48-wheel-bearing/rehearse",
        form={"level": "<b>"},
        headers={"origin": address},
    )
    assert reply.status == 422


@pytest.mark.parametrize(
    "path",
    [
        "/lead",
        "/lead/people",
        "/lead/procedure/wren-48-drive-controller",
        "/lead/procedure/broken",
        "/lead/job/nothing",
    ],
)
def test_the_lead_hands_pages_have_no_barrier_that_axe_can_find(lead: Page, path: str) -> None:
    go(lead, path)
    found = Axe().run(
        lead, options={"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}}
    )
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize(
    "path",
    [
        "/lead/procedure/..%2f..%2fsecret",
        "/lead/procedure/%2e%2e%2fsmall",
        "/lead/procedure/shared%2flock-out",
        "/lead/procedure/broken.yaml",
        "/lead/procedure/..%2fsmall/drawing.svg",
        "/lead/job/..%2f..%2fetc%2fpasswd",
        "/lead/job/<script>alert(1)<%2fscript>",
        "/lead/rehearsal/nothing",
    ],
)
def test_no_path_of_the_lead_hands_pages_leads_elsewhere(lead: Page, path: str) -> None:
    """Path traversal test strings of OWASP. `small.yaml` lies one folder above the procedures."""
    reply = lead.request.get(lead.url.split("/lead")[0] + path)
    assert reply.status == 404
    assert "Torque the busbar screw" not in reply.text()
    assert "<script>" not in reply.text()


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://127.0.0.1:1"])
def test_another_sites_page_cannot_begin_a_rehearsal(lead: Page, origin: str) -> None:
    address = lead.url.split("/lead")[0] + "/lead/procedure/wren-48-wheel-bearing/rehearse"
    assert lead.request.post(address, form={"level": "normal"}, headers={"origin": origin}).status == 403


def test_a_rehearsal_is_marked_in_the_list_and_a_job_done_is_not(lead: Page) -> None:
    go(lead, "/lead")
    rows = lead.locator("table").first.locator("tbody tr")
    expect(rows).to_have_count(2)
    expect(rows.filter(has_text="rehearsed, no work done")).to_have_count(1)
    expect(rows.filter(has_text="rehearsed, no work done")).to_contain_text("open")


@pytest.mark.parametrize("path", ["/lead", "/lead/people", "/lead/procedure/wren-48-drive-controller"])
def test_on_paper_all_is_shown_and_nothing_to_press(lead: Page, path: str) -> None:
    go(lead, path)
    try:
        lead.emulate_media(media="print")
        for gone in ("body > header", "button", "select"):
            assert not any(found.is_visible() for found in lead.locator(gone).all()), gone
        hidden = lead.evaluate(
            "[...document.querySelectorAll('pre, .drawing')].filter(e => e.scrollHeight > e.clientHeight + 1)"
            ".map(e => e.className + ' ' + e.scrollHeight + ' of ' + e.clientHeight)"
        )
        assert hidden == []
        wide = lead.evaluate("[...document.images].filter(i => i.width > document.body.clientWidth).length")
        assert wide == 0
    finally:
        lead.emulate_media(media="screen")


def test_a_procedure_in_another_encoding_is_shown_with_what_is_wrong(lead: Page) -> None:
    go(lead, "/lead/procedure/latin")
    expect(lead.locator(".problems")).to_contain_text("UTF-8")
    expect(lead.locator("pre.text")).to_contain_text("title: Br")


def test_the_text_of_a_procedure_is_shown_without_the_codes_of_its_hold_points(lead: Page) -> None:
    text = (PROCEDURES / "wren-48-drive-controller.yaml").read_text()
    codes = re.findall(r'"(\d{4})":', text)
    assert codes
    go(lead, "/lead/procedure/wren-48-drive-controller")
    shown = lead.locator("pre.text").inner_text()
    assert "R Tarn" in shown
    assert "****" in shown
    assert not any(code in shown for code in codes)


def test_the_way_back_is_not_printed_on_a_report(lead: Page) -> None:
    go(lead, "/lead/figures")
    way_back = lead.get_by_role("link", name="Jobs and procedures")
    expect(way_back).to_be_visible()
    lead.emulate_media(media="print")
    expect(way_back).to_be_hidden()
    lead.emulate_media(media="screen")


def test_what_is_not_there_is_told_with_a_way_back(lead: Page) -> None:
    go(lead, "/lead/job/nothing")
    expect(lead.get_by_role("heading", name="Not here")).to_be_visible()
    lead.get_by_role("link", name="Jobs and procedures").click()
    expect(lead.get_by_role("heading", name="Jobs", exact=True)).to_be_visible()


def test_jobs_of_a_machine_a_person_and_some_days_are_shown(lead: Page) -> None:
    go(lead, "/lead")
    lead.get_by_label("Machine").select_option("tug 12")
    lead.get_by_label("Person").select_option(EVIL)
    lead.get_by_role("button", name="Show").click()
    expect(lead.get_by_text("1 of 2 jobs.")).to_be_visible()
    expect(lead.get_by_role("link", name="Small job")).to_be_visible()
    expect(lead.get_by_role("cell", name="Tried out")).to_have_count(0)
    expect(lead.get_by_label("Person")).to_have_value(EVIL)
    lead.get_by_label("To", exact=True).fill("2020-01-01")
    lead.get_by_role("button", name="Show").click()
    expect(lead.get_by_text("No such job.")).to_be_visible()
    lead.get_by_role("link", name="All of them").click()
    expect(lead.get_by_role("link", name="Small job")).to_be_visible()
    assert lead.evaluate("document.body.dataset.taken") is None
    go(lead, "/lead?since=yesterday")
    expect(lead.locator("main")).to_contain_text("write a day like 2026-11-25")


def test_older_jobs_that_are_not_listed_are_told(lead: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lead_hand, "MOST_JOBS", 1)
    go(lead, "/lead")
    expect(lead.get_by_text("The newest 1; 1 older ones are not listed.")).to_be_visible()
