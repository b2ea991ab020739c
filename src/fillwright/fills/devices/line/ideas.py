"""The ideas of the line family, each as questions to the lattice.

A device takes a rhythm and says which pitches each note may have, which moves its shape
wants, and where its contour leads. `cells` lists all of them for a gap; the lattice answers
each one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from fillwright.fills.devices.line.colours import (
    altered_lines,
    blues_lines,
    pentatonic_lines,
    structure_lines,
    triad_pairs,
)
from fillwright.fills.devices.line.costs import PASSING, TENSION, TONE, Problem, Slot, moves_of
from fillwright.fills.devices.line.figures import (
    ONE_TWO_THREE_FIVE,
    figure_name,
    least_moves,
    moves_for,
    pickups,
    plan,
    plans,
)
from fillwright.fills.devices.line.frame import FIGURE_BASE, SMALL, Cell, Frame, cell_of
from fillwright.fills.devices.line.phrase import Phrase, lifted, make_phrase, phrases
from fillwright.fills.situation import Task
from fillwright.hands.model import LEVELS
from fillwright.theory.chord import degree_pitch_class

__all__ = ["cells"]

_UP_ARP = moves_of(free=(3, 4, 5), dear=(2, 6, 7))
_DOWN_ARP = moves_of(free=(-3, -4, -5), dear=(-2, -6, -7))
_UP_STEP = moves_of(free=(1, 2), dear=(3,))
_DOWN_STEP = moves_of(free=(-1, -2), dear=(-3,))
_ARPEGGIATED = moves_of(free=(-5, -4, -3, 3, 4, 5), dear=(-7, -2, -1, 1, 2, 7))
_ANY_NEAR = moves_of(free=(-5, -4, -3, -2, -1, 1, 2, 3, 4, 5), dear=(-7, 7))
_STEPWISE = moves_of(free=(-2, -1, 1, 2), dear=(-5, -4, -3, 3, 4, 5))
_REPEAT = moves_of(free=(0,))
_REPEAT_OR_STEP = moves_of(free=(0, 1, -1, 2, -2))
_MANY = 7
"""Strokes of one key from which on it moves half way."""

_PLANS = 4
"""Plans tried for each rhythm."""

_SHORT_BEATS = 3
"""In gaps up to so many beats a short reply may also stop short of its landing."""

_OCTAVE_MOVES = moves_of(free=(-5, -4, -3, -2, -1, 1, 2, 3, 4, 5), dear=(0, -7, 7))

def cells(context: Task) -> Iterator[Cell]:
    """All questions of a gap, in a fixed order; devices switched off are left out."""
    frame = Frame(context)
    rhythms = phrases(context)
    for cell in _all(frame, rhythms):
        if cell.device not in context.without:
            yield cell


def _all(frame: Frame, rhythms: tuple[Phrase, ...]) -> Iterator[Cell]:
    level = frame.context.level
    for phrase in _with_air(frame.context):
        yield from _octaves(frame, phrase)
    short = frame.context.beats <= _SHORT_BEATS
    for number, phrase in enumerate(rhythms):
        free = lifted(frame.context, phrase)
        if free is not None:
            yield from _chord_tones(frame, free)
            if level == "beginner":
                yield from _broken_chord(frame, free)
            else:
                yield from _arpeggio_and_scale(frame, free)
                yield from _scale_run(frame, free, number)
            if short:
                yield from _figures(frame, free, number)
            if level == "advanced":
                yield from structure_lines(frame, free)
        yield from _chord_tones(frame, phrase)
        yield from _arpeggio_and_scale(frame, phrase)
        yield from _scale_run(frame, phrase, number)
        yield from _repeated(frame, phrase)
        yield from _figures(frame, phrase, number)
        if level == "beginner":
            yield from _broken_chord(frame, phrase)
        else:
            yield from _enclosure(frame, phrase, number)
            yield from _half_step(frame, phrase, number)
            yield from pentatonic_lines(frame, phrase)
            yield from blues_lines(frame, phrase)
        if level == "advanced":
            yield from structure_lines(frame, phrase)
            yield from triad_pairs(frame, phrase)
            yield from altered_lines(frame, phrase)


def _only_kind(problem: Problem, most: int, last: bool = True) -> Problem:
    """Keep the pitches that are at most a tension (1) or chord tones (0)."""
    pools = tuple(tuple(m for m in pool_ if slot.kinds[m % 12] <= most)
                  if last or i < len(problem.pools) - 1 else pool_
                  for i, (slot, pool_) in enumerate(zip(problem.slots, problem.pools,
                                                        strict=True)))
    return replace(problem, pools=pools)


def _chord_tones(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    if phrase.style in ("double time", "triplets") or len(phrase) < 2:
        return
    problem = frame.problem(phrase, "falling", above=True)
    if problem is None:
        return
    most = TONE if frame.context.level == "beginner" else TENSION
    problem = replace(problem, moves=(_ARPEGGIATED,) * (len(phrase) - 1))
    yield from cell_of("chord tones up high, arpeggiated", frame.level, phrase,
                       _only_kind(problem, most))


def _broken_chord(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """Up the chord and down again, or down and up."""
    count = len(phrase)
    if count < 4:
        return
    top = (count + 1) // 2
    for first, then, shape in ((_UP_ARP, _DOWN_ARP, "arch"), (_DOWN_ARP, _UP_ARP, "bowl")):
        problem = frame.problem(phrase, shape, above=shape == "arch")
        if problem is not None:
            moves = tuple(first if i < top - 1 else then for i in range(count - 1))
            yield from cell_of("arpeggio up and down", frame.level, phrase,
                             replace(_only_kind(problem, TONE), moves=moves))


def _arpeggio_and_scale(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    count = len(phrase)
    if count < 5 or phrase.style == "off-beats" or frame.too_slow(phrase):
        return
    problem = frame.problem(phrase, "arch", above=True)
    if problem is None:
        return
    climb = min(max(2, round(count * 0.4)), 4)
    pools = tuple(tuple(m for m in p if i > climb or s.kinds[m % 12] <= TENSION)
                  for i, (s, p) in enumerate(zip(problem.slots, problem.pools, strict=True)))
    moves = tuple(_UP_ARP if i < climb else _DOWN_STEP if i < climb + 7 else SMALL
                  for i in range(count - 1))
    yield from cell_of("arpeggio up, scale down", frame.level, phrase,
                     replace(problem, pools=pools, moves=moves))


def _scale_run(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    count = len(phrase)
    if count < 4 or phrase.style == "off-beats" or frame.too_slow(phrase):
        return
    for direction in (("down", "up") if number % 2 else ("up", "down")):
        run, back = (_UP_STEP, _DOWN_STEP) if direction == "up" else (_DOWN_STEP, _UP_STEP)
        # the run from its first note on, and a turn before the landing
        length = min(count - 2, 6)
        moves = tuple(run if i <= length
                      else back if i == count - 2 and count - 2 > length else SMALL
                      for i in range(count - 1))
        problem = frame.problem(phrase, "rising" if direction == "up" else "falling",
                                above=direction == "down")
        if problem is not None:
            yield from cell_of("scale run", frame.level, phrase, replace(problem, moves=moves),
                             note=direction)


def _figures(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    """Lines of figures, named by the one they open with; in two or three notes there is
    room for a pickup only."""
    count = len(phrase)
    if count < 1 or (frame.too_slow(phrase) and frame.level != "beginner"):
        return
    short = count < 4
    for turn, mirrored, moves in (pickups(count - 1, frame.turn + number) if short else
                                  plans(count - 1, frame.turn + 2 * number, _PLANS)):
        shape = ("arch", "falling", "bowl", "rising")[(number + turn) % 4]
        problem = frame.problem(phrase, shape, above=shape in ("falling", "arch"),
                                chromatic=frame.level == "advanced" and not frame.is_plain)
        if problem is None or (not short and count - 1 < least_moves(turn)):
            continue
        problem = replace(problem, moves=moves_for(moves))
        if count == 1 and frame.level == "beginner":
            problem = _only_kind(problem, TONE)
        if short:
            runs = _runs_into_landing(frame.context, phrase) and problem.landing is not None
            yield from cell_of("pickup into the landing" if runs else "short reply",
                               frame.level, phrase, problem)
            continue
        name = figure_name(turn)
        if name == ONE_TWO_THREE_FIVE:
            degrees = None if mirrored else _one_two_three_five(frame, problem)
            problem, name = ((problem, "two steps and a skip") if degrees is None
                             else (degrees, name))
        yield Cell(name, phrase, problem, FIGURE_BASE[LEVELS.index(frame.level)],
                   note="mirrored" if mirrored else "", figure=turn)


def _runs_into_landing(context: Task, phrase: Phrase) -> bool:
    """Two notes or more, the last two and the landing without a hole."""
    landing = context.landing
    if landing is None or len(phrase) < 2 or phrase.air > 0:
        return False
    beat = context.beat_quarter
    return (phrase.ends[-2] == phrase.onsets[-1] and phrase.onsets[-1] - phrase.onsets[-2] <= beat
            and phrase.ends[-1] - phrase.onsets[-1] <= beat)


def _one_two_three_five(frame: Frame, problem: Problem) -> Problem | None:
    """The question with root, ninth, third and fifth of one chord as its first notes, or
    None where the chord has no such degrees or does not last."""
    slots = problem.slots[:4]
    harmony = frame.context.spans[slots[0].span].harmony
    third = harmony.third
    if any(s.span != slots[0].span for s in slots) or third not in ("3", "b3"):
        return None
    root = harmony.root.pitch_class
    wanted = tuple((root + degree_pitch_class(d)) % 12 for d in ("1", "9", third, "5"))
    pools = tuple(tuple(m for m in p if i > 3 or m % 12 == wanted[i])
                  for i, p in enumerate(problem.pools))
    return replace(problem, pools=pools) if all(pools) else None


def _enclosure(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    """The last two notes lie on either side of the landing; with air, two notes lie on
    either side of a chord tone on a beat."""
    count = len(phrase)
    problem = frame.problem(phrase, "arch" if number % 2 else "falling", above=True,
                            chromatic=True)
    if count < 3 or problem is None:
        return
    row = moves_for(plan(count - 1, frame.turn + number))
    landing = problem.landing
    if landing is not None and not problem.air:
        slot, last = problem.slots[-2], problem.slots[-1]
        for sign in (1, -1):
            first = tuple(sorted(m for m in (landing + sign, landing + 2 * sign)
                                 if _enclosing_ok(slot, m)))
            second = tuple(sorted({landing - sign} | {
                m for m in (landing - 2 * sign,) if last.kinds[m % 12] <= PASSING}))
            if first:
                yield from cell_of("enclosure of a target", frame.level, phrase, replace(
                    problem, pools=(*problem.pools[:-2], first, second),
                    moves=(*row[:-2], _STEPWISE, _ANY_NEAR)), note="landing")
        return
    target = next((i for i in range(count - 1, 1, -1)
                   if problem.slots[i].strength and not problem.slots[i - 1].closes
                   and not problem.slots[i - 2].closes), None)
    if target is None:
        return
    pools = _tone_at(problem, target)
    for above in (True, False):
        first_move = moves_of(free=(-3, -2)) if above else moves_of(free=(2, 3))
        second_move = moves_of(free=(1,)) if above else moves_of(free=(-1,))
        moves = tuple(first_move if i == target - 2 else second_move if i == target - 1
                      else move for i, move in enumerate(row))
        yield from cell_of("enclosure of a target", frame.level, phrase,
                         replace(problem, pools=pools, moves=moves), note=str(target))


def _tone_at(problem: Problem, target: int) -> tuple[tuple[int, ...], ...]:
    """The pools of a problem with chord tones only at one note."""
    return tuple(tuple(m for m in p if i != target or s.kinds[m % 12] == TONE)
                 for i, (s, p) in enumerate(zip(problem.slots, problem.pools, strict=True)))


def _enclosing_ok(slot: Slot, midi: int) -> bool:
    kind = slot.kinds[midi % 12]
    return kind <= TENSION or (kind == PASSING and not slot.held and slot.strength < 2)


def _half_step(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    """The landing (or, with air, the last beat note) is approached by a half step that
    goes on from a chord tone."""
    count = len(phrase)
    problem = frame.problem(phrase, "bowl" if number % 2 else "arch", above=not number % 2,
                            chromatic=True)
    if count < 2 or problem is None:
        return
    row = moves_for(plan(count - 1, frame.turn + number + 4, mirrored=bool(number % 2)))
    landing = problem.landing
    if landing is not None and not problem.air:
        for sign in (-1, 1):
            yield from cell_of("approach from a half step", frame.level, phrase, replace(
                problem, pools=(*problem.pools[:-1], (landing + sign,)),
                moves=(*row[:-1], _ANY_NEAR)), note="landing")
        return
    target = next((i for i in range(count - 1, 0, -1)
                   if problem.slots[i].strength and not problem.slots[i - 1].closes), None)
    if target is None:
        return
    moves = tuple(moves_of(free=(1, -1)) if i == target - 1 else move
                  for i, move in enumerate(row))
    yield from cell_of("approach from a half step", frame.level, phrase,
                     replace(problem, pools=_tone_at(problem, target), moves=moves),
                     note=str(target))


def _repeated(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """One key in a rhythm, moved by step where the chord asks for it, to another key half way
    where there are many strokes, and off to the landing; three strokes at least before it
    leaves, or nobody hears a rhythm."""
    count = len(phrase)
    if count < 4 or phrase.style in ("double time", "quarters"):
        return
    problem = frame.problem(phrase, "arch", above=False)
    if problem is None:
        return
    problem = _only_kind(problem, TENSION, last=False)
    # the landing's own key is not drummed before it comes
    pools = tuple(tuple(m for m in p if m != problem.landing) or p for p in problem.pools)
    problem = replace(problem, pools=pools)
    half = (count - 1) // 2 if count >= _MANY else -1
    moves = tuple(SMALL if i == count - 2 else
                  SMALL if i == half else
                  _REPEAT_OR_STEP if problem.slots[i + 1].change else _REPEAT
                  for i in range(count - 1))
    yield from cell_of("repeated-note rhythm", frame.level, phrase,
                     replace(problem, moves=moves, repeats_ok=True))


def _with_air(context: Task) -> tuple[Phrase, ...]:
    """Rhythms for octaves: few and sharp, over a beat before the landing, because the hand
    has to come down."""
    if context.landing is None:
        return phrases(context, ("off-beats", "quarters"), each=2)
    early = context.end_quarter - context.beat_quarter
    if early <= context.onset_quarter + context.beat_quarter:
        early = context.end_quarter - context.beat_quarter / 2
    return tuple(make_phrase(context, p.style, p.onsets, p.cost)
                 for p in phrases(context, ("off-beats", "quarters"), each=2,
                                  landing_quarter=early))


def _octaves(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """A few octaves in a rhythm at the top of the keyboard; the lower key of the last one
    is beside the landing."""
    context = frame.context
    if len(phrase) < 2:
        return
    if context.landing is not None and phrase.air < context.beat_quarter / 2:
        return
    near = frame.landing if frame.landing is not None else frame.centre
    low, high = max(near + 7, 74), min(near + 26, 103)
    slots = frame.slots(phrase, frame.rows)
    pools = tuple(tuple(m for m in range(low, high + 1) if slot.kinds[m % 12] <= TENSION
                        and (context.level != "beginner" or slot.kinds[m % 12] == TONE))
                  for slot in slots)
    pools = (*pools[:-1], frame.at_rest(slots[-1], pools[-1]))
    top = near + 19
    goal = tuple(round(top + (near + 12 - top) * (i + 1) / len(slots))
                 for i in range(len(slots)))
    problem = Problem(slots, pools, (_OCTAVE_MOVES,) * (len(slots) - 1), goal, None,
                      None if frame.landing is None else near + 12, True)
    yield from cell_of("octaves with a rhythm", frame.level, phrase, problem, double="octave")
    if context.hand == "large" and context.level != "beginner":
        inside = tuple(tuple(m for m in p if slot.kinds[(m - 5) % 12] <= TENSION)
                       for slot, p in zip(slots, pools, strict=True))
        yield from cell_of("octaves with a fifth inside", frame.level, phrase,
                         replace(problem, pools=inside), double="fifth")
