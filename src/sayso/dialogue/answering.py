"""What was said to the question of a step: an answer, a control word, or neither."""

from __future__ import annotations

from sayso.answers.answer import Answer, NotUnderstood
from sayso.dialogue import (
    accepting,
    asked,
    asking,
    controls,
    late_corrections,
    noting,
    reading_back,
    waiting,
)
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Awaiting
from sayso.dialogue.turn import Turn
from sayso.procedure.model import AskDone, AskNote, AskWitness

_KIND_WORDS = {
    "yes_no": "a yes or a no",
    "choice": "one of the choices",
    "count": "a count",
    "measure": "a reading",
    "torque": "the torque that the wrench reads",
    "serial": "a serial",
    "time": "a time of day",
    "note": "a spoken note",
    "witness": "a second person's name or code",
}


def heard(turn: Turn, spoken: Spoken) -> None:
    """An answer's own words win over a control word that sounds the same."""
    state = turn.state
    ask = state.step.ask
    if isinstance(ask, AskNote):
        _note(turn, spoken)
        return
    result = asked.understood(state, ask, spoken.words)
    if isinstance(result, Answer):
        _offered(turn, result, spoken)
    elif controls.tried(turn, spoken):
        return
    elif asked.means_done(spoken.words):
        _explain_done(turn)
    elif (other := _among_alternatives(turn, spoken)) is not None:
        reading_back.begin(turn, other, 0.0)
    elif isinstance(ask, AskWitness) and asked.is_code(spoken.words):
        _wrong_code(turn, result)
    elif before := late_corrections.name_of_answer_before(state, spoken):
        asking.no_match(turn, late_corrections.way_back(before))
    else:
        asking.no_match(turn, result.say)


def heard_while_waiting(turn: Turn, spoken: Spoken) -> None:
    """The dwell runs: talk is answered, an early answer is refused with the time that is left."""
    if not waiting.begin_or_go_on(turn):
        turn.update(awaiting=Awaiting.ANSWER)
        heard(turn, spoken)
        return
    state = turn.state
    early = asked.means_done(spoken.words) or isinstance(
        asked.understood(state, state.step.ask, spoken.words), Answer
    )
    if early:
        waiting.too_early(turn)
    elif not controls.tried(turn, spoken):
        asking.no_match(turn)


def _offered(turn: Turn, answer: Answer, spoken: Spoken) -> None:
    state = turn.state
    if reading_back.own_witness(turn, answer):
        return
    before = late_corrections.name_of_answer_before(state, spoken)
    if before:
        turn.say(late_corrections.which_is_asked(state, before), "read_back")
    if before or reading_back.is_needed(turn, answer, spoken):
        reading_back.begin(turn, answer, spoken.confidence)
    else:
        accepting.accept(turn, answer, spoken.confidence)


def _among_alternatives(turn: Turn, spoken: Spoken) -> Answer | None:
    """A legal answer that the recogniser thought less likely; it is always read back.

    A wrong code stays one: the right one that sounds like it would release a hold point with a plain yes."""
    state = turn.state
    if isinstance(state.step.ask, AskWitness) and asked.is_code(spoken.words):
        return None
    for words in spoken.alternatives:
        result = asked.understood(state, state.step.ask, words)
        if isinstance(result, Answer) and not isinstance(state.step.ask, AskDone):
            return result
    return None


def _explain_done(turn: Turn) -> None:
    turn.say(f"This step asks for {_KIND_WORDS.get(turn.state.step.ask.kind, 'an answer')}.", "no_match")
    asking.no_match(turn)


def _wrong_code(turn: Turn, result: NotUnderstood) -> None:
    wrong = asking.count_wrong_code(turn, "wrong witness code")
    if wrong is not None:
        turn.say(f"{wrong} wrong codes. Call the lead. The job waits at this hold point.", "alert")
        return
    turn.say(result.say or "That code is not known. Once more.", "no_match")


def _note(turn: Turn, spoken: Spoken) -> None:
    """Free speech: every word would be an answer, so control words come first here."""
    if controls.tried(turn, spoken):
        return
    if spoken.key:  # the pedal's 'done' says that the note is spoken, and is not what was seen
        noting.close(turn)
    elif spoken.clip or spoken.typed:
        value = spoken.clip or " ".join(spoken.words)
        accepting.accept(turn, Answer("note", value, said=spoken.words), spoken.confidence)
