"""The table of commands serves help, keys, pedals, lines and pages."""

from __future__ import annotations

import asyncio
import json
import re
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from backing.control.command import Command, Context, Key, SettingCommand, one_word, whole_number
from backing.control.commands import (
    ALIASES,
    COMMANDS,
    Controls,
    find_command,
    keys,
    line_of,
    split_line,
)
from backing.control.settings import CommandError, LiveSettings
from backing.live.pedal import read_mapping
from backing.live.screen import screen
from backing.stand import client, labels
from tests.live.charts import TWO_PARTS
from tests.live.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.stand.messages import Fault


ROOT = Path(__file__).parents[2]


def _softer(settings: LiveSettings, factor: int) -> LiveSettings:
    return settings if factor < 2 else settings.with_base(seed=factor)


SHUFFLED = SettingCommand(
    "reseed",
    "SEED",
    "play the same chart with other choices",
    _softer,
    lambda context, words: whole_number(one_word(words)),
    keys=(Key("z", "other choices", "other choices of the band", "reseed 7"),),
    choices=lambda: ["7", "8"],
)


@pytest.fixture
def added(monkeypatch: pytest.MonkeyPatch) -> SettingCommand:
    """Add a command to the table."""
    monkeypatch.setitem(COMMANDS, SHUFFLED.name, SHUFFLED)
    return SHUFFLED


def send_from_page(stage: Stage, line: str) -> list[str]:
    """Send a line as a page does; return the errors that the page receives."""

    async def carry_out(line: str, at: float | None) -> None:
        stage.session.carry_out(line, at)

    messages: list[Fault] = []
    stand: Any = SimpleNamespace(is_fresh=True, carry_out=carry_out, plain=str)
    page: Any = SimpleNamespace(send=messages.append)
    asyncio.run(client.handle(stand, page, json.dumps({"type": "say", "line": line})))
    return [each.text for each in messages]


def test_a_command_is_added_in_one_place(added: SettingCommand) -> None:
    """Help, the terminal's keys and lines, pedals and the page know a command of the table."""
    stage = Stage(TWO_PARTS)

    def seed() -> int:
        return stage.session.transport.settings.base.seed

    stage.session.command("help")
    stage.session.command("help reseed")
    names, help_of_it = stage.session.messages_since(0)[0]
    assert "reseed" in re.findall(r"[\w-]+", names)
    assert help_of_it == "reseed SEED: play the same chart with other choices"
    assert line_of("z") == line_of("Z") == "reseed 7"
    assert "z other choices" in "   ".join(screen(stage.session, 80, 24, large=False))
    stage.session.carry_out("reseed 8")
    assert seed() == 8
    assert read_mapping('[buttons]\n"note 60" = "reseed 7"\n', "it") == {"note 60": "reseed 7"}
    assert labels.page_keys()["z"] == ("reseed 7", "other choices of the band")
    assert 'data-key="z" data-line="reseed 7"' in labels.page_html.__wrapped__()
    assert send_from_page(stage, "reseed 7") == []
    assert seed() == 7
    assert send_from_page(stage, "reseed 9") == [
        "reseed '9' is not in the list: choose from it, or own"
    ]
    assert seed() == 7
    with pytest.raises(CommandError, match=r"'reseeed' is not a command.*did you mean 'reseed'"):
        stage.session.carry_out("reseeed 7")
    for arguments, found in (("", "but nothing was given"), ("x", "not 'x'"), ("1 2", "not")):
        with pytest.raises(CommandError, match=rf"^reseed needs SEED \(play.*\), {found}"):
            stage.session.carry_out(f"reseed {arguments}")


def test_a_command_not_for_pages_is_refused_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page has no key for it and is refused; the terminal may use it."""
    stage = Stage(TWO_PARTS)

    assert send_from_page(stage, "mute chop | QUIT") == [
        "a page cannot end the band for all: close the page"
    ]
    assert line_of("q") == "quit"
    assert "q" not in labels.page_keys()
    stage.session.carry_out("quit")
    assert stage.session.is_over


@pytest.mark.parametrize("error", [KeyError, ValueError, IndexError, TypeError])
@pytest.mark.parametrize("where", ["parse", "apply"])
def test_a_bug_in_a_command_raises(
    error: type[Exception], where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An exception that is not a `BackingError` is not turned into a message."""

    def broken(*_: object) -> Any:
        raise error("ours")

    def parse(context: Context, words: Sequence[str]) -> object:
        return broken() if where == "parse" else None

    monkeypatch.setitem(COMMANDS, "fall", SettingCommand("fall", "[WORD]", "fall", broken, parse))
    monkeypatch.setitem(COMMANDS, "trip", Command("trip", "[WORD]", "trip", broken, parse))
    controls = Controls(Stage(TWO_PARTS).session.transport, lambda: 0.0)
    for line in ("fall", "trip over"):
        with pytest.raises(error, match="ours"):
            controls.carry_out(line)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_complete(name: str) -> None:
    """It has help and a row in the README, and takes only the arguments of its usage."""
    command = find_command(name.upper())
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = readme[readme.index("| line | does |") :].partition("\n\n")[0]

    assert command.name == name
    assert command.about
    assert re.search(rf"`{name}[` ]", lines), f"the README has no line {name}"
    if not command.usage:
        with pytest.raises(CommandError, match=f"{name} takes no arguments, but 'x' was given"):
            command.read(Context(LiveSettings.of(TWO_PARTS)), ["x"])


def test_every_key_is_complete() -> None:
    """A key sends one line of known commands and is in the README's table."""
    signs = [key.sign for key, _ in keys()]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    table = readme[readme.index("| key | does |") :].partition("\n\n")[0]

    assert len(set(signs)) == len(signs)
    for key, command in keys():
        names = [words[0] for words in split_line(key.line)]
        assert command.name in names
        assert names == [find_command(each).name for each in names]
        assert key.label
        assert key.about
        assert key.sign == " " or f"`{key.sign}`" in table, f"the README has no key {key.sign}"


def test_every_control_of_the_page_sends_a_command() -> None:
    """Buttons, sliders and pedals of the page send commands, or words of the page itself."""
    script = (ROOT / "backing/stand/static/main.js").read_text(encoding="utf-8")
    own = re.findall(
        r"^  \"?([\w-]+)[\w ]*\"?: ", script.partition("const HERE = {")[2], re.MULTILINE
    )
    said = re.findall(r'data-(?:say|again|line)="([^"]*)"', labels.page_html())
    words = {words[0] for line in [*said, *labels.PEDAL_LINES] for words in split_line(line)}

    assert {"toggle", "tempo", "mute", "loop", "practice"} <= words
    assert words - set(own) - {"toggle"} <= {
        name for name, command in COMMANDS.items() if command.for_pages
    }


@pytest.mark.parametrize("name", ALIASES)
def test_an_alias_is_its_command(name: str) -> None:
    """Lines, pedals and help take another name of a command; only its own name is listed."""
    command = find_command(name.upper())

    assert command.name == ALIASES[name]
    assert name not in COMMANDS
    assert split_line(f"{name.title()} x | {name}") == [[command.name, "x"], [command.name]]
    assert read_mapping(f'[buttons]\n"note 60" = "{name} x"\n', "it") == {"note 60": f"{name} x"}


def test_voicing_has_the_alias_shapes() -> None:
    """Both set how hard the chop's chords are to fret."""
    first, second = Stage(TWO_PARTS), Stage(TWO_PARTS)
    first.session.carry_out("voicing easy")
    second.session.carry_out("shapes easy")

    assert first.session.transport.settings == second.session.transport.settings
    assert first.session.transport.settings.base.fretting.voicing == "easy"
