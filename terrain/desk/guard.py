"""The door of a desk: who may come in, and what the page may do.

The address that is printed holds a token, which opens the desk once and is exchanged for a cookie.
What else is on this machine, or on a page of another site in the same browser, has neither::

    printed address  /?t=TOKEN  -->  cookie, and on to /   -->   every other request
    another site     asks by a name of its own, or as another origin: refused
"""

from __future__ import annotations

import hmac
import secrets
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
_OWN_SITE: Final = ("same-origin", "none")
_COOKIE_S: Final = 7 * 86_400
_CLOSED: Final = "this desk is closed to you: open the address that `terrain desk` printed"


class Guard:
    """Lets in who has the token or the cookie, on this machine's own names alone."""

    def __init__(self, app: ASGIApp, *, port: int) -> None:
        self.token = secrets.token_urlsafe(24)
        self._secret = secrets.token_urlsafe(24)
        self._app = app
        self._is_used = False
        self._hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost"))
        # cookies know no ports, so that two desks need two names
        self._name = f"terrain-desk-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it; every answer says what the page may do."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        refusal = self._refusal(scope)
        await (refusal or self._app)(scope, receive, send_with_headers)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host not in self._hosts:
            return _wrong(f"this desk is not at {host!r}: open the address that it printed", 400)
        if not _is_own(headers, host, is_page=scope["path"] == "/"):
            return _wrong("this desk answers its own page alone", 403)
        has_cookie = self._has_cookie(headers)
        token = parse_qs(scope["query_string"].decode("latin-1")).get("t", [""])[0]
        if scope["path"] != "/" or not token:
            return None if has_cookie else _wrong(_CLOSED, 403)
        return self._enter(token, has_cookie=has_cookie)

    def _enter(self, token: str, *, has_cookie: bool) -> Response:
        """Exchange the token for the cookie, once."""
        to_page = RedirectResponse("/", status_code=303)
        if has_cookie:
            return to_page
        if self._is_used or not hmac.compare_digest(token.encode(), self.token.encode()):
            return _wrong("this address was used before: end the desk and open it anew", 403)
        self._is_used = True
        to_page.set_cookie(
            self._name, self._secret, max_age=_COOKIE_S, httponly=True, samesite="strict"
        )
        return to_page

    def _has_cookie(self, headers: Headers) -> bool:
        try:
            kept = SimpleCookie(headers.get("cookie", "")).get(self._name)
        except CookieError:
            return False
        return kept is not None and hmac.compare_digest(kept.value.encode(), self._secret.encode())


def _is_own(headers: Headers, host: str, *, is_page: bool) -> bool:
    """Whether the page itself asks, as far as the browser says who does."""
    if headers.get("origin") not in (None, f"http://{host}"):
        return False
    return is_page or headers.get("sec-fetch-site", _OWN_SITE[0]) in _OWN_SITE


def _wrong(line: str, code: int) -> Response:
    return JSONResponse({"wrong": line}, status_code=code)
