"""Measuring: each thing that people say to each question, spoken, put in noise, and heard by the real ear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from sayso.hearing.evaluation import LEAD_S, noisy_copy
from sayso.hearing.grammar import normalise
from sayso.hearing.listening import Final, Listener, NoMatch
from sayso.hearing.pronunciations import teach
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.recordings import RATE, read_recordings, read_sound, to_pcm
from sayso.hearing.speech_model import SpeechModel, find_model, load_model
from sayso.hearing.workshop_noise import Sound
from sayso.procedure.model import Procedure
from sayso.rehearsal.questions_heard import Question, questions
from sayso.rehearsal.trials import CONDITIONS, NO_MATCH, NOTHING, Trials, TrialsError, Try, model_hash
from sayso.rehearsal.voices import SpeakingVoice, speak, voices_here

#: The ear is given this much of the place before the question, as in a job: it knows the noise by then.
BEFORE_S = 1.2
#: Silence (or the noise alone) behind the words, for the endpoint.
BEHIND_S = 2.0
BLOCK = RATE * 30 // 1000 * 2
#: Longer recordings are left out: they cost more than they tell.
MOST_WORDS = 8
#: The question whose grammar hears any serial: spelled recordings are tried there.
SPELLED = "answer serial [A-Z]{2}[0-9]{6}"


@dataclass(frozen=True)
class _Clip:
    said: str
    voice: int
    sound: Sound


def measure(
    procedures: Sequence[Procedure],
    *,
    model: str | None = None,
    takes: int = 3,
    recordings: Path | None = None,
    workers: int = 1,
) -> Trials:
    """Every question of the procedures: `takes` voices for each phrase, at each condition of CONDITIONS.

    The voices take turns, so that over all phrases each is tried as often. `recordings`: real speech with
    transcripts, tried where the grammar holds all its words.
    """
    used = model_hash(find_model(model))
    voices = voices_here()
    asked = questions(procedures)
    clips = _clips(asked, voices, takes)
    names = [voice.name for voice in voices]
    if recordings is not None:
        spoken, speakers = _recorded(asked, recordings, len(names))
        names += speakers
        clips = {key: (*clips[key], *spoken.get(key, ())) for key in clips}
    shares = [[q.key for q in asked[part::workers]] for part in range(workers)]
    work = partial(_heard, list(procedures), clips, model, used)
    if workers == 1:
        found = list(work(shares[0]))
    else:
        with ProcessPoolExecutor(workers) as pool:
            found = [t for part in pool.map(work, shares) for t in part]
    tries = {name: tuple(t for condition, t in found if condition == name) for name in CONDITIONS}
    return Trials(used, tuple(names), tries)


def _clips(
    asked: Sequence[Question], voices: Sequence[SpeakingVoice], takes: int
) -> dict[str, tuple[_Clip, ...]]:
    wanted: dict[int, set[str]] = {}
    turns: dict[str, list[tuple[str, int]]] = {}
    turn = 0
    for question in asked:
        for phrase in question.said:
            for _ in range(takes):
                wanted.setdefault(turn % len(voices), set()).add(phrase)
                turns.setdefault(question.key, []).append((phrase, turn % len(voices)))
                turn += 1
            turn += 1  # the same phrase of the next question meets other voices
    sounds = {index: speak(voices[index], sorted(phrases)) for index, phrases in wanted.items()}
    return {
        key: tuple(_Clip(said, voice, sounds[voice][said]) for said, voice in each if said in sounds[voice])
        for key, each in turns.items()
    }


def _recorded(
    asked: Sequence[Question], folder: Path, first: int
) -> tuple[Mapping[str, tuple[_Clip, ...]], list[str]]:
    speakers: dict[str, int] = {}
    found: dict[str, list[_Clip]] = {}
    grammars = {
        q.key: ({w for p in q.listen.phrases for w in p.split()}, set(q.listen.phrases)) for q in asked
    }
    for recording in read_recordings(folder):
        words = recording.words
        if not words:
            continue
        phrase = " ".join(words)
        fitting = [k for k, (_, phrases) in grammars.items() if phrase in phrases and len(words) < 3]
        if SPELLED in grammars and set(words) <= grammars[SPELLED][0] and 2 <= len(words) <= MOST_WORDS:
            fitting.append(SPELLED)
        # read-backs first: there a word misheard costs most
        for key in sorted(fitting, key=lambda key: not key.startswith("confirm"))[:4]:
            speaker = f"recorded {recording.speaker or 'unknown'}"
            index = speakers.setdefault(speaker, first + len(speakers))
            found.setdefault(key, []).append(_Clip(phrase, index, read_sound(recording.path)))
    return {key: tuple(clips) for key, clips in found.items()}, list(speakers)


def _heard(
    procedures: Sequence[Procedure],
    clips: Mapping[str, tuple[_Clip, ...]],
    model: str | None,
    used: str,
    keys: Iterable[str],
) -> list[tuple[str, Try]]:
    """The work of one process: its own model, its own ear."""
    wanted = set(keys)
    asked = questions(procedures)
    words = {word for q in asked for phrase in q.listen.phrases for word in normalise(phrase)}
    taught, _ = teach(load_model(model), sorted(words))
    if model_hash(find_model(model)) != used:
        raise TrialsError("the model was replaced while it was loaded; measure anew with 'sayso trials'")
    return [t for q in asked if q.key in wanted for t in _tries(q, clips[q.key], taught)]


def _tries(question: Question, clips: Sequence[_Clip], model: SpeechModel) -> Iterator[tuple[str, Try]]:
    recogniser = Recogniser(model)
    for index, clip in enumerate(clips):
        for name, snr_db in CONDITIONS.items():
            heard, confidence, noisy = hear(recogniser, question, clip.sound, snr_db, index)
            yield name, Try(question.key, clip.said, heard, clip.voice, confidence, noisy)


def hear(
    recogniser: Recogniser, question: Question, sound: Sound, snr_db: float | None, seed: int
) -> tuple[str, float, bool]:
    """The first thing that the ear of a job makes of `sound`: words (or why none), confidence, noisy."""
    placed = noisy_copy(sound, snr_db, seed)
    room = placed[: int(LEAD_S * RATE)]
    listener = Listener(recogniser, ear="open")
    listener.feed(to_pcm(np.tile(room, int(BEFORE_S / LEAD_S))))
    listener.listen(question.listen.phrases, pace=question.listen.pace, completeness=question.complete)
    behind = np.tile(placed[-int(0.4 * RATE) :], int(BEHIND_S / 0.4))
    pcm = to_pcm(np.concatenate((placed, behind)))
    for at in range(0, len(pcm), BLOCK):
        for event in listener.feed(pcm[at : at + BLOCK]):
            if isinstance(event, Final):
                return " ".join(event.words) or NO_MATCH, event.confidence, event.noisy
            if isinstance(event, NoMatch):
                return NO_MATCH, 0.0, event.noisy
    return NOTHING, 0.0, False
