"""Small tunes in ABC, each for one rule, with the result worked out by hand.

The rules are those of the standard v2.1 (abcnotation.com), sections from memory.
"""

from __future__ import annotations

HEAD = "X:1\nT:A Case\nM:4/4\nL:1/4\n"

ORDERS = {
    "plain": ("K:C\nC4|D4|E4|]", "CDE"),
    "repeat (4.8)": ("K:C\n|:C4|D4:|E4|F4|]", "CDCDEF"),
    "no opening repeat (4.8)": ("K:C\nC4|D4:|E4|F4:|", "CDCDEFEF"),
    "close and open (4.8)": ("K:C\n|:C4|D4::E4|F4:|", "CDCDEFEF"),
    ":|: (4.8)": ("K:C\n|:C4|D4:|:E4|F4:|", "CDCDEFEF"),
    ":||: (4.8)": ("K:C\n|:C4|D4:||:E4|F4:|", "CDCDEFEF"),
    "open behind the close (4.8)": ("K:C\n|:C4|D4:|\n|:E4|F4:|", "CDCDEFEF"),
    "thick bar lines (4.8)": ("K:C\n[|:C4|D4:|]E4|]", "CDCDE"),
    "three times (4.8)": ("K:C\n|::C4|D4::|E4|]", "CDCDCDE"),
    "double bar begins a repeat (4.8)": ("K:C\nC4||D4|E4:|", "CDEDE"),
    "endings (4.9)": ("K:C\n|:C4|1D4:|2E4|]", "CDCE"),
    "endings in brackets (4.9)": ("K:C\n|:C4|[1D4:|[2E4||F4|]", "CDCEF"),
    "bar line and bracket (4.9)": ("K:C\n|:C4|[1 D4 :|[2 E4 |]", "CDCE"),
    "second ending on its line (4.9)": ("K:C\n|:C4|1 D4:|\n[2 E4|]", "CDCE"),
    "long endings (4.9)": ("K:C\n|:C4|1D4|E4:|2F4|G4||A4|]", "CDECFGA"),
    "endings without an opening (4.9)": ("K:C\nC4|1D4:|2E4|]", "CDCE"),
    "two repeats with endings (4.9)": ("K:C\n|:C4|1D4:|2E4|:F4|1G4:|2A4|]", "CDCEFGFA"),
    "three endings (4.10)": ("K:C\n|:C4|1D4:|2E4:|3F4|]", "CDCECF"),
    "listed endings (4.10)": ("K:C\n|:C4|1,3 D4:|2,4 E4:|", "CDCECDCE"),
    "a range of endings (4.10)": ("K:C\n|:C4|1-3 D4:|4 E4|]", "CDCDCDCE"),
    "an order that a chart cannot say (4.10)": ("K:C\n|:C4|1,3 D4:|2 E4:|F4|]", "CDCECDF"),
    "behind the last ending of a part": ("K:C\nP:A\n|:C4|1D4:|2E4||F4|]", "CDCEF"),
    "behind an ending of two times": ("K:C\nP:A\n|:C4|1D4:|2,3E4:||F4|]", "CDCECEF"),
    "endings of a pickup alone": ("K:C\nC2|1D4:|2E4|]", "CDCE"),
    "like parts, the second longer": ("K:C\nP:A\n|:C4:|\nP:B\n|:C4:|\nD4|E4|]", "CCCCDE"),
    "parts (3.1.9)": ("P:AAB\nK:C\nP:A\nC4|D4|\nP:B\nE4|F4|]", "CDCDEF"),
    "parts with numbers (3.1.9)": ("P:A2(BC)2\nK:C\nP:A\nC4|\nP:B\nD4|\nP:C\nE4|]", "CCDEDE"),
    "parts with repeats (3.1.9)": ("P:ABA\nK:C\nP:A\n|:C4:|\nP:B\nD4|]", "CCDCC"),
    "parts inline (3.2)": ("P:BA\nK:C\n[P:A]C4|D4|[P:B]E4|]", "ECD"),
    "da capo al fine (4.14)": ("K:C\nC4|D4!fine!|E4|F4!D.C.!|", "CDEFCD"),
    "dal segno (4.14)": ("K:C\nC4|!segno!D4!fine!|E4!D.S.!|", "CDED"),
    "dal segno in short (4.14, 4.16)": ("K:C\nC4|SD4!fine!|E4!D.S.!|", "CDED"),
    "coda in short (4.14, 4.16)": ("K:C\nC4|D4O|E4!D.C.!|OF4|]", "CDECDF"),
    "signs of one's own (4.16)": ("U:n=!fine!\nU: S = !trill!\nK:C\nSC4|D4n|E4!D.C.!|", "CDECD"),
    "coda (4.14)": ("K:C\nC4|D4!dacoda!|E4!D.C.!|!coda!F4|]", "CDECDF"),
    "da capo in words": ('K:C\nC4|D4"Fine"|E4|F4"D.C. al Fine"|', "CDEFCD"),
    "repeats are not played again behind D.C.": ("K:C\n|:C4|1D4:|2E4!fine!|]F4!D.C.!|]", "CDCEFCE"),
    "a bar line that cannot be seen (4.8)": ("K:C\nC4[|]D4.|E4|]", "CDE"),
    "rests of whole bars (4.5)": ("K:C\nC4|Z2|D4|]", "C..D"),
    "a line that goes on (6.1.1)": ("K:C\nC4|\\\nD4|E4|]", "CDE"),
    "fields between (3.2)": ("K:C\nC4|\nK:G\nw:la la\n%%skip\nr:so\nD4|]", "CD"),
    "an overlay (7.4)": ("K:C\nC4&E4|D4|]", "CD"),
    "voices (7.1)": ("V:1\nV:2\nK:C\nV:1\nC4|D4|\nV:2\nE4|F4|\nV:1\nG4|]\nV:2\nA4|]", "CDG"),
    "voices inline (7.1)": ("K:C\n[V:1]C4|D4|\n[V:2]E4|F4|\n[V:1]G4|]", "CDG"),
}
"""Bars of one note each, and the order of these notes as played; a dot is a silent bar."""

NOTES = {
    "octaves (4.1)": ("K:C\nC,CcC'|", [48, 60, 72, 72]),
    "accidentals hold in every octave (4.2, 11.3)": ("K:C\n^FFf=f|Ff|]", [66, 66, 78, 77, 65, 77]),
    "double accidentals (4.2)": ("K:C\n^^F__B=F2|", [67, 69, 65]),
    "a key's accidentals (3.1.14)": ("K:Eb\nEABe|", [63, 68, 70, 75]),
    "a tie keeps its accidental (4.11)": ("K:C\n^F4-|F2F2|]", [66, 65]),
    "a key with accidentals (3.1.14)": ("K:D =c\nFCcf|", [66, 60, 72, 78]),
    "explicit (3.1.14)": ("K:D exp _b _e ^f\nBEFC|", [70, 63, 66, 60]),
    "phrygian with a sharp (3.1.14)": ("K:D Phr ^f\nFBEA|", [66, 70, 63, 69]),
    "pipes (3.1.14)": ("K:HP\nFcgA|", [66, 73, 79, 69]),
    "a key change inside (3.2)": ("K:C\nF[K:G]FF2|", [65, 66, 66]),
    "a chord of notes (4.17)": ("K:C\n[CEG]2[EGc]2|", [60, 64, 67, 64, 67, 72]),
    "graces are no notes (4.12)": ("K:C\n{d}c{/e}c2{fg}c|", [72, 72, 72]),
    "decorations and slurs (4.14, 4.11)": ("K:C\n.C~D(HE!trill!F)|", [60, 62, 64, 65]),
    "strings are no notes (4.19)": ('K:C\n"^C""_D"C"<E"DE"@1,2 F"F|', [60, 62, 64, 65]),
}
"""Bars of notes, and the MIDI keys that begin, in order."""

LENGTHS = {
    "lengths (4.3)": ("K:C\nC/2D/E//F//G3/2A/4z/4|", [480, 480, 240, 240, 1440, 240]),
    "broken rhythm (4.4)": ("K:C\nC>D E<F|", [1440, 480, 480, 1440]),
    "broken twice and thrice (4.4)": ("K:C\nC>>D E<<<F|", [1680, 240, 120, 1800]),
    "broken across a grace and a chord sign": ('K:C\nC>{d}"G"D E2|', [1440, 480, 1920]),
    "a triplet (4.13)": ("K:C\n(3CDE F2|", [640, 640, 640, 1920]),
    "a triplet with its figures (4.13)": ("K:C\n(3:2:4C/D/EF G2|", [320, 320, 640, 640, 1920]),
    "two in the time of three (4.13)": ("M:6/8\nL:1/8\nK:C\n(2CD E3|", [720, 720, 1440]),
    "four in the time of three (4.13)": ("M:6/8\nL:1/8\nK:C\n(4CDEF G3|", [360] * 4 + [1440]),
    "five in compound time (4.13)": ("M:6/8\nL:1/8\nK:C\n(5CDEFG A3|", [288] * 5 + [1440]),
    "a broken triplet": ("K:C\n(3C>DE F2|", [960, 320, 640, 1920]),
    "a tie in the bar (4.11)": ("K:C\nC2-C D|", [2880, 960]),
    "a unit that changes (3.2)": ("K:C\nC2[L:1/8]D2E2|", [1920, 960, 960]),
}
"""A bar or two of notes, and their lengths in ticks, in order."""

CHORDS = {
    '"Am7/G"': "Am7/G", '"D/f#"': "D/F#", '"G(Em)"': "G", '"Bb"': "Bb", '"C#dim"': "C#dim",
    '"Fmaj7"': "Fmaj7", '"Gm"': "Gm", '"Gmin"': "Gm", '"G+"': "Gaug", '"Gaug"': "Gaug",
    '"A7sus4"': "A7sus4", '"Bm7b5"': "Bm7b5", '"E7(b9)"': "E7b9", '"N.C."': None,
    '"NC"': None, '"am"': "Am", '"E min"': "Em", '"D7;slow"': "D7", '"G "': "G", '"B♭7"': "Bb7",
    '"(E7)"': "E7", '"(G)"': "G", '"( Am )"': "Am", '"Bd"': "Bdim", '"C#d"': "C#dim",
    '"Gd7"': "Gdim7", '"Gd/Bb"': "Gdim/Bb", '"F#d7/A"': "F#dim7/A",
    '"(E7"': "E7", '"E7)"': "E7", '"[C]"': "C", '"(E7(b9))"': "E7b9", '"(N.C.)"': None,
    '"Am D7"': "Am", '"G/Em"': "G", '"D or Bm"': "D", '"C, Am"': "C", '"D / Bm7"': "D",
    '"D/f+"': "D/F#", '"C6"': "C6", '"F#m7"': "F#m7", '"Cadd9"': "Cadd9", '"G7 "': "G7",
    '"Dm/a"': "Dm/A", '"A°"': "Adim", '"Eb-7"': "Ebm7",
}  # fmt: skip
"""Chord signs as players write them, and the chords that they mean."""

NO_CHORDS = (
    '"^Am"', '"_G"', '"<D"', '">E"', '"@3,4 F"', '"^(G)"', '"slowly"', '"(slowly)"',
    '"1."', '"Fine"', '"A part"', '"(A tempo"', '"[Chorus]"', '"D.C."', '"or"',
)  # fmt: skip
"""Quoted texts that are not chords (4.18, 4.19)."""
