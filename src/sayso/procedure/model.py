"""What a procedure is once it has been read: frozen values that the dialogue runs.

The YAML (with includes, loops, parameters, translations) is read and checked elsewhere in this
folder and *resolved* into these types: every text is one plain string in the language asked for,
every loop is unrolled, every step has an id of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

#: What a step may show. SVG may hold script, but not where it is shown: neither as <img> nor under the page's
#: Content-Security-Policy.
PICTURE_KINDS = frozenset({".png", ".jpg", ".jpeg", ".webp", ".gif", ".svg"})


class CautionLevel(StrEnum):
    """Signal words of ANSI Z535.6, most severe first (definitions: ANSI Z535.4 section 4.14)."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"

    @property
    def needs_acknowledgement(self) -> bool:
        """DANGER and WARNING can kill or maim: the technician must answer before the step is read."""
        return self in (CautionLevel.DANGER, CautionLevel.WARNING)


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a procedure file; lines and columns count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Caution:
    level: CautionLevel
    say: str


# --- the kinds of answer a step may ask for ---------------------------------------------------


@dataclass(frozen=True, slots=True)
class AskDone:
    """'done' (and its synonyms): the default when a step asks nothing else."""

    name: str
    read_back: bool = False
    kind: Literal["done"] = "done"


@dataclass(frozen=True, slots=True)
class AskYesNo:
    name: str
    read_back: bool = False
    kind: Literal["yes_no"] = "yes_no"


@dataclass(frozen=True, slots=True)
class Option:
    """One choice: `value` is recorded and branched on, `words` are the phrases that mean it."""

    value: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AskChoice:
    name: str
    options: tuple[Option, ...]
    read_back: bool = False
    kind: Literal["choice"] = "choice"


@dataclass(frozen=True, slots=True)
class AskCount:
    """A whole number from `low` to `high`, both included."""

    name: str
    low: int
    high: int
    read_back: bool = False
    kind: Literal["count"] = "count"


@dataclass(frozen=True, slots=True)
class AskMeasure:
    """A measured value. Limits are in `unit` (any pint unit); None means no limit on that side.

    `below`/`above` exclude the limit itself, `at_least`/`at_most` include it. A value outside the
    limits is a finding, not a mishearing: it is recorded as a deviation once confirmed.
    `low`/`high` bound what is plausible at all (also the grammar): outside them it is asked again.
    `may_not_know`: "tell me" is an answer too (a quiz), recorded as 0 with these words.
    """

    name: str
    unit: str
    below: float | None = None
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    low: float | None = None
    high: float | None = None
    read_back: bool = False
    may_not_know: bool = False
    kind: Literal["measure"] = "measure"


@dataclass(frozen=True, slots=True)
class AskTorque:
    """A torque hit with a wrench; `target`, `low` and `high` in newton metres.

    `unit` is the unit the procedure states ('N.m', 'lbf.ft', 'lbf.in'); sayso speaks and accepts
    the unit of the wrench in hand, which the technician may change by voice.
    """

    name: str
    target: float
    low: float
    high: float
    unit: str = "N.m"
    fasteners: int = 1
    read_back: bool = True
    kind: Literal["torque"] = "torque"


@dataclass(frozen=True, slots=True)
class AskSerial:
    """Letters and digits; `pattern` is a regular expression the whole serial must match."""

    name: str
    pattern: str | None = None
    read_back: bool = True
    kind: Literal["serial"] = "serial"


@dataclass(frozen=True, slots=True)
class AskTime:
    """A time of day, recorded as HH:MM (24 h)."""

    name: str
    read_back: bool = False
    kind: Literal["time"] = "time"


@dataclass(frozen=True, slots=True)
class AskNote:
    """Free speech kept as an audio clip with the job (the words are not relied upon)."""

    name: str
    read_back: bool = False
    kind: Literal["note"] = "note"


@dataclass(frozen=True, slots=True)
class AskWitness:
    """A hold point: a second person of `role` gives name or spoken code before work goes on.

    `codes` maps a spoken code (digits as text) to a person's name; when empty, the shop's
    witness list (given at the start of the job) is used.
    """

    name: str
    role: str = "witness"
    codes: tuple[tuple[str, str], ...] = ()
    read_back: bool = True
    kind: Literal["witness"] = "witness"


Ask = (
    AskDone
    | AskYesNo
    | AskChoice
    | AskCount
    | AskMeasure
    | AskTorque
    | AskSerial
    | AskTime
    | AskNote
    | AskWitness
)


# --- steps -----------------------------------------------------------------------------------

#: Target of a branch that ends the job as complete.
END = "end"
#: And of one that leads to the step written next: in a file only, a `Procedure` names that step.
NEXT = "next"


@dataclass(frozen=True, slots=True)
class Branch:
    """`when` is the text of an answer value, a serial prefix, or (when `is_condition`) CEL source."""

    when: str
    target: str
    is_condition: bool = False


@dataclass(frozen=True, slots=True)
class Branches:
    """Where an answer leads. First case that fits wins; then `otherwise`; then the next step.

    An answer's text: 'yes'/'no' for yes_no, digits for a count, the value for a choice, the serial itself.
    Targets are step ids of the procedure or `END`.
    """

    cases: tuple[Branch, ...] = ()
    otherwise: str | None = None
    #: 'value': cases compare with the answer's text; 'prefix': with the start of a serial.
    compare: Literal["value", "prefix"] = "value"


@dataclass(frozen=True, slots=True)
class Part:
    name: str
    quantity: float = 1
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Prediction:
    """What a learner is asked before the step is told, in the procedure's own words: a choice with one right
    answer ("Which way do you turn it?")."""

    question: str
    right: str
    wrong: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Step:
    id: str
    say: str
    ask: Ask
    place: Place
    cautions: tuple[Caution, ...] = ()
    #: question spoken after `say`; empty when `say` already asks.
    question: str = ""
    why: str = ""
    hint: str = ""
    mistakes: tuple[str, ...] = ()
    #: expert wording (brief level); empty means `say`.
    brief: str = ""
    picture: str = ""
    #: a dwell that must pass before the answer is asked for, in seconds; talk goes on meanwhile.
    wait_s: float = 0.0
    then: Branches = field(default_factory=Branches)
    #: CEL over answers; false means the step does not apply (it is passed over, with a record entry).
    when: str = ""
    #: CEL with the limits/expected value for apprentices' prediction or checks; empty if none.
    expect: str = ""
    #: asked of a learner before the step is told; None: only what its torque or `expect` gives
    prediction: Prediction | None = None
    #: whether a learner is asked before telling: by the rule of asking_first.py, or as written
    ask_first: Literal["by_rule", "yes", "no"] = "by_rule"
    may_skip: bool = False
    #: a job that reaches this step and finishes it ends with this outcome (empty: it does not end).
    ends: str = ""
    #: where a confirmed out-of-limits value leads (empty: asked again, then offered to the lead).
    out_of_limits: str = ""
    #: the second person ('lead hand') who may let work go on with the limits not met; empty: nobody
    not_met: str = ""
    skill: str = ""
    tools: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    #: group shown as progress ('rear axle', item of a loop); empty if none.
    section: str = ""


@dataclass(frozen=True, slots=True)
class Before:
    """What must be to hand before the job starts; read out and acknowledged."""

    tools: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    conditions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Procedure:
    id: str
    title: str
    revision: int
    steps: tuple[Step, ...]
    #: SHA-256 (hex) of the exact bytes of the file and all it includes, in reading order.
    text_hash: str
    file: str
    before: Before = field(default_factory=Before)
    language: str = "en"
    #: words the shop adds or how they are said: word -> ARPAbet pronunciations ('' = letter to sound).
    words: tuple[tuple[str, str], ...] = ()
    #: false: nothing is asked of a learner before it is told, whatever the steps say
    ask_first: bool = True
    #: spoken once at the start: 'the maker's manual, local codes and licensed practice come first'.
    defers_to: str = ""
    #: the files read, main file first (name from the main file's folder, text): text_hash is over them.
    texts: tuple[tuple[str, str], ...] = ()
    _index: dict[str, int] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._index.update((step.id, position) for position, step in enumerate(self.steps))

    def position(self, step_id: str) -> int:
        """Index of a step in reading order. Raises KeyError for an unknown id."""
        return self._index[step_id]

    def step(self, step_id: str) -> Step:
        return self.steps[self.position(step_id)]
