"""Devices of a line that are heard in its rhythm, its shape, and in what it takes from the
melody."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.line.naming import Found, LineDevice, leap_name, pretty, row
from fillwright.fills.devices.line.sounding import TONE, Line
from fillwright.fills.player import INTERMEDIATE
from fillwright.memory import SEARCHES

__all__ = ["GESTURES", "LEAST_RHYTHM", "LEAST_SHAPE", "NUMBERS", "gaps_of", "in_step", "last_leap",
           "like", "melody_cells", "twice_as_fast"]

LEAST_RHYTHM, LEAST_SHAPE, _MOST = 3, 4, 8
"""Notes: fewer of the melody's cannot be recognised; more is a chorus of its own."""

NUMBERS = {3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}


@SEARCHES.keep
def melody_cells(phrase: tuple[tuple[int, int], ...], beat: int, least: int
                 ) -> tuple[tuple[tuple[int, int], ...], ...]:
    """The last notes of the melody before the gap that are heard as one thing, the longest
    first: no hole of more than two beats.

    phrase   (onset, MIDI number); onsets and `beat` in one unit
    """
    found = []
    for count in range(min(_MOST, len(phrase)), least - 1, -1):
        cell = phrase[-count:]
        if all(b[0] - a[0] <= 2 * beat for a, b in pairwise(cell)):
            found.append(cell)
    return tuple(found)


def gaps_of(onsets: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(b - a for a, b in pairwise(onsets))


def _melody_rhythm(line: Line) -> Found | None:
    """The line's first notes have the gaps of the melody's last; a rhythm is not one value."""
    own = gaps_of(line.onsets[:line.count])
    for cell in melody_cells(line.setting.phrase, line.setting.beat, LEAST_RHYTHM):
        gaps = gaps_of(tuple(onset for onset, _ in cell))
        if len(set(gaps)) > 1 and own[:len(gaps)] == gaps:
            return Found(tuple(range(len(cell))))
    return None


def _says_rhythm(line: Line, found: Found) -> str:
    return (f"{row(line, found.notes)} answers with the rhythm of the melody's last "
            f"{NUMBERS[len(found.notes)]} notes.")


_SIZES = ((0,), (1,), (1,), (2,), (2,), (3,), (3, 4), (4,), (5,), (5,), (6,), (6,), (7,))
"""By semitones, the steps of a scale an interval may be: a tritone is a fourth or a fifth."""


def like(one: int, other: int) -> bool:
    """The same step or skip of a scale, the same way."""
    if (one > 0) != (other > 0) or (one < 0) != (other < 0):
        return False
    sizes = [_SIZES[abs(m)] if abs(m) < len(_SIZES) else (abs(m),) for m in (one, other)]
    return bool(set(sizes[0]) & set(sizes[1]))


def in_step(gaps: Sequence[int], melody: Sequence[int]) -> bool:
    """Whether a shape can be heard again: one of its gaps at most has another length."""
    return sum(a != b for a, b in zip(gaps, melody, strict=True)) <= 1


def twice_as_fast(gaps: Sequence[int], cell: Sequence[tuple[int, int]]) -> bool:
    """Whether gaps are half of a cell's of the melody."""
    return [2 * g for g in gaps] == [b[0] - a[0] for a, b in pairwise(cell)]


_LEAP = 5


def last_leap(phrase: Sequence[tuple[int, int]], beat: int) -> int:
    """The melody's last move, in semitones, where it is a leap of a fourth or more, whatever is
    struck again after it; 0 where it is none, or a hole of more than two beats before or after
    it."""
    for before, after in reversed(tuple(pairwise(phrase))):
        if after[0] - before[0] > 2 * beat:
            return 0
        if after[1] != before[1]:
            return after[1] - before[1] if abs(after[1] - before[1]) >= _LEAP else 0
    return 0


def _leap_taken_up(line: Line) -> Found | None:
    """The line begins with the melody's last leap, on another key."""
    leap = last_leap(line.setting.phrase, line.setting.beat)
    if not leap or line.count < LEAST_RHYTHM or line.moves[0] != leap or not line.joined(0):
        return None
    if any(a[1] == line.midis[0] and b[1] == line.midis[1]
           for a, b in pairwise(line.setting.phrase)):
        return None
    return Found((0, 1))


def _says_leap(line: Line, found: Found) -> str:
    way = "up" if line.moves[0] > 0 else "down"
    size = leap_name(*(line.pitches[i] for i in found.notes))
    what = f"{size} {way}" if size else way
    return f"{row(line, found.notes)} takes up the leap the melody has just made, {what}."


def _twice_as_fast(line: Line) -> Found | None:
    """The melody's last notes, one turn or leap among them, moved elsewhere in half the time."""
    own = gaps_of(line.onsets[:line.count])
    for cell in melody_cells(line.setting.phrase, line.setting.beat, LEAST_RHYTHM):
        moves = [b[1] - a[1] for a, b in pairwise(cell)]
        if len(cell) > line.count or not twice_as_fast(own[:len(moves)], cell):
            continue
        told = len(cell) >= LEAST_SHAPE or max(map(abs, moves)) >= _LEAP or (
            len(set(own[:len(moves)])) > 1)
        if told and len({(m > 0) - (m < 0) for m in moves}) > 1 and all(
                like(m, move) for m, move in zip(moves, line.moves, strict=False)):
            return Found(tuple(range(len(cell))))
    return None


def _says_twice_as_fast(line: Line, found: Found) -> str:
    return (f"{row(line, found.notes)} is the melody's last {NUMBERS[len(found.notes)]} notes "
            "in shape, twice as fast.")


def _shape(line: Line, sign: int) -> Found | None:
    """The line's first moves are the melody's last, moved elsewhere (or turned over), and come
    as the melody's came."""
    for cell in melody_cells(line.setting.phrase, line.setting.beat, LEAST_SHAPE):
        moves = [sign * (b[1] - a[1]) for a, b in pairwise(cell)]
        if len({(m > 0) - (m < 0) for m in moves}) < 2 or len(moves) > line.count - 1:
            continue
        gaps = gaps_of(tuple(onset for onset, _ in cell))
        own = gaps_of(line.onsets[:len(cell)])
        if in_step(own, gaps) and all(like(m, move) for m, move in zip(
                moves, line.moves, strict=False)):
            return Found(tuple(range(len(cell))), "in rhythm" if own == gaps else "")
    return None


def _says_shape(line: Line, found: Found) -> str:
    rhythm = " and their rhythm" if found.word else ""
    return (f"{row(line, found.notes)} has the shape of the melody's last "
            f"{NUMBERS[len(found.notes)]} notes{rhythm}.")


def _says_turned(line: Line, found: Found) -> str:
    return (f"{row(line, found.notes)} is the melody's last {NUMBERS[len(found.notes)]} notes "
            "turned over: what rose now falls.")


def _sequence(line: Line) -> Found | None:
    """A cell of three or four notes and the same once more on another step, in one rhythm."""
    for size in (4, 3):
        for start in range(line.count - 2 * size + 1):
            one, two = range(start, start + size), range(start + size, start + 2 * size)
            if not line.run(start, start + 2 * size - 1):
                continue
            moved = line.midis[two[0]] - line.midis[one[0]]
            moves = line.moves[start:start + size - 1]
            gaps = gaps_of(line.onsets[start:start + size])
            if not 0 < abs(moved) <= 5 or gaps_of(line.onsets[two[0]:two[-1] + 1]) != gaps:
                continue
            on = line.moves[one[-1]]  # from the one to the other
            if len({m > 0 for m in moves}) < 2 and len(set(gaps)) < 2 and (
                    abs(moved) < 3 or (abs(on) <= 2 and (on > 0) == (moves[0] > 0))):
                continue  # a run is no sequence
            if all(like(a, b) for a, b in zip(moves, line.moves[two[0]:two[-1]], strict=True)):
                return Found((*one, *two), "up" if moved > 0 else "down")
    return None


def _says_sequence(line: Line, found: Found) -> str:
    half = len(found.notes) // 2
    word = "higher" if found.word == "up" else "lower"
    return (f"A sequence: {row(line, found.notes[:half])}, then the same {word}, "
            f"{row(line, found.notes[half:])}.")


def _cell_again(line: Line) -> Found | None:
    """A sequence whose cell stands over one chord and comes again over the next."""
    found = _sequence(line)
    if found is None:
        return None
    half = len(found.notes) // 2
    one, two = ({id(line.harmonies[i]) for i in part}
                for part in (found.notes[:half], found.notes[half:]))
    return found if len(one) == len(two) == 1 and one != two else None


def _says_cell_again(line: Line, found: Found) -> str:
    half = len(found.notes) // 2
    one, two = found.notes[:half], found.notes[half:]
    return (f"One cell over both chords: {row(line, one)} over "
            f"{line.harmonies[one[0]].symbol.pretty}, {row(line, two)} over "
            f"{line.harmonies[two[0]].symbol.pretty}.")


def _taken_early(line: Line) -> Found | None:
    """A chord tone of the coming chord, foreign to the one that still sounds, is struck within
    half a beat before the change and sounds past it."""
    for i in range(line.count):
        for change in line.setting.changes:
            if line.onsets[i] < change < line.setting.ends[i] and (
                    2 * (change - line.onsets[i]) <= line.setting.beat) and i and (
                    line.kinds[i] == TONE) and not line.harmonies[i - 1].is_tone(
                    line.midis[i] % 12) and line.harmonies[i - 1] is not line.harmonies[i]:
                return Found((i,))
    return None


def _says_taken_early(line: Line, found: Found) -> str:
    i = found.notes[0]
    return (f"{pretty(line.pitches[i])} takes {line.harmonies[i].symbol.pretty} early, before the "
            "left hand strikes it.")


def _turn(line: Line) -> Found | None:
    """Three notes in the time of a beat, among other values, that turn by step."""
    third = line.setting.beat // 3
    for i in range(line.count - 2):
        gaps = gaps_of(line.onsets[i:i + 3])
        turns = line.moves[i] * line.moves[i + 1] < 0 and max(map(abs, line.moves[i:i + 2])) <= 2
        others = (*gaps_of(line.onsets[:i + 1]), *gaps_of(line.onsets[i + 2:line.count]))
        if gaps == (third, third) and line.on_beat(i) and turns and (
                others and third not in others):
            return Found((i, i + 1, i + 2))
    return None


def _says_turn(line: Line, found: Found) -> str:
    return f"A triplet turns, {row(line, found.notes)}, among plainer values."


def _pickup(line: Line) -> Found | None:
    """Two sixteenths or more that lead to a beat."""
    quick = line.setting.beat // 4
    for i in range(1, len(line.onsets)):
        if not line.on_beat(i) or not line.joined(i - 1) or not line.moves[i - 1]:
            continue
        start = i
        while start and line.onsets[start] - line.onsets[start - 1] == quick and (
                line.joined(start - 1)):
            start -= 1
        if i - start >= 2 and (start == 0 or line.onsets[start] - line.onsets[start - 1] > quick):
            return Found(tuple(range(start, i + 1)))
    return None


def _says_pickup(line: Line, found: Found) -> str:
    return (f"Sixteenths, {row(line, found.notes[:-1])}, lead to "
            f"{pretty(line.pitches[found.notes[-1]])} on the beat.")


def _double_time(line: Line) -> Found | None:
    """Eight notes or more, six of them in a row in sixteenths."""
    quick = line.setting.beat // 4
    for i in range(line.count - 5):
        last = line.setting.ends[i + 5] - line.onsets[i + 5]
        if last <= quick and all(g == quick for g in gaps_of(line.onsets[i:i + 6])):
            return Found(tuple(range(i, i + 6)))
    return None


def _says_double_time(line: Line, found: Found) -> str:
    return f"Double time: {row(line, found.notes)} are sixteenths in a row."


def _off_beats(line: Line) -> Found | None:
    """Three notes or more, a beat apart or more, all on the second half of a beat."""
    beat = line.setting.beat
    if line.count < 3 or any(place % beat not in (beat // 2, beat * 2 // 3)
                             for place in line.setting.places[:line.count]):
        return None
    return Found(tuple(range(line.count)))


def _says_off_beats(line: Line, found: Found) -> str:
    return f"{row(line, found.notes)} are all struck off the beat."


GESTURES = (
    LineDevice("answer twice as fast", 17, _twice_as_fast, _says_twice_as_fast,
               Example("C 4", "0 4 C3 E3", "1 0.5 A4, 1.5 0.5 G4, 2 0.5 A4, 2.5 0.5 C5",
                       landing="F A4", held="G4", melody="-3 E4, -2 D4, -1 E4, 0 G4")),
    LineDevice("melody's leap taken up", 8, _leap_taken_up, _says_leap,
               Example("C 4", "0 4 C3 E3", "1 0.5 E4, 1.5 1 A4, 2.5 0.5 G4",
                       landing="F F4", held="G4", melody="-2 C4, -1 D4, 0 G4")),
    LineDevice("answer in the melody's rhythm", 14, _melody_rhythm, _says_rhythm,
               Example("C 4", "0 4 C3 E3", "1 0.5 E5, 1.5 1 G5, 2.5 0.5 E5", landing="F A5",
                       held="G4", melody="-1.5 E4, -1 G4, 0 G4")),
    LineDevice("answer in the melody's shape", 18, lambda line: _shape(line, 1), _says_shape,
               Example("C 4", "0 4 C3 E3", "1 0.5 A4, 1.5 0.5 G4, 2 0.5 A4, 2.5 0.5 C5",
                       landing="F A4", held="G4", melody="-1.5 E4, -1 D4, -0.5 E4, 0 G4")),
    LineDevice("melody turned over", 18, lambda line: _shape(line, -1), _says_turned,
               Example("C 4", "0 4 C3 E3", "1 0.5 G4, 1.5 0.5 A4, 2 0.5 G4, 2.5 0.5 E4",
                       landing="F F4", held="G4", melody="-1.5 E4, -1 D4, -0.5 E4, 0 G4")),
    LineDevice("sequence", 11, _sequence, _says_sequence,
               Example("C 4", "0 4 C3 E3",
                       "1 0.5 E5, 1.5 0.5 G5, 2 0.5 F5, 2.5 0.5 D5, 3 0.5 F5, 3.5 0.5 E5",
                       landing="F C5"), INTERMEDIATE),
    LineDevice("one cell over both chords", 13, _cell_again, _says_cell_again,
               Example("Dm7 2, G7 2", "0 2 D3 F3, 2 2 G2 F3",
                       "0.5 0.5 A4, 1 0.5 F4, 1.5 0.5 G4, 2 0.5 G4, 2.5 0.5 E4, 3 1 F4",
                       landing="Cmaj7 E4"), INTERMEDIATE),
    LineDevice("chord taken early", 8, _taken_early, _says_taken_early,
               Example("Dm7 2, G7 2", "0 2 D3 F3, 2 2 G2 F3", "1 0.5 A4, 1.5 1 B4, 3 1 G4",
                       landing="Cmaj7 E4"), INTERMEDIATE),
    LineDevice("triplet turn", 8, _turn, _says_turn,
               Example("C 4", "0 4 C3 E3", "1 1/3 E5, 4/3 1/3 F5, 5/3 1/3 E5, 3 1 C5",
                       landing="F A4"), INTERMEDIATE),
    LineDevice("sixteenth pickup", 5, _pickup, _says_pickup,
               Example("C 4", "0 4 C3 E3", "1.5 0.25 C5, 1.75 0.25 D5, 2 1 E5",
                       landing="F A4"), INTERMEDIATE),
    LineDevice("double time", 10, _double_time, _says_double_time,
               Example("C 4", "0 4 C3 E3", "1 0.25 C5, 1.25 0.25 D5, 1.5 0.25 E5, 1.75 0.25 F5,"
                       "2 0.25 G5, 2.25 0.25 A5, 2.5 0.5 G5", landing="F A4"), INTERMEDIATE),
    LineDevice("off-beats", 6, _off_beats, _says_off_beats,
               Example("C 4", "0 4 C3 E3", "1.5 0.5 G4, 2.5 0.5 E4, 3.5 0.5 C5",
                       landing="F A4"), INTERMEDIATE),
)
