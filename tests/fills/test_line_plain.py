"""Lines over plain tunes, short gaps, and landings that are not given away."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from tests.fills.builders import chorus_of, contexts_of
from tests.fills.line_rules import line_of

from fillwright.fills.devices.line.costs import COSTS, PASSING, TENSION, TONE, Problem, Slot, price
from fillwright.fills.devices.line.family import propose_line
from fillwright.fills.devices.line.pools import kinds
from fillwright.fills.devices.line.search import search_line
from fillwright.fills.devices.line.shift import LATE
from fillwright.fills.devices.line.spelling import spell_line
from fillwright.fills.model import Fill
from fillwright.fills.situation import Task
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import analyse
from fillwright.theory.key import Key

pytestmark = pytest.mark.slow

LEVELS = ("beginner", "intermediate", "advanced")
FOLK: list[tuple[str | None, int]] = [("C5", 4), ("A4", 4), ("D5", 4), ("G4", 2), ("E4", 2),
                                      ("A4", 4), ("Bb4", 4), ("E4", 4), ("F4", 4)]
TRIADS = [("F", 4), ("Dm", 4), ("Bb", 4), ("C7", 4), ("F", 4), ("Gm", 4), ("C7", 4), ("F", 4)]


def folk(level: str, chords: Sequence[tuple[str, int]] = TRIADS, key: str = "F"
         ) -> list[Task]:
    return contexts_of(chorus_of("4/4", key, 120, FOLK, chords), level=level)


def offered(context: Task, count: int = 3) -> tuple[Fill, ...]:
    found = propose_line(context, count)
    assert not isinstance(found, str), found
    return found


def with_chord(place: int, name: str) -> list[tuple[str, int]]:
    return [(name, 4) if i == place else chord for i, chord in enumerate(TRIADS)]


@pytest.mark.parametrize(("chords", "plain"), [
    (TRIADS, True),
    (with_chord(1, "D7"), True),         # one chord from outside the key is no other style
    (with_chord(3, "C9"), True),         # nor is one colour
    ([("F", 4), ("D7", 4), ("Gm7", 4), ("C7", 4), ("F", 4), ("Gm", 4), ("C7", 4), ("F6", 4)],
     False),                             # half of them
    ([("Fmaj7", 8), ("Gm7", 8), ("C7", 8), ("Dm7", 8)], False)])  # a jazz sheet
def test_which_tunes_are_plain(chords: list[tuple[str, int]], plain: bool) -> None:
    """Triads and sixths in the majority (common practice)."""
    assert folk("advanced", chords)[0].plain == plain


def test_a_minor_tune_keeps_its_leading_note() -> None:
    melody: list[tuple[str | None, int]] = [("A4", 4), ("D5", 4), ("G#4", 4), ("A4", 4)]
    chorus = chorus_of("4/4", "Am", 120, melody, [("Am", 4), ("Dm", 4), ("E7", 4), ("Am", 4)])
    first = contexts_of(chorus)[0]
    assert first.plain and not first.blues


@pytest.mark.parametrize("level", LEVELS)
def test_lines_over_a_plain_tune_stay_in_its_key(level: str) -> None:
    """But for notes that lead on by a half step; no altered dominant, no foreign triad."""
    scale = {name.pitch_class for name in Key.parse("F").scale}
    for context in folk(level):
        landing = context.landing
        for fill in offered(context, 12):
            line = [n.midi for n in line_of(fill)]
            after = [*line[1:], line[-1] if landing is None else landing.midi]
            assert fill.device not in ("altered colours", "upper-structure arpeggio")
            for midi, following in zip(line, after, strict=True):
                assert midi % 12 in scale or abs(following - midi) == 1, (fill.device, line)


def test_the_same_gaps_take_colours_in_a_jazz_sheet() -> None:
    """The rule above would not be heard if lines never left the key anyway."""
    scale = {name.pitch_class for name in Key.parse("F").scale}
    chords = [("Fmaj7", 4), ("D7", 4), ("Gm7", 4), ("C7", 4), ("Am7", 4), ("Gm7", 4),
              ("C7", 4), ("F6", 4)]
    found = [fill for context in folk("advanced", chords) for fill in offered(context, 12)]
    assert any(f.device == "altered colours" for f in found)
    assert any(n.midi % 12 not in scale for f in found for n in line_of(f))


@pytest.mark.parametrize("landing", ["A4", "G4", "Bb4", "C5", "D5", "E5"])
@pytest.mark.parametrize(("held", "chord"), [("A4", "F"), ("D5", "Gm7"), ("C5", "C7")])
def test_a_beginner_has_three_answers_in_two_beats(held: str, chord: str, landing: str) -> None:
    """One beat after the note has spoken; single notes of the chord among them at need."""
    chorus = chorus_of("4/4", "F", 126, [(held, 2), (landing, 1), (held, 1)], [(chord, 4)])
    found = offered(contexts_of(chorus, level="beginner")[0])
    assert len(found) == 3
    for fill in found:
        line = line_of(fill)
        if len(line) == 1:
            assert line[0].pitch.pitch_class in parse_chord(chord).pitch_classes


def problem(**more: object) -> Problem:
    kinds = (TONE,) * 12
    slots = tuple(Slot(Fraction(i, 2), 0, False, i == 2, kinds, 0) for i in range(3))
    given: dict[str, object] = {"air": False, "first": None, "landing": 67} | more
    return Problem(slots, ((69, 71), (67, 71), (69,)), (None, None), (69, 69, 69),
                   **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(("more", "charged"), [
    ({}, True), ({"air": True}, False), ({"landing": 68}, False), ({"landing": None}, False),
    ({"same_landing_ok": True}, False)])
def test_the_landing_is_not_foretold(more: dict[str, object], charged: bool) -> None:
    """Its key, one note before the last, takes the arrival away (common practice)."""
    costs = price(problem(**more), (71, 67, 69))
    assert costs.get("foretold", 0) == (COSTS["landing foretold"] if charged else 0)


def test_the_search_knows_it_too() -> None:
    for question in (problem(), problem(air=True)):
        for midis, path in search_line(question, 4):
            assert path.total == sum(price(question, midis).values())


def test_a_late_landing_does_not_strike_its_key_while_it_is_waited_for() -> None:
    seen = 0
    melody: list[tuple[str | None, float]] = [
        ("E5", 4), ("D5", 0.5), ("C5", 0.5), ("B4", 0.5), ("A4", 0.5), ("G4", 2)]
    for chord in ("Dm7", "G7", "Am7", "Cmaj7"):
        chorus = chorus_of("4/4", "C", 120, melody, [("Am7", 4), (chord, 4)])
        context = contexts_of(chorus, level="advanced")[0]
        for fill in offered(context, 40):
            if fill.device == LATE:
                seen += 1
                over = [n.midi for n in line_of(fill) if n.onset_quarter >= context.end_quarter]
                assert over and context.landing_midi not in over
    assert seen


@pytest.mark.parametrize("level", LEVELS)
def test_a_repeated_note_is_struck_three_times(level: str) -> None:
    seen = 0
    for context in folk(level):
        for fill in offered(context, 40):
            if fill.device == "repeated-note rhythm":
                seen += 1
                line = [n.midi for n in line_of(fill)]
                assert line[0] == line[1] == line[2] and line[0] != context.landing_midi
                assert len(line) < 7 or len(set(line[:-1])) > 1
    assert seen


@pytest.mark.parametrize(("level", "chord", "kind"), [
    ("intermediate", "F7", PASSING), ("advanced", "F7", TENSION),
    ("intermediate", "F7#11", TENSION), ("intermediate", "Fmaj7", TENSION)])
def test_a_sharp_eleventh_over_a_dominant_passes_at_first(level: str, chord: str, kind: int
                                                          ) -> None:
    """Lydian flat seven over the F7 of G: its B is for advanced hands, unless it is written;
    the lydian eleventh of a fourth degree is the key's own."""
    home = Key.parse("G" if chord.startswith("F7") else "C")
    heard = analyse([parse_chord(chord), parse_chord("G" if home.fifths else "C")], home)[0]
    assert heard is not None and "#11" in heard.tensions + heard.tones
    assert kinds(heard, level)[11] == kind


def test_a_run_names_the_scale_of_every_chord() -> None:
    chorus = chorus_of("4/4", "C", 120, [("E5", 4), ("C5", 4)], [("Dm7", 2), ("G7", 2), ("C6", 4)])
    context = contexts_of(chorus, level="intermediate")[0]
    runs = [f for f in offered(context, 40) if f.device == "scale run"]
    assert runs
    for fill in runs:
        onsets = [n.onset_quarter for n in line_of(fill)]
        assert ("Dm7" in fill.reasons[0]) == (onsets[0] < 2)
        assert ("G7" in fill.reasons[0]) == (onsets[-1] >= 2)


@pytest.mark.parametrize("device", ["blues colour", "pentatonic"])
def test_a_colour_is_what_it_is_called(device: str) -> None:
    """All notes but the last belong to the scale that is named, and the last is set apart
    where it does not; a blues line has a blue note."""
    melody: list[tuple[str | None, int]] = [("C5", 4), ("D5", 4), ("A4", 4), ("Ab4", 4),
                                            ("F4", 4), ("G4", 4)]
    chords = [("F7", 4), ("Bb7", 4), ("F7", 4), ("Bb7", 4), ("F7", 4), ("C7", 4)]
    chorus = chorus_of("4/4", "F", 120, melody, chords)
    out = 0
    lines = [(context, fill) for context in contexts_of(chorus, level="intermediate")
             for fill in offered(context, 40) if fill.device == device]
    for context, fill in lines:
        scale = ({5, 8, 10, 11, 0, 3} if device == "blues colour" else
                 {(context.spans[0].harmony.root.pitch_class + s) % 12 for s in (0, 2, 4, 7, 9)})
        classes = [n.pitch.pitch_class for n in line_of(fill)]
        assert set(classes[:-1]) <= scale
        left = any("leads out of it" in r or "ends it" in r for r in fill.reasons)
        assert left == (classes[-1] not in scale)
        out += left
        assert device == "pentatonic" or {8, 11} & set(classes)
    assert lines and out < len(lines)


@pytest.mark.parametrize(("midis", "chord", "key", "names"), [
    ((68, 61, 63), "Bb7", "Eb", ["Ab4", "Db4", "Eb4"]),   # a sharp nine only into the third
    ((61, 62), "Bb7", "Bb", ["C#4", "D4"]),
    ((71, 70), "Bb7", "Eb", ["Cb5", "Bb4"]),              # not B natural beside B flat
    ((70, 68), "Bdim7", "F", ["Bb4", "Ab4"]),             # no A sharp that falls
    ((70, 71), "Bdim7", "C", ["A#4", "B4"]),
    ((70, 72, 73), "C#dim7", "G", ["Bb4", "C5", "C#5"]),  # no B sharp beside the key's C
    ((63, 67, 63, 64), "C7", "F", ["Eb4", "G4", "Eb4", "E4"])])  # one key, one name
def test_spelling_of_colours(midis: tuple[int, ...], chord: str, key: str, names: list[str]
                             ) -> None:
    heard = analyse([parse_chord(chord), parse_chord("F")], Key.parse(key))[0]
    assert heard is not None
    slots = [Slot(Fraction(i), 0, False, False, (1,) * 12, 0) for i in range(len(midis))]
    assert [str(p) for p in spell_line(midis, slots, [heard], None)] == names


def test_a_broken_chord_is_no_blues() -> None:
    """Over the diminished seventh on C sharp the blue notes of G are the chord's own."""
    melody: list[tuple[str | None, int]] = [("E5", 4), ("D5", 4), ("B4", 4), ("G4", 4)]
    chords = [("C#dim7", 4), ("G7", 4), ("C7", 4), ("G7", 4)]
    chorus = chorus_of("4/4", "G", 120, melody, chords)
    for context in contexts_of(chorus, level="intermediate"):
        for fill in offered(context, 40):
            if fill.device == "blues colour":
                assert any(not context.span_at(n.onset_quarter).harmony.is_tone(n.midi % 12)
                           for n in line_of(fill)), [str(n.pitch) for n in line_of(fill)]
