"""Scores in MusicXML for tests, element by element."""

from __future__ import annotations

HEAD = '<?xml version="1.0" encoding="UTF-8"?>'
FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"
C_MAJOR = "<key><fifths>0</fifths><mode>major</mode></key>"
BASIS = f"<divisions>2</divisions>{C_MAJOR}{FOUR}"


def score(*measures: str, attributes: str = BASIS, before: str = "") -> bytes:
    """Return a score of one part; each text is a measure's inside, or a whole `<measure>`."""
    return scores(part(*measures, attributes=attributes), before=before)


def scores(*parts: str, before: str = "", listed: str = "") -> bytes:
    """Return a score of parts."""
    names = listed or "".join(
        f'<score-part id="P{n}"><part-name>Part {n}</part-name></score-part>'
        for n in range(1, len(parts) + 1)
    )
    inside = "".join(f'<part id="P{n}">{each}</part>' for n, each in enumerate(parts, 1))
    return (
        f'{HEAD}<score-partwise version="4.0">{before}<part-list>{names}</part-list>{inside}'
        "</score-partwise>"
    ).encode()


def part(*measures: str, attributes: str = BASIS) -> str:
    """Return the measures of a part, the first with the attributes."""
    found = []
    for n, each in enumerate(measures, 1):
        text = each if each.startswith("<measure") else f'<measure number="{n}">{each}</measure>'
        if n == 1 and attributes:
            start = text.index(">") + 1
            text = f"{text[:start]}<attributes>{attributes}</attributes>{text[start:]}"
        found.append(text)
    return "".join(found)


def implicit(inside: str, number: str = "0") -> str:
    """Return a measure that is marked as not whole."""
    return f'<measure number="{number}" implicit="yes">{inside}</measure>'


def note(pitch: str, duration: int = 8, more: str = "", before: str = "", voice: str = "1") -> str:
    """Return a note such as `F#5`; `-` is a rest. Two divisions are a quarter note."""
    if pitch == "-":
        what = "<rest/>"
    else:
        alter = pitch.count("#") - pitch[1:].count("b")
        step = f"<step>{pitch[0]}</step><alter>{alter}</alter>"
        what = f"<pitch>{step}<octave>{pitch[-1]}</octave></pitch>"
    length = f"<duration>{duration}</duration>" if duration else ""
    return f"<note>{before}{what}{length}<voice>{voice}</voice>{more}</note>"


def notes(text: str) -> str:
    """Return quarter notes, such as `C4 D4 - F#4`."""
    return "".join(note(each, 2) for each in text.split())


def harmony(root: str, kind: str = "major", more: str = "", text: str | None = None) -> str:
    """Return a chord sign."""
    alter = root.count("#") - root[1:].count("b")
    shown = "" if text is None else f' text="{text}"'
    return (
        f"<harmony><root><root-step>{root[0]}</root-step><root-alter>{alter}</root-alter></root>"
        f"<kind{shown}>{kind}</kind>{more}</harmony>"
    )


def degree(action: str, value: int, alter: int = 0) -> str:
    """Return a change of a chord."""
    return (
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{action}</degree-type></degree>"
    )


def bass(name: str) -> str:
    """Return the bass of a chord."""
    alter = name.count("#") - name[1:].count("b")
    return f"<bass><bass-step>{name[0]}</bass-step><bass-alter>{alter}</bass-alter></bass>"


def line(inside: str = "", where: str = "right") -> str:
    """Return a bar line."""
    return f'<barline location="{where}">{inside}</barline>'


OPEN = line('<repeat direction="forward"/>', "left")
CLOSE = line('<repeat direction="backward"/>')


def ending(number: str, kind: str = "start", more: str = "") -> str:
    """Return the bar line of an ending."""
    inside = f'<ending number="{number}" type="{kind}"/>{more}'
    return line(inside, "left" if kind == "start" else "right")


def style(inside: str) -> str:
    """Return attributes with a style of measures."""
    return f"<attributes><measure-style>{inside}</measure-style></attributes>"


def words(text: str, sound: str = "") -> str:
    """Return a direction in words."""
    sound_element = f"<sound {sound}/>" if sound else ""
    kind = f"<direction-type><words>{text}</words></direction-type>"
    return f"<direction>{kind}{sound_element}</direction>"


def sign(name: str, sound: str = "") -> str:
    """Return a segno or a coda."""
    sound_element = f"<sound {sound}/>" if sound else ""
    return f"<direction><direction-type><{name}/></direction-type>{sound_element}</direction>"


def mark(text: str) -> str:
    """Return a rehearsal mark."""
    return f"<direction><direction-type><rehearsal>{text}</rehearsal></direction-type></direction>"
