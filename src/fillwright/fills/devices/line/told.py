"""What tells a chord: by which keys a left hand under a line is heard as the chord it plays."""

from __future__ import annotations

from collections.abc import Set

from fillwright.fills.voicing.voicings import Voicing, holds_guides
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["is_plain", "needed_classes", "sounds_as_another", "tells_its_chord", "third_class",
           "third_heard"]


def is_plain(harmony: Harmony) -> bool:
    """Whether the symbol is a bare triad or a sixth chord, which wants no tensions below."""
    return max(degree_number(d) for d in harmony.symbol.degrees) <= 6


def third_heard(harmony: Harmony, voicing: Voicing) -> bool:
    """Whether the third (or what stands for it) is there."""
    return harmony.third is None or degree_pitch_class(harmony.third) in {
        degree_pitch_class(d) for d in voicing.degrees if d != "bass"}


def tells_its_chord(harmony: Harmony, voicing: Voicing) -> bool:
    """Whether a voicing without its root still sounds as its chord: third and seventh (or
    sixth), a ninth or thirteenth, and no major or minor triad of another root (common
    practice). One with its root (or a slash chord's bass) always does."""
    if not voicing.degrees or {"1", "bass"} & set(voicing.degrees):
        return bool(voicing.degrees)
    if harmony.symbol.bass is not None and voicing.kind.startswith("bass"):
        return True
    classes = {m % 12 for m in voicing.midis}
    triads = [{root, (root + third) % 12, (root + 7) % 12}
              for root in range(12) for third in (3, 4)]
    return (holds_guides(harmony, voicing.degrees) and classes not in triads
            and any(degree_number(d) in (9, 13) for d in voicing.degrees))


def sounds_as_another(harmony: Harmony, classes: Set[int]) -> bool:
    """Whether some pitch classes are a major or minor triad of another root than the chord's: a
    sixth chord or a seventh without its fifth or root is heard as that (common practice).

    >>> from fillwright.theory.chordtext import parse_chord
    >>> from fillwright.theory.harmony import analyse
    >>> from fillwright.theory.key import Key
    >>> [sixth] = analyse([parse_chord("C6")], Key(0))
    >>> sounds_as_another(sixth, {0, 4, 9}), sounds_as_another(sixth, {0, 4, 7, 9})
    (True, False)
    """
    root = harmony.root.pitch_class
    return classes != set(harmony.symbol.pitch_classes) and any(
        classes == {other, (other + third) % 12, (other + 7) % 12}
        for other in range(12) if other != root for third in (3, 4))


def third_class(harmony: Harmony) -> int | None:
    """The pitch class of a chord's third (or what stands for it)."""
    return None if harmony.third is None else (
        harmony.root.pitch_class + degree_pitch_class(harmony.third)) % 12


def needed_classes(harmony: Harmony) -> set[int | None]:
    """The pitch classes that a chord does not lose for a note of the line: its third and a written
    bass."""
    bass = harmony.symbol.bass
    return {third_class(harmony), None if bass is None else bass.pitch_class}
