"""The quiz command: chooses what to ask, writes the quiz as a procedure, and runs it like any job."""

from __future__ import annotations

import shlex
import sys
import tempfile
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.session.devices import Devices
from sayso.session.errors import UserError
from sayso.session.job_options import (
    HeadsetOption,
    MicrophoneOption,
    SpeakerOption,
    StoreOption,
    WitnessOption,
    job_options,
)
from sayso.session.job_runs import (
    do_by_voice,
    do_typed,
    open_record,
    store_as_typed,
    told_what_to_do_without_sound,
)
from sayso.session.places import find_procedure
from sayso.session.quiet import quiet_libraries

if TYPE_CHECKING:
    from sayso.shop.schedule import Review

#: Twelve questions take some five minutes; with fewer a day less is kept (figures: python -m
#: tests.shop.simulated_class).
QUESTIONS = 12


def quiz(
    procedure: Annotated[str, typer.Argument(help="The procedure to be asked about.")],
    person: Annotated[str, typer.Option(help="Who learns.")],
    questions: Annotated[int, typer.Option(min=1, max=100, help="At most so many.")] = QUESTIONS,
    sign_off: Annotated[bool, typer.Option("--sign-off", help="A witness closes the quiz.")] = False,
    typed: Annotated[bool, typer.Option("--typed", help="On the keyboard.")] = False,
    store: StoreOption = None,
    witness: WitnessOption = None,
    headset: HeadsetOption = False,
    device: MicrophoneOption = None,
    speaker: SpeakerOption = None,
) -> None:
    """A short oral quiz on a procedure: what is due again first, then what is new. No machine is touched."""
    from sayso.record.file_names import file_name
    from sayso.session.opening import read_procedure
    from sayso.shop.learning_points import points_of
    from sayso.shop.progress import reviews_of_person
    from sayso.shop.quiz import quiz_text
    from sayso.shop.schedule import known_points, to_ask

    found = read_procedure(find_procedure(procedure), "en", {})
    points = [point.id for point in points_of(found)]
    if not points:
        raise UserError(f"{found.file}: nothing to ask about; give its steps a 'why', a torque or a branch")
    with open_record(store) as record:
        known_before = reviews_of_person(record, person)
    known = known_points(known_before)
    chosen = to_ask(points, known, datetime.now(UTC), questions)
    if not chosen:
        next_due = min(known[point].due for point in points if point in known).astimezone()
        print(f"sayso: {person} knows all {len(points)} points; next on {next_due:%Y-%m-%d}", file=sys.stderr)
        return
    options = job_options("", person, "", "normal", "N.m", witness, False, "en", None)
    with tempfile.TemporaryDirectory(prefix="sayso-quiz-") as folder:
        file = Path(folder) / file_name(f"quiz-{found.id}", ".yaml")
        file.write_text(quiz_text(found, chosen, sign_off=sign_off), encoding="utf-8")
        try:
            if typed:
                do_typed(file, options, store, waits_pass=True)  # a typed quiz is a quiz, no rehearsal
            else:
                with quiet_libraries(), told_what_to_do_without_sound():
                    do_by_voice(file, options, store, Devices(device, speaker, headset))
        finally:
            _tell_how_it_went(store, person, known_before)


def _tell_how_it_went(store: str | None, person: str, before: tuple[Review, ...]) -> None:
    """What this quiz showed, also when it was broken off."""
    from sayso.shop.progress import reviews_of_person

    with open_record(store) as record:
        now = reviews_of_person(record, person)
    # not those at the end: by a clock that was set, what was answered last may stand before the others
    shown = list((Counter(now) - Counter(before)).elements())
    if shown:
        right = sum(review.right for review in shown)
        command = f"sayso progress {shlex.quote(person)}{store_as_typed(store)}"
        print(f"sayso: {right} of {len(shown)} right; how far {person} is: {command}", file=sys.stderr)
