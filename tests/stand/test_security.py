"""Access to a real server: nothing leaks, no client blocks others, memory is bounded."""

from __future__ import annotations

import http.client
import json
import os
import re
import socket
import struct
import time
from contextlib import ExitStack, suppress
from typing import TYPE_CHECKING

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from tests.stand.conftest import QUICK
from tests.stand.server import PATIENCE_SECONDS, Answer

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from websockets.sync.client import ClientConnection

    from tests.stand.server import Page, Server

SHARED = "127.0.0.2"
"""An address of this computer for the tests of sharing: requests there need a cookie.

All of 127.0.0.0/8 is this computer (RFC 1122, 3.2.1.3); Linux lets us listen there.
"""

PATHS = ("/", "/tunes/a-quick.chart", "/static/page.js", "/bank/" + "0" * 40 + ".json", "/check")


@pytest.fixture(scope="module")
def shared(start: Callable[..., Server]) -> Server:
    """Return a shared server whose link has not been used."""
    return start("--share-on", SHARED)


def _settled_mb(server: Server) -> float:
    """Return the memory of a server in MB after its sounds are made."""
    with server.page() as page:
        page.receive("bank", lambda each: not each["sketch"])
    return server.memory_mb()


def _upgrade(host: str, more: str = "") -> bytes:
    """Return the request that opens a socket (RFC 6455, 1.3)."""
    return (
        f"GET /ws HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        f"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n{more}\r\n"
    ).encode()


def _dial(server: Server, *, deaf: bool = False) -> socket.socket:
    """Return a connection; a deaf one has a small receive buffer."""
    address, port = server.host.split(":")
    dialled = socket.socket()
    dialled.settimeout(120)
    if deaf:
        dialled.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    dialled.connect((address, int(port)))
    return dialled


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "", "[::1]:{port}"]
)
def test_a_foreign_host_is_refused(server: Server, path: str, host: str) -> None:
    """Another host name that points here (DNS rebinding) is refused."""
    port = server.host.rpartition(":")[2]
    answer = server.ask("GET", path, headers={"Host": host.format(port=port)})

    assert answer.status in (400, 403)
    assert b"Quick Steps" not in answer.body


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "https://{host}",
        "http://127.0.0.1:1",
        "http://{host}.evil.example",
    ],
)
def test_a_foreign_origin_is_refused(server: Server, origin: str) -> None:
    """Other sites can neither read nor save charts, nor open the socket."""
    theirs = {"Origin": origin.format(host=server.host)}
    for method, path in (("GET", "/tunes/a-quick.chart"), ("PUT", "/tunes/a-quick.chart")):
        answer = server.ask(method, path, b"x" if method == "PUT" else None, theirs)
        assert (answer.status, b"Quick" in answer.body) == (403, False)
    with (
        pytest.raises(InvalidStatus, match="403"),
        server.page(origin=origin.format(host=server.host)),
    ):
        pass
    assert server.ask("GET", "/tunes/a-quick.chart").text == QUICK


def test_our_own_page_is_answered(server: Server) -> None:
    """Both names of the server work, with and without an origin."""
    port = server.host.rpartition(":")[2]
    for host in (server.host, f"localhost:{port}", f"LOCALHOST:{port}"):
        headers = {"Host": host, "Origin": f"http://{host}"}
        assert server.ask("GET", "/tunes/a-quick.chart", headers=headers).status == 200
    assert server.ask("GET", "/tunes/a-quick.chart").status == 200
    with server.page(origin=f"http://{server.host}") as page:
        page.state()


def test_another_site_may_lead_here_but_load_nothing(server: Server) -> None:
    """Source: the Fetch Metadata headers that browsers send (W3C)."""
    load = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}
    visit = {
        "Sec-Fetch-Site": "cross-site",
        "Sec-Fetch-Mode": "navigate",
        "Sec-Fetch-Dest": "document",
    }
    assert server.ask("GET", "/tunes/a-quick.chart", headers=load).status == 403
    assert server.ask("GET", "/tunes/a-quick.chart", headers=visit).status == 403
    assert server.ask("GET", "/", headers=visit).status in (200, 404)


@pytest.mark.parametrize("path", PATHS)
def test_every_answer_has_the_security_headers(server: Server, path: str) -> None:
    """Headers forbid inline scripts, framing, guessing of types and referrers."""
    headers = server.ask("GET", path).headers

    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["connect-src"] == f"'self' ws://{server.host}"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "server" not in headers


@pytest.mark.parametrize(
    "path",
    [
        "/tunes/../secret.chart",
        "/tunes/..%2fsecret.chart",
        "/tunes/%2e%2e%2fsecret.chart",
        "/tunes/%2e%2e/secret.chart",
        "/tunes/..%5csecret.chart",
        "/tunes/%252e%252e%252fsecret.chart",
        "/tunes/....//secret.chart",
        "/tunes//etc/passwd",
        "/tunes/%00.chart",
        "/tunes/a-quick.chart%00",
        "/tunes/link.chart",
        "/tunes/below/inside.chart",
        "/tunes/.hidden.chart",
        "/tunes/folder.chart",
        "/tunes/pipe.chart",
        "/sets/../secret",
        "/sets/link",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2f..%2fcli/stand.py",
        "/static//etc/passwd",
        "/bank/../../etc/passwd",
        "/bank/..%2f..%2fsecret.chart",
    ],
)
def test_no_path_leads_out_of_the_folder(server: Server, path: str) -> None:
    """Dots in any encoding, links and other non-files are not found."""
    secret = server.folder.parent / "secret.chart"
    if not (server.folder / "pipe.chart").exists():
        secret.write_text("title: Secret\n[A]\n| C |\n", encoding="utf-8")
        (server.folder.parent / "secret.set").write_text("a-quick.chart\n", encoding="utf-8")
        (server.folder / "link.chart").symlink_to(secret)
        (server.folder / "link.set").symlink_to(server.folder.parent / "secret.set")
        (server.folder / ".hidden.chart").write_text("title: Secret\n[A]\n| C |\n")
        (server.folder / "below").mkdir()
        (server.folder / "below" / "inside.chart").write_text("title: Secret\n[A]\n| C |\n")
        (server.folder / "folder.chart").mkdir()
        os.mkfifo(server.folder / "pipe.chart")
    before = secret.read_text(encoding="utf-8")

    answer = server.ask("GET", path)
    assert (answer.status, b"Secret" in answer.body) == (404, False)
    for headers in ({"If-None-Match": "*"}, {"If-Match": '"x"'}):
        if "%25" in path:  # a valid name: it is not decoded twice
            continue
        answer = server.ask("PUT", path, b"title: Changed\n[A]\n| C |\n", headers)
        assert answer.status in (404, 405)
    assert secret.read_text(encoding="utf-8") == before
    with server.page() as page:
        book = page.receive("songbook")
    assert "Secret" not in json.dumps(book)


def test_a_chart_of_a_hundred_megabytes_is_refused_while_it_is_read(server: Server) -> None:
    """A declared length is refused at once; else reading stops at the longest chart."""
    before = _settled_mb(server)
    new = {"If-None-Match": "*"}
    for path, method, headers in (("/tunes/big.chart", "PUT", new), ("/check", "POST", {})):
        told = _refused(server, method, path, headers, size=100 << 20, chunked=False)
        assert told is None or told.status == 413
        told = _refused(server, method, path, headers, size=100 << 20, chunked=True)
        assert told is None or told.status == 413

    assert not (server.folder / "big.chart").exists()
    assert server.memory_mb() - before < 30
    assert server.ask("GET", "/tunes/a-quick.chart").status == 200


def _refused(
    server: Server, method: str, path: str, headers: dict[str, str], *, size: int, chunked: bool
) -> Answer | None:
    """Send a body until the server refuses it; return its answer, None if it hung up."""
    connection = http.client.HTTPConnection(server.host, timeout=120)
    piece = b"| C  " * 13_000
    try:
        connection.putrequest(method, path)
        for name, value in headers.items():
            connection.putheader(name, value)
        if chunked:
            connection.putheader("Transfer-Encoding", "chunked")
        else:
            connection.putheader("Content-Length", str(size))
        connection.endheaders()
        sent = 0
        try:
            while sent < size:
                connection.send(b"%x\r\n%b\r\n" % (len(piece), piece) if chunked else piece)
                sent += len(piece)
        except OSError:
            pass
        assert sent < size / 2, "it read most of the body"
        response = connection.getresponse()
        return Answer(response.status, dict(response.getheaders()), response.read())
    except (OSError, http.client.HTTPException):
        return None
    finally:
        connection.close()


def test_a_stalled_body_blocks_nobody(server: Server) -> None:
    """Others can save meanwhile, and nothing of the body is written."""
    with _dial(server) as slow:
        slow.sendall(
            f"PUT /tunes/new.chart HTTP/1.1\r\nHost: {server.host}\r\nIf-None-Match: *\r\n"
            "Content-Length: 100\r\n\r\nkey".encode()
        )
        answer = server.ask("PUT", "/tunes/other.chart", QUICK.encode(), {"If-None-Match": "*"})
        assert answer.status == 204
        assert not (server.folder / "new.chart").exists()


@pytest.mark.parametrize("path", ["/tunes/new.chart", "/check", "/sets/new"])
def test_a_disconnect_leaves_no_traceback(server: Server, path: str) -> None:
    """A disconnect in mid-request prints nothing and writes no file."""
    method = "POST" if path == "/check" else "PUT"
    for reset in (True, False):
        with _dial(server) as tablet:
            tablet.sendall(
                f"{method} {path} HTTP/1.1\r\nHost: {server.host}\r\nIf-None-Match: *\r\n"
                "Content-Length: 100\r\n\r\nkey".encode()
            )
            time.sleep(0.3)  # its head has been read by then
            if reset:  # a reset, RFC 9293, 3.5.3
                tablet.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    assert server.ask("GET", "/tunes/a-quick.chart").status == 200
    time.sleep(0.3)

    assert not [line for line in server.more_lines() if "Traceback" in line or "Exception" in line]
    assert not list(server.folder.glob("*new*"))


def test_ten_thousand_messages_a_second_do_not_stop_the_band(server: Server) -> None:
    """The sender is disconnected; another client still gets bars, and memory stays bounded."""
    before = _settled_mb(server)
    with server.page() as listener:
        listener.command("play")
        listener.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
        text = json.dumps({"type": "say", "line": "level +1"})
        with connect(f"ws://{server.host}/ws", max_size=None, close_timeout=1) as flood:
            assert _send_until_disconnected(flood, text) >= 600
        for _ in range(3):
            listener.receive("bars", lambda each: bool(each["add"]))
        listener.command("stop")
        listener.state(playing=False)
    assert server.memory_mb() - before < 30


def _send_until_disconnected(flood: ClientConnection, text: str) -> int:
    """Send as fast as possible; return the number of messages until the disconnect."""
    sent = 0
    with suppress(ConnectionClosed):
        while True:
            flood.send(text)
            sent += 1
    return sent


def test_a_message_of_a_megabyte_is_refused(server: Server) -> None:
    """Its sender is disconnected with a reason (RFC 6455, 7.4.1); others stay."""
    with server.page() as page, server.page() as other:
        with suppress(ConnectionClosed):
            page.socket.send("x" * (1 << 20))
        with pytest.raises(ConnectionClosed, match=r"1009|no close frame"):
            page.receive("never")
        other.state(pages=1)


SECRET = "the-treasure"


@pytest.mark.parametrize("around", ["{}", "{} ", " {}", "\t{}\t", "./{}", "{}#"])
def test_a_page_reads_no_file_by_its_path(server: Server, around: str) -> None:
    """A path reveals neither a file's contents nor whether it exists."""
    there = server.folder.parent / "secret.toml"
    there.write_text(f"{SECRET} = 1\n", encoding="utf-8")
    told = []
    for path in (there, there.with_name("nothing.toml")):
        name = around.format(path)
        with server.page() as page:
            page.send(type="open", tune="a-quick.chart")
            page.receive("chart")
            for message in (
                {"type": "shapes", "instrument": name},
                {"type": "say", "line": f"instrument {name}"},
                {"type": "say", "line": f"INSTRUMENT  {name}"},
                {"type": "say", "line": f"style {name}"},
            ):
                page.send(**message)
                told.append(page.receive("fault")["text"].replace(str(path), "PATH"))
    assert told[:4] == told[4:]
    assert SECRET not in "".join(told)


@pytest.mark.parametrize("mine", ["NaN", "Infinity", "-Infinity", "1e999", '"x"', "null", "[]"])
def test_a_ping_without_a_valid_time_is_answered_in_json(server: Server, mine: str) -> None:
    """NaN and infinities are not JSON (RFC 8259, section 6)."""
    with server.page() as page:
        page.socket.send(f'{{"type": "ping", "mine": {mine}}}')
        while True:
            text = page.socket.recv(timeout=120)
            message = json.loads(text, parse_constant=pytest.fail)
            if message["type"] == "pong":
                break
        assert message["mine"] is None


def test_ten_pages_at_once(server: Server) -> None:
    """All clients get the same bars."""
    with ExitStack() as stack:
        pages = [stack.enter_context(server.page()) for _ in range(10)]
        pages[0].state(pages=10)
        pages[0].command("play")
        heard = []
        for page in pages:
            bars = page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
            heard.append(next(bar for bar in bars["add"] if bar["bar"]))
        assert all(bar == heard[0] for bar in heard)
        pages[9].command("stop")
        for page in pages:
            page.state(playing=False)


@pytest.mark.slow
def test_clients_are_limited_in_number(server: Server) -> None:
    """The thirty-third client is refused; the others stay connected."""
    with ExitStack() as stack:
        for _ in range(31):
            stack.enter_context(_dial(server)).sendall(_upgrade(server.host))
        with server.page() as page:
            page.state(pages=32)
            with pytest.raises(InvalidStatus), server.page():
                pass
            page.time()
    with _page_once_admitted(server) as page:
        page.state(pages=1)


def _page_once_admitted(server: Server) -> Page:
    """Return a page that is refused as long as the server has not noticed who left."""
    end = time.monotonic() + PATIENCE_SECONDS
    while True:
        try:
            return server.page()
        except InvalidStatus:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)


def test_half_open_connections_block_nobody(server: Server) -> None:
    """Two hundred connections without a complete request leave the server usable."""
    silent = [_dial(server) for _ in range(200)]
    try:
        for index, each in enumerate(silent):
            try:
                each.sendall((b"", b"GET / HT", _upgrade(server.host)[:60])[index % 3])
            except OSError:  # closed already in favour of later ones
                continue
        assert server.ask("GET", "/tunes/a-quick.chart").status == 200
        with server.page() as page:
            page.command("play")
            page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
            page.command("stop")
    finally:
        for each in silent:
            each.close()


def test_sounds_are_in_memory_once(server: Server) -> None:
    """Sixty clients that request four megabytes each and read nothing share one copy."""
    before = _settled_mb(server)
    with server.page() as page:
        index = server.ask("GET", page.receive("bank")["url"])
    path = json.loads(index.body)["url"]
    with ExitStack() as stack:
        for _ in range(60):
            deaf = stack.enter_context(_dial(server, deaf=True))
            deaf.sendall(f"GET {path} HTTP/1.1\r\nHost: {server.host}\r\n\r\n".encode())
        time.sleep(0.5)
        assert server.memory_mb() - before < 60
        answer = server.ask("GET", path)
    assert answer.status == 200
    assert len(answer.body) == int(answer.headers["content-length"])


@pytest.mark.slow
def test_a_client_that_reads_nothing_is_disconnected(server: Server) -> None:
    """A client that sends requests and reads no answers is disconnected; memory stays bounded."""
    before = _settled_mb(server)
    with _dial(server, deaf=True) as deaf, server.page() as page:
        deaf.sendall(_upgrade(server.host))
        page.state(pages=2)
        shapes = json.dumps({"type": "shapes", "instrument": "guitar"}).encode()
        frame = bytes((0x81, 0x80 | len(shapes), 0, 0, 0, 0)) + shapes  # RFC 6455, 5.2; mask 0
        end = time.monotonic() + 40
        try:
            while time.monotonic() < end:
                deaf.sendall(frame)
                time.sleep(0.02)
        except OSError:
            pass
        assert time.monotonic() < end, "it was not disconnected"
        page.state(pages=1)
    assert server.memory_mb() - before < 60


@pytest.mark.slow
def test_pings_without_end_fill_no_memory(server: Server) -> None:
    """Answers to pings are not kept for a client that does not read."""
    before = _settled_mb(server)
    ping = bytes((0x89, 0x80 | 125, 0, 0, 0, 0)) + bytes(125)  # RFC 6455, 5.5.2; mask 0
    with _dial(server, deaf=True) as deaf:
        deaf.sendall(_upgrade(server.host))
        deaf.settimeout(2)
        end = time.monotonic() + 8
        try:
            while time.monotonic() < end:
                deaf.sendall(ping * 500)
        except OSError:
            pass
    assert server.memory_mb() - before < 30
    assert server.ask("GET", "/tunes/a-quick.chart").status == 200


# sharing


def test_strangers_cannot_shut_out_this_computer(shared: Server) -> None:
    """Three hundred idle connections from outside leave room for this computer.

    An upgrade whose announced body never arrives (RFC 9110, 8.6) waits in the socket's parser.
    """
    host = _shared_host(shared)
    address, port = host.split(":")
    waiting = _upgrade(host, "Content-Length: 10\r\n")
    with ExitStack() as stack:
        for number in range(300):
            stranger = stack.enter_context(socket.create_connection((address, int(port))))
            with suppress(OSError):
                stranger.sendall((waiting, b"GET / HT", b"")[number % 3 if number > 280 else 0])
            if number % 20 == 0:
                time.sleep(0.1)  # none is closed in favour of a later one
        assert shared.ask("GET", "/tunes/a-quick.chart").status == 200
        with shared.page() as page:
            page.state()


@pytest.mark.parametrize(
    "sent",
    [b"", b"GET / HT", "upgrade"],
    ids=["nothing", "half a head", "an upgrade whose body never comes"],
)
def test_stalled_connections_are_closed(shared: Server, sent: bytes | str) -> None:
    """The server closes connections that never complete a request."""
    host = _shared_host(shared)
    address, port = host.split(":")
    with socket.create_connection((address, int(port)), timeout=60) as stranger:
        stranger.sendall(
            _upgrade(host, "Content-Length: 10\r\n") if isinstance(sent, str) else sent
        )
        with suppress(ConnectionResetError):
            while stranger.recv(4096):
                pass


@pytest.mark.parametrize("cookie", ["", "backing_guest=", "backing_guest=wrong", "backing_guest=é"])
def test_without_the_token_nothing_is_answered(shared: Server, cookie: str) -> None:
    """Without the cookie every path and the socket are refused at the shared address."""
    host = _shared_host(shared)
    headers = {"Cookie": cookie} if cookie else {}
    for path in (*PATHS, "/?token=", "/?token=wrong", "/ws?token=wrong"):
        answer = shared.ask("GET", path, headers=headers, host=host)
        assert (answer.status, b"Quick" in answer.body) == (401, False)
        assert "set-cookie" not in answer.headers
    put = shared.ask("PUT", "/tunes/x.chart", b"x", {"If-None-Match": "*", **headers}, host)
    assert put.status == 401
    assert not (shared.folder / "x.chart").exists()
    with (
        pytest.raises(InvalidStatus, match="403"),
        connect(
            f"ws://{host}/ws", additional_headers={"Cookie": cookie.encode().decode("latin-1")}
        ),
    ):
        pass


def test_the_link_admits_one_guest(shared: Server) -> None:
    """The link works once and sets an HttpOnly cookie; then the next link is shown."""
    host = _shared_host(shared)
    link = re.search(r"/(\?token=\S+)", "".join(shared.printed))
    path = f"/{link[1]}" if link else ""  # type: ignore[index]

    answer = shared.ask("GET", path, host=host)
    cookie = answer.headers["set-cookie"]
    assert answer.status == 200
    assert {"HttpOnly", "SameSite=strict", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    again = shared.ask("GET", path, host=host)
    assert (again.status, "set-cookie" in again.headers) == (401, False)
    shared.line(r"open http://\S+token=\S+")

    guest = {"Cookie": cookie.split(";")[0]}
    assert shared.ask("GET", "/tunes/a-quick.chart", headers=guest, host=host).text == QUICK
    with connect(f"ws://{host}/ws", additional_headers=guest, max_size=None) as socket_:
        assert json.loads(socket_.recv(timeout=120))["type"] == "hello"
    foreign = {**guest, "Origin": "http://evil.example"}
    assert shared.ask("GET", "/tunes/a-quick.chart", headers=foreign, host=host).status == 403


def test_only_guests_need_the_token(shared: Server) -> None:
    """The local address needs no token; a Host header does not make a guest local."""
    host = _shared_host(shared)
    assert shared.ask("GET", "/tunes/a-quick.chart").status == 200
    masked = {"Host": shared.host}  # the header of the local address
    assert shared.ask("GET", "/tunes/a-quick.chart", headers=masked, host=host).status == 401


def _shared_host(shared: Server) -> str:
    if not any("token=" in line for line in shared.printed):
        shared.line(r"open http://\S+token=\S+")
    return f"{SHARED}:{shared.host.rpartition(':')[2]}"


@pytest.fixture(autouse=True)
def _alive(request: pytest.FixtureRequest) -> Iterator[None]:
    """Check that the server still runs after each test."""
    yield
    for name in ("server", "shared"):
        if name in request.fixturenames:
            assert request.getfixturevalue(name).process.poll() is None
