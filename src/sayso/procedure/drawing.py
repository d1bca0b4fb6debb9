"""The branches as a picture: DOT for Graphviz, SVG through its `dot` program, and plain text.

Shapes follow ISO 5807 (from memory): a box is a process, a diamond a decision, a rounded box an end.
"""

from __future__ import annotations

import shutil
import subprocess
import textwrap

from sayso.procedure.conditions_in_words import condition_in_words
from sayso.procedure.graph import Edge, graph_of
from sayso.procedure.model import END, CautionLevel, Procedure, Step
from sayso.procedure.settled import truth
from sayso.procedure.wording import question_in_short


class DrawingError(RuntimeError):
    """The picture cannot be made; the text says what to install."""


_COLOURS = {  # signal colours of ANSI Z535.1 by name (from memory): red, orange, yellow, blue
    CautionLevel.DANGER: "#c8102e",
    CautionLevel.WARNING: "#ff8200",
    CautionLevel.CAUTION: "#f6be00",
    CautionLevel.NOTICE: "#0057b8",
}


def dot(procedure: Procedure) -> str:
    """The branches as Graphviz DOT. Sections become frames; a caution colours the edge of its step."""
    graph = graph_of(procedure)
    lines = [
        "digraph procedure {",
        f"  label={_quoted(f'{procedure.title}, revision {procedure.revision}')}; labelloc=t;",
        '  fontname="sans-serif"; node [fontname="sans-serif", fontsize=11, shape=box, margin="0.12,0.06"];',
        '  edge [fontname="sans-serif", fontsize=10];',
    ]
    section = ""
    frames = 0
    for step in procedure.steps:
        if step.section != section:
            if section:
                lines.append("  }")
            section = step.section
            if section:
                frames += 1
                lines.append(f'  subgraph cluster_{frames} {{ label={_quoted(section)}; color="#999999";')
        lines.append(f"    {_quoted(step.id)} [{_look(step, graph.edges[step.id])}];")
    if section:
        lines.append("  }")
    for step in procedure.steps:
        if step.ends:
            lines.append(f"  {_quoted('end:' + step.id)} [label={_quoted(step.ends)}, style=rounded];")
    completes = False
    for edges in graph.edges.values():
        for edge in filter(lambda edge: _can_be(edge, procedure), edges):
            target = edge.target
            if (
                target == END
                and procedure.step(edge.source).ends
                and edge.label == procedure.step(edge.source).ends
            ):
                target, label = "end:" + edge.source, ""
            else:
                label = _label(edge, procedure)
            completes = completes or target == END
            style = {"passed over": ", style=dotted", "out of limits": ", style=dashed"}.get(edge.kind, "")
            shown = f"label={_quoted(textwrap.shorten(label, 60))}" if label else 'label=""'
            lines.append(f"  {_quoted(edge.source)} -> {_quoted(target)} [{shown}{style}];")
    if completes:
        lines.append(f'  {_quoted(END)} [label="end", style=rounded];')
    lines.append("}")
    return "\n".join(lines) + "\n"


#: Ending of a file -> what Graphviz calls the form.
FORMS = {".svg": "svg", ".png": "png", ".pdf": "pdf"}


def svg(procedure: Procedure) -> str:
    """The branches as SVG. Raises DrawingError when Graphviz is not installed or fails."""
    return picture(procedure, "svg").decode("utf-8")


#: A browser prints an SVG file as large as it was drawn, over as many sheets as that takes. Not for an SVG
#: within a page, where it would be a style of the page.
_ON_ONE_SHEET = "<style>@media print { svg { width: 100%; height: 100vh; } @page { margin: 10mm; } }</style>"


def printable_svg(procedure: Procedure) -> str:
    """As `svg`, for a file of its own: printed from a browser it fills one sheet."""
    begins, root, rest = svg(procedure).partition("<svg")
    attributes, end, inside = rest.partition(">")
    return f"{begins}{root}{attributes}{end}{_ON_ONE_SHEET}{inside}"


def picture(procedure: Procedure, form: str) -> bytes:
    """The branches in one of FORMS. Raises DrawingError when Graphviz is not installed or fails."""
    program = shutil.which("dot")
    if program is None:
        raise DrawingError(
            "Graphviz is not installed: install the package 'graphviz' (apt install graphviz; "
            "brew install graphviz; winget install graphviz), or draw as text"
        )
    run = subprocess.run(
        [program, f"-T{form}"], input=dot(procedure).encode(), capture_output=True, timeout=120
    )
    if run.returncode != 0:
        raise DrawingError(f"Graphviz failed: {run.stderr.decode(errors='replace').strip()[:300]}")
    return run.stdout


def text(procedure: Procedure) -> str:
    """The branches as plain text, one step a line, its ways below it."""
    graph = graph_of(procedure)
    lines = [f"{procedure.title}, revision {procedure.revision}"]
    section = ""
    for number, step in enumerate(procedure.steps):
        if step.section and step.section != section:
            section = step.section
            lines += ["", section]
        following = procedure.steps[number + 1].id if number + 1 < len(procedure.steps) else END
        marks = "".join(f" [{caution.level.upper()}]" for caution in step.cautions)
        lines.append(f"  {step.id}:{marks} {step.say}{question_in_short(step)}")
        edges = [edge for edge in graph.edges[step.id] if _can_be(edge, procedure)]
        plain = not step.ends and len(edges) == 1 and edges[0].target == following and edges[0].kind == "next"
        for edge in () if plain else edges:
            label = _label(edge, procedure)
            if edge.kind == "passed over":
                lines.append(f"      passed over {label}")
            elif edge.kind == "next" and step.ends:
                lines.append(f"      ends: {step.ends}")
            else:
                lines.append(f"      {f'{label} ' if label else ''}-> {edge.target}")
    return "\n".join(lines) + "\n"


def _can_be(edge: Edge, procedure: Procedure) -> bool:
    """Not the way around a step whose condition its parameters have met."""
    return edge.kind != "passed over" or truth(procedure.step(edge.source).when) is not True


def _label(edge: Edge, procedure: Procedure) -> str:
    """What stands at the arrow; a drawing is for the bench too, so conditions are in words."""
    if edge.kind == "passed over":
        if truth(procedure.step(edge.source).when) is False:
            return "always: its parameters rule it out"
        return f"unless {condition_in_words(procedure.step(edge.source).when or '', procedure)}"
    if edge.is_condition:
        return f"if {condition_in_words(edge.label, procedure)}"
    return edge.label


def _look(step: Step, edges: tuple[Edge, ...]) -> str:
    decides = len({edge.target for edge in edges if edge.kind != "passed over"}) > 1
    said = "\n".join(textwrap.wrap(step.say, 34))
    parts = [f"label={_quoted(f'{step.id}' + chr(10) + said)}"]
    if decides:
        parts.append('shape=diamond, margin="0.08,0.06"')
    if step.cautions:
        worst = min(step.cautions, key=lambda caution: list(CautionLevel).index(caution.level))
        parts.append(f'color="{_COLOURS[worst.level]}", penwidth=3')
    return ", ".join(parts)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
