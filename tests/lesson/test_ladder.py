"""Ladders: each rung easier, playable, in its level's range, and still the idea."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.lesson.recognise import ORDER, RANGES, strange, wrong
from tests.lesson.tunes import NAMES, offered, sheet, tune_of

from fillwright import (
    Fill,
    InputError,
    Options,
    arrange,
    find_gaps,
    ladder,
    propose,
    read_tune,
    unfold,
)
from fillwright.cli import main


@pytest.mark.parametrize("level", ["advanced", "beginner"])
def test_every_rung_is_easier_and_still_the_idea(level: str) -> None:
    assert not list(wrong(offered("snow", 3, level)))


@pytest.mark.slow
def test_a_plainer_name_says_enough() -> None:
    """What is no shell any more is still bass and chord tones: that is not called thinned."""
    ideas = [fill for gap in (3, 8) for fill in offered("ferry", gap, "beginner", 8)
             if "shell and two" in fill.device]
    names = {rung.fill.device for fill in ideas for rung in ladder(fill).rungs[1:]}
    assert names == {"bass and chord tones, hands together"}
    assert not list(wrong(ideas))


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_offers_of_a_tune_have_their_ladders(name: str) -> None:
    _, gaps = tune_of(name)
    found = [text for gap in gaps[::3] for level in ORDER[1:]
             for text in wrong(offered(name, gap.number, level))]
    assert not found


TURN = ('X:1\nT:Turn\nM:4/4\nL:1/4\nQ:1/4=120\nK:Eb\n"Eb"B A G F|"C7"G4|"Bb7"A G F E|"Eb"F4|'
        '"Eb"E4|]\n')


@pytest.mark.slow
def test_no_added_chord_is_left_without_a_stroke(tmp_path: Path) -> None:
    """Chords that come on an off-beat go with their stroke, or both stay."""
    (tmp_path / "turn.abc").write_text(TURN)
    chorus = unfold(read_tune(tmp_path / "turn.abc"))
    found = [fill for fill in propose(chorus, find_gaps(chorus), level="advanced", count=6).fills
             if any(c.added and c.onset_quarter.denominator > 1 for c in fill.chords)]
    assert len(found) >= 2 and not list(wrong(found))


HOME = ('X:1\nT:Home\nM:4/4\nL:1/4\nQ:1/4=132\nK:F\n' + 3 * '"F"A2 "C7"G2|"F"F4|'
        + '"Dm"A2 "C7"G2|"F"F2 "C7"z2|]\n')


def test_a_chord_that_was_pushed_to_is_not_left_to_a_stroke_before(tmp_path: Path) -> None:
    (tmp_path / "home.abc").write_text(HOME)
    chorus = unfold(read_tune(tmp_path / "home.abc"))
    gaps = find_gaps(chorus)
    found = propose(chorus, gaps, families=["comp"], numbers=[len(gaps)], count=6).fills
    assert any(c.added for fill in found for c in fill.chords) and not list(wrong(found))


TWO_BARS = ('X:1\nT:Two bars\nM:4/4\nL:1/4\nQ:1/4=120\nK:C\n' + 3 * '"Dm7"f e d c|"G7"B4-|'
            '"Cmaj7"B4-|B2 c d|' + '"Cmaj7"c4|]\n')


def test_what_each_rung_leaves_out_has_a_name_of_its_own(tmp_path: Path) -> None:
    """In a gap of several bars a count comes more than once: its bar is said."""
    (tmp_path / "two.abc").write_text(TWO_BARS)
    chorus = unfold(read_tune(tmp_path / "two.abc"))
    fills = propose(chorus, find_gaps(chorus), level="advanced", numbers=[1], count=3).fills
    words = [[word for rung in ladder(fill).rungs for word in rung.left_out] for fill in fills]
    assert any("bar" in word for row in words for word in row)
    assert all(len(set(row)) == len(row) for row in words)


TURNED_BACK = ('X:1\nT:Turned back\nM:4/4\nL:1/4\nQ:1/4=132\nK:G\n' + 3 * '"G6"B2 d2|"D7"f4|'
               + '"D7"A2 f2|"G6"G4-|G "Am7"z "D7"z2|]\n')


def test_the_chords_that_close_a_tune_cannot_be_left_out(tmp_path: Path) -> None:
    """Where the sheet turns back and no chorus follows, the tonic stands over each of its chords
    whatever is played; a rung was said to be without one."""
    (tmp_path / "back.abc").write_text(TURNED_BACK)
    chorus = unfold(read_tune(tmp_path / "back.abc"))
    gaps = find_gaps(chorus)
    found = propose(chorus, gaps, level="advanced", families=["line"], numbers=[len(gaps)],
                    count=8).fills
    assert any(sum(c.added for c in fill.chords) > 1 for fill in found)
    left_out = [word for fill in found for rung in ladder(fill).rungs for word in rung.left_out]
    assert left_out and not any(word.startswith("the chord on") for word in left_out)


def without_top(fill: Fill) -> Fill:
    """The first chord of the right hand without its highest key."""
    right = [n for n in fill.notes if n.hand == "right"]
    first = [n for n in right if n.onset_quarter == right[0].onset_quarter]
    assert len(first) > 1
    gone = max(first, key=lambda n: n.midi)
    return replace(fill, id="less", notes=tuple(n for n in fill.notes if n is not gone))


def test_the_recogniser_hears_a_foreign_key_and_a_foreign_chord() -> None:
    fill = next(f for f in offered("ferry", 4, "advanced") if f.family == "reharm")
    note = fill.notes[0]
    moved = replace(note, pitch=type(note.pitch).parse("F#5"))
    assert list(strange(replace(fill, notes=(moved, *fill.notes[1:])), fill))
    assert list(strange(replace(fill, notes=fill.notes[:1]), fill))
    assert list(strange(replace(fill, chords=()), fill))
    assert any("the top is" in text for text in strange(without_top(fill), fill))
    assert not list(strange(fill, fill))


def test_the_first_rung_is_the_idea_itself_and_ids_differ() -> None:
    fill = next(f for f in offered("ferry", 4, "advanced") if f.family == "reharm")
    found = ladder(fill)
    assert found.rungs[0].fill == fill and not found.rungs[0].left_out
    ids = [rung.fill.id for rung in found.rungs]
    assert len(set(ids)) == len(ids) > 1


def test_up_to_its_highest_tempo_a_rung_stays_in_its_level() -> None:
    held = 0
    for fill in offered("snow", 3, "advanced"):
        for rung in ladder(fill).rungs:
            most = RANGES[rung.level][1]
            at = [rung.difficulty_at(tempo)
                  for tempo in (rung.highest_tempo, 2 * rung.highest_tempo)]
            assert at[0] <= most
            held += at[1] > most
    assert held


def test_a_ladder_wants_a_fill_and_a_hand() -> None:
    fill = offered("ferry", 4, "advanced")[0]
    with pytest.raises(InputError, match="not of a str"):
        ladder("comp:1")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no hand"):
        ladder(fill, hand="huge")
    with pytest.raises(InputError, match="chorus"):
        ladder(replace(fill, chorus=None))


def test_a_beginners_idea_says_why_nothing_is_above_it() -> None:
    found = ladder(offered("snow", 3, "beginner")[0])
    assert {m.level: "puts nothing in" in m.reason for m in found.missing} == {
        "advanced": True, "intermediate": True}


def test_the_command_prints_the_rungs_of_what_fills_lists(capsys: pytest.CaptureFixture[str]
                                                          ) -> None:
    import json

    fill = offered("ferry", 4, "advanced")[0]
    for wanted in (fill.id, f"{fill.family}:1"):
        with pytest.raises(SystemExit):
            main(["ladder", str(sheet("ferry")), "--gap", "4", "--fill", wanted, "--json"])
        value = json.loads(capsys.readouterr().out)
        assert [r["difficulty"] for r in value["rungs"]] == [
            r.difficulty for r in ladder(fill).rungs]
        assert value["rungs"][0]["fill"]["id"] == fill.id
    with pytest.raises(SystemExit) as end:
        main(["ladder", str(sheet("ferry")), "--gap", "4", "--fill", "comp:99"])
    assert end.value.code == 2 and capsys.readouterr().err.startswith("ferry.musicxml: ")


def test_a_beginners_rung_is_on_a_beginners_page() -> None:
    """Two keys in the right hand, three in the left, four in all, as beginners' devices have
    them; locked hands become two voices on the way."""
    locked = next(fill for fill in offered("lamp", 9, "advanced", 4)
                  if "locked hands" in fill.device)
    found = ladder(locked)
    assert {rung.level for rung in found.rungs} == set(ORDER)
    assert any("two voices" in rung.fill.device for rung in found.rungs)
    for rung in found.rungs:
        rows: dict[object, list[str]] = {}
        for note in rung.fill.notes:
            rows.setdefault(note.onset_quarter, []).append(note.hand)
        most = (2, 3, 4) if rung.level == "beginner" else (5, 5, 9)
        assert all(row.count("right") <= most[0] and row.count("left") <= most[1]
                   and len(row) <= most[2] for row in rows.values())


@pytest.mark.slow
def test_a_study_has_its_levels_with_the_keys_a_hand_plays(tmp_path: Path) -> None:
    """Read back with a general PDF library (pypdfium2)."""
    import pypdfium2  # type: ignore[import-untyped]

    with pytest.raises(SystemExit) as end:
        main(["ladder", str(sheet("ferry")), "--gap", "4", "--fill", "comp:1", "-o",
              str(tmp_path)])
    assert not end.value.code
    document = pypdfium2.PdfDocument(tmp_path / "study.pdf")
    text = " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())
    document.close()
    found = ladder(next(f for f in offered("ferry", 4, "advanced") if f.family == "comp"))
    assert "Squares: left hand." in text and "step by step" in text
    assert text.count("a minute") == len(found.rungs)
    for rung in found.rungs:
        assert f"difficulty {rung.difficulty}, up to {rung.highest_tempo} a minute" in text
        assert f"Count: {rung.fill.counts}" in text
    assert text.count("No rung for this level") == len(found.missing)


@pytest.mark.slow
def test_a_rung_can_be_picked_for_a_chorus_and_handed_out() -> None:
    tune = read_tune(sheet("ferry"))
    tune = replace(tune, bars=tune.bars[:8])
    advanced = Options(level="advanced")
    ladders = [ladder(fill) for rank in (1, 2, 3) if (fill := arrange(
        tune, replace(advanced, picks=((2, f"comp:{rank}"),))).fill_of(2)) is not None]
    found = max(ladders, key=lambda one: len(one.rungs))
    wanted = found.rungs[-1].fill.id
    assert len(found.rungs) > 1
    for level in ("advanced", "beginner"):
        made = arrange(tune, Options(level=level, picks=((2, wanted),))).fill_of(2)
        assert made is not None and (made.id, made.counts) == (wanted, found.rungs[-1].fill.counts)
    with pytest.raises(InputError, match="the nearest is"):
        arrange(tune, replace(advanced, picks=((2, f"{found.rungs[0].fill.id}-rung99"),)))
