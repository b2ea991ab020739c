"""Devices of a line: what is said of hundreds of lines is read again from their notes by readers
that share nothing with the recognisers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, every_task
from tests.fills.line_rules import line_of

from fillwright import Fill, HandNote
from fillwright.fills import Task, fills_of
from fillwright.fills.devices.line.devices import HEARD
from fillwright.fills.devices.line.doubles import DOUBLE_DEVICES
from fillwright.fills.devices.line.octaves import OCTAVE_DEVICE, OCTAVES
from fillwright.fills.devices.line.shift import EARLY, LATE
from fillwright.hands import LEVELS
from fillwright.theory import Harmony

ALL = (*HEARD, OCTAVE_DEVICE, *DOUBLE_DEVICES)


def test_what_is_not_heard_has_no_sentence() -> None:
    passage = OCTAVE_DEVICE.example.passage()
    silent = next(d for d in HEARD if not d.is_heard_in(passage))
    with pytest.raises(ValueError, match="not heard"):
        silent.says(passage)


@dataclass(frozen=True)
class Read:
    """A fill as the readers see it: notes and chords, the landing last where there is one."""

    task: Task
    fill: Fill
    notes: tuple[HandNote, ...]

    @property
    def midis(self) -> list[int]:
        row = [n.midi for n in self.notes]
        return row if self.task.landing is None else [*row, self.task.landing.midi]

    @property
    def names(self) -> list[str]:
        row = [n.pitch.note_name.pretty for n in self.notes]
        landing = self.task.landing
        return row if landing is None else [*row, landing.pitch.note_name.pretty]

    @property
    def moves(self) -> list[int]:
        return [b - a for a, b in pairwise(self.midis)]

    def chord(self, index: int) -> Harmony:
        """The chord of a note; the coming one where the note sounds past a change."""
        if index == len(self.notes):
            return self.task.landing_harmony or self.task.spans[-1].harmony
        note = self.notes[index]
        changes = [(span.onset_quarter, span.harmony) for span in self.task.spans]
        if self.fill.device == "late landing" and self.task.landing_harmony:
            changes.append((self.task.end_quarter, self.task.landing_harmony))
        for change, harmony in changes:
            if note.onset_quarter < change < note.end_quarter and (
                    change - note.onset_quarter <= self.task.beat_quarter / 2):
                return harmony
        if note.onset_quarter >= self.task.end_quarter and self.task.landing_harmony:
            return self.task.landing_harmony
        return self.task.span_at(note.onset_quarter).harmony

    def tone(self, index: int) -> bool:
        """A tone that the printed symbol names."""
        return self.midis[index] % 12 in self.chord(index).symbol.pitch_classes

    def on_beat(self, index: int) -> bool:
        end = (self.fill.shift.landing_quarter if self.fill.shift else self.task.end_quarter)
        onset = end if index == len(self.notes) else self.notes[index].onset_quarter
        return self.task.beat_at(onset).denominator == 1

    def at(self, names: list[str]) -> list[int]:
        """Where notes of these names follow one another."""
        size = len(names)
        return [i for i in range(len(self.names) - size + 1) if self.names[i:i + size] == names]


@lru_cache(maxsize=1)
def lines() -> tuple[Read, ...]:
    """Some hundreds of lines over three tunes at all levels and three tempos."""
    tunes = (
        ("C", [("Cmaj7", 4), ("A7", 4), ("Dm7", 2), ("G7", 2), ("Cmaj7", 4), ("F7", 4), ("Em7", 2),
               ("A7b9", 2), ("Dm7", 4), ("G7", 4), ("C6", 4)]),
        ("Bb", [("Bb7", 4), ("Eb7", 4), ("Bb7", 8), ("Cm7", 4), ("F7", 4), ("Dm7b5", 2),
                ("G7b9", 2), ("Cm7", 4), ("F7", 4)]),
        ("Gm", [("Gm7", 4), ("Am7b5", 2), ("D7b9", 2), ("Gm6", 4), ("Cm7", 4), ("F7", 4),
                ("Bbmaj7", 4), ("D7", 8), ("Gm6", 4)]))
    found = []
    for key, chords in tunes:
        for tempo in (76, 132, 200):
            melody: list[tuple[str | None, Fraction]] = []
            steps = ["G4", "A4", "Bb4", "D5", "C5", "F5", "D5", "Bb4", "G4"]
            total = sum(length for _, length in chords)
            place = Fraction(0)
            while place < total:
                k = len(melody)
                for name, length in ((steps[k % 9], Fraction(1, 2)),
                                     (steps[(k + 2) % 9], Fraction(1)),
                                     (steps[(k + 4) % 9], Fraction(1, 2)),
                                     (steps[(k + 1) % 9], Fraction(6 if k % 8 else 2))):
                    melody.append((name, length))
                    place += length
            chorus = chorus_of("4/4", key, tempo, melody, chords)
            for level in LEVELS:
                for task in every_task(chorus, level):
                    fills = fills_of(task, "line", 14)
                    if not isinstance(fills, str):
                        found += [Read(task, fill, tuple(line_of(fill))) for fill in fills]
    return tuple(found)


def third_or_seventh(read: Read, index: int, word: str) -> bool:
    chord, place = read.chord(index), 0
    place = (read.midis[index] - chord.root.pitch_class) % 12
    if word == "third":
        return place in ((3, 4) if chord.third in ("3", "b3") else (2, 5))
    return place in ((8, 9) if word == "sixth" else (9, 10, 11)) and read.tone(index)


def fits_word(read: Read, index: int, how: str) -> bool:
    """Whether a move is a half or a whole step, as it is said, on letters beside each other; where
    nothing is said, it is not written as a step."""
    letters = ["ABCDEFG".index(name[0]) for name in read.names[index:index + 2]]
    beside = (letters[0] - letters[1]) % 7 in (1, 6)
    size = abs(read.moves[index])
    return (beside and size == (1 if how == "by half step " else 2)) if how else (
        not beside and size in (1, 2))


def guide_tones(read: Read, said: re.Match[str]) -> bool:
    one, first, how, two, second = said.groups()
    return any(fits_word(read, i, how) and read.moves[i] < 0 and third_or_seventh(read, i, first)
               and third_or_seventh(read, i + 1, second)
               and read.chord(i).symbol != read.chord(i + 1).symbol for i in read.at([one, two]))


def guide_line(read: Read, said: re.Match[str]) -> bool:
    """Each pair is a third and a seventh, the second held over or a step lower."""
    pairs = [re.fullmatch(r"(\S+) of \S+ to (\S+) of \S+", part)
             for part in said.group(1).split(", ")]
    return len(pairs) > 1 and all(pair is not None and any(
        read.moves[i] in (0, -1, -2) and read.chord(i).symbol != read.chord(i + 1).symbol
        and {(m - read.chord(k).root.pitch_class) % 12 in (2, 3, 4, 5)
             for k, m in ((i, read.midis[i]), (i + 1, read.midis[i + 1]))} == {True, False}
        for i in read.at(list(pair.groups()))) for pair in pairs)


def tritone(read: Read, said: re.Match[str]) -> bool:
    """All notes belong to the dominant seventh chord a tritone away; the goal is a step off."""
    row, _, how, goal = said.groups()
    names = row.split()
    return any(
        {(m - read.chord(i).root.pitch_class - 6) % 12 for m in read.midis[i:i + len(names)]}
        <= {0, 4, 7, 10} and fits_word(read, i + len(names) - 1, how)
        for i in read.at([*names, goal]))


def tenor(read: Read, said: re.Match[str]) -> bool:
    """A single key of the left hand follows another a step away, while others are held."""
    for part in said.group(1).split(" and "):
        one, two = part.split(" to ")
        left = [n for n in read.fill.notes if n.hand == "left"]
        if not any(a.pitch.note_name.pretty == one and b.pitch.note_name.pretty == two
                   and a.end_quarter == b.onset_quarter and 0 < abs(a.midi - b.midi) <= 2
                   and any(c.onset_quarter < b.onset_quarter < c.end_quarter for c in left)
                   for a in left for b in left):
            return False
    return True


def closes_in(read: Read, said: re.Match[str]) -> bool:
    one, two, goal, how = said.groups()
    for i in read.at([one, two, goal.removeprefix("the landing note ")]):
        off = sorted(m - read.midis[i + 2] for m in read.midis[i:i + 2])
        halves = [-off[0], off[1]].count(1)
        if off[0] in (-1, -2) and off[1] in (1, 2) and halves == (2 if how == "both" else 1) and (
                "landing" not in goal or i + 2 == len(read.notes)):
            return True
    return False


def half_step(read: Read, said: re.Match[str]) -> bool:
    one, goal, side = said.groups()
    return any(read.moves[i] == (1 if side == "below" else -1)
               and not read.tone(i) and not read.on_beat(i)
               for i in read.at([one, goal.removeprefix("the landing note ")]))


def ninth(read: Read, said: re.Match[str]) -> bool:
    flat = said.group(2) == "flat nine"
    for i in read.at(said.group(1).split()):
        root = read.chord(i).root.pitch_class
        places = [(m - root) % 12 for m in read.midis[i:i + 4]]
        if (places[0] in (3, 4) and places[1] in (6, 7, 8) and places[2] in (9, 10, 11)
                and places[3] == (1 if flat else 2) and all(m > 2 for m in read.moves[i:i + 3])):
            return not flat or read.moves[i + 3] in (-1, -2)
    return False


def chord_tones_row(read: Read, said: re.Match[str]) -> bool:
    names, way = said.group(1).split(), said.group(2)
    return any(all(read.tone(i + k) for k in range(len(names)))
               and all((m > 0) == (way == "up") and abs(m) > 2
                       for m in read.moves[i:i + len(names) - 1]) for i in read.at(names))


def only_tones(read: Read, said: re.Match[str]) -> bool:
    return all(read.tone(i) for i in range(len(read.notes)))


def walks(read: Read, said: re.Match[str]) -> bool:
    names, way = said.group(1).split(), said.group(2)
    return len(names) >= 4 and any(
        all((m > 0) == (way == "up") and 0 < abs(m) <= 2
            for m in read.moves[i:i + len(names) - 1]) for i in read.at(names))


def passes(read: Read, said: re.Match[str]) -> bool:
    names, passing = said.group(1).split(), said.group(2)
    for i in read.at(names):
        own = range(i, i + len(names))
        ups = {m > 0 for m in read.moves[i:i + len(names) - 1]}
        if (len(ups) == 1 and all(abs(m) <= 2 for m in read.moves[i:i + len(names) - 1])
                and all(read.tone(k) for k in own if read.on_beat(k))
                and any(read.names[k] == passing and abs(read.moves[k - 1]) == 1
                        and abs(read.moves[k]) == 1 and read.chord(k).degree_of(
                            read.midis[k] % 12) is None for k in own[1:-1])):
            return True
    return False


def melody_gaps(read: Read) -> list[Fraction]:
    return [b.onset_quarter - a.onset_quarter for a, b in pairwise(read.task.phrase)]


def in_rhythm(read: Read, said: re.Match[str]) -> bool:
    size = len(said.group(1).split())
    own = [b.onset_quarter - a.onset_quarter for a, b in pairwise(read.notes[:size])]
    return own == melody_gaps(read)[-(size - 1):] and len(set(own)) > 1


SIZES = ("0", "1 2", "3 4", "5 6", "6 7", "8 9", "10 11", "12")
"""Semitones that are one step of a scale, two, three ..."""


def same_size(one: int, other: int) -> bool:
    return one * other >= 0 and any({str(abs(one)), str(abs(other))} <= set(size.split())
                                    for size in SIZES)


def in_shape(read: Read, said: re.Match[str]) -> bool:
    size = len(said.group(1).split())
    sign = -1 if "turned over" in said.group(0) else 1
    melody = [sign * (b.midi - a.midi) for a, b in pairwise(read.task.phrase)][-(size - 1):]
    own = [b.onset_quarter - a.onset_quarter for a, b in pairwise(read.notes[:size])]
    off = sum(a != b for a, b in zip(own, melody_gaps(read)[-(size - 1):], strict=True))
    return off <= (0 if "their rhythm" in said.group(0) else 1) and all(
        same_size(a, b) for a, b in zip(melody, read.moves[:size - 1], strict=True))


def twice_as_fast(read: Read, said: re.Match[str]) -> bool:
    size = len(said.group(1).split())
    melody = [b.midi - a.midi for a, b in pairwise(read.task.phrase)][-(size - 1):]
    own = [2 * (b.onset_quarter - a.onset_quarter) for a, b in pairwise(read.notes[:size])]
    return own == melody_gaps(read)[-(size - 1):] and all(
        same_size(a, b) for a, b in zip(melody, read.moves[:size - 1], strict=True))


def takes_up(read: Read, said: re.Match[str]) -> bool:
    melody = [b.midi - a.midi for a, b in pairwise(read.task.phrase) if b.midi != a.midi]
    leap = read.moves[0]
    return (read.names[:2] == list(said.groups()[:2]) and named(read, 0, said.group(3))
            and abs(leap) >= 5 and (leap > 0) == (said.group(4) == "up") and leap == melody[-1])


def melody_in(read: Read, names: list[str]) -> list[int]:
    """Where notes of these names have the melody's last gaps and moves, on other keys."""
    size = len(names)
    melody = read.task.phrase[-size:]
    moves = [b.midi - a.midi for a, b in pairwise(melody)]
    return [i for i in read.at(names) if melody_gaps(read)[-(size - 1):] == [
        b.onset_quarter - a.onset_quarter for a, b in pairwise(read.notes[i:i + size])]
        and all(same_size(a, b) for a, b in zip(moves, read.moves[i:i + size - 1], strict=True))
        and (read.midis[i] - melody[0].midi) % 12 and len(set(moves)) > 1]


def in_sequence(read: Read, said: re.Match[str]) -> bool:
    one, way, two = said.group(1).split(), said.group(2), said.group(3).split()
    return any(i + len(one) in melody_in(read, two)
               and (read.midis[i + len(one)] > read.midis[i]) == (way == "higher")
               for i in melody_in(read, one))


def displaced(read: Read, said: re.Match[str]) -> bool:
    names, beat = said.group(1).split(), read.task.beat_quarter
    first = read.task.phrase[-len(names)].onset_quarter
    return any((read.notes[i].onset_quarter - first) % beat == beat / 2
               for i in melody_in(read, names))


def over_the_chord(read: Read, said: re.Match[str]) -> bool:
    names, way, chord = said.group(1).split(), said.group(2), said.group(3)
    first = read.task.phrase[-len(names)].midi
    return any(read.tone(i) and (read.midis[i] > first) == (way == "higher") and all(
        read.chord(k).symbol.pretty == chord for k in range(i, i + len(names)))
        for i in melody_in(read, names))


def broken_off(read: Read, said: re.Match[str]) -> bool:
    """The melody's first notes since the last hole of more than two beats come elsewhere, and do
    not go on as they did."""
    names, way, end = said.group(1).split(), said.group(2), said.group(3)
    phrase, size, beat = list(read.task.phrase), len(names), read.task.beat_quarter
    while any(b.onset_quarter - a.onset_quarter > 2 * beat for a, b in pairwise(phrase)):
        phrase = phrase[1:]
    gaps = [b.onset_quarter - a.onset_quarter for a, b in pairwise(phrase)][:size]
    moves = [b.midi - a.midi for a, b in pairwise(phrase)][:size]
    for i in read.at(names):
        own = [b.onset_quarter - a.onset_quarter for a, b in pairwise(read.notes[i:i + size + 1])]
        here = read.moves[i:i + size]
        if (own[:size - 1] == gaps[:-1] and len(set(moves[:-1])) > 1
                and all(map(same_size, moves[:-1], here))
                and (read.midis[i] > phrase[0].midi) == (way == "higher")):
            ends = i + size == len(read.notes)
            goes_on = not ends and own == gaps and same_size(moves[-1], here[-1])
            return not goes_on and ends == (end == "broken off there")
    return False


def cell_again(read: Read, said: re.Match[str]) -> bool:
    one, two = said.group(1).split(), said.group(3).split()
    over, after = said.group(2), said.group(4)
    return any(all(read.chord(i + k).symbol.pretty == (over if k < len(one) else after)
                   for k in range(len(one) + len(two)))
               and all(same_size(a, b) for a, b in zip(
                   read.moves[i:i + len(one) - 1], read.moves[i + len(one):][:len(one) - 1],
                   strict=True)) for i in read.at([*one, *two]))


def sequence(read: Read, said: re.Match[str]) -> bool:
    one, word, two = said.group(1).split(), said.group(2), said.group(3).split()
    for i in read.at([*one, *two]):
        size = len(one)
        a, b = read.moves[i:i + size - 1], read.moves[i + size:i + 2 * size - 1]
        gaps = [y.onset_quarter - x.onset_quarter for x, y in pairwise(
            read.notes[i:i + 2 * size])]
        if (all(same_size(x, y) for x, y in zip(a, b, strict=True))
                and gaps[:size - 1] == gaps[size:]
                and (read.midis[i + size] > read.midis[i]) == (word == "higher")):
            return True
    return False


def alters(read: Read, said: re.Match[str]) -> bool:
    places = {"flat nine": 1, "sharp nine": 3, "sharp eleven": 6, "flat thirteen": 8,
              "flat five": 6, "raised fifth": 8}
    steps = {"sharp eleven": (3,), "flat five": (4,), "raised fifth": (4,), "flat thirteen": (5,),
             "flat nine": (0, 1), "sharp nine": (1, 2)}
    words = re.findall(r"(\S+) \(([a-z ]+)\)", said.group(0))
    if len({places[word] for _, word in words}) < 2:
        return False
    return all(any(read.names[i] == name and (
        read.midis[i] - read.chord(i).root.pitch_class) % 12 == places[word]
        and ("CDEFGAB".index(name[0]) - "CDEFGAB".index(str(read.chord(i).root)[0])) % 7
        in steps[word]
        and read.chord(i).symbol.quality == "dominant" for i in range(len(read.notes)))
        for name, word in words)


def blue(read: Read, said: re.Match[str]) -> bool:
    one, what, two = said.groups()
    tonic = read.task.key.tonic
    place = 3 if "third" in what else 6
    letter = {"the blue third": 2, "the flat fifth": 4, "the raised fourth": 3}.get(what)
    letters = ["CDEFGAB".index(name[0]) for name in (one, str(tonic))]
    return letter in (None, (letters[0] - letters[1]) % 7) and any(
        (read.midis[i] - tonic.pitch_class) % 12 == place and abs(read.moves[i]) == 1
        for i in read.at([one, two]))


def leaps(read: Read, said: re.Match[str]) -> bool:
    one, way, size, two, step, three = said.groups()
    return any(abs(read.moves[i]) >= 8 and (read.moves[i] > 0) == (way == "up")
               and 0 < abs(read.moves[i + 1]) <= 2 and read.moves[i] * read.moves[i + 1] < 0
               and named(read, i, size)
               and fits_word(read, i + 1, f"by {step} " if step else "")
               for i in read.at([one, two, three]))


def named(read: Read, index: int, size: str | None) -> bool:
    """Whether a leap is as wide as it is said, by its letters too; where nothing is said, it is
    written as no leap of a scale."""
    letters = ["CDEFGAB".index(name[0]) for name in read.names[index:index + 2]]
    move = read.moves[index]
    apart = (letters[1] - letters[0]) * (1 if move > 0 else -1) % 7
    known = {"fourth": (3, 5), "fifth": (4, 7), "minor sixth": (5, 8), "sixth": (5, 9),
             "minor seventh": (6, 10), "major seventh": (6, 11), "octave": (0, 12)}
    if size == "tritone":
        return abs(move) == 6
    return (apart, abs(move)) == known[size] if size else (apart, abs(move)) not in known.values()


def neighbours(read: Read, said: re.Match[str]) -> bool:
    return any(read.midis[i] == read.midis[i + 2] and 0 < abs(read.moves[i]) <= 2 and read.tone(i)
               for i in read.at(said.group(1).split()))


def steps_in(read: Read, said: re.Match[str]) -> bool:
    letters = ["CDEFGAB".index(name[0]) for name in read.names[-3:]]
    steps = all((b - a) % 7 in (1, 6) for a, b in pairwise(letters))
    return (all(0 < abs(m) <= 2 for m in read.moves[-2:]) and read.moves[-1] * read.moves[-2] > 0
            and (steps if said.group(1) == "by step" else (
                not steps and (read.moves[-1] > 0) == (said.group(1) == "up"))))


def pickup(read: Read, said: re.Match[str]) -> bool:
    names = said.group(1).split()
    return (read.names == [*names, said.group(2)] and read.tone(0) and len(names) in (2, 3)
            and 0 < abs(read.moves[-1]) <= 2)


def broken_in(read: Read, said: re.Match[str]) -> bool:
    names, way = said.group(1).split(), said.group(2)
    first = len(read.notes) - len(names)
    return (read.names == [*read.names[:first], *names, said.group(3)]
            and all(read.tone(first + k) for k in range(len(names)))
            and all((m > 0) == (way == "up") and abs(m) > 2 for m in read.moves[first:]))


def early_chord(read: Read, said: re.Match[str]) -> bool:
    coming = [(span.onset_quarter, span.harmony) for span in read.task.spans]
    if read.task.landing_harmony is not None:  # where the line runs on past it
        coming.append((read.task.end_quarter, read.task.landing_harmony))
    return any(note.pitch.note_name.pretty == said.group(1) and any(
        note.onset_quarter < onset < note.end_quarter and harmony.is_tone(note.midi % 12)
        for onset, harmony in coming) for note in read.notes)


def turns(read: Read, said: re.Match[str]) -> bool:
    third = read.task.beat_quarter / 3
    return any(read.moves[i] * read.moves[i + 1] < 0 and abs(read.moves[i]) <= 2 and all(
        b.onset_quarter - a.onset_quarter == third for a, b in pairwise(read.notes[i:i + 3]))
        for i in read.at(said.group(1).split()))


def sixteenths(read: Read, said: re.Match[str]) -> bool:
    names = said.group(1).split()
    quick = read.task.beat_quarter / 4
    end = (read.fill.shift.landing_quarter if read.fill.shift else read.task.end_quarter)
    onsets = [*(n.onset_quarter for n in read.notes), end]
    return any(all(b - a == quick for a, b in pairwise(onsets[i:i + len(names)]))
               for i in read.at(names))


def off_beat(read: Read, said: re.Match[str]) -> bool:
    return not any(read.on_beat(i) for i in range(len(read.notes)))


def curve(read: Read, said: re.Match[str]) -> bool:
    """Every move goes the way that is said."""
    names = re.findall(r"[A-G][♭♯]?(?= |\.)", said.group(0))
    own = read.midis[:len(read.notes)]
    ups = [b > a for a, b in pairwise(own) if a != b]
    turns = sum(a != b for a, b in pairwise(ups))
    return (turns == len(names) - 2 and ups[0] == ("line rises" in said.group(0))
            and names[0] == read.names[0] and names[-1] == read.names[len(own) - 1])


def octaves(read: Read, said: re.Match[str]) -> bool:
    right = [n for n in read.fill.notes if n.hand == "right"]
    return len(right) == 2 * len(read.notes) >= 6 and min(n.midi for n in right) > 69


def two_voices(read: Read, said: re.Match[str]) -> bool:
    sizes = (3, 4) if said.group(1) == "third" else (8, 9)
    for note in read.notes:
        keys = sorted(n.midi for n in read.fill.notes
                      if n.hand == "right" and n.onset_quarter == note.onset_quarter)
        if len(keys) != 2 or keys[1] - keys[0] not in sizes:
            return False
    return read.names[:len(read.notes)] == said.group(2).split()


def leads(read: Read, said: re.Match[str]) -> bool:
    name, how, way, landing = said.groups()
    away = read.moves[-1]
    return (read.names[-2:] == [name, landing] and (away > 0) == (way == "up")
            and (not how or abs(away) == (1 if how == "by half step " else 2)))


def stops(read: Read, said: re.Match[str]) -> bool:
    end = read.fill.shift.landing_quarter if read.fill.shift else read.task.end_quarter
    return end - read.notes[-1].end_quarter >= read.task.beat_quarter / 2


def rests(read: Read, said: re.Match[str]) -> bool:
    return read.task.landing is None and read.names[-1] == said.group(1)


def shifts(read: Read, said: re.Match[str]) -> bool:
    assert read.fill.shift is not None
    late = read.fill.shift.landing_quarter - read.task.end_quarter
    return (late < 0) == ("pushed" in said.group(0))


READERS: tuple[tuple[str, Callable[[Read, re.Match[str]], bool]], ...] = (
    (r"(\S+), the (\w+) of \S+, falls (by step |by half step |)to (\S+), the (\w+) of \S+\.",
     guide_tones),
    (r"(\S+) and (\S+) close in on (.+) from both sides, (both|one of them) by half step\.",
     closes_in),
    (r"(\S+) leads into ((?:the landing note )?\S+) from a half step (below|above)\.", half_step),
    (r"(.+): third, fifth, seventh and (flat nine|ninth) of .+\.", ninth),
    (r"(.+) goes (up|down) the chord tones of \S+\.", chord_tones_row),
    (r"Only chord tones: .+\.", only_tones),
    (r"(.+) walks (up|down) the scale\.", walks),
    (r"(.+): (\S+) passes chromatically, and .+\.", passes),
    (r"(.+) answers with the rhythm of the melody's last \w+ notes\.", in_rhythm),
    (r"(.+) (?:has the shape of|is) the melody's last \w+ notes(?: turned over: .+| and their "
     r"rhythm)?\.", in_shape),
    (r"(.+) is the melody's last \w+ notes in shape, twice as fast\.", twice_as_fast),
    (r"(\S+) (\S+) takes up the leap the melody has just made, (?:an? ([a-z ]+) |)(up|down)\.",
     takes_up),
    (r"The melody's last \w+ notes in sequence: (.+), then (higher|lower) (.+)\.", in_sequence),
    (r"(.+): the melody's last \w+ notes in shape and rhythm, moved by half a beat\.", displaced),
    (r"(.+): the melody's last \w+ notes, their rhythm too, (higher|lower), from a tone of (\S+)\.",
     over_the_chord),
    (r"(.+): the first \w+ notes of the melody's phrase, their rhythm too, (higher|lower), "
     r"(broken off there|and then another way)\.", broken_off),
    (r"One cell over both chords: (.+) over (\S+), (.+) over (\S+)\.", cell_again),
    (r"A sequence: (.+), then the same (higher|lower), (.+)\.", sequence),
    (r".+ alter \S+, and the line resolves (?:by .+|to \S+)\.", alters),
    (r"The blues: (\S+), (the blue third|a half step under the third|the flat fifth|the raised "
     r"fourth) of the key, leans into (\S+)\.", blue),
    (r"(\S+) leaps (up|down) (?:an? ([a-z ]+) )?to (\S+), and (?:a ([a-z ]+) to )?(\S+) turns it "
     r"back\.", leaps),
    (r"(.+): the chord tone \S+ and its (?:upper|lower) neighbour \S+\.", neighbours),
    (r".+ leads (by step|up|down) into the landing note \S+\.", steps_in),
    (r"A short pickup: (.+), from a chord tone of \S+ into the landing note (\S+)\.", pickup),
    (r"(.+) goes (up|down) the chord tones of \S+ and on into the landing note (\S+)\.",
     broken_in),
    (r"(\S+) takes \S+ early, before the left hand strikes it\.", early_chord),
    (r"A triplet turns, (.+), among plainer values\.", turns),
    (r"Sixteenths, (.+), lead to \S+ on the beat\.", sixteenths),
    (r"Double time: (.+) are sixteenths in a row\.", sixteenths),
    (r".+ are all struck off the beat\.", off_beat),
    (r"The line (?:rises|falls) from .+\.", curve),
    (r"Two voices move together: a (third|sixth) lies under (.+)\.", two_voices),
    (r"Octaves high up, .+: the rhythm carries it\.", octaves),
    (r"Its last note, (\S+), leads (by step |by half step |)(up|down) to the landing note (\S+)\.",
     leads),
    (r"It stops on .+ of air before the melody comes back on \S+\.", stops),
    (r"It comes to rest on (\S+), the .+\.", rests),
    (r"Thirds and sevenths lead through the changes: (.+)\.", guide_line),
    (r"(.+): the chord on (\S+), a tritone from \S+, goes (by step |by half step |)to (\S+)\.",
     tritone),
    (r"Under it the left hand's tenor moves, (.+)\.", tenor),
    (r"The landing is pushed: .+\.|The line runs on past .+\.", shifts))


@pytest.mark.slow
def test_every_sentence_is_true_of_the_notes() -> None:
    """Hundreds of lines, read a second time; every sentence has a reader."""
    seen: Counter[str] = Counter()
    for read in lines():
        for reason in read.fill.reasons:
            if reason.startswith("No chorus follows"):
                continue  # of the chords, not of the line
            for pattern, true in READERS:
                said = re.fullmatch(pattern, reason)
                if said is not None:
                    seen[pattern] += 1
                    assert true(read, said), (read.fill.device, reason, read.names,
                                              [str(n.onset_quarter) for n in read.notes])
                    break
            else:
                raise AssertionError(f"nobody reads {reason!r}")
    assert len(lines()) > 300
    assert len(seen) >= len(READERS) - 5, seen


@pytest.mark.slow
def test_a_line_is_named_by_what_is_heard_in_it() -> None:
    """The first sentence is the one of the device that names the line."""
    by_name = {d.name: d for d in ALL}
    devices = Counter(read.fill.device for read in lines())
    assert set(devices) <= {*by_name, EARLY, LATE, OCTAVES}
    assert len(devices) >= 15, devices
    assert max(devices.values()) < len(lines()) / 4, devices
