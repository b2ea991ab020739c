"""A fill with the user's own notes in it, and what the rules of the hands say of it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fillwright.arranging.model import Arrangement
from fillwright.errors import InputError
from fillwright.fills.model import Fill
from fillwright.hands.checks import Finding, MelodySpan, audit
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.hands.parts import finger_part
from fillwright.theory.pitch import Pitch, nearest_pitch, spell_plain
from fillwright.tune.model import Chorus, Gap

__all__ = ["edited", "findings_of", "with_own"]

_LOWEST, _HIGHEST = 21, 108


def edited(fill: Fill, moves: Sequence[tuple[int, int | None]], chorus: Chorus, gap: Gap,
           hand: str) -> Fill:
    """The fill with notes moved by semitones or left out, fingered anew.

    Where a hand cannot play it, its notes have no fingers. Raises InputError for a note that
    is not there, or if nothing is left.
    """
    if not moves:
        return fill
    changes = dict(moves)
    if max(changes) >= len(fill.notes):
        raise InputError(f"this fill has no note {max(changes) + 1}")
    notes = []
    for index, note in enumerate(fill.notes):
        by = changes.get(index, 0)
        if by is not None:
            notes.append(replace(note, pitch=_spelled(note, by, chorus)) if by else note)
    if not notes:
        raise InputError("no note is left; leave the gap open instead")
    fingered, melody_finger = _fingers(tuple(notes), fill, gap, chorus.seconds_per_quarter, hand)
    ordered = tuple(sorted(fingered, key=lambda note: (note.onset_quarter, note.midi)))
    return replace(fill, notes=ordered, melody_finger=melody_finger, reasons=(
        "A note of this fill was changed by hand; the reasons are those of the fill it was.",
        *fill.reasons), difficulty=difficulty(
            ordered, hand, chorus.seconds_per_quarter, chorus.meter.beat_quarter).total)


def with_own(arrangement: Arrangement, own: Sequence[Fill]) -> Arrangement:
    """An arrangement with some of its fills replaced, note for note.

    What no hand can play is to be seen and heard as well; so the chorus is put together with
    the fills as they were, and the user's own notes are set in afterwards.
    """
    by_gap = {fill.gap: fill for fill in own}
    kept = [note for note in arrangement.notes if note.role != "fill" or note.gap not in by_gap]
    notes = sorted([*kept, *(note for fill in own for note in fill.notes)],
                   key=lambda note: (note.onset_quarter, note.midi, note.hand))
    fills = tuple(by_gap.get(fill.gap, fill) for fill in arrangement.fills)
    return replace(arrangement, notes=tuple(notes), fills=fills)


def findings_of(fill: Fill, chorus: Chorus, gap: Gap, hand: str) -> list[dict[str, Any]]:
    """What breaks a rule, with the place in the bar where it does."""
    melody = held_notes(fill, gap)
    spans = [MelodySpan(gap.onset_quarter, fill.melody_until_quarter, gap.held.midi)
             ] if gap.held is not None else []
    result = audit(sorted((*melody, *fill.notes), key=lambda n: (n.onset_quarter, n.midi)),
                   size=hand, seconds_per_quarter=chorus.seconds_per_quarter, sounding=spans,
                   chords=fill.chords, whole=False)
    names = {note.midi: f"{note.pitch.note_name.pretty}{note.pitch.octave}"
             for note in (*fill.notes, *melody)}
    return [{"rule": finding.rule, "message": _spelled_as(finding, names),
             "onset_quarter": str(finding.onset_quarter),
             "bar": chorus.bar_at(finding.onset_quarter).number,
             "beat": str(chorus.beat_in_bar(finding.onset_quarter)),
             "midis": list(finding.midis)} for finding in result.findings]


def _spelled_as(finding: Finding, names: Mapping[int, str]) -> str:
    """The message with its keys called as the page spells them."""
    message = finding.message
    for midi in finding.midis:
        message = re.sub(rf"\b{spell_plain(midi, False)}(?!\d)", names.get(midi, "\\g<0>"),
                         message)
    return message


def held_notes(fill: Fill, gap: Gap) -> tuple[HandNote, ...]:
    """The melody note the gap opens on, as long as its key is down."""
    if gap.held is None:
        return ()
    until = fill.melody_until_quarter
    if fill.melody_kept == "pedal":
        later = [note.onset_quarter for note in fill.notes
                 if note.hand == "right" and note.onset_quarter > gap.onset_quarter]
        until = min([until, *later])
    return (HandNote(gap.onset_quarter, until - gap.onset_quarter, gap.held.pitch, "right",
                     fill.melody_finger, "melody"),)


def _spelled(note: HandNote, by: int, chorus: Chorus) -> Pitch:
    """As the chord at that place spells it, else as the key does."""
    midi = note.midi + by
    if not _LOWEST <= midi <= _HIGHEST:
        raise InputError("that key is not on the piano")
    harmony = chorus.harmony_at(note.onset_quarter)
    if harmony is not None:
        name = harmony.spell(midi % 12)
        if name.pitch_class == midi % 12:
            pitch = nearest_pitch(name, midi)
            if pitch.midi == midi:
                return pitch
    return chorus.bar_at(note.onset_quarter).key.spell(midi, rising=by > 0)


def _fingers(notes: tuple[HandNote, ...], fill: Fill, gap: Gap, seconds_per_quarter: float,
             hand: str) -> tuple[list[HandNote], int | None]:
    done: list[HandNote] = []
    melody_finger = fill.melody_finger
    for side in ("left", "right"):
        own = [note for note in notes if note.hand == side]
        held = held_notes(fill, gap) if side == "right" else ()
        part = [(n.onset_quarter, n.duration_quarter, n.midi) for n in (*held, *own)]
        rolled = [index for index, note in enumerate((*held, *own)) if note.rolled]
        found = finger_part(part, side, hand, seconds_per_quarter,
                            rolled=frozenset(rolled)) if own else ()
        if found is None:
            done += [replace(note, finger=None) for note in own]
            continue
        if held and found:
            melody_finger = found[0]
        done += [replace(note, finger=finger)
                 for note, finger in zip(own, found[len(held):], strict=True)]
    return done, melody_finger
