"""How fast a tempo is felt: the one place where beats a minute become a word.

The thresholds are common practice, in felt beats a minute. In three a bar is felt as one beat
from lower on, so a waltz is fast sooner.
"""

from __future__ import annotations

from enum import IntEnum

from fillwright.exact import Fraction
from fillwright.tune.model import Meter

__all__ = ["Tempo"]

_BALLAD_BELOW = 90
_SLOW_TO = 110
_MEDIUM_TO = 200
_WALTZ_MEDIUM_TO = 170


class Tempo(IntEnum):
    """Slow enough that chords are sustained and double time is natural; slow; medium; so
    fast that a beat has room for one thing only."""

    BALLAD = 0
    SLOW = 1
    MEDIUM = 2
    FAST = 3

    @staticmethod
    def of(beats_per_minute: Fraction, meter: Meter) -> Tempo:
        """The class of a tempo given in felt beats of a meter.

        >>> Tempo.of(Fraction(180), Meter(4, 4)).name, Tempo.of(Fraction(180), Meter(3, 4)).name
        ('MEDIUM', 'FAST')
        """
        if beats_per_minute < _BALLAD_BELOW:
            return Tempo.BALLAD
        in_three = not meter.is_compound and meter.length_quarter == 3
        if beats_per_minute > (_WALTZ_MEDIUM_TO if in_three else _MEDIUM_TO):
            return Tempo.FAST
        return Tempo.SLOW if beats_per_minute <= _SLOW_TO else Tempo.MEDIUM
