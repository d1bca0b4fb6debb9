"""A job's own words are taught to the model once; checking the procedure does it ahead of the job."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso import procedure
from sayso.hearing.speech_model import find_model
from sayso.procedure.model import Procedure
from sayso.session.taught_model import taught_ahead, taught_model
from sayso.session.taught_notes import begin_to_load


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def job(folder: Path, colour: str, *, said: str = "") -> Procedure:
    file = folder / f"{colour}{said[:1]}.yaml"
    words = f"words: {{{colour}: {said}}}\n" if said else ""
    file.write_text(
        f"procedure: paint\ntitle: Paint\nrevision: 1\n{words}steps:\n"
        f"  - {{id: colour, say: Which colour?, ask: {{choice: colour, options: [{colour}, black]}}}}\n",
        encoding="utf-8",
    )
    return procedure.read(file)


def test_words_taught_ahead_are_there_when_the_job_begins(tmp_path: Path) -> None:
    found = job(tmp_path, "zinnwaldite")
    told: list[int] = []
    taught_ahead(None, found, told.append)
    assert told
    assert told[0] >= 1
    taught_ahead(None, found, told.append)
    assert len(told) == 1
    assert taught_model(None, found).knows("zinnwaldite")


def test_a_job_whose_words_were_all_taught_before_makes_no_new_graph(tmp_path: Path) -> None:
    first = taught_model(None, job(tmp_path, "zinnwaldite"))
    second = taught_model(None, job(tmp_path, "smalt"))
    assert second.knows("smalt")
    assert second.knows("zinnwaldite")
    both = taught_model(None, job(tmp_path, "blue"))
    assert both.path == second.path != first.path


def test_a_procedure_that_says_a_word_in_its_own_way_is_not_given_another_procedures_way(
    tmp_path: Path,
) -> None:
    own = taught_model(None, job(tmp_path, "smalt", said="S M AA L T"))
    other = taught_model(None, job(tmp_path, "smalt"))
    assert own.path != other.path
    lexicon = (other.path / "graph" / "lexicon.txt").read_text(encoding="utf-8").splitlines()
    assert "smalt S M AA L T" not in lexicon


def test_the_next_job_begins_with_the_model_that_the_last_one_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[Path] = []
    monkeypatch.setattr("sayso.session.taught_notes.load_ahead", begun.append)
    begin_to_load(None)
    used = taught_model(None, job(tmp_path, "smalt"))
    begin_to_load(None)
    begin_to_load(str(tmp_path / "nowhere"))  # told later, by who needs it
    assert begun == [find_model(), used.path]


def test_a_word_with_accents_is_taught_as_it_is_listened_for(tmp_path: Path) -> None:
    model = taught_model(None, job(tmp_path, "größe", said="G R OW S AH"))
    assert model.knows("grosse")
    lexicon = (model.path / "graph" / "lexicon.txt").read_text(encoding="utf-8").splitlines()
    assert "grosse G R OW S AH" in lexicon
