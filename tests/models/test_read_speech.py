"""The recipe's cutting of long readings: nothing is lost, nothing stays long, cuts lie in pauses."""

from __future__ import annotations

import importlib
from types import ModuleType
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from .test_shop_english import ROOT

durations = st.floats(0.05, 0.8)
pauses = st.floats(0.0, 1.5)


@pytest.fixture
def read_speech(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "models" / "recipe"))
    return importlib.import_module("read_speech")


def timed(said: list[tuple[float, float]]) -> list[dict[str, Any]]:
    words, now = [], 0.0
    for k, (pause, length) in enumerate(said):
        words.append({"word": f"w{k}", "start": now + pause, "end": now + pause + length})
        now = words[-1]["end"]
    return words


@given(st.lists(st.tuples(pauses, durations), min_size=1, max_size=60))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_reading_is_cut_into_short_runs_that_are_all_of_it(
    read_speech: ModuleType, said: list[tuple[float, float]]
) -> None:
    words = timed(said)
    runs = read_speech.pieces(words)
    assert [w for run in runs for w in run] == words
    assert all(len(run) == 1 or run[-1]["end"] - run[0]["start"] <= read_speech.LONGEST_S for run in runs)


def test_it_is_cut_at_the_widest_pause(read_speech: ModuleType) -> None:
    words = timed([(0.0, 1.0), (0.1, 3.0), (0.9, 3.0), (0.2, 1.0)])
    assert read_speech.pieces(words) == [words[:2], words[2:]]


def test_a_transcript_with_figures_is_left_out(read_speech: ModuleType, tmp_path: Any) -> None:
    index = tmp_path / "index.tsv"
    index.write_text(
        "path\tsource\tspeaker\tduration_s\ttranscript\n"
        "a.flac\tx\ts1\t2.0\tIt’s the “fourth” Bolt.\n"
        "b.flac\tx\ts2\t2.0\tbolt 4\n"
    )
    (only,) = read_speech.readings(index)
    assert (only.path, only.speaker, only.words) == (
        tmp_path / "a.flac",
        "s1",
        ["it's", "the", "fourth", "bolt"],
    )
