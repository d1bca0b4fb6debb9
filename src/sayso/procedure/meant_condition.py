"""A condition written as another language has it ("and", "=", "not"): what it is in CEL, if anything."""

from __future__ import annotations

import re

from sayso.procedure.conditions import ConditionError, check_syntax

_QUOTED = re.compile(r"""("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')""")
#: As Python, SQL, a spreadsheet and plain words have it; CEL's own signs are those of C.
_OTHERS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), cel)
    for pattern, cel in (
        (r"=>", ">="),
        (r"=<", "<="),
        (r"<>", "!="),
        (r"(?<![=!<>])=(?!=)", "=="),
        (r"\s+\bis\s+not\b\s+", " != "),
        (r"\s+\bis\b\s+", " == "),
        (r"\band\b", "&&"),
        (r"\bor\b", "||"),
        # CEL's "!" binds tighter: "not answers.pins == 8" would deny the pins
        (r"\bnot\s+(answers\.\w+)(?=\s*(?:$|\)|&&|\|\|))", r"!\1"),
        (r"\bin\s+(\d+(?:\s*,\s*\d+)+)", r"in [\1]"),
        (r"(?<![\w.,\[(])(\d+),(\d+)(?![\w.,])", r"\1.\2"),
        (r"(?<!\.)\b(?:true|yes)\b", "true"),
        (r"(?<!\.)\b(?:false|no)\b", "false"),
        # 0.3mm: what the number is in stands at the question
        (r"(?<![\w.])(\d+(?:\.\d+)?)\s*(?:mm|cm|km/h|m|V|mV|A|N\.?m|kg|ohm|%|°C|bar|rpm)(?![\w.(])", r"\1"),
    )
)


def meant(source: str) -> str:
    """`source` in CEL; '' when that is no condition either, or `source` is CEL already."""
    parts = _QUOTED.split(source)
    for place in range(0, len(parts), 2):
        for pattern, cel in _OTHERS:
            parts[place] = pattern.sub(cel, parts[place])
    written = " ".join("".join(parts).split()) if len(parts) == 1 else "".join(parts)
    if written == source:
        return ""
    try:
        check_syntax(written)
    except ConditionError:
        return ""
    return written
