"""A gap of a take becomes a rating."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.lesson.tunes import sheet

from fillwright import InputError, Options, Report, arrange, check_take, read_take, read_tune
from fillwright.cli import main
from fillwright.lesson import devices_heard, rating_of, rating_of_device
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


def test_a_device_went_as_in_the_middle_one_of_its_gaps(played: tuple[Report, Path]) -> None:
    report, _ = played
    first = next(one for one in report.gaps if one.gap.number == 1)
    gaps = tuple(replace(first, gap=replace(first.gap, bar=bar), device=device, findings=(),
                         back_late_beats=late)
                 for bar, device, late in (("3", "shells", 0.4), ("5", "shells, off the beat", 0.0),
                                           ("7", "scale run", 0.8),
                                           ("9", "shells, on the beat", 0.2),
                                           ("11", "sus delay, then dominant on the way", 0.0)))
    found = rating_of_device(replace(report, gaps=gaps[:4]), "shells")
    assert (found.rating, found.tempo) == ("good", round(report.tempo_mean))
    assert found.why.startswith("Heard in 3 gaps, and the middle one is that of bar 9: The landing")
    found = rating_of_device(replace(report, gaps=gaps), "dominant on the way")
    assert found.why.startswith("Bar 11: ")
    assert rating_of_device(replace(report, gaps=gaps[:2]), "shells").rating == "hard"
    assert rating_of_device(replace(report, gaps=gaps), "scale run").why.startswith("Bar 7: ")
    names = devices_heard(replace(report, gaps=gaps))
    assert set(names[:4]) == {"shells", "scale run", "sus delay", "dominant on the way"}
    assert set(names[4:]) == {"shells, off the beat", "shells, on the beat",
                              "sus delay, then dominant on the way"}
    for name in names:  # what one of a student's may be called is rated, here as on the page
        assert rating_of_device(replace(report, gaps=gaps), name)
    silent = replace(gaps[0], answer="open")
    with pytest.raises(InputError, match="shells is not heard in it"):
        rating_of_device(replace(report, gaps=(silent,)), "shells")


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
    assert "(--tune)" in run("rate", "Robin", "2", "--take", str(played[1]))
    device = next(one for one in ("scale run", "enclosure", "tritone substitute", "sus delay")
                  if one not in devices_heard(played[0]))
    for name in (device, devices_heard(played[0])[0]):
        run("give", "Robin", "--device", name, "--keys", "Eb")
    of_lamp = ("--take", str(played[1]), "--tune", "lamp")
    assert f"{device} is not heard in it" in run("rate", "Robin", "3", *of_lamp)
    assert "again on" in run("rate", "Robin", "4", *of_lamp)
    assert "has its tune" in run("rate", "Robin", "1", *of_lamp)
    assert "nothing of number 9" in run("rate", "Robin", "9", "--take", str(played[1]))
    assert run("rate", "Robin", "1").startswith("2 ")
    assert run("rate", "Robin", "1", "good", "--take", str(played[1])).startswith("2 ")
