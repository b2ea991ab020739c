"""What one hand can span.

Distances are counted in *units*: an octave has fourteen, because an imaginary black key is
set between E and F and between B and C, so that equal widths on the keyboard are nearly
equal numbers (Balliauw, Herremans, Palhazi Cuervo & Sörensen, "A variable neighborhood
search algorithm to generate piano fingerings for polyphonic sheet music", Int. Trans. in
Operational Research 24(3), 2017). The spans of each pair of fingers for a small, a medium
and a large hand are those of the same paper; `PARNCUTT_SPANS` is Table 1 of Parncutt,
Sloboda, Clarke, Raekallio & Desain, "An ergonomic model of keyboard fingering for melodic
fragments", Music Perception 14(4), 1997, in semitones.

All tables are for the right hand going up. The left hand is the right hand in a mirror:
the keyboard is symmetric about D, so `mirrored` turns every left-hand question into a
right-hand one.

Spans are averages of many hands, and hands differ: a stretch that hurts is to be rolled or
left out, and pain is a matter for a teacher or a doctor.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["MAX_NOTES", "MILLIMETRES_PER_UNIT", "PARNCUTT_SPANS", "ROLL_DENOMINATOR",
           "ROLL_NUMERATOR", "SPANS", "FingerSpan", "comfortable", "hand_span", "is_black",
           "mirrored", "rolled_span_ok", "ruler", "span_ok", "span_units"]

MAX_NOTES = 5
"""Keys one hand takes at a time, one to a finger. A thumb can press two neighbouring white
keys, but no published span or cost covers that grip, so it is not offered."""

MILLIMETRES_PER_UNIT = 165 / 14
"""An octave of a standard keyboard is 165 mm wide (Jacobs, Music Perception 18(4), 2001)."""

ROLL_NUMERATOR, ROLL_DENOMINATOR = 4, 3
"""A rolled chord may exceed the reach by a third (common practice: rolled tenths)."""

UNITS_PER_OCTAVE = 14
_UNITS = (0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11, 12)
_BLACK = frozenset({1, 3, 6, 8, 10})
_MIRROR = 124  # D4 (62) is its own mirror image


@dataclass(frozen=True, slots=True)
class FingerSpan:
    """Distances from the lower-numbered finger up to the higher-numbered one.

    prac   the practical limits: what can be played at all
    comf   the comfortable limits
    rel    the relaxed limits: where the fingers lie by themselves
    Negative: the higher-numbered finger lies below the other (passed over the thumb).
    """

    min_prac: int
    min_comf: int
    min_rel: int
    max_rel: int
    max_comf: int
    max_prac: int

    def __post_init__(self) -> None:
        limits = (self.min_prac, self.min_comf, self.min_rel, self.max_rel, self.max_comf,
                  self.max_prac)
        if list(limits) != sorted(limits):
            raise ValueError(f"spans must widen outwards: {limits}")

    def turned(self) -> FingerSpan:
        """The same pair from the higher-numbered finger to the lower-numbered one."""
        return FingerSpan(-self.max_prac, -self.max_comf, -self.max_rel, -self.min_rel,
                          -self.min_comf, -self.min_prac)


Spans = Mapping[tuple[int, int], FingerSpan]


def _spans(rows: str) -> Spans:
    table: dict[tuple[int, int], FingerSpan] = {}
    for row in rows.strip().splitlines():
        pair, *limits = row.split()
        low, high = int(pair[0]), int(pair[2])
        span = FingerSpan(*map(int, limits))
        table[low, high] = span
        table[high, low] = span.turned()
    return MappingProxyType(table)


# MinPrac MinComf MinRel MaxRel MaxComf MaxPrac, semitones (Parncutt et al. 1997, Table 1)
PARNCUTT_SPANS: Spans = _spans("""
1-2  -5 -3 1  5  8 10
1-3  -4 -2 3  7 10 12
1-4  -3 -1 5  9 12 14
1-5  -1  1 7 10 13 15
2-3   1  1 1  2  3  5
2-4   1  1 3  4  5  7
2-5   2  2 5  6  8 10
3-4   1  1 1  2  2  4
3-5   1  1 3  4  5  7
4-5   1  1 1  2  3  5
""")

# The same columns in units of fourteen to the octave (Balliauw et al. 2017)
SPANS: Mapping[str, Spans] = MappingProxyType({
    "small": _spans("""
1-2  -7 -5 1  3  8 10
1-3  -6 -4 3  6 10 12
1-4  -4 -2 5  8 11 13
1-5  -2  0 7 10 12 14
2-3   1  1 1  2  4  6
2-4   1  1 3  4  6  8
2-5   2  2 5  6  8 10
3-4   1  1 1  2  2  4
3-5   1  1 3  4  6  8
4-5   1  1 1  2  4  6
"""),
    "medium": _spans("""
1-2  -8 -6 1  5  8 10
1-3  -7 -5 3  9 12 14
1-4  -5 -3 5 11 13 15
1-5  -2  0 7 12 14 16
2-3   1  1 1  2  5  7
2-4   1  1 3  4  6  8
2-5   2  2 5  6 10 12
3-4   1  1 1  2  2  4
3-5   1  1 3  4  6  8
4-5   1  1 1  2  4  6
"""),
    "large": _spans("""
1-2 -10 -8 1  6  9 11
1-3  -8 -6 3  9 13 15
1-4  -6 -4 5 11 14 16
1-5  -2  0 7 12 16 18
2-3   1  1 1  2  5  7
2-4   1  1 3  4  6  8
2-5   2  2 5  6 10 12
3-4   1  1 1  2  2  4
3-5   1  1 3  4  6  8
4-5   1  1 1  2  4  6
"""),
})


def ruler(midi: int) -> int:
    """The place of a key in units from MIDI 0, fourteen to the octave.

    >>> ruler(72) - ruler(60), ruler(65) - ruler(64), ruler(61) - ruler(60)
    (14, 2, 1)
    """
    octave, pitch_class = divmod(midi, 12)
    return UNITS_PER_OCTAVE * octave + _UNITS[pitch_class]


def span_units(low_midi: int, high_midi: int) -> int:
    """Distance between two keys in units, negative where the second is the lower."""
    return ruler(high_midi) - ruler(low_midi)


def is_black(midi: int) -> bool:
    return midi % 12 in _BLACK


def mirrored(midi: int) -> int:
    """The key at the same distance on the other side of D4, of the same colour.

    >>> mirrored(60), mirrored(mirrored(61))
    (64, 61)
    """
    return _MIRROR - midi


def hand_span(size: str) -> FingerSpan:
    """The spans from thumb to fifth finger; raises KeyError for an unknown size."""
    return SPANS[size][1, 5]


def span_ok(low_midi: int, high_midi: int, size: str) -> bool:
    """Can one hand strike both keys at once?

    A small hand takes an octave, a medium one a ninth between white keys, a large one a
    tenth between white keys.

    >>> span_ok(48, 60, "small"), span_ok(48, 62, "small"), span_ok(48, 64, "large")
    (True, False, True)
    """
    return abs(span_units(low_midi, high_midi)) <= hand_span(size).max_prac


def comfortable(low_midi: int, high_midi: int, size: str) -> bool:
    """Can one hand strike both keys at once without strain?"""
    return abs(span_units(low_midi, high_midi)) <= hand_span(size).max_comf


def rolled_span_ok(low_midi: int, high_midi: int, size: str) -> bool:
    """Can one hand roll from one key to the other, exceeding its reach by at most a third?

    >>> rolled_span_ok(48, 64, "small"), rolled_span_ok(48, 65, "small")
    (True, False)
    """
    units = abs(span_units(low_midi, high_midi))
    return units * ROLL_DENOMINATOR <= hand_span(size).max_prac * ROLL_NUMERATOR
