"""Lines that take something from what was heard: the answer and the sequence.

The answer takes the rhythm of the phrase before the gap (three notes of it or more), or its
rhythm and shape (three intervals or more), and moves it to the present chord. A sequence
states a short cell and says it again a step or two away.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from fillwright.fills.devices.line.costs import PASSING, Problem, moves_of, price
from fillwright.fills.devices.line.figures import moves_for, plans
from fillwright.fills.devices.line.frame import Cell, Frame
from fillwright.fills.devices.line.phrase import (
    Phrase,
    beats_of,
    make_phrase,
    rate_ok,
    resting_places,
)
from fillwright.fills.devices.line.search import search_line
from fillwright.fills.finish import speak_quarter
from fillwright.fills.situation import Task
from fillwright.lattice import FORBIDDEN
from fillwright.memory import SEARCHES
from fillwright.tune.model import SoundingNote

__all__ = ["ANSWER_RHYTHM", "ANSWER_SHAPE", "SEQUENCE", "answers", "sequences", "solve_sequence"]

ANSWER_RHYTHM = "answer to the phrase: its rhythm"
ANSWER_SHAPE = "answer to the phrase: its shape"
SEQUENCE = "sequence of a short cell"

_BASE = {ANSWER_RHYTHM: 2, ANSWER_SHAPE: 0, SEQUENCE: 3}
"""Ready to hand, like the other devices' base costs: an answer is worth hearing."""

_LEAST_RHYTHM, _LEAST_SHAPE, _MOST = 3, 4, 9
"""Notes: fewer cannot be recognised; more is a chorus of its own (common practice)."""


def answers(context: Task) -> Iterator[Cell]:
    """Both answers, each with the longest part of the phrase that fits the gap."""
    frame = Frame(context)
    for least, device in ((_LEAST_SHAPE, ANSWER_SHAPE), (_LEAST_RHYTHM, ANSWER_RHYTHM)):
        if device in context.without:
            continue
        found = 0
        for source, phrase in _echoes(context, least):
            chromatic = context.level == "advanced" and device == ANSWER_RHYTHM
            rows = plans(len(phrase) - 1, frame.turn + found, 2)
            for shape, (_, _, row) in zip(("arch", "bowl"), rows, strict=True):
                problem = frame.problem(phrase, shape, chromatic=chromatic)
                if problem is None:
                    continue
                if device == ANSWER_RHYTHM:  # its pitches are its own
                    problem = replace(problem, moves=moves_for(row))
                cell = _answer_cell(device, source, phrase, problem, context)
                if cell is not None:
                    found += 1
                    yield cell
            if found >= 4:
                break


def _echoes(context: Task, least: int) -> Iterator[tuple[tuple[SoundingNote, ...], Phrase]]:
    """Parts of the phrase before the gap with their rhythm moved into it, longest first.

    The rhythm keeps its place in the beat. The phrase's own last (held) note stands at its
    end, or the notes before it alone are taken.
    """
    speak = context.onset_quarter + speak_quarter(context)
    end = context.end_quarter
    beat = context.beat_quarter
    rests = resting_places(context)
    beats = beats_of(context)
    whole = context.phrase
    for count in range(min(_MOST, len(whole)), least - 1, -1):
        for cut in (0, 1):
            source = whole[len(whole) - count - cut:len(whole) - cut]
            if len(source) < count or not _is_one_phrase(source, context):
                continue
            first = source[0].onset_quarter
            places = [n.onset_quarter - first for n in source]
            if len({b - a for a, b in pairwise(places)}) == 1 and count < 4:
                continue  # three even notes are nobody's rhythm
            phase = (context.beat_at(first) - 1) % 1 * beat
            if not rate_ok(context, places):
                continue
            for b in beats:
                start = b.onset_quarter + phase
                if start < speak:
                    continue
                if start + places[-1] >= end:
                    break
                if rests and start + places[-1] not in rests:
                    continue
                onsets = [start + p for p in places]
                if any(12 % o.denominator for o in onsets):
                    continue
                cost = 2 * int((start - speak) / beat)
                phrase = make_phrase(context, "answer", onsets, cost)
                if rate_ok(context, onsets, phrase.air):
                    yield source, phrase
                    break


def _is_one_phrase(source: tuple[SoundingNote, ...], context: Task) -> bool:
    """No hole of more than two beats inside: what is heard as one thing."""
    return all(b.onset_quarter - a.onset_quarter <= 2 * context.beat_quarter
               for a, b in pairwise(source))


def _answer_cell(device: str, source: tuple[SoundingNote, ...], phrase: Phrase,
                 problem: Problem, context: Task) -> Cell | None:
    count = len(source)
    if device == ANSWER_RHYTHM:
        note = f"the rhythm of its {'last ' if source[-1] == context.phrase[-1] else ''}" \
               f"{count} notes, on other pitches"
        return Cell(device, phrase, problem, _BASE[device], note=note, answer="rhythm")
    if 2 * sum(a.midi == b.midi for a, b in pairwise(source)) > count:
        return None  # no shape to speak of
    moves = []
    for a, b in pairwise(source):
        interval = b.midi - a.midi
        if interval == 0:
            moves.append(moves_of(free=(0,)))
            continue
        sign = 1 if interval > 0 else -1
        near = tuple(i for i in (interval - 1, interval, interval + 1) if 0 < i * sign <= 12)
        far = tuple(i for i in (interval - 2, interval + 2) if 0 < i * sign <= 12)
        moves.append(moves_of(free=near, dear=far))
    chord = context.spans[problem.slots[0].span].harmony.symbol.pretty
    note = (f"rhythm and shape of {count} of its notes, moved to {chord}")
    return Cell(device, phrase, replace(problem, moves=tuple(moves), repeats_ok=any(
        a.midi == b.midi for a, b in pairwise(source))),
                _BASE[device], note=note, answer="shape")


def sequences(context: Task) -> Iterator[Cell]:
    """A cell of three or four notes and its repetition on another step, then a turn into
    the landing where there is room for one."""
    if SEQUENCE in context.without or context.level == "beginner":
        return
    frame = Frame(context)
    speak = context.onset_quarter + (speak_quarter(context) if context.held else 0)
    beat = context.beat_quarter
    third, half = beat / 3, beat / 2
    if beat != 1:
        shapes: list[tuple[int, tuple[Fraction, ...], Fraction]] = [
            (3, (Fraction(0), third, 2 * third), beat)]
    else:
        shapes = [(3, (Fraction(0), half, beat), beat + half),
                  (4, (Fraction(0), half, beat, beat + half), 2 * beat),
                  (3, (Fraction(0), half, beat), 2 * beat)]
        if not context.is_fast:
            shapes.append((4, (Fraction(0), third, 2 * third, beat), 2 * beat))
    rests = resting_places(context)
    beats = beats_of(context)
    for count, pattern, shift in shapes:
        places = [*pattern, *(shift + p for p in pattern)]
        if not rate_ok(context, places):
            continue
        for b in beats:
            for offset in (Fraction(0), half) if beat == 1 and count == 3 else (Fraction(0),):
                start = b.onset_quarter + offset
                last = start + places[-1]
                if start < speak or last >= context.end_quarter or (
                        rests and last not in rests):
                    continue
                if start - speak > 2 * beat or context.end_quarter - last - half > 2 * beat:
                    continue
                onsets = [start + p for p in places]
                phrase = make_phrase(context, "sequence", onsets, int((start - speak) / beat))
                if not rate_ok(context, onsets, phrase.air):
                    continue
                for shape in ("falling", "rising"):
                    problem = frame.problem(phrase, shape, above=shape == "falling")
                    if problem is not None:
                        yield Cell(SEQUENCE, phrase, problem, _BASE[SEQUENCE], later=count)


def solve_sequence(context: Task, cell: Cell) -> list[tuple[tuple[int, ...], str]]:
    """The cheapest statements of a sequence: pitches of both cells, and the move in words.

    The first cell is searched alone; each of the best is moved by one or two scale steps
    either way, every note in the scale of its own chord, and the whole is priced.
    """
    problem, count = cell.problem, cell.later
    best: list[tuple[int, tuple[int, ...], str]] = []
    heads: dict[tuple[int, ...], None] = {}
    for _, _, moves in plans(count - 1, context.turn, 3):
        head = Problem(problem.slots[:count], problem.pools[:count],
                       moves_for((*moves[:-1], "?")), problem.goal[:count], problem.first,
                       None, True)
        heads |= dict.fromkeys(midis for midis, _ in search_line(head, 2))
    for midis in heads:
        for step in (-1, 1, -2, 2):
            moved = _moved(problem, midis, step)
            if moved is None:
                continue
            total = sum(price(problem, midis + moved).values())
            if total < FORBIDDEN // 2:
                word = {1: "a step", 2: "a third"}[abs(step)]
                best.append((total, midis + moved,
                             f"{word} {'higher' if step > 0 else 'lower'}"))
    best.sort()
    return [(midis, word) for _, midis, word in best[:1]]


def _moved(problem: Problem, midis: tuple[int, ...], step: int) -> tuple[int, ...] | None:
    """The cell moved by scale steps, each note in the scale of the chord it falls on."""
    result = []
    count = len(midis)
    for index, midi in enumerate(midis):
        ladder = _ladder(problem.slots[count + index].kinds)
        here = bisect_left(ladder, midi)
        if ladder[here] != midi:
            if ladder[here - 1] != midi - 1:
                return None
            here -= 1  # a foreign note counts as the scale note below it
        place = here + step
        if not 0 <= place < len(ladder) or ladder[place] not in problem.pools[count + index]:
            return None
        result.append(ladder[place])
    before = [b > a for a, b in pairwise(midis)]
    after = [b > a for a, b in pairwise(result)]
    return tuple(result) if before == after and len(set(result)) == len(set(midis)) else None


@SEARCHES.keep
def _ladder(row: tuple[int, ...]) -> tuple[int, ...]:
    """All MIDI numbers of the keyboard's middle that are in chord and scale."""
    return tuple(m for m in range(40, 108) if row[m % 12] <= PASSING)
