# ruff: noqa: E501  (tables of cases, one a line)
"""A job that was done, replayed from its events against another revision."""

from __future__ import annotations

import json

from sayso import dialogue
from sayso.dialogue.codec import event_from_json, event_to_json
from sayso.dialogue.events import Event, Heard, Started
from sayso.procedure import read_kept
from sayso.procedure.model import Procedure
from sayso.rehearsal.against_revision import against_revision
from tests.procedure.fifteen_steps import FIFTEEN

SAID = ["ready", "done", "done", "a ball", "done", "understood", "done", "four", "yes", "done", "done", "hotel alpha one two three four",
        "yes", "done", "done", "fifty", "yes", "zero point nine"]  # fmt: skip


def kept(text: str) -> Procedure:
    return read_kept({"p.yaml": text}, "p.yaml")


def events(said: list[str]) -> list[Event]:
    """Through JSON and back, as they come from a journal."""
    told: list[Event] = [Started(0, "job-1", person="Tam")]
    told += [Heard(1000 * (n + 1), tuple(words.split())) for n, words in enumerate(said)]
    return [event_from_json(json.loads(json.dumps(event_to_json(event)))) for event in told]


def told(change: tuple[str, str], said: list[str] = SAID) -> list[str]:
    assert FIFTEEN.count(change[0]) == 1
    return [str(one) for one in against_revision(kept(FIFTEEN), kept(FIFTEEN.replace(*change)), events(said))]


def test_the_job_of_this_test_is_a_whole_job() -> None:
    assert dialogue.replay(kept(FIFTEEN), events(SAID)).outcome == "complete"


def test_the_same_text_would_have_gone_the_same_way() -> None:
    assert against_revision(kept(FIFTEEN), kept(FIFTEEN), events(SAID)) == []


def test_a_branch_that_leads_elsewhere_is_told_with_what_would_not_have_been_done() -> None:
    found = told(("{HA: spacer, otherwise: hitch-on}", "{HA: hitch-on, otherwise: spacer}"))
    assert found == ["step spacer: was done, and would not be"]


def test_a_new_step_would_have_been_done() -> None:
    found = told(("  - id: hitch-off\n", "  - id: look\n    say: Look at the eyes.\n  - id: hitch-off\n"))
    assert found == ["step look: would be done, and was not: Look at the eyes."]


def test_a_new_question_ends_the_comparison_because_nobody_knows_its_answer() -> None:
    found = told(
        (
            "  - id: hitch-off\n",
            "  - id: eyes\n    say: Count the eyes.\n    ask: {count: eyes, from: 1, to: 4}\n  - id: hitch-off\n",
        )
    )
    assert found[0] == "step eyes: would be asked, and nobody knows the answer: Count the eyes."
    assert "step torque: was done, and would not be" in found


def test_a_limit_that_is_tighter_now_takes_the_other_way() -> None:
    found = told(("at_least: 0.5, at_most: 1.5}", "at_least: 1.0, at_most: 1.5}"))
    assert any("torque" in one for one in found), found


def test_an_answer_that_is_no_answer_any_more_is_told() -> None:
    found = told(("ball: [a ball]", "ball: [the round one]"))
    assert any("step hitch-type: the answer of that day would not be taken" in one for one in found), found


def test_what_lies_ahead_of_an_open_job_was_left_out_by_nobody() -> None:
    """Each step that an open job had still to come to was told as 'would be done, and was not'."""
    up_to_the_bolts = SAID[:9]
    assert told(("Lower the old hitch.", "Let the old hitch down."), up_to_the_bolts) == []
    here = "step bolts-out: here the job stands; it says now: Take them all out."
    assert told(("Take out all bolts.", "Take them all out."), up_to_the_bolts) == [here]
    branch = ("{2: bolts-out, 4: bolts-out,", "{2: bolts-out, 4: hitch-off,")
    assert told(branch, up_to_the_bolts) == [
        "step hitch-off: the open job would come here next: Lower the old hitch."
    ]


LEFT_AS_IT_IS = """
procedure: left-as-it-is
title: Left as it is
revision: 1
steps:
  - id: look
    say: Count the plates.
    ask: {count: plates, from: 1, to: 9}
    skip: true
    then: {otherwise: nut}
  - id: nut
    say: Torque the nut.
    ask: {torque: nut, target: 9 N.m, within: 10 %}
    not_met: lead hand
  - id: clean
    say: Clean it.
    skip: true
  - id: seen
    say: The lead hand looks now.
    ask: {witness: seen_by, role: lead hand, codes: {"2746": R Tarn}}
"""
LEFT = ["skip", "not fitted", "five", "yes", "not met", "damaged", "two seven four six", "yes", "skip",
        "no part", "two seven four six", "yes"]  # fmt: skip


def test_a_value_let_stand_and_skipped_steps_go_the_same_way_again() -> None:
    """ "Would be asked, and nobody knows the answer", and each step behind it "was done, and would not be"."""
    was = kept(LEFT_AS_IT_IS)
    assert dialogue.replay(was, events(LEFT)).outcome == "complete"
    assert against_revision(was, was, events(LEFT)) == []


def test_what_a_revision_no_longer_lets_stand_or_skip_is_told_there() -> None:
    was = kept(LEFT_AS_IT_IS)
    for line, what in (
        ("    not_met: lead hand\n", "'five' is outside the limits of 'nut', and nobody may let it stand"),
        ("    skip: true\n    then: {otherwise: nut}\n", "the step 'look' could not be skipped"),
    ):
        first = against_revision(was, kept(LEFT_AS_IT_IS.replace(line, "")), events(LEFT))[0]
        assert first.what == f"the answer of that day would not be taken: {what}"
