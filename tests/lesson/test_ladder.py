"""Ladders: each rung easier, playable, in its level's range, and still the idea."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import pytest
from tests.lesson.tunes import NAMES, offered, sheet, tune_of

from fillwright import Fill, InputError, ladder
from fillwright.cli import main

# Least and greatest difficulty of a level, as the README's table has them.
RANGES = {"beginner": (0, 38), "intermediate": (16, 64), "advanced": (26, 100)}
ORDER = tuple(RANGES)


def strange(rung: Fill, idea: Fill) -> Iterator[str]:
    """What in a rung is not the idea. Knows nothing of how rungs are made: every key has its
    pitch class in the same hand of the idea at its place, or at most half a beat before, where
    a push has come onto the beat; the top of the right hand stays the top; chords, family and
    name are those of the idea or fewer."""
    half = 0.75
    for note in rung.notes:
        near = [n for n in idea.notes if n.hand == note.hand and n.midi % 12 == note.midi % 12
                and 0 <= note.onset_quarter - n.onset_quarter <= half]
        if not near:
            yield f"{note.pitch} at {note.onset_quarter} is new"
    added = {str(c.symbol) for c in idea.chords if c.added}
    for chord in rung.chords:
        if chord.added and str(chord.symbol) not in added:
            yield f"{chord.symbol} is new"
        struck = [any(chord.onset_quarter <= n.onset_quarter < chord.end_quarter
                      for n in fill.notes) for fill in (idea, rung)]
        if chord.added and struck == [True, False]:
            yield f"{chord.symbol} is silent"
    words, known = ({word.strip(",") for word in one.device.split()} for one in (rung, idea))
    if rung.family != idea.family or 2 * len(words & known) < len(words):
        yield f"{rung.device} is another idea than {idea.device}"
    if 2 * len({n.onset_quarter for n in rung.notes}) < len(
            {n.onset_quarter for n in idea.notes}):
        yield "most of its strokes are gone"
    if added and not any(c.added for c in rung.chords):
        yield "no chord is added any more"


def wrong(name: str, number: int, level: str) -> Iterator[str]:
    for fill in offered(name, number, level):
        found = ladder(fill)
        rungs = found.rungs
        hard = [rung.difficulty for rung in rungs]
        if any(b >= a for a, b in pairwise(hard)):
            yield f"{fill.id}: difficulty {hard}"
        ranks = [ORDER.index(rung.level) for rung in rungs]
        if ranks != sorted(ranks, reverse=True):
            yield f"{fill.id}: levels {ranks}"
        if {r.level for r in rungs} | {m.level for m in found.missing} != set(ORDER) or len(
                {r.level for r in rungs}) + len(found.missing) != len(ORDER):
            yield f"{fill.id}: a level is neither there nor missing"
        for rung in rungs:
            most = RANGES[rung.level][1]
            if not rung.difficulty <= most or any(n.finger is None for n in rung.fill.notes):
                yield f"{rung.fill.id}: {rung.difficulty} is no {rung.level}'s, or no hand's"
            yield from (f"{rung.fill.id}: {text}" for text in strange(rung.fill, fill))
        yield from (f"{fill.id}: says nothing of what is gone" for r in rungs[1:]
                    if not r.left_out)


@pytest.mark.parametrize("level", ["advanced", "beginner"])
def test_every_rung_is_easier_and_still_the_idea(level: str) -> None:
    assert not list(wrong("snow", 3, level))


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_offers_of_a_tune_have_their_ladders(name: str) -> None:
    _, gaps = tune_of(name)
    found = [text for gap in gaps[::3] for level in ORDER[1:]
             for text in wrong(name, gap.number, level)]
    assert not found


def test_the_recogniser_hears_a_foreign_key_and_a_foreign_chord() -> None:
    fill = next(f for f in offered("ferry", 4, "advanced") if f.family == "reharm")
    note = fill.notes[0]
    moved = replace(note, pitch=type(note.pitch).parse("F#5"))
    assert list(strange(replace(fill, notes=(moved, *fill.notes[1:])), fill))
    assert list(strange(replace(fill, notes=fill.notes[:1]), fill))
    assert list(strange(replace(fill, chords=()), fill))
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
