"""What a comping chord must sound, how soon, and what one hand is asked to span."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from fractions import Fraction as F
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, longest_hole, one_task, options_of
from tests.sweep import every

from fillwright import ChordSymbol, Fill, Key, Pitch
from fillwright.fills import Task, level_of
from fillwright.fills.voicing.voicings import (
    Voicing,
    half_step_off,
    holds_guides,
    left_hand_voicings,
)
from fillwright.hands import all_fingerings
from fillwright.theory import harmony_of

LEVELS = ("beginner", "intermediate", "advanced")


def comp(task: Task, count: int = 8) -> tuple[Fill, ...]:
    found = options_of(task, "comp", count)
    assert not isinstance(found, str), found
    return found


@pytest.mark.parametrize(("chord", "degrees", "told"), [
    ("F", "1 3 6", False),      # F A D is D minor over F
    ("F", "1 3 5", True),
    ("F", "3 5 6", True),
    ("C6", "1 3 6", False),
    ("C6", "1 3 5", False),     # the sixth that the symbol names
    ("C6", "1 5 3 6", True),
    ("C6", "1 3 6 9", True),    # the six-nine colour
    ("Cmaj7", "1 3 7", True),
    ("Cmaj7", "1 3 6", False),
    ("Cmaj7", "1 3 5 6", True),
    ("Gm7", "1 b3", False),
    ("Gm7", "1 b3 b7", True),
    ("Cm6", "1 b3 6", True),
    ("Bdim", "1 b3 b5", True),
    ("G7", "1 5", False),
    ("C11", "1 b7 11", True),   # played without its third
    ("C/E", "3 5", False),      # an inverted triad is told by its root
])
def test_what_tells_a_chord(chord: str, degrees: str, told: bool) -> None:
    """Common practice, and what strict readers struck out."""
    harmony = harmony_of(ChordSymbol.parse(chord), Key.parse("C"), None)
    assert holds_guides(harmony, degrees.split()) is told


@pytest.mark.parametrize("level", LEVELS)
def test_no_shell_of_a_triad_is_its_relative_minor(level: str) -> None:
    for chord in ("C", "F", "Bb", "Eb"):
        harmony = harmony_of(ChordSymbol.parse(chord), Key.parse("C"), None)
        for voicing in left_hand_voicings(harmony, level_of(level), "medium"):
            assert "6" not in voicing.degrees or "5" in voicing.degrees, voicing


def test_words_say_no_more_than_the_hands_do() -> None:
    """Root and third of a bare triad are no shell; a root that some hand has over the chord is
    neither left out nor left to the ear; a note said to be kept down is not over before a chord
    struck under it is."""
    for chord, level in (("C", "beginner"), ("C6/G", "intermediate"), ("G7", "advanced")):
        task = one_task(chorus_of("4/4", "C", 132, [("E5", 3), (None, 1), ("D5", 4)],
                                  [(chord, 4), ("Dm7", 4)]), 1, level)
        harmony = task.spans[0].harmony
        root = harmony.root.pitch_class
        for fill in comp(task, 5):
            said = " ".join(fill.reasons)
            down = [n for n in fill.notes if n.onset_quarter < Fraction(7, 2)]  # no push
            assert "shell" not in fill.device or chord != "C", fill.device
            if "root is left" in said and f" of {harmony.symbol.pretty})" in fill.reasons[0]:
                assert all(n.midi % 12 != root for n in down
                           if n.hand == "right" or "to the ear" in said), (fill.device, said)
            if "down, everything else" in said:
                assert all(n.end_quarter <= fill.held_end.until_quarter for n in down
                           if n.hand == "right"), (fill.device, said)


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", (63, 132))
def test_a_chord_is_told_soon_and_the_hand_grips_the_melody(level: str, tempo: int) -> None:
    """A beat, or 0.65 s where that is longer, after a chord is first struck its third sounds;
    that of a suspension comes when it resolves, that of a broken chord in its turn. With the
    note it keeps, the right hand spans no more than its level does."""
    for chord, held in (("Cmaj7", "G4"), ("F", "C5"), ("Dm7", "A4"), ("G7", "D5"), ("Am7", "E5")):
        task = one_task(chorus_of("4/4", "C", tempo, [(held, 4), ("B4", 4)],
                                  [(chord, 4), ("Cmaj7", 4)]), 1, level)
        harmony = task.spans[0].harmony
        third = harmony.symbol.name_of(harmony.third or "").pitch_class
        late = max(Fraction(1), Fraction(65 * tempo, 6000))
        kept = task.held_midi
        assert kept is not None
        for fill in comp(task):
            strokes = sorted({n.onset_quarter for n in fill.notes})
            thirds = [n.onset_quarter for n in fill.notes if n.midi % 12 == third]
            sung = kept % 12 == third or fill.device.startswith(("moving", "broken"))
            assert sung or min(thirds) - strokes[0] <= late, (fill.device, fill.counts)
            if fill.held_end.kept == "finger":
                for onset in strokes:
                    keys = {kept, *(n.midi for n in fill.notes if n.hand == "right"
                                    and n.onset_quarter <= onset < n.end_quarter)}
                    assert task.player.level.voicing.grips(
                        len(keys), max(keys) - min(keys)), (fill.device, sorted(keys))


@pytest.mark.parametrize("level", LEVELS)
def test_a_ballads_last_stroke_off_the_beat_has_a_beat_to_ring(level: str) -> None:
    """But a lone bass note that steps on into the landing's: an upbeat is no stab."""
    for quarters in (2, 3, 4):
        task = one_task(chorus_of("4/4", "C", 63, [("G4", quarters), ("F4", 4)],
                                  [("Cmaj7", quarters), ("Dm7", 4)]), 1, level)
        for fill in comp(task):
            last = max(n.onset_quarter for n in fill.notes)
            struck = [n for n in fill.notes if n.onset_quarter == last]
            upbeat = "last step off the beat" in fill.device and len(struck) == 1 and (
                struck[0].pitch.pitch_class - 2) % 12 in (1, 2, 10, 11)
            assert last.denominator == 1 or upbeat or quarters - last >= 1, (
                fill.device, fill.counts)


@pytest.mark.parametrize("level", LEVELS)
def test_a_ballads_two_beats_have_many_rhythms(level: str) -> None:
    tune = [(name, 2) for name in ("E5", "D5", "F5", "C5", "A4", "B4", "G4", "E5")]
    chords = [(name, 2) for name in ("Cmaj7", "Dm7", "G7", "Am7", "F", "G7", "C6", "Em7")]
    chorus = chorus_of("4/4", "C", 63, [*tune, ("C5", 4)], [*chords, ("C", 4)])
    found = Counter(tuple(sorted({n.onset_quarter for n in fill.notes}))
                    for number in range(1, 8) for fill in comp(one_task(chorus, number, level), 4))
    assert len(found) >= 6
    assert 3 * found.most_common(1)[0][1] <= found.total() + 1


@pytest.mark.parametrize("level", LEVELS)
def test_one_chord_with_the_melody_note_is_hardly_a_fill(level: str) -> None:
    for tempo in (63, 100, 132):
        chorus = chorus_of("4/4", "C", tempo, [("G4", 2), ("F4", 2), ("E4", 4)],
                           [("Cmaj7", 2), ("Dm7", 2), ("C", 4)])
        for fill in comp(one_task(chorus, 1, level), 2):
            assert len({n.onset_quarter for n in fill.notes} | {F(0)}) > 1 or any(
                n.rolled for n in fill.notes), (tempo, fill.device)


def test_a_quick_six_eight_is_struck_on_its_beats() -> None:
    for tempo, between in ((66, True), (144, False)):
        chorus = chorus_of("6/8", "C", tempo, [("G4", 3), ("E4", 3), ("F4", 3)],
                           [("Cmaj7", 3), ("Am7", 3), ("Dm7", 3)])
        fills = [fill for number in (1, 2) for fill in comp(one_task(chorus, number, "advanced"))]
        off = {f.device for f in fills for n in f.notes if n.onset_quarter % F(3, 2)}
        assert bool(off) == between, off


def test_a_slid_chord_is_spelled_as_a_chord() -> None:
    """B flat, F and A are slid into from C flat, G flat and B flat, not from B natural."""
    goal = Voicing("three", ("", "", ""), tuple(map(Pitch.parse, ("Bb3", "F4", "A4"))), 0)
    assert [str(p) for p in half_step_off(goal, 1).pitches] == ["Cb4", "Gb4", "Bb4"]


def test_a_slid_chord_is_spelled_with_what_sounds_beside_it() -> None:
    """E flat and A over G flat are slid into from D and A flat; over G from D and G sharp."""
    goal = Voicing("two notes", ("", ""), tuple(map(Pitch.parse, ("Eb4", "A4"))), 0)
    for bass, name in (("Gb3", "Ab4"), ("G3", "G#4")):
        assert [str(p) for p in half_step_off(goal, -1, [Pitch.parse(bass)]).pitches] == [
            "D4", name]


def test_a_seventh_is_not_struck_by_thumb_and_third_finger() -> None:
    for size in ("small", "medium", "large"):
        for keys in ((60, 70), (59, 69), (60, 71)):
            for hand, pair in (("right", (1, 3)), ("left", (3, 1))):
                assert pair not in [f.fingers for f in all_fingerings(keys, hand, size)]


@pytest.mark.slow
@pytest.mark.parametrize("level", ["intermediate", "advanced"])
@pytest.mark.parametrize(("key", "chord"), [("Bb", "Gm"), ("C", "C")])
def test_a_walking_bass_goes_somewhere(level: str, key: str, chord: str) -> None:
    """Two keys that take turns are an accompaniment in two, not a walk (common practice)."""
    chorus = chorus_of("4/4", key, 200, [("G5", 8), ("G5", 4)], [(chord, 8), (chord, 4)])
    walks = [fill for fill in comp(one_task(chorus, 1, level=level), 24)
             if "walking" in fill.device]
    for fill in walks:
        bass = [min(n.midi for n in fill.notes if n.hand == "left" and n.onset_quarter == onset)
                for onset in sorted({n.onset_quarter for n in fill.notes if n.hand == "left"})]
        assert not any(bass[i:i + 3] == bass[i + 2:i + 5] for i in range(len(bass) - 4)), bass


@pytest.mark.parametrize("level", LEVELS)
def test_what_rings_on_is_told_without_the_held_note(level: str) -> None:
    """The third that the melody sings is gone with it: what sounds a beat longer has its own."""
    chorus = chorus_of("4/4", "C", 200, [("G4", 2), ("B4", 3), (None, 1), ("G4", 1), ("A4", 1),
                                         ("C5", 4)], [("Em7", 2), ("A9", 2), ("G", 4), ("Am7", 4)])
    task = one_task(chorus, 2, level)
    lent = 0
    for fill in comp(task, 30):
        until = fill.held_end.until_quarter
        for note in fill.notes:
            onset, end = note.onset_quarter, note.onset_quarter + note.duration_quarter
            if not 2 <= onset < until <= end - 1:
                continue
            sounding = {n.midi % 12 for n in fill.notes if n.onset_quarter < end
                        and n.onset_quarter + n.duration_quarter > onset}
            assert 11 in sounding, (fill.device, fill.notes)
            lent += 1
    assert lent


@pytest.mark.parametrize("level", LEVELS)
def test_a_chord_under_the_tunes_minor_third_is_no_bare_fifth_without_it(level: str) -> None:
    """F over a printed D: once the melody has let go, what the hands strike over it has the F."""
    chorus = chorus_of("4/4", "C", 132, [("F5", 3), ("A5", 1), ("A5", 4)], [("D", 4), ("Dm", 4)])
    later = 0
    for fill in comp(one_task(chorus, 1, level), 16):
        for note in fill.notes:
            if note.hand == "right" and note.onset_quarter >= fill.held_end.until_quarter:
                sounding = {n.midi % 12 for n in fill.notes
                            if n.onset_quarter <= note.onset_quarter < n.end_quarter}
                assert 5 in sounding, (fill.device, fill.notes)
                later += 1
    assert later


@pytest.mark.parametrize("level", LEVELS[1:])
def test_a_third_that_the_left_hand_lets_go_tells_nothing_of_what_rings_on(level: str) -> None:
    """A tune ends on its low root: the third has not gone with the chord before it."""
    chorus = chorus_of("4/4", "C", 63, [("D5", 2), ("C5", 2)], [("G7", 2), ("C", 2)])
    closes = [fill for fill in comp(one_task(chorus, 2, level), 16)
              if "low root" in fill.device]
    assert closes
    for fill in closes:
        end = max(n.end_quarter for n in fill.notes)
        assert 4 in {n.midi % 12 for n in fill.notes if n.end_quarter == end}, fill.notes


def one_gap(level: str, beats: int) -> Task:
    return one_task(chorus_of("4/4", "C", 120, [("G4", beats), ("A4", 4 - beats), ("C5", 4)],
                              [("Cmaj7", 4), ("Fmaj7", 4)]), level=level)


@every(LEVELS, [2, 3])
def test_a_dotted_figure_is_one_hand_s_and_the_hands_share_what_is_wide(level: str, beats: int
                                                                        ) -> None:
    """Who waits a dotted quarter for the other hand plays no figure; and a right hand that spans
    more than an octave is no distribution where the left has one key or none (common practice)."""
    for fill in comp(one_gap(level, beats), 10):
        rows: dict[str, set[Fraction]] = {"left": set(), "right": set()}
        for note in fill.notes:
            rows[note.hand].add(note.onset_quarter)
        if "dotted" in fill.device + " ".join(fill.reasons):
            assert any(b - a == Fraction(3, 2) for row in rows.values()
                       for a, b in pairwise(sorted(row))), fill.device
        for onset in rows["right"]:
            right = [n.midi for n in fill.notes if n.hand == "right" and n.onset_quarter == onset]
            if fill.held_end.kept == "finger" and onset < fill.held_end.until_quarter:
                right.append(67)
            left = [n for n in fill.notes if n.hand == "left"
                    and n.onset_quarter <= onset < n.end_quarter]
            assert max(right) - min(right) <= 12 or len(left) > 1, fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_no_hole_opens_under_the_melody(level: str) -> None:
    """Two octaves with nothing in them for longer than a beat: a bass struck again in the middle
    of them does not fill them."""
    task = one_task(chorus_of(
        "2/4", "D", 200, [("F#4", 1), ("E4", 1), ("D4", 3), (None, 1)],
        [("D", 1), ("A", 1), ("D", 4)]), level=level)
    for fill in comp(task, 10):
        assert longest_hole(fill, 62) <= 1, fill.device


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_two_chords_in_turn_are_no_first_offers(level: str) -> None:
    """The same two chords in turn and in turn again are an exercise."""
    chorus = chorus_of("4/4", "G", 132, [("D6", 6), ("D6", 2)], [("D7", 8)])
    for fill in comp(one_task(chorus, 1, level=level), 3):
        rows: dict[Fraction, list[int]] = {}
        for note in fill.notes:
            if note.hand == "right":
                rows.setdefault(note.onset_quarter, []).append(note.midi)
        keys = [sorted(row) for _, row in sorted(rows.items())]
        assert not any(len(a) > 1 and a == c != b == d for a, b, c, d in zip(
            keys, keys[1:], keys[2:], keys[3:], strict=False)), fill.device


def test_a_chord_rises_through_both_hands_under_the_note_it_keeps() -> None:
    """A ballad's last note: the left hand begins, the right hand goes on below what it holds."""
    chorus = chorus_of("4/4", "C", 60, [("G4", 4), ("E4", 4)], [("Cmaj7", 4), ("Fmaj7", 4)])
    rising = [fill for fill in comp(one_task(chorus, 1, level="advanced"), 30)
              if fill.device.startswith("chord that rises")]
    assert rising
    for fill in rising:
        notes = sorted(fill.notes, key=lambda n: n.onset_quarter)
        assert [n.midi for n in notes] == sorted(n.midi for n in notes)
        assert len(notes) == len({n.onset_quarter for n in notes}) == 5
        assert [n.hand for n in notes] == ["left"] * 3 + ["right"] * 2
