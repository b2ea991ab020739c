"""A fill carried into another key, hands fitted anew.

First the fill is moved as it stands. Where the hand cannot play it there, or it would lie too
low or too high, a hand moves by octaves; where that does not help, what stretches is left out,
as on a ladder. Every difference is said in words.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fillwright.arranging.refit import HIGHEST, LOWEST
from fillwright.fills.draft import Draft
from fillwright.fills.ladder.naming import joined, retold
from fillwright.fills.ladder.taken_back import Place, draft_of
from fillwright.fills.ladder.thinning import less_of
from fillwright.fills.model import Fill
from fillwright.fills.place import placed
from fillwright.theory.pitch import Interval, Pitch, spell_plain
from fillwright.tune.model import ChordSpan

__all__ = ["Carried", "carried"]

_MOST_LEFT_OUT = 3
_OCTAVE = 12


@dataclass(frozen=True, slots=True)
class Carried:
    """The fill in the other key, None where there is none, and what is different, in words."""

    fill: Fill | None
    changed: tuple[str, ...]


def carried(fill: Fill, origin: Place, target: Place) -> Carried:
    """The fill of `origin` at `target`, the same gap of the same tune in another key.

    Harder than the level of `target` it is not made.
    """
    by = _interval(origin, target)
    if by is None or origin.gap.duration_quarter != target.gap.duration_quarter:
        return Carried(None, ("the gap is another one there",))
    draft = draft_of(_moved(fill, by, target), target)
    found = next(_fitted(draft, by, target), None)
    if found is None:
        return Carried(None, ("no hand of this size plays it there at this level",))
    made, done, words = found
    whole = placed(done, target.gap)
    said, chords = retold(fill, made, target, whole.chords)
    whole = replace(
        whole, id=fill.id, device=fill.device, chorus=target.chorus,
        chords=tuple(replace(c, fill=fill.id) if c.added else c for c in chords),
        reasons=said or (f"{fill.device[0].upper()}{fill.device[1:]}, moved from "
                         f"{origin.chorus.key}.",))
    return Carried(whole, (*words, *_other_fingers(fill, whole)))


def _interval(origin: Place, target: Place) -> Interval | None:
    """How far the melody has moved; where the gap has none, how far the first note has."""
    pairs = [(origin.gap.held, target.gap.held), (origin.gap.landing, target.gap.landing),
             (origin.chorus.melody[0], target.chorus.melody[0])]
    for before, after in pairs:
        if before is not None and after is not None:
            return Interval(after.pitch.staff_position - before.pitch.staff_position,
                            after.midi - before.midi)
    return None


def _moved(fill: Fill, by: Interval, target: Place) -> Fill:
    """Every note and chord by an interval; a chord of the sheet is spelled as it is there."""
    chorus = target.chorus

    def chord(span: ChordSpan) -> ChordSpan:
        place = chorus.chord_index_at(span.onset_quarter)
        symbol = span.symbol.transposed(by, chorus.key)
        if not span.added and place is not None and (
                chorus.chords[place].symbol.pitch_classes == symbol.pitch_classes):
            symbol = chorus.chords[place].symbol
        return replace(span, symbol=symbol)

    return replace(fill, notes=tuple(replace(n, pitch=_plain(n.pitch + by)) for n in fill.notes),
                   chords=tuple(chord(span) for span in fill.chords))


def _plain(pitch: Pitch) -> Pitch:
    """Without double accidentals."""
    if abs(pitch.alter) < 2:
        return pitch
    return spell_plain(pitch.midi, sharps=pitch.alter > 0)


def _fitted(draft: Draft, by: Interval, target: Place
            ) -> Iterator[tuple[Draft, Fill, tuple[str, ...]]]:
    """Ways to play it there, the nearest to the idea first."""
    ways = [(_lifted(draft, left, right), _octave_words(left, right))
            for left, right in _octaves(by)]
    for lifted, words in ways:
        if lifted is not None:
            done = target.finished(lifted)
            if isinstance(done, Fill):
                yield lifted, done, words
    for lifted, words in ways:
        if lifted is None:
            continue
        less: Draft = lifted
        gone: list[str] = []
        for _ in range(_MOST_LEFT_OUT):
            step = next(less_of(less, target.task), None)
            if step is None:
                break
            less, gone = step.draft, [*gone, step.words]
            done = target.finished(less)
            if isinstance(done, Fill):
                yield less, done, (*words, f"without {joined(gone)}")
                break


def _octaves(by: Interval) -> list[tuple[int, int]]:
    """Octaves for the left and the right hand: the left stays near where it was, the right goes
    with the melody unless nothing else helps."""
    lefts = sorted((0, -1, 1), key=lambda octave: (abs(by.semitones + _OCTAVE * octave),
                                                   abs(octave)))
    return [(left, right) for right in (0, -1, 1) for left in lefts]


def _lifted(draft: Draft, left: int, right: int) -> Draft | None:
    """The hands by octaves; None beyond the keyboard's middle."""
    notes = []
    for note in draft.notes:
        octave = note.pitch.octave + (left if note.hand == "left" else right)
        notes.append(replace(note, pitch=Pitch(note.pitch.step, note.pitch.alter, octave)))
    if not all(LOWEST <= note.midi <= HIGHEST for note in notes):
        return None
    return replace(draft, notes=tuple(sorted(notes, key=lambda n: (n.onset_quarter, n.midi))))


def _octave_words(left: int, right: int) -> tuple[str, ...]:
    return tuple(f"the {hand} hand lies an octave {'higher' if octave > 0 else 'lower'} against "
                 "the melody" for hand, octave in (("left", left), ("right", right)) if octave)


def _other_fingers(before: Fill, after: Fill) -> tuple[str, ...]:
    """The hands whose fingers are others, where the keys are the same ones moved."""
    words = []
    for hand in ("left", "right"):
        rows = [[n.finger for n in sorted((n for n in fill.notes if n.hand == hand),
                                          key=lambda n: (n.onset_quarter, n.midi))]
                for fill in (before, after)]
        if len(rows[0]) == len(rows[1]) and rows[0] != rows[1]:
            words.append(f"other fingers in the {hand} hand")
    return tuple(words)
