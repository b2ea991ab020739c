"""Ideas that take their notes from a colour of the chord: pentatonic and blues scales,
altered dominants, upper structures, triad pairs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from fillwright.fills.devices.line.costs import PASSING, TENSION, moves_of
from fillwright.fills.devices.line.figures import moves_for, plan
from fillwright.fills.devices.line.frame import SMALL, Cell, Frame, cell_of
from fillwright.fills.devices.line.phrase import Phrase
from fillwright.fills.devices.line.pools import (
    altered_kinds,
    blues_classes,
    pentatonic,
    structure_triads,
)
from fillwright.theory.chord import degree_pitch_class

__all__ = ["altered_lines", "blues_lines", "pentatonic_lines", "structure_lines", "triad_pairs"]

_PENTA = moves_of(free=(-4, -3, -2, -1, 1, 2, 3, 4), dear=(-7, -5, 5, 7))


def pentatonic_lines(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    if len(phrase) < 4 or frame.too_slow(phrase):
        return
    scales = [pentatonic(s.harmony) for s in frame.context.spans]
    if any(s is None for s in scales):
        return
    only = tuple(s[1] for s in scales if s is not None)
    problem = frame.problem(phrase, "arch", above=True, only=only)
    if problem is not None:
        moves = (_PENTA,) * (len(phrase) - 1)
        names = " and ".join(dict.fromkeys(s[0] for s in scales if s is not None))
        for cell in cell_of("pentatonic", frame.level, phrase, replace(problem, moves=moves),
                            note=names):
            yield replace(cell, palette=only)


def blues_lines(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    context = frame.context
    if len(phrase) < 4 or not context.blues:
        return
    classes = blues_classes(context.key)
    palette = (classes,) * len(frame.rows)
    rows = tuple(tuple(PASSING if pc in classes and kind > PASSING else kind
                       for pc, kind in enumerate(row)) for row in frame.rows)
    problem = frame.problem(phrase, "falling", above=True, rows=rows,
                            only=palette)
    if problem is not None:
        for cell in cell_of("blues colour", frame.level, phrase,
                            replace(problem, moves=(_PENTA,) * (len(phrase) - 1))):
            yield replace(cell, palette=palette)


def altered_lines(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    context = frame.context
    if frame.is_plain:
        return
    held = None if frame.held is None else frame.held % 12
    rows = tuple(altered_kinds(s.harmony, held) or row
                 for s, row in zip(context.spans, frame.rows, strict=True))
    if rows == frame.rows or len(phrase) < 3 or frame.too_slow(phrase):
        return
    problem = frame.problem(phrase, "falling", above=True, rows=rows)
    if problem is not None:
        yield from cell_of("altered colours", frame.level, phrase, problem)
        row = moves_for(plan(len(phrase) - 1, frame.turn))
        yield from cell_of("altered colours", frame.level, phrase, replace(problem, moves=row))


def structure_lines(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    context = frame.context
    if len(phrase) < 3 or frame.too_slow(phrase) or frame.is_plain:
        return
    held = None if frame.held is None else frame.held % 12
    triads = [structure_triads(s.harmony, held) for s in context.spans]
    if not any(triads):
        return
    for turn in range(2):
        only: list[frozenset[int] | None] = []
        rows = []
        names = []
        for span, options, row in zip(context.spans, triads, frame.rows, strict=True):
            if options:
                name, classes = options[min(turn, len(options) - 1)]
                only.append(classes)
                rows.append(tuple(min(k, TENSION) if pc in classes else k
                                  for pc, k in enumerate(row)))
                names.append(f"{name} over {span.harmony.symbol.pretty}")
            else:
                only.append(None)
                rows.append(row)
        problem = frame.problem(phrase, "arch" if turn == 0 else "falling", above=True,
                                rows=tuple(rows), only=tuple(only))
        if problem is not None:
            moves = tuple(_ARP_ANY if i < len(phrase) - 2 else None
                          for i in range(len(phrase) - 1))
            for cell in cell_of("upper-structure arpeggio", frame.level, phrase,
                              replace(problem, moves=moves), note="; ".join(names)):
                yield replace(cell, triads=tuple(t for t in only if t is not None))


_ARP_ANY = moves_of(free=(3, 4, 5, -3, -4, -5), dear=(1, 2, -1, -2, 6, 7, 8, 9, -6, -7))


def triad_pairs(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """Two neighbouring major triads of the scale, three notes of each in turn."""
    count = len(phrase)
    if count < 6 or phrase.style in ("quarters", "off-beats"):
        return
    pairs = []
    for span in frame.context.spans:
        root = span.harmony.root.pitch_class
        degrees = _TRIAD_PAIRS.get(span.harmony.scale.name)
        if degrees is None:
            return
        pairs.append(tuple(frozenset((root + degree_pitch_class(d)) % 12 for d in triad)
                           for triad in degrees))
    problem = frame.problem(phrase, "arch", above=True)
    if problem is None:
        return
    pools = []
    for i, (slot, pool_) in enumerate(zip(problem.slots, problem.pools, strict=True)):
        wanted = pairs[slot.span][(i // 3) % 2]
        free = i == count - 1 or i >= 6 + (count - 6) // 3 * 3
        pools.append(tuple(m for m in pool_ if free or m % 12 in wanted))
    moves = tuple(_TRIAD_MOVE if (i + 1) % 3 else SMALL for i in range(count - 1))
    yield from cell_of("triad pairs, arpeggiated", frame.level, phrase,
                     replace(problem, pools=tuple(pools), moves=moves))


_TRIAD_MOVE = moves_of(free=(3, 4, 5, -3, -4, -5))
_TRIAD_PAIRS = {
    # Neighbouring major triads that hold no note to avoid, by chord scale (common practice).
    "dorian": (("b3", "5", "b7"), ("11", "13", "1")),
    "modal dorian": (("b3", "5", "b7"), ("11", "13", "1")),
    "lydian": (("1", "3", "5"), ("9", "#11", "13")),
    "lydian b7": (("1", "3", "5"), ("9", "#11", "13")),
    "sus mixolydian": (("4", "13", "1"), ("b7", "9", "4")),
}
