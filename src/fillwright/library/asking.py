"""What may be asked of the library, and the clear sentence for all else."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from math import isfinite

from fillwright.errors import InputError
from fillwright.fills.asked import family_of
from fillwright.fills.devices.registry import devices_in, known_devices
from fillwright.fills.player import hand_of, level_of
from fillwright.given import given_whole
from fillwright.library.model import PLACES
from fillwright.library.numerals import degree_semitones, row_pattern
from fillwright.library.working import FAMILY_OF
from fillwright.theory.key import Key

__all__ = ["SORTS", "WAYS", "Question", "Span", "span_of", "table_names"]

SORTS = ("easiest", "best", "longest", "shelf")
"""easiest: by difficulty; best: where the device stands first among the options of its family, or,
without a device, where most devices are offered; longest: by beats; shelf: tune by tune."""

WAYS = {"same": (0, 0), "step up": (1, 2), "step down": (-2, -1), "leap up": (3, 99),
        "leap down": (-99, -3)}
"""Ways from the held note to the landing, in semitones."""

MOST = 10_000
"""Gaps that are listed at most."""

Span = tuple[float | None, float | None]
"""From and to, both included; None for no limit."""

_NUMBER = r"\d{1,6}(?:\.\d{1,6})?"
_SPAN = re.compile(rf"({_NUMBER})?(\.\.)?({_NUMBER})?")


def span_of(text: str) -> Span:
    """A stretch of numbers: ``"3.."``, ``"..140"``, ``"3..4.5"``, or one number. Raises
    InputError.

    >>> span_of("3.."), span_of("..140"), span_of("4")
    ((3.0, None), (None, 140.0), (4.0, 4.0))
    """
    match = _SPAN.fullmatch(text.replace(" ", ""))
    if match is None or (match[1] is None and match[3] is None) or (
            match[2] is None and match[3] is not None):
        raise InputError(f"{text!r} is no stretch of numbers; write 3.. for 3 or more, ..140 for "
                         "140 at most, 3..6, or one number")
    low = None if match[1] is None else float(match[1])
    high = low if match[2] is None else None if match[3] is None else float(match[3])
    if low is not None and high is not None and low > high:
        raise InputError(f"{text!r} goes from more to less")
    return low, high


@dataclass(frozen=True)
class Question:
    """Conditions that all hold, as text where they are musical. Raises InputError for one that
    is none, with the nearest that is.

    beats, seconds, tempo   stretches; tempo in felt beats a minute
    over      chords by function that stand next to each other in the gap: ``"IIm7 V7"``
    into      the landing's chord by function
    holding   the degree that is held over the chord at the gap's onset: ``"5"``, ``"b9"``
    landing   one of `WAYS`; place: one of `PLACES`
    key       of the tune: ``"F"``, ``"Gm"``; without a mode, major
    title     a text inside the title, in any case
    device, family   offered to the player (level, hand), at most as hard as `max_difficulty`
    may       the device may be used there: also where nothing was worked out
    copies    the same music in other files and keys as well
    """

    beats: Span | None = None
    seconds: Span | None = None
    tempo: Span | None = None
    over: str = ""
    into: str = ""
    holding: str = ""
    landing: str = ""
    place: str = ""
    key: str = ""
    meter: str = ""
    title: str = ""
    device: str = ""
    family: str = ""
    level: str = "intermediate"
    hand: str = "medium"
    max_difficulty: int | None = None
    may: bool = False
    copies: bool = False
    sort: str = "easiest"
    count: int = 20

    def __post_init__(self) -> None:
        level_of(self.level)
        hand_of(self.hand)
        if self.family:
            family_of(self.family)
        for value, known, what in ((self.place, PLACES, "place in the form"),
                                   (self.landing, tuple(WAYS), "way to the landing"),
                                   (self.sort, SORTS, "order")):
            if value and value not in known:
                raise InputError(_none(value, known, what))
        for name in ("beats", "seconds", "tempo"):
            _check_span(getattr(self, name), name)
        given_whole(self.count, "count", 1, MOST)
        if self.max_difficulty is not None:
            given_whole(self.max_difficulty, "the greatest difficulty", 0, 1000)
        for pattern in (self.over, self.into):
            if pattern:
                row_pattern(pattern)
        if self.holding:
            degree_semitones(self.holding)
        if self.key:
            self.wanted_key  # noqa: B018  (it checks)
        if self.device:
            self.wanted_device  # noqa: B018
        if self.may and not self.device:
            raise InputError("where it may be used is asked of a device; name one")

    @cached_property
    def wanted_key(self) -> Key:
        return Key.parse(self.key)

    @cached_property
    def wanted_device(self) -> tuple[str, str]:
        """Family and name in the tables."""
        [name] = known_devices((self.device,))
        for family in ("comp", "reharm", "line"):
            for one in devices_in(name, family):
                if FAMILY_OF.get(one) == family:
                    return family, one
        raise InputError(f"{self.device!r} is no device")

    @property
    def asks_for_offers(self) -> bool:
        """Whether something is asked that has to be worked out for a player."""
        return bool(self.device or self.family or self.max_difficulty is not None) and not self.may


def table_names(names: Iterable[str]) -> list[str]:
    """Devices as they stand in the tables. Raises InputError for one that is none, with those
    that come near."""
    return [Question(device=name).wanted_device[1] for name in names]


def _check_span(span: object, name: str) -> None:
    if span is None:
        return
    if not isinstance(span, tuple) or len(span) != 2 or not all(
            one is None or (isinstance(one, int | float) and not isinstance(one, bool)
                            and isfinite(one)) for one in span):
        raise InputError(f"{name} is a stretch from a number to a number, None for no limit, not "
                         f"{span!r}")


def _none(value: str, known: tuple[str, ...], what: str) -> str:
    near = get_close_matches(value, known, n=1, cutoff=0.4)
    hint = f"the nearest is {near[0]!r}; " if near else ""
    return f"{value!r} is no {what}; {hint}there are " + ", ".join(known)
