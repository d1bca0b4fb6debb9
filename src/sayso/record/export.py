"""Jobs as CSV, JSON or Parquet. COLUMNS says what stands in each column; a test keeps it true."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final, Literal

from sayso.extras import how_to_add
from sayso.record.chain import Entry
from sayso.record.errors import RecordError
from sayso.record.names import Pseudonyms, anonymised
from sayso.record.report import write_whole
from sayso.record.seal import seals_of
from sayso.record.sign_off import who_may_sign
from sayso.record.store import Store
from sayso.record.story import Given, Story
from sayso.record.story_telling import story_of
from sayso.record.wording import tool_text

Format = Literal["csv", "json", "parquet"]

#: Column -> (type, meaning). One row is one answer, deviation, skipped step or note of a job.
COLUMNS: Final[dict[str, tuple[type, str]]] = {
    "job": (str, "name of the job"),
    "procedure": (str, "id of the procedure"),
    "revision": (int, "revision of the procedure"),
    "machine": (str, "machine it was done on"),
    "person": (str, "who had the job in hand at this entry; 'person 1'... when anonymised"),
    "bay": (str, "bay of the workshop"),
    "seq": (int, "number of the entry in the job"),
    "at": (str, "time of the entry, ISO 8601, UTC"),
    "row": (
        str,
        "answer, replaced (later changed or taken back), deviation, skipped, kept, tool overdue, "
        "not finished or note",
    ),
    "step": (str, "id of the step"),
    "visit": (int, "how many-th step of this job it was, from 1"),
    "name": (str, "name of the answer"),
    "kind": (str, "done, yes_no, choice, count, measure, torque, serial, time, note or witness"),
    "text": (
        str,
        "the value as text; why a step was skipped, or work on a way given up was kept; the tool and its day",
    ),
    "number": (float, "the value as a number; yes 1, no 0; said 'clicked': the target, 'keeps turning': 0"),
    "unit": (str, "unit of number, target, low and high"),
    "said": (str, "the words that were heard; empty at a hold point, where they may be a code"),
    "said_number": (float, "the number in the unit that was spoken, when it differs"),
    "said_unit": (str, "that unit"),
    "target": (float, "target of a torque"),
    "low": (float, "lower limit"),
    "high": (float, "upper limit"),
    "within": (bool, "within its limits"),
    "confidence": (float, "the recogniser's confidence, 0 to 1; 1 by keys"),
    "confirmed": (str, "how the read-back was answered; empty when it was not read back"),
    "seconds": (float, "time at the step without holds and jumps of the clock; length of a note"),
    "signed_by": (str, "who signed the deviation, skipped or kept step or tool off; empty while nobody has"),
    "signed_why": (str, "why it may stand, in that person's words"),
    "hash": (str, "hash of the entry (SHA-256); empty when anonymised"),
    "rehearsal": (bool, "true: typed in a rehearsal, done on no machine"),
    "fasteners": (int, "how many fasteners a torque speaks for"),
    "let_stand_by": (str, "who let work go on with a deviation not met; empty: nobody"),
    "let_stand_why": (str, "why it was not met, as the technician said"),
    "outcome": (str, "how the job ended; empty while it is open"),
    "tools": (str, "measuring tools in hand, each with the last day of its calibration where it was told"),
}


def rows_of(store: Store, jobs: Sequence[str], *, anonymous: bool = False) -> Iterator[dict[str, Any]]:
    """The rows of these jobs, in the columns of COLUMNS."""
    names = Pseudonyms()
    for job in jobs:
        entries = store.entries(job)
        if not entries:
            store.job(job)  # raises with the reason
        if anonymous:
            entries = anonymised(entries, names, who_may_sign(store, job))
        yield from _rows(story_of(entries), entries, anonymous)


def _rows(story: Story, entries: Sequence[Entry], anonymous: bool) -> Iterator[dict[str, Any]]:
    hashes = {entry.seq: entry.hash for entry in entries}
    common = {
        "job": story.job,
        "procedure": story.procedure,
        "revision": story.revision,
        "machine": story.machine,
        "bay": story.bay,
        "rehearsal": story.rehearsal,
        "outcome": story.outcome if story.ended_ms is not None else "",
        "tools": "; ".join(tool_text(tool) for tool in story.tools),
    }
    found: list[dict[str, Any]] = []
    signed = {
        deviation.seq: {"signed_by": deviation.signed.name, "signed_why": deviation.signed.why}
        for deviation in story.deviations
        if deviation.signed is not None
    }
    # the number of a visit is given again after a change of way: with its step it names one
    visits = {(visit.number, visit.step): number for number, visit in enumerate(story.visits, 1)}
    visit_of = {
        entry.seq: visits.get((entry.data.get("visit", -1), str(entry.data.get("step", ""))))
        for entry in entries
        if entry.kind in ("deviation", "skipped")
    }
    for number, visit in enumerate(story.visits, 1):
        for given in visit.answers:
            seconds = None if visit.working_ms is None else visit.working_ms / 1000
            row = "replaced" if given.replaced else "answer"
            found.append(_given_row(given, row, number, seconds))
    for deviation in story.deviations:
        if deviation.given is not None:
            handed = deviation.not_met
            stands = {
                "let_stand_by": handed.released_by if handed else "",
                "let_stand_why": handed.reason if handed else "",
            }
            found.append(_given_row(deviation.given, "deviation", visit_of.get(deviation.seq), None) | stands)
        elif deviation.kind in ("kept", "tool overdue", "not finished"):
            found.append(
                {
                    "seq": deviation.seq,
                    "at_ms": deviation.at_ms,
                    "row": deviation.kind,
                    "step": deviation.step,
                    "text": deviation.what,
                }
            )
    for entry in entries:
        if entry.kind in ("skipped", "note"):
            data = entry.data
            found.append(
                {
                    "seq": entry.seq,
                    "at_ms": entry.at_ms,
                    "row": entry.kind,
                    "step": str(data.get("step", "")),
                    "visit": visit_of.get(entry.seq),
                    "name": str(data.get("name", data.get("note", ""))),
                    "text": str(data.get("reason", data.get("text", ""))),
                    "seconds": float(data.get("seconds") or 0.0) if entry.kind == "note" else None,
                }
            )
    for row_found in sorted(found, key=lambda r: (r["seq"], r["row"])):
        at = _iso(row_found.pop("at_ms"))
        row_hash = "" if anonymous else hashes.get(row_found["seq"], "")
        whole = {
            **common,
            **row_found,
            **_signature(row_found, signed),
            "person": story.person_at(row_found["seq"]),
            "at": at,
            "hash": row_hash,
        }
        yield {column: whole.get(column) for column in COLUMNS}


def _signature(row: dict[str, Any], signed: dict[int, dict[str, str]]) -> dict[str, str]:
    if row["row"] not in ("deviation", "skipped", "kept", "tool overdue", "not finished"):
        return {}
    return signed.get(row["seq"], {"signed_by": "", "signed_why": ""})


def _given_row(given: Given, row: str, visit: int | None, seconds: float | None) -> dict[str, Any]:
    value = given.value
    return {
        "seq": given.seq,
        "at_ms": given.at_ms,
        "row": row,
        "step": given.step,
        "visit": visit,
        "name": given.name,
        "kind": given.kind,
        "text": _text(value),
        "number": float(value) if isinstance(value, bool | int | float) else None,
        "unit": given.unit,
        "said": "" if given.kind == "witness" else given.said,
        "said_number": given.said_value,
        "said_unit": given.said_unit,
        "target": given.target,
        "fasteners": given.fasteners if given.kind == "torque" else None,
        "low": given.low,
        "high": given.high,
        "within": given.within,
        "confidence": given.confidence,
        "confirmed": given.confirmed,
        "seconds": seconds,
    }


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _iso(at_ms: int) -> str:
    from datetime import UTC, datetime

    return datetime.fromtimestamp(at_ms / 1000, UTC).isoformat(timespec="milliseconds")


def as_csv(rows: Iterable[dict[str, Any]]) -> bytes:
    """RFC 4180 with a header; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(COLUMNS), lineterminator="\r\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(value) for name, value in row.items()})
    return out.getvalue().encode("utf-8")


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + value
    return value


def as_json(store: Store, jobs: Sequence[str], *, anonymous: bool = False) -> bytes:
    """Whole jobs: every entry as it is recorded, with heads and seals, so that the chain can be checked."""
    names = Pseudonyms()
    out = []
    for job in jobs:
        entries = store.entries(job)
        if not entries:
            store.job(job)  # raises with the reason
        rows = (
            names.job(entries, who_may_sign(store, job))
            if anonymous
            else [entry.as_json() for entry in entries]
        )
        out.append(
            {
                "job": job,
                "anonymous": anonymous,
                "head": entries[-1].hash,
                "seals": []
                if anonymous
                else [
                    {name: getattr(seal, name) for name in type(seal).__dataclass_fields__}
                    for seal in seals_of(store, job)
                ],
                "entries": rows,
            }
        )
    note = (
        "names and audio were taken out: the hashes are those of the original entries"
        if anonymous
        else "hash = SHA-256 of the canonical JSON (RFC 8785) of an entry without its hash"
    )
    return json.dumps({"sayso_export": 1, "note": note, "jobs": out}, ensure_ascii=False, indent=1).encode()


def as_parquet(rows: Iterable[dict[str, Any]]) -> bytes:
    """Apache Parquet, each column's meaning in its field's metadata. Needs the extra 'parquet'."""
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ModuleNotFoundError:
        raise RecordError(f"Parquet needs pyarrow: {how_to_add('pyarrow')}") from None
    types = {str: pa.string(), int: pa.int64(), float: pa.float64(), bool: pa.bool_()}
    schema = pa.schema(
        [
            pa.field(name, types[kind], metadata={"meaning": meaning})
            for name, (kind, meaning) in COLUMNS.items()
        ]
    )
    sink = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(list(rows), schema=schema), sink)
    return sink.getvalue()


def export(store: Store, jobs: Sequence[str], path: Path, form: Format, *, anonymous: bool = False) -> Path:
    """Write the jobs to `path`, whole or not at all."""
    if form == "json":
        content = as_json(store, jobs, anonymous=anonymous)
    elif form == "csv":
        content = as_csv(rows_of(store, jobs, anonymous=anonymous))
    else:
        content = as_parquet(rows_of(store, jobs, anonymous=anonymous))
    return write_whole(path, content)
