"""A printable card of the procedure: one HTML file that needs nothing else."""

from __future__ import annotations

import re
from importlib.resources import files

from jinja2 import Environment, StrictUndefined

from sayso.procedure.conditions import answer_names
from sayso.procedure.conditions_in_words import condition_in_words
from sayso.procedure.graph import Edge, graph_of
from sayso.procedure.model import END, Procedure, Step
from sayso.procedure.settled import as_settled, truth
from sayso.procedure.wording import answer_in_short, listed, part_in_words, time_in_words

#: what A4 leaves between the margins of the card
SHEET_WIDTH_PT, SHEET_HEIGHT_PT = 493.0, 709.0
#: a longer drawing would be too small to be read on one sheet: it runs over several
MOST_PAGES = 1.8
_VIEW_BOX = re.compile(r'viewBox="[-\d.]+ [-\d.]+ ([\d.]+) ([\d.]+)"')


def card(procedure: Procedure, *, picture: str = "") -> str:
    """The card as HTML. `picture` is the SVG of the branches, put on a page of its own when given."""
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(files("sayso.procedure").joinpath("card.html.j2").read_text("utf-8"))
    written, procedure = procedure, as_settled(procedure)
    kept = {step.id for step in procedure.steps}
    left_out = [step.say for step in written.steps if step.id not in kept]
    graph = graph_of(procedure)
    rows = []
    numbers = {step.id: number for number, step in enumerate(procedure.steps, 1)}
    for step in procedure.steps:
        edges = [
            (
                _label(edge, procedure, step),
                "end" if edge.target == END else str(numbers[edge.target]),
            )
            for edge in graph.edges[step.id]
            if edge.kind in ("answer", "otherwise", "out of limits")
            or (edge.kind == "next" and edge.target != END and numbers[edge.target] != numbers[step.id] + 1)
        ]
        rows.append(
            {
                "step": step,
                "when": _condition(step.when, procedure, step) if step.when else "",
                "number": numbers[step.id],
                "wait": time_in_words(step.wait_s),
                "answer": answer_in_short(step),
                "ways": edges,
                "parts": [part_in_words(part) for part in step.parts],
            }
        )
    svg = picture[picture.index("<svg") :] if "<svg" in picture else ""
    return template.render(
        procedure=procedure,
        rows=rows,
        left_out=left_out,
        parts=[part_in_words(part) for part in procedure.before.parts],
        picture=svg,
        one_page=_pages_of(svg) <= MOST_PAGES,
    )


def _label(edge: Edge, procedure: Procedure, step: Step) -> str:
    if not edge.is_condition:
        return edge.label
    if truth(edge.label):
        return "unless it is skipped"
    return f"if {_condition(edge.label, procedure, step)}"


def _condition(source: str, procedure: Procedure, step: Step) -> str:
    """In words, and where on the card the answers stand that it reads."""
    read = answer_names(source) - {step.ask.name}
    asked = [str(number) for number, one in enumerate(procedure.steps, 1) if one.ask.name in read]
    words = condition_in_words(source, procedure)
    if not asked:
        return words
    return f"{words} (answered at step{'s' * (len(asked) > 1)} {listed(asked)})"


def _pages_of(svg: str) -> float:
    """How many sheets the drawing is long when it is as wide as one, and no larger than it was drawn."""
    box = _VIEW_BOX.search(svg)
    if box is None:
        return 1.0
    width, height = float(box[1]), float(box[2])
    return height * min(1.0, SHEET_WIDTH_PT / width) / SHEET_HEIGHT_PT
