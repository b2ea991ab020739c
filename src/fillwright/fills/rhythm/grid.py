"""What a rhythm of comping is: its hits, its style, and the gap as a grid on which it stands."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.player import Level
from fillwright.fills.rhythm.syncopation import bar_slots
from fillwright.fills.situation import Task

__all__ = ["STYLES", "Frame", "GridPlace", "Hit", "Rhythm", "RhythmStyle",
           "RhythmWindow", "frame_of", "style_of"]


@dataclass(frozen=True, slots=True)
class Hit:
    """One chord struck. `onset_quarter` counts from the gap's onset.

    anticipates   it stands on the last off-beat before a chord change and takes the coming
                  chord
    """

    onset_quarter: Fraction
    duration_quarter: Fraction
    anticipates: bool = False

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Hits in order, and what was paid for them by term.

    opening_quarter   how long the left hand waits before it first strikes the chord
    last_step     the last stroke is a bass note next to the landing's
    returns       its second half is its first half again, half a beat off its place
    tops          MIDI numbers that the top line has on the hits; () where it is free
    """

    hits: tuple[Hit, ...]
    name: str
    costs: tuple[tuple[str, int], ...]
    opening_quarter: Fraction = Fraction(0)
    last_step: bool = False
    tops: tuple[int, ...] = ()
    returns: bool = False

    @property
    def onsets(self) -> tuple[Fraction, ...]:
        return tuple(h.onset_quarter for h in self.hits)

    @property
    def cost(self) -> int:
        return sum(cost for _, cost in self.costs)


@dataclass(frozen=True, slots=True)
class RhythmStyle:
    """What a kind of tune asks of its comping rhythm; how many hits and how much syncopation
    it has is a matter of level (`player.RhythmTaste`).

    off_beat     cost of a hit between the beats
    neighbours   cost of two hits on neighbouring places
    strong       cost of a hit on a strong beat
    threes       cost of two strokes a dotted quarter apart
    """

    off_beat: int
    neighbours: int
    strong: int
    threes: int = 0


# A ballad has rhythms of its own (see `rhythm.slow`). All numbers are design choices within
# common practice: sustained chords and few of them in a ballad, off-beats in medium swing, fewer
# where it is fast, 1 and the off-beat of 2 in a waltz, groups of three eighths in straight feel.
STYLES = MappingProxyType({
    "medium": RhythmStyle(0, 5, 2),
    "fast": RhythmStyle(0, 99, 2),
    "waltz": RhythmStyle(0, 5, 1),
    "fast waltz": RhythmStyle(1, 99, 0),
    "straight": RhythmStyle(0, 2, 1, threes=-1),
    "compound": RhythmStyle(1, 3, 1),
})


@dataclass(frozen=True, slots=True)
class GridPlace:
    """A place of the grid: offset from the gap's onset, metrical weight, bar of the gap,
    whether a felt beat begins there, and the quarter-note place in its bar."""

    offset_quarter: Fraction
    weight: int
    bar: int
    on_beat: bool
    in_bar_quarter: Fraction


@dataclass(frozen=True, slots=True)
class Frame:
    """A gap as a grid, free of everything but time, so that equal gaps are solved once.

    changes   offsets at which the chord changes, the landing included where it has another one
    ending    nothing follows: the last hit rings to the end
    swung     off-beat eighths are the third part of their beat
    """

    places: tuple[GridPlace, ...]
    length_quarter: Fraction
    beat_quarter: Fraction
    style: str
    level: Level
    changes: tuple[Fraction, ...]
    ending: bool = False
    bar_quarter: Fraction = Fraction(4)
    swung: bool = False


@dataclass(frozen=True, slots=True)
class RhythmWindow:
    """Where hits may stand in a frame, and what is struck besides them.

    first_quarter, last_quarter   offsets from the gap's onset between which hits may begin
    opening                       whether something else is struck at the gap's onset
    barred                        offsets on which nothing may be struck
    pushes                        offsets of chord changes that may be anticipated
    lands                         the hand that strikes is the one that plays the landing
    """

    first_quarter: Fraction
    last_quarter: Fraction
    opening: bool = True
    barred: tuple[Fraction, ...] = ()
    pushes: tuple[Fraction, ...] = ()
    lands: bool = True

    def holds(self, offset_quarter: Fraction) -> bool:
        return (self.first_quarter <= offset_quarter <= self.last_quarter
                and offset_quarter not in self.barred)


def style_of(task: Task) -> str:
    """In which of the `RHYTHM_STYLES` of `fills.player` a gap is played."""
    meter = task.meter
    if meter.is_compound:
        return "compound"
    if meter.length_quarter == 3:
        if task.is_ballad:
            return "ballad"
        return "fast waltz" if task.is_fast else "waltz"
    if task.is_ballad:
        return "ballad"
    if task.is_fast:
        return "fast"
    return "medium" if task.feel == "swing" else "straight"


def frame_of(task: Task) -> Frame:
    """The grid of a gap."""
    style = style_of(task)
    start, end = task.onset_quarter, task.end_quarter
    places: list[GridPlace] = []
    for number, bar in enumerate(task.bars_inside()):
        origin = bar.onset_quarter
        if bar.is_pickup:
            origin -= max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        for place, weight in bar_slots(bar.meter, 2):
            onset = origin + place
            if start <= onset < min(end, bar.end_quarter) and onset >= bar.onset_quarter:
                places.append(GridPlace(onset - start, weight, number,
                                    (place / bar.meter.beat_quarter).denominator == 1, place))
    changes = [span.onset_quarter - start for span in task.spans[1:]]
    goal = task.landing_harmony
    if task.landing is not None and goal is not None and (
            not task.spans or goal.symbol != task.spans[-1].harmony.symbol):
        changes.append(end - start)
    return Frame(tuple(places), end - start, task.beat_quarter, style,
                 task.player.level, tuple(changes), task.landing is None,
                 task.meter.length_quarter,
                 task.feel == "swing" and not task.meter.is_compound)
