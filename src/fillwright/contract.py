"""The JSON other programs read: values in, plain dictionaries out.

Shapes are described for users in ``docs/json.md``. Times are exact fractions of a quarter
note, written as strings (``"3/2"``), counted from the first instant of the chorus. A change
of any shape changes `VERSION`.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, TypeAlias

from fillwright.arranging.from_paper import ReadArrangement, bar_and_beat
from fillwright.arranging.model import Arrangement, Options
from fillwright.exact import Fraction
from fillwright.fills.model import EmptyFamily, Fill, Proposal
from fillwright.hands.model import HandNote
from fillwright.rules import Audit
from fillwright.take import Report
from fillwright.take.report import GapHeard, NoteHeard
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.pitch import Pitch
from fillwright.tune.model import ChordSpan, Chorus, Gap, SoundingNote

__all__ = ["VERSION", "Json", "arrangement_document", "audit_document", "chord_value", "dump",
           "empty_value", "fill_value", "fills_document", "gap_value", "gaps_document",
           "note_value", "options_value", "take_document", "tune_value"]

VERSION = 1
_SECOND_DIGITS = 6

Json: TypeAlias = dict[str, Any]


def _number(value: Fraction) -> int | float:
    """A tempo as a JSON number: whole where it is whole."""
    return value.numerator if value.denominator == 1 else round(float(value), _SECOND_DIGITS)


def _pitch(pitch: Pitch) -> Json:
    return {"pitch": str(pitch), "midi": pitch.midi}


def _symbol(symbol: ChordSymbol) -> Json:
    return {
        "symbol": str(symbol),
        "root": None if symbol.root is None else str(symbol.root),
        "bass": None if symbol.bass is None else str(symbol.bass),
        "kind": symbol.kind,
        "degrees": list(symbol.degrees),
        "pitch_classes": list(symbol.pitch_classes),
    }


def tune_value(chorus: Chorus) -> Json:
    """Title, key, meter, tempo and length of a chorus."""
    tune = chorus.tune
    return {
        "title": tune.title,
        "key": str(chorus.key),
        "meter": str(chorus.meter),
        "tempo": _number(chorus.tempo_bpm),
        "quarters_per_minute": _number(chorus.quarters_per_minute),
        "feel": chorus.feel,
        "bars": len(chorus.bars),
        "length_quarter": str(chorus.length_quarter),
        "melody_octave": chorus.melody_octave,
    }


def options_value(options: Options) -> Json:
    """What was asked for; null where nothing was. Picks as they are typed, ``"3=ID"``.

    What is added to a tune, and the mix of families, are named only where they were asked for.
    """
    value: Json = {
        "level": options.level,
        "hand": options.hand,
        "tempo": None if options.tempo is None else _number(options.tempo),
        "feel": options.feel,
        "octave": options.octave,
        "key": options.key,
        "without": list(options.without),
        "formats": list(options.formats),
        "picks": [f"{gap}={fill}" for gap, fill in options.picks],
    }
    if options.choruses != 1:
        value["choruses"] = options.choruses
    if options.introduction:
        value["introduction"] = options.introduction
    if options.ending:
        value["ending"] = options.ending
    if options.mix:
        value["mix"] = dict(options.mix)
    if options.same_each_time:
        value["same_each_time"] = True
    return value


def chord_value(span: ChordSpan) -> Json:
    """A chord and its span; an added one names its fill and reason."""
    value = {
        "onset_quarter": str(span.onset_quarter),
        "duration_quarter": str(span.duration_quarter),
        **_symbol(span.symbol),
        "added": span.added,
    }
    if span.added:
        value["fill"] = span.fill
        value["reason"] = span.reason
    return value


def gap_value(gap: Gap, chorus: Chorus) -> Json:
    """A gap; the chord under its landing is looked up in the chorus."""
    landing: Json | None = None
    if gap.landing is not None:
        place = chorus.chord_index_at(gap.landing.onset_quarter)
        landing = {
            "onset_quarter": str(gap.landing.onset_quarter),
            **_pitch(gap.landing.pitch),
            "chord": None if place is None else chord_value(chorus.chords[place]),
        }
    return {
        "number": gap.number,
        "bar": gap.bar,
        "pass": gap.pass_number,
        "beat": str(gap.beat),
        "onset_quarter": str(gap.onset_quarter),
        "duration_quarter": str(gap.duration_quarter),
        "beats": str(gap.beats),
        "seconds": round(gap.seconds, _SECOND_DIGITS),
        "why": list(gap.why),
        "held": None if gap.held is None else _pitch(gap.held.pitch),
        "chords": [chord_value(span) for span in gap.chords],
        "landing": landing,
    }


def note_value(note: HandNote) -> Json:
    """One struck key."""
    return {
        "onset_quarter": str(note.onset_quarter),
        "duration_quarter": str(note.duration_quarter),
        **_pitch(note.pitch),
        "hand": note.hand,
        "finger": note.finger,
        "role": note.role,
        "gap": note.gap,
        "rolled": note.rolled,
    }


def fill_value(fill: Fill, gap: Gap) -> Json:
    """One fill with its notes, chords, counts, reasons and costs.

    Its chords are those of the sheet inside its gap, with the spans they have there, and the
    added ones, which sound over them.
    """
    chords = sorted((*gap.chords, *(span for span in fill.chords if span.added)),
                    key=lambda span: (span.onset_quarter, span.added))
    shift: Json | None = None
    if fill.shift is not None:
        shift = {"landing_quarter": str(fill.shift.landing_quarter),
                 "back_quarter": str(fill.shift.back_quarter)}
    return {
        "id": fill.id,
        "gap": fill.gap,
        "family": fill.family,
        "device": fill.device,
        "level": fill.level,
        "notes": [note_value(note) for note in fill.notes],
        "chords": [chord_value(span) for span in chords],
        "counts": fill.counts,
        "reasons": list(fill.reasons),
        "costs": dict(fill.costs),
        "difficulty": fill.difficulty,
        "over_quarter": str(fill.over_quarter),
        "melody_until_quarter": str(fill.held_end.until_quarter),
        "melody_kept": fill.held_end.kept,
        "shift": shift,
    }


def empty_value(empty: EmptyFamily) -> Json:
    """Why a family has nothing for a gap."""
    return {"gap": empty.gap, "family": empty.family, "reason": empty.reason}


def _melody_value(onset_quarter: Fraction, note: SoundingNote) -> Json:
    return {"onset_quarter": str(onset_quarter),
            "duration_quarter": str(note.duration_quarter), **_pitch(note.pitch)}


def _head(chorus: Chorus, options: Options, warnings: Iterable[str]) -> Json:
    return {"version": VERSION, "tune": tune_value(chorus), "options": options_value(options),
            "warnings": list(warnings)}


def gaps_document(chorus: Chorus, options: Options, gaps: Iterable[Gap],
                  warnings: Iterable[str] = ()) -> Json:
    """What ``fillwright gaps --json`` prints."""
    return {**_head(chorus, options, warnings),
            "gaps": [gap_value(gap, chorus) for gap in gaps]}


def fills_document(chorus: Chorus, options: Options, gaps: Iterable[Gap], proposal: Proposal,
                   warnings: Iterable[str] = ()) -> Json:
    """What ``fillwright fills --json`` prints."""
    gaps = tuple(gaps)
    return {**gaps_document(chorus, options, gaps, warnings),
            "fills": _fill_values(proposal.fills, gaps),
            "empty": [empty_value(empty) for empty in proposal.empty]}


def _fill_values(fills: Iterable[Fill], gaps: Iterable[Gap]) -> list[Json]:
    by_number = {gap.number: gap for gap in gaps}
    return [fill_value(fill, by_number[fill.gap]) for fill in fills]


def arrangement_document(arrangement: Arrangement) -> Json:
    """What ``arrangement.json`` holds."""
    chorus = arrangement.chorus
    return {
        **_head(chorus, arrangement.options, arrangement.warnings),
        "chords": [chord_value(span) for span in arrangement.chords],
        "melody": [_melody_value(note.onset_quarter, note) for note in chorus.melody],
        "gaps": [gap_value(gap, chorus) for gap in arrangement.gaps],
        "fills": _fill_values(arrangement.fills, arrangement.gaps),
        "notes": [note_value(note) for note in arrangement.notes],
        "story": list(arrangement.story),
    }


def audit_document(read: ReadArrangement, found: Audit, size: str, tempo: Fraction | None) -> Json:
    """What ``fillwright audit --json`` prints; findings in the order of the score."""
    findings = []
    for finding in sorted(found.findings, key=lambda f: f.onset_quarter):
        bar, beat = bar_and_beat(read.bars, finding.onset_quarter)
        findings.append({"rule": finding.rule, "onset_quarter": str(finding.onset_quarter),
                         "bar": bar.number, "beat": str(beat), "message": finding.message,
                         "midis": list(finding.midis)})
    return {
        "version": VERSION,
        "score": {"title": read.title, "meter": str(read.bars[0].meter),
                  "tempo": _number(tempo or read.tempo_bpm), "bars": len(read.bars),
                  "length_quarter": str(read.bars[-1].end_quarter), "notes": len(read.notes)},
        "options": {"hand": size, "tempo": None if tempo is None else _number(tempo)},
        "warnings": list(read.warnings),
        "rules": [{"rule": rule, "checked": count, "broken": len(found.of(rule))}
                  for rule, count in found.checked],
        "findings": findings,
    }


def _seconds(value: float | None) -> float | None:
    return None if value is None else round(value, _SECOND_DIGITS) + 0.0


def _heard_note_value(note: NoteHeard, chorus: Chorus) -> Json:
    written = chorus.melody[note.note]
    return {"run": note.run, "onset_quarter": str(written.onset_quarter),
            **_pitch(written.pitch), "status": note.status, "reached": note.reached,
            "played_sec": _seconds(note.played_sec), "late_sec": _seconds(note.late_sec),
            "octave": note.octave, "event": note.event}


def _heard_gap_value(heard: GapHeard) -> Json:
    return {"run": heard.run, "number": heard.gap.number, "answer": heard.answer,
            "device": heard.device, "fill": heard.fill, "attacks": heard.attacks,
            "melody_heard_sec": _seconds(heard.melody_heard_sec),
            "back_late_sec": _seconds(heard.back_late_sec),
            "back_late_beats": _seconds(heard.back_late_beats),
            "notes": [note_value(note) for note in heard.notes],
            "findings": [{"rule": finding.rule, "onset_quarter": str(finding.onset_quarter),
                          "sentence": finding.sentence} for finding in heard.findings]}


def take_document(report: Report, options: Options) -> Json:
    """What ``fillwright take --json`` prints."""
    chorus, swing = report.chorus, report.swing
    return {
        **_head(chorus, options, (*chorus.warnings, *report.warnings)),
        "take": {"name": report.take.name, "strokes": len(report.take.strokes),
                 "length_sec": _seconds(report.take.length_sec)},
        "tempo": {"mean": round(report.tempo_mean, 2),
                  "curve": [[str(place), round(bpm, 2)] for place, bpm in report.tempo_curve]},
        "form": [{"from_quarter": str(run.from_quarter), "to_quarter": str(run.to_quarter),
                  "from_sec": _seconds(run.from_sec), "to_sec": _seconds(run.to_sec)}
                 for run in report.form],
        "melody": [_heard_note_value(note, chorus) for note in report.melody],
        "strokes": [{"event": event, "role": role, "gap": gap} for event, (role, gap)
                    in enumerate(zip(report.roles, report.stroke_gaps, strict=True))],
        "gaps": [_heard_gap_value(heard) for heard in report.gaps],
        "swing": None if swing is None else {
            "ratio": round(swing.ratio, 3), "pairs": swing.pairs,
            "usual": [round(bound, 2) for bound in swing.usual]},
        "balance": None if report.balance is None else round(report.balance, 2),
        "summary": list(report.summary),
    }


def dump(document: Json) -> str:
    """JSON text with a newline at its end; the same value gives the same text."""
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"
