"""The control words: what may be said at any time to drive the job itself, with plain synonyms of the trade.

They were chosen by ear and by how people at a bench talk; no standard's table was copied or is claimed.
An answer's own words always win over a control word (`collisions` lists where that happens), save in a
spoken note, where every word would be an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from sayso.answers.words import lowered
from sayso.procedure.model import Place, Procedure


class Control(StrEnum):
    REPEAT = "repeat"
    SLOWER = "slower"
    FASTER = "faster"
    LOUDER = "louder"
    SOFTER = "softer"
    FEWER_WORDS = "fewer_words"
    MORE_WORDS = "more_words"
    MORE_DETAIL = "more_detail"
    LESS_DETAIL = "less_detail"
    BACK = "back"
    SKIP = "skip"
    HOLD = "hold"
    CARRY_ON = "carry_on"
    HOW_FAR = "how_far"
    HOW_LONG = "how_long"
    WHAT_WAS = "what_was"
    CHANGE = "change"
    NOTE = "note"
    END_NOTE = "end_note"
    UNDO = "undo"
    HELP = "help"
    WHY = "why"
    CAUTION_AGAIN = "caution_again"
    STOP = "stop"
    CALL_LEAD = "call_lead"
    ARE_YOU_THERE = "are_you_there"
    NEWTON_METRE_WRENCH = "newton_metre_wrench"
    FOOT_POUND_WRENCH = "foot_pound_wrench"
    INCH_POUND_WRENCH = "inch_pound_wrench"
    NOT_MET = "not_met"
    QUESTIONS_OFF = "questions_off"
    QUESTIONS_ON = "questions_on"


#: The first phrase of each is the one that help speaks. WHAT_WAS and CHANGE take an answer's name after them.
SYNONYMS: Mapping[Control, tuple[str, ...]] = {
    Control.REPEAT: ("repeat", "say again", "say that again", "come again", "pardon", "once more"),
    Control.SLOWER: ("slower", "slow down", "talk slower", "not so fast"),
    Control.FASTER: ("faster", "speed up", "talk faster", "quicker"),
    Control.LOUDER: ("louder", "speak up", "volume up", "turn it up"),
    Control.SOFTER: ("softer", "not so loud", "volume down", "turn it down"),
    Control.FEWER_WORDS: ("fewer words", "quiet mode", "keep it short"),
    Control.MORE_WORDS: ("more words", "quiet mode off", "normal talk"),
    Control.MORE_DETAIL: ("more detail", "tell me more", "explain more"),
    Control.LESS_DETAIL: ("less detail", "i know this", "just the question"),
    Control.BACK: ("back", "go back", "previous step", "step back"),
    Control.SKIP: ("skip", "skip this", "skip step", "leave it out"),
    Control.HOLD: ("hold", "hold on", "wait a minute", "take a break", "pause"),
    Control.CARRY_ON: ("carry on", "okay sayso", "ok sayso", "keep going", "i am back", "keep it"),
    Control.HOW_FAR: ("how far am i", "how far", "where am i", "how many left", "which step"),
    Control.HOW_LONG: ("how long", "how much longer", "time left", "how long left"),
    Control.WHAT_WAS: ("what was", "what did i say for"),
    Control.CHANGE: ("change", "correct"),
    Control.NOTE: ("note", "take a note", "make a note"),
    Control.END_NOTE: ("end note", "end of note", "note done"),
    Control.UNDO: ("undo", "undo that", "take that back", "scratch that"),
    Control.HELP: ("help", "what can i say", "what are the choices"),
    Control.WHY: ("why", "why is that", "what for", "give me the reason"),
    Control.CAUTION_AGAIN: ("say the warning", "say the caution", "what is the danger"),
    Control.STOP: ("stop", "stop the job", "end the job", "quit the job"),
    Control.CALL_LEAD: ("call the lead", "get the lead", "i need the lead"),
    Control.ARE_YOU_THERE: ("are you there", "can you hear me", "still there"),
    Control.NEWTON_METRE_WRENCH: ("newton metre wrench", "newton meter wrench", "metric wrench"),
    Control.FOOT_POUND_WRENCH: ("foot pound wrench", "foot pounds wrench", "pound foot wrench"),
    Control.INCH_POUND_WRENCH: ("inch pound wrench", "inch pounds wrench", "pound inch wrench"),
    # Listened for only after a value was confirmed to be outside its limits.
    Control.NOT_MET: ("not met", "it is not met", "cannot be reached", "hand it over"),
    # Listened for only while there is something left to ask before telling.
    Control.QUESTIONS_OFF: ("questions off", "leave out the questions", "do not ask me"),
    Control.QUESTIONS_ON: ("questions on", "ask me first", "ask me again"),
}

#: Controls that take the name of an answer after their words.
NAMED = (Control.WHAT_WAS, Control.CHANGE)

#: While the job is on hold nothing else acts: talk to a colleague must not drive it.
WAKE = (Control.CARRY_ON, Control.ARE_YOU_THERE)
#: 'keep it' and 'i am back' come up in talk too easily to end a hold.
WAKE_PHRASES: Mapping[Control, tuple[str, ...]] = {
    Control.CARRY_ON: ("carry on", "okay sayso", "ok sayso"),
    Control.ARE_YOU_THERE: ("are you there", "are you there sayso"),
}

#: "Stop stop stop" is one order.
_SAID_IN_HASTE = ({"stop"}, {"hold"})

#: Typed, more may stand behind these in one line: "stop, the hook slipped", "note: the paint is scratched".
TYPED_BEFORE_TEXT: Mapping[str, Control] = {
    "stop": Control.STOP,
    "hold": Control.HOLD,
    "note": Control.NOTE,
}

#: What help speaks, in this order, after the choices of the question.
HELP_ORDER = (
    Control.REPEAT,
    Control.BACK,
    Control.UNDO,
    Control.WHY,
    Control.HOW_FAR,
    Control.NOTE,
    Control.HOLD,
    Control.STOP,
)


@dataclass(frozen=True, slots=True)
class Match:
    control: Control
    #: the rest of the words, for WHAT_WAS and CHANGE: the name of an answer as spoken
    name: str = ""


Extra = tuple[tuple[str, str], ...]


@lru_cache(maxsize=64)
def synonyms(extra: Extra = ()) -> Mapping[Control, tuple[str, ...]]:
    """All phrases of each control, a shop's or a procedure's own `(control, phrase)` pairs after ours.

    Raises ValueError for a control name that there is not.
    """
    added: dict[Control, tuple[str, ...]] = dict(SYNONYMS)
    for name, phrase in extra:
        control = Control(name)
        added[control] = (*added[control], " ".join(phrase.lower().split()))
    return added


@lru_cache(maxsize=64)
def _by_phrase(extra: Extra) -> Mapping[str, Control]:
    return {
        phrase: control
        for control, phrases_ in synonyms(extra).items()
        if control not in NAMED
        for phrase in phrases_
    }


def match(words: Iterable[str], extra: Extra = ()) -> Match | None:
    """The control that the whole utterance means, or None: a control word within other talk is not one."""
    said = lowered(tuple(words))  # typed it may be "Stop!"
    text = " ".join(said)
    control = _by_phrase(extra).get(text)
    if control is None and set(said) in _SAID_IN_HASTE:
        control = _by_phrase(extra).get(said[0])
    if control is not None:
        return Match(control)
    for named in NAMED:
        for phrase in synonyms(extra)[named]:
            if text.startswith(phrase + " "):
                name = text[len(phrase) + 1 :].removeprefix("the ")
                return Match(named, name)
    return None


def typed_before_text(words: Iterable[str]) -> tuple[Control, str] | None:
    """The order with which a typed line begins, and the text behind it."""
    first, *rest = " ".join(words).split(maxsplit=1) or [""]
    control = TYPED_BEFORE_TEXT.get(first.lower().strip(".,;:!?"))
    return (control, rest[0]) if control is not None and rest else None


def match_wake(words: Iterable[str]) -> Control | None:
    """The control that these words mean while the job is on hold: only the wake phrases count."""
    text = " ".join(lowered(tuple(words)))
    return next((control for control, phrases_ in WAKE_PHRASES.items() if text in phrases_), None)


def phrases(controls: Iterable[Control], names: Iterable[str] = (), extra: Extra = ()) -> tuple[str, ...]:
    """The grammar of `controls`; `names` are the answers that 'what was ...' and 'change ...' may name."""
    names = tuple(names)
    found: dict[str, None] = {}
    for control in controls:
        for phrase in synonyms(extra)[control]:
            if control in NAMED:
                for name in names:
                    found[f"{phrase} {name}"] = None
                    found[f"{phrase} the {name}"] = None
            else:
                found[phrase] = None
    return tuple(found)


def wake_phrases() -> tuple[str, ...]:
    return tuple(phrase for group in WAKE_PHRASES.values() for phrase in group)


@dataclass(frozen=True, slots=True)
class Collision:
    """An answer of a step is also a control word: the answer wins there."""

    step: str
    place: Place
    phrase: str
    control: Control

    def __str__(self) -> str:
        others = [p for p in SYNONYMS[self.control] if p != self.phrase]
        return (
            f"{self.place}: '{self.phrase}' is an answer here and also the control word for "
            f"{self.control.value.replace('_', ' ')}; the answer wins; write other words for the answer, "
            f"or tell people to say '{others[0] if others else self.phrase}'"
        )


def collisions(
    procedure: Procedure, answer_phrases: Callable[..., Iterable[str]], extra: Extra = ()
) -> list[Collision]:
    """Where an answer's own words equal a control word. `answer_phrases` is `sayso.answers.phrases`."""
    by_phrase = _by_phrase(extra)
    return [
        Collision(step.id, step.place, phrase, by_phrase[phrase])
        for step in procedure.steps
        for phrase in answer_phrases(step.ask)
        if phrase in by_phrase
    ]
