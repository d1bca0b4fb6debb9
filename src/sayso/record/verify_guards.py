"""Guards that are missing, changed, switched off or not ours: nothing would have stopped a change."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, text

from sayso.record.faults import Fault
from sayso.record.guards import guards
from sayso.record.identity import NOT_GUARDED, identity_faults, is_guarded, is_identity_guard
from sayso.record.shop_roles import LEAD_SIGNS_ONLY
from sayso.record.store import Store


@dataclass(frozen=True, slots=True)
class _There:
    """What the database holds: triggers that are switched on and, in PostgreSQL, the functions they call."""

    triggers: Mapping[str, str]
    functions: Mapping[str, str]


def guard_faults(store: Store) -> tuple[list[Fault], list[str]]:
    """Faults of the guards and of the record's id, and a remark where the id has no guard."""
    with store.reading() as connection:
        there = _sqlite(connection) if store.path is not None else _postgresql(connection)
        names = frozenset(there.triggers)
        faults = [*_missing_or_changed(store, there), *_foreign(store, there)]
        faults += identity_faults(connection, names)
        if store.path is None:
            faults += _rules_and_policies(connection)
    return faults, [] if is_guarded(names) else [NOT_GUARDED]


def _sqlite(connection: Connection) -> _There:
    rows = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    return _There({row.name: row.sql for row in rows}, {})


def _postgresql(connection: Connection) -> _There:
    """As the server itself writes them (PostgreSQL manual, "System Information Functions and Operators"):
    `true` leaves the schema out where the search path finds it."""
    triggers = connection.execute(
        text(
            "SELECT tgname, pg_get_triggerdef(oid, true) AS sql FROM pg_trigger "
            "WHERE NOT tgisinternal AND tgenabled = 'O' AND tgrelid IN "
            "(SELECT oid FROM pg_class WHERE relnamespace = current_schema()::regnamespace)"
        )
    )
    functions = connection.execute(
        text("SELECT proname, prosrc FROM pg_proc WHERE pronamespace = current_schema()::regnamespace")
    )
    return _There({row.tgname: row.sql for row in triggers}, {row.proname: row.prosrc for row in functions})


def _rules_and_policies(connection: Connection) -> Iterator[Fault]:
    """What PostgreSQL rewrites or hides without a trigger: an insert that does nothing, rows that few see."""
    rules = connection.execute(
        text("SELECT rulename, tablename FROM pg_rules WHERE schemaname = current_schema() ORDER BY 1")
    )
    for row in rules:
        what = f"the rule {row.rulename} on {row.tablename} is none of sayso's: what is recorded may be lost"
        yield Fault("guard", "", None, what)
    hidden = connection.execute(
        text(
            "SELECT relname FROM pg_class WHERE relnamespace = current_schema()::regnamespace "
            "AND relrowsecurity ORDER BY 1"
        )
    )
    for row in hidden:
        yield Fault("guard", "", None, f"row level security is on for {row.relname}: rows may be hidden")


def _missing_or_changed(store: Store, there: _There) -> Iterator[Fault]:
    wanted = guards("sqlite" if store.path is not None else "postgresql")
    here = {**there.triggers, **there.functions}
    missing = [name for name in wanted if name not in here]
    if len(missing) > 3:
        # One line: two dozen would push the entry that was altered out of the window.
        some = f"the guards {', '.join(missing[:2])} and {len(missing) - 2} more are missing"
        yield Fault("guard", "", None, f"{some}: the record could be changed")
    else:
        for name in missing:
            yield Fault("guard", "", None, f"the guard {name} is missing: the record could be changed")
    for name, body in (wanted | LEAD_SIGNS_ONLY).items():
        if name in here and here[name] != _as_kept(body):
            again = "; `sayso roles` makes it anew" if name in LEAD_SIGNS_ONLY else ""
            yield Fault("guard", "", None, f"the guard {name} was changed{again}")


def _as_kept(statement: str) -> str:
    """Of a function only its body is kept as it was written; it stands between two '$$'."""
    parts = statement.split("$$")
    return parts[1] if len(parts) > 1 else statement


def _foreign(store: Store, there: _There) -> Iterator[Fault]:
    """A trigger of somebody else's may change or drop what is being recorded."""
    ours = guards("sqlite" if store.path is not None else "postgresql").keys() | LEAD_SIGNS_ONLY.keys()
    for name in there.triggers:
        if name not in ours and not is_identity_guard(name):
            yield Fault(
                "guard", "", None, f"the trigger {name} is none of sayso's: it may change what is recorded"
            )
