"""How a word that no dictionary has is probably said: espeak-ng's rules, written in ARPAbet.

espeak-ng is asked for the International Phonetic Alphabet of its American English voice, whose r is sounded
as ARPAbet's is. Phone error rate against CMUdict: see tests/hearing/test_letter_to_sound.py.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence

from sayso.hearing.errors import HearingError

PROGRAM = "espeak-ng"
VOICE = "en-us"

#: IPA -> ARPAbet, for espeak-ng's English output and for lexicon files. Longest match first.
IPA_TO_ARPABET: dict[str, tuple[str, ...]] = {
    "tʃ": ("CH",),
    "dʒ": ("JH",),
    "aɪɚ": ("AY", "ER"),
    "aɪə": ("AY", "AH"),
    "aʊɚ": ("AW", "ER"),
    "aɪ": ("AY",),
    "aʊ": ("AW",),
    "eɪ": ("EY",),
    "ɔɪ": ("OY",),
    "oʊ": ("OW",),
    "əʊ": ("OW",),
    "oːɹ": ("AO", "R"),
    "ɔːɹ": ("AO", "R"),
    "ɑːɹ": ("AA", "R"),
    "ɛɹ": ("EH", "R"),
    "ɪɹ": ("IH", "R"),
    "ʊɹ": ("UH", "R"),
    "ɪə": ("IH", "AH"),
    "eə": ("EH", "R"),
    "ʊə": ("UH", "R"),
    "iə": ("IY", "AH"),
    "əɹ": ("ER",),
    "ʌɹ": ("ER",),
    "əl": ("AH", "L"),
    "iː": ("IY",),
    "uː": ("UW",),
    "ɑː": ("AA",),
    "ɔː": ("AO",),
    "ɜː": ("ER",),
    "oː": ("AO",),
    "ɚɹ": ("ER",),
    "ɜːɹ": ("ER",),
    "ɝ": ("ER",),
    "ɚ": ("ER",),
    "i": ("IY",),
    "ɪ": ("IH",),
    "ᵻ": ("IH",),
    "ɨ": ("IH",),
    "e": ("EH",),
    "ɛ": ("EH",),
    "æ": ("AE",),
    "a": ("AE",),
    "ɐ": ("AH",),
    "ə": ("AH",),
    "ʌ": ("AH",),
    "ɑ": ("AA",),
    "ɒ": ("AA",),
    "ɔ": ("AO",),
    "o": ("OW",),
    "ʊ": ("UH",),
    "u": ("UW",),
    "p": ("P",),
    "b": ("B",),
    "t": ("T",),
    "ɾ": ("T",),
    "ʔ": ("T",),
    "d": ("D",),
    "k": ("K",),
    "x": ("K",),
    "ɡ": ("G",),
    "g": ("G",),
    "f": ("F",),
    "v": ("V",),
    "θ": ("TH",),
    "ð": ("DH",),
    "s": ("S",),
    "z": ("Z",),
    "ʃ": ("SH",),
    "ʒ": ("ZH",),
    "h": ("HH",),
    "m": ("M",),
    "m̩": ("AH", "M"),
    "n": ("N",),
    "n̩": ("AH", "N"),
    "ŋ": ("NG",),
    "l": ("L",),
    "l̩": ("AH", "L"),
    "ɫ": ("L",),
    "ɬ": ("L",),
    "ɹ": ("R",),
    "r": ("R",),
    "w": ("W",),
    "ʍ": ("W",),
    "j": ("Y",),
    "ɲ": ("N", "Y"),
}
#: Stress, ties, length left over, nasal and separation marks carry nothing that ARPAbet keeps.
_MARKS = re.compile("[ˈˌ'_.‿͡\u0303\u0361\u200d\u02b0\u02b2-]")
_LONGEST = max(len(ipa) for ipa in IPA_TO_ARPABET)


class LetterToSoundError(HearingError):
    """espeak-ng is not installed, or it cannot say the word."""


def arpabet_of_ipa(ipa: str) -> tuple[str, ...]:
    """ARPAbet phones of an IPA transcription. Raises ValueError naming a sign that is not known."""
    text = _MARKS.sub("", ipa.strip()).replace(" ", "")
    phones: list[str] = []
    at = 0
    while at < len(text):
        for length in range(min(_LONGEST, len(text) - at), 0, -1):
            found = IPA_TO_ARPABET.get(text[at : at + length])
            if found is not None:
                phones.extend(found)
                at += length
                break
        else:
            if text[at] not in "ːˑ":
                raise ValueError(f"'{text[at]}' in '{ipa}' is no sound of English that ARPAbet can write")
            at += 1
    return tuple(phones)


def say_words(words: Sequence[str]) -> list[tuple[str, ...]]:
    """Phones of each word by espeak-ng (one run for all). Raises LetterToSoundError."""
    if not words:
        return []
    program = shutil.which(PROGRAM) or shutil.which("espeak")
    if program is None:
        raise LetterToSoundError(
            f"no pronunciation for {', '.join(words[:5])}: espeak-ng is not installed "
            "('sudo apt install espeak-ng'); or write the pronunciation into the shop's lexicon"
        )
    # a full stop and an empty line after each word: one clause, and so one line of output, for each
    text = "".join(f"{word}.\n\n" for word in words)
    done = subprocess.run(
        [program, "-q", "-v", VOICE, "--ipa", "-b", "1"],
        input=text.encode(),
        capture_output=True,
        timeout=60 + len(words) / 50,
        check=False,
    )
    lines = [line for line in done.stdout.decode(errors="replace").splitlines() if line.strip()]
    if done.returncode or len(lines) != len(words):
        if len(words) == 1:
            raise LetterToSoundError(
                f"espeak-ng cannot say '{words[0]}'; write its pronunciation into the lexicon"
            )
        return [say_words([word])[0] for word in words]
    out = []
    for word, line in zip(words, lines, strict=True):
        try:
            phones = arpabet_of_ipa(line)
        except ValueError as error:
            raise LetterToSoundError(
                f"no pronunciation for '{word}': {error}; write it into the lexicon"
            ) from error
        if not phones:
            raise LetterToSoundError(
                f"espeak-ng cannot say '{word}'; write its pronunciation into the lexicon"
            )
        out.append(phones)
    return out
