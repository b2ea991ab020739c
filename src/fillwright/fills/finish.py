"""The one place where a draft becomes a fill, or is refused.

`finish` fingers both hands with the held melody note among the right hand's keys, audits
the result with the rules of `fillwright.rules`, computes difficulty, counts and the
fill's id. A family never emits a `Fill` by itself.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.counts import SMALLEST, count_marks
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.model import UNPLACED, Fill
from fillwright.fills.situation import Closing, Task
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.hands.repeats import finger_spared
from fillwright.rules import FillSpan, MelodySpan, Passage, refusal
from fillwright.rules.chords import Chords, HeardChord
from fillwright.rules.melody import LANDING, alone_quarter
from fillwright.rules.sound import MUD
from fillwright.tune.model import ChordSpan

__all__ = ["Refusal", "finish", "speak_quarter"]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a draft is not offered: the rule's name, and where."""

    rule: str
    onset_quarter: Fraction


def speak_quarter(task: Task) -> Fraction:
    """How long the held note is left alone before the right hand may leave its key."""
    return alone_quarter(task.beat_quarter, task.seconds_per_quarter)


def finish(task: Task, draft: Draft) -> Fill | Refusal:
    """Finger, audit, count and name a draft."""
    broken = _refused(task, draft)
    if broken is not None:
        return broken
    fingered = _finger(task, draft)
    if isinstance(fingered, Refusal):
        return fingered
    notes, melody_finger = fingered
    hard = difficulty(notes, task.hand_size, task.seconds_per_quarter,
                      offset_quarter=task.bar_at(task.onset_quarter).first_beat_quarter)
    if hard.total > task.player.level.difficulty[1]:
        return Refusal("difficulty", task.onset_quarter)
    if task.closing is not None:
        draft = replace(draft, chords=_closed(task, task.closing, draft.chords),
                        reasons=(*draft.reasons, task.closing.reason))
    mud_total = sum(MUD.cost(chord) for chord in _chords_struck(draft))
    fill_id = _fill_id(task, draft)
    struck = [n.onset_quarter for n in draft.notes]
    end = task.end_quarter
    if draft.shift is not None:  # a landing that is not in its place is counted too
        struck.append(draft.shift.landing_quarter)
        end = max(end, draft.shift.landing_quarter + SMALLEST)
    costs: dict[str, int] = defaultdict(int)
    for term, cost in draft.costs:
        costs[term] += cost
    if mud_total:
        costs["low intervals"] += mud_total
    return Fill(
        id=fill_id,
        gap=UNPLACED,
        family=draft.family,
        device=draft.device,
        level=task.player.level.name,
        notes=notes,
        chords=tuple(ChordSpan(c.onset_quarter, c.end_quarter - c.onset_quarter,
                               c.harmony.symbol, c.added, fill_id if c.added else None,
                               c.reason if c.added else None) for c in draft.chords),
        counted=count_marks(task.bars, task.onset_quarter, end, struck),
        reasons=draft.reasons,
        costs=tuple(sorted(costs.items())),
        difficulty=hard.total,
        held_end=draft.held,
        melody_finger=melody_finger,
        idea=draft.idea,
        over_quarter=max([n.end_quarter - task.end_quarter for n in draft.notes
                          if n.hand == "left"] + [Fraction(0)]),
        shift=draft.shift,
    )


def _refused(task: Task, draft: Draft) -> Refusal | None:
    """What speaks against a draft before its fingers are known."""
    held = draft.held
    if not draft.notes:
        return Refusal("empty", task.onset_quarter)
    if task.held is not None and not (
            task.onset_quarter < held.until_quarter <= task.end_quarter):
        return Refusal("held note", held.until_quarter)
    cut = next((n for n in draft.notes if n.duration_quarter <= 0), None)
    if cut is not None:  # the landing comes before it
        return Refusal(LANDING.name, cut.onset_quarter)
    broken = refusal(_passage(task, draft))
    return None if broken is None else Refusal(broken.rule, broken.onset_quarter)


def _closed(task: Task, closing: Closing, chords: Sequence[DraftChord]
            ) -> tuple[DraftChord, ...]:
    """The closing tonic as an added chord, once for each printed chord it stands for.

    A chord added on the way home that is the one printed there is not added.
    """
    found: list[DraftChord] = []
    for chord in chords:
        printed = next((
            span.harmony for span in task.written
            if span.harmony is not None and span.harmony.root == chord.harmony.root
            and span.symbol.quality == chord.harmony.symbol.quality
            and span.onset_quarter <= chord.onset_quarter
            and chord.end_quarter <= span.end_quarter), None)
        if chord.added and printed is not None:
            found.append(replace(chord, harmony=printed, added=False, reason=None))
        elif (chord.added or chord.end_quarter <= closing.onset_quarter
                or chord.harmony.root != closing.harmony.root):
            found.append(chord)
        else:
            cuts = [place for place in closing.replaced
                    if chord.onset_quarter < place < chord.end_quarter]
            found += [
                replace(chord, end_quarter=end) if start < closing.onset_quarter else
                replace(chord, onset_quarter=start, end_quarter=end, added=True,
                        reason=closing.reason)
                for start, end in pairwise([chord.onset_quarter, *cuts, chord.end_quarter])]
    return tuple(found)


def _passage(task: Task, draft: Draft) -> Passage:
    """The draft with the held note before it and the landing behind it, fingers not yet known."""
    held, landing, beat = task.held, task.landing, task.beat_quarter
    start, end = task.onset_quarter, task.end_quarter
    place = end if draft.shift is None else draft.shift.landing_quarter
    notes = [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, n.hand, None, "fill",
                      UNPLACED, n.rolled) for n in draft.notes]
    chords = [HeardChord(c.onset_quarter, c.end_quarter, c.harmony.symbol, c.added, c.harmony)
              for c in draft.chords]
    chords += [HeardChord(max(c.onset_quarter, end), c.end_quarter, c.symbol)
               for c in task.after[:1]]
    melody = []
    if held is not None:
        until = draft.held.until_quarter
        notes.append(HandNote(start, _key_quarter(task, draft), held.pitch, "right", None,
                              "melody"))
        melody.append(MelodySpan(start, until, held.midi, speak_quarter(task),
                                 draft.held.by_pedal))
    if landing is not None:
        length = min(landing.duration_quarter, beat)
        notes.append(HandNote(place, length, landing.pitch, "right", None, "melody"))
        melody.append(MelodySpan(place, place + length, landing.midi))
    return Passage(tuple(notes), task.hand_size, task.seconds_per_quarter, Chords.of(chords),
                   tuple(melody), tuple((m.onset_quarter, m.until_quarter - m.onset_quarter, m.midi)
                                        for m in melody),
                   (FillSpan(UNPLACED, start, place, max([end + beat, *(
                       c.end_quarter for c in draft.chords if c.added)])),), beat, whole=False)


def _key_quarter(task: Task, draft: Draft) -> Fraction:
    """How long the held note's key is down."""
    start = task.onset_quarter
    return draft.held.key_until(start, (
        n.onset_quarter for n in draft.notes if n.hand == "right")) - start


def _chords_struck(draft: Draft) -> list[tuple[int, ...]]:
    by_onset: dict[Fraction, set[int]] = defaultdict(set)
    for note in draft.notes:
        by_onset[note.onset_quarter].add(note.midi)
    return [tuple(sorted(midis)) for _, midis in sorted(by_onset.items())]


def _finger(task: Task, draft: Draft
            ) -> tuple[tuple[HandNote, ...], int | None] | Refusal:
    """Fingers for both hands; the held note and the landing count as right-hand keys."""
    start = task.onset_quarter
    ordered = sorted(draft.notes, key=lambda n: (n.onset_quarter, n.midi))
    fingers: dict[DraftNote, int] = {}
    melody_finger: int | None = None
    for hand in ("left", "right"):
        mine = [n for n in ordered if n.hand == hand]
        part = [(n.onset_quarter, n.duration_quarter, n.midi) for n in mine]
        first = 0
        if hand == "right" and task.held is not None:
            part.insert(0, (start, _key_quarter(task, draft), task.held.midi))
            first = 1
        if hand == "right" and task.landing is not None and part:
            landing = (task.end_quarter if draft.shift is None
                       else draft.shift.landing_quarter)
            part.append((landing, task.beat_quarter, task.landing.midi))
        if not mine and not first:
            continue
        # finger_part wants onset, then pitch order: the held note may stand above others
        order = sorted(range(len(part)), key=lambda i: (part[i][0], part[i][2]))
        arranged = tuple(part[i] for i in order)
        rolled = frozenset(place for place, i in enumerate(order)
                           if first <= i < first + len(mine) and mine[i - first].rolled)
        found = finger_spared(arranged, hand, task.hand_size, task.seconds_per_quarter,
                              rolled)
        if found is None:
            return Refusal(f"{hand} hand cannot play it", start)
        placed = {i: found[place] for place, i in enumerate(order)}
        if first:
            melody_finger = placed[0]
        for index, note in enumerate(mine):
            fingers[note] = placed[index + first]
    return tuple(HandNote(n.onset_quarter, n.duration_quarter, n.pitch, n.hand, fingers[n],
                          "fill", UNPLACED, n.rolled) for n in ordered), melody_finger


_SLUG = 30
"""Letters of a device's name that stand in an id."""


def _fill_id(task: Task, draft: Draft) -> str:
    """Family, device, and a digest of rhythm and added degrees.

    Nothing in it depends on key, octave, tempo, level or the exact voicing, so that a pick
    finds its idea again. Where two options share all of that, `fills_of` numbers them;
    `fills.place` puts the gap's place in the form before it.
    """
    tonic = task.key.tonic.pitch_class
    onsets = sorted({n.onset_quarter - task.onset_quarter for n in draft.notes})
    parts = [draft.family, draft.device, *(str(onset) for onset in onsets)]
    parts += [f"{c.onset_quarter - task.onset_quarter}:"
              f"{(c.harmony.root.pitch_class - tonic) % 12}:{c.harmony.symbol.quality}"
              for c in draft.chords if c.added]
    digest = hashlib.sha256("|".join(parts).encode()).hexdigest()[:6]
    slug = ""
    for word in "".join(c if c.isalnum() else " " for c in draft.device.lower()).split():
        if len(slug) + len(word) >= _SLUG:  # the digest tells longer names apart
            break
        slug += f"-{word}" if slug else word
    return f"{draft.family}-{slug}-{digest}"
