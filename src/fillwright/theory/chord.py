"""Chord symbols: what a symbol names, by degree.

A `ChordSymbol` names harmony only. What is played over it, and where, is a voicing
(`fillwright.fills.voicing.voicings`). `KIND_DEGREES` follows the `kind-value` table of
MusicXML 4.0 (W3C Music Notation Community Group, musicxml.xsd); the function-based
kinds (Italian, French, German, Neapolitan, Tristan) are given the tones of the chord
above their written root.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType

from fillwright.errors import TextError
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, NoteName, degree_interval, easy_name

__all__ = ["KIND_DEGREES", "NO_CHORD", "ChordSymbol", "default_suffix", "degree_number",
           "degree_pitch_class", "kind_changes", "sort_degrees"]


KIND_DEGREES: MappingProxyType[str, tuple[str, ...]] = MappingProxyType({
    kind: tuple(degrees.split())
    for kind, degrees in {
        "major": "1 3 5",
        "minor": "1 b3 5",
        "augmented": "1 3 #5",
        "diminished": "1 b3 b5",
        "dominant": "1 3 5 b7",
        "major-seventh": "1 3 5 7",
        "minor-seventh": "1 b3 5 b7",
        "diminished-seventh": "1 b3 b5 bb7",
        "augmented-seventh": "1 3 #5 b7",
        "half-diminished": "1 b3 b5 b7",
        "major-minor": "1 b3 5 7",
        "major-sixth": "1 3 5 6",
        "minor-sixth": "1 b3 5 6",
        "dominant-ninth": "1 3 5 b7 9",
        "major-ninth": "1 3 5 7 9",
        "minor-ninth": "1 b3 5 b7 9",
        "dominant-11th": "1 3 5 b7 9 11",
        "major-11th": "1 3 5 7 9 11",
        "minor-11th": "1 b3 5 b7 9 11",
        "dominant-13th": "1 3 5 b7 9 11 13",
        "major-13th": "1 3 5 7 9 11 13",
        "minor-13th": "1 b3 5 b7 9 11 13",
        "suspended-second": "1 2 5",
        "suspended-fourth": "1 4 5",
        "power": "1 5",
        "pedal": "1",
        "Neapolitan": "1 3 5",
        "Italian": "1 3 #6",
        "French": "1 3 #4 #6",
        "German": "1 3 5 #6",
        "Tristan": "1 #4 #6 #9",
        "other": "1",
        "none": "",
    }.items()
})

_DEFAULT_SUFFIX = MappingProxyType({
    "major": "", "minor": "m", "augmented": "+", "diminished": "dim", "dominant": "7",
    "major-seventh": "maj7", "minor-seventh": "m7", "diminished-seventh": "dim7",
    "augmented-seventh": "7#5", "half-diminished": "m7b5", "major-minor": "m(maj7)",
    "major-sixth": "6", "minor-sixth": "m6", "dominant-ninth": "9", "major-ninth": "maj9",
    "minor-ninth": "m9", "dominant-11th": "11", "major-11th": "maj11", "minor-11th": "m11",
    "dominant-13th": "13", "major-13th": "maj13", "minor-13th": "m13",
    "suspended-second": "sus2", "suspended-fourth": "sus4", "power": "5", "pedal": "ped",
    "Neapolitan": "N6", "Italian": "It+6", "French": "Fr+6", "German": "Ger+6",
    "Tristan": "Tristan",
})


def degree_number(degree: str) -> int:
    """The number of a degree without its alteration: ``"b9"`` is 9."""
    return int(degree.lstrip("b#"))


@lru_cache(maxsize=256)
def degree_pitch_class(degree: str) -> int:
    """Semitones above the root, 0 to 11.

    >>> degree_pitch_class("#9"), degree_pitch_class("bb7")
    (3, 9)
    """
    return degree_interval(degree).semitones % 12


def sort_degrees(degrees: set[str] | tuple[str, ...] | list[str]) -> tuple[str, ...]:
    """Degrees in the order of their numbers, flats before naturals before sharps."""
    return tuple(sorted(set(degrees), key=_degree_order))


@lru_cache(maxsize=256)
def _degree_order(degree: str) -> tuple[int, int]:
    return degree_number(degree), degree_interval(degree).semitones


_EASY = MappingProxyType({"bb7": "6", "b5": "#11"})
"""In a diminished seventh chord, degrees that name the same key."""


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """What a chord symbol names, and how it was written.

    root      None only for "N.C."
    kind      a `kind-value` of MusicXML 4.0
    degrees   everything the symbol names, root included, lowest number first
    bass      the note after the slash, or None
    suffix    the spelling of the quality after the root, as written
    third     the degree that decides the mode: ``"3"``, ``"b3"``, or of a sus ``"4"``, ``"2"``
    seventh   the seventh or, where there is none, the sixth
    quality   a class of chord: major, minor, dominant, suspended, half-diminished, diminished,
              augmented, minor-major, power or none
    """

    root: NoteName | None
    kind: str
    degrees: tuple[str, ...]
    bass: NoteName | None = None
    suffix: str = ""
    third: str | None = field(init=False, repr=False, compare=False)
    fifth: str | None = field(init=False, repr=False, compare=False)
    seventh: str | None = field(init=False, repr=False, compare=False)
    quality: str = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.kind not in KIND_DEGREES:
            raise ValueError(f"not a chord kind: {self.kind!r}")
        if (self.root is None) != (self.kind == "none"):
            raise ValueError("only N.C. has no root")
        for degree in self.degrees:
            degree_interval(degree)
        # Asked for at every step of every search, and always the same.
        for name, value in (("third", _first(_THIRDS, self.degrees)),
                            ("fifth", _first(_FIFTHS, self.degrees)),
                            ("seventh", _first(_SEVENTHS, self.degrees)),
                            ("quality", "none" if self.root is None else _quality(self.degrees))):
            object.__setattr__(self, name, value)

    @classmethod
    def of(cls, root: str | NoteName, kind: str, *changes: str,
           bass: str | NoteName | None = None) -> ChordSymbol:
        """Build a symbol from a kind and added or replaced degrees.

        >>> ChordSymbol.of("G", "dominant", "b9").degrees
        ('1', '3', '5', 'b7', 'b9')
        >>> str(ChordSymbol.of("Ab", "major-seventh", bass="C"))
        'Abmaj7/C'
        """
        name = NoteName.parse(root) if isinstance(root, str) else root
        low = NoteName.parse(bass) if isinstance(bass, str) else bass
        degrees = set(KIND_DEGREES[kind])
        for change in changes:
            if change in ("b5", "#5"):
                degrees.discard("5")
            degrees.add(change)
        ordered = sort_degrees(degrees)
        return cls(name, kind, ordered, low, default_suffix(kind, ordered))

    @classmethod
    def parse(cls, text: str) -> ChordSymbol:
        """Read a symbol as it is written. Raises `TextError` that says where it stops making
        sense.

        >>> ChordSymbol.parse("B♭13(#11)/D").degrees
        ('1', '3', '5', 'b7', '9', '#11', '13')
        """
        from fillwright.theory.chordtext import parse_chord  # which needs this module

        if not isinstance(text, str):
            raise TextError(f"a chord symbol is text, not {text!r}")
        return parse_chord(text)

    @property
    def is_chord(self) -> bool:
        """False for N.C."""
        return self.root is not None

    def name_of(self, degree: str) -> NoteName:
        """The note name of a degree over this root; raises ValueError for N.C.

        The letter is the degree's own, double flats and sharps included: the flat nine over
        G flat is A double flat. Only in a diminished chord double accidentals are respelled,
        as players write it: the diminished seventh over E flat is C.

        >>> str(ChordSymbol.of("G", "dominant").name_of("b9"))
        'Ab'
        >>> str(ChordSymbol.of("Gb", "dominant").name_of("b9"))
        'Abb'
        >>> str(ChordSymbol.of("Eb", "diminished-seventh").name_of("bb7"))
        'C'
        """
        if self.root is None:
            raise ValueError("N.C. has no degrees")
        name = self.root + degree_interval(degree)
        return easy_name(name) if self.quality == "diminished" else name

    def voiced_name_of(self, degree: str) -> NoteName:
        """The name of a degree in a chord that is struck: `name_of`, but a dominant's sharp nine
        over its major third is written as the minor third.

        It stands on the flat seventh's side of the line of fifths: E, B flat, E flat over C7,
        a plain triad with C and G where it belongs to one. The seventh of G diminished and the
        fifth of B flat diminished are written E, not F flat (common practice).

        >>> str(ChordSymbol.of("C", "dominant", "#9").voiced_name_of("#9"))
        'Eb'
        """
        minor = degree == "#9" and "3" in self.degrees
        name = self.name_of("b3" if minor else degree)
        if str(name) == "Fb" and degree in _EASY and "bb7" in self.degrees:
            return self.name_of(_EASY[degree])
        return name

    @property
    def pitch_classes(self) -> tuple[int, ...]:
        """Sorted pitch classes of all named degrees and the bass."""
        if self.root is None:
            return ()
        root = self.root.pitch_class
        classes = {(root + degree_pitch_class(degree)) % 12 for degree in self.degrees}
        if self.bass is not None:
            classes.add(self.bass.pitch_class)
        return tuple(sorted(classes))

    @property
    def lowest(self) -> NoteName | None:
        """The note meant to sound lowest: the bass after the slash, else the root."""
        return self.bass or self.root

    def relative(self, pitch_class: int) -> int:
        """Semitones of a pitch class above the root, 0 to 11."""
        if self.root is None:
            raise ValueError("N.C. has no root")
        return (pitch_class - self.root.pitch_class) % 12

    def transposed(self, interval: Interval, key: Key | None = None) -> ChordSymbol:
        """The same chord an interval on, without names that are hard to read; in `key`, where it
        has flats, C♭ is the name of its own note."""
        if self.root is None:
            return self
        own = key.scale if key is not None and key.fifths < 0 else ()
        return ChordSymbol(_plain(self.root + interval, own), self.kind, self.degrees,
                           None if self.bass is None else _plain(self.bass + interval, own),
                           self.suffix)

    def __str__(self) -> str:
        if self.root is None:
            return "N.C."
        return f"{self.root}{self.suffix}" + (f"/{self.bass}" if self.bass else "")

    @property
    def pretty(self) -> str:
        """With real accidentals, for people."""
        if self.root is None:
            return "N.C."
        suffix = re.sub(r"b(?=\d)", "♭", self.suffix).replace("#", "♯")
        return self.root.pretty + suffix + (f"/{self.bass.pretty}" if self.bass else "")


_THIRDS = ("3", "b3", "4", "2")
_FIFTHS = ("5", "b5", "#5")
_SEVENTHS = ("7", "b7", "bb7", "6")


def _first(options: tuple[str, ...], degrees: tuple[str, ...]) -> str | None:
    for degree in options:
        if degree in degrees:
            return degree
    return None


@lru_cache(maxsize=4096)
def _quality(degrees: tuple[str, ...]) -> str:
    third, seventh = _first(_THIRDS, degrees), _first(_SEVENTHS, degrees)
    fifth = _first(_FIFTHS, degrees)
    if third in ("4", "2"):
        return "suspended"
    if third is None:
        return "dominant" if seventh == "b7" else "power"
    if third == "b3":
        if seventh == "7":
            return "minor-major"
        if fifth == "b5":
            return "half-diminished" if seventh == "b7" else "diminished"
        return "minor"
    if seventh == "b7" or "#6" in degrees:
        return "dominant"
    if fifth == "#5" and seventh is None:
        return "augmented"
    return "major"


def _plain(name: NoteName, own: Collection[NoteName]) -> NoteName:
    """A root no reader has to think about: no double accidentals, no B♯, E♯, C♭, F♭, but what is
    the key's own."""
    if name in own:
        return name
    while name.fifths > 10:  # up to A♯, as the key of F♯ needs
        name = NoteName.from_fifths(name.fifths - 12)
    while name.fifths < -6:
        name = NoteName.from_fifths(name.fifths + 12)
    return name


NO_CHORD = ChordSymbol(None, "none", ())


@lru_cache(maxsize=1024)
def kind_changes(kind: str, degrees: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """How `degrees` differ from those of `kind`: pairs of action and degree.

    The actions are those of MusicXML's `degree-type`: ``add``, ``alter``, ``subtract``.

    >>> kind_changes("dominant", ("1", "3", "b5", "b7", "b9"))
    (('alter', 'b5'), ('add', 'b9'))
    """
    base = set(KIND_DEGREES[kind])
    wanted = set(degrees)
    lost, gained = base - wanted, wanted - base
    changes: list[tuple[str, str]] = []
    for degree in sort_degrees(lost):
        same = [new for new in gained if degree_number(new) == degree_number(degree)]
        if len(same) == 1:
            changes.append(("alter", same[0]))
            gained.discard(same[0])
        else:
            changes.append(("subtract", degree))
    changes += [("add", degree) for degree in sort_degrees(gained)]
    return tuple(changes)


@lru_cache(maxsize=1024)
def default_suffix(kind: str, degrees: tuple[str, ...]) -> str:
    """A common spelling of a quality: ``"7(b9,#11)"``, ``"7sus4"``, ``"6/9"``."""
    changes = kind_changes(kind, degrees)
    adds = {degree for action, degree in changes if action == "add"}
    rest = list(changes)
    stem = _DEFAULT_SUFFIX.get(kind, "")
    if kind == "suspended-fourth" and "b7" in adds:
        top = "13" if "13" in adds else "9" if "9" in adds else "7"
        stem = f"{top}sus4"
        named = {"7": {"b7"}, "9": {"b7", "9"}, "13": {"b7", "9", "13"}}[top]
        rest = [change for change in rest if change[1] not in named]
    elif kind in ("major-sixth", "minor-sixth") and "9" in adds:
        stem += "/9" if kind == "major-sixth" else "9"
        rest.remove(("add", "9"))
    elif kind == "dominant" and {"b9", "#9", "#11", "b13"} <= adds:
        return "7alt"
    # "sus4(b9)" is read with the minor seventh that its flat ninth belongs to.
    bare_nine = kind == "suspended-fourth" and "b7" not in degrees
    marks = []
    for action, degree in rest:
        if action == "subtract":
            if degree != "5" or not {"b5", "#5"} & set(degrees):
                marks.append(f"no{degree}")
        elif action == "add" and (degree.isdigit() or (bare_nine and degree == "b9")):
            marks.append(f"add{degree}")
        else:
            marks.append(degree)
            natural = degree.lstrip("b#")
            if action == "add" and natural in degrees:  # both stand beside each other
                marks.append(f"add{natural}")
    if not marks:
        return stem
    return f"{stem}({','.join(marks)})"
