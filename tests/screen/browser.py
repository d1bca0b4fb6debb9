"""A real Chromium for the tests: Debian's, without any of its calls home."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, sync_playwright

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
