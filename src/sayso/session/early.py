"""What takes longest at the start is begun first, on the cores that do not import the rest of sayso."""

from __future__ import annotations


def begin_early(model: str | None) -> None:
    """Begins to load the speech model, and starts the speech engine. What fails is told by who needs it."""
    from sayso.session.taught_notes import begin_to_load
    from sayso.speaking.voice import begin_engine

    begin_engine()
    begin_to_load(model)
