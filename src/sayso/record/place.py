"""Where the record lies when nobody says otherwise."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

#: Names the record (a path or a postgresql:// address) when --store is not given.
STORE_VARIABLE = "SAYSO_STORE"


def default_place() -> str:
    """$SAYSO_STORE, else one SQLite file in this user's data folder; the folder is made when missing."""
    named = os.environ.get(STORE_VARIABLE)
    place = named or str(Path(platformdirs.user_data_dir("sayso", appauthor=False)) / "jobs.sqlite")
    if "://" not in place:
        Path(place).expanduser().parent.mkdir(parents=True, exist_ok=True)
    return place
