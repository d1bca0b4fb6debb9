"""Where the record lies when nobody says otherwise."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

from sayso.record.errors import ReadOnlyError

#: Names the record (a path or a postgresql:// address) when --store is not given.
STORE_VARIABLE = "SAYSO_STORE"


def default_place() -> str:
    """$SAYSO_STORE, else one SQLite file in this user's data folder; the folder is made when missing.

    Raises ReadOnlyError when it cannot be made."""
    named = os.environ.get(STORE_VARIABLE)
    place = named or str(Path(platformdirs.user_data_dir("sayso", appauthor=False)) / "jobs.sqlite")
    if "://" not in place:
        folder = Path(place).expanduser().parent
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise ReadOnlyError(
                f"{folder}: the record's folder cannot be made ({error.strerror}); name another place "
                f"with --store FILE or {STORE_VARIABLE}"
            ) from None
    return place
