"""Invented tunes in ABC with the slips and habits of players and of old programs."""

from __future__ import annotations

from random import Random

METERS = {"4/4": 8, "C": 8, "C|": 8, "2/4": 4, "3/4": 6, "6/8": 6, "9/8": 9, "12/8": 12, "3/2": 12}
KEYS = (
    "D", "G", "Ador", "Em", "A", "Bb", "D mix", "Dmixolydian", "F#m", "C", "Gm", "A minor", "Edor",
    "HP", "g", "D clef=treble", "Am ^f", "", "Bm % the relative", "none", "EDor", "G major",
)  # fmt: skip
CHORDS = (
    "G", "Am", "D7", "G/B", "em", "Bb", "C#m7b5", "D/F#", "d", "a7", "N.C.", "Gsus4", "F#", "Amin",
    "GM7", "(A7)", "A7/g", "Bdim", "E+", "G6", "C9", "H7", "?", "G or Em", "D5", "Am7 ", "/F#",
)  # fmt: skip
NOTES = ("D", "E", "F", "G", "A", "B", "c", "d", "e", "f", "g", "a", "^c", "_B", "=f", "b", "d'")
ORNAMENTS = ("~", "T", ".", "u", "!trill!", "{g}", "{/a}", "{AB}", "!roll!", "+fermata+", "J", "(")
ASIDES = (
    '"^slowly"', '"_D.C."', '"@2,3 here"', '"<("', '"Fine"', "!fine!", "!D.C.!", "!segno!", "y",
    "\\", "*", "#", "$", "`", "[I:setbarnb 5]", "[r:remark]", "!", "[K:Em]", "[M:3/4]", "[L:1/16]",
    "[Q:1/4=90]", "[P:B]", "[V:2]",
)  # fmt: skip
BARS = ("|",) * 12 + (
    "||", "|]", ":|", "|:", "::", ":||:", ":|:", "|1", ":|2", "|[1", ":|[2", "[|", ".|", ":|]",
    "||:", ":|1-3", "|1,3", ":|2,4", "| [1", ": |", "|::", "::|",
)  # fmt: skip
LINES = (
    "%%staffsep 50", "% a remark", "w: words that are sung", "N: learnt at a session", "P:B",
    "P:Part Two", "P:A.", "K:A", "M:6/8", "L:1/4", "Q:120", "V:1", "T:another name", "m:~n=n",
    "W: more words", "I:linebreak $", "s: * * *", "R: reel", "+: goes on",
    "%%begintext\nwords\n%%endtext",
)  # fmt: skip
HEADS = (
    "C:Trad. (from the session)", "R:reel", "R:Jig", "R:slip jig", "R: hornpipe ", "S:a friend",
    "O:here", "Z:somebody", "N:a note", "Q:1/4=120", "Q:\"lively\" 1/4=160", "Q:C=100", "Q:200",
    "P:AABB", "P:A2B2", "P:(AB)2.C", "L:1/8", "L:1/4", "L:1/16", "%%scale 0.7", "B:a book p. 3",
    "H:long ago\nin another place", "D:a record", "F:a file", "G:flute", "M:none", "K:",
    "U:T=!trill!",
)  # fmt: skip


def tune(seed: int) -> bytes:
    """Return the tune of a number; different numbers give different tunes."""
    random = Random(seed)
    meter = random.choice(list(METERS))
    head = [] if random.random() < 0.1 else [f"X:{seed}"]
    head += [f"T:{random.choice(('The Tin Heron', 'Zaubergäßchen', 'Mrs. & Mr. Reel, The', ''))}"]
    head += random.sample(HEADS, random.randint(0, 5))
    head += [f"M:{meter}"] if random.random() < 0.9 else []
    head += [f"K:{random.choice(KEYS)}"] if random.random() < 0.95 else []
    lines = []
    for _ in range(random.randint(1, 6)):
        lines.append(_line(random, METERS[meter]))
        if random.random() < 0.25:
            lines.append(random.choice(LINES))
    text = random.choice(("\n", "\n", "\r\n", "\r")).join([*head, *lines, ""])
    return text.encode(random.choice(("utf-8", "latin-1", "utf-8-sig")), "replace")


def _line(random: Random, eighths: int) -> str:
    text = random.choice(("|:", "|:", "", "", "||:", "[|: ", random.choice(NOTES) + "2|"))
    for number in range(random.randint(2, 5)):
        text += (random.choice(BARS) if number else "") + random.choice((" ", "", "  "))
        text += _bar(random, eighths)
    return text + random.choice((":|", "|", "||", "|]", ":|]", "", "\\", " :| % end", ":|\\"))


def _bar(random: Random, eighths: int) -> str:
    left = eighths + random.choice((0,) * 8 + (-2, -1, 1, 2))
    text = ""
    while left > 0:
        if random.random() < 0.15:
            text += f'"{random.choice(CHORDS)}"'
        if random.random() < 0.06:
            text += random.choice(ASIDES)
        if random.random() < 0.08:
            text += random.choice(ORNAMENTS)
        taken, sound = _sound(random, left)
        text += sound + random.choice(("", "", "", " "))
        left -= taken
    return text


def _sound(random: Random, left: int) -> tuple[int, str]:
    """Return the eighths that an event takes, and its text."""
    note = random.choice(NOTES)
    kind = random.random()
    if kind < 0.05 and left >= 2:
        return 2, "(3" + "".join(random.choices(NOTES, k=3))
    if kind < 0.08 and left >= 2:
        return 2, note + random.choice("><") + random.choice(NOTES)
    if kind < 0.11 and left >= 2:
        return 2, f"[{note}{random.choice(NOTES)}]2"
    if kind < 0.14:
        return 1, random.choice(
            ("z", "x", "z1", note + "/" + note + "/", note + "/2" + note + "/2")
        )
    if kind < 0.17:
        return left, random.choice((f"z{left}", "Z", f"{note}{left}"))
    if kind < 0.20 and left >= 2:
        return 2, f"{note}-{note}"
    if kind < 0.23 and left >= 3:
        return 3, f"({note}2{random.choice(NOTES)})"
    long = random.choice((1, 1, 1, 2, 2, 3)) if left >= 3 else 1
    return long, note + (str(long) if long > 1 else "")
