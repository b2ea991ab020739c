"""The exact rational number of score time.

It is `fractions.Fraction` in behaviour, and mixes with it, but is compiled: a quarter of what a
proposal computes is adding and comparing such numbers, and they are several times as fast here.

One way in is closed: quicktions (1.24 and before) reads a text of one character into a buffer
that it makes as ``b"\\0" * 1``, which in CPython is an object that the whole process shares.
Texts are therefore read by the standard library.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction
else:
    import fractions

    import quicktions

    class _Compiled(type):
        def __instancecheck__(cls, value: object) -> bool:
            return isinstance(value, quicktions.Fraction)

    class Fraction(quicktions.Fraction, metaclass=_Compiled):
        """Makes compiled numbers, and has no instances of its own."""

        __slots__ = ()

        def __new__(cls, numerator=0, denominator=None):
            if isinstance(numerator, str):
                numerator = fractions.Fraction(numerator)
            return quicktions.Fraction(numerator, denominator)

__all__ = ["Fraction"]
