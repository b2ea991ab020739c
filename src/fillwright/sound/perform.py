"""From an arrangement to a performance: written music in, played music out.

>>> from fillwright.sound import perform
>>> perform.__name__
'perform'

Rolled chords go upwards in steps of at most 30 ms. Where the top is the melody it arrives on
its place and the lower keys come before it; otherwise the lowest key is on the place.
Keys struck with a melody note by the same hand sound a few milliseconds after it: pianists
play the top first and the inner notes last (Repp, JASA 100, 1996; Goebl, JASA 110, 2001).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from math import inf

from fillwright.arranging.articulation import touch_of
from fillwright.arranging.dynamics import plan_dynamics
from fillwright.arranging.model import Arrangement
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.given import a, given_number
from fillwright.sound.model import Marker, PedalEvent, Performance, PlayedBar, PlayedNote
from fillwright.sound.pedal import pedalling
from fillwright.sound.timemap import TimeMap
from fillwright.sound.touch import KeyStroke, strokes_of, velocities
from fillwright.theory.chord import ChordSymbol, default_suffix
from fillwright.tune.model import Chorus

__all__ = ["perform"]

ROLL_STEP_SEC = 0.03        # common practice: quick enough to be one chord
ROLL_SHARE = 0.25           # of a beat at most, for the whole roll
INNER_LAG_SEC = 0.006       # a just noticeable displacement (Friberg & Sundberg 1995: 6 ms)
RESTRIKE_SEC = 0.025        # a key is up this long before it is struck again
BRIEFEST_SEC = 0.03         # no key is held for less


def perform(arrangement: Arrangement, start_quarter: Fraction | None = None,
            end_quarter: Fraction | None = None) -> Performance:
    """Play an arrangement, or what is struck in a stretch of it.

    An excerpt starts at zero at `start_quarter`; keys struck before are left out, keys and
    pedal still down at `end_quarter` come up there. Raises InputError for what is no
    arrangement, and for an empty stretch.
    """
    if not isinstance(arrangement, Arrangement):
        raise InputError(f"an Arrangement is performed, not {a(arrangement)}; play(thing) plays a "
                         "tune, a chorus or a fill")
    start, end = _stretch(arrangement.chorus, start_quarter, end_quarter)
    chorus = arrangement.chorus
    time_map = TimeMap(chorus, ((n.hand, n.onset_quarter) for n in arrangement.notes))
    touch = touch_of(arrangement)
    strokes = strokes_of(arrangement, time_map, touch)
    _roll(strokes, chorus.seconds_per_quarter * float(chorus.meter.beat_quarter))
    _voice(strokes)
    _release_before_restrike(strokes)
    weights = velocities(strokes, time_map, plan_dynamics(arrangement), touch)
    notes = [PlayedNote(s.onset_sec, s.release_sec - s.onset_sec, s.note.midi, weight,
                        s.note.hand, s.index)
             for s, weight in zip(strokes, weights, strict=True)]
    whole = Performance(
        title=chorus.tune.title,
        notes=_in_order(notes),
        pedals=pedalling(arrangement, strokes, time_map),
        markers=_markers(arrangement, time_map, start, end),
        bars=_bars(chorus, time_map, start, end),
        quarters_per_minute=float(chorus.quarters_per_minute),
        length_sec=time_map.steady_sec(end - start),
    )
    if start == 0 and end_quarter is None:
        return whole
    struck = {index for index, note in enumerate(arrangement.notes)
              if start <= note.onset_quarter < end}
    return _excerpt(whole, struck, time_map.steady_sec(start))


def _stretch(chorus: Chorus, start_quarter: Fraction | None, end_quarter: Fraction | None
             ) -> tuple[Fraction, Fraction]:
    """From where to where it is played. Raises InputError where that is nothing."""
    start, end = Fraction(0), chorus.length_quarter
    if start_quarter is not None:
        start = max(start, given_number(start_quarter, "where the stretch starts, in quarters,"))
    if end_quarter is not None:
        end = given_number(end_quarter, "where the stretch ends, in quarters,")
    if end <= start:
        raise InputError(f"nothing is played from quarter {start} to quarter {end}")
    return start, end


def _in_order(notes: Iterable[PlayedNote]) -> tuple[PlayedNote, ...]:
    return tuple(sorted(notes, key=lambda note: (note.onset_sec, note.midi, note.index)))


def _markers(arrangement: Arrangement, time_map: TimeMap, start: Fraction,
             end: Fraction) -> tuple[Marker, ...]:
    """Symbols from `start` to `end`; the one already sounding at `start` is put there."""
    spans = sorted(arrangement.chords, key=lambda span: (span.onset_quarter, span.added))
    inside = [span for span in spans if start <= span.onset_quarter < end]
    before = [span for span in spans if span.onset_quarter < start < span.end_quarter]
    if before and not any(span.onset_quarter == start for span in inside):
        inside.insert(0, before[-1])
    zero = time_map.steady_sec(start)
    return tuple(Marker(max(0.0, time_map.place_sec(span.onset_quarter) - zero),
                        marker_text(span.symbol)) for span in inside)


def _bars(chorus: Chorus, time_map: TimeMap, start: Fraction,
          end: Fraction) -> tuple[PlayedBar, ...]:
    bars = []
    for bar in chorus.bars:
        low, high = max(bar.onset_quarter, start), min(bar.end_quarter, end)
        if low < high:
            bars.append(PlayedBar(time_map.steady_sec(low - start),
                                  time_map.steady_sec(high - low), high - low, bar.meter,
                                  bar.key, bar.number, bar.is_pickup or low > bar.onset_quarter))
    return tuple(bars)


def marker_text(symbol: ChordSymbol) -> str:
    """A chord symbol in ASCII, as sequencers expect their markers.

    >>> marker_text(ChordSymbol.of("Bb", "half-diminished"))
    'Bbm7b5'
    """
    if str(symbol).isascii():
        return str(symbol)
    return str(replace(symbol, suffix=default_suffix(symbol.kind, symbol.degrees)))


def _roll(strokes: list[KeyStroke], beat_sec: float) -> None:
    chords: dict[Fraction, list[KeyStroke]] = {}
    for stroke in strokes:
        if stroke.note.rolled:
            chords.setdefault(stroke.note.onset_quarter, []).append(stroke)
    for quarter, chord in sorted(chords.items()):
        chord.sort(key=lambda stroke: (stroke.note.midi, stroke.index))
        steps = len(chord) - 1
        if steps == 0:
            continue
        step = min(ROLL_STEP_SEC, ROLL_SHARE * beat_sec / steps)
        first, last = chord[0].onset_sec, max(stroke.onset_sec for stroke in chord)
        if chord[-1].note.role == "melody":
            before = max((stroke.onset_sec + BRIEFEST_SEC for stroke in strokes
                          if stroke.note.onset_quarter < quarter), default=0.0)
            step = min(step, max(0.0, last - before) / steps)
            first = last - step * steps
        else:
            after = min((stroke.onset_sec for stroke in strokes
                         if stroke.note.onset_quarter > quarter), default=first + beat_sec)
            step = min(step, (after - first) / 2 / steps)
        for place, stroke in enumerate(chord):
            stroke.onset_sec = first + place * step


def _voice(strokes: list[KeyStroke]) -> None:
    leading = {stroke.note.onset_quarter for stroke in strokes
               if stroke.note.role == "melody" and not stroke.note.rolled}
    right = sorted((stroke for stroke in strokes if stroke.note.hand == "right"),
                   key=lambda stroke: stroke.note.onset_quarter, reverse=True)
    here, first_sec, later_sec = Fraction(-1), inf, inf  # place, its first key, the next place's
    for stroke in right:
        if stroke.note.onset_quarter != here:
            here, first_sec, later_sec = stroke.note.onset_quarter, inf, min(first_sec, later_sec)
        first_sec = min(first_sec, stroke.onset_sec)
        if stroke.note.role != "melody" and not stroke.note.rolled and here in leading:
            # not past what the hand plays next, however near that is
            stroke.onset_sec += min(INNER_LAG_SEC, (later_sec - stroke.onset_sec) / 2)


def _release_before_restrike(strokes: list[KeyStroke]) -> None:
    by_key: dict[int, list[KeyStroke]] = {}
    for stroke in strokes:
        stroke.release_sec = max(stroke.release_sec, stroke.onset_sec + BRIEFEST_SEC)
        by_key.setdefault(stroke.note.midi, []).append(stroke)
    for key in by_key.values():
        key.sort(key=lambda stroke: (stroke.onset_sec, stroke.index))
        for stroke, again in pairwise(key):
            room = again.onset_sec - stroke.onset_sec
            stroke.release_sec = min(stroke.release_sec,
                                     again.onset_sec - min(RESTRIKE_SEC, room / 2))
            if room <= 0:   # one key struck by both hands at once: both strokes are kept
                stroke.release_sec = stroke.onset_sec + BRIEFEST_SEC


def _excerpt(whole: Performance, struck: set[int], start_sec: float) -> Performance:
    """Keys and pedal of a whole chorus, cut to `whole.length_sec` from `start_sec`."""
    length = whole.length_sec
    notes = []
    for note in whole.notes:
        if note.index in struck:
            onset = max(0.0, note.onset_sec - start_sec)
            release = max(min(note.release_sec - start_sec, length), onset + BRIEFEST_SEC)
            notes.append(replace(note, onset_sec=onset, duration_sec=release - onset))
    pedals = []
    for down, up in whole.pedal_spans():
        down, up = max(down - start_sec, 0.0), min(up - start_sec, length)
        if up > down:
            pedals += [PedalEvent(down, True), PedalEvent(up, False)]
    return replace(whole, notes=_in_order(notes), pedals=tuple(pedals))
