"""Who may do what in the shop's PostgreSQL database: a bay adds and reads, the office only reads, the lead
hand reads, signs deviations off and seals.

Only the owner of the tables migrates and runs retention. A login is given a role by the shop's lead:
`CREATE USER bay_2 PASSWORD '...' IN ROLE sayso_bay`.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import text

from sayso.record.errors import RecordError
from sayso.record.sign_off import KIND as SIGNED_OFF
from sayso.record.store import Store

BAY: Final = "sayso_bay"
OFFICE: Final = "sayso_office"
LEAD: Final = "sayso_lead"

_ADDED_BY_BAYS: Final = "jobs, entries, documents, clips, seals"
_ADDED_BY_THE_LEAD: Final = "entries, seals"
#: A right of a table holds for all of its rows: what the lead may add to a job is told by a trigger. (A user
#: in both roles may do what a bay may; the owner and a superuser count as in both.) By name: `verify` holds
#: what it finds of them against these.
LEAD_SIGNS_ONLY: Final = {
    "sayso_lead_signs_only": "CREATE OR REPLACE FUNCTION sayso_lead_signs_only() "
    "RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
    f"IF NEW.kind <> '{SIGNED_OFF}' AND pg_has_role(current_user, '{LEAD}', 'member') "
    f"AND NOT pg_has_role(current_user, '{BAY}', 'member') THEN "
    "RAISE EXCEPTION 'the lead signs off and adds nothing else' USING ERRCODE = 'insufficient_privilege'; "
    "END IF; RETURN NEW; END $$",
    "entries_lead_signs_only": "CREATE TRIGGER entries_lead_signs_only BEFORE INSERT ON entries "
    "FOR EACH ROW EXECUTE FUNCTION sayso_lead_signs_only()",
}
_READ_BY_ALL: Final = f"{_ADDED_BY_BAYS}, this_store, removals, alembic_version"


def make_roles(shop: Store) -> None:
    """Create the group roles and give them their rights; running it again changes nothing."""
    if shop.path is not None:
        raise RecordError(f"{shop.where}: roles need PostgreSQL; a SQLite file is guarded by its file mode")
    with shop.writing() as connection:
        schema = connection.execute(text("SELECT quote_ident(current_schema())")).scalar_one()
        for role in (BAY, OFFICE, LEAD):
            if not connection.execute(text("SELECT 1 FROM pg_roles WHERE rolname = :r"), {"r": role}).first():
                connection.execute(text(f"CREATE ROLE {role} NOLOGIN"))
            connection.execute(text(f"REVOKE ALL ON ALL TABLES IN SCHEMA {schema} FROM {role}"))
            connection.execute(text(f"GRANT USAGE ON SCHEMA {schema} TO {role}"))
            connection.execute(text(f"GRANT SELECT ON {_READ_BY_ALL} TO {role}"))
        connection.execute(text(f"GRANT INSERT ON {_ADDED_BY_BAYS} TO {BAY}"))
        connection.execute(text(f"GRANT INSERT ON {_ADDED_BY_THE_LEAD} TO {LEAD}"))
        connection.execute(text("DROP TRIGGER IF EXISTS entries_lead_signs_only ON entries"))
        for statement in LEAD_SIGNS_ONLY.values():
            connection.execute(text(statement))
