"""Which words are taken for one another, so that read-back knows when it must tell them apart.

Groups by sound; the letters that rhyme with "ee" and the teens against the tens are the classic cases
of radio practice (why ICAO says "niner" and has a spelling alphabet; from memory). A group measured on
the shipped model may be added here.
"""

from __future__ import annotations

LETTER_GROUPS: tuple[str, ...] = ("BCDEGPTVZ", "MN", "FSX", "AJK8H", "IY5", "QU", "O0")

CONFUSABLE_LETTERS = frozenset("".join(LETTER_GROUPS)) - frozenset("058")

#: Whole numbers taken for one another: 13/30 ... 19/90, and five/nine.
NUMBER_PAIRS: dict[int, int] = {
    **{teen: (teen - 10) * 10 for teen in range(13, 20)},
    **{(teen - 10) * 10: teen for teen in range(13, 20)},
    5: 9,
    9: 5,
}


def partners(value: int) -> tuple[int, ...]:
    """Numbers for which `value` may be taken: 115 -> 150, 50 -> 15. Only the last two digits change."""
    hundreds, last = divmod(value, 100)
    found = []
    if last in NUMBER_PAIRS:
        found.append(hundreds * 100 + NUMBER_PAIRS[last])
    if last > 20 and last % 10 in (5, 9):
        found.append(hundreds * 100 + last - last % 10 + NUMBER_PAIRS[last % 10])
    return tuple(found)


def is_teen_or_ten(value: int) -> bool:
    """Fifteen and fifty differ in one unstressed sound: such numbers are also said digit by digit."""
    last = value % 100
    return 13 <= last <= 19 or (last >= 30 and last % 10 == 0)


def like_letters(letter: str) -> str:
    """The other letters (and digits) that `letter` may have been."""
    return "".join(dict.fromkeys("".join(group for group in LETTER_GROUPS if letter in group))).replace(
        letter, ""
    )
