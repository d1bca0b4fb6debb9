"""Whoever types is told what to type; whoever speaks is told what to say, in the same job too."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.dialogue.advance import advance
from sayso.dialogue.effects import Say
from sayso.dialogue.events import Event, Heard, KeyPressed
from sayso.procedure import read
from sayso.record.store import Store
from sayso.rehearsal import bench
from sayso.session.opening import JobOptions, read_procedure
from sayso.session.running import begun
from tests.session.typed_job import go_on, new_job

#: ask -> words for a keyboard that its third hint is made of, and an answer
ASKS = {
    '{serial: s, pattern: "[A-Z]{2}[0-9]{4}"}': ("Type its letters and digits as they are marked.", "HK1234"),
    "{measure: m, unit: V, plausible: [0, 60]}": ("Type it in figures, then the unit.", "48 V"),
    "{count: c, from: 1, to: 20}": ("Type it in figures.", "12"),
    "{count: c, from: 1, to: 9}": ("Type only the number, in figures.", "8"),
    "{torque: t, target: 9 N.m, within: 10 %}": ("Type it in figures, then the unit.", "9"),
    "{time: began}": ("Type the hour and the minutes, such as 14:30.", "14:30"),
}
FOR_A_VOICE = ("use the keys", "digit by digit", "letter by letter", "alfa", "speak", "listening", "end note")


def one_step(folder: Path, ask: str) -> Path:
    file = folder / "one.yaml"
    steps = f"steps:\n  - id: only\n    say: Look at the charger.\n    ask: {ask}\n"
    file.write_text(f"procedure: one\ntitle: One\nrevision: 1\n{steps}")
    return file


@pytest.mark.parametrize("ask", ASKS)
def test_who_types_is_told_what_to_type(store: Store, tmp_path: Path, ask: str) -> None:
    """A typed job said "use the keys" and "letter by letter, or by the alphabet: alfa, bravo"."""
    hint, answer = ASKS[ask]
    lines = ("foo", "", "foo", "foo", "foo", "help", answer, "yes")
    ended, told = new_job(store, read_procedure(one_step(tmp_path, ask), "en", {}), lines)
    assert ended.outcome == "complete", told
    assert hint in told
    assert not [words for words in FOR_A_VOICE if words in told.lower()], told


def test_a_note_that_is_typed_is_asked_for_as_that(store: Store, tmp_path: Path) -> None:
    procedure = read_procedure(one_step(tmp_path, "{note: n}"), "en", {})
    ended, told = new_job(store, procedure, ("the lid is cracked",))
    assert ended.outcome == "complete", told
    assert "Type the note in one line." in told
    assert "speak" not in told.lower()


def test_a_job_taken_up_at_a_keyboard_is_told_so_from_its_first_question(
    store: Store, tmp_path: Path
) -> None:
    procedure = read_procedure(one_step(tmp_path, "{note: n}"), "en", {})
    with begun(store, procedure, JobOptions()) as (job, first):
        assert [e.text for e in job.handle(first) if isinstance(e, Say)][-1].startswith("Speak the note")
    ended, told = go_on(store, None, ("the lid is cracked",))
    assert ended.outcome == "complete", told
    assert "Type the note in one line." in told
    assert "speak" not in told.lower()


def test_a_line_typed_in_a_job_by_voice_changes_no_later_question(tmp_path: Path) -> None:
    file = tmp_path / "two.yaml"
    steps = "steps:\n  - {id: a, say: Open it.}\n  - {id: b, say: Look., ask: {note: n}}\n"
    file.write_text(f"procedure: two\ntitle: Two\nrevision: 1\n{steps}")
    assert hints(file, Heard(9, ("done",), typed=True))[-1] == "Speak the note, then say end note."


def hints(file: Path, *events: Event) -> list[str]:
    """What is said after the last of the events."""
    state = bench.settle(bench.start(read(file))).state
    said: list[str] = []
    for event in events:
        state, effects = advance(state, event)
        said = [effect.text for effect in effects if isinstance(effect, Say)]
    return said


def test_who_speaks_is_told_what_to_say_also_after_typing_or_a_key(
    tmp_path: Path,
) -> None:
    file = one_step(tmp_path, "{count: c, from: 1, to: 20}")
    spoken, typed, key = Heard(9, ("foo",), 0.99), Heard(9, ("foo",), typed=True), KeyPressed(9, "repeat")
    assert hints(file, spoken, spoken, spoken) == ["Say it digit by digit, or use the keys."]
    assert hints(file, typed, typed, spoken) == ["Say it digit by digit, or use the keys."]
    assert hints(file, spoken, spoken, typed) == ["Type it in figures."]
    assert "Say it digit by digit, or use the keys." in hints(file, key, spoken, spoken, spoken)
