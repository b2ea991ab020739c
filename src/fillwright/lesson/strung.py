"""Several small arrangements on one string: the copies of a round, the rungs of a ladder.

Each piece is arranged by itself, so that all have the same texture, and then they follow one
another on one page and in one performance. A piece in another key is announced: by the words
over its first bar, and by a bar of its dominant seventh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fillwright.arranging.assemble import assemble
from fillwright.arranging.model import Arrangement, Options
from fillwright.arranging.window import cut_bars, moved
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import harmony_of
from fillwright.theory.pitch import degree_interval
from fillwright.tune.model import ChordSpan, Chorus, ChorusBar, Gap

__all__ = ["Piece", "cut_piece", "strung"]

_ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a chorus with its gaps and fills, from zero; gaps count from 1.

    heading   the words over its first bar
    """

    chorus: Chorus
    gaps: tuple[Gap, ...]
    fills: tuple[Fill, ...]
    heading: str


def cut_piece(chorus: Chorus, gaps: Sequence[Gap], fills: Sequence[Fill], heading: str,
              bars: tuple[int, int]) -> Piece:
    """Some bars of a chorus, the first and the last by their place in it, with those of some
    gaps that begin in them."""
    part = cut_bars(chorus, *bars)
    start = chorus.bars[bars[0]].onset_quarter
    end = chorus.bars[bars[1]].end_quarter
    inside = [gap for gap in gaps if start <= gap.onset_quarter < end]
    number = {gap.number: place for place, gap in enumerate(inside, 1)}
    return Piece(
        part, tuple(replace(moved(gap, -start), number=number[gap.number]) for gap in inside),
        tuple(_renumbered(moved(fill, -start), number[fill.gap]) for fill in fills
              if fill.gap in number), heading)


def _renumbered(fill: Fill, number: int) -> Fill:
    return replace(fill, gap=number, chorus=None,
                   notes=tuple(replace(n, gap=number) for n in fill.notes))


def strung(title: str, pieces: Sequence[Piece], options: Options) -> tuple[
        Arrangement, tuple[Fraction, ...]]:
    """The pieces as one arrangement, and where each begins."""
    at, bar, gap = _ZERO, 0, 0
    done: list[Arrangement] = []
    starts: list[Fraction] = []
    for place, piece in enumerate(pieces):
        changes = place > 0 and piece.chorus.key != pieces[place - 1].chorus.key
        piece = _announced(piece) if changes else piece
        small = assemble(piece.chorus, piece.gaps, piece.fills, options)
        done.append(_placed(small, piece, at, bar, gap))
        starts.append(at)
        at += piece.chorus.length_quarter
        bar, gap = bar + len(piece.chorus.bars), gap + len(piece.gaps)
    return _joined(title, done, options, at), tuple(starts)


def _joined(title: str, done: Sequence[Arrangement], options: Options, length: Fraction
            ) -> Arrangement:
    parts = [one.chorus for one in done]
    chorus = replace(
        parts[0], tune=replace(parts[0].tune, title=title),
        bars=tuple(bar for part in parts for bar in part.bars),
        melody=tuple(note for part in parts for note in part.melody),
        chords=tuple(span for part in parts for span in part.chords),
        harmonies=tuple(one for part in parts for one in part.harmonies), length_quarter=length)
    return Arrangement(
        chorus, options, tuple(gap for one in done for gap in one.gaps),
        tuple(fill for one in done for fill in one.fills),
        tuple(note for one in done for note in one.notes),
        tuple(span for one in done for span in one.chords), chorus.warnings)


def _placed(small: Arrangement, piece: Piece, at: Fraction, bar: int, gap: int) -> Arrangement:
    """A piece behind others: times, numbers of bars and of gaps go on."""
    bars = tuple(replace(one, bar_index=bar + place, number=str(bar + place + 1), pass_number=1,
                         section=piece.heading if not place else "")
                 for place, one in enumerate(piece.chorus.bars))
    chorus = replace(piece.chorus, bars=bars)
    numbers = {str(old.number): new.number for old, new in zip(piece.chorus.bars, bars,
                                                               strict=True)}
    gaps = tuple(replace(one, number=one.number + gap, bar=numbers.get(one.bar, one.bar),
                         pass_number=1) for one in small.gaps)
    fills = tuple(_renumbered(one, one.gap + gap) for one in small.fills)
    notes = tuple(_counted_on(note, gap) for note in small.notes)
    return Arrangement(
        replace(chorus, bars=moved(bars, at), melody=moved(chorus.melody, at),
                chords=moved(chorus.chords, at)),
        small.options, moved(gaps, at), moved(fills, at), moved(notes, at),
        moved(small.chords, at))


def _counted_on(note: HandNote, gap: int) -> HandNote:
    return note if note.gap is None else replace(note, gap=note.gap + gap)


def _announced(piece: Piece) -> Piece:
    """A bar of the dominant seventh before the piece; a pickup falls into it."""
    chorus, key = piece.chorus, piece.chorus.key
    first = chorus.bars[0]
    meter = first.meter
    pickup = first.length_quarter if first.is_pickup else _ZERO
    by = meter.length_quarter - pickup
    symbol = ChordSymbol.of(key.tonic + degree_interval("5"), "dominant",
                            *(("b9",) if key.mode == "minor" else ()))
    follows = chorus.chords[0].symbol if chorus.chords else None
    chords = [moved(span, by) for span in chorus.chords]
    until = chords[0].onset_quarter if chords else chorus.length_quarter + by
    rest = chorus.bars[1:] if pickup else chorus.bars
    bar = ChorusBar(-1, "0", 1, _ZERO, meter.length_quarter, meter, key)
    return Piece(
        replace(chorus, bars=(bar, *moved(rest, by)), melody=moved(chorus.melody, by),
                chords=(ChordSpan(_ZERO, until, symbol), *chords),
                harmonies=(harmony_of(symbol, key, follows), *chorus.harmonies),
                length_quarter=chorus.length_quarter + by),
        moved(piece.gaps, by), moved(piece.fills, by), piece.heading)
