"""One fill a gap, and the whole chorus around them.

The fills are chosen first, the texture between them adapts to them, and both hands are fingered
from the first note to the last.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from types import MappingProxyType

from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.choose import choose_fills
from fillwright.arranging.ending import grounded
from fillwright.arranging.fingers import fingered
from fillwright.arranging.merit import STRAINED, Wishes
from fillwright.arranging.model import Arrangement, Options
from fillwright.arranging.story import (
    fuller_at_the_end,
    last_section_quarter,
    story_of,
    told,
)
from fillwright.arranging.texture import Between, held_note, stretch_notes
from fillwright.arranging.textures import base_plan
from fillwright.exact import Fraction
from fillwright.fills.landing import shifted_melody
from fillwright.fills.model import Fill
from fillwright.fills.player import level_of, player_of
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.tune.extend import second_chorus_quarter
from fillwright.tune.model import Chorus, Gap, SoundingNote

__all__ = ["assemble", "complete"]

_REPAIRS = 3
"""How often fills that cannot be reached are left out and the chorus is built anew."""

_LIFTS = (0, 1, 2, 3)
"""How much more the gaps of a chorus are asked to rise, until its last third is fuller than its
first."""

_STRAINS = (1, 2, 3, 5, 7, 9, 15, 27)
"""How much easy fills are preferred, one after the other, until the whole chorus lies within
its level: a passage may be too hard though each of its fills is not."""

_NONE_OWN: Mapping[int, Fill] = MappingProxyType({})


def complete(chorus: Chorus, gaps: tuple[Gap, ...], offered: Mapping[int, Sequence[Fill]],
             picked: Mapping[int, Fill | None], options: Options,
             own: Mapping[int, Fill] = _NONE_OWN) -> Arrangement:
    """Choose one fill a gap and build the chorus; what the hands cannot reach in it is left
    out.

    offered   gap number -> fills, each family best first
    picked    gap number -> the user's choice; None leaves that gap open
    own       gap number -> that choice with the user's own notes in it: the other gaps are
              filled as they would be without these notes, then the chorus is built with them
    """
    story = story_of(chorus, gaps, options.same_each_time)
    best: tuple[tuple[int, bool], Arrangement, tuple[Fill, ...], Fraction | None] | None = None
    tried: set[tuple[tuple[str, ...], Fraction | None]] = set()
    for wishes, fuller_quarter in _tries(chorus, options):
        if wishes.strain and best is not None and best[0][0] == 0:
            break  # easy enough: nothing is to be gained
        chosen = choose_fills(chorus, gaps, offered, picked, story, wishes)
        same = tuple(fill.id for fill in chosen), fuller_quarter
        if same in tried:
            continue
        tried.add(same)
        grounds = _grounds(chorus, gaps, chosen, picked, options) if (
            wishes.strain < STRAINED) else iter((chosen,))
        arrangement, chosen = _repaired(chorus, gaps, grounds, picked, options, fuller_quarter)
        hard = difficulty(arrangement.notes, options.hand, chorus.seconds_per_quarter,
                          chorus.meter.beat_quarter).total
        faults = max(hard - wishes.limit, 0), not fuller_at_the_end(arrangement)
        if best is None or faults < best[0]:
            best = faults, arrangement, chosen, fuller_quarter
        if not any(faults):
            break
    assert best is not None
    _, arrangement, chosen, fuller_quarter = best
    if own:
        arrangement = assemble(chorus, gaps, tuple(own.get(fill.gap, fill) for fill in chosen),
                               options, fuller_quarter, own)
    return replace(arrangement, story=told(story, arrangement))


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
    base = Wishes(mix=dict(options.mix) or Wishes().mix, limit=level.difficulty[1],
                  same_each_time=options.same_each_time)
    yield base, second
    for lift in _LIFTS:
        yield replace(base, lift=lift), fuller
    # No fuller than the level allows: a second chorus as thin as the first comes last.
    for place in dict.fromkeys((second, None)):
        for strain in _STRAINS:
            yield replace(base, strain=strain), place


def _repaired(chorus: Chorus, gaps: tuple[Gap, ...], grounds: Iterator[tuple[Fill, ...]],
              picked: Mapping[int, Fill | None], options: Options,
              second: Fraction | None) -> tuple[Arrangement, tuple[Fill, ...]]:
    """The chorus with the chosen fills but those the hands cannot reach in it, the last one on a
    low root if it can be; and these fills."""
    for ground in grounds:
        arrangement = assemble(chorus, gaps, ground, options, second)
        unplayable = _unplayable(arrangement, frozenset(picked))
        if not ground or ground[-1].gap not in unplayable:
            break  # else another ground, at last none
    for _ in range(_REPAIRS):
        if not unplayable:
            break
        ground = tuple(f for f in ground if f.gap not in unplayable)
        arrangement = assemble(chorus, gaps, ground, options, second)
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


def _unplayable(arrangement: Arrangement, picked: frozenset[int]) -> frozenset[int]:
    """Gaps whose fill the hands cannot get into or out of; a picked fill is not argued with.

    A fill is proposed by itself; only in the chorus is it known what comes before it.
    """
    places = [f.onset_quarter for f in audit_arrangement(arrangement).findings]
    return frozenset(
        fill.gap for fill in arrangement.fills if fill.gap not in picked and any(
            arrangement.gaps[fill.gap - 1].onset_quarter <= place
            <= arrangement.gaps[fill.gap - 1].end_quarter for place in places))


def assemble(chorus: Chorus, gaps: tuple[Gap, ...], fills: tuple[Fill, ...], options: Options,
             second_quarter: Fraction | None = None, own: Collection[int] = ()) -> Arrangement:
    """A chorus with the given fills and a base texture between them.

    second_quarter   where the second time through begins, from where the texture is fuller
    own              gaps whose fill has notes of the user's own: what no hand can play there is
                     seen and heard as well, without fingers
    """
    fills = _parted(gaps, fills)
    by_gap = {fill.gap: fill for fill in fills}
    melody = _played_melody(chorus, gaps, fills)
    plan = base_plan(chorus, player_of(options.level, options.hand), second_quarter)
    notes: list[HandNote] = [note for fill in fills for note in fill.notes]
    before: Fill | None = None
    start, first = Fraction(0), 0  # where the stretch begins, in time and in the melody
    for gap in gaps:
        fill = by_gap.get(gap.number)
        if fill is None:
            continue
        place = first if gap.held is None else _index_at(chorus, gap.onset_quarter)
        notes += stretch_notes(plan, Between(start, gap.onset_quarter, melody[first:place],
                                             before, fill, gap.held))
        if gap.held is not None:
            notes.append(held_note(fill, gap.held))
            first = place + 1
        before = fill
        start = gap.end_quarter
        if fill.shift is not None:  # the left hand of the fill stays on time until then
            start = max(start, fill.shift.landing_quarter)
    notes += stretch_notes(plan, Between(start, chorus.length_quarter, melody[first:], before))
    notes.sort(key=lambda n: (n.onset_quarter, n.midi, n.hand))
    played = fingered(notes, options.hand, chorus.seconds_per_quarter, own)
    fills = tuple(_with_fingers(fill, gaps[fill.gap - 1], played) for fill in fills)
    spans = list(chorus.chords) + [c for fill in fills for c in fill.chords if c.added]
    spans.sort(key=lambda c: (c.onset_quarter, c.added))
    return Arrangement(chorus, options, gaps, fills, played, tuple(spans),
                       chorus.warnings)


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


def _with_fingers(fill: Fill, gap: Gap, notes: Sequence[HandNote]) -> Fill:
    """The fill with the fingers it has in the whole chorus."""
    held = None if gap.held is None else next(
        n.finger for n in notes
        if n.role == "melody" and n.onset_quarter == gap.onset_quarter)
    return replace(fill, notes=tuple(n for n in notes if n.gap == fill.gap),
                   melody_finger=held)


def _index_at(chorus: Chorus, onset_quarter: Fraction) -> int:
    """Index of the melody note that begins there."""
    return next(i for i, n in enumerate(chorus.melody) if n.onset_quarter == onset_quarter)


def _played_melody(chorus: Chorus, gaps: Sequence[Gap], fills: Sequence[Fill]
                   ) -> tuple[SoundingNote, ...]:
    """The melody with early and late landings carried out; same notes, same order."""
    melody = chorus.melody
    for fill in fills:
        if fill.shift is not None:
            melody = shifted_melody(melody, gaps[fill.gap - 1].end_quarter, fill.shift)
    return melody
