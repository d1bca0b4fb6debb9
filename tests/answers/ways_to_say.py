"""How people say numbers, made without sayso's own tables.

Number words come from the num2words library (general, on PyPI); the word orders are those of the
workshop: in full, with "a hundred", in pairs, in hundreds, digit by digit.
"""

from __future__ import annotations

from decimal import Decimal

from num2words import num2words

Words = tuple[str, ...]


def full(number: int) -> Words:
    return tuple(num2words(number).replace("-", " ").replace(",", "").split())


def digit_by_digit(digits: str, zero: str = "zero", nine: str = "nine") -> Words:
    named = {str(n): num2words(n) for n in range(10)} | {"0": zero, "9": nine}
    return tuple(named[digit] for digit in digits)


def whole_number(number: int) -> list[Words]:
    """Every supported way to say a whole number from 0 to 9999."""
    in_full = full(number)
    ways = [in_full, tuple(word for word in in_full if word != "and")]
    if in_full[:2] in (("one", "hundred"), ("one", "thousand")):
        ways.append(("a", *in_full[1:]))
    head, tail = divmod(number, 100)
    if head and tail >= 10:
        ways.append((*full(head), *full(tail)))  # one twenty, twelve fifty
    if head and 0 < tail < 10:
        ways.append((*full(head), "oh", *full(tail)))  # one oh five
    if head > 10 and head % 10:
        ways.append((*full(head), "hundred", *(("and", *full(tail)) if tail else ())))  # fifteen hundred
    if number >= 10:
        ways += [
            digit_by_digit(str(number)),
            digit_by_digit(str(number), zero="oh"),
            digit_by_digit(str(number), zero="nought", nine="niner"),
        ]
    return list(dict.fromkeys(ways))


def decimal_number(whole: int, decimals: str) -> list[tuple[Words, Decimal]]:
    """Ways to say whole.decimals; `decimals` is a text of one to three digits."""
    value = Decimal(f"{whole}.{decimals}")
    heads = whole_number(whole) + ([()] if whole == 0 else [])
    tails = [digit_by_digit(decimals), digit_by_digit(decimals, zero="oh", nine="niner")]
    if len(decimals) == 2 and decimals[0] != "0":
        tails.append(full(int(decimals)))  # nine point twenty five
    return [
        ((*head, point, *tail), value) for head in heads for tail in tails for point in ("point", "decimal")
    ]


def with_part(whole: int) -> list[tuple[Words, Decimal]]:
    """ "ten and a half", "two and three quarters", "five and three eighths"."""
    parts = {
        ("a", "half"): "0.5", ("one", "half"): "0.5", ("a", "quarter"): "0.25", ("one", "quarter"): "0.25",
        ("three", "quarters"): "0.75", ("an", "eighth")[1:]: "0.125", ("three", "eighths"): "0.375",
        ("seven", "eighths"): "0.875", ("three", "sixteenths"): "0.1875", ("two", "tenths"): "0.2",
    }  # fmt: skip
    found = [
        ((*head, "and", *part), whole + Decimal(value))
        for head in whole_number(whole)
        for part, value in parts.items()
        if whole
    ]
    return found + ([(part, Decimal(value)) for part, value in parts.items()] if whole == 0 else [])
