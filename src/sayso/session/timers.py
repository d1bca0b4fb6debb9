"""What is due when. Kept by the time of day at which a timer ends, so that a restart changes nothing."""

from __future__ import annotations

from collections.abc import Iterable

from sayso.dialogue.effects import CancelTimer, Effect, StartTimer


class Timers:
    """Names with the epoch milliseconds at which they are due."""

    def __init__(self) -> None:
        self._due_ms: dict[str, int] = {}

    def follow(self, effects: Iterable[Effect]) -> None:
        """Starts and cancels what `effects` say."""
        for effect in effects:
            if isinstance(effect, StartTimer):
                self._due_ms[effect.name] = effect.due_ms
            elif isinstance(effect, CancelTimer):
                self._due_ms.pop(effect.name, None)

    def done(self, name: str) -> None:
        self._due_ms.pop(name, None)

    @property
    def next(self) -> tuple[str, int] | None:
        """Name and due time of the timer that ends first."""
        if not self._due_ms:
            return None
        name = min(self._due_ms, key=lambda n: (self._due_ms[n], n))
        return name, self._due_ms[name]

    def seconds_left(self, now_ms: int) -> float | None:
        """Seconds until the next timer ends (0 when it is late), None when none runs."""
        first = self.next
        return None if first is None else max(0.0, (first[1] - now_ms) / 1000)
