"""Comping rhythms, generated on a grid and ranked.

Nothing is listed: every set of places on the eighth grid that the style allows is weighed by
how many hits there are for the level and the tempo, by how much it pulls against the meter
(`syncopation`), by its rests, and by the room it leaves before the landing. Each hit is long or
short on purpose. A ballad has rhythms of its own (`slow`).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise
from math import lcm
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.player import Level
from fillwright.fills.rhythm.syncopation import bar_slots
from fillwright.fills.situation import Task
from fillwright.memory import SEARCHES

__all__ = [
    "DOTTED",
    "MIXED",
    "NAMES",
    "ONE_OFF",
    "STYLES",
    "STYLE_NAMES",
    "Frame",
    "GridPlace",
    "Hit",
    "Rhythm",
    "RhythmStyle",
    "RhythmWindow",
    "frame_of",
    "generate",
    "style_of",
]


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

    bed_quarter   how long the left hand waits before it first strikes the chord
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


# All numbers are design choices within common practice: sustained chords and few of them in
# a ballad, off-beats in medium swing, fewer above 200 a minute, 1 and the off-beat of 2 in a
# waltz, groups of three eighths in straight feel.
STYLES = MappingProxyType({
    "medium": RhythmStyle(0, 5, 2),
    "fast": RhythmStyle(0, 99, 2),
    "waltz": RhythmStyle(0, 5, 1),
    "fast waltz": RhythmStyle(1, 99, 0),
    "straight": RhythmStyle(0, 2, 1, threes=-1),
    "compound": RhythmStyle(1, 3, 1),
})

STYLE_NAMES = (*STYLES, "ballad")
"""All styles; a ballad has rhythms of its own (see `rhythm.slow`)."""

WEIGHTS = MappingProxyType({
    # term: integer cost per unit (design choices within common practice)
    "density": 5,       # hit more or fewer than the target
    "pull": 3,          # unit of syncopation outside the style's range
    "repetition": 4,    # bar with the rhythm of the bar before
    "no breath": 6,     # no stretch of a beat and a half without a stroke
    "hole": 2,          # beat beyond four without a stroke
    "dead end": 3,      # beat beyond two that nothing is struck in before the landing
    "landing": 3,       # a stroke of the landing's hand just before it that is no push
    "cell": -5,         # a cell of two hits that comes back displaced by half a beat
    "three over four": -2,  # stroke more in a row of dotted quarters, from the third space on
    "old chord": 6,     # a stroke on the last off-beat before a change that is no push
    "square": 2,        # a gap of two beats with a stroke on each and nothing else
    "restless": 4,      # at a tune's end a last stroke between the beats; half on a weak beat
    "early": 2,         # a stroke just after the melody note, before it has spoken
})

ON_BEAT, MIXED, OFF_BEATS, ONE_OFF = ("on the beat", "beat and off-beat", "off-beats",
                                      "one off-beat")
PAIR, PUSH, DOTTED = "pair of off-beats", "push", "dotted-quarter figure"
CELL, THREES = "a cell moved by half a beat", "three over four"
NAMES = (ON_BEAT, MIXED, OFF_BEATS, ONE_OFF, PAIR, PUSH, DOTTED, CELL, THREES)
"""What a rhythm of this grid may be called."""

_BEAM = 30
_PATTERNS = 16


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


def style_of(context: Task) -> str:
    """In which of the `STYLE_NAMES` a gap is played."""
    meter = context.meter
    if meter.is_compound:
        return "compound"
    if meter.length_quarter == 3:
        if context.is_ballad:
            return "ballad"
        return "fast waltz" if context.is_fast else "waltz"
    if context.is_ballad:
        return "ballad"
    if context.is_fast:
        return "fast"
    return "medium" if context.feel == "swing" else "straight"


def frame_of(context: Task) -> Frame:
    """The grid of a gap."""
    style = style_of(context)
    start, end = context.onset_quarter, context.end_quarter
    places: list[GridPlace] = []
    for number, bar in enumerate(context.bars_inside()):
        origin = bar.onset_quarter
        if bar.is_pickup:
            origin -= max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        for place, weight in bar_slots(bar.meter, 2):
            onset = origin + place
            if start <= onset < min(end, bar.end_quarter) and onset >= bar.onset_quarter:
                places.append(GridPlace(onset - start, weight, number,
                                    (place / bar.meter.beat_quarter).denominator == 1, place))
    changes = [span.onset_quarter - start for span in context.spans[1:]]
    goal = context.landing_harmony
    if context.landing is not None and goal is not None and (
            not context.spans or goal.symbol != context.spans[-1].harmony.symbol):
        changes.append(end - start)
    return Frame(tuple(places), end - start, context.beat_quarter, style,
                 context.player.level, tuple(changes), context.landing is None,
                 context.meter.length_quarter,
                 context.feel == "swing" and not context.meter.is_compound)


@SEARCHES.keep
def generate(frame: Frame, window: RhythmWindow, limit: int = 24) -> tuple[Rhythm, ...]:
    """Ranked rhythms for a gap, best first.

    frame    the grid of the gap, see `frame_of`
    window   where hits may stand
    limit    at most this many
    """
    ticks = _ticks(frame, window.first_quarter)
    rows, prices = _ranked(frame, ticks, window, limit)
    found: list[Rhythm] = []
    for row in rows:
        hits = _hits(frame, row, window.pushes)
        found.append(Rhythm(hits, _name(frame, row, hits),
                            tuple(sorted((k, v) for k, v in prices[row].items() if v)),
                            returns=_cell_returns(ticks, row)))
    return tuple(sorted(found, key=lambda r: (r.cost, r.onsets)))


def _ranked(frame: Frame, ticks: _Ticks, window: RhythmWindow, limit: int
            ) -> tuple[list[tuple[int, ...]], dict[tuple[int, ...], dict[str, int]]]:
    """The best rows of places, and what each pays by term; bar by bar, so that long gaps
    stay small."""
    free = [index for index, place in enumerate(frame.places)
            if window.holds(place.offset_quarter)]
    by_bar: dict[int, list[int]] = {}
    for index in free:
        by_bar.setdefault(frame.places[index].bar, []).append(index)
    pushed = frozenset(i for i in free if _anticipated(frame, i, window.pushes) is not None)
    beam: list[tuple[int, ...]] = [()]
    for number in sorted(by_bar):
        patterns = _patterns(frame, by_bar[number])
        if len(by_bar) > 1:
            patterns = _best_patterns(frame, number, patterns)
        beam = [row + pattern for row in beam for pattern in patterns]
        if len(by_bar) > 1:
            # a part of the gap is judged up to the end of this bar
            stop = max(i for i, p in enumerate(frame.places) if p.bar <= number) + 1
            so_far = {row: sum(_price(frame, ticks, row, window, pushed, stop).values())
                      for row in beam}
            beam = _spread(frame, sorted(beam, key=lambda row: (so_far[row], row)), _BEAM)
    whole = len(frame.places)
    prices = {row: _price(frame, ticks, row, window, pushed, whole) for row in beam if row}
    rows = sorted(prices, key=lambda row: (sum(prices[row].values()), row))
    return (_spread(frame, rows, limit) if len(by_bar) > 1 else rows[:limit]), prices


def _best_patterns(frame: Frame, number: int, patterns: list[tuple[int, ...]]
                   ) -> list[tuple[int, ...]]:
    """The bar's patterns that are good by themselves, for gaps of several bars."""
    style = STYLES[frame.style]
    places = [p for p in frame.places if p.bar == number]
    span = len(places) * (frame.places[1].offset_quarter - frame.places[0].offset_quarter)
    target = round(frame.level.rhythm.density[frame.style] * span / frame.beat_quarter / 100)

    def price(row: tuple[int, ...]) -> int:
        chosen = [frame.places[i] for i in row]
        return (WEIGHTS["density"] * abs(len(row) - target)
                + style.off_beat * sum(not p.on_beat for p in chosen)
                + style.strong * sum(p.on_beat and p.weight >= -1 for p in chosen)
                + style.neighbours * sum(b - a == 1 for a, b in pairwise(row)))

    return sorted(patterns, key=lambda row: (price(row), row))[:_PATTERNS]


def _spread(frame: Frame, rows: list[tuple[int, ...]], count: int) -> list[tuple[int, ...]]:
    """The first `count` rows, none of whose bars is taken over and over again."""
    if len(rows) <= count:
        return rows
    most = max(count // 6, 2)
    used: dict[tuple[int, ...], int] = {}
    taken: list[tuple[int, ...]] = []
    for row in rows:
        bars: dict[int, list[int]] = {}
        for index in row:
            bars.setdefault(frame.places[index].bar, []).append(index)
        parts = [tuple(part) for part in bars.values()]
        if all(used.get(part, 0) < most for part in parts):
            taken.append(row)
            for part in parts:
                used[part] = used.get(part, 0) + 1
        if len(taken) == count:
            break
    return taken


def _patterns(frame: Frame, free: list[int]) -> list[tuple[int, ...]]:
    """The sets of places of one bar that the style allows."""
    style = STYLES[frame.style]
    most = frame.level.rhythm.bar_hits
    rows: list[tuple[int, ...]] = [()]
    for size in range(1, min(most, len(free)) + 1):
        for row in combinations(free, size):
            pairs = [b - a for a, b in pairwise(row)]
            if style.neighbours >= 99 and 1 in pairs:
                continue
            if not frame.level.rhythm.neighbours and 1 in pairs:
                continue
            if pairs.count(1) > 1:
                continue
            rows.append(row)
    return rows


def _anticipated(frame: Frame, index: int, pushes: tuple[Fraction, ...]) -> Fraction | None:
    """The chord change that a hit on this place would push."""
    place = frame.places[index]
    if place.on_beat:
        return None
    nearest = (frame.places[index + 1].offset_quarter if index + 1 < len(frame.places)
               else frame.length_quarter)
    return nearest if nearest in pushes else None


@dataclass(frozen=True, slots=True)
class _Ticks:
    """A frame in whole ticks, for speed."""

    offsets: tuple[int, ...]
    in_bar: tuple[int, ...]
    weights: tuple[int, ...]
    bars: tuple[int, ...]
    on_beat: tuple[bool, ...]
    length: int
    beat: int
    bar: int
    first: int
    changes: tuple[int, ...]
    passed: tuple[tuple[int, ...], ...]
    """The heaviest weight strictly between two places; the row's own where there is none."""

    def following(self, place: int) -> int:
        """Where the next place is, or the end."""
        return self.offsets[place + 1] if place + 1 < len(self.offsets) else self.length


@SEARCHES.keep
def _ticks(frame: Frame, first: Fraction) -> _Ticks:
    times = [frame.length_quarter, frame.beat_quarter, frame.bar_quarter, first, *frame.changes,
             *(p.offset_quarter for p in frame.places), *(p.in_bar_quarter for p in frame.places)]
    scale = 2 * lcm(*(t.denominator for t in times))

    def whole(value: Fraction) -> int:
        return int(value * scale)

    weights = tuple(p.weight for p in frame.places)
    passed: list[tuple[int, ...]] = []
    for start, weight in enumerate(weights):
        heaviest, line = weight, [weight] * (start + 1)
        for place in range(start + 1, len(weights) + 1):
            line.append(heaviest)
            if place < len(weights):
                heaviest = max(heaviest, weights[place])
        passed.append(tuple(line))
    return _Ticks(tuple(whole(p.offset_quarter) for p in frame.places),
                  tuple(whole(p.in_bar_quarter) for p in frame.places),
                  weights, tuple(p.bar for p in frame.places),
                  tuple(p.on_beat for p in frame.places), whole(frame.length_quarter),
                  whole(frame.beat_quarter), whole(frame.bar_quarter), whole(first),
                  tuple(map(whole, frame.changes)), tuple(passed))


def _price(frame: Frame, t: _Ticks, row: tuple[int, ...], window: RhythmWindow,
           pushed: frozenset[int], stop: int) -> dict[str, int]:
    """What a rhythm pays, looking at the places before `stop`.

    pushed   places whose hits anticipate a chord
    """
    style, opening = STYLES[frame.style], window.opening
    whole = stop == len(t.offsets)
    end = t.length if whole else t.offsets[stop]
    taste = frame.level.rhythm
    share = taste.density[frame.style] * (2 if frame.ending else 3)  # an ending comes to rest
    target = max((share * max(end - t.first, 0) + 150 * t.beat) // (300 * t.beat), 1)
    opens = t.offsets[0] == 0 and bool(row) and row[0] == 0
    hits = row[1:] if opening and opens else row  # the opening is struck there anyhow
    costs = {"density": WEIGHTS["density"] * abs(len(hits) - target)}
    under = opening and t.offsets[0] == 0 and not opens
    # as `syncopation` counts it, over the places struck
    pull = sum(t.passed[a][b] - t.weights[a]
               for a, b in pairwise((0, *row, stop) if under else (*row, stop)))
    bars = max(t.bars[stop - 1] - t.bars[0] + 1, 1)
    low, high = taste.pull[frame.style]
    if t.bars[stop - 1] == t.bars[0]:  # part of a bar pulls less than a whole one
        low = low * end // t.bar
    costs["pull"] = WEIGHTS["pull"] * (max(low - pull, 0) + max(pull - high * bars, 0))
    costs["off-beats"] = style.off_beat * sum(not t.on_beat[i] for i in hits)
    costs["strong beats"] = style.strong * sum(
        t.on_beat[i] and t.weights[i] >= -1 for i in hits)
    costs["neighbours"] = style.neighbours * sum(b - a == 1 for a, b in pairwise(row))
    shapes: dict[int, list[int]] = {}
    for index in row:
        shapes.setdefault(t.bars[index], []).append(t.in_bar[index])
    costs["repetition"] = WEIGHTS["repetition"] * sum(
        shapes.get(number + 1) == shape for number, shape in shapes.items())
    costs.update(_spacing(frame, t, row, window, stop))
    ahead = {change for change in t.changes if change <= end}
    costs["old chord"] = WEIGHTS["old chord"] * sum(
        not t.on_beat[i] and i not in pushed and t.following(i) in ahead for i in row)
    pushes = sum(i in pushed for i in row)
    if pushes:
        costs["push"] = taste.push * pushes
    if whole and window.lands and row and row[-1] not in pushed:
        room = t.length - t.offsets[row[-1]]
        if room < t.beat:
            costs["landing"] = WEIGHTS["landing"]
    return costs


def _spacing(frame: Frame, t: _Ticks, row: tuple[int, ...], window: RhythmWindow, stop: int
             ) -> dict[str, int]:
    """What a rhythm pays for the spaces between its strokes, the opening among them."""
    style, opening = STYLES[frame.style], window.opening
    whole = stop == len(t.offsets)
    end = t.length if whole else t.offsets[stop]
    costs: dict[str, int] = {}
    strokes = [t.offsets[i] for i in row]
    early = opening and bool(row) and 0 < strokes[0] < t.beat
    if opening and (not strokes or strokes[0] > 0):
        strokes.insert(0, 0)
    spaces = [b - a for a, b in pairwise([*strokes, end])]
    costs["square"] = WEIGHTS["square"] * (whole and end == 2 * t.beat
                                           and strokes == [0, t.beat])
    costs["groups of three"] = style.threes * sum(2 * space == 3 * t.beat
                                                  for space in spaces[:-1])
    if whole and _cell_returns(t, row):
        costs["cell"] = WEIGHTS["cell"]
    costs["three over four"] = WEIGHTS["three over four"] * (
        _dotted(t, spaces[:-1])
        if frame.style == "medium" and frame.level.rhythm.neighbours else 0)
    if end >= 3 * t.beat and spaces and 2 * max(spaces) < 3 * t.beat:
        costs["no breath"] = WEIGHTS["no breath"]
    if whole and frame.ending and row:
        weak = not t.on_beat[row[-1]] or t.weights[row[-1]] < -1
        costs["restless"] = WEIGHTS["restless"] * (weak + (not t.on_beat[row[-1]])) // 2
    costs["hole"] = WEIGHTS["hole"] * sum(max(space // t.beat - 4, 0) for space in spaces)
    if whole and spaces and not frame.ending:
        costs["dead end"] = WEIGHTS["dead end"] * max(spaces[-1] // t.beat - 2, 0)
    if early:
        costs["early"] = WEIGHTS["early"]
    return costs


def _cell_returns(t: _Ticks, row: tuple[int, ...]) -> bool:
    """Are these two hits and the same two hits again, half a beat off their first place?"""
    if len(row) != 4:
        return False
    a, b, c, d = (t.offsets[i] for i in row)
    return b - a == d - c and 2 * ((c - a) % t.beat) == t.beat and c - b >= t.beat


def _dotted(t: _Ticks, spaces: list[int]) -> int:
    """Spaces of a dotted quarter in a row, beyond two."""
    run = longest = 0
    for space in spaces:
        run = run + 1 if 2 * space == 3 * t.beat else 0
        longest = max(longest, run)
    return max(longest - 2, 0)


def _hits(frame: Frame, row: tuple[int, ...], pushes: tuple[Fraction, ...]
          ) -> tuple[Hit, ...]:
    """Lengths: a push and a chord before a rest that begins on a beat ring, an off-beat in a
    rest is short."""
    half = frame.beat_quarter / (3 if frame.style == "compound" else 2)
    hits: list[Hit] = []
    for order, index in enumerate(row):
        place = frame.places[index]
        onset = place.offset_quarter
        following = (frame.places[row[order + 1]].offset_quarter if order + 1 < len(row)
                     else frame.length_quarter)
        space = following - onset
        change = _anticipated(frame, index, pushes)
        if frame.ending and order + 1 == len(row):
            length = space
        elif change is not None:
            lean = Fraction(1) if frame.style == "compound" else Fraction(3, 2)
            length = min(space, frame.beat_quarter * lean)
        elif frame.style == "fast":
            length = min(space, half)
        elif _over_the_line(frame, index):  # the same chord, held over the bar line
            length = min(space, 3 * half)
        elif place.on_beat:
            tenuto = (frame.style != "compound" and order + 1 < len(row)
                      and space <= 2 * frame.beat_quarter)
            length = min(space, frame.beat_quarter * (Fraction(3, 2) if tenuto else 1))
        else:
            length = min(space, half)
        hits.append(Hit(onset, length, change is not None))
    if len(hits) >= 3 and len({h.duration_quarter for h in hits}) == 1:
        # the last one, or the one with most room behind it, is leaned on
        rooms = [b.onset_quarter - a.onset_quarter for a, b in pairwise(hits)]
        rooms.append(frame.length_quarter - hits[-1].onset_quarter)
        longest = max(range(len(hits)), key=lambda i: (rooms[i], -i))
        old = hits[longest]
        hits[longest] = Hit(old.onset_quarter, min(rooms[longest], frame.beat_quarter),
                            old.anticipates)
    return tuple(hits)


def _over_the_line(frame: Frame, index: int) -> bool:
    """Is this the last off-beat of a bar, in a gap that goes on after it?"""
    place = frame.places[index]
    return (not place.on_beat and index + 1 < len(frame.places)
            and frame.places[index + 1].bar != place.bar and frame.style != "compound")


def _name(frame: Frame, row: tuple[int, ...], hits: tuple[Hit, ...]) -> str:
    """What the rhythm does, in trade words."""
    places = [frame.places[i] for i in row]
    beat = frame.beat_quarter
    on = [p.on_beat for p in places]
    if all(on):
        return ON_BEAT
    spaces = [b.offset_quarter - a.offset_quarter for a, b in pairwise(places)]
    if len(row) == 4 and spaces[0] == spaces[2] and (
            spaces[0] + spaces[1]) % beat == beat / 2 and spaces[1] >= beat:
        return CELL
    if len(spaces) >= 2 and all(2 * space == 3 * beat for space in spaces) and (
            frame.style == "medium"):
        return THREES
    onsets = [p.offset_quarter for p in places]
    figure = any(b - a == beat * Fraction(3, 2) and p.on_beat
                 for (a, b), p in zip(pairwise(onsets), places, strict=False))
    first = onsets[0] == beat * Fraction(3, 2) and frame.places[0].on_beat
    if frame.style != "compound" and (figure or (first and len(row) == 1)):
        return DOTTED
    if not any(on):
        if hits[-1].anticipates and len(hits) == 1:
            return PUSH
        if len(row) == 2 and onsets[1] - onsets[0] == beat:
            return PAIR
        return OFF_BEATS if len(row) > 1 else ONE_OFF
    return MIXED
