"""`<harmony>` elements of MusicXML as chord symbols.

Semantics follow the MusicXML 4.0 schema (W3C Music Notation Community Group): the value
of `kind` decides what sounds, its `text` attribute how it looks; an added degree is
relative to a dominant chord, an altered or subtracted one to the degree in the chord.
What old exporters write instead is understood where it can be, with a warning.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from types import MappingProxyType

from lxml import etree

from fillwright.theory.chord import (
    KIND_DEGREES,
    NO_CHORD,
    ChordSymbol,
    default_suffix,
    degree_number,
    sort_degrees,
)
from fillwright.theory.chordtext import (
    ChordTextError,
    best_kind,
    is_no_chord,
    parse_suffix,
)
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, NoteName, Pitch, degree_interval
from fillwright.tune.limits import MAX_CHORD_CHARACTERS
from fillwright.tune.notices import Notices

__all__ = ["OLD_KINDS", "HarmonyReader", "change_degrees"]

# Values of `kind` that are not in the schema but occur in files: a quality as text.
OLD_KINDS: MappingProxyType[str, str] = MappingProxyType({
    "dominant-seventh": "7", "seventh": "7", "dominant-7th": "7", "dominant7": "7",
    "minor-major": "m(maj7)", "minor-major-seventh": "m(maj7)", "minor-major-ninth": "m(maj9)",
    "minor-major-11th": "m(maj11)", "minor-major-13th": "m(maj13)",
    "major-minor-seventh": "m(maj7)",
    "maj69": "6/9", "major-sixth-ninth": "6/9", "major-69": "6/9", "min69": "m6/9",
    "minor-69": "m6/9", "minor-sixth-ninth": "m6/9", "sixth": "6", "sixth-ninth": "6/9",
    "major-triad": "", "minor-triad": "m", "augmented-triad": "+", "diminished-triad": "dim",
    "half-diminished-seventh": "m7b5", "minor-seventh-flat-five": "m7b5",
    "minor-seven-flat-five": "m7b5", "half-diminished-ninth": "m9b5",
    "half-diminished-minor-ninth": "m7(b5,b9)", "half-diminished-11th": "m11b5",
    "diminished-ninth": "dim7(9)", "diminished-minor-ninth": "dim7(b9)",
    "diminished-11th": "dim7(9,11)", "augmented-dominant-seventh": "7#5",
    "augmented-major-seventh": "maj7#5", "augmented-major-ninth": "maj9#5",
    "augmented-dominant-ninth": "9#5", "augmented-ninth": "9#5", "augmented-11th": "11#5",
    "augmented-major-11th": "maj11#5", "augmented-major-13th": "maj13#5",
    "augmented-13th": "13#5", "augmented-dominant-13th": "13#5",
    "half-diminished-13th": "m13b5", "seventh-flat-five": "7b5", "seventh-sharp-five": "7#5",
    "dominant-seventh-flat-five": "7b5", "suspended-fourth-seventh": "7sus4",
    "dominant-suspended-fourth": "7sus4", "dominant-seventh-suspended-fourth": "7sus4",
    "suspended": "sus4", "suspended-second-seventh": "7sus2", "altered": "7alt",
    "dominant-altered": "7alt", "dominant-flat-ninth": "7b9", "dominant-sharp-ninth": "7#9",
    "major-added-ninth": "add9", "add-ninth": "add9", "minor-added-ninth": "m(add9)",
    "fifth": "5", "major-7th": "maj7", "minor-7th": "m7", "major-6th": "6",
    "minor-6th": "m6", "major-9th": "maj9", "minor-9th": "m9", "dominant-9th": "9",
    "dominant-eleventh": "11", "dominant-thirteenth": "13", "minor-eleventh": "m11",
    "minor-thirteenth": "m13", "major-eleventh": "maj11", "major-thirteenth": "maj13",
})

_ANY_CASE = {kind.lower(): kind for kind in KIND_DEGREES}
_REPEATS = frozenset({"%", "/", "𝄎", "-"})
_NUMERALS = {"I": 0, "II": 1, "III": 2, "IV": 3, "V": 4, "VI": 5, "VII": 6}
_FUNCTION = re.compile(r"([b♭#♯]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)")
_SLASH_BASS = re.compile(r"/[A-H](?:[b#♭♯])?\s*$")
_MAX_TEXT = 40


def change_degrees(kind: str, changes: Iterable[tuple[str, int, int]]) -> tuple[str, ...]:
    """The degrees of a kind after `(type, value, alter)` changes, as MusicXML defines them.

    >>> change_degrees("dominant", [("add", 9, 1)])
    ('1', '3', '5', 'b7', '#9')
    >>> change_degrees("dominant", [("alter", 9, 1)])
    ('1', '3', '5', 'b7', '#9')
    >>> change_degrees("suspended-fourth", [("add", 7, 0)])
    ('1', '4', '5', 'b7')
    """
    return _apply(KIND_DEGREES[kind], changes)


def _apply(base: tuple[str, ...], changes: Iterable[tuple[str, int, int]]) -> tuple[str, ...]:
    degrees = list(base)
    for action, value, alter in changes:
        present = [name for name in degrees if degree_number(name) == value]
        if action == "subtract":
            for name in present:
                degrees.remove(name)
        elif action == "alter" and present:
            raised = _alteration(present[0]) + alter
            degrees[degrees.index(present[0])] = _degree(value, raised)
        else:  # an altered degree the chord lacks is an added one
            plain = -1 if value == 7 else 0
            degrees.append(_degree(value, plain + alter))
    return sort_degrees(degrees)


def _alteration(degree: str) -> int:
    return degree.count("#") - degree.count("b")


def _degree(number: int, alter: int) -> str:
    alter = max(-2, min(2, alter))
    return ("b" * -alter if alter < 0 else "#" * alter) + str(number)


def _whole(text: str | None, default: int = 0) -> int:
    """An integer from text such as ``"-1"`` or ``"-1.0"``."""
    if text is None:
        return default
    try:
        return int(text)
    except ValueError:
        try:
            return round(float(text))
        except (ValueError, OverflowError):
            return default


def _name(note: _Note) -> NoteName | None:
    letter = (note[0] or "").strip().upper().replace("H", "B")
    if len(letter) != 1 or letter not in "ABCDEFG":
        return None
    amount = _whole(note[1])
    if not -2 <= amount <= 2:
        return None
    return NoteName(letter, amount)


_Note = tuple[str | None, str | None, str | None]
"""Step, alteration and the step's text, as written."""
_Change = tuple[str, int, int, bool]
"""Type, value, alteration of a degree, and whether it is printed."""


class HarmonyReader:
    """Reads the chord symbols of one part in order; remembers the chord before, which "%"
    and a bare bass refer to."""

    def __init__(self, notices: Notices) -> None:
        self._notices = notices
        self._previous: ChordSymbol | None = None

    def no_chord(self) -> ChordSymbol:
        self._previous = NO_CHORD
        return NO_CHORD

    def element(self, harmony: etree._Element, key: Key) -> ChordSymbol | None:
        """The symbol of a `<harmony>`; None where it names no chord of its own."""
        if harmony.get("type") == "alternate":
            return None
        root: _Note | None = None
        kind: str | None = None
        shown: str | None = None
        bass: _Note | None = None
        degrees: list[_Change] = []
        functions: list[etree._Element] = []
        inversion = stacked = 0
        for child in harmony:
            tag = child.tag
            if tag == "root":
                root = root or _read_note(child, "root")
            elif tag == "kind":
                stacked += 1
                if kind is None:
                    kind, shown = (child.text or "").strip(), child.get("text")
                    if shown is not None:
                        shown = shown[:MAX_CHORD_CHARACTERS]
            elif tag == "bass":
                bass = _read_note(child, "bass")
            elif tag == "degree":
                degrees += _read_degrees(child)
            elif tag == "inversion":
                inversion = _whole(child.text)
            elif tag in ("function", "numeral"):
                functions.append(child)
        kind = kind or ""
        if root is None and functions:
            name = _function_root(functions, key)
            root = (None, None, None) if name is None else (name.step, str(name.alter), None)
        elif stacked > 1:
            self._notices.add("stacked chord symbols; the first is taken")
        root = root or (None, None, None)
        if _repeats_previous(kind, shown, root):
            return self._repeat(bass)
        symbol, sentences = _read_symbol(root, kind, shown, bass, tuple(degrees), inversion)
        for sentence in sentences:
            self._notices.add(sentence)
        if symbol is not None:
            self._previous = symbol
        return symbol

    def _repeat(self, bass: _Note | None) -> ChordSymbol | None:
        previous = self._previous
        if previous is None:
            self._notices.add("a sign to repeat the chord before, but there is none")
            return None
        low = None if bass is None else _name(bass)
        if low is not None and previous.is_chord:
            previous = ChordSymbol(previous.root, previous.kind, previous.degrees,
                                   None if low == previous.root else low, previous.suffix)
            self._previous = previous
        return previous


@lru_cache(maxsize=4096)
def _read_symbol(root_note: _Note, kind: str, shown: str | None, bass: _Note | None,
                 degrees: tuple[_Change, ...], inversion: int
                 ) -> tuple[ChordSymbol | None, tuple[str, ...]]:
    """The symbol that the parts of a `<harmony>` name, and what there is to warn of."""
    sentences: list[str] = []
    if kind == "none" or (kind in ("", "other") and is_no_chord(shown or "")):
        return NO_CHORD, ()
    root = _name(root_note)
    if root is None:
        return None, (f"a chord symbol without a root that can be read "
                      f"({(root_note[0] or '')[:20]!r}) was left out",)
    kind, base, suffix = _read_kind(root, kind, shown, degrees, sentences)
    changes = [(action, value, alter) for action, value, alter, _ in degrees]
    named = _apply(KIND_DEGREES[kind] if base is None else base, changes)
    if kind == "other" and named != ("1",):
        kind = best_kind(named)
    low = None
    if bass is not None:
        low = _name(bass)
        if low is None:
            sentences.append("a bass note that cannot be read was left out")
    elif inversion > 0:
        low = _inverted(root, named, inversion)
    if suffix is not None:
        if low is not None:
            suffix = _SLASH_BASS.sub("", suffix)
        reading = _try_suffix(suffix) if suffix.strip() else None
        if reading is not None and _contradicts(reading[1], named) \
                and _contradicts(reading[1], KIND_DEGREES[kind]):
            sentences.append(f"chord {root}{suffix[:_MAX_TEXT]}: its text is not what its kind "
                             f"{kind!r} says; the kind is played")
    symbol = ChordSymbol(root, kind, named, None if low == root else low,
                         _suffix(kind, named, suffix, degrees))
    return symbol, tuple(sentences)


def _contradicts(text: tuple[str, ...], named: tuple[str, ...]) -> bool:
    """Whether a text names another third, fifth or seventh; its colours may be more or fewer
    ("7alt" over a dominant with a flat ninth)."""
    numbers = {2, 3, 4, 6, 7} | {5 for degree in text if degree_number(degree) == 5}
    return ({degree for degree in text if degree_number(degree) in numbers}
            != {degree for degree in named if degree_number(degree) in numbers})


def _read_kind(root: NoteName, kind: str, shown: str | None, degrees: tuple[_Change, ...],
               sentences: list[str]) -> tuple[str, tuple[str, ...] | None, str | None]:
    """A kind of the schema, its degrees where they differ from the table's, and its text."""
    if kind in KIND_DEGREES and (kind != "other" or degrees):
        return kind, None, shown
    old = kind.lower().replace(" ", "-").replace("_", "-")
    where = f"chord {root}{(shown or '')[:_MAX_TEXT]}: kind {kind[:_MAX_TEXT]!r}"
    same = _ANY_CASE.get(old)
    if same is not None and old != "other":
        sentences.append(f"{where} is read as {same!r}")
        return same, None, shown
    text = OLD_KINDS.get(old)
    reading = _try_suffix(text)
    if reading is not None:
        sentences.append(f"{where} is not of MusicXML 4.0, read as {root}{text}")
        return reading[0], reading[1], text if shown is None else shown
    for candidate in (shown, kind if kind not in ("", "other") else None):
        reading = None if candidate is None else _try_suffix(candidate.strip())
        if reading is not None and (candidate or not kind):
            if kind != "other":
                sentences.append(f"{where} is not of MusicXML 4.0, read from its text as "
                                 f"{root}{candidate}")
            return reading[0], reading[1], shown
    if not kind and shown is None:
        sentences.append(f"chord {root}: empty kind, read as a major triad")
        return "major", None, None
    sentences.append(f"{where} is not understood, only the root is kept")
    return "other", None, shown


def _read_note(element: etree._Element, prefix: str) -> _Note:
    step = alter = text = None
    for child in element:
        if child.tag == prefix + "-step":
            step, text = child.text, child.get("text")
        elif child.tag == prefix + "-alter":
            alter = child.text
    return step, alter, text


def _read_degrees(element: etree._Element) -> list[_Change]:
    """The change in a `<degree>`; old exporters put several into one."""
    shown = element.get("print-object") != "no"
    found: list[_Change] = []
    action, value, alter = "add", 0, 0
    for child in element:
        if child.tag == "degree-value":
            if value:
                found.append((action, value, alter, shown))
            action, value, alter = "add", _whole(child.text), 0
            if value in (8, 10, 12, 14, 15):
                value -= 7 * ((value - 1) // 7)
        elif child.tag == "degree-alter":
            alter = _whole(child.text)
        elif child.tag == "degree-type":
            action = (child.text or "").strip() or "add"
    found.append((action, value, alter, shown))
    return [change for change in found
            if change[0] in ("add", "alter", "subtract") and 1 <= change[1] <= 13]


def _repeats_previous(kind: str, shown: str | None, root: _Note) -> bool:
    text = (shown or "").strip()
    if text in _REPEATS and kind in ("none", "other", ""):
        return True
    # A bare "/F": a root that is not to be shown, no quality, only the bass counts.
    hidden = root[2] is not None and not root[2].strip()
    bare = hidden or root[0] is None
    return bare and kind in ("other", "") and (not text or text.startswith("/"))


def _function_root(functions: list[etree._Element], key: Key) -> NoteName | None:
    """The root a roman numeral names; "V of II" is two of them."""
    for element in reversed(functions):
        if element.tag == "numeral":
            degree = _whole(element.findtext("numeral-root"), 1) - 1
            alter = _whole(element.findtext("numeral-alter"))
            own = element.find("numeral-key")
            if own is not None:
                mode = "minor" if "minor" in (own.findtext("numeral-mode") or "") else "major"
                key = Key(max(-7, min(7, _whole(own.findtext("numeral-fifths")))), mode)
            minor = False
        else:
            match = _FUNCTION.match((element.text or "").strip())
            if match is None:
                return None
            degree = _NUMERALS[match[2].upper()]
            alter = {"": 0, "b": -1, "♭": -1, "#": 1, "♯": 1}[match[1]]
            minor = match[2].islower()
        if not 0 <= degree <= 6:
            return None
        if alter:  # a numeral with an accidental counts from the major scale
            root = key.tonic + degree_interval(str(degree + 1)) + Interval(0, alter)
        else:
            root = key.scale[degree]
        key = Key.of(_playable(root), "minor" if minor else "major")
    return root


def _playable(name: NoteName) -> NoteName:
    pitch = Pitch(name.step, name.alter, 4)
    return name if abs(name.alter) < 2 else Key(0).spell(pitch.midi).note_name


def _inverted(root: NoteName, degrees: tuple[str, ...], inversion: int) -> NoteName | None:
    tones = [degree for degree in degrees if degree_number(degree) <= 7]
    if not 0 < inversion < len(tones):
        return None
    return root + degree_interval(tones[inversion])


def _try_suffix(text: str | None) -> tuple[str, tuple[str, ...]] | None:
    if text is None:
        return None
    try:
        return parse_suffix(text)
    except ChordTextError:
        return None


def _suffix(kind: str, degrees: tuple[str, ...], shown: str | None,
            changes: tuple[_Change, ...]) -> str:
    """The quality as the sheet shows it: its text, with the degrees printed beside it."""
    plain = default_suffix(best_kind(degrees) if changes else kind, degrees)
    if shown is None:
        return plain
    text = " ".join(shown.split())[:_MAX_TEXT]
    if not text:
        return plain
    reading = _try_suffix(text)
    if reading is not None and reading[1] == degrees:
        return text
    visible = [change for change in changes if change[3]]
    if not visible:
        return text
    if reading is not None and reading[1] == KIND_DEGREES[kind]:
        marks = default_suffix(kind, degrees).partition("(")[2]
        return f"{text}({marks}" if marks else plain
    return text if reading is None else plain
