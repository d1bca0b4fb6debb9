"""A model is found in one obvious order, and what is wrong with a directory is said in one line."""

import json
from pathlib import Path

import pytest
import vosk

from sayso.hearing.speech_model import (
    ModelError,
    SpeechModel,
    find_model,
    load_ahead,
    load_model,
    missing_words,
    shipped_model,
    with_words,
)


def test_the_shipped_model_is_used_when_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SAYSO_MODEL", raising=False)
    assert find_model() == shipped_model()


def test_the_environment_names_another_and_the_argument_wins(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    monkeypatch.setenv("SAYSO_MODEL", str(tmp_path / "a"))
    assert find_model() == tmp_path / "a"
    assert find_model(tmp_path / "b") == tmp_path / "b"


def test_a_missing_directory_is_named(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"nowhere: no such model directory"):
        load_model(tmp_path / "nowhere")


@pytest.mark.parametrize("lacking", ["am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst", "conf/mfcc.conf"])
def test_a_missing_file_is_named(copied_model: Path, lacking: str) -> None:
    (copied_model / lacking).unlink()
    with pytest.raises(ModelError, match=lacking.split("/")[1].replace(".", r"\.")):
        load_model(copied_model)


def test_a_pointer_instead_of_the_model_is_noticed(copied_model: Path) -> None:
    (copied_model / "am" / "final.mdl").write_text("version https://example.invalid/spec/v1\n")
    with pytest.raises(ModelError, match="holds no model"):
        load_model(copied_model)


def test_the_parent_of_a_model_is_recognised(copied_model: Path) -> None:
    with pytest.raises(ModelError, match=f"did you mean {copied_model}"):
        load_model(copied_model.parent)


def test_words_that_vosk_would_drop_are_found(model: SpeechModel) -> None:
    assert missing_words(model, ["yes", "zorblat", "no", "zorblat"]) == ("zorblat",)


def test_a_model_made_by_other_tools_refuses_new_words_by_name(
    model: SpeechModel, copied_model: Path
) -> None:
    (copied_model / "graph" / "HCLr.fst").write_bytes(b"a graph of another layout")
    stranger = SpeechModel(copied_model, model.handle, run_time_grammar=True)
    with pytest.raises(ModelError, match=r"words cannot be added.*kibblewick, zorblat"):
        with_words(stranger, {"zorblat": ("Z AO R",), "kibblewick": ("K IH B",)})


def test_a_model_loaded_ahead_is_the_one_that_is_given_and_given_once() -> None:
    found = find_model()
    load_ahead(found)
    first = load_model(found)
    second = load_model(found)
    assert first.knows("yes")
    assert second.knows("yes")
    assert first.handle is not second.handle


def test_what_is_wrong_with_a_model_loaded_ahead_is_told_when_it_is_needed(copied_model: Path) -> None:
    load_ahead(copied_model)
    (copied_model / "am" / "final.mdl").unlink()
    with pytest.raises(ModelError, match=r"final\.mdl"):
        load_model(copied_model)
    load_ahead(copied_model / "nowhere")
    assert load_model(find_model()).knows("yes")


def test_what_kaldi_warns_of_is_not_on_the_screen_of_a_job(capfd: pytest.CaptureFixture[str]) -> None:
    model = load_model()
    vosk.KaldiRecognizer(model.handle, 16_000, json.dumps(["yes", "nosuchword"]))
    assert capfd.readouterr().err == ""
    vosk.SetLogLevel(-1)  # the same is warned of when Kaldi may
    vosk.KaldiRecognizer(model.handle, 16_000, json.dumps(["yes", "nosuchword"]))
    assert "nosuchword" in capfd.readouterr().err
