# ruff: noqa: E501  (tables of cases, one a line)
"""The branches drawn, the printed card, two revisions compared."""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
import typer

from sayso.procedure import read
from sayso.procedure.card import card
from sayso.procedure.commands import card as print_card
from sayso.procedure.commands import diff, draw
from sayso.procedure.differences import differences, for_open_job
from sayso.procedure.drawing import dot, svg, text
from sayso.procedure.graph import graph_of
from sayso.procedure.model import Procedure
from tests.procedure.fifteen_steps import FIFTEEN
from tests.procedure.kept import procedure
from tests.screen.browser import chromium

DEMOS = Path(__file__).parents[2] / "procedures"
needs_graphviz = pytest.mark.skipif(shutil.which("dot") is None, reason="Graphviz is not installed")


def kept(text: str) -> Procedure:
    from sayso.procedure import read_kept

    return read_kept({"p.yaml": text}, "p.yaml")


def test_every_way_of_a_procedure_is_in_its_drawing() -> None:
    found = kept(FIFTEEN)
    drawn = dot(found)
    for edges in graph_of(found).edges.values():
        for edge in edges:
            target = (
                edge.target if not (edge.target == "end" and edge.source == "call-lead") else "end:call-lead"
            )
            assert re.search(rf'"{edge.source}" -> "{target}" \[', drawn), edge


@needs_graphviz
def test_graphviz_reads_what_is_drawn_even_with_odd_texts() -> None:
    """Against Graphviz itself: as many nodes and edges as the graph has."""
    found = procedure(
        """
        - {id: a, say: 'A "quoted" \\ text & </b> < > |?', ask: {yes_no: g}, then: {yes: b, no: end}, section: 'S "1"'}
        - {id: b, say: B., ends: 'over "and" out'}
        """
    )
    tree = ElementTree.fromstring(svg(found))
    classes = [node.get("class") for node in tree.iter() if node.get("class")]
    assert classes.count("node") == 4  # a, b, the end, the end of b
    assert classes.count("edge") == 3


def test_an_end_that_no_way_leads_to_is_not_drawn() -> None:
    assert '"end"' not in dot(procedure("- {id: a, say: A., ends: over}"))


@needs_graphviz
def test_the_picture_of_the_demo_has_all_its_steps() -> None:
    found = read(DEMOS / "wren-48-drive-controller.yaml")
    plain = subprocess.run(
        ["dot", "-Tplain"], input=dot(found).encode(), capture_output=True, check=True
    ).stdout
    nodes = [line.split()[1] for line in plain.decode().splitlines() if line.startswith("node ")]
    assert {step.id for step in found.steps} <= {node.strip('"') for node in nodes}


def test_the_plain_text_form_tells_every_branch() -> None:
    told = text(kept(FIFTEEN))
    assert (
        "  hitch-type: Look at the hitch. (pin / ball)\n      pin -> pin-out\n      ball -> ball-off\n"
        in told
    )
    assert "  support: [WARNING] Hang the hitch on the hoist.\n" in told
    assert "      passed over unless hitch is ball\n" in told
    assert "  torque: Torque the bolts. (50 (±5) N·m, 4 fasteners)\n" in told
    assert "      ends: lead called\n" in told


class _Whole(HTMLParser):
    """Fails on a tag that is closed in the wrong order; HTML's empty tags need no end."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "br", "link", "img", "hr"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_card_is_one_whole_page_with_every_step_and_caution() -> None:
    found = read(DEMOS / "wren-48-drive-controller.yaml")
    page = card(found)
    parser = _Whole()
    parser.feed(page)
    assert parser.open == []
    for step in found.steps:
        assert step.say in parser.text
        for caution in step.cautions:
            assert caution.say in parser.text
    assert found.defers_to in parser.text
    assert "http" not in page, "nothing is fetched"


def test_texts_on_the_card_are_text_and_not_html() -> None:
    page = card(procedure("- {id: a, say: 'Press </td><script src=x> now'}"))
    assert "<script" not in page
    assert "Press &lt;/td&gt;&lt;script" in page


@needs_graphviz
def test_on_paper_a_drawing_that_is_a_little_too_long_fits_on_one_sheet_and_signal_words_keep_their_colour() -> (
    None
):
    """Sheets counted in Chromium's own PDF."""
    found = procedure(
        "\n".join(f"- {{id: step-{n}, say: Do part {n}.}}" for n in range(9))
        + "\n- {id: last, caution: {level: warning, say: It falls.}, say: Lift it.}"
    )
    with chromium() as browser:
        page = browser.new_page()
        page.set_content(card(found, picture=svg(found)))
        sheets = len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4", prefer_css_page_size=True)))
        page.emulate_media(media="print")
        word = page.locator(".warning b")
        adjust = word.evaluate("e => getComputedStyle(e).printColorAdjust")
        page.close()
    assert sheets == 2
    assert adjust == "exact"


@needs_graphviz
@pytest.mark.parametrize("name", ["wren-48-drive-controller", "wren-48-wheel-bearing"])
def test_a_drawing_printed_from_a_browser_is_one_sheet(tmp_path: Path, name: str) -> None:
    """It came out over three or four. Sheets counted in Chromium's own PDF, A4 and US Letter."""
    draw(DEMOS / f"{name}.yaml", tmp_path / "tree.svg")
    with chromium() as browser:
        page = browser.new_page()
        page.goto((tmp_path / "tree.svg").as_uri())
        sheets = [len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=form))) for form in ("A4", "Letter")]
        page.close()
    assert sheets == [1, 1]


def test_the_card_tells_who_may_let_a_value_stand() -> None:
    torque = "- {id: a, say: Torque it., ask: {torque: t, target: 9 N.m, within: 10 %}, not_met: lead hand}"
    assert "If it cannot be met: lead hand, by code." in card(procedure(torque))


# --- revisions -----------------------------------------------------------------------------------

CHANGES = [
    ("target: 50 N.m", "target: 55 N.m", "step torque: torque: 50 (±5) N·m, 4 fasteners became 55 (±5.5) N·m, 4 fasteners", True),
    ("at_most: 1.5", "at_most: 1.2", "step gap: measure: at least 0.5 mm and at most 1.5 mm became", True),
    ("level: warning", "level: danger", "step support: DANGER added", True),
    ("say: Pull the pin.", "say: Pull the long pin.", "step pin-out: says 'Pull the long pin.' instead of 'Pull the pin.'", False),
    ("HA: spacer", "HB: spacer", "step serial: 'HB' now leads to spacer", False),
    ("    when: answers.hitch == \"ball\"\n", "", "step gap: applies always instead of when hitch is ball", False),
    ("tools: [torque wrench, hoist]", "tools: [torque wrench]", "tool no longer needed: hoist", False),
    ("{name: hitch, quantity: 1}", "{name: hitch, quantity: 2}", "part: hitch became 2 × hitch", False),
    ("  - id: hitch-off\n    say: Lower the old hitch.\n", "", "step hitch-off: is no longer done: Lower the old hitch.", False),
    ("  - id: bolts-out\n", "  - id: bolts-loose\n    say: Loosen all bolts.\n  - id: bolts-out\n", "step bolts-loose: new, after bolt-count", False),
    ("ask: {count: bolts, from: 2, to: 4, read_back: true}", "ask: {count: bolts, from: 2, to: 4, question: 'How many?'}", "step bolt-count: asks 'How many?' instead of ''", False),
    ("defers_to: The maker's manual, local codes and licensed practice come first.\n", "", "now defers to: nothing", True),
    ("title: Heron 80 tug, hitch change", "title: Heron 80, hitch", "title: 'Heron 80 tug, hitch change' became 'Heron 80, hitch'", False),
    ("    say: Fit the spacer.", "    say: Fit the spacer.\n    skip: true", "step spacer: may be skipped now", True),
    ("    say: Fit the spacer.", "    say: Fit the spacer.\n    why: The hitch sits low.", "step spacer: the reason changed", False),
    ("    say: Fit the spacer.", "    say: Fit the spacer.\n    ask: {yes_no: fitted}", "step spacer: asks for yes_no instead of done", True),
    ("from: 2, to: 4, read_back: true}", "from: 2, to: 4}", "step bolt-count: is no longer read back", True),
    ("pin: [a pin]", "pin: [a pin, a bolt]", "step hitch-type: 'pin' is said a pin and a bolt", False),
    ("at_least: 0.5, at_most: 1.5}", "at_least: 0.5, at_most: 1.5, plausible: [0, 9]}", "step gap: plausible: any value became 0 to 9", False),
    ("measure: ball_gap", "measure: gap", "step gap: the answer is called gap instead of ball_gap", False),
    ("    then: support\n", "", "step pin-out: 'otherwise' now leads to the next step", False),
    ("procedure: heron-80-hitch", "procedure: heron-80-tow", "another procedure: heron-80-hitch became heron-80-tow", False),
    ("    ends: lead called", "    ends: lead called\n    wait: 5 s", "step call-lead: wait of 5 s added", True),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "told", "safety"), CHANGES, ids=lambda value: str(value)[:24])
def test_a_change_is_told_in_the_words_of_the_trade(old: str, new: str, told: str, safety: bool) -> None:
    assert FIFTEEN.count(old) == 1
    found = differences(kept(FIFTEEN), kept(FIFTEEN.replace(old, new).replace("revision: 1", "revision: 2")))
    fitting = [one for one in found if told in str(one)]
    assert fitting, [str(one) for one in found]
    assert fitting[0].safety is safety


def _limit(question: str, more: str = "") -> Procedure:
    return procedure(f"- {{id: a, say: Look., ask: {{{question}}}}}\n{more}")


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [  # SI: 0 °C = 32 °F, 100 °C = 212 °F; 1 in = 25.4 mm; 1 lbf.ft = 12 lbf.in; all exact
        ("measure: t, unit: degC, at_most: 45", "measure: t, unit: degF, at_most: 113", True),
        ("measure: t, unit: degC, at_most: 45", "measure: t, unit: degF, at_most: 114", False),
        ("measure: t, unit: degC, below: 45", "measure: t, unit: degF, at_most: 113", False),
        (
            "measure: t, unit: degC, at_least: 0, at_most: 100",
            "measure: t, unit: degF, at_least: 32, at_most: 212",
            True,
        ),
        ("measure: t, unit: degC, at_most: 100", "measure: t, unit: degF, at_least: 32, at_most: 212", False),
        ("measure: g, unit: mm, above: 25.4", "measure: g, unit: in, above: 1", True),
        ("measure: g, unit: mm, above: 1", "measure: g, unit: in, above: 1", False),
        ("measure: g, unit: mm, above: 1", "measure: g, unit: V, above: 1", False),
        ("torque: s, target: 5 lbf.ft, within: 10 %", "torque: s, target: 60 lbf.in, within: 10 %", True),
        ("torque: s, target: 5 lbf.ft, within: 10 %", "torque: s, target: 60 lbf.in, within: 20 %", False),
        ("torque: s, target: 9 N.m, within: 10 %", "torque: s, target: 6.6 lbf.ft, within: 10 %", False),
    ],
)
def test_a_limit_in_another_unit_is_told_as_the_same_limit(old: str, new: str, same: bool) -> None:
    """It was marked as a changed limit, for which an open job is stopped and the lead hand called."""
    (found,) = [one for one in differences(_limit(old), _limit(new)) if one.step]
    assert found.what.endswith(": the same, only the unit changed") is same
    assert " became " in found.what
    assert found.safety is not same


def test_what_is_plausible_is_the_same_in_another_unit() -> None:
    old = _limit("measure: t, unit: degC, at_most: 45, plausible: [0, 100]")
    for high, changed in ((212, False), (200, True)):
        new = _limit(f"measure: t, unit: degF, at_most: 113, plausible: [32, {high}]")
        assert any("plausible: 0 to 100 became" in str(one) for one in differences(old, new)) is changed


def test_a_condition_that_reads_an_answer_in_another_unit_is_told_as_another_condition() -> None:
    """'above 40' was the same text, and is another temperature."""
    fan = "- {id: fan, say: Stop the fan., when: answers.t > 40}"
    old = _limit("measure: t, unit: degC, at_most: 45", fan)
    new = _limit("measure: t, unit: degF, at_most: 113", fan)
    assert [str(one) for one in differences(old, new) if one.step == "fan"] == [
        "step fan: applies when t is more than 40 °F instead of when t is more than 40 °C"
    ]


def _released_by(codes: str) -> Procedure:
    return procedure(f"- {{id: seen, say: Look., ask: {{witness: seen_by, role: lead hand{codes}}}}}")


@pytest.mark.parametrize(
    ("codes", "told"),
    [
        (', codes: {"2746": R Tarn, "5180": O Vale}', "released by O Vale and R Tarn instead of R Tarn"),
        (', codes: {"9313": R Tarn}', "the codes that release it changed"),
        ("", "released by whom the job's own list names instead of R Tarn"),
    ],
)
def test_who_may_release_a_hold_point_is_a_matter_of_safety_and_no_code_is_told(
    codes: str, told: str
) -> None:
    """It was told as a question 'asked in another way': whoever signs a revision would pass over it."""
    (found,) = [
        d
        for d in differences(_released_by(', codes: {"2746": R Tarn}'), _released_by(codes))
        if d.step == "seen"
    ]
    assert (found.what, found.safety) == (told, True)
    assert not re.search(r"\d{4}", str(found))


def test_long_waits_are_told_as_one_writes_them() -> None:
    quick, slow = (
        procedure(f"- {{id: cool, say: Let it cool., wait: {wait}}}") for wait in ("10 min", "1.5 h")
    )
    assert [d.what for d in differences(quick, slow) if d.step] == ["wait: 10 min became 1 h 30 min"]
    assert "Wait 1 h 30 min." in card(slow)


def test_two_revisions_with_parameters_are_compared_each_with_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The newer one has a parameter more: what is given for it is no slip in the older one."""
    old, new = tmp_path / "old.yaml", tmp_path / "new.yaml"
    written = FIFTEEN.replace("steps:\n", "parameters: {bay: }\nsteps:\n", 1)
    old.write_text(written)
    written = written.replace("{bay: }", "{bay: , side: }").replace("revision: 1", "revision: 2")
    new.write_text(written.replace("say: Pull the pin.", "say: Pull the <side> pin in bay <bay>."))
    diff(old, new, parameter=["bay=3", "side=left"])
    assert "says 'Pull the left pin in bay 3.' instead of 'Pull the pin.'" in capsys.readouterr().out
    with pytest.raises(typer.Exit):
        diff(old, new, parameter=["bay=3", "side=left", "bey=3"])
    assert "there is no parameter 'bey'; write 'bay'" in capsys.readouterr().err


def test_a_text_that_changed_without_a_new_revision_is_told() -> None:
    found = differences(kept(FIFTEEN), kept(FIFTEEN.replace("Pull the pin", "Draw the pin")))
    assert any("the revision is still 1" in str(one) for one in found)
    assert differences(kept(FIFTEEN), kept(FIFTEEN)) == []


def test_a_step_that_moved_is_told_as_moved_and_not_as_new() -> None:
    moved = FIFTEEN.replace("  - id: chock\n    say: Chock both rear wheels.\n", "")
    moved = moved.replace(
        "  - id: hitch-off", "  - id: chock\n    say: Chock both rear wheels.\n  - id: hitch-off"
    )
    found = differences(kept(FIFTEEN), kept(moved.replace("revision: 1", "revision: 2")))
    assert [str(one) for one in found] == ["step chock: now comes after bolts-out"]


@pytest.mark.parametrize(
    ("old", "new", "done", "advice"),
    [
        ("target: 50 N.m", "target: 55 N.m", ["key-out"], "Only steps still to come have changed"),
        ("target: 50 N.m", "target: 55 N.m", ["key-out", "torque"], "stop, and have the lead hand decide"),
        ("say: Chock both rear", "say: Chock all the", ["key-out", "chock"], "do those steps again"),
        (
            "  - id: chock\n",
            "  - id: lamp-on\n    say: Switch the lamp on.\n  - id: chock\n",
            ["key-out", "chock"],
            "Steps that are done have changed",
        ),
        ("revision: 1", "revision: 2", ["key-out"], "finish the job on the revision it was started with"),
    ],
)
def test_an_open_job_is_told_what_a_new_revision_means(
    old: str, new: str, done: list[str], advice: str
) -> None:
    later = kept(FIFTEEN.replace(old, new).replace("revision: 1", "revision: 2"))
    assert advice in for_open_job(kept(FIFTEEN), later, done).advice


def test_a_card_is_not_written_over_its_procedure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "p.yaml"
    file.write_text(FIFTEEN)
    with pytest.raises(typer.Exit):
        print_card(file, file, picture=False)
    assert "is a procedure: it stays as it is; give another name" in capsys.readouterr().err
    assert file.read_text() == FIFTEEN


@needs_graphviz
@pytest.mark.parametrize(
    ("ending", "begins"), [(".png", b"\x89PNG\r\n"), (".pdf", b"%PDF-"), (".svg", b"<?xml")]
)
def test_a_drawing_is_what_its_name_says(tmp_path: Path, ending: str, begins: bytes) -> None:
    """The first bytes of each form: PNG (ISO/IEC 15948), PDF (ISO 32000), XML; from memory."""
    (tmp_path / "p.yaml").write_text(FIFTEEN)
    draw(tmp_path / "p.yaml", tmp_path / f"tree{ending}")
    assert (tmp_path / f"tree{ending}").read_bytes().startswith(begins)


def test_a_drawing_of_another_form_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "p.yaml").write_text(FIFTEEN)
    with pytest.raises(typer.Exit):
        draw(tmp_path / "p.yaml", tmp_path / "tree.doc")
    assert "let its name end in .svg, .png, .pdf, .txt or .dot" in capsys.readouterr().err
    assert not (tmp_path / "tree.doc").exists()
