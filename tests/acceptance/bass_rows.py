"""Rows of the table about the bass and the harmony: roots in time, notes that lead, folk scales.

All bands are common practice, no source: the first beat of a chord is the target and its root the
usual one; the beat before approaches by step or half-step; with two chords in a bar the targets are
beats 1 and 3; root and fifth in two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bassline import FOLK, Span, leading, outside, resolves, spans_of
from listening import BEAT, share

from .rows import FEWEST, OURS, TRADE, Figure, Row, percent

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from .ears import Evidence, Listener


def _spans(one: Listener) -> list[Span]:
    notes = [(one.bars[each.bar].start + each.tick, each.pitch) for each in one.bass]
    return spans_of([bar.context for bar in one.bars], sorted(notes))


def _all_spans(evidence: Evidence) -> list[Span]:
    return [span for one in evidence.everything() for span in _spans(one)]


def _line(span: Span) -> str:
    return span.context.style.bass.line(span.context.variation)


def _shared(facts: Sequence[bool], is_good: Callable[[float], bool]) -> Figure | None:
    if len(facts) < FEWEST:
        return None
    return Figure(is_good(share(facts)), percent(facts))


def short_chords(evidence: Evidence) -> Figure | None:
    """Measure how many chords of half a bar or less contain their bass."""
    short = [span for span in _all_spans(evidence) if span.flows and span.is_short]
    return _shared([span.has_root for span in short], lambda found: found >= 0.90)


def walking_targets(evidence: Evidence) -> Figure | None:
    """Measure how often a walk has the bass of a new chord longer than a beat on its first beat."""
    found = [
        span.begins_with_root
        for span in _all_spans(evidence)
        if span.flows and span.is_new and _line(span) == "walking"
        if span.end - span.start > BEAT
    ]
    return _shared(found, lambda found: 0.80 <= found <= 0.90)


def other_targets(evidence: Evidence) -> Figure | None:
    """Measure how often any other line has the bass of a new chord where it starts."""
    found = [
        span.begins_with_root
        for span in _all_spans(evidence)
        if span.flows and span.is_new and _line(span) != "walking"
    ]
    return _shared(found, lambda found: found >= 0.95)


def part_starts(evidence: Evidence) -> Figure | None:
    """Measure how many parts of the first chorus begin with the bass of their chord."""
    found = [
        span.begins_with_root
        for span in _all_spans(evidence)
        if span.flows and span.context.chorus == 1
        if span.context.sequenced.is_part_start and span.start == span.context.start
    ]
    return Figure(all(found), percent(found)) if found else None


def leads(evidence: Evidence) -> Figure | None:
    """Measure how many foreign notes before a new chord or phrase go by step into its tones."""
    found = [
        resolves(before, after)
        for one in evidence.everything()
        for before, after in leading(_spans(one))
    ]
    if not found:
        return None
    return Figure(all(found), f"{sum(found)} of {len(found)}")


def folk_notes(evidence: Evidence) -> Figure | None:
    """Measure how many notes of a folk bass lie outside the key and the chord."""
    if evidence.style.name not in FOLK:
        return None
    spans = _all_spans(evidence)
    strange = outside(spans)
    played = sum(len(span.notes) for span in spans)
    return Figure(not strange, f"{len(strange)} of {played}")


BASS_ROWS = (
    Row("bass: chords of half a bar", "the bass in its time in at least 90 %", TRADE, short_chords),
    Row(
        "walking: root on a new chord",
        "80 to 90 % of chords longer than a beat",
        TRADE,
        walking_targets,
    ),
    Row("other lines: root on a new chord", "at least 95 %", TRADE, other_targets),
    Row("bass: start of a part, first chorus", "the root, always", OURS, part_starts),
    Row(
        "bass: notes that lead",
        "a foreign note before a chord or phrase goes by step into its tones, always",
        TRADE,
        leads,
    ),
    Row("folk: notes outside the key", "none but tones of chords", TRADE, folk_notes),
)
