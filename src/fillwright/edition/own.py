"""A choice with the user's own notes in it, or a fill of the user's own, and what the rules say
of it.

The notes are spelled by the chord that sounds there and fingered as every other fill is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fillwright.arranging.audit import audit_fill
from fillwright.arranging.by_hand import OWN_NOTES, ByHand, is_by_hand, made_by_hand
from fillwright.arranging.fingers import fingered_fill
from fillwright.arranging.model import Options
from fillwright.arranging.texture import held_note
from fillwright.edition.picks import AddedNote, OwnFill, Pick
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.counts import count_marks
from fillwright.fills.model import Fill, HeldEnd
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.rules import AUDITED, OF_OWN_NOTES, Audit, Finding
from fillwright.rules.hands import HIGHEST_KEY, LOWEST_KEY
from fillwright.theory.harmony import Harmony, harmony_of, spelled_over
from fillwright.theory.pitch import Pitch, spell_plain
from fillwright.tune.model import ChordSpan, Chorus, Gap

__all__ = ["edited", "findings_of", "judged", "melody_key", "own_fill", "own_pick"]

_MIDDLE_C = 60


def edited(fill: Fill, pick: Pick, chorus: Chorus, gap: Gap, size: str) -> Fill:
    """The fill with notes moved by semitones, left out, held longer or shorter, and added,
    fingered anew.

    Where it has other tones now, it has no longer the name of the idea it was. What changes
    nothing gives the fill itself. Where a hand cannot play its notes, they have
    no fingers. Raises InputError for a note that is not there, or if nothing is left.
    """
    named = [index for index, _ in (*pick.moves, *pick.lengths)]
    if named and max(named) >= len(fill.notes):
        raise InputError(f"this fill has no note {max(named) + 1}")
    moves = {index: by for index, by in pick.moves if by != 0}
    lengths = {index: length for index, length in pick.lengths
               if length != fill.notes[index].duration_quarter}
    if not (moves or lengths or pick.added):
        return fill
    notes = []
    for index, note in enumerate(fill.notes):
        by = moves.get(index, 0)
        if by is None:
            continue
        changed = note if not by else replace(note, pitch=_spelled(
            note.midi + by, note.onset_quarter, fill.chords, chorus, by > 0))
        notes.append(replace(changed, duration_quarter=lengths.get(
            index, note.duration_quarter)))
    notes += [_placed(note, fill.chords, chorus, gap) for note in pick.added]
    if not notes:
        raise InputError("no note is left; leave the gap open instead")
    done = fingered_fill(replace(fill, notes=_parted(notes)), gap, chorus, size)
    device = fill.device if _tones(done) == _tones(fill) else OWN_NOTES
    return replace(done, device=device, reasons=(
        "A note of this fill was changed by hand; the reasons are those of the fill it was.",
        *fill.reasons), difficulty=difficulty(
            done.notes, size, chorus.seconds_per_quarter).total,
        counted=fill.counted if not pick.added else count_marks(
            chorus.bars, gap.onset_quarter, gap.end_quarter,
            [note.onset_quarter for note in done.notes]))


def _tones(fill: Fill) -> set[tuple[Fraction, int]]:
    """Which pitch classes are struck where: what an idea is known by."""
    return {(note.onset_quarter, note.midi % 12) for note in fill.notes}


def _parted(notes: Sequence[HandNote]) -> tuple[HandNote, ...]:
    """In order; no key is struck twice at once, and each is let go before it is struck again."""
    by_place: dict[tuple[Fraction, int], HandNote] = {}
    for note in notes:
        by_place.setdefault((note.onset_quarter, note.midi), note)
    found = []
    for (onset, midi), note in sorted(by_place.items()):
        again = [at for at, key in by_place if key == midi and at > onset]
        until = min([note.end_quarter, *again])
        found.append(replace(note, duration_quarter=until - onset))
    return tuple(found)


def _placed(note: AddedNote, chords: Sequence[ChordSpan], chorus: Chorus, gap: Gap) -> HandNote:
    """Raises InputError where the gap does not have such a place, or the piano such a key."""
    onset = gap.onset_quarter + note.onset_quarter
    if onset >= gap.end_quarter:
        raise InputError(f"gap {gap.number} is {gap.duration_quarter} quarters long and has no "
                         f"place {note.onset_quarter}")
    pitch = _spelled(melody_key(chorus, gap) + note.above, onset, chords, chorus, rising=True)
    return HandNote(onset, min(note.duration_quarter, gap.end_quarter - onset), pitch, note.hand,
                    None, "fill", gap.number)


def melody_key(chorus: Chorus, gap: Gap) -> int:
    """The key from which own notes are counted: the melody's where the gap opens, else where it
    closes, as the sheet has it; middle C where there is neither."""
    note = gap.held if gap.held is not None else gap.landing
    return _MIDDLE_C if note is None else note.midi - 12 * chorus.melody_octave


def own_pick(fill: Fill, chorus: Chorus, gap: Gap) -> Pick:
    """The choice of a fill that was played or written by hand."""
    anchor = melody_key(chorus, gap)
    return Pick(fill.id, own=OwnFill(
        fill.family, fill.device, fill.held_end.kept,
        fill.held_end.until_quarter - gap.onset_quarter,
        tuple(sorted(AddedNote(note.onset_quarter - gap.onset_quarter, note.midi - anchor,
                               note.duration_quarter, note.hand) for note in fill.notes))))


def own_fill(pick: Pick, chorus: Chorus, gap: Gap, options: Options) -> Fill:
    """The fill that such a choice means. Raises InputError where it does not fit the gap."""
    own = pick.own
    assert own is not None
    until = min(gap.onset_quarter + own.until_quarter, gap.end_quarter)
    return made_by_hand(ByHand(
        pick.fill, own.family, own.device, HeldEnd(own.kept, until),
        _parted([_placed(note, gap.chords, chorus, gap) for note in own.notes])),
        chorus, gap, options)


def findings_of(fill: Fill, chorus: Chorus, gap: Gap, size: str) -> list[dict[str, Any]]:
    """What breaks a rule, with the place in the bar where it does."""
    return [{"rule": finding.rule, "message": finding.message,
             "onset_quarter": str(finding.onset_quarter),
             "bar": chorus.bar_at(finding.onset_quarter).number,
             "beat": str(chorus.beat_in_bar(finding.onset_quarter)),
             "midis": list(finding.midis)}
            for finding in judged(fill, chorus, gap, size).findings]


def judged(fill: Fill, chorus: Chorus, gap: Gap, size: str) -> Audit:
    """What the rules say of a fill; its keys are called as the page spells them."""
    melody = () if gap.held is None else (
        replace(held_note(fill, gap.held), finger=fill.melody_finger),)
    result = audit_fill(fill, melody, chorus, gap, size,
                        OF_OWN_NOTES if is_by_hand(fill) else AUDITED)
    names = {note.midi: f"{note.pitch.note_name.pretty}{note.pitch.octave}"
             for note in (*fill.notes, *melody)}
    return replace(result, findings=tuple(
        replace(finding, message=_spelled_as(finding, names)) for finding in result.findings))


def _spelled_as(finding: Finding, names: Mapping[int, str]) -> str:
    """The message with its keys called as the page spells them."""
    message = finding.message
    for midi in finding.midis:
        message = re.sub(rf"\b{spell_plain(midi, False)}(?!\d)", names.get(midi, "\\g<0>"),
                         message)
    return message


def _spelled(midi: int, at: Fraction, chords: Sequence[ChordSpan], chorus: Chorus, rising: bool
             ) -> Pitch:
    """As the chord that sounds there spells it, else as the key does.

    chords   the fill's, written and added
    """
    if not LOWEST_KEY <= midi <= HIGHEST_KEY:
        raise InputError("that key is not on the piano")
    return spelled_over(_sounding(at, chords, chorus), chorus.bar_at(at).key, midi, rising)


def _sounding(at: Fraction, chords: Sequence[ChordSpan], chorus: Chorus) -> Harmony | None:
    """The chord of the fill at a place: written, or added by the fill."""
    added = [span for span in chords
             if span.added and span.onset_quarter <= at < span.end_quarter]
    if not added or added[-1].symbol.root is None:
        return chorus.harmony_at(at)
    later = [span.symbol for span in chords if span.onset_quarter >= added[-1].end_quarter]
    written = chorus.harmony_at(at)
    key = chorus.bar_at(at).key if written is None else written.key
    return harmony_of(added[-1].symbol, key, later[0] if later else None)
