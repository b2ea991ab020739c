"""The page: tunes as written, choruses as played out, and the gaps in them.

Score time is an exact `Fraction` of a quarter note. `*_quarter` of a `Bar` member counts
from the bar line; of a `Chorus` member from the first instant of the chorus, pickup
included. Durations are always positive.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.given import given_tempo, several
from fillwright.shown import Shown
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import Pitch

__all__ = ["FEELS", "Bar", "ChordSpan", "Chorus", "ChorusBar", "FormMarks", "Gap", "Jump",
           "MelodyNote", "Meter", "SoundingNote", "Tune", "WrittenChord"]


FEELS = ("swing", "straight")
"""How eighths are played."""

_QUARTER, _DOTTED = Fraction(1), Fraction(3, 2)


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature.

    >>> Meter(6, 8).beat_quarter, Meter(2, 2).beat_quarter
    (Fraction(3, 2), Fraction(1, 1))
    """

    beats: int
    beat_type: int

    def __post_init__(self) -> None:
        if not 1 <= self.beats <= 64 or self.beat_type not in (1, 2, 4, 8, 16, 32):
            raise ValueError(f"not a meter: {self.beats}/{self.beat_type}")

    @property
    def length_quarter(self) -> Fraction:
        return Fraction(4 * self.beats, self.beat_type)

    @property
    def beat_quarter(self) -> Fraction:
        """The felt beat: the dotted quarter in compound meters, else the quarter."""
        return _DOTTED if self.beat_type == 8 and self.beats % 3 == 0 else _QUARTER

    @property
    def is_compound(self) -> bool:
        return self.beat_quarter is _DOTTED

    def __str__(self) -> str:
        return f"{self.beats}/{self.beat_type}"


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """One written note of the melody, in its bar. Grace notes are not among them."""

    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch
    tie_start: bool = False
    tie_stop: bool = False
    slurred: bool = False


@dataclass(frozen=True, slots=True)
class WrittenChord:
    """A chord symbol at its place in a bar (it may lie on or past the bar's end)."""

    onset_quarter: Fraction
    symbol: ChordSymbol


class Jump(Enum):
    """Where to go after a bar, and where to leave the form afterwards."""

    DA_CAPO = "D.C."
    DA_CAPO_AL_FINE = "D.C. al Fine"
    DA_CAPO_AL_CODA = "D.C. al Coda"
    DAL_SEGNO = "D.S."
    DAL_SEGNO_AL_FINE = "D.S. al Fine"
    DAL_SEGNO_AL_CODA = "D.S. al Coda"


@dataclass(frozen=True, slots=True)
class FormMarks:
    """What is printed at a bar about the order of bars.

    endings      numbers of the ending bracket over this bar, () if none
    """

    repeat_start: bool = False
    repeat_end: bool = False
    repeat_times: int = 2
    endings: tuple[int, ...] = ()
    ending_starts: bool = False
    ending_stops: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: Jump | None = None


@dataclass(frozen=True, slots=True)
class Bar:
    """One printed bar of the melody's part.

    `length_quarter` is the length played: that of the meter, or of the content where that
    differs (pickups, short and overfull bars). A pickup's notes count from its own start.
    """

    number: str
    meter: Meter
    key: Key
    length_quarter: Fraction
    notes: tuple[MelodyNote, ...] = ()
    chords: tuple[WrittenChord, ...] = ()
    marks: FormMarks = field(default_factory=FormMarks)
    is_pickup: bool = False
    section: str = ""
    """A rehearsal mark printed at the bar, such as "A"; "" if none."""
    line_break: bool = False


@dataclass(frozen=True, slots=True)
class Tune(Shown):
    """A lead sheet as written, at sounding pitch.

    tempo_bpm    felt beats a minute, as marked, or a default for the meter and feel
    feel         "swing" or "straight"
    warnings     what had to be understood with good will, one sentence each
    source       the file's name, no folder
    part_order   labels of sections in the order in which the sheet says outright that they
                 are played; () where only the signs of the form do
    composer     as the sheet names them, "" where it does not
    rights       what the sheet says of its rights, or else of where it comes from
    """

    title: str
    bars: tuple[Bar, ...]
    tempo_bpm: Fraction
    feel: str
    source: str = ""
    warnings: tuple[str, ...] = ()
    tempo_marked: bool = False
    part_order: tuple[str, ...] = ()
    composer: str = ""
    rights: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "bars", tuple(several(self.bars, "the bars of a tune")))
        if not self.bars or not all(isinstance(bar, Bar) for bar in self.bars):
            raise InputError("a tune has bars", self.source)
        for bar in self.bars:
            if bar.length_quarter <= 0:
                raise InputError(f"bar {bar.number} has no length", self.source)
            if any(note.duration_quarter <= 0 or note.onset_quarter < 0 for note in bar.notes):
                raise InputError(f"bar {bar.number} has a note without length, or before the bar",
                                 self.source)
        object.__setattr__(self, "tempo_bpm", given_tempo(self.tempo_bpm))
        if self.feel not in FEELS:
            raise InputError(f"{self.feel!r} is no feel; there are {' and '.join(FEELS)}")

    def __repr__(self) -> str:
        return (f"<Tune {self.title!r}: {self.key}, {self.meter}, {len(self.bars)} bars, "
                f"{float(self.tempo_bpm):g} beats a minute, {self.feel}>")

    @property
    def meter(self) -> Meter:
        return self.bars[0].meter

    @property
    def key(self) -> Key:
        return self.bars[0].key


@dataclass(frozen=True, slots=True)
class ChorusBar:
    """A bar of the chorus: which printed bar it is and on which pass through it."""

    bar_index: int
    number: str
    pass_number: int
    onset_quarter: Fraction
    length_quarter: Fraction
    meter: Meter
    key: Key
    is_pickup: bool = False
    section: str = ""

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.length_quarter


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """A melody note with its ties merged."""

    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch
    tied: bool = False

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter

    @property
    def midi(self) -> int:
        return self.pitch.midi


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and how long it lasts. Added chords name their fill and reason."""

    onset_quarter: Fraction
    duration_quarter: Fraction
    symbol: ChordSymbol
    added: bool = False
    fill: str | None = None
    reason: str | None = None

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter


def _by(place: Fraction, onset_quarter: Fraction) -> bool:
    """Whether a place is reached at an onset. Cross-multiplied by hand: this is asked
    thousands of times a tune, and comparing two Fractions costs several times as much."""
    return (place.numerator * onset_quarter.denominator
            <= onset_quarter.numerator * place.denominator)


@dataclass(frozen=True, slots=True)
class Chorus(Shown):
    """A tune played out once.

    melody        non-overlapping, in order
    chords        written spans in order, from the first chord to the end; an equal symbol
                  struck again is a span of its own
    harmonies     for each span of `chords` what it does in its key; None for N.C.
    melody_octave 0, or 1 where `melody` stands an octave above the sheet
    """

    tune: Tune
    bars: tuple[ChorusBar, ...]
    melody: tuple[SoundingNote, ...]
    chords: tuple[ChordSpan, ...]
    harmonies: tuple[Harmony | None, ...]
    length_quarter: Fraction
    tempo_bpm: Fraction
    feel: str
    melody_octave: int = 0
    warnings: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return (f"<Chorus of {self.tune.title!r}: {self.key}, {self.meter}, {len(self.bars)} "
                f"bars, {len(self.melody)} notes, {len(self.chords)} chords, "
                f"{float(self.tempo_bpm):g} beats a minute, {self.feel}>")

    @property
    def meter(self) -> Meter:
        return self.bars[0].meter

    @property
    def key(self) -> Key:
        return self.bars[0].key

    @property
    def quarters_per_minute(self) -> Fraction:
        return self.tempo_bpm * self.meter.beat_quarter

    @property
    def seconds_per_quarter(self) -> float:
        return 60.0 / float(self.quarters_per_minute)

    def bar_at(self, onset_quarter: Fraction) -> ChorusBar:
        """The bar that sounds at a place (the last bar for the very end)."""
        low, high = 0, len(self.bars) - 1
        while low < high:
            middle = (low + high + 1) // 2
            if _by(self.bars[middle].onset_quarter, onset_quarter):
                low = middle
            else:
                high = middle - 1
        return self.bars[low]

    def sheet_number(self, onset_quarter: Fraction) -> str:
        """The number that the bar at a place has on an engraved sheet, where repeats are written
        out: the first whole bar is 1, a pickup before it 0."""
        place = self.bars.index(self.bar_at(onset_quarter))
        return str(place if self.bars[0].is_pickup else place + 1)

    def beat_in_bar(self, onset_quarter: Fraction) -> Fraction:
        """The place in its bar in felt beats, 1 = downbeat; a pickup is counted from the
        end of the bar it stands for."""
        bar = self.bar_at(onset_quarter)
        offset = onset_quarter - bar.onset_quarter
        if bar.is_pickup:
            offset += max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        return 1 + offset / bar.meter.beat_quarter

    def chord_index_at(self, onset_quarter: Fraction) -> int | None:
        """Index into `chords` of the span that sounds at a place; None before the first."""
        low, high = 0, len(self.chords)
        while low < high:
            middle = (low + high) // 2
            if _by(self.chords[middle].onset_quarter, onset_quarter):
                low = middle + 1
            else:
                high = middle
        return low - 1 if low else None

    def harmony_at(self, onset_quarter: Fraction) -> Harmony | None:
        index = self.chord_index_at(onset_quarter)
        return None if index is None else self.harmonies[index]


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch where the melody holds or rests.

    number           from 1, over the chorus
    why              some of "held", "tied", "rest", "pickup", "ending"
    held             the melody note that opens the gap, None where it opens on a rest
    chords           the written chords inside, cut to the gap (the first may have begun
                     before it); `harmonies` go with them
    landing_*        the next melody note and the chord under it, None at the end
    """

    number: int
    bar: str
    pass_number: int
    beat: Fraction
    onset_quarter: Fraction
    duration_quarter: Fraction
    beats: Fraction
    seconds: float
    why: tuple[str, ...]
    held: SoundingNote | None
    chords: tuple[ChordSpan, ...]
    harmonies: tuple[Harmony | None, ...]
    landing: SoundingNote | None
    landing_chord: ChordSymbol | None
    landing_harmony: Harmony | None

    def __repr__(self) -> str:
        held = "rest" if self.held is None else str(self.held.pitch)
        landing = "the end" if self.landing is None else str(self.landing.pitch)
        chords = " ".join(str(span.symbol) for span in self.chords)
        return (f"<Gap {self.number}: bar {self.bar}, beat {self.beat}, {self.beats} beats, "
                f"{held} over {chords or 'no chord'}, to {landing}>")

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter
