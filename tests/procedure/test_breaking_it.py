# ruff: noqa: E501  (tables of cases, one a line)
"""A fifteen-step procedure broken in many ways: each time the place, the fault and what to write."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.procedure import check, read
from sayso.procedure.problems import Problem, ProcedureError
from tests.procedure.fifteen_steps import FIFTEEN
from tests.procedure.kept import problems


def problems_of(tmp_path: Path, text: str) -> list[Problem]:
    file = tmp_path / "hitch.yaml"
    file.write_text(text, encoding="utf-8")
    return check(file)


def test_the_unbroken_procedure_has_nothing_to_put_right(tmp_path: Path) -> None:
    assert problems_of(tmp_path, FIFTEEN) == []
    assert len(read(tmp_path / "hitch.yaml").steps) == 15


# (what was done to it, old text, new text, line, column, piece of what is said, piece of what to write, severity)
BREAKS = [
    ("key misspelt", "    then: support", "    than: support", 24, 5, "'than' is not known", "'then'", "error"),
    ("target misspelt", "then: support", "then: suport", 24, 11, "no step 'suport'", "'support'", "error"),
    ("say left out", "    say: Pull the pin.\n", "", 22, 5, "'say' is missing", "add 'say", "error"),
    ("say left empty", "say: Pull the pin.", "say:", 23, 5, "'say' is empty", "write its value", "error"),
    ("id with capitals", "id: pin-out\n", "id: Pin Out\n", 22, 9, "'Pin Out' has a form", "'pin-out'", "error"),
    ("id used twice", "id: spacer", "id: chock", 42, 9, "'chock' is used twice", "another id", "error"),
    ("a tab", "    say: Chock", "\tsay: Chock", 13, 1, "a tab", "spaces", "error"),
    ("key twice", "    say: Chock both rear wheels.", "    say: A.\n    say: B.", 14, 5, "written twice", "keep one", "error"),
    ("quote left open", '"The hitch weighs thirty kilograms. It crushes feet."}', '"The hitch weighs.}', 28, 36, "ends only in line 40", "close it", "error"),
    ("quote left open over lines", "say: Chock both", "say: \"Chock both", 13, 10, "ends only in line 28", "close it", "error"),
    ("quote in braces left open", '"The hitch weighs thirty kilograms. It crushes feet."}', '"The hitch weighs thirty kilograms.}', 28, 36, "ends only in line 40", "close it", "error"),
    ("apostrophe left open in braces", '"The hitch weighs thirty kilograms. It crushes feet."}', "'The hitch weighs thirty kilograms.}", 28, 36, "a quote or bracket that opens here is never closed", "close it", "error"),
    ("brace left open", "HA: spacer, otherwise: hitch-on}", "HA: spacer, otherwise: hitch-on", 41, 11, "the '{' that opens here is not closed", "write the '}'", "error"),
    ("a brace too many", "otherwise: hitch-on}", "otherwise: hitch-on}}", 41, 44, "stands behind the closing '}': '}'", "remove it", "error"),
    ("pattern without quotes", 'pattern: "[A-Z]{2}[0-9]{4}"', "pattern: [A-Z]{2}[0-9]{4}", 40, 42, "a pattern without quotes", 'write pattern: "[A-Z]{2}[0-9]{4}"', "error"),
    ("hyphen of a step left out", "  - id: spacer", "    id: spacer", 42, 5, "'id' is written twice in one step", "'- id: ...'", "error"),
    ("hyphen left out, id at its place", "  - id: spacer", "  id: spacer", 42, 3, "has no '- ' in front", "'- id: ...'", "error"),
    ("hyphen left out, id at the margin", "  - id: spacer", "id: spacer", 42, 1, "has no '- ' in front", "'- id: ...'", "error"),
    ("answers as a list", "then: {HA: spacer, otherwise: hitch-on}", "then: [HA: spacer, otherwise: hitch-on]", 41, 11, "are no list", "{8: step-id", "error"),
    ("count of less than none", "from: 2, to: 4", "from: -2, to: 4", 32, 31, "a count begins at nothing, not at -2", "from: 0", "error"),
    ("colon left out", "    say: Chock both rear wheels.", "    say Chock both rear wheels.", 13, 5, "'say Chock both rear wheels.' has no ': '", "'key: value'", "error"),
    ("no blank after the colon", "    say: Chock", "    say:Chock", 13, 5, "has no ': '", "'key: value'", "error"),
    ("comma in a text in braces", '"The hitch weighs thirty kilograms. It crushes feet."}', "It weighs much, it crushes.}", 28, 52, "'it crushes.' stands alone after a comma", "quotes", "error"),
    ("decimal comma", "at_least: 0.5", "at_least: 0,5", 52, 52, "'5' stands alone after a comma", "0.25", "error"),
    ("backslash in double quotes", '"[A-Z]{2}[0-9]{4}"', '"[A-Z]{2}\\d{4}"', 40, 51, "a backslash inside", "[0-9] for \\d", "error"),
    ("half a text made a comment", "say: Chock both rear wheels.", "say: Chock wheel #2 and wheel #3.", 13, 10, "no part of the text: '#2 and wheel #3.'", "in quotes", "warning"),
    ("no-break space", "    say: Chock", "  \xa0 say: Chock", 13, 3, "a no-break space", "plain spaces", "error"),
    ("no-break space behind a hyphen", "  - id: pin-out", "  -\xa0id: pin-out", 22, 4, "a no-break space", "plain spaces", "error"),
    ("torque and tolerance in one, and a tolerance", "target: 50 N.m", "target: 50 N.m +/- 5", 48, 40, "holds the tolerance too", "'within: 5 N.m'", "error"),
    ("limit by another name", "at_least: 0.5", "min: 0.5", 52, 40, "the key 'min' is not known", "'at_least'", "error"),
    ("count by another name", "from: 2, to: 4", "min: 2, max: 4", 32, 25, "the key 'min' is not known", "'from'", "error"),
    ("warning as a key", "    say: Chock", "    warning: It rolls.\n    say: Chock", 13, 5, "the key 'warning' is not known", "caution: {level: warning", "error"),
    ("instruction by another name", "say: Pull the pin.", "text: Pull the pin.", 23, 5, "the key 'text' is not known", "'say'", "error"),
    ("id with an umlaut", "id: pin-out\n", "id: prüfen\n", 22, 9, "'prüfen' has a form", "'prufen'", "error"),
    ("dash for a hyphen", "  - id: pin-out", "  – id: pin-out", 22, 3, "another sign than a hyphen", "'- '", "error"),
    ("typeset quotes", '"[A-Z]{2}[0-9]{4}"', "“[A-Z]{2}[0-9]{4}”", 40, 42, "a typeset quote", "straight", "error"),
    ("caution level in capitals", "level: warning", "level: WARNING", 28, 22, "'WARNING' is not known", "'warning'", "error"),
    ("caution level of no standard", "level: warning", "level: warnign", 28, 22, "'warnign' is not known", "'warning'", "error"),
    ("torque without a unit", "target: 50 N.m", "target: 50", 48, 40, "no unit", "N.m", "error"),
    ("torque without a tolerance", ", within: 10 %", "", 48, 11, "no tolerance", "within: 10 %", "error"),
    ("no tolerance, and a target that is none", "target: 50 N.m, within: 10 %", 'target: "1,200 N.m"', 48, 40, "1,200", "write 1200 or 1.200", "error"),
    ("decimal comma in a torque", "target: 50 N.m", 'target: "9,5 N.m"', 48, 40, "has a comma", "write a point: 9.5", "error"),
    ("torque in pounds of mass", "target: 50 N.m", "target: 50 kg", 48, 40, "no torque", "lbf.ft", "error"),
    ("tolerance in volts", "within: 10 %", "within: 10 V", 48, 56, "neither a torque nor", "10 %", "error"),
    ("gap in volts", "unit: mm", "unit: V", 52, 36, "does not fit 'ball_gap'", "mm", "error"),
    ("unit that is none", "unit: mm", "unit: mmm", 52, 36, "'mmm' is not known", "write a unit", "error"),
    ("limits crossed", "at_least: 0.5", "at_least: 2.5", 52, 64, "leave no value", "correct", "error"),
    ("plausible within the limits", "at_most: 1.5}", "at_most: 1.5, plausible: [0.6, 1.4]}", 52, 80, "below the limit 0.5 or above the limit 1.5 counts as not plausible", "beyond the limits", "warning"),
    ("choice without a branch", "{pin: pin-out, ball: ball-off}", "{pin: pin-out}", 21, 11, "no branch for: ball", "otherwise", "error"),
    ("branch nobody can answer", "{2: bolts-out, 4:", "{2: bolts-out, 6:", 33, 26, "'6' can never be answered", "4", "error"),
    ("serials left over", "{HA: spacer, otherwise: hitch-on}", "{HA: spacer}", 41, 11, "no branch for a serial such as 'AA0000'", "otherwise", "error"),
    ("prefix that no serial has", "{HA: spacer", "{H9: spacer", 41, 12, "starts with 'H9'", "beginning that fits", "error"),
    ("condition on an unknown answer", "answers.hitch ==", "answers.hich ==", 50, 11, "asks for the answer 'hich'", "'hitch'", "error"),
    ("condition that is no CEL", 'answers.hitch == "ball"', "answers.hitch = ball", 50, 25, "not a CEL expression", "answers.pins == 8", "error"),
    ("text compared with a number", 'answers.hitch == "ball"', "answers.bolts == \"four\"", 50, 11, "mixes kinds", "numbers with numbers", "error"),
    ("ring without an end", "    say: Unscrew the ball.", "    say: Unscrew the ball.\n    then: ball-off", 25, 9, "never end", "out of the ring", "error"),
    ("unreachable step", "{HA: spacer, otherwise: hitch-on}", "{HA: hitch-on, otherwise: hitch-on}", 42, 9, "no way leads to the step 'spacer'", "lead a branch", "error"),
    ("two actions", "Take out all bolts.", "Take out all bolts, then lower the hitch.", 35, 10, "2 actions", "a step of each", "warning"),
    ("sentence too long", "Lower the old hitch.", "Lower the old hitch " + "very " * 17 + "slowly.", 37, 10, "22 words", "at most 20", "warning"),
    ("warning after the act", "say: Raise the new hitch.", "say: Raise the new hitch. Never stand under it.", 45, 10, "a warning after the act", "caution:", "warning"),
    ("two questions in one step", "{count: bolts,", "{count: bolts, yes_no: ok,", 32, 25, "asks one thing", "a step of each", "error"),
    ("count the wrong way round", "from: 2, to: 4", "from: 4, to: 2", 32, 31, "holds no number", "swap", "error"),
    ("revision in words", "revision: 1", "revision: first", 3, 11, "whole number", "digits", "error"),
    ("limits asked of nothing", ", at_least: 0.5, at_most: 1.5", "", 53, 20, "without limits", "give limits", "error"),
    ("regular expression left open", '"[A-Z]{2}[0-9]{4}"', '"[A-Z{2}(0-9"', 40, 42, "no regular expression", "like", "error"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "what", "write", "severity"),
    [pytest.param(*case[1:], id=case[0].replace(" ", "-")) for case in BREAKS],
)
def test_each_break_is_told_at_its_place(
    tmp_path: Path, old: str, new: str, line: int, column: int, what: str, write: str, severity: str
) -> None:
    assert FIFTEEN.count(old) == 1, "the text to break must be there once"
    found = problems_of(tmp_path, FIFTEEN.replace(old, new))
    fitting = [p for p in found if what in p.what]
    assert fitting, [str(p) for p in found]
    problem = fitting[0]
    assert (problem.place.line, problem.place.column) == (line, column), str(problem)
    assert write in problem.write, str(problem)
    assert problem.severity == severity
    assert problem.place.file.endswith("hitch.yaml")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("\tsay: Chock it.", "7:1: a tab indents this line"),
        ("  \xa0 say: Chock it.", "7:3: a no-break space"),
    ],
)
def test_a_blank_that_is_none_is_told_at_its_line_in_the_last_line_too(
    tmp_path: Path, line: str, told: str
) -> None:
    """libyaml ends there, so the line before was told, as text that wants quotes."""
    head = "procedure: x\ntitle: X\nrevision: 1\ndefers_to: The manual.\nsteps:\n  - id: a\n"
    (problem,) = problems_of(tmp_path, head + line + "\n")
    assert f":{told}" in str(problem)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("HA: spacer, otherwise: hitch-on}", "HA: spacer, otherwise: hitch-on"),
        ("  - id: spacer", "    id: spacer"),
        ("then: {HA: spacer, otherwise: hitch-on}", "then: [HA: spacer, otherwise: hitch-on]"),
        ('"The hitch weighs thirty kilograms. It crushes feet."}', "It rolls, slips, and crushes feet.}"),
    ],
)
def test_one_slip_of_the_pen_is_one_error(tmp_path: Path, old: str, new: str) -> None:
    errors = [p for p in problems_of(tmp_path, FIFTEEN.replace(old, new)) if p.severity == "error"]
    assert len(errors) == 1, [str(p) for p in errors]


@pytest.mark.filterwarnings("error")
def test_of_a_bracket_in_brackets_our_own_words_are_told_and_none_of_pythons(tmp_path: Path) -> None:
    found = problems_of(tmp_path, FIFTEEN.replace('"[A-Z]{2}[0-9]{4}"', '"[[A-Z]{2}[0-9]{4}"'))
    assert ["is not closed before" in p.what for p in found if p.severity == "error"] == [True]


def test_a_chapter_in_one_step_is_told_in_one_line(tmp_path: Path) -> None:
    chapter = "say: " + "Close the lid. Lift the arm. " * 40
    found = problems_of(tmp_path, FIFTEEN.replace("say: Chock both rear wheels.", chapter))
    assert found
    assert all(len(str(p)) < 300 for p in found), [str(p) for p in found]


def test_six_breaks_at_once_are_told_in_one_pass_and_in_file_order(tmp_path: Path) -> None:
    text = FIFTEEN
    for old, new in (
        ("revision: 1", "revision: first"),
        ("id: pin-out\n", "id: Pin Out\n"),
        ("level: warning", "level: warnign"),
        ("from: 2, to: 4", "from: 4, to: 2"),
        ("target: 50 N.m", "target: 50"),
        ("unit: mm", "unit: mmm"),
    ):
        text = text.replace(old, new)
    found = [p for p in problems_of(tmp_path, text) if p.severity == "error"]
    assert len(found) == 6, [str(p) for p in found]
    assert [p.place.line for p in found] == sorted(p.place.line for p in found)


#: Five kinds of mistake, of which the first three once hid the others: (old text, new text, what is told, line).
FIVE = (
    ("revision: 1", "revision: first", "whole number", 3),
    ("    then: support", "    than: support\n    wait: soon", "'than' is not known", 24),
    (
        "    then: support",
        "    than: support\n    wait: soon",
        "time 'soon' does not start with a number",
        25,
    ),
    ("{2: bolts-out, 4:", "{2: bolts-owt, 6:", "no step 'bolts-owt'", 34),
    ("{2: bolts-out, 4:", "{2: bolts-owt, 6:", "'6' can never be answered", 34),
    ("target: 50 N.m, within: 10 %", "target: 50 kg, within: 10 V", "no torque", 49),
    ("target: 50 N.m, within: 10 %", "target: 50 kg, within: 10 V", "neither a torque nor", 49),
    ("answers.hitch ==", "answers.hich ==", "asks for the answer 'hich'", 51),
)


@pytest.mark.parametrize(
    ("codes", "told"),
    [
        ('{"27a6": R Tarn}', "the code '27a6' cannot be said digit by digit; write digits only, as '2746'"),
        ('{"2746": ""}', "the code '2746' is nobody's; write the person's name beside it"),
    ],
)
def test_a_code_that_nobody_could_say_or_that_is_nobodys(codes: str, told: str) -> None:
    """It passed the check, and the job stood at its hold point."""
    (found,) = problems(f"- {{id: a, say: Look., ask: {{witness: w, role: lead hand, codes: {codes}}}}}")
    assert str(found).endswith(told)


def test_five_mistakes_of_different_kinds_are_all_told_in_one_pass(tmp_path: Path) -> None:
    text = FIFTEEN
    for old, new in dict.fromkeys((old, new) for old, new, _, _ in FIVE):
        assert text.count(old) == 1
        text = text.replace(old, new)
    found = [p for p in problems_of(tmp_path, text) if p.severity == "error"]
    for _, _, what, line in FIVE:
        assert [p.place.line for p in found if what in p.what] == [line], (what, [str(p) for p in found])
    # and nothing that only follows from them: the step that '2' should lead to is not called unreachable
    others = [str(p) for p in found if not any(what in p.what for _, _, what, _ in FIVE)]
    assert others == []


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        # the whole step that misspells a key is looked at
        ("- {id: a, sya: A., ask: {measure: gap, unit: mmm, below: 5}, when: 'answers.x = 1', then: c}",
         ["'sya' is not known", "'mmm' is not known", "not a CEL expression", "no step 'c'"]),
        ("- {id: a, sya: A., then: [{if: answers.n > 1, go: c}, {otherwise: d}], out_of_limits: e}",
         ["'sya'", "no step 'c'", "no step 'd'", "no step 'e'"]),
        # two keys missing in one place
        ("- {id: a, say: A., ask: {count: n}}", ["'from' is missing", "'to' is missing"]),
        # a placeholder that nothing fills hides no wrong target
        ("- {id: a, say: Fit the <part>.}\n- {id: b, say: B., then: c}", ["'<part>' is neither", "no step 'c'"]),
        # an unknown target hides no condition on an answer that nobody gives
        ("- {id: a, say: A., then: c}\n- {id: b, say: B., when: answers.x == 1}", ["no step 'c'", "the answer 'x'"]),
    ],
)  # fmt: skip
def test_one_mistake_does_not_hide_another(steps: str, told: list[str]) -> None:
    found = [p.what for p in problems(steps) if p.severity == "error"]
    assert len(found) == len(told), found
    for what in told:
        assert any(what in one for one in found), (what, found)


@pytest.mark.parametrize(
    ("old", "new", "line", "what"),
    [
        ("    say: Raise the new hitch.", "\tsay: Raise the new hitch.", 45, "a tab"),
        ("say: Raise the new hitch.", 'say: "Raise the new hitch.', 45, "the quote that opens here"),
        ("say: Raise the new hitch.", "say: Raise: the new hitch.", 45, "a second ': '"),
    ],
)
def test_where_the_form_breaks_off_the_steps_before_are_looked_at_all_the_same(
    tmp_path: Path, old: str, new: str, line: int, what: str
) -> None:
    text = FIFTEEN
    for before, after in (
        (old, new),
        ("revision: 1", "revision: first"),
        ("    then: support", "    than: support"),
        ("{2: bolts-out, 4:", "{2: bolts-out, 6:"),
        ("from: 2, to: 4", "from: 2, too: 4"),
    ):
        assert text.count(before) == 1
        text = text.replace(before, after)
    found = problems_of(tmp_path, text)
    assert [p.place.line for p in found if what in p.what] == [line], [str(p) for p in found]
    told = [(p.place.line, p.what) for p in found if p.severity == "error" and what not in p.what]
    assert told == [
        (3, "'revision' must be a whole number, not 'first'"),
        (24, "the key 'than' is not known here"),
        (32, "the key 'too' is not known here"),
    ]


def test_an_answer_that_a_broken_step_asks_for_is_not_called_unknown() -> None:
    steps = "- {id: a, sya: A., ask: {count: x, from: 1, to: 2}}\n- {id: b, say: B., when: answers.x == 1}"
    assert not any("'x'" in problem.what for problem in problems(steps))
    # nor is one that a file may ask for which is not there
    steps = "- {include: gone.yaml}\n- {id: b, say: B., when: answers.x == 1, then: gone}"
    assert [p.what for p in problems(steps) if p.severity == "error"] == [
        "the file 'gone.yaml' cannot be read (it was not kept with the others)"
    ]


def test_reading_a_broken_file_raises_with_every_error(tmp_path: Path) -> None:
    file = tmp_path / "hitch.yaml"
    file.write_text(FIFTEEN.replace("target: 50 N.m", "target: 50").replace("unit: mm", "unit: mmm"))
    with pytest.raises(ProcedureError) as raised:
        read(file)
    assert len(raised.value.problems) == 2
    assert str(raised.value).startswith(f"{file}:48:40: ")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "say: Raise the new hitch.",
            "sya: Raise the new hitch.",
            "45:5: the key 'sya' is not known here; write 'say'",
        ),
        (
            "say: Raise the new hitch.",
            "say\u200b: Raise the new hitch.",
            "45:5: the key 'say\u200b' is not known here: it holds a sign that is not shown (U+200B); write 'say'",
        ),
        ("{count: bolts,", "{cuont: bolts,", "32:11: 'cuont' is no kind of answer; write 'count'"),
    ],
)
def test_a_slip_in_a_key_is_one_error_and_not_what_follows_from_it_too(
    tmp_path: Path, old: str, new: str, told: str
) -> None:
    """Not 'say' is missing besides, nor that no step asks for the answer whose kind is misspelt."""
    assert FIFTEEN.count(old) == 1
    text = FIFTEEN.replace(old, new) + "  - {id: last, say: Mark it., when: answers.bolts == 4}\n"
    found = [str(p).partition("hitch.yaml:")[2] for p in problems_of(tmp_path, text) if p.severity == "error"]
    assert found == [told]


@pytest.mark.parametrize(
    ("step", "what", "write"),
    [
        ("ask: [count, pins]", "'ask' must be {kind: name, ...}, not a list", "write {count: pins}"),
        (
            "caution: It burns.",
            "'caution' needs a level and a text",
            'write {level: warning, say: "It burns."}',
        ),
        (
            "ask: {choice: c, options: [good, oily]}\n  then: {good: end, else: end}",
            "'else' can never be answered here",
            "write 'otherwise'",
        ),
        ("predict: {question: Which way?, right: left}", "'wrong' is missing", "add 'wrong: ...'"),
        ("brief: '  '", "'brief' is empty", "write its value, or remove it"),
        (
            "caution: {level:notice, say: It is hot.}",
            "it has no blank after its ':'",
            "write 'level: notice'",
        ),
        (
            "ask: {measure: m, unit: V, plausible: [60]}",
            "'plausible' needs two values, the lowest and the highest",
            "write them as [0, 60]",
        ),
    ],
)
def test_a_value_of_another_form_is_told_with_the_form_that_is_meant(
    step: str, what: str, write: str
) -> None:
    (problem,) = (p for p in problems(f"- id: a\n  say: A.\n  {step}") if p.severity == "error")
    assert what in problem.what
    assert problem.write == write


def test_the_id_that_is_offered_is_one_that_a_step_can_have() -> None:
    found = problems("- {id: a, say: A., then: pin-out}\n- {id: Pin Out 2, say: B.}")
    assert [p.write for p in found if "no step" in p.what] == ["write 'pin-out-2'"]


def test_a_language_that_is_no_code_is_told_once_and_not_at_every_text() -> None:
    (problem,) = (p for p in problems("- {id: a, say: A.}", "language: English\n") if p.severity == "error")
    assert problem.write == "write a language code of two or three letters, as 'en'"


@pytest.mark.parametrize(
    ("target", "write"),
    [
        ("80 Nm ± 8 Nm", "write 'target: 80 Nm' and 'within: 8 Nm'"),
        ("80 Nm +/- 8", "write 'target: 80 Nm' and 'within: 8 Nm'"),
        ("80 Nm (± 10 %)", "write 'target: 80 Nm' and 'within: 10 %'"),
        ("80 ± 8 Nm", "write 'target: 80 Nm' and 'within: 8 Nm'"),
    ],
)
def test_a_tolerance_written_behind_the_target_is_told_where_it_goes(
    tmp_path: Path, target: str, write: str
) -> None:
    """It was told that there is no tolerance, before the eyes of whoever had just written it."""
    text = (
        "procedure: cap\ntitle: Cap\nrevision: 1\ndefers_to: The maker's manual comes first.\nsteps:\n"
        f"  - id: cap\n    say: Torque the cap.\n    ask: {{torque: cap, target: {target}}}\n"
    )
    (problem,) = [p for p in problems_of(tmp_path, text) if p.severity == "error"]
    assert f"target '{target}' holds the tolerance too; {write}" in str(problem)
    assert ":8:" in str(problem)
