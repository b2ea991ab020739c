"""From raw bars to a `Tune`: which part sings, how long bars are, what the top line is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lxml import etree

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval
from fillwright.tune.limits import MAX_PRINTED_BARS
from fillwright.tune.marks import merge_marks, resolve_marks
from fillwright.tune.melody import RawNote, Ticks, top_line
from fillwright.tune.model import Bar, FormMarks, MelodyNote, Tune, WrittenChord
from fillwright.tune.musicxml import PartReader, RawBar, Speed, ticks_per_quarter
from fillwright.tune.notices import Notices
from fillwright.tune.textchords import chords_from_text
from fillwright.tune.unsigned import take_key, take_meter
from fillwright.tune.words import FASTEST_BPM, SLOWEST_BPM, default_tempo

__all__ = ["tune_from_score"]


def tune_from_score(root: etree._Element, source: str, notices: Notices, *,
                    part: str | None = None,
                    given: Mapping[str, ChordSymbol] | None = None,
                    part_order: tuple[str, ...] = ()) -> Tune:
    """Make a tune of a `score-partwise` element.

    part         id, name or number (from 1) of the part that holds the melody; None for
                 the one with the chord symbols
    given        see `PartReader`
    part_order   see `Tune`

    Raises InputError: no such part, no notes, no chord symbols, limits exceeded.
    """
    parts = root.findall("part")
    if not parts:
        raise InputError("the score has no parts")
    names = {element.get("id") or "": " ".join((element.findtext("part-name") or "").split())
             for element in root.iterfind("part-list/score-part")}
    _check_length(parts)
    if given is None and next(root.iter("harmony"), None) is None:
        given = chords_from_text(root, notices)
    melody, chords = _choose_parts(parts, names, part)
    used = [melody] if chords is melody else [melody, chords]
    if parts[0] not in used:
        used.append(parts[0])
    tpq = ticks_per_quarter(used)
    concert = root.find("defaults/concert-score") is not None
    readers = [PartReader(element, tpq, notices if element in (melody, chords) else Notices(),
                          concert=concert, want_notes=element is melody, given=given)
               for element in used]
    for reader in readers:
        reader.read()
    main = readers[0]
    if not any(bar.notes for bar in main.bars):
        raise InputError("the score has no notes that sound" if len(parts) == 1 else
                         f"part {_part_label(melody, names)} has no notes that sound")
    if chords is not melody:
        _merge_chords(main.bars, readers[1].bars)
        notices.add(f"the melody is taken from part {_part_label(melody, names)}, the chord "
                    f"symbols from part {_part_label(chords, names)}")
    elif len(parts) > 1:
        notices.add(f"the score has {len(parts)} parts; the melody is taken from part "
                    f"{_part_label(melody, names)}")
    if not any(bar.chords for bar in main.bars):
        raise InputError("the score has no chord symbols")
    for reader in readers[1:]:
        merge_marks(main.marks, reader.marks)
    if not main.key_given:
        take_key(main.bars, notices)
    _infer_modes(main.bars)
    _trim_first_bar(main.bars[0])
    if not main.meter_given:
        take_meter(main.bars, tpq, notices)
    bars = _bars(main.bars, resolve_marks(main.marks), tpq, notices)
    tempo, marked, feel = _speed([reader.speed for reader in readers], bars, notices)
    return Tune(_title(root, source), bars, tempo, feel, source, notices.as_tuple(), marked,
                part_order, _composer(root), _rights(root))


# Parts ---------------------------------------------------------------------------------


def _check_length(parts: Sequence[etree._Element]) -> None:
    for element in parts:
        if len(element) <= MAX_PRINTED_BARS:
            continue
        count = sum(1 for _ in element.iterchildren("measure"))
        if count > MAX_PRINTED_BARS:
            raise InputError(f"the score has {count} bars, more than the limit of "
                             f"{MAX_PRINTED_BARS}")


def _choose_parts(parts: list[etree._Element], names: dict[str, str], wanted: str | None
                  ) -> tuple[etree._Element, etree._Element]:
    """The part of the melody and the part of the chord symbols."""
    with_chords = [p for p in parts if next(p.iter("harmony"), None) is not None]
    if wanted is not None:
        melody = _named_part(parts, names, wanted)
    else:
        melody = next((p for p in [*with_chords, *parts] if _has_pitches(p)), parts[0])
    if melody in with_chords or not with_chords:
        return melody, melody
    return melody, with_chords[0]


def _named_part(parts: list[etree._Element], names: dict[str, str], wanted: str
                ) -> etree._Element:
    asked = wanted.strip().lower()
    for element in parts:
        if (element.get("id") or "").lower() == asked:
            return element
    for element in parts:
        if names.get(element.get("id") or "", "").lower() == asked and asked:
            return element
    if asked.isdigit() and len(asked) < 6 and 1 <= int(asked) <= len(parts):
        return parts[int(asked) - 1]
    have = ", ".join(_part_label(element, names) for element in parts[:12])
    raise InputError(f"there is no part {wanted[:40]!r}; the parts are {have}")


def _part_label(part: etree._Element, names: dict[str, str]) -> str:
    name = part.get("id") or "?"
    title = names.get(name, "")
    return f"{name} ({title[:30]})" if title else name


def _has_pitches(part: etree._Element) -> bool:
    for pitch in part.iter("pitch"):
        note = pitch.getparent()
        if note is not None and note.get("print-object") != "no" \
                and note.find("cue") is None and note.findtext("notehead") != "slash":
            return True
    return False


def _merge_chords(bars: list[RawBar], others: list[RawBar]) -> None:
    for bar, other in zip(bars, others, strict=False):
        bar.chords.extend(other.chords)


def _infer_modes(bars: list[RawBar]) -> None:
    """A minor chord on the sixth of the signature's major key that ends a sheet is a minor tonic
    (common practice): where the sheet does not say major or minor, and also where it says major,
    as programs write it unasked, if that chord and its dominant stand there more often than the
    major tonic and its own."""
    written = [symbol for bar in bars for _, symbol in bar.chords
               if symbol.is_chord and symbol.root is not None]
    if not written or "b3" not in written[-1].degrees:
        return
    for bar in bars:
        minor = Key(bar.key.fifths, "minor")
        if bar.key.mode == "major" and written[-1].root == minor.tonic and (
                not bar.mode_given or _is_home(minor, bar.key, written)):
            bar.key = minor


_OFTEN = 3
"""A minor tonic that comes so often needs no dominant to be heard as one."""


def _is_home(minor: Key, major: Key, written: Sequence[ChordSymbol]) -> bool:
    """Whether the chords of a sheet are rather those of a minor key than of its relative major."""
    def count(key: Key, above: Interval, third: str) -> int:
        root = (key.tonic.in_octave(4) + above).note_name
        return sum(symbol.root == root and third in symbol.degrees for symbol in written)

    fifth = Interval(4, 7)
    tonics, dominants = count(minor, Interval(0, 0), "b3"), count(minor, fifth, "3")
    others = count(major, Interval(0, 0), "3") + count(major, fifth, "3")
    return (dominants > 0 or tonics >= _OFTEN) and tonics + dominants > others


def _trim_first_bar(bar: RawBar) -> None:
    """Cut off beats that are not printed before a pickup (hidden rests, a step forward, no
    chord symbol), so that the bar begins with what is."""
    start = bar.printed_start
    if not start or any(onset < start for onset, _ in bar.chords):
        return
    bar.notes = [note._replace(onset=note.onset - start, end=note.end - start)
                 for note in bar.notes]
    bar.chords = [(onset - start, symbol) for onset, symbol in bar.chords]
    bar.slur_stops = [(onset - start, midi) for onset, midi in bar.slur_stops]
    bar.notes_end -= min(start, bar.notes_end)
    bar.rests_end -= min(start, bar.rests_end)
    bar.forward_end -= min(start, bar.forward_end)


# Bars ----------------------------------------------------------------------------------


def _bars(raws: list[RawBar], marks: list[FormMarks], tpq: int, notices: Notices
          ) -> tuple[Bar, ...]:
    lengths, pickups = _bar_lengths(raws, marks, tpq, notices)
    quarters: dict[Ticks, Fraction] = {}

    def quarter(ticks: Ticks) -> Fraction:
        found = quarters.get(ticks)
        if found is None:
            found = quarters[ticks] = Fraction(ticks, tpq)
        return found

    bars = []
    below: frozenset[int] = frozenset()
    line: list[RawNote] = []
    for index, (raw, mark) in enumerate(zip(raws, marks, strict=True)):
        length = lengths[index]
        previous, previous_length = (line[-1] if line else None), lengths[index - 1]
        line, below = top_line(raw.notes, below)
        if raw.slur_stops:
            _report_slurs(line, raw, previous, previous_length, notices)
        if line and line[-1].end != length:
            line = _fitted(line, length, tpq)
        notes = tuple([
            MelodyNote(quarter(onset), quarter(end - onset), pitch, tie_start, tie_stop, slurred)
            for onset, end, _, pitch, tie_start, tie_stop, slurred in line])
        chords = tuple([WrittenChord(quarter(onset), symbol)
                        for onset, symbol in _ordered(raw, notices)]) if raw.chords else ()
        bars.append(Bar(raw.number, raw.meter, raw.key, quarter(length), notes, chords, mark,
                        pickups[index], raw.section, raw.line_break))
    return tuple(bars)


def _fitted(line: list[RawNote], length: Ticks, tpq: int) -> list[RawNote]:
    """The last note drawn to the bar line where rounding left a sliver between them, and
    nothing behind it."""
    last = line[-1]
    if last.onset < length and (_close(last.end, length, tpq) or last.end > length):
        return [*line[:-1], last._replace(end=length)]
    return line


def _ordered(raw: RawBar, notices: Notices) -> list[tuple[Ticks, ChordSymbol]]:
    """Chords by place; of two at the same place the last one counts."""
    if len(raw.chords) == 1:
        return raw.chords
    chords: list[tuple[Ticks, ChordSymbol]] = []
    for onset, symbol in sorted(raw.chords, key=lambda chord: chord[0]):
        if chords and chords[-1][0] == onset:
            if chords[-1][1] != symbol:
                notices.add(f"chords {chords[-1][1]} and {symbol} stand at the same place; "
                            "the last one is taken", bar=raw.number)
            chords.pop()
        chords.append((onset, symbol))
    return chords


def _report_slurs(line: list[RawNote], raw: RawBar, previous: RawNote | None,
                  previous_length: Ticks, notices: Notices) -> None:
    stops = set(raw.slur_stops)
    before = previous if previous is not None and previous.end == previous_length else None
    for note in line:
        if (note.onset, note.midi) in stops and before is not None and before.slur_start \
                and before.midi == note.midi and not before.tie_start:
            notices.add("a slur joins two equal notes; it is not taken for a tie",
                        bar=raw.number)
        before = note


def _bar_lengths(raws: list[RawBar], marks: list[FormMarks], tpq: int, notices: Notices
                 ) -> tuple[list[Ticks], list[bool]]:
    """How long each bar is played, and which are right-aligned (pickups and second halves)."""
    full: list[Ticks] = []
    lengths: list[Ticks] = []
    meter = None
    whole: Ticks = 0
    for raw in raws:
        if raw.meter is not meter:
            meter = raw.meter
            whole = _whole(meter.length_quarter * tpq)
        full.append(whole)
        content = max(raw.notes_end, raw.rests_end)
        if content != whole or raw.forward_end:
            content = _content(raw, whole, tpq, notices)
        lengths.append(content)
    pickups = [False] * len(raws)
    if lengths == full:
        return lengths, pickups
    short = [length < whole for length, whole in zip(lengths, full, strict=True)]
    last = len(raws) - 1
    index = 0
    while index <= last:
        if not short[index]:
            index += 1
            continue
        raw = raws[index]
        if index == 0 and last > 0:
            pickups[0] = True
        elif index < last and short[index + 1] \
                and lengths[index] + lengths[index + 1] == full[index]:
            pickups[index + 1] = True  # one bar, split by a double bar or a repeat
            index += 1
        elif index == last and pickups[0] and lengths[0] + lengths[index] == full[index]:
            pass  # the last bar and the pickup make one
        elif raw.implicit:
            pickups[index] = marks[index].repeat_start or marks[index - 1].repeat_end
        elif not (marks[index].repeat_end or marks[index].ending_stops
                  or marks[index].jump is not None or marks[index].fine):
            notices.add(f"it holds {_count(lengths[index], tpq)} of "
                        f"{_count(full[index], tpq)} quarter notes and is played as long as "
                        "that", bar=raw.number)
        index += 1
    return lengths, pickups


def _content(raw: RawBar, full: Ticks, tpq: int, notices: Notices) -> Ticks:
    content = max(raw.notes_end, raw.rests_end, min(raw.forward_end, full))
    if content == full or content == 0:
        return full
    if _close(content, full, tpq):  # rounded tuplets
        return full
    if content > full:
        if not raw.notes_end:  # a whole rest drawn too long
            return full
        notices.add(f"it holds {_count(content, tpq)} quarter notes instead of "
                    f"{_count(full, tpq)}; all of them are played", bar=raw.number)
        return content
    if any(content < onset < full for onset, _ in raw.chords):
        return full  # a chord symbol stands on a beat that no note or rest fills
    return content


def _close(one: Ticks, other: Ticks, tpq: int) -> bool:
    """Whether two places are the same but for rounding: within 1/40 of a quarter note,
    below which no written value lies that a lead sheet uses."""
    return -tpq <= (one - other) * 40 <= tpq


def _whole(value: Fraction) -> Ticks:
    return value.numerator if value.denominator == 1 else value


def _count(ticks: Ticks, tpq: int) -> str:
    value = Fraction(ticks, tpq) if isinstance(ticks, int) else ticks / tpq
    return str(value)


# Tempo, feel, title --------------------------------------------------------------------


def _speed(speeds: list[Speed], bars: tuple[Bar, ...], notices: Notices
           ) -> tuple[Fraction, bool, str]:
    meter = bars[0].meter
    feel = next((speed.feel for speed in speeds if speed.feel_from_sound), None) \
        or next((speed.feel for speed in speeds if speed.feel), None) or "swing"
    for speed in [s for s in speeds if s.marked] + [s for s in speeds if not s.marked]:
        if speed.bpm is None:
            continue
        bpm = speed.bpm / meter.beat_quarter if speed.of_quarter else speed.bpm
        if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
            end = "faster" if bpm > FASTEST_BPM else "slower"
            notices.add(f"a tempo {end} than {FASTEST_BPM if bpm > FASTEST_BPM else SLOWEST_BPM}"
                        " beats a minute is not played; a usual one is taken", bar="")
            continue
        return bpm.limit_denominator(100), speed.marked, feel
    return default_tempo(meter), False, feel


def _title(root: etree._Element, source: str) -> str:
    candidates = [root.findtext("movement-title"), root.findtext("work/work-title")]
    for credit in root.iterchildren("credit"):
        if (credit.findtext("credit-type") or "").strip() == "title":
            candidates.append(credit.findtext("credit-words"))
    for words in root.iterfind("credit/credit-words"):
        if words.get("justify") == "center" or words.get("halign") == "center":
            candidates.append(words.text)
            break
    for candidate in candidates:
        title = _one_line(candidate)
        if title:
            return title
    return source.rsplit(".", 1)[0].strip("-") or "Untitled"


def _composer(root: etree._Element) -> str:
    """Who is named as composer; a name given twice is one."""
    names = [_one_line(creator.text) for creator in root.iterfind("identification/creator")
             if creator.get("type", "composer") == "composer"]
    return _one_line(", ".join(name for name in dict.fromkeys(names) if name))


def _rights(root: etree._Element) -> str:
    told = [_one_line(element.text) for name in ("rights", "source")
            for element in root.iterfind(f"identification/{name}")]
    return next((text for text in told if text), "")


def _one_line(text: str | None) -> str:
    return "".join(c for c in " ".join((text or "").split()) if c.isprintable())[:200]
