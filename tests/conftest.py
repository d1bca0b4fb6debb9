"""For all tests: Hypothesis without a deadline, since a busy machine must not turn a property into a timed
assertion; and who runs what when several workers share the tests (pytest-xdist, `--dist loadgroup`).

Tests that speak or listen in real time are one group: never two of them at once, they begin first (they take
longest), and the other tests give way to them. All else goes by file, so that a module's browser, model or
database is made once. Servers and folders are each worker's own; no port or path is fixed.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")

REAL_TIME = "real-time-audio"
#: How far tests without real-time audio stand back for those with it (0 is normal, 19 is last).
STANDS_BACK = 5


def _in_real_time(item: pytest.Item) -> bool:
    fixtures = getattr(item, "fixturenames", ())
    return item.get_closest_marker("audio") is not None or "virtual_audio" in fixtures


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not hasattr(config, "workerinput"):  # one process: in the order of the files
        return
    for item in items:
        group = REAL_TIME if _in_real_time(item) else item.nodeid.partition("::")[0]
        item.add_marker(pytest.mark.xdist_group(group))
    items.sort(key=lambda item: not _in_real_time(item))


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Stands back once and for all: the worker with the real-time tests has those behind it by then."""
    if not hasattr(item.config, "workerinput") or _in_real_time(item):
        return
    if hasattr(os, "nice") and os.nice(0) < STANDS_BACK:
        os.nice(STANDS_BACK)
