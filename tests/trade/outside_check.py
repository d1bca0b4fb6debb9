"""What one outside check is.

`standing` says how good the source is: "second hand" (a copy or a quotation that was read), "from memory"
(nobody looked it up again), "library" (another program worked it out), "by hand" (arithmetic to be followed).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sayso.trade import TRADE_FUNCTIONS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from sayso.trade.catalogue import PlainValue


@dataclass(frozen=True)
class OutsideCheck:
    """One value: `group` is its row in the README, `relative` and `absolute` what may be apart."""

    group: str
    function: str
    arguments: tuple[PlainValue, ...]
    published: PlainValue
    source: str
    standing: str
    relative: float = 0.0
    absolute: float = 0.0
    other_call: Callable[[], PlainValue] | None = None

    def ours(self) -> PlainValue:
        """The value that the function gives now."""
        if self.other_call is not None:
            return self.other_call()
        return TRADE_FUNCTIONS[self.function](*self.arguments)


def add_rows(
    checks: list[OutsideCheck],
    group: str,
    source: str,
    standing: str,
    function: str,
    rows: Sequence[tuple[tuple[PlainValue, ...], PlainValue]],
    relative: float = 0.0,
    absolute: float = 0.0,
) -> None:
    """Add one check for each row of arguments and published value."""
    checks.extend(
        OutsideCheck(group, function, arguments, value, source, standing, relative, absolute)
        for arguments, value in rows
    )
