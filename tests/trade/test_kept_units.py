"""pint's definitions are kept as read; a file that a killed program left is made anew, once."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.trade import units


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    units._registry()
    return tmp_path / "sayso" / "units"


def test_a_file_that_was_cut_short_is_made_anew(kept: Path) -> None:
    before = {file.name: file.stat().st_size for file in kept.iterdir()}
    for file in kept.glob("*.pickle"):
        file.write_bytes(file.read_bytes()[:7])
    assert units._registry().Quantity(1, "bar").to("kPa").magnitude == pytest.approx(100)  # SI Brochure
    assert {file.name: file.stat().st_size for file in kept.iterdir()} == before


def test_where_nothing_can_be_kept_the_units_are_there_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "sayso").write_text("a file where the folder would be")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert units._registry().Quantity(1, "bar").to("kPa").magnitude == pytest.approx(100)
