"""A Markdown list of steps: headings are sections, 'WARNING: ...' is the caution of the step below it."""

from __future__ import annotations

import re

from markdown_it import MarkdownIt
from markdown_it.tree import SyntaxTreeNode

from sayso.procedure.bring_in.draft import BringInError, Outline, OutlineStep
from sayso.procedure.bring_in.sheet import outline_from_rows

_CAUTION = re.compile(r"^\s*(danger|warning|caution|notice)\s*[:!.\-–—]\s*(.+)$", re.IGNORECASE | re.DOTALL)
#: '[!WARNING]' opens a quote that many Markdown readers show as a box
_BOX = re.compile(r"^\s*\[!(\w+)\]\s*")
_TICK = re.compile(r"^\[[ xX]\]\s+")
_NOTE = re.compile(r"^\s*(note|hint|why|reason)\s*[:.\-–—]\s*(.+)$", re.IGNORECASE | re.DOTALL)
_BEFORE = {
    "tools": re.compile(r"\b(tools?|equipment)\b", re.I),
    "parts": re.compile(r"\b(parts?|spares?|materials?|consumables?)\b", re.I),
    "conditions": re.compile(
        r"\b(before you start|preparation|conditions?|requirements?|prerequisites?)\b", re.I
    ),
}


def outline_from_markdown(text: str) -> Outline:
    """The outline of a Markdown (CommonMark) text; a plain text with a step a line is read too."""
    outline = Outline()
    reader = _Reader(outline)
    for node in SyntaxTreeNode(MarkdownIt("commonmark").enable("table").parse(text)).children:
        reader.block(node)
    reader.finish()
    return outline


class _Reader:
    """Walks the blocks in order; cautions wait for the step that follows them."""

    def __init__(self, outline: Outline) -> None:
        self.outline = outline
        self.section = ""
        self.into: str | None = None
        self.cautions: list[tuple[str, str]] = []

    def block(self, node: SyntaxTreeNode) -> None:
        match node.type:
            case "heading":
                self._heading(node)
            case "bullet_list" | "ordered_list":
                for item in node.children:
                    self._item(item)
            case "paragraph":
                self._paragraph([line.strip() for line in _text(node).split("\n") if line.strip()])
            case "blockquote":
                self._paragraph(_quoted(node))
            case "table":
                self._table(node)
            case _:
                self._left_out(node)

    def _table(self, node: SyntaxTreeNode) -> None:
        """A table with a step a row is read like a sheet; another one is no list of steps."""
        rows = [[_text(cell) for cell in row.children] for part in node.children for row in part.children]
        try:
            read = outline_from_rows(rows)
        except BringInError:
            for row in rows:
                text = ", ".join(cell for cell in row if cell)
                self.outline.remarks.append(f"left out, for it is no step: '{text[:80]}'")
            return
        for step in read.steps:
            step.section = step.section or self.section
            step.cautions = [*self.cautions, *step.cautions]
            self.cautions = []
        self.outline.steps += read.steps
        self.outline.remarks += read.remarks

    def finish(self) -> None:
        for level, caution in self.cautions:
            self.outline.remarks.append(
                f"the {level} '{caution}' stands after the last step: say where it belongs"
            )

    def _left_out(self, node: SyntaxTreeNode) -> None:
        text = " ".join(_text(node).split())
        if text:
            self.outline.remarks.append(f"left out, for it is no step: '{text[:80]}'")

    def _heading(self, node: SyntaxTreeNode) -> None:
        text = _text(node)
        if node.tag == "h1" and not self.outline.title:
            self.outline.title = text
            return
        self.into = next((name for name, pattern in _BEFORE.items() if pattern.search(text)), None)
        self.section = "" if self.into else text

    def _item(self, item: SyntaxTreeNode) -> None:
        nested: list[SyntaxTreeNode] = []
        written: list[str] = []
        for child in item.children:
            if child.type in ("bullet_list", "ordered_list"):
                nested.append(child)
            elif child.type == "paragraph":
                written += _text(child).split("\n")
            elif child.type == "blockquote":
                written += _quoted(child)
            else:
                self._left_out(child)
        text = "\n".join(written).strip()
        if self.into:
            getattr(self.outline, self.into).append(" ".join(text.split()))
            return
        lines: list[str] = []
        for line in text.split("\n"):  # a caution or note below the step, in the same item
            if lines and not (_CAUTION.match(line) or _NOTE.match(line)):
                lines[-1] += f" {line.strip()}"
            else:
                lines.append(line.strip())
        steps_before = len(self.outline.steps)
        for line in lines:
            caution = _CAUTION.match(line)
            if caution and len(self.outline.steps) > steps_before:
                # Written below its step, in the step's own item: it is the step's, and is told before it.
                self.outline.steps[-1].cautions.append((caution.group(1).lower(), caution.group(2)))
            elif line:
                self._line(line)
        for child in nested:
            for one in child.children:
                self._item(one)

    def _paragraph(self, lines: list[str]) -> None:
        for line in lines:
            if self.into:
                getattr(self.outline, self.into).append(line)
            elif _CAUTION.match(line) or _NOTE.match(line):
                self._line(line)
            elif re.match(r"^\d+[.)]\s+", line) or len(lines) > 2:
                self._line(re.sub(r"^\d+[.)]\s+", "", line))
            else:
                self.outline.remarks.append(f"left out, for it is no step: '{line[:80]}'")

    def _line(self, text: str) -> None:
        caution, note = _CAUTION.match(text), _NOTE.match(text)
        if caution:
            self.cautions.append((caution.group(1).lower(), caution.group(2)))
        elif note and self.outline.steps:
            step = self.outline.steps[-1]
            if note.group(1).lower() in ("why", "reason"):
                step.why = note.group(2)
            else:
                step.hint = note.group(2)
        else:
            self.outline.steps.append(OutlineStep(_TICK.sub("", text), self.section, self.cautions))
            self.cautions = []


def _quoted(node: SyntaxTreeNode) -> list[str]:
    """The lines of a quote; a caution or note that runs over several lines is one."""
    lines: list[str] = []
    for line in _BOX.sub(r"\1: ", _text(node)).split("\n"):
        goes_on = bool(lines) and bool(_CAUTION.match(lines[-1] + " .") or _NOTE.match(lines[-1] + " ."))
        if goes_on and line.strip() and not (_CAUTION.match(line) or _NOTE.match(line)):
            lines[-1] += f" {line.strip()}"
        elif line.strip():
            lines.append(line.strip())
    return lines


def _text(node: SyntaxTreeNode) -> str:
    if node.type in ("text", "code_inline", "fence", "code_block", "html_block"):
        return node.content
    if node.type in ("softbreak", "hardbreak"):
        return "\n"
    joiner = "\n" if node.type == "blockquote" else ""
    return joiner.join(_text(child) for child in node.children)
