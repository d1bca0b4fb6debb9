"""Whether speech began before anybody could know the open question: with a headset the ear is always open.

"Done" said twice, because nothing had answered yet, was an answer to the next step, which nobody had heard.
"""

from __future__ import annotations

from sayso.session.loop import REACTION_MS


class UnheardQuestion:
    """Follows the questions, the voice and the speech of one job. Times are time.monotonic()."""

    def __init__(self) -> None:
        self._context = ""
        #: when the first words since the last question were given to the voice
        self._said_at: float | None = None
        self._last_sound = float("-inf")
        #: a new question whose first word has not sounded yet
        self._waits_for_voice = False
        self._sounds_since = float("-inf")
        self._in_speech = False
        #: the speech that is going on, or was the last, is no answer to the question that is open
        self.too_soon = False

    def says(self, at: float) -> None:
        if self._said_at is None:
            self._said_at = at

    def asked(self, context: str) -> None:
        """After what is said with the question was given to the voice, which may sound already."""
        said_at, self._said_at = self._said_at, None
        if context == self._context:
            return
        self._context = context
        self.too_soon = self._in_speech
        if said_at is not None:
            self._waits_for_voice = self._last_sound < said_at
            self._sounds_since = self._last_sound

    def voice_sounds(self, at: float) -> None:
        self._last_sound = at
        if self._waits_for_voice:
            self._waits_for_voice = False
            self._sounds_since = at

    def voice_is_over(self) -> None:
        """Also when it failed: nobody waits for ever for a voice that does not come."""
        self._waits_for_voice = False

    def speech_begins(self, at: float) -> None:
        """Whoever answers has heard the first sound at least, and takes a moment (REACTION_MS)."""
        self._in_speech = True
        self.too_soon = self._waits_for_voice or at < self._sounds_since + REACTION_MS / 1000

    def speech_ends(self) -> None:
        self._in_speech = False
