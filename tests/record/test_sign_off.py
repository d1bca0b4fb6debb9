"""The lead hand signs deviations off later: a new entry each, who, when and why; nothing is altered."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from sayso.dialogue.effects import Record
from sayso.record import Store, open_store
from sayso.record.chain import follow
from sayso.record.deliver import deliver
from sayso.record.errors import JobInUseError, ReadOnlyError, RecordError
from sayso.record.export import rows_of
from sayso.record.report import ReportOptions, render
from sayso.record.seal import new_key, read_key, seal
from sayso.record.shop_roles import make_roles
from sayso.record.sign_off import sign_off, signer_by_code, signer_by_key, to_sign, who_may_sign
from sayso.record.story_telling import story_of
from sayso.record.verify import verify
from tests.record.conftest import PostgresServer
from tests.record.done_jobs import START_MS, do_job
from tests.record.test_commands import sayso
from tests.record.test_store import begin, heard

HOUR_MS = 3_600_000


@pytest.fixture
def done(store: Store) -> tuple[Store, str]:
    """A job that ended with a deviation that stands: it was stopped at an unknown plug."""
    return store, do_job(store, known={"pins": "9"})


@pytest.fixture
def shop(postgres_server: PostgresServer) -> Iterator[Store]:
    with open_store(postgres_server.new_database("signed")) as store:
        yield store


def test_the_export_tells_a_job_that_was_not_finished_and_who_signed_that(done: tuple[Store, str]) -> None:
    """Only deviations of values had a row: the table looked as if nobody had signed."""
    store, job = done
    (deviation,) = to_sign(store, job)
    (row,) = [row for row in rows_of(store, [job]) if row["row"] == "not finished"]
    assert (row["seq"], row["step"], row["signed_by"]) == (deviation.seq, "call-lead", "")
    assert row["text"] == row["outcome"] == "stopped, lead hand called"
    sign_off(store, job, [deviation.seq], signer_by_code(store, job, "2746"), "Maker asked.")
    (row,) = [row for row in rows_of(store, [job]) if row["row"] == "not finished"]
    assert (row["signed_by"], row["signed_why"]) == ("R Tarn", "Maker asked.")


def test_who_may_sign_is_who_has_a_code_in_this_job(done: tuple[Store, str]) -> None:
    store, job = done
    assert {(name, role) for _, name, role in who_may_sign(store, job)} == {
        ("R Tarn", "lead hand"),
        ("L Osk", "lead hand"),
        ("Meg Hale", ""),
    }
    assert signer_by_code(store, job, "27 46").name == "R Tarn"
    with pytest.raises(RecordError, match="that code is not known"):
        signer_by_code(store, job, "1111")


def test_a_sign_off_is_a_new_entry_and_alters_none(done: tuple[Store, str]) -> None:
    store, job = done
    before = store.entries(job)
    (deviation,) = to_sign(store, job)
    assert deviation.kind == "not finished"
    rows = sign_off(
        store,
        job,
        [deviation.seq],
        signer_by_code(store, job, "2746"),
        "Unknown plug, maker asked.",
        at_ms=START_MS + HOUR_MS * 24,
    )
    after = store.entries(job)
    assert after[: len(before)] == before
    assert after[len(before) :] == rows
    assert rows[0].data["entry_hash"] == before[deviation.seq].hash
    story = story_of(after)
    assert story.unsigned_deviations == []
    (signed,) = [d.signed for d in story.open_deviations]
    assert signed is not None
    assert (signed.name, signed.role, signed.why, signed.at_ms) == (
        "R Tarn",
        "lead hand",
        "Unknown plug, maker asked.",
        START_MS + HOUR_MS * 24,
    )
    assert story.ended_ms == before[-1].at_ms
    assert verify(store).sound
    with pytest.raises(RecordError, match="no deviation that waits"):
        sign_off(store, job, [deviation.seq], signer_by_code(store, job, "3951"), "Once more.")


def test_the_report_shows_open_and_signed_deviations(done: tuple[Store, str]) -> None:
    store, job = done
    (deviation,) = to_sign(store, job)
    page = render(store, job)
    assert "1 stands without a signature." in page
    assert "stands, not signed off" in page
    sign_off(store, job, [deviation.seq], signer_by_code(store, job, "2746"), "Seen <by me>.")
    page = render(store, job)
    assert "1 is signed off." in page
    assert "Signed off by <strong>R Tarn</strong>, lead hand" in page
    assert "Seen &lt;by me&gt;." in page
    hidden = render(store, job, ReportOptions(anonymous=True, text=False))
    assert "R Tarn" not in hidden
    assert "Signed off by <strong>person" in hidden


def test_the_export_says_who_signed_a_value_of_a_job_that_is_still_open(store: Store) -> None:
    job = do_job(store, known={"link_voltage": "9"}, stop_after=70)
    first, *others = to_sign(store, job)
    assert first.given is not None
    assert first.given.name == "link_voltage"
    sign_off(store, job, [first.seq], signer_by_code(store, job, "4471"), "The lead is being changed.")
    signed = [
        (row["row"], row["text"], row["signed_why"]) for row in rows_of(store, [job]) if row["signed_by"]
    ]
    assert signed == [("deviation", "9", "The lead is being changed.")]
    assert [d.seq for d in to_sign(store, job)] == [d.seq for d in others]


def test_nobody_signs_their_own_work_nor_without_a_reason(done: tuple[Store, str], tmp_path: Path) -> None:
    store, job = done
    (deviation,) = to_sign(store, job)
    new_key(tmp_path / "shop.pem")
    key = read_key(tmp_path / "shop.pem")
    with pytest.raises(RecordError, match="Ada Finch did this job"):
        signer_by_key(store, job, "ada  finch", key)
    with pytest.raises(RecordError, match="say why"):
        sign_off(store, job, [deviation.seq], signer_by_code(store, job, "2746"), "  ")
    assert to_sign(store, job) == [deviation]


def test_with_the_shops_key_the_signature_stands_in_the_entry(
    done: tuple[Store, str], tmp_path: Path
) -> None:
    store, job = done
    (deviation,) = to_sign(store, job)
    public = new_key(tmp_path / "shop.pem")
    signer = signer_by_key(store, job, "I Holt", read_key(tmp_path / "shop.pem"))
    (row,) = sign_off(store, job, [deviation.seq], signer, "Agreed.")
    assert row.data["public_key"] == public
    assert verify(store).sound
    assert "with the shop&#39;s key" in render(store, job) or "with the shop's key" in render(store, job)


def test_a_sign_off_put_on_another_entry_or_with_a_false_signature_is_found(
    done: tuple[Store, str], tmp_path: Path
) -> None:
    store, job = done
    (deviation,) = to_sign(store, job)
    new_key(tmp_path / "shop.pem")
    signer = signer_by_key(store, job, "I Holt", read_key(tmp_path / "shop.pem"))
    (row,) = sign_off(store, job, [deviation.seq], signer, "Agreed.")
    for changes, told in (
        ({"name": "S Body"}, "the signature in it is false"),
        ({"entry": 3}, "it signs an entry that is not there, or another one"),
    ):
        (found,) = faults_of_forged(store, job, {**row.data, **changes}, tmp_path)
        assert told in found


def faults_of_forged(store: Store, job: str, data: dict[str, object], folder: Path) -> list[str]:
    """What verify says of a copy to which a sign-off with a right hash was appended by hand, as only somebody
    with the file can; all of it is of that entry and of the kind "sign-off"."""
    head = store.entries(job)[-1]
    forged = follow(job, head.seq + 1, head.at_ms, "signed_off", data, head.hash)
    copy = folder / f"{len(list(folder.iterdir()))}.sqlite"
    assert store.path is not None
    with sqlite3.connect(store.path) as source, sqlite3.connect(copy) as target:
        source.backup(target)
        target.execute(
            "INSERT INTO entries VALUES (:job, :seq, :at_ms, :kind, :data, :prev, :hash)", forged.as_row()
        )
    with open_store(copy, read_only=True) as other:
        faults = verify(other, job).faults
    assert {(fault.kind, fault.seq) for fault in faults} <= {("sign-off", forged.seq)}
    return [fault.what for fault in faults]


def test_a_sign_off_appended_by_hand_is_found_by_who_could_not_have_made_it(
    done: tuple[Store, str], tmp_path: Path
) -> None:
    store, job = done
    (deviation,) = to_sign(store, job)
    sound = {
        "entry": deviation.seq,
        "entry_hash": store.entries(job)[deviation.seq].hash,
        "step": deviation.step,
        "name": "R Tarn",
        "role": "lead hand",
        "how": "code",
        "why": "Agreed.",
    }
    other = store.entries(job)[3]
    assert faults_of_forged(store, job, sound, tmp_path) == []
    for changes, told in (
        ({"name": "B Nobody"}, "nobody of the name B Nobody had a code in this job"),
        ({"name": "Ada Finch"}, "Ada Finch worked on this job, and nobody signs off their own"),
        ({"name": " "}, "nobody is named who signed"),
        ({"how": "nod"}, "nobody can sign by 'nod'"),
        ({"entry": 3, "entry_hash": other.hash}, "entry 3 was no deviation that waited for a signature"),
    ):
        assert faults_of_forged(store, job, sound | changes, tmp_path) == [told]
    sign_off(store, job, [deviation.seq], signer_by_code(store, job, "2746"), "Agreed.")
    told = f"entry {deviation.seq} was no deviation that waited for a signature"
    assert faults_of_forged(store, job, sound, tmp_path) == [told]


def test_a_sign_off_by_another_key_than_the_shops_is_found_where_the_shops_is_known(
    done: tuple[Store, str], tmp_path: Path
) -> None:
    store, job = done
    (deviation,) = to_sign(store, job)
    shops, other = (new_key(tmp_path / f"{name}.pem") for name in ("shop", "other"))
    sign_off(
        store,
        job,
        [deviation.seq],
        signer_by_key(store, job, "I Holt", read_key(tmp_path / "other.pem")),
        "Agreed.",
    )
    for key in ("shop", "other"):
        seal(store, job, read_key(tmp_path / f"{key}.pem"))
    assert verify(store, job).sound
    assert verify(store, job, trusted_keys=[other]).sound
    (fault,) = verify(store, job, trusted_keys=[shops]).faults
    assert (fault.kind, fault.what) == ("sign-off", "it is signed by a key that is not trusted")


def test_a_job_that_is_being_run_is_not_signed_meanwhile_and_an_open_one_goes_on_after(store: Store) -> None:
    from sayso.dialogue.events import Heard
    from sayso.session.opening import resume_job

    job = do_job(store, stop_after=3)
    running = store.resume(job)
    with pytest.raises(JobInUseError):
        sign_off(store, job, [1], signer_by_code(store, job, "2746"), "No.")
    running.close()
    # A value out of limits in a job that is still open is signed, and the job goes on to its next entry.
    again = resume_job(store, job)
    head = again.journal.head  # type: ignore[attr-defined]
    again.handle(Heard(START_MS + HOUR_MS, ("hold",), 1.0))
    again.journal.close()
    assert store.head(job).seq > head.seq
    assert verify(store).sound


def test_sign_offs_reach_the_shop_and_those_made_there_are_no_fault(
    done: tuple[Store, str], shop: Store
) -> None:
    laptop, job = done
    (deviation,) = to_sign(laptop, job)
    deliver(laptop, shop)
    sign_off(shop, job, [deviation.seq], signer_by_code(shop, job, "2746"), "Signed in the office.")
    assert verify(shop).sound
    again = deliver(laptop, shop)
    assert [d.outcome for d in again] == ["already there"]
    assert verify(laptop, against=shop).sound
    assert verify(shop, against=laptop).sound


def test_a_sign_off_on_the_laptop_is_delivered_later(done: tuple[Store, str], shop: Store) -> None:
    laptop, job = done
    (deviation,) = to_sign(laptop, job)
    deliver(laptop, shop)
    sign_off(laptop, job, [deviation.seq], signer_by_code(laptop, job, "2746"), "Signed at the machine.")
    assert [d.outcome for d in deliver(laptop, shop)] == ["sent"]
    assert story_of(shop.entries(job)).unsigned_deviations == []


def test_the_leads_login_signs_off_and_can_add_nothing_else(
    done: tuple[Store, str], shop: Store, postgres_server: PostgresServer
) -> None:
    laptop, job = done
    deliver(laptop, shop)
    make_roles(shop)
    with shop.writing() as connection:
        connection.exec_driver_sql("DROP ROLE IF EXISTS lead_1")
        connection.exec_driver_sql("CREATE USER lead_1 IN ROLE sayso_lead")
    with open_store(postgres_server.address("signed", user="lead_1")) as as_lead:
        (deviation,) = to_sign(as_lead, job)
        sign_off(as_lead, job, [deviation.seq], signer_by_code(as_lead, job, "2746"), "Signed at the desk.")
        with pytest.raises(ReadOnlyError, match="may not do that"):
            as_lead.start("L1", "p", "t", 1, "0" * 64, "text")
        # the end of a job that a bay began: the table's right alone would let it in
        with begin(shop, "B1") as journal:
            journal.commit(heard(2_000, "nine"))
        with (
            as_lead.resume("B1") as by_lead,
            pytest.raises(ReadOnlyError, match="signs off and adds nothing else"),
        ):
            by_lead.commit(heard(3_000, "done"), [Record("ended", {"outcome": "complete"})])
        assert [entry.kind for entry in shop.entries("B1")] == ["opened", "event"]
    assert to_sign(shop, job) == []


def test_by_the_command_the_code_is_read_from_the_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SAYSO_STORE", str(tmp_path / "jobs.sqlite"))
    with open_store(tmp_path / "jobs.sqlite") as store:
        job = do_job(store, known={"pins": "9"})
    code, out, _ = sayso(capsys, "sign-off", "--list")
    assert code == 0
    assert "1 deviation to sign off" in out
    assert "Not finished: stopped, lead hand called (step call-lead)" in out
    monkeypatch.setattr("sys.stdin", io.StringIO("9999\n"))
    code, _, err = sayso(capsys, "sign-off", "--all", "--why", "Seen.")
    assert (code, "that code is not known" in err) == (2, True)
    monkeypatch.setattr("sys.stdin", io.StringIO("2746\n"))
    code, out, _ = sayso(capsys, "sign-off", "--all", "--why", "Seen.")
    assert code == 0
    assert "signed off by R Tarn" in out
    assert "2746" not in out
    code, out, _ = sayso(capsys, "sign-off", job)
    assert (code, "no deviations to sign off" in out) == (0, True)


def test_a_step_skipped_and_then_done_after_all_is_put_right() -> None:
    """Skipped by a slip, taken back, done: nothing stands that anybody would have to sign."""
    from sayso.record.chain import NOTHING_BEFORE

    rows, prev = [], NOTHING_BEFORE
    for seq, (kind, data) in enumerate(
        (
            ("opened", {}),
            ("step_entered", {"step": "clean", "visit": 0}),
            ("skipped", {"step": "clean", "visit": 0, "name": "clean", "reason": "no tool"}),
            ("answer_undone", {"step": "clean", "visit": 0, "was": {"skipped": "no tool"}}),
            ("answer", {"step": "clean", "visit": 0, "name": "clean", "kind": "done", "value": True}),
            ("ended", {"outcome": "complete"}),
        )
    ):
        rows.append(follow("j", seq, seq * 1000, kind, data, prev))
        prev = rows[-1].hash
    story = story_of(rows)
    assert [d.kind for d in story.deviations] == ["skipped"]
    assert story.unsigned_deviations == []
