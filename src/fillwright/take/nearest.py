"""Which of the fills that could have been played is the nearest to what was.

Two things are compared by what is struck when: each note of an offer looks for a stroke of its
key near its time, or for one of its pitch class, and what neither side can explain counts
against it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from fillwright.fills.model import FAMILIES
from fillwright.fills.propose import propose
from fillwright.take.heard import HeardRun
from fillwright.take.model import Stroke
from fillwright.take.roles import GapStrokes
from fillwright.take.written import WrittenFill, WrittenNote
from fillwright.tune.model import Chorus, Gap

__all__ = ["ALIKE", "Likeness", "answer_by", "as_written", "likeness", "nearest", "offers_for",
           "pairing"]

ALIKE = 0.75                # the same idea, played with a slip or two
_RELATED = 0.3              # below this nothing on offer is near
_WINDOW_BEATS = 0.3
_OTHER_OCTAVE = 0.5         # what the same pitch class in another octave counts
_HINT = 0.6                 # what the look of it counts, where no offer is near at all
_OFFERS = 4                 # a gap and family: as many as a whole chorus looks at


@dataclass(frozen=True, slots=True)
class Likeness:
    """How near an offer is, from 0 to 1."""

    fill: WrittenFill
    share: float


def offers_for(chorus: Chorus, gaps: Sequence[Gap], numbers: Collection[int], level: str,
               hand: str) -> dict[int, tuple[WrittenFill, ...]]:
    """What the program offers for some gaps at a level."""
    if not numbers:
        return {}
    proposal = propose(chorus, tuple(gaps), level=level, hand=hand, numbers=sorted(numbers),
                       count=_OFFERS)
    return {number: tuple(WrittenFill.of(fill) for fill in proposal.of(number))
            for number in numbers}


def likeness(one: GapStrokes, fill: WrittenFill, run: HeardRun) -> float:
    """Share of the strokes on both sides that are explained, as an F measure."""
    if not fill.notes or not one.strokes:
        return 0.0
    return 2 * sum(pairing(one.strokes, fill.notes, run).values()) / (
        len(fill.notes) + len(one.strokes))


def pairing(strokes: Sequence[Stroke], notes: Iterable[WrittenNote], run: HeardRun
            ) -> Mapping[tuple[int, int], float]:
    """(place of a note, event of its stroke) -> 1 for its key, less for another octave of it;
    each stroke at most once, the nearest in time first."""
    onsets = [stroke.onset_sec for stroke in strokes]
    possible = []
    for place, note in enumerate(notes):
        part = "left" if note.hand == "left" else "chord"
        sec = run.habit.expected_sec(note.onset_quarter, part, run.beat)
        reach = (_WINDOW_BEATS * run.beat.quarter_sec(float(note.onset_quarter))
                 * run.beat.step_quarter)
        index = bisect_left(onsets, sec - reach)
        while index < len(strokes) and onsets[index] <= sec + reach:
            away = strokes[index].midi - note.midi
            if away % 12 == 0:
                possible.append((away != 0, abs(onsets[index] - sec), place,
                                 strokes[index].event))
            index += 1
    found: dict[tuple[int, int], float] = {}
    used_notes: set[int] = set()
    used_strokes: set[int] = set()
    for other, _, place, event in sorted(possible):
        if place not in used_notes and event not in used_strokes:
            used_notes.add(place)
            used_strokes.add(event)
            found[place, event] = _OTHER_OCTAVE if other else 1.0
    return found


def as_written(runs: Sequence[HeardRun], strokes: Sequence[Stroke],
               notes: Sequence[WrittenNote],
               heard: tuple[Sequence[str], Sequence[int | None]]
               ) -> tuple[tuple[str, ...], tuple[int | None, ...]]:
    """Roles and gaps of the strokes, with those that are on paper as they are there."""
    roles, gaps = list(heard[0]), list(heard[1])
    for run in runs:
        free = [stroke for stroke in strokes[run.run.first:run.run.last]
                if roles[stroke.event] in ("accompaniment", "fill")]
        if not free:  # the melody alone
            continue
        start, end = run.beat.quarter(free[0].onset_sec), run.beat.quarter(free[-1].onset_sec)
        there = [note for note in notes if note.role != "melody"
                 and start - 1 <= note.onset_quarter <= end + 1]
        for (place, event), share in pairing(free, there, run).items():
            if share == 1.0:
                fills = there[place].role == "fill"
                roles[event] = "fill" if fills else "accompaniment"
                gaps[event] = there[place].gap if fills else None
    return tuple(roles), tuple(gaps)


def nearest(one: GapStrokes, offers: Iterable[WrittenFill], run: HeardRun
            ) -> dict[str, Likeness]:
    """The nearest offer of each family; the first of equals."""
    found: dict[str, Likeness] = {}
    for fill in offers:
        share = likeness(one, fill, run)
        if fill.family not in found or share > found[fill.family].share:
            found[fill.family] = Likeness(fill, share)
    return found


def answer_by(hint: str, near: Mapping[str, Likeness]) -> tuple[str, Likeness | None]:
    """The family, by the nearest offers and by the look of it; and the offer, where one is
    near. The look counts the less the nearer an offer is: a wrong key makes a chord look foreign,
    and an offer is one key less alike. `hint` is "open" for a gap that was left open, and stays
    so."""
    if hint == "open":
        return hint, None
    shares = {family: near[family].share if family in near else 0.0 for family in FAMILIES}
    look = _HINT * (1 - max(shares.values())) ** 2
    answer = max(FAMILIES, key=lambda family: (
        shares[family] + (look if family == hint else 0.0), family == hint))
    best = near.get(answer)
    return answer, best if best is not None and best.share >= _RELATED else None
