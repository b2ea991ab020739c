"""How often the chord that really stands between two others is among the first proposed.

From each lead sheet a chord of two beats or less that stands between two others is taken
out (wherever its bar is played), and options are asked for in its place, once from the
ranking of single chords and once from the proposer of whole fills (the melody note at that
place then held until the next chord). A hit has the same root and the same class of quality:
major, minor, dominant, half-diminished, diminished. Both with and without what the tune itself
has at its other places. Printed beside it: the baseline that always guesses the dominant of
the next root.

What real sheets have in such places is mostly plain food, which is taught first and held back
from those who have had it: so fills are asked at every level, and the figures stand for each
level by itself; "at any level" counts a place where one of the three has it among so many of its
own offers, three times as many in all. The aims are for a level by itself. A fill that would
have to take the melody note away comes last, and so does not count as found where the sheet's own
note did not lie that long: it is held here, and is not there.

    python -m bench.bench_recall [--folds DIR] [--every N] [--level LEVEL] [sheet ...]

With `--folds` the tables of the prior are taken from DIR, as `tools/learn_changes.py --folds`
writes them for the same sheets: each sheet is asked with tables that were learnt without it.
`--every N` asks whole fills at every Nth place only, with 0 at none. Without sheets it takes the
ones of music21's corpus that carry chord symbols; they hold few such places, so the numbers
say little about others.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from fillwright.errors import InputError
from fillwright.fills.devices.reharm import prior
from fillwright.fills.devices.reharm.function import quality_of
from fillwright.fills.devices.reharm.passing import ChordsBetween, passing_options
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.player import player_of
from fillwright.fills.propose import fills_of
from fillwright.fills.situation import Habits, task_of
from fillwright.theory import ChordSymbol, analyse
from fillwright.tune import ChordSpan, Chorus, SoundingNote, find_gaps, read_tune, unfold

__all__ = ["Place", "places", "proposed_in_place", "ranked_alone", "rewritten"]

QUALITIES = {"M": "major", "m": "minor", "7": "dominant", "h": "half-diminished",
             "o": "diminished"}
RANKS = (1, 3, 10)
LEVELS = ("beginner", "intermediate", "advanced")
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


def _left(place: Place) -> list[ChordSpan]:
    """The chords without the one taken out, in all passes through its bar; the chord before
    goes on in its place."""
    gone = _printed(place.chorus, place.taken_out)
    left: list[ChordSpan] = []
    for span in place.spans:
        if left and span.symbol.root is not None and _printed(place.chorus, span) == gone:
            left[-1] = replace(left[-1], duration_quarter=(
                span.end_quarter - left[-1].onset_quarter))
        else:
            left.append(span)
    return left


def _printed(chorus: Chorus, span: ChordSpan) -> tuple[int, Fraction]:
    bar = chorus.bar_at(span.onset_quarter)
    return bar.bar_index, span.onset_quarter - bar.onset_quarter


def _in_bar(chorus: Chorus, onset: Fraction) -> int:
    bar = chorus.bar_at(onset)
    inside = onset - bar.onset_quarter
    return 0 if inside == 0 else 1 if 2 * inside == bar.meter.length_quarter else 2


def _in_form(chorus: Chorus, onset: Fraction) -> int:
    if _in_bar(chorus, onset):
        return 0
    bar = chorus.bars.index(chorus.bar_at(onset)) - chorus.bars[0].is_pickup
    return (bar % 8 == 0) + (bar % 4 == 0)


def ranked_alone(place: Place, own: bool = True) -> list[Chord]:
    """The ranking of single chords between the two that are left."""
    chorus, span = place.chorus, place.taken_out
    left = _left(place)
    row = [s.symbol for s in left]
    i = left.index(next(s for s in left if s.onset_quarter >= span.onset_quarter)) - 1
    note = _note_at(chorus, span.onset_quarter, span.end_quarter)
    bar = chorus.bar_at(span.onset_quarter)
    between = ChordsBetween(row[i], row[i + 1], bar.key, None if note is None else note.midi,
                            before=row[:i], after=row[i + 2:],
                            beats=max(1, int(span.duration_quarter / bar.meter.beat_quarter)),
                            place_in_bar=_in_bar(chorus, span.onset_quarter),
                            goal_in_bar=_in_bar(chorus, span.end_quarter),
                            form=_in_form(chorus, span.end_quarter))
    found = passing_options(between, own=own)
    return [(p.symbol.root.pitch_class, p.quality) for p in found if p.symbol.root is not None]


def rewritten(place: Place) -> Chorus:
    """The chorus without the chord, its melody note held from at most two beats before it
    until the chord after it."""
    chorus, span = place.chorus, place.taken_out
    before, after = place.spans[place.index - 1], place.spans[place.index + 1]
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
    spans = _left(place)
    home = chorus.bar_at(span.onset_quarter).key
    return replace(chorus, melody=tuple(melody), chords=tuple(spans),
                   harmonies=tuple(analyse([s.symbol for s in spans], home)))


def proposed_in_place(place: Place, level: str = "advanced", own: bool = True
                      ) -> list[Chord] | None:
    """For each fill proposed there, best first, the added chord that sounds in the place; None
    where there is no gap."""
    chorus = rewritten(place)
    gaps = find_gaps(chorus)
    span = place.taken_out
    gap = next((g for g in gaps if g.onset_quarter <= span.onset_quarter < g.end_quarter), None)
    if gap is None:
        return None
    situation = situation_of(hear(chorus), gaps, gap.number)
    if not own:
        situation = replace(situation, habits=Habits((), ()))
    fills = fills_of(task_of(situation, player_of(level, "medium")), "reharm", max(RANKS))
    if isinstance(fills, str):
        return []
    onset, end = span.onset_quarter - gap.onset_quarter, span.end_quarter - gap.onset_quarter
    found = []
    for fill in fills:
        inside = [_plain(c.symbol) for c in fill.chords if c.added
                  and c.end_quarter > onset and c.onset_quarter < end]
        found.append(place.answer if place.answer in inside else inside[0] if inside
                     else (-1, ""))
    return found


Tried = list[tuple[Place, tuple[list[Chord], ...]]]
"""Places, and what was found there: one row, or one for each level."""


def _report(name: str, tried: Tried) -> None:
    hits: dict[str, dict[int, int]] = defaultdict(lambda: dict.fromkeys(RANKS, 0))
    counts: dict[str, int] = defaultdict(int)
    base: dict[str, int] = defaultdict(int)
    for place, rows in tried:
        following = place.spans[place.index + 1].symbol
        guess = ((_plain(following)[0] + 7) % 12, "7")
        for group in ("all", QUALITIES[place.answer[1]]):
            counts[group] += 1
            base[group] += guess == place.answer
            for rank in RANKS:
                hits[group][rank] += any(place.answer in found[:rank] for found in rows)
    print(f"{name}: {counts['all']} places")
    for group in ("all", *QUALITIES.values()):
        if counts[group]:
            row = "  ".join(f"at {r}: {hits[group][r] / counts[group]:.3f}" for r in RANKS)
            print(f"  {group:16} {counts[group]:4}  {row}  "
                  f"dominant of the next root: {base[group] / counts[group]:.2f}")


def _corpus() -> list[Path]:
    from music21 import corpus

    return [Path(str(corpus.getWork(name))) for name in
            ("leadSheet/fosterBrownHair", "leadSheet/berlinAlexandersRagtime")]


def _take_tables(folds: Path | None, number: int) -> None:
    """Let the prior be the one learnt without this sheet."""
    if folds is None:
        return
    files = sorted(folds.glob("prior-*.tsv"))
    learnt = prior.parsed(files[number % len(files)].read_text("utf-8").splitlines())
    prior.tables = lambda: learnt  # type: ignore[assignment]
    prior.forget()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sheets", type=Path, nargs="*")
    parser.add_argument("--folds", type=Path)
    parser.add_argument("--every", type=int, default=1, help="0: no whole fills")
    parser.add_argument("--level", action="append", choices=LEVELS, help="all, if none is named")
    args = parser.parse_args()
    levels = args.level or LEVELS
    alone: dict[bool, Tried] = {True: [], False: []}
    fills: dict[bool, Tried] = {True: [], False: []}
    number = -1
    for number, path in enumerate(sorted(args.sheets) or _corpus()):
        _take_tables(args.folds, number)
        try:
            here = list(places(unfold(read_tune(path))))
        except InputError as error:
            print(error, file=sys.stderr)
            continue
        for own in (True, False):
            alone[own] += [(p, (ranked_alone(p, own),)) for p in here]
            for place in here[::args.every] if args.every else ():
                rows = [proposed_in_place(place, level, own) for level in levels]
                fills[own].append((place, tuple(row for row in rows if row is not None)))
    for own, words in ((True, "with the tune's own places"), (False, "without them")):
        if alone[own]:
            _report(f"single chords, ranked, {words}", alone[own])
        gaps = [(place, rows) for place, rows in fills[own] if rows]
        for at, level in enumerate(levels):
            _report(f"fills proposed, {level}, {words}",
                    [(place, rows[at:at + 1]) for place, rows in gaps])
        if len(levels) > 1:
            _report(f"fills proposed, at any level, {words}", gaps)


if __name__ == "__main__":
    main()
