"""Two sayso on one machine would hear and answer each other."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.session.errors import UserError
from sayso.session.one_voice import only_voice


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)


def test_a_second_voice_on_the_same_machine_is_refused_in_one_line() -> None:
    refused = pytest.raises(UserError, match="another sayso is speaking on this machine")
    with only_voice(), refused as told, only_voice():
        pass
    assert "\n" not in str(told.value)


def test_the_voice_is_free_again_after_the_job() -> None:
    for _ in range(2):
        with only_voice():
            pass


def test_two_sound_servers_have_a_voice_each(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PULSE_SERVER", "unix:/run/one")
    with only_voice():
        monkeypatch.setenv("PULSE_SERVER", "unix:/run/two")
        with only_voice():
            pass
