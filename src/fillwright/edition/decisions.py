"""What a teacher has decided about a tune: settings, corrected chords, choices.

Decisions are plain JSON, so that they can be kept for years; `Decisions.read` checks them.
Chord corrections are written in the key of the sheet, wherever the tune has been moved since.
What a newer program wrote and this one does not know is kept, ignored, and written again.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from fillwright.arranging.model import Chosen, Options, weights_of
from fillwright.edition.picks import Pick, read_pick
from fillwright.edition.rest import read_rest, rest_value
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.devices.registry import known_devices
from fillwright.fills.model import FAMILIES
from fillwright.hands.model import HAND_SIZES, LEVELS
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.key import Key
from fillwright.tune.model import FEELS

__all__ = ["ChordChange", "Decisions", "Pick", "chord_change", "part_name",
           "read_pick"]

_DEVICE = re.compile(r"[^\x00-\x1f]{1,120}")
_SETTINGS = frozenset({"level", "hand", "tempo", "feel", "octave", "key", "without", "choruses",
                       "introduction", "ending", "mix", "part", "same_each_time"})
_EVEN = dict.fromkeys(FAMILIES, 1)
_KEEPING = frozenset({"key", "without"})
"""Settings under which the program's choices stay, where they still exist; for all others it
chooses anew."""
MAX_LIST = 2000
"""Entries of a list."""
MAX_UNKNOWN = 100
"""Settings of a newer program that are kept."""


@dataclass(frozen=True, slots=True, order=True)
class ChordChange:
    """A chord written over the sheet's: printed bar (index), place in it, text; "" takes the
    chord there away."""

    bar: int
    onset_quarter: Fraction
    text: str

    def value(self) -> list[Any]:
        return [self.bar, str(self.onset_quarter), self.text]


@dataclass(frozen=True, slots=True)
class Decisions:
    """Settings, corrections and choices.

    options   without picks: those are in `picks`, by the number of their gap
    part      the part of the sheet that has the melody; None: as the reader decides
    rest      what the program chose for the other gaps, and keeps; None: it chooses
    unknown   settings of a newer program: (name, JSON text), sorted; kept, and ignored
    """

    options: Options = field(default_factory=Options)
    chords: tuple[ChordChange, ...] = ()
    picks: tuple[tuple[int, Pick], ...] = ()
    part: str | None = None
    unknown: tuple[tuple[str, str], ...] = ()
    rest: Chosen | None = None

    def value(self) -> dict[str, Any]:
        """As JSON."""
        options = self.options
        return {
            "settings": {"level": options.level, "hand": options.hand,
                         "tempo": None if options.tempo is None else str(options.tempo),
                         "feel": options.feel, "octave": options.octave, "key": options.key,
                         "without": list(options.without), "choruses": options.choruses,
                         "introduction": options.introduction, "ending": options.ending,
                         "mix": dict(options.mix) or _EVEN,
                         "same_each_time": options.same_each_time, "part": self.part,
                         **{name: json.loads(text) for name, text in self.unknown}},
            "chords": [change.value() for change in self.chords],
            "picks": {str(gap): pick.value() for gap, pick in self.picks},
            **({} if self.rest is None else {"rest": rest_value(self.rest)}),
        }

    @classmethod
    def read(cls, value: Any) -> Decisions:
        """From JSON. Raises InputError with a sentence for what makes no sense."""
        if not isinstance(value, Mapping):
            raise InputError("decisions are an object")
        settings = _settings(value.get("settings", {}))
        known = {name: settings[name] for name in settings if name in _SETTINGS}
        return cls(_options(known), _changes(value.get("chords", [])),
                   _picks(value.get("picks", {})), part_name(settings.get("part")),
                   _unknown(settings), read_rest(value.get("rest")))

    @property
    def warnings(self) -> tuple[str, ...]:
        """A sentence for each setting that is kept and ignored."""
        return tuple(f"The setting {name!r} is not known here; a newer program may have written "
                     "it. It is kept and ignored." for name, _ in self.unknown)

    def with_settings(self, value: Any) -> Decisions:
        """The same with some settings replaced."""
        value = _settings(value)
        strange = sorted(set(value) - _SETTINGS, key=str)
        if strange:
            raise InputError(f"there is no setting {str(strange[0])!r}")
        merged = {**self.value()["settings"], **value}
        options = _options(merged)
        # A name saved before a device was called otherwise may stay, and can be taken away.
        old = self.options.without
        names = tuple(name if name in old else known_devices([name])[0]
                      for name in options.without)
        options = replace(options, without=tuple(dict.fromkeys(names)))
        part = part_name(merged["part"])
        was = {name: getattr(self.options, name) for name in _KEEPING}
        stays = (replace(options, **was), part) == (self.options, self.part)
        return replace(self, options=options, part=part, rest=self.rest if stays else None)

    def at_other_levels(self) -> tuple[Decisions, ...]:
        return tuple(replace(self, options=replace(self.options, level=level))
                     for level in LEVELS if level != self.options.level)

    def with_chord(self, change: ChordChange) -> Decisions:
        kept = [c for c in self.chords
                if (c.bar, c.onset_quarter) != (change.bar, change.onset_quarter)]
        return replace(self, chords=tuple(sorted([*kept, change])))

    def with_pick(self, gap: int, pick: Pick | None) -> Decisions:
        kept = [(g, p) for g, p in self.picks if g != gap]
        if pick is not None:
            kept.append((gap, pick))
        return replace(self, picks=tuple(sorted(kept, key=lambda item: item[0])))

    def keeping(self, rest: Chosen) -> Decisions:
        """With the program's choices kept; those that are kept already stay as they are."""
        if self.rest is None:
            return replace(self, rest=rest)
        fills = tuple(sorted({**dict(rest.fills), **dict(self.rest.fills)}.items()))
        return replace(self, rest=replace(self.rest, fills=fills))

    def renumbered(self, numbers: Mapping[int, int]) -> Decisions:
        """The same for a form whose gaps are counted otherwise: gap -> gap. What has no place
        there any more is left out."""
        rest = self.rest
        if rest is not None:
            rest = replace(rest, fills=tuple(sorted(
                (numbers[gap], fill) for gap, fill in rest.fills if gap in numbers)))
        return replace(self, rest=rest, picks=tuple(sorted(
            ((numbers[gap], pick) for gap, pick in self.picks if gap in numbers),
            key=lambda item: item[0])))


def _settings(value: Any) -> Mapping[Any, Any]:
    if not isinstance(value, Mapping):
        raise InputError("settings are an object")
    try:
        json.dumps(value, ensure_ascii=False, default=str, skipkeys=True).encode()
    except UnicodeEncodeError:
        raise InputError("there is half a character in the settings") from None
    return value


def _one_of(value: Any, names: tuple[str, ...], what: str) -> str:
    if not isinstance(value, str) or value not in names:
        raise InputError(f"{what} is one of {', '.join(names)}")
    return value


def _options(value: Mapping[str, Any]) -> Options:
    without = value.get("without") or []
    if not isinstance(without, list) or len(without) > 200 or not all(
            isinstance(name, str) and _DEVICE.fullmatch(name) for name in without):
        raise InputError("devices switched off are a list of names")
    feel = value.get("feel")
    return Options(
        level=_one_of(value.get("level", "intermediate"), LEVELS, "the level"),
        hand=_one_of(value.get("hand", "medium"), HAND_SIZES, "the hand"),
        tempo=_tempo(value.get("tempo")),
        feel=None if feel is None else _one_of(feel, FEELS, "the feel"),
        octave=_one_of(value.get("octave", "auto"), ("auto", "0", "1"), "the octave"),
        key=_key(value.get("key")), without=tuple(dict.fromkeys(without)),
        choruses=_count(value.get("choruses", 1), (1, 2), "the number of choruses"),
        introduction=_count(value.get("introduction", 0), (0, 2, 4), "the introduction in bars"),
        ending=_count(value.get("ending", 0), (0, 2, 4), "the ending in bars"),
        mix=_mix(value.get("mix")), same_each_time=_yes_or_no(
            value.get("same_each_time", False), "whether a phrase keeps its fill each time"))


def _unknown(settings: Mapping[Any, Any]) -> tuple[tuple[str, str], ...]:
    found = [(str(name), json.dumps(settings[name], sort_keys=True))
             for name in settings if name not in _SETTINGS]
    if len(found) > MAX_UNKNOWN or any(len(name) > 80 or len(text) > 20_000
                                       for name, text in found):
        raise InputError("there are more unknown settings than can be kept")
    return tuple(sorted(found))


def part_name(value: Any) -> str | None:
    """The part that has the melody; None: as the reader decides. Raises InputError."""
    if value is None or value == "":
        return None
    if not isinstance(value, str) or len(value) > 200:
        raise InputError("a part is named by its id, its name or its number")
    return value


def _count(value: Any, allowed: tuple[int, ...], what: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value not in allowed:
        raise InputError(f"{what} is {', '.join(map(str, allowed[:-1]))} or {allowed[-1]}")
    return value


def _yes_or_no(value: Any, what: str) -> bool:
    if not isinstance(value, bool):
        raise InputError(f"{what} is true or false")
    return value


def _mix(value: Any) -> tuple[tuple[str, int], ...]:
    """Weights of the families; () where they are all the same."""
    if value is None:
        return ()
    if not isinstance(value, Mapping):
        raise InputError(f"a mix gives weights to {', '.join(FAMILIES)}")
    weights = weights_of([*value.items(), *((f, 0) for f in FAMILIES if f not in value)])
    return () if len({weight for _, weight in weights}) == 1 else weights


def _tempo(value: Any) -> Fraction | None:
    if value is None or value == "":
        return None
    text = str(value).strip()
    if re.fullmatch(r"\d{1,3}(\.\d{1,2})?|\d{1,5}/\d{1,3}", text) is None or text.endswith("/0"):
        raise InputError("the tempo is a number of beats a minute")
    try:
        tempo = Fraction(text)
    except ZeroDivisionError:
        raise InputError("the tempo is a number of beats a minute") from None
    if not 20 <= tempo <= 400:
        raise InputError("the tempo lies between 20 and 400 beats a minute")
    return tempo


def _key(value: Any) -> str | None:
    if value is None or value == "":
        return None
    try:
        return str(Key.parse(str(value)[:20]))
    except ValueError as error:
        raise InputError(f"{error}; write it like Ab, F#m or 'C minor'") from error


def _changes(value: Any) -> tuple[ChordChange, ...]:
    if not isinstance(value, list) or len(value) > MAX_LIST:
        raise InputError("chord corrections are a list")
    found = []
    for item in value:
        if not isinstance(item, list) or len(item) != 3:
            raise InputError("a chord correction is a bar, a place and a text")
        found.append(chord_change(*item))
    return tuple(sorted(found))


def chord_change(bar: Any, onset: Any, text: Any) -> ChordChange:
    """Checked. Raises InputError, or `ChordTextError` for a text that is no chord."""
    if isinstance(bar, bool) or not isinstance(bar, int) or not 0 <= bar < 10_000:
        raise InputError("there is no such bar")
    if not isinstance(onset, str) or re.fullmatch(r"\d{1,4}(/[1-9]\d{0,3})?", onset) is None:
        raise InputError("a place in a bar is a fraction of quarters, such as 3/2")
    if not isinstance(text, str) or len(text) > 60:
        raise InputError("a chord symbol has at most 60 characters")
    if text.strip():
        parse_chord(text.strip())
    return ChordChange(bar, Fraction(onset), text.strip())


def _picks(value: Any) -> tuple[tuple[int, Pick], ...]:
    if not isinstance(value, Mapping) or len(value) > MAX_LIST:
        raise InputError("choices are an object")
    found = []
    for gap, pick in value.items():
        if not isinstance(gap, str) or re.fullmatch(r"[1-9]\d{0,4}", gap) is None:
            raise InputError("a choice belongs to the number of a gap")
        found.append((int(gap), read_pick(pick)))
    return tuple(sorted(found, key=lambda item: item[0]))
