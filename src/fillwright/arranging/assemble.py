"""One fill a gap, and the whole chorus around them.

The fills are chosen first, the texture between them adapts to them, and both hands are fingered
from the first note to the last.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import OrderedDict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest

from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.choose import choose_fills
from fillwright.arranging.ending import grounded
from fillwright.arranging.fingers import fingered
from fillwright.arranging.merit import STRAINED, Wishes
from fillwright.arranging.model import OPEN, Arrangement, Chosen, Decided, Options
from fillwright.arranging.story import (
    Story,
    fuller_at_the_end,
    last_section_quarter,
    told,
)
from fillwright.arranging.texture import Between, held_note, stretch_notes
from fillwright.arranging.textures import BasePlan, base_plan
from fillwright.exact import Fraction
from fillwright.fills.landing import shifted_melody
from fillwright.fills.model import Fill
from fillwright.fills.player import level_of, player_of
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.tune.extend import second_chorus_quarter
from fillwright.tune.model import Chorus, Gap, SoundingNote

__all__ = ["Loom", "assemble", "complete", "first_choice", "wishes_of"]

_REPAIRS = 3
"""How often fills that cannot be reached are left out and the chorus is built anew."""

_LIFTS = (0, 1, 2, 3)
"""How much more the gaps of a chorus are asked to rise, until its last third is fuller than its
first."""

_STRAINS = (1, 2, 3, 5, 7, 9, 15, 27)
"""How much easy fills are preferred, one after the other, until the whole chorus lies within
its level: a passage may be too hard though each of its fills is not."""

_KNOWN_STRETCHES = 4000
"""What a loom remembers: a chorus of 150 gaps, chosen for some 25 times."""


def complete(story: Story, offered: Mapping[int, Sequence[Fill]], decided: Decided,
             options: Options, loom: Loom | None = None) -> Arrangement:
    """Choose one fill a gap and build the chorus; what the hands cannot reach in it is left
    out.

    story     of the chorus, with its gaps
    offered   gap number -> fills, each family best first; of gaps that are decided none
    decided   what the user chose, and what the program keeps. Own notes in a choice change
              nothing else: the other gaps are filled as they would be without them, then the
              chorus is built with them
    loom      of this chorus; what it made before is not made again
    """
    task = _Whole(story, offered, decided, options)
    loom = loom or Loom(story.chorus, story.gaps)
    arrangement, chosen, plan = (_chosen if decided.plan is None else _as_kept)(task, loom)
    if decided.own:
        arrangement = loom.assemble(tuple(decided.own.get(fill.gap, fill) for fill in chosen),
                                    options, plan.fuller_quarter, decided.own)
    found = {fill.gap: fill.id for fill in arrangement.fills}
    kept = tuple((gap.number, found.get(gap.number, OPEN)) for gap in story.gaps
                 if gap.number not in decided.picked)
    return replace(arrangement, story=told(story, arrangement), kept=replace(plan, fills=kept))


def first_choice(story: Story, offered: Mapping[int, Sequence[Fill]], decided: Decided,
                 options: Options) -> tuple[Fill, ...]:
    """What would be chosen of these options before the whole is heard; as in `complete`."""
    return _Whole(story, offered, decided, options).choose(
        wishes_of(options), {**decided.kept, **decided.picked})


class _Whole:
    """A chorus to be chosen for: what is the same for every try."""

    def __init__(self, story: Story, offered: Mapping[int, Sequence[Fill]], decided: Decided,
                 options: Options) -> None:
        self.story, self.chorus, self.gaps = story, story.chorus, story.gaps
        self.offered, self.decided, self.options = offered, decided, options
        self._lost: set[str] = set()

    def choose(self, wishes: Wishes, fixed: Mapping[int, Fill | None]) -> tuple[Fill, ...]:
        offered = self.offered
        if self._lost:
            offered = {number: [fill for fill in fills if fill.id not in self._lost]
                       for number, fills in offered.items()}
        return choose_fills(self.story, offered, fixed, wishes)

    def has_lost(self, chosen: Sequence[Fill], left: Sequence[Fill]) -> bool:
        """Notes which of the chosen fills the hands could not reach in the whole: they are not
        chosen again, so that another one stands there."""
        gaps = {fill.gap for fill in left}
        lost = {fill.id for fill in chosen if fill.gap not in gaps} - self._lost
        self._lost |= lost
        return bool(lost)


def _chosen(task: _Whole, loom: Loom) -> tuple[Arrangement, tuple[Fill, ...], Chosen]:
    """The program's own choice: the arrangement, its fills, and how it was set."""
    chorus, options = task.chorus, task.options
    best: tuple[tuple[int, bool], Arrangement, tuple[Fill, ...], Chosen] | None = None
    tried: set[tuple[tuple[str, ...], Fraction | None]] = set()
    for wishes, fuller_quarter in _tries(chorus, options):
        if wishes.strain and best is not None and best[0][0] == 0:
            break  # easy enough: nothing is to be gained
        plan = Chosen((), fuller_quarter, wishes.strain >= STRAINED)
        found = _reached(task, loom, wishes, plan, tried)
        if found is None:
            continue
        arrangement, chosen = found
        hard = difficulty(arrangement.notes, options.hand, chorus.seconds_per_quarter,
                          chorus.meter.beat_quarter).total
        faults = max(hard - wishes.limit, 0), not fuller_at_the_end(arrangement)
        if best is None or faults < best[0]:
            best = faults, arrangement, chosen, plan
        if not any(faults):
            break
    assert best is not None
    return best[1:]


def _reached(task: _Whole, loom: Loom, wishes: Wishes, plan: Chosen,
             tried: set[tuple[tuple[str, ...], Fraction | None]]
             ) -> tuple[Arrangement, tuple[Fill, ...]] | None:
    """The choice for these wishes; where the hands cannot reach a fill in the whole, others are
    chosen. None where all that comes of it was tried before."""
    found = None
    for _ in range(_REPAIRS):
        wanted = task.choose(wishes, task.decided.picked)
        same = tuple(fill.id for fill in wanted), plan.fuller_quarter
        if same in tried:
            break
        tried.add(same)
        found = _repaired(task, loom, wanted, plan)
        if not task.has_lost(wanted, found[1]):
            break
    return found


def _as_kept(task: _Whole, loom: Loom) -> tuple[Arrangement, tuple[Fill, ...], Chosen]:
    """What was chosen before, around the user's choices; gaps that have nothing are filled to
    fit in with it."""
    decided = task.decided
    assert decided.plan is not None
    fixed = {**decided.kept, **decided.picked}
    if any(gap.number not in fixed for gap in task.gaps):
        chosen = task.choose(wishes_of(task.options), fixed)
    else:
        chosen = tuple(fill for _, fill in sorted(fixed.items()) if fill is not None)
    return *_repaired(task, loom, chosen, decided.plan), decided.plan


def wishes_of(options: Options) -> Wishes:
    """What a choice is asked for at first."""
    return Wishes(mix=dict(options.mix) or Wishes().mix,
                  limit=level_of(options.level).difficulty[1],
                  same_each_time=options.same_each_time)


def _tries(chorus: Chorus, options: Options) -> Iterator[tuple[Wishes, Fraction | None]]:
    """What a choice is asked for, one after the other, until the chorus lies within its level and
    its last third is fuller than its first.

    With each the place from which the texture between the fills is fuller: a second chorus, or
    the last section.
    """
    second = second_chorus_quarter(chorus) if options.choruses == 2 else None
    # A beginner plays the melody alone: only the fills grow.
    level = level_of(options.level)
    fuller = second if second is not None or not level.base.under else (
        last_section_quarter(chorus))
    base = wishes_of(options)
    for lift in _LIFTS:
        yield replace(base, lift=lift), fuller
    # No fuller than the level allows: a second chorus as thin as the first comes last.
    for place in dict.fromkeys((second, None)):
        for strain in _STRAINS:
            yield replace(base, strain=strain), place


def _repaired(task: _Whole, loom: Loom, chosen: tuple[Fill, ...], plan: Chosen
              ) -> tuple[Arrangement, tuple[Fill, ...]]:
    """The chorus with the chosen fills but those the hands cannot reach in it, the last one on a
    low root if it can be; and these fills."""
    picked = task.decided.picked
    for ground in _grounds(task.chorus, task.gaps, chosen, picked, task.options):
        if plan.strained and ground is not chosen and _is_harder(ground[-1], chosen[-1], task):
            continue
        arrangement = loom.assemble(ground, task.options, plan.fuller_quarter,
                                    task.decided.own)
        unplayable = _unplayable(arrangement, frozenset(picked))
        if not ground or ground[-1].gap not in unplayable:
            break  # else another ground, at last none
    for _ in range(_REPAIRS):
        if not unplayable:
            break
        ground = tuple(f for f in ground if f.gap not in unplayable)
        arrangement = loom.assemble(ground, task.options, plan.fuller_quarter,
                                    task.decided.own)
        unplayable = _unplayable(arrangement, frozenset(picked))
    return arrangement, ground


def _grounds(chorus: Chorus, gaps: tuple[Gap, ...], chosen: tuple[Fill, ...],
             picked: Mapping[int, Fill | None], options: Options) -> Iterator[tuple[Fill, ...]]:
    """The chosen fills with the last one on a low root, in several ways; at last as they are."""
    if chosen and chosen[-1].gap not in picked:
        last = chosen[-1]
        for fill in grounded(last, gaps[last.gap - 1], chorus, options.hand):
            yield (*chosen[:-1], fill)
    yield chosen


def _is_harder(ground: Fill, fill: Fill, task: _Whole) -> bool:
    """Whether a fill on a low root is harder than without it."""
    one, other = (difficulty(each.notes, task.options.hand, task.chorus.seconds_per_quarter,
                             task.chorus.meter.beat_quarter).total for each in (ground, fill))
    return one > other


def _unplayable(arrangement: Arrangement, picked: frozenset[int]) -> frozenset[int]:
    """Gaps whose fill the hands cannot get into or out of; a picked fill is not argued with.

    A fill is proposed by itself; only in the chorus is it known what comes before it.
    """
    places = sorted(f.onset_quarter for f in audit_arrangement(arrangement).findings)
    return frozenset(
        fill.gap for fill in arrangement.fills
        for gap in (arrangement.gaps[fill.gap - 1],) if fill.gap not in picked
        and bisect_left(places, gap.onset_quarter) < bisect_right(places, gap.end_quarter))


def assemble(chorus: Chorus, gaps: tuple[Gap, ...], fills: tuple[Fill, ...], options: Options,
             second_quarter: Fraction | None = None, own: Collection[int] = ()) -> Arrangement:
    """A chorus with the given fills and a base texture between them.

    second_quarter   where the second time through begins, from where the texture is fuller
    own              gaps whose fill has notes of the user's own: what no hand can play there is
                     seen and heard as well, without fingers
    """
    return Loom(chorus, gaps).assemble(fills, options, second_quarter, own)


class Loom:
    """A chorus to be built with one choice of fills after the other, all for one level and hand.
    What lies between the same two fills is made once.

    ends   whether the music ends with the chorus; not bars that were cut out of one
    """

    def __init__(self, chorus: Chorus, gaps: tuple[Gap, ...], ends: bool = True) -> None:
        self.chorus, self.gaps, self._ends = chorus, gaps, ends
        self._place = {note.onset_quarter: i for i, note in enumerate(chorus.melody)}
        self._plans: dict[Fraction | None, BasePlan] = {}
        # The fills are told apart by identity, and held so that they keep it.
        self._known: OrderedDict[tuple[object, ...], tuple[Between, list[HandNote]]] = (
            OrderedDict())

    def assemble(self, fills: tuple[Fill, ...], options: Options,
                 second_quarter: Fraction | None = None, own: Collection[int] = ()
                 ) -> Arrangement:
        """As the function of that name."""
        chorus, gaps = self.chorus, self.gaps
        fills = _parted(gaps, fills)
        melody = _played_melody(chorus, gaps, fills)
        notes: list[HandNote] = [note for fill in fills for note in fill.notes]
        before: Fill | None = None
        start, first = Fraction(0), 0  # where the stretch begins, in time and in the melody
        for fill in fills:
            gap = gaps[fill.gap - 1]
            place = first if gap.held is None else self._place[gap.onset_quarter]
            notes += self._stretch(options, second_quarter, Between(
                start, gap.onset_quarter, melody[first:place], before, fill, gap.held))
            if gap.held is not None:
                notes.append(held_note(fill, gap.held))
                first = place + 1
            before = fill
            start = gap.end_quarter
            if fill.shift is not None:  # the left hand of the fill stays on time until then
                start = max(start, fill.shift.landing_quarter)
        notes += self._stretch(options, second_quarter, Between(
            start, chorus.length_quarter, melody[first:], before))
        notes.sort(key=lambda n: (n.onset_quarter, n.midi, n.hand))
        played = fingered(notes, options.hand, chorus.seconds_per_quarter, own)
        spans = list(chorus.chords) + [c for fill in fills for c in fill.chords if c.added]
        spans.sort(key=lambda c: (c.onset_quarter, c.added))
        return Arrangement(chorus, options, gaps, _with_fingers(fills, gaps, played), played,
                           tuple(spans), chorus.warnings)

    def _stretch(self, options: Options, second_quarter: Fraction | None, between: Between
                 ) -> list[HandNote]:
        key = (second_quarter, between.onset_quarter, between.end_quarter, between.melody,
               id(between.before), id(between.after))
        if key not in self._known:
            if second_quarter not in self._plans:
                self._plans[second_quarter] = base_plan(
                    self.chorus, player_of(options.level, options.hand), second_quarter,
                    self._ends)
            self._known[key] = between, stretch_notes(self._plans[second_quarter], between)
            while len(self._known) > _KNOWN_STRETCHES:
                self._known.popitem(last=False)
        return self._known[key][1]


def _parted(gaps: Sequence[Gap], fills: Sequence[Fill]) -> tuple[Fill, ...]:
    """Fills whose left hand ends where the next one begins.

    The choice of fills avoids such neighbours; the user's picks may still make them.
    """
    parted: list[Fill] = []
    for fill, after in zip_longest(fills, fills[1:]):
        end = gaps[fill.gap - 1].end_quarter
        room = None if after is None else gaps[after.gap - 1].onset_quarter - end
        if room is not None and fill.over_quarter > room:
            notes = tuple(replace(n, duration_quarter=min(n.end_quarter, end + room)
                                  - n.onset_quarter) for n in fill.notes)
            fill = replace(fill, notes=notes, over_quarter=room)
        parted.append(fill)
    return tuple(parted)


def _with_fingers(fills: Sequence[Fill], gaps: Sequence[Gap], notes: Sequence[HandNote]
                  ) -> tuple[Fill, ...]:
    """The fills with the fingers they have in the whole chorus."""
    own: dict[int | None, list[HandNote]] = {}
    held: dict[Fraction, int | None] = {}
    for note in notes:
        own.setdefault(note.gap, []).append(note)
        if note.role == "melody":
            held.setdefault(note.onset_quarter, note.finger)
    return tuple(replace(fill, notes=tuple(own.get(fill.gap, ())), melody_finger=(
        None if gaps[fill.gap - 1].held is None else held[gaps[fill.gap - 1].onset_quarter]))
        for fill in fills)


def _played_melody(chorus: Chorus, gaps: Sequence[Gap], fills: Sequence[Fill]
                   ) -> tuple[SoundingNote, ...]:
    """The melody with early and late landings carried out; same notes, same order."""
    melody = chorus.melody
    for fill in fills:
        if fill.shift is not None:
            melody = shifted_melody(melody, gaps[fill.gap - 1].end_quarter, fill.shift)
    return melody
