"""Archives, encodings and what is refused, each with one clear sentence."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from tests.tune.sheets import (
    attributes,
    barline,
    chord,
    line,
    note,
    notes,
    part,
    read,
    score,
    sheet,
)

from fillwright import InputError, read_tune, unfold
from fillwright.tune import limits, read_bytes
from fillwright.tune.container import parse_score, unpack

SHEET = sheet([chord("C") + notes("C5:16")])
CONTAINER = ('<?xml version="1.0"?><container><rootfiles><rootfile full-path="{path}"/>'
             "</rootfiles></container>")


def archive(*members: tuple[str, bytes | str], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", compression) as target:
        for name, content in members:
            target.writestr(name, content)
    return buffer.getvalue()


def good(data: bytes, name: str = "tune.mxl") -> bool:
    return line(read(data, name)) == "C5@0+4"


# Archives ------------------------------------------------------------------------------


def test_an_archive_with_a_container() -> None:
    other = sheet([chord("C") + notes("D5:16")])
    assert good(archive(("a.xml", other), ("META-INF/container.xml",
                                           CONTAINER.format(path="b/tune.xml")),
                        ("b/tune.xml", SHEET)))


@pytest.mark.parametrize("container", [
    None, "", "no xml", CONTAINER.format(path="gone.xml"), CONTAINER.format(path=""),
    "<container><rootfiles><rootfile full-path='Don't.xml'/></rootfiles></container>",
    "<!DOCTYPE c [<!ENTITY x 'tune.xml'>]><container/>",
    "<container><rootfiles/></container>",
])
def test_an_odd_or_missing_container(container: str | None) -> None:
    """One archive in five of a public collection has an unescaped apostrophe there."""
    members: list[tuple[str, bytes | str]] = [("META-INF/x.xml", "<x/>"), ("cover.png", b"png"),
                                              ("tune.xml", SHEET)]
    if container is not None:
        members.insert(0, ("META-INF/container.xml", container))
    assert good(archive(*members))


@pytest.mark.parametrize(("written", "stored"), [
    ("My%20tune.xml", "My tune.xml"), ("./tune.xml", "tune.xml"), ("a\\t.xml", "a/t.xml")])
def test_paths_in_the_container(written: str, stored: str) -> None:
    other = sheet([chord("C") + notes("D5:16")])
    assert good(archive(("a.xml", other), ("META-INF/container.xml",
                                           CONTAINER.format(path=written)), (stored, SHEET)))


def test_the_first_root_file_counts() -> None:
    container = ('<container><rootfiles><rootfile full-path="t.pdf" media-type="application/pdf"'
                 '/><rootfile full-path="t.musicxml" media-type='
                 '"application/vnd.recordare.musicxml+xml"/></rootfiles></container>')
    assert good(archive(("META-INF/container.xml", container), ("t.pdf", b"%PDF"),
                        ("a.xml", "<other/>"), ("t.musicxml", SHEET)))


def test_content_counts_not_the_ending() -> None:
    assert good(archive(("tune.xml", SHEET)), "tune.xml")
    assert good(archive(("tune.xml", SHEET)), "tune.musicxml")
    assert good(SHEET, "tune.mxl")


def test_members_are_never_extracted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert good(archive(("META-INF/container.xml", CONTAINER.format(path="../../tune.xml")),
                        ("../../tune.xml", SHEET)))
    assert list(tmp_path.iterdir()) == []


@cache
def bomb() -> bytes:
    return archive(("tune.xml", b"<a>" + b" " * (limits.MAX_UNPACKED_BYTES + 10) + b"</a>"))


@pytest.mark.parametrize(("data", "sentence"), [
    (archive(("tune.xml", SHEET))[:200], "truncated or damaged"),
    (archive(("tune.xml", SHEET))[:-30], "truncated or damaged"),
    (b"PK\x03\x04" + b"\0" * 40, "truncated or damaged"),
    (archive(("notes.txt", b"x")), "holds no score"),
    (archive(), "holds no score"),
    (archive(("tune.xml", SHEET), compression=zipfile.ZIP_LZMA), "compression"),
    (bomb, "limit of 32 MB"),
    (archive(("tune.xml", b"<a>" + b" " * 3_000_000 + b"</a>")), "200 to 1"),
    (archive(*((f"{n}.txt", b"") for n in range(limits.MAX_ARCHIVE_MEMBERS + 1))),
     "more than the limit of 1000"),
    (archive(("tune.xml", b"")), "empty"),
])
def test_archives_that_are_refused(data: bytes | Callable[[], bytes], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(data if isinstance(data, bytes) else data(), "folder/tune.mxl")
    assert caught.value.source == "tune.mxl"


def test_a_size_that_lies_is_found_while_reading() -> None:
    data = bytearray(bomb())
    for place in (data.find(b"PK\x03\x04") + 22, data.find(b"PK\x01\x02") + 24):
        data[place:place + 4] = (100).to_bytes(4, "little")
    with pytest.raises(InputError):
        unpack(bytes(data))


def test_an_encrypted_archive() -> None:
    data = bytearray(archive(("tune.xml", SHEET)))
    for place in (data.find(b"PK\x03\x04") + 6, data.find(b"PK\x01\x02") + 8):
        data[place] |= 1
    with pytest.raises(InputError, match="encrypted"):
        unpack(bytes(data))


# Encodings -----------------------------------------------------------------------------


TEXT = SHEET.decode().replace('<?xml version="1.0" encoding="UTF-8"?>', "")
TITLED = TEXT.replace("<part-list>", "<movement-title>Étude</movement-title><part-list>", 1)


@pytest.mark.parametrize("data", [
    ("\ufeff" + TITLED).encode("utf-16-le"), ("\ufeff" + TITLED).encode("utf-16-be"),
    ('\ufeff<?xml version="1.0" encoding="UTF-16"?>' + TITLED).encode("utf-16-le"),
    TITLED.encode("utf-8-sig"), TITLED.encode(),
    ('<?xml version="1.0" encoding="ISO-8859-1"?>' + TITLED).encode("latin-1"),
    ('\n <?xml version="1.0" encoding="UTF-8"?>' + TITLED).encode(),
    ('<?xml version="1.0" encoding="UTF-16"?>' + TITLED).encode(),
    ('<?xml version="1.0" encoding="UTF-8"?>' + TITLED).encode("latin-1"),
    ('<?xml version="1.0" encoding="x-unknown"?>' + TITLED).encode(),
    TITLED.encode("utf-16-le"), TITLED.encode("utf-16-be"),
    ('<?xml version="1.0" encoding="UTF-16"?>' + TITLED).encode("utf-16-le"),
    TITLED.encode("utf-32-le"), TITLED.encode("utf-32-be"),
])
def test_encodings(data: bytes) -> None:
    for name, content in (("t.musicxml", data), ("t.mxl", archive(("t.xml", data)))):
        tune = read(content, name)
        assert (tune.title, line(tune)) == ("Étude", "C5@0+4")


def test_an_encoding_that_is_not_the_declared_one_is_warned_of() -> None:
    data = ('<?xml version="1.0" encoding="UTF-8"?>' + TITLED).encode("latin-1")
    assert any("Latin-1" in warning for warning in read(data).warnings)


# XML -----------------------------------------------------------------------------------


DOCTYPE = ('<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.1 Partwise//EN" '
           '"http://www.musicxml.org/dtds/partwise.dtd">')
LAUGHS = ('<!DOCTYPE l [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
          '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>')
OUTSIDE = '<!DOCTYPE l [<!ENTITY x SYSTEM "file:///etc/passwd">]>'


def test_a_doctype_is_fine() -> None:
    assert good((DOCTYPE + TEXT).encode(), "t.xml")


def test_an_entity_nobody_declares_is_left_out() -> None:
    data = (DOCTYPE + TITLED.replace("Étude", "A&nbsp;B")).encode()
    assert read(data).title in ("A", "A B", "AB")


@pytest.mark.parametrize("prefix", [LAUGHS, OUTSIDE,
                                    '<!DOCTYPE l [<!ENTITY % p "x"> %p;]>'])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entity_declarations_are_refused(prefix: str, encoding: str) -> None:
    with pytest.raises(InputError, match="entities"):
        read((prefix + TITLED.replace("Étude", "A")).encode(encoding))


@pytest.mark.parametrize(("data", "sentence"), [
    (b"", "empty"), (b"  \n", "empty"), (b"hello", "not a score"),
    (b"%PDF-1.4", "not a score"), (b"\xff\xfe\xff", "not"),
    (b"<html><body/></html>", "root element is <html>"),
    (b"<opus/>", "root element is <opus>"),
    (SHEET[:-40], "not well-formed XML at line 1"),
    (b"<score-partwise>" + b"<a>" * 5000, "not well-formed|nested"),
    (b"<score-partwise>" + b"<a>" * 300 + b"</a>" * 300 + b"</score-partwise>", "nested"),
    (b"<score-partwise/>", "no parts"),
    (score(part([notes("r:16")])), "no notes"),
    (score(part([notes("C5:16")])), "no chord symbols"),
    (b"<score-partwise>" + b" " * (limits.MAX_UNPACKED_BYTES + 1), "limit of 32 MB"),
])
def test_what_is_no_lead_sheet(data: bytes, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(data)
    assert "\n" not in str(caught.value)
    assert caught.value.source == "sheet.musicxml"


def test_namespaces_are_taken_off() -> None:
    data = TEXT.replace("<score-partwise", '<score-partwise xmlns="http://example.org/m"')
    assert good(data.encode(), "t.xml")
    assert good(TEXT.replace("<score-partwise", "<m:score-partwise xmlns:m='http://m'")
                .replace("</score-partwise", "</m:score-partwise").encode(), "t.xml")


def test_timewise_scores() -> None:
    def bar(number: int, pitch: str) -> str:
        return (f'<measure number="{number}"><part id="P1">{attributes() if number == 1 else ""}'
                f'{chord("C")}{note(pitch, 16)}</part><part id="P2">{note("E4", 16)}</part>'
                "</measure>")

    data = ('<score-timewise><part-list><score-part id="P1"><part-name>A</part-name>'
            '</score-part><score-part id="P2"><part-name>B</part-name></score-part></part-list>'
            + bar(1, "C5") + bar(2, "D5") + "</score-timewise>").encode()
    tune = read(data)
    assert [line(tune, n) for n in (0, 1)] == ["C5@0+4", "D5@0+4"]
    assert [b.number for b in tune.bars] == ["1", "2"]
    assert parse_score(data)[0].tag == "score-partwise"


# Bounds inside the score ---------------------------------------------------------------


@pytest.mark.parametrize(("bars", "sentence"), [
    (["", note("C5", -4)], "bar 2: a duration is negative"),
    (["", note("C5", 0)], "bar 2: a note has no duration"),
    (["", note("C5", 4000)], "bar 2: a note lasts 1000 quarter notes, more than the limit of 64"),
    (["", "<note><pitch><step>C</step><octave>5</octave></pitch><duration>x</duration></note>"],
     "bar 2: the duration 'x' is not a number"),
    (["", "<note><pitch><step>C</step><octave>5</octave></pitch><duration>1e9</duration></note>"],
     "bar 2: the duration '1e9' is not a number"),
    (["", "<backup><duration>-4</duration></backup>"], "bar 2: a duration is negative"),
    (["", "<forward><duration>999999999</duration></forward>"],
     "bar 2: it is longer than the limit of 256 quarter notes"),
    (["", notes("C5:64 " * 20)], "bar 2: it is longer than the limit of 256"),
    (["", attributes(divisions=0)], "bar 2: the divisions"),
    (["", "".join(attributes(divisions=n) for n in range(1, 40))], "bar 2: more than 32 diff"),
    (["", attributes(divisions=-3)], "bar 2: the divisions"),
    ([""] * (limits.MAX_PRINTED_BARS + 1), "2001 bars, more than the limit of 2000"),
    ([notes("C5:1 " * 16) * (limits.MAX_NOTES // 16 // 1900 + 1)] * 1900,
     "more notes than the limit of 50000"),
])
def test_bounds(bars: list[str], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(sheet([chord("C") + notes("C5:16"), *bars[1:]]))
    assert caught.value.source == "sheet.musicxml"
    assert "\n" not in str(caught.value)


def test_many_notes_played_again_and_again() -> None:
    bar = chord("C") + note("C5", 1) * 200 + barline(repeat="backward", times=3000)
    with pytest.raises(InputError, match="603000 notes and chord symbols, more than the limit"):
        unfold(read(sheet([bar])))


def test_many_bars_within_the_bounds() -> None:
    tune = read(sheet([chord("C") + notes("C5:16")] * limits.MAX_PRINTED_BARS))
    assert len(tune.bars) == limits.MAX_PRINTED_BARS


def test_warnings_are_bounded() -> None:
    tune = read(sheet([chord("C", f"zork{n}") + notes("C5:16") for n in range(150)]))
    assert len(tune.warnings) == limits.MAX_WARNINGS + 1
    assert tune.warnings[-1] == "50 more warnings were left out"


def test_what_is_so_in_many_bars_is_said_once() -> None:
    tune = read(sheet([chord("C", "zork") + notes("C5:16")] * 150))
    assert tune.warnings == ("bars 1, 2, 3, 4 and 146 more, each: chord C: kind 'zork' is not "
                             "understood, only the root is kept",)


# Files ---------------------------------------------------------------------------------


def test_files(tmp_path: Path) -> None:
    for name, data in (("a tune.musicxml", SHEET), ("b.xml", SHEET),
                       ("c.mxl", archive(("x.xml", SHEET))), ("d", SHEET)):
        path = tmp_path / name
        path.write_bytes(data)
        for given in (path, str(path)):
            tune = read_tune(given)
            assert (tune.source, line(tune)) == (name, "C5@0+4")
    assert read_tune(tmp_path / "a tune.musicxml").title == "a tune"


@pytest.mark.parametrize(("name", "sentence"), [
    ("missing.xml", "no such file"), ("", "folder"), ("x.mid", "played notes"),
    ("x.pdf", "picture"), ("x.docx", "not the ending of a lead sheet"), ("x.mscz", "not")])
def test_files_that_cannot_be_read(tmp_path: Path, name: str, sentence: str) -> None:
    if name.startswith("x"):
        (tmp_path / name).write_bytes(b"MThd\0\0")
    with pytest.raises(InputError, match=sentence) as caught:
        read_tune(tmp_path / name)
    assert caught.value.source == (name or tmp_path.name)
    assert str(tmp_path) not in str(caught.value)


def test_the_name_has_no_folder() -> None:
    with pytest.raises(InputError) as caught:
        read_bytes(b"", "C:\\sheets\\x.xml")
    assert str(caught.value) == "x.xml: the file is empty"


def test_markup_in_texts_stays_text() -> None:
    """Titles and chord texts come through as they are; whoever writes them escapes them."""
    data = score(part([chord("C", text="&lt;script&gt;") + notes("C5:16")]),
                 head="<movement-title>&lt;/text&gt;&lt;script&gt;</movement-title>")
    tune = read(data)
    assert tune.title == "</text><script>"
    assert str(tune.bars[0].chords[0].symbol) == "C<script>"
