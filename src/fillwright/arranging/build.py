"""From a tune to a whole arrangement.

`Offers` is the arranger at work: whoever makes a chorus, from Python, on the command line or
on the page, asks it, so that the same decisions give the same notes.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import groupby

from fillwright.arranging.assemble import Loom, complete, first_choice
from fillwright.arranging.model import Arrangement, Decided, Options
from fillwright.arranging.prepare import prepare
from fillwright.arranging.refit import refitted
from fillwright.arranging.story import Story, alike, going_on, story_of
from fillwright.arranging.user_picks import (
    OPEN,
    PICK_SEARCH,
    RankedPick,
    names_family,
    nearest_id,
    ranked_pick,
)
from fillwright.errors import InputError
from fillwright.fills.devices.registry import is_device, known_devices
from fillwright.fills.ladder.rungs import ladder, rung_named
from fillwright.fills.model import FAMILIES, Fill
from fillwright.fills.place import HEIGHT, gap_place, taken_from
from fillwright.fills.player import player_of
from fillwright.fills.propose import propose, shout, take_up
from fillwright.hands.model import LEVELS
from fillwright.tune.model import Gap, Tune

__all__ = ["CHOICES", "Offers", "arrange", "prepare"]

CHOICES = 4
"""Options per gap and family that the choice for a whole chorus looks at."""

Progress = Callable[[int, int], None]


def arrange(tune: Tune, options: Options | None = None, *,
            progress: Progress | None = None) -> Arrangement:
    """Read, fill and assemble: the whole pipeline up to paper and sound.

    Raises InputError for a pick or a device that does not exist.
    """
    options = Options() if options is None else options
    if not isinstance(tune, Tune) or not isinstance(options, Options):
        raise InputError("arrange takes a Tune, as read_tune gives it, and Options")
    known_devices(options.without)
    if progress is not None and not callable(progress):
        raise InputError(f"progress is a function of gaps done and gaps in all, not {progress!r}")
    offers = Offers(tune, options)
    try:
        picked = {number: offers.picked(number, wanted) for number, wanted in options.picks}
    except InputError as error:
        raise InputError(error.message, tune.source) from error
    return offers.arrangement(Decided(picked), options, progress=progress)


def names_its_own(fill_id: str) -> bool:
    """Whether a fill can be taken up by name: one of the options of its gap."""
    return (taken_from(fill_id) is None and rung_named(fill_id) is None
            and any(names_family(fill_id, family) for family in FAMILIES))


class Offers:
    """The options of a tune with its settings, worked out when they are asked for, and kept.

    Picks and mix of the settings do not matter here: they are given to `arrangement`.
    """

    def __init__(self, tune: Tune, options: Options) -> None:
        self.written = tune
        self.options = options
        self.chorus, self.gaps = prepare(tune, options)
        self._found: dict[tuple[int, str, str, int], tuple[Fill, ...] | str] = {}
        self._sought: dict[tuple[int, str], Fill | None] = {}
        self._asked: dict[tuple[int, str, str], tuple[Fill, ...]] = {}
        self._loom = Loom(self.chorus, self.gaps)

    def gap(self, number: int) -> Gap:
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
        # A longer list may put others between them; those shown stay, and the same list is
        # made whatever was asked before.
        more = self._propose(number, family, level, PICK_SEARCH)
        known = {fill.id for fill in first}
        others = [] if isinstance(more, str) else [f for f in more if f.id not in known]
        return (*first, *others)[:count]

    def knows(self, number: int, family: str) -> bool:
        """Whether what a whole chorus looks at in a gap is worked out."""
        return (number, family, self.options.level, CHOICES) in self._found

    def _propose(self, number: int, family: str, level: str, count: int
                 ) -> tuple[Fill, ...] | str:
        self.gap(number)
        if (number, family, level, count) not in self._found:
            self._work_out([number], [family], level, count)
        return self._found[number, family, level, count]

    def _work_out(self, numbers: Collection[int], families: Collection[str], level: str,
                  count: int, progress: Progress | None = None) -> None:
        """The one place where fills are asked for."""
        proposal = propose(self.chorus, self.gaps, level=level, hand=self.options.hand,
                           families=families, numbers=numbers, count=count,
                           without=self._without,
                           same_each_time=self.options.same_each_time,
                           progress=progress)
        for empty in proposal.empty:
            self._found[empty.gap, empty.family, level, count] = empty.reason
        for (gap, family), fills in groupby(proposal.fills, lambda fill: (fill.gap, fill.family)):
            self._found[gap, family, level, count] = tuple(fills)

    def taking_up(self, number: int, stated: Fill, level: str | None = None) -> tuple[Fill, ...]:
        """Fills of a gap that take up a fill of another one where the phrase is the same; they are
        in no list of its options."""
        key = (number, stated.id, level or self.options.level)
        if key not in self._asked:
            self._asked[key] = take_up(self.chorus, self.gaps, number, stated,
                                       player_of(key[2], self.options.hand), self._without)
        return self._asked[key]

    def shouts(self, number: int, level: str | None = None) -> tuple[Fill, ...]:
        """Fills of a gap for the high point of the chorus; they are in no list of its options."""
        key = (number, HEIGHT, level or self.options.level)
        if key not in self._asked:
            self._asked[key] = shout(self.chorus, self.gaps, number,
                                     player_of(key[2], self.options.hand), self._without)
        return self._asked[key]

    @property
    def _without(self) -> list[str]:
        return [name for name in self.options.without if is_device(name)]

    # --- what the user chose ------------------------------------------------------------------

    def picked(self, number: int, wanted: str) -> Fill | None:
        """The fill of a pick: an id, ``FAMILY:RANK``, or ``open`` (None).

        Raises InputError for one that does not exist, naming the nearest id.
        """
        self.gap(number)
        if wanted == OPEN:
            return None
        ranked = ranked_pick(wanted)
        return self.find(number, wanted) if ranked is None else self._ranked(number, ranked)

    def _ranked(self, number: int, wanted: RankedPick) -> Fill:
        own = self._propose(number, wanted.family, self.options.level, max(wanted.rank, 3))
        own = () if isinstance(own, str) else own
        if not 1 <= wanted.rank <= len(own):
            fills = f"{len(own)} {wanted.family} fill{'' if len(own) == 1 else 's'}"
            raise InputError(f"gap {number} has {fills} at this level, there is no number "
                             f"{wanted.rank}")
        return own[wanted.rank - 1]

    def find(self, number: int, fill_id: str) -> Fill:
        """A fill by its id, whatever list it was shown in.

        It is looked for at the asked level first, then at the others, then in the tune as it is
        written, so that a pick survives a change of level, tempo and key. A rung is looked for
        on the ladder of its idea. Raises InputError naming the nearest id.
        """
        key = (number, fill_id)
        if key not in self._sought:
            self._sought[key] = self._seek(number, fill_id)
        fill = self._sought[key]
        if fill is None:
            near = nearest_id(fill_id, self._ids_seen(number))
            raise InputError(f"gap {number} has no fill {fill_id!r}"
                             + (f"; the nearest is {near}" if near else ""))
        return fill

    def _seek(self, number: int, fill_id: str) -> Fill | None:
        fill = self._seek_here(number, fill_id)
        if fill is None and self.options.same_each_time:  # picked where each time has its own
            fill = Offers(self.written, replace(self.options, same_each_time=False))._seek_here(
                number, fill_id)
        if fill is not None:
            return fill
        for offers in self._as_written:
            written = offers._seek_here(number, fill_id)
            if written is not None:
                return refitted(written, offers.gap(number), self.gap(number), self.chorus,
                                self.options.hand)
        return None

    def _seek_here(self, number: int, fill_id: str) -> Fill | None:
        self.gap(number)
        rung = rung_named(fill_id)
        if rung is not None:
            idea = self._seek_here(number, rung[0])
            rungs = () if idea is None else ladder(
                idea, hand=self.options.hand, chorus=self.chorus).rungs
            return next((one.fill for one in rungs if one.fill.id == fill_id), None)
        levels = sorted(LEVELS, key=lambda level: level != self.options.level)
        origin = taken_from(fill_id)
        if origin is not None:
            return self._seek_again(number, fill_id, origin, levels)
        for level in levels:
            for family in FAMILIES:
                if names_family(fill_id, family):
                    fill = self._seek_in(number, family, level, fill_id)
                    if fill is not None:
                        return fill
        return None

    def _seek_again(self, number: int, fill_id: str, origin: str, levels: Sequence[str]
                    ) -> Fill | None:
        """A fill that takes up another one, by that; or one for the high point."""
        if origin == HEIGHT:
            return next((fill for level in levels for fill in self.shouts(number, level)
                         if fill.id == fill_id), None)
        first = next((gap.number for gap in self.gaps
                      if origin.startswith(f"{gap_place(gap)}-")), None)
        stated = None if first is None else self._seek_here(first, origin)
        return None if stated is None else next(
            (fill for level in levels for fill in self.taking_up(number, stated, level)
             if fill.id == fill_id), None)

    def _seek_in(self, number: int, family: str, level: str, fill_id: str) -> Fill | None:
        for count in (CHOICES, PICK_SEARCH):
            found = self._propose(number, family, level, count)
            for fill in () if isinstance(found, str) else found:
                if fill.id == fill_id:
                    return fill
        return None

    @cached_property
    def _as_written(self) -> tuple[Offers, ...]:
        """The same tune in its own key, tempo and feel, where that is another one: with its melody
        in the octave that it has here, and in the one that it would have there."""
        found: dict[int, Offers] = {}
        for octave in (str(self.chorus.melody_octave), self.options.octave):
            options = replace(self.options, key=None, tempo=None, feel=None, octave=octave)
            if options in (self.options, replace(self.options, octave=octave)):
                continue
            written = Offers(self.written, options)
            if len(written.gaps) == len(self.gaps):
                found.setdefault(written.chorus.melody_octave, written)
        return tuple(found.values())

    def _ids_seen(self, number: int) -> list[str]:
        for family in FAMILIES:
            self._propose(number, family, self.options.level, PICK_SEARCH)
        return [fill.id for (gap, *_), found in self._found.items()
                if gap == number and not isinstance(found, str) for fill in found]

    # --- the whole chorus ---------------------------------------------------------------------

    def arrangement(self, decided: Decided, options: Options, *,
                    progress: Progress | None = None) -> Arrangement:
        """The chorus with what was decided kept and the other gaps filled.

        options    the settings of these offers, with picks and mix
        progress   called with (gaps worked out, gaps in all)
        """
        known = {*decided.picked, *decided.kept}
        open_numbers = [gap.number for gap in self.gaps if gap.number not in known]
        level = self.options.level
        missing = [number for number in open_numbers
                   if not all(self.knows(number, family) for family in FAMILIES)]
        if missing:
            self._work_out(missing, FAMILIES, level, CHOICES, progress)
        offered: dict[int, tuple[Fill, ...]] = {}
        for number in open_numbers:
            fills: list[Fill] = []
            for family in FAMILIES:
                found = self._found[number, family, level, CHOICES]
                fills += () if isinstance(found, str) else found
            offered[number] = tuple(fills)
        if decided.plan is None:
            self._with_story(offered, decided, options)
        return complete(self.story, offered, decided, options, self._loom)

    @cached_property
    def story(self) -> Story:
        """The plan of the chorus: it does not depend on what is decided."""
        return story_of(self.chorus, self.gaps, self.options.same_each_time)

    def _with_story(self, offered: dict[int, tuple[Fill, ...]], decided: Decided,
                    options: Options) -> None:
        """The options with those that the story asks for: shouts at the high point, what takes up
        an idea where its phrase comes again, and what goes on with one in the next fill.

        What is stated is what the choice would be without the latter.
        """
        story = self.story
        if story.peak is not None and story.peak in offered:
            offered[story.peak] += self.shouts(story.peak)
        if options.same_each_time:
            return
        chosen = {fill.gap: fill for fill in first_choice(story, offered, decided, options)}
        for number, group in alike(story.returns).items():
            stated = next((chosen[one] for one in group if one in chosen), None)
            if number in offered and stated is not None and stated.gap < number and (
                    names_its_own(stated.id)):
                offered[number] += self.taking_up(number, stated)
        for stated, number in going_on(story, list(chosen.values())):
            if number in offered and names_its_own(stated.id):
                offered[number] += self.taking_up(number, stated)
