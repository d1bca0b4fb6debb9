"""Hands of a job by voice: effects to the mouth and the ear, what they notice back to the loop as events."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import replace

from sayso.dialogue.control_words import SYNONYMS, Control
from sayso.dialogue.effects import KeepClip, Listen, Say
from sayso.dialogue.events import (
    BargeIn,
    ClipKept,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    NoInput,
    NoiseChanged,
    NoMatch,
    VoiceFinished,
)
from sayso.dialogue.settings import Settings
from sayso.dialogue.state import State
from sayso.hearing import hearing_events
from sayso.hearing.echo_check import HowToListen
from sayso.hearing.endpoint import CompletenessOf, anything_goes
from sayso.hearing.grammar import UNKNOWN
from sayso.hearing.microphone import Back, Lost
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.speech_model import ModelError
from sayso.session.completeness import completeness_for
from sayso.session.cut_in import CUT_A_CAUTION, ORDERS, cuts_in
from sayso.session.ear import WAYS, EarEvent, ListeningWay, Request
from sayso.session.equipment import Equipment
from sayso.session.gap import Gap
from sayso.session.likely import likely_replies, replies_to
from sayso.session.loop import Loop
from sayso.session.note_taking import SILENCE_ENDS_S, NoteTaking
from sayso.session.phrases import EarGrammar, grammar_for
from sayso.session.room_check import own_words, said_in
from sayso.session.unheard import UnheardQuestion
from sayso.speaking.player import PlayerEvent

#: Longest that the end of a job may still take to be spoken.
LAST_WORDS_S = 60.0
#: Said by the shell itself, outside any job's numbering.
ALERT = 0
#: What people call them; their names as the system knows them ("default") tell nobody anything.
MICROPHONE, LOUDSPEAKER = "microphone", "loudspeaker"
MUTED = "I hear nothing at all. Is the microphone muted or unplugged?"

#: Where the microphone has given exact silence and no word yet, nobody has to wait longer to be told.
NEVER_HEARD_S = 5.0
#: An order over the loudspeaker's voice has to be this sure: as an answer where it is loud.
SURE_OF_ORDER = Settings().confidence_noisy
#: A voice that comes back later than this is told of.
LATE_S = 0.15


class SpokenHands:
    """Joins an open mouth and an open ear to a loop. `keep` stores a clip and returns its SHA-256.

    `show` takes the lines of the transcript: what is said and what was heard.
    """

    def __init__(
        self,
        loop: Loop,
        equipment: Equipment,
        keep: Callable[[bytes], str],
        show: Callable[[str], None] = print,
    ) -> None:
        self._loop = loop
        self._keep = keep
        self._show = show
        self._mouth = equipment.mouth
        self._ear = equipment.ear
        self._gap = Gap(equipment.mouth, equipment.ear)
        self._unheard = UnheardQuestion()
        self._lock = threading.Lock()
        self._note: NoteTaking | None = None
        self._state: State | None = None
        self._listen: Listen | None = None
        self._judge: CompletenessOf = anything_goes
        self._grammar = EarGrammar((), ())
        self._model = equipment.model
        self._speaking: dict[int, Say] = {}
        self._sounding = 0
        self._alerts = 0
        #: said before what sayso says next: advice must not fall into the technician's turn
        self._advice: list[str] = []
        self._noise_compared = False
        self._muted = False
        self._ever_heard = False
        self._loudspeaker_lost = False
        self._began_before_caution_ended = False
        #: told of everything the ear notices, before it becomes an event
        self.noticed: Callable[[EarEvent], None] = lambda event: None
        #: told why a key did nothing
        self.refused: Callable[[str], None] = lambda why: None
        self._mouth.told = self._from_mouth
        self._ear.told = self._from_ear

    # --- effects -----------------------------------------------------------------------------------

    def say(self, effect: Say) -> None:
        with self._lock:
            advice, self._advice = self._advice, []
        for text in advice:
            self._say_aside(text)
        self._unheard.says(time.monotonic())
        self._utter(effect)
        self._show(f"sayso> {effect.text}")

    def _utter(self, effect: Say) -> None:
        with self._lock:
            self._speaking[effect.utterance] = effect
        self._ear.voice_begins()
        self._mouth.say(effect)

    def stop_voice(self) -> None:
        self._mouth.stop()

    def listen(self, effect: Listen, question: int, state: State) -> None:
        with self._lock:
            self._listen = effect
            self._unheard.asked(effect.context)
            # read at the first question, by when the first word is on its way
            self._grammar = grammar_for(state, effect, model_lexicon(self._model.path))
            self._judge = completeness_for(state, effect)
            self._hear(question)
        if not self._noise_compared:
            self._noise_compared = True
            if (
                state.noisy and not self._ear.noisy
            ):  # the job was left in a loud place and is resumed in quiet
                self._loop.post(NoiseChanged(self._loop.now_ms(), False))

    def _hear(self, question: int) -> None:
        effect = self._listen
        if effect is None:
            return
        patience = effect.no_input_s
        if self._note is not None and self._note.pieces:
            patience = SILENCE_ENDS_S
        elif self._muted and not self._ever_heard:
            patience = NEVER_HEARD_S
        phrases, decoys = self._grammar.phrases, self._grammar.decoys
        self._ear.listen(
            Request(question, phrases, effect.pace, self._judge, patience, decoys, effect.offers)
        )

    def stop_listening(self) -> None:
        self._listen = None
        self._ear.stop()

    def keep_clip(self, effect: KeepClip) -> None:
        """Begins a note; 0 seconds closes the one that is open."""
        with self._lock:
            if effect.seconds > 0:
                self._note = NoteTaking(effect.note, effect.seconds)
                return
        self._close_note(effect.note)

    def _close_note(self, name: str) -> None:
        with self._lock:
            note, self._note = self._note, None
        without = ClipKept(self._loop.now_ms(), note.note if note else name, "", 0.0)
        if note is None or not note.pieces:
            self._loop.post(without)
            return
        seconds = round(note.length_s, 2)
        self._loop.post_note(
            lambda: replace(without, clip=self._keep(note.as_wav()), seconds=seconds), without
        )

    def may_press(self, event: Event) -> bool:
        """A key can acknowledge a caution no sooner than a voice can: once it was heard to its end."""
        words = event.words if isinstance(event, Heard) else tuple(getattr(event, "key", "").split())
        if self._loudspeaker_lost or words in CUT_A_CAUTION or not self._caution_unheard():
            return True
        self._show(f"key> {' '.join(words)} (too early: the caution was not heard yet)")
        self.refused("Too early: hear the caution first.")
        return False

    def after(self, event: Event, state: State) -> None:
        self._state = state
        if self._listen is not None and not isinstance(event, VoiceFinished):
            self._mouth.prepare(_background(likely_replies(state, self._listen, self._loop.now_ms())))

    def ready(self) -> None:
        pass

    def alert(self, text: str) -> None:
        print(f"sayso: {text}", file=sys.stderr, flush=True)
        self._say_aside(text)

    def _say_aside(self, text: str) -> None:
        with self._lock:
            self._alerts -= 1
            number = self._alerts
        self._utter(Say(number, text, "alert"))

    def _advise(self, text: str) -> None:
        """Shown at once, spoken with the next words."""
        print(f"sayso: {text}", file=sys.stderr, flush=True)
        with self._lock:
            self._advice.append(text)

    def finish(self) -> None:
        self._ear.stop()
        self._mouth.wait_until_silent(LAST_WORDS_S)

    # --- what the mouth and the ear notice -----------------------------------------------------------

    def _from_mouth(self, event: PlayerEvent) -> None:
        now = self._loop.now_ms()
        match event.kind:
            case "started":
                self._sounding = event.utterance
                say = self._speaking.get(event.utterance)
                self._gap.sentence_begins(say)
                self._unheard.voice_sounds(event.at)
                if say is not None:
                    self._ear.says(say.text)
            case "finished" | "cut" | "failed":
                with self._lock:
                    self._speaking.pop(event.utterance, None)
                    silent = not self._speaking
                if silent:
                    self._unheard.voice_is_over()
                    self._ear.voice_ended(event.at)
                elif event.kind == "finished":
                    self._gap.sentence_ended(event.at)
                if event.kind == "failed":
                    print(f"sayso: {event.why}", file=sys.stderr, flush=True)
                if event.utterance > ALERT:
                    self._loop.post(VoiceFinished(now, event.utterance, event.kind != "finished"))
            case "lost":
                print(f"sayso: {event.why}", file=sys.stderr, flush=True)
                self._loudspeaker_lost = True
                self._loop.post(DeviceLost(now, LOUDSPEAKER))
            case "back":
                self._loudspeaker_lost = False
                self._loop.post(DeviceBack(now, LOUDSPEAKER))

    def _from_ear(self, event: EarEvent, question: int) -> None:
        if not (isinstance(event, hearing_events.Partial) and self._only_an_order(event)):
            self.noticed(event)  # words of its own are not shown as heard
        now = self._loop.now_ms()
        match event:
            case hearing_events.SpeechStarted():
                self._ever_heard = True
                self._gap.speech_begins()
                self._unheard.speech_begins(time.monotonic())
                self._began_before_caution_ended = self._caution_unheard()
            case hearing_events.Partial():
                self._partial(event, now)
            case hearing_events.Final():
                self._unheard.speech_ends()
                self._final(event, question, now)
            case hearing_events.NoMatch():
                self._unheard.speech_ends()
                self._no_match(event, question, now)
            case hearing_events.NoInput():
                self._no_input(question, now)
            case hearing_events.NoiseChanged(noisy=noisy, decibels_over=over):
                self._loop.post(NoiseChanged(now, noisy, over))
            case ListeningWay(way=way, delay_s=delay):
                self._listens(way, delay)
            case hearing_events.VoiceAdvice(say=say):
                self._advise(say)
            case hearing_events.HearsNothing(muted=muted):
                self._muted = muted
                if muted:
                    print(f"sayso: {MUTED}", file=sys.stderr, flush=True)
                    if not self._ever_heard:
                        with self._lock:
                            self._hear(question)
            case Lost(reason=reason):
                print(f"sayso: microphone lost: {reason}", file=sys.stderr, flush=True)
                self._loop.post(DeviceLost(now, MICROPHONE))
            case Back(device=device):
                print(f"sayso: microphone back: {device}", file=sys.stderr, flush=True)
                self._loop.post(DeviceBack(now, MICROPHONE))
            case ModelError():
                self._loop.leave(str(event))

    def _listens(self, way: HowToListen, delay_s: float) -> None:
        late = f" It comes back {delay_s:.1f} s late, as over Bluetooth." if delay_s > LATE_S else ""
        if way == "half_duplex":  # the one that people have to know of
            self._advise(WAYS[way] + late)
        else:
            print(f"sayso: {WAYS[way]}{late}", file=sys.stderr, flush=True)

    def _only_an_order(self, event: hearing_events.Partial | hearing_events.Final) -> bool:
        """It began while the loudspeaker spoke: it may be its own, and no answer to what was being asked."""
        return event.during_voice and self._ear.only_orders_over_voice

    def _partial(self, event: hearing_events.Partial, now: int) -> None:
        known = tuple(w for w in event.words if w != UNKNOWN)
        if not known or self._only_an_order(event):
            return
        if self._ear.opened_itself and (spoken := self._sentence()) and said_in(known, spoken):
            if own_words(known, spoken):
                self._ear.heard_itself()
            return
        if self._ear.is_open and not self._ear.only_orders_over_voice and self._may_cut(known):
            self._mouth.stop()
            self._loop.post(BargeIn(now))
        state = self._state
        if state is not None:
            # The technician is still within the silence that ends the answer: have the reply ready.
            self._mouth.add(_background(replies_to(state, known, now)))

    def _sentence(self) -> str:
        """What the loudspeaker is saying."""
        with self._lock:
            sounding = self._speaking.get(self._sounding)
        return sounding.text if sounding is not None else ""

    def _may_cut(self, words: tuple[str, ...]) -> bool:
        """Real words, not mere sound, cut the voice off; a caution yields only to 'stop' and 'hold'."""
        with self._lock:
            if self._sounding not in self._speaking:
                return False
        too_early = self._began_before_caution_ended or self._unheard.too_soon
        return not too_early or words in CUT_A_CAUTION

    def _takes_order(self, event: hearing_events.Final, now: int) -> bool:
        """Over the loudspeaker's voice: True when it is an order, which has cut the voice off.

        It has to be as sure as where it is loud, and a note takes down what the voice says as well."""
        with self._lock:
            sounding, note = bool(self._speaking), self._note
        before_caution = self._began_before_caution_ended or self._caution_unheard()
        sure = event.confidence >= SURE_OF_ORDER
        if note is not None or not sure or not cuts_in(event.words, before_caution=before_caution):
            return False
        if sounding:
            self._mouth.stop()
            self._loop.post(BargeIn(now))
        return True

    def _caution_unheard(self) -> bool:
        """A caution is being spoken or still waits to be: it must be heard before anything is answered."""
        with self._lock:
            return any(not say.interruptible for say in self._speaking.values())

    def _final(self, event: hearing_events.Final, question: int, now: int) -> None:
        if self._only_an_order(event):
            taken = self._takes_order(event, now)
            self._gap.no_words()
            if not taken:
                if event.words:
                    self._show(f"heard> {' '.join(event.words)} (too early: I was still speaking)")
                with self._lock:
                    self._hear(question)
                return
        elif self._gap.spoken_in:
            if not self._gap.speech_ended(event.words, before_caution=self._began_before_caution_ended):
                self._show(f"heard> {' '.join(event.words)} (too early: the question was not heard yet)")
                with self._lock:
                    self._hear(question)
                return
            self._loop.post(BargeIn(now))
        if self._began_before_caution_ended and event.words not in CUT_A_CAUTION:
            # "Understood" to a caution that has not been heard yet is no acknowledgement.
            self._show(f"heard> {' '.join(event.words)} (too early: the caution was not heard yet)")
            with self._lock:
                self._hear(question)
            return
        if self._unheard.too_soon and event.words not in ORDERS and self._note is None:
            self._show(f"heard> {' '.join(event.words)} (too early: the question was not heard yet)")
            with self._lock:
                self._hear(question)
            return
        self._show(f"heard> {' '.join(event.words)}")
        if self._is_note(event, question):
            return
        self._loop.post(
            Heard(
                now,
                event.words,
                round(event.confidence, 4),
                tuple(round(c, 4) for c in event.word_confidences),
                event.alternatives,
                noisy=event.noisy,
            ),
            question,
        )

    def _is_note(self, event: hearing_events.Final, question: int) -> bool:
        """True when this was a piece of a note: kept as sound, in which only 'end note' is a word."""
        with self._lock:
            note = self._note
            if note is None or " ".join(event.words) in SYNONYMS[Control.END_NOTE]:
                return False
            note.add(event.pcm)
            if not note.full:
                self._hear(question)
                return True
        self._close_note(note.note)
        return True

    def _no_match(self, event: hearing_events.NoMatch, question: int, now: int) -> None:
        in_gap = self._gap.spoken_in
        if in_gap:
            self._gap.no_words()
        # talk over a caution is no try to answer; sound over the voice may be the voice
        own = event.during_voice and self._ear.opened_itself
        if in_gap or self._began_before_caution_ended or self._unheard.too_soon or own:
            with self._lock:
                self._hear(question)
            return
        self._show("heard> (no answer)")
        self._loop.post(NoMatch(now, event.noisy, event.offers), question)

    def _no_input(self, question: int, now: int) -> None:
        note = self._note
        if note is not None and note.pieces:
            self._close_note(note.note)
            return
        if self._muted:
            # Not a hold: some devices give exact silence between words, and the next word has to count.
            self._muted = False
            self._say_aside(MUTED)  # written down when it was noticed
        self._loop.post(NoInput(now), question)


def _background(says: Iterable[Say]) -> list[Say]:
    started = time.monotonic()
    found: list[Say] = []
    for say in says:
        found.append(say)
        if time.monotonic() - started > 0.03:  # the loop must stay quick; the likeliest come first
            break
    return found
