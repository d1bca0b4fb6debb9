"""`sayso sign-off`: asks for what is not given, and never for a code on the command line."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.record.errors import RecordError
from sayso.record.which_record import JobArgument, StoreOption, find_job, open_record

if TYPE_CHECKING:
    from sayso.record.story import Deviation


def sign_off(
    job: JobArgument = None,
    store: StoreOption = None,
    listed: Annotated[bool, typer.Option("--list", help="Only list what waits for a signature.")] = False,
    entry: Annotated[
        list[int] | None, typer.Option("--entry", help="Number of the deviation's entry; may be repeated.")
    ] = None,
    all_: Annotated[bool, typer.Option("--all", help="All deviations that stand.")] = False,
    why: Annotated[str | None, typer.Option(help="Why it may stand.")] = None,
    by: Annotated[str | None, typer.Option(help="Who signs, with --key; a code tells by itself.")] = None,
    key: Annotated[Path | None, typer.Option(help="The shop's key, where nobody has a code.")] = None,
) -> None:
    """Sign deviations off: who lets them stand, when and why, added to the job's record. Nothing is altered.

    Asks for what is not given. The code is one that the job knows (of a hold point, or --witness at its
    start); it is read from the keyboard without being shown, or from the first line of the input.
    """
    from sayso.record.seal import read_key
    from sayso.record.sign_off import sign_off as sign
    from sayso.record.sign_off import signer_by_code, signer_by_key, to_sign
    from sayso.record.wording import deviation_text

    if (by is None) != (key is None):
        raise RecordError("--by and --key belong together: who signs, and the shop's key (see `sayso key`)")
    with open_record(store, read_only=listed) as record:
        name = find_job(record, job).job
        waiting = to_sign(record, name)
        print(f"job {name}: {len(waiting) or 'no'} deviation{'s' * (len(waiting) != 1)} to sign off")
        for deviation in waiting:
            at = f" (step {deviation.step})" if deviation.step else ""  # a tool is in hand at no step
            print(f"  entry {deviation.seq}: {deviation_text(deviation)}{at}")
        if listed or not waiting:
            return
        chosen = [d.seq for d in waiting] if all_ else list(entry or ())
        chosen = chosen or _entries_from(
            _asked("Which entries (numbers, or all)? ", "--entry N or --all"), waiting
        )
        reason = why if why is not None else _asked("Why may it stand? ", "--why TEXT")
        if key is not None:
            signer = signer_by_key(record, name, by or "", read_key(key))
        else:
            signer = signer_by_code(record, name, _secret("Code of who signs: "))
        for made in sign(record, name, chosen, signer, reason):
            print(f"entry {made.data['entry']} signed off by {signer.name} (entry {made.seq})")


def _entries_from(text: str, waiting: list[Deviation]) -> list[int]:
    if text.strip().lower() == "all":
        return [deviation.seq for deviation in waiting]
    try:
        return [int(word) for word in text.replace(",", " ").split()]
    except ValueError:
        raise RecordError(f"{text!r}: write the numbers of the entries, or all") from None


def _asked(question: str, option: str) -> str:
    """A line from the keyboard; a script must give the option instead."""
    if not sys.stdin.isatty():
        raise RecordError(f"say it by an option: {option}")
    print(question, end="", flush=True)
    return sys.stdin.readline().strip()


def _secret(question: str) -> str:
    """Never an option: what stands on a command line stays in the shell's history."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().strip()
    from getpass import getpass

    return getpass(question).strip()
