"""The way a job took, drawn over the branches of its procedure, as one inline SVG.

Every step is a row in reading order on one vertical line; a jump is an arc on its left. What was taken
is drawn strong, the other branches faint; runs of steps that were not come to are folded into one row.
The drawing needs no program beside this one, so that every report has it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup, escape

from sayso.record.story import Story, Visit
from sayso.record.wording import value_text

_ROW = 19
_SPINE = 118.0
_WIDTH = 720
#: How wide a sign is, on average and rather more, in the widest of the fonts (DejaVu Sans 12 and its bold).
_STEP_SIGN, _ANSWER_SIGN, _BETWEEN = 6.7, 7.6, 12
_FOLD = 4  #: so many unvisited steps in a row are folded into one line


@dataclass(slots=True)
class _Row:
    text: str
    step: str = ""
    visits: list[Visit] = field(default_factory=list)
    section: bool = False
    wrong: bool = False
    answer: str = ""
    folded: tuple[str, ...] = ()


def path_picture(story: Story, outline: Mapping[str, Any]) -> Markup:
    """The drawing; empty for an outline without steps."""
    steps: Sequence[Mapping[str, Any]] = outline.get("steps", [])
    if not steps:
        return Markup("")
    rows = _rows(story, steps)
    place = {row.step: number for number, row in enumerate(rows) if row.step}
    place |= {name: number for number, row in enumerate(rows) for name in row.folded}
    taken = [(a.step, b.step) for a, b in zip(story.visits, story.visits[1:], strict=False)]
    height = len(rows) * _ROW + 14
    parts = [
        _other_branches(steps, place, set(taken)),
        _spine(rows, place, taken),
        _jumps(place, taken, rows),
        "".join(_row(row, number) for number, row in enumerate(rows)),
    ]
    count = len({visit.step for visit in story.visits})
    label = f"The way taken: {count} of {len(steps)} steps. The table of steps below says the same in words."
    return Markup(
        f'<svg class="path" viewBox="0 0 {_WIDTH} {height}" role="img" aria-label="{escape(label)}">'
        '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="3.6" markerHeight="3.6" '
        'orient="auto"><path class="p-tip" d="M0 0L8 4L0 8z"/></marker></defs>'
        f"{''.join(parts)}</svg>"
    )


def _rows(story: Story, steps: Sequence[Mapping[str, Any]]) -> list[_Row]:
    visits: dict[str, list[Visit]] = {}
    for visit in story.visits:
        visits.setdefault(visit.step, []).append(visit)
    wrong = {deviation.step for deviation in story.open_deviations}
    rows: list[_Row] = []
    section = ""
    waiting: list[Mapping[str, Any]] = []

    def flush() -> None:
        if len(waiting) < _FOLD:
            rows.extend(_Row(str(step["say"]), str(step["id"])) for step in waiting)
        else:
            names = tuple(str(step["id"]) for step in waiting)
            rows.append(_Row(f"{len(waiting)} steps of other branches", folded=names))
        waiting.clear()

    for step in steps:
        name = str(step["id"])
        if str(step.get("section", "")) != section and name in visits:
            flush()
            section = str(step.get("section", ""))
            rows.append(_Row(section, section=True))
        if name not in visits:
            waiting.append(step)
            continue
        flush()
        row = _Row(str(step["say"]), name, visits[name], wrong=name in wrong)
        last = visits[name][-1]
        if last.answer is not None:
            row.answer = value_text(last.answer)
        elif last.skipped:
            row.answer = f"skipped: {last.skipped}"
        rows.append(row)
    flush()
    return rows


def _y(number: int) -> float:
    return number * _ROW + 12.0


def _spine(rows: list[_Row], place: Mapping[str, int], taken: list[tuple[str, str]]) -> str:
    """Faint from the first row to the last, strong between rows that were done one after the other."""
    parts = [f'<line class="p-line" x1="{_SPINE}" x2="{_SPINE}" y1="{_y(0)}" y2="{_y(len(rows) - 1)}"/>']
    for source, target in taken:
        a, b = place.get(source), place.get(target)
        if a is not None and b is not None and _adjacent(rows, a, b):
            parts.append(f'<line class="p-taken" x1="{_SPINE}" x2="{_SPINE}" y1="{_y(a)}" y2="{_y(b)}"/>')
    return "".join(parts)


def _adjacent(rows: list[_Row], a: int, b: int) -> bool:
    return a < b and all(row.section for row in rows[a + 1 : b])


def _jumps(place: Mapping[str, int], taken: list[tuple[str, str]], rows: list[_Row]) -> str:
    parts = []
    for source, target in dict.fromkeys(taken):
        a, b = place.get(source), place.get(target)
        if a is not None and b is not None and a != b and not _adjacent(rows, a, b):
            parts.append(f'<path class="p-taken" marker-end="url(#tip)" d="{_arc(a, b, 6.5)}"/>')
    return "".join(parts)


def _other_branches(
    steps: Sequence[Mapping[str, Any]], place: Mapping[str, int], taken: set[tuple[str, str]]
) -> str:
    parts: dict[tuple[int, int], str] = {}
    for step in steps:
        source = str(step["id"])
        for label, target in _branches(step):
            a, b = place.get(source), place.get(target)
            if a is None or b is None or a == b or (source, target) in taken or abs(a - b) == 1:
                continue
            words = escape(f"{source}: {label} leads to {target}")
            parts.setdefault(
                (a, b), f'<path class="p-other" d="{_arc(a, b, 4.0)}"><title>{words}</title></path>'
            )
    return "".join(parts.values())


def _branches(step: Mapping[str, Any]) -> list[tuple[str, str]]:
    then: Mapping[str, Any] = step.get("then") or {}
    ways = [(str(case["when"]), str(case["target"])) for case in then.get("cases", ())]
    if then.get("otherwise"):
        ways.append(("otherwise", str(then["otherwise"])))
    if step.get("out_of_limits"):
        ways.append(("outside its limits", str(step["out_of_limits"])))
    return ways


def _arc(a: int, b: int, gap: float) -> str:
    """From the left of dot `a` to the left of dot `b`; the further, the wider, up to the edge."""
    reach = min(_SPINE - 12, 16 + 9.5 * abs(b - a) ** 0.75)
    x = _SPINE - gap
    return f"M{x} {_y(a)}C{x - reach:.1f} {_y(a)} {x - reach:.1f} {_y(b)} {x} {_y(b)}"


def _row(row: _Row, number: int) -> str:
    y = _y(number)
    text = _SPINE + 18
    if row.section:
        return f'<text class="p-section" x="{text}" y="{y + 4}">{escape(row.text)}</text>'
    if not row.visits:
        shown = escape(_short(row.text, 88))
        return (
            f'<circle class="p-not" cx="{_SPINE}" cy="{y}" r="2.5"/>'
            f'<text class="p-not" x="{text}" y="{y + 4}">{shown}</text>'
        )
    answer = _short(row.answer, 30)
    if len(row.visits) > 1:
        answer = f"{answer} (came here {len(row.visits)} times)"
    mark = (
        f'<path class="p-wrong" d="M{_SPINE} {y - 8}l8.5 14.5h-17z"/>'
        if row.wrong
        else f'<circle class="p-done" cx="{_SPINE}" cy="{y}" r="5"/>'
    )
    room = _WIDTH - 4 - text - _BETWEEN - len(answer) * _ANSWER_SIGN
    shown = escape(_short(row.text, int(room / _STEP_SIGN)))
    answer_class = "p-answer p-bad" if row.wrong else "p-answer"
    return (
        f'{mark}<text class="p-step" x="{text}" y="{y + 4}">{shown}</text>'
        f'<text class="{answer_class}" x="{_WIDTH - 4}" y="{y + 4}" text-anchor="end">{escape(answer)}</text>'
    )


def _short(text: str, length: int) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
