"""How people play drums: figures to draw a drummer from.

Computed from the training takes of the Groove MIDI Dataset v1.0.0 (Gillick, Roberts, Engel, Eck &
Bamman, "Learning to Groove with Inverse Sequence Transformations", ICML 2019), licence CC BY 4.0:
figures only, no take. A `Spread` has p10, p50 and p90 over takes. Swing is 16 takes by four
drummers, shuffle five takes by four; all is 33 takes by seven in swing, shuffle, straight and bossa
nova, and serves where a family has fewer than three drummers: the straight takes are nearly all one
drummer's, the bossa nova and the takes in 3/4 one drummer's each, and nothing is in 6/8, 9/8 or
12/8. All were played to a click.
"""

from __future__ import annotations

from typing import NamedTuple


class Spread(NamedTuple):
    """A figure's p10, p50 and p90 over takes."""

    low: float
    middle: float
    high: float


class LimbFigures(NamedTuple):
    """How one limb plays.

    Attributes:
        after: milliseconds after the hand that keeps time, on the same place.
        own_ms: standard deviation, on beats, of what the limb does not share with the others.
        alone: factor on it between beats, where the hand that keeps time is not struck.
        scatter: standard deviation of loudness at one place, as a share of the limb's mean.
        slow: share of that variance that changes slowly, over bars.
        depth: standard deviation between drummers of the accents of the beats.
    """

    after: Spread
    own_ms: Spread
    alone: float
    scatter: Spread
    slow: Spread
    depth: float


class Figures(NamedTuple):
    """How the drummers of a family of grooves play.

    Attributes:
        shared_ms: standard deviation of what all limbs share on beats.
        wander: further standard deviation of all limbs between beats, as a share of a beat.
        limbs_share: share of the time hand's own variance, on beats, that all limbs have at once.
        hands_share: share of it that the other hand has, too.
        time, kick, snare, pedal: the limbs: ride or hat, bass drum, snare, hat by foot.
        ghosts: standard deviation of loudness of ghost notes, as a share of their mean.
        backbeats: the same of backbeats.
    """

    shared_ms: Spread
    wander: float
    limbs_share: float
    hands_share: float
    time: LimbFigures
    kick: LimbFigures
    snare: LimbFigures
    pedal: LimbFigures
    ghosts: Spread
    backbeats: Spread


_NONE = Spread(0.0, 0.0, 0.0)

# The wander makes own deviations between beats as wide at 120 quarter notes a minute as the takes
# have them for the time hand (14.9, 12.2 and 12.5 ms; in swing up to 20.3); in shuffle half of
# that, so that its two to one stays plain. The shares leave limbs on one beat as far apart as in
# the takes: kick and time 11.6, 10.5 and 11.9 ms, snare and time 8.1, 8.1 and 8.6, at most 10.9 to
# 15.7 (p90). Alone: own deviations between beats, less the wander, to those on beats; limbs struck
# together are as near between beats (snare to ride 9.5 ms). The depth is half of p90 - p10 of the
# accents on beats, over 1.28 medians, the mean of the beats; for the pedal of 2 and 4. For the
# snare the takes have .19 to .34, without a line between ghosts and strokes: .08 is ours,
# so that a backbeat stays one.
FIGURES = {
    "swing": Figures(
        shared_ms=Spread(9.2, 13.2, 14.4),
        wander=0.028,
        limbs_share=0.0,
        hands_share=0.55,
        time=LimbFigures(
            after=_NONE,
            own_ms=Spread(1.2, 9.2, 12.7),
            alone=1.0,
            scatter=Spread(0.15, 0.19, 0.27),
            slow=Spread(0, 0.15, 0.23),
            depth=0.04,
        ),
        kick=LimbFigures(
            after=Spread(-9.9, -6.1, 1.6),
            own_ms=Spread(7.5, 9.3, 12.5),
            alone=1.6,
            scatter=Spread(0.18, 0.18, 0.31),
            slow=Spread(0, 0.41, 0.73),
            depth=0.16,
        ),
        snare=LimbFigures(
            after=Spread(-6.9, -2.4, -0.1),
            own_ms=Spread(4.6, 10.6, 13.3),
            alone=1.7,
            scatter=Spread(0.39, 0.48, 0.62),
            slow=Spread(0, 0.05, 0.43),
            depth=0.08,
        ),
        pedal=LimbFigures(
            after=Spread(-30.7, -19.2, -10.8),
            own_ms=Spread(8.3, 9.5, 13.0),
            alone=1.45,
            scatter=Spread(0.09, 0.18, 0.29),
            slow=Spread(0.01, 0.57, 0.80),
            depth=0.14,
        ),
        ghosts=Spread(0.42, 0.45, 0.57),
        backbeats=Spread(0.15, 0.22, 0.25),
    ),
    "shuffle": Figures(
        shared_ms=Spread(11.8, 13.1, 15.8),
        wander=0.011,
        limbs_share=0.4,
        hands_share=0.1,
        time=LimbFigures(
            after=_NONE,
            own_ms=Spread(6.4, 7.1, 8.2),
            alone=1.0,
            scatter=Spread(0.23, 0.31, 0.62),
            slow=Spread(0.06, 0.30, 0.46),
            depth=0.13,
        ),
        kick=LimbFigures(
            after=Spread(-9.5, -5.9, -2.4),
            own_ms=Spread(8.8, 11.0, 11.6),
            alone=1.5,
            scatter=Spread(0.13, 0.22, 0.40),
            slow=Spread(0, 0, 0.43),
            depth=0.06,
        ),
        snare=LimbFigures(
            after=Spread(-3.3, -2.5, -1.2),
            own_ms=Spread(8.0, 9.4, 9.7),
            alone=1.4,
            scatter=Spread(0.24, 0.37, 0.67),
            slow=Spread(0.02, 0.12, 0.34),
            depth=0.08,
        ),
        pedal=LimbFigures(
            after=Spread(-38.2, -29.4, -16.6),
            own_ms=Spread(8.1, 9.8, 13.8),
            alone=1.5,
            scatter=Spread(0.15, 0.19, 0.38),
            slow=Spread(0.09, 0.30, 0.45),
            depth=0.15,
        ),
        ghosts=Spread(0.15, 0.34, 0.72),
        backbeats=Spread(0.11, 0.16, 0.24),
    ),
    "all": Figures(
        shared_ms=Spread(9.0, 11.7, 14.6),
        wander=0.0186,
        limbs_share=0.2,
        hands_share=0.5,
        time=LimbFigures(
            after=_NONE,
            own_ms=Spread(6.1, 8.4, 11.1),
            alone=1.0,
            scatter=Spread(0.18, 0.28, 0.35),
            slow=Spread(0, 0.15, 0.40),
            depth=0.15,
        ),
        kick=LimbFigures(
            after=Spread(-9.8, -3.5, 4.6),
            own_ms=Spread(7.3, 9.6, 12.1),
            alone=1.1,
            scatter=Spread(0.15, 0.21, 0.35),
            slow=Spread(0, 0.09, 0.56),
            depth=0.14,
        ),
        snare=LimbFigures(
            after=Spread(-6.8, -3.3, -0.8),
            own_ms=Spread(6.3, 10.4, 13.8),
            alone=1.2,
            scatter=Spread(0.27, 0.45, 0.62),
            slow=Spread(0, 0.15, 0.39),
            depth=0.08,
        ),
        pedal=LimbFigures(
            after=Spread(-38.1, -21.0, -11.1),
            own_ms=Spread(7.0, 9.4, 13.3),
            alone=1.35,
            scatter=Spread(0.09, 0.19, 0.33),
            slow=Spread(0, 0.38, 0.83),
            depth=0.15,
        ),
        ghosts=Spread(0.16, 0.43, 0.57),
        backbeats=Spread(0.14, 0.22, 0.27),
    ),
}

FAMILIES = {"swing": "swing", "shuffle": "shuffle"}
"""The family of each feel; all others play as people do on the whole.

Borrowed: jazz in 3/4 has the swing of 4/4, as its two takes lie inside those figures; the dances in
3/4, 6/8, 9/8 and 12/8, straight grooves, the light swing and the bossa nova have all takes.
"""

TEMPO_MS = (10.3, 0.0161)
"""Standard deviation of all strokes: at no time, and for each millisecond of a beat (all takes)."""

SHARED_TEMPO_MS = (9.3, 0.0060)
"""The same of what all limbs share."""
