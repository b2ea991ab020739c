"""Chord symbols in the spellings musicians type: ``C-7``, ``CΔ7``, ``Cø``, ``C7(b9,#11)``.

The spellings are common practice. The grammar is strict: a text that is not understood to
its end is an error that names the place, never a guess. Some choices the trade leaves open:

* ``-`` and ``+`` at the start of a quality mean minor and augmented, later they lower and
  raise the number that follows: ``C-9`` is a minor ninth chord, ``C7-9`` has a flat nine.
* ``C2`` is a triad with an added ninth, ``Csus2`` has no third; ``C4`` is ``Csus4``.
* ``CΔ`` names a major seventh, ``CM`` and ``Cmaj`` a triad; ``C7M`` is ``Cmaj7``.
* ``Csus(b9)`` has the minor seventh that its flat ninth belongs to.
* A number in parentheses or after a slash adds that one tone: ``C7(13)`` has no ninth,
  ``C13`` has one.
* ``H`` is B natural; ``B`` is B natural too. A small letter as root means minor: ``d7``.
* ``%``, ``/`` and a bare ``/F`` repeat the chord before, the last over a new bass.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from fillwright.errors import TextError
from fillwright.theory.chord import (
    KIND_DEGREES,
    NO_CHORD,
    ChordSymbol,
    degree_number,
    sort_degrees,
)
from fillwright.theory.pitch import NoteName

__all__ = ["ChordTextError", "best_kind", "is_no_chord", "parse_chord", "parse_suffix"]


class ChordTextError(TextError):
    """A chord symbol that cannot be read; `position` counts characters from 0."""

    def __init__(self, text: str, position: int) -> None:
        rest = text[position:position + 8]
        what = f"{rest!r} at character {position + 1}" if rest else "the end"
        super().__init__(f"chord symbol {text!r}: {what} is not understood")
        self.text = text
        self.position = position


# One character for one, so that positions stay those of the text as written.
_PLAIN = str.maketrans({
    "♭": "b", "♯": "#", "𝄫": "𝄫", "△": "Δ", "∆": "Δ", "▵": "Δ", "º": "°", "˚": "°", "∘": "°",
    "Ø": "ø", "∅": "ø", "⌀": "ø", "–": "-", "−": "-", "‐": "-", "‑": "-", "—": "-", "－": "-",
    "⁺": "+", "＋": "+", "⁻": "-", "²": "2", "⁴": "4", "⁵": "5", "⁶": "6", "⁷": "7", "⁹": "9",
    "¹": "1", "³": "3", "₁": "1", "₂": "2", "₃": "3", "₄": "4", "₅": "5", "₆": "6", "₇": "7",
    "₉": "9", "／": "/", "\\": "/", "（": "(", "）": ")", "\u00a0": " ",
    "{": "(", "}": ")", "[": "(", "]": ")",
})

_LONGEST = 100
"""Characters of the longest text that is looked at."""

_ROOT = re.compile(r"([A-Ha-g])(bb(?!5)|##|𝄫|𝄪|x(?=[^a-z]|$)|b|#|♮|[ -]?flat|[ -]?sharp)?")
_NO_CHORD = re.compile(r"\(?\s*(?:n\.?\s*c\.?|no\s*chord|tacet)\s*\)?", re.IGNORECASE)
_BASS = re.compile(r"\s*/\s*([A-Ha-h])(bb|##|b|#|♮|\+|-)?\s*$")
_REPEAT = frozenset({"%", "/", "𝄎", "''"})
_ACCIDENTAL = {"": "", "♮": "", "b": "b", "flat": "b", "-": "b", "#": "#", "sharp": "#",
               "+": "#", "bb": "bb", "𝄫": "bb", "##": "##", "x": "##", "𝄪": "##"}

# Tried in this order at each place.
_TOKENS = tuple((name, re.compile(pattern)) for name, pattern in (
    ("space", r"[\s,]+"),
    ("open", r"\("),
    ("close", r"\)"),
    ("omit", r"(?:no|omit|om)\.?\s*(1|3|5|7|9|11|13)(?:st|rd|th)?"),
    ("add", r"(?:add|Add|ADD)\.?\s*([b#+-]?)(2|3|4|5|6|9|11|13)"),
    ("altered", r"(?:alt|Alt|ALT)(?:ered)?\.?"),
    ("sus", r"(?:sus|Sus|SUS)(2/?4|4/?2|2|4)?\.?"),
    ("raised", r"aug\.?(5|9|11)(?!\d)"),
    ("lowered", r"dim\.?5(?!\d)"),
    ("natural", r"♮(13|11|9|6|5)(?!\d)"),
    ("half", r"ø|(?:half[-\s]?|h)dim(?:inished)?\.?"),
    ("dim", r"(?:dim|Dim|DIM)(?:inished)?\.?|°|o(?![a-z])"),
    ("aug", r"(?:aug|Aug|AUG)(?:mented)?\.?"),
    ("dom", r"(?:dom|Dom)(?:inant)?\.?"),
    ("minor", r"(?:minor|min|mi(?!n)|Minor|Min|Mi(?!n)|MIN|MI(?!N)"
              r"|m(?!aj|a(?!dd|ug|lt)|j))\.?"),
    ("delta", r"Δ|\^"),
    ("major", r"(?:major|maj|ma(?!j|dd|ug|lt)|mj|Major|Maj|Ma(?!j|dd)|MAJ|MA(?!J)|Mj|M"
              r"|j(?=\d))\.?"),
    ("sixnine", r"6\s*/\s*9|9\s*/\s*6|6\s*\(?add\s*9\)?|69"),
    ("alter", r"(b|#|flat|sharp)[ -]?(13|11|9|7|6|5|4|2)(?!\d)"),
    ("sign", r"[+-]"),
    ("number", r"13|11|9|7|6|5|4|2"),
    ("slash", r"/(?=[b#+\-\dmMΔ])"),
))
_EXTENSION = re.compile(r"\s*(7|9|11|13)")
_SIXTH_OR_MORE = re.compile(r"\s*\(?(6|7|9|11|13)")
_SIGNED = re.compile(r"(13|11|9|7|6|5|4)(?!\d)")
_POSTFIX = re.compile(r"(?P<quality>.*?[67])(?P<tones>(?:(?:9|11|13)[b#]?)+)")
_POSTFIX_TONE = re.compile(r"(9|11|13)([b#]?)")
_FOLDED = {"2": "9", "4": "11", "6": "13"}


@lru_cache(maxsize=4096)
def parse_chord(text: str, previous: ChordSymbol | None = None) -> ChordSymbol:
    """Read a chord symbol; `previous` is what ``%`` and ``/F`` refer to.

    Raises `ChordTextError`.

    >>> parse_chord("C-7").kind
    'minor-seventh'
    >>> parse_chord("B♭13(#11)").degrees
    ('1', '3', '5', 'b7', '9', '#11', '13')
    >>> str(parse_chord("/B", parse_chord("C")))
    'C/B'
    """
    if len(text) > _LONGEST:
        raise ChordTextError(text[:_LONGEST], _LONGEST)
    plain = text.translate(_PLAIN)
    stripped = plain.strip()
    lead = len(plain) - len(plain.lstrip())
    while _is_enclosed(stripped):  # "(Dm7)": a chord in passing
        inner = stripped[1:-1].lstrip()
        lead += len(stripped) - 1 - len(inner)
        stripped = inner.rstrip()
    if is_no_chord(stripped):
        return NO_CHORD
    if previous is not None and previous.is_chord:
        if stripped in _REPEAT:
            return previous
        bare = _BASS.fullmatch(stripped)
        if bare is not None:
            return _over(previous, _note(bare))
    root = _ROOT.match(stripped)
    if root is None:
        raise ChordTextError(text, lead)
    name = _note(root)
    body = stripped[root.end():]
    start = lead + root.end()
    bass = None
    slash = _BASS.search(body)
    if slash is not None:
        bass = _note(slash)
        body = body[:slash.start()]
    kind, degrees = _parse_body(text, body, start, root[1].islower())
    if bass == name:
        bass = None
    suffix = text[start:start + len(body)].strip()
    if root[1].islower() and "b3" in degrees and not suffix.startswith(("m", "-")):
        suffix = "m" + suffix
    return ChordSymbol(name, kind, degrees, bass, suffix)


@lru_cache(maxsize=4096)
def parse_suffix(suffix: str) -> tuple[str, tuple[str, ...]]:
    """Kind and degrees of a quality alone: ``"-7"``, ``"maj7"``. Raises `ChordTextError`.

    >>> parse_suffix("7sus4")
    ('suspended-fourth', ('1', '4', '5', 'b7'))
    """
    if len(suffix) > _LONGEST:
        raise ChordTextError(suffix[:_LONGEST], _LONGEST)
    return _parse_body(suffix, suffix.translate(_PLAIN).rstrip(), 0, False)


def is_no_chord(text: str) -> bool:
    """Whether a text says that no chord sounds: ``"N.C."``, ``"NC"``, ``"no chord"``."""
    return _NO_CHORD.fullmatch(text.strip()) is not None


def _is_enclosed(text: str) -> bool:
    """Whether the parenthesis a text begins with closes at its end."""
    depth = 0
    for position, character in enumerate(text):
        depth += {"(": 1, ")": -1}.get(character, 0)
        if depth <= 0:
            return character == ")" and 1 < position == len(text) - 1
    return False


def _note(match: re.Match[str]) -> NoteName:
    letter = match[1].upper()
    accidental = match[2] or ""
    if len(accidental) > 2:  # a word, maybe after a hyphen
        accidental = accidental.strip(" -")
    return NoteName.parse(("B" if letter == "H" else letter) + _ACCIDENTAL[accidental])


def _over(chord: ChordSymbol, bass: NoteName) -> ChordSymbol:
    return ChordSymbol(chord.root, chord.kind, chord.degrees,
                       None if bass == chord.root else bass, chord.suffix)


@dataclass(slots=True)
class _Quality:
    """What has been understood of a quality so far."""

    minor: bool = False
    major: bool = False
    dim: bool = False
    half: bool = False
    aug: bool = False
    sus2: bool = False
    sus4: bool = False
    altered: bool = False
    flat_nine: bool = False
    sixth: bool = False
    power: bool = False
    extension: int = 0
    changes: list[str] = field(default_factory=list)
    removed: list[int] = field(default_factory=list)
    any: bool = False
    depth: int = 0
    after_slash: bool = False

    def number(self, number: str) -> bool:
        """Take a bare number; False where it makes no sense here."""
        aside = self.depth > 0 or self.after_slash
        if number == "6":
            if self.sixth:
                return False
            self.sixth = True
        elif number == "5":
            if self.any and not aside:
                return False
            self.power = not self.any
        elif number == "4":
            self.sus4 = True
        elif number == "2":
            self.changes.append("9")
        elif aside and number != "7" and (self.extension or not self.major):
            self.changes.append(number)
        elif self.extension:
            if not (self.sus2 or self.sus4):
                return False
            self.changes.append(number)  # "7sus13": one tone more
        else:
            self.extension = int(number)
        return True

    def alter(self, sign: str, number: str) -> None:
        if number == "7":
            self.major |= sign == "#"
            self.extension = max(self.extension, 7)
        else:
            self.flat_nine |= (sign, number) == ("b", "9")
            self.changes.append(sign + _FOLDED.get(number, number))

    def sign(self, sign: str, following: str) -> bool:
        """Take ``+`` or ``-`` with the number after it, if that belongs to it."""
        if not self.any and following != "5":
            if sign == "-":
                self.minor = True
            else:
                self.aug = True
            return False
        if sign == "+" and following in ("", "7") and not (following == "7" and self.minor):
            self.aug = True
            return False
        if following == "":
            raise ValueError("a lone minus")
        self.alter("#" if sign == "+" else "b", following)
        return True

    def degrees(self) -> tuple[str, ...]:
        seventh = ""
        if self.extension:
            seventh = "7" if self.major else "bb7" if self.dim else "b7"
        if self.half or self.altered or (self.sus4 and not seventh and self.flat_nine):
            seventh = "b7"
        degrees = {"1", "b3" if self.minor or self.dim or self.half else "3",
                   "b5" if self.dim or self.half else "#5" if self.aug else "5"}
        degrees |= {seventh} if seventh else set()
        degrees |= {"6"} if self.sixth else set()
        degrees |= {str(n) for n in (9, 11, 13) if self.extension >= n}
        if self.sus2 or self.sus4:
            degrees -= {"3", "b3", "11"}
            degrees |= ({"2"} if self.sus2 else set()) | ({"4"} if self.sus4 else set())
        if self.power:
            degrees.discard("3")
        if self.altered:
            degrees -= {"5", "9", "11", "13"}
            degrees |= {"b9", "#9", "#11", "b13"}
        if any(change in ("b5", "#5") for change in self.changes):
            degrees -= {"5"} if not (self.dim or self.half or self.aug) else set()
        for change in self.changes:
            if change[0] in "b#":  # an altered tone takes the place of the plain one
                degrees.discard(change.lstrip("b#"))
            degrees.add(change)
        return sort_degrees({d for d in degrees if degree_number(d) not in self.removed
                             or d in self.changes})


def _parse_body(text: str, body: str, offset: int, minor: bool) -> tuple[str, tuple[str, ...]]:
    quality = _Quality(minor=minor)
    try:
        _take_tokens(text, body, offset, quality)
    except ChordTextError:
        postfix = _POSTFIX.fullmatch(body)
        if postfix is None:
            raise
        # The spelling "79b", "7911#", with the accidental behind: common in written-out solos.
        quality = _Quality(minor=minor)
        _take_tokens(text, postfix["quality"], offset, quality)
        for number, sign in _POSTFIX_TONE.findall(postfix["tones"]):
            quality.changes.append(sign + number)
    degrees = quality.degrees()
    return best_kind(degrees), degrees


def _next_token(body: str, position: int) -> tuple[str, re.Match[str] | None]:
    for name, pattern in _TOKENS:
        match = pattern.match(body, position)
        if match is not None:
            return name, match
    return "", None


def _take_tokens(text: str, body: str, offset: int, quality: _Quality) -> None:
    position = 0
    minor_root = quality.minor
    while position < len(body):
        name, match = _next_token(body, position)
        if match is None:
            raise ChordTextError(text, position + offset)
        end = match.end()
        understood = True
        match name:
            case "space":
                quality.after_slash |= "," in match[0]
            case "open":
                quality.depth += 1
            case "close":
                quality.depth -= 1
                understood = quality.depth >= 0
            case "omit":
                quality.removed.append(int(match[1]))
            case "add":
                number = match[2] if match[2] == "6" else _FOLDED.get(match[2], match[2])
                quality.changes.append(_ACCIDENTAL[match[1]] + number)
            case "altered":
                quality.altered = True
            case "sus":
                quality.sus2 |= "2" in (match[1] or "")
                quality.sus4 |= "4" in (match[1] or "4")
            case "half":
                quality.half = True
            case "dim":
                quality.dim = True
            case "aug":
                quality.aug = True
            case "dom":
                following = _EXTENSION.match(body, end)
                quality.extension = int(following[1]) if following else 7
                end = following.end() if following else end
            case "minor":
                understood = ((not quality.minor or (minor_root and not quality.any))
                              and not quality.major and quality.extension == 0)
                quality.minor = True
            case "major" | "delta":
                understood = not quality.major and (quality.extension == 0 or match[0] == "M")
                quality.major = True
                if name == "delta" and not _SIXTH_OR_MORE.match(body, end):
                    quality.extension = 7
            case "sixnine":
                understood = not quality.sixth and quality.extension == 0
                quality.sixth = True
                quality.changes.append("9")
            case "alter":
                quality.alter(_ACCIDENTAL[match[1]], match[2])
            case "raised" if match[1] != "5" and not quality.any:  # an augmented ninth chord
                quality.aug = True
                end = match.start(1)
            case "raised":
                quality.alter("#", match[1])
            case "lowered":
                understood = quality.any
                quality.alter("b", "5")
            case "natural":
                quality.changes += [] if match[1] == "5" else [match[1]]
            case "sign":
                following = _SIGNED.match(body, end)
                try:
                    if quality.sign(match[0], following[1] if following else ""):
                        assert following is not None
                        end = following.end()
                except ValueError:
                    understood = False
            case "number":
                understood = quality.number(match[0])
        if not understood:
            raise ChordTextError(text, position + offset)
        if name not in ("space", "open", "close"):
            quality.any = True
            quality.after_slash = name == "slash"
        position = end
    if quality.depth != 0:
        raise ChordTextError(text, len(body) + offset)


_SPECIAL_KINDS = frozenset({"pedal", "Neapolitan", "Italian", "French", "German", "Tristan",
                            "other", "none"})
_ORDINARY_KINDS = tuple((kind, frozenset(degrees)) for kind, degrees in KIND_DEGREES.items()
                        if kind not in _SPECIAL_KINDS)


@lru_cache(maxsize=1024)
def best_kind(degrees: tuple[str, ...]) -> str:
    """The MusicXML kind that needs the fewest changes to give these degrees.

    >>> best_kind(("1", "3", "5", "6", "9"))
    'major-sixth'
    """
    wanted = frozenset(degrees)
    best, best_cost = "other", 99
    for kind, base in _ORDINARY_KINDS:
        # A kind that claims a tone the chord lacks misleads more than one that omits a tone.
        cost = 2 * len(base - wanted) + len(wanted - base)
        if kind == "power" and cost:
            cost += 2
        if cost < best_cost:
            best, best_cost = kind, cost
    return best
