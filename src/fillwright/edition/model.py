"""An edition: a lead sheet, and what a teacher decided about it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from fillwright.arranging.model import Arrangement, Options
from fillwright.edition.corrections import equal_places
from fillwright.edition.decisions import (
    MAX_LIST,
    ChordChange,
    Decisions,
    chord_change,
    part_name,
    read_pick,
)
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.given import a, given_whole, several
from fillwright.theory.chordtext import parse_chord
from fillwright.tune.model import Bar, Tune, WrittenChord
from fillwright.tune.read import file_bytes, read_bytes

__all__ = ["Edition"]


@dataclass(frozen=True, slots=True)
class Edition:
    """A sheet with a teacher's decisions. A value: each change gives a new edition.

    sheet       the bytes of the lead sheet, as they were brought in
    name        its file's name, no folder; the ending says what it is
    decisions   settings, corrected chords, choices

    >>> from fillwright.demo import demo_path
    >>> edition = Edition.of_sheet(demo_path("snow")).with_settings({"level": "beginner"})
    >>> edition.with_choice(2, "open")
    <Edition of snow.musicxml: beginner, 1 choice>
    """

    sheet: bytes
    name: str
    decisions: Decisions = field(default_factory=Decisions)

    def __post_init__(self) -> None:
        for value, kind, what in ((self.sheet, bytes, "the bytes of a sheet"),
                                  (self.name, str, "the name of its file"),
                                  (self.decisions, Decisions, "Decisions")):
            if not isinstance(value, kind):
                raise InputError(f"an edition has {what}, not {a(value)}")

    @classmethod
    def of_sheet(cls, path: Path | str, part: str | None = None) -> Edition:
        """A lead sheet with nothing decided yet. Raises InputError where there is no such
        file; whether it is a lead sheet is seen by `tune`."""
        if not isinstance(path, str | Path):
            raise InputError(f"a sheet is named by its file, not by {a(path)}")
        path = Path(path)
        return cls(file_bytes(path), path.name, Decisions(part=part_name(part)))

    def __repr__(self) -> str:
        what = [self.decisions.options.level]
        for count, word in ((len(self.decisions.chords), "corrected chord"),
                            (len(self.decisions.picks), "choice")):
            if count:
                what.append(f"{count} {word}{'s' if count > 1 else ''}")
        return f"<Edition of {self.name}: {', '.join(what)}>"

    @property
    def sha256(self) -> str:
        """Of the sheet, in hexadecimal."""
        return hashlib.sha256(self.sheet).hexdigest()

    @property
    def options(self) -> Options:
        """Settings and choices as the arranger and the JSON have them."""
        decisions = self.decisions
        return replace(decisions.options,
                       picks=tuple((gap, pick.fill) for gap, pick in decisions.picks))

    @property
    def warnings(self) -> tuple[str, ...]:
        return self.decisions.warnings

    def tune(self) -> Tune:
        """The sheet with the corrected chords. Raises InputError."""
        return _corrected(_read(self.sheet, self.name, self.decisions.part),
                          self.decisions.chords)

    def arrange(self, progress: Callable[[int, int], None] | None = None) -> Arrangement:
        """The chorus of this edition. A choice that is not there with these settings is left
        to the program, and the arrangement's warnings say so. Raises InputError."""
        from fillwright.edition.desk import Desk

        return Desk(self).chorus_of(self.decisions, progress)

    def save(self, path: Path | str) -> None:
        """Write the edition's file, which `open_edition` reads. Raises InputError, OSError."""
        from fillwright.edition.file import save_edition

        save_edition(self, path)

    # --- decisions ----------------------------------------------------------------------------

    def with_settings(self, settings: Mapping[str, Any]) -> Edition:
        """With some settings replaced, named as in the file. Raises InputError."""
        return replace(self, decisions=self.decisions.with_settings(settings))

    def with_chord(self, bar: int, onset: str | Fraction, text: str, *,
                   everywhere: bool = False) -> Edition:
        """With a chord written over the sheet's: printed bar (from 0), place in it in quarters,
        symbol in the key of the sheet; "" takes the chord there away. Raises InputError, too
        for a place that the sheet does not have.

        everywhere   wherever the symbol stands that stands there now
        """
        change = chord_change(bar, str(onset), text)
        _check_place(_read(self.sheet, self.name, self.decisions.part).bars, change)
        decisions = self.decisions.with_chord(change)
        if everywhere:
            for place in equal_places(self.tune(), change.bar, change.onset_quarter):
                decisions = decisions.with_chord(ChordChange(*place, change.text))
        return replace(self, decisions=decisions)

    def with_choice(self, gap: int, fill: str, moves: Sequence[tuple[int, int | None]] = ()
                    ) -> Edition:
        """With a choice for a gap: a fill's id, ``FAMILY:RANK`` or ``open``; `moves` are own
        notes (index of the fill's note, semitones it is moved by, None: left out)."""
        pick = read_pick({"fill": fill, "moves": [
            list(move) if isinstance(move, tuple) else move for move in several(moves, "moves")]})
        return replace(self, decisions=self.decisions.with_pick(
            given_whole(gap, "the number of a gap", 1, MAX_LIST), pick))

    def with_rest_kept(self) -> Edition:
        """With what the program chooses for the other gaps kept: it stays when one of them is
        decided. Raises InputError."""
        from fillwright.edition.choices import rest_kept
        from fillwright.edition.desk import desk_of

        return replace(self, decisions=rest_kept(desk_of(self.bare), self.decisions))

    def with_all_chosen_again(self) -> Edition:
        """With nothing kept: the program chooses anew for the gaps that are not decided."""
        return replace(self, decisions=replace(self.decisions, rest=None))

    def with_another(self, gap: int) -> Edition:
        """With another fill of the program's for one gap, and all others as they are. Raises
        InputError where there is nothing else."""
        from fillwright.edition.choices import chosen_again
        from fillwright.edition.desk import desk_of

        return replace(self, decisions=chosen_again(desk_of(self.bare), self.decisions, gap))

    def with_choice_everywhere(self, gap: int, how: str = "same") -> Edition:
        """With the choice for a gap at every place where its phrase comes: the "same", or
        "varied". Where there is no such fill nothing changes. Raises InputError."""
        from fillwright.edition.choices import everywhere
        from fillwright.edition.desk import desk_of

        return replace(self, decisions=everywhere(desk_of(self.bare), self.decisions, gap, how)[0])

    @property
    def bare(self) -> Edition:
        """The edition without its choices: its gaps and their options are the same."""
        decisions = self.decisions
        return replace(self, decisions=Decisions(replace(decisions.options, mix=()),
                                                 decisions.chords, part=decisions.part))


@lru_cache(maxsize=24)
def _read(data: bytes, name: str, part: str | None) -> Tune:
    return read_bytes(data, name, part=part)


def _corrected(tune: Tune, changes: tuple[ChordChange, ...]) -> Tune:
    """The tune with chord symbols replaced, added and taken away. Raises InputError."""
    if not changes:
        return tune
    bars = list(tune.bars)
    for change in changes:
        _check_place(bars, change)
        bars[change.bar] = _bar_with(bars[change.bar], change)
    if not any(bar.chords for bar in bars):
        raise InputError("a lead sheet needs at least one chord symbol")
    return replace(tune, bars=tuple(bars))


def _check_place(bars: Sequence[Bar], change: ChordChange) -> None:
    """Raises InputError, naming the nearest place, where the sheet does not have this one."""
    last = len(bars) - 1
    if change.bar > last:
        raise InputError(f"no chord can be corrected in bar {change.bar}, counted from 0; the "
                         f"nearest is {last}, the sheet's last")
    bar = bars[change.bar]
    if change.onset_quarter >= bar.length_quarter:
        nearest = max((c.onset_quarter for c in bar.chords
                       if c.onset_quarter < bar.length_quarter), default=Fraction(0))
        raise InputError(f"bar {change.bar}, counted from 0, is {bar.length_quarter} quarters "
                         f"long and has no place {change.onset_quarter}; the nearest with a "
                         f"chord is {nearest}")


def _bar_with(bar: Bar, change: ChordChange) -> Bar:
    kept = [chord for chord in bar.chords if chord.onset_quarter != change.onset_quarter]
    if change.text:
        kept.append(WrittenChord(change.onset_quarter, parse_chord(change.text)))
    return replace(bar, chords=tuple(sorted(kept, key=lambda chord: chord.onset_quarter)))
