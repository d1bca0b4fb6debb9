"""A scripted technician: listens until the voice has ended, knows what it wants to answer, says it aloud.

It puts right what sayso misheard, as a person would: a read-back of the wrong value gets "no" and the value.
"""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.sayso_program import Line, SaysoProgram
from sayso.bench.sound_watch import SoundWatch
from sayso.bench.speech_source import SpeechSource

#: sayso's own pauses between two sentences are shorter than this (session/gap.py, and what an engine adds).
TURN_SILENCE_S = 1.0
#: How long the technician takes to answer: people leave 0.2 s (Stivers et al. 2009).
REACTION_S = 0.2

#: How long a technician waits for any reply.
PATIENCE_S = 8.0
#: Who may use the keyboard does so after this many turns at one question.
TRIES = 6
#: What asks for a yes or a no, and is no question of its own.
READ_BACK = r"yes\?$|is it what you read"
#: What sayso says when the reply to a read-back was not understood.
NOT_UNDERSTOOD = r"\byes\b|\bno\b|\bkeys\b"


class LostThreadError(Exception):
    """sayso said something that the script has no answer to, or nothing at all; the transcript is in it."""


@dataclass(frozen=True, slots=True)
class Reply:
    """When the last thing sayso said matches `to` (a regular expression), say `say`.

    `times`: how often it may be used; `during` seconds after the voice began it is said over the voice;
    `do` is called instead of speaking when it is given.
    """

    to: str
    say: str = ""
    times: int = 1
    during: float | None = None
    do: Callable[[], None] | None = None


@dataclass(frozen=True, slots=True)
class Turn:
    """One spoken turn: what was answered to, what was said, when (time.monotonic())."""

    prompt: str
    said: str
    began: float
    ended: float


@dataclass
class Technician:
    audio: PrivateAudio
    program: SaysoProgram
    speech: SpeechSource
    loudspeaker: SoundWatch
    microphone: SoundWatch
    turns: list[Turn] = field(default_factory=list)
    #: seconds without a reply after which it says its answer again, one after the other; then it waits
    patience_s: Sequence[float] = (PATIENCE_S, PATIENCE_S, PATIENCE_S)
    #: after that it uses the keyboard (`program` must have one); how often it had to
    uses_keys: bool = False
    keyed: int = 0
    _question: str = ""
    #: a read-back that was said yes to and may be asked about again
    _read_back: int | None = None
    _asked: int | None = None
    _tries: int = 0

    def work(self, script: Sequence[Reply], *, timeout_s: float, until: str = "") -> None:
        """Answers until sayso ends, or says something that matches `until`. Raises LostThreadError."""
        left = {index: reply.times for index, reply in enumerate(script)}
        deadline = time.monotonic() + timeout_s
        mark = 0
        while time.monotonic() < deadline:
            heard = self._hear_out(mark, script, left, deadline)
            if heard is None:
                return
            prompt, mark = heard
            if until and re.search(until, prompt, re.IGNORECASE):
                return
            if not prompt:
                continue
            self._answer(prompt, script, left)
        raise LostThreadError(f"not finished in {timeout_s:.0f} s\n{self.transcript()}")

    def say(self, text: str) -> Turn:
        """Plays `text` into the microphone; returns when the last sample was played."""
        file = self.speech.file(text)
        began = time.monotonic()
        subprocess.run(
            ["paplay", "--latency-msec=20", "-d", "mic", str(file)], env=self.audio.environment, check=True
        )
        turn = Turn(self._last_prompt(), text, began, time.monotonic())
        self.turns.append(turn)
        return turn

    def transcript(self) -> str:
        """All that was said on both sides, for a failing test."""
        lines = [f"{line.at:9.2f} {line.who}> {line.text}" for line in self.program.lines]
        lines += [f"{turn.began:9.2f} technician> {turn.said}" for turn in self.turns]
        return "\n".join(sorted(lines) + self.program.errors)

    def _hear_out(
        self, mark: int, script: Sequence[Reply], left: dict[int, int], deadline: float
    ) -> tuple[str, int] | None:
        """Waits for new words and their end: all that was said, and how far the transcript was read."""
        news = self._wait_for_words(mark, deadline)
        if news is None:
            if self.program.running:
                raise LostThreadError(f"sayso says nothing\n{self.transcript()}")
            return None
        time.sleep(0.05)  # all that is said in one breath is printed together
        coming = " ".join(line.text for line in self.program.said_since(mark))
        early = _match(coming, script, left, over_the_voice=True)
        if early is not None:
            reply = script[early]
            left[early] -= 1
            count = len(self.program.lines)
            self.loudspeaker.wait_for_sound(5.0, news.at)
            time.sleep(reply.during or 0.0)
            self.say(reply.say)
            return "", count
        self.loudspeaker.wait_for_sound(5.0, news.at - 0.1)
        while self.loudspeaker.wait_for_silence(TURN_SILENCE_S, deadline - time.monotonic()) is None:
            raise LostThreadError(f"sayso does not stop talking\n{self.transcript()}")
        said = self.program.said_since(mark)
        return " ".join(line.text for line in said), len(self.program.lines)

    def _wait_for_words(self, mark: int, deadline: float) -> Line | None:
        """The next line of sayso. A technician who gets no reply says it again, as a person does."""
        after_last_try = [(PATIENCE_S, *self.patience_s)[-1]] if self.uses_keys else []
        for number, patience_s in enumerate([*self.patience_s, *after_last_try, None]):
            left_s = deadline - time.monotonic()
            wait_s = left_s if patience_s is None or not self.turns else min(patience_s, left_s)
            if patience_s is None and self.uses_keys:
                self.keyed += 1
                self.program.type(self.turns[-1].said)
            news = self.program.wait_for(lambda line: line.who == "sayso", wait_s, mark)
            if news is not None or not self.program.running or not self.turns or patience_s is None:
                return news
            if number < len(self.patience_s):
                self.say(self.turns[-1].said)
        return None

    def _answer(self, prompt: str, script: Sequence[Reply], left: dict[int, int]) -> None:
        if not self.program.running:
            return
        index = _match(prompt, script, left, over_the_voice=False)
        if index is None:
            if not re.search(NOT_UNDERSTOOD, prompt, re.IGNORECASE):
                self._read_back = None  # "Again, please.": the yes was taken for a no
            index = self._read_back
        elif re.search(READ_BACK, prompt, re.IGNORECASE):
            self._read_back = index if script[index].say == "yes" else None
        else:
            self._read_back = None
            self._question = prompt
            self._tries = self._tries if index == self._asked else 0
            self._asked = index
        if index is None:  # "Again, please.": words that refer to the question asked before
            index = _match(self._question, script, left, over_the_voice=False)
        if index is None:
            raise LostThreadError(f"no answer to: {prompt}\n{self.transcript()}")
        left[index] -= 1
        reply = script[index]
        if reply.do is not None:
            reply.do()
            return
        time.sleep(REACTION_S)
        self._tries += 1
        if self.uses_keys and self._tries > TRIES:
            self.keyed += 1
            self.program.type(reply.say)
        else:
            self.say(reply.say)

    def _last_prompt(self) -> str:
        said = self.program.said_since(0)
        return said[-1].text if said else ""


def _match(said: str, script: Sequence[Reply], left: dict[int, int], *, over_the_voice: bool) -> int | None:
    """The first reply that fits what was said and is not used up."""
    for index, reply in enumerate(script):
        wanted = (reply.during is not None) == over_the_voice
        if wanted and left[index] and re.search(reply.to, said, re.IGNORECASE):
            return index
    return None
