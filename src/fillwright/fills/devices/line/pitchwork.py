"""Devices of a line that are heard in its pitches: how notes stand to chords and to each other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.line.naming import (
    Found,
    LineDevice,
    by_step,
    leap_name,
    pretty,
    row,
    step_word,
)
from fillwright.fills.devices.line.sounding import (
    CHROMATIC,
    TENSION,
    TONE,
    Line,
    bears_blues,
    is_blue_third,
)
from fillwright.fills.player import ADVANCED, INTERMEDIATE
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Interval

__all__ = ["PITCHWORK"]

_LEAST_RUN = 4
_WIDE = 8
_CHANGES = 2
_ALTERED = {1: "flat nine", 3: "sharp nine", 6: "sharp eleven", 8: "flat thirteen"}


def _guide_tone(line: Line) -> Found | None:
    """Seventh (or sixth) of one chord falls by step to the third of the next; or the third to
    its seventh."""
    for i, move in enumerate(line.moves):
        if line.harmonies[i].symbol == line.harmonies[i + 1].symbol or not line.joined(i):
            continue
        if line.is_seventh(i) and line.is_third(i + 1) and move in (-1, -2):
            return Found((i, i + 1), "7-3")
        if line.is_third(i) and line.is_seventh(i + 1) and move in (-1, -2):
            return Found((i, i + 1), "3-7")
    return None


def _says_guide_tone(line: Line, found: Found) -> str:
    i, j = found.notes
    here, there = line.harmonies[i].symbol.pretty, line.harmonies[j].symbol.pretty
    one, two = "third", "third"
    if found.word == "7-3":
        one = "sixth" if line.harmonies[i].seventh == "6" else "seventh"
    else:
        two = "sixth" if line.harmonies[j].seventh == "6" else "seventh"
    way = by_step(line.pitches[i], line.pitches[j])
    return (f"{pretty(line.pitches[i])}, the {one} of {here}, falls {way}to "
            f"{pretty(line.pitches[j])}, the {two} of {there}.")


def _guide_line(line: Line) -> Found | None:
    """Through two changes or more, third and seventh by turns, each held over or falling by step;
    the landing's chord counts."""
    found: list[int] = []
    for i, move in enumerate(line.moves):
        if line.harmonies[i].symbol == line.harmonies[i + 1].symbol:
            continue
        led = line.joined(i) and move in (0, -1, -2) and (
            (line.is_seventh(i) and line.is_third(i + 1))
            or (line.is_third(i) and line.is_seventh(i + 1)))
        found = [*found, i, i + 1] if led else []
        if len(found) >= 2 * _CHANGES:
            return Found(tuple(found))
    return None


def _says_guide_line(line: Line, found: Found) -> str:
    pairs = list(zip(found.notes[::2], found.notes[1::2], strict=True))
    told = ", ".join(
        f"{pretty(line.pitches[i])} of {line.harmonies[i].symbol.pretty} to "
        f"{pretty(line.pitches[j])} of {line.harmonies[j].symbol.pretty}" for i, j in pairs)
    return f"Thirds and sevenths lead through the changes: {told}."


def _tritone(line: Line) -> Found | None:
    """Three notes or more of the chord a tritone from a dominant, its root and fifth among them,
    one way by thirds and fourths, and a step on to the next chord."""
    for i in range(len(line.moves)):
        harmony = line.harmonies[i]
        if (harmony is line.harmonies[i + 1] or harmony.third != "3" or not line.joined(i)
                or harmony.symbol.quality != "dominant" or not 0 < abs(line.moves[i]) <= 2):
            continue
        first = i
        while first and line.joined(first - 1) and line.harmonies[first - 1] is harmony and (
                3 <= abs(line.moves[first - 1]) <= 5
                and line.moves[first - 1] * line.moves[i - 1] > 0):
            first -= 1
        notes = list(range(first, i + 1))
        classes = {(line.midis[k] - harmony.root.pitch_class) % 12 for k in notes}
        if len(notes) >= 3 and {6, 1} <= classes <= {6, 10, 1, 4}:
            return Found((*notes, i + 1))
    return None


def _says_tritone(line: Line, found: Found) -> str:
    *notes, goal = found.notes
    symbol = line.harmonies[notes[0]].symbol
    tonic = line.harmonies[notes[0]].root.pitch_class
    root = next(k for k in notes if (line.midis[k] - tonic) % 12 == 6)
    way = by_step(line.pitches[notes[-1]], line.pitches[goal])
    return (f"{row(line, tuple(notes))}: the chord on {pretty(line.pitches[root])}, a tritone from "
            f"{symbol.pretty}, goes {way}to {pretty(line.pitches[goal])}.")


def _enclosure(line: Line) -> Found | None:
    """Two notes on either side of a chord tone that comes on a beat or is the landing, one of
    them a half step away; the far one a whole step at most."""
    best = None
    for i in range(len(line.moves) - 1):
        target = line.midis[i + 2]
        above, below = sorted((line.midis[i] - target, line.midis[i + 1] - target), reverse=True)
        if not (0 < above <= 2 and -2 <= below < 0 and min(above, -below) == 1
                and line.run(i, i + 2)):
            continue
        landing = i + 2 == line.count
        if landing or (line.kinds[i + 2] == TONE and line.on_beat(i + 2)
                       and line.kinds[i] + line.kinds[i + 1] > TONE):
            best = Found((i, i + 1, i + 2), "landing" if landing else "")
    return best


def _says_enclosure(line: Line, found: Found) -> str:
    i, j, k = found.notes
    goal = f"the landing note {pretty(line.pitches[k])}" if found.word else pretty(line.pitches[k])
    near = {abs(line.midis[i] - line.midis[k]), abs(line.midis[j] - line.midis[k])}
    how = "both by half step" if near == {1} else "one of them by half step"
    return (f"{pretty(line.pitches[i])} and {pretty(line.pitches[j])} close in on {goal} from "
            f"both sides, {how}.")


def _arpeggio_to_ninth(line: Line) -> Found | None:
    """Third, fifth, seventh and ninth of one chord, one after the other, upward."""
    for i in range(line.count - 3):
        harmony = line.harmonies[i]
        if harmony.third is None or any(line.harmonies[i + k] is not harmony for k in range(4)):
            continue
        if not line.run(i, i + 3) or any(not 2 < m < 6 for m in line.moves[i:i + 3]):
            continue
        places = [(m - harmony.root.pitch_class) % 12 for m in line.midis[i:i + 4]]
        third = degree_pitch_class(harmony.third)
        if (places[0] == third and places[1] in (6, 7, 8) and places[2] in (9, 10, 11)
                and places[3] in (1, 2)):
            return Found((i, i + 1, i + 2, i + 3), "b9" if places[3] == 1 else "9")
    return None


def _is_flat_nine(line: Line) -> Found | None:
    found = _arpeggio_to_ninth(line)
    if found is None or found.word != "b9":
        return None
    last = found.notes[-1]
    return found if line.joined(last) and line.moves[last] in (-1, -2) else None


def _plain_ninth(line: Line) -> Found | None:
    found = _arpeggio_to_ninth(line)
    return found if found is not None and found.word == "9" else None


def _says_flat_nine(line: Line, found: Found) -> str:
    chord = line.harmonies[found.notes[0]].symbol.pretty
    last = found.notes[-1]
    return (f"{row(line, found.notes)}: third, fifth, seventh and flat nine of {chord}, and the "
            f"flat nine goes down to {pretty(line.pitches[last + 1])}.")


def _says_ninth(line: Line, found: Found) -> str:
    chord = line.harmonies[found.notes[0]].symbol.pretty
    return f"{row(line, found.notes)}: third, fifth, seventh and ninth of {chord}."


def _broken_chord(line: Line) -> Found | None:
    """Three chord tones or more of one chord in one direction, by thirds to sixths."""
    best: tuple[int, ...] = ()
    for notes in _runs(line, lambda line, i: (
            3 <= abs(line.moves[i]) <= 9 and line.kinds[i] == line.kinds[i + 1] == TONE
            and line.harmonies[i] is line.harmonies[i + 1])):
        if len(notes) >= 3 and len({line.midis[i] % 12 for i in notes}) >= 3 and (
                len(notes) > len(best)):
            best = notes
    return Found(best) if best else None


def _says_broken_chord(line: Line, found: Found) -> str:
    way = "up" if line.moves[found.notes[0]] > 0 else "down"
    chord = line.harmonies[found.notes[0]].symbol.pretty
    return f"{row(line, found.notes)} goes {way} the chord tones of {chord}."


def _runs(line: Line, holds: object) -> Iterator[tuple[int, ...]]:
    """Longest stretches of notes of the line in one direction where every move holds."""
    assert callable(holds)
    start = 0
    while start < line.count - 1:
        end = start
        while end < line.count - 1 and line.joined(end) and holds(line, end) and (
                (line.moves[end] > 0) == (line.moves[start] > 0)):
            end += 1
        if end > start:
            yield tuple(range(start, end + 1))
        start = max(end, start + 1)


def _scale_run(line: Line) -> Found | None:
    """Four notes or more of the chords' scales by step, one way."""
    best: tuple[int, ...] = ()
    for notes in _runs(line, lambda line, i: 1 <= abs(line.moves[i]) <= 2):
        if len(notes) >= _LEAST_RUN and len(notes) > len(best) and all(
                line.kinds[i] < CHROMATIC for i in notes):
            best = notes
    return Found(best) if best else None


def _says_scale_run(line: Line, found: Found) -> str:
    way = "up" if line.moves[found.notes[0]] > 0 else "down"
    return f"{row(line, found.notes)} walks {way} the scale."


def _passing_tone(line: Line) -> Found | None:
    """A foreign note between two notes a whole step apart, off the beat, in a run of four or
    more whose notes on the beats are chord tones."""
    for notes in _runs(line, lambda line, i: 1 <= abs(line.moves[i]) <= 2):
        if len(notes) < _LEAST_RUN or not any(line.on_beat(i) for i in notes):
            continue
        if any(line.on_beat(i) and line.kinds[i] != TONE for i in notes):
            continue
        for i in notes[1:-1]:
            if (line.kinds[i] == CHROMATIC and abs(line.moves[i - 1]) == abs(line.moves[i]) == 1
                    and not line.on_beat(i)):
                return Found(notes, str(i))
    return None


def _says_passing_tone(line: Line, found: Found) -> str:
    passing = pretty(line.pitches[int(found.word)])
    on_beats = [i for i in found.notes if line.on_beat(i)]
    what = ("the notes on the beats are chord tones" if len(on_beats) > 1
            else f"{pretty(line.pitches[on_beats[0]])} on the beat is a chord tone")
    return f"{row(line, found.notes)}: {passing} passes chromatically, and {what}."


def _chromatic_approach(line: Line) -> Found | None:
    """A foreign note off the beat that goes by half step to a chord tone on a beat, or to the
    landing."""
    for i in range(line.count - 1, -1, -1):
        if i >= len(line.moves) or abs(line.moves[i]) != 1 or not line.joined(i):
            continue
        goal = i + 1 == line.count
        if line.kinds[i] == CHROMATIC and not line.on_beat(i) and (
                goal or (line.kinds[i + 1] == TONE and line.on_beat(i + 1))):
            return Found((i, i + 1), "landing" if goal else "")
    return None


def _says_approach(line: Line, found: Found) -> str:
    i, j = found.notes
    where = "below" if line.moves[i] > 0 else "above"
    goal = "the landing note " if found.word else ""
    return (f"{pretty(line.pitches[i])} leads into {goal}{pretty(line.pitches[j])} from a half "
            f"step {where}.")


def _altered(line: Line) -> Found | None:
    """Two altered tones or more over one dominant, the last of its notes going by step to a
    chord tone of the next chord."""
    for i in range(len(line.moves)):
        harmony = line.harmonies[i]
        if harmony is line.harmonies[i + 1] or harmony.symbol.quality != "dominant" or (
                harmony.third != "3"):
            continue
        if not line.joined(i) or not 0 < abs(line.moves[i]) <= 2:
            continue
        if i + 1 < line.count and line.kinds[i + 1] != TONE:
            continue
        own = [k for k in range(i + 1) if line.harmonies[k] is harmony]
        notes = tuple(k for k in own if _altered_word(line, k) and line.kinds[k] <= TENSION)
        if len({line.midis[k] % 12 for k in notes}) >= 2 and notes[-1] >= i - 1:
            return Found((*notes, i + 1))
    return None


def _altered_word(line: Line, index: int) -> str | None:
    root = line.harmonies[index].root.pitch_class
    return _ALTERED.get((line.midis[index] - root) % 12)


_FIFTHS = {"sharp eleven": "flat five", "flat thirteen": "raised fifth"}


def _lettered(word: str, name: str, harmony: Harmony) -> str:
    """An altered tone by the letter it is written on, which may be the fifth's: D flat over G7 is
    its flat five."""
    fifth = (harmony.root + Interval(4, 7)).step
    return _FIFTHS.get(word, word) if name[0] == fifth else word


def _says_altered(line: Line, found: Found) -> str:
    *notes, goal = found.notes
    words: dict[str, str] = {}
    for i in notes:
        words.setdefault(_altered_word(line, i) or "", pretty(line.pitches[i]))
    named = [f"{pitch} ({_lettered(word, pitch, line.harmonies[notes[0]])})"
             for word, pitch in words.items()]
    listed = f"{', '.join(named[:-1])} and {named[-1]}"
    way = by_step(line.pitches[goal - 1], line.pitches[goal])
    return (f"{listed} alter {line.harmonies[notes[0]].symbol.pretty}, and the line resolves "
            f"{way}to {pretty(line.pitches[goal])}.")


def _blues(line: Line) -> Found | None:
    """The blue third (see `is_blue_third`); or over a chord that bears the blues the flat fifth
    goes by half step to the fifth or fourth, and the minor third is there too."""
    key = line.setting.key
    places = [(m - key.tonic.pitch_class) % 12 for m in line.midis]
    for i in range(line.count - 1):
        if not line.joined(i) or line.kinds[i] == TONE or not bears_blues(line.harmonies[i], key):
            continue  # a chord's own tone is not blue
        before = line.midis[i - 1] if i else None
        if is_blue_third(key, line.harmonies[i], before, *line.midis[i:i + 2]):
            return Found((i, i + 1), "third")
        if places[i] == 6 and abs(line.moves[i]) == 1 and 3 in places[:line.count]:
            return Found((i, i + 1), "fifth")
    return None


def _says_blues(line: Line, found: Found) -> str:
    i, j = found.notes
    own = line.pitches[i].note_name == line.setting.key.tonic + (
        Interval(2, 3) if found.word == "third" else Interval(4, 6))
    what = (("the blue third" if own else "a half step under the third")
            if found.word == "third" else "the flat fifth" if own else "the raised fourth")
    return (f"The blues: {pretty(line.pitches[i])}, {what} of the key, leans into "
            f"{pretty(line.pitches[j])}.")


def _wide_leap(line: Line) -> Found | None:
    """A sixth or more that steps the other way begin to fill."""
    for i in range(line.count - 2):
        leap, back = line.moves[i], line.moves[i + 1]
        if abs(leap) >= _WIDE and 0 < abs(back) <= 2 and (leap > 0) != (back > 0) and (
                line.run(i, i + 2)):
            return Found((i, i + 1, i + 2))
    return None


def _says_wide_leap(line: Line, found: Found) -> str:
    i, j, k = found.notes
    size = leap_name(line.pitches[i], line.pitches[j])
    beside = bool(by_step(line.pitches[j], line.pitches[k]))
    back = f"a {step_word(line.moves[j])} to " if beside else ""
    return (f"{pretty(line.pitches[i])} leaps {'up' if line.moves[i] > 0 else 'down'} "
            f"{size + ' ' if size else ''}to {pretty(line.pitches[j])}, and {back}"
            f"{pretty(line.pitches[k])} turns it back.")


def _neighbour(line: Line) -> Found | None:
    """A chord tone, the note a step above or below it, and the chord tone again."""
    for i in range(line.count - 2):
        if (line.kinds[i] == TONE and 0 < abs(line.moves[i]) <= 2
                and line.moves[i] == -line.moves[i + 1] and line.run(i, i + 2)
                and line.kinds[i + 2] == TONE and line.kinds[i + 1] != TONE):
            return Found((i, i + 1, i + 2))
    return None


def _says_neighbour(line: Line, found: Found) -> str:
    i, j, _ = found.notes
    where = "upper" if line.moves[i] > 0 else "lower"
    return (f"{row(line, found.notes)}: the chord tone {pretty(line.pitches[i])} and its {where} "
            f"neighbour {pretty(line.pitches[j])}.")


def _chord_tones(line: Line) -> Found | None:
    """Nothing but chord tones, the third among them, three notes or more; where there are only two,
    the landing is the third of them."""
    notes = tuple(range(line.count))
    if line.count == 2:
        return _triad_with_landing(line)
    if line.count >= 3 and all(line.kinds[i] == TONE for i in notes) and any(
            line.is_third(i) for i in notes) and len(set(line.midis[:-1])) >= 3:
        return Found(notes)
    return None


def _triad_with_landing(line: Line) -> Found | None:
    chord, classes = line.harmonies[0], [midi % 12 for midi in line.midis]
    if line.leads and line.run(0, 2) and len(set(classes)) == 3 and any(
            line.is_third(i) for i in (0, 1)) and line.harmonies[1] is chord and (
            line.kinds[0] == line.kinds[1] == TONE and classes[2] in chord.symbol.pitch_classes):
        return Found((0, 1))
    return None


def _says_chord_tones(line: Line, found: Found) -> str:
    third = next(i for i in found.notes if line.is_third(i))
    return (f"Only chord tones: {row(line, found.notes)}; {pretty(line.pitches[third])} is the "
            f"third of {line.harmonies[third].symbol.pretty}.")


def _steps_in(line: Line) -> Found | None:
    """The last two notes and the landing follow by step, one way."""
    i = line.count - 2
    if i < 0 or len(line.moves) <= line.count - 1 or not line.run(i, i + 2):
        return None
    one, two = line.moves[i], line.moves[i + 1]
    if 0 < abs(one) <= 2 and 0 < abs(two) <= 2 and (one > 0) == (two > 0):
        return Found((i, i + 1, i + 2))
    return None


def _says_steps_in(line: Line, found: Found) -> str:
    one, two, landing = (line.pitches[i] for i in found.notes)
    how = "by step" if by_step(one, two) and by_step(two, landing) else (
        "up" if landing.midi > one.midi else "down")
    return (f"{row(line, found.notes[:2])} leads {how} into the landing note {pretty(landing)}.")


def _broken_in(line: Line) -> Found | None:
    """Two chord tones or more of one chord, by thirds and fourths one way, and on by a third into
    the landing."""
    last = line.count - 1
    if not line.leads or not 3 <= abs(line.moves[last]) <= 4 or not line.joined(last):
        return None
    first = last
    while first and line.joined(first - 1) and (
            3 <= abs(line.moves[first - 1]) <= 5 and line.moves[first - 1] * line.moves[last] > 0
            and line.harmonies[first - 1] is line.harmonies[last]
            and line.kinds[first - 1] == line.kinds[first] == TONE):
        first -= 1
    return Found(tuple(range(first, last + 2))) if first < last else None


def _says_broken_in(line: Line, found: Found) -> str:
    *notes, landing = found.notes
    way = "up" if line.moves[notes[0]] > 0 else "down"
    return (f"{row(line, tuple(notes))} goes {way} the chord tones of "
            f"{line.harmonies[notes[0]].symbol.pretty} and on into the landing note "
            f"{pretty(line.pitches[landing])}.")


def _short_pickup(line: Line) -> Found | None:
    """Two or three notes, a chord tone first, that run into the landing by step."""
    last = line.count - 1
    if not 1 <= last <= 2 or not line.leads or line.kinds[0] != TONE:
        return None
    if not line.run(0, last + 1) or 0 in line.moves or abs(line.moves[last]) > 2:
        return None
    return Found(tuple(range(last + 2)))


def _says_short_pickup(line: Line, found: Found) -> str:
    *notes, landing = found.notes
    return (f"A short pickup: {row(line, tuple(notes))}, from a chord tone of "
            f"{line.harmonies[0].symbol.pretty} into the landing note "
            f"{pretty(line.pitches[landing])}.")


def _names_apart(line: Line, places: tuple[int, ...]) -> bool:
    """Whether the notes at some places have other names one after the other: "from C to C" says
    nothing."""
    return all(line.midis[i] % 12 != line.midis[j] % 12 for i, j in pairwise(places))


def _one_way(line: Line) -> Found | None:
    """A line of four or more that goes one way, a fourth or more."""
    last = line.count - 1
    moves = [m for m in line.moves[:last] if m]
    if (line.count < 4 or len({m > 0 for m in moves}) != 1 or not _names_apart(line, (0, last))
            or abs(line.midis[last] - line.midis[0]) < 5):
        return None
    return Found((0, last), "rises" if moves[0] > 0 else "falls")


def _says_one_way(line: Line, found: Found) -> str:
    one, two = (pretty(line.pitches[i]) for i in found.notes)
    return f"The line {found.word} from {one} to {two}."


def _contour(line: Line) -> Found | None:
    """A line of four or more that goes up and then down, or down and then up, with no move against
    it."""
    if line.count < 4:
        return None
    midis = line.midis[:line.count]
    peak, low = midis.index(max(midis)), midis.index(min(midis))
    for place, sign, word in ((peak, 1, "arch"), (low, -1, "bowl")):
        before = [sign * (b - a) for a, b in pairwise(midis[:place + 1])]
        after = [sign * (a - b) for a, b in pairwise(midis[place:])]
        places = (0, place, line.count - 1)
        if (0 < place < line.count - 1 and _names_apart(line, places)
                and not any(m < 0 for m in (*before, *after))
                and sum(before) >= 3 and sum(after) >= 3):
            return Found(places, word)
    return None


def _says_contour(line: Line, found: Found) -> str:
    names = [pretty(line.pitches[i]) for i in found.notes]
    one, two = ("rises", "falls") if found.word == "arch" else ("falls", "rises")
    return f"The line {one} from {names[0]} to {names[1]} and {two} to {names[2]}."


PITCHWORK = (
    LineDevice("a line with one curve", 2, _contour, _says_contour,
               Example("C 4", "0 4 C3 E3", "1 0.5 E5, 1.5 0.5 G5, 2 0.5 E5, 2.5 0.5 C5",
                       landing="F A4")),
    LineDevice("a line in one direction", 2, _one_way, _says_one_way,
               Example("C 4", "0 4 C3 E3", "1 0.5 C5, 1.5 0.5 E5, 2 0.5 G5, 2.5 0.5 A5",
                       landing="F F5")),
    LineDevice("broken chord into the landing", 5, _broken_in, _says_broken_in,
               Example("C 4", "0 4 C3 E3", "3 0.5 C5, 3.5 0.5 E5", landing="F G5")),
    LineDevice("short pickup", 1, _short_pickup, _says_short_pickup,
               Example("C 4", "0 4 C3 E3", "3 0.5 G4, 3.5 0.5 B4", landing="F A4")),
    LineDevice("guide tone across the change", 16, _guide_tone, _says_guide_tone,
               Example("Dm7 2, G7 2", "0 4 D3 A3", "1 0.5 D5, 1.5 0.5 C5, 2 1 B4",
                       landing="Cmaj7 E5"), INTERMEDIATE),
    LineDevice("line of guide tones", 19, _guide_line, _says_guide_line,
               Example("Dm7 2, G7 2", "0 2 D3 F3, 2 2 G2 F3",
                       "1 0.5 A4, 1.5 0.5 C5, 2 1 B4, 3 1 F4", landing="Cmaj7 E4"),
               INTERMEDIATE),
    LineDevice("arpeggio a tritone away", 21, _tritone, _says_tritone,
               Example("G7 4", "0 4 G2 F3 B3", "2 0.5 D5, 2.5 0.5 Db5, 3 0.5 F5, 3.5 0.5 Ab5",
                       landing="Cmaj7 G5"), ADVANCED),
    LineDevice("3-5-♭7-♭9", 21, _is_flat_nine, _says_flat_nine,
               Example("G7b9 4", "0 4 G2 F3",
                       "1 0.5 B4, 1.5 0.5 D5, 2 0.5 F5, 2.5 0.5 Ab5, 3 1 G5",
                       landing="Cm7 Eb5"), INTERMEDIATE),
    LineDevice("3-5-7-9", 10, _plain_ninth, _says_ninth,
               Example("Dm7 4", "0 4 D3 C4", "1 0.5 F4, 1.5 0.5 A4, 2 0.5 C5, 2.5 0.5 E5",
                       landing="G7 F5"), INTERMEDIATE),
    LineDevice("enclosure", 6, _enclosure, _says_enclosure,
               Example("Cmaj7 4", "0 4 C3 B3", "1 0.5 F5, 1.5 0.5 D#5, 2 1 E5",
                       landing="F6 C5"), INTERMEDIATE),
    LineDevice("passing tones, chord tones on the beat", 11, _passing_tone, _says_passing_tone,
               Example("G7 4", "0 4 G2 F3", "1 0.5 G5, 1.5 0.5 F#5, 2 0.5 F5, 2.5 0.5 E5, 3 1 D5",
                       landing="Cmaj7 C5"), INTERMEDIATE),
    LineDevice("altered colours", 20, _altered, _says_altered,
               Example("G7#5b9 4", "0 4 G2 F3", "1 0.5 Eb5, 1.5 0.5 F5, 2 0.5 Eb5, 3.5 0.5 Ab4",
                       landing="Cmaj7 G4"), ADVANCED),
    LineDevice("blues inflection", 9, _blues, _says_blues,
               Example("C7 4", "0 4 C3 Bb3", "1 0.5 G5, 1.5 0.5 Eb5, 2 1 E5",
                       landing="F7 C5"), INTERMEDIATE),
    LineDevice("wide leap turned back", 5, _wide_leap, _says_wide_leap,
               Example("Cmaj7 4", "0 4 C3 B3", "1 0.5 E4, 1.5 0.5 C5, 2 1 B4",
                       landing="F6 A4"), INTERMEDIATE),
    LineDevice("chromatic approach", 4, _chromatic_approach, _says_approach,
               Example("Cmaj7 4", "0 4 C3 B3", "1 0.5 E5, 1.5 0.5 F#5, 2 1 G5",
                       landing="F6 A5"), INTERMEDIATE),
    LineDevice("broken chord", 8, _broken_chord, _says_broken_chord,
               Example("C 4", "0 4 C3 G3", "1 1 C5, 2 1 E5, 3 1 G5", landing="F A5")),
    LineDevice("scale run", 5, _scale_run, _says_scale_run,
               Example("C 4", "0 4 C3 E3", "1 0.5 C5, 1.5 0.5 D5, 2 0.5 E5, 2.5 0.5 F5, 3 1 G5",
                       landing="F A5")),
    LineDevice("neighbour note", 4, _neighbour, _says_neighbour,
               Example("C 4", "0 4 C3 E3", "1 0.5 E5, 1.5 0.5 F5, 2 1 E5", landing="F C5")),
    LineDevice("chord tones", 5, _chord_tones, _says_chord_tones,
               Example("C 4", "0 4 C3 G3", "1 1 G4, 2 1 E4, 3 1 G4, 3.5 0.5 C5", landing="F A4")),
    LineDevice("steps into the landing", 3, _steps_in, _says_steps_in,
               Example("C 4", "0 4 C3 E3", "2 1 E5, 3 1 D5", landing="F C5")),
)
