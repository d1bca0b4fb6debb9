"""`sayso evaluate`, `sayso model`: what a lead hand types, and what it prints."""

import json
import wave
from pathlib import Path

import numpy as np
import pytest

from sayso.cli import dispatch, main

from .conftest import DIGITS, RATE, Say, to_pcm


def save(path: Path, pcm: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(pcm)


@pytest.fixture(scope="module")
def digits(say: Say, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("digits")
    for word in DIGITS[:6]:
        for voice in ("en-us", "en-gb"):
            save(folder / word / f"{voice}.wav", say(word, voice=voice, before=0.1))
    return folder


def test_a_model_is_measured_on_a_folder_per_word(
    digits: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "figures.json"
    code = dispatch(
        [
            "evaluate",
            str(digits),
            "--snr",
            "clean,0",
            "--as-in-a-job",
            "--pace",
            "short",
            "--output",
            str(out),
        ]
    )
    assert code == 0
    figures = json.loads(out.read_text())
    clean, loud = figures["accuracy"]
    assert clean["utterances"] == 12
    assert clean["word_error"]["value"] <= 0.5
    assert clean["word_error"]["low"] <= clean["word_error"]["value"] <= clean["word_error"]["high"]
    assert loud["snr_db"] == 0.0
    assert figures["as_in_a_job"][0]["utterances"] == 12
    assert 0 < figures["engines"]["shop-english"]["peak_mb"] < 1000
    assert "word error" in capsys.readouterr().out


def test_false_accepts_are_counted_per_hour(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    noise = np.random.default_rng(1).standard_normal(RATE * 20) * 0.01
    save(tmp_path / "shop" / "noise.wav", to_pcm(noise))
    (tmp_path / "controls.txt").write_text("stop\nrepeat\ncarry on\n")
    assert dispatch(["evaluate", str(tmp_path / "shop"), "--grammar", str(tmp_path / "controls.txt")]) == 0
    assert "0 accepted in 0.01 h = 0.0 per hour" in capsys.readouterr().out


def test_recordings_without_words_need_a_grammar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    save(tmp_path / "noise.wav", bytes(RATE))
    with pytest.raises(SystemExit) as ended:
        main(["evaluate", str(tmp_path)])
    assert ended.value.code == 2
    assert "give the phrases to listen for with --grammar" in capsys.readouterr().err


def test_engines_are_compared_side_by_side(digits: Path, tmp_path: Path) -> None:
    pytest.importorskip("pocketsphinx")
    out = tmp_path / "figures.json"
    words = ["evaluate", str(digits), "--snr", "clean", "--most", "4", "--output", str(out)]
    assert dispatch([*words, "--engine", "", "--engine", "pocketsphinx"]) == 0
    assert [row["engine"] for row in json.loads(out.read_text())["accuracy"]] == [
        "shop-english",
        "pocketsphinx",
    ]


def test_words_are_looked_up_and_added(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    (tmp_path / "shop.txt").write_text("kibblewick K IH B AH L W IH K\n")
    assert dispatch(["model", "words", "five", "Kibblewick", "--lexicon", str(tmp_path / "shop.txt")]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "five: F AY V (model)",
        "kibblewick: K IH B AH L W IH K (given)  + added to the model",
    ]
