"""What can happen to a job: the only things that `advance` ever learns from the world.

Every event carries `at_ms`, milliseconds since the Unix epoch, stamped by the shell. Events are
journalled before their effects are carried out, and replaying them rebuilds the job exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: A measuring tool in hand: its name, the last day of its calibration ('2027-03-31', '' where nobody told),
#: and whether that day has passed.
ToolInHand = tuple[str, str, bool]


@dataclass(frozen=True, slots=True)
class Started:
    """A job begins. `witnesses` maps spoken codes to names; `wrench` is a torque unit.

    `usual`: (step, lower, upper quartile of its time in this shop, seconds), where enough jobs are known.
    `ask_first`: what this person may be asked before it is told, at level full ('step/torque', 'step/value',
    'step/way'); empty in journals of before that was there.
    `only_said`: a quiz. Nothing is done to a machine, so an answer changed leaves nothing to undo; False in
    journals of before that was there, whose people were asked.
    `at_keyboard`: run by typing, so questions and hints are for whoever types.
    """

    at_ms: int
    job: str
    machine: str = ""
    person: str = ""
    bay: str = ""
    level: Literal["full", "normal", "brief"] = "normal"
    wrench: str = "N.m"
    witnesses: tuple[tuple[str, str], ...] = ()
    quiet: bool = False
    usual: tuple[tuple[str, float, float], ...] = ()
    ask_first: tuple[str, ...] = ()
    tools: tuple[ToolInHand, ...] = ()
    only_said: bool = False
    at_keyboard: bool = False


@dataclass(frozen=True, slots=True)
class Heard:
    """A final result. `confidence` in 0..1 is the lowest of the words'; `typed` when it came by keyboard.

    `noisy` tells that the noise check found the place loud: everything is then read back.
    `clip` is the SHA-256 of the kept audio, empty when none was kept.
    """

    at_ms: int
    words: tuple[str, ...]
    confidence: float = 1.0
    word_confidences: tuple[float, ...] = ()
    alternatives: tuple[tuple[str, ...], ...] = ()
    typed: bool = False
    noisy: bool = False
    clip: str = ""


@dataclass(frozen=True, slots=True)
class NoInput:
    """Nobody spoke within the time that the last Listen allowed."""

    at_ms: int


@dataclass(frozen=True, slots=True)
class NoMatch:
    """Somebody spoke, but nothing legal was heard ([unk], tools, talk).

    `offers` are guesses at what it may have been, best first: worth a question, never an answer.
    """

    at_ms: int
    noisy: bool = False
    offers: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class BargeIn:
    """Speech began while the voice was speaking; the shell has stopped the voice."""

    at_ms: int


@dataclass(frozen=True, slots=True)
class TimerDone:
    at_ms: int
    name: str


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """A key, pedal or screen key: the name of a control word ('repeat', 'done', 'yes'...)."""

    at_ms: int
    key: str


@dataclass(frozen=True, slots=True)
class VoiceFinished:
    """The utterance of that id was heard to its end (or, when cut, was stopped)."""

    at_ms: int
    utterance: int
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Resumed:
    """The program was started again on an open job, after a break, a crash or a lunch.

    `tools`: those that are new in hand, and those whose calibration ended meanwhile. `person`: who does the
    job from here on; '' is who it was, as in journals of before a job could be handed over.
    """

    at_ms: int
    tools: tuple[ToolInHand, ...] = ()
    person: str = ""
    at_keyboard: bool = False


@dataclass(frozen=True, slots=True)
class DeviceLost:
    """Microphone or headset went away; the job holds until DeviceBack."""

    at_ms: int
    device: str


@dataclass(frozen=True, slots=True)
class DeviceBack:
    at_ms: int
    device: str


@dataclass(frozen=True, slots=True)
class NoiseChanged:
    """The place became loud (True) or quiet enough again (False)."""

    at_ms: int
    noisy: bool
    decibels_over: float = 0.0


@dataclass(frozen=True, slots=True)
class ClipKept:
    """The audio of a spoken note was stored; `clip` is its SHA-256 (hex)."""

    at_ms: int
    note: str
    clip: str
    seconds: float


Event = (
    Started
    | Heard
    | NoInput
    | NoMatch
    | BargeIn
    | TimerDone
    | KeyPressed
    | VoiceFinished
    | Resumed
    | DeviceLost
    | DeviceBack
    | NoiseChanged
    | ClipKept
)
