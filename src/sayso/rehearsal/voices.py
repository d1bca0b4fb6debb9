"""Speech for measuring, by the free synthesisers of this machine in voices that the model never heard."""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from shutil import which

import numpy as np

from sayso.hearing.errors import HearingError
from sayso.hearing.recordings import read_sound
from sayso.hearing.workshop_noise import Sound


class VoicesError(HearingError):
    """No synthesiser is there, or one failed."""


@dataclass(frozen=True, slots=True)
class SpeakingVoice:
    """`arguments`: of the program; for festival the name of the voice."""

    name: str
    program: str
    arguments: tuple[str, ...]


#: None of these is in models/recipe/other_speech.py, which lists the voices of the training data.
#: (The speaker of festival's slt voice is also that of flite's slt, rebuilt by another method.)
VOICES: tuple[SpeakingVoice, ...] = (
    SpeakingVoice("festival kal", "festival", ("kal_diphone",)),
    SpeakingVoice("festival ked", "festival", ("ked_diphone",)),
    SpeakingVoice("festival slt hts", "festival", ("cmu_us_slt_arctic_hts",)),
    SpeakingVoice("flite kal", "flite", ("-voice", "kal")),
    SpeakingVoice("espeak West Midlands, Alex", "espeak-ng", ("-v", "en-gb-x-gbcwmd+Alex", "-s", "150")),
    SpeakingVoice("espeak New York, Alicia", "espeak-ng", ("-v", "en-us-nyc+Alicia", "-s", "140")),
    SpeakingVoice("espeak British, David", "espeak-ng", ("-v", "en-gb+david", "-s", "165")),
    SpeakingVoice("espeak American, Michael", "espeak-ng", ("-v", "en-us+Michael", "-s", "150")),
    SpeakingVoice("espeak West Midlands, Andrea", "espeak-ng", ("-v", "en-gb-x-gbcwmd+Andrea", "-s", "145")),
    SpeakingVoice("espeak New York, Quincy", "espeak-ng", ("-v", "en-us-nyc+quincy", "-s", "160")),
)


def voices_here() -> tuple[SpeakingVoice, ...]:
    """Those that this machine can speak with. Raises VoicesError when there is none."""
    known = tuple(v for v in VOICES if which(v.program) and (v.program != "festival" or _festival_has(v)))
    if not known:
        raise VoicesError("no voice to measure with; install espeak-ng, flite or festival")
    return known


def speak(voice: SpeakingVoice, phrases: Sequence[str]) -> Mapping[str, Sound]:
    """16 kHz sound of each phrase; a phrase that the synthesiser makes nothing of is left out."""
    with tempfile.TemporaryDirectory() as folder:
        files = {phrase: Path(folder) / f"{index}.wav" for index, phrase in enumerate(phrases)}
        if voice.program == "festival":
            _festival(voice, files)
        else:
            for phrase, file in files.items():
                out = ("-o", str(file), "-t") if voice.program == "flite" else ("-w", str(file))
                _run((voice.program, *voice.arguments, *out, spelling(phrase)))
        found = {phrase: read_sound(file) for phrase, file in files.items() if file.is_file()}
    return {phrase: sound * 0.5 / peak for phrase, sound in found.items() if (peak := _peak(sound)) > 0.01}


def spelling(phrase: str) -> str:
    """Letters as capitals, so that they are named; the "a" of "a dent" is none."""
    words = phrase.split()
    letters = [word for word in words if len(word) == 1]
    if not any(letter != "a" for letter in letters) and not _is_serial(words):
        return phrase
    return " ".join("ay" if word == "a" else word.upper() if len(word) == 1 else word for word in words)


def _is_serial(words: Sequence[str]) -> bool:
    return len(words) > 3 and words[:2] == ["a", "a"]


def _peak(sound: Sound) -> float:
    return float(np.abs(sound).max()) if len(sound) > 1600 else 0.0


def _festival_has(voice: SpeakingVoice) -> bool:
    listed = _run(("festival", "--batch", "(print (voice.list))"))
    return voice.arguments[0] in listed.replace("(", " ").replace(")", " ").split()


def _festival(voice: SpeakingVoice, files: Mapping[str, Path]) -> None:
    lines: Iterable[str] = (
        f'(utt.save.wave (utt.synth (Utterance Text "{spelling(phrase)}")) "{file}" \'riff)'
        for phrase, file in files.items()
    )
    with tempfile.NamedTemporaryFile("w", suffix=".scm") as script:
        script.write("\n".join((f"(voice_{voice.arguments[0]})", *lines)) + "\n")
        script.flush()
        _run(("festival", "--batch", script.name))


def _run(command: Sequence[str]) -> str:
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=600, check=True)
    except (OSError, subprocess.SubprocessError) as error:
        raise VoicesError(f"{command[0]} failed: {error}") from error
    return done.stdout
