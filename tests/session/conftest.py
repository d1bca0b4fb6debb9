from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sayso.procedure.model import Procedure
from sayso.record.store import Store, open_store
from sayso.session.opening import read_procedure

HARNESS_SWAP = Path(__file__).parents[1] / "journeys" / "harness-swap.yaml"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "jobs.sqlite") as opened:
        yield opened


@pytest.fixture
def procedure() -> Procedure:
    return read_procedure(HARNESS_SWAP, "en", {})
