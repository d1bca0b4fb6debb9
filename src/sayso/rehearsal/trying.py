"""Measuring: what people say to each question, spoken, put in noise, and heard by the real ear.

Every value and every phrase of a question of its own is tried, `takes` times. What is said to many questions
of one sort ("yes" to each read-back, "undo" to each answer) is tried at MOST_QUESTIONS of them, drawn by a
fixed seed; elsewhere the simulation draws from those. The file holds tries that were made and no others.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random

import numpy as np

from sayso.hearing.evaluation import LEAD_S, noisy_copy
from sayso.hearing.grammar import normalise
from sayso.hearing.hearing_events import Final, NoMatch
from sayso.hearing.listening import Listener
from sayso.hearing.pronunciations import model_lexicon, teach
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
#: Questions of one sort at which the same phrase is tried. All of them (5,500 tries, not 2,800) took 30 to 40
#: minutes of a core and told little: they were the same forty phrases over and over.
MOST_QUESTIONS = 4
SEED = 1

Told = Callable[[str], None]


@dataclass(frozen=True)
class _Clip:
    said: str
    voice: int
    sound: Sound


def measure(
    procedures: Sequence[Procedure],
    *,
    model: str | None = None,
    takes: int = 2,
    recordings: Path | None = None,
    workers: int = 1,
    told: Told | None = None,
) -> Trials:
    """Every question of the procedures: `takes` voices for each phrase, at each condition of CONDITIONS.

    The voices take turns, so that over all phrases each is tried as often. `recordings`: real speech with
    transcripts, tried where the grammar holds all its words. `told` takes lines of progress.
    """
    used = model_hash(find_model(model))
    voices = voices_here()
    asked = questions(procedures, model_lexicon(find_model(model)))
    clips = _clips(asked, voices, takes)
    names = [voice.name for voice in voices]
    if recordings is not None:
        spoken, speakers = _recorded(asked, recordings, len(names))
        names += speakers
        clips = {key: (*clips[key], *spoken.get(key, ())) for key in clips}
    shares = [[q.key for q in asked[part::workers]] for part in range(workers)]
    work = partial(_heard, list(procedures), clips, model, used)
    if workers == 1:
        found = work(shares[0], told)
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
    for question, phrases_said in zip(asked, tried_at(asked), strict=True):
        for phrase in phrases_said:
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


def tried_at(asked: Sequence[Question]) -> list[tuple[str, ...]]:
    """Which of the things said to each question are tried there."""
    places: dict[tuple[str, str], list[int]] = {}
    for index, question in enumerate(asked):
        for phrase in question.said:
            places.setdefault((question.key.split()[0], phrase), []).append(index)
    drawn = {
        same: set(Random(f"{SEED} {same}").sample(at, min(MOST_QUESTIONS, len(at))))
        for same, at in places.items()
    }
    return [
        tuple(phrase for phrase in question.said if index in drawn[question.key.split()[0], phrase])
        for index, question in enumerate(asked)
    ]


def _recorded(
    asked: Sequence[Question], folder: Path, first: int
) -> tuple[Mapping[str, tuple[_Clip, ...]], list[str]]:
    speakers: dict[str, int] = {}
    found: dict[str, list[_Clip]] = {}
    grammars = {
        q.key: ({w for p in q.grammar.phrases for w in p.split()}, set(q.grammar.phrases)) for q in asked
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
    told: Told | None = None,
) -> list[tuple[str, Try]]:
    """The work of one process: its own model, its own ear."""
    wanted = set(keys)
    lexicon = model_lexicon(find_model(model))
    asked = [q for q in questions(procedures, lexicon) if q.key in wanted]
    words = {
        word
        for q in asked
        for phrase in (*q.grammar.phrases, *q.grammar.decoys)
        for word in normalise(phrase)
    }
    taught, _ = teach(load_model(model), sorted(words))
    if model_hash(find_model(model)) != used:
        raise TrialsError("the model was replaced while it was loaded; measure anew with 'sayso trials'")
    found: list[tuple[str, Try]] = []
    whole, started = len(CONDITIONS) * sum(len(clips[q.key]) for q in asked), time.process_time()
    for number, question in enumerate(asked, 1):
        found += _tries(question, clips.get(question.key, ()), taught)
        if told is not None:
            spent = (time.process_time() - started) / 60
            made = f"{number} of {len(asked)} questions, {len(found)} of {whole} tries"
            told(f"{made}, {spent:.1f} min of a core")
    return found


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
    listener.listen(
        question.grammar.phrases,
        decoys=question.grammar.decoys,
        pace=question.listen.pace,
        completeness=question.complete,
    )
    behind = np.tile(placed[-int(0.4 * RATE) :], int(BEHIND_S / 0.4))
    pcm = to_pcm(np.concatenate((placed, behind)))
    for at in range(0, len(pcm), BLOCK):
        for event in listener.feed(pcm[at : at + BLOCK]):
            if isinstance(event, Final):
                return " ".join(event.words) or NO_MATCH, event.confidence, event.noisy
            if isinstance(event, NoMatch):
                return NO_MATCH, 0.0, event.noisy
    return NOTHING, 0.0, False
