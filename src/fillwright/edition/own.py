"""A choice with the user's own notes in it, and what the rules say of it.

The notes are spelled by the chord that sounds there and fingered as every other fill is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fillwright.arranging.audit import audit_fill
from fillwright.arranging.fingers import fingered_fill
from fillwright.arranging.texture import held_note
from fillwright.errors import InputError
from fillwright.fills.model import Fill
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.rules import Finding
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.pitch import Pitch, nearest_pitch, spell_plain
from fillwright.tune.model import Chorus, Gap

__all__ = ["edited", "findings_of"]

_LOWEST, _HIGHEST = 21, 108


def edited(fill: Fill, moves: Sequence[tuple[int, int | None]], chorus: Chorus, gap: Gap,
           size: str) -> Fill:
    """The fill with notes moved by semitones or left out, fingered anew.

    What changes nothing gives the fill itself. Where a hand cannot play its notes, they have
    no fingers. Raises InputError for a note that is not there, or if nothing is left.
    """
    changes = {index: by for index, by in moves if by != 0}
    if moves and max(index for index, _ in moves) >= len(fill.notes):
        raise InputError(f"this fill has no note {max(index for index, _ in moves) + 1}")
    if not changes:
        return fill
    notes = []
    for index, note in enumerate(fill.notes):
        by = changes.get(index, 0)
        if by is not None:
            notes.append(replace(note, pitch=_spelled(note, by, fill, chorus)) if by else note)
    if not notes:
        raise InputError("no note is left; leave the gap open instead")
    notes.sort(key=lambda note: (note.onset_quarter, note.midi))
    done = fingered_fill(replace(fill, notes=tuple(notes)), gap, chorus, size)
    return replace(done, reasons=(
        "A note of this fill was changed by hand; the reasons are those of the fill it was.",
        *fill.reasons), difficulty=difficulty(
            done.notes, size, chorus.seconds_per_quarter).total)


def findings_of(fill: Fill, chorus: Chorus, gap: Gap, size: str) -> list[dict[str, Any]]:
    """What breaks a rule, with the place in the bar where it does."""
    melody = () if gap.held is None else (
        replace(held_note(fill, gap.held), finger=fill.melody_finger),)
    result = audit_fill(fill, melody, chorus, gap, size)
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


def _spelled(note: HandNote, by: int, fill: Fill, chorus: Chorus) -> Pitch:
    """As the chord that sounds there spells it, else as the key does."""
    midi = note.midi + by
    if not _LOWEST <= midi <= _HIGHEST:
        raise InputError("that key is not on the piano")
    harmony = _sounding(note, fill, chorus)
    if harmony is not None:
        name = harmony.spell(midi % 12)
        if name.pitch_class == midi % 12:
            pitch = nearest_pitch(name, midi)
            if pitch.midi == midi:
                return pitch
    return chorus.bar_at(note.onset_quarter).key.spell(midi, rising=by > 0)


def _sounding(note: HandNote, fill: Fill, chorus: Chorus) -> Harmony | None:
    """The chord of the fill at that place: written, or added by the fill."""
    at = note.onset_quarter
    added = [span for span in fill.chords
             if span.added and span.onset_quarter <= at < span.end_quarter]
    if not added or added[-1].symbol.root is None:
        return chorus.harmony_at(at)
    later = [span.symbol for span in fill.chords if span.onset_quarter >= added[-1].end_quarter]
    written = chorus.harmony_at(at)
    key = chorus.bar_at(at).key if written is None else written.key
    return harmony_of(added[-1].symbol, key, later[0] if later else None)
