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


EarEvent = HearingEvent | Lost | Back | ModelError


class Ear:
    """`told(event, question)`, set by whoever runs a job, is called from the ear's thread.

    `headset`: hears while the voice speaks.
    """

    def __init__(
        self,
        model: SpeechModel,
        microphone: Microphone,
        *,
        headset: bool = False,
    ) -> None:
        self._microphone = microphone
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
        self._commands.put(lambda: self._listener.voice(speaking))

    def _listen(self, request: Request) -> None:
        self._question = request.number
        try:
            self._listener.listen(
                request.phrases,
                pace=request.pace,  # type: ignore[arg-type]
                completeness=request.completeness,
                no_input_s=request.no_input_s,
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
                case Block(pcm=pcm):
                    self.level(pcm)
                    for heard in self._listener.feed(pcm):
                        self.told(heard, self._question)
                case Lost() | Back():
                    self.told(event, self._question)


def _nobody(event: EarEvent, question: int) -> None:
    """No job has begun yet."""
