"""Single passing chords, ranked; and how often the chord a sheet really has comes first."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from bench.bench_recall import Place, places, proposed_in_place, ranked_alone, rewritten
from tests.fills.builders import chorus_of

from fillwright import ChordSymbol, Chorus, Key, find_gaps, read_tune, unfold
from fillwright.fills.devices.reharm.passing import ChordsBetween, passing_options

pytestmark = pytest.mark.slow


def ranked(here: str, goal: str, key: str = "C", melody: int | None = None, count: int = 10
           ) -> list[str]:
    found = passing_options(ChordsBetween(ChordSymbol.parse(here), ChordSymbol.parse(goal),
                                          Key.parse(key), melody), count)
    return [str(p.symbol) for p in found]


@pytest.mark.parametrize(("here", "goal", "expected"), [
    # what is written most often between two chords (common practice)
    ("C", "F", "C7"), ("C", "Dm7", "A7"), ("Dm7", "C", "G7"), ("Am7", "G7", "D7"),
    ("F", "C", "Fm6"), ("C", "G7", "Dm7"), ("Em7", "Dm7", "A7"), ("Am7", "Dm7", "A7")])
def test_the_usual_chord_is_among_the_first_three(here: str, goal: str, expected: str) -> None:
    assert expected in ranked(here, goal)[:3]


def test_the_melody_has_a_say() -> None:
    """Under a C that stays, the dominant on G comes later than without it."""
    free, under_c = ranked("C", "C"), ranked("C", "C", melody=72)
    assert free.index("G7") == 0
    assert under_c.index("G7") >= 0


def test_no_root_and_quality_twice_and_no_more_than_asked() -> None:
    found = passing_options(ChordsBetween(ChordSymbol.parse("C"), ChordSymbol.parse("F"), Key(0)))
    heard = [(p.symbol.root, p.quality) for p in found]
    assert len(heard) == len(set(heard)) == 10
    home = ChordsBetween(ChordSymbol.parse("C"), ChordSymbol.parse("F"), Key(0))
    assert len(passing_options(home, 3)) == 3
    assert passing_options(ChordsBetween(ChordSymbol.parse("N.C."), ChordSymbol.parse("F"),
                                         Key(0))) == ()


def test_costs_rise() -> None:
    found = passing_options(ChordsBetween(ChordSymbol.parse("Cm7"), ChordSymbol.parse("F7"),
                                          Key(-2)))
    assert [p.cost for p in found] == sorted(p.cost for p in found)


def simple() -> Chorus:
    return chorus_of("4/4", "C", 110, [("E5", 2), ("F5", 2), ("E5", 4), ("D5", 2), ("B4", 2),
                                       ("C5", 4)],
                     [("C", 2), ("Fm6", 2), ("C", 4), ("Dm7", 2), ("G7", 2), ("C", 4)])


def test_places_are_short_chords_between_two_others() -> None:
    found = [str(p.taken_out.symbol) for p in places(simple())]
    assert found == ["Fm6", "Dm7", "G7"]


def test_a_place_is_rewritten_without_its_chord() -> None:
    place = next(p for p in places(simple()) if str(p.taken_out.symbol) == "G7")
    chorus = rewritten(place)
    assert [str(c.symbol) for c in chorus.chords] == ["C", "Fm6", "C", "Dm7", "C"]
    gap = next(g for g in find_gaps(chorus) if g.onset_quarter == 8)
    assert gap.held is not None and str(gap.held.pitch) == "B4" and gap.duration_quarter == 4


def demo_places() -> list[Place]:
    folder = Path(str(files("fillwright") / "data"))
    return [p for path in sorted(folder.glob("*.musicxml"))
            for p in places(unfold(read_tune(path)))]


def test_recall_on_the_demo_tunes_beats_the_dominant_of_the_next_root() -> None:
    tried = demo_places()
    assert len(tried) > 20
    found = [(p.answer, ranked_alone(p)) for p in tried]
    first = sum(answer in row[:1] for answer, row in found) / len(found)
    third = sum(answer in row[:3] for answer, row in found) / len(found)
    def guess(place: Place) -> tuple[int, str]:
        root = place.spans[place.index + 1].symbol.root
        return ((root.pitch_class + 7) % 12 if root is not None else -1, "7")

    base = sum(guess(p) == p.answer for p in tried) / len(tried)
    assert third >= 0.8
    assert first > base


def test_the_fills_follow_the_same_ranking() -> None:
    for place in places(simple()):
        assert place.answer in (proposed_in_place(place, "intermediate") or [])


def test_a_chord_at_home_comes_before_the_dominant_of_its_neighbour() -> None:
    """Between two F chords of C major stands C; in F major it is C7. Common practice."""
    four, tonic = ChordSymbol.parse("F"), ChordSymbol.parse("C")
    home = passing_options(ChordsBetween(four, four, Key(0), 69, (tonic,), (tonic,)))
    names = [(str(p.symbol.root), p.quality) for p in home]
    assert names.index(("C", "M")) < names.index(("C", "7"))
    away = passing_options(ChordsBetween(four, four, Key.parse("F"), 60, (ChordSymbol.parse("Bb"),),
                                         (ChordSymbol.parse("Bb"),)))
    assert away[0].symbol.root == tonic.root
    assert ("C", "7") in [(str(p.symbol.root), p.quality) for p in away[:3]]
