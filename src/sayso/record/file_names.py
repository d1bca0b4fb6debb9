"""Names of files that are made from a job's name, which may be longer than a file's may be."""

from __future__ import annotations

from hashlib import sha256
from typing import Final

#: Most file systems take 255 bytes (Linux NAME_MAX, NTFS, APFS: from memory); while it is written a file's
#: name has some 30 more (`report.write_whole`), and who copies it may add to it.
LONGEST: Final = 180
#: The end of a job's name tells the day, the time and whose record: people look for that.
_END: Final = 30


def file_name(name: str, ending: str) -> str:
    """`name` + `ending`, cut in its middle where it is too long. Eight digits of its hash stand in the gap,
    so that two names do not become one; the same name always gives the same file."""
    if len((name + ending).encode()) <= LONGEST:
        return name + ending
    digest = sha256(name.encode()).hexdigest()[:8]
    tail = f"~{digest}~{name.encode()[-_END:].decode(errors='ignore')}{ending}"
    return _cut(name, LONGEST - len(tail.encode())) + tail


def _cut(text: str, size: int) -> str:
    """As many letters from the beginning as fit in `size` bytes; a letter is never cut in two."""
    return text.encode()[:size].decode(errors="ignore")
