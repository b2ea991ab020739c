"""The chord a teacher would expect between two others, in the ways tunes usually go.

All rows are common practice. The chord in brackets is taken out; it has to come back among
the first three, the melody holding one of its own notes, in the written key and two others.
"""

from __future__ import annotations

import pytest

from fillwright.fills.devices.reharm.function import letter
from fillwright.fills.devices.reharm.passing import passing_options
from fillwright.fills.devices.reharm.place import Place, options, own_ways
from fillwright.fills.hearing import habits_of
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import analyse, harmony_of
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval

pytestmark = pytest.mark.slow

USUAL = [
    # II V I and turnarounds
    ("C", "Dm7 [G7] Cmaj7 Am7"), ("F", "Bbmaj7 [Gm7] C7 Fmaj7"), ("G", "Gmaj7 [Dm7] G7 Cmaj7"),
    ("Ab", "Abmaj7 [Ebm7] Ab7 Dbmaj7"), ("C", "Cmaj7 [A7] Dm7 G7"), ("F", "Fmaj7 [Dm7] Gm7 C7"),
    ("Eb", "Gm7 [C7] Fm7 Bb7"), ("Eb", "Ebmaj7 C7 [Fm7] Bb7 Ebmaj7"), ("F", "Gm7 C7 [Am7] D7 Gm7"),
    ("C", "Dm7 [G7] Dm7 G7"), ("D", "F#m7 [B7] F#m7 B7 Em7"),
    # minor II V, in minor and on the way to minor chords
    ("C minor", "Cm [Dm7b5] G7 Cm"), ("G minor", "Gm7 [Am7b5] D7 Gm7"),
    ("D minor", "Em7b5 [A7] Dm Bbmaj7"), ("A minor", "Dm7 G7 Cmaj7 Fmaj7 [Bm7b5] E7 Am"),
    ("C minor", "Ab7 [Dm7b5] G7 Cm6"), ("C minor", "Fm7 [Dm7b5] G7 Cm"),
    ("Bb", "Bbmaj7 [Am7b5] D7 Gm7 C7"), ("F", "Fmaj7 [Em7b5] A7 Dm7 G7"),
    ("G", "Gmaj7 [F#m7b5] B7 Em7 A7"), ("C", "Dm7 [Dm7b5] G7 Cmaj7"),
    ("C", "Fmaj7 [F#m7b5] B7 Em7 A7"), ("C", "G7 [Em7b5] A7 Dm7"), ("C", "F#m7b5 [B7] Em7 A7"),
    ("C", "Am7 [F#m7b5] Fm6 Cmaj7"), ("C minor", "Cm [Am7b5] Dm7b5 G7 Cm"),
    # diminished chords between neighbours
    ("C", "Cmaj7 [C#dim7] Dm7 G7"), ("F", "Gm7 [G#dim7] Am7 D7"), ("C", "F [F#dim7] C/G A7"),
    ("Bb", "Bb7 Eb7 [Edim7] Bb7 G7"), ("C", "Em7 [Ebdim7] Dm7 G7"), ("C", "C/E [Ebdim7] Dm7 G7"),
    ("C", "G7 [G#dim7] Am7 D7"), ("C", "Fmaj7 [F#dim7] G7 Cmaj7"), ("C", "C [C#dim7] G7/D G7"),
    ("Eb", "Abmaj7 [Adim7] Gm7 Cm7"), ("Eb", "Ebmaj7 [Ebdim7] Ebmaj7 Cm7"),
    # substitutes of the dominant
    ("C", "Dm7 [Db7] Cmaj7"), ("C", "Am7 [Ab7] G7 Cmaj7"), ("C minor", "Cm [Ab7] G7 Cm"),
    # back door and IV minor
    ("C", "Fmaj7 [Fm7] Cmaj7 Am7"), ("F", "Bbm7 [Eb7] Fmaj7 D7"), ("G", "Cmaj7 [F7] Gmaj7"),
    ("C", "Fmaj7 [Fm7] Em7 A7"), ("F", "Bbmaj7 [Bbm6] Am7 D7"), ("C", "Fm7 [Em7] Dm7 G7"),
    # secondary dominants and their II
    ("C", "Cmaj7 [C7] Fmaj7 Fm6"), ("C", "Cmaj7 [Gm7] C7 Fmaj7"), ("C", "Cmaj7 [E7] Am7 D7"),
    ("C", "Am7 [D7] G7 Cmaj7"), ("C", "Am7 [D7] Dm7 G7"), ("Bb", "Gm7 [C7] Cm7 F7"),
    ("G", "C#m7 [F#7] Bm7 E7"), ("C", "Cmaj7 [Cm7] F7 Bbmaj7"),
    # II V that slide down by half steps, chords that slide between neighbours
    ("C", "Em7 [A7] Ebm7 Ab7 Dm7 G7"), ("F", "Gm7 [Abm7] Am7 D7"), ("C", "Em7 [Ebm7] Dm7 G7"),
    # blues and minor tunes
    ("F", "F7 [Bb7] F7 F7"), ("F", "F7 [D7] Gm7 C7 F7"), ("C minor", "Cm [Bb7] Ebmaj7 Abmaj7"),
    ("A minor", "Am [Dm7] Am E7"), ("C minor", "Ebmaj7 [Abmaj7] Dm7b5 G7 Cm"),
    # the chords of the key
    ("C", "C [F] C G7"), ("C", "F [C] G7 C"), ("C", "Cmaj7 [Dm7] Em7 Fmaj7"),
]


def ranks(key: Key, row: list[ChordSymbol], place: int) -> list[int]:
    """The rank of the chord taken out, under each of its own notes in turn."""
    chord = row[place]
    assert chord.root is not None
    heard = harmony_of(chord, key, row[place + 1])
    found = []
    for pitch_class in sorted({(chord.root.pitch_class + s) % 12 for s in (0, 3, 4, 6, 7, 9, 10, 11)
                               if heard.is_tone((chord.root.pitch_class + s) % 12)}):
        offered = passing_options(row[place - 1], row[place + 1], key, 60 + pitch_class,
                                  before=row[:place - 1], after=row[place + 2:], count=12)
        names = [(o.symbol.root.pitch_class, o.quality) for o in offered
                 if o.symbol.root is not None]
        answer = (chord.root.pitch_class, letter(heard))
        found.append(names.index(answer) + 1 if answer in names else 99)
    return found


@pytest.mark.parametrize("by", [Interval(0, 0), Interval(2, 4), Interval(4, 7)], ids=str)
@pytest.mark.parametrize(("home", "text"), USUAL)
def test_the_usual_chord_comes_back(home: str, text: str, by: Interval) -> None:
    """Under most of its notes among the first three (a note that three other chords take as
    well may put it fourth)."""
    key = Key.parse(home)
    moved = Key.of(key.tonic + by, key.mode)
    names = text.split()
    place = next(i for i, name in enumerate(names) if name.startswith("["))
    row = [parse_chord(name.strip("[]")).transposed(by) for name in names]
    found = ranks(moved, row, place)
    assert sum(rank <= 3 for rank in found) >= 3 * len(found) / 4, found


def test_the_two_before_a_dominant_is_told_by_where_the_dominant_goes() -> None:
    """F sharp half-diminished before B7 that goes to E minor, F sharp minor before B7 that goes
    to E major."""
    def first(goal: str, home: str) -> str:
        found = passing_options(parse_chord("A7"), parse_chord("B7"), Key.parse(home),
                                after=[parse_chord(goal)])
        return next(str(o.symbol) for o in found if str(o.symbol).startswith("F#m"))

    assert first("Em7", "E minor") == "F#m7b5"
    assert first("Emaj7", "E") == "F#m7"


def test_a_tune_goes_its_own_ways() -> None:
    """What a tune puts between two chords in one place is likely in another, in any key."""
    row = [parse_chord(t) for t in ("Cmaj7", "Ebdim7", "Dm7", "G7", "Cmaj7", "Dm7", "G7",
                                    "Fmaj7", "Abdim7", "Gm7")]
    heard = analyse(row, Key(0))
    here, goal = heard[4], heard[5]
    assert here is not None and goal is not None
    assert own_ways(habits_of(heard), here, goal) == {(3, "o")}
    assert own_ways(habits_of(heard[3:7]), here, goal) == frozenset()
    plain = options(Place(here, goal))
    own = options(Place(here, goal, False, own_ways(habits_of(heard), here, goal)))
    def at(found: object) -> int:
        assert isinstance(found, tuple)
        return next(i for i, o in enumerate(found) if [str(h.symbol) for h in o.chords]
                    == ["Ebdim7"])
    assert at(own) < at(plain)
    assert "The tune goes this way itself" in own[at(own)].reason
    assert "The tune" not in plain[at(plain)].reason
