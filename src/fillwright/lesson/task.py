"""An item of a pack, worked out: its gap, its fill, and the bars around them.

`tasks_of` looks up the tunes and the fills of a plan; `sheet_of` is what is engraved of a task
the way it is handed out, from an empty gap to the whole fill.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

from fillwright.arranging.build import Offers
from fillwright.arranging.model import Arrangement, Options
from fillwright.arranging.user_picks import ranked_pick
from fillwright.arranging.window import Window, window_of
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.edition.decisions import Pick
from fillwright.edition.desk import Desk
from fillwright.edition.file import open_edition
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES, Fill
from fillwright.hands.model import HandNote
from fillwright.lesson.plan import Item, PackPlan
from fillwright.theory.pitch import STEPS, Pitch
from fillwright.tune.model import ChordSpan, Chorus, Gap, Tune
from fillwright.tune.read import read_tune

__all__ = ["Sheet", "GapTask", "Tunes", "sheet_of", "tasks_of"]

Progress = Callable[[int, int], None]

_EDITION = ".json"
_NONE: Mapping[str, Edition] = MappingProxyType({})
_MIDDLE = {"right": Pitch.parse("B4").staff_position, "left": Pitch.parse("D3").staff_position}
"""Where a rhythm without notes is written: on the middle line."""
_CLEAR = 4
"""Staff positions between a slash, which is two spaces high, and a note that sounds with it."""
_LOWEST = Pitch.parse("C4").staff_position
"""For the right hand; where a slash has no room under a note that low, it stands over it."""


@dataclass(frozen=True, slots=True)
class GapTask:
    """An item with everything it needs.

    number    its place in the plan, from 1
    options   the settings of its tune
    chorus    the tune as it is played, with all its gaps
    fill      the answer, at its place in the chorus
    filled    the bars around the gap with the fill in it
    unfilled  the same with the gap open
    """

    number: int
    item: Item
    options: Options
    chorus: Chorus
    gap: Gap
    fill: Fill
    filled: Window
    unfilled: Window

    @property
    def title(self) -> str:
        return self.chorus.tune.title


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is engraved.

    hints     indices of notes of which only the rhythm is shown
    is_open   no rests are printed in the gap: there is something to be written
    """

    arrangement: Arrangement
    hints: frozenset[int] = frozenset()
    is_open: bool = False


class Tunes:
    """The tunes of a plan, read once each, and their offers for each way of playing them.

    folder     from where a plan's paths count
    editions   those that are there already, by the names that the plan calls them by
    """

    def __init__(self, folder: Path, editions: Mapping[str, Edition] = _NONE) -> None:
        self._folder = folder
        self._given = frozenset(editions)
        self._read: dict[str, Tune] = {}
        self._editions = dict(editions)
        self._offers: dict[tuple[str, Options], Offers] = {}

    def tune(self, name: str) -> Tune:
        """Raises InputError for a file that is no lead sheet, naming the nearest tune where
        there is none."""
        if name not in self._read:
            self._read[name] = read_tune(self._path(name))
        return self._read[name]

    def offers(self, item: Item) -> Offers:
        """What is offered in a tune; of an edition it is its desk. Raises InputError."""
        own = self._edition(item) if self._is_edition(item.tune) else None
        key = item.tune, item.options if own is None else own.decisions.options
        if key not in self._offers:
            self._offers[key] = (Offers(self.tune(item.tune), item.options) if own is None
                                 else Desk(own))
        return self._offers[key]

    def chosen(self, item: Item) -> Pick | None:
        """What an edition has decided for an item's gap."""
        if not self._is_edition(item.tune):
            return None
        return dict(self._edition(item).decisions.picks).get(item.gap)

    def _is_edition(self, name: str) -> bool:
        return name in self._given or name.lower().endswith(_EDITION)

    def _edition(self, item: Item) -> Edition:
        """An edition with the settings that the plan names. Raises InputError."""
        if item.tune not in self._editions:
            self._editions[item.tune] = open_edition(self._path(item.tune))
        settings: dict[str, object] = {name: getattr(item, name) for name in
                                       ("level", "hand", "key") if name in item.named}
        if item.tempo is not None:
            whole = item.tempo.denominator == 1
            settings["tempo"] = int(item.tempo) if whole else float(item.tempo)
        return self._editions[item.tune].with_settings(settings)

    def _path(self, name: str) -> Path:
        if name in DEMO_TUNES:
            return demo_path(name)
        path = self._folder / name
        if not path.is_file():
            raise InputError(f"there is no tune {name!r}: a tune is a lead sheet or an edition, "
                             "named from where the plan lies, or one of "
                             f"{', '.join(DEMO_TUNES)}")
        return path


def tasks_of(plan: PackPlan, tunes: Path | Tunes, progress: Progress | None = None
             ) -> tuple[GapTask, ...]:
    """Look up the gaps and fills of a plan; `tunes` may be the folder from where it names them.
    Raises InputError, which names the item."""
    tunes = tunes if isinstance(tunes, Tunes) else Tunes(tunes)
    found = []
    for number, item in enumerate(plan.items, 1):
        try:
            found.append(_task(number, item, tunes))
        except InputError as error:
            raise InputError(f"item {number}: {error}") from None
        if progress is not None:
            progress(number, len(plan.items))
    return tuple(found)


def _task(number: int, item: Item, tunes: Tunes) -> GapTask:
    offers = tunes.offers(item)
    gap = offers.gap(item.gap)
    pick = None if item.fill else tunes.chosen(item)
    own: list[int] = []
    if pick is not None and isinstance(offers, Desk):
        fill, own = _decided(offers, item, pick)
    else:
        fill = _named(offers, item) if item.fill else _first(offers, item.gap)
    around = offers.chorus, offers.gaps, item.gap
    return GapTask(number, item, offers.options, offers.chorus, gap, fill,
                   window_of(*around, fill, offers.options, own=own),
                   window_of(*around, None, offers.options))


def _decided(desk: Desk, item: Item, pick: Pick) -> tuple[Fill, list[int]]:
    """An edition's choice, and the gap if it has the teacher's own notes. Raises InputError for a
    gap that it leaves open."""
    fill, own = desk.chosen(item.gap, pick)
    if fill is None:
        raise InputError(f"the edition leaves gap {item.gap} open; name a fill")
    return (fill, []) if own is None else (own, [item.gap])


def _named(offers: Offers, item: Item) -> Fill:
    """Raises InputError for a fill that does not exist."""
    ranked = ranked_pick(item.fill)
    if ranked is not None:
        why = offers.fills(item.gap, ranked.family, 1)
        if isinstance(why, str):
            raise InputError(f"gap {item.gap} has no {ranked.family} fill: {why}")
    fill = offers.picked(item.gap, item.fill)
    assert fill is not None  # an open gap is refused by the plan
    return fill


def _first(offers: Offers, number: int) -> Fill:
    """The first fill of the first family that has one. Raises InputError where none has."""
    reasons = []
    for family in FAMILIES:
        found = offers.fills(number, family, 1)
        if not isinstance(found, str):
            return found[0]
        reasons.append(f"{family}: {found.rstrip('.')}")
    raise InputError(f"gap {number} has no fill ({'; '.join(reasons)})")


# --- the way it is handed out -----------------------------------------------------------------


def sheet_of(task: GapTask, show: str) -> Sheet:
    """The bars around the gap: the tune with the hands under it, and of the fill as much as
    `show` says, one of `plan.SHOWS`."""
    window = task.filled
    if show == "filled":
        return Sheet(replace(window.arrangement, gaps=(window.gap,)))
    return _Hint(window).sheet(show)


class _Hint:
    """The bars of a window with less than the whole fill."""

    def __init__(self, window: Window) -> None:
        self.window = window
        self.whole = window.arrangement

    @cached_property
    def fill(self) -> Fill:
        found = self.whole.fill_of(self.window.gap.number)
        assert found is not None
        return found

    def sheet(self, show: str) -> Sheet:
        shown = {"blank": self._nothing, "chords": self._nothing, "rhythm": self._rhythm,
                 "first": self._first_strokes}[show]()
        notes = sorted([*self._around(bool(shown)), *shown],
                       key=lambda note: (note.onset_quarter, note.midi, note.hand))
        chords = self.whole.chords if show == "chords" else tuple(
            span for span in self.whole.chords if not span.added)
        # With the fill its chords are shown where it puts them, and its counts.
        fills = {"chords": (self._silent(self.fill.chords),),
                 "rhythm": (self._silent(()),)}.get(show, ())
        hints = frozenset(index for index, note in enumerate(notes)
                          if note.role == "fill") if show == "rhythm" else frozenset()
        return Sheet(replace(self.whole, gaps=(self.window.gap,), fills=fills,
                             notes=tuple(notes), chords=chords), hints,
                     is_open=show != "rhythm")

    def _silent(self, chords: tuple[ChordSpan, ...]) -> Fill:
        """The fill without notes, touch and signs of its own."""
        counted = self.fill.counted if not chords else ()
        return replace(self.fill, notes=(), chords=chords, counted=counted, shift=None)

    def _around(self, hand_plays: bool) -> list[HandNote]:
        """The tune as written, and the texture before and after the gap. Where the hand has
        something to play in the gap, the held note is as long as it leaves it there."""
        gap = self.window.gap
        played = {note.onset_quarter: note for note in self.whole.notes if note.role == "melody"}
        melody = []
        for note in self.whole.chorus.melody:
            own = played.get(note.onset_quarter)
            length = note.duration_quarter
            if hand_plays and own is not None and note.onset_quarter == gap.onset_quarter:
                length = own.duration_quarter
            melody.append(HandNote(note.onset_quarter, length, note.pitch, "right",
                                   None if own is None else own.finger, "melody"))
        under = []
        for base in self.whole.notes:
            inside = gap.onset_quarter <= base.onset_quarter < gap.end_quarter
            if base.role != "base" or inside:
                continue
            if base.onset_quarter < gap.onset_quarter < base.end_quarter:
                base = replace(base, duration_quarter=gap.onset_quarter - base.onset_quarter)
            under.append(base)
        return [*melody, *under]

    def _nothing(self) -> list[HandNote]:
        return []

    def _rhythm(self) -> list[HandNote]:
        strokes: dict[tuple[str, Fraction], Fraction] = {}
        for note in self.fill.notes:
            place = note.hand, note.onset_quarter
            strokes[place] = max(strokes.get(place, Fraction(0)), note.duration_quarter)
        places = {hand: self._slash_place(hand) for hand in _MIDDLE}
        return [HandNote(onset, length, places[hand], hand, None, "fill", self.fill.gap)
                for (hand, onset), length in _one_after_the_other(strokes)]

    def _slash_place(self, hand: str) -> Pitch:
        """The middle line, or as near to it as the held note leaves room; on a line or space as
        the key has it, so that no accidental is asked for."""
        place, held = _MIDDLE[hand], self.window.gap.held
        if hand == "right" and held is not None:
            note = held.pitch.staff_position
            if abs(place - note) < _CLEAR:
                place = note - _CLEAR if note - _CLEAR >= _LOWEST else note + _CLEAR
        octave, step = divmod(place, len(STEPS))
        name = next(name for name in self.whole.chorus.key.scale if name.step == STEPS[step])
        return name.in_octave(octave)

    def _first_strokes(self) -> list[HandNote]:
        first = {hand: min((note.onset_quarter for note in self.fill.notes
                            if note.hand == hand), default=None) for hand in ("left", "right")}
        return [note for note in self.fill.notes if note.onset_quarter == first[note.hand]]


def _one_after_the_other(strokes: dict[tuple[str, Fraction], Fraction]
                         ) -> Sequence[tuple[tuple[str, Fraction], Fraction]]:
    """Strokes of a hand on one line of writing: each ends where the next begins."""
    found = []
    for (hand, onset), length in sorted(strokes.items()):
        later = [other for side, other in strokes if side == hand and other > onset]
        found.append(((hand, onset), min([length, *(place - onset for place in later)])))
    return found
