"""Altered dominants, rare textures, tenths, and thirds where there is little room. Rules
without a source are common practice."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import pytest
from tests.fills.builders import chorus_of, one_task, options_of

from fillwright import ChordSymbol, Fill, Key
from fillwright.fills import RHYTHM_STYLES, Task
from fillwright.fills.devices.comp.colours import with_the_tune
from fillwright.fills.devices.comp.table import TEXTURES
from fillwright.theory import NoteName, analyse

pytestmark = pytest.mark.slow

HOME = ("B4", "F5", "D5", "G4", "E5", "A4")
LAST = Fraction(7, 2)
ALTERED = {8: "b9", 10: "#9", 3: "b13"}  # pitch classes over G7


def comp(task: Task, count: int = 3) -> tuple[Fill, ...]:
    found = options_of(task, "comp", count)
    assert not isinstance(found, str), found
    return found


def over_g7(held: str, level: str, tempo: int = 120, chord: str = "G7", goal: str = "Cmaj7"
            ) -> Task:
    chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("E5", 4)], [(chord, 4), (goal, 4)])
    return one_task(chorus, 1, level)


def altered(fill: Fill) -> set[str]:
    """Alterations struck before the last eighth, where a push may have taken the next chord."""
    return {ALTERED[n.midi % 12] for n in fill.notes
            if n.onset_quarter < LAST and n.midi % 12 in ALTERED}


def test_an_advanced_dominant_on_its_way_home_is_altered_now_and_then() -> None:
    fills = [fill for held in HOME for tempo in (66, 120, 200)
             for fill in comp(over_g7(held, "advanced", tempo))]
    count = sum(bool(altered(fill)) for fill in fills)
    assert len(fills) / 10 < count < len(fills) / 2


@pytest.mark.parametrize(("level", "chord", "goal"), [
    ("intermediate", "G7", "Cmaj7"),  # not at this level
    ("advanced", "G9", "Cmaj7"),      # the sheet wants the plain ninth
    ("advanced", "G13", "Cmaj7"),
    ("advanced", "G7", "Fmaj7"),      # it does not go home
])
def test_no_other_dominant_is_altered(level: str, chord: str, goal: str) -> None:
    for held in ("B4", "F5", "D5"):
        for fill in comp(over_g7(held, level, 120, chord, goal), 6):
            if fill.device.startswith("moving voice 9") or "slid into" in (
                    fill.device) or fill.device.startswith("passing diminished"):
                continue  # a ninth that goes on down, what slides or passes, are not its colour
            assert not altered(fill), (fill.device, altered(fill))


def test_the_melody_forbids_the_colours_it_quarrels_with() -> None:
    def colours(*melody: str) -> set[str]:
        notes: list[tuple[str | None, int]] = [(name, 1) for name in melody[:-1]]
        chorus = chorus_of("4/4", "C", 120, [*notes, (melody[-1], 5 - len(melody)), ("E5", 4)],
                           [("G7", 4), ("Cmaj7", 4)])
        return set(one_task(chorus, 1).spans[0].altered.harmony.tensions)

    assert colours("B4") >= {"b9", "#9", "b13", "9", "13"}
    assert not colours("A4", "B4") & {"b9", "#9"}  # sung before the held note, on the chord
    assert "b13" not in colours("E5") and "b9" in colours("E5")
    assert "b13" not in colours("D5")


def test_an_alteration_is_not_taken_back() -> None:
    """The flat nine goes on to the tonic; a plain nine after it would lead nowhere."""
    seen = 0
    for held in HOME:
        for tempo in (66, 120, 200):
            for fill in comp(over_g7(held, "advanced", tempo)):
                for hand in ("left", "right"):
                    rows = [{n.midi % 12 for n in fill.notes
                             if n.hand == hand and n.onset_quarter == onset}
                            for onset in sorted({n.onset_quarter for n in fill.notes
                                                 if n.hand == hand and n.onset_quarter < LAST})]
                    seen += sum(bool(row & set(ALTERED)) for row in rows)
                    for before, after in pairwise(rows):
                        assert not (8 in before and 9 in after), (fill.device, rows)
    assert seen


def test_rare_textures_take_their_turn() -> None:
    """Over some gaps most of them are once among the best."""
    seen = set()
    for held in ("C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5", "D5", "E5", "F5", "G5"):
        for chord, goal in (("Dm7", "G7"), ("Cmaj7", "Am7"), ("G7", "Cmaj7"), ("A7", "Dm7")):
            for before in (0, 1):
                rest: list[tuple[str | None, int]] = [(None, before)] if before else []
                chorus = chorus_of("4/4", "C", 120, [*rest, (held, 4 - before), ("E5", 4)],
                                   [(chord, 4), (goal, 4)])
                task = one_task(chorus, 1, "advanced")
                if task.spans[0].harmony.takes(task.held_midi or 0):
                    seen |= {fill.device.split(", ")[0] for fill in comp(task)}
    missed = [t.name for t in TEXTURES if t.rare and not t.styles and not any(
        device.startswith(t.name.split(", ")[0].split(" over ")[0]) for device in seen)]
    assert 3 * len(missed) <= sum(t.rare and not t.styles for t in TEXTURES), missed


def test_fourths_are_fourths_from_key_to_key() -> None:
    seen = 0
    for held, chord in product(("G4", "A4", "D5", "E5", "F5"), ("Cmaj7", "Dm7", "Am7")):
        chorus = chorus_of("4/4", "C", 120, [(held, 2), ("E5", 2)], [(chord, 2), ("G7", 2)])
        for fill in comp(one_task(chorus, 1, "advanced"), 30):
            if not fill.device.startswith("fourths"):
                continue
            for onset in {n.onset_quarter for n in fill.notes if n.hand == "right"}:
                keys = sorted(n.midi for n in fill.notes
                              if n.hand == "right" and n.onset_quarter == onset)
                assert {b - a for a, b in pairwise(keys)} <= {5, 6}, keys
                seen += 1
    assert seen >= 4


@pytest.mark.parametrize("style_tempo", (120, 150))
def test_tenths_in_tempo_are_for_large_hands(style_tempo: int) -> None:
    found: dict[str, list[Fill]] = {"medium": [], "large": []}
    for hand, fills in found.items():
        for held, chord in (("E5", "Cmaj7"), ("D5", "Gmaj7"), ("C5", "Fmaj7"), ("E5", "Am7")):
            chorus = chorus_of("4/4", "C", style_tempo, [(held, 4), ("F5", 4)],
                               [(chord, 4), ("Dm7", 4)])
            fills += [f for f in comp(one_task(chorus, 1, "advanced", hand), 20)
                      if f.device.startswith("tenths in the left hand")]
    assert not found["medium"]
    assert found["large"]
    assert not any(note.rolled for fill in found["large"] for note in fill.notes)


@pytest.mark.parametrize("level", ("beginner", "intermediate", "advanced"))
@pytest.mark.parametrize(("held", "chord", "third"), [
    ("D4", "G7", 11), ("E4", "G7", 11), ("E4", "Am7", 0), ("D4", "Am7", 0)])
def test_under_a_low_note_the_third_is_heard(level: str, held: str, chord: str, third: int
                                             ) -> None:
    for tempo in (66, 132):
        chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("E5", 4)],
                           [(chord, 2), ("Cmaj7", 6)])
        for fill in comp(one_task(chorus, 1, level)):
            heard = {n.midi % 12 for n in fill.notes if n.onset_quarter < 2}
            assert third in heard, (fill.device, heard)


def test_styles_of_the_table_exist() -> None:
    assert all(style in RHYTHM_STYLES for texture in TEXTURES for style in texture.styles)


def test_hits_are_counted_bar_by_bar_in_the_reasons() -> None:
    chorus = chorus_of("4/4", "F", 66, [("E5", 6), ("D5", 2)], [("Fmaj7", 4), ("Dm7", 4)])
    texts = [text for fill in comp(one_task(chorus, 1, "advanced"), 6)
             for text in fill.reasons]
    assert any("in the next bar" in text for text in texts), texts
    assert not any("2, 4 and 2" in text for text in texts)


@pytest.mark.parametrize("level", ("intermediate", "advanced"))
@pytest.mark.parametrize(("chord", "root"), [("C/E", 0), ("Am/C", 9), ("F/A", 5), ("D7/F#", 2),
                                             ("Cmaj7/E", 0), ("Cm/Eb", 0)])
def test_the_root_of_an_inversion_is_heard(level: str, chord: str, root: int) -> None:
    """Without it A C over F/A is another chord: the bass has the third."""
    for held in ("E5", "G5", "A4", "D5"):
        for tempo in (66, 132):
            chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("E5", 4)],
                               [(chord, 4), ("G7", 4)])
            task = one_task(chorus, 1, level)
            held_midi = task.held_midi or 0
            if not task.spans[0].harmony.takes(held_midi):
                continue
            for fill in comp(task):
                heard = {n.midi % 12 for n in fill.notes if n.onset_quarter < LAST}
                assert root in heard | {held_midi % 12}, (held, tempo, fill.device, heard)


def test_an_inverted_triad_has_no_sixth_in_the_place_of_its_root() -> None:
    chorus = chorus_of("4/4", "C", 132, [("C5", 4), ("E5", 4)], [("F/A", 4), ("G7", 4)])
    for level in ("beginner", "intermediate", "advanced"):
        for fill in comp(one_task(chorus, 1, level)):
            heard = {n.midi % 12 for n in fill.notes if n.onset_quarter < LAST}
            assert not (2 in heard and 5 not in heard), (level, fill.device)


def test_colours_keep_to_the_tune() -> None:
    """Under a tune that sings D flat the sheet's bare C has no ninth D; with D it has, and what
    a symbol names stays."""
    def tensions(symbol: str, *sung: str) -> tuple[str, ...]:
        chord = analyse([ChordSymbol.parse(symbol)], Key(0, "major"))[0]
        assert chord is not None
        return with_the_tune(chord, [NoteName.parse(name) for name in sung]).tensions

    assert "9" in tensions("C", "E", "G") and "9" in tensions("C", "Db", "D")
    assert "9" not in tensions("C", "Db", "G")
    assert tensions("C9", "Db") == tensions("C9", "Db", "D")
