"""Talk that is not meant for sayso: what counts as taken, and that hardly any of it is."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest

from sayso.bench.overheard import Taken, job_text, overhear, read_job, taken
from sayso.bench.talk import VOICES, room_response, talk
from sayso.dialogue.events import Event, Heard, NoMatch, Started, VoiceFinished
from sayso.hearing.grammar import Grammar
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.recordings import RATE, to_pcm
from sayso.session.taught_model import taught_model

RECORDINGS = Path(__file__).parents[1] / "recordings"


def what(folder: Path, kind: str, *events: Event) -> list[tuple[str, str]]:
    found = read_job(job_text(kind), folder)
    return [(one.what, one.words) for one in taken(found, (Started(0, "job"), *events))]


def heard(words: str, *, typed: bool = False, confidence: float = 1.0) -> Heard:
    return Heard(10, tuple(words.split()), confidence, typed=typed)


def test_an_answer_out_of_talk_is_an_answer_that_nobody_gave(tmp_path: Path) -> None:
    assert what(tmp_path, "done", heard("done")) == [("answer", "done")]


def test_an_order_out_of_talk_is_an_order_that_nobody_gave(tmp_path: Path) -> None:
    assert what(tmp_path, "done", heard("why"), heard("hold")) == [("order", "why"), ("order", "hold")]


def test_what_sayso_asks_about_first_does_no_harm_yet(tmp_path: Path) -> None:
    assert what(tmp_path, "serial", heard("hotel kilo one two three four")) == [
        ("asked back", "hotel kilo one two three four")
    ]
    assert what(tmp_path, "done", heard("stop")) == [("asked back", "stop")]
    denied = what(tmp_path, "serial", heard("hotel kilo one two three four"), heard("no"))
    assert [kind for kind, _ in denied] == ["asked back", "asked back"]


def test_a_guess_at_talk_is_asked_back_and_what_it_was_is_told(tmp_path: Path) -> None:
    spoken = [VoiceFinished(9, utterance, False) for utterance in range(1, 6)]
    talked = (*spoken, NoMatch(10, offers=(("seven",),)), NoMatch(11), NoMatch(12, offers=(("eight",),)))
    assert what(tmp_path, "count", heard("ready", typed=True), *talked) == [("asked back", "seven")]


def test_words_that_are_no_answer_typed_ones_and_talk_while_on_hold_are_not_taken(tmp_path: Path) -> None:
    assert what(tmp_path, "done", heard("talk the danger"), NoMatch(11), heard("done", typed=True)) == []
    assert what(tmp_path, "done", heard("hold", typed=True), heard("done"), heard("repeat")) == []


def test_a_wake_phrase_out_of_talk_is_an_order_that_nobody_gave(tmp_path: Path) -> None:
    events = (heard("hold", typed=True), heard("carry on"))
    assert what(tmp_path, "done", *events) == [("order", "carry on")]


def test_the_two_halves_of_the_talk_share_no_voice_and_no_words(tmp_path: Path) -> None:
    assert not set(VOICES["A"]) & set(VOICES["B"])
    texts = []
    for half in ("A", "B"):
        made = talk(half, 1.5, 3, tmp_path / half, RECORDINGS)
        texts.append({one.text for one in made.said if len(one.text.split()) > 3})
    assert texts[0]
    assert not texts[0] & texts[1]


def test_the_same_seed_makes_the_same_talk(tmp_path: Path) -> None:
    first, again = (talk("A", 0.5, 4, tmp_path) for _ in range(2))
    assert np.array_equal(first.sound, again.sound)


@pytest.mark.parametrize("rt60_s", [0.2, 0.5, 1.0])
def test_a_room_falls_by_60_db_in_its_reverberation_time(rt60_s: float) -> None:
    """ISO 3382 (from memory): by Schroeder's backward integration, here between -5 and -35 dB."""
    tail = room_response(np.random.default_rng(1), rt60_s, 0.0)[RATE // 200 :]
    left = 10 * np.log10(np.cumsum((tail**2)[::-1])[::-1] / (tail**2).sum())
    t30 = (np.argmax(left < -35) - np.argmax(left < -5)) / RATE * 2
    assert t30 == pytest.approx(rt60_s, rel=0.1)


def test_a_job_that_is_fed_listens_for_denied_orders_as_a_real_one_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    listened_for: list[tuple[str, ...]] = []
    real = Recogniser.listen

    def watched(self: Recogniser, phrases: Iterable[str], decoys: Iterable[str] = ()) -> Grammar:
        listened_for.append(tuple(decoys))
        return real(self, phrases, decoys)

    monkeypatch.setattr(Recogniser, "listen", watched)
    found = read_job(job_text("done"), tmp_path)
    overhear(taught_model(None, found), found, bytes(RATE), held=False)
    assert {"don't stop", "not done", "never done"} <= set(listened_for[-1])


@pytest.mark.parametrize("held", [False, True])
def test_a_minute_of_talk_drives_no_job(held: bool, tmp_path: Path) -> None:
    """The bar is two an hour; a minute in which two are taken misses it by a factor of sixty."""
    found = read_job(job_text("done"), tmp_path)
    made = talk("A", 1.0, 2, tmp_path / "speech", RECORDINGS)
    events, _ = overhear(taught_model(None, found), found, to_pcm(made.sound), held=held)
    got: list[Taken] = list(taken(found, events))
    assert any(isinstance(event, NoMatch) for event in events)
    assert len([one for one in got if one.what != "asked back"]) <= 1
