"""Hand pictures: which keys are down together, with fingers and the name of the chord.

A picture begins where a chord is struck, where the harmony changes, or where a hand takes up
new keys; single notes that follow join it while one position of the hand holds them, as on a
teacher's hand-out. The held melody note is part of the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.rules.chords import PUSH_QUARTER
from fillwright.tune.model import ChordSpan, Gap

__all__ = ["pictures_of"]

MOST_SINGLES = 5
"""Single notes of a hand in one picture: a finger each."""


@dataclass(slots=True)
class _Picture:
    onset_quarter: Fraction
    chord: str
    keys: list[tuple[HandNote, int]] = field(default_factory=list)
    is_line: bool = False


def pictures_of(fill: Fill, gap: Gap) -> list[dict[str, Any]]:
    """For each picture: onset and end in chorus time, chord name, and keys with hand, finger,
    role and (for what is struck one after the other) order."""
    notes: list[tuple[HandNote, int]] = [(note, index) for index, note in enumerate(fill.notes)]
    if gap.held is not None:
        length = fill.held_end.until_quarter - gap.onset_quarter
        notes.insert(0, (HandNote(gap.onset_quarter, length, gap.held.pitch, "right",
                                  fill.melody_finger, "melody"), -1))
    onsets = sorted({note.onset_quarter for note, _ in notes})
    pictures: list[_Picture] = []
    for onset in onsets:
        struck = [(note, index) for note, index in notes if note.onset_quarter == onset]
        chord = _early(fill, gap, [note for note, _ in struck]) or _chord_name(fill.chords, onset)
        if not pictures or not _joins(pictures[-1], struck, chord):
            pictures.append(_Picture(onset, chord))
        elif len(pictures[-1].keys):
            pictures[-1].is_line = True
        pictures[-1].keys += struck
    ends = [picture.onset_quarter for picture in pictures[1:]]
    ends.append(max(note.end_quarter for note, _ in notes) if notes else gap.end_quarter)
    return [_value(picture, end) for picture, end in zip(pictures, ends, strict=True)]


def _joins(picture: _Picture, struck: Sequence[tuple[HandNote, int]], chord: str) -> bool:
    """Whether what is struck now can be shown on the keyboard before."""
    if chord != picture.chord or len(struck) != 1:
        return False
    note = struck[0][0]
    own = [key for key, _ in picture.keys if key.hand == note.hand]
    if len(own) >= MOST_SINGLES or any(key.midi == note.midi for key, _ in picture.keys):
        return False
    return all(key.finger != note.finger or key.finger is None for key in own)


def _early(fill: Fill, gap: Gap, struck: Sequence[HandNote]) -> str:
    """The coming chord's name where it is struck ahead of its place and held into it; else "".

    Two keys or more, more of them in that chord than in the one before.
    """
    onset = struck[0].onset_quarter
    keys = [note for note in struck if note.role != "melody"]
    coming = [(span.onset_quarter, span.symbol) for span in fill.chords
              if span.onset_quarter > onset]
    if gap.landing is not None and gap.landing_chord is not None:
        coming.append((gap.end_quarter, gap.landing_chord))
    if len(keys) < 2 or not coming:
        return ""
    place, symbol = min(coming, key=lambda item: item[0])
    before = [span.symbol for span in fill.chords if span.onset_quarter <= onset][-1:]
    if (not before or before[0] == symbol or place - onset > PUSH_QUARTER
            or any(note.end_quarter < place for note in keys)):
        return ""
    own, other = (sum(note.midi % 12 in one.pitch_classes for note in keys)
                  for one in (symbol, before[0]))
    return f"{symbol.pretty}, early" if own > other else ""


def _chord_name(chords: Sequence[ChordSpan], onset: Fraction) -> str:
    name = ""
    for span in chords:
        if span.onset_quarter <= onset:
            name = f"[{span.symbol.pretty}]" if span.added else span.symbol.pretty
    return name


def _value(picture: _Picture, end: Fraction) -> dict[str, Any]:
    onsets = sorted({note.onset_quarter for note, _ in picture.keys})
    keys = [{"midi": note.midi, "pitch": _pretty(note), "hand": note.hand, "finger": note.finger,
             "role": note.role, "note": index, "onset_quarter": str(note.onset_quarter),
             "order": onsets.index(note.onset_quarter) + 1 if picture.is_line else None}
            for note, index in sorted(picture.keys, key=lambda item: item[0].midi)]
    return {"onset_quarter": str(picture.onset_quarter), "end_quarter": str(end),
            "chord": picture.chord, "keys": keys, "rolled": any(n.rolled for n, _ in picture.keys)}


def _pretty(note: HandNote) -> str:
    return f"{note.pitch.note_name.pretty}{note.pitch.octave}"
