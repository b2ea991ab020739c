"""Rounds: the same fill in every key by transposition, or the difference in words."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from tests.lesson.tunes import NAMES, sheet

from fillwright import Edition, InputError, Key, Options, read_tune, round_of_keys
from fillwright.cli import main
from fillwright.lesson import InKey, Round, keys_named

SNOW = sheet("snow")
ADVANCED = Options(level="advanced")


def different(first: InKey, other: InKey) -> Iterator[str]:
    """Where another key has not the first one's fill moved, without saying so. Computed from the
    keys that are struck alone."""
    said = " ".join(other.changed)
    for one, two in zip(first.fills, other.fills, strict=False):
        if "without" in said or len(one.notes) != len(two.notes):
            if "without" not in said:
                yield f"{other.key}: notes are gone"
            continue
        by = (other.key.tonic.pitch_class - first.key.tonic.pitch_class) % 12
        for hand in ("left", "right"):
            a, b = ([n for n in fill.notes if n.hand == hand] for fill in (one, two))
            moves = {y.midi - x.midi for x, y in zip(a, b, strict=True)}
            times = {y.onset_quarter - x.onset_quarter for x, y in zip(a, b, strict=True)}
            if len(moves) > 1 or len(times) > 1 or any((move - by) % 12 for move in moves):
                yield f"{other.key}: the {hand} hand is moved by {moves}"
            if any(abs(move) > 6 for move in moves) and "octave" not in said:
                yield f"{other.key}: the {hand} hand is far away"


def wrong(found: Round) -> Iterator[str]:
    first = found.keys[0]
    for one in found.keys:
        if not one.fills and not one.changed:
            yield f"{one.key}: no fill, and no word on it"
        yield from different(first, one)
        for fill in one.fills:
            if any(abs(note.pitch.alter) > 1 for note in fill.notes):
                yield f"{one.key}: a double accidental"
    bars = found.arrangement.chorus.bars
    for one in found.keys:
        bar = next(bar for bar in bars if bar.onset_quarter == one.start_quarter)
        if bar.key != one.key or one.key.tonic.pretty not in bar.section:
            yield f"{one.key}: announced as {bar.section!r} under {bar.key}"
    yield from (f"{finding.rule}: {finding.message}"
                for finding in found.audit().findings)


@pytest.mark.parametrize("family", ["comp", "reharm", "line"])
def test_a_fill_is_the_same_in_each_key_or_the_difference_is_said(family: str) -> None:
    found = round_of_keys(read_tune(SNOW), "F Bb B D", gap=3, fill=f"{family}:1",
                          options=ADVANCED)
    assert [str(one.key) for one in found.keys] == ["F major", "Bb major", "B major", "D major"]
    assert not list(wrong(found))


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_every_key_has_the_fills_of_a_tune(name: str) -> None:
    found = [text for hand in ("small",) for family in ("comp", "reharm", "line")
             for text in wrong(round_of_keys(
                 read_tune(sheet(name)), "half steps", gap=2, fill=f"{family}:1",
                 options=replace(ADVANCED, hand=hand)))]
    assert not found


def test_the_comparison_sees_a_key_that_is_moved_wrongly() -> None:
    found = round_of_keys(read_tune(SNOW), "F Bb", gap=3, options=ADVANCED)
    first, second = found.keys
    assert list(different(replace(second, key=Key(3)), first))
    note = second.fills[0].notes[0]
    wrong_note = replace(note, pitch=replace(note.pitch, octave=note.pitch.octave - 1))
    fill = replace(second.fills[0], notes=(wrong_note, *second.fills[0].notes[1:]))
    assert list(different(first, replace(second, fills=(fill,))))


@pytest.mark.parametrize(("text", "home", "names"), [
    ("C, F  Bb", 0, "C F Bb"), ("fourths", 0, "C F Bb Eb Ab Db Gb B E A D G"),
    ("fifths", 1, "G D A E B Gb Db Ab Eb Bb F C"), ("whole steps down", -1, "F Eb Db B A G"),
    ("half steps", 2, "D Eb E F Gb G Ab A Bb B C Db")])
def test_keys_are_named_or_go_in_an_order(text: str, home: int, names: str) -> None:
    assert [str(key.tonic) for key in keys_named(text, Key(home))] == names.split()


def test_a_key_that_is_none_is_one_sentence() -> None:
    tune = read_tune(SNOW)
    for keys in ("C H", "", "fourth", 3):
        with pytest.raises(InputError):
            round_of_keys(tune, keys)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no gap 99"):
        round_of_keys(tune, "C", gap=99)
    with pytest.raises(InputError, match="no bar 400"):
        round_of_keys(tune, "C", bars=("1", "400"))


def test_what_is_picked_goes_round(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By --pick, and in an edition with a note taken out."""
    tune, edition = read_tune(SNOW), Edition.of_sheet(SNOW).with_settings({"level": "advanced"})
    best = round_of_keys(tune, "F", gap=3, options=ADVANCED).keys[0].fills[0]
    picked = round_of_keys(tune, "F", gap=3, options=replace(
        ADVANCED, picks=((3, "line:2"),))).keys[0].fills[0]
    assert picked.family == "line" != best.family
    own = round_of_keys(edition.with_choice(3, "comp:1", [(0, None)]), "F", gap=3)
    assert len(own.keys[0].fills[0].notes) == len(best.notes) - 1
    with pytest.raises(InputError, match="left open"):
        round_of_keys(edition.with_choice(3, "open"), "F", gap=3)
    edition.with_choice(3, "line:2").save(tmp_path / "own.json")
    with pytest.raises(SystemExit) as end:
        main(["round", "--edition", str(tmp_path / "own.json"), "--gap", "3", "--keys", "F",
              "-o", str(tmp_path / "out"), "--formats", "json"])
    assert not end.value.code, capsys.readouterr().err
    value = json.loads((tmp_path / "out" / "round.json").read_text())
    assert value["keys"][0]["fills"] == [picked.id]


def test_a_phrase_in_a_minor_key_keeps_its_mode() -> None:
    assert str(keys_named("A", Key(0, "minor"))[0]) == "A minor"


@pytest.mark.slow
def test_the_command_writes_what_arrange_writes_and_the_keys(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main(["round", str(SNOW), "--bars", "1-4", "--keys", "F Eb", "-o", str(tmp_path / "out"),
              "--formats", "json,musicxml,mid"])
    assert not end.value.code and "difficulty" in capsys.readouterr().out
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"round.json", "arrangement.json", "arrangement.musicxml", "arrangement.mid"} == names
    value = json.loads((tmp_path / "out" / "round.json").read_text())
    assert [one["key"] for one in value["keys"]] == ["F major", "Eb major"]
    played = json.loads((tmp_path / "out" / "arrangement.json").read_text())["notes"]
    for one in value["keys"]:
        assert all(note in played for note in one["notes"])
