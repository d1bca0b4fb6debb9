"""Lists of steps from elsewhere as a first draft of a procedure: Markdown, sheets, S1000D data modules.
A draft is text for a lead hand to finish; nothing here decides what is safe."""

from __future__ import annotations

from pathlib import Path

from sayso.procedure.bring_in.draft import BringInError, Draft, Outline, written

__all__ = ["BringInError", "Draft", "Outline", "bring_in_file"]


def bring_in_file(path: str | Path, written_to: Path | None = None) -> Draft:
    """The draft of the list in `path`, by its ending: .md, .txt, .csv, .xlsx, .xml. `written_to`: where the
    draft will lie, so that what is missing names that file.

    Raises BringInError when it cannot be read or holds no steps.
    """
    path = Path(path)
    outline = _outline(path)
    if not outline.steps:
        raise BringInError(f"{path}: no steps were found; write them as a numbered list or one a row")
    return written(outline, path.stem, str(written_to) if written_to else "")


def _outline(path: Path) -> Outline:
    ending = path.suffix.lower()
    try:
        match ending:
            case ".md" | ".markdown" | ".txt":
                from sayso.procedure.bring_in.markdown import outline_from_markdown

                return outline_from_markdown(path.read_text("utf-8-sig"))
            case ".csv" | ".tsv":
                from sayso.procedure.bring_in.sheet import outline_from_csv

                return outline_from_csv(path.read_text("utf-8-sig"))
            case ".xlsx":
                from sayso.procedure.bring_in.sheet import outline_from_workbook

                return outline_from_workbook(path)
            case ".xml":
                from sayso.procedure.bring_in.s1000d import outline_from_data_module

                return outline_from_data_module(path.read_bytes())
    except OSError as error:
        raise BringInError(f"{path}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise BringInError(f"{path}: is not UTF-8 text; save it as UTF-8") from error
    raise BringInError(
        f"{path}: '{ending}' cannot be brought in; give .md, .txt, .csv, .xlsx or .xml (S1000D)"
    )
