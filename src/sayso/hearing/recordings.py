"""Folders of recordings with what was said in them, in the layouts that open data comes in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from sayso.hearing.errors import HearingError
from sayso.hearing.grammar import normalise

SOUND_ENDINGS = (".wav", ".flac", ".ogg", ".opus", ".raw")
RATE = 16_000


class RecordingsError(HearingError):
    """A folder without recordings, or a transcript file that cannot be read: file, line, what to write."""


@dataclass(frozen=True, slots=True)
class Recording:
    """`words` None: nothing in it is meant for sayso (for false accepts)."""

    name: str
    path: Path
    words: tuple[str, ...] | None
    speaker: str = ""


def read_sound(path: Path) -> npt.NDArray[np.float64]:
    """Mono samples at 16 kHz, -1..1."""
    sound, rate = soundfile.read(path, dtype="float64", always_2d=True)
    mono = sound.mean(axis=1)
    return np.asarray(soxr.resample(mono, rate, RATE) if rate != RATE else mono)


def to_pcm(sound: npt.NDArray[np.float64]) -> bytes:
    """16-bit little-endian samples."""
    return (np.clip(sound, -1, 32767 / 32768) * 32768).astype("<i2").tobytes()


def read_recordings(folder: Path) -> tuple[Recording, ...]:
    """Recordings under `folder`, sorted by name. Understood layouts, first that fits:

    1. transcript file(s) in the folder or in etc/: lines `name words...` or AN4's `WORDS (name)`
    2. `x.txt` beside `x.wav`
    3. a folder per word or phrase (underscores are spaces)
    4. none of these: recordings without words, for counting false accepts
    """
    if not folder.is_dir():
        raise RecordingsError(f"{folder}: no such folder of recordings")
    sounds = sorted(p for p in folder.rglob("*") if p.suffix.lower() in SOUND_ENDINGS)
    if not sounds:
        raise RecordingsError(f"{folder}: holds no recordings ({', '.join(SOUND_ENDINGS)})")
    by_name: dict[str, Path] = {p.stem: p for p in sounds}
    by_path = {str(p.relative_to(folder).with_suffix("")): p for p in sounds}
    listed: dict[Path, tuple[str, ...]] = {}
    for file in _transcript_files(folder, by_name):
        for _, name, words in _transcript_lines(file):
            path = (
                by_path.get(name)
                or by_name.get(Path(name).stem if "." in name else name)
                or by_name.get(Path(name).name)
            )
            if path is not None:
                listed[path] = words
    if listed:
        return tuple(Recording(p.stem, p, listed[p], _speaker(p)) for p in sounds if p in listed)
    beside = {p: p.with_suffix(".txt") for p in sounds if p.with_suffix(".txt").is_file()}
    if beside:
        return tuple(
            Recording(p.stem, p, normalise(t.read_text(encoding="utf-8")), _speaker(p))
            for p, t in beside.items()
        )
    parents = {p.parent for p in sounds}
    if len(parents) > 1 and folder not in parents:
        return tuple(
            Recording(f"{p.parent.name}/{p.stem}", p, normalise(p.parent.name.replace("_", " ")), _speaker(p))
            for p in sounds
        )
    return tuple(Recording(p.stem, p, None, _speaker(p)) for p in sounds)


def _speaker(path: Path) -> str:
    """AN4's `an406-fcaw-b` and speech-commands' `id_nohash_0` name the speaker; else unknown."""
    found = re.match(r"^(?:[a-z0-9]+-([a-z0-9]{3,6})-b|([0-9a-f]{6,10})_nohash_\d+)$", path.stem)
    return (found.group(1) or found.group(2)) if found else ""


def _transcript_files(folder: Path, names: dict[str, Path]) -> Iterator[Path]:
    candidates = [*folder.glob("*.t[sx][vt]"), *folder.glob("*.trans*"), *folder.glob("*.transcription")]
    for etc in (folder / "etc", folder.parent / "etc"):
        if etc.is_dir():
            candidates += etc.glob("*.transcription")
    for file in sorted(set(candidates)):
        if (
            file.stem not in names
            and "readme" not in file.name.lower()
            and "license" not in file.name.lower()
        ):
            yield file


def _transcript_lines(file: Path) -> Iterator[tuple[int, str, tuple[str, ...]]]:
    try:
        text = file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise RecordingsError(f"{file}: not UTF-8 text; save it as UTF-8") from error
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        an4 = re.fullmatch(r"(?:<s>)?(.*?)(?:</s>)?\s*\(([^()\s]+)\)", line)
        if an4:
            yield number, an4.group(2), normalise(an4.group(1))
            continue
        name, _, words = line.partition("\t") if "\t" in line else line.partition(" ")
        yield number, name.strip(), normalise(words)
