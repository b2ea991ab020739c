"""Packs: what is handed out of a fill, on paper, and by the command."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
from tests.sweep import every

import fillwright
from fillwright import Edition, InputError
from fillwright.cli import main
from fillwright.lesson import (
    PACK_FILES,
    SHOWS,
    GapTask,
    PackPlan,
    Search,
    Tunes,
    messages,
    pack_files,
    pack_warnings,
    read_plan_text,
    sheet_of,
    tasks_of,
)
from fillwright.lesson.staff import StaffWanted, engraved

HARM = 'Ho<b>ld</b> #strong[x] *y* $z$ \\"'
PLAN = f"""
title = '{HARM}'
teacher = "#let x = 1"
paper = "Letter"

[[item]]
tune = "ferry"
gap = 4
fill = "comp:1"
words = '''</script> {HARM}

#pagebreak()'''

[[item]]
tune = "ferry"
gap = 4
fill = "comp:1"
show = "rhythm"
reasons = false
"""


def plan_of(*items: str) -> PackPlan:
    return read_plan_text("\n".join(['title = "A"', *(f"[[item]]\n{item}" for item in items)]))


def planned(*items: str) -> tuple[PackPlan, Sequence[GapTask]]:
    plan = plan_of(*items)
    return plan, tasks_of(plan, Path())


def task_of(item: str) -> GapTask:
    return tasks_of(plan_of(item), Path())[0]


SHEET = Path(fillwright.__file__).parent / "data" / "ferry.musicxml"
FERRY = 'tune = "ferry"\ngap = 4\nfill = "comp:1"'
SNOW = 'tune = "snow"\ngap = 2\nfill = "reharm:1"'


@every((FERRY, SNOW), SHOWS)
def test_as_much_of_the_fill_is_handed_out_as_was_asked(item: str, show: str) -> None:
    task = task_of(item)
    sheet = sheet_of(task, show)
    own = {(n.onset_quarter, n.midi, n.hand)
           for n in task.filled.arrangement.notes if n.role == "fill"}
    shown = {(n.onset_quarter, n.midi, n.hand) for n in sheet.arrangement.notes
             if n.role == "fill"}
    melody = [n for n in sheet.arrangement.notes if n.role == "melody"]
    written = sheet.arrangement.chorus.melody
    assert [n.pitch for n in melody] == [n.pitch for n in written]
    if show in ("blank", "chords"):
        assert not shown
    elif show == "rhythm":
        assert {(place, hand) for place, _, hand in shown} == {
            (place, hand) for place, _, hand in own}
        assert len(sheet.hints) == len(shown)
        places = {n.pitch.staff_position for n in sheet.arrangement.notes if n.role == "fill"}
        assert len(places) == 2 and task.gap.held is not None
        assert min(abs(place - task.gap.held.pitch.staff_position) for place in places) >= 4
    elif show == "first":
        first = {hand: min(place for place, _, side in own if side == hand)
                 for _, _, hand in own}
        assert shown == {note for note in own if note[0] == first[note[2]]} and shown < own
    else:
        assert shown == own
    added = [span for span in sheet.arrangement.chords if span.added]
    assert bool(added) == (show in ("chords", "filled") and item == SNOW)
    gap = sheet.arrangement.gaps[0]
    assert not any(gap.onset_quarter <= n.onset_quarter < gap.end_quarter
                   for n in sheet.arrangement.notes if n.role == "base")


def test_a_gap_without_a_named_fill_gets_the_first_that_is_offered() -> None:
    assert task_of('tune = "ferry"\ngap = 4').fill == task_of(FERRY).fill


def test_an_edition_gives_what_it_has_decided(tmp_path: Path) -> None:
    edition = Edition.of_sheet(SHEET).with_settings(
        {"level": "beginner", "key": "A"}).with_choice(4, "comp:1", [(0, None)]).with_choice(
            5, "open")
    edition.save(tmp_path / "own.json")
    item = 'tune = "own.json"\ngap = 4'
    task = tasks_of(plan_of(item), tmp_path)[0]
    plain = tasks_of(plan_of(f'{item}\nfill = "comp:1"'), tmp_path)[0]
    assert (task.options.level, str(task.chorus.key)) == ("beginner", "A major")
    assert len(task.fill.notes) == len(plain.fill.notes) - 1  # one was taken out
    shown = [n for n in sheet_of(task, "filled").arrangement.notes if n.role == "fill"]
    assert len(shown) == len(task.fill.notes)
    moved = tasks_of(plan_of(f'{item}\nkey = "G"\nlevel = "advanced"'), tmp_path)[0]
    assert (moved.options.level, str(moved.chorus.key)) == ("advanced", "G major")
    with pytest.raises(InputError, match="item 1: the edition leaves gap 5 open"):
        tasks_of(plan_of('tune = "own.json"\ngap = 5'), tmp_path)


@pytest.mark.slow
def test_editions_may_be_there_already_and_a_set_keeps_its_level() -> None:
    """What a plan or a set says of level and hand goes before what an edition has decided."""
    edition = Edition.of_sheet(SHEET).with_settings({"level": "advanced", "key": "A"})
    tunes = Tunes(Path("nowhere"), {"own": edition})
    task = tasks_of(plan_of('tune = "own"\ngap = 4'), tunes)[0]
    assert (task.options.level, str(task.chorus.key)) == ("advanced", "A major")
    found = Search(["own"], tunes).gaps_in_order("beginner", 1)[0]
    assert found.fill.level == "beginner" and found.item.named == {"level", "hand"}


@pytest.mark.slow
def test_over_the_names_of_chords_a_line_is_played_and_not_they() -> None:
    def asked(fill: str) -> str:
        item = f'[[item]]\ntune = "ferry"\ngap = 4\nfill = "{fill}"\nshow = "chords"'
        return " ".join(text_of(made(f'title = "A"\n{item}')["pack.pdf"]).split())

    assert "Play these chords in the grey place" in asked("comp:1")
    assert "Play a line over these chords in the grey place" in asked("line:1")


@pytest.mark.slow
def test_the_lines_of_a_narrow_staff_stand_close() -> None:
    """On a telephone the music is not spread as over a page."""
    sheet = sheet_of(task_of(FERRY), "blank")
    wide, narrow = engraved([StaffWanted(sheet, 1800, 7.5), StaffWanted(sheet, 700, 7.5, bars=1)])
    lines = narrow.count('class="system"')
    one, several = (int(re.search(r'viewBox="\S+ \S+ \S+ (\d+)"', drawn)[1])  # type: ignore[index]
                    for drawn in (wide, narrow))
    assert lines > 1 and several < lines * one


def test_a_hint_that_says_nothing_is_told() -> None:
    for item, told in ((FERRY, 1), (SNOW, 0)):
        plan = plan_of(f'{item}\nshow = "chords"')
        assert len(pack_warnings(plan, tasks_of(plan, Path()))) == told
    plan = plan_of(FERRY)
    assert pack_warnings(plan, tasks_of(plan, Path())) == ()


def test_words_that_no_typeface_here_has_are_told() -> None:
    plan = replace(plan_of(FERRY), student="Åse, Łucja, Игорь, 漢字漢")
    said, = pack_warnings(plan, tasks_of(plan, Path()))
    assert said.endswith("typeface with them: 漢, 字")


WRONG = {
    'tune = "nowhere.musicxml"\ngap = 1': "item 2: there is no tune 'nowhere.musicxml'",
    'tune = "ferry"\ngap = 99': "item 2: there is no gap 99",
    'tune = "ferry"\ngap = 4\nfill = "comp:999"': "item 2: gap 4 has",
    'tune = "ferry"\ngap = 7\nfill = "line:1"': "item 2: gap 7 has no line fill: ",
}


@every(WRONG.items())
def test_what_is_not_there_is_said_by_item(item: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        tasks_of(plan_of(FERRY, item), Path())
    assert said in str(refused.value)


def test_every_language_says_everything() -> None:
    english, german = messages("en"), messages("de")
    assert english.keys() == german.keys()
    for key, text in english.items():
        assert text and german[key]
        assert set(re.findall(r"{\w+}", text)) == set(re.findall(r"{\w+}", german[key])), key


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return made(PLAN)


def made(text: str) -> dict[str, bytes]:
    plan = read_plan_text(text)
    return pack_files(plan, tasks_of(plan, Path()))


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()


@pytest.mark.slow
def test_the_brace_is_on_the_page() -> None:
    """The curve of the brace is followed here: it bulges to the left of where the staff begins."""
    drawn = engraved([StaffWanted(sheet_of(task_of(FERRY), "filled"), 1800, 7.5)])[0]
    begins = float(re.search(r'viewBox="(\S+) ', drawn)[1])  # type: ignore[index]
    brace = re.search(r'class="grpSym">\s*<path d="M(-?\d+),\d+ C(-?\d+),\d+ (-?\d+),\d+ (-?\d+)',
                      drawn)
    assert brace is not None
    p, q, r, s = map(int, brace.groups())
    bulge = min((1 - t) ** 3 * p + 3 * (1 - t) ** 2 * t * q + 3 * (1 - t) * t ** 2 * r + t ** 3 * s
                for t in (step / 50 for step in range(51)))
    assert re.search(r'<svg class="definition-scale"[^>]* overflow="visible"', drawn)
    assert begins <= bulge / 10 + 6 < 0  # the margin is six tenths of a millimetre


@pytest.mark.slow
def test_each_staff_is_drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """For two widths: what is handed out filled is its own answer; a rhythm has another."""
    asked: list[int] = []
    pack = sys.modules["fillwright.lesson.pack"]
    real = pack.engraved

    def counting(wanted: Sequence[Any]) -> Any:
        asked.append(len(wanted))
        return real(wanted)

    monkeypatch.setattr(pack, "engraved", counting)
    made(PLAN)
    assert asked == [2 * 3]


@pytest.mark.slow
def test_words_are_words_on_paper(files: dict[str, bytes]) -> None:
    text = " ".join(text_of(files["pack.pdf"]).split())
    assert text.count(HARM) == 2 and "</script>" in text and "#pagebreak()" in text
    assert "#let x = 1" in text and "Find the keys for this rhythm." in text
    assert text.count("doctor.") >= 1 and "Why it works" in text
    answers = " ".join(text_of(files["answers.pdf"]).split())
    assert f"{HARM}: Answers" in answers and answers.count("Why it works") == 2
    assert "#pagebreak()" not in answers


@pytest.mark.slow
def test_paper_has_its_size_and_the_same_bytes(files: dict[str, bytes]) -> None:
    document = pypdfium2.PdfDocument(files["pack.pdf"])
    assert tuple(map(round, document[0].get_size())) == (612, 792)  # Letter: 8½ by 11 inches
    document.close()
    assert files == made(PLAN)
    value = json.loads(files["pack.json"])
    assert [item["show"] for item in value["items"]] == ["filled", "rhythm"]
    assert value["items"][0]["fill"]["family"] == "comp" and value["title"] == HARM


def lines_across(pdf: bytes) -> int:
    """Lines from margin to margin on the first page, in rows of the picture."""
    document = pypdfium2.PdfDocument(pdf)
    grey = document[0].render(scale=3).to_pil().convert("L")
    document.close()
    rows = [all(grey.getpixel((x, y)) < 200 for x in range(150, grey.width - 150, 15))
            for y in range(grey.height)]
    return sum(row and not before for before, row in pairwise([False, *rows]))


@pytest.mark.slow
def test_what_is_alone_on_its_page_has_staves_to_write_on() -> None:
    """Ten lines for each grand staff, beside those of the music; no word of levels, and no number
    on a single page."""
    alone = pack_files(*planned(FERRY))
    two = pack_files(*planned(FERRY, SNOW))
    assert lines_across(alone["pack.pdf"]) >= lines_across(alone["answers.pdf"]) + 20
    assert lines_across(two["pack.pdf"]) == lines_across(two["answers.pdf"])
    text = text_of(alone["pack.pdf"])
    assert "Name:" in text and "intermediate" not in text and "1 of 1" not in text
    assert "intermediate" in text_of(alone["answers.pdf"])
    # Each staff has its clef and the key signature, each two of them a brace.
    assert "Your own for this place:" in text and "Your own" not in text_of(two["pack.pdf"])
    grand, fifths = text.count("\ue000"), planned(FERRY)[1][0].chorus.key.fifths
    assert grand >= 2 and text.count("\ue050") == text.count("\ue062") == grand
    assert fifths and text.count("\ue260" if fifths < 0 else "\ue262") >= 2 * grand * abs(fifths)


HELD = """X:1
T:Held Over
M:4/4
L:1/4
Q:1/4=120
K:C
"Cmaj7"e d c B|"Am7"A2 c2-|"Dm7"c2 d e|"G7"d4|"Em7"g f e d|"A7"^c4|"Dm7"a g f e|"G7"d4|]
"""


def test_what_is_held_into_the_first_bar_is_printed(tmp_path: Path) -> None:
    """The bar where it is struck stands before it: a rest in its place would be played as one."""
    (tmp_path / "held.abc").write_text(HELD)
    plan = plan_of(f"tune = '{tmp_path / 'held.abc'}'\ngap = 3")
    task = tasks_of(plan, tmp_path)[0]
    assert task.gap.bar == "4"
    assert task.filled.start_quarter == 4
    melody = task.filled.arrangement.chorus.melody
    assert any(note.onset_quarter < 4 < note.end_quarter for note in melody)


@pytest.mark.slow
def test_the_answers_to_larger_print_are_as_compact_as_others() -> None:
    plan, tasks = planned(FERRY, SNOW, FERRY, SNOW)
    usual, larger = (pack_files(replace(plan, larger_print=is_larger), tasks)
                     for is_larger in (False, True))

    def pages(files: dict[str, bytes], name: str) -> int:
        document = pypdfium2.PdfDocument(files[name])
        try:
            return len(document)
        finally:
            document.close()

    assert pages(larger, "pack.pdf") > pages(usual, "pack.pdf")
    assert pages(larger, "answers.pdf") == pages(usual, "answers.pdf") == 2


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*arguments: str | Path) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as end:
            main(["pack", *map(str, arguments)])
        out, err = capsys.readouterr()
        return int(end.value.code or 0), out, err

    return call


@pytest.mark.parametrize("text", [
    "", 'title = "A"\n[[item]]\ntune = "ferry"\ngap = 400\n', 'title = "A"\nx = 1'])
def test_a_wrong_plan_writes_nothing(run: Run, tmp_path: Path, text: str) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(text)
    code, out, err = run(plan, "-o", tmp_path / "out")
    assert (code, out) == (2, "") and err.startswith("plan.toml: ") and err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["plan.toml"]


@pytest.mark.slow
def test_the_command_writes_a_folder(run: Run, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN)
    code, out, err = run(plan, "-o", tmp_path / "out")
    assert (code, err) == (0, "") and "2 items" in out
    assert {path.name for path in (tmp_path / "out").iterdir()} == set(PACK_FILES)
