"""The voice of a job: what is to be said goes in, the moment it was heard comes out."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

from sayso.dialogue.effects import Say
from sayso.speaking.loudness import Samples
from sayso.speaking.output_device import Output, find_output
from sayso.speaking.phrase_cache import Phrase, PhraseCache
from sayso.speaking.player import GAP_S, Player, PlayerEvent
from sayso.speaking.voice import WORDS_PER_MINUTE, Voice


class Mouth:
    """Owns the speech engine, the phrases rendered ahead and the loudspeaker.

    `told` is called from the player's thread for each PlayerEvent.
    """

    def __init__(self, speaker: str | None = None, voice: str = "", rate: float = 1.0) -> None:
        self._speaker = speaker
        self.told: Callable[[PlayerEvent], None] = _nobody
        #: told of each block of sound and when it is heard (an echo canceller wants to know)
        self.played: Callable[[Samples, float], None] = lambda samples, at: None
        self._voice = Voice(voice, round(WORDS_PER_MINUTE * rate))
        self._player: Player | None = None
        self._phrases: PhraseCache | None = None
        self.output: Output | None = None

    def open(self) -> None:
        """Raises OutputError (no loudspeaker) or VoiceError (no speech engine)."""
        self.output = find_output(self._speaker)
        self._voice.start()
        self._player = Player(
            self.output, lambda event: self.told(event), lambda samples, at: self.played(samples, at)
        )
        self._player.start()
        self._phrases = PhraseCache(self._voice.render, self.output.rate)

    def close(self) -> None:
        if self._player is not None:
            self._player.close()
        if self._phrases is not None:
            self._phrases.close()
        self._voice.close()

    def say(self, effect: Say) -> None:
        assert self._phrases is not None
        assert self._player is not None
        samples = self._phrases.get(Phrase(effect.text, effect.rate))
        self._player.play(effect.utterance, samples, effect.volume)

    def stop(self) -> None:
        assert self._player is not None
        self._player.stop()

    def leave_gap(self, seconds: float = GAP_S) -> None:
        """How long it is silent between two utterances from now on."""
        assert self._player is not None
        self._player.gap_s = seconds

    def hold(self, at_most_s: float) -> None:
        """Somebody speaks in the gap: the next utterance waits, but no longer than this."""
        assert self._player is not None
        self._player.hold(at_most_s)

    def go_on(self) -> None:
        assert self._player is not None
        self._player.go_on()

    @property
    def name(self) -> str:
        """Name of the loudspeaker."""
        return self.output.name if self.output else ""

    @property
    def rate(self) -> int:
        """The loudspeaker's rate in hertz. Only when open."""
        assert self.output is not None
        return self.output.rate

    @property
    def busy(self) -> bool:
        assert self._player is not None
        return self._player.busy

    def prepare(self, says: Iterable[Say]) -> None:
        """Renders in the background what is likely to be said next."""
        assert self._phrases is not None
        self._phrases.prepare(Phrase(s.text, s.rate) for s in says)

    def add(self, says: Iterable[Say]) -> None:
        assert self._phrases is not None
        self._phrases.add(Phrase(s.text, s.rate) for s in says)

    def wait_until_silent(self, at_most_s: float) -> None:
        """Returns when everything was played, or after `at_most_s` seconds."""
        until = time.monotonic() + at_most_s
        while self.busy and time.monotonic() < until:
            time.sleep(0.05)
        time.sleep(0.15)  # the device's own delay: `busy` ends when the last block was handed over


def _nobody(event: PlayerEvent) -> None:
    """No job has begun yet."""
