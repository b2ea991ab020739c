"""How fast a tempo is felt: the one place where beats a minute become a class, and a pace.

What is played, what is printed over it (`score.marks.tempo_words`) and what is asked of the library
go by these classes. The numbers of swing are in `fillwright.swing`; what a word on a sheet is
worth in beats a minute in `tune.words`.

The thresholds are common practice, in felt beats a minute. In three a bar is felt as one beat
from lower on, so a waltz is fast sooner.
"""

from __future__ import annotations

from bisect import bisect_left
from enum import IntEnum

from fillwright.exact import Fraction
from fillwright.tune.model import Chorus, Meter

__all__ = ["BALLAD_BELOW", "MEDIUM_TO", "Tempo", "pace_of", "sixteenths_to"]

BALLAD_BELOW = 90
_SLOW_TO = 110
MEDIUM_TO = 200
_WALTZ_MEDIUM_TO = 170
_SIXTEENTHS_TO, _WALTZ_SIXTEENTHS_TO = 159, 135


class Tempo(IntEnum):
    """Slow enough that chords are sustained and double time is natural; slow; medium; so
    fast that a beat has room for one thing only."""

    BALLAD = 0
    SLOW = 1
    MEDIUM = 2
    FAST = 3

    @staticmethod
    def of_chorus(chorus: Chorus) -> Tempo:
        """The class of a chorus's own tempo and meter."""
        return Tempo.of(chorus.tempo_bpm, chorus.meter)

    @staticmethod
    def of(beats_per_minute: Fraction, meter: Meter) -> Tempo:
        """The class of a tempo given in felt beats of a meter.

        >>> Tempo.of(Fraction(180), Meter(4, 4)).name, Tempo.of(Fraction(180), Meter(3, 4)).name
        ('MEDIUM', 'FAST')
        """
        if beats_per_minute < BALLAD_BELOW:
            return Tempo.BALLAD
        if beats_per_minute > (_WALTZ_MEDIUM_TO if _is_in_three(meter) else MEDIUM_TO):
            return Tempo.FAST
        return Tempo.SLOW if beats_per_minute <= _SLOW_TO else Tempo.MEDIUM


def sixteenths_to(meter: Meter) -> int:
    """The fastest tempo at which a beat is divided in four, in felt beats a minute: solos do so up
    to about 160 (Weimar Jazz Database), in three so much less as it is fast sooner."""
    return _WALTZ_SIXTEENTHS_TO if _is_in_three(meter) else _SIXTEENTHS_TO


def _is_in_three(meter: Meter) -> bool:
    return not meter.is_compound and meter.length_quarter == 3


_STEP = 1.025
"""From one pace to the next: a fortieth. Who keeps time alone drifts by as much, and a change of
tempo is noticed from about there on (Drake and Botte 1993, from memory: 2 to 3 %)."""


def _paces() -> tuple[Fraction, ...]:
    """From 16 to 1000 beats a minute, in hundredths; the threshold of what is fast is one."""
    return tuple(Fraction(round(100 * MEDIUM_TO * _STEP ** power), 100)
                 for power in range(-102, 66))


_PACES = _paces()


def pace_of(beats_per_minute: Fraction, meter: Meter) -> Fraction:
    """The fastest of the tempos that are played as this one is: what can be played there can be
    played at all of them, so that fills need not be looked for anew at each beat a minute.

    >>> pace_of(Fraction(132), Meter(4, 4)) == pace_of(Fraction(133), Meter(4, 4))
    True
    """
    place = bisect_left(_PACES, beats_per_minute)
    pace = _PACES[place] if 0 < place < len(_PACES) else beats_per_minute
    word = Tempo.of(beats_per_minute, meter)
    return pace if Tempo.of(pace, meter) is word else beats_per_minute
