"""Markup for the page, from the folder `templates`.

All markup with users' texts is made here, and Jinja escapes them; the page's scripts make no markup
from text.
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
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined)
    environment.filters["symbol"] = symbol
    return environment


_TEMPLATES = _environment()


def render(template: str, **values: object) -> str:
    """Return a template of the page with its values.

    Args:
        template: its name without suffix.
        values: its variables.
    """
    return _TEMPLATES.get_template(f"{template}.html").render(**values)


@lru_cache(1024)
def symbol_markup(text: str) -> str:
    """Return a chord symbol as markup."""
    module: Any = _TEMPLATES.get_template("symbol.html").module
    return str(module.symbol(text))


def tempo_markup(tempo: Tempo | None) -> Markup:
    """Return a tempo as markup with its note drawn; "" for None."""
    return Markup(tempo_html(tempo)) if tempo else Markup()


def joined(pieces: Iterable[str | Markup], between: str = " · ") -> Markup:
    """Return texts, which are escaped, and markup joined; empty pieces are left out."""
    return Markup(between).join(each for each in pieces if each)
