"""What no output is written over: a record, a procedure. A slip after `-o` cost the whole shop's record."""

from __future__ import annotations

from pathlib import Path

#: How every SQLite database begins (SQLite's own "Database File Format", section 1.3).
_SQLITE = b"SQLite format 3\x00"


def kept(path: Path) -> str:
    """What lies at `path` that must stay: 'a record', 'a procedure', or '' when it may be written.

    A file that cannot be read is told when it is written; a pipe or a device keeps nothing.
    """
    if not path.is_file():
        return ""
    try:
        with path.open("rb") as file:
            if file.read(len(_SQLITE)) == _SQLITE:
                return "a record"
    except OSError:
        return ""
    return "a procedure" if path.suffix.lower() in (".yaml", ".yml") else ""
