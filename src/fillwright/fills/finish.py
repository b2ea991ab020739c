"""The one place where a draft becomes a fill, or is refused.

`finish` fingers both hands with the held melody note among the right hand's keys, audits
the result with the rules of `fillwright.hands`, computes difficulty, counts and the
fill's id. A family never emits a `Fill` by itself.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from fillwright.fills.counts import count_marks
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.model import UNPLACED, Fill
from fillwright.fills.situation import Closing, Task
from fillwright.hands.clash import minor_ninth, mud, mud_cost, rub
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.hands.repeats import finger_spared
from fillwright.theory.chord import degree_pitch_class
from fillwright.tune.model import ChordSpan

__all__ = ["Refusal", "finish", "speak_quarter"]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a draft is not offered: the rule's name, and where."""

    rule: str
    onset_quarter: Fraction


def speak_quarter(context: Task) -> Fraction:
    """How long the held note is left alone before the right hand may leave its key.

    One felt beat, and never under 0.3 s (common practice: the melody is heard first).
    """
    beat = context.beat_quarter
    return beat if context.seconds(beat) >= 0.3 else 2 * beat


def finish(context: Task, draft: Draft) -> Fill | Refusal:
    """Finger, audit, count and name a draft."""
    refusal = (_check_times(context, draft) or _check_held(context, draft)
               or _check_sound(context, draft))
    if refusal is not None:
        return refusal
    fingered = _finger(context, draft)
    if isinstance(fingered, Refusal):
        return fingered
    notes, melody_finger = fingered
    hard = difficulty(notes, context.hand, context.seconds_per_quarter,
                      offset_quarter=context.bar_at(context.onset_quarter).first_beat_quarter)
    if hard.total > context.player.level.difficulty[1]:
        return Refusal("difficulty", context.onset_quarter)
    if context.closing is not None:
        draft = replace(draft, chords=_closed(context, context.closing, draft.chords),
                        reasons=(*draft.reasons, context.closing.reason))
    mud_total = sum(mud_cost(chord) for chord in _chords_struck(draft))
    fill_id = _fill_id(context, draft)
    struck = [n.onset_quarter for n in draft.notes
              if draft.spoken == "all" or n.hand == "right"]
    end = context.end_quarter if draft.shift is None else max(context.end_quarter,
                                                              draft.shift.landing_quarter)
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
        level=context.level,
        notes=notes,
        chords=tuple(ChordSpan(c.onset_quarter, c.end_quarter - c.onset_quarter,
                               c.harmony.symbol, c.added, fill_id if c.added else None,
                               c.reason if c.added else None) for c in draft.chords),
        counted=count_marks(context.bars, context.onset_quarter, end, struck),
        reasons=draft.reasons,
        costs=tuple(sorted(costs.items())),
        difficulty=hard.total,
        melody_until_quarter=draft.held.until_quarter,
        melody_kept=draft.held.kept,
        melody_finger=melody_finger,
        idea=draft.idea,
        over_quarter=max([n.end_quarter - context.end_quarter for n in draft.notes
                          if n.hand == "left"] + [Fraction(0)]),
        shift=draft.shift,
    )


def _closed(context: Task, closing: Closing, chords: Sequence[DraftChord]
            ) -> tuple[DraftChord, ...]:
    """The closing tonic as an added chord, once for each printed chord it stands for.

    A chord added on the way home that is the one printed there is not added.
    """
    found: list[DraftChord] = []
    for chord in chords:
        printed = next((
            span.harmony for span in context.written
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


def _check_times(context: Task, draft: Draft) -> Refusal | None:
    start = context.onset_quarter
    end = context.end_quarter if draft.shift is None else draft.shift.landing_quarter
    speak = start + speak_quarter(context)
    held = context.held_midi
    if not draft.notes:
        return Refusal("empty", start)
    for note in draft.notes:
        if not start <= note.onset_quarter < end:
            return Refusal("outside the gap", note.onset_quarter)
        if note.hand == "right" and note.end_quarter > end:
            return Refusal("right hand late for the landing", note.onset_quarter)
        if note.end_quarter > context.end_quarter + context.beat_quarter:
            return Refusal("rings too far", note.onset_quarter)
        if (held is not None and note.hand == "right" and note.onset_quarter < speak
                and not (note.midi < held and (note.onset_quarter == start
                                               or draft.held.kept == "finger"))):
            return Refusal("melody not heard first", note.onset_quarter)
    by_key: dict[int, Fraction] = {}
    for note in sorted(draft.notes, key=lambda n: (n.onset_quarter, n.midi)):
        if by_key.get(note.midi, Fraction(-1)) > note.onset_quarter:
            return Refusal("key struck while held", note.onset_quarter)
        by_key[note.midi] = note.end_quarter
    return None


def _check_held(context: Task, draft: Draft) -> Refusal | None:
    held = context.held
    plan = draft.held
    if held is None:
        return None
    start, until = context.onset_quarter, plan.until_quarter
    if plan.kept not in ("finger", "pedal", "released") or not (
            start < until <= context.end_quarter):
        return Refusal("held note", until)
    for chord in draft.chords:
        sounds = chord.onset_quarter < until and chord.end_quarter > start
        if sounds and chord.added and not chord.harmony.takes(held.pitch.pitch_class):
            return Refusal("held note foreign to the chord", chord.onset_quarter)
        if plan.kept == "pedal" and start < chord.onset_quarter < until:
            return Refusal("pedal through a change of chord", chord.onset_quarter)
    for note in draft.notes:
        if note.onset_quarter >= until:
            continue
        if plan.kept == "pedal" and note.onset_quarter > start and note.duration_quarter < min(
                context.beat_quarter, until - note.onset_quarter):
            return Refusal("pedal through a short hit", note.onset_quarter)
        if note.end_quarter > start and note.midi == held.midi:
            return Refusal("held key struck again", note.onset_quarter)
        if plan.kept != "pedal" and note.hand == "right" and note.midi > held.midi:
            return Refusal("right hand over its held note", note.onset_quarter)
    return None


def _flat_nine_root(draft: Draft, onset: Fraction) -> int | None:
    """The root's pitch class where the chord at `onset` is a dominant that takes a flat nine."""
    for chord in reversed(draft.chords):
        if chord.onset_quarter <= onset:
            flat = any(degree_pitch_class(d) == 1
                       for d in chord.harmony.tensions + chord.harmony.symbol.degrees)
            if flat and chord.harmony.symbol.quality in ("dominant", "suspended"):
                return chord.harmony.root.pitch_class
            return None
    return None


def _check_sound(context: Task, draft: Draft) -> Refusal | None:
    """Rubs with the melody while it sounds, and mud and minor ninths inside the hands."""
    held = context.held
    if held is not None:
        for note in draft.notes:
            if note.onset_quarter < draft.held.until_quarter:
                low, high = sorted((note.midi, held.midi))
                root = _flat_nine_root(draft, note.onset_quarter)
                if rub(low, high, root, root is not None):
                    return Refusal("rub with the melody", note.onset_quarter)
    landing = context.landing_midi
    place = context.end_quarter if draft.shift is None else draft.shift.landing_quarter
    for note in draft.notes:  # what rings on meets the landing note
        if landing is not None and note.end_quarter > place:
            root = _flat_nine_root(draft, note.onset_quarter)
            if note.midi >= landing or rub(note.midi, landing, root, root is not None):
                return Refusal("rub with the landing note", note.onset_quarter)
    for onset, sounding in _sounding_at_onsets(draft):
        midis = tuple(sorted({n.midi for n in sounding}))
        if mud(midis):
            return Refusal("mud", onset)
        root = _flat_nine_root(draft, onset)
        struck = [n for n in sounding if n.onset_quarter == onset]
        # a single note of a line over a held chord passes by
        new = midis if len(struck) > 1 else ()
        for index, low in enumerate(new):
            for high in new[index + 1:]:
                if minor_ninth(low, high, root, root is not None):
                    return Refusal("minor ninth", onset)
        left = [n.midi for n in sounding if n.hand == "left"]
        right = [n.midi for n in sounding if n.hand == "right"]
        if left and right and max(left) >= min(right):
            return Refusal("hands cross", onset)
        if (held is not None and left and onset < draft.held.until_quarter
                and max(left) >= held.midi):
            return Refusal("hands cross", onset)
    return None


def _sounding_at_onsets(draft: Draft) -> list[tuple[Fraction, list[DraftNote]]]:
    onsets = sorted({n.onset_quarter for n in draft.notes})
    return [(onset, [n for n in draft.notes if n.onset_quarter <= onset < n.end_quarter])
            for onset in onsets]


def _chords_struck(draft: Draft) -> list[tuple[int, ...]]:
    by_onset: dict[Fraction, set[int]] = defaultdict(set)
    for note in draft.notes:
        by_onset[note.onset_quarter].add(note.midi)
    return [tuple(sorted(midis)) for _, midis in sorted(by_onset.items())]


def _finger(context: Task, draft: Draft
            ) -> tuple[tuple[HandNote, ...], int | None] | Refusal:
    """Fingers for both hands; the held note and the landing count as right-hand keys."""
    start = context.onset_quarter
    ordered = sorted(draft.notes, key=lambda n: (n.onset_quarter, n.midi))
    fingers: dict[DraftNote, int] = {}
    melody_finger: int | None = None
    for hand in ("left", "right"):
        mine = [n for n in ordered if n.hand == hand]
        part = [(n.onset_quarter, n.duration_quarter, n.midi) for n in mine]
        first = 0
        if hand == "right" and context.held is not None:
            length = draft.held.until_quarter - start
            later = [n.onset_quarter for n in mine if n.onset_quarter > start]
            if draft.held.kept == "pedal" and later:
                length = min(length, later[0] - start)
            part.insert(0, (start, length, context.held.midi))
            first = 1
        if hand == "right" and context.landing is not None and part:
            landing = (context.end_quarter if draft.shift is None
                       else draft.shift.landing_quarter)
            part.append((landing, context.beat_quarter, context.landing.midi))
        if not mine and not first:
            continue
        # finger_part wants onset, then pitch order: the held note may stand above others
        order = sorted(range(len(part)), key=lambda i: (part[i][0], part[i][2]))
        arranged = tuple(part[i] for i in order)
        rolled = frozenset(place for place, i in enumerate(order)
                           if first <= i < first + len(mine) and mine[i - first].rolled)
        found = finger_spared(arranged, hand, context.hand, context.seconds_per_quarter, rolled)
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


def _fill_id(context: Task, draft: Draft) -> str:
    """Family, device, and a digest of rhythm and added degrees.

    Nothing in it depends on key, octave, tempo, level or the exact voicing, so that a pick
    finds its idea again. Where two options share all of that, `fills_of` numbers them;
    `fills.place` puts the gap's place in the form before it.
    """
    tonic = context.key.tonic.pitch_class
    onsets = sorted({n.onset_quarter - context.onset_quarter for n in draft.notes})
    parts = [draft.family, draft.device, *(str(onset) for onset in onsets)]
    parts += [f"{c.onset_quarter - context.onset_quarter}:"
              f"{(c.harmony.root.pitch_class - tonic) % 12}:{c.harmony.symbol.quality}"
              for c in draft.chords if c.added]
    digest = hashlib.sha256("|".join(parts).encode()).hexdigest()[:6]
    slug = ""
    for word in "".join(c if c.isalnum() else " " for c in draft.device.lower()).split():
        if len(slug) + len(word) >= _SLUG:  # the digest tells longer names apart
            break
        slug += f"-{word}" if slug else word
    return f"{draft.family}-{slug}-{digest}"
