"""Journal, resume, verify, job report, export, shop database and delivery.
Never decides what happens next in a job."""

from sayso.record.errors import JobInUseError, NotRecordedError, RecordError
from sayso.record.journal import Journal
from sayso.record.outline import outline_of
from sayso.record.store import JobRow, Store, open_store

__all__ = [
    "JobInUseError",
    "JobRow",
    "Journal",
    "NotRecordedError",
    "RecordError",
    "Store",
    "open_store",
    "outline_of",
]
