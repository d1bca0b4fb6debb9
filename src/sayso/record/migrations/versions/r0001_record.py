"""The first record: jobs, entries, documents, clips, seals, removals, deliveries and their guards."""

from __future__ import annotations

import uuid

import sqlalchemy as sa
from alembic import op

from sayso.record.guards import guards

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    store = op.create_table("this_store", sa.Column("id", sa.String(32), primary_key=True))
    op.create_table(
        "jobs",
        sa.Column("job", sa.Text, primary_key=True),
        sa.Column("store", sa.String(32), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("procedure", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("opened_ms", sa.BigInteger, nullable=False),
        sa.Column("machine", sa.Text, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("bay", sa.Text, nullable=False),
        sa.UniqueConstraint("store", "number", name="jobs_store_number"),
    )
    op.create_table(
        "entries",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("at_ms", sa.BigInteger, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("data", sa.Text, nullable=False),
        sa.Column("prev", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("job", "seq", name="entries_pk"),
    )
    op.create_index("entries_kind", "entries", ["kind", "job", "seq"])
    op.create_table(
        "documents",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_table(
        "clips",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("media_type", sa.String(64), nullable=False),
        sa.Column("audio", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("job", "sha256", name="clips_pk"),
    )
    op.create_table(
        "seals",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("at_ms", sa.BigInteger, nullable=False),
        sa.Column("public_key", sa.String(64), nullable=False),
        sa.Column("signature", sa.String(128), nullable=False),
        sa.PrimaryKeyConstraint("job", "seq", "public_key", name="seals_pk"),
    )
    op.create_table(
        "removals",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("what", sa.String(16), nullable=False),
        sa.Column("at_ms", sa.BigInteger, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("store", sa.String(32), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("head_seq", sa.Integer, nullable=False),
        sa.Column("head_hash", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("job", "what", name="removals_pk"),
    )
    op.create_table(
        "deliveries",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("at_ms", sa.BigInteger, nullable=False),
        sa.Column("shop", sa.Text, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("outcome", sa.String(16), nullable=False),
        sa.Column("first_seq", sa.Integer, nullable=False),
        sa.Column("last_seq", sa.Integer, nullable=False),
        sa.Column("head_hash", sa.String(64), nullable=False),
        sa.Column("seconds", sa.Float, nullable=False),
        sa.Column("detail", sa.Text, nullable=False),
    )
    op.bulk_insert(store, [{"id": uuid.uuid4().hex}])
    dialect = op.get_bind().dialect.name
    for statement in guards(dialect).values():
        op.execute(sa.text(statement.replace(":", r"\:")))
    if dialect == "sqlite":
        # Read from the file's first 100 bytes before anything is opened (see sqlite_file.py).
        op.execute("PRAGMA application_id = 1935767923")  # 'says' in ASCII
        op.execute("PRAGMA user_version = 1")
