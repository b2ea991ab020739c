"""How good a line is once it is there: its faults, and how near its surprise is to real lines'.

Costs are in tenths of one clear fault. What a strict teacher strikes outright is refused.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.sounding import TENSION, TONE, Line
from fillwright.theory.chord import degree_number

__all__ = ["CALMEST", "COSTS", "faults", "goes_nowhere", "is_a_scale", "is_bare_chord",
           "is_struck_out",
           "same_cell_thrice", "wished"]

COSTS: MappingProxyType[str, int] = MappingProxyType({
    # Unit: a tenth of one clear fault; common practice unless said otherwise.
    "surprise": 1,             # per tenth of a bit off what was wished, beyond the slack
    "landing touched": 12,     # the landing's own key among the last four notes
    "comes back": 5,           # each return to one pitch beyond one in three notes
    "stutters": 6,             # each key struck twice in a row, beyond one in the line
    "turns": 4,                # each change of direction beyond one in two notes (real lines' mean)
    "stays in place": 8,       # seven notes or more within a fifth
    "even row": 7,             # five notes or more of one value
    "held key": 11,            # it begins on the held note's own key
    "on the downbeat": 2,      # begins where everybody expects it
    "on a beat": 4,            # begins on a beat: two of five real phrases do
    "left alone": 8,           # a note with two beats of silence or more on its side of the line
    "ends on a tension": 3,    # with air after it, 61 % of real phrases end on a chord tone
    "silence after it": 5,     # each beat beyond two before the landing
    "mixed colours": 10,       # the plain and the flat ninth of one dominant
})

WISHES: tuple[tuple[int, float], ...] = (
    (250, 0.4), (310, 0.8), (360, 1.5), (410, 2.6), (480, 5.0), (570, 10.0))
"""Hundredths of a bit an interval has on average, and how much likelier leaps are made for it:
most of a real line's surprise lies there. Phrases of four to seven notes in unseen solos have 240,
285, 320, 360, 420 and 515 by the learnt table, in the middles of their sixths; what is drawn comes
out lower than it is wished, the lower the less usual. Each line is wished to have one of them, so
that all together surprise as solos do, some less and some more."""

CALMEST = WISHES[0]
"""What a beginner's lines are wished."""

_SLACK = 20
"""What a line may be off its wish for nothing."""

_LEAST, _MOST = 210, 620
"""Lines outside are dull or random; nine of ten real phrases of a fill's length lie between."""


_TELLS = 3
"""A line of so many notes has a tone that its chord prints."""


def wished(dice: Dice) -> tuple[int, float]:
    """The surprise a line is wished to have, in hundredths of a bit an interval, and how much
    likelier leaps are made for it."""
    return WISHES[dice.below(len(WISHES))]


def is_struck_out(line: Line, surprise: float) -> bool:
    """What is not offered at all."""
    if line.count >= 5 and not _LEAST <= surprise <= _MOST:
        return True
    if line.count >= _TELLS and TONE not in line.kinds[:line.count]:
        return True  # of the chord nothing is heard
    heard = line.midis if line.setting.held is None else (line.setting.held, *line.midis)
    return (goes_nowhere(line.midis[:line.count]) or takes_turns(heard) or _zigzag(line)
            or _quick_leaps(line))


def faults(line: Line, off: float) -> dict[str, int]:
    """What a line pays, by term; `off` is how far its surprise is from what was wished."""
    midis = line.midis[:line.count]
    costs = {"surprise": COSTS["surprise"] * int(max(off - _SLACK, 0) // 10)
             if line.count > 3 else 0}
    if len(line.midis) > line.count and line.midis[-1] in midis[-4:]:
        costs["landing touched"] = COSTS["landing touched"]
    often = max(Counter(midis).values())
    costs["comes back"] = COSTS["comes back"] * max(often - max(2, len(midis) // 3), 0)
    moves = [m for m in line.moves[:line.count - 1] if m]
    costs["stutters"] = COSTS["stutters"] * max(line.count - 2 - len(moves), 0)
    turns = sum((a > 0) != (b > 0) for a, b in pairwise(moves))
    costs["turns"] = COSTS["turns"] * max(turns - len(moves) // 2, 0)
    if len(midis) >= 7 and max(midis) - min(midis) <= 7:
        costs["stays in place"] = COSTS["stays in place"]
    gaps = {b - a for a, b in pairwise(line.onsets[:line.count])}
    if line.count >= 5 and len(gaps) == 1:
        costs["even row"] = COSTS["even row"]
    if line.setting.held is not None and midis[0] == line.setting.held:
        costs["held key"] = COSTS["held key"]
    if line.setting.places[0] == 0:
        costs["on the downbeat"] = COSTS["on the downbeat"]
    if line.on_beat(0):
        costs["on a beat"] = COSTS["on a beat"]
    if not line.leads and line.kinds[line.count - 1] == TENSION:
        costs["ends on a tension"] = COSTS["ends on a tension"]
    if _left_alone(line):
        costs["left alone"] = COSTS["left alone"]
    if len(line.midis) > line.count:
        silent = (line.onsets[-1] - line.setting.ends[line.count - 1]) / line.setting.beat
        costs["silence after it"] = COSTS["silence after it"] * int(max(silent - 2, 0))
    if _mixes_ninths(line):
        costs["mixed colours"] = COSTS["mixed colours"]
    return {term: cost for term, cost in costs.items() if cost}


def is_a_scale(line: Line) -> bool:
    """Four notes or more by step, one way and in one value: what is learnt first. A key struck
    again turns no way."""
    moves = line.moves[:line.count - 1]
    gaps = {b - a for a, b in pairwise(line.onsets[:line.count])}
    return line.count >= 4 and len(gaps) == 1 and all(abs(m) <= 2 for m in moves) and len(
        {m > 0 for m in moves if m}) <= 1


def is_bare_chord(line: Line) -> bool:
    """Nothing but the tones of one triad or sixth chord, broken by thirds and wider, up, down or
    both: what is learnt second."""
    own = line.harmonies[:line.count]
    return (len(set(own)) == 1 and max(degree_number(d) for d in own[0].symbol.degrees) <= 6
            and all(kind == TONE for kind in line.kinds[:line.count])
            and all(abs(m) > 2 for m in line.moves[:line.count - 1]))


def _left_alone(line: Line) -> bool:
    """Whether the first or the last note is cut off from the others."""
    hole, count = 2 * line.setting.beat, line.count
    onsets, ends = line.onsets, line.setting.ends
    return count > 2 and (onsets[1] - ends[0] >= hole
                          or onsets[count - 1] - ends[count - 2] >= hole)


def _mixes_ninths(line: Line) -> bool:
    ninths: dict[int, set[int]] = {}
    for i in range(line.count):
        harmony = line.harmonies[i]
        if harmony.symbol.quality == "dominant":
            place = (line.midis[i] - harmony.root.pitch_class) % 12
            if place in (1, 2) and line.kinds[i] <= TENSION:
                ninths.setdefault(id(harmony), set()).add(place)
    return any(len(places) == 2 for places in ninths.values())


def _zigzag(line: Line) -> bool:
    """Three leaps of a third or more in a row that turn each time, two of them of a fourth or
    more."""
    moves = line.moves[:line.count - 1]
    return any(
        min(map(abs, row)) > 2 and sum(abs(m) >= 5 for m in row) >= 2
        and all(a * b < 0 for a, b in pairwise(row))
        for row in zip(moves, moves[1:], moves[2:], strict=False))


def _quick_leaps(line: Line) -> bool:
    """Triplets or sixteenths that leap and turn: a fourth or more one way, a third or more back, or
    in all more than an octave. They go by step, or break a chord under the hand (common
    practice)."""
    third = line.setting.beat // 3
    moves = line.moves[:line.count - 1]
    quick = [b - a <= third for a, b in pairwise(line.onsets[:line.count])]
    for i in range(len(moves) - 1):
        one, two = sorted(map(abs, moves[i:i + 2]))
        if quick[i] and quick[i + 1] and moves[i] * moves[i + 1] < 0 and one > 2 and two > 4:
            return True
    start = 0
    for i, runs in enumerate((*quick, False)):
        if not runs:
            cell = line.midis[start:i + 1]
            if max(cell) - min(cell) > _OCTAVE and i > start:
                return True
            start = i + 1
    return False


_OCTAVE = 12


def goes_nowhere(midis: Sequence[int]) -> bool:
    """One key alone, the same cell three times, a chord that is broken and goes back over the same
    keys, or two keys that take turns twice."""
    return (len(midis) > 1 and len(set(midis)) == 1) or same_cell_thrice(midis) or any(
        five == five[::-1] and (five[1] - five[0]) * (five[2] - five[1]) > 0 and all(
            abs(b - a) > 2 for a, b in pairwise(five))
        for five in (midis[i:i + 5] for i in range(len(midis) - 4))) or takes_turns(midis)


def takes_turns(midis: Sequence[int]) -> bool:
    """Two keys that take turns twice: the held note before a line and the landing after it are
    heard with it."""
    return any(a == c and b == d
               for a, b, c, d in zip(midis, midis[1:], midis[2:], midis[3:], strict=False))


def same_cell_thrice(midis: Sequence[int]) -> bool:
    """The same intervals three times in a row, two to four notes long, turning each time; or
    three cells of three or four notes that hover in one place, each a copy of the one before
    within a whole step; or a pair of notes that opens, comes back, and comes back."""
    intervals = [b - a for a, b in pairwise(midis)]
    for length in (3, 4):
        for start in range(len(midis) - 3 * length + 1):
            cells_ = [midis[start + k * length:start + (k + 1) * length] for k in range(3)]
            shapes = {tuple(b > a for a, b in pairwise(c)) for c in cells_}
            if len(shapes) == 1 and all(max(notes) - min(notes) <= 2
                                        for notes in zip(*cells_, strict=True)):
                return True
    for start in range(len(midis) - 5):
        one, two, three = (midis[start + k:start + k + 2] for k in (0, 2, 4))
        if one == three and (one[1] > one[0]) == (two[1] > two[0]):
            return True
    for length in (2, 3, 4):
        for start in range(len(intervals) - 3 * length + 1):
            first = intervals[start:start + length]
            if len({i > 0 for i in first}) == 2 and (
                    first == intervals[start + length:start + 2 * length]
                    == intervals[start + 2 * length:start + 3 * length]):
                return True
    return False
