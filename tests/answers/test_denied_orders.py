"""What was said not to be done is not done: "never done", "isn't done", "don't stop" are no orders."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sayso.answers import NotUnderstood, understand
from sayso.answers.denials import DENIALS
from sayso.answers.done import DONE
from sayso.dialogue.control_words import SYNONYMS, match
from sayso.procedure.model import AskDone
from sayso.session.phrases import denials_of

ASK = AskDone("isolated")
#: What synthetic voices' denials came back as, and what is left of others.
REMAINS = ("the done", "there are done", "got complete", "no done", "done stop", "done done not", "is done")
ORDERS = tuple(p for phrases in (*SYNONYMS.values(), DONE) for p in phrases)
NEGATIONS = ("not", "don't", "do not", "never", "no", "isn't", "not yet", "nearly", "can't", "when")


def test_what_was_left_of_a_denial_is_not_done() -> None:
    for said in REMAINS:
        assert isinstance(understand(ASK, tuple(said.split())), NotUnderstood), said


@given(st.sampled_from(NEGATIONS), st.sampled_from(ORDERS), st.booleans())
def test_an_order_beside_a_denial_is_neither_an_order_nor_done(denial: str, order: str, before: bool) -> None:
    words = tuple((f"{denial} {order}" if before else f"{order} {denial}").split())
    if " ".join(words) in ORDERS:  # "not so loud" is an order of its own
        return
    assert isinstance(understand(ASK, words), NotUnderstood)
    assert match(words) is None or match(words).name  # type: ignore[union-attr]


@given(st.sampled_from(DONE), st.text("abcdefghijklmnopqrstuvwxyz'", min_size=1, max_size=8), st.booleans())
def test_done_beside_any_word_that_is_no_interjection_is_not_done(done: str, word: str, first: bool) -> None:
    from sayso.answers.done import _AROUND

    words = (word, *done.split()) if first else (*done.split(), word)
    if word in _AROUND or word in " ".join(DONE).split():
        return
    assert isinstance(understand(ASK, words), NotUnderstood)


def test_every_single_word_that_acts_has_its_denials_in_the_grammar() -> None:
    lexicon = {word: ("X",) for word in DENIALS}
    found = denials_of(("stop", "done", "twelve", "carry on"), lexicon)
    assert set(found) == {f"{d} {w}" for d in DENIALS for w in ("stop", "done")}
