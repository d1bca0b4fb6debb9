"""What an open ear may hear sayso's own voice say: the sentence that is spoken and those just before it."""

from __future__ import annotations

from collections import deque

from sayso.hearing.recogniser import HeardWord


class OwnWords:
    """Times are samples fed to the ear."""

    def __init__(self) -> None:
        self._says: tuple[str, ...] = ()
        #: what was said before that, and when it had been said
        self._said: deque[tuple[int, tuple[str, ...]]] = deque(maxlen=8)
        #: of the speech that is going on: words of the voice that may be in it
        self.meanwhile: tuple[str, ...] = ()

    def next_sentence(self, words: tuple[str, ...], at: int) -> None:
        """The voice begins `words`; empty where it falls silent."""
        if self._says:
            self._said.append((at, self._says))
        self._says = words

    def goes_on_in_speech(self) -> None:
        """Somebody speaks over the voice while it begins its next sentence."""
        self.meanwhile += self._says

    def speech_begins(self, heard_since: int) -> None:
        """Speech begins over the voice, of which sentences may be in it that ended after `heard_since`."""
        lately = tuple(word for ended, words in self._said if ended >= heard_since for word in words)
        self.meanwhile = lately + self._says

    def speech_begins_in_silence(self) -> None:
        self.meanwhile = ()

    def begin_like(self, order: tuple[HeardWord, ...]) -> bool:
        """The voice is saying how this order begins ("holding" too): what is left of it sounds like that."""
        return bool(order) and any(word.startswith(order[0].word) for word in self.meanwhile)

    def hold(self, words: tuple[str, ...]) -> bool:
        """The voice is saying these very words, one after another."""
        own = self.meanwhile
        return bool(words) and any(own[at : at + len(words)] == words for at in range(len(own)))
