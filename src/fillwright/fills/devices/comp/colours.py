"""Colours that an advanced player adds to a plain dominant (see `Span.alterations`)."""

from __future__ import annotations

from fillwright.theory.harmony import Harmony

__all__ = ["altered_by_choice"]


def altered_by_choice(harmony: Harmony, degree: str) -> bool:
    """Is this degree an alteration that neither the symbol nor the chord's scale has?"""
    return (degree in ("b9", "#9", "b13") and degree not in harmony.symbol.degrees
            and degree not in harmony.scale.tensions)
