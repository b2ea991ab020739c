"""The table of moves, device by device, in twelve keys.

Rows marked "common practice" have no single source; chord scales and tensions by which a
melody note is judged follow the "Chord Scale Summation" class sheet (Berklee).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.sweep import every

from fillwright.fills.devices.reharm.function import (
    MOTIONS,
    PROGRESSIONS_MAJOR,
    PROGRESSIONS_MINOR,
    follow_cost,
    letter,
)
from fillwright.fills.devices.reharm.moves import MOVES
from fillwright.fills.devices.reharm.place import CONDITIONS, Option, Place, options
from fillwright.fills.devices.reharm.words import leads
from fillwright.fills.player import ALL_LEVELS
from fillwright.theory.chord import ChordSymbol, degree_pitch_class
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import Harmony, analyse, harmony_of
from fillwright.theory.key import Key
from fillwright.theory.pitch import NoteName

KEYS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]


def place(here: str, goal: str, home: str = "C", by: int = 0, mode: str = "major") -> Place:
    """Two chords in a key, all moved up `by` semitones."""
    tonic = NoteName.parse(home)
    moved = NoteName.parse(KEYS[(tonic.pitch_class + by) % 12])
    key = Key.of(moved, mode)
    symbols = [_moved(parse_chord(text), tonic, moved) for text in (here, goal)]
    if symbols[0] == symbols[1]:
        heard = analyse(symbols[:1], key) * 2
    else:
        heard = analyse(symbols, key)
    first, second = heard
    assert first is not None and second is not None
    return Place(first, second)


def _moved(symbol: ChordSymbol, tonic: NoteName, moved: NoteName) -> ChordSymbol:
    from fillwright.theory.pitch import Interval

    steps = ("CDEFGAB".index(moved.step) - "CDEFGAB".index(tonic.step)) % 7
    return symbol.transposed(Interval(steps, (moved.pitch_class - tonic.pitch_class) % 12))


def classes(option: Option, by: int = 0) -> list[tuple[int, str]]:
    return [((h.root.pitch_class - by) % 12, letter(h)) for h in option.chords]


def wanted(text: str) -> list[tuple[int, str]]:
    found = []
    for name in text.split():
        symbol = parse_chord(name)
        assert symbol.root is not None
        found.append((symbol.root.pitch_class, letter(harmony_of(symbol, Key(0), None))))
    return found


def names(option: Option) -> str:
    return " ".join(str(h.symbol) for h in option.chords)


# here, goal, device, the chords in C
WORKED = [
    ("G7", "C", "tritone substitute", "Db7"),
    ("Dm7", "G7", "tritone substitute", "Ab7"),
    ("G7", "C", "II V of the tritone substitute", "Abm7 Db7"),
    ("C", "Dm7", "passing diminished, rising", "C#dim7"),
    ("Dm7", "Em7", "passing diminished, rising", "D#dim7"),
    ("F", "C/G", "diminished before the tonic", "F#dim7"),
    ("F", "G7", "passing diminished, rising", "F#dim7"),
    ("G7", "Am7", "passing diminished, rising", "G#dim7"),
    ("Em7", "Dm7", "passing diminished, falling", "Ebdim7"),
    ("C", "F", "diatonic walk-up", "Dm7 Em7"),
    ("C", "F", "diatonic walk-up", "Dm7 C/E"),
    ("C", "C", "diatonic walk-up and back", "Dm7 Em7 Dm7"),
    ("C", "Dm7", "secondary dominant", "A7"),
    ("C", "Em7", "secondary dominant", "B7"),
    ("C", "F", "secondary dominant", "C7"),
    ("C", "G7", "secondary dominant", "D7"),
    ("C", "Am7", "secondary dominant", "E7"),
    ("C", "Dm7", "II V into the coming chord", "Em7b5 A7b9"),
    ("C", "F", "II V into the coming chord", "Gm7 C7"),
    ("C", "Em7", "II V into the coming chord", "F#m7b5 B7b9"),
    ("C", "C", "backdoor", "Fm7 Bb7"),
    ("C", "C", "backdoor", "Bb7"),
    ("F", "C", "IV minor", "Fm6"),
    ("C", "C", "IV, then IV minor", "Fmaj7 Fm6"),
    ("C", "C", "IV minor", "Fm6"),
    ("C", "Dm7", "chromatic approach from above", "Ebm7"),
    ("C", "Dm7", "chromatic approach from below", "C#m7"),
    ("G7", "Cmaj7", "chromatic approach from above", "Dbmaj7"),
    ("C", "C", "turnaround", "Am7 Dm7 G7"),
    ("C", "C", "turnaround", "A7 Dm7 G7"),
    ("C", "C", "turnaround", "Em7 A7 Dm7 G7"),
    ("C", "C", "cycle of dominants", "A7 D7 G7"),
    ("C", "C", "turnaround with tritone substitutes", "Eb7 Ab7 Db7"),
    ("C", "C", "pedal point", "Dm7/G G7"),
    ("C", "C", "pedal point", "Dm7/C G7/C"),
    ("C", "F", "thirds walking under a common top note", "Dm7 Ebdim7 C6/E"),
    ("C", "F", "walk-up with chromatic passing chord", "Dm7 Ebm7 Em7"),
    ("C", "F", "walk-up with chromatic passing chord", "Dm7 D#dim7 Em7"),
    ("C", "G7", "related II before the dominant", "Dm7"),
    ("Cm7", "F7", "tritone substitute", "Gb7"),
    ("Cmaj7", "F", "chord standing for the written one", "Em7"),
    ("Dm7", "G7", "moving inner line", "Dm(maj7) Dm7 Dm6"),
    ("Cmaj7", "F", "moving inner line", "C+ C6"),
    ("C", "Em7", "deceptive cadence", "G7"),
    ("Fm7", "Em7", "backdoor", "Bb7"),
]


@every(WORKED, range(12))
def test_worked_moves_in_twelve_keys(here: str, goal: str, device: str, chords: str, by: int
                                     ) -> None:
    """Worked reharmonizations in C (common practice; the tones are those of the chords)."""
    found = options(place(here, goal, by=by))
    assert (device, wanted(chords)) in [(o.move.device, classes(o, by)) for o in found]


SPELLED = [
    # function decides: raised before a rise, lowered before a fall (common practice)
    ("C", "Dm7", "passing diminished, rising", "C#dim7"),
    ("Dm7", "Em7", "passing diminished, rising", "D#dim7"),
    ("Em7", "Dm7", "passing diminished, falling", "Ebdim7"),
    ("C", "F", "thirds walking under a common top note", "Dm7 Ebdim7 C6/E"),
    ("C", "F", "walk-up with chromatic passing chord", "Dm7 Ebm7 Em7"),
    ("Cm7", "F7", "tritone substitute", "Gb7"),
    ("C", "Dm7", "chromatic approach from below", "C#m7"),
    ("Dbmaj7", "Dbmaj7", "tritone substitute", "D7"),  # not E double flat
]


@every(SPELLED)
def test_spelling_follows_function(here: str, goal: str, device: str, chords: str) -> None:
    found = [names(o) for o in options(place(here, goal, "C" if here != "Dbmaj7" else "Db"))
             if o.move.device == device]
    assert chords in found


@every([("C", "F"), ("C", "C"), ("Dm7", "G7"), ("Am7", "Dm7"), ("G7", "Am7"), ("C", "Em7")],
       range(12))
def test_no_double_accidental_and_no_white_key_written_black(here: str, goal: str, by: int
                                                             ) -> None:
    for option in options(place(here, goal, by=by)):
        for harmony in option.chords:
            assert abs(harmony.root.alter) <= 1
            assert str(harmony.root) not in ("B#", "E#", "Cb", "Fb")


@every(range(12))
def test_the_same_offers_in_every_key(by: int) -> None:
    for here, goal in (("Cmaj7", "F"), ("Cmaj7", "Cmaj7"), ("Dm7", "G7"), ("G7", "Em7")):
        home = [(o.move.device, classes(o), o.cost) for o in options(place(here, goal))]
        away = [(o.move.device, classes(o, by), o.cost) for o in options(place(here, goal, by=by))]
        assert sorted(home) == sorted(away)


def option_of(here: str, goal: str, device: str, chords: str, home: str = "C") -> Option:
    return next(o for o in options(place(here, goal, home))
                if o.move.device == device and names(o) == chords)


def tones(harmony: Harmony) -> set[int]:
    return {(harmony.root.pitch_class + degree_pitch_class(d)) % 12 for d in harmony.tones}


def test_a_tritone_substitute_shares_third_and_seventh() -> None:
    option = option_of("G7", "C", "tritone substitute", "Db7")
    dominant = harmony_of(parse_chord("G7"), Key(0), parse_chord("C"))
    assert tones(option.chords[0]) & tones(dominant) == {5, 11}  # F and B
    assert "C–" not in option.reason and "G–D♭–C" in option.reason
    assert option.chords[0].scale.name == "lydian b7"


def test_a_rising_diminished_is_the_upper_part_of_a_dominant_flat_nine() -> None:
    """C sharp diminished: the third, fifth, seventh and flat nine of A7(b9)."""
    for here, goal, chord, dominant in (("C", "Dm7", "C#dim7", "A7b9"),
                                        ("Dm7", "Em7", "D#dim7", "B7b9"),
                                        ("F", "G7", "F#dim7", "D7b9"),
                                        ("G7", "Am7", "G#dim7", "E7b9")):
        option = option_of(here, goal, "passing diminished, rising", chord)
        symbol = parse_chord(dominant)
        assert symbol.root is not None
        assert tones(option.chords[0]) == set(symbol.pitch_classes) - {symbol.root.pitch_class}


def test_the_sus_chord_is_the_two_over_the_five() -> None:
    """Dm7/G: root, fourth, fifth, seventh, ninth of G (common practice)."""
    option = next(o for o in options(place("G7", "C")) if names(o) == "G9sus4" and o.move.delay)
    assert set(option.chords[0].symbol.pitch_classes) == {7, 0, 2, 5, 9}
    assert set(parse_chord("Dm7/G").pitch_classes) == {7, 0, 2, 5, 9}
    assert "holds the third back, and then C falls into it" in option.reason


def test_e_minor_stands_for_c_major() -> None:
    option = option_of("Cmaj7", "F", "chord standing for the written one", "Em7")
    assert "three of its four tones (E, G and B)" in option.reason


def test_the_tritone_substitute_over_c_minor_is_explained() -> None:
    option = option_of("Cm7", "F7", "tritone substitute", "Gb7", "Bb")
    assert "tritone substitute of C7, the dominant of F7" in option.reason
    assert "half step onto the coming dominant" in option.reason


def test_colour_changes_say_so() -> None:
    """G flat 7, F7sus, F7 altered: the first is a reharmonization, the others are colours."""
    found = {names(o): o for o in options(place("F7", "Bb", "Bb"))}
    colour = found["F9sus4 F7alt"]
    assert colour.move.colour and colour.move.device.startswith("colour change")
    assert "colour" in colour.reason
    for option in found.values():
        if option.move.delay and not option.move.colour:
            assert option.move.device == "sus delay"  # the written chord follows
        same_root = {h.root.pitch_class for h in option.chords} == {5}
        assert not same_root or option.move.colour or option.move.device in (
            "sus delay", "moving inner line", "passing diminished and return",
            "diminished on the root", "pedal point")


@pytest.mark.parametrize("goal", ["Bm7b5"])
def test_the_leading_tone_has_no_dominant(goal: str) -> None:
    assert "secondary dominant" not in [o.move.device for o in options(place("C", goal))]


# device, here, goal, chords, the melody notes all of them take (pitch classes)
TAKEN = [
    ("diatonic walk-up", "Cmaj7", "F", "Dm7 Em7", "E G A D"),
    ("walk-up with chromatic passing chord", "Cmaj7", "F", "Dm7 Ebm7 Em7", ""),
    ("thirds walking under a common top note", "Cmaj7", "F", "Dm7 Ebdim7 C6/E", "C A D"),
    ("secondary dominant", "Cmaj7", "F", "C7", "C D E G A Bb"),
    ("secondary dominant", "Cmaj7", "Dm7", "A7", "A B C# E F G"),
    ("II V into the coming chord", "Cmaj7", "F", "Gm7 C7", "G Bb D A C"),
    ("tritone substitute", "Cm7", "F7", "Gb7", "Gb Bb Db E Ab C Eb"),
    ("backdoor", "C", "C", "Bb7", "Bb D F Ab C E G"),
    ("IV minor", "C", "C", "Fm6", "F Ab C D G Bb"),
    ("passing diminished, falling", "Em7", "Dm7", "Ebdim7", "Eb Gb A C F Ab B D"),
    ("chord standing for the written one", "Cmaj7", "F", "Em7", "E G B D A"),
    ("related II before the dominant", "C", "G7", "Dm7", "D F A C E G"),
    ("sus delay", "G7", "C", "G9sus4", "G C D F A E"),
]


@every(TAKEN)
def test_what_each_device_takes(device: str, here: str, goal: str, chords: str, expected: str
                                ) -> None:
    """Every note the melody may hold: chord tones and available tensions of all the chords
    ("Chord Scale Summation", Berklee: dorian 9 11, phrygian 11, mixolydian 9 13, mixolydian
    b13 9 b13, lydian b7 9 #11 13; minor sixth 9 11 and whole-half diminished: from memory)."""
    home = "Bb" if here == "Cm7" else "C"
    option = option_of(here, goal, device, chords, home)
    taken = {pc for pc in range(12) if all(h.takes(pc) for h in option.chords)}
    assert taken == {NoteName.parse(n).pitch_class for n in expected.split()}


def test_thirds_are_offered_only_under_a_note_that_stays() -> None:
    target = place("Cmaj7", "F")
    for melody in range(12):
        offered = any(o.move.motion == "thirds" and len(o.chords) == 3
                      for o in options(target, melody))
        assert offered == (melody in (0, 2, 9)), melody
    on_top = next(o for o in options(target, 9) if o.move.motion == "thirds")
    assert "while A stays on top" in on_top.reason


def test_a_major_seventh_under_its_own_root_becomes_a_sixth() -> None:
    assert "F6" in [names(o) for o in options(place("C", "C"), 5)]
    assert "Fmaj7" in [names(o) for o in options(place("C", "C"), 0)]


# --- the table itself --------------------------------------------------------------------------

@every(MOVES)
def test_rows_are_whole(move: object) -> None:
    from fillwright.fills.devices.reharm.moves import Move

    assert isinstance(move, Move)
    assert move.level in ALL_LEVELS and move.anchor in ("goal", "here", "key", "bass")
    assert move.beats >= (1 if move.instead else 2)
    assert move.reason.endswith(".") and "{" in move.reason
    for condition in move.when:
        name = condition.removeprefix("not ")
        assert name in CONDITIONS or name == "last leads" or name[:3] in ("up ", "dow")
    if move.colour:
        assert move.device.startswith("colour change")


PLACES = [(a, b) for a in ("C", "Cmaj7", "C7", "Cm7", "Dm7", "Em7", "F", "Fmaj7", "G7", "Am7",
                           "A7", "D7", "Bm7b5", "Bb7", "Fm6", "C#dim7", "Em7b5", "Ebdim7")
          for b in ("C", "Cm", "Dm7", "Em7", "F", "G7", "C/G", "Am7", "A7", "F7", "Bb")]


@pytest.mark.slow
def test_every_row_is_reached() -> None:
    reached = set()
    for mode in ("major", "minor"):
        for here, goal in PLACES:
            target = place(here, goal, mode=mode)
            same = Place(target.here, target.here, True)
            for where in (target, replace(target, ending=True), same):
                for level in ALL_LEVELS:
                    reached |= {id(o.move) for o in options(where, None, level)}
    for here, goal, after in (("Em7", "Ebm7", "Ab7"), ("Am7", "Ab7", "Dm7"), ("C", "G7/D", "C"),
                              ("C/E", "G7/D", "C"), ("C", "D7/A", "G7"), ("Am7", "Ab7", "Db7")):
        row = analyse([parse_chord(text) for text in (here, goal, after)], Key(0))
        assert row[0] is not None and row[1] is not None
        reached |= {id(o.move) for o in options(Place(row[0], row[1]))}
    missing = [f"{m.device}: {m.pattern}" for m in MOVES if id(m) not in reached]
    assert missing == []


@every(PLACES)
def test_every_option_leads_on_and_is_no_disguise(here: str, goal: str) -> None:
    target = place(here, goal)
    for option in options(target):
        assert "{" not in option.reason and "  " not in option.reason
        assert option.reason[0].isupper() and option.reason.endswith(".")
        if option.move.colour:
            continue
        after = target.here if option.move.delay else target.goal
        assert leads(option.chords[-1], after, target.key) is not None
        for first, second in zip(option.chords, option.chords[1:], strict=False):
            assert first.symbol != second.symbol
        assert str(option.chords[0].symbol) != here
        last, goal_symbol = option.chords[-1], target.goal.symbol
        assert option.move.delay or (
            letter(last), last.third, last.root, last.symbol.lowest) != (
            letter(target.goal), target.goal.third, target.goal.root, goal_symbol.lowest)


def test_shares_are_shares() -> None:
    for table in (PROGRESSIONS_MAJOR, PROGRESSIONS_MINOR):
        for row in table.values():
            assert 0 < sum(row.values()) <= 1.0001
    for motions in MOTIONS.values():
        assert sum(motions.values()) <= 1.0001


def test_the_dominant_leads_home_first() -> None:
    key = Key(0)
    costs = {goal: follow_cost((7, "7"), (goal, "M"), key) for goal in range(12) if goal != 7}
    assert min(costs, key=lambda goal: (costs[goal], goal)) == 0
