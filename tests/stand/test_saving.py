"""Saves over HTTP: nothing is lost or half-written, and changes of files are announced."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from tests.stand.conftest import QUICK, SLOW
from tests.stand.server import titles_of

if TYPE_CHECKING:
    from tests.stand.server import Server

NEW = {"If-None-Match": "*"}
FAULTY = QUICK.replace("| D7 |", "| Dmaj77 |")


def test_a_save_needs_the_tag_of_the_text(server: Server) -> None:
    """A save needs the tag of the text, and answers with a new one (RFC 9110, 13.1.1)."""
    assert server.ask("PUT", "/tunes/song.chart", QUICK.encode(), NEW).status == 204
    read = server.ask("GET", "/tunes/song.chart")
    saved = server.ask(
        "PUT", "/tunes/song.chart", SLOW.encode(), {"If-Match": read.headers["etag"]}
    )

    assert read.text == QUICK
    assert saved.status == 204
    assert (server.folder / "song.chart").read_text(encoding="utf-8") == SLOW
    assert server.ask("GET", "/tunes/song.chart").headers["etag"] == saved.headers["etag"]
    assert not [path for path in server.folder.iterdir() if path.name.startswith(".song")]


def test_a_conflict_loses_neither_text(server: Server) -> None:
    """After a save by another program, the page gets that text and can keep both."""
    server.ask("PUT", "/tunes/both.chart", QUICK.encode(), NEW)
    tag = server.ask("GET", "/tunes/both.chart").headers["etag"]
    (server.folder / "both.chart").write_text(SLOW, encoding="utf-8")

    conflict = server.ask("PUT", "/tunes/both.chart", FAULTY.encode(), {"If-Match": tag})
    mine = server.ask("PUT", "/tunes/both%20(mine).chart", FAULTY.encode(), NEW)
    again = server.ask(
        "PUT", "/tunes/both.chart", FAULTY.encode(), {"If-Match": conflict.headers["etag"]}
    )

    assert (conflict.status, conflict.text) == (412, SLOW)
    assert mine.status == again.status == 204
    assert (server.folder / "both (mine).chart").read_text(encoding="utf-8") == FAULTY


def test_a_new_chart_replaces_nothing(server: Server) -> None:
    """A new file replaces no old one, and an edited file that is gone is a conflict."""
    taken = server.ask("PUT", "/tunes/a-quick.chart", b"mine", NEW)
    gone = server.ask("PUT", "/tunes/gone.chart", b"mine", {"If-Match": '"abc"'})

    assert (taken.status, taken.text) == (412, QUICK)
    assert (gone.status, gone.body) == (412, b"")
    assert (server.folder / "a-quick.chart").read_text(encoding="utf-8") == QUICK
    assert not (server.folder / "gone.chart").exists()


@pytest.mark.parametrize(
    "headers, body, status",
    [
        ({}, b"x", 428),
        ({"If-None-Match": '"abc"'}, b"x", 428),
        ({"If-Match": '"a"', "If-None-Match": "*"}, b"x", 428),
        (NEW, b"\xff\xfe", 400),
        (NEW, b"a\0b", 400),
        (NEW, b"x" * (256 * 1024 + 1), 413),
    ],
)
def test_refused_saves(server: Server, headers: dict[str, str], body: bytes, status: int) -> None:
    """A refused save has a status and makes no file."""
    assert server.ask("PUT", "/tunes/not.chart", body, headers).status == status
    assert not (server.folder / "not.chart").exists()


@pytest.mark.parametrize(
    "name", ["no-suffix", "x.txt", ".chart", "a%2Fb.chart", "a%5Cb.chart", "%0A.chart", "n" * 130]
)
def test_names_that_no_file_may_have(server: Server, name: str) -> None:
    """Such names are not found, for reading or writing."""
    assert server.ask("GET", f"/tunes/{name}").status == 404
    assert server.ask("PUT", f"/tunes/{name}", b"x", NEW).status == 404


def test_a_text_is_checked(server: Server) -> None:
    """`POST /check` answers with the faults and their places."""
    faulty = json.loads(server.ask("POST", "/check", FAULTY.encode()).text)
    valid = json.loads(server.ask("POST", "/check", QUICK.encode()).text)

    (fault,) = faulty["faults"]
    line = FAULTY.splitlines()[fault["line"] - 1]
    assert line[: fault["column"] - 1].endswith("| Dmaj7")  # up to the error
    assert "did you mean" in fault["text"]
    assert valid["faults"] == []
    for text in (b"", b"\0", b"\xff", b"[A]\n" + b"| C " * 20_000, b"style: none\n[A]\n| C |\n"):
        assert json.loads(server.ask("POST", "/check", text).text)["faults"]


def test_sets_are_text_files(server: Server) -> None:
    """A set has one tune a line, in order; the songbook lists it."""
    text = "# tonight\nslow.chart\n\na-quick.chart\n"
    assert server.ask("PUT", "/sets/Friday", text.encode(), NEW).status == 204
    with server.page() as page:
        book = page.receive("songbook", lambda each: bool(each["sets"]))

    (listed,) = book["sets"]
    assert (listed["name"], listed["tunes"]) == ("Friday", ["slow.chart", "a-quick.chart"])
    assert titles_of(listed["html"]) == ["Slow Steps", "Quick Steps"]
    assert (server.folder / "Friday.set").read_text(encoding="utf-8") == text
    assert server.ask("GET", "/sets/Friday").text == text
    assert server.ask("GET", "/sets/Friday.set").text == text


def test_sets_are_edited_in_place(server: Server) -> None:
    """Tunes are added, moved and removed by their places; comments stay; conflicts are refused."""
    (server.folder / "Sunday.set").write_text(
        "# Sunday\n\n# first half\nslow.chart\n", encoding="utf-8"
    )
    path = server.folder / "Sunday.set"
    with server.page() as page:

        def edit(**what: object) -> str:
            page.send(type="set", **{"name": "Sunday", **what})
            page.time()
            faults = [each["text"] for each in page.received if each["type"] == "fault"]
            page.received.clear()
            return (
                faults[0] if faults else path.read_text(encoding="utf-8") if path.exists() else ""
            )

        assert edit(do="add", tune="a-quick.chart").endswith("slow.chart\na-quick.chart\n")
        moved = edit(do="move", tune="a-quick.chart", place=1, to=0)
        assert moved == "# Sunday\n\n# first half\na-quick.chart\nslow.chart\n"
        assert "changed meanwhile" in edit(do="out", tune="a-quick.chart", place=1)
        assert "no place 5" in edit(do="move", tune="slow.chart", place=1, to=4)
        assert edit(do="out", tune="slow.chart", place=1).endswith("half\na-quick.chart\n")
        assert "there is no nothing.chart" in edit(do="add", tune="nothing.chart")
        assert "a set 'Sunday' already" in edit(do="new", name="Sunday")
        assert "a name of the songbook ends in" in edit(do="rename", to="../up")
        assert edit(do="rename", to="Monday") == ""
        kept = (server.folder / "Monday.set").read_text(encoding="utf-8")
        assert kept == "# Monday\n\n# first half\na-quick.chart\n"
        assert "do needs one of new" in edit(do="burn")
        assert "place needs a whole number" in edit(do="out", tune="a-quick.chart")
        assert "tune needs a text of at most 200 characters" in edit(do="add")
        edit(do="delete", name="Monday")
    assert not (server.folder / "Monday.set").exists()
    assert (server.folder / "a-quick.chart").exists()


def test_a_new_chart_and_another_version_get_names_of_their_own(server: Server) -> None:
    """A new chart has a free name made from its title; each version has a free name too."""
    new = server.ask("POST", "/new?title=A%20Quick").text
    odd = server.ask("POST", "/new?title=%2E%2E%2F%22%C3%89t%C3%A9%22").text
    mine = [server.ask("PUT", "/tunes/a-quick.chart?beside=mine", b"one").text for _ in range(2)]

    text = (server.folder / new).read_bytes()
    assert new == "a-quick-2.chart"
    assert json.loads(server.ask("POST", "/check", text).text)["faults"] == []
    assert odd == "été.chart"
    assert mine == ["a-quick (mine).chart", "a-quick (mine 2).chart"]
    assert (server.folder / mine[1]).read_text(encoding="utf-8") == "one"
    assert server.ask("PUT", "/tunes/a-quick.chart?beside=ours", b"one").status == 400
    for name in (*mine, new, odd):
        (server.folder / name).unlink()


def test_a_chart_saved_by_another_program_is_shown(server: Server) -> None:
    """A saved chart is shown; faults are announced, and the band keeps playing the old chart."""
    path = server.folder / "watched.chart"
    path.write_text(QUICK, encoding="utf-8")
    with server.page() as page:
        page.send(type="open", tune="watched.chart")
        page.receive("chart", lambda each: each["tune"] == "watched.chart")
        path.write_text(QUICK.replace("Quick", "Quicker"), encoding="utf-8")
        page.receive("chart", lambda each: each["title"] == "Quicker Steps")
        page.command("play")
        page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
        path.write_text(FAULTY, encoding="utf-8")
        assert "Dmaj77" in page.receive("news", lambda each: "Dmaj77" in each["text"])["text"]
        page.receive("bars", lambda each: bool(each["add"]))
        path.write_text(QUICK.replace("Quick", "Quickest"), encoding="utf-8")
        page.receive("chart", lambda each: each["title"] == "Quickest Steps")
        page.state(playing=True)
        page.command("stop")


def test_a_faulty_chart_is_in_the_songbook_with_its_fault(server: Server) -> None:
    """A faulty chart is listed and cannot be opened; the open tune stays."""
    with server.page() as page:
        page.send(type="open", tune="a-quick.chart")
        page.state(tune="a-quick.chart")
        (server.folder / "zz-faulty.chart").write_text(FAULTY, encoding="utf-8")
        book = page.receive("songbook", lambda each: "zz-faulty.chart" in each["tunes"])
        page.send(type="open", tune="zz-faulty.chart")
        fault = page.receive("fault")["text"]
        page.command("tempo 300")
        page.state(tune="a-quick.chart", tempo_wished=300)

    assert "has a fault" in book["tunes"]
    assert "zz-faulty.chart" not in book["playable"]
    assert "Dmaj77" in fault
