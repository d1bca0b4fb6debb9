"""What a job made of talk that was not meant for it: answers and orders that nobody gave.

Works on the events of a job: those of a real one out of its journal, or those of a job that was fed a
recording (`overhear`), which needs no sound system and runs many times faster than the talk lasts.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from sayso import dialogue, procedure
from sayso.dialogue.effects import Effect, Listen, Record, Say
from sayso.dialogue.events import Event, Heard, NoInput, NoMatch, Started, VoiceFinished
from sayso.dialogue.settings import Settings
from sayso.dialogue.state import Aside, Awaiting, State
from sayso.hearing import hearing_events
from sayso.hearing.listening import Listener
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.recogniser import SAMPLE_RATE, Recogniser
from sayso.hearing.speech_model import SpeechModel
from sayso.procedure.model import Procedure
from sayso.session.completeness import completeness_for
from sayso.session.loop import HEARING
from sayso.session.phrases import grammar_for

#: 'answer': recorded. 'order': carried out. 'asked back': a read-back, its denial, or "stop, yes or no?".
What = Literal["answer", "order", "asked back"]
BLOCK = SAMPLE_RATE * 30 // 1000 * 2
#: How long sayso speaks, for a job that is fed: espeak-ng at its usual rate.
SECONDS_PER_LETTER = 0.065

#: The steps of the jobs, by the kind of question that stays open.
ASKS = {
    "done": "",
    "yes or no": "ask: {yes_no: lights_<round>}",
    "choice": "ask: {choice: colour_<round>, options: [red, green, blue, none]}",
    "count": "ask: {count: pins_<round>, from: 6, to: 14}",
    "torque": "ask: {torque: screw_<round>, target: 9 N.m, within: 10 %}",
    "serial": 'ask: {serial: serial_<round>, pattern: "[A-Z]{2}[0-9]{4}"}',
}


@dataclass(frozen=True, slots=True)
class Taken:
    """`at_ms` on the clock of the events."""

    at_ms: int
    what: What
    words: str
    confidence: float


def job_text(kind: str) -> str:
    """A procedure that asks one kind of question over and over, at Fernhill Depot (invented)."""
    rounds = ", ".join(f'"{n}"' for n in range(1, 41))
    ask = f"\n        {ASKS[kind]}" if ASKS[kind] else ""
    return (
        "procedure: overheard\ntitle: Talk that is not meant for sayso\nrevision: 1\nsteps:\n"
        f"  - for_each: {{round: [{rounds}]}}\n    steps:\n"
        f"      - id: step-<round>\n        say: Look at the cover.{ask}\n"
    )


def taken(found: Procedure, events: Iterable[Event], settings: Settings | None = None) -> Iterator[Taken]:
    """Everything that was done because of spoken words (typed ones are left out)."""
    state = dialogue.begin(found, settings) if settings else dialogue.begin(found)
    for event in events:
        before = state
        state, effects = dialogue.advance(state, event)
        if isinstance(event, NoMatch) and state.pending is not None and before.pending is None:
            yield Taken(event.at_ms, "asked back", " ".join(state.pending.answer.said), 0.0)
        if isinstance(event, Heard) and not event.typed:
            what = _what(before, state, effects)
            if what is not None:
                yield Taken(event.at_ms, what, " ".join(event.words), event.confidence)


def _what(before: State, after: State, effects: tuple[Effect, ...]) -> What | None:
    records = {effect.kind for effect in effects if isinstance(effect, Record)}
    if before.on_hold:
        return "order" if any(isinstance(effect, Say) for effect in effects) else None
    if after.heard is None or not after.heard.used:
        return None
    if records & {"answer", "answer_changed", "acknowledged", "witness", "deviation", "skipped"}:
        return "answer"
    if after.awaiting is Awaiting.CONFIRM and after.pending != before.pending:
        return "asked back"
    if before.awaiting is Awaiting.CONFIRM and after.pending != before.pending:
        return "asked back"  # the value was denied: nothing was recorded
    if after.aside is Aside.STOP and before.aside is not Aside.STOP:
        return "asked back"
    return "order"


def overhear(
    model: SpeechModel, found: Procedure, pcm: bytes, *, held: bool, headset: bool = True
) -> tuple[tuple[Event, ...], dict[int, hearing_events.Final]]:
    """A job on `found` that is fed `pcm`: its events, and by `at_ms` what the ear knew of each answer."""
    job = _Fed(model, found, headset)
    job.happened(Started(0, "bench"))
    job.happened(Heard(0, ("ready",), typed=True))
    if held:
        job.happened(Heard(0, ("hold",), typed=True))
    for at in range(0, len(pcm), BLOCK):
        job.feed(pcm[at : at + BLOCK])
    return tuple(job.events), job.finals


class _Fed:
    """A job whose ear is a recording and whose voice takes its time in silence."""

    def __init__(self, model: SpeechModel, found: Procedure, headset: bool) -> None:
        self._state = dialogue.begin(found)
        self._listener = Listener(Recogniser(model), ear="open" if headset else "half_duplex")
        self._lexicon = model_lexicon(model.path)
        self._speaking: deque[tuple[float, int]] = deque()
        self._listen = Listen((), "short", "", None)
        self.events: list[Event] = []
        self.finals: dict[int, hearing_events.Final] = {}

    @property
    def _now_ms(self) -> int:
        return round(self._listener.now_s * 1000)

    def feed(self, pcm: bytes) -> None:
        for event in self._listener.feed(pcm):
            now = self._now_ms
            match event:
                case hearing_events.Final():
                    self.finals[now] = event
                    self.happened(
                        Heard(now, event.words, event.confidence, event.word_confidences,
                              event.alternatives, noisy=event.noisy)
                    )  # fmt: skip
                case hearing_events.NoMatch():
                    self.happened(NoMatch(now, event.noisy, event.offers))
                case hearing_events.NoInput():
                    self.happened(NoInput(now))
        while self._speaking and self._speaking[0][0] <= self._listener.now_s:
            _, utterance = self._speaking.popleft()
            if not self._speaking:
                self._listener.voice(False)
            self.happened(VoiceFinished(self._now_ms, utterance, False))

    def happened(self, event: Event) -> None:
        self.events.append(event)
        self._state, effects = dialogue.advance(self._state, event)
        if isinstance(event, HEARING) and not any(isinstance(e, Listen) for e in effects):
            effects = (*effects, self._listen)  # it led to nothing: the same question stays open
        for effect in effects:
            match effect:
                case Say():
                    began = self._speaking[-1][0] if self._speaking else self._listener.now_s
                    self._speaking.append((began + SECONDS_PER_LETTER * len(effect.text), effect.utterance))
                    self._listener.voice(True)
                case Listen():
                    self._listen = effect
                    grammar = grammar_for(self._state, effect, self._lexicon)
                    self._listener.listen(
                        grammar.phrases,
                        decoys=grammar.decoys,
                        pace=effect.pace,
                        completeness=completeness_for(self._state, effect),
                        no_input_s=effect.no_input_s,
                        offers=effect.offers,
                    )


def read_job(text: str, folder: str | Path) -> Procedure:
    path = Path(folder) / "overheard.yaml"
    path.write_text(text, encoding="utf-8")
    return procedure.read(path)
