"""Which texture stands between the fills, where in the chorus.

shells           the chord struck at once and held
broken shells    the bass speaks first, the upper notes join it
two-feel         bass notes in halves: root, then fifth or another chord tone, and a note that
                 leads on to the next root
walking bass     a note a beat through the chord and its scale to a step from the next root
bass and chord   a low bass, let go for a rootless chord in the middle
broken tenths    root, seventh (or fifth) and tenth one after the other: in eighths or quarters
                 and pedalled in ballads, beat by beat in waltzes
spread           bass and inner voices in the left hand, the others close under the melody
drop 2           the second voice of a close chord under the melody, an octave lower in the
                 left hand; its root is the lowest voice, or a bass struck before

The last two are for both hands: they stand under a melody note of a beat or more that comes
with the chord, which is their top voice; where none does, a texture of the left hand stands in.
Which one is used depends on level, tempo and section, so that a section has its own and a
phrase keeps it; all common practice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass

from fillwright.arranging.figures import LINES
from fillwright.arranging.sections import (
    Section,
    phrases_of,
    quiet_of,
    section_at,
    sections_of,
)
from fillwright.exact import Fraction
from fillwright.fills.player import Player
from fillwright.fills.tempo import Tempo
from fillwright.tune.model import Chorus

__all__ = ["STAND_INS", "BasePlan", "base_plan", "texture_at"]

_MOVE_SECONDS = 0.33
"""A felt beat this long lets the left hand strike a bass and move up (common practice)."""
_FAST_PHRASES = 2
"""After so many phrases a fast bass changes its pace (common practice: eight bars in two)."""

STAND_INS: Mapping[str, tuple[str, ...]] = {
    "spread": ("bass and chord", "broken shells", "shells"),
    "drop 2": ("broken shells", "bass and chord", "shells"),
    "bass and chord": ("broken shells", "shells"),
    "broken tenths": ("broken shells", "shells"),
    "two-feel": ("broken shells", "shells"),
    "walking bass": ("two-feel", "broken shells", "shells"),
    "broken shells": ("shells",),
    "shells": (),
}
"""What is played where a texture cannot do what a chord asks for, the nearest one first."""


@dataclass(frozen=True, slots=True)
class BasePlan:
    """What is known of a chorus before a note is set between its fills.

    sections         of the form
    phrases          where phrases of four bars begin, counted in each section
    fuller_quarter   from where the texture is a step thicker; None for nowhere
    quiet            where it draws back to chords that are held under the melody alone: from a
                     place to another; None for nowhere
    ends             whether the music ends with it; not bars that were cut out of a chorus
    """

    chorus: Chorus
    player: Player
    sections: tuple[Section, ...]
    phrases: tuple[Fraction, ...]
    fuller_quarter: Fraction | None = None
    quiet: tuple[Fraction, Fraction] | None = None
    ends: bool = True

    def closes_at(self, end_quarter: Fraction) -> bool:
        """Whether what lasts so long is the last that is heard."""
        return self.ends and end_quarter >= self.chorus.length_quarter

    def is_quiet(self, onset_quarter: Fraction) -> bool:
        return self.quiet is not None and self.quiet[0] <= onset_quarter < self.quiet[1]

    def phrase_at(self, onset_quarter: Fraction) -> int:
        """The phrase a place lies in, by its number in the chorus."""
        return bisect_right(self.phrases, onset_quarter)

    def is_fuller(self, onset_quarter: Fraction) -> bool:
        return self.fuller_quarter is not None and onset_quarter >= self.fuller_quarter

    def under(self, onset_quarter: Fraction) -> int:
        """How many harmony notes the right hand has under the melody, at most."""
        first = self.player.level.base.under
        section = section_at(self.sections, onset_quarter)
        later = bool(first) and (section.contrast or section.times > 0)
        most = 1 if self.is_quiet(onset_quarter) else 3
        return min(first + later + self.is_fuller(onset_quarter), most)


def base_plan(chorus: Chorus, player: Player, fuller_quarter: Fraction | None = None,
              ends: bool = True) -> BasePlan:
    """fuller_quarter   where a second chorus, or the last section, is to be a step thicker
    ends             see `BasePlan`
    """
    sections = sections_of(chorus)
    return BasePlan(chorus, player, sections, phrases_of(chorus, sections), fuller_quarter,
                    quiet_of(chorus), ends)


def texture_at(plan: BasePlan, onset_quarter: Fraction, duration_quarter: Fraction) -> str:
    """The texture for a chord that lies there and lasts so long.

    Where it is to be fuller, a section sounds as it would one time later.
    """
    chorus, base = plan.chorus, plan.player.level.base
    taste = base.textures
    bar = chorus.bar_at(onset_quarter)
    beat = bar.meter.beat_quarter
    pace = chorus.seconds_per_quarter * float(beat)
    tempo = Tempo.of(chorus.quarters_per_minute / beat, bar.meter)
    if duration_quarter < base.parted_beats * beat or plan.is_quiet(onset_quarter):
        return "shells"
    section = section_at(plan.sections, bar.onset_quarter)
    times = section.times + plan.is_fuller(onset_quarter)
    if tempo is Tempo.FAST or (pace < _MOVE_SECONDS and taste.soon_fast):
        again = plan.is_fuller(onset_quarter) or (
            plan.phrase_at(bar.onset_quarter) - 1) // _FAST_PHRASES % 2
        wanted = taste.fast_again if again and chorus.feel == "swing" else taste.fast
    elif tempo is Tempo.BALLAD:
        wanted = (taste.ballad_contrast if section.contrast else taste.ballad)[min(times, 1)]
    else:
        wanted = taste.contrast if section.contrast else taste.home[min(times, 2)]
    if wanted in LINES and bar.meter.beats != 4:
        return "shells" if tempo is Tempo.FAST else taste.in_three
    return wanted
