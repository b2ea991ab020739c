"""The lattice against a general graph library on the same problem, in the same run.

Prints the time of `k_best_paths` for the best path, that of networkx's single-source
Dijkstra on the same lattice as a graph, and their ratio; then the cost of asking for more
paths. Building the graph is not counted.

    python -m bench.bench_lattice
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from time import perf_counter

import networkx  # type: ignore[import-untyped]
import numpy as np

from fillwright.lattice import Costs, k_best_paths

LAYERS = 12
REPEATS = 5


def random_lattice(width: int) -> tuple[list[int], list[Costs], list[Costs]]:
    random = np.random.default_rng(width)
    local: list[Costs] = [{"a": random.integers(0, 100, width)} for _ in range(LAYERS)]
    steps: list[Costs] = [{"b": random.integers(0, 100, (width, width)),
                           "c": random.integers(0, 100, (width, width))}
                          for _ in range(LAYERS - 1)]
    return [width] * LAYERS, local, steps


def as_graph(sizes: list[int], local: list[Costs], steps: list[Costs]) -> networkx.DiGraph:
    graph = networkx.DiGraph()
    for state, cost in enumerate(local[0]["a"].tolist()):
        graph.add_edge("start", (0, state), weight=cost)
    for layer, step in enumerate(steps):
        total = step["b"] + step["c"] + local[layer + 1]["a"][None, :]
        for before, row in enumerate(total.tolist()):
            for after, cost in enumerate(row):
                graph.add_edge((layer, before), (layer + 1, after), weight=cost)
    for state in range(sizes[-1]):
        graph.add_edge((len(sizes) - 1, state), "end", weight=0)
    return graph


def best_of(run: Callable[[], object]) -> float:
    """The shortest of a few runs, in seconds."""
    times = []
    for _ in range(REPEATS):
        start = perf_counter()
        run()
        times.append(perf_counter() - start)
    return min(times)


def main() -> None:
    print("states  lattice ms  networkx ms  ratio  lattice k=16 ms")
    for width in (10, 25, 50, 100, 200):
        sizes, local, steps = random_lattice(width)
        graph = as_graph(sizes, local, steps)
        path = k_best_paths(sizes, local, steps)[0]
        length = networkx.single_source_dijkstra(graph, "start", "end")[0]
        if path.total != length:
            raise SystemExit(f"not the same answer: {path.total} and {length}")
        ours = best_of(partial(k_best_paths, sizes, local, steps))
        theirs = best_of(partial(networkx.single_source_dijkstra, graph, "start", "end"))
        many = best_of(partial(k_best_paths, sizes, local, steps, 16))
        print(f"{width:6d} {1e3 * ours:11.3f} {1e3 * theirs:12.3f} {theirs / ours:6.0f}"
              f" {1e3 * many:16.3f}")


if __name__ == "__main__":
    main()
