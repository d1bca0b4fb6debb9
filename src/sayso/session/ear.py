"""The ear of a job: one thread that owns the microphone and the listener and posts what was heard."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sayso.hearing.echo_check import Coupling, HowToListen, how_to_listen
from sayso.hearing.echo_libraries import canceller_available
from sayso.hearing.endpoint import CompletenessOf
from sayso.hearing.grammar import normalise
from sayso.hearing.hearing_events import HearingEvent
from sayso.hearing.listening import Listener
from sayso.hearing.microphone import Back, Block, Lost, Microphone
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.speech_model import ModelError, SpeechModel
from sayso.session.cut_in import ORDERS
from sayso.session.own_voice import OwnVoice
from sayso.session.room_check import SURE_UNHEARD, UnheardEvidence

#: Longest wait for a block before commands are looked at again; blocks come every 30 ms.
PATIENCE_S = 0.03


#: How it listens, as the check of the room found it.
WAYS: Mapping[HowToListen, str] = {
    "open": "I do not hear my own voice, as with a headset. You can cut in at any time.",
    "canceller": "While I speak you can say stop, hold or repeat; speak up. Answer when I have finished.",
    "half_duplex": "I hear my own voice. Answer when I have finished.",
}


@dataclass(frozen=True, slots=True)
class Request:
    """A question to listen for. `number` comes back with what is heard."""

    number: int
    phrases: tuple[str, ...]
    pace: str
    completeness: CompletenessOf
    no_input_s: float | None
    decoys: tuple[str, ...] = ()
    offers: bool = False


@dataclass(frozen=True, slots=True)
class ListeningWay:
    """How it listens from now on, as the check of the room found it: 'open' (a headset), 'canceller' (beside
    a loudspeaker) or 'half_duplex' (only when the voice has ended).

    `delay_s`: how late the voice comes back."""

    way: HowToListen
    delay_s: float = 0.0


EarEvent = HearingEvent | Lost | Back | ModelError | ListeningWay


class Ear:
    """`told(event, question)`, set by whoever runs a job, is called from the ear's thread.

    `headset`: hears while the voice speaks. Else it is deaf meanwhile, and `own_voice` finds out whether the
    voice comes back, how late and how long. Where it does not come back the ear opens; one that takes the
    voice out hears orders over it beside a loudspeaker too, once it has learned the room.
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
        self._headset = headset
        self._own_voice = None if headset else own_voice
        self._listener = Listener(Recogniser(model), ear="open" if headset else "half_duplex")
        self._listener.orders = ORDERS
        self.told: Callable[[EarEvent, int], None] = _nobody
        #: takes every block's samples (16 bit PCM), for a level meter
        self.level: Callable[[bytes], None] = lambda pcm: None
        self._commands: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._question = 0
        self._way: HowToListen | None = None
        self._unheard = 0
        self._evidence = UnheardEvidence()
        self._speaking = False
        #: when the voice fell silent, until sound from after that moment has come
        self._silent_since: float | None = None
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="ear", daemon=True)

    def open(self) -> None:
        """Raises MicrophoneError when there is no microphone."""
        if self._microphone.lost:
            self._microphone.open()
        # What came while the rest was being made ready tells how loud the place is before a word is said.
        while isinstance(block := self._microphone.next_event(0.0), Block):
            self._listener.feed(block.pcm)
        self._listener.stop()
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

    def voice_begins(self) -> None:
        """sayso's own voice is about to sound."""
        self._commands.put(self._voice_begins)

    def says(self, text: str) -> None:
        """The voice begins with this sentence. A headset's microphone does not hear it."""
        if not self._headset:
            self._commands.put(lambda: self._listener.says(normalise(text)))

    def voice_ended(self, at: float) -> None:
        """It was heard to its end `at` (time.monotonic()). A busy machine brings its last words later than
        that, so what counts is when the sound was at the microphone, not when this is told."""
        self._commands.put(lambda: self._voice_ended(at))

    @property
    def noisy(self) -> bool:
        """The place is loud, as far as is known."""
        return self._listener.noise.noisy

    @property
    def is_open(self) -> bool:
        """It hears while the voice speaks."""
        return self._listener.ear != "half_duplex"

    @property
    def only_orders_over_voice(self) -> bool:
        """It may hear the loudspeaker's voice: what begins while that speaks is an order or nothing."""
        return self._own_voice is not None and self._own_voice.takes_out

    @property
    def opened_itself(self) -> bool:
        """It hears while the voice speaks although nobody said that there is a headset."""
        return self.is_open and not self._headset

    @property
    def opens_after_s(self) -> float:
        """So long after the voice a closed ear hears again: the room has to fall silent."""
        return self._listener.echo_tail_s

    def heard_itself(self) -> None:
        """The voice's own words came back: the ear closes while it speaks, and opens no more by itself."""
        self._commands.put(self._close_for_good)

    def _close_for_good(self) -> None:
        self._evidence.heard_itself()
        if self._own_voice is not None and not self._own_voice.takes_out:
            self._close_while_speaking()
            self._go("half_duplex", 0.0)

    def _close_while_speaking(self) -> None:
        self._listener.ear = "half_duplex"
        self._listener.voice(self._speaking)

    def _voice_begins(self) -> None:
        self._speaking = True
        self._silent_since = None
        if self._own_voice is not None:
            if self._own_voice.takes_out:
                self._listener.ear = "orders" if self._own_voice.learned else "half_duplex"
            else:
                self._listener.ear = "open" if self._way == "open" else "half_duplex"
        self._listener.voice(True)

    def _voice_ended(self, at: float) -> None:
        if self._speaking:
            self._silent_since = at

    def _notice_silence(self, block: Block) -> None:
        ended = self._silent_since
        if ended is not None and block.at - block.late_s >= ended:
            self._silent_since = None
            self._speaking = False
            self._listener.voice(False)

    def _look_at_room(self, own_voice: OwnVoice) -> None:
        """It changes from one stretch of talk to the next: a headset is put on, a loudspeaker turned up."""
        coupling = own_voice.coupling()
        if coupling is None:
            return
        if coupling.heard:
            own_voice.expect_delay(coupling.delay_s)
            self._listener.echo_tail_s = coupling.delay_s + coupling.tail_s
        if not own_voice.takes_out:
            self._open_where_unheard(coupling)
            return
        way = how_to_listen(coupling, canceller_available())
        self._unheard = self._unheard + 1 if way == "open" else 0
        if way == "open" and (self._way is not None or self._unheard < SURE_UNHEARD):
            return  # the canceller does for both, and a soft sentence may go unheard
        if way == "open":  # nobody said that there is a headset
            way = "canceller"
        self._go(way, coupling.delay_s if coupling.heard else 0.0)

    def _open_where_unheard(self, coupling: Coupling) -> None:
        """Closed beside a loudspeaker; open where the voice does not come back."""
        way = self._evidence.way(coupling, noisy=self._listener.noise.noisy)
        if way == "half_duplex" and self._speaking and self._listener.ear == "open":
            self._close_while_speaking()
        if way is not None:
            self._go(way, coupling.delay_s if coupling.heard else 0.0)

    def _go(self, way: HowToListen, delay_s: float) -> None:
        if way != self._way:
            self._way = way
            self.told(ListeningWay(way, delay_s), self._question)

    def _listen(self, request: Request) -> None:
        self._question = request.number
        try:
            self._listener.listen(
                request.phrases,
                pace=request.pace,  # type: ignore[arg-type]
                completeness=request.completeness,
                no_input_s=request.no_input_s,
                decoys=request.decoys,
                offers=request.offers,
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
                case Block(pcm=pcm, at=at, late_s=late_s):
                    self._notice_silence(event)
                    self.level(pcm)
                    # the voice is looked for where it lay in time, not where a busy machine brought it
                    for heard in self._feed(pcm, at - late_s):
                        self.told(heard, self._question)
                case Lost() | Back():
                    self.told(event, self._question)

    def _feed(self, pcm: bytes, at: float) -> tuple[HearingEvent, ...]:
        voice = self._own_voice
        if voice is None:
            return self._listener.feed(pcm)
        if not voice.takes_out:
            voice.only_watched(pcm, at)
            self._look_at_room(voice)
            return self._listener.feed(pcm)
        cleaned = voice.taken_out_of(pcm, at)
        self._look_at_room(voice)
        if not cleaned.words:
            return ()
        return self._listener.feed(cleaned.words, voice.least_dbfs, cleaned.watched)


def _nobody(event: EarEvent, question: int) -> None:
    """No job has begun yet."""
