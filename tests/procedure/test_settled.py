"""What parameters decide before the job. `&&` and `||` need one side: the CEL language definition."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

from sayso.procedure import drawing
from sayso.procedure.card import card
from sayso.procedure.conditions_in_words import condition_in_words
from sayso.procedure.model import Procedure
from sayso.procedure.reading import read_kept
from sayso.procedure.settled import as_settled, truth
from sayso.rehearsal.walk import walk
from tests.procedure.kept import with_steps

STEPS = """
- id: chock
  say: Chock both wheels.
  ask: {yes_no: chocked}
  then:
    - {if: '"<axle>" == "double"', go: second-axle}
    - {if: '!answers.chocked', go: hitch}
    - {otherwise: hitch}
- {id: hitch, say: Look at the hitch., when: 'answers.chocked && "<axle>" == "single"'}
- {id: second-axle, say: Lower the second axle., when: '"<axle>" == "double"'}
- {id: key, say: Hand the key over., when: '"<axle>" != "none"'}
"""


def of_axle(axle: str) -> Procedure:
    text = with_steps(STEPS, "parameters: {axle: single}\n")
    return read_kept({"p.yaml": text}, "p.yaml", parameters={"axle": axle})


class _Words(HTMLParser):
    said = ""

    def handle_data(self, data: str) -> None:
        self.said += f" {data.strip()}"


def told(html: str) -> str:
    parser = _Words()
    parser.feed(html[html.index("<body") :])
    return " ".join(parser.said.split())


@pytest.mark.parametrize(
    ("condition", "known"),
    [
        ('"single" == "double"', False),
        ('"single" != "double"', True),
        ('!("single" == "double")', True),
        ("answers.gap > 1", None),
        ('answers.gap > 1 && "single" == "double"', False),
        ('answers.gap > 1 && "single" == "single"', None),
        ('answers.gap > 1 || "single" == "single"', True),
        ('answers.gap > 1 || "single" == "double"', None),
        ('!(answers.gap > 1 && "single" == "double")', True),
        ('"left" in ["left", "right"]', True),
        ("2 * 3 > 5", True),
        ("[answers.gap].exists(g, g > 1)", None),
        ('"text" > 1', None),
    ],
)
def test_what_no_answer_can_change_is_known_before_the_job(condition: str, known: bool | None) -> None:
    assert truth(condition) is known


def test_a_card_for_a_single_axle_has_nothing_of_the_second_and_says_so() -> None:
    words = told(card(of_axle("single")))
    assert "\u201csingle\u201d" not in words
    assert "Left out, for the values given to this card rule it out: Lower the second axle." in words
    assert words.count("Lower the second axle.") == 1  # told as left out, and no step of the card
    assert "Only when chocked is yes (answered at step 1) Look at the hitch." in words
    assert "Only when" not in words.partition("Look at the hitch.")[2]


def test_a_card_for_a_double_axle_leads_there_without_a_riddle() -> None:
    words = told(card(of_axle("double")))
    assert "1 Chock both wheels. yes / no 2 Lower the second axle." in words  # no other way is left
    assert "rule it out: Look at the hitch." in words


def test_what_is_settled_is_gone_from_the_words_of_a_condition() -> None:
    condition = 'answers.chocked && "single" == "single"'
    assert condition_in_words(condition, of_axle("single")) == "chocked is yes"


@pytest.mark.parametrize("axle", ["single", "double", "none"])
def test_what_is_left_out_is_just_what_the_dialogue_never_comes_to(axle: str) -> None:
    """Against the dialogue itself, which knows nothing of this file: every branch walked."""
    found = of_axle(axle)
    told = {way.source for way in walk(found).ways if way.kind != "passed over"}
    assert {step.id for step in as_settled(found).steps} == told


CALLED = """
- {id: key, say: Hand the key over.}
- id: shims
  say: Look at the shims.
  ask: {yes_no: shims}
  when: '"<axle>" == "double"'
  then: {yes: out, no: call}
- {id: out, say: Clean up., then: end}
- {id: call, say: Call the lead hand., ends: called}
"""


@pytest.mark.parametrize(
    ("axle", "kept"), [("single", ["key", "out"]), ("double", ["key", "shims", "out", "call"])]
)
def test_a_step_that_only_ruled_out_steps_lead_to_is_ruled_out_with_them(axle: str, kept: list[str]) -> None:
    """The card had "Call the lead hand" with no way to it; the walk reported it as not reached."""
    text = with_steps(CALLED, "parameters: {axle: single}\n")
    found = read_kept({"p.yaml": text}, "p.yaml", parameters={"axle": axle})
    assert [step.id for step in as_settled(found).steps] == kept
    coverage = walk(found)
    assert coverage.complete
    assert coverage.all_steps == kept
    drawn = drawing.text(found)
    assert ("passed over always: its parameters rule it out" in drawn) is (axle == "single")
    assert "\u201c" not in drawn  # "unless “double” is “double”" says nothing


def test_a_branch_that_parameters_rule_out_does_not_count_in_a_walk() -> None:
    for axle in ("single", "double", "none"):
        assert walk(of_axle(axle)).complete, axle


def test_a_procedure_without_such_conditions_is_the_very_same() -> None:
    text = with_steps("- {id: a, say: A., ask: {yes_no: g}}\n- {id: b, say: B., when: answers.g}")
    found = read_kept({"p.yaml": text}, "p.yaml")
    assert as_settled(found) is found
