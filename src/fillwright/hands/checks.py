"""One check per rule of what two hands can do and should not do.

Every `check_*` takes the struck keys of both hands (the melody's among them, with the time
its key is held) and what else its rule needs, and returns its findings: none means the rule
holds. `audit` runs them all. Keys are "down" from their onset until just before their end.

Sources stand with the limits: `reach`, `jumps` and `clash` of this package. Where none is
named a rule is common practice of solo piano.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from fillwright.hands.clash import minor_ninth, mud, rub
from fillwright.hands.costs import pair_limits_ok
from fillwright.hands.jumps import jump_ok, jump_seconds_needed
from fillwright.hands.model import HandNote
from fillwright.hands.reach import (
    MAX_NOTES,
    ROLL_DENOMINATOR,
    ROLL_NUMERATOR,
    rolled_span_ok,
    span_ok,
    span_units,
)
from fillwright.theory.pitch import spell_plain
from fillwright.tune.model import ChordSpan

__all__ = ["RULES", "Audit", "Finding", "MelodySpan", "Moment", "audit", "check_counts",
           "check_fingers", "check_hands", "check_jumps", "check_melody", "check_minor_ninths",
           "check_mud", "check_range", "check_reach", "check_restrikes", "check_rolls",
           "check_rubs", "check_wide_hole", "melody_spans", "moments"]

RULES = ("reach", "fingers", "counts", "rolls", "jumps", "hands", "restrikes", "range", "mud",
         "minor ninths", "rubs", "melody")
"""The rules of an audit, in the order they are run."""

ROLL_SECONDS = 0.06
"""From one note of a rolled chord to the next (common practice)."""

ROLL_SHARE = 20
"""Fewer than one chord in so many is rolled."""

WIDE_HOLE = 24
"""Semitones between the hands from which the middle sounds empty."""

HEARD_SECONDS = 0.10
"""A melody key is held at least so long before the hand leaves it (the fastest subdivision
that is heard as such: London, Hearing in Time, 2004)."""

PASSING_QUARTER = Fraction(1)
"""A melody note shorter than this passes over what is held under it."""

_LOWEST_KEY, _HIGHEST_KEY = 21, 108


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that breaks a rule: where, what, and the keys (MIDI) that do it."""

    rule: str
    onset_quarter: Fraction
    message: str
    midis: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class MelodySpan:
    """A melody note for as long as it sounds, by finger or by pedal."""

    onset_quarter: Fraction
    until_quarter: Fraction
    midi: int


@dataclass(frozen=True, slots=True)
class Moment:
    """An onset: the keys struck, and all keys then down, by ascending pitch."""

    onset_quarter: Fraction
    struck: tuple[HandNote, ...]
    down: tuple[HandNote, ...]

    def of(self, hand: str) -> tuple[tuple[HandNote, ...], tuple[HandNote, ...]]:
        """(struck, down) of one hand."""
        return (tuple(note for note in self.struck if note.hand == hand),
                tuple(note for note in self.down if note.hand == hand))


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found: findings in the order of `RULES`, and how often each rule was
    tried, as (rule, count)."""

    findings: tuple[Finding, ...]
    checked: tuple[tuple[str, int], ...]

    @property
    def clean(self) -> bool:
        return not self.findings

    def of(self, rule: str) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.rule == rule)


def moments(notes: Sequence[HandNote]) -> tuple[Moment, ...]:
    """The onsets in order, with what is struck and what is down."""
    ordered = sorted(notes, key=lambda note: (note.onset_quarter, note.midi, note.hand))
    found: list[Moment] = []
    down: list[HandNote] = []
    start = 0
    while start < len(ordered):
        onset = ordered[start].onset_quarter
        end = start
        while end < len(ordered) and ordered[end].onset_quarter == onset:
            end += 1
        struck = tuple(ordered[start:end])
        down = [note for note in down if note.end_quarter > onset] + list(struck)
        found.append(Moment(onset, struck, tuple(sorted(down, key=lambda note: note.midi))))
        start = end
    return tuple(found)


def melody_spans(notes: Sequence[HandNote]) -> tuple[MelodySpan, ...]:
    """The melody's notes for as long as their keys are held."""
    return tuple(MelodySpan(note.onset_quarter, note.end_quarter, note.midi)
                 for note in notes if note.role == "melody")


def _name(midi: int) -> str:
    return str(spell_plain(midi, False))


def _names(midis: Sequence[int]) -> str:
    return " ".join(_name(midi) for midi in midis)


def _strokes(notes: Sequence[HandNote]
             ) -> Iterator[tuple[Fraction, str, tuple[HandNote, ...], tuple[HandNote, ...]]]:
    """(onset, hand, struck, down) wherever a hand strikes."""
    for moment in moments(notes):
        for hand in ("left", "right"):
            struck, down = moment.of(hand)
            if struck:
                yield moment.onset_quarter, hand, struck, down


def _is_roll(low: HandNote, high: HandNote) -> bool:
    return low.rolled and high.rolled and low.onset_quarter == high.onset_quarter


def check_reach(notes: Sequence[HandNote], size: str) -> tuple[Finding, ...]:
    """Everything a hand has down lies within its reach; a rolled chord may exceed it by a
    third at the moment it is rolled."""
    found = []
    for onset, hand, struck, down in _strokes(notes):
        low, high = down[0], down[-1]
        if span_ok(low.midi, high.midi, size):
            continue
        if (_is_roll(low, high) and low in struck and high in struck
                and rolled_span_ok(low.midi, high.midi, size)):
            continue
        found.append(Finding("reach", onset, f"{hand} hand cannot reach from {_name(low.midi)}"
                             f" to {_name(high.midi)}", (low.midi, high.midi)))
    return tuple(found)


def check_fingers(notes: Sequence[HandNote], size: str) -> tuple[Finding, ...]:
    """No finger on two keys, fingers in the order of the keys, each pair within its span.

    Keys without a finger are left out.
    """
    found = []
    for onset, hand, struck, down in _strokes(notes):
        for low, high in combinations(down, 2):
            if low.finger is None or high.finger is None:
                continue
            if low not in struck and high not in struck:
                continue
            keys = (low.midi, high.midi)
            fingers = (low.finger, high.finger) if hand == "right" else (high.finger, low.finger)
            if fingers[0] == fingers[1]:
                what = f"{hand} finger {fingers[0]} is on two keys at once"
            elif fingers[0] > fingers[1]:
                what = f"{hand} fingers {low.finger} and {high.finger} are crossed"
            else:
                scale = ((ROLL_NUMERATOR, ROLL_DENOMINATOR) if _is_roll(low, high) else (1, 1))
                # The ruler is symmetrical, so the left hand needs no mirror here.
                if pair_limits_ok(*fingers, span_units(*keys), size, *scale):
                    continue
                what = (f"{hand} fingers {low.finger} and {high.finger} do not span"
                        f" {_name(keys[0])} to {_name(keys[1])}")
            found.append(Finding("fingers", onset, what, keys))
    return tuple(found)


def check_counts(notes: Sequence[HandNote]) -> tuple[Finding, ...]:
    """No hand has more keys down than it has fingers."""
    return tuple(Finding("counts", onset, f"{hand} hand has {len(down)} keys down",
                         tuple(note.midi for note in down))
                 for onset, hand, _, down in _strokes(notes) if len(down) > MAX_NOTES)


def check_rolls(notes: Sequence[HandNote], size: str, seconds_per_quarter: float,
                whole: bool = True) -> tuple[Finding, ...]:
    """A rolled chord has the time to be rolled, and few chords are.

    whole   whether `notes` are a whole arrangement, in which fewer than one chord in
            twenty may be rolled; a single fill is not asked
    """
    found = []
    last: dict[str, tuple[Fraction, tuple[HandNote, ...]]] = {}
    chords, rolled = 0, []
    for onset, hand, struck, _ in _strokes(notes):
        if hand in last:
            before, keys = last[hand]
            if keys[0].rolled:
                needed = (ROLL_SECONDS * (len(keys) - 1)
                          + jump_seconds_needed((keys[-1].midi,),
                                                [note.midi for note in struck], size))
                if float(onset - before) * seconds_per_quarter < needed:
                    found.append(Finding(
                        "rolls", before, f"{hand} hand has no time to roll its chord",
                        tuple(note.midi for note in keys)))
        last[hand] = (onset, struck)
        if len(struck) > 1:
            chords += 1
            marked = [note for note in struck if note.rolled]
            if marked:
                rolled.append(Finding("rolls", onset, "too many chords are rolled",
                                      tuple(note.midi for note in struck)))
            if 0 < len(marked) < len(struck):
                found.append(Finding("rolls", onset, f"{hand} hand rolls half a chord",
                                     tuple(note.midi for note in struck)))
    if whole and rolled and len(rolled) * ROLL_SHARE >= chords:
        found += rolled
    return tuple(sorted(found, key=lambda finding: finding.onset_quarter))


def check_jumps(notes: Sequence[HandNote], size: str, seconds_per_quarter: float
                ) -> tuple[Finding, ...]:
    """Each hand gets from one stroke to its next in time."""
    found = []
    last: dict[str, tuple[Fraction, list[int]]] = {}
    for onset, hand, struck, _ in _strokes(notes):
        keys = [note.midi for note in struck]
        if hand in last:
            before, earlier = last[hand]
            seconds = float(onset - before) * seconds_per_quarter
            if not jump_ok(earlier, keys, seconds, size):
                needed = jump_seconds_needed(earlier, keys, size)
                found.append(Finding(
                    "jumps", onset, f"{hand} hand has {seconds:.2f} s from {_names(earlier)} to"
                    f" {_names(keys)} and wants {needed:.2f} s", (*earlier, *keys)))
        last[hand] = (onset, keys)
    return tuple(found)


def check_hands(notes: Sequence[HandNote]) -> tuple[Finding, ...]:
    """The hands neither cross nor take each other's keys."""
    found = []
    for moment in moments(notes):
        left_struck, left = moment.of("left")
        right_struck, right = moment.of("right")
        if not left or not right or not (left_struck or right_struck):
            continue
        shared = sorted({note.midi for note in left} & {note.midi for note in right})
        if shared:
            found.append(Finding("hands", moment.onset_quarter,
                                 f"both hands on {_names(shared)}", tuple(shared)))
        elif left[-1].midi > right[0].midi:
            found.append(Finding(
                "hands", moment.onset_quarter, f"left hand on {_name(left[-1].midi)} lies above"
                f" the right on {_name(right[0].midi)}", (left[-1].midi, right[0].midi)))
    return tuple(found)


def check_restrikes(notes: Sequence[HandNote]) -> tuple[Finding, ...]:
    """No hand strikes a key that it has not let go of."""
    found = []
    until: dict[tuple[str, int], Fraction] = {}
    for note in sorted(notes, key=lambda note: (note.onset_quarter, note.midi)):
        key = (note.hand, note.midi)
        if until.get(key, note.onset_quarter) > note.onset_quarter:
            found.append(Finding("restrikes", note.onset_quarter, f"{note.hand} hand strikes"
                                 f" {_name(note.midi)} while it holds it", (note.midi,)))
        until[key] = max(until.get(key, note.end_quarter), note.end_quarter)
    return tuple(found)


def check_range(notes: Sequence[HandNote]) -> tuple[Finding, ...]:
    """Every key is on the piano."""
    return tuple(Finding("range", note.onset_quarter, f"{_name(note.midi)} is not on the piano",
                         (note.midi,))
                 for note in sorted(notes, key=lambda note: (note.onset_quarter, note.midi))
                 if not _LOWEST_KEY <= note.midi <= _HIGHEST_KEY)


def check_mud(notes: Sequence[HandNote]) -> tuple[Finding, ...]:
    """No close intervals low down among the keys that are down together."""
    found = []
    for moment in moments(notes):
        struck = {note.midi for note in moment.struck}
        for low, high in mud([note.midi for note in moment.down]):
            if low in struck or high in struck:
                found.append(Finding("mud", moment.onset_quarter, f"{_name(low)} and"
                                     f" {_name(high)} are too close so low", (low, high)))
    return tuple(found)


def _flat_nine_roots(chords: Sequence[ChordSpan], place: Fraction) -> set[int]:
    """Pitch classes of the roots over which a flat nine is at home at a place: those of the
    dominants that sound there or begin within a quarter note (a push comes early)."""
    roots = set()
    for span in chords:
        symbol = span.symbol
        if (span.onset_quarter <= place + 1 and span.end_quarter > place
                and symbol.root is not None
                and (symbol.quality == "dominant" or "b9" in symbol.degrees)):
            roots.add(symbol.root.pitch_class)
    return roots


def check_minor_ninths(notes: Sequence[HandNote], chords: Sequence[ChordSpan]
                       ) -> tuple[Finding, ...]:
    """No minor ninth inside a voicing, but for a flat nine over a dominant's root.

    A voicing is what is struck together, and what a chord is struck over; single notes of
    a line over a held chord pass by. The melody's own notes are a matter of `check_rubs`.
    """
    found = []
    for moment in moments(notes):
        down = [note for note in moment.down if note.role != "melody"]
        struck = [note for note in moment.struck if note.role != "melody"]
        thick = {hand for hand in ("left", "right")
                 if sum(note.hand == hand for note in struck) > 1}
        roots: set[int] | None = None
        for low, high in combinations(down, 2):
            new = [note for note in (low, high) if note.onset_quarter == moment.onset_quarter]
            if not (len(new) == 2 or any(note.hand in thick for note in new)):
                continue
            if not minor_ninth(low.midi, high.midi):
                continue
            if roots is None:
                roots = _flat_nine_roots(chords, moment.onset_quarter)
            if low.midi % 12 not in roots:
                found.append(Finding(
                    "minor ninths", moment.onset_quarter, f"{_name(low.midi)} and"
                    f" {_name(high.midi)} make a minor ninth", (low.midi, high.midi)))
    return tuple(found)


def check_rubs(notes: Sequence[HandNote], melody: Sequence[MelodySpan],
               chords: Sequence[ChordSpan]) -> tuple[Finding, ...]:
    """Nothing rubs the melody by a half step or a minor ninth while the melody sounds.

    melody   each melody note for as long as it sounds, in order of onset

    A melody may pass over a held chord of the base: a note shorter than `PASSING_QUARTER`
    that begins while the other key is down is no rub (common practice). A fill has no such
    excuse.
    """
    found = []
    others = sorted((note for note in notes if note.role != "melody"),
                    key=lambda note: (note.onset_quarter, note.midi))
    onsets = [note.onset_quarter for note in others]
    longest = max((note.duration_quarter for note in others), default=Fraction(0))
    for span in melody:
        for note in others[bisect_left(onsets, span.onset_quarter - longest):]:
            if note.onset_quarter >= span.until_quarter:
                break
            if note.end_quarter <= span.onset_quarter:
                continue
            low, high = sorted((note.midi, span.midi))
            if not rub(low, high):
                continue
            place = max(note.onset_quarter, span.onset_quarter)
            if (note.role == "base" and note.onset_quarter < span.onset_quarter
                    and span.until_quarter - span.onset_quarter < PASSING_QUARTER):
                continue
            if high - low > 1 and low % 12 in _flat_nine_roots(chords, place):
                continue
            found.append(Finding("rubs", place, f"{_name(note.midi)} rubs the melody's"
                                 f" {_name(span.midi)}", (note.midi, span.midi)))
    return tuple(sorted(found, key=lambda finding: (finding.onset_quarter, finding.midis)))


def check_melody(notes: Sequence[HandNote], melody: Sequence[tuple[Fraction, Fraction, int]],
                 seconds_per_quarter: float) -> tuple[Finding, ...]:
    """Every melody note is struck at its place, held long enough to be heard, and nothing
    is struck above it.

    melody   (onset_quarter, duration_quarter, MIDI number) as it should sound
    """
    found = []
    struck = {(note.onset_quarter, note.midi): note for note in notes if note.role == "melody"}
    tops: dict[Fraction, int] = {}
    for note in notes:
        tops[note.onset_quarter] = max(note.midi, tops.get(note.onset_quarter, 0))
    for onset, duration, midi in melody:
        played = struck.pop((onset, midi), None)
        if played is None:
            found.append(Finding("melody", onset, f"the melody's {_name(midi)} is missing",
                                 (midi,)))
            continue
        least = min(float(duration) * seconds_per_quarter, HEARD_SECONDS)
        if float(played.duration_quarter) * seconds_per_quarter < least - 1e-9:
            found.append(Finding("melody", onset, f"the melody's {_name(midi)} is left before"
                                 " it is heard", (midi,)))
        if tops[onset] > midi:
            found.append(Finding("melody", onset, f"{_name(tops[onset])} covers the melody's"
                                 f" {_name(midi)}", (tops[onset], midi)))
    found += [Finding("melody", onset, f"{_name(midi)} is not in the melody", (midi,))
              for onset, midi in struck]
    return tuple(sorted(found, key=lambda finding: (finding.onset_quarter, finding.midis)))


def check_wide_hole(notes: Sequence[HandNote]) -> tuple[Finding, ...]:
    """No hole of more than two octaves between the hands where both strike chords.

    Not part of an audit: a texture may have its reasons.
    """
    found = []
    for moment in moments(notes):
        left, right = moment.of("left")[0], moment.of("right")[0]
        if len(left) > 1 and len(right) > 1 and right[0].midi - left[-1].midi > WIDE_HOLE:
            found.append(Finding("wide hole", moment.onset_quarter, "more than two octaves lie"
                                 " between the hands", (left[-1].midi, right[0].midi)))
    return tuple(found)


def audit(notes: Sequence[HandNote], *, size: str, seconds_per_quarter: float,
          melody: Sequence[tuple[Fraction, Fraction, int]] | None = None,
          sounding: Sequence[MelodySpan] | None = None, chords: Sequence[ChordSpan] = (),
          whole: bool = True) -> Audit:
    """Run every check over an arrangement, or over a fill with the melody note it holds.

    melody     what should be heard, as for `check_melody`; None to skip that rule
    sounding   how long each melody note sounds; None: as long as its key is held
    chords     written and added spans, for the flat nine over a dominant
    whole      False for a single fill: the share of rolled chords is not asked
    """
    spans = melody_spans(notes) if sounding is None else sounding
    strokes = list(_strokes(notes))
    hands = {hand for _, hand, _, _ in strokes}
    found: list[Finding] = []
    runs: dict[str, tuple[int, Callable[[], tuple[Finding, ...]]]] = {
        "reach": (len(strokes), lambda: check_reach(notes, size)),
        "fingers": (len(strokes), lambda: check_fingers(notes, size)),
        "counts": (len(strokes), lambda: check_counts(notes)),
        "rolls": (sum(len(struck) > 1 for _, _, struck, _ in strokes),
                  lambda: check_rolls(notes, size, seconds_per_quarter, whole)),
        "jumps": (len(strokes) - len(hands),
                  lambda: check_jumps(notes, size, seconds_per_quarter)),
        "hands": (len(moments(notes)), lambda: check_hands(notes)),
        "restrikes": (len(notes), lambda: check_restrikes(notes)),
        "range": (len(notes), lambda: check_range(notes)),
        "mud": (len(moments(notes)), lambda: check_mud(notes)),
        "minor ninths": (len(moments(notes)), lambda: check_minor_ninths(notes, chords)),
        "rubs": (len(spans), lambda: check_rubs(notes, spans, chords)),
    }
    if melody is not None:
        runs["melody"] = (len(melody), lambda: check_melody(notes, melody, seconds_per_quarter))
    for rule in RULES:
        if rule in runs:
            found += runs[rule][1]()
    return Audit(tuple(found), tuple((rule, runs[rule][0]) for rule in RULES if rule in runs))
