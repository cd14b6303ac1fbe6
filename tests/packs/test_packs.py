"""Packs: the notes of a ladder, names of files, digests, records, page and manifest."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import TYPE_CHECKING
from urllib.parse import unquote

import pretty_midi
import pytest
from pypdf import PdfReader

from backing.chart.read import read_chart
from backing.errors import OutputError, SettingsError
from backing.fretboard.request import FrettingSettings
from backing.notes import Player
from backing.out.audio import RecordingSettings
from backing.out.renderer import usual_sound_font
from backing.packs.digest import digest_of, manifest_of
from backing.packs.make import make
from backing.packs.page import contents_of, page_of
from backing.packs.plan import PieceKind, plan, slug
from backing.packs.record import Records, locked
from backing.packs.settings import PackSettings, usual_tempi
from backing.performance.ladder import LadderPerformance
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.scores.sidecar import load_tune
from backing.timing import Tempo, WrittenTempo

if TYPE_CHECKING:
    from pathlib import Path

    from backing.packs.plan import Plan

CHART = """title: Lamp <b>&</b> "Ink" ♯ 3/4
key: Bb
meter: 3/4
tempo: 120
ending: hold
form: A A B'
[A] 4
| (pickup 1/4) F7 | Bb | Eb | F7 | Bb |
[B'] 2
| Gm | F7 |
"""


def tempi(*numbers: float) -> tuple[WrittenTempo, ...]:
    """Return tempi written as plain numbers."""
    return tuple(WrittenTempo.parse(f"{number:g}") for number in numbers)


def request(**changes: object) -> PackSettings:
    usual = PackSettings(
        settings=Settings(choruses=1),
        tempi=tempi(90, 120),
        keys=(),
        parts=None,
        minus=(Player.CHOP,),
        ending="mp3",
        sound=RecordingSettings(usual_sound_font()),
    )
    return replace(usual, **changes)  # type: ignore[arg-type]


def planned(text: str = CHART, **changes: object) -> Plan:
    return plan("lamp.chart", read_chart(text), request(**changes))


def test_a_ladder_has_the_notes_of_each_tempo() -> None:
    """Each chorus has the bars of the performance at its tempo."""
    chart = read_chart(CHART)
    settings = Settings(choruses=3, bpm=100, count_in=1)

    level = LadderPerformance(chart, settings, (100, 100, 100))
    assert list(level.bars()) == list(Performance(chart, settings).bars())

    bars = list(LadderPerformance(chart, settings, (100, 140, 180)).bars())
    slow, fast = (list(Performance(chart, replace(settings, bpm=bpm)).bars()) for bpm in (100, 140))
    tempi = [bar.bpm for bar in bars]
    assert tempi == sorted(tempi)
    assert set(tempi) == {100, 140, 180}
    first, second = tempi.index(140), tempi.index(180)
    assert bars[:first] == slow[:first]
    assert [bar.notes for bar in bars[first:second]] == [bar.notes for bar in fast[first:second]]
    assert all(bar.end == after.start for bar, after in pairwise(bars))


@pytest.mark.parametrize(
    "goal, found",
    [
        ("200", (120, 150, 180, 200)),
        ("dotted-quarter=112", (65, 85, 100, 112)),
        ("half=110", (65, 80, 100, 110)),
        ("dotted-quarter=62", (38, 46, 56, 62)),
        ("66.5", (40, 50, 60, 66.5)),
        ("20", (20,)),
        ("dotted-quarter=16", (14, 16)),
    ],
)
def test_usual_tempi_are_shares_of_the_goal(goal: str, found: tuple[float, ...]) -> None:
    """60, 75, 90 and 100 percent, rounded to fives, below 100 to twos; none is too slow to play."""
    tempo = Tempo.parse(goal)
    assert usual_tempi(tempo) == tuple(Tempo(each, tempo.unit) for each in found)


def test_the_melody_is_in_a_pack(tmp_path: Path) -> None:
    """The lead plays and can be left out; another melody gives other digests."""
    (tmp_path / "led.chart").write_text(
        "key: C\ntempo: 120\nstyle: two-beat\nmelody: led.melody\n[A] 2\n| C | G |\n",
        encoding="utf-8",
    )
    found = []
    for last in ("B4", "G4"):
        melody = f"[A]\n| C5:1/4 E5 G5 E5 | D5:1/2 {last} |\n"
        (tmp_path / "led.melody").write_text(melody, encoding="utf-8")
        chart = load_tune(str(tmp_path / "led.chart"))
        found.append(
            plan("led.chart", chart, request(keys=("D",), minus=(Player.CHOP, Player.LEAD)))
        )
    midi = next(piece for piece in found[0].pieces if piece.kind is PieceKind.MIDI)
    tracks = pretty_midi.PrettyMIDI(io.BytesIO(make(found[0], midi))).instruments
    led = [note.pitch for track in tracks if track.name == "Lead" for note in track.notes]

    assert led == [74, 78, 81, 78, 76, 73]
    assert any(piece.without is Player.LEAD for piece in found[0].pieces)
    assert digest_of(found[0], midi) != digest_of(found[1], midi)
    without = planned(minus=(Player.CHOP, Player.LEAD)).pieces
    assert not any(piece.without is Player.LEAD for piece in without)


def test_the_files_of_a_pack() -> None:
    """Each key has a sheet, a MIDI file, whole tunes with and without chop, a ladder and loops."""
    pieces = planned(keys=("C", "Bb", "C")).pieces

    for key in ("C", "Bb"):
        kinds = [piece.kind for piece in pieces if piece.key == key]
        assert {kind: kinds.count(kind) for kind in PieceKind} == {
            PieceKind.SHEET: 1,
            PieceKind.MIDI: 1,
            PieceKind.WHOLE: 4,
            PieceKind.LADDER: 1,
            PieceKind.PART: 4,
        }
    names = [piece.name for piece in pieces]
    assert len(set(names)) == len(names) == 22
    assert "B-flat/lamp-b-b-ink-3-4-B-flat-whole-90-without-chop.mp3" in names
    assert "B-flat/lamp-b-b-ink-3-4-B-flat-part-b-120.mp3" in names


@pytest.mark.parametrize(
    "changes, found",
    [
        ({"parts": ("D",)}, "'D' is not a part: choose from A, B'"),
        ({"keys": ("H",)}, "H"),
        ({"keys": ("Am",)}, "minor"),
    ],
)
def test_parts_and_keys_that_a_chart_does_not_have(changes: dict[str, object], found: str) -> None:
    with pytest.raises(SettingsError, match=found):
        planned(**changes)


@pytest.mark.parametrize(
    "text, found",
    [
        ("Über ån / 1:2?", "über-ån-1-2"),
        ("../../etc", "etc"),
        ("?!*", "tune"),
        ("", "tune"),
        ("ł" * 90, "ł" * 25),
        ("\n a\tb", "a-b"),
    ],
)
def test_any_text_makes_a_name(text: str, found: str) -> None:
    """Letters, digits and hyphens, at most fifty bytes."""
    assert slug(text) == found


def test_names_that_differ_only_in_case_or_signs_get_numbers() -> None:
    """No two parts share a file."""
    text = "key: C\n[A]\n| C |\n[A']\n| F |\n[A'']\n| G |\n"
    pieces = planned(text, tempi=tempi(120), minus=()).pieces

    names = [piece.name for piece in pieces]
    assert len({name.casefold() for name in names}) == len(names)


def test_a_digest_changes_with_its_inputs() -> None:
    """Chart, seed and format change the digests of loops; another tempo changes none of others."""

    def digests(each: Plan) -> dict[str, str]:
        return {piece.name.rpartition(".")[0]: digest_of(each, piece) for piece in each.pieces}

    usual = digests(planned())
    assert usual == digests(planned())
    for changed in (
        planned(CHART.replace("| Gm", "| Cm")),
        planned(settings=Settings(choruses=1, seed=2)),
        planned(ending="ogg"),
    ):
        other = digests(changed)
        loops = [name for name in usual if "-part-" in name]
        assert loops
        assert all(other[name] != usual[name] for name in loops)
    more = digests(planned(tempi=tempi(90, 120, 140)))
    same = [name for name in usual if "-whole-" in name or "-part-" in name]
    assert all(more[name] == usual[name] for name in same)


def test_sheet_and_band_share_the_instrument() -> None:
    """Another instrument is named on the sheet and changes every digest."""
    guitar = Settings(choruses=1, fretting=FrettingSettings(instrument="guitar"))
    usual, other = planned(), planned(settings=guitar)

    pairs = zip(usual.pieces, other.pieces, strict=True)
    assert all(digest_of(usual, one) != digest_of(other, two) for one, two in pairs)
    sheet = next(piece for piece in other.pieces if piece.kind is PieceKind.SHEET)
    text = PdfReader(io.BytesIO(make(other, sheet))).pages[0].extract_text()
    assert "guitar" in text.lower()
    assert "mandolin" not in text.lower()


def test_a_file_is_recognised_after_any_interruption(tmp_path: Path) -> None:
    """Our files may be replaced after each step of writing; a changed file may not."""
    records = Records(tmp_path)
    assert not records.has("E/a.mid", "one")
    records.put("E/a.mid", "one", b"first")
    assert records.has("E/a.mid", "one")
    assert not records.has("E/a.mid", "two")

    records.put("E/a.mid", "two", b"second")
    (tmp_path / "E/a.mid").write_bytes(b"first")  # as if killed before the file was replaced
    assert not records.has("E/a.mid", "two")
    records.refuse_foreign("E/a.mid")
    (tmp_path / "E/a.mid").unlink()
    records.refuse_foreign("E/a.mid")

    (tmp_path / "E/a.mid").write_bytes(b"somebody's own")
    with pytest.raises(OutputError, match="is not a file of this pack, or was changed"):
        records.refuse_foreign("E/a.mid")


@pytest.mark.parametrize("data", [b"", b"{", b"[1]", b'{"name": "E/a.mid"}', b"\xff"])
def test_a_broken_record_is_ignored(tmp_path: Path, data: bytes) -> None:
    records = Records(tmp_path)
    records.put("a.mid", "one", b"first")
    (record,) = (tmp_path / ".backing").glob("*.json")
    record.write_bytes(data)

    assert not records.has("a.mid", "one")
    with pytest.raises(OutputError, match="--force"):
        records.refuse_foreign("a.mid")


def test_only_unfinished_files_are_removed(tmp_path: Path) -> None:
    records = Records(tmp_path)
    kept = [".a.mid.swp", ".a.mid.12345678", "a.mid.backing-part", "a.mid", ".a.mid"]
    for name in (*kept, ".a.mid.k3_9x2ab.backing-part", ".b.mid.12345678.backing-part"):
        (tmp_path / name).write_bytes(b"x")

    records.tidy(["a.mid"])

    assert sorted(each.name for each in tmp_path.iterdir()) == sorted([*kept, ".backing"])


def test_a_folder_is_locked_for_one_process(tmp_path: Path) -> None:
    """A second lock is an error until the first is released."""
    with (
        locked(tmp_path),
        pytest.raises(OutputError, match="another pack is being made"),
        locked(tmp_path),
    ):
        pass
    with locked(tmp_path):
        pass


class _Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


def test_the_page_plays_every_recording_and_needs_nothing() -> None:
    """Each recording has a labelled player; all links lead to files of the pack."""
    pack = planned(keys=("Bb", "C"))
    page = _Page(page_of(pack).decode())

    sounds = {unquote(str(each["src"])) for each in page.all("audio")}
    links = {unquote(str(each["href"])) for each in page.all("a")}
    assert sounds == {piece.name for piece in pack.pieces if piece.name.endswith(".mp3")}
    assert links == {piece.name for piece in pack.pieces}
    labels = [each["aria-label"] for each in page.all("audio")]
    assert len(set(labels)) == len(labels)
    assert not {"link", "img", "iframe"} & {tag for tag, _ in page.tags}
    assert page.all("script") == [{}]
    assert 'Lamp <b>&</b> "Ink" ♯ 3/4' in page.words
    assert "hurt hearing" in page.words
    assert page.all("html") == [{"lang": "en"}]


def test_the_contents_lead_to_every_pack() -> None:
    page = _Page(contents_of([("a-b", "A & B"), ("ö", "Ö")], "Evening").decode())

    assert [unquote(str(each["href"])) for each in page.all("a")] == [
        "a-b/index.html",
        "ö/index.html",
    ]
    assert "A & B" in page.words


def test_the_manifest_lists_files_and_commands() -> None:
    pack = planned()
    manifest = json.loads(manifest_of(pack, "make {}".format))

    assert manifest["chart"] == "lamp.chart"
    assert manifest["styles"] == ["waltz"]
    assert manifest["seed"] == 1
    assert [each["file"] for each in manifest["files"]] == [piece.name for piece in pack.pieces]
    assert [each["command"] for each in manifest["files"]] == [
        f"make {each.name}" for each in pack.pieces
    ]
    assert manifest_of(pack, str) == manifest_of(planned(), str)


def _luminance(colour: str) -> float:
    """Return the relative luminance of a colour (WCAG 2.2)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_contrast_in_light_and_dark() -> None:
    """Text has a contrast of at least 4.5 to 1 (WCAG 2.2, 1.4.3 AA)."""
    style = page_of(planned()).decode()
    for colours in re.findall(r":root \{([^}]*)\}", style):
        named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", colours))
        for ink in ("ink", "soft", "link"):
            for paper in ("paper", "care") if ink == "ink" else ("paper",):
                light, dark = sorted((_luminance(named[ink]), _luminance(named[paper])))[::-1]
                assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, paper)


@pytest.mark.parametrize(
    "players, without",
    [
        ({Player.BASS, Player.DRUMS}, {None}),
        ({Player.BASS, Player.CHOP}, {None, Player.CHOP}),
        ({Player.CHOP}, {None}),
        ({Player.CHOP, Player.LEAD}, {None}),
    ],
)
def test_only_players_who_play_are_left_out(
    players: set[Player], without: set[Player | None]
) -> None:
    """No recording is made twice or without players; the chart has no melody."""
    settings = Settings(choruses=1, players=frozenset(players))
    found = planned(settings=settings, minus=(Player.CHOP, Player.LEAD))
    assert {piece.without for piece in found.pieces} == without
