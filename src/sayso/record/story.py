"""What happened in a job: what report and export show. `story_telling` puts it together from the entries."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from sayso.record.hands import people_of, person_at

#: A step that lasted longer was left over a meal or a night without a hold, or the clock was set: no figure
#: counts it.
LONGEST_AT_A_STEP_MS = 4 * 3_600_000


@dataclass(slots=True)
class Given:
    """An answer as it was recorded. Limits are in the unit of the value; None where there is none.

    `confirmed`: how a read-back was answered ('' when it was not read back). `replaced` is true once a
    later answer, or an undo, took its place.
    """

    seq: int
    at_ms: int
    step: str
    name: str
    kind: str
    value: Any
    unit: str
    said: str
    said_value: float | None
    said_unit: str
    within: bool
    confidence: float
    confirmed: str
    critical: bool
    target: float | None = None
    low: float | None = None
    high: float | None = None
    low_included: bool = True
    high_included: bool = True
    fasteners: int = 1
    replaced: bool = False
    #: typed or pressed: nothing was heard, and `confidence` says nothing
    by_keys: bool = False


@dataclass(slots=True)
class Visit:
    """One time that the job came to a step. `left_ms` None while it is open."""

    step: str
    number: int
    entered_ms: int
    left_ms: int | None = None
    held_ms: int = 0
    #: when it was told to a learner who was asked about it first; None where nothing was asked
    told_ms: int | None = None
    answers: list[Given] = field(default_factory=list)
    skipped: str = ""
    #: the entry that skipped it, 0 where it was not
    skipped_seq: int = 0
    no_matches: int = 0
    no_inputs: int = 0
    helps: int = 0
    notes: list[Note] = field(default_factory=list)

    @property
    def answer(self) -> Given | None:
        """The answer that stands."""
        standing = [given for given in self.answers if not given.replaced]
        return standing[-1] if standing else None

    @property
    def working_ms(self) -> int | None:
        """Time at the step without holds, a lost microphone, time at other steps between two stays, the guess
        before it was told, and what the clock jumped; None while it is open. A clock set back counts as no
        time."""
        if self.left_ms is None:
            return None
        since = self.entered_ms if self.told_ms is None else self.told_ms
        return max(0, self.left_ms - since - self.held_ms)


@dataclass(frozen=True, slots=True)
class CautionGiven:
    """`acknowledged_ms` None when it needed none or got none; `said` the words that acknowledged it."""

    step: str
    level: str
    text: str
    told_ms: int
    acknowledged_ms: int | None = None
    said: str = ""
    #: the entry that acknowledged it
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Note:
    step: str
    name: str
    at_ms: int
    clip: str
    seconds: float
    text: str
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Witnessed:
    step: str
    role: str
    name: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class Tool:
    """A measuring tool that was in hand. `until` is the last day of its calibration, '' where nobody told."""

    name: str
    until: str
    overdue: bool
    at_ms: int


@dataclass(frozen=True, slots=True)
class InHand:
    """From the entry `seq` on the job was this person's; '' where nobody was named."""

    person: str
    since_ms: int
    seq: int


@dataclass(frozen=True, slots=True)
class SignedOff:
    """A second person lets a deviation stand. `how` the right was shown: 'code' or 'key'."""

    seq: int
    at_ms: int
    name: str
    role: str
    how: str
    why: str


@dataclass(frozen=True, slots=True)
class NotMet:
    """A value outside its limits was handed over: `released_by` let work go on all the same ('': nobody did,
    the job was held for the lead)."""

    seq: int
    at_ms: int
    reason: str
    released_by: str
    role: str


@dataclass(frozen=True, slots=True)
class Deviation:
    """Something that was not as the procedure wants it. `seq` is its entry; `put_right` the later answer that
    lies within the limits, or for a skipped step the answer given after all; None while it stands."""

    kind: Literal["out of limits", "skipped", "kept", "tool overdue", "not finished"]
    step: str
    at_ms: int
    what: str
    given: Given | None = None
    put_right: Given | None = None
    seq: int = 0
    visit: int | None = None
    signed: SignedOff | None = None
    not_met: NotMet | None = None


@dataclass(frozen=True, slots=True)
class Correction:
    """An answer changed or taken back."""

    step: str
    name: str
    at_ms: int
    before: Any
    after: Any
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Pause:
    """The job was on hold, a microphone or loudspeaker lost, the program was away (`kind` 'resumed'), or
    the clock jumped."""

    kind: Literal["hold", "resumed", "device", "clock"]
    at_ms: int
    until_ms: int | None
    why: str
    #: how far the clock jumped
    lost_ms: int = 0


@dataclass(slots=True)
class Story:
    """A whole job. Times in milliseconds since the Unix epoch."""

    job: str
    opened_ms: int
    procedure: str
    title: str
    revision: int
    procedure_hash: str
    text_sha256: str
    outline_sha256: str
    machine: str = ""
    #: who began it
    person: str = ""
    #: who took it over, in turn; empty when it stayed in one person's hands
    taken_over: list[InHand] = field(default_factory=list)
    bay: str = ""
    #: typed with waits that passed at once: proof of nothing done to a machine
    rehearsal: bool = False
    level: str = ""
    wrench: str = ""
    started_ms: int | None = None
    ended_ms: int | None = None
    outcome: str = ""
    reason: str = ""
    visits: list[Visit] = field(default_factory=list)
    cautions: list[CautionGiven] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    witnesses: list[Witnessed] = field(default_factory=list)
    deviations: list[Deviation] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)
    tools: list[Tool] = field(default_factory=list)
    pauses: list[Pause] = field(default_factory=list)
    passed_over: list[tuple[str, str]] = field(default_factory=list)
    entries: int = 0
    last_ms: int = 0
    head: str = ""

    def person_at(self, seq: int) -> str:
        """Whose the job was at this entry."""
        return person_at(self.person, self._changes, seq)

    @property
    def people(self) -> list[str]:
        """Everybody who worked on it, each once, in the order in which they came."""
        return people_of(self.person, self._changes)

    @property
    def _changes(self) -> list[tuple[int, str]]:
        return [(hand.seq, hand.person) for hand in self.taken_over]

    @property
    def answers(self) -> list[Given]:
        """The answers that stand, in the order of the visits."""
        return [visit.answer for visit in self.visits if visit.answer is not None]

    @property
    def open_deviations(self) -> list[Deviation]:
        """Those that stand, signed off or not."""
        return [deviation for deviation in self.deviations if deviation.put_right is None]

    @property
    def unsigned_deviations(self) -> list[Deviation]:
        """Those that stand and that nobody has signed off."""
        return [deviation for deviation in self.open_deviations if deviation.signed is None]
