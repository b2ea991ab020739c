"""Which colours a chord has here: those an advanced player adds to a plain dominant (see
`Span.alterations`), and none that contradicts the tune."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName

__all__ = ["altered_by_choice", "with_the_tune"]


def altered_by_choice(harmony: Harmony, degree: str) -> bool:
    """Is this degree an alteration that neither the symbol nor the chord's scale has?"""
    return (degree in ("b9", "#9", "b13") and degree not in harmony.symbol.degrees
            and degree not in harmony.scale.tensions)


def with_the_tune(harmony: Harmony, sung: Iterable[NoteName]) -> Harmony:
    """The chord without the tensions that contradict the tune: where that has just sung A flat
    and no A, the sheet's bare C gets no thirteenth. What the symbol names stays.

    sung   the names of the tune's notes around
    """
    names = set(sung)
    letters = {name.step for name in names}

    def contradicts(degree: str) -> bool:
        name = harmony.symbol.voiced_name_of(degree)
        return degree not in harmony.symbol.degrees and name.step in letters and all(
            name.pitch_class != other.pitch_class for other in names)

    kept = tuple(d for d in harmony.tensions if not contradicts(d))
    return harmony if kept == harmony.tensions else replace(harmony, tensions=kept)
