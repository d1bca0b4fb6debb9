"""Who may see and press: this machine only, with the token of the address, from sayso's own page.

The page listens on 127.0.0.1, but any web site open in the same browser can send requests there.
So each request must name a local host (against DNS rebinding), must come from our own origin when
it changes something, and must carry the token that only the printed address and our cookie hold.
Sources: OWASP Cross-Site Request Forgery Prevention cheat sheet (origin check, SameSite cookie);
W3C Content Security Policy Level 3.
"""

from __future__ import annotations

import hmac
from urllib.parse import urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOCAL_HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})
SECURITY_HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "media-src 'self' data:; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    # not 'no-referrer': that makes a browser send our own forms with Origin: null (Fetch standard)
    "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


def host_is_local(host: str) -> bool:
    """True for 127.0.0.1, localhost and [::1], with or without a port."""
    name = host.rsplit(":", 1)[0] if host.rsplit(":", 1)[-1].isdigit() else host
    return name.lower() in LOCAL_HOSTS


def origin_is_ours(origin: str | None, host: str) -> bool:
    """A missing Origin is a plain navigation or curl; anything else must be this very host and port."""
    if origin is None:
        return True
    return urlsplit(origin).netloc.lower() == host.lower()


class Guard:
    """ASGI middleware around the whole application."""

    def __init__(self, app: ASGIApp, token: str, cookie: str) -> None:
        self._app = app
        self._token = token
        self._cookie = cookie

    def _knows_token(self, request: Request) -> bool:
        given = request.query_params.get("token") or request.cookies.get(self._cookie) or ""
        return hmac.compare_digest(given.encode(), self._token.encode())

    def _refusal(self, request: Request) -> Response | None:
        host = request.headers.get("host", "")
        if not host_is_local(host):
            return PlainTextResponse("sayso answers on this machine only (127.0.0.1).\n", 421)
        if not origin_is_ours(request.headers.get("origin"), host):
            return PlainTextResponse("sayso takes nothing from another site's page.\n", 403)
        if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return PlainTextResponse("sayso takes nothing from another site's page.\n", 403)
        if not self._knows_token(request):
            return PlainTextResponse("Open the address that sayso printed: it holds the token.\n", 403)
        return None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        answer = self._refusal(request)
        if answer is None and request.method == "GET" and request.query_params.get("token"):
            # keep the token out of the address bar, the history and screenshots
            answer = RedirectResponse(request.url.path, 303)
            answer.set_cookie(self._cookie, self._token, httponly=True, samesite="strict", path="/")
        if answer is not None:
            answer.headers.update(SECURITY_HEADERS)
            await answer(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SECURITY_HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, send_with_headers)
