"""An edition: the same arrangement from every door, its file, own notes."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright import Edition, Fill, InputError, Options, arrange, open_edition
from fillwright.arranging.build import Offers
from fillwright.arranging.fingers import fingered_fill
from fillwright.cli import main
from fillwright.contract import arrangement_document, dump
from fillwright.demo import demo_path
from fillwright.edition import Decisions, Pick, edited, findings_of, own_pick, read_pick
from fillwright.edition.desk import Desk, desk_of
from fillwright.edition.file import FORMAT, edition_from_text, edition_text, save_edition
from fillwright.exact import Fraction
from fillwright.fills import FAMILIES
from fillwright.score import Printing
from fillwright.web import painter

pytestmark = pytest.mark.slow

SHORT = Edition(b"""X:1
T:Short
M:4/4
L:1/4
Q:1/4=120
K:F
"Gm7"d3 c|"C7"B4|"Fmaj7"A4|"D7"z2 A c|"Gm7"d4|"F6"F4|]
""", "short.abc")
DESK = desk_of(SHORT)


def offered(desk: Offers, number: int) -> list[Fill]:
    found = [desk.fills(number, family, 3) for family in FAMILIES]
    return [fill for fills in found if not isinstance(fills, str) for fill in fills]


EVERY = [(gap.number, fill) for gap in DESK.gaps for fill in offered(DESK, gap.number)]


def decided() -> Edition:
    """An edition of everything: settings, a corrected chord, a choice, own notes, an open gap."""
    edition = SHORT.with_settings({"level": "advanced", "tempo": "96", "hand": "large",
                                  "same_each_time": True,
                                  "mix": {"comp": 2, "reharm": 1, "line": 1}})
    edition = edition.with_chord(1, "0", "Am7")
    desk = Desk(edition)
    fills = offered(desk, 2)
    return (edition.with_choice(1, "open").with_choice(2, fills[0].id)
            .with_choice(3, "reharm:1" if not isinstance(desk.fills(3, "reharm", 1), str)
                         else "comp:1")
            .with_choice(4, offered(desk, 4)[1].id, [(0, 2), (1, None)]))


# --- the three doors --------------------------------------------------------------------------


@pytest.mark.slow
def test_python_command_line_and_page_make_the_same_bytes(tmp_path: Path) -> None:
    edition = decided()
    save_edition(edition, tmp_path / "it.json")
    again = open_edition(tmp_path / "it.json")
    assert again == edition
    done = again.arrange()
    python = dump(arrangement_document(done)).encode()
    # the page: a worker has worked out other things on this desk before
    bare = replace(edition, decisions=Decisions(
        replace(edition.decisions.options, mix=()), edition.decisions.chords))
    desk = Desk(bare)
    desk.fills(5, "line", 8)
    desk.chorus_of(Decisions(edition.decisions.options))
    _, page = painter.export(desk, edition.decisions, "json", lambda *_: None, Printing())
    assert page == python
    with pytest.raises(SystemExit) as end:
        main(["arrange", "--edition", str(tmp_path / "it.json"), "-o", str(tmp_path / "out"),
              "--formats", "json"])
    assert end.value.code in (0, None)
    assert (tmp_path / "out" / "arrangement.json").read_bytes() == python
    assert done.fill_of(1) is None and not [w for w in done.warnings if "does not exist" in w]
    own = done.fill_of(4)
    assert own is not None and own.reasons[0].startswith("A note of this fill was changed")


@pytest.mark.slow
@pytest.mark.parametrize("options", [Options(level="advanced"), Options(
    choruses=2, introduction=2, same_each_time=True,
    mix=(("comp", 1), ("reharm", 0), ("line", 2)))])
def test_an_edition_with_settings_alone_is_the_arranger(options: Options) -> None:
    edition = replace(SHORT, decisions=Decisions(options))
    assert edition.arrange() == arrange(edition.tune(), options)


def test_a_choice_that_is_not_there_is_a_warning() -> None:
    done = SHORT.with_choice(2, "9.1.1-comp-nothing-000000").with_choice(99, "open").arrange()
    assert sum("does not exist with these settings" in text for text in done.warnings) == 2
    assert any("the nearest is 2.1.1-comp-" in text for text in done.warnings)
    assert done.options.picks == ()


def test_a_correction_that_the_sheet_has_no_place_for_is_refused() -> None:
    """At once from Python, and when a file's sheet is read."""
    for change, says in (((99, "0", "C7"), "in bar 99, counted from 0; the nearest is 5"),
                         ((1, "9/2", ""), "4 quarters long and has no place 9/2; the nearest")):
        with pytest.raises(InputError, match=says):
            SHORT.with_chord(*change)
        document = json.loads(edition_text(SHORT)) | {"chords": [list(change)]}
        edition = edition_from_text(json.dumps(document).encode(), "it.json")
        for asked in (edition.tune, edition.arrange):
            with pytest.raises(InputError, match=says):
                asked()


def test_an_edition_decides_everything_by_itself(tmp_path: Path,
                                                 capsys: pytest.CaptureFixture[str]) -> None:
    save_edition(SHORT, tmp_path / "it.json")
    for extra in (["--level", "advanced"], [str(demo_path("umbrella"))], ["--pick", "1=open"]):
        with pytest.raises(SystemExit) as end:
            main(["arrange", *extra, "--edition", str(tmp_path / "it.json"), "-o",
                  str(tmp_path / "out")])
        assert end.value.code == 2 and "decided this already" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


# --- the file ---------------------------------------------------------------------------------


def test_the_file_holds_the_sheet_or_names_it(tmp_path: Path) -> None:
    edition = decided()
    save_edition(edition, tmp_path / "a.json", embed=False)
    with pytest.raises(InputError, match=r"a.json: short.abc, its sheet, does not lie"):
        open_edition(tmp_path / "a.json")
    (tmp_path / "short.abc").write_bytes(edition.sheet)
    assert open_edition(tmp_path / "a.json") == edition
    (tmp_path / "short.abc").write_bytes(edition.sheet + b" ")
    with pytest.raises(InputError, match="is not the sheet this edition was made from"):
        open_edition(tmp_path / "a.json")
    with pytest.raises(InputError, match=r"only names short\.abc"):
        edition_from_text((tmp_path / "a.json").read_bytes(), "a.json")


@given(st.binary(max_size=60))
def test_any_bytes_survive_in_the_file(data: bytes) -> None:
    edition = Edition(data, "odd.mxl", Decisions(part="P2"))
    text = edition_text(edition)
    assert edition_from_text(text.encode(), "odd.json") == edition
    assert edition_text(edition_from_text(text.encode(), "odd.json")) == text


def test_settings_of_a_newer_program_are_kept_and_ignored() -> None:
    document = json.loads(edition_text(SHORT))
    document["settings"] |= {"pedals": {"soft": [1, 2]}, "level": "advanced"}
    edition = edition_from_text(json.dumps(document).encode(), "new.json")
    assert edition.decisions.options.level == "advanced"
    assert len(edition.warnings) == 1 and "'pedals'" in edition.warnings[0]
    changed = edition.with_settings({"level": "beginner"})
    assert json.loads(edition_text(changed))["settings"]["pedals"] == {"soft": [1, 2]}
    assert edition.arrange().warnings[-1] == edition.warnings[0]
    with pytest.raises(InputError, match="there is no setting 'pedals'"):
        SHORT.with_settings({"pedals": 1})


@pytest.mark.parametrize(("changes", "says"), [
    ({"picks": {"1": {"fill": "nonsense"}}}, "'nonsense' names no fill"),
    ({"picks": {"1": {"fill": "riff:1"}}}, "the nearest is line:1"),
    ({"settings": {"same_each_time": 1}}, "each time is true or false"),
    ({"settings": {"\ud800": 1}}, "half a character"),
    ({"settings": {"part": "\udfff"}}, "half a character")])
def test_what_an_edition_cannot_hold_gets_one_sentence(changes: dict[str, object], says: str
                                                       ) -> None:
    text = json.dumps(json.loads(edition_text(SHORT)) | changes)
    with pytest.raises(InputError, match=says):
        edition_from_text(text.encode(), "it.json")


@pytest.mark.parametrize(("text", "says"), [
    ("", "not JSON"), ("[]", "format is not"), ('{"format": "x"}', "format is not"),
    (f'{{"format": "{FORMAT}"}}', "which version"),
    (f'{{"format": "{FORMAT}", "version": 2}}', "a newer one wrote it"),
    (f'{{"format": "{FORMAT}", "version": 1}}', "names no sheet"),
    (f'{{"format": "{FORMAT}", "version": 1, "sheet": {{"name": "../.."}}}}', "name of its sheet"),
    (f'{{"format": "{FORMAT}", "version": 1, "sheet": {{"name": "a", "base64": "?"}}}}',
     "damaged"),
    (f'{{"format": "{FORMAT}", "version": 1, "sheet": {{"name": "a", "text": "x"}}}}', "hash")])
def test_what_is_no_edition_gets_one_sentence(tmp_path: Path, text: str, says: str,
                                              capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "it.json").write_text(text)
    with pytest.raises(SystemExit) as end:
        main(["arrange", "--edition", str(tmp_path / "it.json"), "-o", str(tmp_path / "out")])
    error = capsys.readouterr().err
    assert end.value.code == 2 and says in error
    assert error.startswith("it.json: ") and error.count("\n") == 1


# --- own notes --------------------------------------------------------------------------------


def test_an_unchanged_fill_keeps_its_fingers() -> None:
    """One way of fingering: a fill fingered once more is what it was."""
    assert len(EVERY) > 15
    for number, fill in EVERY:
        assert fingered_fill(fill, DESK.gap(number), DESK.chorus, "medium") == fill


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_a_move_of_nothing_changes_nothing(data: st.DataObject) -> None:
    number, fill = data.draw(st.sampled_from(EVERY))
    places = data.draw(st.lists(st.integers(0, len(fill.notes) - 1), unique=True))
    pick = Pick(fill.id, tuple((place, 0) for place in places))
    assert DESK.chosen(number, pick) == (fill, None)


def test_a_chorus_with_a_move_of_nothing_is_the_same() -> None:
    number, fill = EVERY[4]
    plain = SHORT.with_choice(number, fill.id).arrange()
    assert SHORT.with_choice(number, fill.id, [(0, 0), (1, 0)]).arrange() == plain


@pytest.mark.slow
@settings(max_examples=5, deadline=None)
@given(st.data())
def test_any_own_notes_make_a_chorus(data: st.DataObject) -> None:
    """What no hand can play is heard as well, and has no fingers; the other gaps keep theirs."""
    number, fill = data.draw(st.sampled_from(EVERY))
    moves = data.draw(st.dictionaries(st.integers(0, len(fill.notes) - 1), st.one_of(
        st.none(), st.integers(-14, 14)), max_size=4))
    if len(moves) == len(fill.notes) and None in moves.values():
        return
    pick = Pick(fill.id, tuple(sorted(moves.items())))
    plain, own = DESK.chosen(number, pick)
    done = DESK.chorus_of(Decisions(picks=((number, pick),)))
    wanted = own or plain
    assert wanted is not None
    played = [note for note in done.notes if note.gap == number]
    assert sorted((n.onset_quarter, str(n.pitch), n.hand) for n in played) == sorted(
        (n.onset_quarter, str(n.pitch), n.hand) for n in wanted.notes)
    without = DESK.chorus_of(Decisions(picks=((number, Pick(fill.id)),)))
    assert [(f.gap, f.id) for f in done.fills] == [(f.gap, f.id) for f in without.fills]
    assert done.fill_of(number) is not None
    assert all(note.finger for note in done.notes if note.gap != number or own is None)


def test_own_notes_are_spelled_by_the_added_chord_that_sounds() -> None:
    """The root of an added chord: the written chord may call that key otherwise."""
    spelled = 0
    for number, fill in EVERY:
        for span in (s for s in fill.chords if s.added and s.symbol.root is not None):
            name = span.symbol.root
            index = next((i for i, note in enumerate(fill.notes)
                          if span.onset_quarter <= note.onset_quarter < span.end_quarter
                          and note.pitch.note_name != name), None)
            if index is None or name is None:
                continue
            by = (name.pitch_class - fill.notes[index].midi) % 12
            own = edited(fill, Pick(fill.id, ((index, by),)), DESK.chorus, DESK.gap(number),
                         "medium")
            assert name in {note.pitch.note_name for note in own.notes
                            if note.onset_quarter == fill.notes[index].onset_quarter}
            spelled += 1
    assert spelled > 3


def test_a_note_moved_onto_the_melody_rubs() -> None:
    number, fill = next((n, f) for n, f in EVERY if f.family == "comp"
                        and f.held_end.kept == "finger" and DESK.gap(n).held is not None)
    gap = DESK.gap(number)
    assert gap.held is not None
    top = max(range(len(fill.notes)), key=lambda i: fill.notes[i].midi)
    by = gap.held.midi - 1 - fill.notes[top].midi
    own = edited(fill, Pick(fill.id, ((top, by),)), DESK.chorus, gap, "medium")
    rules = {finding["rule"] for finding in findings_of(own, DESK.chorus, gap, "medium")}
    assert "rubs" in rules
    assert findings_of(fill, DESK.chorus, gap, "medium") == []


def test_no_note_left_is_refused() -> None:
    number, fill = EVERY[0]
    gap = DESK.gap(number)
    every = tuple((index, None) for index in range(len(fill.notes)))
    with pytest.raises(InputError, match="leave the gap open"):
        edited(fill, Pick(fill.id, every), DESK.chorus, gap, "medium")
    with pytest.raises(InputError, match="has no note"):
        edited(fill, Pick(fill.id, ((len(fill.notes), 0),)), DESK.chorus, gap, "medium")


def test_notes_are_held_longer_and_added() -> None:
    """A place counts from the gap, a key from its melody note."""
    number, fill = EVERY[0]
    gap = DESK.gap(number)
    assert gap.held is not None
    pick = read_pick({"fill": fill.id, "lengths": [[0, "1/4"]],
                      "added": [["1/2", -12, "1/2", "left"]]})
    assert read_pick(pick.value()) == pick
    _, own = DESK.chosen(number, pick)
    assert own is not None and len(own.notes) == len(fill.notes) + 1
    kept = [n for n in own.notes if (n.onset_quarter, n.midi) == (
        fill.notes[0].onset_quarter, fill.notes[0].midi)]
    assert kept[0].duration_quarter == Fraction(1, 4)
    more = [n for n in own.notes if n.onset_quarter == gap.onset_quarter + Fraction(1, 2)
            and n.midi == gap.held.midi - 12 - 12 * DESK.chorus.melody_octave]
    assert [n.hand for n in more] == ["left"]
    with pytest.raises(InputError, match="no place"):
        DESK.chosen(number, read_pick({"fill": fill.id, "added": [["99", 0, "1", "left"]]}))


def test_a_fill_played_by_hand_is_a_choice_in_every_key() -> None:
    number, model = EVERY[0]
    gap = DESK.gap(number)
    pick = own_pick(replace(model, id="1.1.1-line-own-123456", device="own notes"),
                    DESK.chorus, gap)
    assert read_pick(pick.value()) == pick
    fill, own = DESK.chosen(number, pick)
    assert fill is not None and own == fill
    assert [(n.onset_quarter, n.midi, n.hand) for n in fill.notes] == [
        (n.onset_quarter, n.midi, n.hand) for n in model.notes]
    chosen = replace(SHORT, decisions=SHORT.decisions.with_pick(number, pick))
    assert edition_from_text(edition_text(chosen).encode(), "x").decisions == chosen.decisions
    done = chosen.arrange()
    assert done.warnings == SHORT.arrange().warnings
    there = done.fill_of(number)
    assert there is not None and there.id == pick.fill
    moved = chosen.with_settings({"key": "D"}).arrange().fill_of(number)
    assert moved is not None
    by = {a.midi - b.midi for a, b in zip(moved.notes, there.notes, strict=True)}
    assert len(by) == 1 and by != {0}


def test_other_tones_take_away_the_name_of_an_idea_and_a_foreign_one_is_said() -> None:
    """A seventh of a chord a half step up."""
    number, fill = next((n, f) for n, f in EVERY if n == 4 and f.device.startswith("drop"))
    at = next(i for i, note in enumerate(fill.notes) if note.midi == 65)  # F4
    own = edited(fill, Pick(fill.id, ((at, 1),)), DESK.chorus, DESK.gap(number), "medium")
    assert own.device == "own notes"
    assert any(one["rule"] == "foreign tones" and "F♯4 is foreign to Gm7" in one["message"]
               for one in findings_of(own, DESK.chorus, DESK.gap(number), "medium"))
    held = edited(fill, Pick(fill.id, lengths=((at, Fraction(1, 2)),)), DESK.chorus,
                  DESK.gap(number), "medium")
    assert held.device == fill.device
