"""Comping fills do what their names and reasons say. Rules without a source are common
practice."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, every_task, one_task, options_of

from fillwright import ChordSymbol, Fill, Key, read_tune, unfold
from fillwright.demo import demo_path
from fillwright.fills import Task, player_of
from fillwright.fills.devices.comp import lefts
from fillwright.theory import degree_pitch_class
from fillwright.theory.harmony import harmony_of

pytestmark = pytest.mark.slow

UP = ("intermediate", "advanced")
LEVELS = ("beginner", *UP)
TWO_FIVES = (
    ("4/4", [("A4", 4), ("E4", 2)], [("Dm7", 2), ("G7", 2), ("Cmaj7", 2)]),
    ("4/4", [("B4", 4), ("C5", 2)], [("G7", 4), ("Cmaj7", 2)]),
    ("4/4", [("D5", 4), ("G4", 2)], [("Bbmaj7", 4), ("Am7", 2)]),
    ("3/4", [("B4", 3), ("A4", 3)], [("Gmaj7", 3), ("Am7", 3)]),
    ("4/4", [("C5", 2), ("F4", 2)], [("Am7", 2), ("Dm7", 2)]),
)


def comp(task: Task, count: int = 6) -> tuple[Fill, ...]:
    found = options_of(task, "comp", count)
    assert not isinstance(found, str), found
    return found


def strokes(fill: Fill, hand: str) -> list[list[int]]:
    """Keys struck by a hand, stroke by stroke, from the bottom."""
    onsets = sorted({n.onset_quarter for n in fill.notes if n.hand == hand})
    return [sorted(n.midi for n in fill.notes if n.hand == hand and n.onset_quarter == onset)
            for onset in onsets]


@pytest.mark.parametrize("hand", ("medium", "large"))
@pytest.mark.parametrize("tempo", (66, 120))
def test_tenths_are_tenths(hand: str, tempo: int) -> None:
    seen = 0
    for meter, melody, chords in TWO_FIVES:
        for level in UP:
            task = one_task(chorus_of(meter, "C", tempo, melody, chords), 1, level, hand)
            for fill in comp(task, 20):
                tenths = [keys for keys in strokes(fill, "left")
                          if any(b - a in (15, 16) for a in keys for b in keys)]
                if fill.device.startswith("broken tenth"):
                    keys = [keys[0] for keys in strokes(fill, "left")[:3]]
                    assert keys[2] - keys[0] in (15, 16), fill.device
                elif "tenth" in fill.device:
                    seen += 1
                    assert tenths, fill.device
                if any("tenth over" in text or "spans a tenth" in text for text in fill.reasons):
                    assert tenths, fill.reasons
    assert seen or (hand, tempo) == ("medium", 120), "the device is offered where it can be played"


def test_a_last_step_steps_into_the_landing() -> None:
    seen = 0
    for meter, melody, chords in TWO_FIVES:
        for level in UP:
            task = one_task(chorus_of(meter, "C", 120, melody, chords), 1, level)
            landing = task.landing_harmony
            assert landing is not None
            for fill in comp(task, 24):
                if "last step" in fill.device:
                    seen += 1
                    away = (strokes(fill, "left")[-1][0] - landing.root.pitch_class) % 12
                    assert away in (1, 2, 10, 11), fill.device
    assert seen


def test_a_walking_bass_is_not_everywhere_the_first_choice() -> None:
    first = []
    for meter, melody, chords in TWO_FIVES:
        for level in UP:
            task = one_task(chorus_of(meter, "C", 120, melody, chords), 1, level)
            first.append(comp(task, 3)[0].device)
    assert sum(device.startswith("bass") for device in first) <= len(first) // 3, first


def test_nothing_is_pushed_onto_the_chord_that_sounds() -> None:
    """F6 after F is no new chord either: a bare triad is played with its sixth."""
    for first, second in (("Cm7", "Cm7"), ("F", "F6"), ("G7", "G7")):
        held = {"Cm7": "Eb5", "F": "A4", "G7": "B4"}[first]
        chorus = chorus_of("4/4", "C", 140, [(held, 4), (held, 2)], [(first, 4), (second, 2)])
        for level in LEVELS:
            for fill in comp(one_task(chorus, 1, level), 10):
                assert fill.over_quarter == 0, fill.device
                assert not any("early: a push" in text for text in fill.reasons)


@pytest.mark.parametrize("level", UP)
def test_chords_are_not_struck_three_times_with_the_same_keys(level: str) -> None:
    for chord, held in (("Cm7", "Eb5"), ("F", "A4"), ("Bb7", "D5"), ("Ebmaj7", "G4")):
        for tempo in (100, 140):
            chorus = chorus_of("4/4", "C", tempo, [(held, 5), (held, 2)], [(chord, 8)])
            for fill in comp(one_task(chorus, 1, level), 3):
                for hand in ("left", "right"):
                    rows = strokes(fill, hand)
                    assert not any(len(a) > 1 and a == b == c for a, b, c in zip(
                        rows, rows[1:], rows[2:], strict=False)), (fill.device, rows)
                assert level != "advanced" or "shells" not in fill.device.split(",")[0]


THIRD = Fraction(1, 3)
BALLADS = (
    ("4/4", [("A4", 4), ("B4", 2)], [("Dm7", 4), ("G7", 2)]),
    ("4/4", [("E5", 6), ("D5", 2)], [("Fmaj7", 4), ("Dm7", 4)]),
    ("4/4", [("A4", 8)], [("Fmaj7", 8)]),
    ("4/4", [("E5", 1), ("F5", 3), ("F5", 2)], [("Bbmaj7", 4), ("Bbm7", 2)]),
)


@pytest.mark.parametrize("level", LEVELS)
def test_ballads_have_no_stabs_and_no_lonely_chords(level: str) -> None:
    for meter, melody, chords in BALLADS:
        task = one_task(chorus_of(meter, "F", 64, melody, chords), 1, level)
        fills = comp(task)
        assert len(fills) >= 3
        for fill in fills:
            onsets = sorted({n.onset_quarter for n in fill.notes})
            assert not any(b - a == 1 and task.beat_at(a).denominator == 2
                           for a, b in pairwise(onsets)), fill.device
            for onset in onsets:  # a triplet leads to a beat or to the landing
                if task.beat_at(onset).denominator == 3:
                    assert {onset + THIRD, onset + 2 * THIRD} & {*onsets, task.end_quarter}
            assert task.beats < 4 or len(onsets) >= 3, fill.device
        for fill in fills[:3]:
            assert len({(n.midi, n.hand) for n in fill.notes}) > len(strokes(fill, "left")[0])


@pytest.mark.parametrize("level", LEVELS)
def test_something_moves_in_a_ballad(level: str) -> None:
    """Of the first three ideas none is one chord struck again and again."""
    for meter, melody, chords in BALLADS[:3]:
        task = one_task(chorus_of(meter, "F", 64, melody, chords), 1, level)
        for fill in comp(task, 3):
            rows = sorted({n.onset_quarter for n in fill.notes})
            keys = [{n.midi for n in fill.notes if n.onset_quarter == onset} for onset in rows]
            assert all(a != b for a, b in pairwise(keys)), fill.device


@pytest.mark.parametrize("level", UP)
def test_altered_nines_do_not_rub_root_and_third(level: str) -> None:
    """The sharp nine lies above the third, the flat nine an octave and more above the root."""
    for chord, held in (("G7#9", "F5"), ("G7b9", "F5"), ("G7b9", "B4"), ("E7b9", "D5"),
                        ("C7alt", "E5")):
        chorus = chorus_of("4/4", "C", 110, [(held, 4), ("E5", 2)], [(chord, 4), ("Cmaj7", 2)])
        task = one_task(chorus, 1, level)
        harmony = task.spans[0].harmony
        root = harmony.root.pitch_class
        for fill in comp(task, 12):
            for onset in {n.onset_quarter for n in fill.notes}:
                down = sorted({n.midi for n in fill.notes
                               if n.onset_quarter <= onset < n.end_quarter})
                if any(n.onset_quarter == onset and harmony.degree_of(n.midi % 12) is None
                       for n in fill.notes):
                    continue  # the landing's chord, early
                assert not any(b - a == 1 and (b - root) % 12 in (1, 4)
                               for a, b in pairwise(down)), (fill.device, down)


def test_a_half_diminished_chord_is_more_than_root_and_seventh() -> None:
    for held in ("D5", "F5", "E5"):
        for tempo in (64, 130):
            chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("G#4", 2)],
                               [("Bm7b5", 4), ("E7", 2)])
            for level in LEVELS:
                for fill in comp(one_task(chorus, 1, level)):
                    if not fill.over_quarter:  # no E7 struck early
                        heard = {n.midi % 12 for n in fill.notes}
                        assert heard & {2, 5}, fill.device
                        assert 7 not in heard or 5 in heard, (fill.device, "G over B")


def test_a_minor_chord_after_the_major_one_has_its_third() -> None:
    """Also where the melody holds that third: the hand plays it, and may not fall back on
    root and seventh."""
    for held in ("Eb5", "Cb5"):
        chorus = chorus_of("4/4", "Eb", 130, [("C5", 1), ("C5", 1), (held, 4), ("Bb4", 2)],
                           [("Abmaj7", 2), ("Abm7", 4), ("Ebmaj7", 2)])
        for level in LEVELS:
            for fill in comp(one_task(chorus, 1, level), 8):
                assert 11 in {n.midi % 12 for n in fill.notes}, fill.device


NAMED = (("Bm7b5", "D5"), ("C", "G4"), ("F6", "A4"), ("G7", "D5"), ("C/E", "G4"), ("Am7", "E5"),
         ("Ebmaj7", "Bb4"), ("Bdim7", "F5"), ("C5", "G4"), ("G7sus4", "D5"))


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", (64, 130))
def test_names_are_true_of_the_notes(level: str, tempo: int) -> None:
    for chord, held in NAMED:
        chorus = chorus_of("4/4", "C", tempo, [(held, 4), (held, 4)], [(chord, 8)])
        task = one_task(chorus, 1, level)
        harmony = task.spans[0].harmony
        tones = {(harmony.root.pitch_class + degree_pitch_class(d)) % 12
                 for d in (harmony.third, harmony.seventh) if d is not None}
        if harmony.seventh == "7":  # the sixth may stand in for it
            tones.add((harmony.root.pitch_class + 9) % 12)
        for fill in comp(task, 16):
            over = "over" in fill.device or "low" in fill.device or "under" in fill.device
            rows = strokes(fill, "right") if over else strokes(fill, "left")[1:]
            if fill.device.startswith(("rootless", "root, then rootless",
                                       "root, then three-note rootless")):
                assert all(harmony.root.pitch_class not in {m % 12 for m in keys}
                           for keys in rows if len(keys) > 1), (chord, fill.device, rows)
            if fill.device.startswith(("guide tones", "root, then guide tones")):
                assert all(len(keys) == 2 and {m % 12 for m in keys} <= tones
                           for keys in rows if len(keys) > 1), (chord, fill.device, rows)
            if fill.device.startswith(("shells", "two-note shells")):
                assert all({m % 12 for m in keys} & tones for keys in strokes(fill, "left"))
            if "tenths in the left hand" in fill.device:
                assert any(b - a in (15, 16) for keys in strokes(fill, "left")
                           for a in keys for b in keys)


def test_above_the_held_note_and_kept_by_the_pedal() -> None:
    seen = 0
    for held, chord in (("G4", "Ebmaj7"), ("A4", "F"), ("F5", "Bbmaj7"), ("D5", "Gm7"),
                        ("E5", "Am7"), ("Bb4", "Gm7")):
        for chords in ([(chord, 4), ("Fm7", 2)], [(chord, 1), ("C7", 3), ("Fm7", 2)]):
            chorus = chorus_of("4/4", "Eb", 62, [(held, 4), ("F4", 2)], chords)
            for level in UP:
                task = one_task(chorus, 1, level)
                for fill in comp(task, 30):
                    if fill.held_end.kept != "pedal":
                        continue
                    seen += 1
                    right = [n for n in fill.notes if n.hand == "right"]
                    assert min(n.onset_quarter for n in right) < fill.held_end.until_quarter
                    assert task.held_midi is not None
                    assert min(n.midi for n in right) > task.held_midi
                    if fill.held_end.until_quarter < task.end_quarter:
                        assert any("sounding until" in text for text in fill.reasons)
    assert seen


@pytest.mark.parametrize("level", UP)
def test_songs_of_plain_triads_take_sixth_and_ninth_only(level: str) -> None:
    allowed = {"F": {0, 2, 4, 7, 9}, "Bb": {0, 2, 4, 7, 9}, "C7": {0, 2, 4, 7, 9, 10}}
    for chord, held in (("F", "A4"), ("Bb", "D5"), ("Bb", "F5"), ("C7", "E5"), ("F", "C5")):
        rows = [(chord, 4), ("Dm", 2), ("F", 2), ("Bb", 2), ("F", 2)]
        chorus = chorus_of("4/4", "F", 120, [(held, 4), ("F4", 2), ("A4", 6)], rows,
                           feel="straight")
        task = one_task(chorus, 1, level)
        harmony = task.spans[0].harmony
        for fill in comp(task, 16):
            heard = {(n.midi - harmony.root.pitch_class) % 12 for n in fill.notes
                     if n.onset_quarter < task.end_quarter - 1}
            if not fill.over_quarter:
                suspended = {5} if fill.device.startswith("moving voice 4") else set()
                assert heard <= allowed[chord] | suspended, (chord, fill.device, heard)
            assert not any(word in fill.device for word in ("fourths", "cluster", "upper"))


def test_other_songs_keep_their_colours() -> None:
    task = one_task(chorus_of("4/4", "F", 120, [("D5", 4), ("A4", 2)],
                              [("Bbmaj7", 4), ("Am7", 2)]), 1, "advanced")
    harmony = task.spans[0].harmony
    assert any((n.midi - harmony.root.pitch_class) % 12 == 6 for fill in comp(task, 16)
               for n in fill.notes)


@pytest.mark.parametrize("level", UP)
def test_no_stiff_hits_in_the_demo_tune(level: str) -> None:
    """Better another rhythm than one chord three times, wherever there is one."""
    chorus = unfold(read_tune(demo_path("umbrella")))
    for task in every_task(chorus, level):
        for fill in comp(task, 3):
            for hand in ("left", "right"):
                rows = strokes(fill, hand)
                assert not any(len(a) > 1 and a == b == c for a, b, c in zip(
                    rows, rows[1:], rows[2:], strict=False)), (task.form, fill.device)


def test_reasons_call_an_added_sixth_added() -> None:
    seen = 0
    for chord in ("F", "F6"):
        chorus = chorus_of("4/4", "F", 120, [("A4", 4), ("C5", 2)], [(chord, 4), ("Bb", 2)])
        for fill in comp(one_task(chorus, 1, "intermediate")):
            for text in fill.reasons:
                if text.startswith("Guide tones of"):
                    seen += 1
                    assert ("added sixth" in text) == (chord == "F"), text
    assert seen


def test_a_lone_bass_note_above_g3_costs() -> None:
    """What lies higher is heard as a voice, not as the bass (common practice)."""
    symbol, home = ChordSymbol.parse("A7"), Key.parse("D")
    states = lefts.left_states(harmony_of(symbol, home, None), player_of("advanced", "medium"),
                               lefts.Asked("root", lift=12))
    assert states is not None
    lone = {v.midis[0]: int(cost) for v, cost in zip(states.voicings, states.costs["high root"],
                                                     strict=True) if len(v.midis) == 1}
    assert lone[45] == 0 < lone[57]


def test_a_stride_in_three_is_low_on_the_first_beat_alone() -> None:
    """Common practice: the bass of a waltz is on 1, its chords on 2 and 3."""
    chorus = chorus_of("3/4", "C", 150, [("E5", 1), ("G5", 5), ("E5", 3)],
                       [("C", 3), ("Dm7", 3), ("G7", 3)])
    task = one_task(chorus, 1, "advanced")
    found = [f for f in comp(task, 30) if f.device.startswith("stride")]
    assert found
    for fill in found:
        for onset, keys in strokes_by_onset(fill):
            low = task.beat_at(onset - task.onset_quarter) == 1
            assert (len(keys) == 1) is low, (fill.device, onset, keys)
        assert any("low on 1" in text for text in fill.reasons)


def strokes_by_onset(fill: Fill) -> list[tuple[Fraction, list[int]]]:
    """Keys of the left hand at every onset."""
    rows: dict[Fraction, list[int]] = {}
    for note in fill.notes:
        if note.hand == "left":
            rows.setdefault(note.onset_quarter, []).append(note.midi)
    return sorted(rows.items())


def test_a_beginner_finds_the_way_back_and_a_beat_to_count_by() -> None:
    """What strict readers struck out at 200: a hand thrown down an octave and back, an octave
    gripped off the beat under a held finger, off-beats on both sides of a bar line, one key four
    times."""
    chorus = chorus_of("4/4", "Eb", 200, [("Bb5", 5), ("G5", 3), ("A5", Fraction(7, 2)),
                                          ("C6", Fraction(9, 2))], [("Eb", 8), ("F", 8)])
    for task in every_task(chorus, "beginner"):
        held, landing = task.held_midi, task.landing_midi
        assert held is not None
        for fill in comp(task, 12):
            right = [n for n in fill.notes if n.hand == "right"]
            onsets = sorted({n.onset_quarter - task.onset_quarter for n in fill.notes})
            for a, b in pairwise(onsets):
                off = all(task.beat_at(o).denominator > 1 for o in (a, b))
                assert not off or task.bar_count_at(task.onset_quarter + a) == (
                    task.bar_count_at(task.onset_quarter + b)), fill.device
            if fill.held_end.kept == "finger":
                assert not any(n.midi == held - 12 and task.beat_at(
                    n.onset_quarter - task.onset_quarter).denominator > 1 for n in right)
            elif right and landing is not None:
                last = max(n.onset_quarter for n in right)
                top = max(n.midi for n in right if n.onset_quarter == last)
                sec = task.seconds(task.end_quarter - last)
                assert landing - top <= max(5, 20 * sec), fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_no_hand_dives_from_a_high_note_and_comes_back(level: str) -> None:
    """Over two octaves down between one beat and the next, and up again: nobody does that for a
    chord. (The reach of a jump: design choice, an octave and a half at most below advanced.)"""
    most = {"beginner": 14, "intermediate": 18, "advanced": 21}[level]
    chorus = chorus_of("2/4", "A", 63, [("A6", 0.5), (None, 1.5), ("A5", 2)], [("Am", 4)])
    for fill in comp(one_task(chorus, 1, level), 8):
        if fill.held_end.kept == "pedal":
            continue
        for row in strokes(fill, "right"):
            assert max(93 - row[-1], 81 - row[-1], row[0] - 81) <= most, fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_a_full_chord_does_not_come_just_before_a_landing_out_of_hand(level: str) -> None:
    """In swing half a beat at 132 is 0.15 seconds: no time to strike four keys and a sixth."""
    chorus = chorus_of("4/4", "C", 132, [("G5", 4), ("G5", 4)], [("Em7", 4), ("A7", 4)])
    for fill in comp(one_task(chorus, 1, level), 12):
        onset = max((n.onset_quarter for n in fill.notes if n.hand == "right"),
                    default=Fraction(0))
        row = strokes(fill, "right")[-1:]
        if onset == Fraction(7, 2) and fill.held_end.kept == "released":
            assert max(79 - row[0][-1], row[0][0] - 79) <= 5, (fill.device, row)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("chord", ("Eb7#5", "Eb7b5"))
def test_an_altered_fifth_that_is_printed_is_heard(level: str, chord: str) -> None:
    """Without it the chord is a plain seventh chord, and the voice that goes through it is lost."""
    fifth = 11 if chord.endswith("#5") else 9
    chorus = chorus_of("4/4", "Eb", 132, [("Eb5", 4), ("C5", 4)], [(chord, 4), ("Ab6", 4)])
    found = comp(one_task(chorus, 1, level), 5)
    assert len(found) >= 3
    for fill in found:
        assert any(n.midi % 12 == fifth and n.onset_quarter < 4 for n in fill.notes), fill.device


@pytest.mark.parametrize("sung", (3, 4))
def test_a_bass_line_does_not_stop_on_its_way(sung: int) -> None:
    """It does not lie on a passing note because the held note is over, nor on the fifth from the
    beat after its first root: where it cannot go on to its goal, there is none."""
    rest = [(None, 1)] if sung == 3 else []
    chorus = chorus_of("3/2", "G", 126, [("D5", 1), ("G4", sung), *rest, ("B4", 1), ("C5", 6)],
                       [("G", 12)])
    seen = 0
    for level in UP:
        for fill in comp(one_task(chorus, 1, level), 20):
            if not fill.device.startswith("bass"):
                continue
            seen += 1
            rows = sorted({n.onset_quarter for n in fill.notes if n.hand == "left"})
            steps = [b - a for a, b in pairwise([*rows, Fraction(4)])]
            if "walking" in fill.device:
                assert set(steps) == {1}, rows
            else:
                assert steps[0] >= 2 and steps[-1] <= 2, (fill.device, rows)
    assert seen or sung == 3


def test_what_only_passes_stands_on_no_beat_between_two_off_beats() -> None:
    chorus = chorus_of("2/2", "Eb", 132, [("G5", 2), ("F#5", 2)], [("Cm", 4)])
    for level in UP:
        for fill in comp(one_task(chorus, 1, level), 20):
            if fill.device.startswith("thirds"):
                onsets = sorted({n.onset_quarter for n in fill.notes if n.hand == "right"})
                assert onsets[1] % 1 or not onsets[0] % 1, (fill.device, onsets)
                assert "pair of off-beats" not in fill.device


def test_a_place_in_a_later_bar_is_told_with_its_bar() -> None:
    """"Until 3" may be the third beat of either of two bars."""
    chorus = chorus_of("4/4", "F", 196, [("F5", 2), (None, 5), ("A5", 1)],
                       [("F", 2), ("C7", 2), ("F", 4)])
    kept = [reason for fill in comp(one_task(chorus, 1, "beginner"), 8) for reason in fill.reasons
            if "keeps F down until" in reason]
    assert kept and all("until 3 of the first bar" in reason for reason in kept)


@pytest.mark.parametrize(("level", "most"), [("intermediate", 1), ("advanced", 0)])
def test_the_left_hand_does_not_lie_over_the_melody_that_comes_back(level: str, most: int) -> None:
    """The melody comes in on a low E an eighth after the chord: under it, not inside it, where
    there is another way (of six options four and three lay over it before it had a price)."""
    task = one_task(chorus_of("4/4", "C", 132, [("E4", 4.5), ("E4", 0.5), ("F4", 3)],
                              [("D", 2), ("Gm", 1), ("E7", 1), ("A7", 4)]), level=level)
    over = [fill.device for fill in comp(task) if any(
        n.midi > 64 for n in fill.notes if n.hand == "left" and n.end_quarter >= task.end_quarter)]
    assert len(over) <= most, over


@pytest.mark.parametrize("level", LEVELS)
def test_no_chord_is_struck_four_times_at_the_end(level: str) -> None:
    """Two bars of the last chord: something moves, or it rings."""
    chorus = chorus_of("4/4", "C", 132, [("B4", 4), ("C5", 8)], [("G7", 4), ("C", 8)])
    for fill in comp(one_task(chorus, 2, level), 8):
        for hand in ("left", "right"):
            rows = strokes(fill, hand)
            assert not any(len(a) > 1 and a == b == c == d for a, b, c, d in zip(
                rows, rows[1:], rows[2:], rows[3:], strict=False)), (fill.device, rows)
