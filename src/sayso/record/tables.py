"""The tables of a record, the same in SQLite and PostgreSQL. Every one of them is append-only."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()

#: One row: which database this is. Jobs delivered elsewhere keep the id of the store they began in.
this_store = Table("this_store", metadata, Column("id", String(32), primary_key=True))

#: An index over the opening entries (seq 0), which hold the same facts under the hash.
jobs = Table(
    "jobs",
    metadata,
    Column("job", Text, primary_key=True),
    Column("store", String(32), nullable=False),
    #: 1, 2, 3... in the order in which that store opened its jobs: a gap is a missing job.
    Column("number", Integer, nullable=False),
    Column("procedure", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("opened_ms", BigInteger, nullable=False),
    Column("machine", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("bay", Text, nullable=False),
    UniqueConstraint("store", "number", name="jobs_store_number"),
)

entries = Table(
    "entries",
    metadata,
    Column("job", Text, nullable=False),
    Column("seq", Integer, nullable=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("data", Text, nullable=False),
    Column("prev", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
    PrimaryKeyConstraint("job", "seq", name="entries_pk"),
)
#: Lists of open jobs and the figures look for a few kinds among many entries.
Index("entries_kind", entries.c.kind, entries.c.job, entries.c.seq)

#: Procedure texts and outlines, by content; many jobs share one.
documents = Table(
    "documents",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("kind", String(16), nullable=False),  # 'text' or 'outline'
    Column("body", Text, nullable=False),
)

clips = Table(
    "clips",
    metadata,
    Column("job", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("media_type", String(64), nullable=False),
    Column("audio", LargeBinary, nullable=False),
    PrimaryKeyConstraint("job", "sha256", name="clips_pk"),
)

#: Signatures over a job's head hash.
seals = Table(
    "seals",
    metadata,
    Column("job", Text, nullable=False),
    Column("seq", Integer, nullable=False),
    Column("hash", String(64), nullable=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("public_key", String(64), nullable=False),
    Column("signature", String(128), nullable=False),
    PrimaryKeyConstraint("job", "seq", "public_key", name="seals_pk"),
)

#: What retention took away: the only rows that let a guard allow a delete, and they stay.
removals = Table(
    "removals",
    metadata,
    Column("job", Text, nullable=False),
    Column("what", String(16), nullable=False),  # 'clips' or 'job'
    Column("at_ms", BigInteger, nullable=False),
    Column("reason", Text, nullable=False),
    Column("store", String(32), nullable=False),
    Column("number", Integer, nullable=False),
    Column("head_seq", Integer, nullable=False),
    Column("head_hash", String(64), nullable=False),
    PrimaryKeyConstraint("job", "what", name="removals_pk"),
)

#: The delivery journal of a laptop: every try, whatever became of it.
deliveries = Table(
    "deliveries",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("at_ms", BigInteger, nullable=False),
    Column("shop", Text, nullable=False),
    Column("job", Text, nullable=False),
    Column("outcome", String(16), nullable=False),  # sent, broke_off, refused
    Column("first_seq", Integer, nullable=False),
    Column("last_seq", Integer, nullable=False),
    Column("head_hash", String(64), nullable=False),
    Column("seconds", Float, nullable=False),
    Column("detail", Text, nullable=False),
)
