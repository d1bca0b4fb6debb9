"""The typed rehearsal: the same machine and loop, with a keyboard for an ear and text for a voice."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Callable
from typing import TextIO

from sayso.dialogue.asked import is_code
from sayso.dialogue.effects import KeepClip, Listen, Say
from sayso.dialogue.events import ClipKept, Event, Heard, KeyPressed, VoiceFinished
from sayso.dialogue.holding import HELD
from sayso.dialogue.prompts import choices
from sayso.dialogue.state import State
from sayso.dialogue.view import CODE_SHOWN, code_asked
from sayso.session.loop import Loop

#: An empty line is the nearest key: it says that the step is done, as a pedal does.
EMPTY_LINE_KEY = "done"


class TypedHands:
    """Prints what would be spoken and reads one line for each question. Ends the loop at end of input."""

    def __init__(self, loop: Loop, lines: TextIO | None = None, out: TextIO | None = None) -> None:
        self._loop = loop
        self._lines = lines or sys.stdin
        self._out = out or sys.stdout
        self._echo = not self._lines.isatty()
        self._wanted = threading.Semaphore(0)
        self._waiting_for_line = False
        self._lock = threading.Lock()
        self._question = 0
        self._state: State | None = None
        self._replied = True
        self._reader = threading.Thread(target=self._read, name="typed lines", daemon=True)
        self._reader.start()

    def say(self, effect: Say) -> None:
        self._replied = True
        self._print(f"sayso> {effect.text}")
        self._loop.post(VoiceFinished(self._loop.now_ms(), effect.utterance))

    def stop_voice(self) -> None:
        pass

    def listen(self, effect: Listen, question: int, state: State) -> None:
        with self._lock:
            self._question = question
            self._state = state

    def stop_listening(self) -> None:
        pass

    def keep_clip(self, effect: KeepClip) -> None:
        """The next line typed is the note; only 'end note' (0 seconds) closes one without words."""
        self._replied = True
        if effect.seconds <= 0:
            self._loop.post(ClipKept(self._loop.now_ms(), effect.note, "", 0.0))

    def may_press(self, event: Event) -> bool:
        """A key of the page, told where the questions stand: whoever reads here sees what was answered."""
        words = event.words if isinstance(event, Heard) else (getattr(event, "key", ""),)
        hidden = self._state is not None and code_asked(self._state) and is_code(words)
        self._print(f"\npage> {CODE_SHOWN if hidden else ' '.join(words)}")
        return True

    def after(self, event: Event, state: State) -> None:
        """Whoever types is answered. The dialogue keeps silent where a voice would only chatter: after the
        third try, and to talk while the job is on hold."""
        if isinstance(event, Heard | KeyPressed) and not self._replied:
            self._print(f"sayso> {HELD if state.on_hold else choices(state)}")

    def ready(self) -> None:
        # Only now: a line read earlier would be the answer to a question that a passing wait has closed.
        with self._lock:
            if self._waiting_for_line:
                return
            self._waiting_for_line = True
        self._wanted.release()

    def alert(self, text: str) -> None:
        print(f"sayso: {text}", file=sys.stderr, flush=True)

    def finish(self) -> None:
        pass

    def _print(self, text: str) -> None:
        self._out.write(text + "\n")
        self._out.flush()

    def _read(self) -> None:
        while True:
            self._wanted.acquire()
            try:
                self._out.write("you> ")
                self._out.flush()
            except (OSError, ValueError):  # `... | head`: a thread that dies ends nothing
                self._loop.leave("nobody reads what it says")
                return
            try:
                line = self._lines.readline()
            except (OSError, ValueError):
                line = ""
            with self._lock:
                self._waiting_for_line = False
                question = self._question
            if not line:
                with contextlib.suppress(OSError, ValueError):
                    self._print("")
                self._loop.leave("end of input")
                return
            if self._echo:
                with contextlib.suppress(OSError, ValueError):  # the next question tells that nobody reads
                    self._print(line.strip())
            self._replied = False
            self._loop.post(typed_event(line, self._loop.now_ms), question)


def typed_event(line: str, now_ms: Callable[[], int]) -> Event:
    """What a typed line means: words, or the 'done' key when it is empty."""
    # No key types a control character; a pasted or piped one could not be kept in every database.
    words = tuple("".join(c if c.isprintable() else " " for c in line).split())
    if not words:
        return KeyPressed(now_ms(), EMPTY_LINE_KEY)
    return Heard(now_ms(), words, typed=True)
