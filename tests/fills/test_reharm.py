"""Fills with passing chords: what is offered where, and that nothing is offered that a
teacher would strike out. Check values without another source are common practice."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, every_task, one_task, options_of

from fillwright import ChordSymbol, Fill, Key, Pitch
from fillwright.fills import Draft, DraftChord, DraftNote, HeldEnd, Refusal, Task, fills_of
from fillwright.fills.devices.reharm.broken import broken_fits
from fillwright.fills.devices.reharm.function import sounds_as
from fillwright.fills.devices.reharm.plan import plans
from fillwright.fills.devices.reharm.time import slots
from fillwright.fills.finish import finish, speak_quarter
from fillwright.fills.model import Idea
from fillwright.rules import RUB
from fillwright.theory import harmony_of

pytestmark = pytest.mark.slow

LEVELS = ("beginner", "intermediate", "advanced")
KEYS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]


def offered(task: Task, count: int = 10) -> tuple[Fill, ...]:
    found = options_of(task, "reharm", count)
    assert not isinstance(found, str), found
    return found


def added(fill: Fill) -> str:
    return " ".join(str(c.symbol) for c in fill.chords if c.added)


def held_over(note: str, here: str, goal: str, beats: int = 4, *, level: str = "intermediate",
              tempo: int = 120, key: str = "C", landing: str = "A4") -> Task:
    chorus = chorus_of("4/4", key, tempo, [(note, beats), (landing, 4)],
                       [(here, beats), (goal, 4)])
    return one_task(chorus, 1, level=level)


def test_a_way_that_stands_twice_in_a_gap_is_two() -> None:
    """What is remembered is one object, and a chord knows its way by being the same."""
    row = [("Cm6", 2), ("Am7b5", 2), ("Dm7b5", 2), ("G7(b9)", 2)]
    task = one_task(chorus_of("4/4", "Cm", 120, [("C5", 16), ("G4", 4)],
                              [*row, *row, ("Cm6", 4)]), 1, level="beginner")
    twice = 0
    for plan in plans(task, 200):
        ways = [(o.move.name, o.chords) for o in plan.options]
        twice += len(set(ways)) < len(ways)
        assert len({id(option) for option in plan.options}) == len(plan.options)
        for option in plan.options:
            own = [e.onset_quarter for e in plan.events if e.option is option]
            assert own and max(own) - min(own) < 2
    assert twice
    offered(task)


# --- check values ------------------------------------------------------------------------------

def test_c_major_held_four_beats_walks_up_and_back() -> None:
    """C D-7 E-7 and back, with the chromatic chord, and thirds under a C on top."""
    all_plans = plans(held_over("E5", "Cmaj7", "Cmaj7", level="advanced"), 400)
    found = {" ".join(str(c.symbol) for o in p.options for c in o.chords) for p in all_plans}
    assert "Dm7 Em7 Dm7" in found
    to_four = plans(held_over("C5", "Cmaj7", "Fmaj7", level="advanced"), 400)
    found = {" ".join(str(c.symbol) for o in p.options for c in o.chords) for p in to_four}
    assert {"Dm7 Ebm7 Em7", "Dm7 Ebm6 Em7", "Dm7 D#dim7 Em7", "Dm7 Ebdim7 C6/E",
            "Dm7 Em7"} <= found


@pytest.mark.parametrize("by", range(12))
def test_thirds_under_the_tonic_in_twelve_keys(by: int) -> None:
    tonic = Key.parse(KEYS[by]).tonic
    four = Key.parse(KEYS[by]).scale[3]
    task = held_over(f"{tonic}5", f"{tonic}maj7", f"{four}maj7", key=KEYS[by],
                     landing=f"{four}5")
    fill = next(f for f in offered(task) if f.device == "thirds walking under a common top note")
    roots = [c.symbol.root.pitch_class - tonic.pitch_class for c in fill.chords
             if c.symbol.root is not None]
    assert [r % 12 for r in roots] == [0, 2, 3, 0]
    assert fill.held_end.kept == "finger" and fill.held_end.until_quarter == 4
    lows = [min(n.midi for n in fill.notes if n.onset_quarter == onset)
            for onset in sorted({n.onset_quarter for n in fill.notes if n.hand == "left"})]
    assert [b - a for a, b in pairwise(lows)] == [2, 1, 1]
    left = {onset: sorted(n.midi for n in fill.notes if n.hand == "left"
                          and n.onset_quarter == onset) for onset in (0, 1, 2, 3)}
    for keys in left.values():
        assert (keys[-1] - keys[0]) % 12 in (3, 4)  # thirds or tenths


@pytest.mark.parametrize("by", range(12))
def test_g_flat_7_on_the_way_from_c_minor_7_to_f7(by: int) -> None:
    """In B flat: C-7, G flat 7, F7; explained as the tritone substitute of C7."""
    key = Key.parse(KEYS[(10 + by) % 12])
    two, five = key.scale[1], key.scale[4]
    held = key.scale[3]  # the seventh of the V, which G flat 7 takes as well
    chorus = chorus_of("4/4", str(key.tonic), 120, [(f"{held}5", 4), (f"{key.tonic}5", 4)],
                       [(f"{two}m7", 2), (f"{five}7", 2), (f"{key.tonic}maj7", 4)])
    task = one_task(chorus, 1, level="intermediate", without=frozenset({"sus delay"}))
    plan = next(p for p in plans(task, 60) if p.device == "tritone substitute"
                and p.options[0].place.goal.root == five and len(p.options) == 1)
    assert [(e.harmony.root.pitch_class - five.pitch_class) % 12
            for e in plan.events] == [7, 1, 0]
    fills = offered(task, 20)
    said = [f.reasons[0] for f in fills if f.device == "tritone substitute"]
    assert said and f"tritone substitute of {two.pretty}7, the dominant of {five.pretty}7" in (
        said[0])


def test_a_reharm_then_colour_changes() -> None:
    """G flat 7, then F7sus and F7 altered: the last two are labelled as colour."""
    chorus = chorus_of("4/4", "Bb", 100, [("Eb5", 8), ("D5", 4)],
                       [("Cm7", 4), ("F7", 4), ("Bbmaj7", 4)])
    both = [p for p in plans(one_task(chorus, 1, level="advanced"), 3000)
            if [str(c.symbol) for o in p.options for c in o.chords]
            == ["Gb7", "F9sus4", "F7alt"]]
    assert both
    assert both[0].device == "tritone substitute, then colour change: sus, then altered"


def test_one_bar_is_too_short_for_a_broken_walk_up_and_two_are_enough() -> None:
    def walk(beats: int) -> list[bool]:
        task = held_over("E5", "Cmaj7", "Cmaj7", beats)
        return [broken_fits(task, p.events) for p in plans(task, 400)
                if p.device == "diatonic walk-up and back"
                and len(p.options[0].chords) == 3]

    assert walk(4) and not any(walk(4))
    assert any(walk(8))


# --- the held note -------------------------------------------------------------------------------

def test_e_minor_under_a_sounding_c_is_refused_and_after_it_offered() -> None:
    task = held_over("C5", "Cmaj7", "Fmaj7", level="advanced")
    with_e = [p for p in plans(task, 400) if "Em7" in [
        str(c.symbol) for o in p.options for c in o.chords]]
    assert with_e
    for plan in with_e:
        onset = next(e.onset_quarter for e in plan.events if str(e.harmony.symbol) == "Em7")
        assert plan.held is not None and plan.held.kept == "released"
        assert plan.held.until_quarter <= onset


@pytest.mark.parametrize(("kept", "until", "rule"), [
    ("finger", 4, "avoid notes"), ("pedal", 4, "avoid notes"),
    ("released", 4, "avoid notes"), ("released", 2, None), ("finger", 2, None),
    ("pedal", 2, None)])
def test_e_minor_under_c_each_way_of_keeping_it(kept: str, until: int, rule: str | None) -> None:
    """C is the flat thirteenth of E-7: to be avoided (phrygian: only the eleventh is
    available, "Chord Scale Summation", Berklee)."""
    task = held_over("C5", "Cmaj7", "Fmaj7")
    key = Key(0)
    first = harmony_of(ChordSymbol.parse("Cmaj7"), key, ChordSymbol.parse("Em7"))
    second = harmony_of(ChordSymbol.parse("Em7"), key, ChordSymbol.parse("Fmaj7"))
    notes = tuple(DraftNote(Fraction(at), Fraction(2), Pitch.parse(name), "left")
                  for at, name in ((0, "C3"), (0, "E3"), (2, "E3"), (2, "G3")))
    draft = Draft("reharm", "chord standing for the written one", notes,
                  (DraftChord(Fraction(0), Fraction(2), first),
                   DraftChord(Fraction(2), Fraction(4), second, True, "because")),
                  ("because",), (), Idea((), (), "", 0), HeldEnd(kept, Fraction(until)))
    result = finish(task, draft)
    if rule is None:
        assert isinstance(result, Fill), result
    else:
        assert isinstance(result, Refusal) and result.rule == rule


@pytest.mark.parametrize("midi", range(60, 72))
@pytest.mark.parametrize("goal", ["Fmaj7", "Cmaj7", "Dm7", "G7"])
def test_no_held_note_over_a_chord_that_does_not_take_it(midi: int, goal: str) -> None:
    name = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"][midi % 12]
    task = held_over(f"{name}5", "Cmaj7", goal, level="advanced")
    for plan in plans(task, 300):
        assert plan.held is not None
        for event in plan.events:
            if event.added and event.onset_quarter < plan.held.until_quarter:
                assert event.harmony.takes(midi % 12)
        if plan.held.kept == "released":
            assert plan.held.until_quarter >= speak_quarter(task)


def test_a_note_foreign_to_the_written_chord_gets_a_chord_that_takes_it() -> None:
    """F sharp over F before C/G: no F chord can be struck under it; F sharp diminished can."""
    task = held_over("F#5", "F", "C/G")
    first = offered(task, 3)[0]
    assert added(first) == "F#dim7" and first.chords[0].added
    assert any("in place of F, to which F♯ does not belong" in r for r in first.reasons)


# --- rules every fill keeps ---------------------------------------------------------------

def strikes(task: Task, fill: Fill) -> list[str]:
    """What a teacher would strike out, by rule."""
    found = []
    gap = task
    spans = fill.chords
    if spans[0].onset_quarter != gap.onset_quarter or spans[-1].end_quarter != gap.end_quarter:
        found.append("chords do not cover the gap")
    if any(a.end_quarter != b.onset_quarter for a, b in pairwise(spans)):
        found.append("hole between chords")
    if not any(c.added for c in spans):
        found.append("nothing added")
    first = spans[0]
    held = gap.held
    # ideas that say the written chord comes later or as another
    named = (fill.device.startswith(("sus delay", "colour change", "deceptive ending",
                                     "dominant as a minor II V"))
             or "delay" in fill.device)
    # or where the melody note does not belong to the written chord, and saying so
    foreign = held is not None and not task.spans[0].harmony.takes(held.pitch.pitch_class)
    said = any("in place of" in reason for reason in fill.reasons)
    if first.added and not named and not (foreign and said):
        found.append("the written chord is not struck first")
    least = task.player.level.reharm.least_chord_sec - 0.01
    for chord in spans:
        if chord.added and task.seconds(chord.duration_quarter) < least:
            found.append("chord too short")
        if chord.added and task.is_fast and chord.duration_quarter < 2 * task.beat_quarter:
            found.append("more than one added chord in two beats")
    for a, b in pairwise(spans):
        if a.symbol == b.symbol:
            found.append("the same chord twice")
    for note in fill.notes:
        if held is not None and note.onset_quarter < fill.held_end.until_quarter:
            if note.midi >= held.midi:
                found.append("above the sounding melody")
            if RUB.breaks(note.midi, held.midi) and not _flat_nine(
                    spans, note.onset_quarter, note.midi):
                found.append("rub")
        if abs(note.pitch.alter) > 1 and not any(
                note.pitch.note_name == chord.symbol.name_of(degree) for chord in spans
                if chord.symbol.root is not None
                for degree in ("b3", "3", "b5", "5", "#5", "b7", "7", "b9", "9", "#9", "#11",
                               "b13", "13")):
            found.append("double accidental that names no degree")
    for chord in spans:
        if not any(n.hand == "left" and n.onset_quarter < chord.end_quarter
                   and n.end_quarter > chord.onset_quarter for n in fill.notes):
            found.append("no left hand")
    if len(set(fill.reasons)) != len(fill.reasons) or not fill.reasons:
        found.append("reasons")
    if fill.over_quarter != 0 or any(n.end_quarter > gap.end_quarter for n in fill.notes):
        found.append("over the landing")
    return found


def _flat_nine(spans: object, onset: Fraction, midi: int) -> bool:
    from fillwright.tune import ChordSpan

    assert isinstance(spans, tuple)
    chord = next(c for c in spans if isinstance(c, ChordSpan)
                 and c.onset_quarter <= onset < c.end_quarter)
    symbol = chord.symbol
    if symbol.root is None:
        return False
    if symbol.bass is not None and (symbol.bass.pitch_class - symbol.root.pitch_class) % 12 == 11:
        # C(maj7)/B: a chord over its own major seventh has its root a flat nine above the bass,
        # the second chord of the cliché C, C/B, C/B flat, C/A (common practice).
        return symbol.bass.pitch_class == midi % 12
    return symbol.quality in ("dominant", "suspended") and symbol.root.pitch_class == midi % 12


CHORD_TEXTS = ("C", "Cmaj7", "C7", "Cm7", "Cm6", "Dm7", "Dm7b5", "Em7", "Fmaj7", "Fm6", "F7", "G7",
               "G7b9", "Am7", "A7", "Bm7b5", "Bbmaj7", "Bb7", "Ebmaj7", "Ebdim7", "Abmaj7",
               "Db7", "D7#5", "G7sus4", "E7alt", "C/E", "F#m7b5")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(here=st.sampled_from(CHORD_TEXTS), middle=st.sampled_from((None, *CHORD_TEXTS)),
       goal=st.sampled_from(CHORD_TEXTS), midi=st.integers(60, 79),
       beats=st.sampled_from((2, 3, 4, 6, 8)), tempo=st.sampled_from((60, 92, 120, 160, 220)),
       meter=st.sampled_from(("4/4", "3/4", "6/8")), level=st.sampled_from(LEVELS),
       last=st.booleans(), hand=st.sampled_from(("small", "medium", "large")))
@example(here="G7", middle=None, goal="Cm7", midi=67, beats=4, tempo=120, meter="4/4",
         level="advanced", last=False, hand="medium")
def test_nothing_a_teacher_would_strike_out(here: str, middle: str | None, goal: str, midi: int,
                                            beats: int, tempo: int, meter: str, level: str,
                                            last: bool, hand: str) -> None:
    name = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"][midi % 12]
    beat = Fraction(3, 2) if meter == "6/8" else Fraction(1)
    length = beats * beat
    chords: list[tuple[str, Fraction]] = [(here, length)]
    if middle is not None and middle != here and beats >= 4:
        chords = [(here, length / 2), (middle, length / 2)]
    melody: list[tuple[str | None, Fraction]] = [(f"{name}{midi // 12 - 1}", length)]
    if not last:
        chords.append((goal, 4 * beat))
        melody.append(("A4", 4 * beat))
    chorus = chorus_of(meter, "C", tempo, melody, chords)
    task = one_task(chorus, 1, level=level, hand=hand)
    if task.duration_sec < 0.9:
        return
    found = fills_of(task, "reharm", 3)
    if isinstance(found, str):
        assert found
        return
    for fill in found:
        assert strikes(task, fill) == []
    for one, other in ((a, b) for i, a in enumerate(found) for b in found[i + 1:]):
        assert one.idea.differences(other.idea) >= 2


def test_the_same_again() -> None:
    task = held_over("E5", "Cmaj7", "Am7")
    first, again = (fills_of(task, "reharm", 10) for _ in range(2))
    assert first == again and len(first) == 10


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("beats", [2, 3, 4, 8])
@pytest.mark.parametrize("goal", ["Cmaj7", "Fmaj7", "Dm7", "G7", "Am7", "Ebmaj7"])
def test_enough_options(level: str, beats: int, goal: str) -> None:
    fills = offered(held_over("E5", "Cmaj7", goal, beats, level=level, tempo=100), 3)
    assert len(fills) >= (3 if beats >= 4 else 1)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("kind", [
    "", "m", "7", "maj7", "m7", "m7b5", "dim7", "dim", "m(maj7)", "6", "m6", "9", "13", "7b9",
    "7#5", "+", "sus4", "sus2", "7sus4", "maj7#11", "m9", "m11", "7alt", "6/9", "5", "add9"])
def test_every_kind_of_chord_has_options(kind: str, level: str) -> None:
    for beats, least in ((2, 1), (4, 3)):
        fills = offered(held_over("G4", "C" + kind, "Fmaj7", beats, level=level, tempo=90), 3)
        assert len(fills) >= (1 if kind == "m7b5" or level == "beginner" else least), [
            f.device for f in fills]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("meter", ["3/4", "6/8", "12/8", "5/4", "2/2", "2/4", "9/8"])
def test_every_meter(meter: str, level: str) -> None:
    beats, kind = (int(n) for n in meter.split("/"))
    beat = Fraction(3, 2) if kind == 8 else Fraction(1)
    chorus = chorus_of(meter, "C", 90, [("E5", 4 * beat), ("A4", 4 * beat)],
                       [("Cmaj7", 4 * beat), ("Dm7", 4 * beat)])
    fills = offered(one_task(chorus, 1, level=level), 3)
    assert len(fills) == 3 and beats


@pytest.mark.parametrize("level", LEVELS)
def test_an_ending_comes_home_inside_the_gap(level: str) -> None:
    for beats in (2, 4, 8):
        chorus = chorus_of("4/4", "C", 100, [("D5", 4), ("C5", beats)],
                           [("G7", 4), ("Cmaj7", beats)])
        for fill in offered(every_task(chorus, level)[-1], 3):
            home = fill.chords[-1]
            assert str(home.symbol) in ("Cmaj7", "C6")
            assert fill.device.startswith("colour change") or str(home.symbol) == "Cmaj7"
            assert not home.added or (home.reason or "").endswith("comes back.")


@pytest.mark.parametrize("level", LEVELS)
def test_an_opening_gap_has_passing_chords(level: str) -> None:
    chorus = chorus_of("4/4", "C", 110, [(None, 4), ("A4", 4)], [("Cmaj7", 4), ("Fmaj7", 4)])
    fills = offered(one_task(chorus, 1, level=level), 3)
    assert len(fills) == 3


def test_written_chords_inside_are_kept() -> None:
    chorus = chorus_of("4/4", "C", 100, [("D5", 6), ("E5", 2)],
                       [("Dm7", 2), ("G7", 2), ("Em7", 2), ("A7", 2)])
    for fill in offered(one_task(chorus, 1, level="advanced"), 10):
        written = [str(c.symbol) for c in fill.chords if not c.added]
        if not fill.device.split(", then ")[-1].startswith(("colour", "sus delay")):
            assert [w for w in written if w in ("Dm7", "G7", "Em7")] == ["Dm7", "G7", "Em7"]


def test_a_device_switched_off_is_not_used() -> None:
    chorus = chorus_of("4/4", "C", 120, [("G4", 4), ("A4", 4)], [("Cmaj7", 4), ("Fmaj7", 4)])
    used = {f.device for f in offered(one_task(chorus, 1))}
    assert "major chord turning dominant" in used
    without = one_task(chorus, 1, without=frozenset({"major chord turning dominant"}))
    assert "major chord turning dominant" not in {f.device for f in offered(without)}


# --- rhythm -------------------------------------------------------------------------------

def test_rhythms_are_even_late_early_and_pushed() -> None:
    task = held_over("E5", "Cmaj7", "Fmaj7", 4)
    found = {s.rhythm: tuple(float(o) for o in s.onsets)
             for s in slots(1, Fraction(0), Fraction(4), task)}
    assert found == {"even": (2.0,), "late": (3.0,), "early": (1.0,), "pushed": (1.5,)}
    two = slots(2, Fraction(0), Fraction(8), held_over("E5", "Cmaj7", "Fmaj7", 8))
    assert two[0].onsets == (Fraction(4), Fraction(6))


def test_above_200_a_chord_lasts_two_beats() -> None:
    task = held_over("E5", "Cmaj7", "Fmaj7", 8, tempo=240)
    for number in (1, 2, 3, 4):
        for chosen in slots(number, Fraction(0), Fraction(8), task):
            edges = (Fraction(0), *chosen.onsets, Fraction(8))
            assert all(b - a >= 2 for a, b in pairwise(edges))
    assert not slots(4, Fraction(0), Fraction(8), task)


def test_rhythms_of_the_chords_vary_on_a_page() -> None:
    fills = offered(held_over("E5", "Cmaj7", "Am7"), 10)
    onsets = {tuple(c.onset_quarter for c in f.chords if c.added) for f in fills
              }
    assert len(onsets) > 2


def test_the_last_dominant_resolves() -> None:
    for here, goal in (("Cmaj7", "Fmaj7"), ("Dm7", "G7"), ("Am7", "Dm7"), ("C", "Em7")):
        task = held_over("E5", here, goal, level="advanced")
        target = task.landing_harmony
        assert target is not None
        for plan in plans(task, 300):
            last = plan.events[-1].harmony
            if plan.events[-1].added and sounds_as(last) == "7" and "b7" in last.tones:
                step = (target.root.pitch_class - last.root.pitch_class) % 12
                assert step in (5, 11, 2, 9, 0, 1, 7, 6), (str(last.symbol), goal)
                if plan.options[-1].move.name == "tritone substitute":
                    assert step == 11
                if plan.options[-1].move.name == "secondary dominant":
                    assert step == 5
