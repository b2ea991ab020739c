"""Which fill goes into which gap: one path through a lattice of gaps.

States of a gap are its options and the choice to leave it open; an open state remembers
the device heard last, so that no device comes twice in a row even with air between.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from fillwright.fills.model import FAMILIES, Fill
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.tune.model import Gap

__all__ = ["COSTS", "choose_fills"]

COSTS: Mapping[str, int] = {
    # Units: one step down the ranking of a family costs "rank". All common practice.
    "rank": 4,
    "same family": 6,      # the family of the fill before
    "same rhythm": 6,      # the onsets of the fill before, wherever it stood in its bar
    "open": 16,            # a gap left open that could be filled
    "open late": 6,        # on top of it, in the second half: fuller later
    "open long": 4,        # on top of it, per beat of the gap beyond four: a hole, not air
    "open twice": 14,      # two open gaps in a row
    "open at the end": 40,  # a tune does not stop on a melody note over a bare left hand
    "crowded": 8,          # a fill right after a filled gap, with less than a bar between
    "arc": 3,              # per step of fullness away from the plan
    "again": 9,            # a device used n times costs this times n(n-1)/2
    "rolled": 30,          # per rolled chord beyond one in eight bars
    "line at the end": 14,  # a tune closes on chords; a line leaves it in the air
    "tied layers": 14,     # both hands strike with a held note between beats: ties in three layers
    "late home": 24,       # the last chord comes with less than two quarters left
    "never shifted": 16,   # no landing early or late in a chorus that could have one
    "shifted": 40,         # per early or late landing beyond `shifts_of`: a surprise, not a habit
    "mix": 7,              # per fill more or fewer of a family than its share
    "strain": 1,           # per point of difficulty beyond `EASE` of the limit, times `strain`
}

_ROUNDS = 12
"""Rounds of the search; what a path cannot know (how often a device comes in all) is
learnt as a price from round to round, and the cheapest whole choice is kept."""

_ROLL_BARS = 8
"""One rolled chord in so many bars is colour; more is a mannerism, and a hand that rolls
everything is too small for the arrangement (common practice)."""
_ROLLED = "rolled"

_SHIFT_BARS, _MOST_SHIFTS = 32, 2
"""One early or late landing in so many bars, one at least and never more than two in all."""
_SHIFTED = "shifted"

EASE = 0.6
"""A fill up to this share of the greatest difficulty of a level is no strain: the melody
around it has its own."""

_EVEN = dict.fromkeys(FAMILIES, 1)


@dataclass(frozen=True, slots=True)
class _State:
    fill: Fill | None
    last: tuple[str, str] | None
    """Family and device of the fill heard last, here or before."""
    rank: int = 0


def _fullness(fill: Fill, gap: Gap) -> int:
    """Onsets a beat in quarters of a beat's worth: 0 (air) to 8 (busy)."""
    onsets = len({n.onset_quarter for n in fill.notes})
    return min(8, round(3 * onsets / max(float(gap.beats), 1.0)))


def _rolls(fill: Fill) -> int:
    """How many chords of a fill are rolled."""
    return len({(n.onset_quarter, n.hand) for n in fill.notes if n.rolled})


def shifts_of(length_quarter: Fraction, bar_quarter: Fraction) -> int:
    """How many landings of a piece may come early or late."""
    return min(max(int(length_quarter / (_SHIFT_BARS * bar_quarter)), 1), _MOST_SHIFTS)


def choose_fills(gaps: Sequence[Gap], options: Mapping[int, Sequence[Fill]],
                 picked: Mapping[int, Fill | None], length_quarter: Fraction,
                 bar_quarter: Fraction, mix: Mapping[str, int] | None = None, strain: int = 0,
                 limit: int = 100) -> tuple[Fill, ...]:
    """At most one fill a gap, in order of gaps.

    One landing in a while comes early or late where the options have such fills.

    options   gap number -> fills, each family best first
    picked    gap number -> the user's choice; None leaves that gap open
    mix       family -> weight; a family with weight 0 is not used. Even by default.
    strain    how much easy fills are preferred, 0 for not at all
    limit     the greatest difficulty of the level
    """
    weights = dict(mix or _EVEN)
    usable = {number: [f for f in fills if weights.get(f.family, 0) > 0]
              for number, fills in options.items()}
    prices: dict[str, int] = {}
    strains = {fill.id: COSTS["strain"] * strain * max(fill.difficulty - round(EASE * limit), 0)
               for fills in usable.values() for fill in fills}
    rolls_free = int(length_quarter / (_ROLL_BARS * bar_quarter))
    most_shifts = shifts_of(length_quarter, bar_quarter)
    best: list[Fill] = []
    best_cost: int | None = None
    best_prices: dict[str, int] = {}
    # Rounds in which every gap is free; then one for each gap whose landing may move.
    shifting = [gap.number for gap in gaps if gap.number not in picked
                and any(f.shift is not None for f in usable.get(gap.number, ()))]
    for place, moved in enumerate((*[None] * _ROUNDS, *shifting)):
        if place == _ROUNDS and any(f.shift is not None for f in best):
            break
        if moved is not None:
            prices = dict(best_prices)
        own_prices = dict(prices)
        chosen, cost = _one_pass(gaps, usable, picked, length_quarter, bar_quarter, prices,
                                 strains, moved)
        devices, surplus = _tally(chosen, weights)
        cost += sum(COSTS["again"] * n * (n - 1) // 2 for n in devices.values())
        cost += sum(COSTS["mix"] * abs(n) for n in surplus.values()) // 2
        rolls = max(sum(map(_rolls, chosen)) - rolls_free, 0)
        cost += COSTS["rolled"] * rolls
        if rolls:
            prices[_ROLLED] = prices.get(_ROLLED, 0) + 4
        shifts = sum(f.shift is not None for f in chosen)
        if shifting and not shifts:
            cost += COSTS["never shifted"]
        over_shifts = max(shifts - most_shifts, 0)
        cost += COSTS["shifted"] * over_shifts
        if over_shifts:
            prices[_SHIFTED] = prices.get(_SHIFTED, 0) + 4 * over_shifts
        if best_cost is None or cost < best_cost:
            best, best_cost, best_prices = chosen, cost, own_prices
        for device, count in devices.items():
            if count > 1:
                prices[device] = prices.get(device, 0) + 3 * (count - 1)
        for family, over in surplus.items():
            prices[family] = prices.get(family, 0) + over
    return tuple(best)


def _tally(chosen: Sequence[Fill], weights: Mapping[str, int]
           ) -> tuple[dict[str, int], dict[str, int]]:
    """How often each device came, and how many fills a family has beyond its share."""
    devices: dict[str, int] = {}
    for fill in chosen:
        devices[fill.device] = devices.get(fill.device, 0) + 1
    total = sum(weights.values()) or 1
    surplus = {family: sum(f.family == family for f in chosen)
               - round(len(chosen) * weights.get(family, 0) / total) for family in FAMILIES}
    return devices, surplus


def _one_pass(gaps: Sequence[Gap], options: Mapping[int, Sequence[Fill]],
              picked: Mapping[int, Fill | None], length_quarter: Fraction,
              bar_quarter: Fraction, prices: Mapping[str, int], strains: Mapping[str, int],
              moved: int | None = None) -> tuple[list[Fill], int]:
    """The cheapest path at the given prices, and its cost without them.

    moved   a gap whose landing comes early or late, whatever it costs
    """
    if not gaps:
        return [], 0
    layers: list[list[_State]] = []
    local: list[dict[str, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]] = []
    for gap in gaps:
        lasts = sorted({s.last for s in layers[-1] if s.last is not None}) if layers else []
        states: list[_State] = []
        if gap.number in picked:
            choice = picked[gap.number]
            if choice is not None:
                states = [_State(choice, (choice.family, choice.device))]
        else:
            for family in FAMILIES:
                own = [f for f in options.get(gap.number, ()) if f.family == family]
                states += [_State(f, (f.family, f.device), rank) for rank, f in enumerate(own)]
        if gap.number == moved:
            states = [s for s in states if s.fill is not None and s.fill.shift is not None]
        elif gap.number not in picked or picked[gap.number] is None:
            states += [_State(None, None)] + [_State(None, last) for last in lasts]
        layers.append(states)
        can_fill = any(s.fill is not None for s in states)
        place = float(gap.onset_quarter / length_quarter)
        left_open = COSTS["open"] + (COSTS["open late"] if place > 0.5 else 0)
        left_open += COSTS["open long"] * max(int(gap.beats) - 4, 0)
        if gap.landing is None:
            left_open += COSTS["open at the end"]
        goal = 2.0 + 3.0 * place
        local.append({
            "rank": np.array([COSTS["rank"] * s.rank for s in states], dtype=np.int64),
            "open": np.array([left_open if s.fill is None and can_fill else 0
                              for s in states], dtype=np.int64),
            "page": np.array([COSTS["tied layers"] if s.fill is not None
                              and _is_tied_in_layers(s.fill, gap) else 0
                              for s in states], dtype=np.int64),
            "strain": np.array([0 if s.fill is None else strains.get(s.fill.id, 0)
                                for s in states], dtype=np.int64),
            "end": np.array([_at_the_end(s.fill) if gap.landing is None else 0
                             for s in states], dtype=np.int64),
            "price": np.array(
                [prices.get(s.fill.device, 0) + prices.get(s.fill.family, 0)
                 + prices.get(_ROLLED, 0) * _rolls(s.fill)
                 + (prices.get(_SHIFTED, 0) if s.fill.shift is not None else 0)
                 if s.fill is not None else 0 for s in states], dtype=np.int64),
            "arc": np.array([round(COSTS["arc"] * abs(_fullness(s.fill, gap) - goal))
                             if s.fill is not None else 0 for s in states], dtype=np.int64),
        })
    steps = []
    for index in range(1, len(gaps)):
        between = gaps[index].onset_quarter - gaps[index - 1].end_quarter
        matrix = np.zeros((len(layers[index - 1]), len(layers[index])), dtype=np.int64)
        pinned = {index - 1, index} & {i for i, g in enumerate(gaps) if g.number in picked}
        for i, before in enumerate(layers[index - 1]):
            for j, after in enumerate(layers[index]):
                matrix[i, j] = _step(before, after, between, bar_quarter, free=bool(pinned))
        steps.append({"order": matrix})
    paths = k_best_paths([len(s) for s in layers], local, steps, 1)
    if not paths:
        return [], FORBIDDEN
    chosen = [state.fill for index, place in enumerate(paths[0].states)
              if (state := layers[index][place]).fill is not None]
    return chosen, paths[0].total - dict(paths[0].costs).get("price", 0)


def _is_tied_in_layers(fill: Fill, gap: Gap) -> bool:
    """Whether the page has ties on the melody, under it and in the left hand at once."""
    return gap.held is not None and gap.beat.denominator != 1 and len(
        {n.hand for n in fill.notes if n.onset_quarter == gap.onset_quarter}) == 2


def _at_the_end(fill: Fill | None) -> int:
    """What it costs to end a tune with a fill."""
    if fill is None:
        return 0
    cost = COSTS["line at the end"] if fill.family == "line" else 0
    if len(fill.chords) > 1 and fill.chords[-1].duration_quarter < 2:
        cost += COSTS["late home"]
    return cost


def _step(before: _State, after: _State, between: Fraction, bar_quarter: Fraction,
          free: bool) -> int:
    """What it costs to go on from one gap's state to the next.

    between   quarters from the end of the one gap to the beginning of the next
    free      one of both is the user's choice and is not argued with
    """
    if after.fill is None:
        if after.last != before.last:
            return FORBIDDEN
        return COSTS["open twice"] if before.fill is None else 0
    if before.fill is not None and before.fill.shift is not None and between <= 0 and not free:
        return FORBIDDEN  # its landing would open this gap, early or late
    cost = 0
    if before.last is not None:
        if before.last[1] == after.fill.device and not free:
            return FORBIDDEN
        if before.last[0] == after.fill.family:
            cost += COSTS["same family"]
    if before.fill is not None and before.fill.idea.onsets == after.fill.idea.onsets:
        cost += COSTS["same rhythm"]
    if before.fill is not None and between < bar_quarter:
        cost += COSTS["crowded"]
        if before.fill.over_quarter > between:  # its last chord rings into the next fill
            return FORBIDDEN
    return cost
