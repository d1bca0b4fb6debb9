"""Which record this is: one line with an id, and a guard that bears the same id in its name.

Jobs that were opened in a record bear its id; those of another id were delivered, and may have gaps that are
none. Whoever gave a record another id would turn a job that was taken out into one "not delivered yet".
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sqlalchemy import Connection, select, text

from sayso.record.faults import Fault
from sayso.record.tables import this_store

_PREFIX: Final = "this_store_is_"

#: Told of a record that was made before there was such a guard.
NOT_GUARDED: Final = (
    "this record was made by an earlier sayso, which did not guard its id: another id would not be seen"
)


def guard_identity(connection: Connection) -> None:
    """Bind a record that was just made to its id. Later on nobody could tell which id is the true one."""
    own = connection.execute(select(this_store.c.id)).scalar_one()
    name = f"{_PREFIX}{own}"
    if connection.dialect.name == "sqlite":
        does = f"BEGIN SELECT RAISE(ABORT, 'this record is {own} and no other'); END"
    else:
        does = "FOR EACH ROW EXECUTE FUNCTION sayso_refuse()"
    connection.execute(text(f"CREATE TRIGGER {name} BEFORE INSERT ON this_store {does}"))


def is_identity_guard(trigger: str) -> bool:
    return trigger.startswith(_PREFIX)


def identity_faults(connection: Connection, triggers: frozenset[str]) -> Iterator[Fault]:
    """`triggers`: the names of all that are switched on."""
    ids = [str(row.id) for row in connection.execute(select(this_store.c.id))]
    guarded = sorted(name.removeprefix(_PREFIX) for name in triggers if is_identity_guard(name))
    if len(ids) > 1:
        yield Fault("identity", "", None, f"this record has {len(ids)} ids: {', '.join(sorted(ids))}")
    if len(guarded) > 1:
        yield Fault("identity", "", None, f"guards bear {len(guarded)} ids: {', '.join(guarded)}")
    for own in ids if len(ids) == 1 and len(guarded) == 1 else ():
        if own != guarded[0]:
            what = f"this record has the id {own}, and was made as {guarded[0]}: its own jobs look delivered"
            yield Fault("identity", "", None, what)


def is_guarded(triggers: frozenset[str]) -> bool:
    return any(map(is_identity_guard, triggers))
