"""When the damper pedal is down.

Syncopated pedalling (common practice): the foot comes up as a new harmony is struck and goes
down again just after it, so that the old chord never runs into the new one. The pedal serves
what is to be sustained: ballads, rolled chords, slow passing chords, the last chord. It stays
up through dry hits, runs and improvised lines, and while it is down it is changed as soon as a
new note comes within a whole step of one that only the pedal still holds.

What a fill says about its held note rules over all this: kept by the pedal, the pedal goes
down before the key comes up and lifts exactly where the fill says; kept by the finger or
released, no pedal lets the note sound on.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.sound.model import PedalEvent
from fillwright.sound.timemap import TimeMap
from fillwright.sound.touch import RUN_SEC, KeyStroke

__all__ = ["pedalling"]

PRESS_SEC = 0.09        # the foot goes down this long after the last key of a chord
SHORTEST_PEDAL_SEC = 0.5  # for less the foot stays up: no fluttering under a stepwise melody
LAST_RING_SEC = 0.8     # the last chord may ring this long after the keys are up
SUSTAIN_TEMPO = 100     # up to this many felt beats a minute the texture is a sustained one
SLOW_CHORD_SEC = 0.7    # passing chords at least this long are joined by the pedal
BLUR_SEMITONES = 2


@dataclass(slots=True)
class _Group:
    """All keys struck at one written onset."""

    quarter: Fraction
    strokes: list[KeyStroke]
    onset_sec: float
    last_onset_sec: float

    @property
    def end_sec(self) -> float:
        return max(stroke.written_end_sec for stroke in self.strokes)


@dataclass(slots=True)
class _PedalDown:
    """A stretch in which the pedal is down."""

    quarter: Fraction
    down_sec: float
    up_sec: float
    strokes: list[KeyStroke]
    carried: list[KeyStroke] = field(default_factory=list)     # keys still down from before
    until_quarter: Fraction | None = None   # ordered by a fill: not changed before


@dataclass(frozen=True, slots=True)
class _Order:
    """What a fill demands of the pedal, from its gap's onset on."""

    start: Fraction
    until_quarter: Fraction
    until_sec: float
    by_pedal: bool


def pedalling(arrangement: Arrangement, strokes: list[KeyStroke],
              time_map: TimeMap) -> tuple[PedalEvent, ...]:
    """The pedal of a whole chorus. `strokes` have their final onsets and releases."""
    orders = _orders(arrangement, time_map)
    by_pedal = {order.start: order for order in orders if order.by_pedal}
    barriers = sorted(order.until_sec for order in orders if not order.by_pedal)
    harmonies = sorted({span.onset_quarter for span in arrangement.chords})
    slow = float(arrangement.chorus.tempo_bpm) <= SUSTAIN_TEMPO

    groups = _groups(strokes)
    spans: list[_PedalDown] = []
    keyed: list[KeyStroke] = []
    for place, group in enumerate(groups):
        held_over = [stroke for stroke in keyed if stroke.release_sec > group.onset_sec]
        keyed = held_over + group.strokes
        order = by_pedal.get(group.quarter)
        is_last = place == len(groups) - 1
        sustained = _is_sustained(group, slow, is_last)
        span = spans[-1] if spans and group.onset_sec < spans[-1].up_sec else None
        if span is not None and order is None:
            if span.until_quarter is not None and group.quarter < span.until_quarter:
                continue
            if (sustained and span.until_quarter is None
                    and not _harmony_changes(harmonies, span.quarter, group.quarter)
                    and not _blurs(group, span)):
                span.strokes += group.strokes
                span.up_sec = _allowed(span, _end_of(span.strokes), barriers)
                continue
        if span is not None:
            span.up_sec = group.onset_sec
        if order is not None:
            spans.append(_ordered(group, order))
        elif sustained:
            span = _PedalDown(group.quarter, group.last_onset_sec + PRESS_SEC, 0.0,
                         list(group.strokes), held_over)
            ring = LAST_RING_SEC if is_last else 0.0
            span.up_sec = _allowed(span, _end_of(span.strokes) + ring, barriers)
            spans.append(span)
    return tuple(event for span in spans if _is_worth_it(span)
                 for event in (PedalEvent(span.down_sec, True), PedalEvent(span.up_sec, False)))


def _end_of(strokes: list[KeyStroke]) -> float:
    """Where the first written rest begins that the pedal would fill, else the last end."""
    rests = [stroke.written_end_sec for stroke in strokes if not stroke.moves_on]
    return min(rests, default=max(stroke.written_end_sec for stroke in strokes))


def _is_worth_it(span: _PedalDown) -> bool:
    if span.until_quarter is not None:
        return span.up_sec > span.down_sec
    return span.up_sec - span.down_sec >= SHORTEST_PEDAL_SEC


def _groups(strokes: list[KeyStroke]) -> list[_Group]:
    found: dict[Fraction, list[KeyStroke]] = {}
    for stroke in strokes:
        found.setdefault(stroke.note.onset_quarter, []).append(stroke)
    return [_Group(quarter, members, min(s.onset_sec for s in members),
                   max(s.onset_sec for s in members))
            for quarter, members in sorted(found.items())]


def _orders(arrangement: Arrangement, time_map: TimeMap) -> tuple[_Order, ...]:
    gaps = {gap.number: gap for gap in arrangement.gaps}
    return tuple(_Order(gaps[fill.gap].onset_quarter, fill.held_end.until_quarter,
                        time_map.place_sec(fill.held_end.until_quarter),
                        fill.held_end.by_pedal)
                 for fill in arrangement.fills if gaps[fill.gap].held is not None)


def _is_sustained(group: _Group, slow: bool, is_last: bool) -> bool:
    for stroke in group.strokes:
        running = stroke.kind == "melody" and stroke.moves_on and (
            stroke.written_end_sec - stroke.onset_sec < RUN_SEC)
        if stroke.kind in ("short", "line") or running:
            return False
    passing = all(stroke.family == "reharm" for stroke in group.strokes) and (
        group.end_sec - group.onset_sec >= SLOW_CHORD_SEC)
    return slow or is_last or passing or any(stroke.note.rolled for stroke in group.strokes)


def _harmony_changes(harmonies: list[Fraction], after: Fraction, until: Fraction) -> bool:
    return bisect_right(harmonies, until) > bisect_right(harmonies, after)


def _blurs(group: _Group, span: _PedalDown) -> bool:
    """Whether a new note comes within a whole step of one that only the pedal holds."""
    return any(1 <= abs(new.note.midi - old.note.midi) <= BLUR_SEMITONES
               for old in span.strokes + span.carried
               if span.down_sec <= old.release_sec <= group.onset_sec
               for new in group.strokes)


def _allowed(span: _PedalDown, up_sec: float, barriers: list[float]) -> float:
    """The pedal may not carry a note of an earlier chord past its written end, nor a held
    note past the end its fill names."""
    place = bisect_right(barriers, span.down_sec)
    ends = [stroke.written_end_sec for stroke in span.carried]
    return min([up_sec, *ends, *barriers[place:place + 1]])


def _ordered(group: _Group, order: _Order) -> _PedalDown:
    """Down once the new note sounds and before its key comes up, until the fill says."""
    held = [stroke for stroke in group.strokes if stroke.kind == "held"]
    key_up = min((stroke.release_sec for stroke in held), default=group.end_sec)
    down = min(group.last_onset_sec + PRESS_SEC, (group.last_onset_sec + key_up) / 2)
    return _PedalDown(group.quarter, down, order.until_sec, group.strokes,
                 until_quarter=order.until_quarter)
