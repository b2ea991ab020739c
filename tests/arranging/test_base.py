"""What is played between the fills (common practice): chords that say what they are, a bass that
goes somewhere, a rhythm that leaves the melody's alone, and nothing an audit would find."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of

from fillwright import Arrangement, ChordSymbol, Chorus, HandNote, Key, Options, find_gaps
from fillwright.arranging import weigh
from fillwright.arranging.air import crosses
from fillwright.arranging.assemble import Loom, assemble
from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.base import Stretch, portions
from fillwright.arranging.figures import Figure, FigurePlace, figures
from fillwright.arranging.textures import STAND_INS, base_plan, texture_at
from fillwright.fills import player_of
from fillwright.hands import HAND_SIZES, LEVELS
from fillwright.theory import Harmony, NoteName, analyse

EIGHT_BARS = ["Dm7", "G7", "Cmaj7", "Am7", "Fmaj7", "Bm7b5", "E7", "Am7"]


def base_of(chorus: Chorus, level: str = "intermediate", hand: str = "medium") -> Arrangement:
    """A chorus with every gap left open."""
    return assemble(chorus, find_gaps(chorus), (), Options(level=level, hand=hand))


def left(arrangement: Arrangement, since: F | int, until: F | int) -> list[HandNote]:
    return [n for n in arrangement.notes if n.hand == "left" and n.role == "base"
            and since <= n.onset_quarter < until]


def walked(tempo: int, bars: int = 8, melody: str = "D5") -> Chorus:
    """A bar a chord; the melody repeats one note in quarters, so that there is no gap."""
    chords = [(EIGHT_BARS[n % 8], 4) for n in range(bars)]
    return chorus_of("4/4", "C", tempo, [(melody, 1)] * 4 * bars, chords)


def place_of(text: str, **changes: object) -> FigurePlace:
    (found,) = analyse([ChordSymbol.parse(text)], Key.parse("C"))
    assert found is not None
    values: dict[str, object] = {
        "harmony": found, "duration_quarter": F(4), "beat_quarter": F(1),
        "player": player_of("intermediate", "medium"), "low": 36, "ceiling": 70, **changes}
    return FigurePlace(**values)  # type: ignore[arg-type]


def names(figure: Figure) -> str:
    return " ".join(f"{s.onset_quarter}:{s.pitch}" for s in figure.struck)


def test_a_tenth_goes_by_the_seventh_or_the_fifth_or_both() -> None:
    found = {names(f) for f in figures(place_of("Dm7"), "broken tenths")}
    assert {"0:D2 1/2:C3 1:F3", "0:D2 1/2:A2 1:F3", "0:D2 1/2:A2 1:C3 3/2:F3"} <= found


def test_a_bass_line_leads_on_by_a_step() -> None:
    found = [f for f in figures(place_of("Dm7", coming=NoteName("G")), "two-feel") if f.leads_on]
    assert "0:D2 2:A2 3:F#2" in {names(f) for f in found}
    for figure in found:
        assert figure.struck[-1].pitch.pitch_class in {5, 6, 8, 9}  # F, F sharp, A flat, A
        assert figure.midis[0] % 12 == 2
        assert figure.midis[1] % 12 in {2, 5, 9, 0}
    assert not any(f.leads_on for f in figures(place_of("Dm7"), "two-feel"))


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_a_two_feel_has_chord_tones_on_strong_beats_and_steps_into_roots(level: str) -> None:
    arrangement = base_of(walked(220, 15), level)
    harmonies = arrangement.chorus.harmonies
    steps = 0
    for bar in range(14):
        row = left(arrangement, 4 * bar, 4 * bar + 4)
        for note in row:
            inside = note.onset_quarter - 4 * bar
            harmony = harmonies[bar]
            assert harmony is not None
            if inside in (0, 2):
                assert harmony.is_tone(note.pitch.pitch_class), (bar, note)
        coming = left(arrangement, 4 * bar + 4, 4 * bar + 5)
        steps += bool(row and coming) and 1 <= abs(row[-1].midi - coming[0].midi) <= 2
    assert steps >= 8  # of 14 bar lines


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", [66, 132, 220])
def test_a_phrase_keeps_its_rhythm(level: str, tempo: int) -> None:
    """Nothing in the melody asks for another one; a note that leads on is no other rhythm."""
    arrangement = base_of(walked(tempo), level)
    for phrase in (0, 16):
        rhythms = {tuple(sorted({n.onset_quarter - start for n in left(
            arrangement, start, start + 4) if n.onset_quarter - start != 3}))
            for start in range(phrase, phrase + 12, 4)}
        assert len(rhythms) == 1


def test_sections_have_their_textures() -> None:
    chorus = walked(132, 32)
    plan = base_plan(chorus, player_of("advanced", "medium"))
    found = [texture_at(plan, F(place), F(4)) for place in (0, 32, 80, 96)]
    assert found == ["bass and chord", "drop 2", "spread", "drop 2"]
    fuller = base_plan(chorus, player_of("intermediate", "medium"), F(0))
    assert texture_at(fuller, F(0), F(4)) == texture_at(fuller, F(80), F(4)) == "bass and chord"
    for place in (64, 76):  # it draws back in the middle
        assert texture_at(plan, F(place), F(4)) == texture_at(fuller, F(place), F(4)) == "shells"
    assert {texture for row in STAND_INS.values() for texture in row} <= set(STAND_INS)


def test_where_it_draws_back_chords_are_held_under_the_tune_alone() -> None:
    base = base_of(walked(132, 32), "advanced")
    strokes = [len({n.onset_quarter for n in base.notes if n.role == "base"
                    and start <= n.onset_quarter < start + 16}) for start in (48, 64, 80)]
    assert strokes[1] == 4
    assert min(strokes[0], strokes[2]) >= 8
    assert not [n for n in base.notes if n.role == "base" and n.hand == "right"
                and 64 <= n.onset_quarter < 80]


def test_a_waltz_is_fast_sooner_between_the_fills_as_in_them() -> None:
    player = player_of("intermediate", "medium")
    found = []
    for meter, tempo in (("3/4", 165), ("3/4", 175), ("4/4", 195), ("4/4", 205)):
        beats = int(meter[0])
        chorus = chorus_of(meter, "C", tempo, [("C5", beats)] * 8, [("C", beats)] * 8)
        found.append(texture_at(base_plan(chorus, player), F(0), F(beats)))
    assert found == ["broken shells", "shells", "broken shells", "two-feel"]


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", [66, 120])
def test_no_three_against_two(level: str, tempo: int) -> None:
    """Quarter and eighth triplets over each bar: the left hand strikes with them or not at all."""
    slow = [("C5", F(2, 3)), ("D5", F(2, 3)), ("C5", F(2, 3))]
    quick = [("C5", F(1, 3)), ("D5", F(1, 3)), ("E5", F(1, 3))]
    chorus = chorus_of("4/4", "C", tempo, (slow + quick + [("C5", 1)] + quick + quick + slow) * 4,
                       [(text, 4) for text in EIGHT_BARS])
    arrangement = base_of(chorus, level)
    strokes = {n.onset_quarter for n in left(arrangement, 0, 32)}
    assert len(strokes) >= 8
    assert not [o for o in strokes if crosses(o, chorus.melody, F(1))]


CHORDS = st.sampled_from(["Cmaj7", "C7", "C9", "F7", "Bb13", "G7b9", "Dm7", "Am7", "Bm7b5", "E7",
                          "A7b9", "Db7", "Ebmaj7", "F#m7b5", "Gm7"])
MELODY = st.lists(st.tuples(st.sampled_from(["A4", "Bb4", "C5", "D5", "Eb5", "E5", "F#5", "G5"]),
                            st.sampled_from([F(1, 2), F(1), F(1), F(3, 2), F(2)])),
                  min_size=14, max_size=20)


def told(harmony: Harmony, melody: set[int], classes: set[int]) -> bool:
    """A seventh is left out only where the melody lies a half step above it."""
    return all(pcs & classes or {(pc + 1) % 12 for pc in pcs} & melody
               for term, pcs in weigh.guides_of(harmony) if term == "seventh")


@pytest.mark.slow
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow],
          phases=(Phase.explicit, Phase.generate))
@given(MELODY, st.lists(CHORDS, min_size=4, max_size=6), st.sampled_from(LEVELS),
       st.sampled_from(HAND_SIZES), st.sampled_from([63, 132, 208]))
def test_sevenths_sound_and_no_rule_is_broken(
        melody: list[tuple[str, F]], chords: list[str], level: str, hand: str, tempo: int) -> None:
    bars = -(-int(2 * sum(length for _, length in melody)) // 8)
    chorus = chorus_of("4/4", "C", tempo, melody,
                       [(chords[bar % len(chords)], 4) for bar in range(bars)])
    arrangement = base_of(chorus, level, hand)
    assert [f for f in audit_arrangement(arrangement).findings
            if f.rule not in ("jumps", "reach", "fingers") or "left" in f.message] == []
    bare = 0
    for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True):
        assert harmony is not None
        row = [n for n in arrangement.notes if n.onset_quarter < span.end_quarter
               and n.end_quarter > span.onset_quarter]
        bare += not told(harmony, {n.midi % 12 for n in row if n.role == "melody"},
                         {n.midi % 12 for n in row})
    assert not bare


@pytest.mark.parametrize(("chord", "coming"), [("Dm7", "G"), ("G7", "C"), ("Cmaj7", "A"),
                                               ("Bm7b5", "E"), ("Ab", "Ab")])
def test_a_walking_bass_goes_from_root_to_root(chord: str, coming: str) -> None:
    """A key a beat, none twice running, chord tones on strong beats, at last a step to the next
    root."""
    root = NoteName(coming[0], -coming.count("b"))
    found = figures(place_of(chord, coming=None if coming == chord else root), "walking bass")
    assert found
    over, goal = place_of(chord).harmony, root.pitch_class
    for figure in found:
        assert [onset for onset, _ in figure.rhythm] == [0, 1, 2, 3]
        assert figure.midis[0] % 12 == over.root.pitch_class
        assert over.degree_of(figure.midis[2]) in over.tones
        assert all(a != b for a, b in pairwise(figure.midis))
        assert (figure.midis[3] - goal) % 12 in (1, 2, 10, 11)
        assert figure.leads_on


def test_triads_are_not_pumped_in_octaves() -> None:
    chords = [(name, 4) for name in ("C", "F", "G", "C")] * 2
    chorus = chorus_of("4/4", "C", 150, [("G4", 1), ("A4", 1)] * 16, chords)
    arrangement = base_of(chorus, "advanced")
    for bar in range(8):
        keys = [n.midi for n in left(arrangement, 4 * bar, 4 * bar + 4)]
        assert len(keys) < 2 or len({midi % 12 for midi in keys}) > 1


@pytest.mark.parametrize("level", LEVELS)
def test_a_melody_that_denies_the_third_is_not_contradicted(level: str) -> None:
    """E flat over C major: nobody strikes an E under it."""
    chorus = chorus_of("4/4", "C", 120, [("Eb5", 4), ("D5", 4)] * 4, [("C", 4), ("G7", 4)] * 4)
    arrangement = base_of(chorus, level)
    for bar in range(0, 8, 2):
        keys = [n for n in arrangement.notes if n.role == "base"
                and 4 * bar <= n.onset_quarter < 4 * bar + 4]
        assert keys
        assert all(n.midi % 12 != 4 for n in keys)


def sunk(arrangement: Arrangement) -> list[F]:
    """Melody notes of two beats and more under which the hands leave two octaves free for longer
    than a beat, looked at each eighth."""
    found = []
    for sung in (n for n in arrangement.notes if n.role == "melody" and n.duration_quarter >= 2):
        free = F(0)
        for step in range(int(2 * sung.duration_quarter)):
            place = sung.onset_quarter + F(step, 2)
            keys = sorted(n.midi for n in arrangement.notes if n.role != "melody"
                          and n.onset_quarter <= place < n.end_quarter)
            wide = bool(keys) and max(b - a for a, b in pairwise([*keys, sung.midi])) >= 24
            free = free + F(1, 2) if wide else F(0)
            if free > 1:
                found.append(sung.onset_quarter)
                break
    return found


@pytest.mark.parametrize("level", LEVELS)
def test_no_hole_of_two_octaves_under_a_high_melody(level: str) -> None:
    melody = [("A5", 2), ("C6", 2), ("D6", 2), ("B5", 2)] * 4
    base = base_of(chorus_of("4/4", "C", 132, melody, [(c, 4) for c in EIGHT_BARS]), level)
    assert [place for place in sunk(base) if place < 28] == []  # the last bass lies low


def test_one_leap_does_not_take_the_harmony_from_the_whole_melody() -> None:
    """Where the right hand cannot be in time with a chord, it has the melody alone there only."""
    calm = ["E5", "G5", "E5", "G5", "E5", "G5"]
    leap: list[tuple[str | None, int | F]] = [
        ("C6", 1), ("C5", F(1, 2)), ("C6", F(1, 2)), ("C5", 1), ("C6", 1)]
    chorus = chorus_of("4/4", "C", 190, [*((name, 2) for name in calm), *leap,
                                         *((name, 2) for name in calm)], [("Cmaj7", 4)] * 7)
    under = {n.onset_quarter for n in base_of(chorus, "advanced").notes
             if n.hand == "right" and n.role == "base"}
    assert len(under) >= 10


def test_a_chord_that_comes_back_for_a_beat_is_passed_by_after_an_added_one() -> None:
    chorus = chorus_of("4/4", "C", 132, [("C5", 2), ("E5", 1), ("D5", 1), ("F5", 4)],
                       [("C", 4), ("Dm7", 4)])
    plan = base_plan(chorus, player_of("intermediate", "medium"))

    def starts(onset: int, passing: bool) -> list[F]:
        stretch = Stretch(F(onset), F(8), passing=passing)
        return [portion.onset_quarter for portion in portions(plan, stretch)]

    assert starts(3, passing=True) == [4]
    assert starts(3, passing=False) == [3, 4]
    assert starts(2, passing=True) == [2, 4]  # two beats are a chord


def test_after_a_fill_that_ends_between_eighths_the_left_hand_waits_for_the_beat() -> None:
    chorus = chorus_of("4/4", "C", 132, [("C5", F(9, 4)), ("E5", F(3, 4)), ("D5", 1), ("F5", 4)],
                       [("C", 4), ("Dm7", 4)])
    plan = base_plan(chorus, player_of("intermediate", "medium"))
    starts = [portion.onset_quarter for portion in portions(plan, Stretch(F(9, 4), F(8)))]
    assert starts == [3, 4]
    assert portions(plan, Stretch(F(5, 2), F(8)))[0].onset_quarter == F(5, 2)


def under(arrangement: Arrangement, onset: F | int) -> list[HandNote]:
    return [n for n in arrangement.notes if n.hand == "right" and n.role == "base"
            and n.onset_quarter == onset]


def test_nothing_stands_under_a_melody_where_no_chord_sounds() -> None:
    chorus = chorus_of("4/4", "C", 132, [("C5", 2), ("E5", 2)] * 4,
                       [("C", 4), ("G7", 4), ("C", 8)])
    silent = replace(chorus, chords=chorus.chords[::2], harmonies=chorus.harmonies[::2])
    arrangement = assemble(silent, find_gaps(silent), (), Options(level="advanced"), F(0))
    assert not under(arrangement, 4)
    assert not under(arrangement, 6)
    assert any(under(arrangement, place) for place in range(8, 16, 2))


def test_a_tune_passes_over_chords_that_are_held() -> None:
    """A quarter on a weak beat over a chord that goes on has no keys of its own, and those of the
    strong beat stay down under it; where the chorus is fuller each has its own."""
    tune = [("C5", 1), ("D5", 1), ("E5", 1), ("D5", 1)] * 15
    chorus = chorus_of("4/4", "C", 72, tune, [("Cmaj7", 4)] * 15)
    options = Options(level="advanced")
    plain = assemble(chorus, find_gaps(chorus), (), options)
    fuller = assemble(chorus, find_gaps(chorus), (), options, F(0))
    strong = [under(plain, place) for place in range(0, 60, 2)]
    assert sum(bool(row) for row in strong) > 24
    assert not [place for place in range(1, 60, 2) if under(plain, place)]
    assert sum(n.duration_quarter == 2 for row in strong for n in row) > 24
    assert sum(bool(under(fuller, place)) for place in range(1, 60, 2)) > 16
    assert not audit_arrangement(plain).findings


def test_the_right_hand_has_keys_over_a_bass_that_walks_low() -> None:
    """Keys that the bass strikes one after the other are no mud under the right hand."""
    tune = [("C5", 2), ("C5", 2)] * 32
    chorus = chorus_of("4/4", "C", 220, tune, [("C6", 4), ("G7", 4)] * 16)
    arrangement = assemble(chorus, find_gaps(chorus), (), Options(level="advanced"), F(0))
    walked = [place for place in range(0, 128, 4) if len(
        {n.onset_quarter for n in left(arrangement, place, place + 4)}) == 4]
    assert walked
    assert sum(bool(under(arrangement, place)) for place in walked) > len(walked) / 2


@pytest.mark.parametrize(("chord", "named", "colour"), [
    ("Gm", {10}, {5}), ("Eb", {7}, {0}), ("C6", {4, 9}, set()), ("G7", {11, 5}, set())])
def test_a_plain_triad_lives_by_its_third(chord: str, named: set[int], colour: set[int]) -> None:
    """What its symbol does not name is colour, and no bass line is bent for it."""
    harmony = place_of(chord).harmony
    assert set().union(*(told for _, told in weigh.guides_of(harmony))) == named
    assert weigh.colour_of(harmony) == colour


def test_a_two_feel_of_triads_stands_on_roots_and_fifths() -> None:
    chorus = chorus_of("4/4", "C", 220, [("E5", 1), ("G5", 1)] * 16,
                       [(name, 4) for name in ("C", "F", "G", "C")] * 2)
    arrangement = base_of(chorus, "intermediate")
    for bar, root in enumerate([0, 5, 7, 0] * 2):
        row = left(arrangement, 4 * bar, 4 * bar + 3)
        assert row[0].midi % 12 == root
        assert {(n.midi - root) % 12 for n in row} <= {0, 4, 7}


def test_bars_cut_out_of_a_chorus_do_not_end_low() -> None:
    """The last chord of a piece goes down to a low root; that of bars that go on does not."""
    chorus = walked(63, 3)

    def last_bass(ends: bool) -> int:
        whole = Loom(chorus, (), ends).assemble((), Options())
        return min(n.midi for n in left(whole, 8, 12))

    assert last_bass(ends=False) > last_bass(ends=True)
