"""The ground of an ending: the last fill of a piece stands on a low root.

A tune that ends needs its tonic low down (common practice). Where the chosen fill has none, the
left hand's last root goes down an octave or two; or a low root is struck before the last chord,
after it, in the place of the stroke before it, or alone in its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain

from fillwright.arranging.air import TWO_OCTAVES
from fillwright.exact import Fraction
from fillwright.fills.counts import count_marks
from fillwright.fills.model import Fill
from fillwright.hands.jumps import JUMP_SECONDS, jump_ok
from fillwright.hands.model import HandNote
from fillwright.hands.reach import span_ok
from fillwright.rules.sound import MUD
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.pitch import NoteName, Pitch, nearest_pitch
from fillwright.tune.model import Chorus, Gap

__all__ = ["LOW_ROOT_MIDI", "ground_of", "grounded", "stands_low"]

LOW_ROOT_MIDI = 47
"""B2: a root from here down is heard as the ground of an ending (common practice)."""

_LOWEST_MIDI = 26
"""D1: lower strings growl alone (common practice)."""

_AIM_MIDI = 36
"""C2, about which a low root lies."""


def stands_low(fill: Fill) -> bool:
    """Whether the last harmony of a fill has its root, or the bass that its symbol names, low
    down."""
    name, since = _ground(fill)
    return any(n.midi <= LOW_ROOT_MIDI and n.midi % 12 == name.pitch_class
               and n.end_quarter > since for n in fill.notes)


def ground_of(fill: Fill) -> NoteName:
    """The lowest tone that the symbol of a fill's last chord names."""
    return _ground(fill)[0]


def grounded(fill: Fill, gap: Gap, chorus: Chorus, size: str) -> Iterator[Fill]:
    """The fill of a last gap on a low root, in the ways there are, the best first; none where it
    has one, and for the fill of another gap.

    size   of the hand
    """
    if gap.landing is not None or stands_low(fill):
        return
    ways = (_lowered(fill, size), _parted(fill, gap, chorus, size), _added(fill, gap, chorus, size),
            _before(fill, gap, chorus, size), _alone(fill, gap))
    for notes, said in chain(*ways):
        struck = [n.onset_quarter for n in notes]
        ordered = tuple(sorted(notes, key=lambda n: (n.onset_quarter, n.midi)))
        yield replace(fill, notes=ordered, reasons=(*fill.reasons, said),
                      counted=count_marks(chorus.bars, gap.onset_quarter, gap.end_quarter, struck))


def _ground(fill: Fill) -> tuple[NoteName, Fraction]:
    """The lowest tone that the last chord's symbol names, and where that chord begins."""
    last = fill.chords[-1]
    name = last.symbol.lowest
    assert name is not None  # a fill sounds harmonies
    return name, last.onset_quarter


def _last_left(fill: Fill) -> list[HandNote]:
    left = [n for n in fill.notes if n.hand == "left"]
    onset = max((n.onset_quarter for n in left), default=None)
    return sorted((n for n in left if n.onset_quarter == onset), key=lambda n: n.midi)


def _lowered(fill: Fill, size: str) -> Iterator[tuple[list[HandNote], str]]:
    """The root of the last left-hand chord that stands on it, an octave or two lower."""
    name, since = _ground(fill)
    strokes: dict[Fraction, list[HandNote]] = {}
    for note in sorted((n for n in fill.notes if n.hand == "left" and n.end_quarter > since),
                       key=lambda n: n.midi):
        strokes.setdefault(note.onset_quarter, []).append(note)
    for _, (root, *others) in sorted(strokes.items(), reverse=True):
        if root.midi % 12 != name.pitch_class:
            continue
        for octaves in (1, 2):
            low = replace(root, pitch=Pitch(root.pitch.step, root.pitch.alter,
                                            root.pitch.octave - octaves))
            keys = [low.midi, *(n.midi for n in others)]
            if (_LOWEST_MIDI <= low.midi <= LOW_ROOT_MIDI and span_ok(keys[0], keys[-1], size)
                    and not MUD.pairs(keys)):
                yield ([low if n is root else n for n in fill.notes],
                       f"The last {name.pretty} lies low: the ground of an ending.")


def _parted(fill: Fill, gap: Gap, chorus: Chorus, size: str
            ) -> Iterator[tuple[list[HandNote], str]]:
    """A low root where the left hand's last chord was, and the chord itself a beat later: bass,
    then chord."""
    name, since = _ground(fill)
    last = _last_left(fill)
    beat = chorus.bar_at(gap.onset_quarter).meter.beat_quarter
    pitch = _low(name)
    if not last or pitch is None or last[0].onset_quarter < since:
        return
    onset, upper = last[0].onset_quarter, [n for n in last if n.midi > pitch.midi]
    if len(upper) > 1 and upper[0].pitch.pitch_class == name.pitch_class:
        upper = upper[1:]  # the root is struck already
    seconds = float(beat) * chorus.seconds_per_quarter - JUMP_SECONDS["return_margin"]
    if not upper or any(n.duration_quarter < 2 * beat for n in upper) or not jump_ok(
            [pitch.midi], [n.midi for n in upper], seconds, size):
        return
    later = [replace(n, onset_quarter=onset + beat, duration_quarter=n.duration_quarter - beat)
             for n in upper]
    yield ([n for n in fill.notes if n not in last] + later
           + [_root(fill, gap, pitch, onset, beat)],
           f"A low {name.pretty}, then its chord: the ground of an ending.")


def _added(fill: Fill, gap: Gap, chorus: Chorus, size: str
           ) -> Iterator[tuple[list[HandNote], str]]:
    """A low root by itself, a beat or more after the left hand's last stroke, under what the right
    hand still has down."""
    name, since = _ground(fill)
    last = _last_left(fill)
    beat = chorus.bar_at(gap.onset_quarter).meter.beat_quarter
    pitch = _low(name)
    if pitch is None:
        return
    after = last[0].onset_quarter if last else gap.onset_quarter - beat
    place = _next_beat(chorus, max(after + beat, since))
    seconds = float(place - after) * chorus.seconds_per_quarter - JUMP_SECONDS["return_margin"]
    end = min(gap.end_quarter, max([fill.held_end.until_quarter, *(
        n.end_quarter for n in fill.notes if n.hand == "right")]))
    if place > end - beat or (
            last and not jump_ok([n.midi for n in last], [pitch.midi], seconds, size)):
        return
    notes = [replace(n, duration_quarter=place - n.onset_quarter)
             if n.hand == "left" and n.end_quarter > place else n for n in fill.notes]
    low = _bridged(notes, fill, gap, _root(fill, gap, pitch, place, end - place))
    yield notes + low, f"A low {name.pretty} closes it."


def _before(fill: Fill, gap: Gap, chorus: Chorus, size: str
            ) -> Iterator[tuple[list[HandNote], str]]:
    """A low root where the last harmony is struck first, its chord where it is struck again."""
    name, since = _ground(fill)
    pitch = _low(name)
    onsets = sorted({n.onset_quarter for n in fill.notes
                     if n.hand == "left" and n.onset_quarter >= since})
    if pitch is None or len(onsets) < 2:
        return
    first, again = ([n for n in fill.notes if n.hand == "left" and n.onset_quarter == onset]
                    for onset in onsets[:2])
    length = onsets[1] - onsets[0]
    seconds = float(length) * chorus.seconds_per_quarter - JUMP_SECONDS["return_margin"]
    if len(again) > 1 and jump_ok([pitch.midi], [n.midi for n in again], seconds, size):
        yield ([n for n in fill.notes if n not in first]
               + [_root(fill, gap, pitch, onsets[0], length)],
               f"A low {name.pretty}, then its chord: the ground of an ending.")


def _alone(fill: Fill, gap: Gap) -> Iterator[tuple[list[HandNote], str]]:
    """The low root in the place of the left hand's last chord, where the right hand or the
    melody tells the chord's third."""
    name, since = _ground(fill)
    last = _last_left(fill)
    pitch = _low(name)
    if not last or pitch is None or last[0].end_quarter <= since:
        return
    onset = max(last[0].onset_quarter, since)
    rest = [n for n in fill.notes if n not in last]
    heard = {n.midi % 12 for n in rest if n.hand == "right" and n.end_quarter > onset}
    if gap.held is not None and fill.held_end.until_quarter > onset:
        heard.add(gap.held.midi % 12)
    third = next((degree for degree in ("3", "b3", "4") if degree
                  in fill.chords[-1].symbol.degrees), None)
    root = fill.chords[-1].symbol.root
    if third is None or root is None or (
            root.pitch_class + degree_pitch_class(third)) % 12 not in heard:
        return
    end = max(n.end_quarter for n in last)
    low = _bridged(rest, fill, gap, _root(fill, gap, pitch, onset, end - onset))
    yield (rest + low, f"The left hand has the low {name.pretty} alone: the ground of an ending.")


def _bridged(others: Sequence[HandNote], fill: Fill, gap: Gap, root: HandNote) -> list[HandNote]:
    """A low root; in octaves where nothing sounds for two octaves above it."""
    down = [n.midi for n in others if n.onset_quarter < root.end_quarter
            and n.end_quarter > root.onset_quarter]
    if gap.held is not None and fill.held_end.until_quarter > root.onset_quarter:
        down.append(gap.held.midi)
    if min(down, default=root.midi) - root.midi < TWO_OCTAVES:
        return [root]
    pitch = root.pitch
    return [root, replace(root, pitch=Pitch(pitch.step, pitch.alter, pitch.octave + 1))]


def _low(name: NoteName) -> Pitch | None:
    pitch = nearest_pitch(name, _AIM_MIDI)
    return pitch if pitch.midi >= _LOWEST_MIDI else None


def _root(fill: Fill, gap: Gap, pitch: Pitch, onset: Fraction, length: Fraction) -> HandNote:
    return HandNote(onset, length, pitch, "left", None, "fill", gap.number)


def _next_beat(chorus: Chorus, onset_quarter: Fraction) -> Fraction:
    """The first beat at a place or after it."""
    beat = chorus.bar_at(onset_quarter).meter.beat_quarter
    inside = (chorus.beat_in_bar(onset_quarter) % 1) * beat
    return onset_quarter if not inside else onset_quarter + beat - inside
