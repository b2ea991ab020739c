"""Answers that are kept while they fit into so many bytes.

What is worth remembering over a whole chorus is kept in a few stores, each with a limit in
bytes that all its functions share; what was not asked for longest goes first. A function whose
arguments and answers are a few small numbers may use `functools.lru_cache`; everything larger
is kept here, so that a process that reads many tunes does not grow with them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from functools import update_wrapper
from itertools import islice
from types import MappingProxyType
from typing import Any, Generic, ParamSpec, TypeVar

__all__ = ["FINGERS", "OFFERS", "SEARCHES", "VOICINGS", "Remembered", "AnswerStore", "forget_all",
           "weight_of"]

P = ParamSpec("P")
R = TypeVar("R")

_ENTRY_BYTES = 300
"""A place in a dictionary with a key of some small values (measured, rounded up)."""
_KNOWN_LEAF = (int, float, str, bool, type(None))
_SAMPLE = 4
_WEIGHED_ALL, _WEIGHED_EACH = 8, 32
_MEGABYTE = 1 << 20


def weight_of(value: object, inside: bool = False) -> int:
    """About how many bytes a value holds, estimated in constant time: of a long row a few items
    speak for all, and a value inside another one, such as the chord of a voicing, is taken to
    be shared.

    >>> weight_of(1), weight_of((1, 2, 3))
    (32, 176)
    """
    if isinstance(value, _KNOWN_LEAF):
        return 32
    if isinstance(value, (tuple, list)):
        return 56 + 8 * len(value) + _row_weight(value, inside)
    if isinstance(value, (frozenset, set)):
        return (216 + 40 * len(value)
                + _row_weight(tuple(islice(value, _SAMPLE)), inside, len(value)))
    if isinstance(value, (dict, MappingProxyType)):
        return (232 + 104 * len(value)
                + _row_weight(tuple(islice(value.items(), _SAMPLE)), inside, len(value)))
    size = getattr(value, "nbytes", None)
    if size is not None:  # an array
        return 128 + int(size)
    names = () if inside else getattr(type(value), "__dataclass_fields__", ())
    if names:
        return 48 + sum([8 + weight_of(getattr(value, name, None), inside=True)
                         for name in names])
    return 64


def _row_weight(row: Sequence[object], inside: bool, count: int | None = None) -> int:
    """The items of a row together; the first and others at even distances speak for the rest."""
    count = len(row) if count is None else count
    if not row:
        return 0
    heard = row if len(row) <= _SAMPLE else row[::len(row) // _SAMPLE][:_SAMPLE]
    return sum([weight_of(item, inside) for item in heard]) * count // len(heard)


class AnswerStore:
    """Functions whose answers share one limit in bytes.

    Answers are kept in two generations: when the young ones weigh half the limit, they become
    the old ones, and the old ones that were not asked for again are forgotten.
    """

    def __init__(self, limit_bytes: int) -> None:
        self.limit_bytes = limit_bytes
        self.young_bytes = 0
        self._functions: list[Remembered[Any, Any]] = []
        _STORES.append(self)

    def keep(self, function: Callable[P, R]) -> Remembered[P, R]:
        """A decorator: like `functools.lru_cache`, for positional and keyword arguments."""
        kept = Remembered(self, function)
        self._functions.append(kept)
        return kept

    def add(self, weight: int) -> None:
        """Count what was put in, and forget where it becomes too much."""
        self.young_bytes += weight
        if 2 * self.young_bytes > self.limit_bytes:
            self.young_bytes = 0
            for kept in self._functions:
                kept.grow_old()

    def forget(self) -> None:
        self.young_bytes = 0
        for kept in self._functions:
            kept.cache_clear()


class Remembered(Generic[P, R]):
    """A function with its kept answers."""

    def __init__(self, store: AnswerStore, function: Callable[P, R]) -> None:
        self._store, self._function = store, function
        self._young: dict[Hashable, tuple[R, int]] = {}
        self._old: dict[Hashable, tuple[R, int]] = {}
        self._answered = self._weighed = self._weighed_bytes = 0
        update_wrapper(self, function)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        key: Hashable = (args, tuple(kwargs.items())) if kwargs else args
        found = self._young.get(key)
        if found is not None:
            return found[0]
        found = self._old.pop(key, None)
        if found is None:
            answer = self._function(*args, **kwargs)
            found = answer, self._weigh(answer)
        self._young[key] = found
        self._store.add(found[1])
        return found[0]

    def _weigh(self, answer: R) -> int:
        """Weighing costs as much as many a small answer: the first answers are weighed, then one of
        32, and each is taken to be as heavy as those were on average."""
        if self._answered < _WEIGHED_ALL or self._answered % _WEIGHED_EACH == 0:
            self._weighed += 1
            self._weighed_bytes += _ENTRY_BYTES + weight_of(answer)
        self._answered += 1
        return self._weighed_bytes // self._weighed

    def grow_old(self) -> None:
        self._old, self._young = self._young, {}

    def cache_clear(self) -> None:
        self._old, self._young = {}, {}


_STORES: list[AnswerStore] = []

FINGERS = AnswerStore(24 * _MEGABYTE)
"""What hands can do: fingerings, reaches, difficulty."""
VOICINGS = AnswerStore(40 * _MEGABYTE)
"""Voicings and forms of chords, for a player."""
SEARCHES = AnswerStore(96 * _MEGABYTE)
"""Parts of a family's search."""
OFFERS = AnswerStore(8 * _MEGABYTE)
"""The fills of a situation set to a player: a sheet in which one chord is corrected is heard
alike in most of its gaps, and so is a chorus that is proposed for again."""


def forget_all() -> None:
    """Empty every store, as in a new process."""
    for store in _STORES:
        store.forget()
