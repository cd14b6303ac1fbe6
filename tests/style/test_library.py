"""Finding styles."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.errors import SettingsError, StyleError
from backing.style.library import (
    OWN_FOLDER_VARIABLE,
    all_styles,
    find_style,
    own_folder,
    requested_style,
    style_files,
)

OURS = {"two-beat", "swing", "shuffle"}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of the user's own styles."""
    monkeypatch.setenv(OWN_FOLDER_VARIABLE, str(tmp_path))
    return tmp_path


def copy_of(name: str, *changes: tuple[str, str]) -> str:
    """Return the text of an included style with changes."""
    text = style_files()[name].read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def test_ours_are_found(folder: Path) -> None:
    """Included styles are found by name, sorted, without a user's folder."""
    assert not list(folder.iterdir())
    names = list(style_files())
    assert set(names) >= OURS
    assert sorted(names) == names


def test_own_styles_come_first(folder: Path) -> None:
    """A user's file replaces an included style of the same name; new ones are added."""
    changed = copy_of("swing", ("usual = 168", "usual = 133"))
    (folder / "swing.toml").write_text(changed, encoding="utf-8")
    (folder / "my-swing.toml").write_text(changed, encoding="utf-8")
    assert folder / "swing.toml" == style_files()["swing"]
    assert (find_style("swing").usual_bpm, find_style("my-swing").usual_bpm) == (133, 133)
    assert set(style_files()) >= OURS | {"my-swing"}


def test_only_toml(folder: Path) -> None:
    """Only files that end in .toml are styles."""
    (folder / "notes.txt").write_text("x", encoding="utf-8")
    assert "notes" not in style_files()


def test_unknown_style(folder: Path) -> None:
    """An unknown style is refused; the message lists those there are, and a guess."""
    with pytest.raises(SettingsError, match=r"'shufle' is not a style: .*did you mean 'shuffle'"):
        find_style("shufle")


@pytest.mark.parametrize("name", ["../swing", "swing.toml", "", "SWING"])
def test_no_paths(folder: Path, name: str) -> None:
    """Charts and pages name a style, not a path."""
    with pytest.raises(SettingsError, match="is not a style: choose from"):
        find_style(name)


@pytest.mark.parametrize("text", ["./mine.toml", "mine.toml", "sub/mine.toml", "./mine"])
def test_a_style_at_a_path(
    text: str, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An option may name a style's file, and the style has its file's name."""
    monkeypatch.chdir(tmp_path)
    path = Path(text)
    path.parent.mkdir(exist_ok=True)
    path.write_text(copy_of("swing"), encoding="utf-8")

    assert requested_style(text).name == "mine"
    assert find_style("swing").about == requested_style(text).about
    assert requested_style("swing") is find_style("swing")
    assert requested_style(text) is requested_style(text)
    with pytest.raises(SettingsError, match="is not a style: choose from"):
        find_style(text)


def test_a_style_at_a_path_has_the_faults_of_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message has the path as it was given."""
    monkeypatch.chdir(tmp_path)
    Path("mine.toml").write_text("about = 1", encoding="utf-8")
    with pytest.raises(StyleError, match=r"(?m)^\./mine\.toml:1: about: 1 is not a text"):
        requested_style("./mine.toml")
    Path("mine.toml").write_text("about = \n", encoding="utf-8")
    with pytest.raises(StyleError, match=r"^\./mine\.toml:1:9: Invalid value"):
        requested_style("./mine.toml")
    with pytest.raises(StyleError, match=r"mind\.toml: there is no such file.*mean 'mine\.toml'"):
        requested_style("./mind.toml")
    with pytest.raises(SettingsError, match=r"'swong' .*a file that ends in \.toml; did you mean"):
        requested_style("swong")


def test_broken_styles(folder: Path) -> None:
    """A user's broken style is named by its path, and the others can be played."""
    path = folder / "broken.toml"
    path.write_text("about = 1", encoding="utf-8")
    with pytest.raises(StyleError, match=r"broken\.toml:1: about: 1 is not a text"):
        find_style("broken")
    styles, errors = all_styles()
    assert {style.name for style in styles} >= OURS
    assert [str(path)] == [error.source for error in errors]


def test_no_text(folder: Path) -> None:
    """The message about a style file that is not UTF-8 has its path."""
    (folder / "latin.toml").write_bytes(b'about = "\xe9"')
    with pytest.raises(StyleError, match=r"latin\.toml:1:10: the byte 0xE9 is not UTF-8: save"):
        find_style("latin")


def test_listing_survives_what_is_no_text(folder: Path) -> None:
    """All other styles are listed beside one that is not UTF-8."""
    (folder / "latin.toml").write_bytes(b'about = "\xe9"')
    styles, errors = all_styles()
    assert {style.name for style in styles} >= OURS
    assert len(errors) == 1


def test_a_folder_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The default folder may be missing; a named one must exist."""
    monkeypatch.delenv(OWN_FOLDER_VARIABLE, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert set(style_files()) >= OURS
    monkeypatch.setenv(OWN_FOLDER_VARIABLE, str(tmp_path / "none"))
    with pytest.raises(SettingsError, match="none, which is not a folder: make it, or unset"):
        style_files()


def test_the_usual_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the variable the user's styles are in .backing/styles at home."""
    monkeypatch.delenv(OWN_FOLDER_VARIABLE, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    assert tmp_path / ".backing" / "styles" == own_folder()
