"""A chorus with an introduction, an ending, or a second time through.

What is added has chords and no melody, so that it is one more gap: the same families fill
it. The chords are the turnarounds of common practice.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import analyse
from fillwright.theory.key import Key
from fillwright.theory.pitch import NoteName, degree_interval
from fillwright.tune.model import ChordSpan, Chorus, ChorusBar

__all__ = ["LEAST_BARS", "MOST_BARS", "home_of", "second_chorus_quarter", "twice", "with_ending",
           "with_introduction"]

LEAST_BARS, MOST_BARS = 2, 4

# (degree of the tonic, kind, added degrees) two to a bar
_Chord = tuple[str, str, tuple[str, ...]]
_TURN_MAJOR: tuple[_Chord, ...] = (("1", "major-sixth", ()), ("6", "dominant", ("b9",)),
                                   ("2", "minor-seventh", ()), ("5", "dominant", ()))
_TURN_MINOR: tuple[_Chord, ...] = (("1", "minor-sixth", ()), ("6", "half-diminished", ()),
                                   ("2", "half-diminished", ()), ("5", "dominant", ("b9",)))
_FROM_THREE: tuple[_Chord, ...] = (("3", "minor-seventh", ()), ("6", "dominant", ("b9",)),
                                   ("2", "minor-seventh", ()), ("5", "dominant", ()))


def _chords(tonic: NoteName, minor: bool, row: tuple[_Chord, ...]) -> list[ChordSymbol]:
    return [ChordSymbol.of(tonic + degree_interval(degree), kind, *added)
            for degree, kind, added in row]


def home_of(symbol: ChordSymbol | None, key: Key) -> tuple[NoteName, bool]:
    """The tonic a tune comes home to and whether it is minor: the root of its first (or last)
    chord `symbol` if that can be at rest, else the key's."""
    if symbol is not None and symbol.root is not None and symbol.quality in (
            "major", "minor", "minor-major"):
        return symbol.root, symbol.quality != "major"
    return key.tonic, key.mode == "minor"


def _laid_out(symbols: list[ChordSymbol], bars: int, bar_quarter: Fraction
              ) -> list[tuple[Fraction, Fraction, ChordSymbol]]:
    """(onset, length, symbol): two chords to a bar, or one where there are as many as bars."""
    length = bars * bar_quarter / len(symbols)
    if length not in (bar_quarter, bar_quarter / 2):
        raise ValueError("turnarounds have one or two chords to a bar")
    # In three, the second chord comes on the third beat.
    first = length if bar_quarter != 3 else Fraction(2)
    places = []
    for index, symbol in enumerate(symbols):
        bar, half = divmod(index, 1 if length == bar_quarter else 2)
        onset = bar * bar_quarter + (first if half else 0)
        end = (bar_quarter if half or length == bar_quarter else first) + bar * bar_quarter
        places.append((onset, end - onset, symbol))
    return places


def _check(bars: int) -> None:
    if not LEAST_BARS <= bars <= MOST_BARS or bars % 2:
        raise ValueError("two or four bars can be added")


def _pickup_quarter(chorus: Chorus) -> Fraction:
    first = chorus.bars[0]
    return first.length_quarter if first.is_pickup else Fraction(0)


def with_introduction(chorus: Chorus, bars: int) -> Chorus:
    """Two or four bars before the first one; a pickup falls into the last of them."""
    _check(bars)
    meter, key = chorus.meter, chorus.key
    bar_quarter = meter.length_quarter
    pickup = _pickup_quarter(chorus)
    shift = bars * bar_quarter - pickup
    tonic, minor = home_of(chorus.chords[0].symbol if chorus.chords else None, key)
    row = _TURN_MINOR if minor else _TURN_MAJOR
    if bars == MOST_BARS:
        row = (*(_TURN_MINOR if minor else _FROM_THREE), *row) if bar_quarter != 3 else row
    places = _laid_out(_chords(tonic, minor, row), bars, bar_quarter)
    chords = [ChordSpan(onset, length, symbol) for onset, length, symbol in places]
    rest = [replace(s, onset_quarter=s.onset_quarter + shift) for s in chorus.chords]
    start = rest[0].onset_quarter if rest else bars * bar_quarter
    chords = [replace(c, duration_quarter=min(c.end_quarter, start) - c.onset_quarter)
              for c in chords if c.onset_quarter < start] + rest
    new_bars = [ChorusBar(-1, f"i{index + 1}", 1, index * bar_quarter, bar_quarter, meter, key,
                          section="Intro" if index == 0 else "") for index in range(bars)]
    old = chorus.bars[1:] if pickup else chorus.bars
    new_bars += [replace(b, onset_quarter=b.onset_quarter + shift) for b in old]
    melody = tuple(replace(n, onset_quarter=n.onset_quarter + shift) for n in chorus.melody)
    added = chords[:len(chords) - len(rest)]
    heard = analyse([c.symbol for c in added] + [c.symbol for c in rest[:1]], key)[:len(added)]
    return replace(chorus, bars=tuple(new_bars), melody=melody, chords=tuple(chords),
                   harmonies=(*heard, *chorus.harmonies),
                   length_quarter=chorus.length_quarter + shift)


def with_ending(chorus: Chorus, bars: int) -> Chorus:
    """Two or four bars after the last one: a turnaround that comes home."""
    _check(bars)
    meter, key = chorus.bars[-1].meter, chorus.bars[-1].key
    bar_quarter = meter.length_quarter
    last = chorus.chords[-1].symbol if chorus.chords else None
    tonic, minor = home_of(last, key)
    final: _Chord = ("1", "minor-sixth" if minor else "major-sixth", ("9",))
    turn = (_TURN_MINOR if minor else _FROM_THREE)[2 if bars == LEAST_BARS else 0:]
    places = _laid_out(_chords(tonic, minor, turn), bars // 2, bar_quarter)
    end = chorus.length_quarter
    home = bars // 2 * bar_quarter
    chords = [*chorus.chords, *(ChordSpan(end + onset, length, symbol)
                                for onset, length, symbol in places),
              ChordSpan(end + home, home, _chords(tonic, minor, (final,))[0])]
    new_bars = [ChorusBar(-1, f"e{index + 1}", 1, end + index * bar_quarter, bar_quarter, meter,
                          key, section="Ending" if index == 0 else "") for index in range(bars)]
    added = chords[len(chorus.chords):]
    return replace(chorus, bars=(*chorus.bars, *new_bars), chords=tuple(chords),
                   harmonies=(*chorus.harmonies, *analyse([c.symbol for c in added], key)),
                   length_quarter=end + bars * bar_quarter)


def twice(chorus: Chorus) -> Chorus:
    """The chorus played two times; the second pickup falls into the first one's last bar.

    Passes are counted on: a bar played once in the chorus is passed the second time in the
    second one, a repeated bar the third and fourth.
    """
    pickup = _pickup_quarter(chorus)
    last = chorus.bars[-1]
    full = last.length_quarter >= last.meter.length_quarter
    overlap = pickup if full else Fraction(0)
    shift = chorus.length_quarter - overlap
    passes = Counter(bar.bar_index for bar in chorus.bars)  # times each printed bar was played
    again = [replace(b, onset_quarter=b.onset_quarter + shift,
                     pass_number=b.pass_number + passes[b.bar_index])
             for b in (chorus.bars[1:] if pickup and full else chorus.bars)]
    start = chorus.melody[0].onset_quarter + shift
    first = tuple(replace(n, duration_quarter=min(n.end_quarter, start) - n.onset_quarter)
                  for n in chorus.melody if n.onset_quarter < start)
    second = tuple(replace(n, onset_quarter=n.onset_quarter + shift) for n in chorus.melody)
    chords = [replace(s, duration_quarter=min(s.end_quarter, chorus.chords[0].onset_quarter
                                              + shift) - s.onset_quarter)
              for s in chorus.chords]
    chords += [replace(s, onset_quarter=s.onset_quarter + shift) for s in chorus.chords]
    return replace(chorus, bars=(*chorus.bars, *again), melody=first + second,
                   chords=tuple(chords), harmonies=chorus.harmonies * 2,
                   length_quarter=chorus.length_quarter + shift)


def second_chorus_quarter(chorus: Chorus) -> Fraction:
    """Where the second time through begins, in a chorus that was played twice."""
    opening = next(bar for bar in chorus.bars if bar.bar_index >= 0 and not bar.is_pickup)
    passes = max(bar.pass_number for bar in chorus.bars if bar.bar_index == opening.bar_index)
    half = passes // 2
    return next(bar.onset_quarter for bar in chorus.bars
                if bar.bar_index == opening.bar_index and bar.pass_number == half + 1)
