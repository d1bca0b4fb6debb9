# ruff: noqa: E501  (tables of cases, one a line)
"""Each family of checks finds what it is for, and stays silent where nothing is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from sayso.procedure.checks import AlikeWords, check
from sayso.procedure.checks.actions import actions
from sayso.procedure.checks.sentences import DESCRIPTION, INSTRUCTION
from sayso.procedure.checks.words_of_work import words
from sayso.procedure.model import Ask
from tests.procedure.kept import problems, with_steps


def said(steps: str, **more: str) -> list[str]:
    return [problem.what for problem in problems(steps, **more)]


@pytest.mark.parametrize(
    ("steps", "what"),
    [
        # branches
        ("- {id: a, say: Good?, ask: {yes_no: g}, then: {yes: b}}\n- {id: b, say: B.}", "no branch for: no"),
        ("- {id: a, say: Good?, ask: {yes_no: g}, then: {yes: b, maybe: b}}\n- {id: b, say: B.}", "'maybe' can never"),
        ("- {id: a, say: A., then: c}\n- {id: b, say: B.}\n- {id: c, say: C.}", "no way leads to the step 'b'"),
        ("- {id: a, say: A.}\n- {id: b, say: B., then: a}", "the job can never end (it goes round: a, b)"),
        ("- {id: a, say: A., ask: {measure: m, unit: V, below: 5}, then: {4: end, otherwise: end}}", "no values to branch"),
        ("- {id: a, say: A., ask: {count: c, from: 1, to: 9}, then: [{if: answers.c > 3, go: end}]}", "may all be false"),
        ("- {id: a, say: A., ask: {yes_no: g}, then: {yes: end, true: end, no: end}}", "are the same answer"),
        ("- {id: a, say: A., ask: {count: c, from: 1, to: 5000}, then: {1: end}}", "no branch for the other answers"),
        ("- {id: a, say: A., ends: over, then: a}", "ends the job and also leads on"),
        ("- {id: a, say: A., not_met: lead hand}", "'not_met' on a question without limits"),
        (
            "- {id: a, say: A., ask: {measure: m, unit: V, below: 5}, not_met: lead hand, out_of_limits: a, then: end}",
            "leads to 'a' and may also be let stand",
        ),
        (
            "- {id: a, caution: {level: warning, say: It burns.}, say: A., ask: {measure: m, unit: V, below: 5}, not_met: lead hand}",
            "it may guard against it",
        ),
        (
            "- {id: a, say: Good?, skip: true, ask: {yes_no: g}, then: {yes: end, no: b}}\n- {id: b, say: B.}",
            "skipped, this step has no answer to branch on: the job goes to 'b'",
        ),
        ("- {id: a, say: 'If it is cracked, go back to step 6.'}", "'go back to step 6' is only spoken"),
        ("- {id: a, say: 'Done? Then continue with step b.'}", "'continue with step b' is only spoken"),
        # conditions
        ("- {id: a, say: A., when: answers.b}\n- {id: b, say: Good?, ask: {yes_no: b}}", "only asked later (line 7)"),
        ("- {id: a, say: A., ask: {yes_no: g}}\n- {id: b, say: B., when: answers.g == yes}", "compared with true or false"),
        (
            "- {id: a, say: A., ask: {yes_no: g}}\n- {id: b, say: B., when: 'answers.g == \"yes\"'}",
            "the answer 'g' is true or false, and never \"yes\"",
        ),
        (
            "- {id: a, say: A., ask: {yes_no: g}}\n- {id: b, say: B., when: 'answers.g in [\"no\"]'}",
            "the answer 'g' is true or false, and never \"no\"",
        ),
        (
            "- {id: a, say: A., ask: {count: n, from: 1, to: 9}}\n- {id: b, say: B., when: 'answers.n in [\"8\"]'}",
            "the answer 'n' is a number, and never the text \"8\"",
        ),
        (
            "- {id: a, say: A., ask: {choice: c, options: [good, oily]}}\n- {id: b, say: B., when: answers.c == true}",
            "the answer 'c' is a text, and never true",
        ),
        ("- {id: a, say: A., when: answers.x == 1, ask: {count: x, from: 1, to: 2}}", "only asked by this step itself"),
        ("- {id: a, say: A., when: 'ground_speed(1000, 20) > 1'}", "ground_speed takes 3 values, not 2"),
        ("- {id: a, say: A., when: 'torque_in(9, \"mm\") > 1'}", "Cannot convert from"),
        ("- {id: a, say: A., when: 'wheel_sped(1) > 1'}", "there is no function 'wheel_sped'"),
        (
            "- {id: a, say: Look., ask: {choice: lining, options: [good, oily]}}\n"
            "- {id: b, say: Clean it., when: answers.lining == 'oilly'}",
            "the answer 'lining' can never be 'oilly'",
        ),
        (
            "- {id: a, say: Count., ask: {count: pins, from: 4, to: 8}}\n"
            "- {id: b, say: Cut it., when: '!(answers.pins in [4, 12])'}",
            "the answer 'pins' can never be '12'",
        ),
        # order of cautions
        ("- {id: a, say: Open it. Do not touch the spring.}", "a warning after the act"),
        ("- {id: a, say: Careful. Open it.}", "a warning inside the step"),
        (
            "- {id: a, say: Lift the controller out.}\n"
            "- {id: b, caution: {level: warning, say: Lift the controller with two people.}, say: Write the label.}",
            "which the step before has done ('a', line 6)",
        ),
        # hazards
        ("- {id: a, say: Lift the battery out.}", "no caution about lifting came before"),
        ("- {id: a, say: Loosen the hose nut.}", "no caution about stored force came before"),
        # units
        ("- {id: a, say: A., ask: {measure: wheel_gap, unit: A, below: 1}}", "the unit 'A' does not fit 'wheel_gap'"),
        ("- {id: a, say: A., ask: {measure: x, unit: N.m, below: 1}}", "a torque is asked as a measure"),
        ("- {id: a, say: A., ask: {torque: t, target: 9 N.m, within: 1 %}}", "tighter than a torque wrench"),
        ("- {id: a, say: A., ask: {torque: t, target: 9 N.m, within: 60 %}}", "lets almost any torque pass"),
        ("- {id: a, say: A., ask: {measure: x, unit: V, plausible: [9, 1], below: 5}}", "wrong way round"),
        ("- {id: a, say: A., ask: {measure: x, unit: V}}", "no limits and no condition uses it"),
        # serials
        ("- {id: a, say: A., ask: {serial: s, pattern: '[a-z]{3}'}}", "no serial of capital letters and digits"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '-{2}'}}", "no serial of capital letters and digits"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '(KD|HX)-[0-9]{2}'}, then: {KD: end}}", "such as 'HX-00'"),
        ("- {id: a, say: A., ask: {serial: s}, then: {KD: end}}", "another beginning leads nowhere"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '(KD|HX)[0-9]{2}'}, then: {KD: end}}", "such as 'HX00'"),
        ("- {id: a, say: A., ask: {serial: s, pattern: 'KD[0-9]{2}'}, then: {KD: end, otherwise: end}}", "never happens"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '(?=A).*'}}", "too complicated to be checked"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '[A-Z{2}[0-9]{4}'}}", "'[' is not closed before the '{'"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '[A-Z]{2}[0-9{4}]'}}", "'[' is not closed before the '{'"),
        ("- {id: a, say: A., ask: {serial: s, pattern: '[A-Z]{2[0-9]'}}", "the '{' is not closed"),
        ("- {id: a, say: A., ask: {serial: s, pattern: 'A-Z]{2}'}}", "the ']' closes nothing"),
        # speech
        ("- {id: a, say: Torque it to 9 N.m.}", "'N.m' is written, not said"),
        ("- {id: a, say: Set it to 5 V.}", "'5 V' is written, not said"),
        ("- {id: a, say: Raise it by 150 mm.}", "'150 mm' is written, not said"),
        ("- {id: a, say: A., ask: {measure: motor_speed, unit: V, below: 1}}", "the unit 'V' does not fit 'motor_speed'"),
        ("- {id: a, say: \"Look at pin #3 → left.\"}", "the voice cannot say # →"),
        ("- {id: a, say: A., ask: {choice: c, options: {x: [20:1], y: [red]}}}", "cannot be heard as it is written"),
        # pictures
        ("- {id: a, say: A., picture: none.png}", "there is no picture 'none.png'"),
    ],
)  # fmt: skip
def test_it_is_found(steps: str, what: str) -> None:
    found = said(steps)
    assert any(what in one for one in found), found


@pytest.mark.parametrize(
    "steps",
    [
        "- {id: a, say: Good?, ask: {yes_no: g}, then: {yes: b, no: end}}\n- {id: b, say: B.}",
        "- {id: a, say: Count them., ask: {count: c, from: 1, to: 3}, then: {1: end, 2: end, 3: end}}",
        "- {id: a, say: A., ask: {serial: s, pattern: '(KD|HX)[0-9]{2}'}, then: {KD: end, HX: end}}",
        # marks between them: the ear has known "dash" and "slash" all along, the check refused such a pattern
        "- {id: a, say: A., ask: {serial: s, pattern: '(KD|HX)-[0-9]{2}/[AB]'}, then: {KD: end, HX: end}}",
        "- {id: a, say: A., ask: {serial: s, pattern: '[0-9]{2} [0-9]{2}.[0-9]'}}",
        "- {id: a, say: Measure it., ask: {measure: m, unit: V, below: 5}, out_of_limits: a, then: end}",
        "- {id: a, caution: {level: warning, say: The battery burns you.}, say: Lift the battery out with the hoist.}\n",
        *(
            f"- {{id: a, say: Measure it., ask: {{measure: {name}, unit: {unit}, at_most: 9}}, out_of_limits: a, then: end}}"
            for name, unit in (("motor_speed", "rpm"), ("steering_play", "degree"), ("current_height", "mm"))
        ),
    ],
)
def test_nothing_is_told_where_nothing_is_wrong(steps: str) -> None:
    assert [one for one in said(steps) if "lifting" not in one] == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Remove the cover and unplug the fan.", ["remove", "unplug"]),
        ("Put your own lock and tag on the connector.", ["put"]),
        ("Loosen the nut, then turn it by half.", ["loosen", "turn"]),
        ("Check that the relay and clamp are tight.", []),
        ("Pull the key out. It stays in your pocket.", ["pull"]),
        ("Drive forward. Does it pull?", ["drive"]),
    ],
)
def test_actions_are_counted_by_their_verbs(text: str, found: list[str]) -> None:
    assert actions(text) == found


def test_sentence_limits_are_those_of_simplified_technical_english() -> None:
    """ASD-STE100: 20 words in a procedural sentence, 25 in a descriptive one; a hyphenated word is one word and
    a number is one word (second hand: see ANCHORS, liquisearch.com, wenjuan.com; hyphen rule from memory)."""
    assert (INSTRUCTION, DESCRIPTION) == (20, 25)
    assert len(words("Torque the M6 left-hand screws to 9.5 newton metres.")) == 9
    exact = "Torque " + "the " * 18 + "screw."
    assert not any("words" in one for one in said(f"- {{id: a, say: {exact}}}"))
    assert any("21 words" in one for one in said(f"- {{id: a, say: Now {exact}}}"))
    why = "It " + "is " * 23 + "so."
    assert not any("words" in one for one in said(f"- {{id: a, say: Go., why: {why}}}"))
    assert any("26 words" in one for one in said(f"- {{id: a, say: Go., why: Now {why}}}"))


class _ShopEar:
    """An ear that knows two things, to see what the checks make of them."""

    def alike(self, ask: Ask) -> Sequence[AlikeWords]:
        return [AlikeWords("worn", "torn", "one sound apart", "used up")]

    def guessed(self, text: str) -> Sequence[str]:
        return [word for word in text.split() if word == "grommelt"]


def test_what_the_ear_says_is_told_at_the_options() -> None:
    found = problems(
        "- {id: a, say: Look., ask: {choice: c, options: {w: [worn], t: [torn], g: [grommelt]}}}",
        ear=_ShopEar(),
    )
    assert [str(problem) for problem in found] == [
        "p.yaml:6:51: warning: 'worn' and 'torn' sound alike (one sound apart); say 'used up' for one of them",
        "p.yaml:6:77: warning: how 'grommelt' is said is guessed from its spelling; "
        "say how under 'words:' at the top, or use another word",
    ]


def test_beginnings_of_serials_that_rhyme_are_told() -> None:
    """B, D and P rhyme: why radio practice spells with code words (ICAO, from memory)."""
    steps = "- {id: a, say: A., ask: {serial: s}, then: {KB: end, KD: end, KX: end, otherwise: end}}"
    found = [p for p in problems(steps) if p.check == "sounds alike"]
    assert [(p.what, p.severity) for p in found] == [("the beginnings 'KB' and 'KD' sound alike", "hint")]


def test_every_text_that_is_not_translated_is_told() -> None:
    found = problems(
        "- {id: a, say: {en: Go., es: Vaya.}}\n- {id: b, say: Stop.}", head="translations: [es]\n"
    )
    assert [(p.place.line, p.severity) for p in found] == [(8, "warning")]


def test_ansi_levels_that_need_an_acknowledgement_are_those_that_can_kill() -> None:
    """ANSI Z535: DANGER will, WARNING could cause death or serious injury; CAUTION minor injury; NOTICE none
    (ANSI Z535.4-2007 4.14, second hand: safetylabel.com)."""
    from sayso.procedure.model import CautionLevel

    assert [level.name for level in CautionLevel if level.needs_acknowledgement] == ["DANGER", "WARNING"]


def test_where_a_skipped_step_leads_may_be_said_although_every_answer_has_its_branch() -> None:
    """Skipped, a step has no answer, so 'otherwise' is no branch too many and its step can be reached."""
    yes_no = (
        "- {id: a, say: Good?, skip: true, ask: {yes_no: g}, then: {yes: end, no: end, otherwise: b}}\n"
        "- {id: b, say: Hang a tag on it.}"
    )
    assert said(yes_no) == []
    serial = (
        "- {id: a, say: Read it., skip: true, ask: {serial: s, pattern: 'K[0-9]{3}'},"
        " then: {K: end, otherwise: b}}\n- {id: b, say: Hang a tag on it.}"
    )
    assert said(serial) == []


def test_a_value_that_one_of_the_steps_which_ask_can_give_is_no_mistake() -> None:
    steps = (
        "- {id: a, say: Look., ask: {choice: side, options: [left, right]}, then: {left: b, right: c}}\n"
        "- {id: b, say: Look., ask: {choice: side, options: [up, down]}}\n"
        "- {id: c, say: C., when: answers.side == 'up' || answers.side != 'left' || size(answers.side) == 9}"
    )
    assert said(steps) == []


def test_for_a_picture_that_is_missing_only_pictures_are_offered(tmp_path: Path) -> None:
    for name in ("other.yaml", "notes.txt", "plug.png"):
        (tmp_path / name).touch()
    file = tmp_path / "p.yaml"
    file.write_text(with_steps("- {id: a, say: A., picture: x.jpg}"))
    (problem,) = check(file)
    assert problem.write == "write one of: plug.png"


def test_a_wait_that_is_no_time_is_told_how_a_time_is_written() -> None:
    """12:30 is minutes and seconds to whoever writes it; no torque unit helps there."""
    (problem,) = problems("- {id: a, say: A., wait: 12:30}")
    assert problem.write == "write it as '30 s', '5 min' or '1 h'"


def test_a_file_that_is_not_there_is_told_by_who_named_it(tmp_path: Path) -> None:
    (problem,) = check(tmp_path / "nope.yaml")
    assert problem.write == "check the path"
    (problem,) = problems("- {include: gone.yaml}")
    assert problem.write == "check the path; it starts from the folder of the file that names it"


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("notes.pdf", "'notes.pdf' is no picture that the page can show"),
        ("../plug.png", "the picture '../plug.png' lies outside the procedure's folder"),
    ],
)
def test_a_picture_that_the_page_would_not_show_is_told(tmp_path: Path, name: str, what: str) -> None:
    """screen/pictures.py serves images of the procedure's own folder only: the technician would see none."""
    (tmp_path / "plug.png").touch()
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "notes.pdf").touch()
    file = tmp_path / "shop" / "p.yaml"
    file.write_text(with_steps(f"- {{id: a, say: A., picture: {name}}}"))
    (problem,) = check(file)
    assert problem.what == what


def test_an_act_that_would_be_told_again_after_its_wait_asks_for_a_question() -> None:
    """'Open the valve half a turn', told a second time, is the valve a whole turn open."""
    step = "- {{id: a, say: {}, wait: 2 min, ask: {{measure: p, unit: bar, below: 1{}}}}}"
    told = "when the time is up the step is told again, as if to open once more"
    assert told in said(step.format("Open the valve half a turn.", ""))
    assert told not in said(step.format("Open the valve half a turn.", ", question: What is the pressure?"))
    assert not any("told again" in one for one in said(step.format("Measure the pressure.", "")))


@pytest.mark.parametrize(
    ("pattern", "told"),
    [
        ("KD*", "'D' any number"),
        ("KD[0-9]*", ""),
        ("(KD)*[0-9]{4}", ""),
        ("[A-Z]{2}[0-9]{6}", ""),
        ("AB?[0-9]{2}", ""),
    ],
)
def test_a_star_behind_a_letter_is_told(pattern: str, told: str) -> None:
    """ "KD*" means K and any number of D; its author meant KD and anything behind it."""
    found = [
        one
        for one in said(f'- {{id: a, say: A., ask: {{serial: s, pattern: "{pattern}"}}}}')
        if "any number" in one
    ]
    assert (len(found) == 1 and told in found[0]) if told else found == []


_ASKS = (
    "- {id: a, say: A., ask: {count: n, from: 4, to: 8}}\n"
    "- {id: v, say: V., ask: {measure: v, unit: V, plausible: [0, 60]}}\n"
    "- {id: l, say: L., ask: {choice: l, options: [good, oily]}}\n"
)


@pytest.mark.parametrize(
    ("condition", "never"),
    [
        ("answers.n > 8", True), ("answers.n >= 8", False), ("answers.n < 4 || answers.v > 60", True),
        ("answers.v > 60.5", True), ("answers.v < -3", True), ("answers.v > -3", False),
        ("answers.n == 4 && answers.n == 8", True), ("answers.n == 4 || answers.n == 8", False),
        ("answers.n > 5 && answers.n < 7", False), ("answers.v > 23.5 && answers.v < 23.6", False),
        ('answers.l == "good" && answers.l == "oily"', True), ('answers.l != "good" && answers.n > 6', False),
        ("double(answers.n) == answers.v", False), ("answers.v - 70.0 > 0.0", False), ("answers.n == 4 && !(answers.n > 5)", False),
    ],
)  # fmt: skip
def test_a_condition_that_no_answers_make_true_is_told(condition: str, never: bool) -> None:
    """The step behind it is silently never done."""
    found = said(f"{_ASKS}- id: z\n  say: Z.\n  when: '{condition}'")
    assert (f"no answer can make this true: {condition}" in found) is never


def test_a_condition_that_another_parameter_makes_true_is_not_told() -> None:
    head = {"head": "parameters: {axle: heavy, most: 9}\n"}
    steps = f'{_ASKS}- id: z\n  say: Z.\n  when: \'answers.n > 4 && "<axle>" == "light"\'\n'
    assert not [
        one
        for one in said(steps + "- id: y\n  say: Y.\n  when: answers.n > <most>", **head)
        if "no answer" in one
    ]
