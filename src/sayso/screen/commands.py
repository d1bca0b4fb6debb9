"""The lead hand's pages without a job: sayso pages."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def pages(
    procedures: Annotated[
        Path | None, typer.Argument(help="Folder of procedures; the shipped ones when not given.")
    ] = None,
    store: Annotated[str | None, typer.Option("--store", help="Record: a file or an address.")] = None,
    port: Annotated[int, typer.Option(help="0 takes a free one.", min=0, max=65535)] = 0,
) -> None:
    """Jobs, reports, figures, procedures and rehearsal in the browser, this machine only. Ctrl-C ends it."""
    from sayso.record.place import default_place
    from sayso.screen.lead_hand import lead_hand_routes
    from sayso.screen.server import Screen
    from sayso.session.errors import UserError
    from sayso.session.places import procedures_folder

    folder = procedures or procedures_folder()
    if not folder.is_dir():
        raise UserError(f"{folder} is no folder; give the folder that holds the procedure files")
    try:
        screen = Screen(None, port=port, more_routes=lead_hand_routes(store or default_place(), folder))
    except OSError as error:
        raise UserError(str(error)) from error
    address = screen.start()
    print(address.replace("/?", "/lead?"))
    print("sayso: open this address in a browser on this machine; Ctrl-C ends it", file=sys.stderr)
    try:
        screen.wait()
    except KeyboardInterrupt:
        screen.stop()
