"""Drills: their answers are the offers, family by family."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.demo_arrangements import arranged
from tests.lesson.tunes import sheet
from tests.take.perturb import Wish, midi_of, played

from fillwright import InputError, Options, Tune, drill, find_gaps, propose, read_tune
from fillwright.cli import main
from fillwright.lesson import Choice, ClassBook, choice_of, kind_of, slow_kinds, student_of


def short(name: str) -> Tune:
    """The first bars of a tune."""
    tune = read_tune(sheet(name))
    return replace(tune, bars=tune.bars[:8])


@pytest.mark.slow
@pytest.mark.parametrize("level", ["beginner", "advanced"])
def test_the_answers_are_what_propose_offers_first(level: str) -> None:
    tune = short("ferry")
    found = drill(tune, Options(level=level))
    chorus, gaps = found.chorus, find_gaps(found.chorus)
    offered = propose(chorus, gaps, level=level, count=4)
    assert len(found.gaps) == len(gaps) > 1
    for one in found.gaps:
        for family in ("comp", "reharm", "line"):
            first = next(iter(offered.of(one.gap.number, family)), None)
            works = next((fill for fill, _ in one.works if fill.family == family), None)
            assert works == first
            none = [empty.reason for empty in one.empty if empty.family == family]
            assert none == [empty.reason for empty in offered.empty
                            if (empty.gap, empty.family) == (one.gap.number, family)]
            assert bool(none) != bool(works)
            assert one.answer(family).endswith(".")


def test_a_choice_without_an_offer_is_explained() -> None:
    found = drill(short("ferry"), Options(tempo=400))  # type: ignore[arg-type]
    empty = [(one, none) for one in found.gaps for none in one.empty]
    assert empty
    for one, none in empty:
        assert none.reason in one.answer(none.family).lower() or none.reason[1:] in one.answer(
            none.family)
    with pytest.raises(InputError, match="no family"):
        found.gaps[0].answer("solo")


def test_an_answer_knows_its_kind_of_gap_and_whether_it_works() -> None:
    found = drill(short("ferry"), Options(level="beginner"))
    asked = found.gaps[0]
    assert kind_of(asked.gap, found.chorus) == "3 beats, major, medium tempo"
    right = choice_of(asked, found.chorus, asked.works[0][0].family, 1.5)
    assert (right.works, right.seconds) == (True, 1.5)
    none = replace(asked, works=())
    assert not choice_of(none, found.chorus, "comp", 1).works
    for family, seconds in (("solo", 1), ("comp", -1), ("comp", "soon")):
        with pytest.raises(InputError):
            choice_of(asked, found.chorus, family, seconds)  # type: ignore[arg-type]


def test_the_slowest_kind_of_gap_comes_first(tmp_path: Path) -> None:
    row = [Choice("2 beats", "comp", True, 1), Choice("4 beats", "line", False, 5),
           Choice("2 beats", "line", True, 2), Choice("4 beats", "comp", True, 3)]
    assert [(one.kind, one.asked, one.worked, one.seconds) for one in slow_kinds(row)] == [
        ("4 beats", 2, 1, 4), ("2 beats", 2, 2, 1.5)]
    with ClassBook(tmp_path / "book") as book:
        book.add(student_of("Robin"))
        for place, choice in enumerate(row):
            book.chose("Robin", choice, datetime(2026, 3, 2, 12, place, tzinfo=UTC))
        assert book.choices("Robin") == tuple(row)
        assert len(book.export("Robin", datetime(2026, 3, 2, tzinfo=UTC))["choices"]) == 4
        book.delete("Robin")
    assert b"4 beats" not in (tmp_path / "book").read_bytes()


@pytest.mark.slow
def test_the_command_asks_and_keeps_the_answers(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
        ) -> None:
    def run(*words: str, typed: str = "") -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        with pytest.raises(SystemExit) as end:
            main([*words, "--data", str(tmp_path)])
        printed = capsys.readouterr()
        return f"{end.value.code or 0} {printed.out}{printed.err}"

    asked = ("drill", str(sheet("ferry")), "--level", "beginner", "--ask", "--student", "Robin")
    assert run(*asked, typed="c\n").startswith("2 ")  # there is no Robin yet
    run("student", "add", "Robin")
    said = run(*asked, typed="c\nline\n\n")
    assert "2 of 2 would have worked" in said and "kind of gap" in said
    assert '"family": "line"' in run("student", "export", "Robin")


@pytest.mark.slow
def test_a_recorded_take_answers_by_playing(tmp_path: Path, capsys: pytest.CaptureFixture[str]
                                            ) -> None:
    """A student who never existed plays the arrangement; each gap is heard as what it was."""
    made = arranged("ferry", "beginner")
    (tmp_path / "a.mid").write_bytes(midi_of(played(made, Wish()).take))
    asked = ["drill", str(sheet("ferry")), "--level", "beginner",
             "--take", str(tmp_path / "a.mid"), "--data", str(tmp_path), "--student", "Robin"]
    with ClassBook(tmp_path / "students.sqlite3") as book:
        book.add(student_of("Robin"))
    with pytest.raises(SystemExit) as end:
        main([*asked, "--json"])
    assert not end.value.code
    answers = json.loads(capsys.readouterr().out)["answers"]
    several = {fill.gap: fill.family for fill in made.fills
               if len({note.onset_quarter for note in fill.notes} - {
                   made.gaps[fill.gap - 1].onset_quarter}) > 1}  # one stroke is accompaniment
    assert len(several) > 3
    assert {one["number"]: one["family"] for one in answers} == several
    assert all(one["works"] and 0 <= one["seconds"] < 10 for one in answers)
    with ClassBook(tmp_path / "students.sqlite3") as book:
        assert len(book.choices("Robin")) == len(answers)
    with pytest.raises(SystemExit):
        main(asked)
    said = capsys.readouterr().out
    assert "heard as" in said and f"{len(answers)} of {len(answers)} would have worked" in said


@pytest.mark.slow
def test_the_command_prints_an_entry_a_gap(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["drill", str(sheet("ferry")), "--level", "beginner", "--json"])
    value = json.loads(capsys.readouterr().out)
    assert [one["number"] for one in value["gaps"]] == list(range(1, len(value["gaps"]) + 1))
    for one in value["gaps"]:
        assert {"bar", "beat", "beats", "seconds", "works", "empty"} <= one.keys()
        families = [each["family"] for each in (*one["works"], *one["empty"])]
        assert sorted(families) == ["comp", "line", "reharm"]
        assert all(each["device"] and each["sentence"].endswith(".") for each in one["works"])
    with pytest.raises(SystemExit):
        main(["drill", str(sheet("ferry")), "--questions"])
    assert "comp, reharm, line?" in capsys.readouterr().out


@pytest.mark.slow
def test_on_paper_it_has_the_sheet_a_line_to_tick_and_the_answers(tmp_path: Path) -> None:
    """Read back with a general PDF library (pypdfium2)."""
    import pypdfium2  # type: ignore[import-untyped]

    with pytest.raises(SystemExit) as end:
        main(["drill", str(sheet("ferry")), "--level", "beginner", "-o", str(tmp_path)])
    assert not end.value.code
    pages = [page.get_textpage().get_text_range()
             for page in pypdfium2.PdfDocument(tmp_path / "drill.pdf")]
    text = " ".join(pages)
    assert "comp, reharm or line?" in text and "Answers" in text and "pain is a matter" in text
    assert text.count("Gap 1:") == 1 and "secondary dominant" in pages[-1] + pages[-2]
