"""Is somebody speaking? WebRTC's detector, believed only above the measured noise floor."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
import webrtcvad

from sayso.hearing.levels import NOTHING_DBFS, dbfs, samples_of

SAMPLE_RATE = 16_000
FRAME = 160  # 10 ms, the shortest that WebRTC's detector takes
FRAME_S = FRAME / SAMPLE_RATE

#: Aggressiveness 0..3 of WebRTC's detector: 2 still hears soft final consonants, 3 cuts them.
AGGRESSIVENESS = 2
#: Speech stands out by at least this over the floor; babble and machines mostly do not.
MARGIN_DB = 6.0
#: Nothing quieter than this is speech, however quiet the room.
QUIETEST_SPEECH_DBFS = -60.0
#: The floor is this percentile of the frame levels of the last seconds: speech has gaps, machines have none.
FLOOR_PERCENTILE = 15
FLOOR_WINDOW_S = 4.0
#: A start needs this many voiced frames among the last START_WINDOW, so that a knock is not a start.
START_FRAMES, START_WINDOW = 7, 12
#: Noise that rises and falls (voices, blows) starts and holds up an utterance by itself. So much sound
#: before the speech tells how loud it gets, in means over SMOOTH frames; less than LEAST_BEFORE_S tells
#: nothing. Of 831 sentences of AN4's development speakers 6 had a first word 8 dB under the loudest, 0 one
#: 10 dB under it.
BEFORE_S, LEAST_BEFORE_S, SMOOTH = 4.0, 0.3, 5
#: What is no louder than that by more than this, and softer than the loudest speech by LOUD_DB, is noise.
OVER_NOISE_DB, LOUD_DB = 1.5, 10.0
#: The beginning of speech, before its first loud vowel: belongs to the speech, not to what was before.
ONSET_S = 0.4
#: A lone voiced frame in a pause does not restart the silence.
GOING_ON_FRAMES, GOING_ON_WINDOW = 3, 5


@dataclass(frozen=True, slots=True)
class Activity:
    """After some audio: `silence_s` since the last speech, `speech_s` of speech since reset().

    `hush_s`: since it was last louder than the noise before the speech. `noise_dbfs`: sound no louder than
    this is that noise. `rose`: it has just become louder by LOUD_DB than all that was since reset().
    """

    started: bool
    silence_s: float
    speech_s: float
    floor_dbfs: float
    level_dbfs: float
    hush_s: float = 0.0
    noise_dbfs: float = NOTHING_DBFS
    rose: bool = False


class VoiceActivity:
    """Feed audio of any length; frames of 10 ms are cut from it. Times are counted in samples."""

    def __init__(self) -> None:
        self._detector = webrtcvad.Vad(AGGRESSIVENESS)
        self._rest = b""
        self._levels: deque[float] = deque(maxlen=int(FLOOR_WINDOW_S / FRAME_S))
        self._floor = -55.0
        self._since_floor = 0
        self._recent: deque[bool] = deque(maxlen=START_WINDOW)
        self._level = NOTHING_DBFS
        self._powers: deque[float] = deque(maxlen=SMOOTH)
        self._before: deque[float] = deque(maxlen=int(BEFORE_S / FRAME_S))
        self._since: deque[float] = deque()
        self._of_place = True
        self.reset()

    def reset(self, *, was_noise: bool = False) -> None:
        """Forget the utterance, keep the noise floor. `was_noise`: it had no word, and tells of the place."""
        if was_noise:
            self._before.extend(self._since)
        self._started = False
        self._loudest = NOTHING_DBFS
        self._softer = NOTHING_DBFS
        self._top = NOTHING_DBFS
        self._hush = 0
        self._rose = False
        self._since.clear()
        self._speech = 0
        self._silence = 0
        self._recent.clear()

    @property
    def floor_dbfs(self) -> float:
        return self._floor

    @property
    def measured_s(self) -> float:
        """Seconds of sound that the floor stands on."""
        return len(self._levels) * FRAME_S

    def feed(self, pcm: bytes, least_dbfs: float = NOTHING_DBFS, *, of_place: bool = True) -> Activity:
        """`least_dbfs`: what is softer than this is no speech (what an echo canceller leaves over).

        `of_place`: False for sound that says nothing of how loud the place gets (sayso's own voice rings).
        """
        self._rose = False
        self._of_place = of_place
        data = self._rest + pcm
        whole = len(data) // (2 * FRAME) * (2 * FRAME)
        for at in range(0, whole, 2 * FRAME):
            self._frame(data[at : at + 2 * FRAME], least_dbfs)
        self._rest = data[whole:]
        return self.now()

    def now(self) -> Activity:
        return Activity(
            self._started,
            self._silence * FRAME_S,
            self._speech * FRAME_S,
            self._floor,
            self._level,
            self._hush * FRAME_S,
            self._noise,
            self._rose,
        )

    @property
    def _noise(self) -> float:
        if self._top == NOTHING_DBFS:
            return NOTHING_DBFS
        return min(self._top + OVER_NOISE_DB, self._loudest - LOUD_DB)

    def forget_before_rise(self) -> None:
        """What was before it `rose` was noise; the utterance begins ONSET_S ago."""
        while len(self._since) > int(ONSET_S / FRAME_S):
            self._before.append(self._since.popleft())
        self._top = max(self._top, *self._before)
        self._loudest = max(self._since)
        self._softer = NOTHING_DBFS

    def _follow(self, level: float) -> None:
        """Before the speech: how loud the noise gets. In it: how loud the speech is, and is it over?"""
        self._powers.append(10 ** (level / 10))
        smooth = 10 * math.log10(max(1e-10, sum(self._powers) / len(self._powers)))
        if not self._started:
            if self._of_place:
                self._before.append(smooth)
            else:
                self._powers.clear()
            return
        self._since.append(smooth)
        onset = int(ONSET_S / FRAME_S)
        if len(self._since) > onset:
            self._softer = max(self._softer, self._since[-onset - 1])
            self._rose |= smooth > self._softer + LOUD_DB > self._loudest
        self._loudest = max(self._loudest, smooth)
        self._hush = 0 if smooth > self._noise else self._hush + 1

    def _begin(self) -> None:
        """Speech has started, up to ONSET_S ago: what was before that was the place."""
        for _ in range(min(len(self._before), int(ONSET_S / FRAME_S))):
            self._before.pop()
        if len(self._before) >= int(LEAST_BEFORE_S / FRAME_S):
            self._top = max(self._before)
        self._hush = 0

    def _frame(self, frame: bytes, least_dbfs: float) -> None:
        level = dbfs(samples_of(frame))
        self._level = level
        if level > NOTHING_DBFS:  # a gap of digital silence says nothing about the room
            self._levels.append(level)
        self._since_floor += 1
        if self._since_floor >= 10 and len(self._levels) >= 10:
            self._floor = float(np.percentile(np.array(self._levels), FLOOR_PERCENTILE))
            self._since_floor = 0
        loud = level > max(self._floor + MARGIN_DB, QUIETEST_SPEECH_DBFS, least_dbfs)
        # the detector adapts to what it is given, so it is given every frame
        voiced = bool(self._detector.is_speech(frame, SAMPLE_RATE)) and loud
        self._recent.append(voiced)
        self._follow(level)
        if not self._started:
            if sum(self._recent) >= START_FRAMES:
                self._started = True
                self._begin()
                self._speech = sum(self._recent)
                self._silence = 0
            return
        if voiced:
            self._speech += 1
        last = list(self._recent)[-GOING_ON_WINDOW:]
        if voiced and sum(last) >= GOING_ON_FRAMES:
            self._silence = 0
        else:
            self._silence += 1
