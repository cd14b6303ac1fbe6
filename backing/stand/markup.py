"""Markup for the page, from the templates beside this module.

All markup that holds anybody's own words is made here, and Jinja escapes them; the page's scripts
make none from text.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from backing.out.note_sign import tempo_html
from backing.stand.symbols import symbol

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.timing import Tempo


def _environment() -> Environment:
    loader = PackageLoader("backing.stand")
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined)
    made.filters["symbol"] = symbol
    return made


_TEMPLATES = _environment()


def render(template: str, **what: object) -> str:
    """Return a template of the page, filled.

    Args:
        template: its name without the ending.
        what: what it wants.
    """
    return _TEMPLATES.get_template(f"{template}.html").render(**what)


@lru_cache(1024)
def symbol_markup(text: str) -> str:
    """Return a chord's text as markup."""
    module: Any = _TEMPLATES.get_template("symbol.html").module
    return str(module.symbol(text))


def tempo_markup(tempo: Tempo | None) -> Markup:
    """Return a tempo as markup, its note drawn; "" for none."""
    return Markup(tempo_html(tempo)) if tempo else Markup()


def joined(pieces: Iterable[str | Markup], between: str = " · ") -> Markup:
    """Return pieces of text and of markup as one, without the empty ones; texts are escaped."""
    return Markup(between).join(each for each in pieces if each)
