"""What sounds from moment to moment, and what a reharmonization makes of it.

Check values are common practice.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, one_task

from fillwright import ChordSymbol, Key, Pitch
from fillwright.exact import Fraction
from fillwright.fills import DraftNote, Task, sounding
from fillwright.fills.devices.reharm import (
    never,
    options,
    place,
    reasons,
    time,
    voice,
    whole,
    words,
)
from fillwright.fills.devices.reharm.hands import STYLES
from fillwright.fills.devices.reharm.plan import ChordPlan, plans
from fillwright.theory import harmony_of

ROWS = st.lists(st.integers(36, 90), min_size=1, max_size=5, unique=True).map(sorted)
SYMBOLS = st.sampled_from(["G7", "Cmaj7", "Dm7b5", "Bdim7", "F6", "G7#5", "A7sus4", "E"])


def gap_of(melody: str, chords: str, *, level: str = "intermediate", tempo: int = 120,
           key: str = "C", meter: str = "4/4", number: int = 1) -> Task:
    rows = [[(name, float(length)) for name, length in (part.split() for part in text.split(", "))]
            for text in (melody, chords)]
    return one_task(chorus_of(meter, key, tempo, *rows), number, level=level)


def between(here: str, goal: str, key: str = "C") -> place.Place:
    home, first, second = Key.parse(key), ChordSymbol.parse(here), ChordSymbol.parse(goal)
    return place.Place(harmony_of(first, home, second), harmony_of(second, home, None))


def note(at: str, length: str, name: str, hand: str) -> DraftNote:
    return DraftNote(Fraction(at), Fraction(length), Pitch.parse(name), hand)


# --- moments --------------------------------------------------------------------------------

def test_a_moment_ends_where_any_key_comes_or_goes_and_the_last_is_the_landing() -> None:
    notes = [note("0", "2", "C3", "left"), note("1", "2", "E4", "right")]
    melody = [sounding.Tone(76, sounding.MELODY, Fraction(0), Fraction(2)),
              sounding.Tone(77, sounding.MELODY, Fraction(4), Fraction(5))]
    row = sounding.moments(notes, melody, [], Fraction(0), Fraction(4))
    assert [(int(m.onset_quarter), m.held_by()) for m in row] == [
        (0, (48, 76)), (1, (48, 64, 76)), (2, (64,)), (3, ()), (4, (77,))]
    assert row[1].held_by("right", sounding.MELODY) == (64, 76)


@given(SYMBOLS, st.lists(ROWS, min_size=1, max_size=4), st.lists(ROWS, min_size=1, max_size=4))
def test_the_table_of_a_search_says_what_one_pair_says(
        name: str, befores: list[list[int]], afters: list[list[int]]) -> None:
    symbol = ChordSymbol.parse(name)
    table = sounding.hanging_table(symbol, befores, afters).tolist()
    assert table == [[len(sounding.hanging(symbol, one, other)) for other in afters]
                     for one in befores]


def test_a_guide_tone_may_change_hands() -> None:
    """The F of G7 lies in the left hand, the E it falls to in the right."""
    assert sounding.hanging(ChordSymbol.parse("G7"), (43, 53, 71), (48, 52, 72)) == frozenset()
    assert sounding.hanging(ChordSymbol.parse("G7"), (43, 53, 71), (48, 67, 72)) == {5}


def test_what_the_tune_alone_has_is_lent() -> None:
    assert sounding.lent(ChordSymbol.parse("Cmaj7"), (48, 59), 76) == {4}
    assert sounding.lent(ChordSymbol.parse("Cmaj7"), (48, 59), 79) == frozenset()


# --- in the search ----------------------------------------------------------------------------

def left_hanging(task: Task, plan: ChordPlan) -> int:
    """Guide tones that no key of either hand or the tune leads on, in the second style."""
    voiced = voice.voice_plan(task, plan, STYLES[task.player.level][1])
    if voiced is None:
        return 0
    held = () if task.held_midi is None else (task.held_midi,)
    return sum(len(sounding.hanging(event.harmony.symbol, (*one.midis, *held),
                                    (*other.midis, *held)))
               for event, (one, other) in zip(plan.events, pairwise(voiced.hands), strict=False))


def test_guide_tones_are_led_on_from_hand_to_hand() -> None:
    """In the twelve best plans of three places no third or seventh is left without its step."""
    for melody, chords in (("A5 4, G5 4", "Dm7 4, G7 4"), ("C5 4, B4 4", "Am7 4, E7 4"),
                           ("A5 4, C5 4", "F6 4, C 4")):
        task = gap_of(melody, chords)
        for plan in plans(task, 12):
            assert not left_hanging(task, plan), [str(e.harmony.symbol) for e in plan.events]


def test_the_left_hand_leaves_the_landing_its_key() -> None:
    task = gap_of("G4 4, E4 4", "C 4, F 4")
    plan = plans(task, 1)[0]
    end = task.end_quarter
    under = DraftNote(end - 1, Fraction(2), Pitch.parse("D4"), "left")
    over = DraftNote(end - 1, Fraction(2), Pitch.parse("E4"), "left")
    assert whole.sounds_whole(task, plan, [under])
    assert not whole.sounds_whole(task, plan, [over])


def test_an_old_chord_does_not_ring_into_one_that_does_not_take_it() -> None:
    task = gap_of("G5 4, A5 4", "Cmaj7 4, Dm7 4")
    plan = next(p for p in plans(task, 40) if str(p.events[-1].harmony.symbol) == "A7")
    start = plan.events[-1].onset_quarter
    stays = DraftNote(Fraction(0), start + 1, Pitch.parse("E4"), "right")
    rubs = DraftNote(Fraction(0), start + 1, Pitch.parse("D#4"), "right")
    assert whole.sounds_whole(task, plan, [stays])
    assert not whole.sounds_whole(task, plan, [rubs])


def test_a_seventh_is_led_on_within_a_beat() -> None:
    """The F of G7 goes to E, in whatever hand, and not up to A alone."""
    task = gap_of("G5 4, G5 4", "C 4, C 4")
    plan = next(p for p in plans(task, 60) if str(p.events[-1].harmony.symbol) == "G7"
                and len(p.events) == 2)
    plan = replace(plan, events=(plan.events[1], replace(plan.events[0], returns=True)))
    first, second = (replace(event, onset_quarter=Fraction(at), end_quarter=Fraction(at + 2))
                     for event, at in zip(plan.events, (0, 2), strict=True))
    plan = replace(plan, events=(first, second))
    shell = [note("0", "2", name, "left") for name in ("G2", "F3")]
    assert whole.leads_on(task, plan, [*shell, note("2", "2", "E3", "left")])
    assert whole.leads_on(task, plan, [*shell, note("2", "2", "C3", "left"),
                                       note("3", "1", "E3", "right")])
    assert not whole.leads_on(task, plan, [*shell, note("2", "2", "C3", "left"),
                                           note("2", "2", "A3", "left")])


# --- what is said of it -----------------------------------------------------------------------

def test_the_melody_note_leads_where_the_tune_goes() -> None:
    """C over D7 goes up to D with the tune: no voice goes down to B."""
    task = gap_of("C5 2, D5 2, B4 4", "C 2, G 6", level="beginner", tempo=60)
    said = []
    for plan in plans(task, 20):
        if [str(e.harmony.symbol) for e in plan.events if e.added] == ["D7"]:
            for style in STYLES[task.player.level]:
                voiced = voice.voice_plan(task, plan, style)
                if voiced is not None and all(m % 12 for m in voiced.hands[-1].midis):
                    said.append(reasons.explained(task, voiced, voiced.plan.options[0]))
    assert said
    assert not [text for text in said if "C down to B" in text or "down to B" in text]


def test_a_seventh_falls_into_the_third_of_a_thirteenth_chord() -> None:
    """E flat does not stay in B flat 13, which is played without its eleventh."""
    two_five = next(o for o in options.options(between("C", "Bb13"))
                    if [str(c.symbol) for c in o.chords] == ["Cm7", "F7"])
    assert "E♭ down to D" in two_five.said()


def test_the_bass_of_an_inversion_goes_back_to_the_root() -> None:
    home = Key.parse("C")
    one, other = ChordSymbol.parse("C6/E"), ChordSymbol.parse("C7")
    said = words.leads(harmony_of(one, home, other), harmony_of(other, home, None), home)
    assert said == "the bass goes back to C for C7"


def test_a_raised_fifth_rises_into_a_major_third_only() -> None:
    """G sharp over C7 is the A flat of F minor: nothing rises."""
    def names(goal: str) -> list[str]:
        return [str(o.chords[0].symbol) for o in options.options(between("C", goal))
                if o.move.name == "augmented dominant"]
    assert "C7#5" in names("F")
    assert "C7#5" not in names("Fm6")


# --- the written chord again ------------------------------------------------------------------

def test_a_chord_whose_root_alone_is_new_leads_on_or_is_the_written_one() -> None:
    def rule(here: str, chord: str, goal: str) -> str | None:
        at = between(here, goal)
        return never.broken(at, [harmony_of(ChordSymbol.parse(chord), at.key, at.goal.symbol)])
    assert rule("Em7", "Cmaj7", "Eb7") == "the written chord again"
    assert rule("Fm", "Dm7b5", "C7") == "the written chord again"
    assert rule("Em7", "Cmaj7", "F") is None
    assert rule("Cmaj7", "Am7", "Dm7") is None
    at = between("Ab", "Fm7b5")
    minor = harmony_of(ChordSymbol.parse("Abm6"), at.key, at.goal.symbol)
    assert never.broken(at, [minor], never.LINE_MAY) == "the coming chord turned over"


def test_a_dominant_may_lead_home_once_more() -> None:
    """V I V I, but not II I II I."""
    def rule(before: str) -> str | None:
        at = between("C", "C")
        came = harmony_of(ChordSymbol.parse(before), at.key, at.here.symbol)
        return never.broken(replace(at, before=came), [came])
    assert rule("G7") is None
    assert rule("Dm7") == "the chord just left"


def test_a_two_sounds_more_than_its_dominant() -> None:
    """G and B flat under C are C7, not G minor: its F or D has to sound."""
    task = gap_of("C5 4, A4 4", "Am7 4, C7 4", level="beginner", key="F")
    c_seven, found = {0, 4, 7, 10}, 0
    for plan in plans(task, 60):
        if not str(plan.events[-1].harmony.symbol).startswith("Gm"):
            continue
        for style in STYLES[task.player.level]:
            voiced = voice.voice_plan(task, plan, style)
            found += voiced is not None
            assert voiced is None or not {m % 12 for m in voiced.hands[-1].midis} <= c_seven
    assert found


# --- metre ------------------------------------------------------------------------------------

def test_a_chord_costs_by_its_place_in_the_bar() -> None:
    task = gap_of("G4 8, A4 4", "C 8, F 4")

    def cost(*beats: float) -> int:
        return time.metre_cost(task, [Fraction(b) for b in beats])
    assert cost(0, 2, 4) == 0
    assert cost(0, 1, 4) == time.METRE_COSTS["long from a weak beat"]
    assert cost(0, 3, 6) == time.METRE_COSTS["over the bar line"]


def test_a_waltz_that_is_felt_in_one_has_no_chord_a_beat() -> None:
    """Unless the chord of the sheet has sounded before the gap opens."""
    def rhythms(melody: str, number: int, until: int) -> set[tuple[Fraction, ...]]:
        waltz = gap_of(melody, "C 6, F 3", meter="3/4", tempo=150)
        return {s.onsets for s in time.slots(number, Fraction(0), Fraction(until), waltz)}

    assert not any(b - a <= 1 for row in rhythms("G4 6, A4 3", 2, 3) for a, b in pairwise(row))
    assert (Fraction(1),) not in rhythms("G4 2, A4 1, G4 6", 1, 2)
    assert (Fraction(1),) in rhythms("E4 1, G4 2, A4 6", 1, 2)


def test_no_chord_is_printed_where_no_hand_comes_in() -> None:
    """The gap opens a sixteenth before the beat: nothing new is printed there."""
    task = gap_of("F#5 1.75, G5 2.25, E5 4", "D 1.75, G7 6.25", key="G")
    for plan in plans(task, 60):
        assert not plan.events[0].added


def test_a_lowered_third_is_not_taken_back() -> None:
    """B, B flat, B is a wrong note put right; over D it goes on to A."""
    for goal, may in (("Em/G", False), ("D", True), ("G", True)):
        at = between("G", goal, "D")
        minor = harmony_of(ChordSymbol.parse("Gm7"), at.key, at.goal.symbol)
        assert (never.broken(at, [minor]) == "a lowered tone taken back") != may, goal
