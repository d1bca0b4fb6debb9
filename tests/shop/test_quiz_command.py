"""The quiz as it is met on the command line, its sign-off by a witness, and the progress after it."""

from __future__ import annotations

from pathlib import Path

from sayso.dialogue.advance import advance
from sayso.dialogue.codec import event_to_json
from sayso.dialogue.effects import Record, Say
from sayso.dialogue.events import Heard, VoiceFinished
from sayso.dialogue.step_questions import first_sentence
from sayso.procedure import read
from sayso.procedure.model import AskTorque
from sayso.record.store import open_store
from sayso.rehearsal import bench
from sayso.shop.learning_points import points_of
from sayso.shop.quiz import quiz_text, reviews_of, told_in
from tests.session.test_commands import sayso

BEARING = Path(__file__).parents[2] / "procedures" / "wren-48-wheel-bearing.yaml"
RIGHT = [point.right for point in points_of(read(BEARING))[:3]]
WITNESS = ("--witness", "2746=Rob Tarn", "--sign-off")


def quiz(home: Path, *typed: str, person: str = "Ann") -> tuple[str, str]:
    options = ("--person", person, "--typed", "--questions", "3", *WITNESS)
    done = sayso("quiz", str(BEARING), *options, typed="\n".join(typed) + "\n", home=home)
    return done.stdout, done.stderr


def test_a_quiz_is_asked_judged_signed_off_and_counted(tmp_path: Path) -> None:
    wrong = next(word for word in ("first", "second", "third") if word != RIGHT[1])
    said, told = quiz(tmp_path, RIGHT[0], wrong, "done", RIGHT[2], "two seven four six", "yes")
    assert "This is a quiz. Touch no machine while it runs." in said
    assert said.count("sayso> Right. ") == 2
    assert said.count("sayso> Not this time. ") == 1
    assert "The witness signs this off now" in said
    assert "2 of 3 right" in told
    shown = sayso("progress", "Ann", home=tmp_path).stdout
    assert "0 jobs, 1 quiz" in shown
    assert "signed off by Rob Tarn" in shown
    assert "1 job" in sayso("verify", home=tmp_path).stdout
    assert "rehearsed" not in sayso("jobs", home=tmp_path).stdout  # a typed quiz is a quiz all the same


def test_who_does_not_know_says_so_and_need_not_guess(tmp_path: Path) -> None:
    said, told = quiz(tmp_path, "i do not know", "done", RIGHT[1], RIGHT[2], "2746", "yes")
    assert said.count("sayso> Not this time. ") == 1
    assert "2 of 3 right" in told


def test_who_is_told_the_answer_and_stops_there_did_not_know_it(tmp_path: Path) -> None:
    """It counted only with the "done" after it: whoever said stop, or closed the lid, had nothing wrong."""
    wrong = next(word for word in ("first", "second", "third") if word != RIGHT[1])
    _, told = quiz(tmp_path, RIGHT[0], wrong, "stop", "yes")
    assert "1 of 2 right" in told


def test_who_is_told_the_answer_and_goes_back_to_give_it_did_not_know_it(tmp_path: Path) -> None:
    """Back to the question and the right answer there counted as known."""
    wrong = next(word for word in ("first", "second", "third") if word != RIGHT[0])
    for home, taken_back in ((tmp_path / "undo", "undo"), (tmp_path / "back", "back")):
        home.mkdir()
        said, told = quiz(home, wrong, taken_back, RIGHT[0], RIGHT[1], RIGHT[2], "stop", "yes")
        assert said.count("Say done when you have it.") == 1, said
        assert "1 of 2 right" in told


def test_a_changed_answer_leaves_nothing_to_undo_in_a_quiz(tmp_path: Path) -> None:
    """Whoever changed an answer was told of steps "done on the other way", and asked whether they were
    undone or kept: nothing is done in a quiz."""
    wrong = next(word for word in ("first", "second", "third") if word != RIGHT[0])
    typed = (RIGHT[0], RIGHT[1], "back", "back", wrong, "done", RIGHT[1], RIGHT[2], "2746", "yes")
    said, told = quiz(tmp_path, *typed)
    assert "other way" not in said
    assert "undone" not in said.lower()
    assert "still hold" not in said
    assert "2 of 3 right" in told


def test_a_quiz_of_the_sayso_before_this_one_goes_on_as_it_was_asked(tmp_path: Path) -> None:
    """Its journal says nothing of `only_said`, and holds the words of who was asked to undo or keep."""
    file = tmp_path / "quiz.yaml"
    points = points_of(read(BEARING))[:2]
    file.write_text(quiz_text(read(BEARING), [point.id for point in points]))
    begun = bench.settle(bench.start(read(file)))
    assert not begun.state.only_said
    wrong = next(word for word in ("first", "second", "third") if word != points[0].right)
    state = begun.state
    for words in (wrong, "undo", points[0].right):
        state, _ = advance(state, Heard(begun.at_ms, (words,), typed=True))
    assert [visit.step for visit in state.to_settle] == ["tell-0"]


def test_who_is_told_the_answer_takes_theirs_back_and_stops_did_not_know_it(tmp_path: Path) -> None:
    _, told = quiz(tmp_path, "tell me", "undo", "stop", "yes")
    assert "0 of 1 right" in told


def test_a_misheard_answer_that_is_taken_back_before_the_telling_counts_as_right(tmp_path: Path) -> None:
    """By voice the echo comes first ("Second."): who cuts in there has not heard the right answer. The
    telling may have begun; what was not heard to its end tells nothing."""
    file = tmp_path / "quiz.yaml"
    points = points_of(read(BEARING))[:2]
    file.write_text(quiz_text(read(BEARING), [point.id for point in points]))
    begun = bench.settle(bench.start(read(file)))
    wrong = next(word for word in ("first", "second", "third") if word != points[0].right)
    for heard_to_the_end, right in ((0, True), (1, True), (2, False), (3, False)):
        happened: list[tuple[str, dict[str, object]]] = []
        answered: list[tuple[str, int]] = []
        state = begun.state
        for words in (wrong, "undo", points[0].right, "undone", points[1].right):
            spoken = 0
            state, effects = advance(state, Heard(begun.at_ms, (words,), typed=True))
            happened += [(e.kind, dict(e.data)) for e in effects if isinstance(e, Record)]
            answered += [(e.data["step"], 1) for e in effects if isinstance(e, Record) and e.kind == "answer"]
            for effect in effects:
                if isinstance(effect, Say):
                    spoken += 1
                    finished = VoiceFinished(
                        begun.at_ms, effect.utterance, words == wrong and spoken > heard_to_the_end
                    )
                    happened.append(("event", event_to_json(finished)))
                    state, _ = advance(state, finished)
        reviews = reviews_of([point.id for point in points], answered, told_in(happened))
        assert [review.right for review in reviews][:1] == [right], heard_to_the_end


def test_a_torque_that_is_not_known_is_told_and_none_is_guessed(tmp_path: Path) -> None:
    points = points_of(read(BEARING))
    torque = next(point for point in points if isinstance(point.ask, AskTorque))
    for words in ("tell me", "I do not know", "no idea"):
        file = tmp_path / "quiz.yaml"
        file.write_text(quiz_text(read(BEARING), [torque.id, points[0].id]))
        begun = bench.settle(bench.start(read(file)))
        assert "Who does not know says tell me." in " ".join(begun.said)
        job = bench.hear(begun, words)
        (answer,) = (record.data for record in job.records if record.kind == "answer")
        assert (answer["value"], answer["said"]) == (0.0, words)
        assert job.said[:2] == ("Not known.", f"Not this time. {torque.tell}")
        # nought is a guess like any other, and read back
        assert bench.hear(begun, "zero newton metres").said == ("Zero newton metres. Yes?",)


def test_nobody_signs_off_their_own_quiz(tmp_path: Path) -> None:
    said, _ = quiz(tmp_path, *RIGHT, "2746", "yes", person="Rob Tarn")
    assert "The witness must be a second person." in said
    assert "signed off" not in sayso("progress", "Rob Tarn", home=tmp_path).stdout


def test_an_open_quiz_is_not_handed_over(tmp_path: Path) -> None:
    """A witness signs that the answers are one person's."""
    quiz(tmp_path, RIGHT[0])
    refused = sayso("resume", "--typed", "--person", "Bo", typed=f"{RIGHT[1]}\n", home=tmp_path)
    assert (refused.returncode, len(refused.stderr.splitlines())) == (2, 1)
    assert "is the quiz of Ann: it cannot be handed over" in refused.stderr
    gone_on = sayso("resume", "--typed", "--person", "ann", typed=f"{RIGHT[1]}\n", home=tmp_path)
    assert gone_on.returncode == 3, gone_on.stderr


def test_the_sign_off_is_an_entry_of_the_journal(tmp_path: Path) -> None:
    quiz(tmp_path, *RIGHT, "2746", "yes")
    (store,) = tmp_path.rglob("*.sqlite")
    with open_store(store, read_only=True) as record:
        (job,) = record.jobs()
        (signed,) = record.entries(job.job, kinds=("witness",))
    assert signed.data["name"] == "Rob Tarn"


def test_what_was_asked_today_is_not_asked_again_today(tmp_path: Path) -> None:
    first, _ = quiz(tmp_path, *RIGHT, "2746", "yes")
    again, _ = quiz(tmp_path)
    asked = first_sentence(first.split("Touch no machine while it runs.")[1].split("sayso> ")[1])
    assert asked
    assert asked not in again


def test_no_question_comes_up_twice_by_its_own_name(tmp_path: Path) -> None:
    said, _ = quiz(tmp_path, "done")
    assert "oint" not in said.split("Which one?")[1]  # never 'Point 0?'
    assert said.count("Which one?") == 2


def test_a_name_is_the_same_however_it_is_written_and_an_unknown_one_is_told_who_is_known(
    tmp_path: Path,
) -> None:
    quiz(tmp_path, *RIGHT, "2746", "yes")
    assert "0 jobs, 1 quiz" in sayso("progress", "ann", home=tmp_path).stdout
    assert (
        "no job or quiz of Bob in this record; it knows Ann" in sayso("progress", "Bob", home=tmp_path).stderr
    )
