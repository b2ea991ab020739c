"""A gap in its surroundings: a bar before to a bar after, as a small arrangement.

An option has to be seen and heard at once, so it is not put into the whole chorus first:
the bars around its gap are cut out, moved to zero, and arranged by themselves.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

from fillwright.arranging.assemble import Loom
from fillwright.arranging.model import Arrangement, Options
from fillwright.exact import Fraction
from fillwright.fills.model import Fill, HeldEnd, Shift
from fillwright.hands.model import HandNote
from fillwright.tune.extend import second_chorus_quarter
from fillwright.tune.model import ChordSpan, Chorus, ChorusBar, Gap, SoundingNote

__all__ = ["Window", "cut_bars", "moved", "staff_of", "window_of"]

T = TypeVar("T")

_PLACES = frozenset({"onset_quarter", "until_quarter", "landing_quarter", "back_quarter"})
_MOVED = (ChordSpan, ChorusBar, Fill, Gap, HandNote, HeldEnd, Shift, SoundingNote)


@dataclass(frozen=True, slots=True)
class Window:
    """An arrangement of the bars around a gap: from the bar before to the bar after, or a
    little more where another fill begins earlier or ends later, or a melody note is held from
    before.

    start_quarter    where it begins in the chorus; its own times count from there
    gap              the gap, in its own times
    end_quarter      where the gap's fill ends, in its own times: the landing as it is played
    until_quarter    the end of the bar after
    """

    arrangement: Arrangement
    start_quarter: Fraction
    gap: Gap
    end_quarter: Fraction
    until_quarter: Fraction


def moved(value: T, by_quarter: Fraction) -> T:
    """The same value so much later, everything inside it too. An idea has times of its own."""
    if isinstance(value, tuple):
        return tuple(moved(item, by_quarter) for item in value)  # type: ignore[return-value]
    if not isinstance(value, _MOVED) or not is_dataclass(value):
        return value
    changes: dict[str, Any] = {}
    for entry in fields(value):
        old = getattr(value, entry.name)
        if entry.name in _PLACES:
            changes[entry.name] = old + by_quarter
        elif entry.name == "counted":
            changes[entry.name] = tuple((place + by_quarter, word) for place, word in old)
        elif isinstance(old, (tuple, *_MOVED)) and entry.name != "idea":
            changes[entry.name] = moved(old, by_quarter)
    return replace(value, **changes)


def window_of(chorus: Chorus, gaps: tuple[Gap, ...], number: int, fill: Fill | None,
              options: Options, near: Sequence[Fill] = (), own: Collection[int] = ()) -> Window:
    """Arrange the bars around gap `number` with a fill in it, or with the gap open.

    near   fills of other gaps; those that sound in these bars are played
    own    gaps whose fill has notes of the user's own
    """
    gap = gaps[number - 1]
    end = gap.end_quarter if fill is None else _back(fill, gap)
    first = _bar_index(chorus, gap.onset_quarter)
    last = _bar_index(chorus, min(end, chorus.length_quarter))
    if chorus.bars[last].onset_quarter == end == chorus.length_quarter:
        last = max(first, last - 1)
    low = _struck_index(chorus, max(0, first - 1))
    until = chorus.bars[last].end_quarter
    fills = [] if fill is None else [fill]
    for other in near:
        place = gaps[other.gap - 1]
        if (place.onset_quarter < until
                and place.end_quarter > chorus.bars[low].onset_quarter):
            fills.append(other)
            low = min(low, _bar_index(chorus, place.onset_quarter))
            last = max(last, _bar_index(chorus, min(_back(other, place),
                                                    chorus.length_quarter)))
    fills.sort(key=lambda item: item.gap)
    part = cut_bars(chorus, low, last)
    start = chorus.bars[low].onset_quarter
    # Gaps are found by their number; those without a fill here do nothing.
    filled = {number, *(item.gap for item in fills)}
    numbered = tuple(moved(g, -start) if g.number in filled else g
                     for g in gaps[:max(filled)])
    done = Loom(part, numbered, ends=until >= chorus.length_quarter).assemble(
        moved(tuple(fills), -start), options, _second_quarter(chorus, options, start), own)
    if fill is not None:
        done = _as_offered(done, moved(fill, -start))
    landing = gap.end_quarter
    if fill is not None and fill.shift is not None:
        landing = max(landing, fill.shift.landing_quarter)
    return Window(done, start, numbered[number - 1], landing - start, until - start)


def _as_offered(arrangement: Arrangement, fill: Fill) -> Arrangement:
    """The same with the fingers the fill is offered with, not those of the few bars here."""
    others = [note for note in arrangement.notes
              if note.role != "fill" or note.gap != fill.gap]
    notes = sorted([*others, *fill.notes],
                   key=lambda note: (note.onset_quarter, note.midi, note.hand))
    fills = tuple(fill if other.gap == fill.gap else other for other in arrangement.fills)
    return replace(arrangement, notes=tuple(notes), fills=fills)


def _back(fill: Fill, gap: Gap) -> Fraction:
    """Where the melody is in place again after a fill."""
    return gap.end_quarter if fill.shift is None else max(gap.end_quarter,
                                                          fill.shift.back_quarter)


def _second_quarter(chorus: Chorus, options: Options, start_quarter: Fraction
                    ) -> Fraction | None:
    """Where the second time through begins, counted from `start_quarter`."""
    if options.choruses != 2:
        return None
    return max(second_chorus_quarter(chorus) - start_quarter, Fraction(0))


def cut_bars(chorus: Chorus, low: int, high: int, end_quarter: Fraction | None = None) -> Chorus:
    """Bars `low` to `high` of a chorus as a chorus of its own, which begins at zero.

    end_quarter   cuts the last bar short there, in times of `chorus`
    """
    bars = chorus.bars[low:high + 1]
    start = bars[0].onset_quarter
    end = bars[-1].end_quarter if end_quarter is None else end_quarter
    bars = (*bars[:-1], replace(bars[-1], length_quarter=end - bars[-1].onset_quarter))
    melody = tuple(
        replace(note, duration_quarter=min(note.end_quarter, end) - note.onset_quarter)
        for note in chorus.melody if start <= note.onset_quarter < end)
    spans, harmonies = [], []
    for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True):
        first, last = max(span.onset_quarter, start), min(span.end_quarter, end)
        if first < last:
            spans.append(replace(span, onset_quarter=first, duration_quarter=last - first))
            harmonies.append(harmony)
    return replace(chorus, bars=moved(bars, -start), melody=moved(melody, -start),
                   chords=moved(tuple(spans), -start), harmonies=tuple(harmonies),
                   length_quarter=end - start)


def _struck_index(chorus: Chorus, low: int) -> int:
    """The bar itself, or the one before where a melody note is held from there: what is held
    would be a rest."""
    start = chorus.bars[low].onset_quarter
    is_held = any(note.onset_quarter < start < note.end_quarter for note in chorus.melody)
    return low - 1 if low and is_held else low


def _bar_index(chorus: Chorus, place_quarter: Fraction) -> int:
    found = 0
    for index, bar in enumerate(chorus.bars):
        if bar.onset_quarter > place_quarter:
            break
        found = index
    return found


def staff_of(window: Window) -> tuple[Arrangement, dict[int, int]]:
    """What is engraved of a window: the bars of the gap and its landing, cut after it.

    Returns the arrangement and, for each of its notes, the index of that note in the
    window's arrangement.
    """
    whole = window.arrangement
    chorus = whole.chorus
    low = _bar_index(chorus, window.gap.onset_quarter)
    high = _bar_index(chorus, window.end_quarter)
    bar = chorus.bars[high]
    end = bar.end_quarter
    if window.gap.landing is None or (high > low and bar.onset_quarter >= window.end_quarter
                                      and window.end_quarter >= chorus.length_quarter):
        high = _bar_index(chorus, window.end_quarter - Fraction(1, 64))
        end = chorus.bars[high].end_quarter
    elif high > low:
        beat = bar.meter.beat_quarter
        inside = window.end_quarter - bar.onset_quarter
        end = min(end, bar.onset_quarter + (inside // beat + 1) * beat)
    part = cut_bars(chorus, low, high, end)
    start = chorus.bars[low].onset_quarter
    notes: list[HandNote] = []
    origin: dict[int, int] = {}
    for index, note in enumerate(whole.notes):
        if start <= note.onset_quarter < end:
            origin[len(notes)] = index
            notes.append(moved(replace(
                note, duration_quarter=min(note.end_quarter, end) - note.onset_quarter), -start))
    spans = tuple(moved(replace(
        span, duration_quarter=min(span.end_quarter, end) - span.onset_quarter), -start)
        for span in whole.chords if start <= span.onset_quarter < end)
    carried = tuple(span for span in part.chords if span.onset_quarter == 0
                    and not any(own.onset_quarter == 0 for own in spans))
    gaps, fills = (moved(window.gap, -start),), moved(whole.fills, -start)
    return Arrangement(part, whole.options, gaps, fills, tuple(notes),
                       (*carried, *spans)), origin
