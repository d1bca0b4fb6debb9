"""The ear of a job: one thread that owns the microphone and the listener and posts what was heard."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass

from sayso.hearing.endpoint import CompletenessOf
from sayso.hearing.listening import HearingEvent, Listener
from sayso.hearing.microphone import Back, Block, Lost, Microphone
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.speech_model import ModelError, SpeechModel
from sayso.session.own_voice import OwnVoice

#: Longest wait for a block before commands are looked at again; blocks come every 30 ms.
PATIENCE_S = 0.03


@dataclass(frozen=True, slots=True)
class Request:
    """A question to listen for. `number` comes back with what is heard."""

    number: int
    phrases: tuple[str, ...]
    pace: str
    completeness: CompletenessOf
    no_input_s: float | None
    decoys: tuple[str, ...] = ()


EarEvent = HearingEvent | Lost | Back | ModelError


class Ear:
    """`told(event, question)`, set by whoever runs a job, is called from the ear's thread.

    `headset`: hears while the voice speaks. With `own_voice` it does so too, as soon as that has learned
    the room; else it is deaf while the voice speaks.
    """

    def __init__(
        self,
        model: SpeechModel,
        microphone: Microphone,
        *,
        headset: bool = False,
        own_voice: OwnVoice | None = None,
    ) -> None:
        self._microphone = microphone
        self._own_voice = None if headset else own_voice
        self._listener = Listener(Recogniser(model), ear="open" if headset else "half_duplex")
        self.told: Callable[[EarEvent, int], None] = _nobody
        #: takes every block's samples (16 bit PCM), for a level meter
        self.level: Callable[[bytes], None] = lambda pcm: None
        self._commands: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._question = 0
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="ear", daemon=True)

    def open(self) -> None:
        """Raises MicrophoneError when there is no microphone."""
        self._microphone.open()
        self._thread.start()

    def close(self) -> None:
        self._closed = True
        if self._thread.is_alive():
            self._thread.join(timeout=2.0)
        self._microphone.close()

    @property
    def microphone_name(self) -> str:
        return self._microphone.name

    def listen(self, request: Request) -> None:
        self._commands.put(lambda: self._listen(request))

    def stop(self) -> None:
        self._commands.put(self._listener.stop)

    def voice(self, speaking: bool) -> None:
        """sayso's own voice begins, or was heard to its end."""
        self._commands.put(lambda: self._voice(speaking))

    @property
    def is_open(self) -> bool:
        """It hears while the voice speaks."""
        return self._listener.ear == "open"

    def _voice(self, speaking: bool) -> None:
        if speaking and self._own_voice is not None and self._own_voice.learned:
            self._listener.ear = "open"
        self._listener.voice(speaking)

    def _listen(self, request: Request) -> None:
        self._question = request.number
        try:
            self._listener.listen(
                request.phrases,
                pace=request.pace,  # type: ignore[arg-type]
                completeness=request.completeness,
                no_input_s=request.no_input_s,
                decoys=request.decoys,
            )
        except ModelError as failure:
            self.told(failure, request.number)

    def _work(self) -> None:
        while not self._closed:
            with contextlib.suppress(queue.Empty):
                while True:
                    self._commands.get_nowait()()
            event = self._microphone.next_event(PATIENCE_S)
            match event:
                case None:
                    continue
                case Block(pcm=pcm, at=at):
                    self.level(pcm)
                    for heard in self._feed(pcm, at):
                        self.told(heard, self._question)
                case Lost() | Back():
                    self.told(event, self._question)

    def _feed(self, pcm: bytes, at: float) -> tuple[HearingEvent, ...]:
        if self._own_voice is None:
            return self._listener.feed(pcm)
        cleaned = self._own_voice.taken_out_of(pcm, at)
        return self._listener.feed(cleaned, self._own_voice.least_dbfs) if cleaned else ()


def _nobody(event: EarEvent, question: int) -> None:
    """No job has begun yet."""
