"""`fillwright audit`, and what `fillwright arrange` says of rules, repeats, mix and sound."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from tests.tune.sheets import backup, note

from fillwright.arranging import audit as audit_module
from fillwright.cli import main
from fillwright.demo import demo_path
from fillwright.rules import AUDITED, Audit, Finding

_NAMES = [rule.name for rule in AUDITED]
_OF_A_SCORE = _NAMES[:_NAMES.index("melody")]
"""The rules that need neither the tune nor its gaps."""

pytestmark = pytest.mark.slow

UMBRELLA = str(demo_path("umbrella"))


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


@pytest.fixture
def tenth(tmp_path: Path) -> Path:
    """A tenth struck in the left hand on the third beat of bar 2."""
    bars = "".join(f'<measure number="{number}">{content}</measure>' for number, content in (
        ("1", "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4"
              "</beat-type></time><staves>2</staves></attributes>"
              '<direction><sound tempo="100"/></direction>'
              + note("C5", 4, "<staff>1</staff>")),
        ("2", note("D5", 4, "<staff>1</staff>") + backup(2) + note("C3", 2, "<staff>2</staff>")
              + note("E4", 2, "<chord/>", "<staff>2</staff>"))))
    path = tmp_path / "tenth.musicxml"
    path.write_text("<score-partwise><work><work-title>Tenth</work-title></work>"
                    f"<part id='P1'>{bars}</part></score-partwise>", encoding="utf-8")
    return path


# --- audit ------------------------------------------------------------------------------


def test_audit_prints_the_rules_and_explains_each_finding(run: Run, tenth: Path) -> None:
    result = run("audit", str(tenth))
    assert (result.status, result.err) == (0, "")
    lines = result.out.splitlines()
    assert lines[0] == "Tenth: 2 bars, 4 notes, 100 beats a minute, medium hands"
    assert [line.split("  ")[0] for line in lines[4:15]] == _OF_A_SCORE
    assert lines[4].split()[:3] == ["reach", "3", "1"]
    assert lines[16].startswith("audit: 11 rules, ") and lines[16].endswith(", 1 finding")
    text = " ".join(" ".join(lines[17:]).split())
    assert text.startswith("Bar 2, beat 3: left hand cannot reach from C3 to E4; ")
    assert "roll it or leave out a note" in text and "never forced" in text
    assert max(map(len, lines)) <= 100


def test_a_large_hand_takes_it(run: Run, tenth: Path) -> None:
    result = run("audit", str(tenth), "--hand", "large")
    assert result.status == 0 and result.out.rstrip().endswith("checked, none violated")


def test_audit_as_json(run: Run, tenth: Path) -> None:
    document = json.loads(run("audit", str(tenth), "--json", "--tempo", "60.5").out)
    assert list(document) == ["version", "score", "options", "warnings", "rules", "findings"]
    assert document["score"] == {"title": "Tenth", "meter": "4/4", "tempo": 60.5, "bars": 2,
                                 "length_quarter": "8", "notes": 4}
    assert document["options"] == {"hand": "medium", "tempo": 60.5}
    assert document["rules"][0] == {"rule": "reach", "checked": 3, "broken": 1}
    assert document["findings"] == [{
        "rule": "reach", "onset_quarter": "6", "bar": "2", "beat": "3",
        "message": "left hand cannot reach from C3 to E4", "midis": [48, 64]}]
    assert json.loads(run("audit", str(tenth), "--json").out)["options"]["tempo"] is None


@pytest.mark.parametrize(("name", "content", "message"), [
    ("sheet.musicxml", demo_path("lamp").read_bytes(),
     "not a score for two hands: it has 1 staff instead of two"),
    ("take.mid", b"MThd\0\0\0\6\0\0", "not a score: it does not begin like XML"),
    ("gone.xml", None, "there is no such file"),
])
def test_what_cannot_be_audited_is_one_line(run: Run, tmp_path: Path, name: str,
                                            content: bytes | None, message: str) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    assert run("audit", str(path)) == (2, "", f"{name}: {message}\n")


def test_help_of_audit(run: Run) -> None:
    result = run("audit", "--help")
    assert result.status == 0 and result.out.count("Example: ") == 1
    assert "A stretch that hurts is rolled or left out" in " ".join(result.out.split())
    assert "\n  audit " in run("--help").out


# --- arrange ----------------------------------------------------------------------------


def arranged(run: Run, folder: Path, *options: str) -> tuple[Result, dict[str, Any]]:
    result = run("arrange", UMBRELLA, "-o", str(folder), "--level", "beginner", "--formats",
                 "json,musicxml,mid", *options)
    assert result.status == 0, result.err
    return result, json.loads((folder / "arrangement.json").read_text(encoding="utf-8"))


def test_arrange_says_that_the_rules_are_kept_and_audit_agrees(run: Run, tmp_path: Path) -> None:
    result, document = arranged(run, tmp_path / "out", "--audit")
    lines = result.out.splitlines()
    (line,) = [line for line in lines if line.startswith("audit: ")]
    table = lines[lines.index(line) + 4:]
    rules = [row.split("  ")[0] for row in table]
    assert line.startswith(f"audit: {len(rules)} rules, ")
    assert line.endswith(" checked, none violated")
    assert rules == [name for name in _NAMES if name in rules]
    assert set(_NAMES) - set(rules) <= {"pedalled", "avoid notes"}  # nothing there to ask
    counts = [row[len("minor ninths"):].split()[:2] for row in table]
    assert sum(int(checked) for checked, _ in counts) == int(line.split()[3])
    assert {broken for _, broken in counts} == {"0"}
    struck = len(document["notes"])
    assert counts[rules.index("range")] == [str(struck), "0"]
    checked = run("audit", str(tmp_path / "out" / "arrangement.musicxml"))
    assert checked.out.splitlines()[0].startswith(f"Wrong Umbrella: 12 bars, {struck} notes, ")


def test_arrange_tells_what_it_could_not_keep(run: Run, tmp_path: Path,
                                              monkeypatch: pytest.MonkeyPatch) -> None:
    def stern(_: object) -> Audit:
        return Audit((Finding("reach", Fraction(6), "left hand cannot reach", ()),),
                     (("reach", 7),))

    monkeypatch.setattr(audit_module, "audit_arrangement", stern)
    result, _ = arranged(run, tmp_path / "out")
    told = result.out[result.out.index("audit: "):]
    assert told.startswith("audit: 1 rules, 7 places checked, 1 finding\n  Bar 2, beat 3: left "
                           "hand cannot reach; ")


def test_choruses_introduction_and_ending(run: Run, tmp_path: Path) -> None:
    _, plain = arranged(run, tmp_path / "plain")
    _, long = arranged(run, tmp_path / "long", "--choruses", "2", "--intro", "4", "--ending", "2")
    assert (plain["tune"]["bars"], long["tune"]["bars"]) == (12, 30)
    assert {key: long["options"][key] for key in ("choruses", "introduction", "ending")} == {
        "choruses": 2, "introduction": 4, "ending": 2}
    gaps = json.loads(run("gaps", UMBRELLA, "--json", "--choruses", "2", "--intro", "4",
                          "--ending", "2").out)
    assert gaps["gaps"] == long["gaps"]
    fills = json.loads(run("fills", UMBRELLA, "--json", "--intro", "2", "--gap", "1",
                           "--family", "comp", "--count", "1").out)
    assert fills["tune"]["bars"] == 14 and fills["options"]["introduction"] == 2


def test_the_mix_decides_the_families(run: Run, tmp_path: Path) -> None:
    _, document = arranged(run, tmp_path / "out", "--mix", "line=1, comp=0")
    assert {fill["family"] for fill in document["fills"]} == {"line"}
    assert document["options"]["mix"] == {"line": 1, "comp": 0}


def test_a_click_is_only_in_the_sound(run: Run, tmp_path: Path) -> None:
    arranged(run, tmp_path / "plain")
    arranged(run, tmp_path / "click", "--click")
    for name, same in (("arrangement.json", True), ("arrangement.musicxml", True),
                       ("arrangement.mid", False)):
        assert ((tmp_path / "plain" / name).read_bytes()
                == (tmp_path / "click" / name).read_bytes()) is same, name


def test_a_soundfont_that_is_none_is_named_and_nothing_is_written(run: Run, tmp_path: Path
                                                                  ) -> None:
    font = tmp_path / "piano.sf2"
    font.write_bytes(b"no piano")
    result = run("arrange", UMBRELLA, "-o", str(tmp_path / "out"), "--level", "beginner",
                 "--formats", "flac", "--soundfont", str(font))
    assert (result.status, result.out) == (2, "")
    assert result.err.startswith("umbrella.musicxml: piano.sf2: not a usable SoundFont")
    assert result.err.count("\n") == 1 and not (tmp_path / "out").exists()


@pytest.mark.parametrize("option", [
    ("--choruses", "3"), ("--intro", "1"), ("--ending", "-2"), ("--soundfont", "no such file"),
    ("--mix", "comp"), ("--mix", "comp=x"), ("--mix", "comp=²"), ("--mix", "comp=-1"),
    ("--mix", "comp=1,comp=2"), ("--mix", "drums=1"), ("--mix", ""), ("--mix", "comp=0,line=0"),
    ("--mix", "comp=100")])
def test_wrong_values_are_usage_errors(run: Run, tmp_path: Path, option: tuple[str, str]) -> None:
    result = run("arrange", UMBRELLA, "-o", str(tmp_path / "out"), *option)
    assert (result.status, result.out) == (2, "")
    assert result.err.startswith("Usage: fillwright arrange") and option[0] in result.err
    assert not (tmp_path / "out").exists()
