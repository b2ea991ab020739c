"""The ground of an ending: the last fill of a piece stands on a low root.

A tune that ends needs its tonic low down (common practice). Where the chosen fill has none, the
left hand's last root goes down an octave, or a low root is struck by itself after the last chord.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.fills.counts import count_marks
from fillwright.fills.model import Fill
from fillwright.hands.jumps import JUMP_SECONDS, jump_ok
from fillwright.hands.model import HandNote
from fillwright.hands.reach import span_ok
from fillwright.rules.sound import MUD
from fillwright.theory.pitch import NoteName, Pitch, nearest_pitch
from fillwright.tune.model import Chorus, Gap

__all__ = ["LOW_ROOT_MIDI", "grounded", "stands_low"]

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


def grounded(fill: Fill, gap: Gap, chorus: Chorus, size: str) -> Fill:
    """The fill of a last gap on a low root, as it is where it has one or none can be played.

    size   of the hand
    """
    if gap.landing is not None or stands_low(fill):
        return fill
    for notes, said in (*_lowered(fill, size), *_added(fill, gap, chorus, size)):
        struck = [n.onset_quarter for n in notes]
        ordered = tuple(sorted(notes, key=lambda n: (n.onset_quarter, n.midi)))
        return replace(fill, notes=ordered, reasons=(*fill.reasons, said),
                       counted=count_marks(chorus.bars, gap.onset_quarter, gap.end_quarter, struck))
    return fill


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
    """The root of the last left-hand chord an octave lower."""
    name, since = _ground(fill)
    last = _last_left(fill)
    if not last or last[0].end_quarter <= since or last[0].midi % 12 != name.pitch_class:
        return
    root = last[0]
    low = replace(root, pitch=Pitch(root.pitch.step, root.pitch.alter, root.pitch.octave - 1))
    keys = [low.midi, *(n.midi for n in last[1:])]
    if low.midi >= _LOWEST_MIDI and span_ok(keys[0], keys[-1], size) and not MUD.pairs(keys):
        yield ([low if n is root else n for n in fill.notes],
               f"The last {name.pretty} lies low: the ground of an ending.")


def _added(fill: Fill, gap: Gap, chorus: Chorus, size: str
           ) -> Iterator[tuple[list[HandNote], str]]:
    """A low root by itself, a beat or more after the left hand's last stroke."""
    name, since = _ground(fill)
    last = _last_left(fill)
    beat = chorus.bar_at(gap.onset_quarter).meter.beat_quarter
    pitch = nearest_pitch(name, _AIM_MIDI)
    if pitch.midi < _LOWEST_MIDI:
        return
    after = last[0].onset_quarter if last else gap.onset_quarter - beat
    place = _next_beat(chorus, max(after + beat, since))
    seconds = float(place - after) * chorus.seconds_per_quarter - JUMP_SECONDS["return_margin"]
    if place > gap.end_quarter - beat or (
            last and not jump_ok([n.midi for n in last], [pitch.midi], seconds, size)):
        return
    notes = [replace(n, duration_quarter=place - n.onset_quarter)
             if n.hand == "left" and n.end_quarter > place else n for n in fill.notes]
    notes.append(HandNote(place, gap.end_quarter - place, pitch, "left", None, "fill",
                          gap.number))
    yield notes, f"A low {name.pretty} closes it."


def _next_beat(chorus: Chorus, onset_quarter: Fraction) -> Fraction:
    """The first beat at a place or after it."""
    beat = chorus.bar_at(onset_quarter).meter.beat_quarter
    inside = (chorus.beat_in_bar(onset_quarter) % 1) * beat
    return onset_quarter if not inside else onset_quarter + beat - inside
