"""A job that a test drives by voice: what was said to it, what it says, records and shows."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

from sayso.dialogue import Settings, State, advance, begin
from sayso.dialogue.effects import Effect, End, KeepClip, Listen, Record, Say, ShowStep, StartTimer
from sayso.dialogue.events import (
    Event,
    Heard,
    KeyPressed,
    NoInput,
    NoMatch,
    Started,
    TimerDone,
    VoiceFinished,
)
from sayso.procedure.model import (
    Ask,
    AskDone,
    Before,
    Branch,
    Branches,
    Caution,
    CautionLevel,
    Place,
    Procedure,
    Step,
)

WITNESSES = (("4471", "Meg Hale"), ("1962", "Tom Rudd"))


def step(name: str, say: str = "", ask: Ask | None = None, **more: Any) -> Step:
    cautions = more.pop("cautions", ())
    if isinstance(cautions, Caution):
        cautions = (cautions,)
    return Step(
        id=name,
        say=say or f"Do {name}.",
        ask=ask or AskDone(name.replace("-", "_")),
        place=Place("bench.yaml", 1, 1),
        cautions=cautions,
        **more,
    )


def warning(text: str = "Stored charge can burn.") -> Caution:
    return Caution(CautionLevel.WARNING, text)


def branches(otherwise: str | None = None, prefix: bool = False, **cases: str) -> Branches:
    found = tuple(Branch(when.removeprefix("_"), target) for when, target in cases.items())
    return Branches(found, otherwise, "prefix" if prefix else "value")


def procedure(*steps: Step, before: Before | None = None, defers_to: str = "") -> Procedure:
    return Procedure(
        id="bench",
        title="Bench job",
        revision=2,
        steps=steps,
        text_hash="0" * 64,
        file="bench.yaml",
        before=before or Before(),
        defers_to=defers_to,
    )


class BenchJob:
    """One job under test. `said` is what it said since the last thing that happened."""

    def __init__(self, *steps: Step, settings: Settings | None = None, **more: Any) -> None:
        self.procedure = procedure(
            *steps, before=more.pop("before", None), defers_to=more.pop("defers_to", "")
        )
        self.now = 1_764_080_000_000
        self.events: list[Event] = []
        self.state: State = begin(self.procedure, settings or Settings())
        self.records: list[Record] = []
        self.effects: tuple[Effect, ...] = ()
        start = Started(self.now, "J-7", machine="Wren 48 no. 12", person="Ann Bell", witnesses=WITNESSES)
        self.happens(replace(start, **more))

    def happens(self, event: Event) -> BenchJob:
        self.events.append(event)
        self.state, self.effects = advance(self.state, event)
        self.records += [e for e in self.effects if isinstance(e, Record)]
        return self

    def hears(self, words: str, confidence: float = 1.0, **more: Any) -> BenchJob:
        self.now += 3000
        return self.happens(Heard(self.now, tuple(words.split()), confidence, **more))

    def hears_each(self, *utterances: str) -> BenchJob:
        for words in utterances:
            self.hears(words)
        return self

    def silence(self) -> BenchJob:
        self.now += 12_000
        return self.happens(NoInput(self.now))

    def noise(self) -> BenchJob:
        self.now += 1000
        return self.happens(NoMatch(self.now))

    def key(self, name: str) -> BenchJob:
        self.now += 1000
        return self.happens(KeyPressed(self.now, name))

    def later(self, seconds: float) -> BenchJob:
        self.now += round(seconds * 1000)
        return self

    def timers_done(self) -> BenchJob:
        for name in list(self.state.timers):
            self.happens(TimerDone(self.now, name))
        return self

    def voice_finished(self) -> BenchJob:
        return self.happens(VoiceFinished(self.now, self.state.utterance))

    @property
    def said(self) -> str:
        return " ".join(e.text for e in self.effects if isinstance(e, Say))

    @property
    def kinds_said(self) -> list[str]:
        return [e.kind for e in self.effects if isinstance(e, Say)]

    @property
    def listening(self) -> Listen:
        return next(e for e in self.effects if isinstance(e, Listen))

    @property
    def shown(self) -> dict[str, Any]:
        view = [e for e in self.effects if isinstance(e, ShowStep)][-1].view
        return dict(json.loads(json.dumps(view, allow_nan=False)))

    @property
    def timers_started(self) -> list[StartTimer]:
        return [e for e in self.effects if isinstance(e, StartTimer)]

    @property
    def clips_wanted(self) -> list[KeepClip]:
        return [e for e in self.effects if isinstance(e, KeepClip)]

    @property
    def ended(self) -> str:
        return next((e.outcome for e in self.effects if isinstance(e, End)), "")

    def recorded(self, *kinds: str) -> list[dict[str, Any]]:
        return [dict(r.data) for r in self.records if r.kind in kinds]

    @property
    def at(self) -> str:
        return self.state.visit.step
