"""What the machine asks the shell to do. Effects are plain values, carried out in order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

SayKind = Literal[
    "caution",
    "step",
    "question",
    "read_back",
    "echo",
    "reply",
    "help",
    "no_match",
    "no_input",
    "alert",
    "end",
]


@dataclass(frozen=True, slots=True)
class Say:
    """Speak `text`. `utterance` counts up by one per Say. A caution may not be interrupted by talk
    other than the control words 'stop' and 'hold'. `rate` is a factor on the normal speaking rate."""

    utterance: int
    text: str
    kind: SayKind
    interruptible: bool = True
    rate: float = 1.0
    volume: float = 1.0


@dataclass(frozen=True, slots=True)
class StopVoice:
    """Silence at once and drop whatever is queued."""


@dataclass(frozen=True, slots=True)
class Listen:
    """Hear one answer once the voice has finished (at once with a headset).

    `phrases` is the whole grammar (answer words, control words); `[unk]` is added by hearing.
    `pace` sets the end-of-speech silence: 'short' one word, 'number', 'spelled' serials with pauses
    between groups, 'free' a spoken note. `context` names what is being asked, for logs and the screen.
    `no_input_s` is the silence that gives NoInput; None waits for ever (hold).
    `offers`: what is not understood may be offered as a guess.
    """

    phrases: tuple[str, ...]
    pace: Literal["short", "number", "spelled", "free"]
    context: str
    no_input_s: float | None = 12.0
    keep_clip: bool = False
    offers: bool = False


@dataclass(frozen=True, slots=True)
class StopListening:
    """Close the ear (end of job, device lost)."""


@dataclass(frozen=True, slots=True)
class Record:
    """One entry for the journal, beside the event that caused it. `data` holds JSON values only.

    Kinds: started, step_entered, step_passed_over, caution_told, caution_acknowledged, answer,
    answer_changed, answer_undone, deviation, skipped, note, witness, hold, carried_on, no_match,
    no_input, not_met, help, prediction, timer_started, timer_done, level_changed, wrench_changed, to_undo,
    undone, device, noise, resumed, person_changed, tool, ended.
    """

    kind: str
    data: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StartTimer:
    """Send TimerDone(name) after `seconds`, unless cancelled. Timers survive a restart: the shell
    restarts them from `due_ms`, the epoch time at which they end."""

    name: str
    seconds: float
    due_ms: int


@dataclass(frozen=True, slots=True)
class CancelTimer:
    name: str


@dataclass(frozen=True, slots=True)
class ShowStep:
    """Everything the page needs, as JSON values (see dialogue/view.py for the fields)."""

    view: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class KeepClip:
    """Keep the audio of the next free speech as note `note`, then send ClipKept."""

    note: str
    seconds: float = 30.0


@dataclass(frozen=True, slots=True)
class End:
    """The job is over. `outcome`: 'complete', 'stopped' or a procedure's own words."""

    outcome: str


Effect = (
    Say | StopVoice | Listen | StopListening | Record | StartTimer | CancelTimer | ShowStep | KeepClip | End
)
