"""The commands as a user runs them: what goes to stdout, to stderr, to disk, and the status."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from fillwright import Chorus
from fillwright.arranging import build
from fillwright.cli import main
from fillwright.demo import DEMO_TUNES, demo_path

pytestmark = pytest.mark.slow

LAMP = str(demo_path("lamp"))
UMBRELLA = str(demo_path("umbrella"))
QUICK = ("--formats", "json,musicxml,mid")


class Result(NamedTuple):
    status: int
    out: str
    err: str


Run = Callable[..., Result]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*arguments: str) -> Result:
        with pytest.raises(SystemExit) as end:
            main(arguments)
        captured = capsys.readouterr()
        status = end.value.code
        return Result(status if isinstance(status, int) else 0, captured.out, captured.err)

    return call


def files_under(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


# --- help -----------------------------------------------------------------------------------


def test_help_lists_the_commands(run: Run) -> None:
    result = run("--help")
    assert result.status == 0 and result.err == ""
    for command in ("gaps", "fills", "arrange", "demo"):
        assert f"\n  {command} " in result.out


@pytest.mark.parametrize("command", ["gaps", "fills", "arrange", "demo"])
def test_each_command_has_help_with_one_example(run: Run, command: str) -> None:
    result = run(command, "--help")
    assert result.status == 0
    assert result.out.count("Example: ") == 1 and f"fillwright {command}" in result.out


def test_the_caution_stands_beside_the_reach(run: Run) -> None:
    help_text = " ".join(run("arrange", "--help").out.split())
    assert "A stretch that hurts is rolled or left out" in help_text


# --- gaps -----------------------------------------------------------------------------------


def test_gaps_prints_a_table_that_fits_a_terminal(run: Run) -> None:
    result = run("gaps", LAMP)
    assert result.status == 0 and result.err == ""
    lines = result.out.splitlines()
    assert lines[0].startswith("Third Lamp on the Left: E♭ major, 4/4, 144 beats a minute")
    assert lines[2].split() == ["gap", "bar", "beat", "beats", "sec", "why", "held", "chords",
                                "landing"]
    assert max(map(len, lines)) <= 100
    assert "\x1b" not in result.out  # plain where it is no terminal


def test_a_long_title_does_not_widen_the_page(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "t.musicxml"
    path.write_bytes(demo_path("umbrella").read_bytes().replace(
        b"<work-title>", b"<work-title>" + b"On and on " * 30))
    result = run("gaps", str(path))
    assert result.out.startswith("On and on On and on") and "\u2026: C minor, 4/4" in result.out
    assert max(map(len, result.out.splitlines())) <= 98


def test_gaps_as_json_is_json_only(run: Run) -> None:
    document = json.loads(run("gaps", LAMP, "--json").out)
    assert list(document) == ["version", "tune", "options", "warnings", "gaps"]
    numbers = [gap["number"] for gap in document["gaps"]]
    assert numbers == list(range(1, len(numbers) + 1))
    table = run("gaps", LAMP).out.splitlines()
    assert len(table) == 4 + len(numbers)


def test_gaps_takes_tempo_key_and_octave(run: Run) -> None:
    plain = json.loads(run("gaps", LAMP, "--json", "--octave", "0").out)
    moved = json.loads(run("gaps", LAMP, "--json", "--octave", "1", "--key", "F", "--tempo",
                           "72").out)
    assert (moved["tune"]["key"], moved["tune"]["tempo"]) == ("F major", 72)
    assert (plain["tune"]["melody_octave"], moved["tune"]["melody_octave"]) == (0, 1)
    for low, high in zip(plain["gaps"], moved["gaps"], strict=True):
        assert high["held"]["midi"] - low["held"]["midi"] == 14  # an octave and a tone
        assert high["seconds"] == pytest.approx(2 * low["seconds"], abs=1e-5)
        assert high["onset_quarter"] == low["onset_quarter"]


# --- fills ----------------------------------------------------------------------------------


def fills_json(run: Run, *arguments: str) -> dict[str, Any]:
    result = run("fills", *arguments, "--json")
    assert result.status == 0, result.err
    document = json.loads(result.out)
    assert isinstance(document, dict)
    return document


def test_fills_of_one_gap_and_family(run: Run) -> None:
    document = fills_json(run, UMBRELLA, "--gap", "3", "--family", "line", "--count", "2")
    assert [gap["number"] for gap in document["gaps"]] == [3]
    assert 1 <= len(document["fills"]) <= 2 and document["empty"] == []
    assert {(fill["gap"], fill["family"]) for fill in document["fills"]} == {(3, "line")}
    assert document["options"]["level"] == "intermediate"


def test_fills_printed_for_people_fit_a_terminal(run: Run) -> None:
    result = run("fills", UMBRELLA, "--gap", "3", "--level", "advanced", "--hand", "large")
    assert result.status == 0 and result.err == ""
    lines = result.out.splitlines()
    assert max(map(len, lines)) <= 100
    assert any(line.startswith("Gap 3: bar 5") for line in lines)
    for family in ("comp", "reharm", "line"):
        assert f"  {family}" in lines
    for label in ("count", "right", "left", "melody", "why"):
        assert any(line.strip().startswith(label) for line in lines), label


def test_a_gap_that_does_not_exist_is_one_line(run: Run) -> None:
    result = run("fills", UMBRELLA, "--gap", "99")
    assert (result.status, result.out) == (2, "")
    assert result.err == "umbrella.musicxml: there is no gap 99; the tune has 7\n"


# --- arrange --------------------------------------------------------------------------------


def test_arrange_writes_what_was_asked_and_says_where(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    result = run("arrange", UMBRELLA, "-o", str(out), *QUICK)
    assert result.status == 0 and result.err == ""
    assert files_under(tmp_path) == ["deep", "deep/out", "deep/out/arrangement.json",
                                     "deep/out/arrangement.mid", "deep/out/arrangement.musicxml"]
    assert str(out / "arrangement.mid") in result.out
    document = json.loads((out / "arrangement.json").read_text(encoding="utf-8"))
    assert list(document) == ["version", "tune", "options", "warnings", "chords", "melody",
                              "gaps", "fills", "notes", "story"]


def test_arranging_twice_gives_the_same_bytes(run: Run, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert run("arrange", UMBRELLA, "-o", str(tmp_path / name), *QUICK).status == 0
    for path in sorted((tmp_path / "one").iterdir()):
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


def test_a_pick_by_id_is_kept(run: Run, tmp_path: Path) -> None:
    wanted = fills_json(run, UMBRELLA, "--gap", "3", "--family", "line")["fills"][-1]["id"]
    result = run("arrange", UMBRELLA, "-o", str(tmp_path / "out"), "--formats", "json",
                 "--pick", f"3={wanted}", "--pick", "1=open")
    assert result.status == 0, result.err
    document = json.loads((tmp_path / "out" / "arrangement.json").read_text(encoding="utf-8"))
    chosen = {fill["gap"]: fill["id"] for fill in document["fills"]}
    assert chosen[3] == wanted and 1 not in chosen
    assert document["options"]["picks"] == [f"3={wanted}", "1=open"]


def test_a_pick_that_does_not_exist_names_the_nearest_and_writes_nothing(
        run: Run, tmp_path: Path) -> None:
    result = run("arrange", UMBRELLA, "-o", str(tmp_path / "out"), *QUICK, "--pick", "3=nothing")
    assert (result.status, result.out) == (2, "")
    assert result.err.startswith("umbrella.musicxml: gap 3 has no fill 'nothing'; the nearest is ")
    assert result.err.count("\n") == 1
    assert files_under(tmp_path) == []


def test_an_output_folder_that_cannot_be_made_is_one_line(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    result = run("arrange", UMBRELLA, "-o", str(tmp_path / "file" / "out"), "--formats", "json")
    assert result.status == 2 and result.out == ""
    assert result.err.startswith("umbrella.musicxml: cannot write into ")
    assert result.err.count("\n") == 1
    assert files_under(tmp_path) == ["file"]


# --- what is wrong with a file, what is wrong with an option ----------------------------------

BAD_FILES = {
    "missing.musicxml": None,
    "empty.musicxml": b"",
    "prose.xml": b"It was a dark and stormy night.",
    "page.xml": b"<html><body/></html>",
    "cut.musicxml": demo_path("lamp").read_bytes()[:2000],
    "cut.mxl": b"PK\x03\x04\x14\x00\x00\x00",
    "no chords.musicxml": demo_path("lamp").read_bytes().replace(b"harmony>", b"forgotten>"),
    "entity.musicxml": b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "b">]>'
                       b"<score-partwise>&a;</score-partwise>",
}


@pytest.mark.parametrize("name", sorted(BAD_FILES))
@pytest.mark.parametrize("command", ["gaps", "fills", "arrange"])
def test_unusable_files_give_one_line_and_status_2(run: Run, tmp_path: Path, command: str,
                                                   name: str) -> None:
    path, content = tmp_path / "in" / name, BAD_FILES[name]
    path.parent.mkdir()
    if content is not None:
        path.write_bytes(content)
    before = files_under(tmp_path)
    extra = ("-o", str(tmp_path / "out")) if command == "arrange" else ("--json",)
    result = run(command, str(path), *extra)
    assert (result.status, result.out) == (2, "")
    assert result.err.startswith(f"{name}: ") and result.err.count("\n") == 1
    assert len(result.err) > len(name) + 12
    assert files_under(tmp_path) == before


def test_a_folder_in_place_of_a_file(run: Run, tmp_path: Path) -> None:
    result = run("gaps", str(tmp_path))
    assert result.status == 2 and result.err.startswith(f"{tmp_path.name}: ")
    assert result.err.count("\n") == 1
    assert run("gaps", ".").err == ".: it is a folder, not a file\n"


def test_a_second_tune_of_a_file_that_holds_one(run: Run) -> None:
    result = run("gaps", f"{LAMP}#2")
    assert (result.status, result.out) == (2, "")
    assert result.err == "lamp.musicxml#2: there is no tune 2; the file holds one\n"


def test_a_fault_of_the_program_is_one_line_too(run: Run, tmp_path: Path,
                                               monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("a string\nbroke")

    monkeypatch.setattr(build, "arrange", broken)
    arguments = ("arrange", LAMP, "-o", str(tmp_path / "out"))
    result = run(*arguments)
    assert (result.status, result.out) == (1, "")
    assert result.err.startswith("lamp.musicxml: the program failed on this tune (RuntimeError: ")
    assert result.err.count("\n") == 1 and files_under(tmp_path) == []
    monkeypatch.setenv("FILLWRIGHT_TRACEBACK", "1")
    with pytest.raises(RuntimeError):
        main(arguments)


@pytest.mark.parametrize("arguments", [
    ("gaps",),
    ("gaps", LAMP, "--tempo", "0"),
    ("gaps", LAMP, "--key", "H#"),
    ("fills", LAMP, "--level", "genius"),
    ("fills", LAMP, "--count", "0"),
    ("arrange", LAMP),
    ("arrange", LAMP, "-o", "out", "--formats", "json,docx"),
    ("arrange", LAMP, "-o", "out", "--pick", "three"),
    ("arrange", LAMP, "-o", "out", "--without", "tritone substitution"),
    ("fills", LAMP, "--without", "shells", "--without", "no such device"),
    ("demo", "--tune", "nothing"),
    ("sing", LAMP),
])
def test_wrong_options_are_usage_errors(run: Run, arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.status == 2 and result.out == ""
    assert result.err.startswith("Usage: fillwright")


def test_a_device_that_is_none_is_answered_with_the_nearest(run: Run) -> None:
    assert "'tritone substitute'" in run("fills", LAMP, "--without", "tritone substitution").err


def test_a_device_left_out(run: Run) -> None:
    arguments = (LAMP, "--gap", "1", "--family", "line", "--level", "beginner")
    device = fills_json(run, *arguments)["fills"][0]["device"]
    found = fills_json(run, *arguments, "--without", device.upper())
    assert found["options"]["without"] == [device]
    assert found["fills"] and device not in [fill["device"] for fill in found["fills"]]


def test_warnings_go_to_stderr_and_into_the_json(run: Run, tmp_path: Path) -> None:
    # An old exporter's spelling of a kind is understood with a warning.
    path = tmp_path / "old.musicxml"
    text = demo_path("umbrella").read_text(encoding="utf-8")
    path.write_text(text.replace(">dominant<", ">dominant-seventh<", 1), encoding="utf-8")
    result = run("gaps", str(path), "--json")
    assert result.status == 0
    document = json.loads(result.out)
    assert len(document["warnings"]) >= 1
    assert result.err.splitlines() == [f"old.musicxml: warning: {text}"
                                       for text in document["warnings"]]


# --- demo, and the whole process --------------------------------------------------------------


def test_demo_lists_its_tunes(run: Run) -> None:
    result = run("demo", "--list")
    assert [line.split()[0] for line in result.out.splitlines()] == list(DEMO_TUNES)


def test_all_formats_of_a_demo_tune_as_a_process(tmp_path: Path) -> None:
    out = tmp_path / "out"
    process = subprocess.run(
        [sys.executable, "-W", "error", "-m", "fillwright.cli", "demo", "--tune", "umbrella",
         "-o", str(out)], capture_output=True, text=True, encoding="utf-8", check=False)
    assert (process.returncode, process.stderr) == (0, "")
    names = files_under(out)
    assert {"arrangement.json", "arrangement.musicxml", "arrangement.mid", "arrangement.pdf",
            "arrangement.flac", "page-1.svg"} <= set(names)
    assert files_under(tmp_path) == sorted(["out", *(f"out/{name}" for name in names)])
    assert "Wrong Umbrella: C minor" in process.stdout
    assert str(out / "arrangement.pdf") in process.stdout
    assert (out / "arrangement.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "arrangement.flac").read_bytes().startswith(b"fLaC")


def test_a_reader_that_stops_early_is_no_error() -> None:
    process = subprocess.Popen([sys.executable, "-m", "fillwright.cli", "fills", UMBRELLA],
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None and process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    assert b"Traceback" not in process.stderr.read()
    process.stderr.close()
    process.wait()


def test_the_pipeline_of_the_readme(tmp_path: Path) -> None:
    from fillwright import (
        Arrangement,
        Options,
        arrange,
        engrave,
        find_gaps,
        perform,
        propose,
        read_tune,
        unfold,
    )

    tune = read_tune(demo_path("umbrella"))
    chorus = unfold(tune)
    assert isinstance(chorus, Chorus)
    gaps = find_gaps(chorus)
    options = propose(chorus, gaps, level="advanced", hand="medium", numbers=[3])
    assert options.of(gap=3, family="reharm")
    arrangement = arrange(tune, Options(level="beginner"))
    assert isinstance(arrangement, Arrangement)
    assert arrangement == build.arrange(tune, Options(level="beginner"))
    assert perform(arrangement).notes
    assert set(engrave(arrangement, ("musicxml",))) == {"arrangement.musicxml"}
