"""The web application: the page, its sounds, the songbook, and the socket."""

from __future__ import annotations

import asyncio
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route, WebSocketRoute

from backing.chart.read import LIMIT
from backing.chart.sets import SET
from backing.errors import BackingError
from backing.stand.access import is_local
from backing.stand.bank import INDEX, SOUND
from backing.stand.client import Client, handle
from backing.stand.labels import page_html
from backing.stand.songbook import CHART, ConflictError, FileNameError, tag_of
from backing.stand.stand import MOST_CLIENTS, RESERVED_CLIENTS
from backing.stand.validation import check_text, starter_text

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Awaitable, Callable

    from starlette.requests import Request
    from starlette.websockets import WebSocket

    from backing.stand.stand import Stand

STATIC = Path(__file__).parent / "static"

BODY_SECONDS = 10.0
"""The longest that a request's body may take to arrive."""

_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
}
_VERSIONS = ("mine", "theirs")
_LONGEST_TITLE = 80
_TRY_LATER = 1013
_GONE = 400
"""The status for a client that has disconnected; nobody reads it."""

_MOST_WAITING = 8
_PIECE_BYTES = 64 << 10
_CACHED_FOR_EVER = "private, max-age=31536000, immutable"


def application(stand: Stand) -> Starlette:
    """Return the application of a stand."""

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        await stand.start()
        try:
            yield
        finally:
            await stand.close()

    def with_errors(
        endpoint: Callable[[Stand, Request], Awaitable[Response]],
    ) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            try:
                return await endpoint(stand, request)
            except ConflictError as error:
                return _conflict(error)
            except BackingError as error:
                status = 404 if isinstance(error, FileNameError) else 400
                return PlainTextResponse(stand.plain(str(error)), status)
            except BodyError as error:
                return PlainTextResponse(str(error), error.status, {"connection": "close"})
            except ClientDisconnect:
                return Response(status_code=_GONE)

        return answer

    async def socket(websocket: WebSocket) -> None:
        await _socket(stand, websocket)

    return Starlette(
        routes=[
            Route("/", with_errors(_page)),
            Route("/static/{name:path}", with_errors(_static)),
            Route("/bank/{name}", with_errors(_bank)),
            Route("/tunes/{name:path}", with_errors(_tune), methods=["GET", "PUT"]),
            Route("/sets/{name:path}", with_errors(_set), methods=["GET", "PUT"]),
            Route("/new", with_errors(_new), methods=["POST"]),
            Route("/check", with_errors(_check), methods=["POST"]),
            WebSocketRoute("/ws", socket),
        ],
        lifespan=lifespan,
    )


async def _page(stand: Stand, request: Request) -> Response:
    return HTMLResponse(await asyncio.to_thread(page_html))


async def _static(stand: Stand, request: Request) -> Response:
    """Return a file of the page; a name that is not listed in its folder is not found."""
    known = {path.relative_to(STATIC).as_posix(): path for path in STATIC.rglob("*")}
    path = known.get(request.path_params["name"])
    if path is None or path.suffix not in _TYPES or not path.is_file():
        return PlainTextResponse("there is no such file", 404)
    return Response(path.read_bytes(), media_type=_TYPES[path.suffix])


async def _bank(stand: Stand, request: Request) -> Response:
    name, dot, suffix = request.path_params["name"].partition(".")
    data = await asyncio.to_thread(stand.banks.store.get, name, dot + suffix)
    if data is None:
        return PlainTextResponse("there is no such bank", 404)
    kind = {INDEX: "application/json", SOUND: "audio/flac"}[dot + suffix]
    headers = {"cache-control": _CACHED_FOR_EVER, "content-length": str(len(data))}
    return StreamingResponse(_pieces(data), media_type=kind, headers=headers)


async def _pieces(data: bytes) -> AsyncIterator[bytes]:
    """Yield bytes only as fast as they are read, so that a slow reader fills no memory."""
    for start in range(0, len(data), _PIECE_BYTES):
        yield data[start : start + _PIECE_BYTES]


async def _new(stand: Stand, request: Request) -> Response:
    """Save a starter chart; return the name of its file."""
    title = " ".join(request.query_params.get("title", "").split())[:_LONGEST_TITLE]
    file = await asyncio.to_thread(stand.songbook.create, title, starter_text(title).encode())
    stand.folder.scan_soon()
    return PlainTextResponse(file, 201)


async def _tune(stand: Stand, request: Request) -> Response:
    return await _text_file(stand, request, request.path_params["name"], CHART)


async def _set(stand: Stand, request: Request) -> Response:
    name = request.path_params["name"].removesuffix(SET) + SET
    return await _text_file(stand, request, name, SET)


async def _text_file(stand: Stand, request: Request, name: str, suffix: str) -> Response:
    """Return or save a file of the songbook."""
    book = stand.songbook
    if request.method != "PUT":
        found = await asyncio.to_thread(book.read, name, suffix)
        if found is None:
            return PlainTextResponse("there is no such file in the songbook", 404)
        return _text(found[0], found[1])
    if (mark := request.query_params.get("beside")) is not None:
        return await _version(stand, request, name, suffix, mark)
    wanted, new = request.headers.get("if-match"), request.headers.get("if-none-match")
    if (wanted is None) == (new is None) or (new is not None and new != "*"):
        return PlainTextResponse(
            "send the tag of the edited text (If-Match), or If-None-Match: * for a new file", 428
        )
    book.path_of(name, suffix)  # refuse a bad name before reading the body
    data = await _text_body(request)
    tag = None if wanted is None else wanted.removeprefix("W/").strip('"')
    fresh = await asyncio.to_thread(book.save, name, data, suffix, tag=tag)
    stand.folder.scan_soon()
    return Response(status_code=204, headers={"etag": f'"{fresh}"'})


async def _version(stand: Stand, request: Request, name: str, suffix: str, mark: str) -> Response:
    """Save another version under a free name; return that name."""
    if mark not in _VERSIONS:
        return PlainTextResponse(f"beside is one of {', '.join(_VERSIONS)}", 400)
    stand.songbook.path_of(name, suffix)
    data = await _text_body(request)
    free = await asyncio.to_thread(stand.songbook.save_version, name, data, suffix, mark)
    stand.folder.scan_soon()
    return PlainTextResponse(free, 201)


def _text(data: bytes, tag: str, status: int = 200) -> Response:
    return Response(data, status, {"etag": f'"{tag}"'}, media_type="text/plain; charset=utf-8")


def _conflict(error: ConflictError) -> Response:
    if error.text is None:
        return PlainTextResponse("", 412)
    return _text(error.text, tag_of(error.text), 412)


async def _text_body(request: Request) -> bytes:
    """Return the body of a request, which must be text.

    Raises:
        BodyError: as `_body`, and when it is not UTF-8 or has a NUL character.
    """
    data = await _body(request)
    try:
        text = data.decode()
    except UnicodeDecodeError:
        raise BodyError(400, "this is not text: save it as UTF-8") from None
    if "\0" in text:
        raise BodyError(400, "this is not text: remove the NUL characters")
    return data


async def _check(stand: Stand, request: Request) -> Response:
    data = await _body(request)
    if stand.checking.locked() and stand.waiting >= _MOST_WAITING:
        raise BodyError(503, "too many texts wait to be checked: try again")
    stand.waiting += 1
    try:
        async with stand.checking:
            return JSONResponse(await asyncio.to_thread(check_text, data))
    finally:
        stand.waiting -= 1


class BodyError(Exception):
    """A body that is refused.

    Attributes:
        status: the status of the answer.
    """

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status


async def _body(request: Request) -> bytes:
    """Return the body of a request; stop reading when it exceeds the largest chart.

    Raises:
        BodyError: when it is too long, or does not arrive in time.
    """
    too_long = BodyError(413, f"the text is too long: at most {LIMIT // 1024} KiB")
    declared = request.headers.get("content-length", "0")
    if declared.isdecimal() and int(declared[:20]) > LIMIT:
        raise too_long
    data = bytearray()
    try:
        async with asyncio.timeout(BODY_SECONDS):
            async for chunk in request.stream():
                data += chunk
                if len(data) > LIMIT:
                    raise too_long
    except TimeoutError:
        raise BodyError(408, f"the text did not arrive within {BODY_SECONDS:g} seconds") from None
    return bytes(data)


async def _socket(stand: Stand, websocket: WebSocket) -> None:
    """Serve a client until it disconnects."""
    reserved = 0 if is_local(websocket.scope.get("server")) else RESERVED_CLIENTS
    if len(stand.clients) >= MOST_CLIENTS - reserved:
        await websocket.close(_TRY_LATER, "too many pages are open: close one, or try later")
        return
    await websocket.accept()
    client = Client(websocket)
    try:
        await stand.welcome(client)
        await client.serve(partial(handle, stand))
    finally:
        stand.leave(client)
