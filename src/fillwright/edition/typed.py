"""Notes typed as text for a gap: keys on counts, as a pianist says them.

    R: 2& D5, 3 F5 A5, 4 - | 1 G5 ; L: 2& C3 Bb3 =1

A hand (`R:` or `L:`; without one, the right), then its strokes with commas between them: a count
(`2`, `2&`, `2e`, `2a`, `2trip`, `2let`; in 6/8, 9/8 and 12/8 the eighths are numbered) and the keys
that are struck on it, or `-` to let go. `|` goes to the next bar; the first is the one in which the
gap opens. A key is held until the next stroke of its hand, else until the landing; `=1/2` behind
the keys says how many quarters instead. Hands are parted by `;` or a new line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fillwright.arranging.by_hand import OWN_NOTES, id_by_hand
from fillwright.edition.own import melody_key
from fillwright.edition.picks import MAX_NOTES, AddedNote, OwnFill, Pick
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.rules.hands import HIGHEST_KEY, LOWEST_KEY
from fillwright.theory.pitch import Pitch
from fillwright.tune.model import Chorus, ChorusBar, Gap

__all__ = ["MAX_TEXT", "typed_pick"]

MAX_TEXT = 4000
_PARTS = {"": Fraction(0), "e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4),
          "trip": Fraction(1, 3), "let": Fraction(2, 3)}
_STROKE = re.compile(r"(?P<number>\d{1,2})\s*(?P<part>&|e|a|trip|let)?"
                     r"(?P<keys>(?:\s+[A-Ga-g][#b♯♭x]{0,2}-?\d|\s+-)+)"
                     r"(?:\s*=\s*(?P<length>\d{1,2}(?:/\d{1,2})?))?")
_HAND = re.compile(r"\s*(?:(?P<hand>[RrLl])\s*:)?(?P<strokes>.*)", re.S)
_HANDS = {"r": "right", "l": "left"}


@dataclass(frozen=True, slots=True)
class _Stroke:
    """What a hand does at a place of the chorus; no keys: it lets go."""

    onset_quarter: Fraction
    keys: tuple[Pitch, ...]
    length_quarter: Fraction | None


def typed_pick(text: str, chorus: Chorus, gap: Gap) -> Pick:
    """The choice that a text means, keys as they sound.

    It is a line where the right hand plays single notes, else comping. The held note is kept until
    the right hand strikes. Raises InputError, which says what is not understood and what is.
    """
    if not isinstance(text, str) or not text.strip():
        raise InputError("no notes are typed; write for example R: 2& C5, 3 Eb5 ; L: 2 C3 Bb3")
    if len(text) > MAX_TEXT:
        raise InputError(f"that is longer than {MAX_TEXT} letters")
    notes: list[HandNote] = []
    for part in re.split(r"[;\n]", text):
        if not part.strip():
            continue
        said = _HAND.fullmatch(part)
        assert said is not None     # anything fits
        hand = _HANDS[(said["hand"] or "r").lower()]
        notes += _notes([*_strokes(said["strokes"], chorus, gap)], hand, gap)
    if not notes:
        raise InputError("no key is struck in it; leave the gap open instead")
    if len(notes) > MAX_NOTES:
        raise InputError(f"a fill has {MAX_NOTES} notes at most")
    notes.sort(key=lambda note: (note.onset_quarter, note.midi))
    return _pick(notes, chorus, gap)


def _strokes(text: str, chorus: Chorus, gap: Gap) -> Iterator[_Stroke]:
    bars = [bar for bar in chorus.bars if bar.end_quarter > gap.onset_quarter]
    for place, bar_text in enumerate(text.split("|")):
        for said in bar_text.split(","):
            if not said.strip():
                continue
            stroke = _STROKE.fullmatch(said.strip())
            if stroke is None:
                raise InputError(f"{said.strip()!r} is not a count with its keys, such as 2& C5 "
                                 "Eb5, or 4 - to let go")
            at = _place(stroke, bars[place], said) if place < len(bars) else gap.end_quarter
            if not gap.onset_quarter <= at < gap.end_quarter:
                raise InputError(f"{said.strip()!r} does not lie in gap {gap.number}, which is "
                                 f"counted {_counted(chorus, gap)}")
            names = stroke["keys"].split()
            length = stroke["length"]
            if length is not None and not (_number(length) or 0) > 0:
                raise InputError(f"{length} quarters is no length")
            yield _Stroke(at, tuple(_key(name) for name in names if name != "-"),
                          None if length is None else _number(length))


def _number(text: str) -> Fraction | None:
    over, _, under = text.partition("/")
    return None if under and not int(under) else Fraction(int(over), int(under or 1))


def _place(stroke: re.Match[str], bar: ChorusBar, said: str) -> Fraction:
    """Where a count lies in its bar."""
    start = bar.onset_quarter
    if bar.is_pickup:       # counted from the end of the bar it stands for, as it is said
        start -= max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
    unit = Fraction(1, 2) if bar.meter.is_compound else bar.meter.beat_quarter
    part = _PARTS[stroke["part"] or ""]
    number = int(stroke["number"])
    if not 1 <= number <= (bar.end_quarter - start) / unit:
        raise InputError(f"{said.strip()!r}: bar {bar.number} has no count {number}")
    return start + unit * (number - 1 + part)


def _counted(chorus: Chorus, gap: Gap) -> str:
    """From which count to which, in words."""
    first, last = gap.onset_quarter, gap.end_quarter
    end = f"before count {chorus.beat_in_bar(last)} of bar {chorus.bar_at(last).number}"
    if last >= chorus.length_quarter:
        end = "to the end"
    return f"from {chorus.beat_in_bar(first)} of bar {chorus.bar_at(first).number} {end}"


def _key(name: str) -> Pitch:
    pitch = Pitch.parse(name[0].upper() + name[1:].replace("♯", "#").replace("♭", "b"))
    if not LOWEST_KEY <= pitch.midi <= HIGHEST_KEY:
        raise InputError(f"{name} is not on the piano")
    return pitch


def _notes(strokes: Sequence[_Stroke], hand: str, gap: Gap) -> list[HandNote]:
    places = sorted({stroke.onset_quarter for stroke in strokes})
    if [stroke.onset_quarter for stroke in strokes] != places:
        raise InputError("the strokes of a hand are typed in order, each count once")
    found = []
    for stroke, until in zip(strokes, [*places[1:], gap.end_quarter], strict=True):
        length = until - stroke.onset_quarter
        if stroke.length_quarter is not None:
            length = min(stroke.length_quarter, gap.end_quarter - stroke.onset_quarter)
        found += [HandNote(stroke.onset_quarter, length, key, hand, None, "fill", gap.number)
                  for key in stroke.keys]
    return found


def _pick(notes: Sequence[HandNote], chorus: Chorus, gap: Gap) -> Pick:
    right: dict[Fraction, set[int]] = {}
    for note in notes:
        if note.hand == "right":
            right.setdefault(note.onset_quarter, set()).add(note.midi)
    single = [keys for keys in right.values() if len({key % 12 for key in keys}) == 1]
    family = "line" if len(single) >= 2 and 2 * len(single) > len(right) else "comp"
    until = min([*right, gap.end_quarter])
    kept = "finger" if until == gap.end_quarter else "released"
    if until == gap.onset_quarter:      # struck with the held note: they sound together
        kept, until = "finger", gap.end_quarter
    anchor = melody_key(chorus, gap)
    return Pick(id_by_hand(gap, family, notes), own=OwnFill(
        family, OWN_NOTES, kept, until - gap.onset_quarter,
        tuple(sorted(AddedNote(note.onset_quarter - gap.onset_quarter, note.midi - anchor,
                               note.duration_quarter, note.hand) for note in notes))))
