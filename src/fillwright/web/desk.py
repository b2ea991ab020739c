"""What a worker knows of a sheet with its settings: gaps, options, the chorus.

The same sheet gives the same answers. The desks of the last few sheets are kept, so that a
second question about one costs little.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import Any

from fillwright.arranging.build import CHOICES, complete, find_carried, prepare
from fillwright.arranging.model import Arrangement
from fillwright.arranging.picks import PICK_SEARCH
from fillwright.errors import InputError
from fillwright.fills.finish import gap_place
from fillwright.fills.model import FAMILIES, Fill
from fillwright.fills.propose import propose_gap
from fillwright.fills.situation import GapContext, make_context
from fillwright.hands.model import LEVELS
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.pitch import STEPS, Interval
from fillwright.tune.model import Bar, Tune, WrittenChord
from fillwright.tune.read import read_bytes
from fillwright.web.own import edited, with_own
from fillwright.web.sheet import Sheet
from fillwright.web.state import ChordChange, Pick

__all__ = ["Desk", "Mix", "Picks", "Report", "desk_of", "written_text"]

Report = Callable[[str, int, int], None]
Picks = tuple[tuple[int, Pick], ...]
Mix = tuple[tuple[str, int], ...]
"""Weights of the families in the chorus, as in `Options`."""


class Desk:
    """A sheet on the desk. Fills are computed when they are asked for, and kept."""

    def __init__(self, sheet: Sheet) -> None:
        self.options = sheet.options
        self.written = corrected(_read(sheet.data, sheet.name), sheet.chords)
        self.chorus, self.gaps = prepare(self.written, sheet.options)
        self._found: dict[tuple[int, str, str, int], tuple[Fill, ...] | str] = {}
        self._sought: dict[tuple[int, str], Fill | None] = {}
        self._made: tuple[object, tuple[Arrangement, list[str]]] | None = None

    def gap(self, number: int) -> Any:
        """Raises InputError for a number that is none."""
        if not 1 <= number <= len(self.gaps):
            raise InputError(f"there is no gap {number}; the tune has {len(self.gaps)}")
        return self.gaps[number - 1]

    def fills(self, number: int, family: str, count: int, level: str | None = None
              ) -> tuple[Fill, ...] | str:
        """Options of one family, best first, or why there are none."""
        level = level or self.options.level
        first = self._propose(number, family, level, CHOICES)  # what the chorus asks for
        if count <= CHOICES or isinstance(first, str) or len(first) < CHOICES:
            return first if isinstance(first, str) else first[:count]
        # A longer list may put others between them; on the page those shown stay, and the
        # same list is made whatever was asked before.
        more = self._propose(number, family, level, PICK_SEARCH)
        known = {fill.id for fill in first}
        others = [] if isinstance(more, str) else [f for f in more if f.id not in known]
        return (*first, *others)[:count]

    def _propose(self, number: int, family: str, level: str, count: int
                 ) -> tuple[Fill, ...] | str:
        key = (number, family, level, count)
        if key not in self._found:
            self._found[key] = propose_gap(self._context(number, level), family, count)
        return self._found[key]

    def _context(self, number: int, level: str) -> GapContext:
        return make_context(self.chorus, self.gaps, number, level=level,
                            hand=self.options.hand, without=frozenset(self.options.without))

    def find(self, number: int, fill_id: str) -> Fill:
        """A fill by its id, whatever list it was shown in. Raises InputError."""
        key = (number, fill_id)
        if key not in self._sought:
            self._sought[key] = self._seek(number, fill_id)
        fill = self._sought[key]
        if fill is None:
            raise InputError(f"gap {number} has no such fill any more")
        return fill

    def _seek(self, number: int, fill_id: str) -> Fill | None:
        """At this level, at the others, and in the tune as it is written."""
        self.gap(number)
        place = gap_place(self._context(number, self.options.level))
        family = next((f for f in FAMILIES if fill_id.startswith(f"{place}-{f}-")), None)
        if family is None:
            return None
        for level in sorted(LEVELS, key=lambda level: level != self.options.level):
            for count in (CHOICES, PICK_SEARCH):
                found = self.fills(number, family, count, level)
                for fill in () if isinstance(found, str) else found:
                    if fill.id == fill_id:
                        return fill
        moved = replace(self.options, key=None, tempo=None, feel=None, octave="auto")
        return None if moved == replace(self.options, octave="auto") else find_carried(
            self.written, self.chorus, self.gaps, number, fill_id, self.options)

    def picked(self, number: int, pick: Pick) -> tuple[Fill | None, Fill | None]:
        """What a pick means: a fill (None for a gap left open), and the same with the user's
        own notes in it if there are any. Raises InputError."""
        gap = self.gap(number)
        if pick.fill == "open":
            return None, None
        fill = self.find(number, pick.fill)
        if not pick.moves:
            return fill, None
        return fill, edited(fill, pick.moves, self.chorus, gap, self.options.hand)

    def arrangement(self, picks: Picks, mix: Mix, report: Report
                    ) -> tuple[Arrangement, list[str]]:
        """The chorus with the picks kept and the other gaps filled, and what was lost."""
        if self._made is None or self._made[0] != (picks, mix):
            self._made = ((picks, mix), self._arrange(picks, mix, report))
        return self._made[1]

    def _arrange(self, picks: Picks, mix: Mix, report: Report
                 ) -> tuple[Arrangement, list[str]]:
        fixed: dict[int, Fill | None] = {}
        own = []
        lost = []
        for number, pick in picks:
            try:
                fixed[number], changed = self.picked(number, pick)
                if changed is not None:
                    own.append(changed)
            except InputError:
                lost.append(f"The choice for gap {number} does not exist with these settings; "
                            "the program has chosen.")
        offered: dict[int, tuple[Fill, ...]] = {}
        for done, gap in enumerate(self.gaps):
            report("working out the gaps", done, len(self.gaps))
            if gap.number in fixed:
                continue
            fills: list[Fill] = []
            for family in FAMILIES:
                found = self.fills(gap.number, family, CHOICES)
                fills += [] if isinstance(found, str) else found
            offered[gap.number] = tuple(fills)
        report("choosing", len(self.gaps), len(self.gaps))
        options = replace(self.options, mix=mix, picks=tuple(
            (number, pick.fill) for number, pick in picks if number in fixed))
        return with_own(complete(self.chorus, self.gaps, offered, fixed, options), own), lost


@lru_cache(maxsize=12)
def desk_of(sheet: Sheet) -> Desk:
    """The desk of a sheet; those used last are kept."""
    return Desk(sheet)


@lru_cache(maxsize=24)
def _read(data: bytes, name: str) -> Tune:
    return read_bytes(data, name)


def corrected(tune: Tune, changes: tuple[ChordChange, ...]) -> Tune:
    """The tune with chord symbols replaced, added and taken away."""
    if not changes:
        return tune
    bars = list(tune.bars)
    for change in changes:
        if change.bar < len(bars) and change.onset_quarter < bars[change.bar].length_quarter:
            bars[change.bar] = _bar_with(bars[change.bar], change)
    if not any(bar.chords for bar in bars):
        raise InputError("a lead sheet needs at least one chord symbol")
    return replace(tune, bars=tuple(bars))


def _bar_with(bar: Bar, change: ChordChange) -> Bar:
    kept = [chord for chord in bar.chords if chord.onset_quarter != change.onset_quarter]
    if change.text:
        kept.append(WrittenChord(change.onset_quarter, parse_chord(change.text)))
    return replace(bar, chords=tuple(sorted(kept, key=lambda chord: chord.onset_quarter)))


def written_text(desk: Desk, text: str) -> str:
    """A chord symbol typed in the key shown, in the key of the sheet."""
    symbol = parse_chord(text)
    shown, own = desk.chorus.tune.key.tonic, desk.written.key.tonic
    if shown == own or symbol.root is None:
        return str(symbol)
    steps = (STEPS.index(own.step) - STEPS.index(shown.step)) % 7
    semitones = (own.pitch_class - shown.pitch_class) % 12
    if (steps, semitones) == (0, 11):
        steps = 7
    return str(symbol.transposed(Interval(steps, semitones)))


