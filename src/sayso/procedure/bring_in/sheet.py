"""A sheet with a step a row: CSV, or XLSX with the optional package openpyxl."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sayso.extras import how_to_add
from sayso.procedure.bring_in.draft import BringInError, Outline, OutlineStep

#: What a column may be called -> what it holds.
_COLUMNS = {
    "step": ("step", "action", "say", "instruction", "task", "description", "do", "text", "what"),
    "section": ("section", "group", "chapter", "area"),
    "danger": ("danger",),
    "warning": ("warning",),
    "caution": ("caution",),
    "notice": ("notice",),
    "why": ("why", "reason"),
    "hint": ("hint", "note", "remark", "remarks", "comment"),
    "target": ("torque", "target"),
    "within": ("tolerance", "within"),
    "unit": ("unit",),
    "low": ("min", "minimum", "from", "lower limit", "low"),
    "high": ("max", "maximum", "to", "upper limit", "high"),
    "number": ("no", "no.", "nr", "number", "#", "id", "pos"),
}


def outline_from_csv(text: str) -> Outline:
    """Raises BringInError when no column holds the steps."""
    try:
        dialect: type[csv.Dialect] | csv.Dialect = csv.Sniffer().sniff(text[:4000], delimiters=",;\t|")
    except csv.Error:
        dialect = csv.excel
    try:
        rows = list(csv.reader(io.StringIO(text), dialect))
    except csv.Error as error:
        raise BringInError(f"the CSV cannot be read ({error}); save it again as CSV") from error
    return _outline(rows, decimal_comma=dialect.delimiter == ";")


def outline_from_rows(rows: Sequence[Sequence[str]]) -> Outline:
    """A table that was read already, its head first. Raises BringInError when no column holds the steps."""
    return _outline(rows)


def outline_from_workbook(path: Path) -> Outline:
    """The first sheet. Raises BringInError without openpyxl or when the file is no workbook."""
    try:
        import openpyxl
    except ImportError as error:
        raise BringInError(
            f"to read XLSX save the sheet as CSV, or add openpyxl: {how_to_add('openpyxl')}"
        ) from error
    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = [[_shown(cell) for cell in row] for row in sheet.iter_rows()]
        title = sheet.title
        book.close()
    except Exception as error:  # openpyxl raises many kinds for files that are no workbooks
        raise BringInError(f"{path}: is no XLSX workbook ({type(error).__name__}); save it again") from error
    outline = _outline(rows)
    if not outline.title and not title.lower().startswith("sheet"):
        outline.title = title
    return outline


def _shown(cell: Any) -> str:
    """A cell as the sheet shows it: 0.1 formatted as a percentage is 10 %."""
    if cell.value is None:
        return ""
    if isinstance(cell.value, int | float) and "%" in str(cell.number_format):
        return f"{round(cell.value * 100, 9):g} %"
    return str(cell.value)


def _outline(rows: Sequence[Sequence[str]], *, decimal_comma: bool = False) -> Outline:
    outline = Outline()
    where, start = _header([list(row) for row in rows])
    units = _units_of_columns(rows[start - 1] if start else (), where)
    outline.remarks += _columns_left_out(rows, where, start)
    with_comma: list[str] = []
    thousands: list[str] = []
    section = ""
    for row in rows[start:]:
        cells = {name: (row[index].strip() if index < len(row) else "") for name, index in where.items()}
        text = cells.get("step", "")
        section = cells.get("section", "") or section
        if not text:
            if any(cells.values()):
                outline.remarks.append(
                    f"left out, for its step is empty: '{', '.join(c for c in row if c)[:80]}'"
                )
            continue
        step = OutlineStep(_NUMBERED.sub("", text) or text, section if "section" in where else "")
        step.cautions = [
            (level, cells[level]) for level in ("danger", "warning", "caution", "notice") if cells.get(level)
        ]
        for name in ("why", "hint", "target", "within", "unit", "low", "high"):
            setattr(step, name, cells.get(name, ""))
        if decimal_comma:
            for name in ("target", "within", "low", "high"):
                written = getattr(step, name)
                if _DECIMAL_COMMA.search(written):
                    setattr(step, name, _DECIMAL_COMMA.sub(r"\1.\2", written))
                    with_comma.append(written)
                elif _THOUSANDS.match(written):
                    thousands.append(written)
        if step.target:
            unit = step.unit or units.get("target", "")
            if unit and not step.target.rstrip().endswith(unit):
                step.target = f"{step.target} {unit}"
        elif not step.unit and (step.low or step.high):
            step.unit = units.get("low", "") or units.get("high", "")
        outline.steps.append(step)
    if with_comma:
        more = "; ..." if len(with_comma) > 5 else ""
        outline.remarks.append(
            f"read with a decimal comma, see that it is one: {'; '.join(with_comma[:5])}{more}"
        )
        outline.remarks += [
            f"'{written}' is read as a fraction and may be thousands: write it without a point"
            for written in thousands
        ]
    return outline


#: '1. Chock the wheels.', '2.3) ...': a number is counted anew in a procedure, and must not be spoken
_NUMBERED = re.compile(r"^\d+(?:\.\d+)*[.)]\s+")
#: '48,5', '> 48,5', '22,5 ± 2,5 Nm' in a sheet whose cells are parted by ';'
_DECIMAL_COMMA = re.compile(r"(?<![\d,.])(\d+),(\d+)(?![\d,])")
#: '1.200' beside numbers with a decimal comma
_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}(?:\.\d{3})+(?![\d,.])")
_UNIT_IN_HEAD = re.compile(r"\s*[(\[]\s*([^)\]]+?)\s*[)\]]\s*$")


def _units_of_columns(head: Sequence[str], where: Mapping[str, int]) -> dict[str, str]:
    """The unit that stands in a column's head: 'Torque (Nm)'."""
    found = {}
    for kind in ("target", "low", "high"):
        if kind in where and where[kind] < len(head) and (unit := _UNIT_IN_HEAD.search(head[where[kind]])):
            found[kind] = unit.group(1)
    return found


def _columns_left_out(rows: Sequence[Sequence[str]], where: Mapping[str, int], start: int) -> list[str]:
    """A column that nobody here knows may hold a torque or a warning: it is not dropped without a word."""
    if not start:
        return []
    known = ", ".join(names[0] for kind, names in _COLUMNS.items() if kind != "number")
    return [
        f"left out, the column '{name.strip()}': no such column is known; name it one of: {known}"
        for index, name in enumerate(rows[start - 1])
        if name.strip()
        and index not in where.values()
        and any(index < len(row) and row[index].strip() for row in rows[start:])
    ]


def _header(rows: list[list[str]]) -> tuple[dict[str, int], int]:
    """Which column holds what, and the row where the steps begin."""
    for number, row in enumerate(rows[:10]):
        names = [_UNIT_IN_HEAD.sub("", cell).strip().lower() for cell in row]
        where = {
            kind: next(index for index, name in enumerate(names) if name in known)
            for kind, known in _COLUMNS.items()
            if any(name in known for name in names)
        }
        numbering = where.get("step")
        if numbering is not None and _only_numbers(rows[number + 1 :], numbering):
            # 'step' heads a column of numbers: the words stand in another one.
            words = [i for i, name in enumerate(names) if name in _COLUMNS["step"][1:] and i != numbering]
            where = {kind: index for kind, index in where.items() if kind != "step"}
            where |= {"number": numbering} | ({"step": words[0]} if words else {})
        if "step" in where and (len(where) > 1 or len(_filled(names)) == 1):
            return where, number + 1
    single = [row for row in rows if _filled(row)]
    if single and all(len(_filled(row)) == 1 for row in single):
        return {"step": next(i for i, cell in enumerate(single[0]) if cell.strip())}, 0
    raise BringInError("no column holds the steps: name one 'step' in the first row")


def _only_numbers(rows: Sequence[Sequence[str]], column: int) -> bool:
    cells = [row[column].strip() for row in rows if column < len(row) and row[column].strip()]
    return bool(cells) and all(cell.rstrip(".)").replace(".", "").isdigit() for cell in cells)


def _filled(cells: Iterable[str]) -> list[str]:
    return [cell for cell in cells if cell.strip()]
