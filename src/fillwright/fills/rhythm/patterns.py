"""Comping rhythms, generated on a grid and ranked.

Nothing is listed: every set of places on the eighth grid that the style allows is weighed by
how many hits there are for the level and the tempo, by how much it pulls against the meter
(`syncopation`), by its rests, and by the room it leaves before the landing (`weighing`). Each hit
is long or short on purpose. A ballad has rhythms of its own (`slow`).
"""

from __future__ import annotations

from itertools import combinations, pairwise

from fillwright.exact import Fraction
from fillwright.fills.rhythm.grid import STYLES, Frame, Hit, Rhythm, RhythmWindow
from fillwright.fills.rhythm.weighing import WEIGHTS, Ticks, cell_returns, price, ticks_of
from fillwright.memory import SEARCHES

__all__ = ["CELL", "DOTTED", "MIXED", "NAMES", "OFF_BEATS", "ONE_OFF", "PAIR", "generate"]

ON_BEAT, MIXED, OFF_BEATS, ONE_OFF = ("on the beat", "beat and off-beat", "off-beats",
                                      "one off-beat")
PAIR, PUSH, DOTTED = "pair of off-beats", "push", "dotted-quarter figure"
CELL, THREES = "a cell moved by half a beat", "three over four"
NAMES = (ON_BEAT, MIXED, OFF_BEATS, ONE_OFF, PAIR, PUSH, DOTTED, CELL, THREES)
"""What a rhythm of this grid may be called."""

_BEAM = 30
_PATTERNS = 16


@SEARCHES.keep
def generate(frame: Frame, window: RhythmWindow, limit: int = 24) -> tuple[Rhythm, ...]:
    """Ranked rhythms for a gap, best first.

    frame    the grid of the gap, see `frame_of`
    window   where hits may stand
    limit    at most this many
    """
    ticks = ticks_of(frame, window.first_quarter)
    rows, prices = _ranked(frame, ticks, window, limit)
    found: list[Rhythm] = []
    for row in rows:
        hits = _hits(frame, row, window.pushes)
        found.append(Rhythm(hits, _name(frame, row, hits),
                            tuple(sorted((k, v) for k, v in prices[row].items() if v)),
                            returns=cell_returns(ticks, row)))
    return tuple(sorted(found, key=lambda r: (r.cost, r.onsets)))


def _ranked(frame: Frame, ticks: Ticks, window: RhythmWindow, limit: int
            ) -> tuple[list[tuple[int, ...]], dict[tuple[int, ...], dict[str, int]]]:
    """The best rows of places, and what each pays by term; bar by bar, so that long gaps
    stay small."""
    free = [index for index, place in enumerate(frame.places)
            if window.holds(place.offset_quarter)]
    by_bar: dict[int, list[int]] = {}
    for index in free:
        by_bar.setdefault(frame.places[index].bar, []).append(index)
    pushed = frozenset(i for i in free if _anticipated(frame, i, window.pushes) is not None)
    beam: list[tuple[int, ...]] = [()]
    for number in sorted(by_bar):
        patterns = _patterns(frame, by_bar[number])
        if len(by_bar) > 1:
            patterns = _best_patterns(frame, number, patterns)
        beam = [row + pattern for row in beam for pattern in patterns]
        if len(by_bar) > 1:
            # a part of the gap is judged up to the end of this bar
            stop = max(i for i, p in enumerate(frame.places) if p.bar <= number) + 1
            so_far = {row: sum(price(frame, ticks, row, window, pushed, stop).values())
                      for row in beam}
            beam = _spread(frame, sorted(beam, key=lambda row: (so_far[row], row)), _BEAM)
    whole = len(frame.places)
    prices = {row: price(frame, ticks, row, window, pushed, whole) for row in beam if row}
    rows = sorted(prices, key=lambda row: (sum(prices[row].values()), row))
    return (_spread(frame, rows, limit) if len(by_bar) > 1 else rows[:limit]), prices


def _best_patterns(frame: Frame, number: int, patterns: list[tuple[int, ...]]
                   ) -> list[tuple[int, ...]]:
    """The bar's patterns that are good by themselves, for gaps of several bars."""
    style = STYLES[frame.style]
    places = [p for p in frame.places if p.bar == number]
    span = len(places) * (frame.places[1].offset_quarter - frame.places[0].offset_quarter)
    target = round(frame.level.rhythm.density[frame.style] * span / frame.beat_quarter / 100)

    def alone(row: tuple[int, ...]) -> int:
        chosen = [frame.places[i] for i in row]
        return (WEIGHTS["density"] * abs(len(row) - target)
                + style.off_beat * sum(not p.on_beat for p in chosen)
                + style.strong * sum(p.on_beat and p.weight >= -1 for p in chosen)
                + style.neighbours * sum(b - a == 1 for a, b in pairwise(row)))

    return sorted(patterns, key=lambda row: (alone(row), row))[:_PATTERNS]


def _spread(frame: Frame, rows: list[tuple[int, ...]], count: int) -> list[tuple[int, ...]]:
    """The first `count` rows, none of whose bars is taken over and over again."""
    if len(rows) <= count:
        return rows
    most = max(count // 6, 2)
    used: dict[tuple[int, ...], int] = {}
    taken: list[tuple[int, ...]] = []
    for row in rows:
        bars: dict[int, list[int]] = {}
        for index in row:
            bars.setdefault(frame.places[index].bar, []).append(index)
        parts = [tuple(part) for part in bars.values()]
        if all(used.get(part, 0) < most for part in parts):
            taken.append(row)
            for part in parts:
                used[part] = used.get(part, 0) + 1
        if len(taken) == count:
            break
    return taken


def _patterns(frame: Frame, free: list[int]) -> list[tuple[int, ...]]:
    """The sets of places of one bar that the style allows."""
    style = STYLES[frame.style]
    most = frame.level.rhythm.bar_hits
    rows: list[tuple[int, ...]] = [()]
    for size in range(1, min(most, len(free)) + 1):
        for row in combinations(free, size):
            pairs = [b - a for a, b in pairwise(row)]
            if style.neighbours >= 99 and 1 in pairs:
                continue
            if not frame.level.rhythm.neighbours and 1 in pairs:
                continue
            if pairs.count(1) > 1:
                continue
            rows.append(row)
    return rows


def _anticipated(frame: Frame, index: int, pushes: tuple[Fraction, ...]) -> Fraction | None:
    """The chord change that a hit on this place would push."""
    place = frame.places[index]
    if place.on_beat:
        return None
    nearest = (frame.places[index + 1].offset_quarter if index + 1 < len(frame.places)
               else frame.length_quarter)
    return nearest if nearest in pushes else None


def _hits(frame: Frame, row: tuple[int, ...], pushes: tuple[Fraction, ...]
          ) -> tuple[Hit, ...]:
    """Lengths: a push and a chord before a rest that begins on a beat ring, an off-beat in a
    rest is short."""
    half = frame.beat_quarter / (3 if frame.style == "compound" else 2)
    hits: list[Hit] = []
    for order, index in enumerate(row):
        place = frame.places[index]
        onset = place.offset_quarter
        following = (frame.places[row[order + 1]].offset_quarter if order + 1 < len(row)
                     else frame.length_quarter)
        space = following - onset
        change = _anticipated(frame, index, pushes)
        if frame.ending and order + 1 == len(row):
            length = space
        elif change is not None:
            lean = Fraction(1) if frame.style == "compound" else Fraction(3, 2)
            length = min(space, frame.beat_quarter * lean)
        elif frame.style == "fast":
            length = min(space, half)
        elif _over_the_line(frame, index):  # the same chord, held over the bar line
            length = min(space, 3 * half)
        elif place.on_beat:
            tenuto = (frame.style != "compound" and order + 1 < len(row)
                      and space <= 2 * frame.beat_quarter)
            length = min(space, frame.beat_quarter * (Fraction(3, 2) if tenuto else 1))
        else:
            length = min(space, half)
        hits.append(Hit(onset, length, change is not None))
    if len(hits) >= 3 and len({h.duration_quarter for h in hits}) == 1:
        # the last one, or the one with most room behind it, is leaned on
        rooms = [b.onset_quarter - a.onset_quarter for a, b in pairwise(hits)]
        rooms.append(frame.length_quarter - hits[-1].onset_quarter)
        longest = max(range(len(hits)), key=lambda i: (rooms[i], -i))
        old = hits[longest]
        hits[longest] = Hit(old.onset_quarter, min(rooms[longest], frame.beat_quarter),
                            old.anticipates)
    return tuple(hits)


def _over_the_line(frame: Frame, index: int) -> bool:
    """Is this the last off-beat of a bar, in a gap that goes on after it?"""
    place = frame.places[index]
    return (not place.on_beat and index + 1 < len(frame.places)
            and frame.places[index + 1].bar != place.bar and frame.style != "compound")


def _name(frame: Frame, row: tuple[int, ...], hits: tuple[Hit, ...]) -> str:
    """What the rhythm does, in trade words."""
    places = [frame.places[i] for i in row]
    beat = frame.beat_quarter
    on = [p.on_beat for p in places]
    if all(on):
        return ON_BEAT
    spaces = [b.offset_quarter - a.offset_quarter for a, b in pairwise(places)]
    if len(row) == 4 and spaces[0] == spaces[2] and (
            spaces[0] + spaces[1]) % beat == beat / 2 and spaces[1] >= beat:
        return CELL
    if len(spaces) >= 2 and all(2 * space == 3 * beat for space in spaces) and (
            frame.style == "medium"):
        return THREES
    onsets = [p.offset_quarter for p in places]
    figure = any(b - a == beat * Fraction(3, 2) and p.on_beat
                 for (a, b), p in zip(pairwise(onsets), places, strict=False))
    first = onsets[0] == beat * Fraction(3, 2) and frame.places[0].on_beat
    if frame.style != "compound" and (figure or (first and len(row) == 1)):
        return DOTTED
    if not any(on):
        if hits[-1].anticipates and len(hits) == 1:
            return PUSH
        if len(row) == 2 and onsets[1] - onsets[0] == beat:
            return PAIR
        return OFF_BEATS if len(row) > 1 else ONE_OFF
    return MIXED
