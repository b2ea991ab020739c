"""What a worker shows of a desk: JSON for the page, engraved pages, files to take away."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from lxml import etree

from fillwright.arranging.assemble import assemble
from fillwright.arranging.model import Arrangement, Chosen
from fillwright.arranging.story import alike
from fillwright.arranging.window import Window, staff_of, window_of
from fillwright.contract import chord_value, fill_value, gap_value, tune_value
from fillwright.edition.decisions import Decisions, Pick
from fillwright.edition.desk import Desk, lost_sentence
from fillwright.edition.own import findings_of
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.fills.player import level_of
from fillwright.score.engraver import (
    Copy,
    Engraving,
    EngravingError,
    PageStyle,
    engrave_copy,
    engrave_here,
)
from fillwright.score.handpages import HandRow, hand_pages
from fillwright.score.inpage import for_page
from fillwright.score.lead import blank_sheet, lead_sheet
from fillwright.score.mei import Heading
from fillwright.score.musicxml import to_musicxml
from fillwright.score.pdf import pages_to_pdf
from fillwright.score.pictures import pictures_of
from fillwright.score.printing import PAPERS, Printing
from fillwright.score.render import copy_of
from fillwright.score.symbols import restyled
from fillwright.sound import perform
from fillwright.sound.model import Performance

__all__ = ["blank_pages", "export", "heard", "lead_pages",
           "one_fill", "options", "overview", "pages", "plain", "sound_value", "staff", "view"]

SMALL_STYLE = PageStyle(width=4400, height=1400, margin_side=20, margin_top=20,
                        margin_bottom=20, systems=1, in_one_line=True, spread=0.22)
"""A grand staff for one option, in one line however long it is; set close, so that the notes of
three side by side are as large as may be."""

Report = Callable[[str, int, int], None]
Picks = Sequence[tuple[int, Pick]]


def overview(desk: Desk) -> dict[str, Any]:
    """The tune, its gaps, and its chords with their places in the printed bars. `bar`, `pass` and
    `beat` of a gap are its place in the tune, which stays when bars are added before it;
    `sheet_bar` is what the page's sheet calls that bar, repeats written out; `breathes`: the chorus
    leaves it to the tune."""
    chorus = desk.chorus
    bars = [{"bar": bar.bar_index, "number": chorus.sheet_number(bar.onset_quarter),
             "pass": bar.pass_number, "pickup": bar.is_pickup,
             "onset_quarter": str(bar.onset_quarter), "length_quarter": str(bar.length_quarter),
             "beat_quarter": str(bar.meter.beat_quarter)} for bar in chorus.bars]
    again = alike(desk.story.returns)
    return {"tune": tune_value(chorus), "sheet_key": str(desk.written.key),
            "gaps": [{**gap_value(gap, chorus),
                      "sheet_bar": chorus.sheet_number(gap.onset_quarter),
                      "breathes": gap.number in desk.story.breaths,
                      "alike": [n for n in again.get(gap.number, ()) if n != gap.number]}
                     for gap in desk.gaps], "bars": bars,
            "chords": [chord_value(span) for span in chorus.chords],
            "warnings": list(chorus.warnings)}


def lead_pages(desk: Desk, printing: Printing) -> list[str]:
    """The lead sheet for the screen."""
    return _clean(_engraved(lambda: lead_sheet(desk.chorus, desk.gaps, engrave=engrave_here,
                                               printing=printing)), "lead")


def blank_pages(desk: Desk, printing: Printing) -> list[str]:
    """The hand-out to write into, for the screen."""
    return _clean(_engraved(lambda: blank_sheet(desk.chorus, desk.gaps, engrave=engrave_here,
                                                printing=printing)), "blank")


def options(desk: Desk, number: int, family: str, count: int) -> dict[str, Any]:
    """The options of one family in a gap; where there are none, the reason."""
    desk.gap(number)
    found = desk.fills(number, family, count)
    if isinstance(found, str):
        return {"fills": [], "reason": found, "count": count}
    return {"fills": [one_fill(desk, number, fill) for fill in found], "reason": None,
            "count": count}


def _findings(desk: Desk, fill: Fill) -> list[dict[str, Any]]:
    """What breaks a rule, with the number of the bar on the page's sheet."""
    found = findings_of(fill, desk.chorus, desk.gap(fill.gap), desk.options.hand)
    return [{**one, "sheet_bar": desk.chorus.sheet_number(Fraction(one["onset_quarter"]))}
            for one in found]


def one_fill(desk: Desk, number: int, fill: Fill, check: bool = False) -> dict[str, Any]:
    """A fill with its hand pictures, and if asked what the rules say of it."""
    gap, level = desk.gap(number), level_of(fill.level)
    value = {**fill_value(fill, gap), "pictures": pictures_of(fill, gap),
             "ends_as_written": fill.ends_as_written, "ease": level.ease(fill.difficulty),
             "most_difficulty": level.difficulty[1]}
    for note, entry in zip(fill.notes, value["notes"], strict=True):
        entry["name"] = f"{note.pitch.note_name.pretty}{note.pitch.octave}"
        entry["beat"] = str(desk.chorus.beat_in_bar(note.onset_quarter))
    if check:
        value["findings"] = _findings(desk, fill)
    return value


def heard(desk: Desk, number: int, fill: Fill | None, own: Fill | None, near: Picks
          ) -> dict[str, Any]:
    """A fill as it is played: from one bar before to one bar after, and alone.

    near   what has been chosen for the gaps around it; it sounds with them
    """
    window = _window(desk, number, fill, own, near)
    whole, start = window.arrangement, window.start_quarter
    alone = perform(whole, window.gap.onset_quarter, window.end_quarter)
    context = perform(whole, Fraction(0), window.until_quarter)
    return {"context": _played(context, whole, start),
            "alone": _played(alone, whole, start)}


def staff(desk: Desk, number: int, fill: Fill, own: Fill | None, prefix: str
          ) -> dict[str, Any]:
    """A small grand staff; `elements` tells which element shows a played note, `keys` where in
    the chorus that note begins, in quarters, which key it is and whose (its role)."""
    window = _window(desk, number, fill, own)
    shown, origin = staff_of(window)
    view = _plain(to_musicxml(shown, fingering="fills", view=True))
    done = _engraved(lambda: engrave_here(view, Heading(), SMALL_STYLE, foot=()))
    notes = {played: window.arrangement.notes[played] for played in origin.values()}
    return {"svg": for_page(done.pages[0], f"{prefix}-"),
            "elements": {str(played): f"{prefix}-n{index}" for index, played in origin.items()},
            "keys": {str(played): {"at": float(window.start_quarter + note.onset_quarter),
                                   "midi": note.midi, "role": note.role}
                     for played, note in notes.items()}}


def sound_value(desk: Desk, decisions: Decisions, report: Report) -> tuple[dict[str, Any], Chosen]:
    """The whole arrangement: its sound, which fill stands in each gap; and what the program
    chose of it."""
    done = _chorus(desk, decisions, report)
    report("job_playing", 0, 1)
    chosen = dict(done.options.picks)
    own = {gap for gap, pick in decisions.picks if pick.is_changed or pick.own is not None}
    fills = [{"gap": fill.gap, "id": fill.id, "family": fill.family, "device": fill.device,
              "counts": fill.counts, "pictures": pictures_of(fill, desk.gap(fill.gap)),
              "picked": fill.gap in chosen,
              "notes": [index for index, note in enumerate(done.notes)
                        if note.role == "fill" and note.gap == fill.gap],
              "findings": _findings(desk, fill)
              if fill.gap in own else []} for fill in done.fills]
    return {"play": _played(perform(done), done, Fraction(0)), "fills": fills,
            "open": [gap.number for gap in desk.gaps if done.fill_of(gap.number) is None],
            "lost": [lost_sentence(gap) for gap, _ in decisions.picks if gap not in chosen]
            }, done.kept


def view(desk: Desk, decisions: Decisions, report: Report, printing: Printing) -> Copy:
    """The whole arrangement as it is to be engraved."""
    return copy_of(_chorus(desk, decisions, report), printing)


def pages(view: Copy) -> list[str]:
    """The pages of a `view`."""
    return _clean(_engraved(lambda: engrave_copy(view)), "page")


def plain(desk: Desk) -> dict[str, Any]:
    """The tune with all gaps open, as it is assembled at once; `heads` says where the melody notes
    of the drawn sheet begin, in quarters of the chorus."""
    done = assemble(desk.chorus, desk.gaps, (), desk.options)
    return {"play": _played(perform(done), done, Fraction(0)),
            "heads": [float(note.onset_quarter) for note in desk.chorus.melody]}


def export(desk: Desk, decisions: Decisions, kind: str, report: Report, printing: Printing,
           soundfont: Path | None = None) -> tuple[str, bytes]:
    """A file to take away: its name and content. Raises InputError for an unknown kind."""
    title = desk.chorus.tune.title
    name = re.sub(r"[^\w-]+", "-", title, flags=re.ASCII).strip("-").lower()[:60] or "tune"
    if kind in ("lead.pdf", "blank.pdf"):
        report("job_engraving", 0, 1)
        make = lead_sheet if kind == "lead.pdf" else blank_sheet
        pages = _engraved(lambda: make(desk.chorus, desk.gaps, engrave=engrave_here,
                                       printing=printing)).pages
        return f"{name}-{kind.split('.')[0]}.pdf", pages_to_pdf(pages, title)
    from fillwright.output import render

    done = _chorus(desk, decisions, report)
    if kind == "hands.pdf":
        report("job_engraving", 0, 1)
        pages = _engraved(lambda: engrave_copy(copy_of(done, printing))).pages
        shown = restyled(done, printing.chords)
        gaps = {gap.number: gap for gap in shown.gaps}
        rows = [] if printing.hands else [
            HandRow(f"Gap {fill.gap}: {fill.device}", fill.counts,
                    pictures_of(fill, gaps[fill.gap])) for fill in shown.fills]
        hands = hand_pages(title, rows, PAPERS[printing.paper])
        return f"{name}-hands.pdf", pages_to_pdf([*pages, *hands], title)
    try:
        files = render(done, (kind,), lambda _: report("job_writing", 0, 1), soundfont,
                       printing=asdict(printing))
    except EngravingError as error:
        raise InputError(str(error)) from error
    return f"{name}.{kind}", files[f"arrangement.{kind}"]


def _chorus(desk: Desk, decisions: Decisions, report: Report) -> Arrangement:
    def progress(done: int, total: int) -> None:
        report("job_gaps" if done < total else "job_chosen", done, total)

    progress(0, len(desk.gaps))
    return desk.chorus_of(decisions, progress)


def _window(desk: Desk, number: int, fill: Fill | None, own: Fill | None,
            near: Picks = ()) -> Window:
    """A choice for a gap nearby that does not exist any more is left out."""
    desk.gap(number)
    others: list[Fill] = []
    edited = set() if own is None else {number}
    for gap, pick in near:
        with suppress(InputError):
            plain, changed = desk.chosen(gap, pick)
            if gap != number and plain is not None:
                others.append(changed or plain)
                edited |= set() if changed is None else {gap}
    return window_of(desk.chorus, desk.gaps, number, own or fill, desk.options, others, edited)


def _engraved(work: Any) -> Engraving:
    try:
        done: Engraving = work()
    except EngravingError as error:
        raise InputError(str(error)) from error
    return done


def _clean(done: Engraving, prefix: str) -> list[str]:
    return [for_page(page, f"{prefix}{number}-") for number, page in enumerate(done.pages, 1)]


def _plain(view: bytes) -> bytes:
    """The view of a few bars without what belongs to a whole page: tempo, metre, dynamics,
    rehearsal marks, labels, the end."""
    root = etree.fromstring(view)
    for measure in root.iter("measure"):
        for direction in measure.findall("direction"):
            if any(direction.find(f"direction-type/{sign}") is not None
                   for sign in ("words[@enclosure]", "rehearsal", "metronome", "dynamics",
                                "wedge")):
                measure.remove(direction)
        for time in measure.findall("attributes/time"):
            time.set("print-object", "no")
        for barline in measure.findall("barline"):
            measure.remove(barline)
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))


def _played(performance: Performance, arrangement: Arrangement, start_quarter: Fraction
            ) -> dict[str, Any]:
    """Seconds for the browser. `at` is the written place of a note, in quarters of the chorus;
    `part` the melody or a hand; `beats` those of a bar that are felt."""
    notes = [{"sec": round(note.onset_sec, 4), "len": round(note.duration_sec, 4),
              "midi": note.midi, "loud": note.velocity, "index": note.index,
              "part": "melody" if arrangement.notes[note.index].role == "melody" else note.hand,
              "at": float(start_quarter + arrangement.notes[note.index].onset_quarter)}
             for note in performance.notes]
    shift = 0 if performance.bars[0].is_pickup else 1  # as the engraved bars are counted
    return {"notes": notes,
            "pedals": [[round(down, 4), round(up, 4)]
                       for down, up in performance.pedal_spans()],
            "bars": [{"sec": round(bar.onset_sec, 4), "len": round(bar.length_sec, 4),
                      "count": index + shift,
                      "beats": float(bar.length_quarter / bar.meter.beat_quarter)}
                     for index, bar in enumerate(performance.bars)],
            "length": round(performance.length_sec, 4)}
