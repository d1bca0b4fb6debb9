"""What a procedure is: its types, reading YAML with line-exact errors, checks, drawing, rehearsal aids.
Nothing here speaks, listens or records."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sayso.procedure.checks import check
    from sayso.procedure.problems import Problem, ProcedureError
    from sayso.procedure.reading import read, read_all, read_kept

__all__ = ["Problem", "ProcedureError", "check", "read", "read_all", "read_kept"]

_WHERE = {
    "Problem": "problems",
    "ProcedureError": "problems",
    "check": "checks",
    "read": "reading",
    "read_all": "reading",
    "read_kept": "reading",
}


def __getattr__(name: str) -> Any:
    """Loads a part when it is first asked for: whoever needs only the types waits for no YAML or CEL."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
