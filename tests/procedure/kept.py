"""Procedures from texts in the test itself."""

from __future__ import annotations

import textwrap

from sayso.procedure.checks import Ear, check_reading
from sayso.procedure.model import Procedure
from sayso.procedure.problems import Problem
from sayso.procedure.reading import read_all_kept, read_kept

HEAD = """\
procedure: p
title: {en: P, es: P}
revision: 1
defers_to: {en: The maker's manual comes first., es: Primero el manual del fabricante.}
"""


def with_steps(steps: str, head: str = "") -> str:
    return HEAD + textwrap.dedent(head) + "steps:\n" + textwrap.indent(textwrap.dedent(steps), "  ")


def procedure(steps: str, head: str = "", language: str = "en", **shared: str) -> Procedure:
    return read_kept(_files(steps, head, shared), "p.yaml", language=language)


def problems(
    steps: str, head: str = "", language: str = "en", ear: Ear | None = None, **shared: str
) -> list[Problem]:
    return check_reading(read_all_kept(_files(steps, head, shared), "p.yaml", language=language), ear)


def problems_of_text(text: str) -> list[Problem]:
    return check_reading(read_all_kept({"p.yaml": text}, "p.yaml"))


def _files(steps: str, head: str, shared: dict[str, str]) -> dict[str, str]:
    others = {f"{name}.yaml": textwrap.dedent(text) for name, text in shared.items()}
    return {"p.yaml": with_steps(steps, head), **others}
