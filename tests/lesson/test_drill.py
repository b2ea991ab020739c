"""Drills: their answers are the offers, family by family."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from tests.lesson.tunes import sheet

from fillwright import InputError, Options, Tune, drill, find_gaps, propose, read_tune
from fillwright.cli import main


def short(name: str) -> Tune:
    """The first bars of a tune."""
    tune = read_tune(sheet(name))
    return replace(tune, bars=tune.bars[:8])


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
