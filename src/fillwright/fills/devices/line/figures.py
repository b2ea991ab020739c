"""Short figures that lines are made of, by kind of move, and plans made of them.

The cheapest line under any table of interval costs is a scale, because steps are cheapest
everywhere. Real lines mix: about 54 % steps, 26 % thirds, 14 % larger (Weimar Jazz
Database). So a line follows a plan: a row of figures, each a mixture of steps, thirds and
leaps that are turned back, and the lattice finds the pitches. The figures are the ones
every method teaches: an arpeggio and a step back, three steps and a third, a leap filled
by steps, broken thirds, an enclosure (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from types import MappingProxyType

from fillwright.fills.devices.line.costs import Moves, moves_of

__all__ = ["FIGURES", "ONE_TWO_THREE_FIVE", "figure_moves", "figure_name", "least_moves",
           "move_name", "moves_for", "pickups", "plan", "plans"]

ONE_TWO_THREE_FIVE = "one, two, three, five"
"""The figure that is named by its degrees; elsewhere its moves are two steps and a skip."""

FIGURES: tuple[tuple[str, str, int], ...] = (
    # Name, moves, and how many of them make the figure: + up, - down; s step, t third,
    # l fourth to sixth. All of them are played upside down as well.
    ("broken chord with steps back", "+t +t -s -s", 3),
    ("leap filled by steps", "+l -s -s -t", 3),
    ("scale broken by a skip", "-s -s -t +s", 3),
    ("note between its neighbours", "+s -t +s +l -s", 3),
    (ONE_TWO_THREE_FIVE, "+s +s +t -s", 3),
    ("intervals that open out", "-t +s -l +s", 3),
    ("skip and a leap turned back", "-t -s +l -s", 4),
    ("peak and drop", "+t -s -s -l +s", 5),
)

_LEAP_BONUS = 6
"""What a leap of a figure is worth: it pays for the detour of the contour (design choice,
set so that a line in seven moves by a fourth or more, as solos do)."""

_MOVES: MappingProxyType[str, Moves] = MappingProxyType({
    "+s": moves_of(free=(1, 2), dear=(3,)), "-s": moves_of(free=(-1, -2), dear=(-3,)),
    "+t": moves_of(free=(3, 4), dear=(2, 5), bonus=1),
    "-t": moves_of(free=(-3, -4), dear=(-2, -5), bonus=1),
    "+l": moves_of(free=(5, 7, 8, 9), dear=(4, 6, 10), bonus=_LEAP_BONUS),
    "-l": moves_of(free=(-5, -7, -8), dear=(-4, -6, -9), bonus=_LEAP_BONUS),
    "?": moves_of(free=(-4, -3, -2, -1, 1, 2, 3, 4), dear=(-5, 5)),
    "?s": moves_of(free=(-2, -1, 1, 2), dear=(-4, -3, 3, 4)),
})


def figure_name(turn: int) -> str:
    """The name of the figure that a plan from `turn` on opens with."""
    return FIGURES[turn % len(FIGURES)][0]


def figure_moves(turn: int, mirrored: bool) -> tuple[str, ...]:
    """The moves of one figure."""
    moves = FIGURES[turn % len(FIGURES)][1].split()
    return tuple(_flip(m) if mirrored else m for m in moves)


def least_moves(turn: int) -> int:
    """How many moves make the figure."""
    return FIGURES[turn % len(FIGURES)][2]


def move_name(interval: int) -> str:
    """What kind of move a signed interval is, "" for a repeat or more than a sixth.

    >>> move_name(2), move_name(-4), move_name(7)
    ('+s', '-t', '+l')
    """
    size = abs(interval)
    kind = "s" if size in (1, 2) else "t" if size in (3, 4) else "l" if 5 <= size <= 9 else ""
    return ("+" if interval > 0 else "-") + kind if kind else ""


def plan(steps: int, turn: int, mirrored: bool = False) -> tuple[str, ...]:
    """The moves of a line of `steps` intervals: figures in a row from number `turn` on.

    Between two figures stands a free small move; the last move leads on by step, unless the
    first figure needs it. Mirrored, every figure is turned upside down.

    >>> plan(4, 0), plan(6, 1, True)
    (('+t', '+t', '-s', '?s'), ('-l', '+s', '+s', '+t', '?', '?s'))
    """
    moves: list[str] = []
    place = turn
    while len(moves) < steps:
        if moves:
            moves.append("?")
        moves += figure_moves(place, mirrored)
        place += 3  # a neighbour that is not alike
    moves = moves[:steps]
    if steps > least_moves(turn):
        moves[-1] = "?s"
    return tuple(moves)


def _flip(move: str) -> str:
    return ("-" if move[0] == "+" else "+") + move[1:]


def moves_for(names: Sequence[str]) -> tuple[Moves, ...]:
    """The tables of extra costs of a plan, for a `Problem`."""
    return tuple(_MOVES[name] for name in names)


def plans(steps: int, start: int, count: int) -> Iterator[tuple[int, bool, tuple[str, ...]]]:
    """`count` different plans for a line, from a place in the order that `start` names:
    (turn, mirrored, moves)."""
    for index in range(count):
        turn = start + index
        mirrored = bool((turn // len(FIGURES) + index) % 2)
        yield turn, mirrored, plan(steps, turn % len(FIGURES), mirrored)


def pickups(steps: int, start: int) -> Iterator[tuple[int, bool, tuple[str, ...]]]:
    """Plans for one to three notes: mostly by step, a skip or a leap now and then."""
    first = ("s", "s", "t", "s", "l")[start % 5]
    for mirrored in (False, True):
        moves = (("-" if mirrored else "+") + first, "?s")[-steps:] if steps else ()
        yield start, mirrored, moves
