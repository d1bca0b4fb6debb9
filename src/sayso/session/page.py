"""The page of a job by voice: each step and what the ear notices; its keys are answers like any other."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sayso.dialogue.asked import is_code
from sayso.dialogue.events import KeyPressed
from sayso.dialogue.view import CODE_SHOWN
from sayso.hearing.hearing_events import HearsNothing, Partial, VoiceAdvice
from sayso.procedure.model import Procedure
from sayso.screen.showing import Showing
from sayso.session.ear import WAYS, Ear, EarEvent, ListeningWay
from sayso.session.errors import UserError
from sayso.session.loop import Loop
from sayso.session.places import procedures_folder
from sayso.session.typed import typed_event

#: The level meter moves this often; more is motion without news.
METER_S = 0.2
SILENCE_DBFS = -60.0


@dataclass(frozen=True, slots=True)
class PageOptions:
    """`store` is the record whose jobs the lead hand's pages list."""

    store: str
    port: int = 0


class JobPage:
    """`attach` before the loop runs. Callable from any thread."""

    def __init__(self, procedure: Procedure, options: PageOptions) -> None:
        self._loop: Loop | None = None
        self._next_meter = 0.0
        self._code_asked = False
        try:
            self._showing = Showing(
                procedure,
                self._pressed,
                store=options.store,
                procedures=procedures_folder(),
                port=options.port,
            )
        except OSError as error:
            raise UserError(str(error)) from error

    @property
    def address(self) -> str:
        return self._showing.address

    def attach(self, loop: Loop, ear: Ear | None = None) -> None:
        """`ear`: None where the job is done on the keyboard."""
        self._loop = loop
        if ear is not None:
            ear.level = self._level

    def watch(self, view: Mapping[str, Any]) -> None:
        self._code_asked = bool(view["code_asked"])
        self._showing.watch(view)

    def notice(self, event: EarEvent) -> None:
        """Words while they are still being spoken; a microphone that gives nothing; how it listens."""
        if isinstance(event, Partial):
            hidden = self._code_asked and is_code(tuple(event.words))
            self._showing.hear(partial=CODE_SHOWN if hidden else " ".join(event.words))
        elif isinstance(event, HearsNothing):
            self._showing.hear(muted=event.muted)
        elif isinstance(event, ListeningWay):
            self._showing.hear(notice=WAYS[event.way])
        elif isinstance(event, VoiceAdvice):
            self._showing.hear(notice=event.say)

    def refuse(self, why: str) -> None:
        """A key of the page did nothing; a gloved hand must see that it was not the key's fault."""
        self._showing.hear(notice=why)

    def close(self) -> None:
        self._showing.close()

    def _level(self, pcm: bytes) -> None:
        now = time.monotonic()
        if now < self._next_meter or not pcm:
            return
        self._next_meter = now + METER_S
        samples = np.frombuffer(pcm, np.int16).astype(np.float64) / 32768
        rms = float(np.sqrt(np.mean(samples**2)))
        self._showing.hear(level_db=max(SILENCE_DBFS, 20 * np.log10(rms + 1e-9)))

    def _pressed(self, kind: Literal["key", "words"], text: str) -> None:
        loop = self._loop
        if loop is None:
            return
        if kind == "key":
            loop.press(KeyPressed(loop.now_ms(), text))
        else:
            loop.press(typed_event(text, loop.now_ms))


@contextlib.contextmanager
def job_page(procedure: Procedure, options: PageOptions | None) -> Iterator[JobPage | None]:
    """The open page, or None when none is wanted. Prints its address."""
    if options is None:
        yield None
        return
    page = JobPage(procedure, options)
    print(f"sayso: the page: {page.address}", file=sys.stderr, flush=True)
    try:
        yield page
    finally:
        page.close()
