"""A technician without a voice: knows his machine, listens to what sayso says, answers as people do.

He learns only from what is spoken (Say) and from which question stands open (the context of Listen, which the
page shows). He never looks into the state. Rates are chosen, not measured; they are all in `Temper`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from random import Random

from sayso import answers
from sayso.answers.answer import Answer
from sayso.answers.words import lowered
from sayso.dialogue.effects import Listen, Say
from sayso.procedure.model import Ask, AskDone, AskNote, AskTime, AskWitness, Procedure
from sayso.rehearsal import wordings
from sayso.rehearsal.machine_truth import NOTHING_KNOWN, true_answer
from sayso.rehearsal.questions_heard import key_of

#: Tries at one question before he takes the keys: sayso offers them at the third.
TRIES = 3


@dataclass(frozen=True, slots=True)
class Temper:
    """Shares of turns. A read-back is always listened to, unless `overlooks_read_back` says otherwise."""

    overlooks_echo: float = 0.2
    overlooks_read_back: float = 0.0
    corrects_in_one_breath: float = 0.5
    says_the_value_for_yes: float = 0.05
    asks: float = 0.03
    early: float = 0.03
    late: float = 0.03


#: Nothing but plain answers: the walk that the others are compared with.
PLAIN = Temper(asks=0.0, early=0.0, late=0.0)

#: What sayso says when it wants a value digit by digit; dialogue.prompts.piece_by_piece has the words.
_PIECE_BY_PIECE = ("Spell it", "digit by digit", "only the number")


class Intent(StrEnum):
    """What he means by what he says."""

    ANSWER = "answer"
    YES = "yes"
    NO = "no"
    ACKNOWLEDGE = "acknowledge"
    TAKE_BACK = "take back"
    KEEP = "keep"
    OTHER = "other"


class By(StrEnum):
    VOICE = "voice"
    KEYS = "keys"
    CLIP = "clip"
    WAITING = "waiting"


@dataclass(frozen=True, slots=True)
class Act:
    """`question` is the key under which words are tried. `silent` first: he answers only when asked again."""

    by: By
    text: str
    intent: Intent
    question: str = ""
    early: bool = False
    silent: bool = False


@dataclass
class Technician:
    """One person in one job. `hears` what was said, then `acts`."""

    procedure: Procedure
    rng: Random
    seed: str
    wrench: str
    witnesses: tuple[tuple[str, str], ...]
    temper: Temper = field(default_factory=Temper)
    truths: dict[str, Answer] = field(default_factory=dict)
    unparsed: list[str] = field(default_factory=list)
    meant: Intent = Intent.OTHER
    _entries: dict[str, int] = field(default_factory=dict)
    _asked: str = ""
    _at: str = ""
    _tries: int = 0
    _spell: bool = False
    _plainly: bool = False
    _wrong: bool = False
    _undo_tries: int = 0
    _read_back: Answer | None = None
    _so_far: Answer | None = None
    _kept_before: bool = False

    # --- the machine ------------------------------------------------------------------------------

    def comes_to(self, step: str) -> None:
        """Work at a step begins (anew): what is true there is what the machine shows now."""
        self.truths.pop(step, None)
        self._entries[step] = self._entries.get(step, 0) + 1

    def truth(self, step: str) -> Answer:
        if step not in self.truths:
            self._look(step, sound=False)
        return self.truths[step]

    def _look(self, step: str, *, sound: bool) -> None:
        """The same machine for the same seed, whatever was misheard before."""
        rng = Random(f"{self.seed} {step} {self._entries.get(step, 0)} {sound}")
        known = {self.procedure.step(name).ask.name: truth.value for name, truth in self.truths.items()}
        self.truths[step] = true_answer(
            self.procedure.step(step),
            rng,
            wrench=self.wrench,
            witnesses=self.witnesses,
            sound=sound,
            known=known if self.procedure.step(step).expect else NOTHING_KNOWN,
        )

    # --- listening --------------------------------------------------------------------------------

    def hears(self, said: Sequence[Say], listen: Listen) -> None:
        for say in said:
            if say.kind == "echo":
                self._hears_echo(say.text)
            elif say.kind == "read_back" or (say.kind == "no_match" and say.text.endswith("Yes?")):
                self._read_back = self._value_in(say.text)
            elif "So far: " in say.text:
                self._so_far = self._value_in(say.text.split("So far: ")[1].split(" Answer again")[0])
                self._kept_before = True
            if say.text.startswith("Say yes"):
                self._plainly = True
            if say.kind == "no_match" and any(words in say.text for words in _PIECE_BY_PIECE):
                self._spell = True
        if listen.context != self._asked:
            self._asked = listen.context
            self._tries = 0
            self._plainly = False
            step = listen.context.partition(" ")[2]
            if step != self._at:
                self._at, self._spell = step, False

    def _hears_echo(self, text: str) -> None:
        if text.startswith("Taken back"):
            self._wrong = False
            return
        if text.startswith(("Recorded", "Skipped", "Undone", "Kept")) or not self._at:
            return
        if text == "Confirmed.":
            right = self.meant in (Intent.YES, Intent.ANSWER)
        elif isinstance(self._ask(), AskNote):
            right = True
        elif isinstance(self._ask(), AskDone):
            right = self.meant is Intent.ANSWER
        else:
            found = self._value_in(text)
            right = found is not None and self._agrees(found, self.truth(self._at))
        if not right and self.rng.random() >= self.temper.overlooks_echo:
            self._wrong = True
            self._undo_tries = 0

    def _ask(self) -> Ask:
        return self.procedure.step(self._at).ask

    def _value_in(self, text: str) -> Answer | None:
        """The value in a read-back or an echo, as somebody hears it who says it after sayso."""
        if not self._at:
            return None
        words = as_said(text, self._ask())
        found = answers.understand(self._ask(), words, wrench=self.wrench, witnesses=self.witnesses)
        if isinstance(found, Answer):
            return found
        self.unparsed.append(text)
        return None

    def _agrees(self, heard: Answer, truth: Answer) -> bool:
        return wordings.same(heard, truth)

    # --- answering --------------------------------------------------------------------------------

    def acts(self, listen: Listen) -> Act:
        self._tries += 1
        act = self._decide(listen.context)
        if act.by is By.VOICE and act.intent is not Intent.OTHER:
            early, late = self.rng.random() < self.temper.early, self.rng.random() < self.temper.late
            act = Act(act.by, act.text, act.intent, act.question, early, late and not early)
        self.meant = act.intent
        return act

    def _decide(self, context: str) -> Act:
        what, _, step = context.partition(" ")
        if self._wrong and what in ("answer", "caution", "wait", "deviation"):
            self._undo_tries += 1
            if self._undo_tries <= 4:
                return self._says("undo", Intent.TAKE_BACK, what, keys=self._undo_tries > TRIES)
            self._wrong = False
        match what:
            case "ready":
                return self._says("ready", Intent.ACKNOWLEDGE, what)
            case "caution":
                return self._says(self._any("understood", "understood", "got it"), Intent.ACKNOWLEDGE, what)
            case "wait":
                if self.rng.random() < self.temper.asks and self._tries < 3:
                    return self._says(self._any("done", "repeat", "how long"), Intent.OTHER, what)
                return Act(By.WAITING, "", Intent.OTHER)
            case "hold":
                return self._says("carry on", Intent.OTHER, what)
            case "stop" | "skip_reason" | "not_met_reason" | "not_met_code" | "not_met_confirm":
                return self._says("no", Intent.NO, what)
            case "note":
                return self._says("end note", Intent.OTHER, what)
            case "settle":
                return self._says("undone", Intent.OTHER, what)
            case "keep_reason":
                return self._says("another reason", Intent.OTHER, what)
            case "still_holds":
                return self._says("yes", Intent.YES, what)
            case "confirm":
                return self._replies_to_read_back(step)
            case "deviation":
                if self._tries == 1:
                    self._look(step, sound=True)
                return self._answers(step)
            case _:
                return self._answers_or_asks(step)

    def _answers_or_asks(self, step: str) -> Act:
        if isinstance(self._ask(), AskNote):
            return Act(By.CLIP, "", Intent.ANSWER)
        if self._kept_before:
            self._kept_before = False
            if self._so_far is not None and self._agrees(self._so_far, self.truth(step)):
                return self._says("keep it", Intent.KEEP, "answer")
        if self._tries == 1 and self.rng.random() < self.temper.asks:
            return self._says(self._any("repeat", "why", "how far am i", "hold"), Intent.OTHER, "answer")
        return self._answers(step)

    def _answers(self, step: str) -> Act:
        return self._says(self._value_words(step), Intent.ANSWER, "answer", value=True)

    def _replies_to_read_back(self, step: str) -> Act:
        right = self._read_back is not None and self._agrees(self._read_back, self.truth(step))
        if not right and self.rng.random() < self.temper.overlooks_read_back:
            right = True
        if right:
            if self._plainly:
                return self._says("yes", Intent.YES, "confirm", keys_say="yes")
            by_value = self.rng.random() < self.temper.says_the_value_for_yes
            if (
                by_value
                and not isinstance(self._ask(), AskWitness | AskDone)
                and self._ask().kind != "yes_no"
            ):
                return self._says(self._value_words(step), Intent.YES, "confirm")
            return self._says(self._any(*wordings.YES), Intent.YES, "confirm", keys_say="yes")
        denial = self._any(*wordings.NO)
        if self._ask().kind not in ("done", "yes_no") and (
            self.rng.random() < self.temper.corrects_in_one_breath
        ):
            return self._says(f"no {self._value_words(step)}", Intent.NO, "confirm", keys_say="no")
        if self._plainly:
            denial = "no"
        return self._says(denial, Intent.NO, "confirm", keys_say="no")

    def _value_words(self, step: str) -> str:
        words = wordings.said(
            self.procedure.step(step).ask,
            self.truth(step),
            self.rng,
            wrench=self.wrench,
            witnesses=self.witnesses,
            spelled=self._spell,
        )
        return " ".join(words)

    def _says(
        self,
        text: str,
        intent: Intent,
        what: str,
        *,
        keys: bool = False,
        keys_say: str = "",
        value: bool = False,
    ) -> Act:
        """By voice; by the keys once the voice failed often enough."""
        if keys or self._tries > TRIES:
            on_keys = keys_say or text
            if value:
                on_keys = wordings.typed(self._ask(), self.truth(self._at), self.witnesses)
            return Act(By.KEYS, on_keys, intent)
        ask = self._ask() if self._at and what in ("answer", "confirm", "deviation") else None
        return Act(By.VOICE, text, intent, key_of(what, ask))

    def _any(self, *texts: str) -> str:
        return self.rng.choice(texts)


def as_said(text: str, ask: Ask) -> tuple[str, ...]:
    """A read-back or an echo without what stands around its value."""
    text = text.lower().removesuffix(" yes?").rstrip(".")
    for clause in (", above", ", below", ", not", ", outside", ", that is"):
        text = text.split(clause)[0]
    if isinstance(ask, AskTime):
        text = text.split(", ")[0]  # the 24-hour clock; what follows is the same time by the dial
    if isinstance(ask, AskWitness):
        text = text.removeprefix(ask.role.lower())
    if text.startswith("at torque, "):
        return ("at", "torque")  # the click: what follows is the target, as round as a wrench shows it
    return lowered(text.replace(",", " ").split())
