"""How loud is the place, how loud the voice: measured, judged, and said in plain advice."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from sayso.hearing.levels import NOTHING_DBFS, Samples, clipped_share, dbfs
from sayso.hearing.voice_activity import FRAME, FRAME_S, VoiceActivity

#: Below this ratio answers are read back and the place counts as noisy (see the card of the model for
#: accuracy against noise). Hysteresis: it must get this much better before it counts as quiet again.
NOISY_SNR_DB = 15.0
QUIET_AGAIN_DB = 4.0
#: Below this no answer should be trusted at all.
HOPELESS_SNR_DB = 5.0
#: What speech is taken for before any was heard: a laptop's microphone at arm's length, normal gain.
ASSUMED_SPEECH_DBFS = -30.0
CLIPPING_SHARE = 0.001
#: Speech below this is faint, however quiet the place.
FAINT_DBFS = -45.0
#: Noise in bursts (an impact wrench) leaves gaps, and the floor lies in the gaps. So much sound without a
#: word in so long a time counts as noise all the same.
BURSTS_S, BURSTS_WITHIN_S = 4.0, 30.0
#: A microphone that is on always gives some noise; exact zeros mean muted or not connected.
MUTED_AFTER_S = 8.0


@dataclass(frozen=True, slots=True)
class Levels:
    """dBFS. `speech_dbfs` is None when nobody spoke; `clipped` is the share of clipped samples."""

    noise_dbfs: float
    speech_dbfs: float | None
    clipped: float

    @property
    def snr_db(self) -> float | None:
        return None if self.speech_dbfs is None else self.speech_dbfs - self.noise_dbfs


def measure(samples: Samples) -> Levels:
    """Noise floor and speech level of a recording (16 kHz) in which somebody may speak."""
    activity = VoiceActivity()
    frames: list[float] = []
    speech: list[float] = []
    for at in range(0, len(samples) - FRAME + 1, FRAME):
        frame = samples[at : at + FRAME]
        before = activity.now().speech_s
        now = activity.feed(frame.tobytes())
        frames.append(now.level_dbfs)
        if now.speech_s > before:
            speech.append(now.level_dbfs)
    if not frames:
        return Levels(NOTHING_DBFS, None, 0.0)
    noise = float(np.percentile(frames, 15))
    # the loud half of the voiced frames, in power: the syllables and not the gaps between them
    loud = sorted(speech)[len(speech) // 2 :]
    level = (
        10 * float(np.log10(np.mean([10 ** (v / 10) for v in loud])))
        if len(speech) * FRAME_S >= 0.15
        else None
    )
    return Levels(noise, level, clipped_share(samples))


def advice(levels: Levels) -> tuple[str, ...]:
    """Plain sentences on what to do; empty when all is well."""
    if levels.noise_dbfs <= NOTHING_DBFS and levels.speech_dbfs is None:
        return ("I hear nothing at all. Is the microphone muted or unplugged?",)
    out = list(advice_on_voice(levels))
    if levels.speech_dbfs is None:
        over = levels.noise_dbfs - (ASSUMED_SPEECH_DBFS - NOISY_SNR_DB)
        if over > 0:
            out.append(f"Too loud: {over:.0f} dB over. Come closer or use a headset.")
        return tuple(out)
    snr = levels.speech_dbfs - levels.noise_dbfs
    if snr < HOPELESS_SNR_DB:
        out.append(f"Far too loud: {NOISY_SNR_DB - snr:.0f} dB over. Use a headset, or answer with the keys.")
    elif snr < NOISY_SNR_DB:
        out.append(f"Too loud: {NOISY_SNR_DB - snr:.0f} dB over. Come closer or use a headset.")
    return tuple(out)


def advice_on_voice(levels: Levels) -> tuple[str, ...]:
    """What to do about the voice itself, whatever the noise; empty when all is well."""
    out: list[str] = []
    if levels.clipped > CLIPPING_SHARE:
        out.append("The microphone is overdriven. Turn its level down or move it away from your mouth.")
    if levels.speech_dbfs is not None and levels.speech_dbfs < FAINT_DBFS:
        out.append("Your voice is faint. Come closer or turn the microphone up.")
    return tuple(out)


class VoiceWatch:
    """Tells what to do about the voice once it was so for some answers in a row, and once only."""

    #: So many answers in a row have to be faint, or overdriven.
    SURE = 2

    def __init__(self) -> None:
        self._times: dict[str, int] = {}

    def feed(self, levels: Levels) -> tuple[str, ...]:
        """Levels of an answer; the sentences that are to be told now."""
        found = advice_on_voice(levels)
        told = {say: times for say, times in self._times.items() if times >= self.SURE}
        self._times = told | {say: self._times.get(say, 0) + 1 for say in found}
        return tuple(say for say in found if self._times[say] == self.SURE)


@dataclass(frozen=True, slots=True)
class NoiseState:
    noisy: bool
    decibels_over: float


class NoiseMonitor:
    """Follows floor and speech level during the job; flips with hysteresis and not on one knock."""

    #: The floor must lie beyond the limit this long before the state changes.
    HOLD_S = 2.0
    #: A loud place that gets louder by this much for so long is told of again.
    LOUDER_DB, LOUDER_HOLD_S = 6.0, 6.0

    def __init__(self) -> None:
        self._speech: deque[float] = deque(maxlen=8)
        self._beyond_s = 0.0
        self._louder_s = 0.0
        self._now_s = 0.0
        self._bursts: deque[tuple[float, float, float]] = deque()  # ended at, seconds, dBFS
        self.state = NoiseState(False, 0.0)

    def heard_speech(self, level_dbfs: float) -> None:
        """Level of an utterance that was understood."""
        self._speech.append(level_dbfs)

    @property
    def speech_dbfs(self) -> float:
        return float(np.median(self._speech)) if self._speech else ASSUMED_SPEECH_DBFS

    def snr_db(self, floor_dbfs: float) -> float:
        return self.speech_dbfs - floor_dbfs

    def heard_noise(self, level_dbfs: float, seconds: float, now_s: float) -> None:
        """Sound that ended now and had not even a foreign word in it."""
        self._now_s = now_s
        self._bursts.append((now_s, seconds, level_dbfs))

    def begin(self, floor_dbfs: float) -> NoiseState | None:
        """The floor before the job began: judged at once. The state when the place is loud."""
        over = NOISY_SNR_DB - self.snr_db(floor_dbfs)
        self.state = NoiseState(over > 0, max(0.0, round(over, 1)))
        return self.state if self.state.noisy else None

    def feed(self, floor_dbfs: float, seconds: float, now_s: float | None = None) -> NoiseState | None:
        """The floor during `seconds` more, until `now_s`; the new state when it changed, or got worse."""
        self._now_s = self._now_s + seconds if now_s is None else now_s
        bursts = self._bursts_dbfs()
        over = NOISY_SNR_DB - self.snr_db(max(floor_dbfs, bursts))
        wrong = over > 0 if not self.state.noisy else over < -QUIET_AGAIN_DB
        self._beyond_s = self._beyond_s + seconds if wrong else 0.0
        louder = self.state.noisy and over >= self.state.decibels_over + self.LOUDER_DB
        self._louder_s = self._louder_s + seconds if louder else 0.0
        if self._louder_s >= self.LOUDER_HOLD_S:
            self._louder_s = 0.0
            self.state = NoiseState(True, round(over, 1))
            return self.state
        sure = self._beyond_s >= self.HOLD_S or (wrong and bursts > floor_dbfs)  # bursts have lasted already
        if not sure:
            return None
        self._beyond_s = 0.0
        self.state = NoiseState(not self.state.noisy, max(0.0, round(over, 1)))
        return self.state

    def _bursts_dbfs(self) -> float:
        """Level of the noise that came in bursts lately; NOTHING_DBFS when it was too little to count."""
        while self._bursts and self._now_s - self._bursts[0][0] > BURSTS_WITHIN_S:
            self._bursts.popleft()
        total = sum(seconds for _, seconds, _ in self._bursts)
        if total < BURSTS_S:
            return NOTHING_DBFS
        power = sum(seconds * 10 ** (level / 10) for _, seconds, level in self._bursts)
        return 10 * float(np.log10(power / total))


class MutedWatch:
    """Notices digital silence: a muted or unplugged microphone, not a quiet room."""

    def __init__(self, after_s: float = MUTED_AFTER_S) -> None:
        self._after_s = after_s
        self._silent_s = 0.0
        self.muted = False

    def feed(self, samples: Samples, seconds: float) -> bool | None:
        """True when it has just gone silent, False when sound is back, None when nothing changed."""
        if dbfs(samples) > NOTHING_DBFS:
            self._silent_s = 0.0
            if self.muted:
                self.muted = False
                return False
            return None
        self._silent_s += seconds
        if not self.muted and self._silent_s >= self._after_s:
            self.muted = True
            return True
        return None
