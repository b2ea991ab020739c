"""In which order tunes teach: each brings something new and not too much, and says so.

A *lesson* here is a tune, or a gap of one, with the devices it offers and how hard each is there.
What a student knows is a list of names. All is reckoned from these plain values; the library
reads them off its tables (`shelf.Library.lessons`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

__all__ = ["Brings", "Cover", "Lesson", "Offered", "Step", "order_lessons", "smallest_cover",
           "still_to_teach"]

NEW_EACH = 2
"""New devices a lesson brings at most (common practice: one thing at a time, and its answer)."""
EASY_STEP = 6
"""Points of difficulty that the next new thing may be harder than all before and still be no leap
(design choice: a level spans about forty)."""


@dataclass(frozen=True, slots=True)
class Offered:
    """A device in a lesson: how hard its easiest place there is, and where that is."""

    difficulty: int
    family: str = ""
    bar: str = ""
    gap: int = 0


@dataclass(frozen=True, slots=True)
class Lesson:
    """A tune or a gap.

    name      what it is called; `key` tells it from all others
    devices   name of a device: where it is easiest here
    """

    key: str
    name: str
    devices: Mapping[str, Offered]


@dataclass(frozen=True, slots=True)
class Brings:
    """A device that a lesson brings, with its place there."""

    device: str
    offered: Offered


@dataclass(frozen=True, slots=True)
class Step:
    """A lesson in an order.

    new      what it brings, the easiest first
    again    how many devices that are known by then come again in it
    harder   by how much its hardest new device is harder than all before; 0 where it is not
    reason   the same as a sentence
    """

    lesson: Lesson
    new: tuple[Brings, ...]
    again: int
    harder: int
    reason: str


def order_lessons(lessons: Iterable[Lesson], known: Collection[str] = (), *,
                  new_each: int = NEW_EACH, most: int | None = None) -> tuple[Step, ...]:
    """An order in which each lesson, which comes once, brings between one and `new_each` devices
    that are new, the easiest it has, and lets as many known ones come again as can be; until
    nothing is new any more or there are `most`. What would be a leap comes alone, and last.
    """
    left = sorted(lessons, key=lambda lesson: lesson.key)
    met = set(known)
    reached = _reached(left, met)
    steps: list[Step] = []
    while left and (most is None or len(steps) < most):
        ranked = [(_rank(lesson, met, reached, new_each), place)
                  for place, lesson in enumerate(left) if set(lesson.devices) - met]
        if not ranked:
            break
        lesson = left.pop(min(ranked)[1])
        new = _bring(lesson, met, reached, new_each)
        again = len(set(lesson.devices) & met)
        hardest = max(one.offered.difficulty for one in new)
        harder = max(hardest - reached, 0) if steps or known else 0
        steps.append(Step(lesson, new, again, harder, _reason(new, again, harder)))
        met |= {one.device for one in new}
        reached = max(reached, hardest)
    return tuple(steps)


def _reached(lessons: Iterable[Lesson], known: Collection[str]) -> int:
    """How hard the hardest known device is where it is easiest: so far the student has come."""
    easiest: dict[str, int] = {}
    for lesson in lessons:
        for device, offered in lesson.devices.items():
            if device in known:
                easiest[device] = min(easiest.get(device, offered.difficulty), offered.difficulty)
    return max(easiest.values(), default=0)


def _new(lesson: Lesson, known: Collection[str]) -> tuple[Brings, ...]:
    return tuple(Brings(device, offered) for device, offered in sorted(
        lesson.devices.items(), key=lambda one: (one[1].difficulty, one[0]))
        if device not in known)


def _bring(lesson: Lesson, known: Collection[str], reached: int, new_each: int
           ) -> tuple[Brings, ...]:
    """The easiest new thing, and others that are no leap beyond it and what was reached."""
    first, *others = _new(lesson, known)
    limit = max(reached, first.offered.difficulty) + EASY_STEP
    return (first, *[one for one in others[:new_each - 1] if one.offered.difficulty <= limit])


def _rank(lesson: Lesson, known: set[str], reached: int, new_each: int
          ) -> tuple[int, int, int, str]:
    """How far the new things leap beyond what an easy step is; how hard they are; how little of
    what is known comes again."""
    new = _bring(lesson, known, reached, new_each)
    hardest = max(one.offered.difficulty for one in new)
    again = len(set(lesson.devices) & known)
    return max(hardest - reached - EASY_STEP, 0), hardest, -again, lesson.key


def _reason(new: Sequence[Brings], again: int, harder: int) -> str:
    places = [f"{one.device} (bar {one.offered.bar}, difficulty {one.offered.difficulty})"
              if one.offered.bar else f"{one.device} (difficulty {one.offered.difficulty})"
              for one in new]
    said = f"New: {' and '.join(places)}; "
    said += {0: "nothing of what is known comes again", 1: "one known device comes again"}.get(
        again, f"{again} known devices come again")
    if harder > EASY_STEP:
        return f"{said}; {harder} points harder than all before, a leap."
    how = f"{harder} points harder than before" if harder else "no harder than before"
    return f"{said}; {how}."


def still_to_teach(lesson: Lesson, known: Collection[str]) -> tuple[Brings, ...]:
    """What a lesson has that is not known, the easiest first."""
    return _new(lesson, frozenset(known))


@dataclass(frozen=True, slots=True)
class Cover:
    """Lessons that show every device there is among some lessons.

    exact    no smaller set does; else it is the best that was found in the work allowed
    devices  how many devices there are
    """

    lessons: tuple[Lesson, ...]
    exact: bool
    devices: int


_WORK = 200_000
"""Steps of the exact search; a shelf that asks for more gets the best that was found."""


def smallest_cover(lessons: Iterable[Lesson], work: int = _WORK) -> Cover:
    """The fewest lessons that together show every device that any of them shows.

    The greedy choice first (within ln n of the best: Chvatal 1979, from memory), then a search
    that branches over who shows the rarest device and never looks where as many are needed as
    the best has.
    """
    every = sorted(lessons, key=lambda lesson: lesson.key)
    names = sorted({device for lesson in every for device in lesson.devices})
    bit = {name: 1 << place for place, name in enumerate(names)}
    shows = {place: sum(bit[name] for name in lesson.devices)
             for place, lesson in enumerate(every)}
    useful = _not_within_another(shows)
    best = _greedy(useful, (1 << len(names)) - 1)
    search = _Exact(useful, best, work)
    search.look((1 << len(names)) - 1, [])
    chosen = tuple(every[place] for place in sorted(search.best))
    return Cover(chosen, search.work > 0, len(names))


def _not_within_another(shows: Mapping[int, int]) -> dict[int, int]:
    """Without those whose devices another shows as well: it can stand in their place."""
    found: dict[int, int] = {}
    for place, mask in sorted(shows.items(), key=lambda one: (-one[1].bit_count(), one[0])):
        if mask and not any(mask | other == other for other in found.values()):
            found[place] = mask
    return found


def _greedy(shows: Mapping[int, int], wanted: int) -> list[int]:
    chosen: list[int] = []
    while wanted:
        place = max(shows, key=lambda one: ((shows[one] & wanted).bit_count(), -one))
        chosen.append(place)
        wanted &= ~shows[place]
    return chosen


class _Exact:
    """The search for fewer lessons than the best so far; `work` is what is left of it."""

    def __init__(self, shows: Mapping[int, int], best: list[int], work: int) -> None:
        self.shows, self.best, self.work = shows, best, work
        self.who: dict[int, list[int]] = {}
        for place, mask in shows.items():
            while mask:
                low = mask & -mask
                self.who.setdefault(low, []).append(place)
                mask ^= low

    def look(self, wanted: int, chosen: list[int]) -> None:
        """Try to show what is still wanted with fewer than the best has."""
        if not wanted:
            self.best = list(chosen)
            return
        self.work -= 1
        if self.work <= 0:
            return
        most = max((mask & wanted).bit_count() for mask in self.shows.values())
        if len(chosen) + -(-wanted.bit_count() // most) >= len(self.best):
            return
        rarest = min((low for low in self.who if low & wanted),
                     key=lambda low: (len(self.who[low]), low))
        for place in sorted(self.who[rarest],
                            key=lambda one: (-(self.shows[one] & wanted).bit_count(), one)):
            self.look(wanted & ~self.shows[place], [*chosen, place])
