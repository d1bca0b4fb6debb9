"""The reply to a read-back: yes, no, or the right value in one breath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sayso.answers import yes_no
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.corrections import PHRASES, split_correction
from sayso.answers.kinds import Witnesses, completeness, phrases, understand
from sayso.answers.words import lowered
from sayso.procedure.model import Ask, AskChoice, AskYesNo


@dataclass(frozen=True, slots=True)
class Confirmation:
    """`yes` True or False, or a `corrected` answer, or the `problem` with what was said instead.

    A "no" behind which the new value was not understood is `yes=False` with the problem beside it.
    """

    yes: bool | None = None
    corrected: Answer | None = None
    problem: NotUnderstood | None = None


def confirmation_phrases(ask: Ask, *, wrench: str = "N.m", witnesses: Witnesses = ()) -> tuple[str, ...]:
    """Yes, no, correction words and the answers of the question itself ("no five zero")."""
    return tuple(
        dict.fromkeys((*yes_no.phrases(), *PHRASES, *phrases(ask, wrench=wrench, witnesses=witnesses)))
    )


def confirm(
    ask: Ask, read_back: Answer, words: Sequence[str], *, wrench: str = "N.m", witnesses: Witnesses = ()
) -> Confirmation:
    """What a reply to the read-back of `read_back` means.

    "yes", "that's right" -> yes; "no" -> no; "no five zero", "fifty" -> corrected, which must be read
    back in its turn; the same value said again -> yes; "yes fifty" when fifteen was read back ->
    corrected (a value is never confirmed against the words). At a yes/no question too "no" says that
    the read-back is wrong.
    """
    answer = yes_no.yes_or_no(words)
    if answer is not None:
        return Confirmation(yes=answer)
    said = split_correction(words)
    denied = said != tuple(words)
    if denied and (not said or isinstance(ask, AskYesNo)):  # "no correct" may have been "not correct"
        return Confirmation(yes=False)
    if denied and isinstance(ask, AskChoice):
        own = understand(ask, words)
        if isinstance(own, Answer):  # an option called "no leak"; where it was read back: "no, leak"?
            same = own.value == read_back.value
            return (
                Confirmation(problem=NotUnderstood("ambiguous", "")) if same else Confirmation(corrected=own)
            )
    bare = lowered(said)
    while bare and bare[0] in yes_no.YES and len(bare) > 1:
        bare = bare[1:]
    found = understand(
        ask, bare if not denied and bare != lowered(said) else said, wrench=wrench, witnesses=witnesses
    )
    if isinstance(found, NotUnderstood):
        return Confirmation(yes=False if denied else None, problem=found)
    if found.value == read_back.value:
        # "no fifteen" after "fifteen?": denied and said again at once; ask once more, never guess.
        if denied:
            return Confirmation(corrected=found)
        return Confirmation(yes=True)
    return Confirmation(corrected=found)


def confirmation_completeness(
    ask: Ask, words: Sequence[str], *, wrench: str = "N.m", witnesses: Witnesses = ()
) -> Completeness:
    """ "yes" has ended; "no" is whole, yet the right value may follow in the same breath."""
    answer = yes_no.yes_or_no(words)
    if answer is True:
        return yes_no.completeness(None, words)
    if answer is False:
        return Completeness(True, True)
    said = split_correction(words)
    if not said:
        return Completeness(False, True)
    return completeness(ask, said, wrench=wrench, witnesses=witnesses)
