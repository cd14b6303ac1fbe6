"""Weights of pitches by role, and of intervals, for each kind of bass note.

Columns are `Role`, or semitones from 0 to 12. The weights are common practice, no source; they are
set so that lines measured from written files lie in the bands named in the tests.
"""

from __future__ import annotations

from backing.band.path import NEVER
from backing.band.ways import ABOVE, BELOW

_AWAY = 0.02
"""Factor on steps against the direction that is asked for."""


def either_way(sizes: tuple[float, ...]) -> tuple[float, ...]:
    """Return the weights of steps from the widest down to the widest up."""
    return sizes[:0:-1] + sizes


def upwards(steps: tuple[float, ...]) -> tuple[float, ...]:
    """Return the weights of steps that go up if they can."""
    middle = len(steps) // 2
    return (*(max(each * _AWAY, NEVER) for each in steps[:middle]), *steps[middle:])


def downwards(steps: tuple[float, ...]) -> tuple[float, ...]:
    """Return the weights of steps that go down if they can."""
    return upwards(steps[::-1])[::-1]


#                    bass root third fifth seventh tension scale outside
ONLY_BASS = (1.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00)
OCTAVE_TONE = (1.00, 0.02, 0.02, 0.05, 0.00, 0.00, 0.00, 0.00)
OTHER_TONE = (1e-6, 0.10, 0.60, 1.00, 0.15, 0.00, 0.00, 0.00)
SAME_CHORD = (0.60, 0.40, 0.55, 0.65, 0.30, 0.05, 0.00, 0.00)
STRONG = (0.30, 0.30, 0.80, 1.00, 0.60, 0.15, 0.08, 0.00)
WEAK = (0.35, 0.40, 0.70, 0.75, 0.60, 0.60, 0.85, 0.22)
WALKED = (0.35, 0.40, 0.70, 0.75, 0.60, 0.60, 0.85, 0.00)
LEADING = (0.50, 0.50, 0.60, 0.70, 0.60, 0.60, 0.80, 0.70)
TWO_ONE = (1.00, 0.05, 0.05, 0.04, 0.00, 0.00, 0.00, 0.00)
TWO_THREE = (0.10, 0.10, 0.05, 1.00, 0.01, 0.00, 0.00, 0.00)
TWO_OTHER = (0.35, 0.35, 0.70, 0.50, 0.10, 0.00, 0.00, 0.00)
TWO_LIGHT = (0.60, 0.60, 0.30, 0.80, 0.05, 0.00, 0.00, 0.00)
TWO_WALK = (0.40, 0.40, 0.35, 1.00, 0.15, 0.05, 0.15, 0.00)
BROKEN = (0.40, 0.40, 1.00, 0.90, 0.60, 0.20, 0.02, 0.00)
SCALES = (0.30, 0.30, 0.60, 0.60, 0.60, 0.60, 1.00, 0.15)

# fmt: off
#                                    0    1    2    3    4    5    6    7    8    9   10   11   12
STAY_STEPS = either_way((1.0, .30, .30, .30, .30, .50, .10, .30, .05, .05, .05, .001, .05))
WALK_STEPS = either_way((.05, 1.0, 1.2, .60, .45, .40, .05, .22, .05, .05, .03, .001, .10))
LEAD_STEPS = either_way((.005, 1.0, 1.2, .60, .45, .40, .05, .22, .01, .01, .005, .001, .01))
JUMP_STEPS = either_way((.03, .30, .50, .45, .50, 1.0, .10, .60, .15, .15, .05, .001, .25))
LEAP_STEPS = either_way((.05, .001, .001, 1.0, 1.0, 1.0, .10, .60, .30, .30, .10, .001, .30))
BREAK_STEPS = either_way((.02, .20, .30, 1.0, 1.0, .90, .10, .40, .20, .20, .05, .001, .20))
SCALE_STEPS = either_way((.01, 1.2, 1.3, .15, .10, .05, .01, .02, .01, .01, .01, .001, .02))
CLOSE_STEPS = either_way((.01, .40, 1.0, 1.0, .30, .05, .01, .01, .01, .01, .01, .001, .01))
OCTAVE_STEPS = either_way((.01, .01, .01, .01, .01, .05, .01, .05, .01, .01, .01, .001, 1.0))
RIDE_STEPS = either_way((.80, 1.0, 1.0, 1.0, 1.0, .50, .10, .10, .01, .01, .002, .001, .01))
# fmt: on

JUMP_STEPS_BY_WAY = {BELOW: downwards(JUMP_STEPS), ABOVE: upwards(JUMP_STEPS)}
"""Steps of a line in two by the way of the bar; `JUMP_STEPS` for the other ways."""
