"""The local page's server: 127.0.0.1 only, one token a run, several viewers, survives reload."""

from __future__ import annotations

import secrets
import socket
import threading
import time
from collections.abc import AsyncIterator, Callable, Mapping
from pathlib import Path
from typing import Any, Literal

import uvicorn
from pydantic import BaseModel, Field, ValidationError
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from sayso.screen.guard import Guard
from sayso.screen.live import LiveView
from sayso.screen.pictures import picture_file

STATIC = Path(__file__).parent / "static"
LARGEST_BODY = 4096

Press = Callable[[Literal["key", "words"], str], None]


class Pressed(BaseModel):
    """What the page may send: one key's name, or typed words."""

    model_config = {"extra": "forbid"}
    key: str | None = Field(None, max_length=40, pattern=r"^[a-z ]+$")
    words: str | None = Field(None, min_length=1, max_length=200)


def application(
    live: LiveView,
    press: Press | None,
    token: str,
    *,
    pictures: Path | None = None,
    drawing: str = "",
    more_routes: list[BaseRoute] | None = None,
    cookie: str = "sayso_token",
) -> Starlette:
    """The ASGI application. `press` is None when there is no job to steer (the lead hand's pages alone)."""

    async def page(_: Request) -> Response:
        return FileResponse(STATIC / "page.html", media_type="text/html; charset=utf-8")

    async def events(request: Request) -> Response:
        async def stream() -> AsyncIterator[str]:
            yield "retry: 1000\n\n"
            async for news in live.follow():
                if news is None:  # page.js takes longer silence for a program that hangs
                    yield "event: beat\ndata: \n\n"
                else:
                    number, text = news
                    yield f"id: {number}\ndata: {text}\n\n"

        return StreamingResponse(stream(), media_type="text/event-stream")

    async def pressed(request: Request) -> Response:
        if press is None:
            return PlainTextResponse("No job is running here.\n", 409)
        if request.headers.get("content-type", "").split(";")[0] != "application/json":
            return PlainTextResponse("Send JSON.\n", 415)
        body = b""
        async for piece in request.stream():
            body += piece
            if len(body) > LARGEST_BODY:
                return PlainTextResponse("Too long.\n", 413)
        try:
            asked = Pressed.model_validate_json(body)
        except ValidationError:
            return PlainTextResponse('Send {"key": "done"} or {"words": "..."}.\n', 422)
        if (asked.key is None) == (asked.words is None):
            return PlainTextResponse("Send a key or words, one of the two.\n", 422)
        if asked.key is not None:
            press("key", asked.key)
        else:
            press("words", asked.words or "")
        return Response(status_code=204)

    async def picture(request: Request) -> Response:
        found = picture_file(pictures, request.path_params["name"])
        if found is None:
            return PlainTextResponse("No such picture.\n", 404)
        return FileResponse(found)

    async def branches(_: Request) -> Response:
        if not drawing:
            return PlainTextResponse("This job has no drawing (Graphviz is not installed).\n", 404)
        return Response(drawing, media_type="image/svg+xml")

    return Starlette(
        routes=[
            Route("/", page),
            Route("/events", events),
            Route("/press", pressed, methods=["POST"]),
            Route("/picture/{name:path}", picture),
            Route("/drawing.svg", branches),
            Mount("/static", StaticFiles(directory=STATIC)),
            *(more_routes or []),
        ],
        middleware=[Middleware(Guard, token=token, cookie=cookie)],
    )


class Screen:
    """The page while a job runs: start() gives the address, publish() shows, stop() ends it.

    Everything the page sends goes to `press(kind, text)`, called on the server's thread: the session
    only puts it into its queue.
    """

    def __init__(
        self,
        press: Press | None,
        *,
        port: int = 0,
        pictures: Path | None = None,
        drawing: str = "",
        more_routes: list[BaseRoute] | None = None,
    ) -> None:
        self.live = LiveView()
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind(("127.0.0.1", port))
        except OSError as error:
            self._socket.close()
            raise OSError(
                f"The page's port {port} is taken ({error.strerror}); choose another with --port."
            ) from error
        self.port: int = self._socket.getsockname()[1]
        self.token = secrets.token_urlsafe(24)
        app = application(
            self.live,
            press,
            self.token,
            pictures=pictures,
            drawing=drawing,
            more_routes=more_routes,
            cookie=f"sayso_{self.port}",  # cookies know no ports: two sayso must not share one
        )
        config = uvicorn.Config(
            app, log_level="error", access_log=False, lifespan="off", timeout_graceful_shutdown=1, ws="none"
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, name="screen", daemon=True
        )

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/?token={self.token}"

    def start(self, patience_s: float = 10.0) -> str:
        self._thread.start()
        until = time.monotonic() + patience_s
        while not self._server.started:
            if not self._thread.is_alive() or time.monotonic() > until:
                raise RuntimeError("The page's server did not start.")
            time.sleep(0.01)
        return self.address

    def publish(self, view: Mapping[str, Any]) -> None:
        self.live.publish(view)

    def wait(self) -> None:
        """Block until the server ends (used when only the lead hand's pages run)."""
        self._thread.join()

    def stop(self) -> None:
        self.live.close()
        self._server.should_exit = True
        if self._thread.is_alive():
            self._thread.join(timeout=2)
        if self._thread.is_alive():
            self._server.force_exit = True
            self._thread.join(timeout=2)
        self._socket.close()
