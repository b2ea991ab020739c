"""Whether the melody is played as written or an octave up."""

from __future__ import annotations

from statistics import median_low

from fillwright.tune.model import Chorus

__all__ = ["choose_octave"]

_LOW_HELD = 69
"""A4: with the held notes at or below it there is little room for a right hand's chord
between melody and left hand (half the held notes of 502 public-domain sheets lie there)."""
_HIGHEST = 91
"""G6: higher melodies sound thin (common practice)."""


def choose_octave(chorus: Chorus) -> int:
    """1 where the melody lies so low that the hands have no room under it, else 0.

    The notes that open gaps (two felt beats or longer) decide; without any, all notes do.
    """
    long_notes = [n.midi for n in chorus.melody if n.duration_quarter >= 2]
    low = median_low(long_notes or [n.midi for n in chorus.melody])
    highest = max(n.midi for n in chorus.melody)
    return int(low <= _LOW_HELD and highest + 12 <= _HIGHEST)
