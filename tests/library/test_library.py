"""The library: sheets added, kept whatever happens, and found."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

import fillwright
from fillwright import InputError, Key, Library, Question, find_gaps, propose, read_tune, unfold
from fillwright.cli import main
from fillwright.library import SCHEMA_VERSION, devices_in, sheets_below, span_of, work_out

UMBRELLA = Path(str(fillwright.__file__)).parent / "data" / "umbrella.musicxml"
HEADER = "X:1\nT:{}\nM:4/4\nL:1/4\nQ:1/4={}\nK:{}\n"
FIRST = '"Dm7" A4 | "G7" B2 "Cmaj7" c d | "Em7" e4- | "A7" e2 f2 |"C6" e4 |]\n'
SECOND = '"F7" c4 | "Bb7" d4 | "Cm7" g2- "F7" g2 | "Bbmaj7" f4 |]\n'
BAD = "X:1\nK:C\nA4|B4|\n"


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Library]:
    with Library(tmp_path / "data" / "library.sqlite3") as opened:
        yield opened


@pytest.fixture
def sheets(tmp_path: Path) -> Path:
    folder = tmp_path / "sheets"
    (folder / "more").mkdir(parents=True)
    (folder / "first.abc").write_text(HEADER.format("First Light", 120, "C") + FIRST)
    (folder / "more" / "second.abc").write_text(HEADER.format("Second Wind", 200, "Bb") + SECOND)
    return folder


def names(paths: list[str]) -> list[str]:
    return [os.path.basename(path) for path in paths]


def content(shelf: Library) -> list[object]:
    """All that is kept, without the numbers of rows."""
    found: list[object] = []
    for sql in ("SELECT path, number, digest, refused FROM files ORDER BY path, number",
                "SELECT content, fingerprint, title, key, tempo FROM sheets ORDER BY content",
                "SELECT content, gaps.number, beats, rows.row, semitones, landing FROM gaps JOIN "
                "sheets ON sheets.id = gaps.sheet JOIN rows ON rows.id = gaps.row "
                "ORDER BY content, gaps.number",
                "SELECT content, gaps.number, devices.name, difficulty, rank FROM offers JOIN gaps "
                "ON gaps.id = offers.gap JOIN sheets ON sheets.id = gaps.sheet JOIN devices ON "
                "devices.id = offers.device ORDER BY content, gaps.number, devices.name"):
        found += shelf.connection.execute(sql).fetchall()
    return found


def test_what_is_new_changed_gone_and_the_same_is_told_apart(shelf: Library, sheets: Path) -> None:
    first = shelf.add([sheets])
    assert names(first.added) == ["first.abc", "second.abc"] and len(shelf) == 2
    again = shelf.add([sheets])
    assert names(again.unchanged) == ["first.abc", "second.abc"] and not again.added
    # Another date is no other content; another content is.
    os.utime(sheets / "first.abc", (1, 1))
    (sheets / "more" / "second.abc").write_text(HEADER.format("Second Wind", 90, "Bb") + SECOND)
    (sheets / "bad.abc").write_text(BAD)
    third = shelf.add([sheets])
    assert names(third.unchanged) == ["first.abc"] and names(third.changed) == ["second.abc"]
    [(path, sentence)] = third.refused
    assert path.endswith("bad.abc") and "chord symbols" in sentence
    # What is wrong with a file is told whoever asks again, also where only its date is new.
    fourth = shelf.add([sheets])
    assert fourth.refused == third.refused and len(fourth.unchanged) == 2
    os.utime(sheets / "bad.abc", (2, 2))
    assert shelf.add([sheets]).refused == third.refused
    assert {gap.tempo for gap in shelf.find(Question(title="wind")).gaps} == {90.0}
    (sheets / "first.abc").unlink()
    (sheets / "bad.abc").unlink()
    gone = shelf.add([sheets])
    assert names(gone.gone) == ["bad.abc", "first.abc"] and len(shelf) == 1
    assert shelf.find(Question(title="light")).total == 0


def test_the_same_music_lies_on_the_shelf_once(shelf: Library, sheets: Path) -> None:
    same = (sheets / "first.abc").read_text()
    (sheets / "other.abc").write_text(same)
    moved = '"Em7" B4 | "A7" c2 "Dmaj7" d e | "F#m7" f4- | "B7" f2 g2 |"D6" f4 |]\n'
    (sheets / "up.abc").write_text(HEADER.format("First Light", 120, "D") + moved)
    added = shelf.add([sheets])
    assert sorted(names([path for path, _ in added.copies])) == ["other.abc", "up.abc"]
    assert {title for _, title in added.copies} == {"First Light"}
    once, every = Question(title="light"), Question(title="light", copies=True)
    assert shelf.find(once).total == 5 and shelf.find(every).total == 10
    # In the key it is asked for in, a copy is as good as the first.
    assert {gap.key for gap in shelf.find(Question(title="light", key="D")).gaps} == {"D major"}
    (sheets / "first.abc").unlink()
    (sheets / "other.abc").unlink()
    shelf.add([sheets])
    assert {gap.key for gap in shelf.find(once).gaps} == {"D major"}


def test_a_book_gives_each_of_its_tunes(shelf: Library, tmp_path: Path) -> None:
    book = tmp_path / "book.abc"
    tunes = [HEADER.format(title, 120, "C").replace("X:1", f"X:{number}") + music for
             number, title, music in ((1, "One", FIRST), (5, "Five", BAD[7:]), (7, "Two", SECOND))]
    book.write_text("\n".join(tunes))
    added = shelf.add([book])
    assert len(shelf) == 2 and [path.rpartition("#")[2] for path, _ in added.refused] == ["5"]
    again = shelf.add([book])
    assert again.refused == added.refused and names(again.unchanged) == ["book.abc"]
    found = shelf.find(Question(title="two")).gaps
    assert found and found[0].tune.endswith("book.abc#7")
    assert read_tune(found[0].tune).title == "Two"


@pytest.mark.slow
@pytest.mark.parametrize("numbers", ["0 0 0", "2 2 0", "1 1 2", "3 1 1"])
def test_a_book_whose_tunes_share_a_number_loses_none(
        shelf: Library, tmp_path: Path, numbers: str) -> None:
    book = tmp_path / "book.abc"
    book.write_text("\n".join(
        HEADER.format(title, 120, "C").replace("X:1", f"X:{number}") + music
        for title, music, number in zip(("One", "Two", "Three"), (FIRST, SECOND, FIRST + SECOND),
                                        numbers.split(), strict=True)))
    shelf.add([book])
    for title in ("One", "Two", "Three"):
        found = shelf.find(Question(title=title.lower(), copies=True)).gaps
        assert found and {read_tune(gap.tune).title for gap in found} == {title}


def test_folders_are_looked_through_whatever_is_in_them(shelf: Library, sheets: Path) -> None:
    (sheets / "more" / "round").symlink_to(sheets, target_is_directory=True)
    (sheets / "broken.abc").symlink_to(sheets / "nowhere.abc")
    (sheets / ".hidden").mkdir()
    (sheets / ".hidden" / "x.abc").write_text(BAD)
    (sheets / "notes.txt").write_text("no sheet")
    os.mkfifo(sheets / "pipe.abc")
    added = shelf.add([sheets, sheets / "first.abc"])
    assert names(added.added) == ["first.abc", "second.abc"]
    assert sorted(names([path for path, _ in added.refused])) == ["broken.abc", "pipe.abc"]
    odd = os.fsdecode(os.fsencode(sheets) + b"/t\xfcne.abc")  # a name that is no text
    Path(odd).write_text(HEADER.format("Third", 100, "C") + FIRST)
    shelf.add([sheets])
    [gap, *_] = shelf.find(Question(title="third", copies=True)).gaps
    assert gap.tune.endswith("t�ne.abc")
    with pytest.raises(InputError, match="nowhere"):
        shelf.add([sheets / "nowhere"])


def test_what_lies_in_a_folder_that_cannot_be_read_stays(
        shelf: Library, sheets: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.add([sheets])
    real = os.scandir

    def closed(path: str) -> object:
        if str(path).endswith("more"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", closed)
    added = shelf.add([sheets])
    [(path, sentence)] = added.refused
    assert path.endswith("more") and "Permission denied" in sentence
    assert not added.gone and len(shelf) == 2


@pytest.mark.slow
def test_a_full_disk_is_one_sentence_and_nothing_is_lost(
        shelf: Library, sheets: Path, tmp_path: Path) -> None:
    shelf.add([sheets / "first.abc"])
    pages = shelf.connection.execute("PRAGMA page_count").fetchone()[0]
    shelf.connection.execute(f"PRAGMA max_page_count = {pages}")  # what SQLite calls a full disk
    for number in range(12):
        (sheets / f"n{number}.abc").write_text(
            HEADER.format(f"N {number}", 100, "C") + FIRST.replace("|]", "|") * (number + 2))
    with pytest.raises(InputError, match="disk is full"):
        shelf.add([sheets])
    shelf.connection.execute("PRAGMA max_page_count = 1000000")
    assert shelf.find(Question(title="first light")).total == 5
    assert shelf.connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    shelf.add([sheets])
    assert len(shelf) == 14


def test_a_file_that_is_no_library_is_not_touched(tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite3"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE theirs (x)")
    connection.close()
    text = tmp_path / "text.sqlite3"
    text.write_text("not a database, but long enough to be taken for one " * 100)
    newer = tmp_path / "newer.sqlite3"
    Library(newer).close()
    with sqlite3.connect(newer) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    connection.close()
    for path, words in ((other, "another program"), (text, "no library"), (newer, "newer version")):
        before = path.read_bytes()
        with pytest.raises(InputError, match=words):
            Library(path)
        assert path.read_bytes() == before


# --- devices --------------------------------------------------------------------------------


@pytest.mark.slow
def test_what_is_offered_is_what_the_program_proposes_and_may_be_used(shelf: Library) -> None:
    path = UMBRELLA
    shelf.add([path])
    shelf.work_out("beginner")
    chorus = unfold(read_tune(path))
    proposal = propose(chorus, find_gaps(chorus), level="beginner")
    answer = shelf.find(Question(level="beginner", sort="shelf"))
    for gap in answer.gaps:
        wanted: dict[str, int] = {}
        for fill in proposal.of(gap.number):
            for name in devices_in(fill.device, fill.family):
                wanted.setdefault(name, fill.difficulty)
        assert {device.name: device.difficulty for device in gap.devices} == wanted
    assert answer.total == len(find_gaps(chorus))
    for work in work_out(read_tune(path), "beginner", "medium", "offered").gaps:
        assert {offer.name for offer in work.offers} <= work.may


@pytest.mark.slow
def test_nothing_is_ever_offered_that_may_not_be_used() -> None:
    for level in ("beginner", "intermediate"):
        for work in work_out(read_tune(UMBRELLA), level, "small", "full").gaps:
            assert {offer.name for offer in work.offers} <= work.may
            assert len(work.may) < 140  # it says something: there are 180


# --- questions ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    folder = tmp_path_factory.mktemp("worked")
    (folder / "first.abc").write_text(HEADER.format("First Light", 120, "C") + FIRST)
    (folder / "second.abc").write_text(HEADER.format("Second Wind", 200, "Bb") + SECOND)
    with Library(folder / "library.sqlite3") as opened:
        opened.add([folder, UMBRELLA])
        opened.work_out("beginner")
        yield opened


QUESTIONS = [
    Question(beats=(3.0, None)), Question(beats=(None, 2.0)), Question(seconds=(1.0, 2.0)),
    Question(tempo=(None, 140.0)), Question(over="IIm7"), Question(over="IIm7 V7"),
    Question(over="V7/II"), Question(into="Imaj7"), Question(holding="5"), Question(holding="b3"),
    Question(landing="step up"), Question(landing="leap down"), Question(place="end"),
    Question(key="Bb"), Question(key="Cm"), Question(meter="4/4"), Question(title="i"),
    Question(family="line", level="beginner"), Question(device="shells", level="beginner"),
    Question(level="beginner", max_difficulty=12), Question(sort="longest"),
    Question(beats=(2.0, 4.0), over="V7", level="beginner", max_difficulty=40, family="comp"),
    Question(device="shells", level="beginner", sort="best"),
    Question(device="shells", level="beginner", may=True),
    Question(beats=(99.0, None)), Question(level="advanced", device="shells"),
]


def by_hand(shelf: Library, question: Question) -> set[tuple[str, int]]:
    """The gaps that answer a question, each condition tried on each gap by other means."""
    def within(value: float, span: tuple[float | None, float | None] | None) -> bool:
        low, high = span or (None, None)
        return (low is None or value >= low) and (high is None or value <= high)

    found = set()
    for gap in shelf.find(Question(level=question.level, sort="shelf", count=1000)).gaps:
        tune = read_tune(gap.tune)
        own = find_gaps(unfold(tune))[gap.number - 1]
        devices = [d for d in gap.devices if question.family in ("", d.family)
                   and question.device in ("", d.name)
                   and (question.max_difficulty is None or d.difficulty <= question.max_difficulty)]
        functions = [h.function for h in own.harmonies if h is not None]
        text = {"IIm7": "IIm7", "IIm7 V7": "IIm7 V7", "V7/II": "VI7", "V7": "V7"}.get(question.over)
        step = None if own.held is None or own.landing is None else (
            own.landing.midi - own.held.midi)
        if all((within(float(own.beats), question.beats), within(own.seconds, question.seconds),
                within(float(tune.tempo_bpm), question.tempo),
                text is None or f" {text} " in f" {' '.join(functions)} ",
                question.holding in ("", gap.degree), question.place in ("", gap.place),
                question.landing == "" or (step is not None and (
                    1 <= step <= 2 if question.landing == "step up" else step <= -3)),
                question.key == "" or Key.parse(question.key) == tune.key,
                question.title in tune.title.lower(), devices or not question.asks_for_offers)):
            found.add((gap.title, gap.number))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("question", QUESTIONS, ids=lambda q: "")
def test_a_question_finds_what_a_reader_finds(worked: Library, question: Question) -> None:
    answer = worked.find(question)
    found = {(gap.title, gap.number) for gap in answer.gaps}
    assert len(found) == len(answer.gaps) == answer.total
    if question.into:
        assert ("First Light", 2) in found  # G7 to Cmaj7
    elif not question.may:
        assert found == by_hand(worked, question)
    if question.device and not question.may:
        hard = [next(d.difficulty for d in gap.devices if d.name == "shells")
                for gap in answer.gaps]
        assert hard == sorted(hard) or question.sort == "best"
    if question.sort == "longest":
        beats = [float(eval(gap.beats)) for gap in answer.gaps]
        assert beats == sorted(beats, reverse=True)
    if question.level == "advanced":
        assert answer.unworked == worked.find(Question()).total


@pytest.mark.slow
def test_lacking_devices_are_worked_out_where_they_may_be_used(
        shelf: Library, sheets: Path) -> None:
    shelf.add([sheets])
    question = Question(device="sus delay", title="wind")
    assert shelf.find(question).total == 0 and shelf.find(question).unworked > 0
    shelf.work_for(question)
    answer = shelf.find(question)
    assert answer.unworked == 0
    assert answer.total <= shelf.find(Question(device="sus delay", title="wind", may=True)).total
    assert shelf.find(Question(device="shells", title="light")).unworked == 5  # not asked for


WRONG: list[tuple[dict[str, object], str]] = [
    ({"device": "diatonic walkup"}, "diatonic walk-up"), ({"place": "turnarond"}, "turnaround"),
    ({"level": "expert"}, "expert"), ({"hand": "huge"}, "huge"), ({"family": "bass"}, "bass"),
    ({"landing": "stepup"}, "step up"), ({"sort": "easy"}, "easiest"), ({"key": "H"}, "H"),
    ({"over": "Dm7"}, "IIm7"), ({"holding": "x"}, "degree"), ({"count": 0}, "count"),
    ({"beats": 3}, "beats"), ({"beats": (True, None)}, "beats"), ({"may": True}, "device"),
    ({"max_difficulty": -1}, "difficulty"), ({"tempo": (float("nan"), None)}, "tempo"),
]


@pytest.mark.parametrize(("wrong", "word"), WRONG, ids=lambda one: "")
def test_a_wrong_question_has_one_sentence(wrong: dict[str, object], word: str) -> None:
    with pytest.raises(InputError, match=word):
        Question(**wrong)  # type: ignore[arg-type]


def test_stretches_are_read_as_they_are_written() -> None:
    assert [span_of(text) for text in ("3..", "..140", "3 .. 4.5", "2")] == [
        (3.0, None), (None, 140.0), (3.0, 4.5), (2.0, 2.0)]
    for text in ("", "..", "4..3", "a", "3,4", "1e9", "-1"):
        with pytest.raises(InputError, match=r"numbers|less"):
            span_of(text)


def test_folders_are_seen_in_order(sheets: Path) -> None:
    assert names([one.path for one in sheets_below([sheets])]) == ["first.abc", "second.abc"]


# --- commands -------------------------------------------------------------------------------


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as end:
        main(["library", *map(str, arguments)])
    out, err = capsys.readouterr()
    return int(end.value.code or 0), out, err


@pytest.mark.slow
def test_the_commands_say_what_they_did(
        capsys: pytest.CaptureFixture[str], sheets: Path, tmp_path: Path) -> None:
    data = ("--data", tmp_path / "data")
    (sheets / "bad.abc").write_text(BAD)
    status, out, err = run(capsys, "add", sheets, *data)
    assert (status, err) == (0, "")
    assert out.splitlines()[0] == "2 added, 0 unchanged, 0 changed, 0 gone, 1 refused"
    assert "bad.abc: " in out and "no chord symbols" in out
    status, out, _ = run(capsys, "find", "--over", "II V", *data)
    assert status == 0 and "Second Wind" in out and "1 gap" in out
    status, out, _ = run(capsys, "find", "--device", "shells", "--at-once", *data)
    assert status == 0 and "--work" in out
    assert run(capsys, "find", "--device", "shels", *data)[0] == 2
    status, out, err = run(capsys, "add", tmp_path / "nowhere", *data)
    assert (status, out) == (2, "") and err.startswith("nowhere: ") and err.count("\n") == 1
    (tmp_path / "empty").mkdir()
    status, out, err = run(capsys, "add", tmp_path / "empty", *data)
    assert (status, out) == (2, "") and "no sheet" in err
