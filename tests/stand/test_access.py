"""The access middleware alone, without a server: which requests are answered.

Sources: RFC 9110, 7.2 (Host); the Fetch standard (Origin); Fetch Metadata Request Headers, W3C
(Sec-Fetch-Site: same-origin, same-site, cross-site or none).
"""

from __future__ import annotations

from contextlib import suppress
from typing import Any

import pytest

from backing.stand.access import COOKIE, MOST_GUESTS, AccessMiddleware, Guests

OURS = "127.0.0.1:8484"
SHARED = "192.0.2.7:8484"
"""An address for documentation (RFC 5737), here the one of this computer in a network."""

VISIT = {"sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}

ANSWERED, FOREIGN, STRANGER = 200, 403, 401

CASES: list[tuple[int, dict[str, Any], dict[str, str]]] = [
    # the host
    (ANSWERED, {}, {}),
    (ANSWERED, {}, {"host": "localhost:8484"}),
    (ANSWERED, {}, {"host": "LOCALHOST:8484"}),
    (FOREIGN, {}, {"host": "evil.example"}),
    (FOREIGN, {}, {"host": "evil.example:8484"}),
    (FOREIGN, {}, {"host": "127.0.0.1"}),
    (FOREIGN, {}, {"host": "127.0.0.1:80"}),
    (FOREIGN, {}, {"host": ""}),
    # the origin
    (ANSWERED, {}, {"origin": f"http://{OURS}"}),
    (FOREIGN, {}, {"origin": "http://evil.example"}),
    (FOREIGN, {}, {"origin": f"https://{OURS}"}),
    (FOREIGN, {}, {"origin": "http://127.0.0.1:1"}),
    (FOREIGN, {}, {"origin": f"http://{OURS}.evil.example"}),
    (FOREIGN, {}, {"origin": "null"}),
    (FOREIGN, {}, {"origin": "http://localhost:8484"}),  # our other name is another origin
    (FOREIGN, {"path": "/"}, {"origin": "http://evil.example", **VISIT}),
    # the site
    (ANSWERED, {}, {"sec-fetch-site": "same-origin"}),
    (ANSWERED, {}, {"sec-fetch-site": "none"}),
    (FOREIGN, {}, {"sec-fetch-site": "same-site"}),
    (FOREIGN, {}, {"sec-fetch-site": "cross-site"}),
    (FOREIGN, {"type": "websocket", "path": "/ws"}, {"sec-fetch-site": "same-site"}),
    (FOREIGN, {"type": "websocket", "path": "/ws"}, {"sec-fetch-site": "cross-site"}),
    # a link may lead to the page itself, and to nothing else
    (ANSWERED, {"path": "/"}, {"sec-fetch-site": "cross-site", **VISIT}),
    (ANSWERED, {"path": "/"}, {"sec-fetch-site": "same-site", **VISIT}),
    (FOREIGN, {"path": "/"}, {"sec-fetch-site": "cross-site"}),
    (FOREIGN, {"path": "/"}, {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}),
    (
        FOREIGN,
        {"path": "/"},
        {"sec-fetch-site": "cross-site", **VISIT, "sec-fetch-dest": "iframe"},
    ),
    (FOREIGN, {"path": "/tunes/a.chart"}, {"sec-fetch-site": "cross-site", **VISIT}),
    (FOREIGN, {"path": "/", "method": "POST"}, {"sec-fetch-site": "cross-site", **VISIT}),
    (
        FOREIGN,
        {"type": "websocket", "path": "/"},
        {"sec-fetch-site": "cross-site", **VISIT},
    ),
    # from the network
    (STRANGER, {"server": SHARED}, {"host": SHARED}),
    (STRANGER, {"server": SHARED}, {"host": SHARED, "cookie": f"{COOKIE}=guessed"}),
    (STRANGER, {"server": SHARED}, {"host": SHARED, "cookie": f"{COOKIE}="}),
    (
        STRANGER,
        {"server": SHARED},
        {"host": OURS},
    ),  # the header does not count
    (STRANGER, {"server": SHARED}, {"host": SHARED, "cookie": "other={cookie}"}),
    (STRANGER, {"server": SHARED, "type": "websocket", "path": "/ws"}, {"host": SHARED}),
    (ANSWERED, {"server": SHARED}, {"host": SHARED, "cookie": f"{COOKIE}={{cookie}}"}),
    (ANSWERED, {"server": SHARED}, {"host": SHARED, "cookie": f"a=b; {COOKIE}={{cookie}}"}),
    (FOREIGN, {"server": SHARED}, {"host": "evil.example", "cookie": f"{COOKIE}={{cookie}}"}),
    (STRANGER, {"server": None}, {}),
]


class Door:
    """The middleware before an application that answers everything."""

    def __init__(self) -> None:
        self.tokens: list[str] = []
        self.guests = Guests(self.tokens.append)
        self.guests.renew_token()
        hosts = frozenset({OURS, "localhost:8484", SHARED})
        self.middleware = AccessMiddleware(self._answer, hosts, self.guests)

    @staticmethod
    async def _answer(scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.accept"})
            return
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"the songbook"})

    def ask(self, headers: list[tuple[str, str]], **about: Any) -> dict[str, Any]:
        """Return the first message that answers a request."""
        server = about.pop("server", OURS)
        address, _, port = (server or "").partition(":")
        scope = {
            "type": "http",
            "method": "GET",
            "path": "/tunes/a.chart",
            "query_string": b"",
            "headers": [(name.encode(), value.encode()) for name, value in headers],
            "server": (address, int(port)) if server else None,
            **about,
        }
        found: list[dict[str, Any]] = []

        async def send(message: Any) -> None:
            found.append(message)

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": b""}

        with suppress(StopIteration):  # it never waits here
            self.middleware(scope, receive, send).send(None)
        return found[0]

    def status(self, headers: dict[str, str], **about: Any) -> int:
        """Return the HTTP status of the answer, or its like for a socket."""
        answer = self.ask(list(headers.items()), **about)
        if answer["type"] == "websocket.accept":
            return ANSWERED
        if answer["type"] == "websocket.close":
            return STRANGER if "link" in answer["reason"] else FOREIGN
        return int(answer["status"])


@pytest.mark.parametrize("status, about, headers", CASES)
def test_who_is_answered(status: int, about: dict[str, Any], headers: dict[str, str]) -> None:
    """Each row has the status, and what differs from a plain request of our own page."""
    door = Door()
    cookie = door.guests.admit(door.tokens[-1]) or ""
    sent = {"host": OURS, **{name: each.format(cookie=cookie) for name, each in headers.items()}}

    assert door.status(sent, **about) == status


@pytest.mark.parametrize("name", ["host", "origin"])
def test_a_header_that_comes_twice_is_refused(name: str) -> None:
    """It is unclear which of two hosts or origins counts."""
    ours = {"host": OURS, "origin": f"http://{OURS}"}[name]

    answer = Door().ask([("host", OURS), (name, ours), (name, ours)])

    assert answer["status"] == FOREIGN


def test_a_link_works_once_and_only_for_the_page() -> None:
    """A token works once, for GET of the page; then another one is shown."""
    door = Door()
    first = door.tokens[-1]
    query = {"query_string": f"token={first}".encode(), "server": SHARED}
    elsewhere = [{"path": "/tunes/a.chart"}, {"path": "/", "method": "POST"}]
    for about in elsewhere:
        assert door.status({"host": SHARED}, **query, **about) == STRANGER
    wrong = {**query, "query_string": b"token=" + b"x" * len(first)}
    assert door.status({"host": SHARED}, **wrong, path="/") == STRANGER
    assert door.status({"host": SHARED}, **{**query, "query_string": b"token="}, path="/") == 401

    answer = door.ask([("host", SHARED)], **query, path="/")

    cookie = dict(answer["headers"])[b"set-cookie"].decode()
    assert (answer["status"], cookie.partition("=")[0]) == (200, COOKIE)
    assert {"HttpOnly", "SameSite=strict"} <= set(cookie.split("; "))
    assert door.status({"host": SHARED}, **query, path="/") == STRANGER
    assert len(set(door.tokens)) == 2


def test_a_guest_too_many_is_refused_and_the_others_stay() -> None:
    """A stranger with many links cannot take the places of guests."""
    door = Door()
    cookies = [door.guests.admit(door.tokens[-1]) for _ in range(MOST_GUESTS)]
    link = door.tokens[-1]

    assert all(cookies)
    assert door.guests.admit(link) is None
    assert all(door.guests.has_cookie(each or "") for each in cookies)
    query = {"query_string": f"token={link}".encode(), "server": SHARED, "path": "/"}
    assert door.ask([("host", SHARED)], **query)["status"] == 503


def test_every_answer_isolates_the_page() -> None:
    """Source: the HTML standard, cross-origin opener policies; Fetch, CORP and COEP."""
    headers = dict(Door().ask([("host", OURS)])["headers"])

    assert headers[b"cross-origin-opener-policy"] == b"same-origin"
    assert headers[b"cross-origin-embedder-policy"] == b"require-corp"
    assert headers[b"cross-origin-resource-policy"] == b"same-origin"
    assert headers[b"x-frame-options"] == b"DENY"
