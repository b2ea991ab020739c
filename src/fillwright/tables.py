"""Gaps and fills as plain text for people: aligned, at most `WIDTH` columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.fills.counts import SMALLEST, count_marks
from fillwright.fills.landing import shifted_melody
from fillwright.fills.model import FAMILIES, Fill, Proposal
from fillwright.fills.player import level_of
from fillwright.fills.quickest import quickest_tempo
from fillwright.hands.difficulty import difficulty, highest_tempo
from fillwright.hands.model import HandNote
from fillwright.theory.pitch import Pitch
from fillwright.tune.model import ChordSpan, Chorus, Gap, SoundingNote

if TYPE_CHECKING:
    from fillwright.take import Report

__all__ = ["WIDTH", "chorus_line", "count_of", "difficulty_lines", "fill_lines", "gap_heading",
           "gap_table", "proposal_lines", "table", "take_lines"]

WIDTH = 98
_TITLE = 40
"""Letters of a title that are printed."""
_ANY_TEMPO = 400
"""Nobody counts faster: nothing is said of a limit there."""


def _pretty(pitch: Pitch) -> str:
    return f"{pitch.note_name.pretty}{pitch.octave}"


def count_of(value: Fraction) -> str:
    """A number of beats for people: ``4``, ``3½``, ``2⅓``.

    >>> count_of(Fraction(7, 2)), count_of(Fraction(1, 3))
    ('3½', '⅓')
    """
    signs = {Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔",
             Fraction(1, 4): "¼", Fraction(3, 4): "¾"}
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    sign = signs.get(rest, f" {rest}")
    return f"{whole}{sign}" if whole else sign.strip()


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], right: Iterable[int] = ()
          ) -> list[str]:
    """Lines of a table; columns in `right` are set flush right.

    >>> table(["n", "name"], [["1", "a"], ["12", "b"]], right=[0])
    [' n  name', '--  ----', ' 1  a', '12  b']
    """
    body = [list(row) for row in rows]
    widths = [max(len(row[i]) for row in [list(heads), *body]) for i in range(len(heads))]
    flush = set(right)

    def line(cells: Sequence[str]) -> str:
        return "  ".join(cell.rjust(width) if i in flush else cell.ljust(width)
                         for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
                         ).rstrip()

    return [line(heads), "  ".join("-" * width for width in widths), *map(line, body)]


def _shortened(text: str, width: int) -> str:
    return text if len(text) <= width else text[:width - 1] + "…"


def _chords(spans: Iterable[ChordSpan]) -> str:
    return "  ".join(span.symbol.pretty for span in spans) or "none"


def _bar(gap: Gap) -> str:
    return gap.bar if gap.pass_number == 1 else f"{gap.bar} ({gap.pass_number}.)"


def _landing(gap: Gap) -> str:
    if gap.landing is None:
        return "end"
    chord = "" if gap.landing_chord is None else f" on {gap.landing_chord.pretty}"
    return _pretty(gap.landing.pitch) + chord


def chorus_line(chorus: Chorus) -> str:
    """One line on what was read."""
    name = _shortened(chorus.tune.title or chorus.tune.source, _TITLE)
    key = f"{chorus.key.tonic.pretty} {chorus.key.mode}"
    bars = sum(not bar.is_pickup for bar in chorus.bars)
    octave = ", melody an octave up" if chorus.melody_octave else ""
    return (f"{name}: {key}, {chorus.meter}, {float(chorus.tempo_bpm):g} beats a minute, "
            f"{chorus.feel}, {bars} bars{octave}")


def gap_table(gaps: Sequence[Gap]) -> list[str]:
    """The gaps of a chorus, one a line."""
    if not gaps:
        return ["The melody never holds for two beats: there is no gap."]
    rows = [[str(gap.number), _bar(gap), count_of(gap.beat), count_of(gap.beats),
             f"{gap.seconds:.1f}", ", ".join(gap.why),
             "rest" if gap.held is None else _pretty(gap.held.pitch),
             _shortened(_chords(gap.chords), 30), _landing(gap)] for gap in gaps]
    return table(["gap", "bar", "beat", "beats", "sec", "why", "held", "chords", "landing"],
                 rows, right=(0, 3, 4))


def gap_heading(gap: Gap) -> str:
    """One line that says which gap this is."""
    held = "a rest" if gap.held is None else _pretty(gap.held.pitch)
    return (f"Gap {gap.number}: bar {_bar(gap)}, beat {count_of(gap.beat)}, "
            f"{count_of(gap.beats)} beats ({gap.seconds:.1f} s), {held} over "
            f"{_chords(gap.chords)}, then {_landing(gap)}")


HELD_ON = "\u2026"
LET_GO = "-"


def _places(fill: Fill, tune: Iterable[SoundingNote], gap: Gap, chorus: Chorus
            ) -> dict[Fraction, str]:
    """For each hit of a fill, and each melody note that it moves, the beat it falls on, as one says
    it: ``4``, ``4&``, ``4trip``."""
    struck = [*(n.onset_quarter for n in fill.notes), *(n.onset_quarter for n in tune)]
    marks = count_marks(chorus.bars, gap.onset_quarter,
                        max(gap.end_quarter, max(struck) + SMALLEST), struck)
    places, number = {}, ""
    for onset_quarter, word in marks:
        plain = word.strip("()")
        number = plain if plain.isdigit() else number
        places[onset_quarter] = number if plain == number else number + plain
    return places


def _moved_tune(fill: Fill, gap: Gap, chorus: Chorus) -> list[SoundingNote]:
    """The melody as a fill moves it: from a landing that comes early or late to the first note that
    is back in its place."""
    shift = fill.shift
    if shift is None:
        return []
    return [n for n in shifted_melody(chorus.melody, gap.end_quarter, shift)
            if shift.landing_quarter <= n.onset_quarter <= shift.back_quarter]


def _hand(notes: Sequence[HandNote], hand: str, places: Mapping[Fraction, str]) -> str:
    """Hits of a hand in order, each with its beat, the notes of one hit joined by +; a key that is
    held on under the hand's next stroke is marked, and where the other hand strikes after this one
    has let go."""
    hits: dict[Fraction, list[HandNote]] = {}
    for note in (n for n in notes if n.hand == hand):
        hits.setdefault(note.onset_quarter, []).append(note)
    alone = sorted({n.onset_quarter for n in notes} - set(hits))
    onsets, said = sorted(hits), []
    for onset, later in zip_longest(onsets, onsets[1:]):
        keys = "+".join(_pretty(n.pitch) + HELD_ON * (later is not None and n.end_quarter > later)
                        for n in sorted(hits[onset], key=lambda n: n.midi))
        said.append(f"{places.get(onset, '')}:{keys}")
        end = max(n.end_quarter for one in onsets if one <= onset for n in hits[one])
        gone = [place for place in alone if place >= end and (later is None or place < later)]
        if gone:
            said.append(f"{places.get(gone[0], '')}:{LET_GO}")
    return "  ".join(said)


def _labelled(label: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=f"       {label:<8}",
                         subsequent_indent=" " * 15, break_long_words=False,
                         break_on_hyphens=False)




def _up_to(highest: int | None, level: str) -> str:
    """Up to which tempo it stays within its level."""
    if highest is None or highest >= _ANY_TEMPO:
        return ""
    return f", {level} up to {highest} a minute"


def difficulty_lines(arrangement: Arrangement) -> list[str]:
    """How hard a whole chorus is, from what, and up to which tempo it keeps its level."""
    chorus, options = arrangement.chorus, arrangement.options
    beat = chorus.meter.beat_quarter
    hard = difficulty(arrangement.notes, options.hand, chorus.seconds_per_quarter, beat)
    highest = highest_tempo(arrangement.notes, options.hand,
                            level_of(options.level).difficulty[1], beat)
    parts = ", ".join(f"{name} {points}" for name, points in hard.parts if points)
    return textwrap.wrap(
        f"difficulty {hard.total} of 100"
        f"{_up_to(highest, options.level)}"
        + (f" ({parts})" if parts else ""), WIDTH, subsequent_indent="    ")


def fill_lines(fill: Fill, rank: int, gap: Gap, chorus: Chorus, size: str) -> list[str]:
    """One option: device, counts, notes by hand, added chords, reasons.

    size   of the hand it is for
    """
    tune = _moved_tune(fill, gap, chorus)
    places = _places(fill, tune, gap, chorus)
    highest = quickest_tempo(fill.notes, size, level_of(fill.level),
                             chorus.bar_at(gap.onset_quarter).meter)
    lines = textwrap.wrap(f"{rank}. {fill.device}, difficulty {fill.difficulty}"
                          f"{_up_to(highest, fill.level)}", WIDTH,
                          initial_indent="    ", subsequent_indent="       ")
    lines += _labelled("pick", f"{fill.gap}={fill.id}")
    lines += _labelled("count", fill.counts)
    for hand in ("right", "left"):
        notes = _hand(fill.notes, hand, places)
        lines += _labelled(hand, notes or "rests")
    if any(HELD_ON in line for line in lines):
        lines += _labelled("", f"({HELD_ON} is held on under the next stroke)")
    if any(f":{LET_GO}" in line for line in lines):
        lines += _labelled("", f"({LET_GO} has let go)")
    added = [span for span in fill.chords if span.added]
    if added:
        lines += _labelled("adds", ", ".join(
            f"{span.symbol.pretty} on beat {count_of(chorus.beat_in_bar(span.onset_quarter))}"
            for span in added))
    if any(n.rolled for n in fill.notes):
        lines += _labelled("roll", ", ".join(dict.fromkeys(
            f"the chord on {places.get(n.onset_quarter, 'its beat')}"
            for n in fill.notes if n.rolled)))
    back = "".join(f"  {places.get(n.onset_quarter, '')}:{_pretty(n.pitch)}" for n in tune)
    lines += _labelled("melody", ", then".join(part for part in (
        _melody(fill, gap, chorus), back) if part) or "rests")
    reasons = dict.fromkeys([*(span.reason for span in added if span.reason), *fill.reasons])
    for number, reason in enumerate(reasons):
        lines += _labelled("" if number else "why", reason)
    return lines


def _melody(fill: Fill, gap: Gap, chorus: Chorus) -> str:
    """What becomes of the held note, and until when where that is not until the landing."""
    if gap.held is None:
        return ""
    end, kept = fill.held_end.until_quarter, fill.held_end.kept
    if kept == "released":
        return "ends as written" if end == gap.held.end_quarter else "let go"
    if not gap.onset_quarter < end < gap.end_quarter:
        return f"kept by the {kept}"
    ends = ", where it ends" if end == gap.held.end_quarter else ""
    return f"kept by the {kept} until beat {count_of(chorus.beat_in_bar(end))}" + (
        _which_bar(gap, end, chorus) + ends)


def _which_bar(gap: Gap, place_quarter: Fraction, chorus: Chorus) -> str:
    """The bar of a place, where the gap goes over more than one: a beat comes in each of them."""
    last = chorus.bar_at(gap.end_quarter - SMALLEST)
    bar = chorus.bar_at(place_quarter)
    return "" if last is chorus.bar_at(gap.onset_quarter) else f" of bar {bar.number}"


def proposal_lines(chorus: Chorus, gaps: Iterable[Gap], proposal: Proposal, size: str
                   ) -> list[str]:
    """All options, gap by gap and family by family, with the reasons for empty families."""
    empty = {(e.gap, e.family): e.reason for e in proposal.empty}
    lines: list[str] = []
    for gap in gaps:
        lines += [*textwrap.wrap(gap_heading(gap), WIDTH, subsequent_indent="    ")]
        for family in FAMILIES:
            fills = proposal.of(gap.number, family)
            if fills:
                lines.append(f"  {family}")
                for rank, fill in enumerate(fills, start=1):
                    lines += fill_lines(fill, rank, gap, chorus, size)
            elif (gap.number, family) in empty:
                lines += textwrap.wrap(f"{family}: none, {empty[gap.number, family]}", WIDTH,
                                       initial_indent="  ", subsequent_indent="    ")
        lines.append("")
    return lines


def take_lines(report: Report) -> list[str]:
    """A report: the three sentences, then the form, then gap by gap."""
    from fillwright.take.words import late_words

    lines = [line for sentence in report.summary
             for line in textwrap.wrap(sentence, WIDTH, subsequent_indent="  ")]
    bars = report.chorus.bar_at
    lines += ["", chorus_line(report.chorus), f"tempo: {report.tempo_mean:.0f} beats a minute"]
    for run in report.form:
        lines.append(f"played: from bar {bars(run.from_quarter).number} to the end of bar "
                     f"{bars(max(run.to_quarter - Fraction(1, 16), Fraction(0))).number}, "
                     f"{run.from_sec:.1f} to {run.to_sec:.1f} s")
    if report.swing is not None:
        low, high = report.swing.usual
        lines.append(f"swing: {report.swing.ratio:.2f} to 1 over {report.swing.pairs} pairs of "
                     f"eighths; {low:.1f} to {high:.1f} is usual at this tempo")
    if report.balance is not None:
        lines.append(f"balance: the melody is {report.balance:+.0f} (of 127) against the "
                     "accompaniment")
    rows = []
    for heard in report.gaps:
        sec = heard.melody_heard_sec
        rows.append([str(heard.gap.number), _bar(heard.gap), count_of(heard.gap.beat),
                     heard.answer, heard.device or "",
                     "not played" if sec is None else f"heard {sec:.1f} s", late_words(heard)])
    lines += ["", *table(["gap", "bar", "beat", "answer", "nearest idea", "held note", "landing"],
                         rows, right=[0])]
    for heard in report.gaps:
        for finding in heard.findings:
            lines += textwrap.wrap(f"gap {heard.gap.number}: {finding.sentence}", WIDTH,
                                   initial_indent="  ", subsequent_indent="    ")
    return lines
