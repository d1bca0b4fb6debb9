"""The name of a part where there are several: '4 brake pads', '5 terminal screws with washer'. English."""

from __future__ import annotations

import re

#: What follows one of these tells the part apart and is no head of its name: 'screw with washer'.
_TELLS_APART = re.compile(r"\s+(?:with|without|of|for|in|at|from|to|on)\s|\s*[,(]", re.IGNORECASE)
#: A designation behind the name, 'screw M 8', '30 A fuse B12': letters and digits in capitals.
_NAME = re.compile(r"[a-z]{2,}(?=$|[^a-z])")


def several(name: str) -> str:
    """The head of the name in the plural; a name whose head is plural, or is none, stays as it is."""
    found = _TELLS_APART.search(name)
    head, rest = (name[: found.start()], name[found.start() :]) if found else (name, "")
    words = list(_NAME.finditer(head))
    if not words:
        return name
    last = words[-1]
    return head[: last.start()] + _plural(last.group()) + head[last.end() :] + rest


def _plural(word: str) -> str:
    if re.search(r"(ss|x|z|ch|sh)$", word):
        return f"{word}es"
    if word.endswith("s"):
        return word
    if re.search(r"[^aeiou]y$", word):
        return f"{word[:-1]}ies"
    if re.search(r"(lf|[^f]fe)$", word):
        return f"{re.sub(r'fe?$', '', word)}ves"
    return f"{word}s"
