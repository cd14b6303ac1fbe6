"""The front of a session: how it is entered and left."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

from charts import TWO_PARTS
from stage import Stage

from backing.live.console import Console

if TYPE_CHECKING:
    import pytest

ENDINGS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Hurried:
    """A session that is over as it begins, and whose player presses Ctrl-C while it closes."""

    def __init__(self) -> None:
        self.session = Stage(TWO_PARTS).session
        self.transport = self.session.transport
        self.news_since = self.session.news_since
        self.is_over = True
        self.closed = False

    def start(self) -> None:
        """Look whether Ctrl-Z can stop it."""
        self.stoppable = signal.getsignal(signal.SIGTSTP) != signal.SIG_IGN

    def close(self) -> None:
        """Take a moment to release every key."""
        for number in ENDINGS:
            signal.raise_signal(number)
        self.closed = True


def test_a_second_signal_does_not_cut_the_silencing_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while the session closes leaves it its time; afterwards signals are as before."""
    monkeypatch.setattr("sys.stdin", None)
    before = [signal.getsignal(number) for number in (*ENDINGS, signal.SIGTSTP)]
    session = Hurried()
    Console(json=False, large=False, keys=False).run(session)  # type: ignore[arg-type]

    assert session.closed
    assert not session.stoppable
    assert [signal.getsignal(number) for number in (*ENDINGS, signal.SIGTSTP)] == before


def test_news_that_comes_while_news_is_told_is_not_lost(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What another thread tells while lines are printed is printed the next time."""
    monkeypatch.setattr("sys.stdin", None)
    session = Stage(TWO_PARTS).session
    session.tell("one")
    console = Console(json=False, large=False, keys=False)
    console._session = session
    since = session.news_since

    def meanwhile(told: int) -> tuple[list[str], int]:
        heard = since(told)
        if told == 0:
            session.tell("two")
        return heard

    monkeypatch.setattr(session, "news_since", meanwhile)
    console._tell()
    console._tell()

    assert capsys.readouterr().err == "backing: one\nbacking: two\n"
