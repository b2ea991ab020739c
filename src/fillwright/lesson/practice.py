"""When what is practised comes again, at which tempo, and what makes up a day.

The dates are those of a published scheduler of spaced repetition, FSRS (the package `fsrs` keeps
it up): from how an item went it reckons after how many days nine of ten would still be known.
Its steps of minutes are left out, since a pianist practises once a day, and so is its chance, so
that the same ratings give the same dates.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from fsrs import Card, Rating, Scheduler

from fillwright.errors import InputError
from fillwright.lesson.students import LEAST_TEMPO, RATINGS, Item, Review
from fillwright.theory.key import Key
from fillwright.theory.pitch import NoteName

__all__ = ["FOURTHS", "Practice", "Share", "known_share", "minutes_done", "mixed_day",
           "progress_rows", "rated"]

FOURTHS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
"""The keys of the picture, in the order in which they are practised (common practice)."""

NEW_MINUTES, KNOWN_MINUTES = 4, 2
"""What an item takes: one that is new, and one that comes again (design choice)."""
MOST_NEW_SHARE = 3
"""One item of so many is new, one at least, where there is time beside what is due."""
LEAST_FOR_NEW = 12
"""From so many minutes on, one new thing comes in whatever is due."""
_EARLY = timedelta(hours=12)
"""An item that is due later on the same day is due."""

_FAILED_SHARE = 0.5
"""Of what did not go the last time (design choice)."""

_STEPS = {"again": (9, 10), "hard": (1, 1), "good": (21, 20), "easy": (11, 10)}
"""What a rating does to the tempo, as a fraction (design choice: a twentieth is just noticed)."""


def _scheduler() -> Scheduler:
    return Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)


def rated(item: Item, card: str | None, rating: str, at: datetime) -> tuple[str, datetime, float,
                                                                            int]:
    """The card after an item went so or so, when it comes again, its stability in days, and the
    tempo from now on.

    card   as it was given here the last time; None: the first time

    Raises InputError for a word that is no rating.
    """
    if rating not in RATINGS:
        raise InputError(f"{rating!r} is no rating; there are {', '.join(RATINGS)}")
    at = at.astimezone(UTC)
    before = Card(card_id=item.number, due=at) if card is None else Card.from_dict(
        json.loads(card))
    after, _ = _scheduler().review_card(before, Rating(RATINGS.index(rating) + 1), at)
    assert after.stability is not None
    return json.dumps(after.to_dict()), after.due, after.stability, next_tempo(item, rating)


def next_tempo(item: Item, rating: str) -> int:
    """A little faster where it went well, slower where it did not, up to the tempo aimed at."""
    up, down = _STEPS[rating]
    moved = round(item.now_tempo * up / down)
    if rating in ("good", "easy"):
        moved = max(moved, item.now_tempo + 1)
    return max(min(moved, item.tempo), LEAST_TEMPO)


def known_share(card: str | None, last_rating: str | None, at: datetime) -> float | None:
    """How likely an item is still known, 0 to 1; None where it was never practised.

    last_rating   how it went the last time: the scheduler takes what was rated "again" as known
                  from then on, which nobody does who has just failed at it
    """
    if card is None:
        return None
    value: dict[str, Any] = json.loads(card)
    known = _scheduler().get_card_retrievability(Card.from_dict(value),  # type: ignore[arg-type]
                                                 at.astimezone(UTC))
    return min(known, _FAILED_SHARE) if last_rating == "again" else known


@dataclass(frozen=True, slots=True)
class Practice:
    """One thing of a day: what, how fast, how long, and why today: for how many days it has been
    due, and how likely it is still known, both None where it is new."""

    item: Item
    tempo: int
    minutes: int
    days_late: int | None = None
    known: float | None = None

    @property
    def why(self) -> str:
        if self.days_late is None or self.known is None:
            return "new"
        days = self.days_late
        late = f"due for {days} day{'' if days == 1 else 's'}" if days else "due today"
        return f"{late}, known to about {round(100 * self.known)} in 100"


@dataclass(frozen=True, slots=True)
class Share:
    """An item with how likely it is still known; None where it was never practised. What did not
    go the last time is known to a half at most, however fresh it is."""

    item: Item
    known: float | None


def mixed_day(shares: Sequence[Share], minutes: int, at: datetime) -> tuple[Practice, ...]:
    """What to practise today, in so many minutes at most: what is due, the least known first,
    then something new, mixed so that neighbours differ."""
    at = at.astimezone(UTC)
    due = sorted((one for one in shares if one.item.due is not None
                  and one.item.due <= at + _EARLY),
                 key=lambda one: (one.known or 0.0, one.item.number))
    new = _in_turn([one for one in shares if one.item.due is None])
    chosen: list[Practice] = []
    left = minutes
    wanted_new = max((minutes // KNOWN_MINUTES) // MOST_NEW_SHARE, 1) if new else 0
    kept_free = NEW_MINUTES if new and minutes >= LEAST_FOR_NEW else 0
    for one in due:
        if left - kept_free >= KNOWN_MINUTES:
            chosen.append(Practice(one.item, one.item.now_tempo, KNOWN_MINUTES,
                                   _days_late(one, at), one.known))
            left -= KNOWN_MINUTES
    for one in new:
        if left >= NEW_MINUTES and (wanted_new > 0 or not due):
            chosen.append(Practice(one.item, one.item.now_tempo, NEW_MINUTES))
            left, wanted_new = left - NEW_MINUTES, wanted_new - 1
    return tuple(_mixed(chosen))


def _in_turn(shares: Sequence[Share]) -> list[Share]:
    """The same, one of each device and of each tune in turn, so that a day of new things has
    several."""
    turns: Counter[str] = Counter()
    rows = []
    for one in shares:
        what = one.item.device or one.item.tune
        rows.append((turns[what], one))
        turns[what] += 1
    return [one for _, one in sorted(rows, key=lambda row: row[0])]


def minutes_done(reviews: Iterable[Review], at: datetime) -> int:
    """What was practised on the day of `at`, where the computer is; `reviews` in order of time."""
    minutes = 0
    seen: set[int] = set()
    for one in reviews:
        if one.at.astimezone().date() == at.astimezone().date():
            minutes += KNOWN_MINUTES if one.number in seen else NEW_MINUTES
        seen.add(one.number)
    return minutes


def _days_late(one: Share, at: datetime) -> int:
    assert one.item.due is not None
    return max((at.date() - one.item.due.astimezone(UTC).date()).days, 0)


def _mixed(chosen: Iterable[Practice]) -> list[Practice]:
    """The same things, each followed by one of another device or tune, in another key, as far
    as there is one; else in their order."""
    waiting = list(chosen)
    row: list[Practice] = []
    while waiting:
        place = 0
        if row:
            place = min(range(len(waiting)), key=lambda i: (_alike(row[-1], waiting[i]), i))
        row.append(waiting.pop(place))
    return row


def _alike(one: Practice, other: Practice) -> int:
    a, b = one.item, other.item
    return 2 * ((a.device, a.tune) == (b.device, b.tune)) + (a.key == b.key)


def progress_rows(shares: Iterable[Share]) -> list[tuple[str, tuple[int | None, ...]]]:
    """What is known in which key: for each device (and each tune) a row over `FOURTHS` of how
    likely it is still known, in hundredths; 0 where it is given and was never practised, None
    where it is not given. Items in a tune's own key stand in no column and are left out."""
    rows: dict[str, list[int | None]] = {}
    for one in shares:
        if not one.item.key:
            continue
        tonic = Key.parse(one.item.key).tonic.pitch_class
        column = next(i for i, name in enumerate(FOURTHS)
                      if NoteName.parse(name).pitch_class == tonic)
        row = rows.setdefault(one.item.device or one.item.tune, [None] * len(FOURTHS))
        known = round(100 * (one.known or 0.0))
        row[column] = max(known, row[column] or 0)
    return [(name, tuple(row)) for name, row in sorted(rows.items())]
