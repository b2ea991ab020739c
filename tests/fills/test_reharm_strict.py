"""What a strict teacher strikes out of chords between chords: names, claims and voicings that
the notes do not bear out. Check values are common practice."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, one_task, options_of

from fillwright import ChordSymbol, Fill, Key
from fillwright.fills import ADVANCED, Task, level_of
from fillwright.fills.devices.reharm.device import Stands
from fillwright.fills.devices.reharm.hands import STYLES
from fillwright.fills.devices.reharm.moves import MOVES
from fillwright.fills.devices.reharm.options import Option, options
from fillwright.fills.devices.reharm.place import Place
from fillwright.fills.devices.reharm.plan import plans
from fillwright.fills.devices.reharm.sound import heard_as_printed
from fillwright.fills.devices.reharm.voice import voice_plan
from fillwright.rules import CROWDED
from fillwright.theory import degree_pitch_class, harmony_of
from fillwright.tune import ChordSpan

pytestmark = pytest.mark.slow

LEVELS = ("beginner", "intermediate", "advanced")


def gap_of(melody: str, chords: str, *, level: str = "intermediate", tempo: int = 120,
           key: str = "C") -> Task:
    """The first gap of ``"E5 4, A4 4"`` over ``"C 4, F 4"``; "-" is a rest."""
    notes = [(None if a == "-" else a, float(b))
             for a, b in (part.split() for part in melody.split(","))]
    symbols = [(a, float(b)) for a, b in (part.split() for part in chords.split(","))]
    return one_task(chorus_of("4/4", key, tempo, notes, symbols), 1, level=level)


def offered(task: Task, count: int = 10) -> tuple[Fill, ...]:
    found = options_of(task, "reharm", count)
    assert not isinstance(found, str), found
    return found


def chords_of(task: Task) -> list[list[str]]:
    return [[str(c.symbol) for o in p.options for c in o.chords] for p in plans(task, 2000)]


def between(here: str, goal: str, key: str = "C") -> Place:
    home = Key.parse(key)
    first, second = ChordSymbol.parse(here), ChordSymbol.parse(goal)
    return Place(harmony_of(first, home, second), harmony_of(second, home, None))


# --- what is said -------------------------------------------------------------------------

@pytest.mark.parametrize(("chord", "four", "shared"), [
    ("F", "Bbmaj7", "F and A"), ("Cm7", "Fm7", "C and E♭")])
def test_iv_and_back_speaks_of_no_voice_that_does_not_move(chord: str, four: str, shared: str
                                                           ) -> None:
    """A whole chord on the fourth degree is no neighbour over a standing bass."""
    option = next(o for o in options(between(chord, chord, "F")) if o.move.name == "IV and back")
    assert str(option.chords[0].symbol) == four
    assert "step up" not in option.said()
    assert f"with {shared} in common" in option.said()


@pytest.mark.parametrize(("here", "x", "goal", "said"), [
    ("Abmaj7", "Eb7", "Abm7", "G leads up to A♭ and D♭ down to C♭"),
    ("Gmaj7", "D7", "Gm7", "F♯ leads up to G and C down to B♭")])
def test_the_leading_tone_rises_and_the_seventh_falls(here: str, x: str, goal: str, said: str
                                                      ) -> None:
    option = next(o for o in options(between(here, goal, "Eb"))
                  if [str(c.symbol) for c in o.chords] == [x])
    assert said in option.said()


# --- where chords stand ---------------------------------------------------------------------

@pytest.mark.parametrize(("chords", "key", "names"), [
    ("Dm7 4, Dm7 4, G7 4", "C", {"G7"}), ("C 4, C 4, G7 4", "C", {"G7"})])
def test_two_chords_may_go_to_and_fro(chords: str, key: str, names: set[str]) -> None:
    """II V II V, and I V I V."""
    task = gap_of("D5 4, C5 1, Bb4 1, C5 1, Bb4 1, D5 4, D5 4, D5 4, D5 4", chords, key=key)
    assert any(len(row) == 1 and row[0] in names for row in chords_of(task))


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("here", "goal", "after"), [
    ("Ab7", "Ab7", "G7"), ("G7", "Gm7", "C7"), ("Cmaj7", "Cmaj7", "Dm7")])
def test_the_written_chord_after_the_return_is_not_taken_away(here: str, goal: str, after: str,
                                                              level: str) -> None:
    task = gap_of("C5 4, C5 1, Bb4 1, C5 1, Bb4 1, D5 4",
                  f"{here} 4, {goal} 4, {after} 4", level=level)
    assert chords_of(task)
    assert not any(after in row for row in chords_of(task))
    without = gap_of("C5 4, C5 1, Bb4 1, C5 1, Bb4 1", f"{here} 4, {goal} 4", level="advanced")
    back = (here, goal) == ("G7", "Gm7")  # C7 would go back to its own II
    assert any(after in row for row in chords_of(without)) != back


def test_a_written_diminished_chord_still_resolves() -> None:
    """C sharp diminished goes to the D in the bass: nothing comes between but over that D."""
    found = options(between("C#dim7", "G/D", "G"))
    assert found
    for option in found:
        if option.way.stands is Stands.AFTER:
            lowest = option.chords[0].symbol.lowest
            assert lowest is not None and lowest.pitch_class in (1, 2), option.said()


@pytest.mark.parametrize(("goal", "arrives"), [
    ("F", True), ("A7", True), ("Am7", True), ("Dm7", False), ("C", True), ("B7", False),
    ("G7", False), ("Bb7", False), ("Eb7", False)])
def test_a_walk_to_the_third_degree_arrives(goal: str, arrives: bool) -> None:
    """From E minor 7 on by step or by fifth, or back home; not by a leap to B7 or G7, and not over
    the coming chord itself to D minor 7."""
    found = [o for o in options(between("Cmaj7", goal))
             if o.move.name in ("walk-up with chromatic passing chord", "diatonic walk-up")
             and str(o.chords[-1].symbol) in ("Em7", "C/E") and len(o.chords) > 1]
    assert bool(found) == arrives


def test_no_suspension_after_the_dominant_it_would_suspend() -> None:
    """D9sus4 between D7 and Gmaj7 holds nothing back: the third was there already."""
    names = [[str(c.symbol) for c in o.chords] for o in options(between("D7", "Gmaj7", "G"))
             if o.way.stands is Stands.AFTER]
    assert ["D9sus4"] not in names
    assert any(o.way.stands is Stands.DELAY and str(o.chords[0].symbol) == "D9sus4"
               for o in options(between("D7", "Gmaj7", "G")))


def test_a_bass_that_is_said_to_walk_walks() -> None:
    """G, A flat, B flat in the keys too, not down a seventh on the way."""
    for level in LEVELS:
        task = gap_of("F5 3, E5 4", "Gm7 3, C7b9 4", level=level, key="Eb", tempo=144)
        for fill in offered(task, 10):
            if fill.device != "diatonic walk-up":
                continue
            lows = [min(n.midi for n in fill.notes if n.onset_quarter == c.onset_quarter)
                    for c in fill.chords]
            assert all(0 < b - a <= 2 for a, b in pairwise(lows)), lows


@pytest.mark.parametrize("level", LEVELS)
def test_a_chord_turned_over_its_third_has_a_bass_that_walks(level: str) -> None:
    """D, F, G in one octave, not down a sixth from D4 to F3 because the tune lies high."""
    task = one_task(chorus_of("3/4", "C", 144, [("C6", 3), ("D6", 3), ("C6", 6)],
                              [("Dm7", 3), ("G7", 3), ("C", 6)]), 1, level=level)
    for fill in offered(task, 12):
        if fill.device == "written chord over its third":
            first, turned = (min(n.midi for n in fill.notes if n.onset_quarter == c.onset_quarter)
                             for c in fill.chords)
            assert turned - first == 3


@pytest.mark.parametrize("melody, chords", [
    ("E5 4, C5 4, A4 4", "Dm7 4, Dm7 4, G7 4"), ("G5 4, F5 4, A4 4", "Dm7 8, C7 4")])
def test_a_triad_over_the_bass_that_lies_there_has_two_tones_of_its_own(melody: str, chords: str
                                                                       ) -> None:
    """C over D under a held E or G is Dm7 with its ninth or eleventh."""
    for level in ("intermediate", "advanced"):
        fills = offered(gap_of(melody, chords, level=level, tempo=135), 30)
        assert not any(str(c.symbol) == "C/D" for f in fills for c in f.chords)


def test_the_descent_is_said_without_the_chord_before_it() -> None:
    option = next(o for o in options(between("Fm7", "Cm7", "C minor"))
                  if o.move.name == "II, then the tritone substitute")
    assert "(D–D♭–C)" in option.said()


def test_a_colour_is_named_as_it_is_written() -> None:
    for melody, chords, key in SHEETS:
        task = gap_of(melody, chords, level="advanced", key=key)
        for fill in offered(task, 8):
            said = next((r for r in fill.reasons if "is played with" in r), "")
            names = {n.pitch.note_name.pretty for n in fill.notes}
            for part in said.rstrip(".").replace(" and ", "; ").split("; "):
                name = part.split(", its ")[0].split()[-1] if part else ""
                assert not name or name in names, said


# --- what is printed is what sounds ---------------------------------------------------------

SHEETS = [  # melody, chords, key: places where passing chords of every kind are offered
    ("D5 4, D5 4", "Gmaj7 4, Gm7 4", "Eb"), ("G4 4, Eb5 4", "Cmaj7 4, Cm7 4", "Eb"),
    ("E5 6, D5 4", "Fmaj7 4, Dm7 2, Dm7 4", "F"), ("Bb4 4, G4 4", "Gm7 4, Bbm7 4", "F"),
    ("F4 2, G4 4", "F 2, F 4", "F"), ("D5 2, G#4 4", "Bm7b5 2, E7b9 4", "A"),
    ("F5 3, E5 4", "Gm7 3, C7b9 4", "Eb"), ("C5 4, F5 4", "Ebmaj7 4, Bbm7 4", "Eb"),
    ("A4 4, B4 4", "Dm7 4, G7 4", "F"), ("Eb4 4, F5 4", "Eb6 4, Dm7 4", "Eb"),
    ("C5 4, G4 4", "Cm7 4, Fm7 4", "Eb"), ("E5 4, F5 4", "C 4, C 4", "C")]


def heard(fill: Fill, chord: ChordSpan, task: Task) -> set[int]:
    """Degrees of a chord, in semitones above its root, that sound while it stands."""
    assert chord.symbol.root is not None
    push = task.beat_quarter / 2
    midis = {n.midi for n in fill.notes
             if chord.onset_quarter - push <= n.onset_quarter < chord.end_quarter
             and n.end_quarter > chord.onset_quarter
             and not (n.onset_quarter >= chord.end_quarter - push
                      and n.end_quarter > chord.end_quarter)}  # pushed: the next chord's
    if task.held_midi is not None and fill.held_end.until_quarter > chord.onset_quarter:
        midis.add(task.held_midi)
    return {(m - chord.symbol.root.pitch_class) % 12 for m in midis}


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("melody", "chords", "key"), SHEETS)
def test_an_added_chord_is_heard_as_printed(melody: str, chords: str, key: str, level: str
                                            ) -> None:
    task = gap_of(melody, chords, level=level, tempo=100, key=key)
    for fill in offered(task, 8):
        for chord in fill.chords:
            if not chord.added:
                continue
            sounds, symbol = heard(fill, chord, task), chord.symbol
            told = f"{symbol} in {fill.device}: {sorted(sounds)}"
            if symbol.third is not None:
                assert degree_pitch_class(symbol.third) in sounds, told
            if symbol.fifth in ("b5", "#5"):
                assert degree_pitch_class(symbol.fifth) in sounds, told
            if level == "beginner":
                continue
            if symbol.seventh is not None:
                assert degree_pitch_class(symbol.seventh) in sounds, told
            altered = {degree_pitch_class(d) for d in symbol.degrees
                           if d in ("b9", "#9", "b13", "#5")}
            if len(altered) < 3:
                assert altered <= sounds, told
            if symbol.quality == "dominant":
                keys = sounds - ({(task.held_midi - symbol.root.pitch_class) % 12}
                                 if task.held_midi is not None and symbol.root is not None
                                 else set())
                assert keys & {1, 3, 8} <= altered, told


def test_a_flat_nine_that_is_played_is_printed_and_explained() -> None:
    task = gap_of("D5 4, D5 4", "Gmaj7 4, Gm7 4", level="advanced", key="Eb")
    fill = next(f for f in offered(task)
                if any(c.added and "7(" in str(c.symbol) for c in f.chords))
    assert any("is played with" in reason for reason in fill.reasons)


@pytest.mark.parametrize(("text", "degrees", "level", "told"), [
    ("Fdim7", ("1", "b3"), "beginner", False), ("Fdim7", ("1", "b3", "b5"), "beginner", False),
    ("Fdim7", ("1", "b3", "b5", "bb7"), "beginner", True), ("C7", ("1", "3"), "beginner", False),
    ("Bb/C", ("bass", "9", "3"), "advanced", False), ("Bb/C", ("bass", "1", "3"), "advanced", True),
    ("Fdim7", ("1", "b3", "b5"), "intermediate", False), ("Em7", ("1", "5"), "beginner", False),
    ("Em7", ("1", "b3"), "beginner", True), ("Em7", ("1", "b3"), "intermediate", False),
    ("A7b9", ("1", "3", "b7"), "intermediate", False),
    ("Abm6/Eb", ("bass", "6"), "beginner", False),
    ("A7b9", ("1", "3", "b7", "b9"), "intermediate", True),
    ("G7alt", ("1", "b7", "3", "#11"), "intermediate", False),
    ("G7alt", ("1", "b7", "3", "b13"), "intermediate", True),
    ("Abm6/Eb", ("bass", "b3"), "beginner", False),
    ("Abm6/Eb", ("bass", "1", "b3"), "beginner", True),
    ("Abmaj7", ("1", "6", "3"), "advanced", False), ("Ab6", ("1", "6", "3"), "advanced", True),
    ("Abmaj7", ("1", "7", "3"), "advanced", True)])
def test_what_tells_a_chord(text: str, degrees: tuple[str, ...], level: str, told: bool) -> None:
    assert heard_as_printed(harmony_of(ChordSymbol.parse(text), Key(0), None), degrees,
                            level_of(level).reharm.tells_all) == told


@pytest.mark.parametrize(("midis", "root", "third", "close"), [
    ((51, 53, 55), 3, None, True),       # E flat, F, G at the bottom
    ((43, 48, 52, 53), 7, None, True),   # a half step below A3
    ((55, 57, 59), 7, 11, True),         # G, A, B in one hand
    ((55, 56, 59, 65), 7, 11, True),     # the flat nine right on the root
    ((43, 53, 56, 59), 7, 11, False),    # the flat nine an octave above
    ((55, 58, 59, 63), 7, 11, True),     # the sharp nine right under the third
    ((43, 53, 59, 70), 7, 11, False),    # and far above it
    ((48, 52, 59, 62), 0, 4, False)])
def test_keys_too_close(midis: tuple[int, ...], root: int, third: int | None, close: bool) -> None:
    assert CROWDED.breaks(midis, root, third) == close


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("melody", "chords", "key"), SHEETS)
def test_no_chord_sounds_nothing_new_and_no_voice_only_said_moves(
        melody: str, chords: str, key: str, level: str) -> None:
    task = gap_of(melody, chords, level=level, key=key)
    for style in STYLES[level_of(level)]:
        for plan in plans(task, 30):
            voiced = voice_plan(task, plan, style)
            if voiced is None:
                continue
            rows = [{m % 12 for m in h.midis} for h in voiced.hands]
            for event, hands in zip(plan.events, voiced.hands, strict=True):
                root = event.harmony.root.pitch_class
                major = event.harmony.third == "3"
                assert not CROWDED.breaks(hands.midis, root, (root + 4) % 12 if major else None)
            held = plan.held
            for event, before, after in zip(plan.events[1:], rows, rows[1:], strict=False):
                note = task.held_midi
                if note is not None and held is not None and (
                        event.onset_quarter < held.until_quarter):
                    before, after = before | {note % 12}, after | {note % 12}
                assert not after <= before


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_the_inner_line_moves_in_the_notes(level: str) -> None:
    task = gap_of("G4 4, A4 4", "Cm7 4, F7 4", level=level, key="Bb")
    line = [12, 11, 10, 9]  # C, B, B flat, A
    found = [p for p in plans(task, 3000) if p.options[0].move.name == "line cliché in minor"
             and p.options[0].inner[:4] == (0, 11, 10, 9)]
    assert found
    for plan in found[:3]:
        for style in STYLES[level_of(level)]:
            voiced = voice_plan(task, plan, style)
            if voiced is None:
                continue
            keys = [set(h.midis) for h in voiced.hands]
            assert any(all(low + step in row for step, row in zip(line, keys, strict=False))
                       for low in range(24, 72, 12))
    assert any(voice_plan(task, found[0], style) is not None
               for style in STYLES[level_of(level)])


# --- the melody and the hands -----------------------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", [66, 120, 180])
def test_a_long_note_is_not_taken_away_in_its_first_half(tempo: int, level: str) -> None:
    task = gap_of("E5 6, D5 4", "Fmaj7 4, Dm7 2, Gm7 4", level=level, tempo=tempo, key="F")
    for plan in plans(task, 1000):
        assert plan.held is not None and plan.held.until_quarter >= 3


def test_the_top_note_is_kept_where_it_is_said_to_stay() -> None:
    for melody, chords in (("C5 4, A4 4", "C 4, F 4"), ("C5 3, A4 4", "C 3, F 4"),
                           ("C5 4, A4 4", "C 4, C 4"), ("C5 2, - 2, A4 4", "C 4, F 4")):
        task = gap_of(melody, chords, level="advanced", tempo=90)
        for fill in offered(task, 12):
            if "common top note" in fill.device:
                assert fill.held_end.kept == "finger"
                assert fill.held_end.until_quarter == task.end_quarter


@pytest.mark.parametrize("level", LEVELS)
def test_no_leap_of_more_than_an_octave_into_the_landing(level: str) -> None:
    task = gap_of("Eb4 4, F5 4", "Ebmaj7 4, Dm7 4", level=level, tempo=144, key="Eb")
    for fill in offered(task, 12):
        right = [n for n in fill.notes if n.hand == "right"]
        if not right:
            continue
        last = max(n.onset_quarter for n in right)
        if task.seconds(task.end_quarter - last) < 0.35:
            assert min(abs(77 - n.midi) for n in right if n.onset_quarter == last) <= 12


def test_the_third_of_c_sharp_seven_is_e_sharp() -> None:
    task = gap_of("B4 4, C#5 4", "Dmaj7 4, F#7 4", level="intermediate", key="D")
    named = [str(n.pitch) for f in offered(task, 12) for n in f.notes
             for c in f.chords if c.added and str(c.symbol) == "C#7"
             and c.onset_quarter <= n.onset_quarter < c.end_quarter and n.midi % 12 == 5]
    assert named and all(name.startswith("E#") for name in named)


# --- what is offered side by side ---------------------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("melody", "chords", "key"), SHEETS)
def test_three_options_are_three_devices(melody: str, chords: str, key: str, level: str) -> None:
    devices = [f.device for f in offered(gap_of(melody, chords, level=level, key=key), 10)]
    assert len(set(devices[:3])) >= min(2 if level == "beginner" else 3, len(set(devices)))


def test_nothing_plain_comes_before_a_chord_turns_minor() -> None:
    """The tonic between IV and IV minor is worse placed than between IV and V."""
    def tonic(goal: str) -> Option:
        return next(o for o in options(between("Abmaj7", goal, "Eb"), 10, ADVANCED)
                    if [str(c.symbol) for c in o.chords] == ["Ebmaj7"])

    assert tonic("Abm7").way.taste > tonic("Bb7").way.taste
    assert "comes before A♭maj7 turns into A♭m7" in tonic("Abm7").said()


def test_chord_tones_are_named_by_degree() -> None:
    """The seventh of G flat 7 is F flat, even where C7 had the same key as its E; never two
    names for a key in one chord."""
    task = gap_of("Eb5 4, C5 4", "C7#9 4, Fm7 4", level="advanced", key="Eb")
    seen = 0
    for fill in offered(task, 12):
        for chord in fill.chords:
            if str(chord.symbol.root) != "Gb" or chord.symbol.quality != "dominant":
                continue
            seen += 1
            names = {str(n.pitch.note_name) for n in fill.notes
                     if chord.onset_quarter - Fraction(1, 2) <= n.onset_quarter < chord.end_quarter
                     and n.end_quarter > chord.onset_quarter}
            assert "E" not in names and "Fb" in names
    assert seen


def test_no_sentence_speaks_of_all_voices() -> None:
    """How every voice goes is the voicing's matter, of which a move knows nothing."""
    for move in MOVES:
        for way in move.ways:
            assert not any(word in way.says for word in ("every voice", "all voices",
                                                         "two voices"))


def test_what_slides_down_a_half_step_has_a_flat() -> None:
    """D flat 7 goes down to C, whatever the tune above it is called."""
    found = {str(c.symbol.root) for f in offered(gap_of("D#5 4, C5 4", "G 4, C 4"), 30)
             for c in f.chords if c.added and c.symbol.root is not None
             and c.symbol.root.pitch_class == 1}
    assert found == {"Db"}


def test_a_diminished_chord_does_not_arrive_before_its_time() -> None:
    assert ["G7"] not in chords_of(gap_of("C5 4, A4 4", "Am7 2, F#dim7 2, Gm7 2, C7 2", key="F"))


def test_no_colour_is_taken_back_by_the_chord_beside_it() -> None:
    """Over C no A beside the A flat of F minor, which goes down to G."""
    for fill in offered(gap_of("C5 8", "C 8", level="beginner"), 30):
        added = {str(c.symbol) for c in fill.chords if c.added}
        if added <= {"Fm6", "Fm", "Fm6/C", "Fm/C"}:
            assert not any(n.midi % 12 == 9 for n in fill.notes), fill.device


def test_a_five_keeps_the_fourth_that_the_tune_holds() -> None:
    """G over D7 would rub its third: the V waits without it."""
    task = gap_of("G4 4, B4 4", "G 4, G 4", key="G")
    rows = [[str(c.symbol) for o in p.options for c in o.chords]
            for p in plans(task, 2000) if not p.cuts]
    assert ["Am7", "D9sus4"] in rows and ["Am7", "D7"] not in rows


def test_a_bass_that_stays_is_named_once() -> None:
    option = next(o for o in options(between("F#dim7", "Fm7", "Eb"))
                  if [str(c.symbol) for c in o.chords] == ["Gb7"])
    assert "(G♭–F)" in option.said()
