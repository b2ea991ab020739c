"""What a device is: a named musical idea that can be told from the notes.

A device stands in one place: it knows its name, the sentence that explains it, how to hear that
notes are it, and one worked example. A family's devices are a
tuple of such objects; `fillwright.fills.devices.registry` gathers them, and nothing else
lists them. Music never follows from the words of a name or a sentence: what a device asks of
the search is a field of it.

When a device may be used, and how it builds its notes, is a matter of its family: a comping
texture says where it suits (`Texture.suits`) and gives states to the lattice, each way of a move
of reharmonization has a level and conditions (`Way`) and gives chords at a place, a line is found
first and named afterwards by `is_heard_in`, as far as the name is taught (`is_taught`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from fillwright.exact import Fraction
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.situation import Habits, Situation, printed_chord
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import Harmony, analyse
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, Pitch

__all__ = ["Device", "Example", "FillPassage", "passage_of"]


NO_HABITS = Habits((), ())


@dataclass(frozen=True, slots=True)
class FillPassage:
    """What is heard of a fill: enough to tell a device from.

    chords            with their places, added ones marked; times count from the gap's onset
    notes             of both hands
    before            the chord before the gap, or None
    held              the held note, or None
    landing, goal     the landing note and its chord, or None
    landing_quarter   where the landing comes; where the chords end, if nothing is said
    beat_quarter, beat, bar_beats   the felt beat, the beat the gap opens on (1 = downbeat), and
                      how many a bar has
    phrase            the melody before: (onset, MIDI number), the held note last
    habits            what the tune itself does between its chords
    """

    chords: tuple[DraftChord, ...]
    notes: tuple[DraftNote, ...]
    key: Key
    before: Harmony | None = None
    held: Pitch | None = None
    landing: Pitch | None = None
    goal: Harmony | None = None
    landing_quarter: Fraction | None = None
    beat_quarter: Fraction = Fraction(1)
    beat: Fraction = Fraction(1)
    bar_beats: Fraction = Fraction(4)
    phrase: tuple[tuple[Fraction, int], ...] = ()
    habits: Habits = NO_HABITS

    @property
    def end_quarter(self) -> Fraction:
        """Where the landing comes, or the gap ends."""
        return (self.chords[-1].end_quarter if self.landing_quarter is None
                else self.landing_quarter)

    def beat_at(self, onset_quarter: Fraction) -> Fraction:
        """A place in its bar in felt beats, 1 = downbeat."""
        return 1 + (self.beat - 1 + onset_quarter / self.beat_quarter) % self.bar_beats

    def struck(self, hand: str | None = None) -> tuple[tuple[Fraction, tuple[int, ...]], ...]:
        """(onset, MIDI numbers from low to high) of everything struck, in order of time."""
        rows: dict[Fraction, set[int]] = {}
        for note in self.notes:
            if hand is None or note.hand == hand:
                rows.setdefault(note.onset_quarter, set()).add(note.midi)
        return tuple((onset, tuple(sorted(rows[onset]))) for onset in sorted(rows))

    def chord_at(self, onset_quarter: Fraction) -> DraftChord:
        """The chord that sounds at a place."""
        found = self.chords[0]
        for chord in self.chords:
            if chord.onset_quarter <= onset_quarter:
                found = chord
        return found


class Device(Protocol):
    """A named musical idea."""

    @property
    def name(self) -> str:
        """As the trade calls it; what a teacher switches off."""
        ...

    @property
    def family(self) -> str:
        """"comp", "reharm" or "line"."""
        ...

    @property
    def example(self) -> Example:
        """The device worked by hand in C."""
        ...

    def is_heard_in(self, passage: FillPassage) -> bool:
        """Whether the notes are it: the truth test of its name."""
        ...

    def says(self, passage: FillPassage) -> str:
        """The sentence that explains it here, true of the notes; with its full stop."""
        ...


def passage_of(situation: Situation, draft: Draft) -> FillPassage:
    """A draft as it is heard."""
    held, landing = situation.held, situation.landing
    return FillPassage(
        chords=draft.chords, notes=draft.notes, key=situation.key,
        before=situation.previous_harmony,
        held=None if held is None else held.pitch,
        landing=None if landing is None else landing.pitch,
        goal=situation.landing_harmony,
        landing_quarter=None if draft.shift is None else draft.shift.landing_quarter,
        beat_quarter=situation.beat_quarter, beat=situation.beat,
        bar_beats=situation.meter.length_quarter / situation.beat_quarter,
        phrase=tuple((n.onset_quarter, n.midi) for n in situation.phrase),
        habits=situation.habits)


@dataclass(frozen=True, slots=True)
class Example:
    """A device worked by hand, as text, in C (or its minor).

    chords    symbols with their lengths in quarters; a plus marks an added one:
              ``"Dm7 2, +Db7 2"``
    left, right   strokes of a hand, each with its onset, its length and its keys:
              ``"0 2 D3 C4, 2 2 Db3 B3"``; "" where the hand has nothing
    landing   the landing's chord and note: ``"Cmaj7 E5"``, and its place where it does not
              come at the gap's end: ``"Cmaj7 E5 3.5"``; "" where none follows
    held      the held note: ``"A4"``; "" where nothing is held
    melody    the melody before the gap, the held note last: ``"-1 G4, 0 A4"``
    key       "C" or "Cm"
    elsewhere three chords that the tune has in another place: ``"C Bb7 Em"``; "" for none
    """

    chords: str
    left: str = ""
    right: str = ""
    landing: str = ""
    held: str = ""
    key: str = "C"
    melody: str = ""
    elsewhere: str = ""

    def passage(self, by: Interval | None = None) -> FillPassage:
        """The passage, moved by an interval.

        >>> example = Example("Dm7 2, +Db7 2", "0 2 D3 C4, 2 2 Db3 B3", landing="Cmaj7 E5")
        >>> [str(c.harmony.symbol) for c in example.passage(Interval(1, 2)).chords]
        ['Em7', 'Eb7']
        """
        by = by or Interval(0, 0)
        home = Key.parse(self.key)
        home = Key.of(home.tonic + by, home.mode)
        words = [part.split() for part in self.chords.split(",")]
        symbols = [parse_chord(symbol.lstrip("+")).transposed(by) for symbol, _ in words]
        goal, landing, place = (*self.landing.split(), "", "", "")[:3]
        row = analyse([*symbols, *([parse_chord(goal).transposed(by)] if goal else [])], home)
        chords: list[DraftChord] = []
        onset = Fraction(0)
        for (symbol, length), harmony in zip(words, row, strict=False):
            assert harmony is not None, symbol
            end = onset + Fraction(length)
            added = symbol.startswith("+")
            chords.append(DraftChord(onset, end, harmony, added, "example" if added else None))
            onset = end
        notes = (*_strokes(self.left, "left", by), *_strokes(self.right, "right", by))
        return FillPassage(
            tuple(chords), tuple(sorted(notes, key=lambda n: (n.onset_quarter, n.midi))), home,
            held=Pitch.parse(self.held) + by if self.held else None,
            landing=Pitch.parse(landing) + by if landing else None,
            goal=row[-1] if goal else None,
            landing_quarter=Fraction(place) if place else None,
            phrase=tuple((Fraction(place), (Pitch.parse(name) + by).midi) for place, name in
                         (part.split() for part in self.melody.split(",") if part)),
            habits=self._habits(home, by))

    def _habits(self, home: Key, by: Interval) -> Habits:
        """What the tune does elsewhere."""
        row = analyse([parse_chord(name).transposed(by) for name in self.elsewhere.split()], home)
        heard = [printed_chord(harmony) for harmony in row if harmony is not None]
        return Habits((), tuple(((None, *three, None), 1) for three in
                                zip(heard, heard[1:], heard[2:], strict=False)))


def _strokes(text: str, hand: str, by: Interval) -> Sequence[DraftNote]:
    found = []
    for part in text.split(",") if text else ():
        onset, length, *keys = part.split()
        found += [DraftNote(Fraction(onset), Fraction(length), Pitch.parse(key) + by, hand)
                  for key in keys]
    return found
