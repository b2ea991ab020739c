"""A line as it is heard: notes, the chord each stands over, the melody around it.

This is all the recognisers of `devices` look at. Nothing in it says how the line was made.
Times are whole `PARTS` of a quarter note, so that thousands of lines can be looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.device import FillPassage
from fillwright.fills.devices.line.room import PARTS, governing, kinds
from fillwright.fills.devices.line.walk import CHROMATIC, PASSING, TENSION, TONE
from fillwright.fills.draft import DraftNote
from fillwright.fills.situation import Span
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import Pitch

__all__ = ["CHROMATIC", "PARTS", "PASSING", "TENSION", "TONE", "Line", "LineSetting",
           "bears_blues", "is_blue_third", "line_of", "parts", "quarters"]

def parts(quarters_: Fraction) -> int:
    return int(quarters_ * PARTS)


def quarters(parts_: int) -> Fraction:
    return Fraction(parts_, PARTS)


@dataclass(frozen=True, slots=True)
class LineSetting:
    """When the notes of a line come and over what, whatever their pitches; the landing is one
    note more, where one follows. Times in `PARTS` from the gap's onset.

    onsets, ends   of the notes; the landing's end means nothing
    places         from the bar line
    harmonies      the chord each note stands over; the coming one, where it is taken early
    changes        where chords change
    beat           length of a felt beat
    count          notes of the line
    leads          the last note runs into the landing without a hole
    held           the held note's key, or None
    phrase         the melody before: (onset, MIDI number)
    joins          for each note whether it runs on to the next: no hole of more than half a
                   beat, and no more than a beat and a half between the strokes
    """

    onsets: tuple[int, ...]
    ends: tuple[int, ...]
    places: tuple[int, ...]
    harmonies: tuple[Harmony, ...]
    changes: tuple[int, ...]
    beat: int
    count: int
    leads: bool
    key: Key
    held: int | None
    phrase: tuple[tuple[int, int], ...]
    joins: tuple[bool, ...] = field(init=False)
    rows: tuple[tuple[int, ...], ...] = field(init=False)

    def __post_init__(self) -> None:
        joins = tuple(
            2 * (b - a) <= 3 * self.beat and 2 * (b - end) <= self.beat
            and (i + 1 < self.count or self.leads)
            for i, ((a, b), end) in enumerate(zip(pairwise(self.onsets), self.ends,
                                                  strict=False)))
        object.__setattr__(self, "joins", (*joins, False))
        object.__setattr__(self, "rows", tuple(kinds(h, True) for h in self.harmonies))


@dataclass(frozen=True, slots=True)
class Line:
    """A setting with its pitches.

    midis     of the line, and of the landing
    pitches   as they are spelled; () where nothing is said of the line
    doubled   the lower keys, where each note is struck with another; else ()
    moves     from each note to the next
    kinds     what each note is in its chord; a chord tone is one that the symbol prints
    """

    setting: LineSetting
    midis: tuple[int, ...]
    pitches: tuple[Pitch, ...] = ()
    doubled: tuple[int, ...] = ()
    moves: tuple[int, ...] = field(init=False)
    kinds: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "moves", tuple(b - a for a, b in pairwise(self.midis)))
        object.__setattr__(self, "kinds", tuple(row[midi % 12] for row, midi in zip(
            self.setting.rows, self.midis, strict=True)))

    @property
    def count(self) -> int:
        return self.setting.count

    @property
    def leads(self) -> bool:
        return self.setting.leads

    @property
    def harmonies(self) -> tuple[Harmony, ...]:
        return self.setting.harmonies

    @property
    def onsets(self) -> tuple[int, ...]:
        return self.setting.onsets

    def is_third(self, index: int) -> bool:
        return _is_third(self.setting.harmonies[index], self.midis[index] % 12)

    def is_seventh(self, index: int) -> bool:
        """Seventh or sixth, where the symbol prints it."""
        return _is_seventh(self.setting.harmonies[index], self.midis[index] % 12)

    def on_beat(self, index: int) -> bool:
        return self.setting.places[index] % self.setting.beat == 0

    def joined(self, index: int) -> bool:
        return self.setting.joins[index]

    def run(self, first: int, last: int) -> bool:
        """Whether all notes from one to another run on."""
        return all(self.setting.joins[first:last])


@lru_cache(maxsize=8192)
def _is_third(harmony: Harmony, pitch_class: int) -> bool:
    return _is(harmony, harmony.third, pitch_class)


@lru_cache(maxsize=8192)
def _is_seventh(harmony: Harmony, pitch_class: int) -> bool:
    return harmony.seventh in harmony.symbol.degrees and _is(harmony, harmony.seventh, pitch_class)


def _is(harmony: Harmony, degree: str | None, pitch_class: int) -> bool:
    return degree is not None and (
        harmony.root.pitch_class + degree_pitch_class(degree) - pitch_class) % 12 == 0


def bears_blues(harmony: Harmony, key: Key) -> bool:
    """Whether a chord bears the blue notes of a key: its tonic, or a dominant on its fourth or
    fifth degree."""
    degree = (harmony.root.pitch_class - key.tonic.pitch_class) % 12
    return degree == 0 or (degree in (5, 7) and harmony.symbol.quality == "dominant")


def is_blue_third(key: Key, harmony: Harmony, before: int | None, midi: int, after: int) -> bool:
    """Whether a note is the blue third of a major key: foreign to a chord that bears the blues, on
    its way up to the major third, and not come to by step from below, where it only passes.

    before   the note before it in the line, None for the first
    """
    return (key.mode == "major" and (midi - key.tonic.pitch_class) % 12 == 3
            and after - midi == 1 and bears_blues(harmony, key)
            and midi % 12 not in harmony.symbol.pitch_classes
            and not (before is not None and 0 < midi - before <= 2))


def line_of(passage: FillPassage) -> Line:
    """The line in a passage: the highest keys of the right hand."""
    top: dict[Fraction, DraftNote] = {}
    for note in passage.notes:
        if note.hand == "right" and (note.onset_quarter not in top
                                     or note.midi > top[note.onset_quarter].midi):
            top[note.onset_quarter] = note
    notes = [top[onset] for onset in sorted(top)]
    spans = tuple(Span(c.onset_quarter, c.end_quarter, c.harmony) for c in passage.chords)
    beat = passage.beat_quarter
    harmonies = [spans[governing(spans, beat, n.onset_quarter, n.end_quarter)].harmony
                 for n in notes]
    onsets = [n.onset_quarter for n in notes]
    ends = [n.end_quarter for n in notes]
    pitches = [n.pitch for n in notes]
    struck = passage.struck("right")
    doubled = (tuple(keys[0] for _, keys in struck)
               if all(len(keys) == 2 for _, keys in struck) else ())
    leads = False
    if passage.landing is not None:
        end = passage.end_quarter
        leads = end - ends[-1] < beat / 2
        onsets.append(end)
        ends.append(end + beat)
        pitches.append(passage.landing)
        harmonies.append(passage.goal or spans[-1].harmony)
    setting = LineSetting(
        tuple(map(parts, onsets)), tuple(map(parts, ends)),
        tuple(parts((passage.beat_at(o) - 1) * beat) for o in onsets), tuple(harmonies),
        tuple(parts(s.onset_quarter) for s in spans[1:]), parts(beat), len(notes), leads,
        passage.key, None if passage.held is None else passage.held.midi,
        tuple((parts(onset), midi) for onset, midi in passage.phrase))
    return Line(setting, tuple(p.midi for p in pitches), tuple(pitches), doubled)
