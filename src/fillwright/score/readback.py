"""A score for two hands, ours or any program's, read back into struck keys.

MusicXML 4.0 (W3C Music Notation Community Group) says what a file means; where programs
differ this reader takes the reading that a pianist would:

- The upper staff, or the first of two parts, is the right hand, the other the left.
- Ties are merged, also where the tie changes voice. Two voices that meet on one key strike
  it once, for as long as the longer of them says.
- A chord with an arpeggio sign is rolled. A staccato note is held for half its value,
  a staccatissimo for a quarter (common practice).
- Grace notes, cue notes, slashes and hidden notes are left out.
- Bars stand in printed order: repeats are read once.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from lxml import etree

from fillwright.arranging.from_paper import ReadArrangement
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.theory.pitch import Pitch
from fillwright.tune.container import is_archive, parse_score, unpack
from fillwright.tune.limits import MAX_PRINTED_BARS
from fillwright.tune.melody import RawNote, Ticks, top_line
from fillwright.tune.model import ChordSpan, ChorusBar
from fillwright.tune.musicxml import PartReader, RawBar, Speed, ticks_per_quarter
from fillwright.tune.notexml import NoteReader
from fillwright.tune.notices import Notices
from fillwright.tune.read import file_bytes
from fillwright.tune.signature import Signature
from fillwright.tune.words import FASTEST_BPM, SLOWEST_BPM, default_tempo

__all__ = ["ReadArrangement", "read_arrangement", "read_arrangement_bytes"]

_HANDS = ("right", "left")
_ROUNDING = 40
"""Places closer than this part of a quarter note are one: rounded tuplets."""

_FINGER = re.compile(r"\s*([1-5])\b")


def read_arrangement(path: str | Path) -> ReadArrangement:
    """Read a MusicXML file (`.musicxml`, `.xml`, `.mxl`) that two hands can play.

    Raises InputError, whose `source` is the file's name.
    """
    path = Path(path)
    return read_arrangement_bytes(file_bytes(path), path.name)


def read_arrangement_bytes(data: bytes, name: str) -> ReadArrangement:
    """Read the bytes of a file called `name`. Raises InputError."""
    notices = Notices()
    try:
        if is_archive(data):
            data = unpack(data)
        root, warnings = parse_score(data)
        for warning in warnings:
            notices.add(warning)
        return _read(root, name, notices)
    except InputError as error:
        if error.source:
            raise
        raise InputError(error.message, name) from error.__cause__


# --- one note on paper ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Head:
    """A printed note head in its bar, and what a hand needs to know of it. `held` is the
    share of its value for which the key is down."""

    note: RawNote
    staff: str
    voice: str
    finger: int | None
    rolled: bool
    held: Fraction


class _HeadReader(NoteReader):
    """Reads the notes of all staves. `heads` holds those of each bar."""

    def __init__(self, tpq: int, signature: Signature, notices: Notices) -> None:
        self.heads: list[list[_Head]] = []
        self._chord: list[int] = []  # where the notes of the chord being read stand
        super().__init__(tpq, signature, notices, staff="1", wanted=True)
        self.heads.clear()  # no bar has begun

    def begin(self) -> None:
        super().begin()
        self.heads.append([])
        self._chord = []

    def read(self, note: etree._Element) -> None:
        if note.find("grace") is not None:
            self._notices.add("grace notes are left out", bar="")
        self._staff = (note.findtext("staff") or "1").strip()
        known = len(self.notes)
        super().read(note)
        if len(self.notes) == known:
            return
        here = self.heads[-1]
        if note.find("chord") is None:
            self._chord = []
        self._chord.append(len(here))
        here.append(_head(note, self.notes[-1], self._staff))
        # Programs put the signs of a chord on all its notes or on the first.
        rolled = any(here[index].rolled for index in self._chord)
        held = min(here[index].held for index in self._chord)
        for index in self._chord:
            here[index] = replace(here[index], rolled=rolled, held=held)


class _StaffReader(PartReader):
    """Reads a part with the notes of all its staves."""

    def __init__(self, part: etree._Element, tpq: int, notices: Notices, *,
                 concert: bool) -> None:
        super().__init__(part, tpq, notices, concert=concert)
        self._staff = "1"
        self._notes: _HeadReader = _HeadReader(tpq, self._signature, notices)
        self.marked: dict[tuple[int, int], str] = {}
        """What is said of a symbol by (bar, place among its chords): "added" to those of the
        sheet by this program, or one of the sheet "again" behind an added one."""

    @property
    def heads(self) -> list[list[_Head]]:
        return self._notes.heads

    def _take_harmony(self, element: etree._Element, bar: RawBar) -> None:
        known = len(bar.chords)
        super()._take_harmony(element, bar)
        name = (element.get("id") or "").rstrip("0123456789")
        if len(bar.chords) > known and name in ("added", "again"):
            self.marked[len(self.bars) - 1, known] = name
            self._printed.pop(known, None)  # its place is its own: it is stacked on nothing


def _head(note: etree._Element, raw: RawNote, staff: str) -> _Head:
    finger = None
    rolled = False
    held = Fraction(1)
    for notations in note.iterchildren("notations"):
        rolled |= notations.find("arpeggiate") is not None
        finger = finger or _finger(notations.iterfind("technical/fingering"))
        if notations.find("articulations/staccatissimo") is not None:
            held = Fraction(1, 4)
        elif notations.find("articulations/staccato") is not None:
            held = Fraction(1, 2)
    return _Head(raw, staff, (note.findtext("voice") or "").strip(), finger, rolled, held)


def _finger(elements: Iterable[etree._Element]) -> int | None:
    """The finger that strikes: of a change on the held key ("4-5") the first; an
    alternative in brackets does not count."""
    for element in elements:
        match = _FINGER.match(element.text or "")
        if match is not None and element.get("alternate") != "yes":
            return int(match[1])
    return None


# --- the score --------------------------------------------------------------------------


def _read(root: etree._Element, name: str, notices: Notices) -> ReadArrangement:
    parts = root.findall("part")
    for part in parts:
        count = sum(1 for _ in part.iterchildren("measure"))
        if count > MAX_PRINTED_BARS:
            raise InputError(f"the score has {count} bars, more than the limit of "
                             f"{MAX_PRINTED_BARS}")
    used = _two_hands(parts, notices)
    tpq = ticks_per_quarter(used)
    concert = root.find("defaults/concert-score") is not None
    readers = [_StaffReader(part, tpq, notices, concert=concert) for part in used]
    for reader in readers:
        reader.read()
    bars = _bars(readers, tpq, notices)
    if any(mark.repeat_end or mark.endings or mark.from_start or mark.from_segno
           for reader in readers for mark in reader.marks):
        notices.add("repeats and jumps are read once, bars in printed order", bar="")
    keys = _keys_down(readers, bars, tpq, notices)
    if not keys:
        raise InputError("the score has no notes that sound")
    tempo = _tempo([reader.speed for reader in readers], bars, notices)
    return ReadArrangement(_title(root, name), _hand_notes(keys), _chords(readers, bars, tpq),
                           bars, tempo, notices.as_tuple(), name)


def _two_hands(parts: Sequence[etree._Element], notices: Notices) -> list[etree._Element]:
    """The part with two staves, or two parts of one staff each. Raises InputError."""
    sounding = [(part, _staves(part)) for part in parts if part.find(".//pitch") is not None]
    if not sounding:
        raise InputError("the score has no notes that sound")
    pianos = [part for part, staves in sounding if staves == 2]
    if len(pianos) == 1:
        if len(sounding) > 1:
            notices.add(f"the score has {len(sounding)} parts with notes; the one with two "
                        "staves is read")
        return pianos
    if not pianos and [staves for _, staves in sounding] == [1, 1]:
        notices.add("two parts of one staff each are read as the right hand and the left")
        return [part for part, _ in sounding]
    if len(sounding) == 1:
        staves = sounding[0][1]
        raise InputError(f"not a score for two hands: it has {staves} "
                         f"{'staff' if staves == 1 else 'staves'} instead of two")
    raise InputError(f"not a score for two hands: it has {len(sounding)} parts with notes, "
                     + (f"{len(pianos)} of them with two staves" if pianos else
                        "none of them with two staves"))


def _staves(part: etree._Element) -> int:
    """How many staves a part has: as it says, or as its notes do."""
    named = {(element.text or "").strip() for element in part.iter("staff")}
    count = max((int(text) for text in named if text.isdigit() and len(text) < 4), default=1)
    for element in part.iter("staves"):
        text = (element.text or "").strip()
        if text.isdigit() and len(text) < 4:
            count = max(count, int(text))
    return count


def _bars(readers: Sequence[_StaffReader], tpq: int, notices: Notices) -> tuple[ChorusBar, ...]:
    """Bars as long as the longest of their parts."""
    bars: list[ChorusBar] = []
    place = Fraction(0)
    count = max(len(reader.bars) for reader in readers)
    for index in range(count):
        raws = [reader.bars[index] for reader in readers if index < len(reader.bars)]
        first = raws[0]
        full = first.meter.length_quarter
        content = max(Fraction(_content(raw, full, tpq), tpq) for raw in raws)
        length = content if content and abs(content - full) * _ROUNDING > 1 else full
        pickup = length < full and (index == 0 or first.implicit) and index + 1 < count
        if length != full and not first.implicit and 0 < index < count - 1:
            notices.add(f"it holds {length} quarter notes instead of {full}", bar=first.number)
        bars.append(ChorusBar(index, first.number, 1, place, length, first.meter, first.key,
                              pickup, first.section))
        place += length
    if not bars:
        raise InputError("the score has no bars")
    return tuple(bars)


def _content(raw: RawBar, full: Fraction, tpq: int) -> Ticks:
    """How far a bar is filled. A whole rest, or a step forward, may say more than is there."""
    most = full * tpq
    limited = max(min(raw.rests_end, most) if not raw.notes_end else raw.rests_end,
                  min(raw.forward_end, most))
    return max(raw.notes_end, limited)


# --- struck keys ------------------------------------------------------------------------


@dataclass(slots=True)
class _KeyDown:
    """A key from its attack to the end of its written value, in quarters; grows by ties."""

    onset_quarter: Fraction
    end_quarter: Fraction
    pitch: Pitch
    hand: str
    finger: int | None
    rolled: bool
    held: Fraction


@dataclass(frozen=True, slots=True)
class _Tie:
    """A tie that waits for the note it leads to, at `end_quarter`."""

    key: _KeyDown
    end_quarter: Fraction
    voice: str


def _keys_down(readers: Sequence[_StaffReader], bars: Sequence[ChorusBar], tpq: int,
             notices: Notices) -> list[_KeyDown]:
    """All attacks in order, ties merged, unisons of one hand made one. All times in ticks are
    turned into quarters here."""
    book = _Book(tpq, notices)
    for bar in bars:
        heads = [(head, _hand(part, head, len(readers))) for part, reader in enumerate(readers)
                 if bar.bar_index < len(reader.heads) for head in reader.heads[bar.bar_index]]
        heads.sort(key=lambda item: (item[0].note.onset, item[0].note.midi, item[1]))
        for head, hand in heads:
            book.add(head, hand, bar)
    return sorted(book.keys.values(), key=lambda s: (s.onset_quarter, s.pitch.midi, s.hand))


def _hand(part: int, head: _Head, parts: int) -> str:
    return _HANDS[part] if parts == 2 else _HANDS[head.staff != "1"]


class _Book:
    """The keys struck so far, and the ties that wait, by MIDI number."""

    def __init__(self, tpq: int, notices: Notices) -> None:
        self.tpq, self.notices = tpq, notices
        self.keys: dict[tuple[Fraction, int, str], _KeyDown] = {}
        self.ties: dict[int, list[_Tie]] = defaultdict(list)

    def add(self, head: _Head, hand: str, bar: ChorusBar) -> None:
        note = head.note
        onset = bar.onset_quarter + Fraction(note.onset) / self.tpq
        end = bar.onset_quarter + Fraction(note.end) / self.tpq
        waiting = self.ties[note.midi]
        tie = _tied(waiting, onset, hand, head.voice) if note.tie_stop else None
        if tie is not None:
            waiting.remove(tie)
            key = tie.key
            key.end_quarter = max(key.end_quarter, end)
            key.held = Fraction(1)
            key.finger = key.finger or head.finger
        else:
            if note.tie_stop:
                self.notices.add(
                    f"a tie to {note.pitch} has no beginning; the note is struck", bar=bar.number)
            new = _KeyDown(onset, end, note.pitch, hand, head.finger, head.rolled, head.held)
            key = self.keys.setdefault((onset, note.midi, hand), new)
            if key is not new:  # two voices on one key
                key.held = max((end, head.held), (key.end_quarter, key.held))[1]
                key.end_quarter = max(key.end_quarter, end)
                key.finger = key.finger or head.finger
                key.rolled |= head.rolled
        if note.tie_start:
            waiting.append(_Tie(key, end, head.voice))


def _tied(waiting: Sequence[_Tie], onset: Fraction, hand: str, voice: str) -> _Tie | None:
    """The tie that leads to a note: of the same hand and voice if there is one."""
    fitting = [tie for tie in waiting if abs(tie.end_quarter - onset) * _ROUNDING <= 1]
    return min(fitting, key=lambda tie: (tie.key.hand != hand, tie.voice != voice),
               default=None)


def _hand_notes(keys: Sequence[_KeyDown]) -> tuple[HandNote, ...]:
    melody = _melody(keys)
    return tuple(HandNote(s.onset_quarter, (s.end_quarter - s.onset_quarter) * s.held, s.pitch,
                          s.hand, s.finger,
                          "melody" if (s.onset_quarter, s.pitch.midi) in melody
                          and s.hand == "right" else "base", None, s.rolled)
                 for s in keys)


def _melody(keys: Sequence[_KeyDown]) -> set[tuple[Fraction, int]]:
    """(onset, MIDI number) of the top line of the right hand."""
    right = [RawNote(s.onset_quarter, s.end_quarter, s.pitch.midi, s.pitch, False, False, False)
             for s in keys if s.hand == "right"]
    line, _ = top_line(right)
    return {(Fraction(note.onset), note.midi) for note in line}


# --- chords, tempo, title ---------------------------------------------------------------


def _chords(readers: Sequence[_StaffReader], bars: Sequence[ChorusBar], tpq: int
            ) -> tuple[ChordSpan, ...]:
    """Each symbol until the next place that has one. One of the sheet sounds on under those
    that this program added."""
    end = bars[-1].end_quarter
    found = sorted(((min(bar.onset_quarter + Fraction(onset) / tpq, end),
                     reader.marked.get((bar.bar_index, index), ""), symbol)
                    for reader in readers
                    for bar, raw in zip(bars, reader.bars, strict=False)
                    for index, (onset, symbol) in enumerate(raw.chords)),
                   key=lambda chord: chord[:2])
    every = sorted({onset for onset, _, _ in found} | {end})
    sheet = sorted({onset for onset, mark, _ in found if not mark} | {end})
    until = {"added": dict(pairwise(every)), "": dict(pairwise(sheet))}
    return tuple(ChordSpan(onset, until[mark][onset] - onset, symbol, mark == "added")
                 for onset, mark, symbol in found if onset < end and mark in until)


def _tempo(speeds: Sequence[Speed], bars: Sequence[ChorusBar], notices: Notices) -> Fraction:
    """Felt beats a minute: what is marked before what words suggest, else a usual one."""
    meter = bars[0].meter
    for speed in sorted(speeds, key=lambda speed: not speed.marked):
        if speed.bpm is not None:
            bpm = speed.bpm / meter.beat_quarter if speed.of_quarter else speed.bpm
            if SLOWEST_BPM <= bpm <= FASTEST_BPM:
                return bpm.limit_denominator(100)
    usual = default_tempo(meter)
    notices.add(f"no tempo is marked; taken to be {float(usual):g} beats a minute", bar="")
    return usual


def _title(root: etree._Element, name: str) -> str:
    for candidate in (root.findtext("movement-title"), root.findtext("work/work-title")):
        title = "".join(c for c in " ".join((candidate or "").split()) if c.isprintable())
        if title:
            return title[:200]
    return name.rsplit(".", 1)[0] or "Untitled"
