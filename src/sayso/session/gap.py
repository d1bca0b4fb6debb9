"""Beside a loudspeaker the ear is closed while the voice speaks. Between two sentences it opens for a moment.

Who wants to cut in waits for the end of the sentence: "stop", "hold" and "repeat" are taken there, nothing
else, since what is said before the question was heard is no answer to it. The next sentence waits while
somebody speaks.
"""

from __future__ import annotations

from sayso.dialogue.effects import Say
from sayso.session.cut_in import cuts_in
from sayso.session.ear import Ear
from sayso.session.mouth import Mouth

#: Open for so long once the room is silent: people leave 0.2 s between turns (Stivers et al. 2009).
OPEN_S = 0.3
#: A room that rings longer than this gets no gap: the pauses would make the voice hard to follow.
LONGEST_S = 0.9
#: After fewer words (two seconds of voice) nobody needs to cut in, and "Done." must not slow the next step.
FROM_WORDS = 6
#: The next sentence waits no longer than this for what is said in the gap.
HOLD_S = 2.0


class Gap:
    def __init__(self, mouth: Mouth, ear: Ear) -> None:
        self._mouth = mouth
        self._ear = ear
        self._comes = False
        self._open = False
        self.spoken_in = False

    def sentence_begins(self, say: Say | None) -> None:
        """The loudspeaker begins with it; ends a gap that is open."""
        if self._open:
            self._open = False
            self._ear.voice_begins()
        seconds = self._ear.opens_after_s + OPEN_S
        long = say is not None and len(say.text.split()) >= FROM_WORDS
        self._comes = long and seconds <= LONGEST_S and not self._ear.is_open and not self._ear.noisy
        if self._comes:
            self._mouth.leave_gap(seconds)
        else:
            self._mouth.leave_gap()

    def sentence_ended(self, at: float) -> None:
        """It was heard to its end `at` (time.monotonic()), and another one waits."""
        if self._comes and not self._ear.is_open:
            self._open = True
            self._ear.voice_ended(at)

    def speech_begins(self) -> None:
        """The ear noticed speech."""
        self.spoken_in = self._open
        if self.spoken_in:
            self._mouth.hold(HOLD_S)

    def speech_ended(self, words: tuple[str, ...], *, before_caution: bool) -> bool:
        """True when it was an order, which has cut the voice off; else the voice goes on."""
        if cuts_in(words, before_caution=before_caution):
            self.spoken_in = False
            self._mouth.stop()
            return True
        self.no_words()
        return False

    def no_words(self) -> None:
        """What was noticed is over and was nothing that counts: the voice goes on."""
        self.spoken_in = False
        self._mouth.go_on()
