"""Pictures of steps: only image files inside the procedure's own folder are ever served."""

from __future__ import annotations

from pathlib import Path

#: SVG may hold script, but not where it is shown: neither as <img> nor under our Content-Security-Policy.
KINDS = frozenset({".png", ".jpg", ".jpeg", ".webp", ".gif", ".svg"})


def picture_file(folder: Path | None, name: str) -> Path | None:
    """The file to serve, or None. Links and '..' are resolved first, so neither leads out."""
    if folder is None or "\x00" in name:
        return None
    root = folder.resolve()
    wanted = (root / name).resolve()
    if not wanted.is_relative_to(root) or wanted.suffix.lower() not in KINDS or not wanted.is_file():
        return None
    return wanted
