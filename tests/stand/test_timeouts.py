"""The undocumented parts of uvicorn that `backing/stand/timeouts.py` extends.

uvicorn's version has an upper bound for this reason (tests/test_bounds.py). A release that changes
these parts fails here, not on a player's computer.
"""

from __future__ import annotations

import inspect

import pytest
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from backing.stand.timeouts import ClientSocket, Connection

ASKED = {
    H11Protocol: {"transport", "loop", "server", "connections", "cycle"},
    WebSocketsSansIOProtocol: {"transport", "loop", "server", "connections", "writable"},
}
"""The attributes that our classes read, by the class of uvicorn that sets them."""


@pytest.mark.parametrize("ours", [Connection, ClientSocket])
def test_overridden_methods_exist(ours: type) -> None:
    """Each public method of ours overrides one of uvicorn's with as many parameters."""
    own_classes = [each for each in ours.__mro__ if each.__module__ == ours.__module__]
    theirs = ours.__mro__[len(own_classes)]
    members = [each for kind in own_classes for each in vars(kind).items()]
    named = [name for name, work in members if inspect.isfunction(work)]
    public = [name for name in named if not name.startswith("_")]

    assert public
    for name in public:
        assert hasattr(theirs, name), f"{theirs.__name__} has no {name} any more"
        mine, own = (inspect.signature(getattr(each, name)) for each in (ours, theirs))
        assert len(mine.parameters) == len(own.parameters), name


@pytest.mark.parametrize("theirs", list(ASKED))
def test_attributes_that_are_read_are_set(theirs: type) -> None:
    """Uvicorn's classes set each attribute that ours read."""
    source = inspect.getsource(theirs)

    for name in ASKED[theirs]:
        assert f"self.{name}" in source, f"{theirs.__name__} sets no {name} any more"
