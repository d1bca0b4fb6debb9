"""A state as JSON and back. The procedure itself is not in it, only its id, revision and text hash."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from pyrsistent import plist, pmap, pvector

from sayso.answers.answer import Answer
from sayso.dialogue.plan import plan_of
from sayso.dialogue.settings import Settings
from sayso.dialogue.state import Aside, Awaiting, Effort, HeardLast, Pending, State, Target, Tries, Visit
from sayso.procedure.model import Procedure


class SnapshotError(ValueError):
    """The snapshot was taken with another text of the procedure."""


def as_json(state: State) -> dict[str, Any]:
    procedure = state.procedure
    data: dict[str, Any] = {
        "procedure": {"id": procedure.id, "revision": procedure.revision, "text_hash": procedure.text_hash}
    }
    for item in fields(state):
        if item.name not in ("procedure", "plan"):
            data[item.name] = _plain(getattr(state, item.name))
    return data


def from_json(procedure: Procedure, data: Mapping[str, Any]) -> State:
    """Raises SnapshotError when `procedure` is not the text that the snapshot was taken with."""
    if data["procedure"]["text_hash"] != procedure.text_hash:
        raise SnapshotError(
            f"this job ran {data['procedure']['id']} with text {data['procedure']['text_hash'][:12]}, "
            f"not {procedure.text_hash[:12]}: open it with the text that it was started with"
        )
    values = {key: value for key, value in data.items() if key != "procedure"}
    values.update(
        settings=_settings(values["settings"]),
        witnesses=_pairs(values["witnesses"]),
        awaiting=Awaiting(values["awaiting"]),
        aside=None if values["aside"] is None else Aside(values["aside"]),
        trail=pvector(_visit(item) for item in values["trail"]),
        values=pmap(values["values"]),
        given_at=pmap(values["given_at"]),
        people=tuple(values.get("people", (values["person"],) if values["person"] else ())),
        recent=tuple(values["recent"]),
        accepted=plist(values["accepted"]),
        pending=_pending(values["pending"]),
        tries=Tries(**{**values["tries"], "rejected": tuple(values["tries"]["rejected"])}),
        deviation=_answer(values["deviation"]),
        carried=pmap({key: _visit(item) for key, item in values["carried"].items()}),
        to_settle=tuple(_visit(item) for item in values["to_settle"]),
        after_settle=Target(**values["after_settle"]),
        again=tuple(values["again"]),
        timers=pmap(values["timers"]),
        usual=tuple((step, lower, upper) for step, lower, upper in values["usual"]),
        efforts=tuple(Effort(**item) for item in values["efforts"]),
        proposed=tuple(values["proposed"]),
        ask_first=tuple(values.get("ask_first", ())),
        heard=HeardLast(**{**values["heard"], "words": tuple(values["heard"]["words"])}),
    )
    return State(procedure=procedure, plan=plan_of(procedure), **values)


def _plain(value: Any) -> Any:
    if isinstance(value, bool | int | float | str) or value is None:
        return value.value if isinstance(value, Awaiting | Aside) else value
    if isinstance(value, Mapping):
        return {key: _plain(value[key]) for key in sorted(value)}
    if isinstance(value, Answer | Visit | Pending | Tries | Target | Effort | HeardLast | Settings):
        return {item.name: _plain(getattr(value, item.name)) for item in fields(value)}
    return [_plain(item) for item in value]


def _answer(data: Mapping[str, Any] | None) -> Answer | None:
    return None if data is None else Answer(**{**data, "said": tuple(data["said"])})


def _visit(data: Mapping[str, Any]) -> Visit:
    return Visit(**{**data, "answer": _answer(data["answer"])})


def _pending(data: Mapping[str, Any] | None) -> Pending | None:
    if data is None:
        return None
    answer = _answer(data["answer"])
    assert answer is not None
    return Pending(**{**data, "answer": answer})


def _pairs(items: Any) -> tuple[tuple[str, str], ...]:
    return tuple((first, second) for first, second in items)


def _settings(data: Mapping[str, Any]) -> Settings:
    return Settings(**{**data, "control_words": _pairs(data["control_words"])})
