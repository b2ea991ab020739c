"""Chord symbols in the spellings musicians type: ``C-7``, ``CΔ7``, ``Cø``, ``C7(b9,#11)``.

The spellings are common practice; conventions compared with Brandt & Roemer,
*Standardized Chord Symbol Notation* (1976), as summarised in public pages. The grammar
is strict: a text that is not understood to its end is an error that names the place,
never a guess.
"""

from __future__ import annotations

import re
from functools import lru_cache

from fillwright.theory.chord import (
    KIND_DEGREES,
    NO_CHORD,
    ChordSymbol,
    degree_number,
    sort_degrees,
)
from fillwright.theory.pitch import NoteName

__all__ = ["ChordTextError", "parse_chord", "parse_suffix"]


class ChordTextError(ValueError):
    """A chord symbol that cannot be read; `position` counts characters from 0."""

    def __init__(self, text: str, position: int) -> None:
        super().__init__(f"chord symbol {text!r}: {text[position:position + 8]!r} at character "
                         f"{position + 1} is not understood")
        self.text = text
        self.position = position


_ROOT = re.compile(r"([A-GH])(bb|##|♭♭|♯♯|x(?=[^a-z]|$)|b|#|♭|♯)?")
_NO_CHORD = re.compile(r"n\.?\s*c\.?|no\s*chord|tacet", re.IGNORECASE)
_BASS = re.compile(r"\s*[/\\]\s*([A-GHa-g])(b|#|♭|♯)?\s*$")
_TOKEN = re.compile(
    r"(?P<space>[\s,()\[\]]+)"
    r"|(?P<minmaj>(?:minmaj|mmaj|mM|m/maj|-/?maj|-M|-Δ|-△|mΔ|m△|min/maj|mi\(maj|m\(maj|min\(maj|-\(maj)(?P<mmn>7|9|11|13)?)"
    r"|(?P<maj>(?:major|maj|Maj|MAJ|ma|Ma|MA|M|Δ|△|j(?=7|9))(?P<majn>6|7|9|11|13)?)"
    r"|(?P<dim>dim|Dim|°|º|o(?!m)|diminished)"
    r"|(?P<half>ø|Ø|hdim|half-?dim(?:inished)?)"
    r"|(?P<aug>aug|Aug|\+(?!\d)|\+(?=7|9(?!\d)|maj|M))"
    r"|(?P<min>minor|min|Min|MIN|mi|Mi|MI|m|-(?!\d)|-(?=[679]|11|13))"
    r"|(?P<sus>sus(?P<susn>2/?4|4/?2|2|4)?)"
    r"|(?P<alt>alt(?:ered)?\.?)"
    r"|(?P<add>add\s*(?P<adda>b|#|♭|♯|\+|-)?(?P<addn>2|4|6|9|11|13))"
    r"|(?P<no>(?:no|omit)\s*(?P<non>1|3|5|7|9|11))"
    r"|(?P<dom>dom)"
    r"|(?P<sharp>(?P<alta>b|#|♭|♯|\+|-)(?P<altn>5|6|7|9|11|13|4|2))"
    r"|(?P<sixnine>6\s*/?\s*9|6add9)"
    r"|(?P<num>13|11|9|7|6|5|4|2)"
    r"|(?P<slash>/(?=[b#♭♯+\-\d]))"
)
_SIGN = {"b": "b", "♭": "b", "-": "b", "#": "#", "♯": "#", "+": "#", None: "", "": ""}


@lru_cache(maxsize=4096)
def parse_chord(text: str) -> ChordSymbol:
    """Read a chord symbol. Raises `ChordTextError`.

    >>> parse_chord("C-7").kind
    'minor-seventh'
    >>> parse_chord("B♭13(#11)").degrees
    ('1', '3', '5', 'b7', '9', '#11', '13')
    """
    stripped = text.strip()
    if _NO_CHORD.fullmatch(stripped):
        return NO_CHORD
    root = _ROOT.match(stripped)
    if root is None:
        raise ChordTextError(text, 0)
    name = _note(root[1], root[2])
    body = stripped[root.end():]
    bass = None
    slash = _BASS.search(body)
    if slash is not None:
        bass = _note(slash[1].upper(), slash[2])
        body = body[:slash.start()]
    kind, degrees = _parse_body(text, body, root.end())
    if bass == name:
        bass = None
    return ChordSymbol(name, kind, degrees, bass, body.strip())


def parse_suffix(suffix: str) -> tuple[str, tuple[str, ...]]:
    """Kind and degrees of a quality alone: ``"-7"``, ``"maj7"``. Raises `ChordTextError`."""
    return _parse_body(suffix, suffix, 0)


def _note(letter: str, accidental: str | None) -> NoteName:
    return NoteName.parse(("B" if letter == "H" else letter) + (accidental or ""))


def _parse_body(text: str, body: str, offset: int) -> tuple[str, tuple[str, ...]]:
    third, fifth, sevenths, extension = "3", "5", "", 0
    major = minor = dim = half = aug = sus2 = sus4 = alt = sixth = power = False
    changes: list[str] = []
    removed: list[str] = []
    position = 0
    while position < len(body):
        match = _TOKEN.match(body, position)
        if match is None:
            raise ChordTextError(text, min(position + offset, max(len(text) - 1, 0)))
        name = match.lastgroup
        # lastgroup names the outermost group that closed last
        groups = match.groupdict()
        if groups["minmaj"] is not None:
            minor, major = True, True
            extension = max(extension, int(groups["mmn"] or 7))
        elif groups["maj"] is not None:
            major = True
            number = groups["majn"]
            if number == "6":
                sixth = True
            elif number is not None:
                extension = max(extension, int(number))
            elif groups["maj"] in ("Δ", "△"):
                extension = max(extension, 7)
        elif groups["dim"] is not None:
            dim = True
        elif groups["half"] is not None:
            half = True
        elif groups["aug"] is not None:
            aug = True
        elif groups["min"] is not None:
            minor = True
        elif groups["sus"] is not None:
            number = groups["susn"] or "4"
            sus2 |= "2" in number
            sus4 |= "4" in number
        elif groups["alt"] is not None:
            alt = True
        elif groups["add"] is not None:
            changes.append(_SIGN[groups["adda"]] + {"2": "9", "4": "11"}.get(groups["addn"],
                                                                            groups["addn"]))
        elif groups["no"] is not None:
            removed.append(groups["non"])
        elif groups["sharp"] is not None:
            number = {"4": "11", "2": "9", "6": "13"}.get(groups["altn"], groups["altn"])
            sign = _SIGN[groups["alta"]]
            if number == "7":
                if sign == "#":
                    major, extension = True, max(extension, 7)
                else:
                    extension = max(extension, 7)
            else:
                changes.append(sign + number)
        elif groups["sixnine"] is not None:
            sixth = True
            changes.append("9")
        elif groups["num"] is not None:
            number = groups["num"]
            if number == "6":
                sixth = True
            elif number == "5":
                power = True
            elif number == "4":
                sus4 = True
            elif number == "2":
                changes.append("9")
            else:
                extension = max(extension, int(number))
        del name
        position = match.end()

    if minor or dim or half:
        third = "b3"
    if dim or half:
        fifth = "b5"
    if aug:
        fifth = "#5"
    if extension:
        sevenths = "7" if major else "bb7" if dim else "b7"
    if half:
        sevenths = "b7"
    if alt:
        sevenths = "b7"
        extension = max(extension, 7)
    degrees = {"1", third, fifth}
    if sevenths:
        degrees.add(sevenths)
    if sixth:
        degrees.add("6")
    for number_of, natural in ((9, "9"), (11, "11"), (13, "13")):
        if extension >= number_of:
            degrees.add(natural)
    if sus2 or sus4:
        degrees -= {"3", "b3", "11"}
        degrees |= ({"2"} if sus2 else set()) | ({"4"} if sus4 else set())
    if power and not extension and not sixth:
        degrees = {"1", "5"}
    if alt:
        degrees = {"1", "3", "b7", "b9", "#9", "#11", "b13"}
    for change in changes:
        number = degree_number(change)
        if number == 5:
            degrees -= {"5", "b5", "#5"} if not any(c in degrees and c in changes
                                                    for c in ("b5", "#5")) else {"5"}
        elif change != str(number):
            degrees.discard(str(number))
        degrees.add(change)
    for number_text in removed:
        degrees = {d for d in degrees if degree_number(d) != int(number_text)}
    ordered = sort_degrees(degrees)
    return _best_kind(ordered, extension), ordered


@lru_cache(maxsize=1024)
def _best_kind(degrees: tuple[str, ...], extension: int = 0) -> str:
    """The MusicXML kind that needs the fewest changes to give these degrees."""
    wanted = set(degrees)
    best, best_cost = "other", 99
    for kind, base_degrees in KIND_DEGREES.items():
        if kind in ("pedal", "Neapolitan", "Italian", "French", "German", "Tristan", "other",
                    "none"):
            continue
        base = set(base_degrees)
        # A kind that claims a tone the chord lacks misleads more than one that omits a tone.
        cost = 2 * len(base - wanted) + len(wanted - base)
        if cost < best_cost:
            best, best_cost = kind, cost
    return best
