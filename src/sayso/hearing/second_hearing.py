"""What was heard, heard again: against words that sound like it, and as the whole answer that it may be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from sayso.hearing.kept_sound import KeptSound
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.recogniser import SAMPLE_RATE, HeardWord, Recogniser, distinct
from sayso.hearing.rivals import ADVANTAGE, Rivals

#: No single word lasts longer than this: noise was taken for it.
LONGEST_WORD_S, LONGEST_PHONE_S = 0.3, 0.2
#: No guess is made at longer sound, its pre-roll included. Chosen on 217 digits of AN4's development speakers
#: at 10 and 5 dB and half A of the sound that is no answer: 13 right guesses and none wrong; without a limit
#: 16 right, 2 wrong, and 1 from machines.
LONGEST_GUESS_S = 3.0
#: And so sure the second hearing has to be of each word: all of those 13 are (0.74 at least), and about half
#: of what is made of lone foreign syllables in half A is not.
SURE_GUESS = 0.7


class SecondHearing:
    """Keeps the verdict on one utterance until `forget()`: asked before the speech ends, and when it ends."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser = recogniser
        self._rivals: Rivals | None = None
        self._verdict: tuple[tuple[str, ...], bool] | None = None

    @property
    def _lexicon(self) -> Mapping[str, tuple[str, ...]]:
        """Read when it is first needed: the first word that is spoken does not wait for it."""
        return model_lexicon(self._recogniser.model.path)

    def forget(self) -> None:
        self._verdict = None

    def stands_up(self, words: tuple[str, ...], kept: KeptSound, own: Iterable[str], since_s: float) -> bool:
        """Is a single word still heard when what sounds like it may have been said as well, and each of `own`
        (sayso's voice)? It is all that was said after `since_s` of the clip, [unk] left out. Several words
        always stand."""
        if len(words) != 1:
            return True
        if self._verdict is None or self._verdict[0] != words:
            self._rivals = self._rivals or Rivals(self._lexicon)
            rivals = (*self._rivals.of(words[0]), *(w for w in dict.fromkeys(own) if w in self._lexicon))
            after = kept.clip[int(since_s * SAMPLE_RATE) * 2 :]
            again = not rivals or self._recogniser.stands_up(after, words, rivals, ADVANTAGE)
            self._verdict = (words, again)
        return self._verdict[1]

    def too_long(self, words: tuple[HeardWord, ...]) -> bool:
        """A single word that nobody draws out like that."""
        if len(words) != 1:
            return False
        ways = self._lexicon.get(words[0].word, ())
        phones = max((len(way.split()) for way in ways), default=10)
        return words[0].end - words[0].start > LONGEST_WORD_S + LONGEST_PHONE_S * phones

    def guesses(self, pcm: bytes, stands_alone: Callable[[str], bool]) -> tuple[tuple[str, ...], ...]:
        """What was turned down may have been a whole answer: worth asking about. Sound that goes on is not:
        in noise all wrong guesses came from clips of more than LONGEST_GUESS_S."""
        if len(pcm) > LONGEST_GUESS_S * SAMPLE_RATE * 2:
            return ()
        return distinct((self._recogniser.among_whole(pcm, stands_alone, SURE_GUESS),))
