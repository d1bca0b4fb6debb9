"""The job report: everything is in it, what deviates comes first, and it reads well in a real browser.

Outside checks: WCAG 2.2 A and AA by axe-core in Chromium; page counts by Chromium's own PDF.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from sayso import procedure
from sayso.dialogue.events import Heard
from sayso.record import RecordError, Store, open_store, wording
from sayso.record.export import rows_of
from sayso.record.figures import figures_of
from sayso.record.figures_page import write_page
from sayso.record.gauge import gauge
from sayso.record.report import ReportOptions, render, write_report
from sayso.record.seal import new_key, read_key, seal
from sayso.record.story_telling import story_of
from sayso.session.opening import JobOptions, open_job
from tests.record.done_jobs import START_MS, TheirClock, do_job
from tests.record.technician import PROCEDURES
from tests.record.test_not_met import done
from tests.record.test_verify import Tamperer
from tests.screen.browser import chromium

OPTIONS = ReportOptions(zone=UTC)
AXE = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, str, str, str]]:
    """A record with a smooth job and one with mishaps and a note, both sealed; and the public key."""
    folder = tmp_path_factory.mktemp("report")
    public = new_key(folder / "shop.pem")
    with open_store(folder / "r.db") as store:
        smooth = do_job(store)
        rough = do_job(store, seed=12, mishaps=0.3, note=True)
        for job in (smooth, rough):
            seal(store, job, read_key(folder / "shop.pem"), at_ms=1_795_700_000_000)
        yield store, smooth, rough, public


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", "", html, flags=re.S)))


def test_it_names_machine_serials_procedure_and_proof(shop: tuple[Store, str, str, str]) -> None:
    store, smooth, _, public = shop
    html = render(store, smooth, replace(OPTIONS, trusted_keys=(public,)))
    story = story_of(store.entries(smooth))
    for fact in (
        "Wren 48 no. 17", "HK204518", "Ada Finch", "wren-48-drive-controller, revision 3",
        story.procedure_hash,
        store.head(smooth).hash, public, "by a key this shop trusts", "R Tarn", "complete",
        "The maker&#39;s manual, local codes and licensed practice come before this procedure.",
        "sound when this report was made",
    ):  # fmt: skip
        assert fact in html, fact


def test_every_answer_stands_there_with_confidence_and_read_back(shop: tuple[Store, str, str, str]) -> None:
    store, _, rough, _ = shop
    story = story_of(store.entries(rough))
    rows = re.findall(r"<tr.*?</tr>", render(store, rough, OPTIONS).split('id="steps"')[1], re.S)[1:]
    assert len(rows) >= len(story.visits)
    for row, visit in zip(rows, story.visits, strict=False):
        given = visit.answer
        assert given is not None
        assert f"{given.confidence * 100:.0f} %" in row
        assert ("“yes”" in row) == (given.confirmed == "yes")


def test_what_was_typed_was_not_heard(tmp_path: Path) -> None:
    """ "Heard at 100 %" stood beside values that nobody said."""
    text = "procedure: p\ntitle: P\nrevision: 1\ndefers_to: The manual.\nsteps:\n" + "".join(
        f"  - {{id: {name}, say: Count., ask: {{count: {name}, from: 1, to: 90, read_back: true}}}}\n"
        for name in ("typed", "spoken", "corrected")
    )
    (tmp_path / "p.yaml").write_text(text)
    with open_store(tmp_path / "r.db") as store:
        job, started = open_job(store, procedure.read(tmp_path / "p.yaml"), JobOptions("tug 12", "Ada Finch"))
        job.handle(started)
        said = (
            ("8", True),
            ("yes", False),
            ("nine", False),
            ("yes", True),
            ("7", True),
            ("no, 24", True),
            ("yes", True),
        )
        for number, (words, typed) in enumerate(said, 1):
            job.handle(Heard(started.at_ms + number * 1000, tuple(words.split()), 0.97, typed=typed))
        job.journal.close()
        html = render(store, job.journal.job, OPTIONS)
    rows = re.findall(r"<tr.*?</tr>", html.split('id="steps"')[1], re.S)[1:4]
    assert ["by keys" in row for row in rows] == [True, False, True]
    assert ["97 %" in row for row in rows] == [False, True, False]


def test_torques_have_target_tolerance_unit_tool_and_picture(shop: tuple[Store, str, str, str]) -> None:
    store, smooth, _, _ = shop
    html = render(store, smooth, OPTIONS).split('<h2 id="torques"')[1].split("</section>")[0]
    rows = re.findall(r"<tr.*?</tr>", html, re.S)[1:]
    assert len(rows) == 7
    # 96 lbf.in in newton metres: NIST SP 811, 1 lbf.in = 0.112 984 8 N.m (value from memory)
    assert f"96 lbf·in = {96 * 0.1129848:.4g} N·m" in rows[0]
    assert f"{96 * 0.1129848 * 0.9:.4g} to {96 * 0.1129848 * 1.1:.4g} N·m" in rows[0]
    assert all("wrench in N·m" in row and "<svg" in row for row in rows)


@pytest.mark.parametrize(
    ("said", "wrench"),
    [
        ("nine newton metres", "N·m"),
        ("eighty", "lbf·in"),
        ("six point five foot pounds", "lbf·ft"),
        ("it clicked", "lbf·in"),
    ],
)
def test_the_wrench_is_the_one_whose_unit_was_said(tmp_path: Path, said: str, wrench: str) -> None:
    """A reading in newton metres at an inch pound job was reported as the inch pound wrench's."""
    with open_store(tmp_path / "r.db") as store:
        html = render(store, done(store, tmp_path, "inch pound wrench", said, "yes", "done"), OPTIONS)
    assert re.findall(r'<td class="tool">wrench in ([^<]*)</td>', html) == [wrench]


def test_deviations_come_before_everything_else(shop: tuple[Store, str, str, str]) -> None:
    store, smooth, rough, _ = shop
    html = render(store, rough, OPTIONS)
    order = re.findall(r'<h2 id="(\w+)"', html)
    assert order[0] == "deviations"
    assert len(order) == len(set(order))
    deviation = story_of(store.entries(rough)).deviations[0]
    assert deviation.given is not None
    first = text_of(html.split('id="deviations"')[1].split("</section>")[0])
    assert f"{deviation.given.value:g} N·m, not" in first
    assert "put right: later" in first
    assert "None: every value" in render(store, smooth, OPTIONS)


def test_a_skipped_step_and_a_stopped_job_are_deviations(store: Store) -> None:
    job = do_job(store, name="wren-48-brake-adjustment", seed=5, mishaps=0.1)
    html = text_of(render(store, job, OPTIONS).split('id="deviations"')[1].split("</section>")[0])
    assert story_of(store.entries(job)).outcome != "complete"
    assert "Not finished" in html


def test_the_way_shows_every_step_of_the_branch_taken(shop: tuple[Store, str, str, str]) -> None:
    store, smooth, _, _ = shop
    picture = render(store, smooth, OPTIONS).split('<svg class="path"')[1].split("</svg>")[0]
    steps = {visit.step for visit in story_of(store.entries(smooth)).visits}
    assert picture.count('class="p-done"') == len(steps)
    assert picture.count('class="p-other"') > 5
    assert "pins" in picture or "Count the populated pins" in picture
    assert "call-lead" in picture


def test_it_is_made_from_the_record_alone(
    shop: tuple[Store, str, str, str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    store, smooth, _, _ = shop
    monkeypatch.chdir(tmp_path)
    html = render(store, smooth, OPTIONS)
    text = store.text(smooth)
    assert "procedure: wren-48-drive-controller" in text
    assert "Fernhill Depot" in html.split("The exact procedure text")[1]


def test_a_record_that_was_changed_says_so_first(tmp_path: Path) -> None:
    with open_store(tmp_path / "r.db") as store:
        job = do_job(store)
    tamperer = Tamperer(tmp_path / "r.db")
    tamperer.run(
        "UPDATE entries SET data = replace(data, '\"value\":8', '\"value\":9') WHERE kind = 'answer' "
        'AND data LIKE \'%"name":"pins"%\''
    )
    tamperer.finish()
    with open_store(tmp_path / "r.db", read_only=True) as store:
        html = render(store, job, OPTIONS)
    assert html.index("This record is not sound") < html.index('id="deviations"')
    assert "altered" in html


def test_an_open_job_is_reported_as_far_as_it_is(store: Store) -> None:
    job = do_job(store, stop_after=60)
    html = render(store, job, OPTIONS)
    assert "job still open" in html
    assert "not acknowledged" not in html.split('id="steps"')[0]


@pytest.mark.parametrize("rehearsed", [False, True])
def test_a_rehearsal_is_never_taken_for_a_job_done(store: Store, rehearsed: bool) -> None:
    job = do_job(store, options=JobOptions("Wren 48 no. 17", "Ada Finch", rehearsal=rehearsed))
    shown = text_of(render(store, job, OPTIONS))
    assert ("Report of a rehearsal rehearsed on the keyboard, no proof of work done" in shown) is rehearsed
    assert {row["rehearsal"] for row in rows_of(store, [job])} == {rehearsed}


def test_names_and_voices_can_be_left_out(shop: tuple[Store, str, str, str]) -> None:
    store, _, rough, _ = shop
    whole, anonymous = (render(store, rough, replace(OPTIONS, anonymous=value)) for value in (False, True))
    quiet = render(store, rough, replace(OPTIONS, audio=False))
    assert "data:audio/wav;base64," in whole
    assert "data:audio" not in anonymous
    assert "data:audio" not in quiet
    for name in ("Ada Finch", "R Tarn"):
        assert name in whole
        assert name not in anonymous, "nor beside its code in the procedure text"
    assert "person 1" in anonymous.split("The exact procedure text")[0]
    assert "names and codes of hold points are covered" in anonymous


def test_the_codes_of_a_hold_point_are_not_in_the_report(shop: tuple[Store, str, str, str]) -> None:
    store, *_ = shop
    for row in store.jobs():
        page = render(store, row.job)
        assert "R Tarn" in page
        assert not re.search(r"\b(2746|3951|4471)\b", page)
        assert "codes of hold points are covered" in page


def test_words_of_a_job_are_never_markup(store: Store) -> None:
    script = "<script>document.title='taken'</script>"
    job = do_job(store, stop_after=10, options=JobOptions(script, script, script))
    html = render(store, job, OPTIONS)
    assert script not in html
    assert "&lt;script&gt;" in html


def test_an_unknown_job_is_one_clear_error(store: Store) -> None:
    with pytest.raises(RecordError, match="job J9 is not in this record"):
        render(store, "J9")


def test_a_report_that_cannot_be_written_leaves_the_old_one(
    shop: tuple[Store, str, str, str], tmp_path: Path
) -> None:
    store, smooth, _, _ = shop
    with pytest.raises(RecordError, match="cannot be written"):
        write_report(store, smooth, tmp_path / "missing" / "r.html")
    path = write_report(store, smooth, tmp_path / "r.html", OPTIONS)
    assert [p.name for p in tmp_path.iterdir()] == ["r.html"]
    assert path.read_text("utf-8").startswith("<!doctype html>")


def test_what_a_killed_program_left_beside_a_report_is_taken_away(
    shop: tuple[Store, str, str, str], tmp_path: Path
) -> None:
    store, job, *_ = shop
    dying = (
        "import os, signal, sys; from pathlib import Path; from sayso.record import report\n"
        "os.fsync = lambda handle: os.kill(os.getpid(), signal.SIGKILL)\n"
        "report.write_whole(Path(sys.argv[1]), b'half')"
    )
    subprocess.run([sys.executable, "-c", dying, str(tmp_path / "job.html")], check=False)
    (left,) = tmp_path.iterdir()
    being_written = tmp_path / f".job.html.{os.getpid()}-x.unfinished"  # by a program that still runs
    other = tmp_path / ".job.html.keep"
    for file in (being_written, other):
        file.write_text("mine")
    write_report(store, job, tmp_path / "job.html")
    assert {f.name for f in tmp_path.iterdir()} == {"job.html", being_written.name, other.name}
    assert not left.exists()


def test_the_gauge_tells_in_words_what_it_shows(shop: tuple[Store, str, str, str]) -> None:
    store, _, rough, _ = shop
    deviation = story_of(store.entries(rough)).deviations[0]
    assert deviation.given is not None
    assert "outside 21.6 to 26.4 N·m" in gauge(deviation.given)
    assert 'class="g-out"' in gauge(deviation.given)
    assert gauge(replace(deviation.given, low=None, high=None)) == ""


# --- in a real browser -------------------------------------------------------------------------------------


def opened(browser: Browser, path: Path, **how: object) -> tuple[Page, list[str]]:
    """The page, and every request that left the file and every error it told."""
    page = browser.new_page(**how)  # type: ignore[arg-type]
    trouble: list[str] = []
    page.on("request", lambda r: trouble.append(r.url) if not r.url.startswith(("file:", "data:")) else None)
    page.on("console", lambda m: trouble.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: trouble.append(str(e)))
    page.goto(path.as_uri())
    return page, trouble


@pytest.fixture(scope="module")
def pages(shop: tuple[Store, str, str, str], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    store, smooth, rough, public = shop
    folder = tmp_path_factory.mktemp("pages")
    return {
        "smooth": write_report(
            store, smooth, folder / "smooth.html", replace(OPTIONS, trusted_keys=(public,))
        ),
        "rough": write_report(store, rough, folder / "rough.html", OPTIONS),
        "figures": write_page(figures_of(store, people=True), folder / "figures.html", zone=UTC),
    }


@pytest.mark.parametrize("name", ["rough", "figures"])
@pytest.mark.parametrize(("look", "width"), [("light", 1200), ("dark", 390)])
def test_axe_finds_nothing_to_complain_of(
    browser: Browser, pages: dict[str, Path], name: str, look: str, width: int
) -> None:
    page, trouble = opened(browser, pages[name], color_scheme=look, viewport={"width": width, "height": 900})
    found = Axe().run(page, options=AXE)
    said = [f"{v['id']}: {[n['html'][:120] for n in v['nodes'][:3]]}" for v in found.response["violations"]]
    overflow = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    page.close()
    assert said == []
    assert trouble == []
    assert overflow <= 0, "the page itself scrolls sideways"


@pytest.mark.parametrize("name", ["rough", "figures"])
def test_in_a_window_of_320_pixels_no_page_scrolls_sideways(
    browser: Browser, pages: dict[str, Path], name: str
) -> None:
    """The width of WCAG 2.2, success criterion 1.4.10 (Reflow), which excepts tables of data in themselves:
    the table of times made the whole report wider than a telephone."""
    page, _ = opened(browser, pages[name], viewport={"width": 320, "height": 700})
    # widest where the times are long
    page.evaluate("document.querySelectorAll('.times td.n').forEach(e => { e.textContent = '10 h 59 min' })")
    overflow = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    page.close()
    assert overflow <= 0


def test_a_note_plays_in_the_browser(browser: Browser, pages: dict[str, Path]) -> None:
    page, trouble = opened(browser, pages["rough"])
    length = page.evaluate(
        "new Promise((done, fail) => { const a = document.querySelector('audio'); a.preload = 'auto';"
        "a.addEventListener('canplaythrough', () => done(a.duration)); a.onerror = () => fail(a.error);"
        "a.load(); })"
    )
    page.close()
    assert length == pytest.approx(1.0, abs=0.02)
    assert trouble == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_few_pages_in_dark_ink(browser: Browser, pages: dict[str, Path], paper: str) -> None:
    page, _ = opened(browser, pages["rough"], color_scheme="dark")
    pdf = page.pdf(format=paper, prefer_css_page_size=False, print_background=True)
    page.emulate_media(media="print")
    body = "getComputedStyle(document.body)"
    ink, ground = page.evaluate(f"[{body}.color, {body}.backgroundColor]")
    hidden = page.evaluate("getComputedStyle(document.querySelector('audio')).display")
    page.close()
    # counted from the PDF's own page objects
    count = len(re.findall(rb"/Type\s*/Page[^s]", pdf))
    assert 4 <= count <= 9
    assert (ink, ground) == ("rgb(0, 0, 0)", "rgb(255, 255, 255)")
    assert hidden == "none"


LONG_WAY = """\
procedure: heron-80-long-steps
title: Heron 80, long steps
revision: 1
defers_to: The maker's manual comes first.
steps:
  - id: source
    say: Measure the twelve volt test source on the bench with your own meter, at both of its terminals.
    ask: {measure: source, unit: V, at_least: 11.5, at_most: 14.5, plausible: [0, 60]}
    out_of_limits: meter
    then: name
  - id: meter
    say: Write down which meter it was, take another meter from the cupboard, and test that one too.
    then: source
  - id: name
    say: Read the serial number on the underside of the new meter to me, letter by letter, please.
    ask: {serial: meter_serial, pattern: "[A-Z]{2}[0-9]{12}"}
  - id: lamp
    say: Look at the lamp beside the wide window of the workshop while somebody moves the whole tug.
    ask: {choice: lamp, options: {goes-out-at-once-and-stays-out: [out], stays-on: ["on"]}}
"""


def test_no_step_of_the_way_taken_is_written_over_its_answer(
    browser: Browser, store: Store, tmp_path: Path
) -> None:
    """Boxes as Chromium lays the letters out."""
    said = ("fifty one", "yes", "done", "thirteen", "yes", "K D 1 2 3 4 5 6 7 8 9 0 1 2", "yes", "out", "yes")
    job = done(store, tmp_path, *said, text=LONG_WAY)
    page, _ = opened(browser, write_report(store, job, tmp_path / "way.html", OPTIONS))
    rows = page.evaluate(
        "[...document.querySelectorAll('svg.path .p-step')].map(step => {"
        " const answer = step.nextElementSibling;"
        " return [step.textContent, answer.textContent,"
        "  step.getBoundingClientRect().right, answer.getBoundingClientRect().left]; })"
    )
    page.close()
    answers = [answer for _, answer, *_ in rows]
    assert "13 V (came here 2 times)" in answers
    assert "KD123456789012" in answers
    assert all("…" in text for text, *_ in rows), "a step that was not long enough to be cut"
    assert [(text, answer) for text, answer, right, left in rows if right > left] == []


VARIANTS = """\
procedure: heron-80-clamp
title: Heron 80, clamp
revision: 1
defers_to: The maker's manual comes first.
parameters: {variant: single}
steps:
  - id: clamp
    say: Torque the clamp screw.
    ask: {torque: clamp, target: 9 N.m, within: 10 %}
  - id: gap
    say: Measure the gap.
    ask: {measure: gap, unit: mm, plausible: [0, 9]}
  - id: shim
    say: Fit a shim.
    when: answers.gap > 2.5
  - id: second-seal
    say: Fit the second seal.
    when: '"<variant>" == "double"'
  - id: cover
    say: Fit the cover.
"""


def test_what_was_passed_over_is_told_in_words_and_what_was_taken_back_with_its_unit(tmp_path: Path) -> None:
    """80 inch pounds are 9.039 N·m: 80 × 0.1129848 (the exact factors of NIST SP 811, from memory)."""
    with open_store(tmp_path / "r.db") as store:
        said = ("eighty inch pounds", "yes", "undo", "nine", "yes", "two", "undo", "one", "done")
        told = text_of(render(store, done(store, tmp_path, *said, text=VARIANTS), OPTIONS))
    assert "Fit a shim. (does not apply: gap is more than 2.5 mm)" in told
    assert "Fit the second seal. (does not apply: “single” is “double”)" in told
    assert "clamp: 9.039 N·m → taken back" in told
    assert "gap: 2 mm → taken back" in told


def test_a_time_on_another_day_or_after_a_change_of_clocks_says_so() -> None:
    """A job on hold over night had '07:30:00' beside '17:10:00' and no day; in the night of 25 October 2026
    the clocks of Berlin go back from 3 to 2 (directive 2000/84/EC: last Sunday of October, 01:00 UTC)."""
    berlin = ZoneInfo("Europe/Berlin")
    began = _ms(datetime(2026, 10, 24, 17, 10, tzinfo=berlin))
    assert wording.at(began + 60_000, berlin, began) == "17:11:00"
    assert (
        wording.at(_ms(datetime(2026, 10, 24, 22, 30, tzinfo=UTC)), berlin, began) == "25 October, 00:30:00"
    )
    late = _ms(datetime(2026, 10, 25, 1, 30, tzinfo=UTC))
    assert wording.at(late, berlin, began) == "25 October, 02:30:00 (UTC+0100)"
    begun_that_night = _ms(datetime(2026, 10, 25, 0, 30, tzinfo=UTC))
    assert wording.at(late, berlin, begun_that_night) == "02:30:00 (UTC+0100)"
    assert wording.at(_ms(datetime(2027, 1, 2, 8, tzinfo=UTC)), UTC, began) == "2 January 2027, 08:00:00"


def _ms(when: datetime) -> int:
    return int(when.timestamp() * 1000)


def test_a_report_tells_the_day_of_what_was_done_on_the_next_one(tmp_path: Path) -> None:
    day = 86_400_000
    with open_store(tmp_path / "r.db") as store:
        job, started = open_job(
            store, procedure.read(PROCEDURES / "heron-80-battery-change.yaml"), JobOptions("Wren 48")
        )
        job.clock = TheirClock()
        job.handle(replace(started, at_ms=START_MS))
        job.handle(Heard(START_MS + day, ("hold",)))
        job.journal.close()
        told = text_of(render(store, job.journal.job, OPTIONS))
    began = datetime.fromtimestamp(START_MS / 1000, UTC)
    held = began + timedelta(days=1)
    assert f"{held.day} {held:%B}, {held:%H:%M:%S}" in told


def test_the_head_tells_which_clock_its_times_are_of(shop: tuple[Store, str, str, str]) -> None:
    """Printed once more by an office in another zone, all times and perhaps the day are others."""
    store, smooth, *_ = shop
    began = story_of(store.entries(smooth)).started_ms
    assert began
    berlin = ZoneInfo("Europe/Berlin")
    there = datetime.fromtimestamp(began / 1000, berlin)
    told = text_of(render(store, smooth, replace(OPTIONS, zone=berlin)))
    assert f"Began {there.day} {there:%B %Y, %H:%M:%S} (UTC{there:%z})" in told


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in this system's folders")
def test_a_pipe_is_written_to_and_a_link_stays_a_link(
    shop: tuple[Store, str, str, str], tmp_path: Path
) -> None:
    """The report was renamed over whatever lay there: '-o /dev/stdout' took the device away."""
    store, job, *_ = shop
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(["cat", str(pipe)], stdout=subprocess.PIPE) as reader:
        write_report(store, job, pipe)
        assert reader.communicate(timeout=60)[0].startswith(b"<!doctype html>")
    assert pipe.is_fifo()
    (tmp_path / "there").mkdir()
    link = tmp_path / "report.html"
    link.symlink_to(tmp_path / "there" / "report.html")
    assert write_report(store, job, link) == link
    assert link.is_symlink()
    assert (tmp_path / "there" / "report.html").read_bytes().startswith(b"<!doctype html>")
