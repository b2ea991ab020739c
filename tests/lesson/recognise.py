"""An independent recogniser: whether the rungs of a ladder are easier, playable, and the idea."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise

from fillwright import Fill, ladder
from fillwright.lesson import Ladder

__all__ = ["ORDER", "RANGES", "amiss", "strange", "wrong"]

# Least and greatest difficulty of a level, as the README's table has them.
RANGES = {"beginner": (0, 38), "intermediate": (16, 64), "advanced": (26, 100)}
ORDER = tuple(RANGES)


def strange(rung: Fill, idea: Fill) -> Iterator[str]:
    """What in a rung is not the idea. Knows nothing of how rungs are made: every key has its
    pitch class in the same hand of the idea at its place, or at most half a beat before, where
    a push has come onto the beat; the top of the right hand stays the top; chords, family and
    name are those of the idea or fewer."""
    half = 0.75
    for note in rung.notes:
        near = [n for n in idea.notes if n.hand == note.hand and n.midi % 12 == note.midi % 12
                and 0 <= note.onset_quarter - n.onset_quarter <= half]
        if not near:
            yield f"{note.pitch} at {note.onset_quarter} is new"
    added = {str(c.symbol) for c in idea.chords if c.added}
    tops = {one.id: {onset: max(n.midi for n in row) for onset, row in groupby(
        sorted((n for n in one.notes if n.hand == "right"), key=lambda n: n.onset_quarter),
        key=lambda n: n.onset_quarter)} for one in (rung, idea)}
    for onset, top in tops[rung.id].items():
        before = [midi for place, midi in tops[idea.id].items() if 0 <= onset - place <= half]
        if top not in before:
            yield f"at {onset} the top is {top}, not one of {before}"
    # a push strikes its chord before the place of the symbol, and says so
    early = half if any("early" in reason for reason in idea.reasons) else 0
    for last, chord in zip((None, *rung.chords), rung.chords, strict=False):
        if chord.added and str(chord.symbol) not in added:
            yield f"{chord.symbol} is new"
        struck = [any(chord.onset_quarter - early <= n.onset_quarter < chord.end_quarter
                      for n in fill.notes) for fill in (idea, rung)]
        # the closing tonic stands once for each printed chord it takes the place of: it goes on
        goes_on = last is not None and last.symbol == chord.symbol
        if chord.added and struck == [True, False] and not goes_on:
            yield f"{chord.symbol} is silent"
    words, known = ({word.strip(",") for word in one.device.split()} for one in (rung, idea))
    if rung.family != idea.family or 2 * len(words & known) < len(words):
        yield f"{rung.device} is another idea than {idea.device}"
    if 2 * len({n.onset_quarter for n in rung.notes}) < len(
            {n.onset_quarter for n in idea.notes}):
        yield "most of its strokes are gone"
    if added and not any(c.added for c in rung.chords):
        yield "no chord is added any more"


def wrong(fills: Iterable[Fill], hand: str = "medium") -> Iterator[str]:
    """What is wrong with the ladders of some fills."""
    for fill in fills:
        yield from amiss(fill, ladder(fill, hand=hand))


def amiss(fill: Fill, found: Ladder) -> Iterator[str]:
    """What is wrong with the ladder of a fill."""
    rungs = found.rungs
    hard = [rung.difficulty for rung in rungs]
    if any(b >= a for a, b in pairwise(hard)):
        yield f"{fill.id}: difficulty {hard}"
    ranks = [ORDER.index(rung.level) for rung in rungs]
    if ranks != sorted(ranks, reverse=True):
        yield f"{fill.id}: levels {ranks}"
    if {r.level for r in rungs} | {m.level for m in found.missing} != set(ORDER) or len(
            {r.level for r in rungs}) + len(found.missing) != len(ORDER):
        yield f"{fill.id}: a level is neither there nor missing"
    for rung in rungs:
        most = RANGES[rung.level][1]
        if not rung.difficulty <= most or any(n.finger is None for n in rung.fill.notes):
            yield f"{rung.fill.id}: {rung.difficulty} is no {rung.level}'s, or no hand's"
        yield from (f"{rung.fill.id}: {text}" for text in strange(rung.fill, fill))
    yield from (f"{fill.id}: says nothing of what is gone" for r in rungs[1:]
                if not r.left_out)
