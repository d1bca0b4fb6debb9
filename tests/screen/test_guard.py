"""What the page refuses: other sites and hosts, no token, paths out of the folder, long or odd bodies.

Outside reference: OWASP CSRF prevention cheat sheet (origin check), OWASP path traversal test strings.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from sayso.screen.server import Screen


class Page:
    def __init__(self, screen: Screen, pressed: list[tuple[str, str]]) -> None:
        self.screen = screen
        self.pressed = pressed
        self.base = f"http://127.0.0.1:{screen.port}/"
        self.client = httpx.Client(base_url=self.base, follow_redirects=True)
        assert self.client.get(screen.address).status_code == 200


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    folder = tmp_path / "pictures"
    folder.mkdir()
    (folder / "plug.png").write_bytes(b"\x89PNG\r\n")
    (folder / "notes.txt").write_text("not a picture")
    (tmp_path / "secret.png").write_bytes(b"secret")
    (folder / "way-out.png").symlink_to(tmp_path / "secret.png")
    pressed: list[tuple[str, str]] = []
    screen = Screen(lambda kind, text: pressed.append((kind, text)), pictures=folder)
    screen.start()
    open_page = Page(screen, pressed)
    yield open_page
    open_page.client.close()
    screen.stop()


def test_a_key_pressed_on_the_page_reaches_the_job(page: Page) -> None:
    assert page.client.post("press", json={"key": "carry on"}).status_code == 204
    assert page.client.post("press", json={"words": "twelve"}).status_code == 204
    assert page.pressed == [("key", "carry on"), ("words", "twelve")]


def test_without_the_token_nothing_is_shown_and_nothing_is_pressed(page: Page) -> None:
    for path in ("", "events", "static/page.js", "picture/plug.png"):
        assert httpx.get(page.base + path).status_code == 403
    assert httpx.post(page.base + "press", json={"key": "done"}).status_code == 403
    assert httpx.get(page.base + "?token=" + page.screen.token[:-1]).status_code == 403
    assert page.pressed == []


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_another_sites_page_cannot_press_even_with_the_cookie(page: Page, headers: dict[str, str]) -> None:
    assert page.client.post("press", json={"key": "done"}, headers=headers).status_code == 403
    assert page.pressed == []


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "10.0.0.7", ""])
def test_a_name_that_was_pointed_at_this_machine_is_refused(page: Page, host: str) -> None:
    assert page.client.get("", headers={"host": host}).status_code in (400, 421)


@pytest.mark.parametrize(
    "path",
    [
        "picture/../secret.png",
        "picture/..%2fsecret.png",
        "picture/%2e%2e/secret.png",
        "picture/..%5csecret.png",
        "picture//etc/hostname.png",
        "picture/way-out.png",
        "picture/notes.txt",
        "picture/plug.png%00.txt",
        "static/../server.py",
        "static/..%2fserver.py",
    ],
)
def test_no_path_leads_out_of_the_folder(page: Page, path: str) -> None:
    answer = page.client.get(page.base + path)
    assert answer.status_code == 404
    assert b"secret" not in answer.content


def test_a_picture_of_the_procedure_is_served(page: Page) -> None:
    assert page.client.get("picture/plug.png").content.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b'{"key": "done"', 422),
        (b"{}", 422),
        (b'{"key": "done", "words": "x"}', 422),
        (b'{"key": "<script>"}', 422),
        (b'{"other": 1}', 422),
        (b'{"words": "' + b"x" * 5000 + b'"}', 413),
    ],
)
def test_an_odd_body_is_refused(page: Page, body: bytes, status: int) -> None:
    answer = page.client.post("press", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == status
    assert page.pressed == []


def test_a_form_of_another_site_cannot_be_taken_for_json(page: Page) -> None:
    assert page.client.post("press", data={"key": "done"}).status_code == 415


def test_every_answer_forbids_foreign_script_and_framing(page: Page) -> None:
    for path in ("", "static/page.js", "nothing-here"):
        policy = page.client.get(path).headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy


def test_two_pages_do_not_share_a_port() -> None:
    first = Screen(None)
    first.start()
    try:
        with pytest.raises(OSError, match="taken"):
            Screen(None, port=first.port)
    finally:
        first.stop()
