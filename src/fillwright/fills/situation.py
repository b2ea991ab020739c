"""A gap as it is heard: all that a family may know of the chorus.

Times count from the gap's onset, so that gaps that are heard alike are equal and share their
fills: a `Situation` is the key of everything that is remembered about a gap. Nothing leads
from it to the chorus behind it. `fillwright.fills.hearing` builds it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

from fillwright.exact import Fraction
from fillwright.fills.player import Player
from fillwright.fills.relation import Stated
from fillwright.fills.tempo import Tempo
from fillwright.theory.chord import ChordSymbol, sort_degrees
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.local_key import quality_class
from fillwright.tune.model import Meter, SoundingNote

__all__ = ["LEAST_SECONDS", "Closing", "Form", "GridBar", "Habits", "Printed", "Situation", "Span",
           "Task", "printed_chord", "task_of"]

LEAST_SECONDS = 0.9
"""A gap shorter than this is left open (design choice: no time to leave and come back)."""

_ZERO = Fraction(0)

RootAndKind = tuple[int, str]
"""Pitch class of the root, and "major", "minor", "dominant", "half-diminished" or "diminished"."""


def printed_chord(harmony: Harmony) -> RootAndKind:
    """The pitch class of a chord's root and what its symbol says it is."""
    return harmony.root.pitch_class, quality_class(harmony.symbol) or "major"


@dataclass(frozen=True, slots=True)
class GridBar:
    """A bar of the chorus near the gap; `key` is its signature."""

    onset_quarter: Fraction
    length_quarter: Fraction
    meter: Meter
    key: Key
    is_pickup: bool = False

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.length_quarter

    @property
    def first_beat_quarter(self) -> Fraction:
        """Where its first beat is; a pickup is counted from the end of the bar it stands for."""
        if not self.is_pickup:
            return self.onset_quarter
        return self.onset_quarter - max(self.meter.length_quarter - self.length_quarter, _ZERO)

    def beat_at(self, place_quarter: Fraction) -> Fraction:
        """A place in the bar in felt beats, 1 = downbeat."""
        return 1 + (place_quarter - self.first_beat_quarter) / self.meter.beat_quarter


@dataclass(frozen=True, slots=True)
class Span:
    """A chord inside the gap as it is heard there.

    alterations   degrees that an advanced player may add to it; () where it is no plain
                  dominant on its way home
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony
    alterations: tuple[str, ...] = ()

    @property
    def duration_quarter(self) -> Fraction:
        return self.end_quarter - self.onset_quarter

    @property
    def altered(self) -> Span:
        """The same with its alterations among the tensions."""
        if not self.alterations:
            return self
        tensions = sort_degrees([*self.harmony.tensions, *self.alterations])
        heard = Harmony(self.harmony.symbol, self.harmony.key, self.harmony.function,
                        self.harmony.scale, self.harmony.tones, tensions)
        return replace(self, harmony=heard)


@dataclass(frozen=True, slots=True)
class Printed:
    """A chord symbol of the sheet; `harmony` is None for N.C.

    began_quarter   where it begins, which may be before the stretch it is cut to
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    symbol: ChordSymbol
    harmony: Harmony | None
    began_quarter: Fraction


@dataclass(frozen=True, slots=True)
class Closing:
    """The tonic that closes a tune, from `onset_quarter` to the end.

    replaced   the places inside it where a printed chord begins, the first at its onset
    """

    onset_quarter: Fraction
    harmony: Harmony
    replaced: tuple[Fraction, ...]

    @property
    def reason(self) -> str:
        return (f"No chorus follows, so {self.harmony.symbol.pretty} closes the tune where the "
                "sheet turns back to its beginning.")


@dataclass(frozen=True, slots=True)
class Form:
    """Where in the form a gap opens.

    section   a letter; sections of one letter have the same music
    bar       in its section, from 0; -1 in a pickup
    bars      of its section
    leads     where the section goes on to, if the gap lies in its last two bars: "again" (the
              same once more), "back" (to what was heard before), "bridge" (to something new),
              "top" (to the first bar of the form) or "end"; else ""
    time      how often the section's music was heard before; it does not count where situations
              are compared, nor do the next two
    turn, turns   of the chorus's gaps as long as this one, over the same chords, from the same
              held note to the same landing, which one it is (from 0), and how many there are
    """

    section: str
    bar: int
    bars: int
    leads: str
    time: int = field(default=0, compare=False)
    turn: int = field(default=0, compare=False)
    turns: int = field(default=1, compare=False)


@dataclass(frozen=True, slots=True)
class Habits:
    """What the tune itself does between its chords, in whatever key.

    pairs     ((quality, semitones up, quality), times) for neighbouring chords
    fives     ((before, here, chord, goal, after), times): each chord between two others, with
              one more on either side, None where there is none; in order of appearance
    triads    roots (pitch classes) on which a dominant of some chord is printed as a major triad,
              and none as a seventh chord
    """

    pairs: tuple[tuple[tuple[str, int, str], int], ...]
    fives: tuple[tuple[tuple[RootAndKind | None, RootAndKind, RootAndKind, RootAndKind,
                             RootAndKind | None], int], ...]
    triads: frozenset[int] = frozenset()

    def between(self, here: Harmony, goal: Harmony) -> frozenset[RootAndKind]:
        """The single chords that stand between these two somewhere."""
        sides = [printed_chord(here), printed_chord(goal)]
        return frozenset(chord for (_, first, chord, last, _), _ in self.fives
                         if [first, last] == sides)

    def leads(self, goal: Harmony) -> dict[RootAndKind, int]:
        """The chords that come before such a chord, in its key, and how often."""
        root, quality = printed_chord(goal)
        return {((root - up) % 12, one): times for (one, up, other), times in self.pairs
                if other == quality}


@dataclass(frozen=True, slots=True)
class Situation:
    """One gap. Times are quarter notes from its onset; what was before is negative.

    why       as in `Gap.why`
    quarters_per_minute   the fastest tempo that is played as the chorus's is (`tempo.pace_of`):
              seconds count from it, and the exact ones are the gap's
    bars      from the one in which the phrase begins to two bars past the landing
    key       the tune's; every harmony has its local one
    plain     the tune is one of plain triads: its harmonies have few colours
    blues     the tune bears blues notes
    spans     the chords to play, without holes; an anticipated melody note already stands
              over the coming chord; () where no chord sounds
    written   the chords as printed, cut to the gap
    before    the last chords before the one that sounds at the onset, nearest last
    after     the chord under the landing and those it changes to
    previous_harmony   what sounds just before the onset
    phrase    melody notes before the gap, back to the gap or rest before, the held note
              last; () at the start
    held      the melody note that opens the gap, None where it opens on a rest
    landing   the next melody note, None at the end
    following melody notes from the landing to the next gap, two bars of them at most
    following_gap_quarter   onset of the next gap, or None
    closing   the tonic that stands in `spans` for a last turnaround, or None
    """

    duration_quarter: Fraction
    why: tuple[str, ...]
    bars: tuple[GridBar, ...]
    quarters_per_minute: Fraction
    feel: str
    key: Key
    plain: bool
    blues: bool
    spans: tuple[Span, ...]
    written: tuple[Printed, ...]
    before: tuple[Printed, ...]
    after: tuple[Printed, ...]
    previous_harmony: Harmony | None
    phrase: tuple[SoundingNote, ...]
    held: SoundingNote | None
    landing: SoundingNote | None
    landing_chord: ChordSymbol | None
    landing_harmony: Harmony | None
    following: tuple[SoundingNote, ...]
    following_gap_quarter: Fraction | None
    closing: Closing | None
    form: Form
    habits: Habits
    meter: Meter = field(init=False, compare=False, repr=False)
    beat_quarter: Fraction = field(init=False, compare=False, repr=False)
    seconds_per_quarter: float = field(init=False, compare=False, repr=False)
    beats_per_minute: float = field(init=False, compare=False, repr=False)
    tempo: Tempo = field(init=False, compare=False, repr=False)
    _hash: int | None = field(init=False, compare=False, repr=False)
    _beats: dict[Fraction, Fraction] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.duration_quarter <= 0 or not self.bars:
            raise ValueError("a situation has a length and lies in a bar")
        meter = self.bar_at(_ZERO).meter
        beat = meter.beat_quarter
        pace = self.quarters_per_minute / beat
        object.__setattr__(self, "meter", meter)
        object.__setattr__(self, "beat_quarter", beat)
        object.__setattr__(self, "seconds_per_quarter", 60.0 / float(self.quarters_per_minute))
        object.__setattr__(self, "beats_per_minute", float(pace))
        object.__setattr__(self, "tempo", Tempo.of(pace, meter))
        object.__setattr__(self, "_hash", None)
        object.__setattr__(self, "_beats", {})

    def __hash__(self) -> int:
        if self._hash is None:  # the melody's fractions take time; a situation is asked often
            object.__setattr__(self, "_hash", hash(tuple(
                getattr(self, entry.name) for entry in fields(Situation) if entry.compare)))
        return self._hash or 0

    @property
    def onset_quarter(self) -> Fraction:
        """Always 0."""
        return _ZERO

    @property
    def end_quarter(self) -> Fraction:
        return self.duration_quarter

    @property
    def duration_sec(self) -> float:
        return self.seconds(self.duration_quarter)

    @property
    def beats(self) -> Fraction:
        return self.duration_quarter / self.beat_quarter

    @property
    def beat(self) -> Fraction:
        """Where in its bar the gap opens, in felt beats, 1 = downbeat."""
        return self.beat_at(_ZERO)

    @property
    def is_ballad(self) -> bool:
        return self.tempo is Tempo.BALLAD

    @property
    def is_fast(self) -> bool:
        return self.tempo is Tempo.FAST

    @property
    def held_midi(self) -> int | None:
        return None if self.held is None else self.held.midi

    @property
    def landing_midi(self) -> int | None:
        return None if self.landing is None else self.landing.midi

    @property
    def last_midi(self) -> int | None:
        """The tune's last note, where that may sound to the end. None in a gap before the last, and
        where the last chord is another that does not have the note: it turns back to the top."""
        if self.landing is not None or self.held is None or not self.spans:
            return None
        last, pitch_class = self.spans[-1].harmony, self.held.midi % 12
        stays = last.root == self.spans[0].harmony.root or last.is_tone(pitch_class)
        return self.held.midi if stays else None

    @property
    def rotation(self) -> int:
        """A number that differs from gap to gap, so that ideas nearly as good take turns.

        The held note's degree in the key and the place in the bar decide: they are the same
        in every key, and where a phrase comes again.
        """
        tonic = self.key.tonic.pitch_class
        degree = 0 if self.held_midi is None else (self.held_midi - tonic) % 12
        return 5 * degree + int(2 * self.beat)

    def seconds(self, quarters: Fraction) -> float:
        return float(quarters) * self.seconds_per_quarter

    def span_at(self, onset_quarter: Fraction) -> Span:
        """The harmony at a place in the gap; places outside go to the nearest span."""
        found = self.spans[0]
        for span in self.spans:
            if span.onset_quarter <= onset_quarter:
                found = span
        return found

    def bar_index_at(self, place_quarter: Fraction) -> int:
        """Index into `bars` of the bar that sounds at a place; places outside go to the
        nearest bar."""
        # Cross-multiplied by hand: comparing two Fractions costs several times as much.
        numerator, denominator = place_quarter.numerator, place_quarter.denominator
        found = 0
        for index, bar in enumerate(self.bars):
            start = bar.onset_quarter
            if start.numerator * denominator > numerator * start.denominator:
                break
            found = index
        return found

    def bar_at(self, place_quarter: Fraction) -> GridBar:
        return self.bars[self.bar_index_at(place_quarter)]

    def bar_count_at(self, place_quarter: Fraction) -> int:
        """How many bars as they are counted begin before the one at a place: a pickup that fills up
        the short bar before it is counted on in it."""
        last = self.bar_index_at(place_quarter)
        return last - sum(
            bar.is_pickup and short.length_quarter + bar.length_quarter <= bar.meter.length_quarter
            for short, bar in zip(self.bars, self.bars[1:last + 1], strict=False))

    def bars_inside(self) -> tuple[GridBar, ...]:
        """The bars the gap lies in."""
        return tuple(bar for bar in self.bars
                     if bar.onset_quarter < self.duration_quarter and bar.end_quarter > 0)

    def beat_at(self, place_quarter: Fraction) -> Fraction:
        """The place in its bar in felt beats, 1 = downbeat."""
        beat = self._beats.get(place_quarter)
        if beat is None:  # asked for the same few places again and again
            beat = self._beats[place_quarter] = self.bar_at(place_quarter).beat_at(place_quarter)
        return beat


@dataclass(frozen=True, slots=True)
class Task(Situation):
    """A situation as it is set to one player, with the devices that are switched off.

    stated   an idea to be taken up; None where any is welcome
    """

    player: Player
    without: frozenset[str] = frozenset()
    stated: Stated | None = None

    def __hash__(self) -> int:
        return hash((Situation.__hash__(self), self.player, self.without, self.stated))

    @property
    def hand_size(self) -> str:
        """As `fillwright.hands` takes it."""
        return self.player.hand.name


def task_of(situation: Situation, player: Player, without: frozenset[str] = frozenset(),
            stated: Stated | None = None) -> Task:
    """A situation set to a player; `stated` is the idea that is to be taken up."""
    heard = {entry.name: getattr(situation, entry.name) for entry in fields(Situation)
             if entry.init}
    return Task(**heard, player=player, without=without, stated=stated)
