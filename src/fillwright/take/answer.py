"""How a gap was answered: left open, or with chords in rhythm, other chords, or a line."""

from __future__ import annotations

from fillwright.take.model import ROLL_SEC, TOGETHER_SEC, Stroke
from fillwright.take.roles import GapStrokes
from fillwright.theory.harmony import Harmony

__all__ = ["MOST_OPEN", "answer_of", "family_of"]

MOST_OPEN = 1
"""Attacks after the onset of a gap that is still called open."""

_LEFT_BELOW = 57            # keys under A3 are the left hand's
_APART = 3                  # semitones between a line's note and the chord struck with it
_OF_A_LINE = 0.6            # so many of the strokes of the right hand
_FOREIGN = 0.5              # so many of the chords
_PUSH_QUARTER = 0.6         # so early the coming chord may be struck
# Tried on the offers of two demo tunes at all levels (90 % of 260 known by their looks alone) and
# then on two others (85 % of 248).


def answer_of(one: GapStrokes) -> str:
    """By what was struck alone: "open", "comp", "reharm" or "line"."""
    return "open" if len(one.attacks) <= MOST_OPEN else family_of(one)


def family_of(one: GapStrokes) -> str:
    """The same where it is known that something was answered."""
    if _is_line(one):
        return "line"
    return "reharm" if _is_foreign(one) else "comp"


def _attacks(one: GapStrokes) -> list[list[Stroke]]:
    """What is struck together, after the onset."""
    found: list[list[Stroke]] = []
    for stroke in one.strokes:
        if stroke.onset_sec <= one.onset_sec + TOGETHER_SEC:
            continue
        if not found or stroke.onset_sec - found[-1][-1].onset_sec > ROLL_SEC:
            found.append([])
        found[-1].append(stroke)
    return found


def _is_line(one: GapStrokes) -> bool:
    """Single notes (or octaves) one after the other in the right hand, two at least, beside
    others that stand clear of the chord they are struck with."""
    tops: list[int] = []
    single = right = 0
    for attack in _attacks(one):
        keys = sorted({stroke.midi for stroke in attack})
        if keys[-1] < _LEFT_BELOW:
            continue
        right += 1
        alone = len({key % 12 for key in keys}) == 1
        single += alone
        if alone or keys[-1] - keys[-2] >= _APART:
            tops.append(keys[-1] % 12)
    return single >= 2 and len(tops) >= _OF_A_LINE * right and len(set(tops)) >= 2


def _is_foreign(one: GapStrokes) -> bool:
    """Whether the chords, or the bass where it moves alone, are mostly none of those that are
    written where they are struck: a key of theirs is neither a tone nor a tension. What is slid
    in from a half step is none."""
    chords = foreign = 0
    attacks = _attacks(one)
    for attack, following in zip(attacks, [*attacks[1:], []], strict=True):
        written = _written(one, attack[0])
        classes = {stroke.midi % 12 for stroke in attack}
        bass = min(stroke.midi for stroke in attack)
        walks = bass < _LEFT_BELOW and not any(one.is_tone(bass % 12) for one in written)
        if written and (len(classes) > 1 or walks) and not _slides(attack, following):
            chords += 1
            foreign += walks or not any(all(one.takes(key) for key in classes)
                                        for one in written)
    return foreign >= max(1, _FOREIGN * chords)


def _slides(attack: list[Stroke], following: list[Stroke]) -> bool:
    """Whether keys without a bass go on to what follows by a half step, all the same way: they are
    slid in from, and no chord of their own."""
    keys, then = ({stroke.midi for stroke in row} for row in (attack, following))
    return min(keys) >= _LEFT_BELOW and any(
        all(key + way in then for key in keys) for way in (1, -1))


def _written(one: GapStrokes, stroke: Stroke) -> list[Harmony]:
    """The chords on paper where a stroke is, the coming one among them where it is near."""
    gap = one.gap
    share = (stroke.onset_sec - one.onset_sec) / max(one.until_sec - one.onset_sec, 1e-6)
    at = float(gap.onset_quarter) + share * float(gap.duration_quarter)
    spans = [*zip(gap.chords, gap.harmonies, strict=True)]
    found = [harmony for span, harmony in spans if harmony is not None
             and span.onset_quarter - _PUSH_QUARTER <= at < span.end_quarter]
    if gap.landing_harmony is not None and at >= gap.end_quarter - _PUSH_QUARTER:
        found.append(gap.landing_harmony)
    return found
