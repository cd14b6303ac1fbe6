"""The page of a pack, which explains and plays its recordings in a browser, without a network.

A short script sets a moderate volume and stops other recordings when one starts; the page works
without it, too. Contrast is that of WCAG 2.2 AA, in light and dark.
"""

from __future__ import annotations

from html import escape
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from backing.harmony.signs import signed
from backing.out.note_sign import tempo_html
from backing.packs.digest import styles_of
from backing.packs.make import description
from backing.packs.plan import PieceKind
from backing.packs.settings import TIMES_ROUND

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.packs.plan import Piece, Plan

PAGE = "index.html"

_STYLE = Path(__file__).with_name("page.css").read_text("utf-8")

_SCRIPT = """<script>
const sounds = [...document.querySelectorAll("audio")];
for (const sound of sounds) {
  sound.volume = 0.5;
  sound.onplay = () => sounds.forEach(other => other === sound || other.pause());
}
</script>"""
"""Recordings start at half volume, to protect ears."""

_CARE = """<section class="care" aria-labelledby="care"><h2 id="care">Take care of yourself</h2>
<p>Turn the volume down before you press play, on headphones above all, and keep it moderate: long
loud sessions hurt hearing. Take breaks. Stop when a hand hurts; if it stays, see a doctor or a hand
therapist.</p></section>"""

_ABOUT = {
    PieceKind.PART: (
        "Part by part",
        f"One part {TIMES_ROUND} times round, counted in. Stay at a tempo until it is easy, then "
        "take the next one.",
    ),
    PieceKind.WHOLE: ("The whole tune", "The band from count-in to ending."),
    PieceKind.LADDER: (
        "The ladder",
        "From slow to fast in small steps without a stop, once round at each. Where it gets too "
        "fast, let the band go on and listen.",
    ),
}


def page_of(plan: Plan) -> bytes:
    """Return the page of a pack, as UTF-8."""
    chart = plan.chart
    keys = " and ".join(signed(key) for key in plan.keys)
    facts = ", ".join((f"in {keys}", str(chart.meter), *styles_of(plan)))
    body = [
        f"<header><h1>{escape(chart.title)}</h1>",
        f'<p class="facts">{escape(f"{chart.by}. " if chart.by else "")}{escape(facts)}</p>',
        "</header><main>",
        "<p>Read from the sheet, find the shapes, then play with the band: part by part and "
        "slowly first, the whole tune next, the ladder last. Recordings begin at half "
        "volume here.</p>",
        _CARE,
        *(_key(plan, key) for key in plan.keys),
        "</main>",
        _footer(f"Take {plan.request.settings.seed} of the band."),
        _SCRIPT,
    ]
    return _document(chart.title, body)


def contents_of(packs: Iterable[tuple[str, str]], title: str) -> bytes:
    """Return the page of a folder of packs, as UTF-8.

    Args:
        packs: the folder and title of each pack.
        title: the title of the page.
    """
    listed = "\n".join(
        f'<li><a href="{quote(folder)}/{PAGE}">{escape(name)}</a></li>' for folder, name in packs
    )
    body = [f"<header><h1>{escape(title)}</h1></header><main>", _CARE]
    body.append(f'<h2>Tunes</h2><ul class="tunes">{listed}</ul></main>{_footer("")}')
    return _document(title, body)


def _document(title: str, body: list[str]) -> bytes:
    text = "\n".join(
        (
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(title)}</title><style>\n{_STYLE}</style></head><body>",
            *body,
            "</body></html>\n",
        )
    )
    return text.encode("utf-8", "replace")


def _footer(text: str) -> str:
    return f"<footer><p>{escape(text)} Made with backing {version('backing')}.</p></footer>"


def _key(plan: Plan, key: str) -> str:
    pieces = [piece for piece in plan.pieces if piece.key == key]
    papers = {piece.kind: piece for piece in pieces}
    sheet, midi = (quote(papers[kind].name) for kind in (PieceKind.SHEET, PieceKind.MIDI))
    sections = [
        f"<section><h2>In {escape(signed(key))}</h2>",
        f'<p><a href="{sheet}">The sheet with the chord shapes</a> (PDF, to print), '
        f'<a href="{midi}">the notes of the band</a> (MIDI, for other programs)</p>',
    ]
    for kind, (title, about) in _ABOUT.items():
        own = [piece for piece in pieces if piece.kind is kind]
        if own:
            sections.append(f"<h3>{title}</h3><p>{about}</p>")
        for part in dict.fromkeys(piece.part for piece in own):
            if part:
                sections.append(f"<h4>Part {escape(part)}</h4>")
            sections.append(_takes(plan, [piece for piece in own if piece.part == part]))
    return "\n".join((*sections, "</section>"))


def _takes(plan: Plan, pieces: list[Piece]) -> str:
    items = []
    for piece in pieces:
        words, address = _short(plan, piece), quote(piece.name)
        name = escape(f"{description(piece, plan.chart)}, in {piece.key}", quote=True)
        items.append(
            f'<li><a class="what" href="{address}">{words}</a>'
            f'<audio controls preload="metadata" src="{address}" aria-label="{name}"></audio></li>'
        )
    return f'<ul class="takes">{"".join(items)}</ul>'


def _short(plan: Plan, piece: Piece) -> str:
    """Return a short description of a recording, below a heading, as HTML."""
    tempi = [tempo_html(plan.chart.counted(bpm)) for bpm in piece.tempi]
    if piece.kind is PieceKind.LADDER:
        return f"from {tempi[0]} to {tempi[-1]}"
    return f"at {tempi[0]}, without {piece.without}" if piece.without else f"at {tempi[0]}"
