"""Events to and from JSON, for the journal: a dict with 'type' and the event's own fields."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

from sayso.dialogue import events
from sayso.dialogue.events import Event

_TYPES: dict[str, type[Any]] = {kind.__name__: kind for kind in typing.get_args(Event)}


class EventError(ValueError):
    """A journal entry that is no event: says which field is wrong and what was found."""


def event_to_json(event: Event) -> dict[str, Any]:
    return {"type": type(event).__name__, **_plain(asdict(event))}


def event_from_json(data: Mapping[str, Any]) -> Event:
    """Raises EventError for an unknown type, an unknown or missing field, or a value of the wrong kind."""
    name = data.get("type")
    kind = _TYPES.get(name) if isinstance(name, str) else None
    if kind is None:
        raise EventError(f"type {name!r} is no event; known are {', '.join(sorted(_TYPES))}")
    hints = _hints(kind)
    unknown = set(data) - set(hints) - {"type"}
    if unknown:
        raise EventError(f"{name} has no field {sorted(unknown)[0]!r}; it has {', '.join(sorted(hints))}")
    values = {key: _built(f"{name}.{key}", hints[key], value) for key, value in data.items() if key != "type"}
    try:
        event: Event = kind(**values)
    except TypeError as error:
        needed = [f.name for f in fields(kind) if f.name not in values]
        raise EventError(f"{name} needs {', '.join(needed)}") from error
    return event


def _hints(kind: type[Any]) -> dict[str, Any]:
    return typing.get_type_hints(kind, vars(events))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _built(where: str, hint: Any, value: Any) -> Any:
    origin = typing.get_origin(hint)
    if origin is tuple:
        if not isinstance(value, list | tuple):
            raise EventError(f"{where} must be a list, not {value!r}")
        args = typing.get_args(hint)
        if len(args) == 2 and args[1] is Ellipsis:
            return tuple(_built(where, args[0], item) for item in value)
        if len(args) != len(value):
            raise EventError(f"{where} must have {len(args)} items, not {len(value)}")
        return tuple(_built(where, arg, item) for arg, item in zip(args, value, strict=True))
    if origin is typing.Literal:
        if value not in typing.get_args(hint):
            raise EventError(
                f"{where} must be one of {', '.join(map(str, typing.get_args(hint)))}, not {value!r}"
            )
        return value
    if origin in (typing.Union, types.UnionType):
        return value
    if hint is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if not isinstance(value, hint) or (hint is not bool and isinstance(value, bool)):
        raise EventError(f"{where} must be {hint.__name__}, not {value!r}")
    return value
