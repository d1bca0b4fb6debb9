"""A real Chromium for the tests: Debian's, without any of its calls home."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, Route, sync_playwright

QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def chromium() -> Iterator[Browser]:
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        raise RuntimeError("These tests need Chromium: apt-get install chromium")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program, args=QUIET)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def offline(context: BrowserContext) -> Iterator[BrowserContext]:
    """Everything that a page asks for must be on this machine: what is not is refused, and fails the test.
    Web sockets count too. (Chromium's own requests are switched off above.)"""
    outside: list[str] = []

    def ask(route: Route) -> None:
        address = urlsplit(route.request.url)
        if address.scheme in ("data", "blob") or address.hostname == "127.0.0.1":
            route.continue_()
        else:
            outside.append(route.request.url)
            route.abort()

    context.route("**/*", ask)
    context.on("page", lambda page: page.on("websocket", lambda socket: outside.append(socket.url)))
    yield context
    assert outside == [], "the page asked for something outside this machine"
