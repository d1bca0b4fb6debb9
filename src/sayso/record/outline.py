"""The outline of a procedure, kept with every job so that its report can be drawn from the record alone."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sayso.procedure.model import Procedure


def outline_of(procedure: Procedure) -> dict[str, Any]:
    """All that the report needs of a resolved procedure, as JSON values (fields as in procedure.model).

    The places in the files are left out: the outline is the same wherever the files lie.
    """
    plain = asdict(procedure)
    plain.pop("file", None)
    for step in plain["steps"]:
        step.pop("place", None)
    outline = _json(plain)
    assert isinstance(outline, dict)
    return outline


def _json(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _json(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_json(item) for item in value]
    if isinstance(value, bool | int | float) or value is None:
        return value
    return str(value)
