"""What the training voices say: utterances as lists of words, each word with one pronunciation with stress
digits.

Isolated short words are half of everything, because a workshop answer is mostly one short word.
"""

from __future__ import annotations

import glob
import random
import re
from collections.abc import Callable
from pathlib import Path

import vocabulary as v
from lexicon import EXTRA, LETTER_NAMES, LETTER_VARIANTS, common_words, stressed

Word = tuple[str, list[str]]  # spelling, phones with stress digits
Utterance = list[Word]
VOWEL = re.compile(r"(AA|AE|AH|AO|AW|AY|EH|ER|EY|IH|IY|OW|OY|UH|UW)\d?$")


def _with_stress(phones: str) -> list[str]:
    """Stress for a pronunciation written without: first vowel strong, the rest weak (schwa or not as
    written)."""
    out, first = [], True
    for p in phones.split():
        if VOWEL.match(p) and not p[-1].isdigit():
            p, first = p + ("1" if first else "0"), False
        out.append(p)
    return out


class Speaker:
    """Draws utterances; one random generator makes the whole plan repeatable."""

    def __init__(self, seed: int) -> None:
        self.r = random.Random(seed)
        self.extra: dict[str, list[list[str]]] = {}
        for line in EXTRA.strip().splitlines():
            word, rest = line.split(" ", 1)
            self.extra.setdefault(word, []).append(_with_stress(rest))
        common = [w for w in common_words() if w in stressed() and len(w) > 1]
        self.everyday = common[:9000]
        self.all = common
        self.short = [w for w in common[:14000] if sum(p[-1].isdigit() for p in stressed()[w][0]) <= 1]
        self.two = [w for w in common[:14000] if sum(p[-1].isdigit() for p in stressed()[w][0]) == 2]
        self.core = v.core()
        self.sentences = self._documentation()

    def _documentation(self) -> list[str]:
        """Short plain sentences from the documentation on this machine; only words of CMUdict."""
        files = sorted(glob.glob("/usr/lib/python3*/*.py") + glob.glob("/usr/share/doc/*/README*"))
        self.r.shuffle(files)
        out: list[str] = []
        known = stressed()
        for name in files[:1500]:
            try:
                text = Path(name).read_text(errors="ignore")[:150_000]
            except OSError:
                continue
            for part in re.split(r'[.\n:;(){}"`,#]', text):
                words = part.lower().split()
                if 3 <= len(words) <= 9 and all(w in known and (len(w) > 1 or w in "ai") for w in words):
                    out.append(" ".join(words))
        return sorted(set(out))

    # ------------------------------------------------------------ one word -> its phones
    def letter(self, c: str) -> Word:
        names = [LETTER_NAMES[c], *LETTER_VARIANTS.get(c, [])]
        return c, _with_stress(self.r.choice(names))

    def word(self, w: str) -> Word:
        if len(w) == 1 and w not in "ai":
            return self.letter(w)
        if w in self.extra and (w not in stressed() or self.r.random() < 0.5):
            return w, self.r.choice(self.extra[w])
        prons = stressed()[w]
        return w, self.r.choice(prons[:3])

    def say(self, text: str) -> Utterance:
        """An ordinary text; in it 'a' is the article."""
        return [("a", ["AH0"]) if w == "a" else self.word(w) for w in text.split()]

    # ------------------------------------------------------------ kinds of utterance
    def digit(self) -> str:
        return self.r.choice(v.DIGITS)

    def number(self) -> str:
        r = self.r
        kind = r.random()
        if kind < 0.25:
            return f"{r.choice(v.TENS)} {r.choice(v.DIGITS[1:10])}"
        if kind < 0.45:
            return f"{r.choice(v.DIGITS[1:10])} hundred {r.choice(['', 'and '])}{r.choice(v.TENS + v.TEENS)}"
        if kind < 0.6:
            return f"{r.choice(v.TENS + v.TEENS + v.DIGITS)} point {self.digit()}"
        if kind < 0.8:
            return r.choice(v.TEENS + v.TENS)
        return f"{r.choice(v.TENS)} {r.choice(v.DIGITS[1:10])} point {self.digit()}"

    def core_word(self) -> Utterance:
        w = self.r.choice(self.core)
        return [self.letter(w)] if len(w) == 1 else [self.word(w)]

    def control_word(self) -> Utterance:
        return [self.word(self.r.choice(v.ANSWERS if self.r.random() < 0.4 else v.CONTROL + v.SHORT))]

    def one_digit(self) -> Utterance:
        return [self.word(self.digit())]

    def one_letter(self) -> Utterance:
        return [self.letter(self.r.choice(v.LETTERS))]

    def short_word(self) -> Utterance:
        return [self.word(self.r.choice(self.short))]

    def longer_word(self) -> Utterance:
        return [self.word(self.r.choice(self.two if self.r.random() < 0.6 else self.all))]

    def phonetic(self) -> Utterance:
        return [self.word(self.r.choice(v.PHONETIC)) for _ in range(self.r.choice((1, 1, 1, 2, 3, 4)))]

    def command(self) -> Utterance:
        return self.say(self.r.choice(v.COMMANDS))

    def pair(self) -> Utterance:
        return self.core_word() + self.core_word()

    def digits(self) -> Utterance:
        return [self.word(self.digit()) for _ in range(self.r.randint(2, 7))]

    def numbers(self) -> Utterance:
        unit = f" {self.r.choice(v.UNITS)}" if self.r.random() < 0.5 else ""
        return self.say(self.number() + unit)

    def spelling(self) -> Utterance:
        return [self.letter(self.r.choice(v.LETTERS)) for _ in range(self.r.randint(2, 7))]

    def serial(self) -> Utterance:
        kinds: list[Callable[[], Utterance]] = [
            self.one_letter,
            self.one_digit,
            self.one_digit,
            lambda: [self.word(self.r.choice(v.PHONETIC))],
        ]
        return [w for _ in range(self.r.randint(2, 6)) for w in self.r.choice(kinds)()]

    def date(self) -> Utterance:
        r = self.r
        day = r.choice(v.ORDINALS[:20] + ["twenty " + o for o in v.ORDINALS[:9]] + v.TEENS)
        year = f"nineteen {r.choice(v.TENS)} {r.choice(v.DIGITS[1:10])}" if r.random() < 0.5 else ""
        return self.say(f"{r.choice(v.MONTHS)} {day} {year}")

    def sentence(self) -> Utterance:
        return self.say(self.r.choice(self.sentences))

    def jumble(self) -> Utterance:
        return [self.word(self.r.choice(self.everyday)) for _ in range(self.r.randint(2, 5))]

    def utterance(self) -> Utterance:
        kinds: list[tuple[float, Callable[[], Utterance]]] = [
            (8, self.core_word),
            (18, self.control_word),
            (9, self.one_digit),
            (4, self.one_letter),
            (15, self.short_word),
            (6, self.longer_word),
            (5, self.phonetic),
            (5, self.command),
            (3, self.pair),
            (7, self.digits),
            (6, self.numbers),
            (4, self.spelling),
            (4, self.serial),
            (2, self.date),
            (5, self.sentence),
            (4, self.jumble),
        ]
        return self.r.choices([k for _, k in kinds], [w for w, _ in kinds])[0]()
