"""Every branch of every demo procedure is walked through the real dialogue."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.procedure import read
from sayso.rehearsal.walk import walk
from tests.procedure.kept import procedure

DEMOS = Path(__file__).parents[2] / "procedures"


@pytest.mark.parametrize("file", sorted(DEMOS.glob("*.yaml")), ids=lambda f: f.stem)
def test_all_steps_and_branches_of_the_demo_can_be_taken(file: Path) -> None:
    coverage = walk(read(file))
    assert coverage.missed_steps == []
    assert [f"{way.source} {way.label} -> {way.target}" for way in coverage.missed_ways] == []
    assert coverage.surprises == []
    assert coverage.jobs


def test_a_wrench_in_pounds_takes_the_same_ways() -> None:
    coverage = walk(read(DEMOS / "wren-48-wheel-bearing.yaml"), wrench="lbf.ft")
    assert coverage.complete, coverage.report()


def test_a_branch_that_no_answer_can_take_is_reported() -> None:
    """The gap may be 1 to 2, so it is never above 5: a check of text alone cannot see that."""
    coverage = walk(
        procedure(
            """
            - id: a
              say: Measure the gap.
              ask: {measure: gap, unit: mm, at_least: 1, at_most: 2, plausible: [0, 3]}
              then: [{if: answers.gap > 5, go: b}, {otherwise: end}]
            - {id: b, say: B.}
            """
        )
    )
    assert coverage.missed_steps == ["b"]
    assert "not taken: a answers.gap > 5 -> b" in coverage.report()
    assert not coverage.complete


@pytest.mark.parametrize(("variant", "ruled_out"), [("double", []), ("single", ["second-seal"])])
def test_what_the_parameters_rule_out_does_not_count(variant: str, ruled_out: list[str]) -> None:
    """No job of this variant can take those ways: a walk that took all others was told as 60 %."""
    coverage = walk(
        procedure(
            """
            - {id: seal, say: Fit the seal.}
            - {id: second-seal, say: Fit the second seal., when: '"<variant>" == "double"'}
            - {id: cover, say: Fit the cover.}
            """,
            head=f"parameters: {{variant: {variant}}}\n",
        )
    )
    assert coverage.complete, coverage.report()
    assert coverage.ruled_out == ruled_out
    told = "does not apply here: step second-seal (by a parameter, by no answer)"
    assert (told in coverage.report()) is bool(ruled_out)


def test_conditions_on_several_answers_before_are_walked_with_all_that_matter() -> None:
    coverage = walk(
        procedure(
            """
            - {id: pins, say: Count., ask: {count: pins, from: 1, to: 20}}
            - {id: axle, say: Which?, ask: {choice: axle, options: {heavy: [heavy], light: [light]}}}
            - {id: both, say: Both., when: answers.pins == 12 && answers.axle == "light"}
            - {id: not-both, say: Not., when: '!(answers.pins == 12 && answers.axle == "light")'}
            """
        )
    )
    assert coverage.complete, coverage.report()


def test_conditions_on_serials_are_walked_with_serials_that_decide_them() -> None:
    """The old part's number again, and a beginning that only a condition names, here and further on."""
    coverage = walk(
        procedure(
            """
            - id: old
              say: Read the old serial.
              ask: {serial: old, pattern: "[A-Z]{2}[0-9]{3}"}
            - id: new
              say: Read the new serial.
              ask: {serial: new, pattern: "[A-Z]{2}[0-9]{3}"}
              then:
                - {if: answers.new == answers.old, go: same}
                - {if: 'answers.new.startsWith("CB") && !answers.old.startsWith("CB")', go: adapter}
                - {otherwise: label}
            - {id: same, say: That is the old one., then: new}
            - {id: adapter, say: Fit the adapter.}
            - id: label
              say: Fit the label.
            - {id: warn, say: Fit the red label., when: 'answers.old.startsWith("KX")'}
            """
        )
    )
    assert coverage.complete, coverage.report()


def test_a_serial_with_a_dash_in_it_is_walked() -> None:
    coverage = walk(
        procedure(
            """
            - id: pump
              say: Read the serial of the pump.
              ask: {serial: pump, pattern: "(KP|KS)-[0-9]{5}"}
              then: {KP: seal, KS: end}
            - {id: seal, say: Fit the seal.}
            """
        )
    )
    assert coverage.complete, coverage.report()
