"""All shapes of a chord that a hand can play on an instrument, the easiest first.

Conventions: guitar shells (strings 6-4-3 with the root on 6, or 5-4-3 with the root on 5) are
common practice, no source; all costs are our own choice, no source.
"""

from __future__ import annotations

from bisect import insort
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, product
from math import fsum
from operator import itemgetter
from typing import TYPE_CHECKING

from backing.errors import SettingsError, ShapeError
from backing.fretboard.hand import Hand, Shape, fingering, least_cost
from backing.fretboard.request import FEWEST, SWING, VOICINGS, ShapeRequest
from backing.fretboard.voices import FIFTH, ROOT, THIRD, fits_a_shell, required, voices

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.fretboard.hand import Frets
    from backing.fretboard.instrument import Instrument
    from backing.harmony.chord import Chord
    from backing.harmony.pitch import Degree

_SHELLS = ((0, 2, 3), (1, 2, 3))
_SHELL_STRINGS = 6
_POSITION_COST = 3.0
"""For the whole length of the string; at fret 12, half of this."""

_LAST_FRET = 9
_HIGH_COST = 0.3
"""For each fret of the position above `_LAST_FRET`."""

_MUTED_COST = 0.8
"""For each muted string between sounding ones."""

_STRING_COST = 1.5
"""For each string fewer than the voicing wants."""

_NEEDED_COST, _ROOT_COST, _FIFTH_COST, _LOWER_COST = 3.0, 1.0, 0.3, 0.2
"""For each omitted degree: a needed one, the root, a plain fifth, a lower extension."""

_ROUNDED = 1e-9
"""Margin for rounding errors, smaller than any real difference of costs."""

_DOUBLED_THIRD_COST, _DOUBLED_NEEDED_COST = 0.2, 0.5
"""For each doubling; a doubled root or fifth costs nothing."""


def shapes(
    instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest
) -> tuple[Shape, ...]:
    """Return every playable shape of a chord, from the easiest to the hardest; at least one.

    If the hand can hold none with all required degrees, shapes have fewer strings than the voicing
    wants, or other strings than requested; then they omit the least needed degrees.

    Args:
        instrument: the instrument.
        hand: the player's hand.
        chord: the chord as played (`as_played`); the bass player has its slash bass.
        request: voicing, strings, position.

    Raises:
        ShapeError: if the hand can hold no shape of the chord.
        SettingsError: if more strings are requested than the instrument has.
    """
    return easiest(instrument, hand, chord, request, None)


@lru_cache(4096)
def easiest(
    instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest, most: int | None
) -> tuple[Shape, ...]:
    """Return the first `most` of the `shapes` of a chord, or all if that is None.

    Raises:
        ShapeError: if the hand can hold no shape of the chord.
        SettingsError: if more strings are requested than the instrument has.
    """
    strings = request.strings
    most_requested = max(strings) if isinstance(strings, tuple) else strings or 0
    if most_requested > len(instrument.strings):
        is_count = request.count == most_requested
        what = f"{most_requested} strings" if is_count else f"string {most_requested}"
        raise SettingsError(f"{what}: the {instrument.name} has {len(instrument.strings)}")
    for sets, dropped, shell in _tries(instrument, hand, chord, request):
        search = _Search(instrument, hand, chord, request, dropped, shell)
        if found := search.ranked(sets, most):
            return found
    raise ShapeError(_cannot(instrument, hand, chord, request))


def _tries(
    instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest
) -> Iterator[tuple[list[tuple[int, ...]], int, bool]]:
    """Yield sets of strings, the number of degrees that may be omitted, and whether for shells."""
    count = len(instrument.strings)
    if isinstance(request.strings, tuple):
        only = [tuple(sorted(count - string for string in request.strings))]
        alike = _string_sets(count, len(request.strings), len(request.strings), hand.inner_muted)
        yield from ((sets, dropped, False) for dropped in range(4) for sets in (only, alike))
        return
    kind = VOICINGS[request.voicing]
    least, most = (request.strings or kind.least, request.strings or min(kind.most, count))
    is_shell = request.voicing == SWING and count == _SHELL_STRINGS and request.strings in (None, 3)
    if is_shell and not request.rootless and fits_a_shell(chord.quality):
        yield list(_SHELLS), 0, True
    usual = _string_sets(count, min(least, count), most, hand.inner_muted)
    yield usual, 0, False
    fewer = _string_sets(count, FEWEST, least - 1, hand.inner_muted) if not request.strings else []
    yield fewer, 0, False
    for dropped in (1, 2, 3):
        yield usual, dropped, False
        yield fewer, dropped, False


@lru_cache(256)
def _string_sets(count: int, least: int, most: int, gaps: int) -> list[tuple[int, ...]]:
    """Return every set of `least` to `most` strings with at most `gaps` strings skipped."""
    return [
        strings
        for size in range(least, most + 1)
        for strings in combinations(range(count), size)
        if strings[-1] - strings[0] + 1 - size <= gaps
    ]


_Draft = tuple[float, "Frets", tuple[float, float, float], "tuple[Degree, ...]"]
"""A shape without fingering: the lower bound of its cost, its frets, its costs for the position,
for muted strings between sounding ones and for the sound, and the degrees that it omits."""


@dataclass(frozen=True, slots=True)
class _Search:
    """One search for shapes.

    Attributes:
        instrument, hand, chord, request: as for `shapes`.
        dropped: number of required degrees that may be omitted.
        shell: whether the shapes are shells, with the root on the lowest string.
    """

    instrument: Instrument
    hand: Hand
    chord: Chord
    request: ShapeRequest
    dropped: int
    shell: bool

    def ranked(self, sets: list[tuple[int, ...]], most: int | None) -> tuple[Shape, ...]:
        """Return the easiest shapes on these sets of strings.

        Drafts are tried in the order of their lower bounds, until none can be among the easiest.
        """
        drafts = [draft for strings in sets for draft in self._drafts(strings)]
        drafts.sort(key=itemgetter(0))
        found: list[tuple[float, str, Shape]] = []
        for least, frets, costs, left_out in drafts:
            if most and len(found) >= most and least > found[most - 1][0]:
                break
            fingered = fingering(self.instrument, self.hand, frets)
            if fingered:
                total = fsum((*fingered.costs, *costs))
                shape = Shape(frets, fingered.fingers, fingered.span_mm, total, left_out)
                insort(found, (shape.total, str(shape), shape))
        return tuple([shape for *_, shape in found[:most]])

    def _drafts(self, strings: tuple[int, ...]) -> Iterator[_Draft]:
        """Yield the drafts with the right notes on exactly these strings, playable or not."""
        quality, root = self.chord.quality, self.chord.root.pitch_class
        wanted = required(quality, len(strings), rootless=self.request.rootless, shell=self.shell)
        kept = wanted[: max(FEWEST, len(wanted) - self.dropped)]
        masks = {each: 1 << (root + each.semitones) % 12 for each in quality.degrees}
        avoided = voices(quality).avoided
        allowed = sum({masks[each] for each in quality.degrees if each not in avoided})
        needed = sum({masks[each] for each in kept})
        muted = _MUTED_COST * (strings[-1] - strings[0] + 1 - len(strings))
        missing = _STRING_COST * max(0, VOICINGS[self.request.voicing].wanted - len(strings))
        costs: dict[tuple[int, ...], tuple[float, tuple[Degree, ...]]] = {}
        for frets, sounds in self._frets(strings, allowed, needed, 1 << root):
            if sounds not in costs:
                costs[sounds] = self._cost_of_sounding(sounds, masks)
            cost, left_out = costs[sounds]
            position, least = self._at_least(frets)
            sound = missing + cost
            bound = position + muted + sound + least - _ROUNDED
            yield bound, frets, (position, muted, sound), left_out

    def _at_least(self, frets: Frets) -> tuple[float, float]:
        """Return the cost of the position and a lower bound for the fingering's cost."""
        pressed = {fret for fret in frets if fret}
        if not pressed:
            return 0.0, 0.0
        lowest = min(pressed)
        low_mm = self.instrument.fret_mm(lowest)
        span = self.instrument.fret_mm(max(pressed)) - low_mm
        where = low_mm / self.instrument.scale_mm
        position = _POSITION_COST * where + _HIGH_COST * max(0, lowest - _LAST_FRET)
        return position, least_cost(self.hand, len(pressed), span)

    def _frets(
        self, strings: tuple[int, ...], allowed: int, needed: int, root: int
    ) -> Iterator[tuple[Frets, tuple[int, ...]]]:
        """Yield frets on these strings that sound all needed and only allowed pitch classes.

        Each comes with the pitch classes of its sounding strings, as bits.
        """
        instrument = self.instrument
        highest = min(self.request.highest or instrument.frets, instrument.frets)
        sounding = [
            [
                (fret, bit)
                for fret in range(highest + 1)
                if (bit := 1 << (instrument.strings[string] + fret) % 12) & allowed
            ]
            for string in strings
        ]
        if self.shell:
            sounding[0] = [each for each in sounding[0] if each[1] == root]
        opens = [
            [each for each in row if each[0] == 0] if self.hand.open_strings else []
            for row in sounding
        ]
        size = len(instrument.strings)
        places = [instrument.fret_mm(fret) for fret in range(highest + 1)]
        for lowest in range(self.request.lowest, highest + 1):
            limit = places[lowest] + self.hand.reach_mm
            window = [
                free + [each for each in row if each[0] >= lowest and places[each[0]] <= limit]
                for free, row in zip(opens, sounding, strict=True)
            ]
            for chosen in product(*window):
                sounds, at_lowest = 0, False
                for fret, bit in chosen:
                    sounds |= bit
                    at_lowest |= fret == lowest
                if at_lowest and sounds & needed == needed:
                    yield _spread(size, strings, chosen), tuple([bit for _, bit in chosen])
        for chosen in product(*opens):
            if sum({bit for _, bit in chosen}) & needed == needed:
                yield _spread(size, strings, chosen), tuple([bit for _, bit in chosen])

    def _cost_of_sounding(
        self, sounds: tuple[int, ...], masks: dict[Degree, int]
    ) -> tuple[float, tuple[Degree, ...]]:
        """Return the cost of the sounding pitch classes, and the omitted degrees."""
        sounding = Counter(sounds)
        left_out = tuple(each for each, mask in masks.items() if mask not in sounding)
        return self._omission_cost(left_out) + self._doubling_cost(sounding, masks), left_out

    def _omission_cost(self, left_out: tuple[Degree, ...]) -> float:
        found = voices(self.chord.quality)
        costs = []
        for degree in left_out:
            if degree in found.needed:
                costs.append(_NEEDED_COST)
            elif degree.number == ROOT:
                costs.append(0.0 if self.request.rootless else _ROOT_COST)
            elif degree not in found.avoided:
                costs.append(_FIFTH_COST if degree.number == FIFTH else _LOWER_COST)
        return fsum(costs)

    def _doubling_cost(self, sounding: Counter[int], masks: dict[Degree, int]) -> float:
        return fsum(
            (sounding[masks[each]] - 1)
            * (_DOUBLED_THIRD_COST if each.number == THIRD else _DOUBLED_NEEDED_COST)
            for each in voices(self.chord.quality).needed
            if masks[each] in sounding
        )


def _spread(size: int, strings: tuple[int, ...], chosen: tuple[tuple[int, int], ...]) -> Frets:
    frets: list[int | None] = [None] * size
    for string, (fret, _) in zip(strings, chosen, strict=True):
        frets[string] = fret
    return tuple(frets)


def _cannot(instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest) -> str:
    """Return the message that there is no shape, with what would help."""
    ways = ["a longer reach"]
    if not hand.open_strings:
        ways.append("open strings")
    if not hand.barre:
        ways.append("bars")
    if request.strings:
        ways.append("another number of strings")
    if request.lowest > 1 or request.highest is not None:
        ways.append("other frets")
    allowed = f"{', '.join(ways[:-1])} or {ways[-1]}" if len(ways) > 1 else ways[0]
    return (
        f"{chord} cannot be held on the {instrument.name} with a reach of {hand.reach_mm:g} mm: "
        f"allow {allowed}"
    )
