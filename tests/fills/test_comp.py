"""Comping fills, read with the eyes of a strict teacher. Rules without a source are common
practice."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, one_task, options_of

from fillwright import ChordSymbol, Fill, Key
from fillwright.fills import RHYTHM_STYLES, Task, player_of
from fillwright.fills import fills_of as offered
from fillwright.fills.devices.comp.table import TEXTURES, textures_of
from fillwright.fills.rhythm.grid import style_of
from fillwright.fills.voicing.voicings import voice_leading
from fillwright.hands import span_ok
from fillwright.theory import KIND_DEGREES, NoteName, analyse, degree_pitch_class, nearest_pitch

pytestmark = pytest.mark.slow

LEVELS = ("beginner", "intermediate", "advanced")
TONICS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def fills_of(task: Task, count: int = 6) -> tuple[Fill, ...]:
    found = options_of(task, "comp", count)
    assert not isinstance(found, str), found
    return found


def struck(fill: Fill, hand: str) -> dict[Fraction, list[int]]:
    """Keys struck by a hand, by onset."""
    keys: dict[Fraction, list[int]] = {}
    for note in fill.notes:
        if note.hand == hand:
            keys.setdefault(note.onset_quarter, []).append(note.midi)
    return keys


def check_chords_are_told(task: Task, fill: Fill) -> None:
    """Third (or fourth) and seventh of every chord that lasts two beats and more are heard
    while it lasts or in a push right before it, the held note included; a sixth never without
    the fifth or the ninth; of a triad third and fifth, of an inverted one third and root."""
    for span in task.spans:
        if span.duration_quarter < 2 * task.beat_quarter or not span.harmony.third:
            continue
        classes = {n.midi % 12 for n in fill.notes
                   if n.onset_quarter < span.end_quarter and n.end_quarter >= span.onset_quarter}
        held = task.held
        if held is not None and fill.held_end.until_quarter > span.onset_quarter:
            classes.add(held.midi % 12)
        heard = {span.harmony.symbol.relative(c) for c in classes}
        symbol = span.harmony.symbol
        inverted = symbol.seventh is None and symbol.bass in {
            symbol.name_of(d) for d in symbol.degrees if d != "1"}
        sixth = 9 in heard and (symbol.third != "3" or not {2, 7}.isdisjoint(heard))
        told = {
            "inverted": 0 in heard,
            "bare": not {6, 7, 8, 10}.isdisjoint(heard),
            "7": 11 in heard or sixth, "b7": 10 in heard, "6": sixth, "bb7": 9 in heard,
        }[("inverted" if inverted else "bare" if symbol.seventh is None
           else span.harmony.seventh) or "bare"]
        fourth = {5} if "11" in symbol.degrees else set()
        assert told, (fill.device, str(symbol), heard)
        assert ({degree_pitch_class(span.harmony.third)} | fourth) & heard, (
            fill.device, str(symbol))


def check_teacher(task: Task, fill: Fill) -> None:
    """What holds of every comping fill."""
    start, end = task.onset_quarter, task.end_quarter
    held = task.held
    assert fill.notes and any(n.hand == "left" for n in fill.notes)
    first = min(n.onset_quarter for n in fill.notes)
    span = task.spans[0] if task.spans[0].duration_quarter >= task.beat_quarter else (
        task.spans[min(1, len(task.spans) - 1)])
    assert first <= max(span.onset_quarter, start) + task.beat_quarter
    for note in fill.notes:
        assert start <= note.onset_quarter < end
        assert note.hand == "left" or note.end_quarter <= end
    assert 0 <= fill.over_quarter <= task.beat_quarter
    for onset in {n.onset_quarter for n in fill.notes}:
        down = [n for n in fill.notes if n.onset_quarter <= onset < n.end_quarter]
        left = sorted(n.midi for n in down if n.hand == "left")
        right = sorted(n.midi for n in down if n.hand == "right")
        if held is not None and onset < fill.held_end.until_quarter:
            assert held.midi not in left + right
            if fill.held_end.kept == "finger":
                right.append(held.midi)
                assert max(right) == held.midi
        assert not left or not right or max(left) < min(right)
        assert not right or span_ok(right[0], right[-1], task.hand_size)
        rolled = any(n.rolled for n in down if n.hand == "left")
        assert not left or rolled or span_ok(left[0], left[-1], task.hand_size)
    for one, two in pairwise(sorted(fill.notes, key=lambda n: (n.midi, n.onset_quarter))):
        assert one.midi != two.midi or one.end_quarter <= two.onset_quarter
    check_chords_are_told(task, fill)
    assert 1 <= len(fill.reasons) <= 4
    assert all(text.endswith(".") and text[0].isupper() for text in fill.reasons)


def check_offer(task: Task, fills: tuple[Fill, ...]) -> None:
    for fill in fills:
        check_teacher(task, fill)
    for index, fill in enumerate(fills):
        for other in fills[index + 1:]:
            assert fill.idea.differences(other.idea) >= 2
    assert len({f.id for f in fills}) == len(fills)


Rows = list[tuple[str | None, int]]
GAPS: dict[str, tuple[str, int, Rows, list[tuple[str, int]], str]] = {
    "major": ("4/4", 140, [("G4", 4), ("F4", 2)], [("Cmaj7", 4), ("Dm7", 2)], "swing"),
    "two and five": ("4/4", 140, [("A4", 4), ("B4", 2)], [("Dm7", 2), ("G7", 2), ("Cmaj7", 2)],
                     "swing"),
    "minor": ("4/4", 120, [("G4", 4), ("Eb5", 2)], [("Dm7b5", 2), ("G7b9", 2), ("Cm6", 2)],
              "swing"),
    "ballad": ("4/4", 62, [("G4", 4), ("F4", 2)], [("Ebmaj7", 4), ("Fm7", 2)], "swing"),
    "fast": ("4/4", 240, [("C5", 8), ("A4", 2)], [("Gm7", 4), ("C7", 4), ("Fmaj7", 2)], "swing"),
    "waltz": ("3/4", 150, [("B4", 6), ("A4", 2)], [("Gmaj7", 3), ("E7", 3), ("Am7", 2)],
              "swing"),
    "straight": ("4/4", 130, [("D5", 4), ("G4", 2)], [("Dm7", 2), ("G7", 2), ("C6", 2)],
                 "straight"),
    "compound": ("12/8", 80, [("C5", 6), ("B4", 3)], [("Am7", 6), ("D7", 3)], "swing"),
    "five": ("5/4", 160, [("C5", 5), ("B4", 3)], [("Am7", 5), ("D7", 3)], "swing"),
    "ending": ("4/4", 140, [("C5", 8)], [("C", 8)], "swing"),
    "ending over a seventh": ("4/4", 140, [("C5", 8)], [("Cmaj7", 8)], "swing"),
    "opening": ("4/4", 140, [(None, 4), ("C5", 4)], [("Dm7", 2), ("G7", 2), ("Cmaj7", 4)],
                "swing"),
    "slash": ("4/4", 140, [("G4", 4), ("A4", 2)], [("C/E", 4), ("F6", 2)], "swing"),
    "power": ("4/4", 140, [("C5", 4), ("A4", 2)], [("C5", 4), ("F5", 2)], "straight"),
    "long": ("4/4", 140, [("D5", 9), ("E5", 3)], [("Dm7", 4), ("G7", 4), ("Cmaj7", 4)], "swing"),
}


def gap(name: str, level: str, hand: str = "medium") -> Task:
    meter, tempo, melody, chords, feel = GAPS[name]
    return one_task(chorus_of(meter, "C", tempo, melody, chords, feel=feel), 1, level, hand)


FEWER = {("ending over a seventh", "beginner"): 4}
"""The last C stays on top: what comes back to it with third, fifth and sixth has more keys than a
beginner's hands are given."""


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", sorted(GAPS))
def test_six_distinct_ideas_in_four_beats(name: str, level: str) -> None:
    task = gap(name, level)
    fills = fills_of(task)
    assert len(fills) == FEWER.get((name, level), 6)
    check_offer(task, fills)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("hand", ("small", "large"))
def test_other_hands(level: str, hand: str) -> None:
    for name in ("two and five", "ballad", "minor"):
        task = gap(name, level, hand)
        check_offer(task, fills_of(task))


@pytest.mark.parametrize("level", LEVELS)
def test_two_ideas_in_two_beats(level: str) -> None:
    for tempo, meter, quarters in ((100, "4/4", 2), (60, "3/4", 2), (50, "6/8", 3)):
        for chord, target, held in (("Am7", "D7", "C5"), ("G7", "Cmaj7", "F4"),
                                    ("Cmaj7", "Am7", "E5"), ("Bm7b5", "E7", "A4")):
            chorus = chorus_of(meter, "C", tempo, [(held, quarters), ("D5", quarters)],
                               [(chord, quarters), (target, quarters)])
            task = one_task(chorus, 1, level)
            fills = fills_of(task, 3)
            assert len(fills) >= 2
            check_offer(task, fills)


kinds = st.sampled_from(sorted(k for k in KIND_DEGREES if k != "none"))
changes = st.sampled_from(((), (), ("b9",), ("#11",), ("#5",), ("9",)))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(TONICS), kinds, changes, st.sampled_from(LEVELS),
       st.sampled_from(("small", "medium", "large")), st.sampled_from(("3/4", "4/4", "6/8")),
       st.integers(60, 240), st.integers(0, 3), st.sampled_from(TONICS))
def test_every_chord_in_every_key_is_comped(root: str, kind: str, change: tuple[str, ...],
                                            level: str, hand: str, meter: str, tempo: int,
                                            which: int, home: str) -> None:
    assume("sixth" not in kind or change != ("#5",))  # nobody writes them: a sixth has its fifth
    assume(kind != "suspended-second" or change != ("b9",))  # nor this: it has a natural second
    symbol = ChordSymbol.of(root, kind, *change)
    harmony = analyse([symbol], Key.of(NoteName.parse(home)))[0]
    assert harmony is not None
    tones = [d for d in harmony.tones if d != "1"] or ["1"]
    held = nearest_pitch(symbol.name_of(tones[which % len(tones)]), 70)
    if meter == "6/8":
        tempo = tempo // 2 + 30
    chorus = chorus_of(meter, home, tempo, [(str(held), 6), (str(held), 3)],
                       [("C", 6), ("F", 3)])
    # the symbol may have no spelling of its own: set it by hand
    chorus = replace(chorus, chords=(replace(chorus.chords[0], symbol=symbol),
                                     *chorus.chords[1:]),
                     harmonies=(harmony, *chorus.harmonies[1:]))
    task = one_task(chorus, 1, level, hand)
    found = offered(task, "comp", 3)
    if isinstance(found, str):
        assert held.midi < 64, "only a low melody note may leave no room"
        return
    assert len(found) >= 2
    check_offer(task, found)


def test_same_input_same_fills() -> None:
    for name in ("two and five", "ballad"):
        first = offered(gap(name, "advanced"), "comp", 6)
        again = offered(gap(name, "advanced"), "comp", 6)
        assert [getattr(f, "id", f) for f in again] == [getattr(f, "id", f) for f in first]
        assert again == first and len(first) == 6


def test_the_same_idea_in_every_key() -> None:
    """Degrees and rhythm are the key's only by chance of register: most ids stay."""
    chorus = chorus_of("4/4", "C", 140, [("G4", 4), ("F4", 2)], [("Cmaj7", 4), ("Dm7", 2)])
    other = chorus_of("4/4", "D", 140, [("A4", 4), ("G4", 2)], [("Dmaj7", 4), ("Em7", 2)])
    ids = [{f.id for f in fills_of(one_task(c, 1, "intermediate"))} for c in (chorus, other)]
    assert len(ids[0] & ids[1]) >= 3


def test_devices_switched_off_are_not_used() -> None:
    task = gap("major", "intermediate")
    devices = [f.device for f in fills_of(task, 3)]
    without = replace(task, without=frozenset(devices))
    assert not set(devices) & {f.device for f in fills_of(without, 6)}
    family = next(t.name for t in TEXTURES if devices[0].startswith(f"{t.name}, "))
    plain = replace(task, without=frozenset({family}))
    assert not any(f.device.startswith(f"{family}, ") for f in fills_of(plain, 6))


def test_beginners_play_shells_and_still_swing() -> None:
    fills = fills_of(gap("major", "beginner"), 8)
    assert "shells" in {f.device.split(",")[0] for f in fills}
    for fill in fills:
        for hand in ("left", "right"):
            assert all(len(keys) <= 3 for keys in struck(fill, hand).values())
        assert not fill.device.startswith("rootless")
    off = [f for f in fills if any((n.onset_quarter - 0).denominator == 2 for n in f.notes)]
    assert len(off) >= len(fills) // 2


@pytest.mark.parametrize("level", ("intermediate", "advanced"))
@pytest.mark.parametrize("name", sorted(GAPS))
def test_hands_do_not_strike_everything_together(name: str, level: str) -> None:
    """But where the device is just that: in locked hands both move as one block."""
    for fill in fills_of(gap(name, level)):
        if fill.device.startswith("locked hands"):
            continue
        left, right = set(struck(fill, "left")), set(struck(fill, "right"))
        onsets = left | right
        if len(onsets) > 3:
            assert len(left & right) < len(onsets) - 1, fill.device


def test_a_push_takes_the_coming_chord_and_is_not_struck_again() -> None:
    seen = 0
    for level in ("intermediate", "advanced"):
        task = gap("major", level)
        landing = task.landing_harmony
        assert landing is not None
        for fill in fills_of(task, 10):
            if fill.over_quarter == 0:
                continue
            seen += 1
            last = max(n.onset_quarter for n in fill.notes)
            assert last == task.end_quarter - Fraction(1, 2)
            for note in fill.notes:
                if note.onset_quarter == last:
                    assert landing.degree_of(note.midi % 12) is not None
            assert any("early: a push" in text and landing.symbol.pretty in text
                       for text in fill.reasons)
    assert seen >= 2


def test_no_push_where_the_sounding_melody_does_not_fit() -> None:
    # B natural over the coming Fm7 would rub; kept by the finger to the end
    chorus = chorus_of("4/4", "C", 140, [("B4", 4), ("C5", 2)], [("Cmaj7", 4), ("Fm7", 2)])
    for fill in fills_of(one_task(chorus, 1, "intermediate"), 8):
        if fill.held_end.kept == "finger":
            assert fill.over_quarter == 0


def test_the_sixth_stands_for_a_major_seventh_under_the_root() -> None:
    chorus = chorus_of("4/4", "C", 140, [("C5", 4), ("D5", 2)], [("Cmaj7", 4), ("Dm7", 2)])
    for level in LEVELS:
        for fill in fills_of(one_task(chorus, 1, level)):
            while_held = [n.midi % 12 for n in fill.notes
                          if n.onset_quarter < fill.held_end.until_quarter]
            assert 11 not in while_held


def test_ballads_sustain_and_have_no_pairs_of_off_beats() -> None:
    for level in LEVELS:
        task = gap("ballad", level)
        assert style_of(task) == "ballad"
        for fill in fills_of(task):
            onsets = sorted({n.onset_quarter for n in fill.notes})
            assert not any(b - a == 1 and a.denominator == 2
                           for a, b in pairwise(onsets)), fill.device
            last = max(n.end_quarter for n in fill.notes)
            assert last == task.end_quarter
        assert any(n.rolled for f in fills_of(gap("ballad", "advanced"), 12)
                   for n in f.notes) or level != "advanced"


def test_slash_chords_keep_their_bass_lowest() -> None:
    for level in LEVELS:
        for fill in fills_of(gap("slash", level)):
            lowest = min(fill.notes, key=lambda n: n.midi)
            pushes = fill.over_quarter > 0
            first = min(n.onset_quarter for n in fill.notes)
            bottom = min((n for n in fill.notes if n.onset_quarter == first),
                         key=lambda n: n.midi)
            assert bottom.pitch.note_name == NoteName("E")
            assert pushes or lowest.pitch.note_name == NoteName("E")


def test_rootless_voicings_stand_over_a_root_below_advanced() -> None:
    for name in ("major", "two and five", "minor", "ballad", "waltz"):
        task = gap(name, "intermediate")
        for fill in fills_of(task, 8):
            roots = {n.midi % 12 for n in fill.notes if n.hand == "left"}
            for span in task.spans:
                assert span.harmony.root.pitch_class in roots, fill.device
            landing = task.landing_harmony
            if fill.over_quarter > 0 and landing is not None:
                last = max(n.onset_quarter for n in fill.notes)
                pushed = {n.midi % 12 for n in fill.notes if n.onset_quarter == last}
                assert landing.root.pitch_class in pushed, fill.device


def test_register_moves_go_where_they_say() -> None:
    seen: set[str] = set()
    for name in GAPS:
        for level in ("intermediate", "advanced"):
            for fill in fills_of(gap(name, level), 16):
                word = fill.device.split(",")[0]
                if word not in ("low to high", "high to low"):
                    continue
                seen.add(word)
                tops = [max(keys) for _, keys in sorted(struck(fill, "right").items())]
                ordered = sorted(tops, reverse=word == "high to low")
                assert tops == ordered and abs(tops[-1] - tops[0]) >= 3
    assert seen == {"low to high", "high to low"}


def test_inner_motion_moves_one_voice_by_step() -> None:
    seen = 0
    for name in ("major", "ballad", "long"):
        for fill in fills_of(gap(name, "advanced"), 24):
            if "inner line" not in fill.device and "inner motion" not in fill.device:
                continue
            onsets = sorted({n.onset_quarter for n in fill.notes if n.hand == "right"})
            single = [o for o in onsets[1:] if len(struck(fill, "right")[o]) == 1]
            assert single
            seen += 1
            for onset in single:
                new = struck(fill, "right")[onset][0]
                ended = [n.midi for n in fill.notes if n.hand == "right"
                         and n.end_quarter == onset]
                assert any(0 < abs(new - old) <= 2 for old in ended)
    assert seen


def test_voice_leading_of_a_rootless_two_five_one() -> None:
    """At most six semitones in all from chord to chord of four-voice rootless comping
    (counted on the worked forms of Dm9, G13 and Cmaj9)."""
    chorus = chorus_of("4/4", "C", 130, [("D5", 12), ("E5", 4)],
                       [("Dm7", 4), ("G7", 4), ("Cmaj7", 8)])
    seen = 0
    for level in ("intermediate", "advanced"):
        task = one_task(chorus, 1, level)
        for fill in fills_of(task, 20):
            for hand in ("left", "right"):
                chords = [tuple(sorted(keys)) for _, keys in sorted(struck(fill, hand).items())
                          if len(keys) == 4]
                if "rootless" not in fill.device or len(chords) < 3:
                    continue
                seen += 1
                for one, two in pairwise(chords):
                    assert voice_leading(one, two) <= 6, (fill.device, chords)
    assert seen


def test_counts_are_those_of_the_hits() -> None:
    for name in ("major", "waltz", "compound", "five"):
        task = gap(name, "intermediate")
        for fill in fills_of(task, 4):
            hits = {n.onset_quarter for n in fill.notes}
            said = [word for word in fill.counts.split() if "(" not in word]
            assert len(said) == len(hits)


def test_textures_are_well_formed() -> None:
    names = [t.name for t in TEXTURES]
    assert len(set(names)) == len(names)
    for style in RHYTHM_STYLES:
        for level in LEVELS:
            player = player_of(level, "medium")
            assert len(textures_of(player, style, True)) >= 6
            assert len(textures_of(player, style, False)) >= 3


def test_why_there_is_nothing() -> None:
    chorus = chorus_of("4/4", "C", 140, [("G4", 4), ("F4", 2)], [("N.C.", 4), ("Dm7", 2)])
    assert offered(one_task(chorus, 1), "comp", 3) == "no chord sounds in this gap"


def named(fill: Fill, hands: tuple[str, ...]) -> set[str]:
    """The notes of every stroke, as the reasons spell them."""
    rows = set()
    if fill.device.startswith("broken"):  # one chord, its keys one after another
        lowest = sorted((n for n in fill.notes if n.hand == "left"),
                        key=lambda n: n.onset_quarter)[:3]
        rows.add(" ".join(n.pitch.note_name.pretty for n in lowest))
    if "that rises through both hands" in fill.device:  # so is this one, from hand to hand
        for hand in hands:
            rows.add(" ".join(n.pitch.note_name.pretty for n in sorted(
                (n for n in fill.notes if n.hand == hand), key=lambda n: n.onset_quarter)))
    for onset in {n.onset_quarter for n in fill.notes}:
        notes = sorted((n for n in fill.notes if n.onset_quarter == onset and n.hand in hands),
                       key=lambda n: n.midi)
        if notes:
            rows.add(" ".join(n.pitch.note_name.pretty for n in notes))
    return rows


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", sorted(GAPS))
def test_reasons_are_true_of_the_notes(name: str, level: str) -> None:
    task = gap(name, level)
    for fill in fills_of(task, 8):
        first = fill.reasons[0]
        row = first.split("play")[1].removeprefix("s").split(" (")[0].strip()
        if first.startswith("Both hands"):
            assert row in named(fill, ("left", "right"))
        else:
            assert row in named(fill, ("left",) if "left hand plays" in first else ("right",))
        degrees = first.split("(")[1].split(" of ")[0].split()
        assert len(degrees) == len(row.split())
        text = " ".join(fill.reasons)
        if "has struck" in text:
            root = text.split("has struck ")[1].rstrip(".").split(".")[0].split(";")[0]
            assert any(root in names.split() for names in named(fill, ("left",)))
        if "keeps" in text and "down" in text:
            assert fill.held_end.kept == "finger"
        if "when the right hand leaves it" in text:
            assert fill.held_end.kept == "released"
        if "The pedal keeps" in text:
            assert fill.held_end.kept == "pedal"
        if "fall between the beats" in text or "falls between the beats" in text:
            places = [task.beat_at(n.onset_quarter) for n in fill.notes
                      if n.onset_quarter > task.onset_quarter]
            assert any(place.denominator > 1 for place in places)


@pytest.mark.parametrize("level", LEVELS)
def test_a_broken_chord_is_over_when_the_next_one_comes(level: str) -> None:
    chorus = chorus_of("4/4", "G", 66, [("D5", 4), ("B4", 2)],
                       [("Am7", 1), ("D7", 1), ("Gmaj7", 2), ("C6", 2)])
    for fill in fills_of(one_task(chorus, 1, level), 30):
        assert all(note.duration_quarter > 0 for note in fill.notes)
