"""Where things lie on this machine: the demo procedures, the lock of the voice (the record: record.place)."""

from __future__ import annotations

import os
import tempfile
from hashlib import sha256
from pathlib import Path

import platformdirs

from sayso.session.errors import UserError

#: The job that `sayso demo` runs.
DEMO = "wren-48-drive-controller"


def cache_folder() -> Path:
    """The user's cache folder, made when missing; where it may not be written (a borrowed laptop, a home that
    is read only), a folder of this user's among the temporary files. Raises UserError when neither is there.
    """
    mine = f"sayso-{getattr(os, 'getuid', lambda: 0)()}"
    wanted = Path(platformdirs.user_cache_dir("sayso", appauthor=False))
    for folder in (wanted, Path(tempfile.gettempdir()) / mine):
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError:
            continue
        if os.access(folder, os.W_OK):
            return folder
    raise UserError(f"{wanted}: nothing can be kept here; set XDG_CACHE_HOME to a folder that may be written")


def voice_lock_file() -> Path:
    """One voice for each sound server of a user: two on the same loudspeaker would answer each other."""
    folder = cache_folder()
    server = os.environ.get("PULSE_SERVER", "")
    mark = f"-{sha256(server.encode()).hexdigest()[:12]}" if server else ""
    return folder / f"voice{mark}.lock"


def procedures_folder() -> Path:
    """The demo procedures that came with sayso: inside the package, else in the source tree."""
    package = Path(__file__).resolve().parents[1]
    shipped = package / "_shipped" / "procedures"
    return shipped if shipped.is_dir() else package.parents[1] / "procedures"


def find_procedure(name: str) -> Path:
    """A file by its path, or one of the shipped procedures by its name. Raises UserError with the list."""
    path = Path(name).expanduser()
    if path.is_file():
        return path
    folder = procedures_folder()
    for candidate in (folder / name, folder / f"{name}.yaml"):
        if candidate.is_file():
            return candidate
    if path.is_dir():
        raise UserError(f"{name} is a folder; give a procedure file in it")
    there = ", ".join(shipped_procedures())
    raise UserError(f"no procedure file {name}; write a path, or one of: {there or '(none is shipped)'}")


def file_or_shipped(name: str) -> Path:
    """`name` as a path; where there is no such file, the shipped procedure of that name, if it is one."""
    path = Path(name).expanduser()
    shipped = procedures_folder() / f"{name}.yaml"
    return shipped if not path.exists() and "/" not in name and shipped.is_file() else path


def demo_procedure() -> Path:
    """The demo job's file. Raises UserError when no procedure came with sayso."""
    names = shipped_procedures()
    if not names:
        raise UserError("no demo procedure came with this installation; give a file to: sayso run PROCEDURE")
    return find_procedure(DEMO if DEMO in names else names[0])


def shipped_procedures() -> list[str]:
    """Names of the shipped procedures (shared step files left out)."""
    folder = procedures_folder()
    if not folder.is_dir():
        return []
    return sorted(f.stem for f in folder.glob("*.yaml") if not _is_shared(f))


def _is_shared(file: Path) -> bool:
    with file.open(encoding="utf-8", errors="replace") as lines:
        return any(line.startswith("shared:") for line in lines)
