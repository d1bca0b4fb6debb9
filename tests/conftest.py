"""For all tests: Hypothesis without a deadline, since a busy machine must not turn a property into a timed
assertion; and who runs what when several workers share the tests (pytest-xdist).

They are shared out by file, so that a module's browser, model or database is made once. The files whose tests
speak or listen in real time are one share: never two such tests at once, they begin first (they take long),
and the other tests give way to them. Servers and folders are each worker's own; no port or path is fixed.
"""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")

REAL_TIME = "real-time audio"
#: What shows that a file's tests do so: a fixture of tests/virtual_audio.py, or the marker.
SIGNS = ("virtual_audio", "audio_here", "mark.audio")
#: How far tests without real-time audio stand back for those with it (0 is normal, 19 is last).
STANDS_BACK = 5


@cache
def _in_real_time(file: Path) -> bool:
    text = file.read_text(encoding="utf-8")
    return any(sign in text for sign in SIGNS)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    # xdist's own groups (`xdist_group`) do nothing with pytest 9.2, which no longer reads the changed name
    from xdist.scheduler import LoadFileScheduling

    class ByFile(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return REAL_TIME if _in_real_time(config.rootpath / file) else file

    return ByFile(config, log) if config.getvalue("dist") == "loadfile" else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if hasattr(config, "workerinput"):  # else: one process, in the order of the files
        items.sort(key=lambda item: not _in_real_time(item.path))


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Stands back once and for all: the worker with the real-time tests has those behind it by then."""
    if not hasattr(item.config, "workerinput") or _in_real_time(item.path):
        return
    if hasattr(os, "nice") and os.nice(0) < STANDS_BACK:
        os.nice(STANDS_BACK)
