"""How far from the microphone, in how loud a place: orders said by synthetic voices in a workshop's room.

    python -m tests.benchmarks.how_far [MODEL]

Levels: a raised voice has 66 dB(A) at 1 m, a normal one 60 (ISO 9921, from memory), 6 dB less with each
doubling of the distance. Room: 300 m3, reverberation 0.8 s; where its echo is as loud as the voice itself is
0.057 sqrt(V / T) = 1.1 m away (Sabine's theory, from memory). Noise: the bench's machines, in turn.
"""

from __future__ import annotations

import math
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy import signal

from sayso.bench.overheard import job_text, read_job
from sayso.bench.speech_source import SpeechSource
from sayso.bench.talk import room_response
from sayso.dialogue import asked
from sayso.hearing.evaluation import one_of
from sayso.hearing.hearing_events import Final, NoMatch
from sayso.hearing.listening import Listener
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.recordings import RATE, read_sound, to_pcm
from sayso.hearing.workshop_noise import NOISES, speech_power
from sayso.session.taught_model import taught_model

SAID = ("done", "yes", "no", "hold", "repeat", "go back", "carry on", "how far am i", "undo", "understood")
VOICES = (("flite", "rms"), ("espeak-ng", "en-gb-scotland+m2"), ("flite", "slt"), ("espeak-ng", "en-us+f4"))
VOLUME_M3, RT60_S = 300.0, 0.8
VOICE_AT_1_M_DBA = 66.0
DISTANCES_M = (0.05, 0.5, 1.0, 2.0, 4.0)
NOISES_DBA = (45, 55, 65, 75, 85)


def heard(listener: Listener, phrases: tuple[str, ...], sound: np.ndarray, said: str) -> str:
    """'right', 'wrong' or 'nothing' for one order."""
    listener.voice(speaking=True)
    listener.voice(speaking=False)
    listener.listen(phrases, completeness=one_of(phrases))
    pcm = to_pcm(sound)
    for at in range(0, len(pcm), 960):
        for event in listener.feed(pcm[at : at + 960]):
            if isinstance(event, NoMatch):
                return "nothing"
            if isinstance(event, Final):
                text = " ".join(event.words)
                return "right" if text == said else "wrong" if text in phrases else "nothing"
    return "nothing"


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found = read_job(job_text("done"), folder)
        model = taught_model(sys.argv[1] if len(sys.argv) > 1 else None, found)
        phrases = tuple(dict.fromkeys((*SAID, *asked.done_phrases(), *asked.yes_no_phrases())))
        critical_m = 0.057 * math.sqrt(VOLUME_M3 / RT60_S)
        print("right (wrong) of each 40; distance down, noise in dB(A) across")
        print("       " + "".join(f"{level:>10}" for level in NOISES_DBA))
        for distance in DISTANCES_M:
            row = []
            for level in NOISES_DBA:
                counts = {"right": 0, "wrong": 0, "nothing": 0}
                rng = np.random.default_rng(5)
                listener = Listener(Recogniser(model), ear="open")
                for number, said in enumerate(SAID):
                    for engine, voice in VOICES:
                        dry = read_sound(SpeechSource(folder, engine, voice).file(said))
                        room = room_response(rng, RT60_S, 20 * math.log10(critical_m / distance))
                        wet = signal.fftconvolve(dry, room)[: len(dry) + RATE // 4]
                        voice_dba = VOICE_AT_1_M_DBA - 20 * math.log10(distance)
                        speech_dbfs = -20.0  # the microphone's gain follows the voice
                        wet *= 10 ** (speech_dbfs / 20) / np.sqrt(speech_power(dry))
                        around = np.concatenate((np.zeros(int(1.5 * RATE)), wet, np.zeros(RATE)))
                        noise = list(NOISES.values())[number % len(NOISES)](rng, len(around))
                        noise *= 10 ** ((speech_dbfs - voice_dba + level) / 20) / np.sqrt((noise**2).mean())
                        whole = around + noise
                        whole /= max(1.0, float(np.abs(whole).max()) / 0.99)
                        counts[heard(listener, phrases, whole, said)] += 1
                row.append(f"{counts['right']} ({counts['wrong']})")
            print(f"{distance:5.2f} m" + "".join(f"{text:>10}" for text in row), flush=True)


if __name__ == "__main__":
    main()
