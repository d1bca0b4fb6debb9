"""Texts in the language of the job: `say: {en: ..., es: ...}` becomes one plain text."""

from __future__ import annotations

from dataclasses import dataclass, field

from sayso.procedure.problems import Problem
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence


@dataclass(slots=True)
class Texts:
    """Picks texts in `language`; `own` is the language of plain texts.

    A text that is spoken in the course of the work must be there in the language of the job (a caution that
    nobody understands is none); any other falls back to the procedure's own language.
    """

    language: str
    own: str
    translations: tuple[str, ...]
    problems: list[Problem] = field(default_factory=list)

    def spoken(self, node: Node | None) -> str:
        return self._pick(node, must=True)

    def shown(self, node: Node | None) -> str:
        return self._pick(node, must=False)

    def spoken_list(self, node: Node | None) -> tuple[str, ...]:
        return self._list(node, must=True)

    def shown_list(self, node: Node | None) -> tuple[str, ...]:
        return self._list(node, must=False)

    def _list(self, node: Node | None, must: bool) -> tuple[str, ...]:
        if isinstance(node, Sequence):
            return tuple(self._pick(item, must) for item in node.items)
        return (self._pick(node, must),) if node is not None else ()

    def _pick(self, node: Node | None, must: bool) -> str:
        if node is None:
            return ""
        if isinstance(node, Scalar):
            if must and self.language != self.own:
                self.problems.append(
                    Problem(
                        node.place,
                        f"this text has no '{self.language}'",
                        f"write {{{self.own}: ..., {self.language}: ...}}",
                    )
                )
            elif must and self.translations:
                wanted = ", ".join(f"{one}: ..." for one in (self.own, *self.translations))
                self.problems.append(
                    Problem(
                        node.place,
                        "this text is not translated",
                        f"write {{{wanted}}}",
                        "warning",
                        "translations",
                    )
                )
            return one_line(node.text)
        if isinstance(node, Sequence):
            return ""
        for code in (self.own, *self.translations):
            if must and code not in node.entries:
                severity = "error" if code in (self.own, self.language) else "warning"
                self.problems.append(
                    Problem(
                        node.place,
                        f"this text has no '{code}'",
                        f"add '{code}: ...'",
                        severity,  # type: ignore[arg-type]
                        "translations",
                    )
                )
        chosen = node.text(self.language)
        if chosen is None:
            if must and self.language not in (self.own, *self.translations):
                self.problems.append(
                    Problem(node.place, f"this text has no '{self.language}'", f"add '{self.language}: ...'")
                )
            chosen = node.text(self.own) or next(
                (e.value.text for e in node.entries.values() if isinstance(e.value, Scalar)), ""
            )
        return one_line(chosen)


def one_line(text: str) -> str:
    """Folded and block texts are spoken as one line."""
    return " ".join(text.split())


def is_text(node: Node | None) -> bool:
    return isinstance(node, Scalar | Mapping)
