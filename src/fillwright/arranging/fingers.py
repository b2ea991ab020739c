"""One fingering for each hand from the first note to the last.

A fill is fingered by itself when it is proposed, to be sure that it can be played; in a
chorus the fingers also depend on what comes before and after. A fill whose notes have changed
(in another key, at another tempo, by the user's own hand) is fingered by itself once more, by
`fingered_fill`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import NamedTuple

from fillwright.arranging.texture import held_note
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.hands.repeats import finger_spared, finger_steadily
from fillwright.tune.model import Chorus, Gap

__all__ = ["fingered", "fingered_fill"]

_PartNote = tuple[Fraction, Fraction, int]


def fingered(notes: Sequence[HandNote], size: str, seconds_per_quarter: float,
             own: Collection[int] = ()) -> tuple[HandNote, ...]:
    """The same notes, in the same order, with the cheapest fingers for both hands.

    own   gaps with the user's own notes in them: a stroke there that no hand can make has no
          fingers
    """
    fingers: dict[int, int | None] = {}
    for hand in ("left", "right"):
        mine = [i for i, n in enumerate(notes) if n.hand == hand]
        part = _Part([(notes[i].onset_quarter, notes[i].duration_quarter, notes[i].midi)
                      for i in mine],
                     frozenset(place for place, i in enumerate(mine) if notes[i].rolled),
                     frozenset(place for place, i in enumerate(mine) if notes[i].gap in own))
        fingers |= zip(mine, _piecewise(part, hand, size, seconds_per_quarter), strict=True)
    return tuple(replace(note, finger=fingers[i]) for i, note in enumerate(notes))


class _Part(NamedTuple):
    """What one hand plays; `rolled` and `own` are indices of notes."""

    notes: list[_PartNote]
    rolled: frozenset[int]
    own: frozenset[int]

    def only(self, indices: list[int]) -> _Part:
        return _Part([self.notes[i] for i in indices],
                     frozenset(place for place, i in enumerate(indices) if i in self.rolled),
                     frozenset(place for place, i in enumerate(indices) if i in self.own))


def _piecewise(part: _Part, hand: str, size: str, seconds_per_quarter: float
               ) -> tuple[int | None, ...]:
    """Fingers for a part; one with a jump no hand makes in time, as written tunes may have,
    is cut in two and fingered in pieces."""
    found = finger_steadily(part.notes, hand, size, seconds_per_quarter, part.rolled)
    if found is not None:
        return found
    onsets = sorted({note[0] for note in part.notes})
    if len(onsets) < 2:
        others = [i for i in range(len(part.notes)) if i not in part.own]
        if len(others) == len(part.notes):
            raise AssertionError(f"one stroke of the {hand} hand cannot be fingered: "
                                 f"{part.notes}")
        kept = _piecewise(part.only(others), hand, size, seconds_per_quarter)
        fixed = dict(zip(others, kept, strict=True))
        return tuple(fixed.get(i) for i in range(len(part.notes)))
    cut = onsets[len(onsets) // 2]
    fingers: dict[int, int | None] = {}
    for indices in ([i for i, note in enumerate(part.notes) if note[0] < cut],
                    [i for i, note in enumerate(part.notes) if note[0] >= cut]):
        fingers |= zip(indices, _piecewise(part.only(indices), hand, size, seconds_per_quarter),
                       strict=True)
    return tuple(fingers[i] for i in range(len(part.notes)))


def fingered_fill(fill: Fill, gap: Gap, chorus: Chorus, size: str) -> Fill:
    """The fill fingered by itself, the held note and the landing among the right hand's keys.

    A hand that cannot play its part has no fingers. An unchanged fill keeps the fingers it
    has.
    """
    fingers: dict[HandNote, int | None] = {}
    melody_finger = fill.melody_finger
    for hand in ("left", "right"):
        mine = [note for note in fill.notes if note.hand == hand]
        if not mine:
            continue
        around = _melody_around(fill, gap, chorus) if hand == "right" else []
        part = sorted([*mine, *around], key=lambda note: (note.onset_quarter, note.midi))
        found = finger_spared(
            [(note.onset_quarter, note.duration_quarter, note.midi) for note in part], hand,
            size, chorus.seconds_per_quarter,
            rolled=[place for place, note in enumerate(part) if note.rolled])
        placed = dict(zip(part, found or (None,) * len(part), strict=True))
        fingers |= {note: placed[note] for note in mine}
        if gap.held is not None and around:
            melody_finger = placed[around[0]] or melody_finger
    return replace(fill, notes=tuple(replace(note, finger=fingers[note]) for note in fill.notes),
                   melody_finger=melody_finger)


def _melody_around(fill: Fill, gap: Gap, chorus: Chorus) -> list[HandNote]:
    """The held note, if there is one, then the landing, as keys of the right hand."""
    keys = [] if gap.held is None else [held_note(fill, gap.held)]
    if gap.landing is not None:
        onset = gap.end_quarter if fill.shift is None else fill.shift.landing_quarter
        beat = chorus.bar_at(gap.onset_quarter).meter.beat_quarter
        keys.append(HandNote(onset, beat, gap.landing.pitch, "right", None, "melody"))
    return keys
