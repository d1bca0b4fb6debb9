"""The page of a running job, as the session uses it: what the dialogue shows, and what only the ear knows."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sayso.procedure.drawing import DrawingError, svg
from sayso.procedure.model import Procedure
from sayso.screen.lead_hand import lead_hand_routes
from sayso.screen.page_view import page_view
from sayso.screen.server import Press, Screen


class Showing:
    """Open with the procedure; `watch` takes ShowStep views, `hear` the ear's live level and words."""

    def __init__(
        self, procedure: Procedure, press: Press, *, store: str, procedures: Path, port: int = 0
    ) -> None:
        try:
            drawing = svg(procedure)
        except DrawingError:  # the page works without the picture of the branches
            drawing = ""
        folder = Path(procedure.file).parent
        self._screen = Screen(
            press,
            port=port,
            pictures=folder,
            drawing=drawing,
            more_routes=lead_hand_routes(store, procedures),
        )
        self.address = self._screen.start()

    def watch(self, view: Mapping[str, Any]) -> None:
        self._screen.publish(page_view(view))

    def hear(
        self,
        *,
        mode: str | None = None,
        level_db: float | None = None,
        partial: str | None = None,
        muted: bool | None = None,
        notice: str | None = None,
    ) -> None:
        """`level_db` is dBFS (-60..0). A partial result is shown as heard, without a confidence. `notice`
        says why a key did nothing; it stands until the job goes on."""
        news: dict[str, Any] = {}
        if mode is not None:
            news["mode"] = mode
        if level_db is not None:
            news["mic_db"] = round(level_db, 1)
        if muted is not None:
            news["muted"] = muted
        if notice is not None:
            news["notice"] = notice
        if partial:
            news["heard"] = {"words": partial, "confidence": None, "by_hand": False}
        if news:
            self._screen.publish(news)

    def close(self) -> None:
        self._screen.stop()
