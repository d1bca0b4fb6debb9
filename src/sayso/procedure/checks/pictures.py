"""Pictures that are not there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sayso.procedure.checks.view import View
from sayso.procedure.model import PICTURE_KINDS
from sayso.procedure.problems import Problem, write_one_of


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        picture = one.step.picture
        if picture and not (view.folder / picture).is_file():
            folder = (view.folder / picture).parent
            there = sorted(folder.iterdir()) if folder.is_dir() else []
            near = [path.name for path in there if path.suffix.lower() in PICTURE_KINDS]
            yield view.problem(
                one,
                ("picture",),
                f"there is no picture '{picture}'",
                write_one_of(picture, near) if near else "check the path; it starts from this file's folder",
                "error",
                "pictures",
            )
        elif picture and (wrong := _not_shown(view.folder, picture)):
            yield view.problem(one, ("picture",), *wrong, "error", "pictures")


def _not_shown(folder: Path, picture: str) -> tuple[str, str] | None:
    """What the page would not serve: the technician would see no picture, and nobody would know why."""
    if Path(picture).suffix.lower() not in PICTURE_KINDS:
        return f"'{picture}' is no picture that the page can show", "make it .svg, .png, .jpg, .webp or .gif"
    if not (folder / picture).resolve().is_relative_to(folder.resolve()):
        return (
            f"the picture '{picture}' lies outside the procedure's folder",
            "copy it there, or into a folder in it",
        )
    return None
