"""Where a job stands: one frozen value, cheap to change, equal after a replay."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Literal

from pyrsistent import plist, pmap, pvector
from pyrsistent.typing import PList, PMap, PVector

from sayso.answers.answer import Answer
from sayso.dialogue.plan import Plan
from sayso.dialogue.settings import Settings
from sayso.procedure.model import Procedure, Step

Level = Literal["full", "normal", "brief"]
Value = bool | int | float | str


class Awaiting(StrEnum):
    """What the job needs next from the technician; a step away to a note or a 'stop?' does not change it."""

    START = "start"  #: no Started event yet
    READY = "ready"  #: tools, parts and conditions to hand
    PREDICT = "predict"  #: a learner's guess before the step is told
    CAUTION = "caution"  #: 'understood' to a DANGER or WARNING
    WAIT = "wait"  #: the dwell of the step is not over
    ANSWER = "answer"  #: the answer to the step's question
    CONFIRM = "confirm"  #: yes or no to a read-back
    DEVIATION = "deviation"  #: what to do after a confirmed out-of-limits value
    SETTLE = "settle"  #: undone or kept, for a step done on an abandoned branch
    KEEP_REASON = "keep_reason"  #: why that step is kept
    STILL_HOLDS = "still_holds"  #: steps done before the branch changed are met again on the new way
    ENDED = "ended"


class Aside(StrEnum):
    """A short exchange beside the step; when it is over the step's question is asked again."""

    STOP = "stop"
    SKIP_REASON = "skip_reason"
    NOT_MET_REASON = "not_met_reason"  #: why a value stays outside its limits
    NOT_MET_CODE = "not_met_code"  #: who lets it stand
    NOT_MET_CONFIRM = "not_met_confirm"  #: yes or no to that person and value
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Visit:
    """One time that the job came to a step. `answer` and `skipped` are empty until it is finished."""

    step: str
    answer: Answer | None = None
    skipped: str = ""
    #: cautions of the step that are dealt with on this visit: told, and acknowledged where that is needed
    cautions: int = 0
    #: the step itself was told: work on it may have begun
    begun: bool = False
    #: epoch ms when the dwell ends; 0 while it has not begun, -1 when it is over
    due_ms: int = 0

    @property
    def finished(self) -> bool:
        return self.answer is not None or self.skipped != ""


@dataclass(frozen=True, slots=True)
class Pending:
    """An answer read back and not confirmed yet. `half_yes`: an unsure "yes" was heard to it. `offered`: it
    is a guess at words that were not understood."""

    answer: Answer
    confidence: float
    spelled: bool = False
    half_yes: bool = False
    offered: bool = False


@dataclass(frozen=True, slots=True)
class Tries:
    """Counts of the question being asked, set back to nothing whenever a question is entered
    (VoiceXML 2.1 keeps the same counts per field)."""

    no_input: int = 0
    no_match: int = 0
    rejected: tuple[Value, ...] = ()
    spelling: bool = False
    wrong_codes: int = 0


@dataclass(frozen=True, slots=True)
class Effort:
    """What one finished step showed. Seconds; the shop's quartiles are 0 where too few jobs are known, and
    where the step was interrupted, so that its time is compared with nothing."""

    seconds: float
    asked: int
    missed: int
    lower_s: float = 0.0
    upper_s: float = 0.0


@dataclass(frozen=True, slots=True)
class HeardLast:
    words: tuple[str, ...] = ()
    confidence: float = 0.0
    used: bool = False
    typed: bool = False  #: by a key or on a keyboard
    written: bool = False  #: the last words were typed; a key between changes nothing


@dataclass(frozen=True, slots=True)
class Target:
    """Where the job goes next: a step, or (step empty) its end with `outcome`."""

    step: str = ""
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class State:
    procedure: Procedure = field(compare=False, repr=False)
    plan: Plan = field(compare=False, repr=False)
    settings: Settings = field(default_factory=Settings)

    # the job
    job: str = ""
    machine: str = ""
    #: who does the job now
    person: str = ""
    #: everybody who has worked on it, in the order in which they came: none of them is its second person
    people: tuple[str, ...] = ()
    bay: str = ""
    started_ms: int = 0
    witnesses: tuple[tuple[str, str], ...] = ()
    outcome: str = ""
    #: a quiz: a changed answer leaves nothing to undo
    only_said: bool = False
    #: run by typing since it was begun or taken up
    at_keyboard: bool = False

    # where it stands
    awaiting: Awaiting = Awaiting.START
    aside: Aside | None = None
    trail: PVector[Visit] = field(default_factory=pvector)
    #: index in the trail of the step being talked about
    at: int = -1
    values: PMap[str, Value] = field(default_factory=pmap)
    #: answer name -> index in the trail of the visit that gave it
    given_at: PMap[str, int] = field(default_factory=pmap)
    #: names of the latest answers, newest last, few: what 'what was ...' offers
    recent: tuple[str, ...] = ()
    #: indices in the trail of the answers accepted, newest first: what 'undo' takes back
    accepted: PList[int] = field(default_factory=plist)

    # the question being asked
    pending: Pending | None = None
    tries: Tries = Tries()
    #: the value outside its limits that was confirmed at this step
    deviation: Answer | None = None
    #: how surely it was heard, and how it was confirmed
    deviation_confidence: float = 0.0
    deviation_confirmed: str = ""
    #: why it is not met, while it is being handed over
    not_met: str = ""

    # a changed way
    carried: PMap[str, Visit] = field(default_factory=pmap)
    to_settle: tuple[Visit, ...] = ()
    after_settle: Target = Target()
    again: tuple[str, ...] = ()

    # timers: name -> index in the trail
    timers: PMap[str, int] = field(default_factory=pmap)

    # conduct
    held: bool = False
    device_lost: str = ""
    noisy: bool = False
    noise_told: bool = False
    #: by how many decibels it was too loud when that was noticed last
    noise_over: float = 0.0
    level: Level = "normal"
    quiet: bool = False
    rate: float = 1.0
    volume: float = 1.0
    wrench: str = "N.m"
    notes: int = 0
    note_closing: bool = False

    # how it goes, for a proposal of more or less detail
    #: (step, lower, upper quartile of its time in this shop, seconds)
    usual: tuple[tuple[str, float, float], ...] = ()
    efforts: tuple[Effort, ...] = ()
    asked_here: int = 0
    missed_here: int = 0
    #: when the step in hand was told; 0 when it was interrupted and its time says nothing
    entered_ms: int = 0
    proposed: tuple[str, ...] = ()

    # asking before telling
    #: questions about steps (predictions.Question.id) that may still be asked before telling, in this job
    ask_first: tuple[str, ...] = ()
    questions_off: bool = False
    #: the one being asked
    predicting: str = ""
    #: its first guess, when that was wrong
    first_guess: Value | None = None
    #: how to be told instead was said once
    predicting_explained: bool = False

    # the voice
    utterance: int = 0
    finished_utterance: int = 0
    cut: bool = False
    saying: str = ""
    heard: HeardLast = HeardLast()
    problem: str = ""

    @property
    def visit(self) -> Visit:
        """The visit being talked about. Only while a step is being worked on (`at` >= 0)."""
        return self.trail[self.at]

    @property
    def step(self) -> Step:
        return self.procedure.step(self.visit.step)

    @property
    def at_step(self) -> bool:
        return self.at >= 0

    @property
    def standing(self) -> PList[int]:
        """`accepted` from the newest answer that stands. One taken back, or cut off with an abandoned branch,
        may be newer: its index has no visit any more, or one without an answer."""
        accepted = self.accepted
        while accepted and not (accepted.first < len(self.trail) and self.trail[accepted.first].finished):
            accepted = accepted.rest
        return accepted

    @property
    def on_hold(self) -> bool:
        return self.held or self.device_lost != ""

    @property
    def speaking(self) -> bool:
        return self.finished_utterance < self.utterance and not self.cut

    @property
    def threshold(self) -> float:
        return self.settings.confidence_noisy if self.noisy else self.settings.confidence

    def as_json(self) -> dict[str, Any]:
        """All of the state but the procedure's text; `snapshot.from_json` makes it a state again."""
        from sayso.dialogue.snapshot import as_json  # snapshot knows every type of this file

        return as_json(self)
