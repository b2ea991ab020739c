"""What the left hand may play over one chord between the fills: keys and their places.

A figure is keys and rhythm together, so that one search weighs both. Each texture of
`textures` makes its own; they follow the voicings of comping. All common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

from fillwright.exact import Fraction
from fillwright.fills.player import Player
from fillwright.fills.voicing.voicings import left_hand_voicings, two_hand_voicings
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import MUD, RUB
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Interval, NoteName, Pitch, nearest_pitch

__all__ = ["LINES", "Figure", "FigurePlace", "Struck", "figures", "last_resorts"]

LINES = ("two-feel", "walking bass")
"""Textures that are bass lines."""

_NOW = Fraction(0)
_MOST_UPPERS = 12
"""Rootless chords over a bass that are looked at, in the order of `left_hand_voicings`."""

_MOST_WALKS = 32
"""Walking bars that are weighed for one chord, the smoothest."""

_BOTTOMS = (38, 50)
"""Roots lie about D2 or D3."""


@dataclass(frozen=True, slots=True)
class Struck:
    """A key of a figure; its place counts from the beginning of the chord."""

    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter


@dataclass(frozen=True, slots=True)
class Figure:
    """What the left hand plays over one chord, in the order of striking.

    under      what the right hand strikes with it under the melody note that begins there
    leads_on   its last note is none of the chord's: it goes by step to the next bass
    midis      the left hand's keys
    rhythm     (place, length) of each key
    """

    struck: tuple[Struck, ...]
    texture: str
    under: tuple[Pitch, ...] = ()
    leads_on: bool = False
    midis: tuple[int, ...] = field(init=False, compare=False)
    rhythm: tuple[tuple[Fraction, Fraction], ...] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "midis", tuple(s.pitch.midi for s in self.struck))
        object.__setattr__(self, "rhythm", tuple(
            (s.onset_quarter, s.duration_quarter) for s in self.struck))

    @property
    def all_midis(self) -> tuple[int, ...]:
        """Both hands', without the melody."""
        return (*self.midis, *(p.midi for p in self.under))

    @property
    def steps(self) -> tuple[int, ...]:
        """Semitones of each key above the first."""
        return tuple(midi - self.midis[0] for midi in self.midis)

    @property
    def strokes(self) -> tuple[tuple[Fraction, tuple[int, ...]], ...]:
        """Each place with the keys that are struck there."""
        found: dict[Fraction, list[int]] = {}
        for struck, midi in zip(self.struck, self.midis, strict=True):
            found.setdefault(struck.onset_quarter, []).append(midi)
        return tuple((place, tuple(keys)) for place, keys in sorted(found.items()))

    @property
    def is_line(self) -> bool:
        """Whether it is a bass line: single keys, each let go for the next."""
        return self.texture in LINES

    @property
    def together(self) -> tuple[tuple[int, ...], ...]:
        """Keys that are heard at once. A bass line is heard note by note; whatever else is
        struck one after the other rings on, by the hand or by the pedal."""
        if self.is_line:
            return tuple((midi,) for midi in self.midis)
        return (self.midis,)


@dataclass(frozen=True, slots=True)
class FigurePlace:
    """Where a figure is wanted.

    low, ceiling   the left hand's keys lie from the one up to below the other
    top            the melody's key where it begins with the chord and lasts a beat; None else
    coming         the bass of the chord after this one, where it is another one
    goes_on        the chord is the one before: the bass may stand on another tone of it
    """

    harmony: Harmony
    duration_quarter: Fraction
    beat_quarter: Fraction
    player: Player
    low: int
    ceiling: int
    top: int | None = None
    coming: NoteName | None = None
    goes_on: bool = False

    @property
    def beats(self) -> Fraction:
        return self.duration_quarter / self.beat_quarter

    @property
    def half_beat(self) -> Fraction:
        """Half a beat, or a third of a dotted one."""
        return self.beat_quarter / (2 if self.beat_quarter == 1 else 3)

    @property
    def bass(self) -> NoteName:
        bass = self.harmony.symbol.lowest
        assert bass is not None  # a harmony always has a root
        return bass

    def name_of(self, degree: str | None) -> NoteName | None:
        return None if degree is None else self.harmony.symbol.name_of(degree)

    def roots(self) -> list[Pitch]:
        return [root for centre in _BOTTOMS
                if self.low <= (root := nearest_pitch(self.bass, centre)).midi < self.ceiling]


def figures(place: FigurePlace, texture: str) -> list[Figure]:
    """All figures of a texture; none where the place has no room for it."""
    return list(dict.fromkeys(_MAKERS[texture](place)))


def last_resorts(place: FigurePlace) -> list[Figure]:
    """Where nothing else can stand: the root alone, as low as it takes; a shell without its
    root, where that one rubs."""
    roots = place.roots() or [nearest_pitch(place.bass, min(place.low, place.ceiling - 6))]
    rows: list[tuple[Pitch, ...]] = [(root,) for root in roots]
    rows += [pitches[1:] for pitches in _shell_pitches(place) if len(pitches) > 1]
    return [_at_once(place, row, "shells") for row in dict.fromkeys(rows)]


def _at_once(place: FigurePlace, pitches: Sequence[Pitch], texture: str,
             under: tuple[Pitch, ...] = ()) -> Figure:
    return Figure(tuple(Struck(_NOW, place.duration_quarter, p) for p in pitches), texture, under)


def _bass_first(place: FigurePlace, pitches: Sequence[Pitch], texture: str, held: bool,
                under: tuple[Pitch, ...] = ()) -> Iterator[Figure]:
    """The bass, then the others together, at each place where they may come.

    held   the bass is held under them
    """
    whole, beat = place.duration_quarter, place.beat_quarter
    if len(pitches) == 1 or place.beats < 2:
        yield _at_once(place, pitches, texture, under)
        return
    later = [beat]
    if place.beats >= 3:
        later.append(beat + place.half_beat)
    if place.beats >= 4:
        later.append(2 * beat)
    for onset in later:
        yield Figure((Struck(_NOW, whole if held else onset, pitches[0]),
                      *(Struck(onset, whole - onset, p) for p in pitches[1:])), texture, under)


def _shell_pitches(place: FigurePlace) -> list[tuple[Pitch, ...]]:
    top = max(place.ceiling - 1, place.low + 12)
    player = place.player
    return [v.pitches for v in left_hand_voicings(place.harmony, player.level, player.hand.name,
                                                  low=place.low, top=top)
            if v.midis[-1] < place.ceiling and len(v.pitches) <= player.most_base_keys]


def _shells(place: FigurePlace) -> Iterator[Figure]:
    return (_at_once(place, pitches, "shells") for pitches in _shell_pitches(place))


def _broken_shells(place: FigurePlace) -> Iterator[Figure]:
    for pitches in _shell_pitches(place):
        yield from _bass_first(place, pitches, "broken shells", held=True)


def _bass_and_chord(place: FigurePlace) -> Iterator[Figure]:
    player = place.player
    uppers = [v.pitches for v in left_hand_voicings(
        place.harmony, player.level, player.hand.name, low=place.low,
        top=max(place.ceiling - 1, place.low + 12), rootless=True) if len(v.pitches) <= 4]
    if not uppers:  # half-diminished, diminished and slash chords: a shell without its root
        uppers = [pitches[1:] for pitches in _shell_pitches(place) if len(pitches) == 3]
    for root, upper in product(place.roots(), uppers[:_MOST_UPPERS]):
        if 7 <= upper[0].midi - root.midi <= 19 and upper[-1].midi < place.ceiling:
            yield from _bass_first(place, (root, *upper), "bass and chord", held=False)


def _broken_tenths(place: FigurePlace) -> Iterator[Figure]:
    symbol = place.harmony.symbol
    third = place.name_of(place.harmony.third or symbol.fifth or "5")
    assert third is not None
    fifth, seventh = place.name_of(symbol.fifth or "5"), place.name_of(place.harmony.seventh)
    whole, beat, short = place.duration_quarter, place.beat_quarter, place.half_beat
    paces = [beat] if place.beats == 3 else [short, beat] if place.beats >= 4 else [short]
    for root in place.roots():
        tenth = nearest_pitch(third, root.midi + 16)
        inner = [nearest_pitch(name, root.midi + step)
                 for name, step in ((fifth, 7), (seventh, 10)) if name is not None]
        ways: list[tuple[Pitch, ...]] = [(middle,) for middle in inner]
        if len(inner) == 2 and place.beats >= 4:
            ways.append(tuple(inner))
        for middles, pace in product(ways, paces):
            row = (root, *middles, tenth)
            last = pace * (len(row) - 1)
            if last >= whole or tenth.midi >= place.ceiling or any(
                    a.midi >= b.midi for a, b in pairwise(row)):
                continue
            yield Figure((*(Struck(pace * n, pace, p) for n, p in enumerate(row[:-1])),
                          Struck(last, whole - last, tenth)), "broken tenths")


def _two_feel(place: FigurePlace) -> Iterator[Figure]:
    whole, beat = place.duration_quarter, place.beat_quarter
    for first, second in _bass_pairs(place):
        if place.beats >= 4:
            middle = 2 * beat
            yield _line(((_NOW, first), (middle, second)), whole)
            for third in _approaches(place, second):
                yield _line(((_NOW, first), (middle, second), (whole - beat, third)), whole,
                            leads_on=True)
        elif place.beats >= 2:
            yield _line(((_NOW, first),), whole)
            yield _line(((_NOW, first), (beat, second)), whole)
            for third in _approaches(place, first):
                yield _line(((_NOW, first), (whole - beat, third)), whole, leads_on=True)


def _walking(place: FigurePlace) -> Iterator[Figure]:
    """A note a beat: the root, then chord tones and notes of the scale, none twice running, and
    last a step to the coming bass. The smoothest bars come first."""
    beats = int(place.beats)
    if beats != place.beats or not 2 <= beats <= 4:
        return
    goal = place if place.coming is not None else replace(place, coming=place.bass)
    tones, scale = _walked(place)
    walks: list[tuple[Pitch, ...]] = [(root,) for root in place.roots()]
    for beat in range(1, beats - 1):
        # a strong beat has a chord tone, a weak one may pass through the scale
        names = scale if beat % 2 else tones
        walks = [(*walk, step) for walk in walks for name in names
                 if (step := nearest_pitch(name, walk[-1].midi)).midi not in (
                     walk[-1].midi, *([walk[-2].midi] if beat > 1 else []))
                 and place.low - 2 <= step.midi < place.ceiling]
    ended = [(*walk, last) for walk in walks for last in _approaches(goal, walk[-1])
             if last.midi not in (walk[-1].midi, *([walk[-2].midi] if beats > 2 else []))]
    for row in sorted(ended, key=_roughness)[:_MOST_WALKS]:
        yield _line([(place.beat_quarter * n, p) for n, p in enumerate(row)],
                    place.duration_quarter, leads_on=True, texture="walking bass")


def _walked(place: FigurePlace) -> tuple[list[NoteName], list[NoteName]]:
    """The chord tones that a bass walks through, and these with the scale between them."""
    symbol, root = place.harmony.symbol, place.harmony.root.pitch_class
    degrees = (None if symbol.root == place.bass else "1", place.harmony.third,
               symbol.fifth or "5", place.harmony.seventh)
    tones = [name for degree in degrees if (name := place.name_of(degree)) is not None]
    scale = [place.harmony.spell((root + step) % 12) for step in (1, 2, 3, 4, 5, 6, 8, 9, 10, 11)
             if place.harmony.degree_of(root + step) is not None]
    return tones, list(dict.fromkeys([*tones, *scale]))


def _roughness(row: Sequence[Pitch]) -> tuple[int, int, tuple[int, ...]]:
    """How far a walk is from going one way by steps: leaps beyond a third, turns, keys."""
    steps = [b.midi - a.midi for a, b in pairwise(row)]
    leaps = sum(max(abs(step) - 4, 0) for step in steps)
    turns = sum((a > 0) != (b > 0) for a, b in pairwise(steps))
    return leaps + 2 * turns, leaps, tuple(p.midi for p in row)


def _line(notes: Sequence[tuple[Fraction, Pitch]], whole: Fraction, leads_on: bool = False,
          texture: str = "two-feel") -> Figure:
    ends = [*(onset for onset, _ in notes[1:]), whole]
    return Figure(tuple(Struck(onset, end - onset, pitch)
                        for (onset, pitch), end in zip(notes, ends, strict=True)),
                  texture, leads_on=leads_on)


def _bass_pairs(place: FigurePlace) -> Iterator[tuple[Pitch, Pitch]]:
    """What a bar of two-feel stands on: the root and another tone that the symbol names; where
    the chord goes on, its third or fifth and another tone."""
    symbol, seventh = place.harmony.symbol, place.harmony.seventh
    tones = [name for degree in (place.harmony.third, symbol.fifth or "5",
                                 seventh if seventh in symbol.degrees else None)
             if (name := place.name_of(degree)) is not None]
    firsts = place.roots()
    if place.goes_on and symbol.bass is None:
        firsts += [nearest_pitch(name, root.midi + 5) for root in firsts for name in tones[:2]]
    for first in dict.fromkeys(firsts):
        for name in (*tones, place.bass):
            for reach in (-5, 7):
                second = nearest_pitch(name, first.midi + reach)
                if (place.low - 2 <= second.midi < place.ceiling
                        and 0 < abs(second.midi - first.midi) <= 12):
                    yield first, second


def _approaches(place: FigurePlace, before: Pitch) -> list[Pitch]:
    """Notes a step from the coming bass: a half step from either side, or a whole step of the
    chord's scale; near the note before, and another one."""
    if place.coming is None:
        return []
    goal = nearest_pitch(place.coming, before.midi)
    found = [_half_step(goal, way) for way in (-1, 1)]
    for step in (-2, 2):
        if place.harmony.degree_of(goal.midi + step) is not None:
            name = place.harmony.spell((goal.midi + step) % 12)
            found.append(nearest_pitch(name, goal.midi + step))
    return [p for p in dict.fromkeys(found)
            if p.midi != before.midi and place.low - 2 <= p.midi < place.ceiling]


def _half_step(goal: Pitch, way: int) -> Pitch:
    """A half step off, with the fewest accidentals; on the next letter where that is equal."""
    both = (goal + Interval(way, way), goal + Interval(0, way))
    return min(both, key=lambda p: abs(p.alter))


def _of_both(place: FigurePlace, texture: str) -> Iterator[Figure]:
    """Chords for both hands with the melody's key as their highest voice. A drop 2 without its
    root has a bass below it that the left hand strikes first."""
    top = place.top
    if top is None:
        return
    homes = flat_nine_homes(place.harmony.symbol)
    player = place.player
    for voicing in two_hand_voicings(place.harmony, player.level, player.hand.name, top=top,
                                     bottom=place.low):
        under, left = voicing.right_pitches[:-1], voicing.left_pitches
        if (voicing.kind != texture or voicing.midis[-1] != top or not under
                or left[-1].midi >= place.ceiling
                or RUB.among([p.midi for p in under], top, homes)):
            continue
        if left[0].pitch_class == place.bass.pitch_class:
            yield _at_once(place, left, texture, under)
            continue
        root = nearest_pitch(place.bass, left[0].midi - 12)
        if root.midi >= place.low and not MUD.pairs((root.midi, *voicing.midis)):
            yield from _bass_first(place, (root, *left), f"bass, then {texture}", False, under)


_MAKERS: Mapping[str, Callable[[FigurePlace], Iterator[Figure]]] = {
    "shells": _shells,
    "broken shells": _broken_shells,
    "bass and chord": _bass_and_chord,
    "broken tenths": _broken_tenths,
    "two-feel": _two_feel,
    "walking bass": _walking,
    "spread": lambda place: _of_both(place, "spread"),
    "drop 2": lambda place: _of_both(place, "drop 2"),
}
