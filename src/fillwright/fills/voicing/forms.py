"""What may stand in a voicing, by degree and from the bottom up: the left hand's forms.

A *form* is a row of degrees; each one lies at its nearest place above the one before it
("1 b7 3" over D is D, C, F sharp: seventh and tenth). The left-hand and two-hand forms are
the tables of the trade: shells, rootless forms with the third or the seventh at the bottom,
spreads, fourths (Levine, *The Jazz Piano Book*, Sher 1989, ch. 3 to 7 and 12 to 16; forms
from memory, compared with public teaching pages). Those of the right hand and of both hands
together are in `upper`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from fillwright.fills.player import Level, Palette
from fillwright.memory import VOICINGS
from fillwright.theory.chord import ChordSymbol, degree_number, degree_pitch_class
from fillwright.theory.harmony import ChordScale, Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import NoteName

__all__ = ["Colours", "VoicingForm", "adds_sixth", "bass_degree", "bass_forms", "colours",
           "compatible",
           "inner_seconds", "is_inversion", "is_sound", "kind_of", "required_degrees",
           "rootless_forms", "shell_forms", "unique_forms"]


@dataclass(frozen=True, slots=True)
class VoicingForm:
    """Degrees from the bottom up; the left hand takes the first `left` of them."""

    kind: str
    degrees: tuple[str, ...]
    left: int = 0


@dataclass(frozen=True, slots=True)
class Colours:
    """The degrees a chord has on offer, by the part they play. Empty where it has none.

    bare   the symbol names a triad, to which a pianist adds the sixth: it colours, and tells
           nothing (F A D is heard as D minor)
    """

    third: str | None
    fifth: str | None
    seventh: str | None
    nines: tuple[str, ...]
    elevens: tuple[str, ...]
    thirteens: tuple[str, ...]
    bare: bool = False

    @property
    def defining(self) -> str | None:
        """What tells the chord besides its third: the seventh or sixth that the symbol names,
        or the fifth of a bare triad."""
        return self.fifth if self.bare and self.fifth is not None else self.seventh

    @property
    def shell(self) -> str | None:
        """The seventh or sixth of a shell; None where the sixth is only a colour."""
        return None if self.bare else self.seventh

    @property
    def guides(self) -> tuple[str, ...]:
        return tuple(d for d in (self.third, self.defining) if d is not None)

    @property
    def all_but_root(self) -> tuple[str, ...]:
        basic = tuple(d for d in (self.third, self.fifth, self.seventh) if d is not None)
        return basic + self.nines + self.elevens + self.thirteens


@VOICINGS.keep
def kind_of(harmony: Harmony) -> Harmony:
    """The same chord on C, without key and bass: all that the forms of the right hand and of
    both hands depend on, so that they are made once for all roots."""
    symbol = ChordSymbol(_C, harmony.symbol.kind, harmony.symbol.degrees)
    return Harmony(symbol, _NO_KEY, "", ChordScale("", harmony.tones, harmony.tensions),
                   harmony.tones, harmony.tensions)


_C, _NO_KEY = NoteName("C"), Key(0, "major")


def _named(harmony: Harmony, number: int) -> tuple[str, ...]:
    return tuple(d for d in harmony.symbol.degrees if degree_number(d) == number
                 and d not in harmony.tones)


@VOICINGS.keep
def colours(harmony: Harmony, palette: Palette) -> Colours:
    """What may be played over a chord.

    palette   which tensions, of those that the function of the chord makes available
    """
    fifth = next((d for d in ("5", "b5", "#5") if d in harmony.tones), None)
    pools: dict[int, tuple[str, ...]] = {}
    for number in (9, 11, 13):
        named = _named(harmony, number)
        offered = tuple(d for d in harmony.tensions if degree_number(d) == number)
        if palette is Palette.NAMED:
            pool = tuple(d for d in offered if d in named)
        elif palette is Palette.USUAL:
            pool = tuple(d for d in offered if d in named)
            if not pool and (number != 11 or (offered and offered[0] == "11")):
                pool = offered[:1]
        else:
            pool = offered
        pools[number] = pool
    thirteens = pools[13]
    if fifth == "#5" or "6" in harmony.tones:
        thirteens = ()
    return Colours(harmony.third, fifth, harmony.seventh, pools[9], pools[11], thirteens,
                   adds_sixth(harmony))


def adds_sixth(harmony: Harmony) -> bool:
    """Is this a bare triad to which a pianist adds the sixth?"""
    return harmony.seventh == "6" and harmony.symbol.seventh is None


@VOICINGS.keep
def required_degrees(harmony: Harmony) -> tuple[str, ...]:
    """Degrees beyond the seventh that the symbol names and that must be heard.

    Every alteration, and the highest natural extension; never an eleventh over a major
    third (a 13 chord is played without it).
    """
    named = [d for d in harmony.symbol.degrees
             if d not in harmony.tones and degree_number(d) in (9, 11, 13)
             and not (d == "11" and "3" in harmony.tones)]
    altered = [d for d in named if d[0] in "b#"]
    natural = [d for d in named if d[0] not in "b#"]
    fifth = [d for d in harmony.tones if d in ("b5", "#5")]
    if harmony.symbol.quality in ("half-diminished", "diminished"):
        fifth = []  # the fifth is the chord's own; a shell may leave it out
    # "alt" names four alterations and asks for some of them
    if {"b9", "#9", "#11", "b13"} <= set(altered):
        altered = ["b9|#9", "b13|#11"]
    elif {"b9", "#9"} <= set(altered):
        altered = ["b9|#9", *(d for d in altered if d not in ("b9", "#9"))]
    return tuple(fifth + altered + natural[-1:])


def bass_degree(harmony: Harmony) -> str | None:
    """The degree of a slash chord's bass, ``"bass"`` where it is foreign, None without one."""
    bass = harmony.symbol.bass
    if bass is None or bass.pitch_class == harmony.root.pitch_class:
        return None
    relative = harmony.symbol.relative(bass.pitch_class)
    for degree in harmony.tones:
        if degree_pitch_class(degree) == relative:
            return degree
    return "bass"


def is_inversion(harmony: Harmony) -> bool:
    """Is the bass a chord tone other than the root?"""
    return bass_degree(harmony) not in (None, "bass")


def unique_forms(forms: list[VoicingForm]) -> tuple[VoicingForm, ...]:
    seen: dict[tuple[tuple[str, ...], int], VoicingForm] = {}
    for form in forms:
        classes = [d if d == "bass" else str(degree_pitch_class(d.lstrip("^")))
                   for d in form.degrees]
        if form.degrees and (len(set(classes)) == len(classes) or "octave" in form.kind):
            seen.setdefault((form.degrees, form.left), form)
    return tuple(seen.values())


@VOICINGS.keep
def shell_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    """Left-hand forms with the root at the bottom."""
    c = colours(harmony, Palette.NAMED)
    forms = [VoicingForm("root", ("1",))]
    third, fifth, seventh = c.third, c.fifth, c.shell
    if seventh is not None:
        forms.append(VoicingForm(f"shell 1-{degree_number(seventh)}", ("1", seventh)))
    if third is not None:
        forms.append(VoicingForm(f"shell 1-{degree_number(third)}", ("1", third)))
    if third is not None and seventh is not None:
        forms.append(VoicingForm(f"shell 1-{degree_number(third)}-{degree_number(seventh)}",
                                 ("1", third, seventh)))
    if fifth in ("#5", "b5") and third is not None and seventh is not None:  # it tells the chord
        forms.append(VoicingForm("shell 1-3-5-7", ("1", third, fifth, seventh)))
    if seventh == "6" and third == "3" and fifth is not None:  # the sixth is not alone
        forms.append(VoicingForm("shell 1-3-5-6", ("1", third, fifth, seventh)))
        forms.append(VoicingForm("shell 1-5-6", ("1", fifth, seventh)))
    if third is not None and fifth is not None and (
            seventh is None or harmony.symbol.quality == "diminished"):
        forms.append(VoicingForm("triad", ("1", third, fifth)))
    if fifth is not None:
        forms.append(VoicingForm("root and fifth", ("1", fifth)))
    if third is None and seventh is None and fifth is not None:
        forms.append(VoicingForm("root, fifth, octave", ("1", fifth, "1")))
    if fifth == "b5" and seventh is not None and level.voicing.wide_left:
        forms.append(VoicingForm("shell 1-5-7", ("1", fifth, seventh)))
    if level.voicing.wide_left and third is not None:
        forms.append(VoicingForm("tenth", ("1", "^" + third)))
        if fifth is not None:
            forms.append(VoicingForm("spread 1-5-10", ("1", fifth, third)))
        if seventh is not None:
            forms.append(VoicingForm("spread 1-7-10", ("1", seventh, third)))
    if level.voicing.wide_left:
        forms.append(VoicingForm("octave", ("1", "1")))
    return unique_forms(forms)


@VOICINGS.keep
def bass_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    """Left-hand forms of a slash chord: its bass at the bottom."""
    bass = bass_degree(harmony)
    if bass is None:
        return shell_forms(harmony, level)
    c = colours(harmony, Palette.NAMED)
    forms = [VoicingForm("bass", (bass,))]
    pool = [d for d in ("1", c.third, c.fifth, c.shell) if d is not None and d != bass]
    # the root first, then the guide tones: what tells the chord apart over this bass
    forms += [VoicingForm(f"bass and {degree_number(d)}", (bass, d)) for d in pool]
    forms += [VoicingForm(f"bass and {degree_number(a)}-{degree_number(b)}", (bass, a, b))
              for a, b in ((a, b) for a in pool for b in pool if a != b)]
    return unique_forms(forms)


def rootless_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    """Three- and four-note forms with the third or the seventh at the bottom.

    A half-diminished or diminished seventh chord keeps its root: its forms are inversions.
    """
    return _rootless_forms(kind_of(harmony), level)


@VOICINGS.keep
def _rootless_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    c = colours(harmony, level.voicing.rootless)
    third, fifth, seventh = c.third, c.fifth, c.seventh
    quality = harmony.symbol.quality
    forms: list[VoicingForm] = []
    if third is None or seventh is None:
        return ()
    if quality in ("half-diminished", "diminished") and fifth is not None:
        chord = ("1", third, fifth, seventh)
        for turn in (1, 3, 0, 2):
            kind = {1: "third at the bottom", 3: "seventh at the bottom", 0: "root position",
                    2: "fifth at the bottom"}[turn]
            forms.append(VoicingForm(kind, chord[turn:] + chord[:turn]))
        if quality == "half-diminished" and "11" in c.elevens:
            forms.append(VoicingForm("seventh at the bottom", (seventh, third, "11", fifth)))
        if quality == "diminished" and level.voicing.free_forms:
            forms += [VoicingForm("tension on top", (*rest, tension))
                      for rest, tension in (((fifth, seventh, third), "b13"),
                                            (("1", third, fifth), "7"),
                                            ((seventh, third, fifth), "9"))
                      if tension in harmony.tensions]
        return unique_forms(forms)
    inner: list[str] = []  # what stands between: thirteenth or fifth
    if quality in ("dominant", "suspended") and seventh == "b7":
        inner = [*c.thirteens, *(d for d in (fifth,) if d is not None)]
        if fifth in ("#5", "b5"):
            inner = [fifth]
        if c.thirteens and not level.voicing.free_forms:
            inner = [c.thirteens[0]]
    elif fifth is not None:
        inner = [fifth]
        if seventh == "7" and quality == "major":
            inner += ["13"] if "13" in c.thirteens else []
    for nine in c.nines:
        for middle in inner:
            if quality in ("dominant", "suspended"):
                if degree_number(middle) == 13 or middle == "#5":
                    forms.append(VoicingForm("rootless, third at the bottom",
                                             (third, middle, seventh, nine)))
                    forms.append(VoicingForm("rootless, seventh at the bottom",
                                             (seventh, nine, third, middle)))
                else:
                    forms.append(VoicingForm("rootless, third at the bottom",
                                             (third, middle, seventh, nine)))
                    forms.append(VoicingForm("rootless, seventh at the bottom",
                                             (seventh, nine, third, middle)))
            else:
                forms.append(VoicingForm("rootless, third at the bottom",
                                         (third, middle, seventh, nine)))
                forms.append(VoicingForm("rootless, seventh at the bottom",
                                         (seventh, nine, third, middle)))
        if (seventh == "7" and quality == "major" and "13" in c.thirteens
                and fifth is not None):  # six-nine colour
            forms.append(VoicingForm("rootless, third at the bottom", (third, fifth, "13", nine)))
            forms.append(VoicingForm("rootless, sixth at the bottom", ("13", nine, third, fifth)))
        forms.append(VoicingForm("three-note rootless", (third, seventh, nine)))
    for middle in inner:
        forms.append(VoicingForm("three-note rootless", (seventh, third, middle)))
        forms.append(VoicingForm("three-note rootless", (third, middle, seventh)))
    return unique_forms([f for f in forms if is_sound(f.degrees)])


def inner_seconds(degrees: tuple[str, ...]) -> list[tuple[int, int]]:
    """(place from the bottom, semitones) of the seconds between neighbours of a form."""
    found = []
    for place in range(len(degrees) - 1):
        step = (degree_pitch_class(degrees[place + 1]) - degree_pitch_class(degrees[place])) % 12
        if step in (1, 2):
            found.append((place, step))
    return found


_QUARRELS = tuple(frozenset(pair.split()) for pair in (
    "3 11", "3 4", "b5 #11", "#5 13", "#5 b13", "5 b13", "b9 9", "9 #9", "13 b13", "b5 5",
    "5 #5", "6 7", "2 9", "2 3", "b3 #9"))


def compatible(degrees: Iterable[str]) -> bool:
    """May these degrees stand in one chord: no 11 over a major third, no two kinds of ninth,
    thirteenth or fifth?

    Flat and sharp nine together are an altered dominant's own colour and are allowed.

    >>> compatible(("1", "3", "b7", "13")), compatible(("3", "b7", "11"))
    (True, False)
    """
    present = set(degrees)
    return not any(pair <= present for pair in _QUARRELS)


def is_sound(degrees: tuple[str, ...]) -> bool:
    """Compatible, no minor ninth between voices but the flat nine's, no half step on top, no
    sharp nine right under the third but in a chord of four that covers it."""
    if not compatible(degrees):
        return False
    if len(degrees) < 4 and ("#9", "3") in pairwise(degrees):
        return False
    heights = [0]
    for before, after in pairwise(degrees):
        heights.append(heights[-1]
                       + ((degree_pitch_class(after) - degree_pitch_class(before)) % 12 or 12))
    for low in range(len(heights)):
        for high in range(low + 1, len(heights)):
            if heights[high] - heights[low] == 13 and not (
                    degrees[low] == "1" and degrees[high] == "b9"):
                return False
    return len(heights) < 2 or heights[-1] - heights[-2] != 1
