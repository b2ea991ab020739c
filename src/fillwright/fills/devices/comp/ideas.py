"""Ideas of comping that are told from the notes: each is heard, or not, and says what it heard.

A texture that is one of them is offered only where it is heard in the notes found, and is
explained by this sentence, so that neither name nor reason can be false.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.inner import MovingVoice, line_fits, there_and_back
from fillwright.fills.devices.comp.passages import (
    TENTHS,
    Sentence,
    counted,
    degree_word,
    joined,
    keys_down,
    named,
    note_names,
    readings,
    sung_steps,
)
from fillwright.fills.devices.device import FillPassage
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["LEAST_STRIDE", "answers", "bass", "bell", "broken", "broken_tenth", "close", "drop_two",
           "echo", "inner",
           "leading", "locked", "low_end", "moving_voice", "octave", "on_top",
           "passing_diminished", "planed", "register", "slide",
           "stacked", "stride", "tenths", "thicker", "thirds", "upper"]

_FOURTHS = {5, 6}
_SIZES = ("", "a second", "a third", "a fourth", "a fifth", "a sixth", "a seventh", "an octave",
          "a ninth", "a tenth", "an eleventh", "a twelfth", "more than a twelfth")
_FAR = 4

WALTZ = 3
"""Beats of a bar whose first one alone is strong."""

LEAST_STRIDE = 5
"""Semitones from a low key to the lowest of the chord after it: a third below it is an inversion,
not a bass (common practice)."""

_TRIADS = ({0, 4, 7}, {0, 3, 7}, {0, 3, 6}, {0, 4, 8})


def moving_voice(line: MovingVoice) -> Sentence:
    """The lowest voice of the right hand goes through the line over one chord, and no further
    where it is sung once; what it has besides stays."""
    degrees = there_and_back(line)

    def hears(passage: FillPassage) -> str:
        after = [*(c.harmony for c in passage.chords[1:]), passage.goal]
        for chord, following in zip(passage.chords, after, strict=True):
            if not line_fits(line, chord.harmony, following):
                continue
            onsets = [o for o, _ in passage.struck("right")
                      if chord.onset_quarter <= o < chord.end_quarter]
            root = chord.harmony.root.pitch_class
            rows: list[tuple[int, ...]] = []
            for onset in onsets:
                row = keys_down(passage, onset, "right")
                if ((row[0] - root) % 12 != degree_pitch_class(degrees[len(rows) % len(degrees)])
                        or (rows and (row[1:] != rows[-1][1:] or abs(row[0] - rows[-1][0]) > 2))):
                    break
                rows.append(row)
            whole = len(rows) >= len(line.degrees)
            if whole and not (line.once and len(onsets) > len(line.degrees)):
                wanted = [degrees[i % len(degrees)] for i in range(len(rows))]
                steps = sung_steps(passage, "right", [(o, row[0]) for row, o in zip(
                    rows, onsets, strict=False)], wanted)
                return (f"One voice moves over {chord.harmony.symbol.pretty}: {joined(steps)}; "
                        "everything else stays where it is.")
        return ""

    return hears


def close(line: MovingVoice) -> Sentence:
    """Where nothing follows, two keys of the right hand go by step to third and fifth over the root
    of the left, from the tones of the subdominant."""
    wanted = [{degree_pitch_class(d) for d in pair}
              for pair in zip(line.degrees, line.along, strict=True)]

    def hears(passage: FillPassage) -> str:
        chord, right = passage.chords[-1], passage.struck("right")
        root = chord.harmony.root.pitch_class
        rows = [keys for onset, keys in right if onset >= chord.onset_quarter]
        if (passage.goal is not None or not line_fits(line, chord.harmony, None)
                or [{(key - root) % 12 for key in keys} for keys in rows] != wanted
                or any(not 0 < a - b <= 2 for a, b in zip(*rows, strict=True))
                or min(key for _, keys in passage.struck("left") for key in keys) % 12 != root):
            return ""
        names = [named(passage, onset, "right") for onset, _ in right[-2:]]
        which = "minor subdominant" if "b6" in line.along else "subdominant"
        return (f"{' and '.join(names[0].split())} of the {which} come home to "
                f"{' and '.join(names[1].split())}, over the root: a plagal close.")

    return hears


def broken(passage: FillPassage) -> str:
    """Three keys of the left hand one after another, upwards, over one chord, and nothing else."""
    first = passage.struck("left")[:3]
    if (passage.struck("right") or len(first) < 3 or any(len(keys) != 1 for _, keys in first)
            or passage.chord_at(first[0][0]) != passage.chord_at(first[2][0])):
        return ""
    (low,), (middle,), (high,) = (keys for _, keys in first)
    if not low < middle < high:
        return ""
    names = [named(passage, onset, "left") for onset, _ in first]
    tenth = " up to the tenth" if high - low in TENTHS else ""
    return f"The left hand breaks its chord{tenth}: {joined(names)}, one after another."


def broken_tenth(passage: FillPassage) -> str:
    text = broken(passage)
    return text if "tenth" in text else ""


def stride(passage: FillPassage) -> str:
    """Low single keys and chords above them, beat by beat, a chord after every low key; in three
    the low key is that of the first beat."""
    left = passage.struck("left")
    if len(left) < 4 or len({b - a for (a, _), (b, _) in pairwise(left)}) > 1:
        return ""
    lows = [place for place, (_, keys) in enumerate(left) if len(keys) == 1]
    in_three = passage.bar_beats == WALTZ
    if in_three:
        if not lows or any((place in lows) != (passage.beat_at(onset) == 1)
                           for place, (onset, _) in enumerate(left)):
            return ""
    elif len(lows) < 2 or lows[0] != 0 or any(b - a < 2 for a, b in pairwise(lows)):
        return ""
    if any(place + 1 < len(left) and left[place + 1][1][0] - left[place][1][0] < LEAST_STRIDE
           for place in lows):
        return ""
    names = list(dict.fromkeys(named(passage, left[place][0], "left") for place in lows))
    where = "on 1" if in_three else "on the strong beats"
    return (f"Stride: {names[0] if len(names) == 1 else joined(names)} low {where}, "
            "a chord in the middle on the others.")


def bell(passage: FillPassage) -> str:
    """Single keys high above the held note, over a left-hand chord of three."""
    right, left = passage.struck("right"), passage.struck("left")
    if (passage.held is None or not right or len(left[0][1]) < 3
            or any(len(keys) != 1 or keys[0] < passage.held.midi + 5 for _, keys in right)):
        return ""
    onset = right[0][0]
    chord = passage.chord_at(onset).harmony
    degree = chord.degree_of(right[0][1][0] % 12)
    if degree is None:
        return ""
    shown = degree.replace("b", "♭").replace("#", "♯")
    return (f"{named(passage, onset, 'right')}, the {shown} of {chord.symbol.pretty}, rings "
            "above the held note like a bell.")


def slide(passage: FillPassage) -> str:
    """Keys of the right hand half a step away from the next ones, which follow at once and are
    more at home in the chord: what slides away from a chord into its neighbour is none."""
    for (one, before), (two, after) in pairwise(passage.struck("right")):
        shifts = {b - a for a, b in zip(before, after, strict=False)}
        joined = all(n.end_quarter == two for n in passage.notes
                     if n.hand == "right" and n.onset_quarter == one)
        if (joined and two - one < passage.beat_quarter and len(shifts) == 1
                and len(before) == len(after) > 1
                and shifts <= {1, -1}
                and passage.chord_at(one) == passage.chord_at(two)
                and _own(passage, two, before) < _own(passage, two, after)):
            way = "up" if shifts == {1} else "down"
            return (f"{named(passage, one, 'right')} slide {way} a half step into "
                    f"{named(passage, two, 'right')}.")
    return ""


def _own(passage: FillPassage, onset: Fraction, row: Sequence[int]) -> int:
    """How many keys are tones of the chord."""
    return sum(passage.chord_at(onset).harmony.is_tone(key % 12) for key in row)


def thirds(passage: FillPassage) -> str:
    """Three pairs of the right hand, thirds or sixths, that go the same way by step over one
    chord."""
    right = passage.struck("right")
    for row in zip(right, right[1:], right[2:], strict=False):
        onsets, pairs = [onset for onset, _ in row], [keys for _, keys in row]
        if any(len(keys) != 2 or keys[1] - keys[0] not in (3, 4, 8, 9) for keys in pairs) or any(
                passage.chord_at(onset) != passage.chord_at(onsets[0]) for onset in onsets):
            continue
        steps = [b - a for one, two in pairwise(pairs) for a, b in zip(one, two, strict=True)]
        if all(1 <= s <= 2 for s in steps) or all(-2 <= s <= -1 for s in steps):
            what = "Sixths" if pairs[0][1] - pairs[0][0] > 4 else "Thirds"
            way = "climb" if steps[0] > 0 else "come down"
            return (f"{what} {way} by step: "
                    f"{joined([named(passage, onset, 'right') for onset in onsets])}.")
    return ""


def passing_diminished(passage: FillPassage) -> str:
    """Two inversions of a chord of four keys, and between them a diminished seventh chord that
    every voice passes through on its way to the next tone."""
    right = passage.struck("right")
    for (one, a), (two, b), (three, c) in zip(right, right[1:], right[2:], strict=False):
        chords = {passage.chord_at(onset).harmony for onset in (one, two, three)}
        if len(chords) > 1 or {len(a), len(b), len(c)} != {4}:
            continue
        ways = {(y > x) - (y < x) for row in ((a, b), (b, c))
                for x, y in zip(*row, strict=True)}
        diminished = {(key - b[0]) % 12 for key in b} == {0, 3, 6, 9}
        if (diminished and ways in ({1}, {-1}) and _own(passage, two, b) < 2
                and {k % 12 for k in a} == {k % 12 for k in c}):
            return (f"{named(passage, two, 'right')}, a diminished chord, passes between two "
                    f"inversions, {named(passage, one, 'right')} and "
                    f"{named(passage, three, 'right')}.")
    return ""


def low_end(passage: FillPassage) -> str:
    """The last thing struck is the root alone, lower than all before it."""
    last, keys = passage.struck()[-1]
    before = [key for onset, row in passage.struck() for key in row if onset < last]
    root = passage.chord_at(last).harmony.root.pitch_class
    if passage.goal is not None or len(keys) != 1 or keys[0] % 12 != root or not before or (
            min(before) <= keys[0]) or not passage.struck("right"):
        return ""
    return f"The end stands on {named(passage, last, 'left')}, low and last."


def planed(passage: FillPassage) -> str:
    """Stacks of fourths that move the same way by step over one chord."""
    for (one, before), (two, after) in pairwise(passage.struck("right")):
        if len(before) != len(after) or len(before) < 3:
            continue
        steps = [b - a for a, b in zip(before, after, strict=True)]
        if (all({b - a for a, b in pairwise(keys)} <= _FOURTHS for keys in (before, after))
                and (min(steps) > 0 or max(steps) < 0) and 1 < max(map(abs, steps)) <= 3
                and passage.chord_at(one) == passage.chord_at(two)):
            return (f"The whole shape moves in parallel, {named(passage, one, 'right')} to "
                    f"{named(passage, two, 'right')}.")
    return ""


def thicker(passage: FillPassage) -> str:
    """Two hits, and their rhythm again half a beat off its place, with a key more; where the first
    two differ, the others do."""
    right = passage.struck("right")
    if len(right) != 4:
        return ""
    (a, one), (b, two), (c, three), (d, four) = right
    moved = (c - a) % 1 == Fraction(1, 2)
    if (b - a != d - c or not moved or max(len(one), len(two)) >= min(len(three), len(four))
            or (one == two) != (three == four)):
        return ""
    return (f"{named(passage, a, 'right')} and {named(passage, b, 'right')} are a cell of two "
            "hits; its rhythm comes back half a beat off its place, with a key more.")


# Ideas of how the right hand's chords follow each other, or what they are.

def inner(passage: FillPassage) -> str:
    """One key of the right hand moves over one chord, the others stay down."""
    for (one, _), (two, struck) in pairwise(passage.struck("right")):
        before, after = keys_down(passage, one, "right"), keys_down(passage, two, "right")
        gone, come = set(before) - set(after), set(after) - set(before)
        if (passage.chord_at(one) == passage.chord_at(two) and len(before) > 1
                and len(gone) == len(come) == 1 and set(struck) == come):
            names = {n.midi: n.pitch.note_name.pretty for n in passage.notes
                     if n.hand == "right" and n.onset_quarter <= two}
            where = counted(passage.beat_at(two),
                            compound=passage.beat_quarter == Fraction(3, 2))
            stays = keys_down(passage, one, "left") == keys_down(passage, two, "left")
            whose = "" if stays else "hand's "
            return (f"Only {names[gone.pop()]} moves, to {names[come.pop()]} on {where}; the "
                    f"{whose}other notes stay down.")
    return ""


def leading(passage: FillPassage) -> str:
    """The top of the right hand goes step by step one way into the landing's melody note."""
    right = passage.struck("right")
    if passage.landing is None or len(right) < 2:
        return ""
    tops = [row[-1] for _, row in right]
    steps = [b - a for a, b in pairwise([*tops, passage.landing.midi])]
    if not (all(step in (1, 2) for step in steps) or all(step in (-1, -2) for step in steps)):
        return ""
    names = " ".join(named(passage, onset, "right").split()[-1] for onset, _ in right)
    return (f"The top goes by step into the landing: {names}, then "
            f"{passage.landing.note_name.pretty}.")


def harp(passage: FillPassage) -> str:
    """One chord, key after key from the left hand up into the right, at equal distances; those of
    the right hand stay down."""
    struck, right = passage.struck(), passage.struck("right")
    rise: list[tuple[Fraction, int]] = []
    for onset, row in struck:
        if len(row) > 1 or (rise and row[0] <= rise[-1][1]):
            break
        rise.append((onset, row[0]))
    rows = [next(n for n in passage.notes if (n.onset_quarter, n.midi) == key) for key in rise]
    hands = [note.hand for note in rows]
    last = rise[-1][0] if rise else Fraction(0)
    if (len(rise) < 5 or hands != sorted(hands) or len(right) < 2
            or len({b - a for (a, _), (b, _) in pairwise(rise)}) > 1
            or passage.chord_at(rise[0][0]) != passage.chord_at(last)
            or any(n.end_quarter <= last for n in passage.notes if n.hand == "right")):
        return ""
    names = [note.pitch.note_name.pretty for note in rows]
    return (f"{passage.chord_at(last).harmony.symbol.pretty} rises through both hands, "
            f"{' '.join(names)}; the pedal gathers it.")


def drop_two(passage: FillPassage) -> str:
    """Chords of four keys in both hands, the second voice from the top an octave down, every
    one another inversion."""
    right = [onset for onset, _ in passage.struck("right")]
    rows = [sorted((n for n in passage.notes if n.onset_quarter == onset),
                   key=lambda n: n.midi)[-4:] for onset in right]
    for row in rows:
        if len(row) < 4:
            return ""
        low, *close = (n.midi for n in row)
        if not close[1] < low + 12 < close[2] or close[2] - close[0] >= 12:
            return ""
    bottoms = [row[0] for row in rows]
    if len({n.midi for n in bottoms}) < 2:
        return ""
    return ("Drop 2: the second voice from the top lies an octave lower; the lowest goes "
            f"{note_names([n.pitch for n in bottoms])}.")


def locked(sung: Sentence | None = None) -> Sentence:
    """Twice or more both hands at once: four keys within an octave, and their top an octave
    below.

    sung   what the top line is besides; it is said, too
    """

    def hears(passage: FillPassage) -> str:
        right, left = passage.struck("right"), dict(passage.struck("left"))
        if len(right) < 2 or any(
                len(row) != 4 or row[-1] - row[0] > 12 or left.get(onset) != (row[-1] - 12,)
                for onset, row in right):
            return ""
        more = "" if sung is None else sung(passage)
        if sung is not None and not more:
            return ""
        tops = " ".join(named(passage, onset, "right").split()[-1] for onset, _ in right)
        return more or (f"Locked hands: four keys close under {tops}, the left hand an octave "
                        "below the top.")

    return hears


def pedal(passage: FillPassage) -> str:
    """One key of the left hand lasts under two chords of the right hand or more, of which at
    least one has another root."""
    left = passage.struck("left")
    keys = {key for _, row in left for key in row}
    chords: dict[str, Harmony] = {}
    for onset, row in passage.struck("right"):
        if len(row) > 1:
            harmony = passage.chord_at(onset).harmony
            chords.setdefault(harmony.symbol.pretty, harmony)
    if len(keys) != 1 or len(chords) < 2 or all(
            h.root.pitch_class in {key % 12 for key in keys} for h in chords.values()):
        return ""
    return (f"{named(passage, left[0][0], 'left')} stays in the bass under "
            f"{joined(list(chords))}: a pedal point.")


def register(way: int) -> Sentence:
    """The right hand's chords climb or come down, their top by a third or more."""

    def hears(passage: FillPassage) -> str:
        right = passage.struck("right")
        if len(right) < 2:
            return ""
        tops = {n.midi: n.pitch for n in passage.notes if n.hand == "right"}
        first, last = tops[right[0][1][-1]], tops[right[-1][1][-1]]
        if (way * (last.midi - first.midi) < _FAR or way * (right[-1][1][0] - right[0][1][0]) <= 0
                or any(len(row) < 3 for _, row in right)):
            return ""
        word = "climbs" if way > 0 else "comes down"
        size = _SIZES[min(abs(first.staff_position - last.staff_position), len(_SIZES) - 1)]
        return (f"The top {word} {size}, {first.note_name.pretty} to "
                f"{last.note_name.pretty}.")

    return hears


def bass(*, tenths: bool) -> Sentence:
    """The left hand goes from key to key to the landing, with or without tenths, under a right
    hand that strikes once for each chord of the sheet, or half as often as the left."""

    def hears(passage: FillPassage) -> str:
        left = passage.struck("left")
        lows = [min((n for n in passage.notes if n.hand == "left" and n.onset_quarter == onset),
                    key=lambda n: n.midi) for onset, _ in left]
        wide = [low.pitch.note_name.pretty for low, (_, row) in zip(lows, left, strict=True)
                if len(row) == 2 and row[-1] - row[0] in TENTHS]
        if any(keys_down(passage, onset, "left")[0] < low.midi
               for low, (onset, _) in zip(lows, left, strict=True)):
            return ""  # it moves over a key that stays
        above = len(passage.struck("right"))
        calm = 0 < above <= max(len(passage.chords), len(left) // 2)
        if (not calm or len({low.midi % 12 for low in lows}) < 2
                or bool(wide) < tenths or any(len(row) > 2 for _, row in left)):
            return ""
        arrives = passage.goal == passage.chord_at(left[-1][0]).harmony and passage.goal in [
            c.harmony for c in passage.chords[1:]]  # its chord has come before the landing
        goal = "" if passage.goal is None or arrives else (
            f" and on to {passage.goal.symbol.pretty}")
        over = f", with the tenth over {joined(list(dict.fromkeys(wide)))}" if wide else ""
        return f"The bass goes {note_names([low.pitch for low in lows])}{goal}{over}."

    return hears


def tenths(passage: FillPassage) -> str:
    """The left hand spans a tenth."""
    if not passage.struck("right") or not any(
            row[-1] - row[0] in TENTHS for _, row in passage.struck("left")):
        return ""
    return "The left hand spans a tenth; roll it where it does not reach."


def upper(passage: FillPassage) -> str:
    """The right hand strikes a triad that is not all the chord's own."""
    for onset, row in passage.struck("right"):
        classes = {key % 12 for key in row}
        roots = [root for root in sorted(classes)
                 if {(key - root) % 12 for key in classes} in _TRIADS]
        chords = [h for h in readings(passage, onset) if all(h.takes(key) for key in classes)
                  and roots and not all(h.is_tone(key) for key in classes)]
        if len(row) == 3 and chords:
            pitches = sorted((n.pitch for n in passage.notes
                              if n.hand == "right" and n.onset_quarter == onset),
                             key=lambda p: p.midi)
            letters = {p.staff_position % 7 for p in pitches}
            thirds = any(letters == {low, (low + 2) % 7, (low + 4) % 7} for low in range(7))
            return (f"{note_names(pitches)} {'is' if thirds else 'sounds like'} a plain triad "
                    f"by itself; over {chords[0].symbol.pretty} it is colour.")
    return ""


def stacked(*, under: bool) -> Sentence:
    """All chords of the right hand are stacks of fourths, under the held note or free."""

    def hears(passage: FillPassage) -> str:
        right = passage.struck("right")
        steps = [[b - a for a, b in pairwise(row)] for _, row in right]
        held = None if passage.held is None else passage.held.midi
        if not right or any(len(row) < 2 or not set(row) <= _FOURTHS or row.count(6) > 1
                            for row in steps) or (
                under and (held is None or any(row[-1] >= held for _, row in right))):
            return ""
        names = named(passage, right[0][0], "right")
        if 6 in steps[0]:
            return f"{names} stand in fourths, one of them augmented."
        return f"{names} stand in fourths: an open sound."

    return hears


def octave(passage: FillPassage) -> str:
    """Every chord of the right hand has its top doubled an octave below, with keys between."""
    right = passage.struck("right")
    if not right or any(len(row) < 3 or row[-1] - row[0] != 12 for _, row in right):
        return ""
    top = named(passage, right[0][0], "right").split()[-1]
    return f"{top} is doubled at the octave with the inner notes between."


def echo(*, voices: int) -> Sentence:
    """The top of the right hand sings the melody's last notes once more, in their rhythm.

    voices   the most keys that one of its chords has; none is a single key
    """

    def hears(passage: FillPassage) -> str:
        right = passage.struck("right")
        sung = passage.phrase[-len(right):]
        if (len(right) < 2 or len(sung) < len(right)
                or [row[-1] for _, row in right] != [key for _, key in sung]
                or len({a - b for (a, _), (b, _) in zip(right, sung, strict=True)}) > 1
                or max(len(row) for _, row in right) != voices
                or any(len(row) < 2 for _, row in right)):
            return ""
        tops = " ".join(named(passage, onset, "right").split()[-1] for onset, _ in right)
        return f"The top line sings the melody's last notes again, {tops}, in their own rhythm."

    return hears


def on_top(passage: FillPassage) -> str:
    """Three keys close under the held note, which is the chord's own top note."""
    right = passage.struck("right")
    if passage.held is None or not right or any(
            len(row) != 3 or not 0 < passage.held.midi - row[-1] <= 12 for _, row in right):
        return ""
    onset, row = right[0]
    chord = max(readings(passage, onset), key=lambda h: sum(h.takes(key % 12) for key in row))
    degree = chord.degree_of(passage.held.pitch_class)
    if degree is None:
        return ""
    return (f"The held {passage.held.note_name.pretty} is the chord's own top note, its "
            f"{degree_word(degree)}.")


def answers(passage: FillPassage) -> str:
    """After the first stroke of the left hand the hands take turns with their chords."""
    right, left = passage.struck("right"), passage.struck("left")
    later = [onset for onset, _ in left[1:]]
    if (not right or not later or {onset for onset, _ in right} & set(later)
            or any(len(row) < 2 for _, row in left)):
        return ""
    first = min(later)
    if not any(onset < first for onset, _ in right):
        return ""
    return (f"The hands take turns: the right hand strikes {named(passage, right[0][0], 'right')}"
            f", the left hand answers with {named(passage, first, 'left')}.")
