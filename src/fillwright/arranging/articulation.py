"""Touch: which strokes are leaned on or held out, and where the music swells.

One plan for the page and for the performance, as with the levels of `dynamics`. What is marked
(common practice): the last chord of a fill that is struck off the beat and rings over the next
beat, and the top of a line where it lies off the beat, have an accent, one a fill, and so have a
melody note that comes early and the highest one of four bars where it is short; a chord that is
held among short ones, the last of several that are all held, what a voice of the left hand goes to
by itself, the top of a line on the beat, the last added chord before a landing (its bass, where the
right hand keeps still), the melody note of a beat or more that a fill leads back to, the last
stroke of a piece, the highest melody note of four bars and one that is left to ring where a gap
stays open have a tenuto; a fill swells to its highest note or into its landing, and a fill that
falls, or the last one, fades; so does a phrase of the melody that climbs or falls a fourth, where
no fill is played meanwhile. What is played in one breath has a slur.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.tune.model import Gap

__all__ = ["Slur", "Swell", "Touch", "is_struck_within", "touch_of"]

Place = tuple[Fraction, str]
Marked = tuple[Fraction, str, str]

LEAST_STROKES = 3
"""Fewer strokes do not swell."""

LEAST_SWELL_QUARTER = Fraction(3, 2)
"""A shorter hairpin is not seen, and not heard."""

_SWELL_BARS = 1
"""It swells over the last bar to its top, or the first from there: over more, a hairpin lies flat
and is not heard."""

_LEAST_CLIMB = 5
"""Semitones, a fourth: a melody that moves in less does not swell (common practice)."""

_FOUR = 4

_HALF = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class Swell:
    """A hairpin inside a fill or over a phrase of the melody: louder on the way, or softer."""

    onset_quarter: Fraction
    end_quarter: Fraction
    rises: bool


@dataclass(frozen=True, slots=True)
class Slur:
    """Notes of the right hand in one breath, from the first stroke to the last.

    role   "melody" or "fill"
    """

    onset_quarter: Fraction
    last_quarter: Fraction
    role: str


@dataclass(frozen=True, slots=True)
class Touch:
    """accents, tenutos   (onset, "left" or "right", "fill" or "melody") of strokes with one
    swells, slurs     in order, none over another of its kind"""

    accents: frozenset[Marked]
    tenutos: frozenset[Marked]
    swells: tuple[Swell, ...]
    slurs: tuple[Slur, ...] = ()

    def is_slurred(self, onset_quarter: Fraction, role: str) -> bool:
        """Whether a slur leads on from a stroke."""
        place = bisect_right(self.slurs, onset_quarter, key=lambda slur: slur.onset_quarter) - 1
        return (place >= 0 and self.slurs[place].role == role
                and onset_quarter < self.slurs[place].last_quarter)

    def lift_at(self, onset_quarter: Fraction) -> float:
        """How far a place is along a swell: from -0.5 to 0.5 in one that rises, the other way
        in one that falls, 0 outside."""
        for swell in self.swells:
            if swell.onset_quarter <= onset_quarter <= swell.end_quarter:
                way = float((onset_quarter - swell.onset_quarter)
                            / (swell.end_quarter - swell.onset_quarter))
                return way - 0.5 if swell.rises else 0.5 - way
        return 0.0


def touch_of(arrangement: Arrangement) -> Touch:
    """The touch of an arrangement: of its fills, then of the melody where they leave room."""
    accents: set[Place] = set()
    tenutos: set[Place] = set()
    swells: list[Swell] = []
    gaps = {gap.number: gap for gap in arrangement.gaps}  # an excerpt has some of them
    for fill in arrangement.fills:
        gap = gaps[fill.gap]
        strokes = _strokes(fill)
        leaned = _accent(arrangement, fill, strokes)
        accents |= leaned
        tenutos |= _tenutos(fill, gap, strokes) - leaned
        swells += _swell(fill, gap, strokes, _most_quarter(arrangement, gap.onset_quarter))
    pushed, held_out, waves = _melody(arrangement)
    held_out |= (_landings(arrangement) | _left_to_ring(arrangement)) - pushed
    swells += [wave for wave in waves if not any(  # nor does one growth follow on another
        wave.onset_quarter <= other.end_quarter and other.onset_quarter <= wave.end_quarter
        for other in swells)]
    onsets = {note.onset_quarter for note in arrangement.notes}
    return Touch(frozenset((*place, "fill") for place in accents) | pushed,
                 frozenset((*place, "fill") for place in tenutos) | held_out,
                 tuple(sorted((swell for swell in swells if is_struck_within(
                     onsets, swell.onset_quarter, swell.end_quarter)),
                     key=lambda swell: swell.onset_quarter)),
                 _slurs(arrangement))


def is_struck_within(onsets: Collection[Fraction], start: Fraction, end: Fraction) -> bool:
    """Whether a key is struck between the ends of a hairpin: what a piano holds does not swell."""
    return any(start < onset < end for onset in onsets)


def _melody(arrangement: Arrangement
            ) -> tuple[frozenset[Marked], frozenset[Marked], list[Swell]]:
    """Accents, tenutos and swells of the melody, phrase by phrase.

    A note that comes early and rings over the beat is leaned on; the one highest note of four bars
    is held out, or leaned on where it is short; a phrase grows to its highest note, and fades where
    it falls from there.
    """
    accents: set[Marked] = set()
    tenutos: set[Marked] = set()
    swells: list[Swell] = []
    fours = _fours(arrangement)
    for four in fours:
        top = max(four, key=_height)
        if len(four) < LEAST_STROKES:
            continue
        if top.duration_quarter >= 1:
            tenutos.add((top.onset_quarter, "right", "melody"))
        elif sum(note.midi == top.midi for note in four) == 1:  # else nothing stands out
            accents.add((top.onset_quarter, "right", "melody"))
    for phrase in _phrases(arrangement):
        for note in phrase:
            if note.duration_quarter >= 1 and _is_syncopated(arrangement, note):
                accents.add((note.onset_quarter, "right", "melody"))
        if len(phrase) >= LEAST_STROKES and len(fours) > 1:  # an excerpt is too short
            swells += _waves(arrangement, phrase)
    return frozenset(accents), frozenset(tenutos - accents), swells


def _landings(arrangement: Arrangement) -> frozenset[Marked]:
    """The melody notes that fills lead back to, where they are long enough to be held out: a
    listener is to hear that the tune is there again."""
    gaps = {gap.number: gap for gap in arrangement.gaps}
    places = {gaps[fill.gap].end_quarter if fill.shift is None else fill.shift.landing_quarter
              for fill in arrangement.fills if gaps[fill.gap].landing is not None}
    return frozenset((note.onset_quarter, "right", "melody") for note in arrangement.notes
                     if note.role == "melody" and note.onset_quarter in places
                     and note.duration_quarter >= 1)


def _left_to_ring(arrangement: Arrangement) -> frozenset[Marked]:
    """The melody notes of gaps that nothing fills: they are to be held out, since nothing else is
    heard."""
    filled = {fill.gap for fill in arrangement.fills}
    return frozenset((gap.onset_quarter, "right", "melody") for gap in arrangement.gaps
                     if gap.held is not None and gap.number not in filled)


def _height(note: HandNote) -> tuple[int, Fraction, Fraction]:
    """By this the highest note of several is found: the longer one, then the earlier."""
    return note.midi, note.duration_quarter, -note.onset_quarter


def _waves(arrangement: Arrangement, phrase: Sequence[HandNote]) -> list[Swell]:
    """The hairpins of a phrase of the melody: up to its highest note, down from there; where it
    hardly climbs on its way, or falls, there is none."""
    top = max(phrase, key=_height)
    onset, most = top.onset_quarter, _most_quarter(arrangement, top.onset_quarter)
    found = []
    for swell in (*_swell_of(phrase[0].onset_quarter, onset, most, rises=True),
                  *_swell_of(onset, phrase[-1].onset_quarter, most, rises=False)):
        inside = [note.midi for note in phrase
                  if swell.onset_quarter <= note.onset_quarter <= swell.end_quarter]
        if top.midi - min(inside) >= _LEAST_CLIMB:
            found.append(swell)
    return found


def _most_quarter(arrangement: Arrangement, onset_quarter: Fraction) -> Fraction:
    return _SWELL_BARS * arrangement.chorus.bar_at(onset_quarter).meter.length_quarter


def _slurs(arrangement: Arrangement) -> tuple[Slur, ...]:
    """The slurs of lines, and of what the tune does in one breath: neither a rest nor a key
    struck again is inside one, and none is longer than two bars. An excerpt has the lines'."""
    rows = [sorted({n.onset_quarter: n for n in sorted(fill.notes, key=lambda n: n.midi)
                    if n.hand == "right"}.values(), key=lambda n: n.onset_quarter)
            for fill in arrangement.fills if fill.family == "line"]
    if len(_fours(arrangement)) > 1:
        rows += _phrases(arrangement)
    found: list[Slur] = []
    most = 2 * arrangement.chorus.meter.length_quarter
    for row in rows:
        breath: list[HandNote] = []
        for note in [*row, None]:
            if breath and (note is None or note.onset_quarter > breath[-1].end_quarter
                           or note.midi == breath[-1].midi
                           or note.onset_quarter - breath[0].onset_quarter >= most):
                if len(breath) >= LEAST_STROKES:
                    found.append(Slur(breath[0].onset_quarter, breath[-1].onset_quarter,
                                      breath[0].role))
                breath = []
            if note is not None:
                breath.append(note)
    return tuple(sorted(found, key=lambda slur: slur.onset_quarter))


def _fours(arrangement: Arrangement) -> list[list[HandNote]]:
    """The melody in fours of bars, counted from the first full one."""
    bars = [bar for bar in arrangement.chorus.bars if not bar.is_pickup]
    starts = [bar.onset_quarter for bar in bars[::_FOUR]]
    fours: dict[int, list[HandNote]] = {}
    for note in arrangement.notes:
        if note.role == "melody":
            fours.setdefault(bisect_right(starts, note.onset_quarter), []).append(note)
    return list(fours.values())


def _phrases(arrangement: Arrangement) -> list[list[HandNote]]:
    """The melody in phrases: a gap's held note ends one."""
    ends = {gap.onset_quarter for gap in arrangement.gaps}
    phrases: list[list[HandNote]] = [[]]
    for note in arrangement.notes:
        if note.role == "melody":
            phrases[-1].append(note)
            if note.onset_quarter in ends:
                phrases.append([])
    return [phrase for phrase in phrases if phrase]


def _strokes(fill: Fill) -> dict[Place, list[HandNote]]:
    """The fill's notes by onset and hand, in order."""
    found: dict[Place, list[HandNote]] = {}
    for note in sorted(fill.notes, key=lambda n: (n.onset_quarter, n.hand, n.midi)):
        found.setdefault((note.onset_quarter, note.hand), []).append(note)
    return found


def _off_beat(arrangement: Arrangement, onset_quarter: Fraction) -> bool:
    return arrangement.chorus.beat_in_bar(onset_quarter).denominator != 1


def _is_syncopated(arrangement: Arrangement, note: HandNote) -> bool:
    """Whether a note begins between two beats and sounds over the second."""
    beat = arrangement.chorus.bar_at(note.onset_quarter).meter.beat_quarter
    inside = arrangement.chorus.beat_in_bar(note.onset_quarter) % 1
    return inside > 0 and inside + note.duration_quarter / beat > 1


def _accent(arrangement: Arrangement, fill: Fill,
            strokes: dict[Place, list[HandNote]]) -> set[Place]:
    """The one stroke of a fill that is leaned on, if there is one."""
    right = {place: notes for place, notes in strokes.items() if place[1] == "right"}
    if fill.family == "line":
        top = _top_of_line(strokes)
        leaned = [] if top is None else [top]
    else:
        leaned = [place for place, notes in right.items()
                  if len(notes) > 1 and notes[-1].duration_quarter >= 1]
    return {place for place in leaned[-1:] if _off_beat(arrangement, place[0])}


def _top_of_line(strokes: dict[Place, list[HandNote]]) -> Place | None:
    """Where a line is highest, the first time."""
    right = {place: notes for place, notes in strokes.items() if place[1] == "right"}
    return max(right, key=lambda place: (right[place][-1].midi, -place[0]), default=None)


def _tenutos(fill: Fill, gap: Gap, strokes: dict[Place, list[HandNote]]) -> set[Place]:
    found: set[Place] = set()
    if fill.family == "comp":
        short = any(notes[-1].duration_quarter <= _HALF for notes in strokes.values())
        held = [place for place, notes in strokes.items() if place[1] == "right"
                and len(notes) > 1 and notes[-1].duration_quarter >= 1]
        found |= set(held if short else held[-1:]) or _moving(strokes)
    if fill.family == "line":
        top = _top_of_line(strokes)
        found |= set() if top is None else {top}
    if fill.family == "reharm":
        added = [c.onset_quarter for c in fill.chords if c.added]
        struck = [place for place in strokes if place[0] in added]
        found |= set([place for place in struck if place[1] == "right"][-1:] or struck[-1:])
    if gap.landing is None:
        last = max(strokes, default=None)
        found |= set() if last is None else {last}
    return found


def _moving(strokes: dict[Place, list[HandNote]]) -> set[Place]:
    """What the left hand has to sing under a right hand that keeps still: the keys that one voice
    goes to by itself, else its last stroke that is held."""
    row = [(place, notes) for place, notes in strokes.items() if place[1] == "left"][1:]
    row = [(place, notes) for place, notes in row if notes[-1].duration_quarter >= 1]
    alone = {place for place, notes in row if len(notes) == 1}
    return alone or {place for place, _ in row[-1:]}


def _swell(fill: Fill, gap: Gap, strokes: dict[Place, list[HandNote]], most: Fraction
           ) -> list[Swell]:
    """The hairpin of a fill, if it has strokes and room for one; `most` is its longest."""
    right = [(place[0], notes[-1].midi) for place, notes in strokes.items()
             if place[1] == "right"]
    if len(right) < LEAST_STROKES:
        right = [(onset, max(n.midi for (o, _), notes in strokes.items() if o == onset
                             for n in notes)) for onset in sorted({o for o, _ in strokes})]
    if len(right) < LEAST_STROKES:
        return []
    first, last = right[0][0], right[-1][0]
    if gap.landing is None:
        return _swell_of(max(first, last - most), last, most, rises=False)
    peak = max(range(len(right)), key=lambda place: (right[place][1], place))
    if fill.family != "line" or peak == len(right) - 1:
        landing = gap.end_quarter if fill.shift is None else fill.shift.landing_quarter
        return _swell_of(first, landing, most, rises=True)
    if 2 * peak >= len(right) - 1:
        return _swell_of(first, right[peak][0], most, rises=True)
    return _swell_of(right[peak][0], _end(fill.notes), most, rises=False)


def _end(notes: Sequence[HandNote]) -> Fraction:
    return max(n.onset_quarter for n in notes if n.hand == "right")


def _swell_of(start: Fraction, end: Fraction, most: Fraction, rises: bool) -> list[Swell]:
    """None where it would be too short; of a long way up the last part, of one down the first."""
    if rises:
        start = max(start, end - most)
    else:
        end = min(end, start + most)
    return [Swell(start, end, rises)] if end - start >= LEAST_SWELL_QUARTER else []
