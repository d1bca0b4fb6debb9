"""A scripted technician who answers what is asked, not what a script expects next: it cannot get out of step.

What is true of the machine is kept in `Fact`s, and a fact may change once something was done to the machine
("60 ohms, after the missing termination was fitted"). `answer` is pure: from all that was said so far it
works out what a technician says now. `by_voice` says it into the microphone.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from sayso.bench.technician import TURN_SILENCE_S, LostThreadError, Technician

REACTION_S = 0.2
#: A person who gets no reply for so long says it again.
PATIENCE_S = 9.0

WAIT = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """To what matches `asked` the technician says `say`, and knows the read-back by `read_back`.

    `after`: only true once sayso has told a step that matches it. Later facts win over earlier ones.
    """

    asked: str
    say: str
    read_back: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Whim:
    """Something said once, the first time that `to` is asked, in place of the answer."""

    to: str
    say: str


@dataclass
class Knowledge:
    """What the technician knows and has in mind; one for each job, whatever restarts in between."""

    facts: Sequence[Fact]
    whims: Sequence[Whim] = ()
    told: list[str] = field(default_factory=list)
    #: the last question that was no read-back and no request to say it again
    question: str = ""
    used: set[Whim] = field(default_factory=set)


#: (what sayso says, what anybody answers): talk about the talk, whatever the job. First match wins.
_MANNERS: tuple[tuple[str, str], ...] = (
    (r"^On hold\b.*|.*\bOn hold\. Say carry on", "carry on"),
    (r"Say understood to go on|^Say understood, got it", "understood"),
    (r"Say ready\b|^Ready\?", "ready"),
    (r"Stop the job for good|^Stop, yes or no|^Say yes to end the job", "no"),
    (r"^Why is it skipped|^The reason, please|^You can say not fitted", "do not skip"),
    (r"^Speak your note|end note to close|^I am listening for the note", "end note"),
    (r"say keep it\.$|keep it\?$", "keep it"),
    (
        r"^Does that still hold|Does that still hold\? Yes or no|^Does it still hold|^Say yes if that work",
        "yes",
    ),
    (r"I will ask when the time is up|^Not yet\.|left\.$|^Ask how long", WAIT),
)
#: Asked again in other words: the question itself is the one before.
_AGAIN = (
    r"^Again, please|^Say yes or no|^I need|^You can say|^Spell it|^Use the keys|^Say done when|^Once more"
    r"|^Say it digit by digit|^Say only the number|^Say the hour, then"
    r"|^Going on|^Not skipped|^Note kept|^No note|^The job is not on hold|^Carrying on\.|^Say the serial"
    r"|^I do not|^Not \w.* now:|^It has become loud|^Too loud here|^Say yes, or no|^At any time|^This step"
    r"|^The procedure gives|^Measure again|^I lost the|^The (loudspeaker|microphone) is back|^Not recorded"
)
#: Said before a question, never the question.
_ECHO = (
    r"^(Confirmed|Done|Yes|No|Recorded as out of limits|The time is up|Step \d+ of|Target|Slower|Louder)\b"
)


def answer(said: Sequence[str], knowledge: Knowledge) -> str:
    """What to say to the sentences that were just spoken; WAIT says nothing."""
    knowledge.told.extend(said)
    lines = [line for line in said if line]
    if not lines:
        return WAIT
    last = lines[-1]
    for pattern, reply in _MANNERS:
        if re.search(pattern, last, re.IGNORECASE):
            return reply
    if re.search(r"\bYes\?$", last):
        return _to_read_back(last, knowledge)
    asked = [line for line in lines if not re.search(_AGAIN, line)]
    if asked and not all(re.search(_ECHO, line) for line in asked):
        knowledge.question = " ".join(asked[-3:])
    whim = next((w for w in knowledge.whims if w not in knowledge.used and _fits(w.to, last)), None)
    if whim is not None:
        knowledge.used.add(whim)
        return whim.say
    fact = fact_for(knowledge)
    return fact.say if fact is not None else "done"


def fact_for(knowledge: Knowledge) -> Fact | None:
    """What is true of the question in hand, after all that was done to the machine; None: just do it."""
    true_now = [f for f in knowledge.facts if not f.after or any(_fits(f.after, t) for t in knowledge.told)]
    return next((f for f in reversed(true_now) if _fits(f.asked, knowledge.question)), None)


def _to_read_back(read_back: str, knowledge: Knowledge) -> str:
    fact = fact_for(knowledge)
    if fact is None:  # a misheard 'done' or 'understood' that is read back
        return "yes" if re.search(r"^(done|understood)\b", read_back, re.IGNORECASE) else "no"
    return "yes" if _fits(fact.read_back or fact.say, read_back) else "no"


def _fits(pattern: str, text: str) -> bool:
    return re.search(pattern, text, re.IGNORECASE) is not None


def by_voice(
    technician: Technician,
    knowledge: Knowledge,
    *,
    timeout_s: float,
    until: str = "",
    watch: Callable[[str, str], None] = lambda asked, said: None,
) -> None:
    """Answers aloud until sayso ends, or says something that matches `until`. Raises LostThreadError."""
    program, deadline, mark, last = technician.program, time.monotonic() + timeout_s, 0, ""
    while time.monotonic() < deadline:
        news = program.wait_for(lambda line: line.who == "sayso", PATIENCE_S, mark)
        if news is None:
            if not program.running:
                return
            if last != WAIT:
                technician.say(last)
            continue
        # All that is said in one breath is printed together; more may follow while the voice still speaks.
        technician.loudspeaker.wait_for_sound(5.0, news.at - 0.1)
        if technician.loudspeaker.wait_for_silence(TURN_SILENCE_S, deadline - time.monotonic()) is None:
            break
        said = [line.text for line in program.said_since(mark)]
        mark = len(program.lines)
        if until and any(_fits(until, line) for line in said):
            return
        last = answer(said, knowledge)
        watch(said[-1] if said else "", last)
        if last != WAIT and program.running:
            time.sleep(REACTION_S)
            technician.say(last)
    raise LostThreadError(f"not finished in {timeout_s:.0f} s\n{technician.transcript()}")
