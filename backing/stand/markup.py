"""Markup for the page, from the templates beside this module.

All markup that holds anybody's own words is made here, and Jinja escapes them; the page's scripts
make none from text.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from backing.stand.symbols import symbol


def _environment() -> Environment:
    loader = PackageLoader("backing.stand")
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined)
    made.filters["symbol"] = symbol
    return made


_TEMPLATES = _environment()


def drawn(template: str, **what: object) -> str:
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
