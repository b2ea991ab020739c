"""The compiled number is the standard library's in all that is asked of it."""

from __future__ import annotations

import copy
import fractions
import pickle
from operator import add, eq, floordiv, ge, gt, le, lt, mod, mul, ne, sub, truediv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.exact import Fraction

NUMBERS = st.fractions(max_denominator=2000)


@given(NUMBERS, NUMBERS)
def test_it_counts_as_the_standard_number_does(one: fractions.Fraction, other: fractions.Fraction
                                               ) -> None:
    fast, second = Fraction(one), Fraction(other.numerator, other.denominator)
    for work in (add, sub, mul, lt, le, gt, ge, eq, ne, *((truediv, floordiv, mod) * bool(other))):
        expected = work(one, other)
        assert work(fast, second) == expected
        assert work(fast, other) == expected and work(one, second) == expected  # mixed
    assert hash(fast) == hash(one) and repr(fast) == repr(one) and str(fast) == str(one)
    assert (round(fast), int(fast), float(fast)) == (round(one), int(one), float(one))
    assert fast.limit_denominator(12) == one.limit_denominator(12)
    assert Fraction(str(one)) == one


def test_texts_and_copies_leave_shared_bytes_alone() -> None:
    """A one-digit text given to the library itself changes the process's only ``b"\\0"``."""
    for text in ("1", "7", "2/3", "0.5"):
        value = Fraction(text)
        assert value == fractions.Fraction(text)
        assert pickle.loads(pickle.dumps(value)) == copy.deepcopy(value) == value
        assert isinstance(value, Fraction)
    assert [bytes(bytearray([n]))[0] for n in range(256)] == list(range(256))


@pytest.mark.parametrize("text", ["", "x", "1/", "1 2"])
def test_a_text_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        Fraction(text)
