"""The console: how it starts, ends and prints."""

from __future__ import annotations

import signal

import pytest
from charts import TWO_PARTS
from stage import Stage

from backing.live.console import Console
from backing.live.session import Session

ENDINGS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Hurried:
    """A session that is over at once and receives Ctrl-C while it closes."""

    def __init__(self) -> None:
        self.session = Stage(TWO_PARTS).session
        self.transport = self.session.transport
        self.messages_since = self.session.messages_since
        self.is_over = True
        self.has_ended = False
        self.closed = False

    def start(self) -> None:
        """Record whether Ctrl-Z could stop it."""
        self.stoppable = signal.getsignal(signal.SIGTSTP) != signal.SIG_IGN

    def close(self) -> None:
        """Receive Ctrl-C while keys are released."""
        for number in ENDINGS:
            signal.raise_signal(number)
        self.closed = True


def test_a_second_signal_does_not_cut_the_silencing_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while the session closes does not interrupt it; then signals are as before."""
    monkeypatch.setattr("sys.stdin", None)
    before = [signal.getsignal(number) for number in (*ENDINGS, signal.SIGTSTP)]
    session = Hurried()
    Console(json=False, large=False, keys=False).run([session])  # type: ignore[list-item]

    assert session.closed
    assert not session.stoppable
    assert [signal.getsignal(number) for number in (*ENDINGS, signal.SIGTSTP)] == before


def test_a_message_added_while_messages_are_printed_is_not_lost(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A message added by another thread while messages are printed is printed the next time."""
    monkeypatch.setattr("sys.stdin", None)
    session = Stage(TWO_PARTS).session
    session.notify("one")
    console = Console(json=False, large=False, keys=False)
    console._session = session
    since = session.messages_since

    def meanwhile(events: int) -> tuple[list[str], int]:
        heard = since(events)
        if events == 0:
            session.notify("two")
        return heard

    monkeypatch.setattr(session, "messages_since", meanwhile)
    console._print_changes()
    console._print_changes()

    assert capsys.readouterr().err == "backing: one\nbacking: two\n"


class Played(Hurried):
    """A session that records when it starts and closes."""

    def __init__(self, name: str, events: list[str], *, has_ended: bool) -> None:
        super().__init__()
        self.name, self.events, self.has_ended = name, events, has_ended

    def start(self) -> None:
        """Record the start."""
        self.events.append(f"{self.name} begins")

    def close(self) -> None:
        """Record the close."""
        self.events.append(f"{self.name} closes")


@pytest.mark.parametrize("leaves", [0, 1, 2])
def test_sessions_are_played_until_the_player_leaves(
    leaves: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each session closes before the next starts; after quit, none starts."""
    monkeypatch.setattr("sys.stdin", None)
    events: list[str] = []
    sessions = [
        Played(name, events, has_ended=number != leaves) for number, name in enumerate("abc")
    ]

    Console(json=False, large=False, keys=False).run(sessions)  # type: ignore[arg-type]
    assert events == [
        f"{session.name} {what}"
        for session in sessions[: leaves + 1]
        for what in ("begins", "closes")
    ]


def test_an_output_is_kept_for_the_next_session() -> None:
    """A session closes its output unless `keeps_output` is set."""
    for kept in (True, False):
        output = Closed()
        settings = Stage(TWO_PARTS).session.transport.settings
        Session("-", settings, output, keeps_output=kept).close()
        assert output.closed != kept


class Closed:
    """An output that records whether it is closed."""

    name, is_there, closed = "nowhere", True, False

    def reconnect(self) -> bool:
        """Do nothing."""
        return True

    def send(self, message: bytes) -> None:
        """Ignore the message."""

    def close(self) -> None:
        """Record the close."""
        self.closed = True
