"""The lattice against brute force on small cases and a general graph library on larger ones."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, pairwise, product

import networkx  # type: ignore[import-untyped]
import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright import lattice
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths

Lattice = tuple[list[int], list[Costs], list[Costs]]


def table(draw: st.DrawFn, shape: tuple[int, ...], cost: st.SearchStrategy[int]
          ) -> npt.NDArray[np.int64]:
    count = int(np.prod(shape))
    values = draw(st.lists(cost, min_size=count, max_size=count))
    return np.array(values, dtype=np.int64).reshape(shape)


@st.composite
def lattices(draw: st.DrawFn) -> Lattice:
    sizes = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    # Few different costs, so that ties are common; some states and steps closed.
    cost = st.one_of(st.integers(-3, 4), st.just(FORBIDDEN))
    terms = draw(st.sampled_from([(), ("a",), ("a", "b")]))
    local: list[Costs] = [{term: table(draw, (size,), cost) for term in terms}
                          for size in sizes]
    steps: list[Costs] = [{term: table(draw, pair, cost) for term in ("b", "c")}
                          for pair in pairwise(sizes)]
    return sizes, local, steps


def priced(states: tuple[int, ...], local: list[Costs], steps: list[Costs]) -> dict[str, int]:
    costs: dict[str, int] = {}
    for layer, state in enumerate(states):
        paid = [(term, values[state]) for term, values in local[layer].items()]
        if layer:
            paid += [(term, values[states[layer - 1], state])
                     for term, values in steps[layer - 1].items()]
        for term, cost in paid:
            costs[term] = costs.get(term, 0) + int(cost)
    return costs


def brute_force(sizes: list[int], local: list[Costs], steps: list[Costs]
                ) -> list[tuple[int, tuple[int, ...]]]:
    """(total, states) of every allowed path, cheapest first, ties by the last state, then by
    the state before it, and so on."""
    paths = [(sum(priced(states, local, steps).values()), states)
             for states in product(*map(range, sizes))]
    allowed = [(total, states) for total, states in paths if total < FORBIDDEN // 2]
    return sorted(allowed, key=lambda path: (path[0], path[1][::-1]))


@settings(max_examples=100, deadline=None)
@given(lattices(), st.integers(1, 9))
def test_equals_brute_force(case: Lattice, k: int) -> None:
    found = k_best_paths(*case, k=k)
    wanted = brute_force(*case)
    assert [path.total for path in found] == [total for total, _ in wanted[:k]]
    assert len({path.states for path in found}) == len(found)
    for path in found:
        assert (path.total, path.states) in wanted
        assert sum(cost for _, cost in path.costs) == path.total
        assert dict(path.costs) == priced(path.states, *case[1:])


@settings(max_examples=60, deadline=None)
@given(lattices())
def test_ties_break_by_the_lower_predecessor(case: Lattice) -> None:
    found = k_best_paths(*case)
    if found:
        assert found[0].states == brute_force(*case)[0][1]


@settings(max_examples=60, deadline=None)
@given(lattices(), st.integers(2, 6))
def test_more_paths_begin_with_fewer(case: Lattice, k: int) -> None:
    assert k_best_paths(*case, k=k)[:1] == k_best_paths(*case, k=1)
    assert k_best_paths(*case, k=k + 3)[:k] == k_best_paths(*case, k=k)


def random_lattice(seed: int, sizes: list[int], top: int) -> Lattice:
    random = np.random.default_rng(seed)
    local: list[Costs] = [{"a": random.integers(0, top, size)} for size in sizes]
    steps: list[Costs] = []
    for pair in pairwise(sizes):
        step = random.integers(0, top, pair)
        step[random.random(pair) < 0.2] = FORBIDDEN
        steps.append({"b": step, "c": random.integers(0, top, pair)})
    return sizes, local, steps


def as_graph(sizes: list[int], local: list[Costs], steps: list[Costs]) -> networkx.DiGraph:
    """The same lattice as a weighted graph from "start" to "end"."""
    graph = networkx.DiGraph()
    for state in range(sizes[0]):
        graph.add_edge("start", (0, state), weight=int(local[0]["a"][state]))
    for layer, step in enumerate(steps):
        total = sum(step.values()) + local[layer + 1]["a"][None, :]
        for before, after in np.argwhere(total < FORBIDDEN):
            graph.add_edge((layer, int(before)), (layer + 1, int(after)),
                           weight=int(total[before, after]))
    for state in range(sizes[-1]):
        graph.add_edge((len(sizes) - 1, state), "end", weight=0)
    return graph


def graph_paths(graph: networkx.DiGraph) -> Iterator[tuple[int, tuple[int, ...]]]:
    for nodes in networkx.shortest_simple_paths(graph, "start", "end", weight="weight"):
        yield (networkx.path_weight(graph, nodes, "weight"),
               tuple(state for _, state in nodes[1:-1]))


# networkx.shortest_simple_paths is Yen's algorithm: J. Y. Yen, "Finding the K shortest
# loopless paths in a network", Management Science 17(11), 1971.
@pytest.mark.parametrize("seed", range(4))
def test_equals_networkx(seed: int) -> None:
    case = random_lattice(seed, [8, 12, 5, 10, 9, 12], 60)
    found = k_best_paths(*case, k=12)
    wanted = list(islice(graph_paths(as_graph(*case)), 30))
    assert [path.total for path in found] == [total for total, _ in wanted[:12]]
    assert {(path.total, path.states) for path in found} <= set(wanted)


def test_equals_networkx_on_a_wide_lattice() -> None:
    case = random_lattice(11, [40] * 12, 10_000)
    best, = k_best_paths(*case)
    graph = as_graph(*case)
    assert best.total == networkx.shortest_path_length(graph, "start", "end", weight="weight")


def test_many_ways_into_a_state_fall_back_to_a_plain_sort(monkeypatch: pytest.MonkeyPatch
                                                           ) -> None:
    case = random_lattice(5, [9, 7, 9], 4)
    wanted = k_best_paths(*case, k=20)
    monkeypatch.setattr(lattice, "_MOST_WAYS", 4)
    assert k_best_paths(*case, k=20) == wanted


def test_a_closed_lattice_has_no_paths() -> None:
    closed = {"shut": np.array([FORBIDDEN, FORBIDDEN])}
    assert k_best_paths([2, 1], [closed, {}], [{}], k=3) == []
    assert k_best_paths([1, 1, 1], [{}, {}, {}], [{"a": np.array([[FORBIDDEN]])}, {}]) == []


def test_a_forbidden_state_is_never_bought_off() -> None:
    local: list[Costs] = [{"a": np.array([FORBIDDEN, 0])}, {"a": np.array([-1000, 5])}]
    steps: list[Costs] = [{"b": np.array([[-1000, 0], [FORBIDDEN, 7]])}]
    assert [path.states for path in k_best_paths([2, 2], local, steps, k=4)] == [(1, 1)]


def test_no_layers_and_empty_layers_have_no_paths() -> None:
    assert k_best_paths([], [], []) == []
    assert k_best_paths([2, 0], [{}, {}], [{}]) == []


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="local costs for every layer"):
        k_best_paths([1, 1], [{}], [{}])
    with pytest.raises(ValueError, match="step cost 'b' has shape"):
        k_best_paths([1, 2], [{}, {}], [{"b": np.zeros((2, 1), dtype=np.int64)}])
    with pytest.raises(ValueError, match="at least 1"):
        k_best_paths([1], [{}], [], k=0)


def test_costs_are_not_changed_by_the_search() -> None:
    case = random_lattice(3, [4, 4, 4], 9)
    before = [{term: values.copy() for term, values in costs.items()} for costs in case[2]]
    k_best_paths(*case, k=5)
    for costs, kept in zip(case[2], before, strict=True):
        for term, values in costs.items():
            assert (values == kept[term]).all()
