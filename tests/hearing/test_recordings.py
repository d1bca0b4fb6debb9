"""Folders of recordings in the layouts that open data comes in, and noise at the ratio asked for."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from sayso.hearing.recordings import RATE, RecordingsError, read_recordings, read_sound
from sayso.hearing.workshop_noise import NOISES, speech_power, with_noise


def wav(path: Path, rate: int = RATE, seconds: float = 0.2) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, np.sin(np.arange(int(rate * seconds)) / rate * 2 * np.pi * 400) * 0.3, rate)


def words(folder: Path) -> dict[str, tuple[str, ...] | None]:
    return {r.name: r.words for r in read_recordings(folder)}


def test_the_layout_of_an4(tmp_path: Path) -> None:
    """Lines as in AN4's etc/an4_test.transcription."""
    wav(tmp_path / "test" / "an406-fcaw-b.flac")
    (tmp_path / "etc").mkdir()
    (tmp_path / "etc" / "an4_test.transcription").write_text(
        "<s> RUBOUT G M E F THREE NINE </s> (an406-fcaw-b)\nERASE C (an407-fcaw-b)\n"
    )
    (found,) = read_recordings(tmp_path / "test")
    assert found.words == ("rubout", "g", "m", "e", "f", "three", "nine")
    assert found.speaker == "fcaw"


def test_a_transcript_file_with_a_name_and_words_a_line(tmp_path: Path) -> None:
    wav(tmp_path / "a" / "one.wav")
    wav(tmp_path / "two.wav")
    (tmp_path / "transcripts.txt").write_text("# name words\na/one.wav Carry on\ntwo\tStop!\n")
    assert words(tmp_path) == {"one": ("carry", "on"), "two": ("stop",)}


def test_a_folder_per_word(tmp_path: Path) -> None:
    wav(tmp_path / "yes" / "x1.wav")
    wav(tmp_path / "carry_on" / "x1.wav")
    assert words(tmp_path) == {"carry_on/x1": ("carry", "on"), "yes/x1": ("yes",)}


def test_a_text_beside_each_recording(tmp_path: Path) -> None:
    wav(tmp_path / "x.wav")
    (tmp_path / "x.txt").write_text("twenty-three\n")
    assert words(tmp_path) == {"x": ("twenty", "three")}


def test_recordings_alone_are_not_meant_for_sayso(tmp_path: Path) -> None:
    wav(tmp_path / "radio.wav")
    assert words(tmp_path) == {"radio": None}


def test_an_empty_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(RecordingsError, match="holds no recordings"):
        read_recordings(tmp_path)
    with pytest.raises(RecordingsError, match="no such folder"):
        read_recordings(tmp_path / "none")


def test_any_rate_becomes_sixteen_kilohertz(tmp_path: Path) -> None:
    wav(tmp_path / "x.wav", rate=44_100, seconds=1.0)
    sound = read_sound(tmp_path / "x.wav")
    assert len(sound) == pytest.approx(RATE, abs=2)
    spectrum = np.abs(np.fft.rfft(sound))
    assert np.argmax(spectrum) * RATE / len(sound) == pytest.approx(400, abs=1.5)


@pytest.mark.parametrize("kind", list(NOISES))
@pytest.mark.parametrize("snr_db", [20.0, 0.0])
def test_noise_has_the_ratio_asked_for(kind: str, snr_db: float) -> None:
    """SNR in dB is 10*log10(speech power / noise power) (definition)."""
    t = np.arange(RATE * 2) / RATE
    speech = 0.02 * np.sin(2 * np.pi * 300 * t)  # soft, so that the sum need not be lowered
    speech[: RATE // 2] = 0
    mixed = with_noise(speech, kind, snr_db, 4)
    noise = mixed - speech
    ratio = 10 * np.log10(speech_power(speech) / np.mean(noise**2))
    assert ratio == pytest.approx(snr_db, abs=0.7)


@pytest.mark.parametrize("kind", list(NOISES))
def test_a_loud_sum_is_lowered_and_not_clipped(kind: str) -> None:
    speech = 0.9 * np.sin(2 * np.pi * 300 * np.arange(RATE) / RATE)
    assert np.abs(with_noise(speech, kind, 0.0, 4)).max() < 1.0


def test_the_same_seed_makes_the_same_noise() -> None:
    speech = np.zeros(RATE)
    speech[5000:6000] = 0.1
    assert np.array_equal(with_noise(speech, "grinder", 5, 1), with_noise(speech, "grinder", 5, 1))
    assert not np.array_equal(with_noise(speech, "grinder", 5, 1), with_noise(speech, "grinder", 5, 2))
