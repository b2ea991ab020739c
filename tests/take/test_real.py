"""A take that a hand played, as it is packaged with parangonar (Apache-2.0), a development
dependency: a classical variation in sixteenths, its score, and which stroke is which note of it.

Its melody is what lies on top of the score, onset by onset; the program is given that as a lead
sheet and the strokes alone.
"""

from __future__ import annotations

import sys
import warnings
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from tests.take.perturb import midi_of

from fillwright import check_take, read_tune, unfold
from fillwright.take import Report, Stroke, Take, take_from_bytes

SIXTEENTHS = 4
"""In a quarter."""


def packaged() -> tuple[Any, Any, dict[str, str]]:
    """Its score and its strokes as arrays of notes; strokes by the notes that they play."""
    sys.modules.setdefault("fluidsynth", None)  # type: ignore[arg-type]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import parangonar
        import partitura  # type: ignore[import-untyped]

        path = next((Path(parangonar.__file__).parent / "assets").glob("*.match"))
        performance, alignment, score = partitura.load_match(str(path), create_score=True)
        known = {one["score_id"]: one["performance_id"] for one in alignment
                 if one["label"] == "match"}
        return score.note_array(), performance.note_array(), known


def tops(score: Any) -> list[Any]:
    """The highest note at each onset."""
    found: dict[float, Any] = {}
    for note in score:
        onset = float(note["onset_quarter"])
        if onset not in found or note["pitch"] > found[onset]["pitch"]:
            found[onset] = note
    return [found[onset] for onset in sorted(found)]


def sheet_of(line: list[Any]) -> str:
    """The line as a lead sheet over one chord, each note held until the next, cut at the bar
    lines; black keys are sharps."""
    names = ("C", "^C", "D", "^D", "E", "F", "^F", "G", "^G", "A", "^A", "B")
    starts = [round(float(note["onset_quarter"]) * SIXTEENTHS) for note in line]
    ends = [*starts[1:], starts[-1] + SIXTEENTHS]
    text, bar = "", 2 * SIXTEENTHS
    for note, start, end in zip(line, starts, ends, strict=True):
        octave, step = divmod(int(note["pitch"]), 12)
        name = names[step] if names[step][0] == "^" else f"={names[step]}"
        key = name + ("'" * (octave - 5) if octave >= 5 else "," * (5 - octave))
        cuts = [start, *range((start // bar + 1) * bar, end, bar), end]
        for place, (a, b) in enumerate(pairwise(cuts)):
            tie = "-" if place < len(cuts) - 2 else ""
            text += f"{key}{b - a}{tie}{'' if b % bar else '|'}"
    return f'X:1\nT:A Variation\nM:2/4\nL:1/16\nQ:1/4=72\nK:C\n"C"{text}]\n'


def heard(path: Path) -> tuple[set[tuple[int, int]], Report]:
    """(note of the melody, stroke) as it is, and the report of the program."""
    score, strokes, known = packaged()
    line = tops(score)
    path.write_text(sheet_of(line), encoding="utf-8")
    first = float(strokes["onset_sec"].min())
    rows = sorted((float(one["onset_sec"]) - first, int(one["pitch"]), str(one["id"]), one)
                  for one in strokes)
    take = take_from_bytes(midi_of(Take("real.mid", tuple(
        Stroke(event, onset, onset + float(one["duration_sec"]),
               onset + float(one["duration_sec"]), midi, int(one["velocity"]))
        for event, (onset, midi, _, one) in enumerate(rows)))), "real.mid")
    events = {name: min((stroke for stroke in take.strokes if stroke.midi == midi),
                        key=lambda stroke: abs(stroke.onset_sec - onset)).event
              for onset, midi, name, _ in rows}
    true = {(number, events[known[str(note["id"])]]) for number, note in enumerate(line)
            if str(note["id"]) in known}
    chorus = unfold(read_tune(path))
    assert len(chorus.melody) == len(line) == len(true)
    return true, check_take(take, chorus)


def test_the_melody_of_what_a_hand_played_is_found(tmp_path: Path) -> None:
    """From beginning to end, no jump heard into it; the runs have whole bars that are alike."""
    true, report = heard(tmp_path / "line.abc")
    found = {(one.note, one.event) for one in report.melody if one.status == "played"}
    assert 2 * len(found & true) > 0.95 * (len(found) + len(true))
    (run,) = report.form
    assert [run.from_quarter, run.to_quarter] == [0, 48]
    assert run.to_sec - run.from_sec == pytest.approx(23.2, abs=0.1)
