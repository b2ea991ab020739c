"""The story of a chorus: what comes back, where it rises, what the bridge is, how it ends.

A chorus is one pianist with a plan. Before a fill is chosen the story knows which gaps stand
where an earlier one stood (the phrase comes again), how full each should be, and which belong
to a contrasting section; the choice is steered by it, and `told` says afterwards, in words a
student can read, what was made of it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from types import MappingProxyType

from fillwright.arranging.breaths import breaths_of
from fillwright.arranging.dynamics import DynamicPlan, plan_dynamics
from fillwright.arranging.ending import ground_of, stands_low
from fillwright.arranging.model import Arrangement
from fillwright.arranging.sections import Section, quiet_of, sections_of
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.fills.place import is_height
from fillwright.fills.relation import (
    LEAST_TOLD,
    Cell,
    Relation,
    cell_of,
    develops,
    relation_of,
)
from fillwright.tune.model import Chorus, Gap

__all__ = ["Story", "alike", "fuller_at_the_end", "going_on", "last_section_quarter",
           "story_of", "told"]

FIRST_FULLNESS, LAST_FULLNESS = 2.0, 5.5
"""Strikes a beat, in thirds, that the first and the last gap aim at (design choice)."""

PEAK_FULLNESS = 2.5
"""How much fuller the one shout of a chorus is than its place asks for."""

LEAST_PEAK_BEATS = 3
"""A shorter gap has no room for a shout."""

_MOST_WORKED = 2
"""Sentences about fills that go on with the idea of the one before, at most."""

_MOST_BREATHS = 8
"""Open gaps that are named, at most."""

CONTRAST_FULLNESS = 0.5
"""How much fuller the bridge is than its place asks for, so that it stands apart."""

QUIET_FULLNESS = -1.5
"""How much fuller what is still played in the quiet place is than its place asks for."""

MOST_SILENT_SEC = 4.0
"""A longer gap is filled there as well: nothing at all is a hole (design choice)."""


@dataclass(frozen=True, slots=True)
class Story:
    """The plan of a chorus and its gaps, made once and handed on.

    sections   of the form, in order
    returns    gap number -> number of the latest earlier gap at the same place of the phrase
    fullness   gap number -> what it aims at, as `choose` counts fullness
    contrast   numbers of the gaps in contrasting sections
    breaths    numbers of the gaps that are left to the tune
    peak       number of the gap that is to be the fullest of all, once in a chorus; None for none
    quiet      from where to where it draws back, once; None where it does not
    """

    chorus: Chorus
    gaps: tuple[Gap, ...]
    sections: tuple[Section, ...]
    returns: Mapping[int, int]
    fullness: Mapping[int, float]
    contrast: frozenset[int]
    breaths: frozenset[int]
    peak: int | None = None
    quiet: tuple[Fraction, Fraction] | None = None


def story_of(chorus: Chorus, gaps: Sequence[Gap], same_each_time: bool = False) -> Story:
    """The plan of a chorus, before any fill is known.

    same_each_time   a phrase that comes again breathes where it did
    """
    sections = sections_of(chorus)
    starts = [section.onset_quarter for section in sections]
    length = float(chorus.length_quarter) or 1.0
    returns: dict[int, int] = {}
    seen: dict[object, dict[Fraction, int]] = {}  # heard -> place in its section -> gap
    latest: dict[object, int] = {}  # heard -> gap
    onsets = [note.onset_quarter for note in chorus.melody]
    fullness: dict[int, float] = {}
    contrast: set[int] = set()
    quiet = quiet_of(chorus)
    silent: set[int] = set()
    for gap in gaps:
        place = max(bisect_right(starts, gap.onset_quarter) - 1, 0)
        inside = gap.onset_quarter - starts[place]
        heard = _heard(chorus, onsets, gap)
        earlier = seen.setdefault(heard, {})
        if earlier:  # best where it stood in the section before
            returns[gap.number] = earlier.get(inside, latest[heard])
        earlier[inside] = latest[heard] = gap.number
        way = float(gap.onset_quarter) / length
        fullness[gap.number] = FIRST_FULLNESS + (LAST_FULLNESS - FIRST_FULLNESS) * way
        if sections[place].contrast:
            contrast.add(gap.number)
            fullness[gap.number] += CONTRAST_FULLNESS
        if quiet is not None and quiet[0] <= gap.onset_quarter < quiet[1]:
            fullness[gap.number] += QUIET_FULLNESS
            if gap.seconds <= MOST_SILENT_SEC:
                silent.add(gap.number)
    loud = [gap for gap in gaps if quiet is None or not quiet[0] <= gap.onset_quarter < quiet[1]]
    peak = _peak(chorus, loud)
    if peak is not None:
        fullness[peak] += PEAK_FULLNESS
    breaths = set(breaths_of(chorus, gaps, {*returns, *returns.values(), peak}))
    breaths |= silent
    breaths.discard(peak or 0)
    if same_each_time:
        for number, first in returns.items():  # in order: the first one decides for all
            (breaths.add if first in breaths else breaths.discard)(number)
    return Story(chorus, tuple(gaps), sections, MappingProxyType(returns),
                 MappingProxyType(fullness), frozenset(contrast), frozenset(breaths), peak, quiet)


def alike(returns: Mapping[int, int]) -> dict[int, tuple[int, ...]]:
    """The gaps whose phrase comes more than once -> all gaps of that phrase, in order.

    returns   as in `Story`

    >>> alike({5: 2, 9: 5, 7: 3})[9]
    (2, 5, 9)
    """
    groups: dict[int, list[int]] = {}
    for number, before in sorted(returns.items()):
        group = groups.setdefault(before, [before])
        group.append(number)
        groups[number] = group
    return {number: tuple(group) for number, group in groups.items()}


def going_on(story: Story, fills: Sequence[Fill]) -> Iterator[tuple[Fill, int]]:
    """Fills whose idea the next fill of their section might go on with, and its gap: the first of
    each section, where it can be known again and no earlier one comes back there.

    fills   of a chorus, in order
    """
    worked: set[int] = set()
    starts = [section.onset_quarter for section in story.sections]
    for before, again in pairwise(fills):
        there, here = (story.gaps[fill.gap - 1] for fill in (before, again))
        section = bisect_right(starts, there.onset_quarter)
        if (section not in worked and section == bisect_right(starts, here.onset_quarter)
                and here.number not in story.returns and here.landing is not None
                and len(cell_of(before, there.onset_quarter).onsets) >= LEAST_TOLD):
            worked.add(section)
            yield before, here.number


def _peak(chorus: Chorus, gaps: Sequence[Gap]) -> int | None:
    """The gap of the shout: the longest in the last third that the tune goes on after, the later
    one of equals; None in a short piece."""
    late = [gap for gap in gaps if gap.landing is not None
            and 3 * gap.onset_quarter >= 2 * chorus.length_quarter]
    if len(late) < 2 or max(gap.beats for gap in late) < LEAST_PEAK_BEATS:
        return None
    return max(late, key=lambda gap: (gap.beats, gap.number)).number


def _heard(chorus: Chorus, onsets: Sequence[Fraction], gap: Gap) -> object:
    """The place of a gap as a listener knows it again: the melody of the bar that leads into
    it, the note it holds and for how long, and the chord under it."""
    bar = chorus.bar_at(gap.onset_quarter)
    since = gap.onset_quarter - bar.meter.length_quarter
    lead_in = chorus.melody[bisect_left(onsets, since):bisect_left(onsets, gap.onset_quarter)]
    before = tuple((n.onset_quarter - gap.onset_quarter, n.midi) for n in lead_in)
    chord = gap.chords[0].symbol if gap.chords else None
    held = None if gap.held is None else gap.held.midi
    return before, held, gap.duration_quarter, gap.beat, chord


_WORDS: Mapping[Relation, str] = MappingProxyType({
    Relation.COPY: "comes back as it was in {bar}",
    Relation.DISPLACED: "comes back {shift} in {bar}",
    Relation.THICKENED: "comes back fuller in {bar}: its rhythm, with more {more}",
    Relation.THINNED: "comes back thinner in {bar}: its rhythm, with fewer keys",
    Relation.MOVED: "comes back {way} in {bar}, in the same rhythm and shape",
    Relation.TURNED: "comes back turned over in {bar}: {turn}, in the same rhythm",
    Relation.BROKEN_OFF: "comes back in {bar} and breaks off",
    Relation.RECOLOURED: "comes back in {bar}: its rhythm, with other notes",
    Relation.ANSWERED: "is answered in {bar} by {family} in its own rhythm",
    Relation.REVOICED: "comes back in {bar}: its passing chords, struck otherwise",
})
_FAMILY_WORDS = MappingProxyType({"comp": "chords", "reharm": "passing chords", "line": "a line"})


def told(story: Story, arrangement: Arrangement, most: int = 4) -> tuple[str, ...]:
    """The story as sentences, read from what was chosen.

    most   sentences about ideas that come back, at most
    """
    gaps, fills = arrangement.gaps, arrangement.fills
    chosen = {fill.gap: fill for fill in fills}
    said: list[str] = []
    for number, first in story.returns.items():
        again, before = chosen.get(number), chosen.get(first)
        if before is None:
            continue
        here, there = gaps[number - 1], gaps[first - 1]
        if again is None:
            said.append(f"What filled {_bar_words(there)} is left out in {_bar_words(here)}.")
            continue
        said += _taken_up(arrangement, before, again)
    worked: list[str] = []
    for before, again in pairwise(fills):
        if again.gap not in story.returns and develops(
                *(cell_of(fill, gaps[fill.gap - 1].onset_quarter) for fill in (before, again))):
            worked += _taken_up(arrangement, before, again)
    return (*said[:most], *worked[:_MOST_WORKED], *_arc(story, arrangement))


def _taken_up(arrangement: Arrangement, before: Fill, again: Fill) -> Iterator[str]:
    """How a fill takes up an earlier one, if it does."""
    there, here = arrangement.gaps[before.gap - 1], arrangement.gaps[again.gap - 1]
    one, two = cell_of(before, there.onset_quarter), cell_of(again, here.onset_quarter)
    relation = relation_of(one, two)
    if relation is None:
        return
    words = _WORDS[relation].format(
        bar=_bar_words(here), family=_FAMILY_WORDS[again.family],
        shift=_shift_words(two.onsets[0] - one.onsets[0]),
        more="keys" if one.onsets == two.onsets else "strokes and keys",
        way="higher" if sum(two.tops) > sum(one.tops) else "lower", turn=_turn_words(one))
    yield f"The idea of {_bar_words(there)} ({before.device}) {words}."


def _bar_words(gap: Gap) -> str:
    return _numbered(gap.bar, gap.pass_number)


def _numbered(bar: str, time: int) -> str:
    times = {1: "", 2: " the second time", 3: " the third time"}
    return f"bar {bar}{times.get(time, f' on pass {time}')}"


def _turn_words(first: Cell) -> str:
    """What a shape that is turned over does.

    >>> strikes = Fraction(1), Fraction(2), Fraction(3)
    >>> _turn_words(Cell(strikes[:2], (72, 69), frozenset(), "line"))
    'what fell rises'
    >>> _turn_words(Cell(strikes, (72, 69, 71), frozenset(), "line"))
    'where it rose it falls, where it fell it rises'
    """
    ways = {b > a for a, b in pairwise(first.tops) if a != b}
    if len(ways) > 1:
        return "where it rose it falls, where it fell it rises"
    return "what rose falls" if True in ways else "what fell rises"


def _bars_words(gaps: Sequence[Gap]) -> str:
    """The bars of some gaps in order, those of one pass together, and how many more there are."""
    rows: list[str] = []
    for time, row in groupby(gaps[:_MOST_BREATHS], key=lambda gap: gap.pass_number):
        numbers = list(dict.fromkeys(gap.bar for gap in row))
        several = "s" if len(numbers) > 1 else ""
        rows.append(_numbered(_listed(numbers), time).replace("bar", f"bar{several}", 1))
    more = len(gaps) - _MOST_BREATHS
    return ", ".join(rows) + (f", and {more} more" if more > 0 else "")


def _busy(fill: Fill, gaps: Sequence[Gap]) -> float:
    """Strokes a beat."""
    return len({n.onset_quarter for n in fill.notes}) / float(gaps[fill.gap - 1].beats)


def _listed(words: Sequence[str]) -> str:
    """
    >>> _listed(["bar 3", "bar 7", "bar 9"])
    'bar 3, bar 7 and bar 9'
    """
    return " and ".join(([", ".join(words[:-1])] if words[:-1] else []) + [*words[-1:]])


def _shift_words(by: Fraction) -> str:
    length = {Fraction(1, 2): "an eighth", Fraction(1): "a beat"}.get(abs(by), "a little")
    return f"{length} {'later' if by > 0 else 'earlier'}"


def last_section_quarter(chorus: Chorus) -> Fraction:
    """Where the last section begins, or the last third where that is earlier."""
    third = chorus.bar_at(chorus.length_quarter * 2 / 3).onset_quarter
    return min(third, sections_of(chorus)[-1].onset_quarter)


def fuller_at_the_end(arrangement: Arrangement) -> bool:
    """Whether the last third has more strokes under and around the melody than the first."""
    third = arrangement.chorus.length_quarter / 3
    onsets = [n.onset_quarter for n in arrangement.notes if n.role != "melody"]
    return sum(o >= 2 * third for o in onsets) > sum(o < third for o in onsets)


def _arc(story: Story, arrangement: Arrangement) -> tuple[str, ...]:
    """Where it rises, what the bridge does, how it ends."""
    said: list[str] = []
    gaps, fills = arrangement.gaps, arrangement.fills
    left = [gaps[number - 1] for number in sorted(story.breaths)
            if all(fill.gap != number for fill in fills)]
    if left:
        said.append(f"It breathes: {_bars_words(left)} {'are' if len(left) > 1 else 'is'} left to "
                    "the tune.")
    said += _drawn_back(story, fills)
    shout = next((fill for fill in fills if fill.gap == story.peak), None)
    plan = plan_dynamics(arrangement)
    if shout is not None and is_height(shout.id):
        start = min(n.onset_quarter for n in shout.notes if n.hand == "right")
        louder = (", a step louder than what is around them"
                  if any(place == start for place, _ in plan.levels) else "")
        said.append(f"It shouts once, in {_bar_words(gaps[shout.gap - 1])}: full chords of both "
                    f"hands ({shout.device}){louder}.")
    elif shout is not None and all(_busy(other, gaps) < _busy(shout, gaps) for other in fills
                                   if other is not shout):
        said.append(f"The fullest place is {_bar_words(gaps[shout.gap - 1])} ({shout.device}).")
    if fuller_at_the_end(arrangement):
        said.append("It grows: the last third has more strokes than the first.")
    said += _louder(story, plan)
    if fills and gaps[-1].landing is None and fills[-1].gap == gaps[-1].number and stands_low(
            fills[-1]):
        said.append(f"It ends on a low {ground_of(fills[-1]).pretty}.")
    return tuple(said)


def _drawn_back(story: Story, fills: Sequence[Fill]) -> Iterator[str]:
    """Where it is quiet."""
    if story.quiet is None:
        return
    start, end = story.quiet
    inside = {gap.number for gap in story.gaps if start <= gap.onset_quarter < end}
    silent = inside and not any(fill.gap in inside for fill in fills)
    first, last = (story.chorus.bar_at(place) for place in (
        start, next(bar.onset_quarter for bar in reversed(story.chorus.bars)
                    if bar.onset_quarter < end)))
    yield (f"It draws back once, from {_numbered(first.number, first.pass_number)} to "
           f"{_numbered(last.number, last.pass_number)}: the tune alone over chords that are held"
           f"{', and its long notes are left to ring' if silent else ''}.")


def _louder(story: Story, plan: DynamicPlan) -> Iterator[str]:
    """Which contrasting sections are a step louder than what leads to them."""
    places = [here.onset_quarter for before, here in pairwise(story.sections) if here.contrast
              and plan.step_at(here.onset_quarter) > plan.step_at(before.onset_quarter)]
    bars = [story.chorus.bar_at(place) for place in places[:1]]
    if len(places) == 1:
        yield f"The contrasting section from {_numbered(bars[0].number, bars[0].pass_number)} on " \
              "is a step louder."
    elif places:
        yield "The contrasting sections are a step louder, the first from " \
              f"{_numbered(bars[0].number, bars[0].pass_number)} on."
