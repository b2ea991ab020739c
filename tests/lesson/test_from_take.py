"""A gap of a take becomes a rating."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.lesson.tunes import sheet

from fillwright import InputError, Options, Report, arrange, check_take, read_take, read_tune
from fillwright.cli import main
from fillwright.lesson import rating_of
from fillwright.sound import render_sound

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> tuple[Report, Path]:
    """A chorus of the program's own, played as it performs it."""
    tune = read_tune(sheet("lamp"))
    made = arrange(replace(tune, bars=tune.bars[:9]), Options(picks=((1, "comp:1"),)))
    path = tmp_path_factory.mktemp("take") / "take.mid"
    path.write_bytes(render_sound(made, ("mid",))["arrangement.mid"])
    return check_take(read_take(path), tune, Options()), path


def test_a_gap_that_was_answered_in_time_went_well(played: tuple[Report, Path]) -> None:
    report, _ = played
    found = rating_of(report, 1)
    assert found.rating in ("good", "easy", "hard") and found.why.endswith(".")
    assert found.tempo == round(report.tempo_mean)


def test_the_later_the_landing_the_worse_and_nothing_played_is_again(played: tuple[Report, Path]
                                                                     ) -> None:
    report, _ = played
    first = next(one for one in report.gaps if one.gap.number == 1)
    ratings = []
    for late in (0.02, -0.2, 0.4, 0.8, None):
        heard = replace(first, back_late_beats=late, findings=())
        ratings.append(rating_of(replace(report, gaps=(heard,)), 1).rating)
    assert ratings == ["easy", "good", "hard", "again", "again"]
    silent = replace(first, answer="open")
    assert rating_of(replace(report, gaps=(first, silent)), 1).rating == "again"
    with pytest.raises(InputError, match="does not come by gap 99"):
        rating_of(report, 99)


def test_the_command_hears_a_take(played: tuple[Report, Path], tmp_path: Path,
                                  capsys: pytest.CaptureFixture[str]) -> None:
    def run(*words: str) -> str:
        with pytest.raises(SystemExit) as end:
            main(["student", *words, "--data", str(tmp_path)])
        printed = capsys.readouterr()
        return f"{end.value.code or 0} {printed.out}{printed.err}"

    run("add", "Robin", "--level", "intermediate")
    run("give", "Robin", "--tune", "lamp", "--gap", "1", "--tempo", "160")
    run("give", "Robin", "--device", "shells")
    assert "again on" in run("rate", "Robin", "1", "--take", str(played[1]))
    assert "practises no gap of number 2" in run("rate", "Robin", "2", "--take", str(played[1]))
    assert run("rate", "Robin", "1").startswith("2 ")
    assert run("rate", "Robin", "1", "good", "--take", str(played[1])).startswith("2 ")
