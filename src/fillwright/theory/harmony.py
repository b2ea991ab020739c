"""What a chord does in its key, and which scale and tensions it takes.

The table `CHORD_SCALES` and the rules of `chord_scale` follow the "Chord Scale
Summation" class sheet (Berklee) and Terefenko, *Jazz Theory* (Routledge 2014) ch. 5, as
far as given in the project's fact sheet; rows marked "from memory" were not looked up.
General rule there: except on dominants, a scale note a whole step above a chord tone is a
tension, a half step above is one to avoid.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType

from fillwright.theory.chord import (
    ChordSymbol,
    degree_number,
    degree_pitch_class,
    sort_degrees,
)
from fillwright.theory.key import Key
from fillwright.theory.local_key import local_keys
from fillwright.theory.pitch import NoteName, Pitch, easy_name, nearest_pitch

__all__ = ["CHORD_SCALES", "ChordScale", "Harmony", "analyse", "chord_scale", "goal_of",
           "harmony_of", "spelled_over"]


@dataclass(frozen=True, slots=True)
class ChordScale:
    """A scale over a chord, as degrees above the root.

    `tensions` may be held; what is in `degrees` but neither a chord tone nor a tension
    is to be avoided: it may pass, it may not sit.
    """

    name: str
    degrees: tuple[str, ...]
    tensions: tuple[str, ...]


def _scale(name: str, degrees: str, tensions: str) -> ChordScale:
    return ChordScale(name, tuple(degrees.split()), tuple(tensions.split()))


CHORD_SCALES: MappingProxyType[str, ChordScale] = MappingProxyType({
    scale.name: scale for scale in (
        _scale("ionian", "1 9 3 11 5 13 7", "9 13"),
        _scale("lydian", "1 9 3 #11 5 13 7", "9 #11 13"),
        _scale("dorian", "1 9 b3 11 5 13 b7", "9 11"),
        # A minor chord at rest in the dorian mode: the sixth is its colour (from memory).
        _scale("modal dorian", "1 9 b3 11 5 13 b7", "9 11 13"),
        _scale("phrygian", "1 b9 b3 11 5 b13 b7", "11"),
        _scale("aeolian", "1 9 b3 11 5 b13 b7", "9 11"),
        _scale("locrian", "1 b9 b3 11 b5 b13 b7", "11 b13"),
        _scale("melodic minor", "1 9 b3 11 5 13 7", "9 11 13"),  # from memory
        _scale("mixolydian", "1 9 3 11 5 13 b7", "9 13"),
        _scale("mixolydian b13", "1 9 3 11 5 b13 b7", "9 b13"),
        _scale("mixolydian b9 #9 b13", "1 b9 #9 3 11 5 b13 b7", "b9 #9 b13"),
        _scale("lydian b7", "1 9 3 #11 5 13 b7", "9 #11 13"),
        _scale("altered", "1 b9 #9 3 #11 b13 b7", "b9 #9 #11 b13"),
        _scale("half-whole diminished", "1 b9 #9 3 #11 5 13 b7", "b9 #9 #11 13"),
        _scale("whole tone", "1 9 3 #11 #5 b7", "9 #11"),
        _scale("sus mixolydian", "1 9 3 4 5 13 b7", "9 13"),
        _scale("sus phrygian", "1 b9 b3 4 5 b13 b7", "b9 b13"),
        _scale("whole-half diminished", "1 9 b3 11 b5 b13 bb7 7", "9 11 b13 7"),
        _scale("lydian augmented", "1 9 3 #11 #5 13 7", "9 #11"),  # from memory
    )
})


@dataclass(frozen=True, slots=True)
class Harmony:
    """A chord heard in its key.

    symbol     the chord
    key        the local key it is heard in
    function   a roman numeral such as ``"IIm7"``, ``"V7/VI"``, ``"subV7"``
    scale      its chord scale
    tones      what to play as chord tones, by degree: the symbol's triad (or sus, sixth,
               seventh), with the seventh or sixth a jazz pianist adds to a bare triad
    tensions   degrees that may be added to it and held
    """

    symbol: ChordSymbol
    key: Key
    function: str
    scale: ChordScale
    tones: tuple[str, ...]
    tensions: tuple[str, ...]
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # A harmony is the key of almost everything that is remembered: hash it once.
        object.__setattr__(self, "_hash", hash((self.symbol, self.key, self.function,
                                                self.scale, self.tones, self.tensions)))

    def __hash__(self) -> int:
        return self._hash

    def __reduce__(self) -> tuple[type[Harmony], tuple[object, ...]]:
        # another process hashes strings otherwise
        return Harmony, (self.symbol, self.key, self.function, self.scale, self.tones,
                         self.tensions)

    @property
    def root(self) -> NoteName:
        if self.symbol.root is None:
            raise ValueError("N.C. has no root")
        return self.symbol.root

    @property
    def third(self) -> str | None:
        """The third, or what stands for it; None where none is played. It is the tune's own where
        that sings the minor one (`with_minor_third`)."""
        third = "b3" if self.is_sung_minor else self.symbol.third
        return third if third in self.tones else None

    @property
    def is_sung_minor(self) -> bool:
        """Whether a chord with a major third is played with the minor one of the tune."""
        return self.symbol.third == "3" and "b3" in self.tones and "3" not in self.tones

    @property
    def seventh(self) -> str | None:
        """The seventh or sixth that stands in the voicing."""
        for degree in ("7", "b7", "bb7", "6"):
            if degree in self.tones:
                return degree
        return None

    def degree_of(self, pitch_class: int) -> str | None:
        """The degree a pitch class has as chord tone, tension or scale note, else None."""
        relative = self.symbol.relative(pitch_class)
        for pool in (self.tones, self.tensions, self.scale.degrees):
            for degree in pool:
                if degree_pitch_class(degree) == relative:
                    return degree
        return None

    def takes(self, pitch_class: int) -> bool:
        """Whether that pitch class may be held over this chord."""
        relative = self.symbol.relative(pitch_class)
        return any(degree_pitch_class(degree) == relative
                   for degree in self.tones + self.tensions)

    def is_denied(self, sung: Collection[int]) -> bool:
        """Whether a tune that sings these pitch classes takes away the chord's major third: it
        sings the minor one and not the major one, and the symbol has no minor seventh, which would
        make a sharp nine of it (common practice).

        >>> plain = harmony_of(ChordSymbol.parse("D"), Key(0), None)
        >>> plain.is_denied({5}), plain.is_denied({5, 6})
        (True, False)
        """
        minor = (self.root.pitch_class + 3) % 12
        return (self.third == "3" and "b7" not in self.symbol.degrees
                and minor in sung and (minor + 1) % 12 not in sung)

    @property
    def with_minor_third(self) -> Harmony:
        """The chord as it is played where the tune sings the minor third (`is_denied`): with the
        third of the tune, without which a chord is a bare fifth once the melody note is let go.
        Besides it there are what the symbol names and the plain ninth, and no sixth of the
        player's own, which would be heard as a root.

        >>> harmony_of(ChordSymbol.parse("D"), Key(0), None).with_minor_third.tones
        ('1', 'b3', '5')
        """
        named = self.symbol.degrees
        return replace(self, tones=tuple("b3" if d == "3" else d for d in self.tones
                                         if d != "6" or d in named),
                       tensions=tuple(d for d in self.tensions if d in (*named, "9")))

    def is_tone(self, pitch_class: int) -> bool:
        relative = self.symbol.relative(pitch_class)
        return any(degree_pitch_class(degree) == relative for degree in self.tones)

    def spell(self, pitch_class: int) -> NoteName:
        """The name of a pitch class in this chord: a flat nine over G7 is A flat.

        A note outside chord and scale is spelled as a chromatic neighbour by the root's
        side of the line of fifths.
        """
        degree = self.degree_of(pitch_class)
        if degree is not None:
            return self.symbol.name_of(degree)
        relative = self.symbol.relative(pitch_class)
        fallback = _FALLBACK_MINOR if "b3" in self.tones else _FALLBACK_MAJOR
        return easy_name(self.symbol.name_of(fallback[relative]))


def spelled_over(harmony: Harmony | None, key: Key, midi: int, rising: bool = True) -> Pitch:
    """A key as the chord that sounds there spells it, else as the key of the music does.

    rising   outside of its scale it goes up, and is a sharp

    >>> from fillwright.theory.chord import ChordSymbol
    >>> (seventh,) = analyse([ChordSymbol.parse("G7")], Key.parse("C"))
    >>> str(spelled_over(seventh, Key.parse("C"), 68)), str(spelled_over(None, Key.parse("C"), 68))
    ('Ab4', 'G#4')

    What is foreign to the chord is no F flat, C flat, E sharp or B sharp:

    >>> (home,) = analyse([ChordSymbol.parse("Ebmaj7")], Key.parse("Eb"))
    >>> str(spelled_over(home, Key.parse("Eb"), 64))
    'E4'
    """
    if harmony is not None:
        name = harmony.spell(midi % 12)
        white = harmony.degree_of(midi % 12) is None and name.alter and midi % 12 in _WHITE
        if name.pitch_class == midi % 12 and not white:
            pitch = nearest_pitch(name, midi)
            if pitch.midi == midi:
                return pitch
    return key.spell(midi, rising=rising)


_FIFTH, _THIRTEENTH, _LINE = 7, 13, "line"
_WHITE = frozenset((0, 2, 4, 5, 7, 9, 11))

_FALLBACK_MAJOR = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")
_FALLBACK_MINOR = ("1", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")

_ROMAN = ("I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII")


def _root_motion(symbol: ChordSymbol, following: ChordSymbol | None) -> int | None:
    if following is None or symbol.root is None or following.root is None:
        return None
    return (following.root.pitch_class - symbol.root.pitch_class) % 12


def chord_scale(symbol: ChordSymbol, key: Key, following: ChordSymbol | None
                ) -> tuple[str, ChordScale]:
    """The function of a chord in a key and the scale it takes.

    `following` is the next different chord, which decides how a dominant is heard.
    """
    if symbol.root is None:
        raise ValueError("N.C. has no scale")
    place = (symbol.root.pitch_class - key.tonic.pitch_class) % 12
    roman = _ROMAN[place]
    quality = symbol.quality
    named = set(symbol.degrees)
    motion = _root_motion(symbol, following)
    if quality in ("dominant", "augmented") and symbol.third != "b3":
        return _dominant(symbol, key, following, motion, place, roman)
    if quality == "suspended":
        name = "sus phrygian" if "b9" in named else "sus mixolydian"
        return roman + "sus", CHORD_SCALES[name]
    if quality == "half-diminished":
        return roman + "m7b5", CHORD_SCALES["locrian"]
    if quality == "diminished":
        return roman + "dim7", CHORD_SCALES["whole-half diminished"]
    if quality == "minor-major":
        return roman + "m(maj7)", CHORD_SCALES["melodic minor"]
    if quality == "minor":
        return _minor(symbol, key, following, motion, place, roman)
    if quality == "power":
        return roman + "5", CHORD_SCALES["mixolydian"]
    if symbol.fifth == "#5":
        return roman + "maj7#5", CHORD_SCALES["lydian augmented"]
    suffix = "maj7" if symbol.seventh == "7" else ""
    if place == 7 and symbol.seventh is None:  # a bare triad on V is played as a dominant
        return roman, CHORD_SCALES["mixolydian"]
    if motion == 5 and _is_applied(symbol, key):
        return _dominant(symbol, key, following, motion, place, roman)
    lydian = "#11" in named or (place not in (0, 7) if key.mode == "major"
                                else place not in (0, 3))
    if "11" in named:
        lydian = False
    return roman + suffix, CHORD_SCALES["lydian" if lydian else "ionian"]


def _is_applied(symbol: ChordSymbol, key: Key) -> bool:
    """Whether a bare major triad has a leading tone that its key has not: before the chord a
    fifth below it is the dominant of that chord, as A before Dm in C (common practice)."""
    if symbol.root is None or symbol.quality != "major" or symbol.seventh is not None:
        return False
    third = (symbol.root.pitch_class + 4) % 12
    return symbol.third == "3" and third not in {name.pitch_class for name in key.scale}


def _minor(symbol: ChordSymbol, key: Key, following: ChordSymbol | None, motion: int | None,
           place: int, roman: str) -> tuple[str, ChordScale]:
    if symbol.seventh == "6":
        return roman + "m6", CHORD_SCALES["melodic minor"]
    suffix = "m7" if symbol.seventh == "b7" else "m"
    if motion == 5 and following is not None and following.quality in ("dominant", "suspended"):
        function = "II" if place == 2 else f"II/{_ROMAN[(place + 10) % 12]}"
        return function + suffix, CHORD_SCALES["dorian"]
    if key.mode == "minor":
        if place == 0:
            return roman + suffix, CHORD_SCALES["modal dorian"]
        if place == 5:
            return roman + suffix, CHORD_SCALES["modal dorian"]
        return roman + suffix, CHORD_SCALES["aeolian" if place == 7 else "dorian"]
    name = {2: "dorian", 4: "phrygian", 9: "aeolian", 0: "modal dorian",
            5: "modal dorian"}.get(place, "dorian")
    return roman + suffix, CHORD_SCALES[name]


def _dominant(symbol: ChordSymbol, key: Key, following: ChordSymbol | None, motion: int | None,
              place: int, roman: str) -> tuple[str, ChordScale]:
    named = set(symbol.degrees)
    target = (place + 5) % 12
    if motion == 5:
        function = "V7" if target == 0 else f"V7/{_ROMAN[target]}"
    elif motion == 11:
        function = "subV7" if place == 1 else f"subV7/{_ROMAN[(place + 11) % 12]}"
    else:
        function = roman + "7"
    scale = _named_dominant_scale(symbol, named)
    if scale is not None:
        return function, CHORD_SCALES[scale]
    if motion == 11 or (motion != 5 and place in (1, 5, 8, 10)):
        return function, CHORD_SCALES["lydian b7"]
    if motion == 2 and place == 10:  # bVII7 to I: the backdoor
        return function, CHORD_SCALES["lydian b7"]
    if motion == 5 and following is not None:
        to_minor = following.quality in ("minor", "minor-major", "half-diminished")
        if target == 0:
            minor = key.mode == "minor" or to_minor
        elif key.mode == "major":
            minor = target in (4, 9) and to_minor
            if target == 2 and to_minor and {"9", "13"}.isdisjoint(named):
                return function, CHORD_SCALES["mixolydian b13"]
            if to_minor and target not in (2, 7, 5):
                minor = True
        else:
            minor = to_minor
        if minor and {"9", "13"}.isdisjoint(named):
            return function, CHORD_SCALES["mixolydian b9 #9 b13"]
    elif place == 7 and key.mode == "minor" and {"9", "13"}.isdisjoint(named):
        return function, CHORD_SCALES["mixolydian b9 #9 b13"]
    return function, CHORD_SCALES["mixolydian"]


def _named_dominant_scale(symbol: ChordSymbol, named: set[str]) -> str | None:
    flat_nine = bool({"b9", "#9"} & named)
    if symbol.fifth == "#5":
        return "altered" if flat_nine else "whole tone"
    if flat_nine and ("b13" in named or symbol.fifth in (None, "b5")):
        return "altered" if "5" not in named else "mixolydian b9 #9 b13"
    if flat_nine:
        return "half-whole diminished" if {"13", "#11"} & named else "mixolydian b9 #9 b13"
    if "b13" in named:
        return "mixolydian b13"
    if "#11" in named or symbol.fifth == "b5":
        return "lydian b7"
    return None


def _opens_a_line(symbol: ChordSymbol, following: ChordSymbol | None) -> bool:
    """Is this a bare triad whose root or fifth moves in the symbol after it (Am Am(maj7) Am7, or
    C C+ C6)? A sixth or seventh of the player's own would give that line away."""
    return (following is not None and symbol.seventh is None
            and symbol.quality in ("major", "minor") and following.root == symbol.root
            and following.third == symbol.third
            and (following.seventh == "7" or (symbol.fifth, following.fifth) == ("5", "#5")))


def _goes_to_its_dominant(symbol: ChordSymbol, goal: ChordSymbol | None) -> bool:
    """Does the seventh chord on its fifth come next? It makes a tonic of it (common practice)."""
    return (goal is not None and goal.root is not None and symbol.root is not None
            and goal.quality == "dominant"
            and (goal.root.pitch_class - symbol.root.pitch_class) % 12 == _FIFTH)


def _played_tones(symbol: ChordSymbol, function: str, scale: ChordScale,
                  goal: ChordSymbol | None) -> tuple[str, ...]:
    """The chord tones a pianist plays: a bare triad gains the sixth or seventh of its place, the
    seventh where it is a dominant, none where it opens a line."""
    tones = [d for d in symbol.degrees
             if d in ("1", "2", "b3", "3", "4", "b5", "5", "#5", "6", "b7", "7", "bb7")]
    if "#6" in symbol.degrees:
        tones.append("b7")
    if function != _LINE and symbol.seventh is None and symbol.quality in (
            "major", "minor", "diminished", "augmented", "suspended"):
        if symbol.quality == "major":
            leads = function == "V" or function.startswith("V7/")
            tones.append("b7" if leads and not _goes_to_its_dominant(symbol, goal) else "6")
        elif symbol.quality == "minor":
            sixth = scale.name in ("modal dorian", "melodic minor") and "#5" not in tones
            tones.append("6" if sixth else "b7")
        elif symbol.quality == "suspended" and "4" in tones:
            tones.append("b7")
        elif symbol.quality == "diminished":
            tones.append("bb7")
    return sort_degrees(tones)


@lru_cache(maxsize=8192)
def harmony_of(symbol: ChordSymbol, key: Key, following: ChordSymbol | None,
               goal: ChordSymbol | None = None) -> Harmony:
    """One chord heard in a key, with the chord that comes next.

    goal    the next chord on another root, where that is not `following`: A before A7 and D is a
            dominant already
    """
    function, scale = chord_scale(symbol, key, goal or following)
    line = _opens_a_line(symbol, following)
    tones = _played_tones(symbol, _LINE if line else function, scale, goal or following)
    taken = {degree_pitch_class(degree) for degree in tones}
    wanted = [d for d in scale.tensions if degree_pitch_class(d) not in taken
              and not (line and degree_number(d) == _THIRTEENTH)]
    if symbol.quality == "major" and "6" in tones and "7" in scale.degrees:
        wanted.append("7")  # a major triad or sixth chord bears a major seventh on top
    # What the symbol names on top of the chord is available whatever the scale says.
    for degree in symbol.degrees:
        if degree_pitch_class(degree) not in taken and degree not in wanted:
            if degree == "11" and "3" in tones:
                continue
            wanted.append(degree)
    named_nines = {d for d in symbol.degrees if d in ("b9", "9", "#9")}
    if named_nines:
        natural = named_nines == {"9"}
        wanted = [d for d in wanted if d not in ("b9", "#9", "9")
                  or (d == "9") == natural]
    named_thirteens = {d for d in symbol.degrees if d in ("b13", "13")}
    if named_thirteens:
        wanted = [d for d in wanted if d not in ("b13", "13") or d in named_thirteens]
    return Harmony(symbol, key, function, scale, tones, sort_degrees(wanted))


def goal_of(symbol: ChordSymbol, following: ChordSymbol | None, beyond: ChordSymbol | None
            ) -> ChordSymbol | None:
    """Where a chord with a major third goes on: the first chord on another root; None where there
    is none, or where its own root turns minor before.

    following   the next different chord
    beyond      the goal of that one
    """
    if following is None or following.root != symbol.root:
        return following
    return None if following.third == "b3" or symbol.third != "3" else beyond


def analyse(symbols: list[ChordSymbol], key: Key) -> list[Harmony | None]:
    """Hear a row of chords, each in its local key inside `key`; None for N.C.

    The chord after an equal one counts as the same chord going on.
    """
    result: list[Harmony | None] = [None] * len(symbols)
    keys = local_keys(symbols, key)
    following: ChordSymbol | None = None
    goal: ChordSymbol | None = None
    current: ChordSymbol | None = None
    for index in range(len(symbols) - 1, -1, -1):
        symbol = symbols[index]
        if not symbol.is_chord:
            continue
        if current is not None and (current.root, current.kind, current.degrees) != (
                symbol.root, symbol.kind, symbol.degrees):
            following = current
            goal = goal_of(symbol, following, goal)
        current = symbol
        result[index] = harmony_of(symbol, keys[index], following, goal)
    return result
