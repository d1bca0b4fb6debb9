"""Triggers by which the database itself refuses to change, drop, replace or misorder an entry.

Revision 0001 installs exactly these; a later revision adds to them in a list of its own, because a
migration that has run somewhere must never change.
"""

from __future__ import annotations

from typing import Final

from sayso.record.chain import NOTHING_BEFORE

#: table -> its primary key
GUARDED: Final[dict[str, tuple[str, ...]]] = {
    "this_store": ("id",),
    "jobs": ("job",),
    "entries": ("job", "seq"),
    "documents": ("sha256",),
    "clips": ("job", "sha256"),
    "seals": ("job", "seq", "public_key"),
    "removals": ("job", "what"),
    "deliveries": ("id",),
}
#: tables from which retention may delete once it has left its note in `removals`
_RETENTION: Final[dict[str, str]] = {
    "jobs": "r.what = 'job'",
    "entries": "r.what = 'job'",
    "seals": "r.what = 'job'",
    "clips": "r.what IN ('clips', 'job')",
}


def _sqlite() -> dict[str, str]:
    made: dict[str, str] = {}
    for table, key in GUARDED.items():
        made[f"{table}_no_update"] = (
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} is append-only: nothing in it may be changed'); END"
        )
        unless = ""
        if table in _RETENTION:
            unless = (
                f"WHEN NOT EXISTS (SELECT 1 FROM removals r WHERE r.job = OLD.job AND {_RETENTION[table]}) "
            )
        made[f"{table}_no_delete"] = (
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {unless}"
            f"BEGIN SELECT RAISE(ABORT, '{table} is append-only: nothing in it may be removed'); END"
        )
        same = " AND ".join(f"t.{column} = NEW.{column}" for column in key)
        if table != "entries":
            # INSERT OR REPLACE deletes the old row without firing a delete trigger (SQLite manual,
            # "ON CONFLICT": only with recursive_triggers), so replacing is stopped at the insert.
            made[f"{table}_no_replace"] = (
                f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
                f"BEGIN SELECT RAISE(IGNORE) WHERE EXISTS (SELECT 1 FROM {table} t WHERE {same}); END"
            )
    made["entries_in_order"] = (
        "CREATE TRIGGER entries_in_order BEFORE INSERT ON entries BEGIN "
        "SELECT RAISE(IGNORE) WHERE EXISTS "
        "(SELECT 1 FROM entries t WHERE t.job = NEW.job AND t.seq = NEW.seq AND t.hash = NEW.hash); "
        "SELECT RAISE(ABORT, 'another entry with this number is already there') WHERE EXISTS "
        "(SELECT 1 FROM entries t WHERE t.job = NEW.job AND t.seq = NEW.seq); "
        "SELECT RAISE(ABORT, 'the entry does not follow the one before it') WHERE NOT "
        f"((NEW.seq = 0 AND NEW.prev = '{NOTHING_BEFORE}') OR EXISTS "
        "(SELECT 1 FROM entries t WHERE t.job = NEW.job AND t.seq = NEW.seq - 1 AND t.hash = NEW.prev)); END"
    )
    return made


def _postgresql() -> dict[str, str]:
    made: dict[str, str] = {
        "sayso_refuse": (
            "CREATE FUNCTION sayso_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION '% is append-only: nothing in it may be changed or removed', TG_TABLE_NAME; "
            "END $$"
        ),
        "sayso_entry_in_order": (
            "CREATE FUNCTION sayso_entry_in_order() RETURNS trigger LANGUAGE plpgsql VOLATILE AS $$ BEGIN "
            f"IF NOT ((NEW.seq = 0 AND NEW.prev = '{NOTHING_BEFORE}') OR EXISTS (SELECT 1 FROM entries t "
            "WHERE t.job = NEW.job AND t.seq = NEW.seq - 1 AND t.hash = NEW.prev)) THEN "
            "RAISE EXCEPTION 'the entry does not follow the one before it'; END IF; RETURN NEW; END $$"
        ),
        "entries_in_order": (
            "CREATE TRIGGER entries_in_order BEFORE INSERT ON entries "
            "FOR EACH ROW EXECUTE FUNCTION sayso_entry_in_order()"
        ),
    }
    for table in GUARDED:
        made[f"{table}_no_update"] = (
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION sayso_refuse()"
        )
        made[f"{table}_no_truncate"] = (
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION sayso_refuse()"
        )
        if table not in _RETENTION:
            made[f"{table}_no_delete"] = (
                f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION sayso_refuse()"
            )
            continue
        # A trigger's WHEN clause may hold no subquery in PostgreSQL: the check stands in a function.
        made[f"sayso_{table}_delete"] = (
            f"CREATE FUNCTION sayso_{table}_delete() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"IF EXISTS (SELECT 1 FROM removals r WHERE r.job = OLD.job AND {_RETENTION[table]}) "
            "THEN RETURN OLD; END IF; "
            f"RAISE EXCEPTION '{table} is append-only: nothing in it may be removed'; END $$"
        )
        made[f"{table}_no_delete"] = (
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION sayso_{table}_delete()"
        )
    return made


def guards(dialect: str) -> dict[str, str]:
    """Name -> statement, in the order in which they must run; `dialect` is 'sqlite' or 'postgresql'."""
    return _sqlite() if dialect == "sqlite" else _postgresql()
