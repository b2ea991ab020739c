"""An edition at work: gaps, options, the chorus.

The same edition gives the same answers. The desks of the last few are kept, so that a second
question about one costs little.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from fillwright.arranging.build import Offers
from fillwright.arranging.model import Arrangement, Decided, Options
from fillwright.arranging.user_picks import names_family
from fillwright.edition.decisions import Decisions, Pick
from fillwright.edition.model import Edition
from fillwright.edition.own import edited, own_fill
from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES, Fill
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.pitch import STEPS, Interval

__all__ = ["Desk", "desk_of", "desk_with", "lost_sentence", "written_text"]


class Desk(Offers):
    """The options of an edition. Its choices do not matter here: they are given to
    `arrangement`, so that one desk serves all of them."""

    def __init__(self, edition: Edition) -> None:
        super().__init__(edition.tune(), replace(edition.decisions.options, picks=(), mix=()))
        self._made: tuple[Decisions, Arrangement] | None = None

    def chosen(self, number: int, pick: Pick) -> tuple[Fill | None, Fill | None]:
        """What a choice means: a fill (None for a gap left open), and the same with the user's
        own notes in it if they change it. Raises InputError."""
        gap = self.gap(number)
        fill = (self.picked(number, pick.fill) if pick.own is None
                else own_fill(pick, self.chorus, gap, self.options))
        if fill is None:
            return None, None
        own = edited(fill, pick, self.chorus, gap, self.options.hand)
        return fill, None if own is fill and pick.own is None else own

    def chorus_of(self, decisions: Decisions,
                  progress: Callable[[int, int], None] | None = None) -> Arrangement:
        """The chorus with the choices kept and the other gaps filled. A choice that does not
        exist is a warning of the arrangement."""
        if self._made is None or self._made[0] != decisions:
            self._made = (decisions, self._arrange(decisions, progress))
        return self._made[1]

    def decided(self, decisions: Decisions) -> tuple[Decided, list[str]]:
        """The fills that decisions mean, and a sentence for each choice that does not exist."""
        picked: dict[int, Fill | None] = {}
        own: dict[int, Fill] = {}
        lost: list[str] = []
        for number, pick in decisions.picks:
            try:
                picked[number], changed = self.chosen(number, pick)
            except InputError as error:
                lost.append(lost_sentence(number, error.message))
                continue
            if changed is not None:
                own[number] = changed
        kept: dict[int, Fill | None] = {}
        for number, fill in () if decisions.rest is None else decisions.rest.fills:
            if number not in picked:
                with suppress(InputError):  # what does not exist any more is chosen anew
                    kept[number] = self.picked(number, fill)
        return Decided(picked, own, kept, decisions.rest), lost

    def missing(self, decisions: Decisions) -> list[tuple[int, str]]:
        """What is not yet worked out of what a chorus needs: gaps and families."""
        picked = {number for number, _ in decisions.picks}
        kept = {} if decisions.rest is None else dict(decisions.rest.fills)
        return [(gap.number, family) for gap in self.gaps if gap.number not in picked
                for family in FAMILIES if not self.knows(gap.number, family)
                and (gap.number not in kept or names_family(kept[gap.number], family))]

    def _arrange(self, decisions: Decisions, progress: Callable[[int, int], None] | None
                 ) -> Arrangement:
        decided, lost = self.decided(decisions)
        options = replace(self.options, mix=decisions.options.mix, picks=tuple(
            (number, pick.fill) for number, pick in decisions.picks
            if number in decided.picked))
        done = self.arrangement(decided, options, progress=progress)
        return replace(done, warnings=(*done.warnings, *decisions.warnings, *lost))


def lost_sentence(number: int, why: str = "") -> str:
    """What is said of a choice that does not exist with the settings, and why it does not."""
    return (f"The choice for gap {number} does not exist with these settings"
            f"{f' ({why})' if why else ''}; the program has chosen.")


@lru_cache(maxsize=12)
def desk_of(edition: Edition) -> Desk:
    """The desk of an edition; those used last are kept."""
    return Desk(edition)


def desk_with(path: Path, part: str | None, options: Options) -> Desk:
    """The desk of a sheet of which nothing is decided but the settings."""
    edition = Edition.of_sheet(path, part)
    return Desk(replace(edition, decisions=replace(edition.decisions, options=options)))


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
