"""Talk that was not for sayso: what follows it at once is more of it; for a while a word must stand alone."""

from __future__ import annotations

from sayso.hearing.recogniser import SAMPLE_RATE

#: Words that follow speech which was no answer by less than this, with nothing said by sayso in between,
#: are more of the same talk: somebody speaks to a colleague.
RUN_ON_S = 2.0
#: While such talk goes on, a short answer has to be followed by this much more silence.
TALK_SILENCE_S = 0.3
#: Talk is over when this long has passed since.
TALK_OVER_S = 15.0


class TalkBeside:
    """Times are samples fed to the ear."""

    def __init__(self) -> None:
        self._ended: int | None = None

    def ended(self, at: int) -> None:
        self._ended = at

    def forget(self) -> None:
        """sayso spoke since, or was spoken to."""
        self._ended = None

    def runs_on(self, noticed_at: int) -> bool:
        """Is speech noticed then more of the talk? Counted to where it was noticed: right after other
        talk the pre-roll is shorter than ever."""
        return self._ended is not None and noticed_at - self._ended < int(RUN_ON_S * SAMPLE_RATE)

    def more_silence_s(self, now: int) -> float:
        """What the silence after an answer has to be longer by."""
        lately = self._ended is not None and now - self._ended <= TALK_OVER_S * SAMPLE_RATE
        return TALK_SILENCE_S if lately else 0.0
