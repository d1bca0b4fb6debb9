"""Writes tests/trade/README.md, the table of outside checks: python -m tests.trade.write_readme"""

from __future__ import annotations

import itertools
from pathlib import Path

from tests.trade.outside_check import OutsideCheck
from tests.trade.outside_checks import CHECKS

README = Path(__file__).with_name("README.md")

_HEAD = """# Outside checks of the trade functions

Written by `python -m tests.trade.write_readme` from `outside_checks.py`; a test fails when it is out of
date.

*second hand*: a copy or a quotation of the source was read, not the source. *from memory*: nobody looked it
up again. *library*: another program worked the value out. *by hand*: arithmetic that can be followed.

Sources that were found to be wrong or to disagree:

- One speed calculator (15201.com) multiplies by the gear ratio where it must divide.
- superglobalcalculator.com writes 31.6 in for a 265/70R17 tyre and adds up to 31.57 in further down; it is
  31.61 in.
- voltdropcalc.com calls all rows of NEC Table 8 stranded; 14 to 8 AWG are the solid rows (they fit solid
  copper within 0.4 %, the others have the 2 % that stranding adds).
- An older edition of VDI 2230 (in a plant maker's manual) gives about 9 % less torque than the 2001 edition.
- A battery page gives about 45 min for a taper of 1 A·h from 2.5 A to 0.25 A; an exponential taper needs
  61 min.
- Of the programs with the NIOSH frequency table that were read two differ from the others; those that agree
  were followed.
- Two LiFePO4 rest-voltage tables do not quite agree and the curve is flat, so sayso
  gives a band and no value.

"""


def readme_text() -> str:
    rows = ["| function | what | source | standing | published | ours |", "|---|---|---|---|---|---|"]
    ordered = sorted(CHECKS, key=lambda check: (_order(check), check.group, check.function))
    for _, group in itertools.groupby(ordered, key=lambda check: (check.group, check.function, check.source)):
        rows.append(_row(list(group)))
    count = f"{len(CHECKS)} values for {len({check.function for check in CHECKS})} functions.\n\n"
    return _HEAD + count + "\n".join(rows) + "\n"


def _order(check: OutsideCheck) -> int:
    """Groups stay in the order in which the checks are written."""
    return next(index for index, other in enumerate(CHECKS) if other.group == check.group)


def _row(group: list[OutsideCheck]) -> str:
    first = group[0]
    if len(group) == 1:
        published, ours = _shown(first.published), _shown(first.ours())
    else:
        published = f"{len(group)} values"
        apart = [_apart(check) for check in group if _is_number(check.published)]
        ours = f"at most {max(apart):.2g} % apart" if apart else "all equal"
        if apart and max(apart) < 1e-4:
            ours = "equal"
    cells = (f"`{first.function}`", first.group, first.source, first.standing, published, ours)
    return "| " + " | ".join(cells) + " |"


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _apart(check: OutsideCheck) -> float:
    """Difference in percent of the published value (of one when that is nothing)."""
    published, ours = float(check.published), float(check.ours())
    return 100.0 * abs(ours - published) / (abs(published) or 1.0)


def _shown(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    README.write_text(readme_text(), encoding="utf-8")
