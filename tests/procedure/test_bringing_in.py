# ruff: noqa: E501  (tables of cases, one a line)
"""Lists from elsewhere become drafts that pass the check or say what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st

from sayso.procedure import read_kept
from sayso.procedure.bring_in import BringInError, Draft, bring_in_file
from sayso.procedure.bring_in.wording import understood
from sayso.procedure.commands import bring_in
from sayso.procedure.model import AskCount, AskMeasure, AskTorque, Procedure

MARKDOWN = """\
# Wren 48, wheel change

Some words about the wheel.

## Tools

- jack
- torque wrench

## Take off

> **WARNING:** A tug on a jack can fall. Stay out from under it.

1. Raise the axle onto two stands.
2. Loosen the four wheel nuts.
   Note: left-hand thread on the left side.
3. Lift the wheel off.

## Fit

4. Put the wheel on.
5. Torque the four wheel nuts to 90 N·m ± 10 %.
6. Measure the tyre pressure, between 580 and 620 kPa.
7. Wait 2 minutes.
8. Does the wheel turn freely?
"""

# Written by us with the element names of S1000D issue 4 (from memory; no sample of the standard was at hand).
DATA_MODULE = """\
<?xml version="1.0" encoding="UTF-8"?>
<dmodule>
  <identAndStatusSection><dmAddress><dmAddressItems><dmTitle>
    <techName>Tug wheel</techName><infoName>Remove and install</infoName>
  </dmTitle></dmAddressItems></dmAddress></identAndStatusSection>
  <content><procedure>
    <preliminaryRqmts>
      <reqCondGroup><reqCondNoRef><reqCond>The tug is on level ground.</reqCond></reqCondNoRef></reqCondGroup>
      <reqSupportEquips><supportEquipDescrGroup>
        <supportEquipDescr><name>Jack</name><reqQuantity>1</reqQuantity></supportEquipDescr>
        <supportEquipDescr><name>Axle stand</name><reqQuantity>2</reqQuantity></supportEquipDescr>
      </supportEquipDescrGroup></reqSupportEquips>
      <reqSpares><spareDescrGroup><spareDescr><name>Wheel nut</name><reqQuantity>4</reqQuantity></spareDescr></spareDescrGroup></reqSpares>
      <reqSafety><safetyRqmts><warning><warningAndCautionPara>Batteries burn.</warningAndCautionPara></warning></safetyRqmts></reqSafety>
    </preliminaryRqmts>
    <mainProcedure>
      <proceduralStep><title>Removal</title>
        <proceduralStep>
          <warning><warningAndCautionPara>The tug can fall.</warningAndCautionPara></warning>
          <caution><warningAndCautionPara>The jack dents the frame.</warningAndCautionPara></caution>
          <para>Raise the <emphasis>front</emphasis> axle.</para>
          <note><notePara>Use the marked points.</notePara></note>
        </proceduralStep>
        <proceduralStep><para>Lift the wheel off.</para><figure/></proceduralStep>
      </proceduralStep>
      <proceduralStep><para>Torque the four wheel nuts to 90 N.m.</para></proceduralStep>
    </mainProcedure>
    <closeRqmts><reqCondGroup><reqCondNoRef><reqCond>Remove the jack.</reqCond></reqCondNoRef></reqCondGroup></closeRqmts>
  </procedure></content>
</dmodule>
"""


def draft_of(tmp_path: Path, name: str, text: str) -> Draft:
    (tmp_path / name).write_text(text, encoding="utf-8")
    return bring_in_file(tmp_path / name)


def read_draft(draft: Draft) -> Procedure:
    return read_kept({"d.yaml": draft.text}, "d.yaml")


def test_a_markdown_list_becomes_a_procedure_that_passes_the_check(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, "wheel.md", MARKDOWN)
    assert draft.missing == ("left out, for it is no step: 'Some words about the wheel.'",)
    found = read_draft(draft)
    assert found.title == "Wren 48, wheel change"
    assert found.before.tools == ("jack", "torque wrench")
    assert [(c.level.value, c.say) for c in found.steps[0].cautions] == [
        ("warning", "A tug on a jack can fall. Stay out from under it.")
    ]
    assert found.steps[1].hint == "left-hand thread on the left side."
    assert found.steps[3].section == "Fit"
    torque, pressure = found.steps[4].ask, found.steps[5].ask
    assert isinstance(torque, AskTorque)
    assert (torque.target, torque.low, torque.fasteners) == (90, 81, 4)
    assert isinstance(pressure, AskMeasure)
    assert (pressure.unit, pressure.at_least, pressure.at_most) == ("kPa", 580, 620)
    assert found.steps[6].wait_s == 120
    assert found.steps[7].ask.kind == "yes_no"


def test_a_torque_without_a_tolerance_is_said_to_be_missing_it(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, "a.md", "1. Torque the cap to 20 Nm.\n2. Fit the cap.\n3. Close the hood.\n")
    assert not draft.passes
    assert any("has no tolerance; add 'within: 10 %'" in missing for missing in draft.missing)


def test_a_sheet_with_a_step_a_row(tmp_path: Path) -> None:
    draft = draft_of(
        tmp_path,
        "audit.csv",
        "No;Section;Step;Warning;Torque;Tolerance;Unit;Min;Max;Why\n"
        "1;Wheels;Torque the nuts;Stay clear;90;10 %;N.m;;;They settle\n"
        "2;;Measure the gap;;;;mm;0.2;0.4;\n"
        ";;;;;;;;;\n"
        "3;Close;Is the hood shut?;;;;;;;\n",
    )
    assert draft.missing == ()
    found = read_draft(draft)
    assert [step.section for step in found.steps] == ["Wheels", "Wheels", "Close"]
    torque, gap = found.steps[0].ask, found.steps[1].ask
    assert isinstance(torque, AskTorque)
    assert (torque.target, torque.high) == (90, 99)
    assert isinstance(gap, AskMeasure)
    assert (gap.at_least, gap.at_most) == (0.2, 0.4)
    assert found.steps[0].cautions[0].say == "Stay clear."


@pytest.mark.parametrize(
    "below",
    [
        "   > WARNING: A tug rolls.\n   > Stay clear.",
        "   > [!WARNING]\n   > A tug rolls.\n   > Stay clear.",
        "   WARNING: A tug rolls. Stay clear.",
    ],
)
def test_a_caution_inside_a_step_stays_with_that_step(tmp_path: Path, below: str) -> None:
    """CommonMark lets a list item hold a quote; a warning lost on the way would be told to nobody."""
    draft = draft_of(
        tmp_path, "a.md", f"1. Take the chocks away.\n{below}\n2. Drive the tug out.\n3. Park it.\n"
    )
    found = read_draft(draft)
    assert [[c.say for c in step.cautions] for step in found.steps] == [["A tug rolls. Stay clear."], [], []]


def test_what_a_list_holds_besides_steps_is_said_to_be_left_out(tmp_path: Path) -> None:
    draft = draft_of(
        tmp_path, "a.md", "1. Fit the lamp.\n\n   ```\n   code 4711\n   ```\n- [ ] Close the hood.\n"
    )
    assert "left out, for it is no step: 'code 4711'" in draft.missing
    assert [step.say for step in read_draft(draft).steps] == ["Fit the lamp.", "Close the hood."]


def test_a_column_that_is_not_known_is_said_to_be_left_out(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, "a.csv", "Step,Why,Moment,Empty\nTighten the cap,It leaks,20,\n")
    (left_out,) = (one for one in draft.missing if "column" in one)
    assert left_out.startswith("left out, the column 'Moment': ")


def test_the_unit_may_stand_in_the_head_of_a_column(tmp_path: Path) -> None:
    draft = draft_of(
        tmp_path,
        "a.csv",
        "Step,Torque (Nm),Tolerance,Min (mm),Max (mm)\nTorque the cap,20,10 %,,\nMeasure the gap,,,0.2,0.4\n",
    )
    cap, gap = (step.ask for step in read_draft(draft).steps)
    assert isinstance(cap, AskTorque)
    assert isinstance(gap, AskMeasure)
    assert (cap.target, gap.unit, gap.at_most) == (20, "mm", 0.4)


def test_a_sheet_with_decimal_commas(tmp_path: Path) -> None:
    """A spreadsheet of a language with decimal commas writes CSV with ';' between the cells."""
    draft = draft_of(
        tmp_path,
        "a.csv",
        "Step;Torque;Unit;Tolerance;Min;Max\nTorque the cap;20,5;Nm;10 %;;\nMeasure the gap;;mm;;0,25;0,4\n",
    )
    assert draft.missing == ("read with a decimal comma, see that it is one: 20,5; 0,25; 0,4",)
    cap, gap = (step.ask for step in read_draft(draft).steps)
    assert isinstance(cap, AskTorque)
    assert isinstance(gap, AskMeasure)
    assert (cap.target, gap.at_least, gap.at_most) == (20.5, 0.25, 0.4)


def test_limits_without_a_unit_are_a_count_or_are_said_to_be_left_out(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, "a.csv", "Step,Min,Max\nCount the pads,2,8\nLook at the pads,1,3\n")
    assert draft.missing == (
        "left out, the limits 1 to 3 of 'Look at the pads': no unit says what they limit",
    )
    ask = read_draft(draft).steps[0].ask
    assert isinstance(ask, AskCount)
    assert (ask.low, ask.high) == (2, 8)


def test_a_percentage_in_a_workbook_is_what_the_sheet_shows(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (["Step", "Torque", "Unit", "Tolerance"], ["Torque the cap", 20, "N.m", 0.1]):
        book.active.append(row)
    book.active["D2"].number_format = "0%"
    book.save(tmp_path / "cap.xlsx")
    ask = read_draft(bring_in_file(tmp_path / "cap.xlsx")).steps[0].ask
    assert isinstance(ask, AskTorque)
    assert (ask.low, ask.high) == (18, 22)


def test_what_is_missing_names_the_file_that_was_written_and_never_writes_over_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "list.md").write_text("1. Torque the cap to 20 Nm.\n2. Close the hood.\n")
    output = tmp_path / "draft.yaml"
    bring_in(tmp_path / "list.md", output)
    assert f"{output}:10:7: the torque 'torque_cap' has no tolerance" in capsys.readouterr().err
    output.write_text("finished by hand")
    with pytest.raises(typer.Exit):
        bring_in(tmp_path / "list.md", output)
    assert f"{output} is there already" in capsys.readouterr().err
    assert output.read_text() == "finished by hand"


def test_a_workbook_is_read_like_a_sheet(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "Hitch"
    for row in (["Step", "Why"], ["Pull the pin", "It holds the hitch"], ["Lower the hitch", None]):
        book.active.append(row)
    book.save(tmp_path / "hitch.xlsx")
    found = read_draft(bring_in_file(tmp_path / "hitch.xlsx"))
    assert found.title == "Hitch"
    assert [step.say for step in found.steps] == ["Pull the pin.", "Lower the hitch."]


def test_a_data_module_of_s1000d(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, "dm.xml", DATA_MODULE)
    assert any("a figure in the step 'Lift the wheel off.' was left out" in one for one in draft.missing)
    assert any("has no tolerance" in one for one in draft.missing)
    found = read_draft(Draft(draft.text.replace("target: 90 N.m", "target: 90 N.m\n      within: 10 %"), ()))
    assert found.title == "Tug wheel, Remove and install"
    assert found.before.tools == ("Jack", "2 of Axle stand")
    assert found.before.conditions == ("The tug is on level ground.",)
    first = found.steps[0]
    assert [(c.level.value, c.say) for c in first.cautions] == [
        ("warning", "Batteries burn."),
        ("warning", "The tug can fall."),
        ("notice", "The jack dents the frame."),
    ]
    assert (first.say, first.section, first.hint) == (
        "Raise the front axle.",
        "Removal",
        "Use the marked points.",
    )
    assert found.steps[-1].say == "Remove the jack."


@pytest.mark.parametrize(
    "row",
    [
        "Torque the stud to 15-18 Nm.;;",
        "Torque the stud between 15 and 18 Nm.;;",
        "Torque the stud (15 Nm to 18 Nm).;;",
        "Torque the stud.;15-18;Nm",
        "Torque the stud.;15 to 18;Nm",
    ],
)
def test_a_range_of_torque_is_its_middle_and_half_its_width(tmp_path: Path, row: str) -> None:
    """'15-18 Nm' in a sentence was read as a torque of minus 18 newton metres, with '15' left in what is said."""
    draft = draft_of(tmp_path, "a.csv", f"Step;Torque;Unit\n{row}\n")
    step = read_draft(draft).steps[0]
    assert step.say == "Torque the stud."
    assert isinstance(step.ask, AskTorque)
    assert (step.ask.target, step.ask.low, step.ask.high) == pytest.approx((16.5, 15, 18))
    (told,) = draft.missing
    assert told.endswith("target 16.5 Nm, within 1.5 Nm; see that it is meant so")


def test_a_cell_with_its_own_tolerance_sign_or_number_is_read(tmp_path: Path) -> None:
    draft = draft_of(
        tmp_path,
        "a.csv",
        "Step;Torque;Unit;Min;Max\n1. Torque the cap.;25 ± 2;Nm;;\n2.1) Measure the voltage.;;V;;< 5\n"
        "3. Measure the gap.;;mm;≥ 0.2;\n",
    )
    assert draft.missing == ()
    cap, voltage, gap = read_draft(draft).steps
    assert (cap.id, cap.say, voltage.say) == ("torque-cap", "Torque the cap.", "Measure the voltage.")
    assert isinstance(cap.ask, AskTorque)
    assert (cap.ask.low, cap.ask.high) == (23, 27)
    assert isinstance(voltage.ask, AskMeasure)
    assert isinstance(gap.ask, AskMeasure)
    assert (voltage.ask.below, voltage.ask.at_most, gap.ask.at_least) == (5, None, 0.2)


@pytest.mark.parametrize(
    ("cell", "target", "low", "high"),
    [
        ("80 Nm ± 8 Nm", 80, 72, 88),
        ("80 Nm ± 8", 80, 72, 88),
        ("80 Nm (+/- 10%)", 80, 72, 88),
        # 1 lbf.ft is 1.3558179483 N.m (NIST SP 811, appendix B.8)
        ("59 lb-ft (+/-10%)", 59 * 1.3558179483, 53.1 * 1.3558179483, 64.9 * 1.3558179483),
    ],
)
def test_a_torque_and_its_tolerance_in_one_cell_are_both_read(
    tmp_path: Path, cell: str, target: float, low: float, high: float
) -> None:
    draft = draft_of(tmp_path, "a.csv", f"Step,Torque\nTorque the cap.,{cell}\n")
    assert draft.missing == ()
    (cap,) = read_draft(draft).steps
    assert isinstance(cap.ask, AskTorque)
    assert (cap.ask.target, cap.ask.low, cap.ask.high) == pytest.approx((target, low, high))


def test_a_table_in_markdown_is_read_like_a_sheet_or_left_out_with_a_word(tmp_path: Path) -> None:
    """Its lines became steps: '|---|---|.' was to be done."""
    draft = draft_of(
        tmp_path,
        "a.md",
        "## Close\n\nWARNING: Pinch point.\n\n| Step | Torque | Tolerance |\n|---|---|---|\n| Torque the nut. | 40 Nm | 10 % |\n"
        "| Prüfen Sie den Deckel. | | |\n\n| Date | Name |\n|---|---|\n| 2026 | |\n",
    )
    nut, cover = read_draft(draft).steps
    assert isinstance(nut.ask, AskTorque)
    assert (nut.ask.target, nut.section, nut.cautions[0].say) == (40, "Close", "Pinch point.")
    assert cover.id == "prufen-sie-den-deckel"
    assert [one for one in draft.missing if "no step" in one] == [
        "left out, for it is no step: 'Date, Name'",
        "left out, for it is no step: '2026'",
    ]


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("a.xml", "<dmodule><content><descript/></content></dmodule>", "no mainProcedure"),
        ("a.xml", "<dmodule", "not XML"),
        (
            "a.xml",
            '<!DOCTYPE d [<!ENTITY a "b"><!ENTITY c "&a;&a;">]><dmodule>&c;</dmodule>',
            "defines entities",
        ),
        ("a.csv", "one,two\nthree,four\n", "name one 'step' in the first row"),
        ("a.md", "\n", "no steps were found"),
        ("a.pdf", "x", "cannot be brought in"),
        ("a.xlsx", "x", "no XLSX workbook"),
    ],
)
def test_what_cannot_be_brought_in_is_told(tmp_path: Path, name: str, text: str, told: str) -> None:
    with pytest.raises(BringInError, match=told):
        draft_of(tmp_path, name, text)


@pytest.mark.parametrize(
    ("text", "say", "target", "within"),
    [
        ("Torque the screw to 9 N.m ± 10 %.", "Torque the screw.", "9 N.m", "10 %"),
        ("Tighten to 80 lbf.in (+/- 8 lbf.in)", "Tighten.", "80 lbf.in", "8 lbf.in"),
        ("Tighten the bolt (25 ft-lb)", "Tighten the bolt.", "25 ft-lb", ""),
        ("Lift the 9 mm plate.", "Lift the 9 mm plate.", "", ""),
        ("Torque the stud 15-18 Nm", "Torque the stud.", "16.5 Nm", "1.5 Nm"),
        ("Torque the M8 to 15 to 18 Nm", "Torque the M8.", "16.5 Nm", "1.5 Nm"),
        # numbers of bolts are no torques
        ("Torque bolt 4 to 20 Nm", "Torque bolt 4.", "20 Nm", ""),
        ("Torque bolts 1 to 4 to 20 Nm", "Torque bolts 1 to 4.", "20 Nm", ""),
        ("Torque bolts 1 and 4 to 20 Nm", "Torque bolts 1 and 4.", "20 Nm", ""),
        ("Torque the M8 - 10 Nm", "Torque the M8 -.", "10 Nm", ""),
    ],
)
def test_quantities_are_taken_out_of_what_is_said(text: str, say: str, target: str, within: str) -> None:
    found = understood(text)
    assert (found.say, found.target, found.within) == (say, target, within)


@given(st.text(max_size=120))
@settings(max_examples=60)
def test_any_list_gives_a_draft_or_says_why_not(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    file = tmp_path_factory.getbasetemp() / "any.md"
    file.write_text("# Title\n\n1. Pull the key out.\n2. " + text, encoding="utf-8")
    draft = bring_in_file(file)
    assert draft.text.startswith("# A first draft")
    if draft.passes:
        read_draft(draft)


@pytest.mark.parametrize(
    ("written", "fasteners", "said"),
    [
        ("Torque the wheel nuts (4x) to 80 Nm", 4, "Torque the wheel nuts."),
        ("Torque the wheel nuts 4x to 80 Nm", 4, "Torque the wheel nuts."),
        ("Torque the wheel nuts x4 to 80 Nm", 4, "Torque the wheel nuts."),
        ("Torque the wheel nuts (\u00d7 4), 80 Nm", 4, "Torque the wheel nuts."),
        ("Torque the nuts (4x 80 Nm)", 4, "Torque the nuts."),
        ("Torque the nuts, 4 off, 15-18 Nm", 4, "Torque the nuts."),
        ("Torque 4x M8 bolts to 25 Nm", 4, "Torque 4 M8 bolts."),
        ("Torque the 4 x M8 x 20 bolts to 25 Nm", 4, "Torque the 4 M8 x 20 bolts."),
        ("Torque the bolts (M8, 4x) to 25 Nm", 4, "Torque the bolts (M8)."),
        ("Torque the M8 x 20 bolts to 25 Nm", 1, "Torque the M8 x 20 bolts."),
        ("Torque the bolts M8 x 20 to 25 Nm", 1, "Torque the bolts M8 x 20."),
        ("Torque the bolts x 40 mm to 25 Nm", 1, "Torque the bolts x 40 mm."),
        ("Torque the 8 x 20 bolts to 25 Nm", 1, "Torque the 8 x 20 bolts."),
    ],
)
def test_so_many_of_a_fastener_are_told_from_its_size(written: str, fasteners: int, said: str) -> None:
    """'(4x)' was read out and one fastener asked for; 'M8 x 20 bolts' were twenty. Common practice, no source."""
    found = understood(written)
    assert (found.fasteners, found.say) == (fasteners, said)


def test_so_many_fasteners_are_counted_where_the_torque_has_a_column_of_its_own(tmp_path: Path) -> None:
    draft = draft_of(
        tmp_path,
        "nuts.csv",
        "step,torque,within\nTorque the nuts (4x),80 Nm,10 %\nTorque 5 studs,9 Nm,1 Nm\n",
    )
    asked = [step.ask for step in read_draft(draft).steps]
    assert [ask.fasteners for ask in asked if isinstance(ask, AskTorque)] == [4, 5]


@pytest.mark.parametrize(
    ("text", "say", "asked"),
    [
        ("Torque the bolt to 22,5 Nm.", "Torque the bolt.", {"target": "22.5 Nm", "within": ""}),
        ("Torque the bolt to 22,5 ± 2,5 Nm.", "Torque the bolt.", {"target": "22.5 Nm", "within": "2.5 Nm"}),
        ("Torque the bolt to 22.5 +/- 2.5 Nm.", "Torque the bolt.", {"target": "22.5 Nm", "within": "2.5 Nm"}),
        ("Torque the bolt to 20,5-22,5 Nm.", "Torque the bolt.", {"target": "21.5 Nm", "within": "1 Nm"}),
        ("Tighten the nut to 1,200 Nm.", "Tighten the nut to 1,200 Nm.", {"target": ""}),
        ("Torque bolts 1,2 to 22 Nm.", None, {"target": "22 Nm"}),
        ("Measure the gap, 0,25 to 0,35 mm.", "Measure the gap.", {"at_least": "0.25", "at_most": "0.35"}),
        ("Check the temperature is not above 60 °C.", "Check the temperature.", {"at_most": "60", "above": ""}),
        ("Measure the voltage, not less than 24 V.", "Measure the voltage.", {"at_least": "24", "below": ""}),
        ("Measure the voltage, never below 24 V.", "Measure the voltage.", {"at_least": "24", "below": ""}),
        ("Is the voltage below 5 V?", "Is the voltage below 5 V?", {"below": ""}),
        ("If the pressure is below 6 bar go on.", "If the pressure is below 6 bar go on.", {"below": ""}),
        ("Charge until the pack is above 52 V.", "Charge until the pack is above 52 V.", {"above": ""}),
        ("Keep the oil below 60 °C.", "Keep the oil below 60 °C.", {"below": ""}),
        ("Do not torque above 50 Nm.", "Do not torque above 50 Nm.", {"target": ""}),
        ("Loosen the nuts that were torqued to 90 Nm.", "Loosen the nuts that were torqued to 90 Nm.", {"target": ""}),
        ("Torque to 20 Nm, then to 40 Nm.", "Torque to 20 Nm, then to 40 Nm.", {"target": ""}),
    ],
)  # fmt: skip
def test_no_number_is_read_as_another_one_and_no_limit_is_lost(
    text: str, say: str | None, asked: dict[str, str]
) -> None:
    """22,5 Nm was brought in as 5 Nm, "not above 60" as above 60, and "Is the voltage below 5 V?" as "Is the voltage?"."""
    found = understood(text)
    assert say is None or found.say == say
    assert {name: getattr(found, name) for name in asked} == asked
    if "," in text and found.target and "1,2" not in text:
        assert any("decimal comma" in remark for remark in found.remarks)


def test_what_was_not_read_is_told(tmp_path: Path) -> None:
    (tmp_path / "list.md").write_text(
        "# Job\n1. Tighten the nut to 1,200 Nm.\n2. Do not torque above 50 Nm.\n"
    )
    told = " ".join(bring_in_file(tmp_path / "list.md").missing)
    assert "'1,200 Nm' may be thousands" in told
    assert "not asked, the torque in 'Do not torque above 50 Nm.'" in told
    (tmp_path / "list.csv").write_text("step;unit;min;max\nMeasure it;V;0,5;1.200\n")
    assert "'1.200' is read as a fraction and may be thousands" in " ".join(
        bring_in_file(tmp_path / "list.csv").missing
    )


def test_every_decimal_comma_of_a_cell_is_one(tmp_path: Path) -> None:
    """'20,5-22,5 Nm' became a target of '21.25 ,5 Nm'."""
    (tmp_path / "list.csv").write_text(
        "step;torque;unit;min;max\nNut a;22,5 ± 2,5 Nm;;;\nNut b;20,5-22,5 Nm;;;\nMeasure it;;V;> 23,5;29,5\n"
    )
    text = bring_in_file(tmp_path / "list.csv").text
    assert "target: 22.5 Nm\n      within: 2.5 Nm" in text
    assert "target: 21.5 Nm\n      within: 1 Nm" in text
    assert "above: 23.5\n      at_most: 29.5" in text
