"""Audits of scores that were brought in: each rule, and what is said of a finding.

The limits are those of the checks, which name their sources. That a rule finds what a
teacher would is common practice.
"""

from __future__ import annotations

from fractions import Fraction as F
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.demo_arrangements import arranged

from fillwright import ChordSymbol, HandNote, Key, Pitch
from fillwright.arranging.audit import (
    audit_arrangement,
    audit_read,
    explain,
)
from fillwright.arranging.from_paper import ReadArrangement
from fillwright.hands import HAND_SIZES
from fillwright.rules import AUDITED, Audit, Finding
from fillwright.score import to_musicxml
from fillwright.score.readback import read_arrangement, read_arrangement_bytes
from fillwright.theory import spell_plain
from fillwright.tune import ChordSpan, ChorusBar, Meter

pytestmark = pytest.mark.slow


def brought(text: str, *, chord: str = "", tempo: int = 120) -> ReadArrangement:
    """Two bars of 4/4 from words such as ``"R C5 0+4"``: hand, key, onset, length; ``*`` for
    the melody, ``@`` and a finger behind the key, ``~`` before it for a roll."""
    words = text.split()
    notes = []
    for hand, name, time in zip(words[::3], words[1::3], words[2::3], strict=True):
        key, _, finger = name.lstrip("~").partition("@")
        onset, _, length = time.partition("+")
        notes.append(HandNote(F(onset), F(length), Pitch.parse(key),
                              "right" if hand[0] == "R" else "left",
                              int(finger) if finger else None,
                              "melody" if "*" in hand else "base", None, name[0] == "~"))
    notes.sort(key=lambda n: (n.onset_quarter, n.midi))
    bars = tuple(ChorusBar(i, str(i + 1), 1, F(4 * i), F(4), Meter(4, 4), Key(0))
                 for i in range(2))
    chords = (ChordSpan(F(0), F(8), ChordSymbol.parse(chord)),) if chord else ()
    return ReadArrangement("Brought", tuple(notes), chords, bars, F(tempo))


RULES = [rule.name for rule in AUDITED]
OF_A_SCORE = RULES[:RULES.index("melody")]
"""The rules that need neither the tune nor its gaps."""

BROKEN = {
    # A tenth, for a hand that takes a ninth.
    "reach": ("L C3 0+4 L E4 0+4 R* C5 0+4", "left hand cannot reach from C3 to E4"),
    # The third finger below the second.
    "fingers": ("R C5@3 0+1 R* E5@2 0+1", "right fingers 3 and 2 are crossed"),
    "counts": ("R C4 0+1 R D4 0+1 R E4 0+1 R F4 0+1 R G4 0+1 R* A4 0+1",
               "right hand has 6 keys down"),
    "rolls": ("L ~C3 0+1 L G3 0+1", "left hand rolls half a chord"),
    # Four octaves in an eighth at 120.
    "jumps": ("L C2 0+1/2 L C6 1/2+1", "left hand has 0.25 s from C2 to C6 and wants"),
    "hands": ("L C5 0+1 R* C4 0+1", "left hand on C5 lies above the right on C4"),
    "restrikes": ("R* C5 0+4 R* C5 1+1", "right hand strikes C5 while it holds it"),
    "range": ("L A0 0+1 L G0 2+1", "G0 is not on the piano"),
    "mud": ("L C2 0+1 L D2 0+1", "C2 and D2 are too close so low"),
    "minor ninths": ("L E3 0+1 R F4 0+1 R* C5 0+1", "E3 and F4 make a minor ninth"),
    "rubs": ("R B4 0+4 R* C5 0+4", "B4 rubs the melody's C5"),
}


@pytest.mark.parametrize("rule", sorted(BROKEN))
def test_each_rule_finds_what_breaks_it(rule: str) -> None:
    text, message = BROKEN[rule]
    found = audit_read(brought(text), "medium").of(rule)
    assert found and found[0].message.startswith(message)


def test_every_rule_has_words_and_a_case() -> None:
    assert len(set(RULES)) == len(RULES)
    for rule in AUDITED:
        assert rule.asks and rule.why and rule.remedy
    assert set(BROKEN) == set(OF_A_SCORE)


def test_a_playable_page_has_no_finding() -> None:
    read = brought("L C3 0+4 L G3 0+4 R E4 0+2 R* C5 0+2 R* D5 2+2 L F2 4+4 R* A4 4+4",
                   chord="C")
    found = audit_read(read, "small")
    assert found.clean and explain(found, str) == []
    assert [rule for rule, _ in found.checked] == OF_A_SCORE
    assert dict(found.checked)["restrikes"] == len(read.notes)


def test_the_size_of_the_hand_decides() -> None:
    tenth = brought("L C3 0+4 L E4 0+4")
    assert [audit_read(tenth, size).clean for size in HAND_SIZES] == [False, False, True]
    rolled = brought("L ~C3 0+4 L ~E4 0+4")
    assert not audit_read(rolled, "medium").of("reach")


def test_the_tempo_decides_and_may_be_asked_for() -> None:
    leap = "L C2 0+1 L C4 1+1"
    assert audit_read(brought(leap, tempo=60), "medium").clean
    assert audit_read(brought(leap, tempo=400), "medium").of("jumps")
    assert audit_read(brought(leap, tempo=60), "medium", F(400)).of("jumps")
    assert audit_read(brought(leap, tempo=400), "medium", F(60)).clean


def test_a_flat_nine_is_at_home_over_its_dominant() -> None:
    flat_nine = "L G2 0+4 R Ab3 0+4 R* D5 0+4"
    assert audit_read(brought(flat_nine), "medium").of("minor ninths")
    assert not audit_read(brought(flat_nine, chord="G7"), "medium").of("minor ninths")


def test_keys_that_no_fingers_take_are_found_where_none_are_printed() -> None:
    cluster = "R C4 0+4 R C#4 0+4 R D4 0+4 R* D5 0+4"
    found = audit_read(brought(cluster), "medium")
    assert [f.message for f in found.of("fingers")] == [
        "right hand has no fingers that take C4 C#4 D4 D5 together"]
    assert not found.of("reach")
    # Printed fingers bind the others: nothing fits between a thumb and a second finger.
    assert not audit_read(brought("R C4@1 0+4 R E4 0+4 R* G4@5 0+4"), "medium").of("fingers")
    assert audit_read(brought("R C4@1 0+4 R E4 0+4 R* G4@2 0+4"), "medium").of("fingers")


def test_a_finding_is_explained_in_one_sentence() -> None:
    found = audit_read(brought("R* C5 0+4 L C3 5+1 L E4 5+1"), "medium")
    (sentence,) = explain(found, lambda place: f"bar 2, beat {place - 3}")
    assert sentence == (
        "Bar 2, beat 2: left hand cannot reach from C3 to E4; a key out of reach is missed, or "
        "strains the hand: roll it or leave out a note (a stretch that hurts is rolled or left "
        "out, never forced).")


def test_findings_are_told_in_the_order_of_the_score() -> None:
    findings = (Finding("reach", F(4), "late", ()), Finding("mud", F(0), "early", ()),
                Finding("rubs", F(4), "last", ()))
    told = explain(Audit(findings, ()), lambda place: f"at {place}")
    assert [sentence.split(";")[0] for sentence in told] == [
        "At 0: early", "At 4: late", "At 4: last"]


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_our_own_pages_are_clean_when_they_are_read_back(level: str) -> None:
    whole = arranged("umbrella", level)
    assert audit_arrangement(whole).clean
    read = read_arrangement_bytes(to_musicxml(whole, fingering="all"), "own")
    # A top note of a chord counts as melody there, so that a half step below it is a rub.
    assert [f for f in audit_read(read, "medium").findings if f.rule != "rubs"] == []


@pytest.mark.parametrize("work", ["bach/bwv846", "mozart/k545/movement1_exposition"])
def test_pieces_every_student_plays_are_playable(work: str) -> None:
    # The first prelude of the Well-Tempered Clavier and the "sonata for beginners", as
    # engraved in music21's corpus; that a student's hands can play them is common practice.
    import music21

    path = Path(str(music21.__file__)).parent / "corpus" / f"{work}.mxl"
    found = audit_read(read_arrangement(path), "medium")
    assert {f.rule for f in found.findings} <= {"mud"}
    assert len(found.findings) <= 1


KEYS = st.tuples(st.sampled_from(["left", "right"]), st.integers(21, 108), st.integers(0, 12),
                 st.integers(1, 4), st.sampled_from([None, 1, 2, 3, 4, 5]), st.booleans())


@settings(max_examples=100, deadline=None)
@given(st.lists(KEYS, min_size=1, max_size=12), st.sampled_from(HAND_SIZES))
def test_any_notes_are_audited_and_every_finding_explained(
        keys: list[tuple[str, int, int, int, int | None, bool]], size: str) -> None:
    struck = {(hand, midi, onset): HandNote(
        F(onset, 2), F(length, 2), spell_plain(midi, False), hand, finger,
        "base", None, rolled) for hand, midi, onset, length, finger, rolled in keys}
    notes = sorted(struck.values(), key=lambda n: (n.onset_quarter, n.midi, n.hand))
    read = ReadArrangement("Any", tuple(notes), (), brought("R C5 0+1").bars, F(120))
    found = audit_read(read, size)
    places = {n.onset_quarter for n in notes}
    assert all(f.onset_quarter in places for f in found.findings)
    sentences = explain(found, lambda place: f"bar 1, place {place}")
    assert len(sentences) == len(found.findings)
    assert all(s.startswith("Bar 1, place ") and s.endswith(".") for s in sentences)
    # A larger hand never reaches less.
    order = [len(audit_read(read, each).of("reach")) for each in HAND_SIZES]
    assert order == sorted(order, reverse=True)
