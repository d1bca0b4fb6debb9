"""Schema revisions of the record, run by alembic when a store is opened. A revision that was released
never changes; a new one is added. Nothing else lives here."""
