"""From blocks of audio to heard answers: gate, voice activity, recogniser, endpoint, confidence.

Knows no clock and no device: all times are counted in samples, so a wav file fed to it gives the same
events as the microphone, each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from sayso.hearing.answer_edges import (
    order_at_end,
    where_order_begins,
    without_hesitation,
    without_noise,
)
from sayso.hearing.calibration import Calibration, features_of, read_calibration
from sayso.hearing.endpoint import (
    CompletenessOf,
    Endpointer,
    Pace,
    Verdict,
    anything_goes,
    decide,
)
from sayso.hearing.grammar import UNKNOWN
from sayso.hearing.hearing_events import (
    Final,
    HearingEvent,
    HearsNothing,
    NoInput,
    NoiseChanged,
    NoMatch,
    Partial,
    SpeechStarted,
    VoiceAdvice,
)
from sayso.hearing.kept_sound import PRE_ROLL_S, KeptSound
from sayso.hearing.level_check import Levels, MutedWatch, NoiseMonitor, NoiseState, VoiceWatch
from sayso.hearing.levels import NOTHING_DBFS, clipped_share, dbfs, samples_of
from sayso.hearing.own_words import OwnWords
from sayso.hearing.recogniser import SAMPLE_RATE, Recogniser, Result, distinct
from sayso.hearing.second_hearing import SecondHearing
from sayso.hearing.talk_beside import TalkBeside
from sayso.hearing.voice_activity import Activity, VoiceActivity

#: Confidence of an answer after such a sound, at most: below the threshold, so that it is read back.
AFTER_HESITATION = 0.5
#: Speech shorter than this without any word is a knock or a cough, not a try to answer.
SHORTEST_TRY_S = 0.25
#: After the voice falls silent its last sound is still on its way through the microphone's buffers.
BUFFERED_S = 0.06
#: And the room still rings. Speech that is going on when this has passed counts from its beginning, so an
#: answer given at once is whole; ringing has died away by then and is forgotten.
ECHO_TAIL_S = 0.25
#: What has been silent for this long when the tail ends was ringing.
RUNG_OUT_S = 0.05
#: An order is heard again against its rivals after this much silence, still before the answer ends.
SECOND_HEARING_S = 0.1
#: Silence that ends speech which nobody asked for.
UNASKED_END_S = 0.6
#: The floor has to stand on so much sound before the place is judged by it at the start.
JUDGED_BY_S = 0.2
#: Below this calibrated confidence other readings are worth a second pass.
DOUBT = 0.7
#: Over the voice an order ends when it has stayed the same for so long: what is left of the voice may never
#: fall silent. Longer than the net takes between two partial results (0.12 s, DEVELOPERS.md), so that a word
#: that goes on shows.
STABLE_ORDER_S = 0.2
#: Heard again from so long before it, where bits of the voice stand before an order.
BEFORE_ORDER_S = 0.1
#: So much silence after the voice parts what began over it from an answer. The silence within a word (before
#: the t of "forty") is shorter, the pause between two turns longer (0.2 s, Stivers et al. 2009).
PARTED_S = 0.15

Ear = Literal["half_duplex", "orders", "open"]


@dataclass(frozen=True, slots=True)
class _Request:
    pace: Pace
    completeness: CompletenessOf
    no_input_s: float | None
    free: bool
    offers: bool


class Listener:
    """Feed it every block of the microphone; it yields what was heard for the request that is open.

    ear 'half_duplex': deaf while voice(True). 'open': a headset, hears all the time. 'orders': an echo
    canceller; hears over the voice too, and tells what began there as such (`during_voice`): only an order
    should count. For all that begins later it is half-duplex.
    orders: phrases that end what began over the voice, for the ear 'orders'.
    calibration: None gives vosk's own confidence and rejects nothing by it.
    echo_tail_s: how long the room rings after the voice (see echo_check).
    """

    def __init__(
        self,
        recogniser: Recogniser,
        *,
        ear: Ear = "half_duplex",
        calibration: Calibration | Literal["of the model"] | None = "of the model",
        echo_tail_s: float = ECHO_TAIL_S,
    ) -> None:
        self._recogniser = recogniser
        self.ear: Ear = ear
        self.echo_tail_s = echo_tail_s
        self.orders: frozenset[tuple[str, ...]] = frozenset()
        model = recogniser.model
        if calibration == "of the model":
            calibration = read_calibration(model.origin or model.path)
        self._calibration = calibration
        self._again = SecondHearing(recogniser)
        self._activity = VoiceActivity()
        self._noise = NoiseMonitor()
        self._muted = MutedWatch()
        self._spoke_before = False
        self._loud_at_start: NoiseState | None = None
        self._voice_watch = VoiceWatch()
        self._request: _Request | None = None
        self._endpointer: Endpointer | None = None
        self._kept = KeptSound()
        self._fed = 0  # samples since the beginning
        self._opened_at = 0
        self._speech_at = 0
        self._noticed_at = 0
        self._in_speech = False
        self._voice = False
        self._deaf_until = 0
        self._tail_until = 0
        self._ringing = False
        self._began_in_voice = False
        self._own = OwnWords()
        self._level = -100.0
        self._asked_twice = False
        self._talk = TalkBeside()

    # --- what the shell tells it --------------------------------------------------------------

    def listen(
        self,
        phrases: Iterable[str],
        *,
        pace: Pace = "short",
        completeness: CompletenessOf = anything_goes,
        no_input_s: float | None = None,
        decoys: Iterable[str] = (),
        offers: bool = False,
    ) -> None:
        """Open a request; replaces the one before. Speech that is going on counts for the new one.

        offers: what is turned down comes with a guess at the whole answer that it may have been.

        Raises ModelError when a word is not in the model's vocabulary.
        """
        self._recogniser.listen(phrases, decoys)
        self._request = _Request(pace, completeness, no_input_s, pace == "free", offers)
        self._opened_at = self._fed
        self._asked_twice = False
        if self._in_speech:  # started before the request: hear it from its beginning
            self._endpointer = Endpointer(pace, completeness)
            self._recogniser.accept(self._kept.clip)

    def stop(self) -> None:
        """Close the request; noise and level are still followed."""
        self._request = None
        self._endpointer = None
        self._forget_speech()

    def voice(self, speaking: bool) -> None:
        """sayso's own voice begins or was heard to its end."""
        self._voice = speaking
        self._talk.forget()
        if speaking and not self._spoke_before:
            self._spoke_before = True
            if self._activity.measured_s >= JUDGED_BY_S:
                self._loud_at_start = self._noise.begin(self._activity.floor_dbfs)
        if not speaking:
            self._own.next_sentence((), self._fed)
            self._opened_at = max(self._opened_at, self._fed)
            if self.ear == "open":
                return
            self._tail_until = self._fed + int(self.echo_tail_s * SAMPLE_RATE)
            self._ringing = True
            if not self._in_speech:
                self._deaf_until = self._fed + int(BUFFERED_S * SAMPLE_RATE)
                self._activity.reset()
        elif self.ear == "half_duplex":
            self._forget_speech()
        elif self.ear == "orders":
            self._ringing = False
            if self._in_speech and not self._began_in_voice:  # half-duplex would forget it
                self._began_in_voice = True
                self._own.speech_begins(self._voice_heard_since())

    def says(self, words: Iterable[str]) -> None:
        """The sentence that sayso's own voice begins with. Tell it to an open ear that may hear it: words
        over the voice that the voice is saying itself are nobody's answer."""
        self._own.next_sentence(tuple(words), self._fed)
        if self._in_speech and self._began_in_voice:
            self._own.goes_on_in_speech()

    def _voice_heard_since(self) -> int:
        """A sentence comes back late, and speech is noticed after it has begun."""
        return self._fed - int((self.echo_tail_s + PRE_ROLL_S) * SAMPLE_RATE)

    @property
    def listening(self) -> bool:
        return self._request is not None

    @property
    def in_speech(self) -> bool:
        return self._in_speech

    @property
    def noise(self) -> NoiseState:
        return self._noise.state

    @property
    def now_s(self) -> float:
        """Seconds of audio fed so far: the clock of all `at_s`."""
        return self._fed / SAMPLE_RATE

    # --- audio ---------------------------------------------------------------------------------

    def feed(
        self, pcm: bytes, least_dbfs: float = NOTHING_DBFS, watched: bytes | None = None
    ) -> tuple[HearingEvent, ...]:
        """One block of 16 kHz mono 16-bit audio (any length; 20-30 ms is best).

        least_dbfs: sound below this is not speech; an echo canceller tells what it may have left over.
        watched: the same block as the voice detector is to hear it, where that differs: what takes an echo
        away to the last also takes bits out of the words.
        """
        return tuple(self._feed(pcm, least_dbfs, pcm if watched is None else watched))

    def _feed(self, pcm: bytes, least_dbfs: float, watched: bytes) -> Iterator[HearingEvent]:
        samples = len(pcm) // 2
        seconds = samples / SAMPLE_RATE
        self._fed += samples
        muted = self._muted.feed(samples_of(pcm), seconds)
        if muted is not None:
            yield HearsNothing(self.now_s, muted)
        if self._loud_at_start is not None:
            loud, self._loud_at_start = self._loud_at_start, None
            yield NoiseChanged(self.now_s, loud.noisy, loud.decibels_over)
        if self._deaf:
            self._kept.forget_before()
            return
        activity = self._activity.feed(watched, least_dbfs, of_place=not (self._voice or self._ringing))
        if not self._in_speech:
            self._kept.keep_before(pcm)
            if not self._voice:
                change = self._noise.feed(activity.floor_dbfs, seconds, self.now_s)
                if change is not None:
                    yield NoiseChanged(self.now_s, change.noisy, change.decibels_over)
            if self._in_echo_tail(activity):
                return
            if activity.started:
                yield self._begin()
                yield from self._accept(self._kept.clip)
            elif self._no_input_due():
                self._asked_twice = True
                yield NoInput(self.now_s)
            return
        self._kept.keep(pcm)
        if activity.rose and self._request is not None and not self._request.free:
            yield from self._begin_anew()
        else:
            yield from self._accept(pcm)
        yield from self._maybe_end()

    @property
    def _deaf(self) -> bool:
        if self._voice:
            return self.ear == "half_duplex"
        return self.ear != "open" and not self._in_speech and self._fed <= self._deaf_until

    @property
    def _over_voice(self) -> bool:
        """The speech that is going on can only be an order."""
        return self.ear == "orders" and self._began_in_voice

    def _begin_anew(self) -> Iterator[HearingEvent]:
        """Speech begins over softer sound that passed for speech so far: that is left out."""
        assert self._request is not None
        self._activity.forget_before_rise()
        self._kept.begin_anew()
        self._speech_at = self._fed - self._kept.clip_samples
        if self._over_voice and not self._voice and self._speech_at >= self._tail_until:
            self._began_in_voice = False
            self._own.speech_begins_in_silence()
        self._again.forget()
        self._endpointer = Endpointer(self._request.pace, self._request.completeness)
        self._recogniser.again()
        yield from self._accept(self._kept.clip)

    def finish(self) -> tuple[HearingEvent, ...]:
        """The audio has ended (a wav file): decide on what was heard so far."""
        return tuple(self._end(cut=False)) if self._in_speech and self._request else ()

    def _in_echo_tail(self, activity: Activity) -> bool:
        """True while the room may still ring; at its end, sound that has stopped is forgotten."""
        if not self._ringing:
            return False
        if self._fed <= self._tail_until:
            return True
        self._ringing = False
        if activity.started and activity.silence_s > RUNG_OUT_S:
            self._activity.reset()
            return True
        return False

    def _begin(self) -> SpeechStarted:
        self._in_speech = True
        self._kept.begin()
        self._speech_at = self._fed - self._kept.clip_samples
        self._noticed_at = self._fed
        self._level = -100.0
        self._began_in_voice = self._voice
        if self._voice:
            self._own.speech_begins(self._voice_heard_since())
        else:
            self._own.speech_begins_in_silence()
        if self._request is not None:
            self._endpointer = Endpointer(self._request.pace, self._request.completeness)
        return SpeechStarted(self.now_s, self._voice)

    def _accept(self, pcm: bytes) -> Iterator[HearingEvent]:
        if self._activity.now().silence_s == 0:
            self._level = max(self._level, dbfs(samples_of(pcm)))
        if self._request is None or self._endpointer is None:
            return
        words = self._recogniser.accept(pcm)
        if words is not None:
            self._endpointer.words(tuple(w for w in words if w != UNKNOWN), self._length_s())
            yield Partial(self.now_s, words, self._began_in_voice)

    def _length_s(self) -> float:
        return (self._fed - self._speech_at) / SAMPLE_RATE

    def _maybe_end(self) -> Iterator[HearingEvent]:
        activity = self._activity.now()
        silence = activity.silence_s
        if self._request is None or self._endpointer is None:
            if silence > UNASKED_END_S or self._is_parted(silence):
                if activity.speech_s >= SHORTEST_TRY_S and not self._over_voice:
                    self._talk.ended(self._fed - round(silence * SAMPLE_RATE))
                self._forget_speech(was_noise=not self._over_voice)
            return
        more = self._talk.more_silence_s(self._fed)
        seen = self._endpointer.observe(silence - more, self._length_s(), activity.hush_s - more)
        verdict = decide(seen)
        if self._is_parted(silence) or self._is_order(seen.stable_s):
            verdict = Verdict.END
        if verdict is not Verdict.GO_ON:
            yield from self._end(cut=verdict is Verdict.CUT)
        elif seen.complete and seen.quiet_s + more >= SECOND_HEARING_S:
            self._stands_up(self._recogniser.partial)  # while nobody has to wait for it

    def _is_parted(self, silence_s: float) -> bool:
        """What began over the voice has ended after it: the next sound may be an answer."""
        return self._over_voice and not self._voice and silence_s >= PARTED_S

    def _is_order(self, stable_s: float) -> bool:
        if not self._over_voice or stable_s < STABLE_ORDER_S:
            return False
        return where_order_begins(self._recogniser.partial, self.orders) is not None

    def _stands_up(self, words: tuple[str, ...], since_s: float = 0.0) -> bool:
        """Over sayso's own voice the words of its sentence may have been said, and those words themselves
        were; else see `SecondHearing.stands_up`."""
        words = tuple(w for w in words if w != UNKNOWN)
        if self._own.hold(words):
            return False
        return self._again.stands_up(words, self._kept, self._own.meanwhile, since_s)

    def _end(self, *, cut: bool) -> Iterator[HearingEvent]:
        assert self._request is not None
        request, activity = self._request, self._activity.now()
        result = self._recogniser.finish()
        snr = self._level - activity.floor_dbfs
        ended = self.now_s - activity.silence_s
        spoke, during_voice, over_voice = activity.speech_s, self._began_in_voice, self._over_voice
        pcm = self._kept.clip
        any_word = result.text
        if not request.free:
            result = without_noise(result, pcm, activity.noise_dbfs)
        before = 0.0
        if over_voice:
            order = order_at_end(result, self.orders)
            if len(order) < len(result.words):  # what stands before it is left of the voice
                before = max(0.0, order[0].start - BEFORE_ORDER_S)
                result = Result(order)
        kept = without_hesitation(result)
        run_on = self._talk.runs_on(self._noticed_at)
        doubtful = over_voice and self._own.begin_like(kept)
        if not request.free:
            doubtful = doubtful or self._again.too_long(kept) or not self._stands_up(result.text, before)
        self._forget_speech(was_noise=not kept and not over_voice)
        noisy = self._noise.state.noisy or snr < 10.0
        of_place = not any_word and not over_voice  # what is left of the voice tells nothing of the place
        if not request.free and of_place and activity.noise_dbfs == NOTHING_DBFS:
            self._noise.heard_noise(dbfs(samples_of(pcm)), len(pcm) / 2 / SAMPLE_RATE, self.now_s)
            return  # it began with the first sound that was heard of this place: the place, not a try
        if not request.free and (not kept or any(w.word == UNKNOWN for w in kept)):
            if kept or spoke >= SHORTEST_TRY_S:
                self._was_talk(ended)
                self._request = None
                self._endpointer = None
                if of_place:
                    self._noise.heard_noise(dbfs(samples_of(pcm)), len(pcm) / 2 / SAMPLE_RATE, self.now_s)
                offers = () if run_on or during_voice else self._offers(request, pcm)
                yield NoMatch(self.now_s, noisy, result.text, pcm, offers, during_voice)
            return
        self._request = None
        self._endpointer = None
        words = tuple(w for w in kept if w.word != UNKNOWN)
        features = features_of(words, result, snr, spoke)
        own = min((w.confidence for w in words), default=0.0)
        confidence = self._calibration.confidence(features) if self._calibration else own
        if self._calibration is not None and confidence < self._calibration.reject_below:
            doubtful = True
        if len(kept) < len(result.words) and not request.free:
            confidence = min(confidence, AFTER_HESITATION)
        if not request.free and (run_on or doubtful):
            self._was_talk(ended)
            offers = () if run_on or during_voice else self._offers(request, pcm)
            yield NoMatch(self.now_s, noisy, result.text, pcm, offers, during_voice)
            return
        if words and not over_voice:
            self._noise.heard_speech(self._level)
            levels = Levels(activity.floor_dbfs, self._level, clipped_share(samples_of(pcm)))
            yield from (VoiceAdvice(self.now_s, say) for say in self._voice_watch.feed(levels))
        text = tuple(w.word for w in words)
        others: tuple[tuple[str, ...], ...] = ()
        if confidence < DOUBT and not request.free and not over_voice:
            others = tuple(a for a in self._recogniser.alternatives(pcm) if a != text)
        if text and not request.free and not over_voice and not request.completeness(text).complete:
            # no answer as it stands: it may be one that was said short
            others = distinct((self._recogniser.among_whole(pcm, _stands_alone(request)), *others))
        yield Final(
            at_s=self.now_s,
            words=text,
            confidence=confidence,
            word_confidences=tuple(w.confidence for w in words),
            alternatives=others,
            noisy=noisy,
            snr_db=snr,
            speech_end_s=ended,
            pcm=pcm,
            cut=cut,
            features=features,
            during_voice=during_voice,
        )

    def _offers(self, request: _Request, pcm: bytes) -> tuple[tuple[str, ...], ...]:
        return self._again.guesses(pcm, _stands_alone(request)) if request.offers else ()

    def _was_talk(self, ended_s: float) -> None:
        if self._over_voice:
            self._talk.forget()
        else:
            self._talk.ended(round(ended_s * SAMPLE_RATE))

    def _no_input_due(self) -> bool:
        request = self._request
        if request is None or request.no_input_s is None or self._voice or self._asked_twice:
            return False
        return self._fed - self._opened_at >= request.no_input_s * SAMPLE_RATE

    def _forget_speech(self, *, was_noise: bool = False) -> None:
        self._in_speech = False
        self._endpointer = None
        self._again.forget()
        self._kept.forget_clip()
        self._activity.reset(was_noise=was_noise)


def _stands_alone(request: _Request) -> Callable[[str], bool]:
    """Is this word an answer by itself?"""
    return lambda word: request.completeness((word,)).complete


def listen_to(
    listener: Listener, pcm: bytes, *, block_ms: int = 30, tail_s: float = 2.0
) -> tuple[HearingEvent, ...]:
    """Feed a whole recording block by block, then `tail_s` of silence, then finish."""
    step = SAMPLE_RATE * block_ms // 1000 * 2
    data = pcm + bytes(int(tail_s * SAMPLE_RATE) * 2)
    events: list[HearingEvent] = []
    for at in range(0, len(data), step):
        events += listener.feed(data[at : at + step])
    events += listener.finish()
    return tuple(events)
