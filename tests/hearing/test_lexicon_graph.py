"""The lexicon graph that sayso writes is loaded by stock vosk, whatever words are in it."""

import hashlib
import json
from pathlib import Path

import pytest
import vosk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sayso.arpabet import ARPABET
from sayso.hearing.grammar import UNKNOWN
from sayso.hearing.lexicon_graph import (
    GraphCosts,
    build_graph,
    extended_model,
    has_own_layout,
    read_lexicon,
    write_graph,
)
from sayso.hearing.phones import LABELS
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.recordings import read_sound, to_pcm
from sayso.hearing.speech_model import SpeechModel, load_model, with_words

from .conftest import Say

pronunciation = st.lists(st.sampled_from(ARPABET), min_size=1, max_size=7).map(tuple)
lexicons = st.dictionaries(
    st.text("abcdefghijklmnop'", min_size=1, max_size=9),
    st.lists(pronunciation, min_size=1, max_size=3, unique=True),
    min_size=1,
    max_size=60,
)


def _links(origin: Path, target: Path) -> None:
    target.mkdir()
    for name in ("am", "conf"):
        (target / name).symlink_to(origin / name, target_is_directory=True)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lexicons)
def test_stock_vosk_loads_any_lexicon_and_finds_every_word(
    model: SpeechModel, tmp_path_factory: pytest.TempPathFactory, lexicon: dict[str, list[tuple[str, ...]]]
) -> None:
    directory = tmp_path_factory.mktemp("lexicon") / "m"
    _links(model.path, directory)
    write_graph(directory, lexicon, GraphCosts())
    vosk.SetLogLevel(-1)
    loaded = vosk.Model(str(directory))
    assert all(loaded.vosk_model_find_word(word) >= 0 for word in (*lexicon, UNKNOWN))
    recogniser = vosk.KaldiRecognizer(loaded, 16000, json.dumps([next(iter(lexicon)), UNKNOWN]))
    recogniser.AcceptWaveform(bytes(16000))  # decodes without a crash
    recogniser.FinalResult()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lexicons, st.floats(0, 12), st.floats(0, 5), st.floats(0.05, 0.95), st.data())
def test_what_was_written_is_read_back_the_same(
    tmp_path_factory: pytest.TempPathFactory,
    lexicon: dict[str, list[tuple[str, ...]]],
    word: float,
    unknown: float,
    silence: float,
    data: st.DataObject,
) -> None:
    directory = tmp_path_factory.mktemp("read")
    said = [(spelling, phones) for spelling, several in lexicon.items() for phones in several]
    variants = data.draw(st.dictionaries(st.sampled_from(said), st.floats(0.01, 9)))
    write_graph(directory, lexicon, GraphCosts(word, unknown, silence, variants=variants))
    again, costs = read_lexicon(directory)
    assert {w: sorted(p) for w, p in again.items()} == {w: sorted(p) for w, p in lexicon.items()}
    assert costs.word == pytest.approx(word, abs=1e-3)
    assert costs.unknown == pytest.approx(unknown, abs=1e-3)
    assert costs.silence_probability == pytest.approx(silence, abs=1e-3)
    assert costs.variants == pytest.approx(variants, abs=1e-3)


def test_what_few_say_for_a_word_takes_less_from_another_one(model: SpeechModel, tmp_path: Path) -> None:
    """A "no" of AN4's test part between two words said so: the one whose way of saying it costs loses."""
    lexicon = {"no": [("N", "OW")], "know": [("N", "OW")]}
    said = to_pcm(read_sound(Path(__file__).parents[1] / "recordings" / "an402-mdms2-b.flac"))
    vosk.SetLogLevel(-1)
    for costly, wins in (("no", "know"), ("know", "no")):
        directory = tmp_path / costly
        _links(model.path, directory)
        write_graph(directory, lexicon, GraphCosts(word=1.0, variants={(costly, ("N", "OW")): 2.0}))
        recogniser = vosk.KaldiRecognizer(vosk.Model(str(directory)), 16000, json.dumps(list(lexicon)))
        recogniser.AcceptWaveform(said)
        assert json.loads(recogniser.FinalResult())["text"] == wins


def test_the_shipped_model_is_in_our_layout(model: SpeechModel) -> None:
    assert has_own_layout(model.path / "graph" / "HCLr.fst")
    assert model.rebuildable


def test_the_shipped_phone_table_is_ours(model: SpeechModel) -> None:
    lines = (model.path / "graph" / "phones.txt").read_text().split("\n")
    assert [line.split()[0] for line in lines[1 : len(LABELS) + 1]] == [name for name, _ in LABELS]


def test_a_file_that_is_no_graph_is_not_taken_for_ours(tmp_path: Path) -> None:
    (tmp_path / "HCLr.fst").write_bytes(b"nothing of the kind" * 10)
    assert not has_own_layout(tmp_path / "HCLr.fst")


@pytest.mark.parametrize(
    ("lexicon", "wrong"),
    [({"wren": [("R", "EH", "Q")]}, "'Q' is no ARPAbet phone"), ({"wren": []}, "no pronunciation")],
)
def test_a_word_that_cannot_be_said_is_named(lexicon: dict[str, list[tuple[str, ...]]], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        build_graph(lexicon, GraphCosts())


def test_adding_a_word_leaves_the_shipped_model_untouched(model: SpeechModel, tmp_path: Path) -> None:
    def digest() -> str:
        files = sorted(p for p in model.path.rglob("*") if p.is_file())
        return hashlib.sha256(b"".join(p.read_bytes() for p in files)).hexdigest()

    before = digest()
    taught = with_words(model, {"zorblat": ("Z AO R B L AE T",)}, tmp_path)
    assert taught.knows("zorblat")
    assert taught.knows("yes")
    assert not model.knows("zorblat")
    assert taught.added_words == ("zorblat",)
    assert taught.name == model.name
    assert digest() == before


def test_the_same_words_again_come_from_the_cache(model: SpeechModel, tmp_path: Path) -> None:
    words = {"zorblat": ("Z AO R B L AE T",)}
    first = extended_model(model.path, model.path, words, tmp_path)
    made = (first / "graph" / "HCLr.fst").stat().st_mtime_ns
    assert extended_model(model.path, model.path, words, tmp_path) == first
    assert (first / "graph" / "HCLr.fst").stat().st_mtime_ns == made
    assert [p for p in tmp_path.iterdir() if p.name.startswith(".making")] == []


def test_words_can_be_added_to_a_model_that_was_added_to(model: SpeechModel, tmp_path: Path) -> None:
    one = with_words(model, {"zorblat": ("Z AO R B L AE T",)}, tmp_path)
    two = with_words(one, {"kibblewick": ("K IH B AH L W IH K",)}, tmp_path)
    assert two.knows("zorblat")
    assert two.knows("kibblewick")
    assert two.added_words == ("zorblat", "kibblewick")


def test_an_invented_word_is_heard_once_it_has_been_taught(
    model: SpeechModel, say: Say, tmp_path: Path
) -> None:
    taught = with_words(model, {"kibblewick": ("K IH B AH L W IH K",)}, tmp_path)
    recogniser = Recogniser(taught)
    recogniser.listen(["kibblewick", "seven"])
    recogniser.accept(say("kibblewick"))
    assert recogniser.finish().text == ("kibblewick",)


def test_the_extended_model_loads_by_its_directory(model: SpeechModel, tmp_path: Path) -> None:
    directory = extended_model(model.path, model.path, {"zorblat": ("Z AO R",)}, tmp_path)
    assert load_model(directory).knows("zorblat")
