"""Every trade function gives what a published table, a worked example or another library gives."""

from __future__ import annotations

import math

import pytest

from sayso.trade import TRADE_FUNCTIONS
from tests.trade.outside_check import OutsideCheck
from tests.trade.outside_checks import CHECKS
from tests.trade.write_readme import README, readme_text


@pytest.mark.parametrize("group", sorted({check.group for check in CHECKS}))
def test_our_value_is_the_published_one(group: str) -> None:
    apart = [
        f"{check.function}{check.arguments}: {check.source} has {check.published!r}, we {check.ours()!r}"
        for check in CHECKS
        if check.group == group and not _agrees(check)
    ]
    assert not apart, "\n".join(apart)


def test_no_function_is_without_an_outside_check() -> None:
    assert set(TRADE_FUNCTIONS) - {check.function for check in CHECKS} == set()


def test_every_check_names_its_source_and_how_good_it_is() -> None:
    for check in CHECKS:
        assert len(check.source) > 8
        assert check.standing in {"second hand", "from memory", "library", "by hand"}


def test_every_number_has_a_tolerance_tight_enough_to_fail() -> None:
    """A check that allows more than 10 % would pass for a wrong formula."""
    for check in CHECKS:
        if isinstance(check.published, float) and check.published:
            assert max(check.relative, check.absolute / abs(check.published)) <= 0.10, check


def test_the_table_for_readers_is_up_to_date() -> None:
    assert README.read_text(encoding="utf-8") == readme_text(), "run python -m tests.trade.write_readme"


def _agrees(check: OutsideCheck) -> bool:
    ours, published = check.ours(), check.published
    if isinstance(published, bool | str):
        return ours == published
    return math.isclose(float(ours), float(published), rel_tol=check.relative, abs_tol=check.absolute)
