"""Is somebody speaking? WebRTC's detector, believed only above the measured noise floor."""

from __future__ import annotations

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
#: A lone voiced frame in a pause does not restart the silence.
GOING_ON_FRAMES, GOING_ON_WINDOW = 3, 5


@dataclass(frozen=True, slots=True)
class Activity:
    """After some audio: `silence_s` since the last speech, `speech_s` of speech since reset()."""

    started: bool
    silence_s: float
    speech_s: float
    floor_dbfs: float
    level_dbfs: float


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
        self.reset()

    def reset(self) -> None:
        """Forget the utterance, keep the noise floor."""
        self._started = False
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

    def feed(self, pcm: bytes, least_dbfs: float = NOTHING_DBFS) -> Activity:
        """`least_dbfs`: what is softer than this is no speech (what an echo canceller leaves over)."""
        data = self._rest + pcm
        whole = len(data) // (2 * FRAME) * (2 * FRAME)
        for at in range(0, whole, 2 * FRAME):
            self._frame(data[at : at + 2 * FRAME], least_dbfs)
        self._rest = data[whole:]
        return self.now()

    def now(self) -> Activity:
        return Activity(
            self._started, self._silence * FRAME_S, self._speech * FRAME_S, self._floor, self._level
        )

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
        if not self._started:
            if sum(self._recent) >= START_FRAMES:
                self._started = True
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
