"""Lines: the right hand improvises through the gap and leads into the landing.

Rhythms come from `fillwright.fills.devices.line.phrase`, ideas from `ideas` and `answer`;
`costs` finds the cheapest pitches for each, `left` puts a voicing under them.
The best line of every idea competes, the cheapest per note first, and options that differ
in rhythm or contour are kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import heappop, heappush
from itertools import chain, pairwise
from types import MappingProxyType
from typing import TypeAlias

from fillwright.fills.devices.line.answer import answers, sequences, solve_sequence
from fillwright.fills.devices.line.costs import TONE, price
from fillwright.fills.devices.line.figures import figure_moves, least_moves, move_name
from fillwright.fills.devices.line.frame import Cell
from fillwright.fills.devices.line.ideas import cells
from fillwright.fills.devices.line.left import Above, left_hand
from fillwright.fills.devices.line.phrase import Phrase
from fillwright.fills.devices.line.pools import blue_notes
from fillwright.fills.devices.line.reasons import reasons_of
from fillwright.fills.devices.line.search import Tables, search_line, tables_of
from fillwright.fills.devices.line.shift import EARLY, shifted, stretched
from fillwright.fills.devices.line.spelling import spell_line
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.finish import Refusal, finish
from fillwright.fills.model import Fill, HeldEnd, Idea
from fillwright.fills.situation import Task
from fillwright.lattice import FORBIDDEN
from fillwright.theory.pitch import Pitch, nearest_pitch

__all__ = ["CONTOUR_APART", "RHYTHM_APART", "contour_distance", "propose_line",
           "rhythm_distance", "same_cell_thrice", "same_gesture"]

RHYTHM_APART = Fraction(1, 3)
"""Two lines differ in rhythm where at least this share of all their onsets is not common."""

CONTOUR_APART = 3.0
"""Two lines differ in contour where they lie this many semitones apart on average."""

_TRIES = 24
"""Drafts that are fingered and audited for one gap at most."""

_STRAIN = 12
"""So near to the top of the scale of difficulty an advanced line is a strain, and offered
only where nothing else is."""

_MOST_SLOTS = 4000
"""Notes that are searched for one gap in all, so that endless gaps take no endless time."""

_TOO_HARD = 2
"""A rhythm that was too hard so often for the level is left."""

_TURNS = 11
"""Steps of the turn that devices take from gap to gap, in cost (design choice)."""

_FEW = 3
"""Options a beginner is to have, single notes among them at need."""

_SHORT = 5
"""Notes from which on a line can be heard to wander."""

_COSTS = MappingProxyType({
    # Unit: a tenth of one clear fault; common practice.
    "landing touched": 8,       # the landing's own key among the last four notes
    "comes back": 6,            # each return to one pitch beyond one in four notes
    "turns at every note": 8,   # three in four moves or more change direction
    "stays in place": 6,        # seven notes or more within a fifth
})

_LONG, _FIFTH = 7, 7
"""Notes from which on a line is to go somewhere, and the semitones that are no journey."""

_PER_NOTES = 8
"""Costs are given for so many notes, so that short and long lines compare."""


@dataclass(frozen=True, slots=True)
class _Line:
    """A solved question: the cell, its pitches, and its costs by term."""

    cell: Cell
    midis: tuple[int, ...]
    costs: tuple[tuple[str, int], ...]

    @property
    def total(self) -> int:
        return sum(cost for _, cost in self.costs)


def propose_line(context: Task, count: int) -> tuple[Fill, ...] | str:
    """At most `count` lines that differ, best first, or why there is none."""
    lines = _Ranked(context)
    if next(iter(lines), None) is None:
        return "there is no room for a line between the held note and the landing"
    taken = _accepted(context, lines, count)
    if not taken:
        return "no line fits the hand, the chord and the landing here"
    return tuple(sorted(taken, key=lambda f: (f.total_cost, f.id)))


class _Ranked:
    """The best line of every idea, cheapest first. A cell is solved only when the lines
    wanted cost as much as it must cost at least."""

    def __init__(self, context: Task) -> None:
        self._known: list[_Line] = []
        self._more = self._search(context)

    def __iter__(self) -> Iterator[_Line]:
        place = 0
        while True:
            if place == len(self._known):
                line = next(self._more, None)
                if line is None:
                    return
                self._known.append(line)
            yield self._known[place]
            place += 1

    @staticmethod
    def _search(context: Task) -> Iterator[_Line]:
        solved: list[tuple[_Rank, _Line]] = []
        for question in sorted(_questions(context), key=lambda q: (q.least, q.number)):
            while solved and solved[0][0][0] < question.least:
                yield heappop(solved)[1]
            cell = question.cell
            for line in _solved(context, question):
                heappush(solved, ((line.total, cell.device, cell.phrase.onsets, line.midis,
                                   question.number), line))
        while solved:
            yield heappop(solved)[1]


@dataclass(frozen=True, slots=True)
class _Question:
    """A cell that waits to be solved: a cost none of its lines stays below, its number, what
    the idea costs here."""

    least: int
    number: int
    cell: Cell
    tables: Tables
    idea: int


_Rank: TypeAlias = tuple[int, str, tuple[Fraction, ...], tuple[int, ...], int]


def _accepted(context: Task, lines: Iterable[_Line], count: int) -> list[Fill]:
    """Different ideas that can be played: a device each, then what else suits the level.

    What is too plain or a strain for the level is better than nothing, and better than a
    device the offer has already.
    """
    least, most = context.player.level.difficulty
    most = most - _STRAIN if context.level == "advanced" else most
    taken: list[Fill] = []
    plain: list[Fill] = []
    tries = 0
    hard: Counter[tuple[Fraction, ...]] = Counter()
    for stage in ("fresh", "again", "single"):
        if stage == "again":
            _add(taken, (f for f in plain if all(f.device != t.device for t in taken)), count)
        for line in lines:
            if stage == "single" and not _wants_single(context, (*taken, *plain), count):
                break
            if len(taken) == count or tries >= max(_TRIES, 4 * count):
                break
            known = any(f.device == line.cell.device for f in taken)
            if (len(line.midis) < 2) is not (stage == "single") or (
                    stage != "single" and known is not (stage == "again")) or (
                    hard[line.cell.phrase.onsets] >= _TOO_HARD):
                continue
            idea = _idea(context, line)
            if not all(_differs(idea, f.idea) for f in (*taken, *plain)):
                continue
            draft = _draft(context, line, idea)
            if draft is None:
                continue
            tries += 1
            fill = finish(context, draft)
            if isinstance(fill, Refusal):
                hard[line.cell.phrase.onsets] += fill.rule == "difficulty"
            elif not least <= fill.difficulty <= most and len(plain) < 2 * count:
                plain.append(fill)
            else:
                taken.append(fill)
    _add(taken, plain, count)
    return taken


def _wants_single(context: Task, found: Sequence[Fill], count: int) -> bool:
    """Whether one more single note is asked for: it is no line, but a beginner's answer where
    the gap has room for little more, or a last word at need."""
    if context.level == "beginner":
        return len(found) < min(count, _FEW)
    return context.landing is None and all(len(f.idea.onsets) == 1 for f in found)


def _add(taken: list[Fill], more: Iterable[Fill], count: int) -> None:
    """Fill an offer up with ideas that differ from those it has."""
    for fill in more:
        if len(taken) < count and all(_differs(fill.idea, f.idea) for f in taken):
            taken.append(fill)


def _questions(context: Task) -> Iterator[_Question]:
    """The cells of a gap that have a line."""
    slots = 0
    turn = context.turn
    for number, cell in enumerate(chain(answers(context), cells(context), sequences(context),
                                        shifted(context))):
        slots += len(cell.phrase)
        if slots > _MOST_SLOTS:
            break
        tables = tables_of(cell.problem)
        if tables is None or tables.least >= FORBIDDEN // 2:
            continue
        idea = cell.base_cost + _turn(turn, cell.device)
        yield _Question(_scaled(tables.least, len(cell.phrase)) + _rhythm_cost(cell.phrase)
                        + idea, number, cell, tables, idea)


def _solved(context: Task, question: _Question) -> Iterator[_Line]:
    """The best line of a cell, if it does what the cell's device says."""
    cell, idea = question.cell, question.idea
    if cell.later:
        for midis, word in solve_sequence(context, cell):
            costs = sorted(price(cell.problem, midis).items())
            yield _line(replace(cell, note=word), midis, costs, idea)
        return
    for midis, path in search_line(cell.problem, tables=question.tables):
        if (cell.problem.repeats_ok or not same_cell_thrice(midis)) and _true_to_name(
                context, cell, midis):
            yield _line(cell, midis, path.costs, idea)


def _turn(turn: int, device: str) -> int:
    """0 to `_TURNS` - 1: whose turn it is among ideas that are nearly as good, so that a
    chorus does not offer the same one first in every gap."""
    return (sum(map(ord, device)) + turn) % _TURNS


def _scaled(cost: int, size: int) -> int:
    """The cost of `size` notes for as many as costs are compared by."""
    return -(-cost * _PER_NOTES // size)


def _rhythm_cost(phrase: Phrase) -> int:
    return _scaled(phrase.cost, len(phrase) + 4)


def _line(cell: Cell, midis: tuple[int, ...], costs: Sequence[tuple[str, int]], idea: int
          ) -> _Line:
    merged: Counter[str] = Counter()
    for term, cost in costs:  # a device's own shape gives back the surprise of its moves
        merged["motion" if term == "shape" else term] += cost
    scaled = [(term, _scaled(cost, len(midis))) for term, cost in merged.items() if cost]
    wandering = _wandering(cell, midis)
    if wandering:
        scaled.append(("without a goal", wandering))
    scaled += [("rhythm", _rhythm_cost(cell.phrase)), ("idea", idea)]
    return _Line(cell, midis, tuple(sorted(scaled)))


def _true_to_name(context: Task, cell: Cell, midis: Sequence[int]) -> bool:
    """Whether the notes do what the device says: the figure is there, the upper structure
    is heard whole, a blue note (in more than a broken chord) or two altered tones at least are
    among them."""
    if cell.figure is not None:
        return _opens_with(cell, midis)
    intervals = [b - a for a, b in pairwise(midis)]
    if cell.device == "chord tones up high, arpeggiated":
        return 2 * sum(abs(i) >= 3 for i in intervals) >= len(intervals)
    if cell.device == "arpeggio up and down":
        return sum(abs(i) < 3 for i in intervals) <= 1 and abs(intervals[0]) >= 3
    if cell.device == "scale run":
        run = intervals[:max(3, len(intervals) - 2)]
        return all((i > 0) == (cell.note == "up") and abs(i) <= 3 for i in run)
    if cell.device == "upper-structure arpeggio":
        return any(triad <= {m % 12 for m in midis} for triad in cell.triads)
    if cell.device == "blues colour":
        only_tones = all(s.kinds[m % 12] == TONE
                         for m, s in zip(midis, cell.problem.slots, strict=True))
        return not only_tones and bool({m % 12 for m in midis} & blue_notes(context.key))
    if cell.device == "altered colours":
        altered = {(m - context.spans[s.span].harmony.root.pitch_class) % 12
                   for m, s in zip(midis, cell.problem.slots, strict=True)
                   if context.spans[s.span].harmony.symbol.quality == "dominant"}
        return len(altered & {1, 3, 6, 8}) >= 2
    return True


def _opens_with(cell: Cell, midis: Sequence[int]) -> bool:
    """Whether a line really opens with the figure it is named by."""
    assert cell.figure is not None
    wanted = figure_moves(cell.figure, cell.note == "mirrored")[:least_moves(cell.figure)]
    return tuple(move_name(b - a) for a, b in pairwise(midis))[:len(wanted)] == wanted


def _wandering(cell: Cell, midis: Sequence[int]) -> int:
    """What a line pays for going nowhere: its landing's key struck among its last notes, one
    pitch come back to again and again, a change of direction at nearly every note, many notes
    in little room."""
    problem = cell.problem
    if problem.repeats_ok or len(midis) < _SHORT:
        return 0
    cost = 0
    if problem.landing in midis[-4:] and not cell.double:
        cost += _COSTS["landing touched"]
    often = max(Counter(midis).values())
    cost += _COSTS["comes back"] * max(often - max(2, len(midis) // 4), 0)
    moves = [b - a for a, b in pairwise(midis) if a != b]
    turns = sum((a > 0) != (b > 0) for a, b in pairwise(moves))
    if len(moves) >= _SHORT and 4 * turns > 3 * (len(moves) - 1):
        cost += _COSTS["turns at every note"]
    if len(midis) >= _LONG and max(midis) - min(midis) <= _FIFTH:
        cost += _COSTS["stays in place"]
    return cost


def same_cell_thrice(midis: Sequence[int]) -> bool:
    """The same intervals three times in a row, two to four notes long, turning each time; or
    three cells of three or four notes that hover in one place, each a copy of the one before
    within a whole step; or a pair of notes that opens, comes back, and comes back."""
    intervals = [b - a for a, b in pairwise(midis)]
    for length in (3, 4):
        for start in range(len(midis) - 3 * length + 1):
            cells_ = [midis[start + k * length:start + (k + 1) * length] for k in range(3)]
            shapes = {tuple(b > a for a, b in pairwise(c)) for c in cells_}
            if len(shapes) == 1 and all(max(notes) - min(notes) <= 2
                                        for notes in zip(*cells_, strict=True)):
                return True
    for start in range(len(midis) - 5):
        one, two, three = (midis[start + k:start + k + 2] for k in (0, 2, 4))
        if one == three and (one[1] > one[0]) == (two[1] > two[0]):
            return True
    for length in (2, 3, 4):
        for start in range(len(intervals) - 3 * length + 1):
            first = intervals[start:start + length]
            if len({i > 0 for i in first}) == 2 and (
                    first == intervals[start + length:start + 2 * length]
                    == intervals[start + 2 * length:start + 3 * length]):
                return True
    return False


def _idea(context: Task, line: _Line) -> Idea:
    """What two lines are compared by."""
    midis, zero = line.midis, context.onset_quarter
    held = context.held_midi
    anchor = held if held is not None else context.spans[0].harmony.root.pitch_class + 60
    return Idea(tuple(o - zero for o in line.cell.phrase.onsets),
                tuple(m - anchor for m in midis), line.cell.device,
                (min(midis) + max(midis)) // 2)


def _draft(context: Task, line: _Line, idea: Idea) -> Draft | None:
    cell, phrase = line.cell, line.cell.phrase
    written = context.spans
    context = stretched(context, cell.shift)
    landing = context.landing
    harmonies = [s.harmony for s in context.spans]
    pitches = spell_line(line.midis, cell.problem.slots, harmonies,
                         None if landing is None else landing.pitch)
    notes = [DraftNote(onset, end - onset, pitch, "right")
             for onset, end, pitch in zip(phrase.onsets, phrase.ends, pitches, strict=True)]
    if cell.double:
        notes += _doubled(context, cell, notes)
    start = phrase.onsets[0]
    held = context.held
    above = [Above(n.onset_quarter, n.end_quarter, n.midi) for n in notes]
    until = context.onset_quarter
    if held is not None:
        until = min(start, max(held.end_quarter, context.onset_quarter + context.beat_quarter))
        above.append(Above(context.onset_quarter, until, held.midi))
    if cell.shift is not None and landing is not None:
        # the left hand under (or just before) the shifted landing has to bear its note
        meets = min(cell.shift.landing_quarter, context.end_quarter)
        above.append(Above(meets, cell.shift.landing_quarter + context.beat_quarter,
                           landing.midi))
    left = left_hand(context, above, context.end_quarter if cell.shift is None
                     else cell.shift.landing_quarter)
    if left is None:
        return None
    reasons = reasons_of(context, cell, pitches, left,
                         None if landing is None else landing.pitch)
    costs: dict[str, int] = dict(line.costs)
    for term, cost in left.costs:
        if cost:
            costs[term] = costs.get(term, 0) + cost
    return Draft(
        family="line", device=cell.device,
        notes=tuple(sorted((*left.notes, *notes), key=lambda n: (n.onset_quarter, n.midi))),
        chords=tuple(DraftChord(s.onset_quarter, s.end_quarter, s.harmony)
                     for s in written),
        reasons=reasons, costs=tuple(sorted(costs.items())), idea=idea,
        held=HeldEnd("released", until), shift=cell.shift)


def _doubled(context: Task, cell: Cell, notes: Sequence[DraftNote]) -> list[DraftNote]:
    """The keys struck below each note of an octave line."""
    below: list[DraftNote] = []
    for slot, note in zip(cell.problem.slots, notes, strict=True):
        octave = Pitch(note.pitch.step, note.pitch.alter, note.pitch.octave - 1)
        below.append(replace(note, pitch=octave))
        if cell.double == "fifth":
            harmony = context.spans[slot.span].harmony
            inside = nearest_pitch(harmony.spell((note.midi - 5) % 12), note.midi - 5)
            below.append(replace(note, pitch=inside))
    return below


def rhythm_distance(a: Sequence[Fraction], b: Sequence[Fraction]) -> Fraction:
    """Share of the onsets of two rhythms that they do not have in common, 0 to 1."""
    union = set(a) | set(b)
    return Fraction(len(set(a) ^ set(b)), len(union)) if union else Fraction(0)


def contour_distance(a: Sequence[tuple[Fraction, int]], b: Sequence[tuple[Fraction, int]]
                     ) -> float:
    """Mean distance in semitones between two lines, taken at every onset of either.

    a, b   (onset, pitch) in order, at least one each; before its first note a line counts
           as standing on it
    """
    places = sorted({o for o, _ in (*a, *b)})

    def at(line: Sequence[tuple[Fraction, int]], place: Fraction) -> int:
        sounding = line[0][1]
        for onset, pitch in line:
            if onset <= place:
                sounding = pitch
        return sounding

    return sum(abs(at(a, p) - at(b, p)) for p in places) / len(places)


def same_gesture(one: Idea, other: Idea) -> bool:
    """The same rhythm with the same ups and downs, of two notes or more: one idea, wherever
    it lies. A landing that is pushed belongs to the rhythm."""
    return (len(one.onsets) > 1 and one.onsets == other.onsets
            and (one.voicing == EARLY) is (other.voicing == EARLY)
            and _directions(one) == _directions(other))


def _directions(idea: Idea) -> list[int]:
    return [(b > a) - (b < a) for a, b in pairwise(idea.top_line)]


def _differs(one: Idea, other: Idea) -> bool:
    """Two options are two ideas: apart in rhythm or contour, and in two respects at least."""
    if one.differences(other) < 2 or same_gesture(one, other):
        return False
    return (rhythm_distance(one.onsets, other.onsets) >= RHYTHM_APART
            or contour_distance(tuple(zip(one.onsets, one.top_line, strict=True)),
                                tuple(zip(other.onsets, other.top_line, strict=True)))
            >= CONTOUR_APART)
