"""Lines as they are offered: rules, levels, keys, endings, the left hand."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, every_task, one_task, options_of
from tests.fills.line_rules import line_of, strikes

from fillwright import ChordSymbol, Fill, Key, Pitch, find_gaps, propose
from fillwright.fills import Task, fills_of
from fillwright.fills.devices.line.found import lines_of
from fillwright.fills.devices.line.judging import goes_nowhere, same_cell_thrice
from fillwright.fills.devices.line.spelling import spell_line
from fillwright.fills.devices.line.walk import Slot
from fillwright.hands import LEVELS
from fillwright.theory import analyse

pytestmark = pytest.mark.slow

SUFFIXES = ("", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "9", "7b9", "7alt", "7sus4",
            "m(maj7)", "7#5", "maj7#11", "5")


def options(task: Task, count: int = 3) -> tuple[Fill, ...]:
    found = options_of(task, "line", count)
    assert not isinstance(found, str), found
    return found


def held_over(chord: str, held: str = "E5", level: str = "advanced", beats: int = 4,
              landing: str | None = "D5", tempo: int = 120, key: str = "C") -> Task:
    """A held note over one chord, and a landing a step away (None: the tune ends)."""
    melody: list[tuple[str | None, int]] = [(held, beats)]
    if landing is not None:
        melody.append((landing, 4))
    chorus = chorus_of("4/4", key, tempo, melody, [(chord, beats + (4 if landing else 0))])
    return one_task(chorus, level=level)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("suffix", SUFFIXES)
def test_every_chord_has_three_lines_in_four_beats(suffix: str, level: str) -> None:
    for root in ("C", "F#"):
        task = held_over(root + suffix, f"{root}5", level, landing=f"{root}5")
        found = options(task)
        bare = suffix == "5" and level == "beginner"
        assert len(found) == 3 or bare, (root, [f.device for f in found])
        assert [s for f in found for s in strikes(task, f)] == []


@pytest.mark.parametrize(("meter", "beats"), [
    ("3/4", 3), ("6/8", 3), ("12/8", 6), ("5/4", 5), ("2/2", 4), ("7/8", Fraction(7, 2))])
def test_every_meter_has_lines(meter: str, beats: Fraction) -> None:
    chorus = chorus_of(meter, "F", 92, [("A4", beats), ("G4", beats), ("F4", beats)],
                       [("Gm7", beats), ("C7", beats), ("F6", beats)])
    for level in LEVELS:
        for task in every_task(chorus, level):
            if task.beats < 3:
                continue  # two notes are hardly a line; the gap may stay open
            assert [s for f in options(task) for s in strikes(task, f)] == []


PROGRESSIONS = (("Dm7", "G7", "Cmaj7", "Am7"), ("Fm7b5", "Bb7b9", "Ebm6", "Ab7"),
                ("C7", "F7", "C7", "G7"), ("Gmaj7", "Bb7", "Ebmaj7", "D7sus4"))


@st.composite
def choruses(draw: st.DrawFn) -> Task:
    """A gap in the middle of a few bars: any tempo, meter, chords, melody, level, hand."""
    meter = draw(st.sampled_from(("4/4", "3/4", "12/8")))
    bar = {"4/4": 4, "3/4": 3, "12/8": 6}[meter]
    progression = draw(st.sampled_from(PROGRESSIONS))
    names = st.sampled_from(("D4", "F4", "G4", "A4", "Bb4", "C5", "Eb5", "E5", "G5"))
    before = [(draw(names), Fraction(bar, 4)) for _ in range(4)]
    held = draw(st.sampled_from((Fraction(1), Fraction(3, 2), Fraction(2)))) * bar
    after = [(draw(names), Fraction(bar, 6)) for _ in range(6)]
    chord = Fraction(bar) / draw(st.sampled_from((1, 1, 2)))
    total = Fraction(bar) * 2 + held
    chords: list[tuple[str, Fraction]] = []
    while len(chords) * chord < total:
        chords.append((progression[len(chords) % 4], chord))
    chorus = chorus_of(meter, draw(st.sampled_from(("C", "Eb", "F#m"))),
                       draw(st.sampled_from((60, 84, 120, 160, 220))),
                       [*before, (draw(names), held), *after], chords)
    level = draw(st.sampled_from(LEVELS))
    return draw(st.sampled_from(every_task(
        chorus, level, draw(st.sampled_from(("small", "medium", "large"))))))


@settings(max_examples=30, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(choruses())
def test_a_strict_teacher_keeps_every_line(task: Task) -> None:
    found = fills_of(task, "line", 4)
    if isinstance(found, str):
        assert found.strip()
        return
    for fill in found:
        assert list(strikes(task, fill)) == [], (
            fill.device, [(str(n.pitch), n.onset_quarter) for n in line_of(fill)])
        assert 1 <= len(fill.reasons) <= 5 and all(r.endswith(".") for r in fill.reasons)
        assert fill.held_end.kept == "released" and fill.family == "line"
    for index, one in enumerate(found):
        assert all(one.idea.is_another_than(other.idea) for other in found[index + 1:])


def test_the_same_gap_gives_the_same_lines_and_more_begin_with_fewer() -> None:
    task = held_over("Cmaj7")
    first = options(task, 5)
    assert first == options(held_over("Cmaj7"), 5)
    assert options(task, 3) == first[:3]
    assert len({f.id for f in first}) == len(first)


def test_lines_move_with_the_key() -> None:
    """All that are found; which of them the hands and the level like best is the key's own."""
    low, high = ([(line.device, line.rhythm.onsets, line.midis) for line in lines_of(task)]
                 for task in (held_over("Cmaj7", "E5", landing="D5"),
                              held_over("Dmaj7", "F#5", landing="E5", key="D")))
    assert [(name, onsets, tuple(m + 2 for m in midis)) for name, onsets, midis in low] == high
    assert len(low) > 20


def test_where_the_music_comes_again_the_line_is_another() -> None:
    """Two sections alike: their first choices differ, note for note."""
    melody: list[tuple[str | None, int]] = [
        ("G4", 1), ("A4", 1), ("C5", 2), ("E5", 4), ("D5", 4), ("C5", 4)] * 4
    chorus = chorus_of("4/4", "C", 132, melody, [("Cmaj7", 4), ("Am7", 4), ("Dm7", 4),
                                                 ("G7", 4)] * 4)
    gaps = find_gaps(chorus)
    found = propose(chorus, gaps, level="advanced", families=("line",), count=1)
    first = [tuple((n.onset_quarter - gap.onset_quarter, n.midi) for n in line_of(fill))
             for gap in gaps for fill in found.of(gap.number)]
    assert len(first) > 8
    assert len(set(first)) == len(first)


def test_a_beginner_hears_no_pickup_twice() -> None:
    """Nine times the same two beats: every first choice is another until none is left; then they
    come again in the order in which they were heard. No gap is without."""
    bars: list[tuple[str | None, int]] = [("C5", 2), ("C5", 1), ("D5", 1)]
    chorus = chorus_of("4/4", "C", 132, bars * 9, [("C", 4)] * 9)
    gaps = find_gaps(chorus)
    found = propose(chorus, gaps, level="beginner", families=("line",))
    first = [tuple((n.onset_quarter - gap.onset_quarter, n.midi)
                   for n in line_of(found.of(gap.number)[0])) for gap in gaps]
    known = len(set(first))
    assert 3 <= known < len(gaps) == len(first)
    assert all(line == first[i % known] for i, line in enumerate(first))


def test_devices_can_be_switched_off() -> None:
    chorus = chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("Cmaj7", 4), ("Dm7", 4)])
    devices = [f.device for f in options(one_task(chorus))]
    without = one_task(chorus, without=frozenset(devices))
    assert not set(devices) & {f.device for f in options(without)}


@pytest.mark.parametrize("tempo", [60, 100, 140, 200])
def test_what_a_beginner_is_given(tempo: int) -> None:
    """Chord tones on every beat; three notes or more in three beats; a third is heard, in the
    line or below it; no more than four notes a second."""
    chorus = chorus_of("4/4", "Eb", tempo, [("Bb4", 6), ("G4", 2), ("Eb5", 4), ("C5", 4)],
                       [("Ebmaj7", 4), ("C7", 4), ("Fm7", 4), ("Bb7", 4)])
    for task in every_task(chorus, "beginner"):
        found = fills_of(task, "line", 3)
        if isinstance(found, str):
            continue
        for fill in found:
            line = line_of(fill)
            assert len(line) >= 3 or task.beats < 3
            for note in line:
                if task.beat_at(note.onset_quarter).denominator == 1:
                    chord = task.span_at(note.onset_quarter).harmony.symbol
                    assert note.midi % 12 in chord.pitch_classes
            thirds = {(s.harmony.root.pitch_class + (3 if s.harmony.third == "b3" else 4)) % 12
                      for s in task.spans}
            assert thirds & {n.midi % 12 for n in fill.notes}, fill.device


def test_a_beginner_seldom_leaps() -> None:
    """A fourth or more is one move of seven at most (one of five in solos, Weimar Jazz Database):
    the hand stays in its place."""
    moves = [abs(b.midi - a.midi) for chord in ("C", "F", "G7", "Dm7") for held in ("E5", "G4")
             for fill in options(held_over(chord, held, "beginner", 6))
             if "octaves" not in fill.device for a, b in pairwise(line_of(fill))]
    assert len(moves) > 60
    assert 7 * sum(m >= 5 for m in moves) <= len(moves)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("chord", "beats"), [("Bb6", 4), ("Fmaj7", 8), ("Cm7", 7), ("G7", 6)])
def test_the_last_line_comes_to_rest(chord: str, beats: int, level: str) -> None:
    """On beat 1 or 3, for a beat or more, on a note that may end a piece and does not leave it open
    as the fifth would, with the left hand sounding over its root (common practice)."""
    task = held_over(chord, "G5", level, beats, None)
    root = task.spans[0].harmony.root.pitch_class
    for fill in options(task):
        last = line_of(fill)[-1]
        assert task.beat_at(last.onset_quarter) in (1, 3)
        assert last.duration_quarter >= 1
        assert (last.midi - root) % 12 in (0, 2, 3, 4, 9)
        under = [n for n in fill.notes if n.hand == "left" and n.end_quarter > last.onset_quarter]
        assert min(n.onset_quarter for n in under) <= last.onset_quarter
        assert max(n.end_quarter for n in under) == last.end_quarter
        assert min(under, key=lambda n: n.midi).midi % 12 == root


def tune(level: str) -> list[Task]:
    """Six bars with gaps of two, three, four and seven beats over changing chords."""
    melody: list[tuple[str | None, int]] = [
        ("G4", 1), ("C5", 3), ("B4", 1), ("D5", 1), ("F5", 2), ("E5", 1), ("C5", 7), ("D5", 1),
        ("F5", 3), ("E5", 4), ("D5", 2), ("C5", 6)]
    chords = [("Cmaj7", 4), ("Dm7", 2), ("G7", 2), ("Em7", 4), ("A7", 4), ("Dm7", 2), ("G7", 2),
              ("Cmaj7", 4), ("G7", 2), ("C6", 6)]
    return every_task(chorus_of("4/4", "C", 120, melody, chords), level=level)


@lru_cache(maxsize=4)
def offers(level: str) -> tuple[tuple[Task, tuple[Fill, ...]], ...]:
    """Everything a tune is offered at a level, ten options a gap; a beginner's gap of two beats
    may be left open."""
    found = ((c, options_of(c, "line", 10)) for c in tune(level))
    return tuple((c, fills) for c, fills in found if not isinstance(fills, str))


@pytest.mark.parametrize("level", LEVELS)
def test_three_options_are_three_devices(level: str) -> None:
    for _, found in offers(level):
        if len({f.device for f in found}) >= 3:
            assert len({f.device for f in found[:3]}) == 3


@pytest.mark.parametrize("level", LEVELS)
def test_lines_lead_by_step_or_leave_air(level: str) -> None:
    """For every device: into the landing by step, a beginner's from a chord tone by a third, or
    half a beat of air and a fourth."""
    for task, found in offers(level):
        for fill in found:
            if task.landing_midi is None or "octave" in fill.device:
                continue
            last = line_of(fill)[-1]
            away = abs(last.midi - task.landing_midi)
            end = fill.shift.landing_quarter if fill.shift else task.end_quarter
            by_third = level == "beginner" and task.span_at(
                last.onset_quarter).harmony.is_tone(last.midi % 12)
            assert 0 < away <= (5 if end - last.end_quarter >= Fraction(1, 2)
                                else 4 if by_third else 2)


@pytest.mark.parametrize("level", LEVELS)
def test_counts_name_every_stroke_of_both_hands(level: str) -> None:
    for task, found in offers(level):
        for fill in found:
            struck = {n.onset_quarter for n in fill.notes if n.onset_quarter < task.end_quarter}
            if fill.shift is not None:  # up to the landing, which is said too
                struck |= {fill.shift.landing_quarter, *(
                    n.onset_quarter for n in fill.notes
                    if n.onset_quarter <= fill.shift.landing_quarter)}
            words = [w for w in fill.counts.split() if w[0] != "("]
            assert len(words) == len(struck)


@pytest.mark.parametrize("level", LEVELS)
def test_the_left_hand_lies_below_middle_c_and_keeps_its_chord(level: str) -> None:
    """Its lowest key never reaches middle C; where it strikes, a tone of the chord sounds in it
    (common practice), struck or held while the tenor moves."""
    for task, found in offers(level):
        for fill in found:
            for onset in {n.onset_quarter for n in fill.notes if n.hand == "left"}:
                keys = [n.midi for n in fill.notes if n.hand == "left"
                        and n.onset_quarter <= onset < n.end_quarter]
                assert min(keys) < 60, (fill.device, keys)
                if onset < task.end_quarter:
                    harmony = task.span_at(onset).harmony
                    named = {n.pitch.pitch_class for n in fill.notes if n.hand == "left"
                             and n.onset_quarter <= onset < n.end_quarter}
                    assert any(harmony.is_tone(pc) for pc in named)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("chord", "held"), [("A7", "E4"), ("Ab", "Eb4"), ("Dm7", "D4")])
def test_the_hands_meet_on_no_key(chord: str, held: str, level: str) -> None:
    """Under a low melody that comes back to its key: where one hand lets go as the other strikes,
    they have no key in common and do not cross (common practice)."""
    for beats in (3, 4):
        task = held_over(chord, held, level, beats, held, 135)
        for fill in options(task, 8):
            assert [s for s in strikes(task, fill) if "meets" in s] == []


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("chord", "held", "landing"), [
    ("C", "C5", None), ("F7", "A5", "Bb5"), ("C7", "E5", "E5")])
def test_no_line_climbs_away_from_the_left_hand(chord: str, held: str, landing: str | None,
                                                level: str) -> None:
    """Nor do octaves, at the tune's end or before a landing (common practice)."""
    task = held_over(chord, held, level, 8, landing, 135)
    for fill in options(task, 24):
        assert [s for s in strikes(task, fill)
                if "far above" in s or "landing's own key" in s] == []


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_what_comes_early_does_not_rub_the_chord_before(level: str) -> None:
    """As the third of E7 over the root of Gm (common practice)."""
    for first, second in (("Gm", "E7"), ("Fm7", "D7"), ("Bb", "A7"), ("Cm", "F7")):
        chorus = chorus_of("4/4", "C", 180, [("E5", 4), ("E5", 4)],
                           [(first, 2), (second, 2), ("Am7", 4)])
        task = one_task(chorus, level=level)
        for fill in options(task, 24):
            assert [s for s in strikes(task, fill) if "comes early" in s] == []


@pytest.mark.parametrize(("chord", "held", "other"), [
    ("Fm7", "Ab4", {3, 8, 0}), ("Bbmaj7", "Eb5", {5, 9, 0}), ("Fm7", "A4", {3, 7, 0})])
def test_no_rootless_chord_turns_into_another(chord: str, held: str, other: set[int]) -> None:
    """A tone is left out under a melody note that it would rub, but not so that another triad is
    left: E flat, A flat and C under F minor 7."""
    task = held_over(chord, held, beats=2, landing="G4")
    for fill in options(task, 6):
        left = [n for n in fill.notes if n.hand == "left"]
        for onset in {n.onset_quarter for n in left}:
            keys = {n.midi % 12 for n in left if n.onset_quarter == onset}
            assert keys != other, fill.device


@pytest.mark.parametrize(("midis", "thrice"), [
    ((60, 64, 65, 60, 62, 65, 60, 62, 63), True),    # hovers
    ((65, 68, 70, 75, 65, 68), True),                # a pair comes back
    ((64, 62, 65, 63, 66, 64, 67), True),            # exactly the same, moved
    ((60, 62, 64, 65, 67, 69, 71, 72, 74), False),   # a scale
    ((60, 64, 67, 65, 62, 59, 60, 57, 55), False),
])
def test_the_same_cell_three_times(midis: tuple[int, ...], thrice: bool) -> None:
    assert same_cell_thrice(midis) is thrice


def test_two_keys_that_take_turns_go_nowhere() -> None:
    assert goes_nowhere((73, 70, 73, 70))
    assert goes_nowhere((68, 68))
    assert not goes_nowhere((68,))
    assert goes_nowhere((73, 71, 73, 71, 69))  # by step it is a see-saw too
    assert not goes_nowhere((73, 70, 73, 68))


@pytest.mark.parametrize(("midis", "chord", "key", "names"), [
    ((70, 68, 67), "D7b9", "Gm", ["Bb4", "Ab4", "G4"]),      # no G sharp beside B flat
    ((75, 73, 71), "G7b9", "Cm", ["Eb5", "Db5", "B4"]),
    ((65, 67), "D7b9", "Gm", ["F4", "G4"]),                  # no E sharp
    ((63, 64), "C7#9", "Fm", ["Eb4", "E4"]),                 # the melody's own E flat
    ((77, 78), "Dmaj7", "D", ["F5", "F#5"]),
    ((78, 76), "Cmaj7", "C", ["F#5", "E5"]),                 # a lydian fourth stays sharp
    ((71, 70), "Abm7", "Eb", ["Cb5", "Bb4"]),                # the chord's own third stays flat
    ((71, 72), "Db7", "Db", ["Cb5", "C5"]),                  # the chord prints its seventh
    ((71, 72), "Bbm7", "Db", ["B4", "C5"]),                  # from letter to letter, upward
    ((71, 70), "Db6", "Db", ["Cb5", "Bb4"]),                 # and downward
    ((71, 68), "Bb7b9", "Eb", ["Cb5", "Ab4"]),               # the flat nine of a flat chord
    ((62, 63, 64, 67), "C", "C", ["D4", "D#4", "E4", "G4"]),  # passes
    ((67, 63, 64, 67), "C", "C", ["G4", "Eb4", "E4", "G4"]),  # the blue third
    ((66, 67, 63), "Eb", "Eb", ["Gb4", "G4", "Eb4"]),        # where a line begins too
    ((68, 71, 72, 68), "Ab", "Ab", ["Ab4", "Cb5", "C5", "Ab4"]),
    ((70, 72, 70, 75, 76), "Gm", "Gm", ["Bb4", "C5", "Bb4", "Eb5", "E5"]),  # no sharp by a flat
])
def test_neighbours_are_not_sharp_and_flat(midis: tuple[int, ...], chord: str, key: str,
                                           names: list[str]) -> None:
    home = Key.parse(key)
    heard = analyse([ChordSymbol.parse(chord), ChordSymbol.parse("C")], home)[0]
    assert heard is not None
    row = [0 if heard.takes(pc) else 3 for pc in range(12)]
    if heard.symbol.quality == "dominant":
        row = [1 if kind == 3 and (pc - heard.root.pitch_class) % 12 in (1, 3, 6, 8) else kind
               for pc, kind in enumerate(row)]
    slot = Slot(2, 0, heard.root.pitch_class, tuple(row), 0, False, False)
    assert [str(p) for p in spell_line(midis, [slot] * len(midis), [heard], None)] == names


@pytest.mark.parametrize(("midis", "landing", "chord", "key", "names"), [
    ((76, 73, 71), "C5", "G7", "C", ["E5", "Db5", "B4"]),
    ((72, 75, 72), "D5", "C7", "F", ["C5", "Eb5", "C5"]),
    ((66, 68), "G4", "C7", "F", ["F#4", "Ab4"]),
    ((70, 66), "G4", "Bb7b13", "Eb", ["Bb4", "F#4"]),
    ((69, 71, 69), "G4", "Gbdim", "C", ["A4", "B4", "A4"]),       # a neighbour, no third
    ((81, 85, 86), "D6", "Bb", "C", ["A5", "C#6", "D6"])])        # no blue third of the tune's key
def test_what_closes_in_on_a_note_stands_on_the_letters_beside_it(
        midis: tuple[int, ...], landing: str, chord: str, key: str, names: list[str]) -> None:
    """Though the chord would bear it by its other name, as a sharp nine or eleven."""
    heard = analyse([ChordSymbol.parse(chord), ChordSymbol.parse("C")], Key.parse(key))[0]
    assert heard is not None
    kinds = tuple(0 if heard.takes(pc) else 1 if pc in {m % 12 for m in midis} else 3
                  for pc in range(12))
    slot = Slot(2, 0, heard.root.pitch_class, kinds, 0, False, False)
    spelled = spell_line(midis, [slot] * len(midis), [heard], Pitch.parse(landing))
    assert [str(p) for p in spelled] == names


def test_a_chord_does_not_go_up_and_back_over_the_same_keys() -> None:
    assert goes_nowhere((64, 67, 70, 74, 70, 67))
    assert not goes_nowhere((64, 67, 70, 74, 72, 70, 67))


@pytest.mark.parametrize(("level", "tempo"), [
    ("beginner", 144), ("beginner", 126), ("intermediate", 220), ("advanced", 190)])
def test_four_strokes_in_a_row_keep_to_the_rate(level: str, tempo: int) -> None:
    """From the first note to the landing where the line runs into it: 4, 7 or 10 a second."""
    most = {"beginner": 4, "intermediate": 7, "advanced": 10}[level]
    task = held_over("Gm7", "D5", level, 6, "C5", tempo)
    for fill in options(task, 10):
        line = line_of(fill)
        strokes = [n.onset_quarter for n in line]
        if task.end_quarter - line[-1].end_quarter < Fraction(1, 2):
            strokes.append(task.end_quarter)
        for a, b in zip(strokes, strokes[3:], strict=False):
            assert task.seconds(b - a) >= 3 / most - 1e-6, fill.device
        assert all(b > a for a, b in pairwise(strokes))
