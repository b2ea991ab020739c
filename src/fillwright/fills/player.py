"""The player: what a level is given and what a hand is spared, all of it on this page.

A `Level` and a `HandSize` are values. Whoever needs a number or a choice that depends on
them reads a field here; no other module compares the name of a level with a word. Fields are
grouped by who reads them. What a device asks of a player (the lowest level it is taught at, what
it costs to offer it there) stands with the device, as a `Level` too; so do the ways in which the
hands are laid out for a reharmonization (`STYLES` of `devices/reharm/hands.py`).

Numbers are design choices within common practice unless a line says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.hands.model import HAND_SIZES, LEVELS

__all__ = ["ADVANCED", "ALL_LEVELS", "BEGINNER", "INTERMEDIATE", "LARGE", "MEDIUM", "RHYTHM_STYLES",
           "SMALL", "BaseTaste", "CompTaste", "HandSize", "Level", "LineTaste", "Palette", "Player",
           "ReharmTaste", "RhythmTaste", "TextureTaste", "VoicingTaste", "hand_of", "level_of",
           "player_of"]


class Palette(IntEnum):
    """Which tensions are played over a chord."""

    NAMED = 0
    """What the symbol names."""
    USUAL = 1
    """The plain ninth and thirteenth too, or the flat ones where the function asks for them."""
    EVERY = 2
    """All that are available."""


_OCTAVE = 12
_EASE_SHARES = (25, 50, 75, 90)
"""Up to how many hundredths of the level's greatest difficulty a fill is very easy, easy, about
right, demanding for it; above, it is hard (common practice: what fills nine tenths of what a player
can do is hard)."""


@dataclass(frozen=True, slots=True)
class VoicingTaste:
    """Which voicings a level has in its hands.

    palette         the tensions
    rootless        those of rootless forms
    wide_left       shells 1-5-7, tenths, spreads and octaves in the left hand
    full_octaves    an octave filled with inner notes in the right hand
    free_forms      clusters, upper structures beyond the own palette, tensions on top of a
                    diminished chord, thirteenth and fifth in turn between the guide tones
    grip            semitones the right hand spans at most while it keeps the held note: with
                    one key under it, and with more
    """

    palette: Palette
    rootless: Palette
    wide_left: bool = True
    full_octaves: bool = True
    free_forms: bool = False
    grip: tuple[int, int] = (14, 12)

    def grips(self, keys: int, semitones: int, left_keys: int = 2) -> bool:
        """May the right hand span so many semitones with so many keys, the held note's among them,
        while the left hand has `left_keys`? A hand with one key or none takes a share of what goes
        beyond an octave (common practice)."""
        return semitones <= (self.grip[keys > 2] if left_keys > 1 else _OCTAVE)


@dataclass(frozen=True, slots=True)
class RhythmTaste:
    """How a level comps in time; `density` and `pull` by `RHYTHM_STYLES`.

    density       hits a felt beat from the first place allowed, in hundredths
    pull          least and greatest syncopation a bar
    bar_hits      the most hits a bar
    neighbours    two hits may stand on neighbouring eighths
    push          what a push costs (a negative cost asks for it)
    """

    density: Mapping[str, int]
    pull: Mapping[str, tuple[int, int]]
    bar_hits: int
    neighbours: bool
    push: int


@dataclass(frozen=True, slots=True)
class CompTaste:
    """How a level comps.

    waits_for_bar   the harmony under a melody note that came early waits for the bar line
    strict          a standing top line, a chord struck again and one without its colour have
                    their full cost; the left hand alone tells what the symbol names
    colour_share    the part of a missing colour's cost that is paid: one in so many
    bare            cost of a fill that sounds nothing but triads
    third_time      cost of a chord's third time and every time after it, the keys the same
    alters          plain dominants that go home may be altered
    bare_landing    the landing's chord, taken early, may stand without its root
    shells_last     plain shells only when nothing richer fits
    rolls           chords may be rolled again and again where there is time
    left_alone      the left hand may play alone where no melody note is held
    stride          semitones from a low root to the middle of a chord a beat later at most
    travel          semitones a second that the right hand goes at most from the melody to a chord,
                    and back
    jump            semitones that it goes there or back within a beat at most
    shouts          at the high point of a chorus both hands may have full chords, once those of
                    the level above too, as far as they are not too hard
    """

    waits_for_bar: bool = False
    strict: bool = True
    colour_share: int = 1
    bare: int = 3
    third_time: int = 24
    alters: bool = False
    bare_landing: bool = False
    shells_last: bool = False
    rolls: bool = False
    left_alone: bool = False
    stride: int = 20
    travel: int = 80
    jump: int = 17
    shouts: bool = True


@dataclass(frozen=True, slots=True)
class ReharmTaste:
    """How a level reharmonizes.

    least_chord_sec    the shortest a passing chord may last (see also `Situation.is_fast`)
    first_beats        felt beats the first chord of several lasts at least
    least_broken_sec   the shortest eighth of a broken chord: skips of thirds to sixths
    broken_patterns    how many groups of patterns for broken chords are known, of three
    off_beats          chords may change off the beat: pushed, or in a ballad's two beats
    pedal              the pedal may keep the held note while the hand plays under it
    touches            the hands may push and answer each other
    turns_styles       the two first ways of laying out the hands take turns
    tells_all          seventh and alterations of an added chord must be heard, not only its
                       third and altered fifth
    wants_colour       a chord without a tension costs
    both_hands         what the left hand plays alone stands back
    fare               what plain, usual and rich moves cost, in tenths of a natural logarithm
    own_fare           percent of that for what the tune itself does in such a place, which is never
                       too plain for those who learn it
    surprise           percent of the surprise of a progression that is felt
    chord_beats        felt beats for each added chord at a medium tempo
    most_chords        added chords between two of the sheet that are wished for, at most; each one
                       more costs
    too_few            what each added chord costs that the whole gap would have room for
    chains             single chords may follow each other, each by a move of its own
    """

    least_chord_sec: float
    least_broken_sec: float
    broken_patterns: int
    fare: tuple[int, int, int]
    surprise: int
    chord_beats: Fraction
    most_chords: int
    too_few: int = 20
    own_fare: int = 0
    chains: bool = True
    first_beats: Fraction = Fraction(1, 2)
    off_beats: bool = True
    pedal: bool = True
    touches: bool = True
    turns_styles: bool = True
    tells_all: bool = True
    wants_colour: bool = False
    both_hands: bool = False


@dataclass(frozen=True, slots=True)
class TextureTaste:
    """Left-hand textures between the fills, by names of `arranging.textures`.

    home               in a section heard for the first, the second, a later time
    contrast           in the section that contrasts
    ballad             in a ballad: in a section heard for the first time, and again
    ballad_contrast    there, in the section that contrasts
    fast               where it is fast
    in_three           instead of a two-feel where the bar has no four beats
    fast_again         there, in every other eight bars and where it is fuller, if it swings
    soon_fast          it counts as fast where there is no time to strike a bass and move up
    """

    home: tuple[str, str, str]
    contrast: str
    ballad: tuple[str, str]
    ballad_contrast: tuple[str, str]
    fast: str = "two-feel"
    fast_again: str = "two-feel"
    in_three: str = "broken tenths"
    soon_fast: bool = False


@dataclass(frozen=True, slots=True)
class BaseTaste:
    """What a level plays between the fills.

    register       MIDI number around which the left hand's lowest note lies
    lowest         the lowest key of the left hand
    under          harmony notes under the melody in the first section; later ones, and a
                   second chorus, have one more
    spares_small   a small hand has no three-note shells through a whole chorus
    parted_beats   felt beats a chord lasts at least to be struck in parts
    """

    register: int
    lowest: int
    under: int
    textures: TextureTaste
    parted_beats: int = 2
    spares_small: bool = False


@dataclass(frozen=True, slots=True)
class LineTaste:
    """What a level plays in a line.

    rate          strokes a second at most (the 95th percentile of solos is 10.2 in windows of
                  16 notes, Weimar Jazz Database; the lower levels are common practice)
    least_sec     least time between two strokes (median of solos 0.141 s, lowest quarter 0.100)
    divisions     into how many parts a beat is divided; in a ballad `slow_divisions`
    typical       how much the usual rhythm is preferred: learnt costs times this, in hundredths
    wait, air     what a beat of silence costs before the line and after it, hundredths of a bit
    range_semitones   a line spans at most (solos span 28 in all, a phrase far less)
    lively        how much triplets and sixteenths are preferred, hundredths of a bit: what is short
                  enough for a fill is full of them else
    plain         on beats only what the symbol names; nothing foreign; the chord's third is
                  heard; the hand stays in its place
    foreign       foreign notes lead into chord tones
    alters        dominants that go home are altered
    rich_left     the left hand under it has the third and seventh, and rootless voicings too
    taught_first  so much less is an idea worth that beginners are taught
    least_notes   a line of fewer notes costs more (see `found`); 0 where none does
    seeds         ideas tried for one gap
    """

    rate: int
    least_sec: float
    divisions: tuple[int, ...]
    slow_divisions: tuple[int, ...]
    typical: int
    wait: int
    air: int
    range_semitones: int
    lively: int
    seeds: int
    plain: bool = False
    foreign: bool = True
    alters: bool = False
    rich_left: bool = False
    taught_first: int = 0
    least_notes: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """A level of skill. Hashed by its name, so that what is remembered by level is found
    quickly.

    rank          0 for the lowest
    difficulty    least and greatest difficulty (see `hands.difficulty`); the least is what it
                  takes not to bore
    keys          struck at once at most: by the right hand (by both, where it keeps a note), by the
                  left, and in all, as the tables of the devices have it (`Texture.voices`,
                  `Texture.levels`); None where only the hands set a limit
    all_fingers   every finger is printed, where nobody says which are
    """

    name: str
    rank: int
    difficulty: tuple[int, int]
    voicing: VoicingTaste
    rhythm: RhythmTaste
    comp: CompTaste
    reharm: ReharmTaste
    line: LineTaste
    base: BaseTaste
    keys: tuple[int, int, int] | None = None
    all_fingers: bool = False

    def __post_init__(self) -> None:
        least, most = self.difficulty
        if not 0 <= least < most <= 100:
            raise ValueError(f"no level: {self.name!r}")

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        return isinstance(other, Level) and all(
            getattr(self, name) == getattr(other, name) for name in Level.__slots__)

    def __hash__(self) -> int:
        return hash(self.name)

    def __repr__(self) -> str:
        return f"<level {self.name}>"

    def __str__(self) -> str:
        return self.name

    def __reduce__(self) -> tuple[object, tuple[str]]:
        """A level goes to another process by its name."""
        return level_of, (self.name,)

    def ease(self, difficulty: int) -> int:
        """How hard a fill is for a player of this level: 0 very easy, 1 easy, 2 about right,
        3 demanding, 4 hard."""
        return sum(100 * difficulty > share * self.difficulty[1] for share in _EASE_SHARES)

    @property
    def with_article(self) -> str:
        """
        >>> ADVANCED.with_article
        'an advanced'
        """
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    @property
    def at_ease(self) -> int:
        """The difficulty up to which an option is not far harder than the others of a level: what
        is, stands back behind them.

        >>> BEGINNER.at_ease, ADVANCED.at_ease
        (28, 75)
        """
        return self.difficulty[1] * 3 // 4

    def is_taught(self, lowest: Level) -> bool:
        """Whether what is taught from the level `lowest` on is taught at this one."""
        return lowest.rank <= self.rank


@dataclass(frozen=True, slots=True)
class HandSize:
    """What a hand is spared or given beyond its spans, which stand in `hands.reach`.

    spared    chords of three keys again and again tire it
    tenths    it strikes tenths and octaves with inner notes at ease
    """

    name: str
    spared: bool = False
    tenths: bool = False

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Player:
    """Who plays: a level and a hand."""

    level: Level
    hand: HandSize

    @property
    def most_base_keys(self) -> int:
        """Keys of the left hand's chords between the fills."""
        return 2 if self.level.base.spares_small and self.hand.spared else 4


RHYTHM_STYLES = ("ballad", "medium", "fast", "waltz", "fast waltz", "straight", "compound")
"""The styles of comping, of which `rhythm.grid.style_of` gives a gap its own."""


def _by_style(*numbers: int) -> Mapping[str, int]:
    return MappingProxyType(dict(zip(RHYTHM_STYLES, numbers, strict=True)))


BEGINNER = Level(
    "beginner", 0, difficulty=(0, 38),
    voicing=VoicingTaste(Palette.NAMED, Palette.USUAL, wide_left=False, full_octaves=False,
                         grip=(12, 12)),
    rhythm=RhythmTaste(
        density=_by_style(50, 45, 28, 45, 35, 50, 55),
        pull=MappingProxyType({"ballad": (0, 0), "medium": (0, 3), "fast": (0, 3),
                               "waltz": (0, 2), "fast waltz": (0, 2), "straight": (0, 4),
                               "compound": (0, 3)}),
        bar_hits=2, neighbours=False, push=2),
    comp=CompTaste(waits_for_bar=True, strict=False, colour_share=4, bare=0, third_time=4,
                   left_alone=True, stride=14, travel=20, jump=14, shouts=False),
    reharm=ReharmTaste(least_chord_sec=0.37, least_broken_sec=0.3, broken_patterns=1,
                       fare=(0, 20, 40), surprise=110, chord_beats=Fraction(5, 2), most_chords=3,
                       chains=False, first_beats=Fraction(3, 4), off_beats=False, pedal=False,
                       touches=False, turns_styles=False, tells_all=False),
    line=LineTaste(rate=4, least_sec=0.19, divisions=(2,), slow_divisions=(2,), typical=130,
                   wait=200, air=100, range_semitones=14, lively=0, seeds=30, plain=True,
                   foreign=False),
    base=BaseTaste(
        register=48, lowest=41, under=0, spares_small=True,
        textures=TextureTaste(
            home=("shells", "broken shells", "broken shells"), contrast="two-feel",
            ballad=("shells", "broken shells"),
            ballad_contrast=("broken shells", "broken shells"),
            fast="shells", fast_again="shells", in_three="shells")),
    keys=(2, 3, 4), all_fingers=True,
)

INTERMEDIATE = Level(
    "intermediate", 1, difficulty=(16, 64),
    voicing=VoicingTaste(Palette.USUAL, Palette.USUAL),
    rhythm=RhythmTaste(
        density=_by_style(55, 65, 36, 60, 36, 70, 75),
        pull=MappingProxyType({"ballad": (0, 1), "medium": (2, 6), "fast": (2, 5),
                               "waltz": (1, 4), "fast waltz": (0, 3), "straight": (1, 6),
                               "compound": (1, 4)}),
        bar_hits=3, neighbours=True, push=-2),
    comp=CompTaste(),
    reharm=ReharmTaste(least_chord_sec=0.33, least_broken_sec=0.22, broken_patterns=2,
                       fare=(42, 0, 58), surprise=90, chord_beats=Fraction(2), most_chords=4),
    line=LineTaste(rate=7, least_sec=0.11, divisions=(2, 3), slow_divisions=(2, 3, 4),
                   typical=110, wait=150, air=60, range_semitones=19, lively=-20, seeds=36),
    base=BaseTaste(
        register=46, lowest=38, under=1,
        textures=TextureTaste(
            home=("broken shells", "bass and chord", "bass and chord"), contrast="two-feel",
            ballad=("broken tenths", "bass and chord"),
            ballad_contrast=("spread", "broken shells"))),
    keys=(4, 4, 6),
)

ADVANCED = Level(
    "advanced", 2, difficulty=(26, 100),
    voicing=VoicingTaste(Palette.EVERY, Palette.EVERY, free_forms=True, grip=(16, 14)),
    rhythm=RhythmTaste(
        density=_by_style(65, 85, 46, 75, 44, 90, 95),
        pull=MappingProxyType({"ballad": (0, 2), "medium": (3, 8), "fast": (2, 6),
                               "waltz": (1, 5), "fast waltz": (0, 3), "straight": (2, 8),
                               "compound": (1, 6)}),
        bar_hits=4, neighbours=True, push=-2),
    comp=CompTaste(bare=16, alters=True, bare_landing=True, shells_last=True, rolls=True,
                   stride=24, jump=21),
    reharm=ReharmTaste(least_chord_sec=0.28, least_broken_sec=0.2, broken_patterns=3,
                       fare=(70, 56, 0), own_fare=50, surprise=68,
                       chord_beats=Fraction(3, 2), most_chords=5, too_few=30,
                       wants_colour=True, both_hands=True),
    line=LineTaste(rate=10, least_sec=0.075, divisions=(2, 3, 4), slow_divisions=(2, 3, 4),
                   typical=100, wait=150, air=60, range_semitones=24, lively=-45, seeds=42,
                   alters=True, rich_left=True, taught_first=4, least_notes=3),
    base=BaseTaste(
        register=43, lowest=34, under=2,
        textures=TextureTaste(
            home=("bass and chord", "two-feel", "spread"), contrast="drop 2",
            ballad=("broken tenths", "spread"), ballad_contrast=("drop 2", "drop 2"),
            fast_again="walking bass", soon_fast=True)),
)

ALL_LEVELS = (BEGINNER, INTERMEDIATE, ADVANCED)

SMALL = HandSize("small", spared=True)
MEDIUM = HandSize("medium")
LARGE = HandSize("large", tenths=True)
_HANDS = (SMALL, MEDIUM, LARGE)


def level_of(name: str) -> Level:
    """The level of that name.

    Raises InputError where there is none.

    >>> level_of("beginner").rhythm.bar_hits
    2
    """
    for level in ALL_LEVELS:
        if level.name == name:
            return level
    raise InputError(f"{name!r} is no level; there are {', '.join(LEVELS[:-1])} and {LEVELS[-1]}")


def hand_of(name: str) -> HandSize:
    """The hand of that name. Raises InputError where there is none."""
    for hand in _HANDS:
        if hand.name == name:
            return hand
    raise InputError(
        f"{name!r} is no hand; there are {', '.join(HAND_SIZES[:-1])} and {HAND_SIZES[-1]}")


@lru_cache(maxsize=16)
def player_of(level: str, hand: str) -> Player:
    """The player that the names stand for, as the command line, JSON and the page have them.

    Raises InputError where there is no such level or hand.
    """
    return Player(level_of(level), hand_of(hand))
