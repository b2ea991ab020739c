"""How often the chord that really stands between two others is among the first proposed.

From each lead sheet a chord of two beats or less that stands between two others is taken
out, and options are asked for in its place, once from the ranking of single chords and once
from the proposer of whole fills (the melody note at that place then held until the next
chord). A hit has the same root and the same class of quality: major, minor, dominant,
half-diminished, diminished. Printed beside it: the baseline that always guesses the dominant
of the next root.

    python bench/bench_recall.py [sheet ...]

Without sheets it takes the ones of music21's corpus that carry chord symbols; they hold few
such places, so the numbers say little about others.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from fillwright.errors import InputError
from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.devices.reharm.passing import passing_options
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.propose import fills_of
from fillwright.fills.situation import task_of
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import analyse
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import ChordSpan, Chorus, SoundingNote
from fillwright.tune.read import read_tune

__all__ = ["Place", "places", "proposed_in_place", "ranked_alone", "rewritten"]

QUALITIES = {"M": "major", "m": "minor", "7": "dominant", "h": "half-diminished",
             "o": "diminished"}
RANKS = (1, 3, 10)
MOST_BEATS = 2

Chord = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Place:
    """A chord between two others: its index in `spans`, which are the chorus's chords with
    equal neighbours joined."""

    chorus: Chorus
    spans: tuple[ChordSpan, ...]
    index: int

    @property
    def taken_out(self) -> ChordSpan:
        return self.spans[self.index]

    @property
    def answer(self) -> Chord:
        return _plain(self.taken_out.symbol)


def _plain(symbol: ChordSymbol) -> Chord:
    if symbol.root is None:
        raise ValueError("N.C. is no answer")
    return symbol.root.pitch_class, quality_of(symbol)


def _joined(chords: Iterable[ChordSpan]) -> tuple[ChordSpan, ...]:
    joined: list[ChordSpan] = []
    for span in chords:
        if joined and joined[-1].symbol.root is not None and span.symbol.root is not None and (
                _plain(joined[-1].symbol) == _plain(span.symbol)):
            joined[-1] = replace(joined[-1], duration_quarter=(
                joined[-1].duration_quarter + span.duration_quarter))
        else:
            joined.append(span)
    return tuple(joined)


def places(chorus: Chorus) -> Iterator[Place]:
    """The places of a chorus, each printed bar once."""
    spans = _joined(chorus.chords)
    seen: set[tuple[int, Fraction]] = set()
    for index in range(1, len(spans) - 1):
        span = spans[index]
        bar = chorus.bar_at(span.onset_quarter)
        key = (bar.bar_index, span.onset_quarter - bar.onset_quarter)
        around = spans[index - 1:index + 2]
        if (key in seen or any(s.symbol.root is None for s in around)
                or span.duration_quarter > MOST_BEATS * bar.meter.beat_quarter):
            continue
        seen.add(key)
        yield Place(chorus, spans, index)


def _note_at(chorus: Chorus, onset: Fraction, end: Fraction) -> SoundingNote | None:
    """The longest melody note that sounds in a stretch."""
    def inside(note: SoundingNote) -> Fraction:
        return min(note.end_quarter, end) - max(note.onset_quarter, onset)

    found = [n for n in chorus.melody if inside(n) > 0]
    return max(found, key=lambda n: (inside(n), -n.onset_quarter)) if found else None


def ranked_alone(place: Place) -> list[Chord]:
    """The ranking of single chords between the two that are left."""
    row = [span.symbol for span in place.spans]
    i = place.index
    note = _note_at(place.chorus, place.taken_out.onset_quarter, place.taken_out.end_quarter)
    home = place.chorus.bar_at(place.taken_out.onset_quarter).key
    found = passing_options(row[i - 1], row[i + 1], home, None if note is None else note.midi,
                            before=row[:i - 1], after=row[i + 2:])
    return [(p.symbol.root.pitch_class, p.quality) for p in found if p.symbol.root is not None]


def rewritten(place: Place) -> Chorus:
    """The chorus without the chord, its melody note held from at most two beats before it
    until the chord after it."""
    span = place.taken_out
    before, after = place.spans[place.index - 1], place.spans[place.index + 1]
    chorus = place.chorus
    note = _note_at(chorus, span.onset_quarter, span.end_quarter)
    beat = chorus.bar_at(span.onset_quarter).meter.beat_quarter
    start = max(before.onset_quarter, span.onset_quarter - 2 * beat)
    melody: list[SoundingNote] = []
    for other in chorus.melody:
        if other.end_quarter <= start or other.onset_quarter >= after.onset_quarter:
            melody.append(other)
        elif other.onset_quarter < start:
            melody.append(replace(other, duration_quarter=start - other.onset_quarter))
    if note is not None:
        melody.append(SoundingNote(start, after.onset_quarter - start, note.pitch))
    melody.sort(key=lambda n: n.onset_quarter)
    spans = [*place.spans[:place.index - 1],
             replace(before, duration_quarter=after.onset_quarter - before.onset_quarter),
             *place.spans[place.index + 1:]]
    home = chorus.bar_at(span.onset_quarter).key
    return replace(chorus, melody=tuple(melody), chords=tuple(spans),
                   harmonies=tuple(analyse([s.symbol for s in spans], home)))


def proposed_in_place(place: Place, level: str = "advanced") -> list[Chord]:
    """For each fill proposed there, best first, the added chord that sounds in the place."""
    chorus = rewritten(place)
    gaps = find_gaps(chorus)
    span = place.taken_out
    gap = next((g for g in gaps if g.onset_quarter <= span.onset_quarter < g.end_quarter), None)
    if gap is None:
        return []
    context = task_of(situation_of(hear(chorus), gaps, gap.number),
                                  level=level, hand="medium")
    fills = fills_of(context, "reharm", max(RANKS)) if context.spans else ""
    if isinstance(fills, str):
        return []
    found = []
    for fill in fills:
        inside = [_plain(c.symbol) for c in fill.chords if c.added
                  and c.end_quarter > span.onset_quarter and c.onset_quarter < span.end_quarter]
        found.append(place.answer if place.answer in inside else inside[0] if inside
                     else (-1, ""))
    return found


def _report(name: str, tried: list[tuple[Place, list[Chord]]]) -> None:
    hits: dict[str, dict[int, int]] = defaultdict(lambda: dict.fromkeys(RANKS, 0))
    counts: dict[str, int] = defaultdict(int)
    base: dict[str, int] = defaultdict(int)
    for place, found in tried:
        following = place.spans[place.index + 1].symbol
        guess = ((_plain(following)[0] + 7) % 12, "7")
        for group in ("all", QUALITIES[place.answer[1]]):
            counts[group] += 1
            base[group] += guess == place.answer
            for rank in RANKS:
                hits[group][rank] += place.answer in found[:rank]
    print(f"{name}: {counts['all']} places")
    for group in ("all", *QUALITIES.values()):
        if counts[group]:
            row = "  ".join(f"at {r}: {hits[group][r] / counts[group]:.2f}" for r in RANKS)
            print(f"  {group:16} {counts[group]:4}  {row}  "
                  f"dominant of the next root: {base[group] / counts[group]:.2f}")


def _corpus() -> list[Path]:
    from music21 import corpus

    return [Path(str(corpus.getWork(name))) for name in
            ("leadSheet/fosterBrownHair", "leadSheet/berlinAlexandersRagtime")]


def main(paths: list[Path]) -> None:
    found: list[Place] = []
    for path in paths:
        try:
            found += places(unfold(read_tune(path)))
        except InputError as error:
            print(error, file=sys.stderr)
    if not found:
        print("no chord of two beats or less between two others")
        return
    _report("single chords, ranked", [(p, ranked_alone(p)) for p in found])
    _report("fills proposed", [(p, proposed_in_place(p)) for p in found])


if __name__ == "__main__":
    main([Path(arg) for arg in sys.argv[1:]] or _corpus())
