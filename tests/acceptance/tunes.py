"""Invented progressions in every meter that a style may have."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.timing import Meter

# A bar with two chords is written with a slash between them: "Am7 D7" where the beats are even,
# "Am7 / D7" where there are three. Of three or four chords a bar takes as many as it has beats.
SONG = (
    ("A", "Bb6,Gm7,Cm7,F7,Dm7 G7,Cm7 F7,Bb6,Cm7 F7"),
    ("B", "Fm7,Bb7,Ebmaj7,Ebm6,Am7b5,D7,Gm7 C7,Cm7 F7"),
)
"""A song of 32 bars, AABA, with two-five progressions."""

BLUES = (("A", "F7,Bb7,F7,F7,Bb7,Bdim7,F7,D7,Gm7,C7,F7 D7,Gm7 C7"),)
"""Twelve bars of the blues, common property."""

FIDDLE = (
    ("A", "D,D,G,D,D,Bm,G A7,D"),
    ("B", "G,D,Em,A7,G,D/F#,A7,D"),
)
"""A fiddle tune of two parts of eight bars, each played twice."""

HITS = (
    (
        "A",
        'C,F "stop",G7,C,Am "hold",Dm7,G7 "stop",C,F,C "break",Dm7,G7,'
        'C "stop",Am,Dm7 "break" "fill",G7,F,C "hold",G7,C',
    ),
)
"""Twenty bars with stops, holds and breaks."""

CHANGES = (
    ("A", "C6 Am7,Dm7 G7,Em7 Ebdim7,Dm7 Dbdim7,E/B B7,F6 F#dim7 C/G A7,Dm7 Em7 Fmaj7,C6"),
    ("B", "Bm7b5 E7,Am7,D9 D9 Ab7,G7 F6 Em7 Dm7,C6 C7,F6 Bb9,C/G G7,C6 F6 C6"),
)
"""Sixteen bars, most of them with two to four chords."""

KEYS = {"Song": "Bb", "Blues": "F", "Fiddle": "D", "Hits": "C", "Changes": "C"}
FORMS = {"Song": "A A B A", "Blues": "A", "Fiddle": "A A B B", "Hits": "A", "Changes": "A B"}
TUNES = {"Song": SONG, "Blues": BLUES, "Fiddle": FIDDLE, "Hits": HITS, "Changes": CHANGES}


def chart_text(tune: str, meter: Meter, ending: str = "hold") -> str:
    """Return one of the tunes as a chart in some meter.

    Args:
        tune: one of `TUNES`.
        meter: the meter.
        ending: how it ends; "" leaves that to the style.

    """
    lines = [f"title: {tune}", f"key: {KEYS[tune]}", f"meter: {meter}", f"form: {FORMS[tune]}"]
    if ending:
        lines.append(f"ending: {ending}")
    for name, bars in TUNES[tune]:
        lines += [f"[{name}]", "| " + " | ".join(_bar(each, meter) for each in bars.split(","))]
        lines[-1] += " |"
    return "\n".join(lines) + "\n"


def _bar(text: str, meter: Meter) -> str:
    chords = [each for each in text.split() if not each.startswith('"')]
    words = text.split()[len(chords) :]
    if len(chords) == 2 and meter.beats % 2:
        chords.insert(1, " ".join("/" * (meter.beats - 2)))
    elif len(chords) > 2:
        chords = [*chords[: meter.beats], *"/" * (meter.beats - len(chords))]
    return " ".join([*chords, *words]) if meter.beats > 1 else " ".join([chords[0], *words])
