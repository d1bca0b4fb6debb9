"""How late sound comes, told from its samples alone."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.hearing.lateness import WINDOW_S, Lateness

RATE, BLOCK = 16_000, 480
BLOCK_S = BLOCK / RATE


def lateness(arrivals: Iterable[float]) -> list[float]:
    lateness = Lateness(RATE)
    return [lateness.of(at, BLOCK) for at in arrivals]


@given(st.lists(st.floats(0.0, 0.9), min_size=1, max_size=150), st.floats(0.0, 1e6))
def test_it_is_how_much_longer_a_block_took_than_the_quickest_so_far(took: list[float], start: float) -> None:
    took[0] = 0.0
    found = lateness(start + (k + 1) * BLOCK_S + late for k, late in enumerate(took))
    assert found == pytest.approx(took, abs=1e-6)


def test_a_stall_and_the_burst_after_it() -> None:
    """The machine stalls for 0.6 s: twenty blocks come at once, and the sound in them is of before."""
    on_time = [(k + 1) * BLOCK_S for k in range(100)]
    stalled = [max(at, on_time[59]) if 40 <= k < 60 else at for k, at in enumerate(on_time)]
    found = lateness(stalled)
    assert found[40] == pytest.approx(19 * BLOCK_S)
    assert found[50] == pytest.approx(9 * BLOCK_S)
    assert found[39] == pytest.approx(0) == pytest.approx(found[70], abs=1e-9)


def test_sound_that_was_lost_is_not_taken_for_lateness_for_long() -> None:
    blocks = int(4 * WINDOW_S / BLOCK_S)
    lost_s = 0.5
    found = lateness((k + 1) * BLOCK_S + (lost_s if k >= blocks // 4 else 0.0) for k in range(blocks))
    assert found[blocks // 4] == pytest.approx(lost_s)
    assert max(found[-blocks // 4 :]) == pytest.approx(0, abs=1e-6)
