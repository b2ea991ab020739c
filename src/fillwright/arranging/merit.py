"""What a fill costs by itself where it stands in a chorus, and what it costs to leave a gap open.

`choose` weighs these costs on its path, together with what one fill is worth after another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from fillwright.arranging.air import sunk_quarter
from fillwright.arranging.ending import stands_low
from fillwright.arranging.story import Story
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES, Fill
from fillwright.fills.place import is_height
from fillwright.fills.tempo import Tempo
from fillwright.tune.model import Chorus, Gap

__all__ = ["EASE", "MERITS", "STRAINED", "STRAINED_EASE", "Setting", "Wishes", "fill_costs",
           "is_late", "is_tied_in_layers", "open_cost"]

MERITS: Mapping[str, int] = {
    # Units as in `choose`: one step down the ranking of a family costs 4. All common practice.
    "open": 16,            # a gap left open that could be filled
    "open late": 6,        # on top of it, in the second half: fuller later
    "open long": 4,        # on top of it, per beat of the gap beyond four: a hole, not air
    "early air": 2,        # less of it in the first third, per step of `Wishes.lift`
    "unstated": 12,        # a phrase that comes again left open the first time: nothing comes back
    "height": -24,         # at that place what was asked for as a shout
    "no shout": 50,        # the place that is to be the fullest left open
    "open at the end": 40,  # a tune does not stop on a melody note over a bare left hand
    "breath": 18,          # the right hand plays where the chorus is to breathe
    "not quiet": 50,       # anything is played in a gap where the chorus draws back
    "breath left open": 2,  # there: the left hand does not move under the tune either
    "arc": 3,              # per step of fullness away from the plan
    "shout": 9,            # the same at the one place that is to be the fullest
    "line at the end": 14,  # a tune closes on chords; a line leaves it in the air
    "tied layers": 48,     # both hands strike with a held note between beats: ties in three layers
    "late home": 24,       # the last chord comes with less than two quarters left
    "no event": 12,        # the tune ends on what is struck with its last note, and nothing after
    "no low root": 10,     # the tune ends without its tonic low down
    "hollow": 30,          # for more than a beat nothing for two octaves under the tune's note
    "rung": 10,            # the key that the tune comes back with is down until it does
    "high": 5,             # per stroke of the right hand far above the tune
    "handful": 6,          # per stroke of five keys in one hand
    "strain": 1,           # per point of difficulty beyond `EASE` of the limit, times `strain`
}

LET_GO: Mapping[Tempo, tuple[int, int]] = {
    # Per beat of the held note that is not heard, two at most; and once where a note of two
    # beats or more is not heard for longer than one. A slow note sings (common practice).
    Tempo.BALLAD: (5, 12),
    Tempo.SLOW: (3, 8),
    Tempo.MEDIUM: (1, 1),
    Tempo.FAST: (0, 0),
}

EASE = 0.6
"""A fill up to this share of the greatest difficulty of a level is no strain: the melody
around it has its own."""

STRAINED, STRAINED_EASE = 9, 0.5
"""From so much `Wishes.strain` on nothing but ease is looked for, and less of it is no strain."""

LIFT = 0.6
"""By so much one step of `Wishes.lift` lowers the first and raises the last gap's aim."""

_FAR_ABOVE = 4
"""Semitones above the highest note of the tune; higher strokes leave its room."""

_HANDFUL = 5

_EVENT_BEATS, _EVENT_STROKES = 2, 4
"""A last gesture is heard as one if it comes so many beats after the tune's last note, half of what
is left where that is less, or has so many strokes (design choices)."""

_EVEN = dict.fromkeys(FAMILIES, 1)


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a whole choice is asked to be.

    mix              family -> weight; a family with weight 0 is not used
    strain           how much easy fills are preferred, 0 for not at all
    limit            the greatest difficulty of the level
    lift             how much steeper than planned the chorus is to rise
    same_each_time   a phrase that comes again keeps its fill, note for note
    """

    mix: Mapping[str, int] = field(default_factory=lambda: dict(_EVEN))
    strain: int = 0
    limit: int = 100
    lift: int = 0
    same_each_time: bool = False


@dataclass(frozen=True, slots=True)
class Setting:
    """The chorus that fills are weighed for.

    top       MIDI number of the highest melody note
    stating   the gaps where a phrase that comes again comes first
    """

    chorus: Chorus
    story: Story
    wishes: Wishes
    tempo: Tempo
    top: int
    stating: frozenset[int]

    @staticmethod
    def of(story: Story, wishes: Wishes) -> Setting:
        chorus = story.chorus
        return Setting(chorus, story, wishes, Tempo.of_chorus(chorus),
                       max((n.midi for n in chorus.melody), default=127),
                       frozenset(story.returns.values()) - frozenset(story.returns))

    def aim(self, gap: Gap) -> float:
        """The fullness a gap aims at, with the lift that was asked for."""
        way = float(gap.onset_quarter / self.chorus.length_quarter)
        return self.story.fullness[gap.number] + self.wishes.lift * LIFT * (2 * way - 1)

    def breathes(self, gap: Gap) -> bool:
        """Whether a gap is to be left to the tune; where fills are too hard, they are what is
        left out."""
        return gap.number in self.story.breaths and not self.wishes.strain

    def draws_back(self, gap: Gap) -> bool:
        """Whether a gap is to be silent because the chorus draws back there."""
        quiet = self.story.quiet
        return (quiet is not None and quiet[0] <= gap.onset_quarter < quiet[1]
                and gap.number in self.story.breaths)

    @property
    def only_ease(self) -> bool:
        """Whether nothing but ease is looked for: what is easy may cut the tune's note."""
        return self.wishes.strain >= STRAINED

    def strain(self, fill: Fill) -> int:
        ease = STRAINED_EASE if self.only_ease else EASE
        return MERITS["strain"] * self.wishes.strain * max(
            fill.difficulty - round(ease * self.wishes.limit), 0)


def fill_costs(setting: Setting, gap: Gap, fill: Fill) -> dict[str, int]:
    """What a fill costs in its gap, by term."""
    answers = any(n.hand == "right" for n in fill.notes)
    peak = gap.number == setting.story.peak
    return {
        "page": _page(setting, gap, fill),
        "strain": setting.strain(fill),
        "end": _at_the_end(fill, gap) if gap.landing is None else 0,
        "arc": round(MERITS["shout" if peak else "arc"]
                     * abs((_loud if peak else _fullness)(fill, gap) - setting.aim(gap))),
        "breath": MERITS["breath"] * (answers and setting.breathes(gap)),
        "quiet": MERITS["not quiet"] * setting.draws_back(gap),
        "height": MERITS["height"] * is_height(fill.id),
        "let go": _let_go(setting, gap, fill),
        "hollow": MERITS["hollow"] * _is_hollow(setting, gap, fill),
        "rung": MERITS["rung"] * _rings_landing(gap, fill),
        "hand": _hand(setting, gap, fill),
    }


def _page(setting: Setting, gap: Gap, fill: Fill) -> int:
    """What a page of ties costs, half of it where nothing but ease is looked for."""
    cost = MERITS["tied layers"] if is_tied_in_layers(fill, gap) else 0
    return cost // 2 if setting.only_ease else cost


def open_cost(setting: Setting, gap: Gap) -> int:
    """What it costs to leave a gap open that could be filled."""
    length = setting.chorus.length_quarter
    if setting.breathes(gap):
        return MERITS["breath left open"]
    late = 2 * gap.onset_quarter > length
    early = 3 * gap.onset_quarter < length
    cost = MERITS["open"] + (MERITS["open late"] if late else 0)
    cost -= MERITS["early air"] * setting.wishes.lift if early else 0
    cost += MERITS["open long"] * max(int(gap.beats) - 4, 0)
    cost += MERITS["unstated"] if gap.number in setting.stating else 0
    cost += MERITS["no shout"] if gap.number == setting.story.peak else 0
    if gap.landing is None:  # however hard it is: what is easiest closes the tune
        cost += MERITS["open at the end"] * (1 + setting.wishes.strain)
    return cost


def is_late(fill: Fill, gap: Gap) -> bool:
    """Whether the melody has to wait for a fill."""
    return fill.shift is not None and fill.shift.landing_quarter > gap.end_quarter


def is_tied_in_layers(fill: Fill, gap: Gap) -> bool:
    """Whether the page has ties on the melody, under it and in the left hand at once."""
    return gap.held is not None and gap.beat.denominator != 1 and len(
        {n.hand for n in fill.notes if n.onset_quarter == gap.onset_quarter}) == 2


def _fullness(fill: Fill, gap: Gap) -> int:
    """Onsets a beat in quarters of a beat's worth: 0 (air) to 8 (busy)."""
    onsets = len({n.onset_quarter for n in fill.notes})
    return min(8, round(3 * onsets / max(float(gap.beats), 1.0)))


def _loud(fill: Fill, gap: Gap) -> int:
    """Keys a beat, 8 at most: at the high point full chords count, not many notes."""
    return min(8, round(len(fill.notes) / max(float(gap.beats), 1.0)))


def _let_go(setting: Setting, gap: Gap, fill: Fill) -> int:
    """What the tune loses where its own note is cut for a fill."""
    held = gap.held
    if held is None or setting.only_ease:
        return 0
    beat = setting.chorus.bar_at(gap.onset_quarter).meter.beat_quarter
    heard = (min(fill.held_end.until_quarter, held.end_quarter) - held.onset_quarter) / beat
    length = held.duration_quarter / beat
    per_beat, cut = LET_GO[setting.tempo]
    cost = int(per_beat * min(length - heard, Fraction(2)))
    return cost + (cut if length >= 2 and heard <= 1 else 0)


def _is_hollow(setting: Setting, gap: Gap, fill: Fill) -> bool:
    """Whether the tune's note is left alone two octaves above what is under it for more than a
    beat."""
    held = gap.held
    if held is None:
        return False
    beat = setting.chorus.bar_at(gap.onset_quarter).meter.beat_quarter
    end = min(fill.held_end.until_quarter, held.end_quarter)
    under = [(n.onset_quarter, n.end_quarter, n.midi) for n in fill.notes if n.midi < held.midi]
    return sunk_quarter(under, held.midi, held.onset_quarter, end) > beat


def _rings_landing(gap: Gap, fill: Fill) -> bool:
    """Whether the landing's own key is held down until the tune strikes it."""
    if gap.landing is None:
        return False
    place = gap.end_quarter if fill.shift is None else min(
        gap.end_quarter, fill.shift.landing_quarter)
    return any(n.midi == gap.landing.midi and n.onset_quarter < place <= n.end_quarter
               for n in fill.notes)


def _hand(setting: Setting, gap: Gap, fill: Fill) -> int:
    """Strokes far above the tune, and strokes that take all five fingers of a hand, the one on
    the tune's note counted in."""
    keys = Counter((n.onset_quarter, n.hand) for n in fill.notes)
    if gap.held is not None:
        end = fill.held_end.key_until(gap.onset_quarter, (
            n.onset_quarter for n in fill.notes if n.hand == "right"))
        keys.update({place: 1 for place in keys if place[1] == "right" and place[0] < end})
    high = {n.onset_quarter for n in fill.notes
            if n.hand == "right" and n.midi > setting.top + _FAR_ABOVE}
    return MERITS["high"] * len(high) + MERITS["handful"] * sum(
        count >= _HANDFUL for count in keys.values())


def _at_the_end(fill: Fill, gap: Gap) -> int:
    """What it costs to end a tune with a fill."""
    cost = MERITS["line at the end"] if fill.family == "line" else 0
    if len(fill.chords) > 1 and fill.chords[-1].duration_quarter < 2:
        cost += MERITS["late home"]
    if not stands_low(fill):
        cost += MERITS["no low root"]
    strokes = {n.onset_quarter for n in fill.notes}
    late = max(strokes) >= gap.onset_quarter + min(_EVENT_BEATS / gap.beats, Fraction(1, 2)) * (
        gap.duration_quarter)
    return cost + MERITS["no event"] * (not late and len(strokes) < _EVENT_STROKES)
