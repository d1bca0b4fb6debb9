"""Which measuring tools are in hand today, and which of them are past their calibration."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sayso.dialogue.events import Resumed, ToolInHand
from sayso.record.store import Store
from sayso.session.job import Job


def tools_today(tools: Sequence[tuple[str, str]], now_ms: int) -> tuple[ToolInHand, ...]:
    """(name, last day, has passed); the last day itself still counts, in the time zone of this machine."""
    return tuple((name, until, _passed(until, now_ms)) for name, until in tools)


def taken_up_with(store: Store, job: Job, tools: Sequence[tuple[str, str]] = (), person: str = "") -> Resumed:
    """The event that takes a job up: with the `tools` that are new or have another day, and those in hand
    before whose day has passed since they were last told of; and by `person`, where that is another one."""
    now = job.clock.now_ms()
    told = {
        str(entry.data["tool"]): (str(entry.data["until"]), bool(entry.data["overdue"]))
        for entry in store.entries(job.journal.job, kinds=("tool",))
    }
    in_hand = {name: until for name, (until, _) in told.items()} | dict(tools)
    new = [
        (name, until, overdue)
        for name, until, overdue in tools_today(list(in_hand.items()), now)
        if told.get(name) != (until, overdue)
    ]
    return Resumed(now, tuple(new), person)


def _passed(until: str, now_ms: int) -> bool:
    return bool(until) and date.fromisoformat(until) < datetime.fromtimestamp(now_ms / 1000).date()
