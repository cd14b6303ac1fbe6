"""Access control: which requests are answered, and the security headers of every answer.

Conventions: a request must name this server as its host, which prevents DNS rebinding; a request
from a page must come from our own. From other machines a guest needs the cookie that the one-time
link sets. Sources: RFC 9110 (Host), the Fetch standard (Origin, Sec-Fetch-Site), Content Security
Policy Level 3.
"""

from __future__ import annotations

import hmac
import secrets
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOCALHOST = "127.0.0.1"
"""The address that only this computer can reach."""

COOKIE = "backing_guest"
_COOKIE_SECONDS = 12 * 3600
MOST_GUESTS = 32
"""The most guests until the server ends; further ones are refused."""

_POLICY_VIOLATION = 1008
_UNAUTHORIZED = 401

_FOREIGN_PAGE = 403, "this server answers only its own page"

_NO_LINK = "open the link or scan the code that the stand shows; each works once"

_WELCOME = """<!doctype html><html lang="en"><meta charset="utf-8">
<meta http-equiv="refresh" content="0; url=/"><title>The stand</title>
<p><a href="/">To the stand</a></html>"""


class Guests:
    """Admits other machines by one-time tokens.

    Args:
        show: shows a new token to the player at this computer.
    """

    def __init__(self, show: Callable[[str], None]) -> None:
        self._show = show
        self._token = ""
        self._cookies: list[str] = []

    def renew_token(self) -> None:
        """Replace the token by a new one, and show it."""
        self._token = secrets.token_urlsafe(32)
        self._show(self._token)

    def admit(self, token: str) -> str | None:
        """Return a new cookie for the right token, which is then replaced.

        Return None for a wrong token, or when all places are taken.
        """
        right = hmac.compare_digest(token.encode(), self._token.encode()) and self._token
        if not right or self.is_full:
            return None
        self.renew_token()
        self._cookies.append(secrets.token_urlsafe(32))
        return self._cookies[-1]

    @property
    def is_full(self) -> bool:
        """Whether all places are taken."""
        return len(self._cookies) >= MOST_GUESTS

    def has_cookie(self, cookie: str) -> bool:
        """Whether a cookie is one of ours; takes the same time for every cookie."""
        given = cookie.encode("utf-8", "replace")
        return sum(hmac.compare_digest(given, each.encode()) for each in self._cookies) > 0


class AccessMiddleware:
    """Refuses requests that may not reach the application.

    Args:
        app: the application.
        hosts: the names of this server with their ports, such as 127.0.0.1:8000.
        guests: admits other machines; None where the stand is not shared.
    """

    def __init__(self, app: ASGIApp, hosts: frozenset[str], guests: Guests | None = None) -> None:
        self._app = app
        self._hosts = hosts
        self._guests = guests

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal:
            if cookie := self._entering(scope, headers, refusal):
                await self._welcome(cookie)(scope, receive, self._secured(send, headers))
            else:
                await self._refuse(scope, receive, send, *refusal)
            return
        await self._app(scope, receive, self._secured(send, headers))

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Return status and reason of a refusal, or None."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return 403, "this server answers only under its own address"
        origins = headers.getlist("origin")
        if origins and origins != [f"http://{hosts[0]}"]:
            return _FOREIGN_PAGE
        if headers.get("sec-fetch-site") in ("cross-site", "same-site") and not _is_visit(
            scope, headers
        ):
            return _FOREIGN_PAGE
        guests = self._guests
        if not is_local(scope.get("server")) and not (
            guests and guests.has_cookie(_cookie_of(headers))
        ):
            if guests and guests.is_full:
                return 503, f"the stand has {MOST_GUESTS} guests: start it again to let others in"
            return _UNAUTHORIZED, _NO_LINK
        return None

    def _entering(self, scope: Scope, headers: Headers, refusal: tuple[int, str]) -> str | None:
        """Return a new cookie for a stranger with the right link, else None."""
        if self._guests is None or refusal[0] != _UNAUTHORIZED or scope["type"] != "http":
            return None
        if scope["method"] != "GET" or scope["path"] != "/":
            return None
        name, _, token = scope["query_string"].decode("latin-1").partition("=")
        return self._guests.admit(token) if name == "token" else None

    @staticmethod
    def _welcome(cookie: str) -> HTMLResponse:
        """Return a page that leads on; a redirect would count as coming from another site."""
        response = HTMLResponse(_WELCOME)
        response.set_cookie(
            COOKIE, cookie, max_age=_COOKIE_SECONDS, httponly=True, samesite="strict", path="/"
        )
        return response

    async def _refuse(
        self, scope: Scope, receive: Receive, send: Send, status: int, reason: str
    ) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": _POLICY_VIOLATION, "reason": reason})
            return
        headers = {"connection": "close"}
        response = PlainTextResponse(reason, status_code=status, headers=headers)
        await response(scope, receive, self._secured(send, Headers(scope=scope)))

    def _secured(self, send: Send, request: Headers) -> Send:
        """Return a `send` that adds the security headers to every answer."""
        host = request.get("host", "")
        sockets = f"ws://{host}" if host.lower() in self._hosts else ""

        async def secured(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                headers["content-security-policy"] = _POLICY.format(sockets=sockets).strip()
            await send(message)

        return secured


_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "font-src 'self'; media-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "connect-src 'self' {sockets}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-embedder-policy": "require-corp",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), payment=()",
    "cache-control": "no-cache",
}


def _is_visit(scope: Scope, headers: Headers) -> bool:
    """Whether a browser follows a link to the page itself."""
    return (
        scope["type"] == "http"
        and scope["method"] == "GET"
        and scope["path"] == "/"
        and headers.get("sec-fetch-mode") == "navigate"
        and headers.get("sec-fetch-dest") == "document"
    )


def is_local(server: tuple[str, int | None] | None) -> bool:
    """Whether a request came from this computer.

    Args:
        server: our address and port that it came in at, or None where they are not known.
    """
    return server is not None and server[0] == LOCALHOST


def _cookie_of(headers: Headers) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found else ""
