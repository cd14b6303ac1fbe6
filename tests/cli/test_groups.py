"""Groups of options: what is declared is read, and printed back as words that say the same."""

from __future__ import annotations

import random
import shlex
from pathlib import Path

import pytest
import typer

from backing.cli import command, options
from backing.cli.contents import Contents
from backing.cli.fretting import Fretting
from backing.cli.groups import Group, options_of, spread
from backing.cli.play import Device, Practice
from backing.cli.recordings import Recordings, Sound
from backing.cli.sheet import Layout
from tests.cli.test_commands import call

GROUPS = [
    *(options.Take, options.Key, options.TempoAndKey, Fretting),
    *(Sound, Recordings, Contents, Practice, Device, Layout),
]

WORKED = {
    "show": "--key -k --numbers --roman --shapes --melody --style -s --instrument -i --level "
    "--reach --strings --frets --capo --no-barre",
    "shapes": "--style -s --instrument -i --level --reach --strings --frets --capo --max --open "
    "--no-barre --rootless --key -k --left --svg --force --json",
    "sheet": "--output -o --key -k --numbers --roman --paper --large --shapes --instrument -i "
    "--level --reach --strings --frets --capo --no-barre --left --tempo -t --tempi --force",
    "tidy": "--check --diff",
    "render": "--output -o --style -s --tempo -t --key -k --transpose --choruses -n --seed "
    "--count-in --looseness --only --without --with --lead --lead-octave --instrument -i --level "
    "--reach --strings --frets --capo --no-barre --sound-font --stems --midi --mono --fade "
    "--format --force",
    "pack": "--output -o --tempi --keys --minus --parts --format --style -s --choruses -n --seed "
    "--count-in --looseness --with --instrument -i --level --reach --strings --frets --capo "
    "--no-barre --left --sound-font --mono --processes --list-jobs --job --force",
    "play": "--port -p --virtual --synth --style -s --tempo -t --key -k --choruses -n --loop "
    "--from --to --step --every --back --rest --trade --without --with --lead --lead-octave "
    "--instrument -i --level --reach --strings --frets --capo --no-barre --count-in --count-each "
    "--seed --looseness --clock --pedal --json --large",
    "stand": "--no-browser --http-port --share --share-on --sound-font",
    "convert": "--tune --harmonise --force",
    "pedal": "--learn",
}
"""Options of each command that players have in their scripts."""


def read_back(group: type[Group], words: tuple[str, ...]) -> Group:
    """Return the group that a command gets when these words are typed."""
    found: list[Group] = []

    def run(*, group: Group) -> None:
        found.append(group)

    run.__annotations__["group"] = group
    app = typer.Typer(add_completion=False, rich_markup_mode=None)
    app.command()(spread(run))
    app(list(words), standalone_mode=False)
    return found[0]


@pytest.mark.parametrize("group", GROUPS)
def test_what_is_printed_reads_back(group: type[Group], monkeypatch: pytest.MonkeyPatch) -> None:
    """For groups of any texts, and flags: its words, typed, are the group; the usual has none."""
    monkeypatch.setattr(group, "check", lambda self: None)  # any text will do here
    dice = random.Random(7)
    assert group().words() == ()
    assert read_back(group, ()) == group()
    for _ in range(30):
        values = {
            name: dice.random() < 0.5 if isinstance(usual, bool) else dice.choice(
                [usual, "3", "-2", "a,b", "a b", "--seed", "", "Bb", "=x", "none"]
            )
            for name in options_of(group)
            for usual in [getattr(group(), name)]
        }  # fmt: skip
        made = group(**values)
        assert read_back(group, made.words()) == made


@pytest.mark.parametrize("name", WORKED)
def test_options_that_worked_go_on_working(name: str) -> None:
    """Each is an option of its command, or the former name of one."""
    known = {
        each
        for param in command.command(name).params
        for shown in param.opts
        for each in (shown, options.ALIASES.get(shown))
    }
    assert set(WORKED[name].split()) <= known


@pytest.mark.parametrize("name", ["render", "pack", "play", "show", "shapes", "sheet"])
def test_former_names_are_not_shown(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert call(name, "--help") == 0
    words = capsys.readouterr().out.split()
    assert [former for former in options.ALIASES.values() if former in words] == []


CHART = "key: G\ntempo: 150\nstyle: swing\n[A] 4\n| G6 | C9 | D7 | G6 |\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with a chart."""
    (tmp_path / "two.chart").write_text(CHART, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_former_names_say_the_same(folder: Path) -> None:
    """By both names a take has the same notes, and other ones than the usual take."""
    for name, words in {
        "new": ["--take", "7", "--voicing", "easy"],
        "old": ["--seed=7", "--level=easy"],
        "usual": [],
    }.items():
        assert call("render", "two.chart", "-o", f"{name}.mid", *words) == 0
    new, old, usual = (Path(f"{name}.mid").read_bytes() for name in ("new", "old", "usual"))
    assert new == old != usual


def test_a_value_that_looks_like_a_former_name(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An option's value is taken as it is."""
    assert call("render", "two.chart", "--key", "--seed") == 2
    assert "'--seed' is not a key" in capsys.readouterr().err


def test_jobs_have_every_option_that_was_given(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A job says all that differs from the usual, whatever group it is of, and nothing else."""
    words = shlex.split(
        "--tempi 90,120 --keys A,Bb --minus bass --parts A --format ogg --style two-beat "
        "--choruses 1 --take 5 --count-in 2 --looseness 0.5 --with drums --without chop "
        "--lead other --instrument guitar --voicing swing --reach 90 --strings 3 --frets 1-12 "
        "--capo 1 --fade 3 --lead-octave --no-barre --open --rootless --mono --left"
    )

    assert call("pack", "two.chart", "-o", "out", *words, "--list-jobs") == 0
    job = shlex.split(capsys.readouterr().out.splitlines()[0])
    said = job[job.index("out") + 1 : job.index("--job")]
    assert sorted(said) == sorted(words)
    assert call("pack", "two.chart", "-o", "out", "--take", "1", "--list-jobs") == 0
    job = shlex.split(capsys.readouterr().out.splitlines()[0])
    assert job[: job.index("--job")] == ["backing", "pack", "two.chart", "-o", "out"]


def test_groups_are_checked_before_the_chart_is_read(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command reports options that cannot be read before anything else."""
    for name, option, text in (
        ("show", "--transpose", "up"),
        ("show", "--reach", "far"),
        ("shapes", "--transpose", "up"),
        ("sheet", "--tempo", "fast"),
        ("play", "--frets", "1"),
        ("render", "--fade", "soon"),
    ):
        assert call(name, "none.chart", option, text) == 2
        assert "no such file" not in capsys.readouterr().err
