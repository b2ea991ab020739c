"""The one search: exact k best paths through layers of states.

A lattice is a row of layers; each layer offers some states. A path takes one state from
every layer and pays the local cost of each state and the step cost between neighbours.
Costs are integers, of either sign, kept apart by named term, so that a result can
say what it paid for. `FORBIDDEN` closes a state or a step.

The search is dynamic programming that keeps, for every state, the k cheapest partial
paths that end there (the list form of Viterbi's algorithm; Seshadri & Sundberg, IEEE
Trans. Communications 42, 1994). It is exact. Ties break by the lower predecessor, then by
the predecessor's rank, so the same input gives the same paths on every machine.

Nothing here knows of music.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["FORBIDDEN", "Costs", "Path", "k_best_paths"]

Costs: TypeAlias = Mapping[str, npt.NDArray[np.int64]]

FORBIDDEN = 1 << 40
"""A cost no path may pay. Sums of allowed costs must stay far below it."""

_MOST_WAYS = 1 << 19
"""So many ways into a state can share one 64-bit number with their cost."""


@dataclass(frozen=True, slots=True)
class Path:
    """One way through: the index of the chosen state in each layer, and what it costs."""

    states: tuple[int, ...]
    total: int
    costs: tuple[tuple[str, int], ...]


def _summed(terms: Costs, shape: tuple[int, ...], what: str) -> npt.NDArray[np.int64]:
    total: npt.NDArray[np.int64] | None = None
    for name, values in terms.items():
        if values.shape != shape:
            raise ValueError(f"{what} {name!r} has shape {values.shape}, not {shape}")
        total = values if total is None else total + values
    return np.zeros(shape, dtype=np.int64) if total is None else total


def k_best_paths(sizes: Sequence[int], local: Sequence[Costs], steps: Sequence[Costs],
                 k: int = 1) -> list[Path]:
    """The k cheapest paths, cheapest first; fewer where fewer are allowed.

    sizes    number of states in each layer, all at least 1
    local    per layer: term -> costs of shape (size,)
    steps    per pair of neighbouring layers: term -> costs of shape (size, next size)

    Raises ValueError where the shapes do not fit together.

    >>> import numpy as np
    >>> [p.states for p in k_best_paths([2, 2], [{"a": np.array([0, 1])}, {}],
    ...                                 [{"b": np.array([[5, 2], [0, 9]])}], k=2)]
    [(1, 0), (0, 1)]
    """
    if not sizes or min(sizes) < 1:
        return []
    if len(local) != len(sizes) or len(steps) != len(sizes) - 1:
        raise ValueError("a lattice needs local costs for every layer and steps between them")
    if k < 1:
        raise ValueError("k must be at least 1")
    if k == 1:
        return _cheapest_path(sizes, local, steps)
    best = _summed(local[0], (sizes[0],), "local cost")[:, None]  # (states, ranks)
    back: list[npt.NDArray[np.int64]] = []
    for layer in range(1, len(sizes)):
        size = sizes[layer]
        step = _summed(steps[layer - 1], (sizes[layer - 1], size), "step cost")
        here = _summed(local[layer], (size,), "local cost")
        reached, chosen = _cheapest(best, step, k)
        best = np.minimum(reached + here[:, None], FORBIDDEN * 4)
        back.append(chosen)  # flat index: state * ranks + rank
    flat = best.reshape(-1)
    order = flat.argsort(kind="stable")
    paths: list[Path] = []
    for place in order[:k]:
        total = int(flat[place])
        if total >= FORBIDDEN // 2:
            break
        states = _trace(back, best.shape[1], int(place))
        paths.append(Path(states, total, _itemise(states, local, steps)))
    return paths


def _cheapest_path(sizes: Sequence[int], local: Sequence[Costs], steps: Sequence[Costs]
                   ) -> list[Path]:
    """The same for one path, which needs no ranks."""
    best = _summed(local[0], (sizes[0],), "local cost")
    back: list[npt.NDArray[np.intp]] = []
    for layer in range(1, len(sizes)):
        size = sizes[layer]
        ways = best[:, None] + _summed(steps[layer - 1], (sizes[layer - 1], size), "step cost")
        chosen = ways.argmin(axis=0)  # the lower of equal ones
        best = ways[chosen, np.arange(size)] + _summed(local[layer], (size,), "local cost")
        back.append(chosen)
    state = int(best.argmin())
    total = int(best[state])
    if total >= FORBIDDEN // 2:
        return []
    states = [state]
    for row in reversed(back):
        states.append(int(row[states[-1]]))
    path = tuple(reversed(states))
    return [Path(path, total, _itemise(path, local, steps))]


def _cheapest(best: npt.NDArray[np.int64], step: npt.NDArray[np.int64], k: int
              ) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """The k cheapest ways into each state: costs and flat predecessors, (states, ranks).

    best   cheapest partial paths so far, (states before, ranks)
    step   (states before, states)
    """
    before, ranks = best.shape
    count = before * ranks
    if count > _MOST_WAYS:
        ways = (step.T[:, :, None] + best[None, :, :]).reshape(step.shape[1], -1)
        order = ways.argsort(axis=1, kind="stable")[:, :k]
        return np.take_along_axis(ways, order, axis=1), order
    # Cost and predecessor share one number, so that ties need no stable (and slower) sort.
    # A predecessor whose own best way is not among the k cheapest has no way among them.
    nearest = np.arange(before)[None, :]
    if before > k:
        firsts = (best[:, 0] + step.T) * before + nearest
        nearest = np.partition(firsts, k - 1, axis=1)[:, :k] % before
    costs = best[nearest] + step[nearest, np.arange(step.shape[1])[:, None]][:, :, None]
    keys = costs * count + (nearest[:, :, None] * ranks + np.arange(ranks))
    keys = keys.reshape(step.shape[1], -1)
    if k < keys.shape[1]:
        keys = np.partition(keys, k - 1, axis=1)[:, :k]
    keys.sort(axis=1)
    reached, chosen = np.divmod(keys, count)
    return reached, chosen


def _trace(back: list[npt.NDArray[np.int64]], ranks: int, place: int) -> tuple[int, ...]:
    state, rank = divmod(place, ranks)
    states = [state]
    for layer in range(len(back) - 1, -1, -1):
        flat = int(back[layer][state, rank])
        before = back[layer - 1].shape[1] if layer > 0 else 1
        state, rank = divmod(flat, before)
        states.append(state)
    return tuple(reversed(states))


def _itemise(states: tuple[int, ...], local: Sequence[Costs], steps: Sequence[Costs]
             ) -> tuple[tuple[str, int], ...]:
    costs: dict[str, int] = {}
    for layer, state in enumerate(states):
        for name, values in local[layer].items():
            costs[name] = costs.get(name, 0) + int(values[state])
        if layer:
            for name, values in steps[layer - 1].items():
                costs[name] = costs.get(name, 0) + int(values[states[layer - 1], state])
    return tuple(sorted(costs.items()))
