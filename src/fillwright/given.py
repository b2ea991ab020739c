"""What a caller gave: the thing that was meant, or one clear sentence."""

from __future__ import annotations

from collections.abc import Collection

from fillwright.errors import InputError
from fillwright.exact import Fraction

__all__ = ["a", "given_number", "given_tempo", "given_whole", "several"]

LEAST_TEMPO, MOST_TEMPO = 1, 1000
"""Felt beats a minute that can be reckoned with; what is musical is narrower."""


def a(thing: object) -> str:
    """``"a Tune"``, ``"an int"``: a thing by its type."""
    name = type(thing).__name__
    return f"{'an' if name[:1].lower() in 'aeio' else 'a'} {name}"


def given_number(value: object, what: str) -> Fraction:
    """A number, exactly. Raises InputError for text, true and false, NaN and the infinite."""
    if not isinstance(value, bool):
        try:
            return Fraction(*value.as_integer_ratio())  # type: ignore[attr-defined]
        except (AttributeError, TypeError, ValueError, OverflowError):
            pass
    raise InputError(f"{what} is a number, not {value!r}")


def given_tempo(value: object) -> Fraction:
    """Felt beats a minute. Raises InputError."""
    tempo = given_number(value, "a tempo")
    if not LEAST_TEMPO <= tempo <= MOST_TEMPO:
        raise InputError(f"a tempo lies between {LEAST_TEMPO} and {MOST_TEMPO} beats a minute; it "
                         f"is not {value}")
    return tempo


def given_whole(value: object, what: str, least: int, most: int) -> int:
    """A whole number between two. Raises InputError."""
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise InputError(f"{what} is a whole number from {least} to {most}, not {value!r}")
    return value


def several(values: object, what: str) -> Collection[object]:
    """A list, or another collection that is no text; () for None. Raises InputError."""
    if values is None:
        return ()
    if isinstance(values, str | bytes) or not isinstance(values, Collection):
        raise InputError(f"{what} is a list, not {values!r}")
    return values
