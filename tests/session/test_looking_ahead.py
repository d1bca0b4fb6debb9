"""What is rendered ahead is what is said; what is taught beforehand is what is listened for."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sayso import dialogue
from sayso.dialogue.effects import Listen, Say
from sayso.dialogue.events import Heard, NoInput, NoMatch, Started
from sayso.dialogue.state import State
from sayso.hearing.grammar import normalise
from sayso.procedure.model import Procedure
from sayso.session.completeness import completeness_for
from sayso.session.likely import likely_replies, replies_to
from sayso.session.vocabulary import vocabulary
from tests.session.typed_job import WHOLE_JOB


def begun(procedure: Procedure) -> tuple[State, Listen]:
    state, effects = dialogue.advance(dialogue.begin(procedure), Started(1, "job-1"))
    return state, last_listen(effects)


def last_listen(effects: tuple[Any, ...]) -> Listen:
    return [e for e in effects if isinstance(e, Listen)][-1]


def heard(state: State, words: str) -> tuple[State, tuple[Any, ...]]:
    return dialogue.advance(state, Heard(2, tuple(words.split())))


SPOKEN = ("understood", "done", "three volts", "yes", "eight", "yes", "done")


def test_the_reply_rendered_ahead_is_the_reply_spoken(procedure: Procedure) -> None:
    state, listen = begun(procedure)
    for words in SPOKEN:
        ahead = replies_to(state, words.split(), 2)
        state, effects = heard(state, words)
        assert ahead == tuple(e for e in effects if isinstance(e, Say))
        listen = last_listen(effects)
    assert listen.phrases


def test_the_usual_answers_of_a_question_are_rendered_ahead(procedure: Procedure) -> None:
    state, listen = begun(procedure)
    for words in SPOKEN[:4]:
        state, effects = heard(state, words)
        listen = last_listen(effects)
    ahead = {say.text for say in likely_replies(state, listen, 2)}
    assert "Eight. Yes?" in ahead
    assert "Twelve. Yes?" in ahead


def test_looking_ahead_changes_nothing(procedure: Procedure) -> None:
    state, listen = begun(procedure)
    before = state
    list(likely_replies(state, listen, 2))
    assert state == before
    assert heard(state, "understood") == heard(before, "understood")


walks = st.lists(
    st.sampled_from(
        [*WHOLE_JOB, *SPOKEN, "twelve", "nine newton metres", "hold", "carry on", "stop", "no", "skip",
         "hotel kilo one two three four", "back", "undo", "help", "what was pins", "inch pound wrench",
         "note", "-", "?"]
    ),
    max_size=25,
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(walks)
def test_every_word_that_is_listened_for_was_taught(procedure: Procedure, walk: list[str]) -> None:
    taught = vocabulary(procedure)
    state, listen = begun(procedure)
    for words in walk:
        event = {"-": NoInput(2), "?": NoMatch(2)}.get(words, Heard(2, tuple(words.split())))
        state, effects = dialogue.advance(state, event)
        for listen in (e for e in effects if isinstance(e, Listen)):
            missing = {w for phrase in listen.phrases for w in normalise(phrase)} - taught
            assert not missing


def test_a_count_ends_at_once_and_a_number_that_may_go_on_does_not(procedure: Procedure) -> None:
    state, listen = begun(procedure)
    for words in ("understood", "done", "three volts", "yes"):
        state, effects = heard(state, words)
        listen = last_listen(effects)
    judge = completeness_for(state, listen)
    assert judge(("eight",)).complete
    assert not judge(("eight",)).can_grow
    assert judge(("repeat",)).complete
    assert not judge(("how",)).complete
    assert judge(("how",)).can_grow


def test_at_a_read_back_no_may_be_followed_by_the_right_value(procedure: Procedure) -> None:
    state, listen = begun(procedure)
    for words in ("understood", "done", "three volts", "yes", "eight"):
        state, effects = heard(state, words)
        listen = last_listen(effects)
    judge = completeness_for(state, listen)
    assert judge(("yes",)).complete
    assert not judge(("yes",)).can_grow
    assert judge(("no",)).complete
    assert judge(("no",)).can_grow
    assert judge(("no", "twelve")).complete
