"""Exports say the same as the record, read back by libraries that are not ours (csv, DuckDB on Parquet)."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from sayso.record import RecordError, Store, open_store
from sayso.record.chain import canonical, digest
from sayso.record.export import COLUMNS, as_csv, as_json, export, rows_of
from sayso.record.names import Pseudonyms
from sayso.record.story_telling import story_of
from sayso.session.opening import JobOptions
from tests.record.done_jobs import do_job


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, list[str]]]:
    with open_store(tmp_path_factory.mktemp("export") / "r.db") as store:
        do_job(store)
        do_job(store, seed=12, mishaps=0.3, note=True)
        yield store, [row.job for row in store.jobs()]


def test_csv_has_a_row_for_every_answer_and_deviation(shop: tuple[Store, list[str]]) -> None:
    store, names = shop
    rows = list(csv.DictReader(io.StringIO(as_csv(rows_of(store, names)).decode("utf-8"))))
    assert list(rows[0]) == list(COLUMNS)
    for name in names:
        story = story_of(store.entries(name))
        mine = [row for row in rows if row["job"] == name]
        assert sum(row["row"] == "answer" for row in mine) == len(story.answers)
        assert sum(row["row"] == "deviation" for row in mine) == len(story.deviations)
        # a first reading out of limits and the answer that put it right are told to be of one visit
        answered = {(row["visit"], row["step"]) for row in mine if row["row"] != "deviation"}
        assert {(row["visit"], row["step"]) for row in mine if row["row"] == "deviation"} <= answered
        torque = next(row for row in mine if row["name"] == "cable_u" and row["row"] == "answer")
        given = next(answer for answer in story.answers if answer.name == "cable_u")
        assert float(torque["number"]) == given.value
        assert (torque["unit"], torque["target"], torque["within"]) == ("N.m", "24", "true")
        assert torque["hash"] == store.entries(name)[given.seq].hash


def test_every_column_is_documented_and_used(shop: tuple[Store, list[str]]) -> None:
    store, names = shop
    filled: set[str] = set()
    for row in rows_of(store, names):
        assert list(row) == list(COLUMNS)
        for name, value in row.items():
            if value is not None:
                kind = COLUMNS[name][0]
                assert isinstance(value, (int, float) if kind is float else kind), (name, value)
                filled.add(name)
    assert set(COLUMNS) - filled <= {"said_number"}
    assert all(len(meaning) > 3 for _, meaning in COLUMNS.values())


def test_parquet_read_by_duckdb_gives_the_same_rows(shop: tuple[Store, list[str]], tmp_path: Path) -> None:
    store, names = shop
    path = export(store, names, tmp_path / "jobs.parquet", "parquet")
    rows = list(rows_of(store, names))
    database = duckdb.connect()
    read = database.execute(f"SELECT * FROM read_parquet('{path}')").fetchall()
    assert [dict(zip(COLUMNS, row, strict=True)) for row in read] == rows
    types = dict(
        database.execute(f"SELECT column_name, column_type FROM (DESCRIBE FROM '{path}')").fetchall()
    )
    wanted = {str: "VARCHAR", int: "BIGINT", float: "DOUBLE", bool: "BOOLEAN"}
    assert types == {name: wanted[kind] for name, (kind, _) in COLUMNS.items()}


def test_json_lets_anybody_check_the_chain(shop: tuple[Store, list[str]]) -> None:
    store, names = shop
    out = json.loads(as_json(store, names))
    for job in out["jobs"]:
        prev = "0" * 64
        for entry in job["entries"]:
            assert entry["prev"] == prev
            prev = entry.pop("hash")
            assert digest(canonical(entry)) == prev
        assert prev == job["head"] == store.head(job["job"]).hash


def test_an_anonymous_export_has_no_name_no_code_and_no_voice(store: Store) -> None:
    people = JobOptions("Wren 48 no. 17", "Ada Finch", "2", witnesses=(("4471", "Meg Hale"),))
    one = do_job(store, note=True, options=people)
    two = do_job(store, seed=3, options=JobOptions("Wren 48 no. 18", "Bo Lind", "1"))
    text = as_json(store, [one, two], anonymous=True).decode()
    assert "codes:" in text, "the text that was run is in it, and in that who may release a hold point"
    text += as_csv(rows_of(store, [one, two], anonymous=True)).decode()
    for secret in ("Ada", "Finch", "Meg", "Hale", "Tarn", "Bo Lind", "4471", "2746", "two seven four six"):
        assert not re.search(rf"\b{secret}\b", text, re.IGNORECASE), secret
    for clip in store.entries(one, kinds=("note",)):
        assert clip.data["clip"] not in text
    rows = list(rows_of(store, [one, two], anonymous=True))
    people_of = {row["job"]: row["person"] for row in rows}
    witnesses = {row["text"] for row in rows if row["kind"] == "witness"}
    assert len({*people_of.values(), *witnesses}) == 3, "two technicians and one lead hand"
    assert all(re.fullmatch(r"person \d", name) for name in (*people_of.values(), *witnesses))
    (started,) = store.entries(one, kinds=("started",))
    assert started.data["person"] == "Ada Finch"


def test_a_pseudonym_is_kept_over_spelling() -> None:
    names = Pseudonyms()
    assert names.of("Ada  Finch") == names.of("ada finch") == "person 1"
    assert names.of("Bo") == "person 2"
    assert names.of("") == ""


def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless(store: Store) -> None:
    job = do_job(store, stop_after=30, options=JobOptions('=HYPERLINK("http://x")', "+Ada", "@2"))
    line = as_csv(rows_of(store, [job])).decode().splitlines()[1]
    assert "'=HYPERLINK" in line
    assert ",'+Ada," in line


def test_an_unknown_job_or_folder_is_one_clear_error(shop: tuple[Store, list[str]], tmp_path: Path) -> None:
    store, names = shop
    with pytest.raises(RecordError, match="not in this record"):
        export(store, ["J9"], tmp_path / "x.csv", "csv")
    with pytest.raises(RecordError, match="cannot be written"):
        export(store, names, tmp_path / "missing" / "x.json", "json")
    assert list(tmp_path.iterdir()) == []
