"""What can be left out of an idea, one thing at a time, in the order in which a teacher would.

Each step takes a draft and gives drafts that are a little less, with the words for what is
gone. Nothing new is put in: a key is left out, is moved by an octave into the hand, or comes
on the beat instead of before it. Whether the rest can be played and is still the idea, others
say (`fills.finish`, `fills.ladder.rungs`).

The order is common practice: what stretches first, then what doubles, then the middle of
chords, the pushes, the fast values, the strokes between the beats, the added chords.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TypeAlias

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.passages import counted
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.situation import Task
from fillwright.theory.chord import degree_number
from fillwright.theory.pitch import Pitch
from fillwright.theory.spoken import ordinal, spoken_degree

__all__ = ["EIGHTH", "STEPS", "Less", "less_of"]


@dataclass(frozen=True, slots=True)
class Less:
    """A draft with something left out, and the words for it: "the tenths".

    stroke   a whole stroke is gone, or a chord: the rhythm of the idea is another
    """

    draft: Draft
    words: str
    stroke: bool = False


_Notes: TypeAlias = tuple[DraftNote, ...]
_Step: TypeAlias = Callable[[Draft, Task], Iterator[Less]]

_TENTH = 15
"""Semitones from which on a left hand stretches to a tenth."""
_OCTAVE = 12
_SEVENTH = 7
"""Of the degrees up to it a chord has one each."""
_GRACE = Fraction(1, 6)
"""Quarters below which a note is an ornament of the next."""
EIGHTH = Fraction(1, 2)
_BARS = (*(f"the gap's {word} bar" for word in ("first", "second", "third", "fourth", "fifth")),
         "a later bar of the gap")

_DROPPED = MappingProxyType({
    "5": 0, "b5": 2, "#5": 2, "1": 1, "9": 3, "b9": 3, "#9": 3, "11": 3, "#11": 3, "13": 3,
    "b13": 3, "2": 4, "4": 6, "6": 5, "bb7": 5, "b7": 5, "7": 5, "b3": 7, "3": 7})
"""Which degree of a chord goes first: what tells its kind goes last (common practice)."""


def less_of(draft: Draft, task: Task) -> Iterator[Less]:
    """All drafts with one thing less, in the order of `STEPS`."""
    for step in STEPS:
        for less in step(draft, task):
            if less.draft.notes and less.draft.notes != draft.notes:
                yield less


# --- what the steps share ---------------------------------------------------------------------

def _with(draft: Draft, notes: Sequence[DraftNote]) -> Draft:
    """The draft with other notes, in order of time."""
    return replace(draft, notes=tuple(sorted(notes, key=lambda n: (n.onset_quarter, n.midi))))


def _rows(draft: Draft, hand: str) -> dict[Fraction, list[DraftNote]]:
    """What a hand strikes, by its onsets, from low to high."""
    rows: dict[Fraction, list[DraftNote]] = {}
    for note in draft.notes:
        if note.hand == hand:
            rows.setdefault(note.onset_quarter, []).append(note)
    return {onset: sorted(row, key=lambda n: n.midi) for onset, row in sorted(rows.items())}


def _onsets(draft: Draft) -> list[Fraction]:
    return sorted({note.onset_quarter for note in draft.notes})


def _word(task: Task, onset: Fraction) -> str:
    """A place as it is counted: ``2&``; in a gap in which that is counted more than once with its
    bar: ``2& in the gap's second bar``."""
    word = counted(task.beat_at(onset), compound=task.meter.is_compound)
    bars = [bar for bar in task.bars
            if bar.end_quarter > 0 and bar.onset_quarter < task.duration_quarter]
    beat = task.beat_at(onset) - 1
    again = [number for number, bar in enumerate(bars, 1)
             if 0 <= (at := bar.first_beat_quarter + beat * bar.meter.beat_quarter)
             < min(bar.end_quarter, task.duration_quarter) and at >= bar.onset_quarter]
    if len(again) < 2:
        return word
    here = next(number for number, bar in enumerate(bars, 1) if bar.end_quarter > onset)
    return f"{word} in {_BARS[min(here, len(_BARS)) - 1]}"


def _on_beat(task: Task, onset: Fraction) -> bool:
    return task.beat_at(onset).denominator == 1


def _chord_at(draft: Draft, onset: Fraction) -> DraftChord:
    found = draft.chords[0]
    for chord in draft.chords:
        if chord.onset_quarter <= onset:
            found = chord
    return found


def _is_line(draft: Draft) -> bool:
    return draft.family == "line"


def _plural(count: int, one: str, many: str) -> str:
    return one if count == 1 else many


# --- the steps --------------------------------------------------------------------------------

def _ornaments(draft: Draft, task: Task) -> Iterator[Less]:
    """Grace notes."""
    short = [n for n in draft.notes if n.hand == "right" and n.duration_quarter < _GRACE]
    if short:
        yield Less(_with(draft, [n for n in draft.notes if n not in short]),
                   _plural(len(short), "the grace note", "the grace notes"))


def _tenths(draft: Draft, task: Task) -> Iterator[Less]:
    """Tenths of the left hand: the upper key an octave lower, or left out."""
    wide = {onset: row for onset, row in _rows(draft, "left").items()
            if row[-1].midi - row[0].midi >= _TENTH}
    if not wide:
        return
    words = _plural(len(wide), "the tenth", "the tenths")
    for folds in (True, False):
        notes = [n for n in draft.notes if n.hand == "right" or n.onset_quarter not in wide]
        for row in wide.values():
            top = row[-1]
            lower = Pitch(top.pitch.step, top.pitch.alter, top.pitch.octave - 1)
            kept = row[:-1]
            if folds and lower.midi > row[0].midi and all(lower.midi != n.midi for n in kept):
                kept = [*kept, replace(top, pitch=lower)]
            notes += [replace(n, rolled=False) for n in kept]
        yield Less(_with(draft, notes), words)


def _octaves(draft: Draft, task: Task) -> Iterator[Less]:
    """A key that one hand doubles in the octave: the right hand keeps the upper one, the left
    hand the lower one."""
    for hand in ("right", "left"):
        gone: list[DraftNote] = []
        for row in _rows(draft, hand).values():
            for note in row:
                others = [n for n in row if n is not note and n.midi % 12 == note.midi % 12]
                above = any(n.midi > note.midi for n in others)
                below = any(n.midi < note.midi for n in others)
                if (hand == "right" and above) or (hand == "left" and below):
                    gone.append(note)
        if gone:
            yield Less(_with(draft, [n for n in draft.notes if n not in gone]),
                       _plural(len(gone), f"the {hand} hand's octave",
                               f"the {hand} hand's octaves"))


def _doubled(draft: Draft, task: Task) -> Iterator[Less]:
    """The lower voice of a line in thirds or sixths."""
    if not _is_line(draft):
        return
    rows = _rows(draft, "right")
    if any(len(row) > 1 for row in rows.values()):
        yield Less(_with(draft, [n for n in draft.notes if n.hand == "left"
                                 or n is rows[n.onset_quarter][-1]]), "the lower voice")


def _inner(draft: Draft, task: Task) -> Iterator[Less]:
    """One key of every fullest chord of a hand: never the top of the right hand nor the bottom
    of the left."""
    for hand in ("right", "left"):
        rows = _rows(draft, hand)
        fullest = max((len(row) for row in rows.values()), default=0)
        if fullest < 2:
            continue
        gone: list[DraftNote] = []
        for onset, row in rows.items():
            if len(row) == fullest:
                chord = _chord_at(draft, onset).harmony
                mobile = row[:-1] if hand == "right" else row[1:]
                gone.append(min(mobile, key=lambda n: (
                    _DROPPED.get(chord.degree_of(n.midi % 12) or "", 3), n.midi)))
        yield Less(_with(draft, [n for n in draft.notes if n not in gone]),
                   f"{_named(draft, gone, fullest)} in the {hand} hand")


def _named(draft: Draft, gone: Sequence[DraftNote], keys: int) -> str:
    """What has gone out of chords of so many keys: "the fifth of Dm7", "an inner note of each
    chord"."""
    chords = [_chord_at(draft, n.onset_quarter).harmony for n in gone]
    degrees = {c.degree_of(n.midi % 12) for c, n in zip(chords, gone, strict=True)}
    degree = degrees.pop() if len(degrees) == 1 else None
    if degree is not None:
        word = (ordinal if degree_number(degree) <= _SEVENTH else spoken_degree)(degree)
        one = len(set(chords)) == 1
        return f"the {word} of {chords[0].symbol.pretty}" if one else f"the {word} of each chord"
    many = "" if len(gone) == 1 else " of each chord"
    return f"an inner note{many}" if keys > 2 else f"the second note{many}"


def _left_moves(draft: Draft, task: Task) -> Iterator[Less]:
    """What the left hand strikes after its first stroke in each chord; that stroke lasts on."""
    rows = _rows(draft, "left")
    first: dict[Fraction, Fraction] = {}
    for onset in rows:
        first.setdefault(_chord_at(draft, onset).onset_quarter, onset)
    gone = [onset for onset in rows if onset not in first.values()]
    if not gone or any(n.onset_quarter in gone and n.rolled for n in draft.notes):
        return
    last: dict[Fraction, Fraction] = {}
    for onset, row in rows.items():
        chord = _chord_at(draft, onset).onset_quarter
        last[chord] = max([last.get(chord, onset), *(n.end_quarter for n in row)])
    kept = []
    for note in draft.notes:
        if note.hand == "right":
            kept.append(note)
        elif note.onset_quarter not in gone:
            end = last[_chord_at(draft, note.onset_quarter).onset_quarter]
            kept.append(replace(note, duration_quarter=end - note.onset_quarter))
    yield Less(_with(draft, kept), "the left hand's moving")


def _pushes(draft: Draft, task: Task) -> Iterator[Less]:
    """A stroke ahead of a beat that lasts over it comes on the beat; one at a time, the last
    first. Lines keep theirs: there an off-beat is a note of the tune."""
    if _is_line(draft):
        return
    onsets = _onsets(draft)
    for onset in reversed(onsets):
        if _on_beat(task, onset):
            continue
        beat = onset + (1 - (task.beat_at(onset) % 1)) * task.beat_quarter
        struck = [n for n in draft.notes if n.onset_quarter == onset]
        if (beat >= task.end_quarter or beat in onsets or beat - onset > EIGHTH
                or not all(n.end_quarter > beat for n in struck)):
            continue
        later = [replace(n, onset_quarter=beat, duration_quarter=n.end_quarter - beat)
                 for n in struck]
        yield Less(_with(draft, [n for n in draft.notes if n not in struck] + later),
                   f"the push to {_word(task, beat)}")


def _fast(draft: Draft, task: Task) -> Iterator[Less]:
    """What is faster than eighths (in six-eight: than its eighths); the note before lasts
    on."""
    beat = task.beat_quarter
    off = [onset for onset in _onsets(draft)
           if ((task.beat_at(onset) - 1) * beat / EIGHTH).denominator != 1]
    if off:
        triplets = any((task.beat_at(onset) - 1).denominator % 3 == 0 for onset in off)
        yield Less(_without(draft, off, "right" if _is_line(draft) else None),
                   "the notes between the eighths" if not triplets else
                   "the notes of the triplets that no eighth falls on")


def _off_beats(draft: Draft, task: Task) -> Iterator[Less]:
    """Strokes between the beats, one at a time, the last first; in a line never the first or
    the last note, foreign notes before chord tones. With an added chord's stroke the chord has to
    go (`_added`), or its symbol would stand over silence."""
    added = {chord.onset_quarter for chord in draft.chords if chord.added}
    yield from _strokes_out(draft, task, [o for o in _onsets(draft)
                                          if not _on_beat(task, o) and o not in added])


def _beats(draft: Draft, task: Task) -> Iterator[Less]:
    """Strokes on the beats, where no chord changes, one at a time, the last first."""
    changes = {chord.onset_quarter for chord in draft.chords}
    yield from _strokes_out(draft, task, [o for o in _onsets(draft)
                                          if _on_beat(task, o) and o not in changes])


def _strokes_out(draft: Draft, task: Task, places: Sequence[Fraction]) -> Iterator[Less]:
    if not _is_line(draft):
        for onset in reversed(places):
            yield Less(_without(draft, [onset]), f"the {_what(draft, onset)} on "
                       f"{_word(task, onset)}", stroke=True)
        return
    rows = _rows(draft, "right")
    inside = [o for o in list(rows)[1:-1] if o in places]

    def weight(onset: Fraction) -> tuple[bool, Fraction]:
        chord = _chord_at(draft, onset).harmony
        return chord.is_tone(rows[onset][-1].midi % 12), -onset

    for onset in sorted(inside, key=weight):
        name = rows[onset][-1].pitch.note_name.pretty
        yield Less(_without(draft, [onset], "right"), f"the {name} on {_word(task, onset)}",
                   stroke=True)
    for onset in reversed([o for o in _rows(draft, "left") if o in places and o > 0]):
        yield Less(_without(draft, [onset], "left"),
                   f"the left hand on {_word(task, onset)}", stroke=True)


def _what(draft: Draft, onset: Fraction) -> str:
    return "chord" if sum(n.onset_quarter == onset for n in draft.notes) > 1 else "note"


def _without(draft: Draft, places: Sequence[Fraction], hand: str | None = None) -> Draft:
    """The draft without what is struck at some places (by one hand); what ended there in the
    same hand lasts until what comes next there, so that no hole is torn."""
    gone = [n for n in draft.notes if n.onset_quarter in places and hand in (None, n.hand)]
    kept = [n for n in draft.notes if n not in gone]
    ends = {(n.hand, n.onset_quarter): n.end_quarter for n in gone}
    result = []
    for note in kept:
        while (note.hand, note.end_quarter) in ends:
            end = ends[note.hand, note.end_quarter]
            note = replace(note, duration_quarter=end - note.onset_quarter)
        struck = [n.onset_quarter for n in kept
                  if n.midi == note.midi and n.onset_quarter > note.onset_quarter]
        end = min([note.end_quarter, *struck])
        result.append(replace(note, duration_quarter=end - note.onset_quarter))
    return _with(draft, result)


def _comes_home(chord: DraftChord, task: Task) -> bool:
    """Whether a chord stands there whatever is played: it closes the tune."""
    home = task.closing
    return (home is not None and chord.onset_quarter in home.replaced
            and chord.harmony.symbol == home.harmony.symbol)


def _added(draft: Draft, task: Task) -> Iterator[Less]:
    """An added chord with all that is struck over it; the chord before lasts on. The first goes
    first: what leads to the landing stays."""
    rows = draft.chords
    own = [chord for chord in rows if chord.added and not _comes_home(chord, task)]
    if len(own) < 2:
        return
    for place, chord in enumerate(rows):
        if chord not in own or not place:
            continue
        start, end = chord.onset_quarter, chord.end_quarter
        before = replace(rows[place - 1], end_quarter=end)
        gone = [n for n in draft.notes if start <= n.onset_quarter < end]
        over = [replace(n, duration_quarter=end - n.onset_quarter)
                if n.end_quarter == start else n for n in draft.notes if n not in gone]
        less = replace(draft, chords=(*rows[:place - 1], before, *rows[place + 1:]))
        yield Less(_with(less, over), f"the chord on {_word(task, start)} "
                                      f"({chord.harmony.symbol.pretty})", stroke=True)


STEPS: tuple[_Step, ...] = (_ornaments, _tenths, _octaves, _doubled, _inner, _left_moves, _pushes,
                            _fast, _off_beats, _added, _beats)
"""In the order in which a teacher would leave things out."""
