"""Options are different ideas, near the best, spelled by degree and without holes. Rules
without a source are common practice."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from tests.fills.builders import chorus_of, one_task, options_of

from fillwright import ChordSymbol, Fill, Pitch
from fillwright.fills import player_of
from fillwright.fills.devices.comp import family
from fillwright.fills.offer import ENOUGH
from fillwright.theory import CHORD_SCALES, NoteName, degree_pitch_class

pytestmark = pytest.mark.slow

LEVELS = ("beginner", "intermediate", "advanced")
GAPS = (("C11", "F4", "Fmaj7"), ("Bbm7", "Db5", "Eb7"), ("Bbdim7", "Db5", "F7"),
        ("Bbm11", "Db5", "Eb7"), ("Cmaj7", None, "Am7"), ("Gbm", "A4", "B7"),
        ("Ebm7b5", "Db5", "Ab7"), ("G7", "B4", "Cmaj7"), ("C7(#9)", "Eb5", "Fm7"),
        ("Abm7", "Eb5", "Db7"), ("Gb7(b9)", "Db5", "Bmaj7"))


def options(chord: str, held: str | None, following: str, level: str, count: int = 6,
            key: str = "C") -> tuple[Fill, ...]:
    chorus = chorus_of("4/4", key, 120, [(held, 4), ("C5", 4)], [(chord, 4), (following, 4)])
    found = options_of(one_task(chorus, 1, level), "comp", count)
    assert not isinstance(found, str), found
    return found


def by_onset(fill: Fill) -> dict[Fraction, list[Pitch]]:
    struck: dict[Fraction, list[Pitch]] = {}
    for note in sorted(fill.notes, key=lambda n: (n.onset_quarter, n.midi)):
        struck.setdefault(note.onset_quarter, []).append(note.pitch)
    return struck


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("chord", "held", "following"), GAPS)
def test_six_options_that_differ_in_what_is_heard(chord: str, held: str | None, following: str,
                                                  level: str) -> None:
    """Counted anew from the notes: onsets, top line, texture with other chords, register."""
    found = options(chord, held, following, level)
    assert len(found) == 6
    for one, other in combinations(found, 2):
        a, b = by_onset(one), by_onset(other)
        tops = [[pitches[-1].midi for pitches in struck.values()] for struck in (a, b)]
        chords = [{frozenset(p.pitch_class for p in pitches) for pitches in struck.values()}
                  for struck in (a, b)]
        names = [fill.device.rsplit(", ", 1)[0] for fill in (one, other)]
        middles = [sum(n.midi for n in fill.notes) / len(fill.notes) for fill in (one, other)]
        differing = ((set(a) != set(b)) + (tops[0] != tops[1])
                     + (names[0] != names[1] and chords[0] != chords[1])
                     + (abs(middles[0] - middles[1]) >= 5))
        assert differing >= 2, (one.device, other.device)


@pytest.mark.parametrize("level", LEVELS)
def test_textures_come_once_each_before_any_comes_again(level: str) -> None:
    for chord, held, following in GAPS[:6]:
        names = [fill.device.rsplit(", ", 1)[0]
                 for fill in options(chord, held, following, level, 4)]
        assert len(set(names)) == len(names), names


@pytest.mark.parametrize("level", LEVELS)
def test_what_is_far_harder_than_the_rest_stands_back(level: str) -> None:
    fill, player = options("G7", "B4", "Cmaj7", level, 1)[0], player_of(level, "medium")
    ease = player.level.at_ease
    assert family.COMP.suits(replace(fill, difficulty=ease), player)
    assert not family.COMP.suits(replace(fill, difficulty=ease + 1), player)


@pytest.mark.parametrize("level", LEVELS)
def test_beyond_enough_nothing_far_from_the_best(level: str) -> None:
    for chord, held, following in GAPS:
        costs = [fill.total_cost for fill in options(chord, held, following, level, 12)]
        for cost in costs[ENOUGH:]:
            assert cost <= costs[0] + family.FAR + family.ITS_TURN, costs


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("held", ("Eb5", "Eb4"))
def test_a_held_flat_nine_makes_the_dominant_one(held: str, level: str) -> None:
    """D7 printed under E flat: options there are, and none has the natural nine."""
    chorus = chorus_of("4/4", "C", 120, [("A4", 2), (held, 2), ("D5", 4)],
                       [("D7", 4), ("G", 4)])
    found = options_of(one_task(chorus, 2, level), "comp", 6)
    assert not isinstance(found, str) and len(found) >= 5
    for fill in found:
        # a push may take the landing's chord, which has E at home
        assert not any(n.midi % 12 == 4 for n in fill.notes if n.onset_quarter < 1), fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_no_two_octaves_empty_between_neighbours(level: str) -> None:
    """Between a key of the fill and what sounds below it, the held note among that."""
    for chord, held, following in GAPS:
        for fill in options(chord, held, following, level, 8):
            for onset in {n.onset_quarter for n in fill.notes}:
                own = [n.midi for n in fill.notes if n.onset_quarter <= onset < n.end_quarter]
                keys = list(own)
                if held is not None and onset < fill.held_end.until_quarter:
                    keys.append(Pitch.parse(held).midi)
                for low, high in pairwise(sorted(keys)):
                    assert high not in own or high - low < 24, (fill.device, low, high)


@pytest.mark.parametrize("level", LEVELS)
def test_right_hand_chords_end_with_their_harmony(level: str) -> None:
    """The fifth of Am7 does not ring on over D7(b9), in a ballad neither."""
    chorus = chorus_of("4/4", "G", 66, [("C5", 4), ("G4", 4)], [("Am7", 2), ("D7(b9)", 2),
                                                               ("Gm7", 4)])
    found = options_of(one_task(chorus, 1, level), "comp", 12)
    assert not isinstance(found, str)
    for fill in found:
        for note in fill.notes:
            if note.hand == "right" and note.midi % 12 == 4 and note.onset_quarter < 2:
                assert note.end_quarter <= 2, fill.device


@pytest.mark.parametrize("level", ("intermediate", "advanced"))
def test_a_bass_line_moves_and_keeps_a_printed_bass(level: str) -> None:
    seen = 0
    for chord, following in (("Dm7", "G7"), ("Abmaj7", "Abm7"), ("C/E", "F")):
        for fill in options(chord, "C5", following, level, 20):
            if fill.device.startswith(("bass line", "bass and tenths")):
                seen += 1
                assert "/" not in chord
                lows = {pitches[0].pitch_class for pitches in by_onset(fill).values()}
                assert len(lows) > 1
    assert seen


@pytest.mark.parametrize("level", ("beginner", "intermediate"))
def test_the_left_hand_has_time_from_root_to_chord(level: str) -> None:
    """At 140 an eighth is 0.21 s: too short to leave a root in the bass for a chord."""
    seen = 0
    chorus = chorus_of("4/4", "Eb", 140, [("Bb4", 4), ("G4", 4)],
                       [("Abmaj7", 2), ("Abm7", 2), ("Ebmaj7", 4)])
    found = options_of(one_task(chorus, 1, level), "comp", 20)
    assert not isinstance(found, str)
    for fill in found:
        if fill.device.startswith("root, then"):
            seen += 1
            for (one, low), (two, chord) in pairwise(by_onset(fill).items()):
                if len(low) == 1 and len(chord) > 1:
                    assert two - one >= 1, (fill.device, one, two)
    assert seen


# --- spelling ----------------------------------------------------------------------------------

FLAT_CHORDS = (
    # chord, held note, key, names it must be written with, names it must not have
    ("Abm7", "Eb5", "Gb", {"Ab", "Cb", "Gb"}, {"B"}),
    ("Db7", "F5", "Gb", {"Db", "Cb"}, {"B"}),
    ("Gb7", "Db5", "Cb", {"Gb", "Fb"}, {"E"}),
    ("Dbm7", "Ab4", "Cb", {"Db", "Fb", "Cb"}, {"E", "B"}),
    ("Gb7(b9)", "Db5", "Cb", {"Abb", "Fb"}, {"G", "E"}),
    ("Gbm9", "Db5", "Db", {"Bbb", "Fb"}, {"A", "E"}),
    ("G#7", "D#5", "C#m", {"G#", "B#", "F#"}, {"C"}),
    ("C#7", "G#4", "F#", {"C#", "E#"}, {"F"}),
)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("chord", "held", "key", "wanted", "barred"), FLAT_CHORDS)
def test_struck_chords_are_spelled_by_degree(chord: str, held: str, key: str, wanted: set[str],
                                             barred: set[str], level: str) -> None:
    seen: set[str] = set()
    chorus = chorus_of("4/4", key, 120, [(held, 8)], [(chord, 8)])
    found = options_of(one_task(chorus, 1, level), "comp", 6)
    assert not isinstance(found, str)
    for fill in found:
        if "slid" in fill.device:
            continue  # a shape a half step off is spelled so that it leads on
        for pitches in by_onset(fill).values():
            names = {str(p.note_name) for p in pitches}
            assert len({p.pitch_class for p in pitches}) == len(names), names
            assert not names & barred, (fill.device, names)
            seen |= names
        said = " ".join(fill.reasons)
        assert not any(f" {NoteName.parse(n).pretty} " in said for n in barred), said
    assert wanted <= seen


@pytest.mark.parametrize("level", LEVELS)
def test_a_sharp_nine_has_one_name(level: str) -> None:
    """E flat over C7, as its seventh is B flat: no chord has sharps and flats."""
    for fill in options("C7(#9)", "G4", "Fm7", level, 8, key="F"):
        if "slid" in fill.device:
            continue
        names = {str(n.pitch.note_name) for n in fill.notes}
        assert not {"D#", "A#"} & names, fill.device


def test_every_degree_keeps_its_letter_in_every_chord() -> None:
    """The letter of a degree is as many letters above the root's as its number says; only a
    diminished chord's doubles are respelled, and a dominant's sharp nine is its minor third."""
    roots = ["C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B", "Cb"]
    letters = "CDEFGAB"
    degrees = {d for scale in CHORD_SCALES.values() for d in scale.degrees + scale.tensions}
    for root in roots:
        for kind in ("dominant", "minor-seventh", "major-seventh", "half-diminished"):
            symbol = ChordSymbol.of(root, kind)
            for degree in sorted(degrees):
                name = symbol.voiced_name_of(degree)
                relative = (name.pitch_class - NoteName.parse(root).pitch_class) % 12
                assert relative == degree_pitch_class(degree)
                steps = int(degree.lstrip("b#")) - 1
                if degree == "#9" and "3" in symbol.degrees:
                    steps = 2
                wanted = letters[(letters.index(root[0]) + steps) % 7]
                assert name.step == wanted or (abs(name.alter) < 2 and degree == "bb7"), (
                    root, kind, degree, str(name))
    assert str(ChordSymbol.parse("Ebdim7").voiced_name_of("bb7")) == "C"


def test_locked_hands_leave_a_ballads_note_alone() -> None:
    """They let the held note go; a slow one is kept (common practice)."""
    def locked(tempo: int) -> list[str]:
        return [fill.device for chord, held, following in GAPS for fill in options_of(
            one_task(chorus_of("4/4", "C", tempo, [(held, 4), ("C5", 4)],
                               [(chord, 4), (following, 4)]), 1, "advanced"), "comp", 16)
                if isinstance(fill, Fill) and "locked hands" in fill.device]

    assert locked(132) and not locked(63)
