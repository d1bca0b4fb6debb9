"""What a second person's code may be, in a procedure and at the start of a job."""

from __future__ import annotations


def wrong_with_code(code: str, name: str) -> tuple[str, str] | None:
    """What is wrong and what to write; None for a code that can be said and is somebody's."""
    if not (code.isascii() and code.isdigit()):
        return f"the code '{code}' cannot be said digit by digit", "write digits only, as '2746'"
    if not name.strip():
        return f"the code '{code}' is nobody's", "write the person's name beside it"
    return None
