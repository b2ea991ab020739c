"""A sheet without signatures: its meter read from its bars, its key from notes and chords."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fillwright.exact import Fraction
from fillwright.theory.local_key import heard_key
from fillwright.tune.model import Meter
from fillwright.tune.musicxml import RawBar
from fillwright.tune.notices import Notices

__all__ = ["take_key", "take_meter"]

_METERS = {Fraction(2): Meter(2, 4), Fraction(3): Meter(3, 4), Fraction(4): Meter(4, 4),
           Fraction(5): Meter(5, 4), Fraction(6): Meter(6, 4), Fraction(9, 2): Meter(9, 8),
           Fraction(7, 2): Meter(7, 8)}
"""The usual meter of bars so many quarter notes long (common practice; three may also be 6/8,
which is rarer on a lead sheet)."""
_MOST = Fraction(1, 2)
"""More than this share of the bars must be of one length to tell a meter."""


def take_meter(bars: Sequence[RawBar], tpq: int, notices: Notices) -> None:
    """Give every bar the meter that most of them are long enough for, else four quarters."""
    lengths = Counter(Fraction(length, tpq) for bar in bars
                      if (length := max(bar.notes_end, bar.rests_end)))
    meter = Meter(4, 4)
    if lengths:
        length, count = lengths.most_common(1)[0]
        if count > _MOST * lengths.total():
            meter = _METERS.get(length, meter)
    for bar in bars:
        bar.meter = meter
    notices.add(f"no time signature is written; taken to be in {meter}")


def take_key(bars: Sequence[RawBar], notices: Notices) -> None:
    """Give every bar the key in which its notes and chords are least foreign. A sheet without a
    signature may also mean no sharps and flats: that is kept where it explains as much."""
    symbols = [symbol for bar in bars for _, symbol in bar.chords]
    key = heard_key(symbols, [note.midi for bar in bars for note in bar.notes])
    for bar in bars:
        bar.key = key
    if key.fifths:
        notices.add(f"no key signature is written; taken to be in {key}")
