"""Notes typed as text for a gap."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from tests.sweep import every

from fillwright import Chorus, Edition, Gap, InputError, Options, demo, find_gaps, read_tune, unfold
from fillwright.cli import main
from fillwright.edition import Pick, findings_of, own_fill, read_pick, typed_pick


def place() -> tuple[Chorus, Gap]:
    """A gap of four quarters or more that opens on a bar line, in 4/4."""
    chorus = unfold(read_tune(demo.demo_path("snow")))
    return chorus, next(gap for gap in find_gaps(chorus)
                        if gap.beat == 1 and gap.duration_quarter >= 4)


def keys(pick: Pick, chorus: Chorus, gap: Gap) -> list[tuple[Fraction, str, Fraction, str]]:
    fill = own_fill(pick, chorus, gap, Options())
    return [(Fraction(note.onset_quarter - gap.onset_quarter), note.hand[0] + str(note.midi),
             Fraction(note.duration_quarter), fill.family) for note in fill.notes]


def test_counts_and_keys_of_both_hands() -> None:
    chorus, gap = place()
    pick = typed_pick("R: 2& D5, 3 F5 A5 =1/2, 3trip C5, 4 - ; L: 2 c3 Bb3, 4a C♯3", chorus, gap)
    end = Fraction(gap.duration_quarter)
    assert keys(pick, chorus, gap) == [
        (Fraction(1), "l48", Fraction(11, 4), "line"),
        (Fraction(1), "l58", Fraction(11, 4), "line"),
        (Fraction(3, 2), "r74", Fraction(1, 2), "line"),
        (Fraction(2), "r77", Fraction(1, 2), "line"), (Fraction(2), "r81", Fraction(1, 2), "line"),
        (Fraction(7, 3), "r72", Fraction(2, 3), "line"),
        (Fraction(15, 4), "l49", end - Fraction(15, 4), "line")]


def test_single_notes_are_a_line_and_the_held_note_goes_on_till_they_come() -> None:
    chorus, gap = place()
    pick = typed_pick("2& D5, 3 F5, 3& A5", chorus, gap)
    assert pick.own is not None and pick.own.family == "line"
    assert (pick.own.kept, pick.own.until_quarter) == ("released", Fraction(3, 2))
    assert read_pick(json.loads(json.dumps(pick.value()))) == pick
    assert isinstance(findings_of(own_fill(pick, chorus, gap, Options()), chorus, gap,
                                  "medium"), list)


@every([("", "no notes are typed"), ("R: 2 -", "no key is struck"),
        ("R: 2 H5", "is not a count with its keys"), ("R: two C5", "is not a count"),
        ("R: 7 C5", "has no count 7"), ("R: 1 C5 | | | | | | | | 1 C5", "does not lie in gap"),
        ("R: 3 C5, 2 D5", "in order"), ("R: 2 C9", "not on the piano"),
        ("R: 2 C5 =0", "no length"), ("R: 2 C5 =1/0", "no length"), ("x" * 5000, "longer than")])
def test_what_is_not_understood_is_said(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        typed_pick(text, *place())


def test_the_command_says_fingers_counts_and_what_the_rules_find(
        capsys: pytest.CaptureFixture[str]) -> None:
    _, gap = place()
    sheet = str(demo.demo_path("snow"))
    text = "R: 2& C6 Db6, 3 C6 ; L: 2 C3 Bb3"
    with pytest.raises(SystemExit) as done:
        main(["write", sheet, text, "--gap", str(gap.number), "--json"])
    assert not done.value.code
    document = json.loads(capsys.readouterr().out)
    assert [note["pitch"] for note in document["fill"]["notes"]] == ["C3", "Bb3", "C6", "Db6", "C6"]
    assert document["findings"] and document["pick"]["own"]["family"] == "comp"
    with pytest.raises(SystemExit):
        main(["write", sheet, text, "--gap", str(gap.number)])
    said = capsys.readouterr().out
    assert "own notes" in said and document["findings"][0]["message"] in said
    with pytest.raises(SystemExit) as done:
        main(["write", sheet, "R: 2 H5", "--gap", "1"])
    assert done.value.code == 2 and capsys.readouterr().err.startswith("snow")


def test_the_command_says_what_own_notes_cost_and_what_mends_them(
        capsys: pytest.CaptureFixture[str]) -> None:
    """A D flat under a held F over G minor 7; with a D instead nothing is left to say."""
    asked = ["write", str(demo.demo_path("lamp")), "--gap", "3", "--why-not"]

    def said(notes: str, *more: str) -> str:
        with pytest.raises(SystemExit) as done:
            main([*asked, notes, *more])
        assert not done.value.code
        return capsys.readouterr().out

    text = said("R: 2 Bb4 Db5 ; L: 2 G3 F4")
    assert "against the first offer" not in text and "the first offer, " in text
    assert "break a rule that it keeps" in text
    assert text.endswith("The smallest change that mends it: Move D♭5 on beat 2 up a half step.\n")
    value = json.loads(said("R: 2 Bb4 Db5 ; L: 2 G3 F4", "--json"))["why_not"]
    assert value["mended"]["sentences"] == ["Move D♭5 on beat 2 up a half step."]
    assert value["mended"]["left"] == 0 and len(value["rules"]) == 1
    fine = said("R: 2 Bb4 D5 ; L: 2 G3 F4")
    assert "The rules find nothing to say." in fine and "smallest change" not in fine


def test_a_hand_that_has_let_go_is_said_to_have(capsys: pytest.CaptureFixture[str]) -> None:
    """Where the other one strikes: on 4 the right hand has nothing any more."""
    sheet = str(demo.demo_path("lamp"))
    said = []
    for right in ("2 D5 Bb4, 3 -", "2 D5 Bb4"):
        with pytest.raises(SystemExit):
            main(["write", sheet, f"R: {right} ; L: 2 G3, 4 C3 Bb3", "--gap", "3"])
        said.append(capsys.readouterr().out)
    assert "right   2:B♭4+D5  4:-\n" in said[0] and "(- has let go)" in said[0]
    assert "right   2:B♭4+D5\n" in said[1] and "let go)" not in said[1]


HELD = Edition(b"""X:1
T:Held
M:4/4
L:1/4
Q:1/4=120
K:F
"Gm7"f4|"C7"e4|"F6"f4|]
""", "held.abc")


@every([("L: 2 G3 F#4", ["F♯4 is foreign to Gm7, a major seventh from the melody's F5"]),
        ("L: 2 B3", ["B3 is foreign to Gm7, a half step from its third"]),
        ("L: 2 G3 F4", []),                         # chord tones
        ("L: 2 F#4 =2, 4 G4", []),                  # leads on by step
        ("L: 2 F#4 =1/2, 2& D4", [])])              # a lone short one passes
def test_a_key_that_rests_and_is_foreign_to_its_chord_is_said(text: str, said: list[str]) -> None:
    chorus = unfold(HELD.tune())
    gap = find_gaps(chorus)[0]
    fill = own_fill(typed_pick(text, chorus, gap), chorus, gap, Options())
    assert [one["message"] for one in findings_of(fill, chorus, gap, "medium")
            if one["rule"] == "foreign tones"] == said
