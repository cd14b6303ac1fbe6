"""What the stand's connections take for granted of uvicorn, which promises none of it.

`backing/stand/timeouts.py` extends two classes that are outside uvicorn's documented interface.
So its version has an upper bound (tests/test_bounds.py), and what is overridden is named here: a
release that moves any of it fails in a test and not at a player's.
"""

from __future__ import annotations

import inspect

import pytest
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from backing.stand.timeouts import Connection, PageSocket

ASKED = {
    H11Protocol: {"transport", "loop", "server", "connections", "cycle"},
    WebSocketsSansIOProtocol: {"transport", "loop", "server", "connections", "writable"},
}
"""Attributes of uvicorn's that our classes read, by the class that sets them."""


@pytest.mark.parametrize("ours", [Connection, PageSocket])
def test_what_we_override_is_there(ours: type) -> None:
    """Each public method of ours takes the place of one of uvicorn's, and is called alike."""
    theirs = ours.__mro__[1]
    named = [name for name, work in vars(ours).items() if inspect.isfunction(work)]
    public = [name for name in named if not name.startswith("_")]

    assert public
    for name in public:
        assert hasattr(theirs, name), f"{theirs.__name__} has no {name} any more"
        mine, own = (inspect.signature(getattr(each, name)) for each in (ours, theirs))
        assert len(mine.parameters) == len(own.parameters), name


@pytest.mark.parametrize("theirs", list(ASKED))
def test_what_we_read_is_set(theirs: type) -> None:
    """Each attribute that our classes read is set by uvicorn's."""
    source = inspect.getsource(theirs)

    for name in ASKED[theirs]:
        assert f"self.{name}" in source, f"{theirs.__name__} sets no {name} any more"
