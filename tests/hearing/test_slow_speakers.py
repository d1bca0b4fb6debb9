"""People who pause inside an answer are not cut off, and quick ones are not kept waiting."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from sayso.hearing.endpoint import CompletenessOf
from sayso.hearing.engines import VoskEngine
from sayso.hearing.errors import HearingError
from sayso.hearing.evaluation import exactly, measure_as_in_a_job, up_to
from sayso.hearing.levels import samples_of
from sayso.hearing.recordings import RATE, Recording, read_recordings, read_sound
from sayso.hearing.slow_speech import GROUPED_SERIAL, HALTING_NUMBER, Manner, slow_answers, trimmed

from .conftest import DIGITS, Say


@pytest.fixture(scope="module")
def words(say: Say, tmp_path_factory: pytest.TempPathFactory) -> tuple[Recording, ...]:
    folder = tmp_path_factory.mktemp("words")
    for word in DIGITS:
        (folder / word).mkdir()
        for number, voice in enumerate(("en-us", "en-gb")):
            samples = samples_of(say(word, voice=voice, before=0.1))
            soundfile.write(folder / word / f"0000000{number}_nohash_0.wav", samples, RATE)
    return read_recordings(folder)


@pytest.mark.parametrize(
    ("manner", "pace", "completeness"),
    [(HALTING_NUMBER, "number", up_to(2)), (GROUPED_SERIAL, "spelled", exactly(8))],
)
def test_hardly_anybody_is_cut_off_in_a_pause(
    words: tuple[Recording, ...], tmp_path: Path, manner: Manner, pace: str, completeness: CompletenessOf
) -> None:
    answers = slow_answers(words, manner, 12, tmp_path)
    found = measure_as_in_a_job(
        VoskEngine(None), answers, DIGITS, None, pace=pace, completeness=completeness  # type: ignore[arg-type]
    )  # fmt: skip
    # measured: 1 of 12 halting numbers (all its words were there), 0 of 12 serials
    assert found.cut_off <= 1
    # the engine itself may put an unknown sound between two synthetic digits; then sayso asks again, whole
    assert found.nothing <= 1
    assert found.right.value >= 11 / 12


def test_an_answer_is_of_one_speaker_with_pauses_between_its_words(
    words: tuple[Recording, ...], tmp_path: Path
) -> None:
    (answer,) = slow_answers(words, Manner("test", (1, 1), (0, 0), (0.8, 0.8)), 1, tmp_path)
    assert answer.words is not None
    assert len(answer.words) == 2
    spoken = sum(
        len(trimmed(read_sound(next(r.path for r in words if r.words == (w,))))) for w in answer.words
    )
    assert len(read_sound(answer.path)) > spoken * 0.5 + 0.8 * RATE


def test_sentences_cannot_be_joined(tmp_path: Path) -> None:
    with pytest.raises(HearingError, match="single words"):
        slow_answers([Recording("x", tmp_path / "x.wav", ("two", "words"))], HALTING_NUMBER, 1, tmp_path)
