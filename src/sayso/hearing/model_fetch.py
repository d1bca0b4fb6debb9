"""Brings a zipped vosk model onto this machine: download or local file, checksum, safe unpacking."""

from __future__ import annotations

import hashlib
import shutil
import stat
import tempfile
import urllib.error
import urllib.parse
import urllib.request
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from sayso.hearing.speech_model import ModelError, check_files

#: A small model is 40-70 MB; this stops a wrong address or a zip bomb, not a large model.
MOST_BYTES = 6_000_000_000
CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Fetched:
    """Where the model lies now, and the SHA-256 of the archive (to be kept for next time)."""

    directory: Path
    sha256: str


def models_directory() -> Path:
    """Where fetched models are kept: $XDG_DATA_HOME/sayso/models (XDG Base Directory Specification)."""
    import os

    root = os.environ.get("XDG_DATA_HOME")
    return (Path(root) if root else Path.home() / ".local" / "share") / "sayso" / "models"


def fetch_model(
    source: str,
    *,
    sha256: str | None = None,
    into: Path | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> Fetched:
    """Get `source` (https address or a local .zip), check it, unpack it into `into`.

    Nothing is unpacked when the checksum differs. Raises ModelError with one line.
    """
    into = into or models_directory()
    into.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".fetching-", dir=into) as aside:
        archive = Path(aside) / "model.zip"
        address = urllib.parse.urlparse(source)
        if address.scheme in ("http", "https"):
            _download(source, archive, progress)
        elif address.scheme and len(address.scheme) > 1:  # one letter is a Windows drive
            raise ModelError(f"{source}: only https addresses and local files are taken")
        else:
            local = Path(source).expanduser()
            if not local.is_file():
                raise ModelError(f"{source}: no such file; write the path of the model's .zip")
            shutil.copyfile(local, archive)
        digest = file_sha256(archive)
        if sha256 is not None and digest != sha256.strip().lower():
            raise ModelError(
                f"{source}: checksum is {digest}, not {sha256.strip().lower()}; do not use this file"
            )
        unpacked = Path(aside) / "model"
        unpack(archive, unpacked)
        roots = [p for p in unpacked.iterdir() if not p.name.startswith(("__MACOSX", "."))]
        root = roots[0] if len(roots) == 1 and roots[0].is_dir() else unpacked
        check_files(root)
        name = root.name if root is not unpacked else Path(address.path or source).stem
        target = into / name
        if target.exists():
            raise ModelError(f"{target}: is there already; remove it first to fetch it again")
        shutil.move(root, target)
    return Fetched(target, digest)


def file_sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _download(address: str, to: Path, progress: Callable[[int], None]) -> None:
    try:
        with urllib.request.urlopen(address, timeout=30) as answer, to.open("wb") as file:
            done = 0
            while chunk := answer.read(CHUNK):
                done += len(chunk)
                if done > MOST_BYTES:
                    raise ModelError(f"{address}: larger than {MOST_BYTES // 10**9} GB; is this a model?")
                file.write(chunk)
                progress(done)
    except (urllib.error.URLError, OSError) as error:
        reason = getattr(error, "reason", error)
        raise ModelError(
            f"{address}: could not be fetched ({reason}); fetch it elsewhere and give the file"
        ) from error


def unpack(archive: Path, into: Path) -> None:
    """Unpack a zip whose members all stay inside `into`. Raises ModelError for anything else in it."""
    try:
        with zipfile.ZipFile(archive) as bundle:
            members = bundle.infolist()
            if sum(m.file_size for m in members) > MOST_BYTES:
                raise ModelError(
                    f"{archive.name}: unpacks to more than {MOST_BYTES // 10**9} GB; not unpacked"
                )
            for member in members:
                _check_member(member)
            into.mkdir(parents=True, exist_ok=True)
            for member in members:
                bundle.extract(member, into)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise ModelError(f"not a readable zip archive ({error}); fetch it again") from error


def _check_member(member: zipfile.ZipInfo) -> None:
    name = member.filename.replace("\\", "/")
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or (path.parts and ":" in path.parts[0]):
        raise ModelError(f"the archive wants to write outside its folder ('{member.filename}'); not unpacked")
    kind = stat.S_IFMT(member.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise ModelError(f"the archive holds a link or a device ('{member.filename}'); not unpacked")
