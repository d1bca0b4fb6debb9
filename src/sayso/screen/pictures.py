"""Pictures of steps: only image files inside the procedure's own folder are ever served."""

from __future__ import annotations

from pathlib import Path

from sayso.procedure.model import PICTURE_KINDS


def picture_file(folder: Path | None, name: str) -> Path | None:
    """The file to serve, or None. Links and '..' are resolved first, so neither leads out."""
    if folder is None or "\x00" in name:
        return None
    root = folder.resolve()
    wanted = (root / name).resolve()
    if not wanted.is_relative_to(root) or wanted.suffix.lower() not in PICTURE_KINDS or not wanted.is_file():
        return None
    return wanted
