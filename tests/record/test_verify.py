"""Twenty and more kinds of tampering: each one is found, and the right entry is named.

The tamperer here knows SQLite: guards are dropped and put back, hashes are computed anew.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from sayso.dialogue.effects import Record
from sayso.record import NotRecordedError, RecordError, Store, open_store
from sayso.record.chain import follow, hash_of
from sayso.record.deliver import deliver
from sayso.record.guards import guards
from sayso.record.identity import NOT_GUARDED
from sayso.record.seal import new_key, read_key, seal
from sayso.record.shop_roles import make_roles
from sayso.record.verify import verify
from tests.record.conftest import PostgresServer
from tests.record.test_store import begin, heard

AUDIO = b"RIFF" + bytes(range(200))


@dataclass
class Scene:
    """A record of three ended jobs, sealed; J2 is the one tampered with. Numbers of J2's entries:
    0 opened, then commits of two: event 1 answer 2, event 3 answer 4 ... event 11 ended 12."""

    folder: Path
    head: str = ""
    public_key: str = ""

    @property
    def path(self) -> Path:
        return self.folder / "r.db"


def make(folder: Path) -> Scene:
    folder.mkdir()
    scene = Scene(folder)
    scene.public_key = new_key(folder / "shop.pem")
    with open_store(scene.path) as store:
        for job in ("J1", "J2", "J3"):
            with begin(store, job) as journal:
                clip = journal.keep_clip(AUDIO)
                for number in range(5):
                    journal.commit(
                        heard(2_000 + number, "nine"),
                        [Record("answer", {"name": f"bolt-{number}", "value": 9.5, "clip": clip})],
                    )
                journal.commit(heard(3_000, "done"), [Record("ended", {"outcome": "complete"})])
            seal(store, job, read_key(folder / "shop.pem"), at_ms=4_000)
        scene.head = store.head("J2").hash
        with open_store(folder / "shop.db") as shop:
            deliver(store, shop)
    return scene


class Tamperer:
    """A shell on the record's file with all guards off."""

    def __init__(self, path: Path) -> None:
        self.db = sqlite3.connect(path, isolation_level=None)
        self.guards = self.db.execute("SELECT name, sql FROM sqlite_master WHERE type='trigger'").fetchall()
        for name, _ in self.guards:
            self.db.execute(f"DROP TRIGGER {name}")

    def finish(self) -> None:
        for _, sql in self.guards:
            self.db.execute(sql)
        self.db.close()

    def run(self, sql: str, *values: Any) -> None:
        changed = self.db.execute(sql, values).rowcount
        assert changed != 0, "the tampering did nothing"

    def take_guard(self, name: str) -> str:
        """A guard that is not put back; gives its text."""
        taken = dict(self.guards)[name]
        self.guards = [guard for guard in self.guards if guard[0] != name]
        return str(taken)

    def entries(self, job: str = "J2") -> list[list[Any]]:
        return [
            list(row)
            for row in self.db.execute(
                "SELECT job, seq, at_ms, kind, data, prev, hash FROM entries WHERE job=? ORDER BY seq", (job,)
            )
        ]

    def put(self, rows: list[list[Any]], job: str = "J2") -> None:
        self.db.execute("DELETE FROM entries WHERE job=?", (job,))
        self.db.executemany("INSERT INTO entries VALUES (?,?,?,?,?,?,?)", rows)

    def rebuild(self, rows: list[list[Any]], start: int) -> list[list[Any]]:
        """The same rows from `start` on with numbers, links and hashes computed anew."""
        for number in range(start, len(rows)):
            job, _, at_ms, kind, data = rows[number][:5]
            prev = rows[number - 1][6] if number else "0" * 64
            entry = follow(job, number, at_ms, kind, json.loads(data), prev)
            rows[number] = list(entry.as_row().values())
        return rows


def sql(statement: str) -> Callable[[Tamperer], None]:
    return lambda t: t.run(statement)


def renumber(rows: list[list[Any]]) -> list[list[Any]]:
    for number, row in enumerate(rows):
        row[1] = number
    return rows


def alter(column: str, value: Any, seq: int = 4) -> Callable[[Tamperer], None]:
    return lambda t: t.run(f"UPDATE entries SET {column} = ? WHERE job='J2' AND seq=?", value, seq)


def alter_value(t: Tamperer) -> None:
    t.run("UPDATE entries SET data = replace(data, '9.5', '9.6') WHERE job='J2' AND seq=4")


def add_a_space(t: Tamperer) -> None:
    t.run("UPDATE entries SET data = replace(data, ':', ': ') WHERE job='J2' AND seq=4")


def remove(*seqs: int, then_renumber: bool = False) -> Callable[[Tamperer], None]:
    def tamper(t: Tamperer) -> None:
        rows = [row for row in t.entries() if row[1] not in seqs]
        t.put(renumber(rows) if then_renumber else rows)

    return tamper


def count_on_from(seq: int, more: int) -> Callable[[Tamperer], None]:
    def tamper(t: Tamperer) -> None:
        t.put([[row[0], row[1] + more * (row[1] >= seq), *row[2:]] for row in t.entries()])

    return tamper


def swap(one: int, other: int) -> Callable[[Tamperer], None]:
    def tamper(t: Tamperer) -> None:
        rows = t.entries()
        rows[one], rows[other] = rows[other], rows[one]
        t.put(renumber(rows))

    return tamper


def move(start: int, to: int) -> Callable[[Tamperer], None]:
    def tamper(t: Tamperer) -> None:
        rows = t.entries()
        rows.insert(to, rows.pop(start))
        t.put(renumber(rows))

    return tamper


def insert_forged(t: Tamperer) -> None:
    rows = t.entries()
    rows.insert(5, ["J2", 5, 2_002, "answer", '{"name":"bolt-9","value":9.5}', rows[4][6], "ab" * 32])
    t.put(renumber(rows))


def insert_forged_with_a_right_hash(t: Tamperer) -> None:
    rows = t.entries()
    forged = follow("J2", 5, 2_002, "answer", {"name": "bolt-9", "value": 9.5}, rows[4][6])
    rows.insert(5, list(forged.as_row().values()))
    t.put(renumber(rows))


def insert_a_copy(t: Tamperer) -> None:
    rows = t.entries()
    rows.insert(7, list(rows[4]))
    t.put(renumber(rows))


def append_after_the_end(t: Tamperer) -> None:
    rows = t.entries()
    t.put(t.rebuild([*rows, ["J2", 13, 9_000, "answer", '{"name":"bolt-2","value":9.0}', "", ""]], 13))


def replace_one_with_a_right_hash(t: Tamperer) -> None:
    rows = t.entries()
    forged = follow("J2", 4, rows[4][2], "answer", {"name": "bolt-1", "value": 9.0}, rows[3][6])
    rows[4] = list(forged.as_row().values())
    t.put(rows)


def rebuild_from_an_altered_entry(t: Tamperer) -> None:
    rows = t.entries()
    rows[4][4] = rows[4][4].replace("9.5", "9.6")
    t.put(t.rebuild(rows, 4))


def drop_the_seal(t: Tamperer) -> None:
    t.run("DELETE FROM seals WHERE job='J2'")


def also(*tampers: Callable[[Tamperer], None]) -> Callable[[Tamperer], None]:
    def tamper(t: Tamperer) -> None:
        for each in tampers:
            each(t)

    return tamper


def remove_the_job(t: Tamperer) -> None:
    for table in ("entries", "jobs", "seals", "clips"):
        t.run(f"DELETE FROM {table} WHERE job='J2'")


def remove_the_newest_job(t: Tamperer) -> None:
    for table in ("entries", "jobs", "seals", "clips"):
        t.run(f"DELETE FROM {table} WHERE job='J3'")


def forge_a_removal(t: Tamperer) -> None:
    t.run(
        "INSERT INTO removals SELECT job, 'job', opened_ms, 'kept long enough', store, number, 12, 'ab' "
        "FROM jobs WHERE job='J2'"
    )
    remove_the_job(t)


def rebuild_the_newest(t: Tamperer) -> None:
    rows = t.entries("J3")
    rows[4][4] = rows[4][4].replace("9.5", "9.6")
    t.put(t.rebuild(rows, 4), "J3")


def another_id_guarded(t: Tamperer) -> None:
    t.run("UPDATE this_store SET id='x' || substr(id, 2)")
    guard = "CREATE TRIGGER this_store_is_{} BEFORE INSERT ON this_store BEGIN SELECT 1; END"
    t.guards.append(("x", guard.format(t.db.execute("SELECT id FROM this_store").fetchone()[0])))


def forged_removal(what: str) -> Callable[[Tamperer], None]:
    return sql(
        f"INSERT INTO removals SELECT job, '{what}', opened_ms, 'old', store, number, 99, 'ab' "
        "FROM jobs WHERE job='J2'"
    )


def append(kind: str, data: str, at_ms: int = 9_000) -> Callable[[Tamperer], None]:
    """With a right hash, as only somebody with the file can, whatever the data are."""

    def tamper(t: Tamperer) -> None:
        rows = t.entries()
        head = rows[-1][6]
        t.put([*rows, ["J2", 13, at_ms, kind, data, head, hash_of("J2", 13, at_ms, kind, data, head)]])

    return tamper


def forge_opening(name: str, value: Any) -> Callable[[Tamperer], None]:
    def tamper(t: Tamperer) -> None:
        rows = t.entries()
        rows[0][4] = json.dumps(json.loads(rows[0][4]) | {name: value})
        t.put(t.rebuild(rows, 0))

    return tamper


def from_another_job(t: Tamperer) -> None:
    t.run(
        "UPDATE entries SET data = (SELECT data FROM entries WHERE job='J1' AND seq=6), "
        "hash = (SELECT hash FROM entries WHERE job='J1' AND seq=6) WHERE job='J2' AND seq=4"
    )


@dataclass
class Case:
    name: str
    tamper: Callable[[Tamperer], None]
    kind: str
    seqs: set[int | None] = field(default_factory=lambda: {None})
    #: the witness outside the record that this case needs: '', 'head', 'key' or 'shop'
    witness: str = ""
    job: str = "J2"


CASES = [
    Case("a value altered", alter_value, "altered", {4}),
    Case("a time altered", alter("at_ms", 2_999), "altered", {4}),
    Case("a time made a text", alter("at_ms", "half past two"), "altered", {4}),
    Case("the number of a job made a text", sql("UPDATE jobs SET number='two' WHERE job='J2'"), "index"),
    Case("a kind altered", alter("kind", "note"), "altered", {4}),
    Case("a hash altered", alter("hash", "0" * 64), "altered", {4}),
    Case("a link altered", alter("prev", "0" * 64), "altered", {4}),
    Case("a space added inside the data", add_a_space, "altered", {4}),
    Case("the first entry altered", alter("at_ms", 999, 0), "altered", {0}),
    Case("the last entry altered", alter("at_ms", 3_999, 12), "altered", {12}),
    Case("the data of another job's entry put in", from_another_job, "altered", {4}),
    Case("one entry removed", remove(5), "removed", {5}),
    Case("a run of entries removed", remove(5, 6, 7), "removed", {5}),
    Case("the first entry removed", remove(0), "removed", {0}),
    Case("one entry removed and the rest renumbered", remove(5, then_renumber=True), "removed", {5}),
    Case("two commits exchanged", swap(2, 4), "reordered", {2, 4}),
    Case("two neighbours exchanged", swap(5, 6), "reordered", {5, 6}),
    Case("an entry moved further down", move(3, 8), "reordered", {3, 4, 5, 6, 7, 8}),
    Case("a forged entry inserted", insert_forged, "inserted", {5}),
    Case("a forged entry with a right hash inserted", insert_forged_with_a_right_hash, "inserted", {5}),
    Case("a copy of an entry inserted", insert_a_copy, "inserted", {7}),
    Case("an entry appended after the end", append_after_the_end, "inserted", {13}),
    Case("an entry replaced, with a right hash", replace_one_with_a_right_hash, "rewritten", {4}),
    Case("the chain rebuilt from an entry on, seal left", rebuild_from_an_altered_entry, "rewritten", {12}),
    Case(
        "the chain rebuilt, seal removed, next job asked",
        also(rebuild_from_an_altered_entry, drop_the_seal),
        "rewritten",
        {12},
    ),
    Case(
        "the chain rebuilt, shop's copy asked",
        also(rebuild_from_an_altered_entry, drop_the_seal),
        "rewritten",
        {4},
        "shop",
    ),
    Case("the tail cut off, seal left", remove(10, 11, 12), "cut off", {12}),
    Case(
        "the tail cut off, seal removed, next job asked",
        also(remove(10, 11, 12), drop_the_seal),
        "cut off",
        {12},
    ),
    Case(
        "the tail cut off, printed head hash asked",
        also(remove(10, 11, 12), drop_the_seal),
        "cut off",
        {9},
        "head",
    ),
    Case(
        "the tail cut off, shop's copy asked", also(remove(10, 11, 12), drop_the_seal), "cut off", {9}, "shop"
    ),
    Case("a whole job removed", remove_the_job, "missing job"),
    Case("a whole job removed as if by the rules of retention", forge_a_removal, "missing job"),
    Case("the newest job removed", remove_the_newest_job, "missing job", {None}, "shop", "J3"),
    Case("all entries of a job removed", sql("DELETE FROM entries WHERE job='J2'"), "removed"),
    Case(
        "the machine altered in the list of jobs",
        sql("UPDATE jobs SET machine='W-1' WHERE job='J2'"),
        "index",
    ),
    Case("the newest entry given a higher number", alter("seq", 20, 12), "altered", {20}),
    Case("a hole made in the numbers, nothing taken", count_on_from(6, 3), "altered", {9}),
    Case("the procedure text altered", sql("UPDATE documents SET body='x' WHERE kind='text'"), "text"),
    Case("the procedure text removed", sql("DELETE FROM documents WHERE kind='text'"), "text"),
    Case("the audio of a note altered", sql("UPDATE clips SET audio=x'52' WHERE job='J2'"), "clip"),
    Case("the audio of a note removed", sql("DELETE FROM clips WHERE job='J2'"), "clip"),
    Case(
        "a signature altered",
        sql(
            "UPDATE seals SET signature=replace(signature, substr(signature,1,8), '00000000') WHERE job='J2'"
        ),
        "seal",
        {12},
    ),
    Case("a seal removed, trusted key asked", drop_the_seal, "seal", {None}, "key"),
    Case("a guard taken away", lambda t: t.take_guard("entries_no_update"), "guard", {None}, job=""),
    Case(
        "a guard made harmless",
        lambda t: t.guards.append(
            ("x", t.take_guard("entries_no_update").replace("BEGIN", "WHEN 0 BEGIN", 1))
        ),
        "guard",
        {None},
        job="",
    ),
    Case(
        "a trigger of somebody else's put in",
        lambda t: t.guards.append(("x", "CREATE TRIGGER x AFTER INSERT ON entries BEGIN SELECT 1; END")),
        "guard",
        job="",
    ),
    Case(
        "the record given another id",
        sql("UPDATE this_store SET id='x' || substr(id, 2)"),
        "identity",
        job="",
    ),
    Case("the record given a second id", sql("INSERT INTO this_store VALUES ('0')"), "identity", job=""),
    Case(
        "the record given another id and a guard of that",
        another_id_guarded,
        "identity",
        job="",
    ),
    Case("the text kept as an outline", sql("UPDATE documents SET kind='outline' WHERE kind='text'"), "text"),
    Case("the audio kept as a page", sql("UPDATE clips SET media_type='text/html' WHERE job='J2'"), "clip"),
    Case("a number made a text", alter("seq", "four"), "altered", {4}),
    Case("a job moved to another record", sql("UPDATE jobs SET store='f' WHERE job='J2'"), "index"),
    Case(
        "a seal moved to a job that is not", sql("UPDATE seals SET job='J9' WHERE job='J2'"), "seal", job="J9"
    ),
    Case(
        "audio added of a job that is not",
        sql("INSERT INTO clips SELECT 'J9', sha256, media_type, audio FROM clips WHERE job='J2'"),
        "clip",
        job="J9",
    ),
    Case("a removal forged, the job still there", forged_removal("job"), "removal"),
    Case("a removal forged of something else", forged_removal("seals"), "removal"),
    Case(
        "the audio removed as if by the rules of retention",
        also(forged_removal("clips"), sql("DELETE FROM clips WHERE job='J2'")),
        "removal",
        {99},
    ),
    Case(
        "the chain of the newest job rebuilt after it was delivered, its seal removed",
        also(rebuild_the_newest, sql("DELETE FROM seals")),
        "rewritten",
        {12},
        job="J3",
    ),
    Case(
        "the newest job removed after it was delivered",
        remove_the_newest_job,
        "missing job",
        job="J3",
    ),
    Case("an event appended after the end", append("event", '{"type":"Heard"}'), "inserted", {13}),
    Case(
        "an answer appended in the commit of the end", append("answer", "{}", at_ms=3_000), "inserted", {13}
    ),
    Case("what is no entry at all appended", append("signed_off", "[1]"), "altered", {13}),
    Case("an event that is none appended", append("event", "7"), "altered", {13}),
    Case("a sign-off of nothing appended", append("signed_off", '{"entry":null}'), "sign-off", {13}),
    Case("an opening forged that names no job before", forge_opening("job_before", 5), "altered", {0}),
    Case("an opening forged without what is known of it", forge_opening("meta", "x"), "altered", {0}),
    Case("an opening forged with a list for its text", forge_opening("text_sha256", [1]), "altered", {0}),
]


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    return make(tmp_path_factory.mktemp("verify") / "scene")


@pytest.fixture
def scene(original: Scene, tmp_path: Path) -> Scene:
    shutil.copytree(original.folder, tmp_path / "copy")
    return Scene(tmp_path / "copy", original.head, original.public_key)


def verdict_on(scene: Scene, witness: str) -> Any:
    with open_store(scene.path, read_only=True) as store, open_store(scene.folder / "shop.db") as shop:
        if witness == "head":
            return verify(store, "J2", head=scene.head)
        return verify(
            store,
            trusted_keys=[scene.public_key] if witness == "key" else [],
            against=shop if witness == "shop" else None,
        )


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_tampering_is_found_and_named(scene: Scene, case: Case) -> None:
    tamperer = Tamperer(scene.path)
    case.tamper(tamperer)
    tamperer.finish()
    verdict = verdict_on(scene, case.witness)
    assert not verdict.sound
    found = {fault.seq for fault in verdict.faults if fault.kind == case.kind and fault.job == case.job}
    assert case.seqs <= found, "\n".join(map(str, verdict.faults))
    # the untouched jobs are not blamed (a shared text is theirs too)
    others = {fault.job for fault in verdict.faults if fault.kind not in ("text",)}
    assert others <= {case.job, ""}, "\n".join(map(str, verdict.faults))


def test_an_untouched_record_is_sound_to_every_witness(scene: Scene) -> None:
    for witness in ("", "head", "key", "shop"):
        verdict = verdict_on(scene, witness)
        assert verdict.sound, "\n".join(map(str, verdict.faults))
        assert all(job.sealed and job.entries == 13 for job in verdict.jobs)


def of_the_shop(scene: Scene, tamper: Callable[[Tamperer], None]) -> Any:
    tamperer = Tamperer(scene.folder / "shop.db")
    tamper(tamperer)
    tamperer.finish()
    with open_store(scene.folder / "shop.db", read_only=True) as shop:
        return verify(shop)


def test_a_delivered_job_made_anew_in_the_shop_is_found_by_the_next_job_of_that_laptop(scene: Scene) -> None:
    """Only jobs opened in the record itself were looked at; to give a record another id hid it there too."""

    def make_anew(t: Tamperer) -> None:
        rows = t.entries()
        rows[4][4] = rows[4][4].replace("9.5", "9.6")
        t.put(t.rebuild(rows, 4))
        t.run("DELETE FROM seals")

    verdict = of_the_shop(scene, make_anew)
    assert [(fault.kind, fault.job) for fault in verdict.faults] == [("rewritten", "J2")]

    tamperer = Tamperer(scene.path)
    make_anew(tamperer)
    tamperer.run("UPDATE this_store SET id = 'x' || substr(id, 2)")
    tamperer.finish()
    assert ("rewritten", "J2") in [(fault.kind, fault.job) for fault in verdict_on(scene, "").faults]


def test_a_delivered_job_that_is_gone_is_told_and_is_no_fault_for_it_may_not_be_delivered_yet(
    scene: Scene,
) -> None:
    def take_out(t: Tamperer) -> None:
        for table in ("entries", "seals", "clips", "jobs"):
            t.run(f"DELETE FROM {table} WHERE job='J2'")

    verdict = of_the_shop(scene, take_out)
    assert verdict.sound
    (remark,) = verdict.remarks
    assert remark.startswith("1 job opened in another record followed one that is not here (J3 followed J2)")


@pytest.mark.parametrize("table", ["this_store", "alembic_version"])
def test_a_line_that_tells_what_the_record_is_taken_out_is_named_and_no_crash(
    scene: Scene, table: str
) -> None:
    tamperer = Tamperer(scene.path)
    tamperer.run(f"DELETE FROM {table}")
    tamperer.finish()
    try:
        told = [str(fault) for fault in verdict_on(scene, "").faults]
    except RecordError as error:
        told = [str(error)]
    assert len(told) == 1
    assert f"was taken out (table {table})" in told[0]


def test_a_byte_changed_in_the_file_itself_is_found(scene: Scene) -> None:
    content = bytearray(scene.path.read_bytes())
    at = content.index(b'"name":"bolt-1"')
    content[at + 13] ^= 1
    scene.path.write_bytes(content)
    verdict = verdict_on(scene, "")
    assert [(fault.kind, fault.seq) for fault in verdict.faults] == [("altered", 4)]


def test_a_page_overwritten_with_rubbish_is_one_clear_error_or_fault(scene: Scene) -> None:
    whole = scene.path.read_bytes()
    for page in range(1, len(whole) // 4096):
        scene.path.write_bytes(whole[: page * 4096] + b"\xa5" * 4096 + whole[(page + 1) * 4096 :])
        before = scene.path.read_bytes()
        said = ""
        try:
            said = "; ".join(map(str, verdict_on(scene, "").faults))
        except RecordError as error:
            said = str(error)
        assert "damaged" in said
        assert scene.path.read_bytes() == before


def test_a_seal_by_somebody_else_does_not_count(scene: Scene) -> None:
    with open_store(scene.path) as store:
        new_key(scene.folder / "other.pem")
        seal(store, "J2", read_key(scene.folder / "other.pem"))
        assert verify(store, "J2", trusted_keys=[scene.public_key]).sound
        assert not verify(store, "J2", trusted_keys=["00" * 32]).sound


def test_verify_works_on_postgresql_too(any_store: Store) -> None:
    with begin(any_store, "J2") as journal:
        journal.commit(heard(2_000, "nine"), [Record("answer", {"value": 9.5})])
        journal.commit(heard(3_000, "ten"), [Record("answer", {"value": 9.5})])
    assert verify(any_store).sound
    with any_store.writing() as connection:
        if any_store.path is None:
            connection.exec_driver_sql("ALTER TABLE entries DISABLE TRIGGER ALL")
        else:
            connection.exec_driver_sql("DROP TRIGGER entries_no_update")
        connection.exec_driver_sql("UPDATE entries SET data = replace(data, '9.5', '9.6') WHERE seq = 2")
    faults = verify(any_store).faults
    assert {(fault.kind, fault.seq) for fault in faults} >= {("altered", 2), ("guard", None)}


def test_all_guards_gone_are_one_line_beside_the_entry_that_was_altered(tmp_path: Path) -> None:
    with (
        open_store(tmp_path / "r.db") as store,
        store.start("J", "p", "P", 1, "0" * 64, "text", {}, at_ms=0) as journal,
    ):
        journal.commit(heard(3_000, "ten"), [Record("answer", {"value": 9.5})])
    tamperer = Tamperer(tmp_path / "r.db")
    tamperer.run("UPDATE entries SET data = replace(data, '9.5', '9.6') WHERE seq = 2")
    tamperer.db.close()
    with open_store(tmp_path / "r.db") as store:
        faults = verify(store).faults
    assert sorted(fault.kind for fault in faults) == ["altered", "guard"]
    (told,) = (str(fault) for fault in faults if fault.kind == "guard")
    assert f"and {len(guards('sqlite')) - 2} more are missing: the record could be changed" in told


def changed_in_postgresql(store: Store, *statements: str) -> list[str]:
    with store.writing() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)
    return [f"{fault.kind}: {fault.what}" for fault in verify(store).faults]


@pytest.fixture
def shop(postgres_server: PostgresServer) -> Iterator[Store]:
    with open_store(postgres_server.new_database("guards")) as store:
        with begin(store, "J1") as journal:
            journal.commit(heard(2_000, "nine"), [Record("answer", {"value": 9.5})])
        make_roles(store)
        assert verify(store).sound
        yield store


def test_a_guard_of_postgresql_made_harmless_by_its_function_is_found(shop: Store) -> None:
    """Its triggers stay as they were: only what they call lets everything pass."""
    harmless = "RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$"
    assert changed_in_postgresql(
        shop,
        f"CREATE OR REPLACE FUNCTION sayso_refuse() {harmless}",
        f"CREATE OR REPLACE FUNCTION sayso_lead_signs_only() {harmless}",
        "UPDATE entries SET data = replace(data, '9.5', '9.6') WHERE seq = 2",
    ) == [
        "guard: the guard sayso_refuse was changed",
        "guard: the guard sayso_lead_signs_only was changed; `sayso roles` makes it anew",
        "altered: this entry (answer) is not what was hashed when it was recorded",
    ]


def test_a_guard_of_postgresql_that_is_another_one_or_somebody_elses_is_found(shop: Store) -> None:
    assert changed_in_postgresql(
        shop,
        "DROP TRIGGER jobs_no_update ON jobs",
        "CREATE TRIGGER jobs_no_update BEFORE UPDATE ON jobs FOR EACH ROW WHEN (false) "
        "EXECUTE FUNCTION sayso_refuse()",
        "CREATE TRIGGER theirs BEFORE INSERT ON clips FOR EACH ROW EXECUTE FUNCTION sayso_refuse()",
        "ALTER TABLE seals DISABLE TRIGGER seals_no_update",
    ) == [
        "guard: the guard seals_no_update is missing: the record could be changed",
        "guard: the guard jobs_no_update was changed",
        "guard: the trigger theirs is none of sayso's: it may change what is recorded",
    ]


def test_a_rule_that_drops_entries_and_rows_that_are_hidden_are_found(shop: Store) -> None:
    assert changed_in_postgresql(
        shop,
        "CREATE RULE nothing AS ON INSERT TO entries DO INSTEAD NOTHING",
        "ALTER TABLE jobs ENABLE ROW LEVEL SECURITY",
    ) == [
        "guard: the rule nothing on entries is none of sayso's: what is recorded may be lost",
        "guard: row level security is on for jobs: rows may be hidden",
    ]


@pytest.mark.parametrize(
    "swallowing",
    [
        "CREATE RULE nothing AS ON INSERT TO entries WHERE NEW.kind = 'answer' DO INSTEAD NOTHING",
        "CREATE RULE nothing AS ON INSERT TO entries DO INSTEAD NOTHING",
    ],
)
def test_an_entry_that_the_database_swallows_is_not_taken_as_recorded(shop: Store, swallowing: str) -> None:
    with shop.writing() as connection:
        connection.exec_driver_sql(swallowing)
    with shop.resume("J1") as journal, pytest.raises(NotRecordedError, match="entries and told of no error"):
        journal.commit(heard(3_000, "ten"), [Record("answer", {"value": 10})])
    assert not [entry for entry in shop.entries("J1") if entry.at_ms == 3_000]


def test_a_record_in_postgresql_keeps_its_id(shop: Store) -> None:
    own = shop.id
    with pytest.raises(RecordError, match="append-only"), shop.writing() as connection:
        connection.exec_driver_sql("INSERT INTO this_store VALUES ('0')")
    assert changed_in_postgresql(
        shop,
        "ALTER TABLE this_store DISABLE TRIGGER this_store_no_update",
        "UPDATE this_store SET id = 'f'",
        "ALTER TABLE this_store ENABLE TRIGGER this_store_no_update",
    ) == [f"identity: this record has the id f, and was made as {own}: its own jobs look delivered"]


def test_a_record_cannot_be_given_a_second_id(scene: Scene) -> None:
    with (
        open_store(scene.path) as store,
        pytest.raises(RecordError, match=f"this record is {store.id} and no"),
        store.writing() as connection,
    ):
        connection.exec_driver_sql("INSERT INTO this_store VALUES ('0')")


def test_a_record_made_before_ids_were_guarded_is_sound_and_says_so(scene: Scene) -> None:
    with open_store(scene.path) as store:
        own = store.id
    with sqlite3.connect(scene.path) as shell:
        shell.execute(f"DROP TRIGGER this_store_is_{own}")
    verdict = verdict_on(scene, "")
    assert verdict.sound
    assert verdict.remarks == (NOT_GUARDED,)


def test_a_job_with_an_entry_that_is_none_is_not_delivered_and_the_others_are(
    scene: Scene, tmp_path: Path
) -> None:
    tamperer = Tamperer(scene.path)
    append("signed_off", "[1]")(tamperer)
    tamperer.finish()
    with open_store(scene.path) as laptop, open_store(tmp_path / "new.db") as shop:
        done = {delivery.job: (delivery.outcome, delivery.detail) for delivery in deliver(laptop, shop)}
    assert done["J1"][0] == done["J3"][0] == "sent"
    assert done["J2"][0] == "refused"
    assert "entry 13: altered: the data of this entry (signed_off) cannot be read" in done["J2"][1]
