"""What a strict teacher counts in reharmonizations, over lead sheets, level by level.

    python -m bench.bench_reharm [--every N] [--count K] [sheet ...]

Without sheets the demo tunes are taken. Each sheet gets a tempo in turn (63, 132, 132, 208).
Counted over all offers, from what is offered and not from how it was found: chords that give
away what the tune is heading for, chords that are the written one again, a dominant's root
under a diminished chord, a melody note cut short, a lonely chord where there are four beats and
more, and how often the first offer of one level is that of the next.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.errors import InputError
from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.model import Fill
from fillwright.fills.propose import propose
from fillwright.fills.sounding import MELODY, Tone, hanging, lent, moments
from fillwright.theory import ChordSymbol
from fillwright.tune import ChordSpan, Chorus, Gap, find_gaps, read_tune, unfold

TEMPI = (63, 132, 132, 208)
LEVELS = ("beginner", "intermediate", "advanced")

Chord = tuple[int, str]


def _plain(symbol: ChordSymbol) -> Chord:
    return (-1 if symbol.root is None else symbol.root.pitch_class), quality_of(symbol)


def _after(chorus: Chorus, gap: Gap) -> list[Chord]:
    """The chord at the landing and the next change after it."""
    row: list[Chord] = []
    for span in chorus.chords:
        if span.end_quarter > gap.end_quarter and span.symbol.root is not None:
            chord = _plain(span.symbol)
            if not row or row[-1] != chord:
                row.append(chord)
    return row[:2] if gap.landing is not None else []


def _same(one: Chord, other: Chord) -> bool:
    return one[0] == other[0] and (one[1] == other[1] or {one[1], other[1]} <= {"M", "7"})


def strikes(chorus: Chorus, gap: Gap, fill: Fill) -> Iterator[str]:
    """What a teacher strikes out, by name."""
    row = [_plain(c.symbol) for c in fill.chords]
    ahead = _after(chorus, gap)
    goals = [c for c in fill.chords if not c.added and c.onset_quarter > gap.onset_quarter]
    for index, span in enumerate(fill.chords):
        if not span.added or _stays(fill.chords, index):
            continue
        x, here = row[index], row[index - 1] if index else row[index]
        rest = [_plain(c.symbol) for c in goals if c.onset_quarter >= span.end_quarter] + ahead
        rest = [c for i, c in enumerate(rest) if not i or c != rest[i - 1]]
        home = (here[0] + 5) % 12
        if here[1] == "7" and rest and x[0] == home and x[1] in "Mm":
            if rest[0] == here:
                yield "V I V"
            elif rest[0][1] in "mh" and (rest[0][0] - home) % 12 == 2:
                yield "the tonic between V and a coming II"
        written = next((c for c in reversed(fill.chords[:index]) if not c.added), None)
        if len(rest) > 1 and _same(x, rest[1]) and rest[0][1] == "7" and not (
                span.symbol.bass is not None and span.symbol.bass.pitch_class == rest[0][0]) and (
                (rest[1][0] - rest[0][0]) % 12 == 5) and rest[1] != here:
            yield "the target given away before its dominant"
        if x[1] == "o" and here == (x[0], "7"):
            yield "a diminished chord on a dominant's root"
        if written is not None and _within(chorus, fill, span, written):
            yield "strikes all in the written chord"
        if not _bass(fill, span):
            yield "another bass than the symbol's"
        yield from _sounded(gap, fill, span)
        around = [c for c in fill.chords[:index][-1:] if not c.added] + [
            c for c in fill.chords[index + 1:index + 2] if not c.added]
        if index + 1 == len(fill.chords):
            around += [c for c in chorus.chords if c.onset_quarter == span.end_quarter]
        if any(_disguised(gap, fill, span, c) for c in around):
            yield "the same chord in disguise"
        if span.duration_quarter < chorus.bar_at(span.onset_quarter).meter.beat_quarter:
            yield "shorter than a beat"
    if _cut(gap, fill):
        yield "melody cut"
    home = next(i for i in reversed(range(len(fill.chords))) if not _stays(fill.chords, i))
    if gap.landing is None and _weak(chorus, fill.chords[home]):
        yield "home on the last beat"
    yield from _by_moment(gap, fill)
    yield from _in_metre(chorus, gap, fill)


def _stays(chords: Sequence[ChordSpan], index: int) -> bool:
    """Whether it is the closing tonic of the chord before, printed once more because it stands for
    another printed chord: nothing is struck."""
    return index > 0 and chords[index].added and chords[index - 1].added and (
        chords[index].symbol == chords[index - 1].symbol)


def _by_moment(gap: Gap, fill: Fill) -> Iterator[str]:
    """What is wrong in one moment of both hands and the tune, or from one to the next."""
    melody = []
    if gap.held is not None:
        melody.append(Tone(gap.held.midi, MELODY, gap.onset_quarter, fill.held_end.until_quarter))
    if gap.landing is not None:
        melody.append(Tone(gap.landing.midi, MELODY, gap.end_quarter, gap.end_quarter + 1))
    row = moments(fill.notes, melody, fill.chords, gap.onset_quarter, gap.end_quarter)
    for index, (one, other) in enumerate(pairwise(fill.chords)):
        before = {key for m in row if m.chord == index for key in m.held_by()}
        after = {key for m in row if m.chord == index + 1 for key in m.held_by()
                 if m.onset_quarter <= other.onset_quarter + 1}
        if before and after and hanging(one.symbol, before, after):
            yield "a guide tone left hanging"
    for moment in row:
        if moment.chord is None or not fill.chords[moment.chord].added or gap.held is None:
            continue
        chord = fill.chords[moment.chord]
        until = fill.held_end.until_quarter
        if chord.onset_quarter < until < chord.end_quarter and (
                moment.onset_quarter == until) and lent(
                chord.symbol, moment.held_by("left", "right"), gap.held.midi):
            yield "a guide tone lent by a note that ends"
    if gap.landing is not None:
        left = [n.midi for n in fill.notes
                if n.hand == "left" and n.end_quarter >= gap.end_quarter]
        if left and max(left) >= gap.landing.midi:
            yield "the left hand at the landing's key or over it"


def _in_metre(chorus: Chorus, gap: Gap, fill: Fill) -> Iterator[str]:
    """Where chords stand against the bar."""
    added = [c for c in fill.chords if c.added]
    for one, other in pairwise(fill.chords):
        bar = chorus.bar_at(other.onset_quarter)
        begun = min([one.onset_quarter, *(c.onset_quarter for c in chorus.chords
                                          if c.onset_quarter <= gap.onset_quarter < c.end_quarter
                                          and one.onset_quarter == gap.onset_quarter)])
        if bar.meter.beats == 3 and chorus.tempo_bpm > 110 and other.added and max(
                other.onset_quarter - begun, other.duration_quarter) <= bar.meter.beat_quarter:
            yield "a chord a beat in a quick waltz"
    for chord in added:
        bar = chorus.bar_at(chord.onset_quarter)
        beat = bar.meter.beat_quarter
        inside = chord.onset_quarter - bar.onset_quarter
        weak = inside != 0 and not (bar.meter.beats % 2 == 0
                                    and 2 * inside == bar.meter.length_quarter)
        end = bar.onset_quarter + bar.meter.length_quarter
        if weak and end < chord.end_quarter and chord.end_quarter > end + beat / 2:
            yield "a chord from a weak beat over the bar line"
        if inside % beat:
            yield "a chord off the beat"
        if weak and chord.duration_quarter > 2 * beat:
            yield "a long chord from a weak beat"


def _struck(fill: Fill, span: ChordSpan) -> set[int]:
    return {n.midi % 12 for n in fill.notes
            if span.onset_quarter - Fraction(1, 2) <= n.onset_quarter < span.end_quarter
            and n.end_quarter > span.onset_quarter}


def _sounding(gap: Gap, fill: Fill, span: ChordSpan) -> set[int]:
    """What is heard with a chord, the melody note among it as long as it is held."""
    found = _struck(fill, span)
    if gap.held is not None and fill.held_end.until_quarter > span.onset_quarter:
        found.add(gap.held.pitch.pitch_class)
    return found


_TOLD = ("b3", "3", "4", "6", "b7", "7", "bb7", "b5", "#5", "b9", "#9", "#11", "b13", "13")
"""Degrees in a symbol that have to be struck; of several altered ones on a dominant, one."""


def _sounded(gap: Gap, fill: Fill, span: ChordSpan) -> Iterator[str]:
    symbol, heard = span.symbol, _sounding(gap, fill, span)
    silent = [d for d in symbol.degrees
              if d in _TOLD and symbol.name_of(d).pitch_class not in heard]
    altered = [d for d in symbol.degrees if d in ("b9", "#9", "#11", "b13", "b5", "#5")]
    if len(altered) > 2 and len([d for d in silent if d in altered]) < len(altered):
        silent = [d for d in silent if d not in altered]
    if silent:
        yield "a tone of the symbol does not sound"
    if symbol.bass is not None and symbol.root is not None and (
            symbol.root.pitch_class not in heard):
        yield "the root over a slash does not sound"


def _disguised(gap: Gap, fill: Fill, span: ChordSpan, written: ChordSpan) -> bool:
    """Whether everything that sounds belongs to the chord beside it, as it is printed or with the
    sixth a bare triad is played with."""
    symbol = written.symbol
    if symbol.root is None or span.symbol.bass is not None:
        return False
    names = {symbol.name_of(degree).pitch_class for degree in symbol.degrees}
    if symbol.quality == "major" and symbol.seventh is None:
        names.add((symbol.root.pitch_class + 9) % 12)
    return _sounding(gap, fill, span) <= names


def _within(chorus: Chorus, fill: Fill, span: ChordSpan, written: ChordSpan) -> bool:
    symbol, root = written.symbol, written.symbol.root
    if root is None or (span.symbol.bass is not None):
        return False
    names = {symbol.name_of(degree).pitch_class for degree in symbol.degrees}
    return _struck(fill, span) <= names


def _bass(fill: Fill, span: ChordSpan) -> bool:
    keys = [n.midi for n in fill.notes if n.onset_quarter < span.end_quarter
            and n.end_quarter > span.onset_quarter]
    lowest = span.symbol.lowest
    return not keys or lowest is None or min(keys) % 12 == lowest.pitch_class


def _cut(gap: Gap, fill: Fill) -> bool:
    return gap.held is not None and fill.held_end.until_quarter < min(
        gap.held.end_quarter, gap.end_quarter)


def _weak(chorus: Chorus, last: ChordSpan) -> bool:
    bar = chorus.bar_at(last.onset_quarter)
    return last.onset_quarter - bar.onset_quarter >= (
        bar.meter.length_quarter - bar.meter.beat_quarter)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sheets", type=Path, nargs="*")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--count", type=int, default=3)
    parser.add_argument("--show", default="", help="print where what begins so is found")
    args = parser.parse_args()
    found: dict[str, Counter[str]] = {level: Counter() for level in LEVELS}
    first: dict[tuple[str, int, str], tuple[Chord, ...]] = {}
    for number, path in enumerate(sorted(args.sheets) or [demo_path(name) for name in DEMO_TUNES]):
        try:
            chorus = unfold(read_tune(path), tempo=Fraction(TEMPI[number % len(TEMPI)]))
        except InputError as error:
            print(error, file=sys.stderr)
            continue
        gaps = find_gaps(chorus)
        numbers = [g.number for g in gaps][::args.every]
        for level in LEVELS:
            proposal = propose(chorus, gaps, level=level, families=["reharm"], count=args.count,
                               numbers=numbers)
            _count(path.stem, level, chorus, gaps, proposal.fills, found[level], first, args.show)
    for level in LEVELS:
        _print(level, found[level])
    for one, other in (("advanced", "intermediate"), ("intermediate", "beginner")):
        both = [(sheet, gap) for sheet, gap, level in first if level == one
                and (sheet, gap, other) in first]
        same = sum(first[s, g, one] == first[s, g, other] for s, g in both)
        if both:
            print(f"first offer of {one} that of {other}: {same} of {len(both)} "
                  f"({100 * same / len(both):.0f} %)")


def _count(sheet: str, level: str, chorus: Chorus, gaps: tuple[Gap, ...],
           fills: tuple[Fill, ...], found: Counter[str],
           first: dict[tuple[str, int, str], tuple[Chord, ...]], show: str) -> None:
    for fill in fills:
        gap = gaps[fill.gap - 1]
        added = tuple(_plain(c.symbol) for c in fill.chords if c.added)
        first.setdefault((sheet, gap.number, level), added)
        found["offers"] += 1
        if gap.beats >= 4:
            found["in four beats and more"] += 1
            found["one chord in four beats and more"] += len(added) == 1
        for strike in strikes(chorus, gap, fill):
            found[strike] += 1
            if show and strike.startswith(tuple(show.split("|"))):
                row = " ".join(f"{'+' if c.added else ''}{c.symbol}" for c in fill.chords)
                print(f"{strike}:", sheet, gap.number, level, fill.device, row, _after(chorus, gap))


def _print(level: str, found: Counter[str]) -> None:
    print(f"{level}: {found['offers']} offers")
    wide = found["in four beats and more"]
    for name, times in sorted(found.items()):
        if name in ("offers", "in four beats and more"):
            continue
        of = wide if name.startswith("one chord") else found["offers"]
        print(f"  {name}: {times} ({100 * times / max(of, 1):.1f} %)")


if __name__ == "__main__":
    main()
