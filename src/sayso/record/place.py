"""Where the record lies when nobody says otherwise."""

from __future__ import annotations

import os
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from sayso.record.errors import ReadOnlyError

if TYPE_CHECKING:
    from sayso.record.store import Store

#: Names the record (a path or a postgresql:// address) when --store is not given.
STORE_VARIABLE = "SAYSO_STORE"


def default_place() -> str:
    """$SAYSO_STORE, else one SQLite file in this user's data folder, which is made when missing; no folder
    that somebody named is, for the name may hold a slip.

    Raises ReadOnlyError when it cannot be made."""
    if named := os.environ.get(STORE_VARIABLE):
        return named
    usual = _usual_file()
    try:
        usual.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ReadOnlyError(
            f"{usual.parent}: the record's folder cannot be made ({error.strerror}); name another place "
            f"with --store FILE or {STORE_VARIABLE}"
        ) from None
    return str(usual)


def store_option(store: Store, *, hidden: bool = False) -> str:
    """' --store PLACE' for a command that others are to type, '' where the usual record is meant.

    Who reads it may have another $SAYSO_STORE, so that one counts as not usual. Of a database neither user
    nor password is named: everybody has an own. `hidden`: only RECORD is said; a folder's name may
    be a person's."""
    from sayso.record import postgres

    if store.path is None:
        place = postgres.without_account(store.engine.url)
    elif store.path.resolve() == _usual_file().resolve():
        return ""
    else:
        place = str(store.path.resolve())
    return f" --store {'RECORD' if hidden else shlex.quote(place)}"


def _usual_file() -> Path:
    return Path(platformdirs.user_data_dir("sayso", appauthor=False)) / "jobs.sqlite"
