"""The apprentice's commands: quiz and progress. (Running a quiz by voice is the session's: sayso quiz.)"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from typing import Annotated

import typer


def progress(
    person: Annotated[str, typer.Argument(help="Whose progress.")],
    store: Annotated[str | None, typer.Option("--store", help="Record: a file or an address.")] = None,
) -> None:
    """What a person knows and has done, skill by skill."""
    from rich.console import Console
    from rich.table import Table

    from sayso.record.hands import names_in
    from sayso.record.which_record import open_record
    from sayso.shop.progress import progress_of

    with open_record(store) as record:
        found = progress_of(record, person)
        nothing = not found.jobs and not found.quizzes
        people = names_in(record) if nothing else []
    if nothing:
        others = f"; it knows {', '.join(people[:10])}" if people and person not in people else ""
        print(
            f"sayso: no job or quiz of {person} in this record{others} (rehearsals do not count)",
            file=sys.stderr,
        )
        raise typer.Exit(2)
    table = Table("skill", "known in a week", "points", "wrong", "steps done", "help asked")
    for skill in found.skills:
        known = "" if skill.recall is None else f"{skill.recall:.0%}"
        table.add_row(
            skill.skill, known, str(skill.points), str(skill.lapses), str(skill.steps_done), str(skill.helps)
        )
    console = Console()
    jobs = f"{found.jobs} job{'' if found.jobs == 1 else 's'}"
    console.print(f"{person}: {jobs}, {found.quizzes} quiz{'' if found.quizzes == 1 else 'zes'}")
    console.print(table)
    for signed in found.signed_off:
        when = datetime.fromtimestamp(signed.at_ms / 1000, UTC).astimezone()
        console.print(f"signed off by {signed.witness}, {when:%Y-%m-%d %H:%M} ({signed.job})")
