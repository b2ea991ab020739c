"""The promises of the JSON, checked from outside: nothing here but the JSON is used.

Each function returns sentences that say what is broken; an empty list is a clean result.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

__all__ = ["broken_rules"]

Json = dict[str, Any]
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def _at(value: str) -> Fraction:
    return Fraction(value)


def midi_of(pitch: str) -> int:
    """MIDI number of a pitch string such as ``"Bb4"``."""
    letter, rest = pitch[0], pitch[1:]
    alter = 0
    while rest[0] in "b#":
        alter += 1 if rest[0] == "#" else -1
        rest = rest[1:]
    return 12 * (int(rest) + 1) + _STEPS[letter] + alter


def _melody(data: Json) -> list[str]:
    """Every written melody note is struck at its place and pitch; shifts as declared."""
    wrong: list[str] = []
    shifts = []
    gaps = {g["number"]: g for g in data["gaps"]}
    for fill in data["fills"]:
        if fill["shift"] is not None:
            landing = _at(gaps[fill["gap"]]["landing"]["onset_quarter"])
            start = min(landing, _at(fill["shift"]["landing_quarter"]))
            shifts.append((start, _at(fill["shift"]["back_quarter"])))

    def moved(onset: Fraction) -> bool:
        return any(start <= onset < back for start, back in shifts)

    written = [(_at(n["onset_quarter"]), n["midi"]) for n in data["melody"]]
    played = [(_at(n["onset_quarter"]), n["midi"]) for n in data["notes"]
              if n["role"] == "melody"]
    if [m for _, m in written] != [m for _, m in played]:
        wrong.append("the melody's pitches are not those written")
        return wrong
    for (want, _), (got, _) in zip(written, played, strict=True):
        if want != got and not (moved(want) and moved(got)):
            wrong.append(f"melody note of {want} is struck at {got}")
    return wrong


def _regions(data: Json) -> list[str]:
    """Inside a filled gap everything but melody is the fill's; outside nothing is."""
    wrong = []
    gaps = {g["number"]: g for g in data["gaps"]}
    filled = {}
    for fill in data["fills"]:
        gap = gaps[fill["gap"]]
        start = _at(gap["onset_quarter"])
        end = start + _at(gap["duration_quarter"])
        late = end
        if fill["shift"] is not None:
            late = max(end, _at(fill["shift"]["landing_quarter"]))
        if fill["gap"] in filled:
            wrong.append(f"gap {fill['gap']} has two fills")
        filled[fill["gap"]] = (start, end, late)
    for note in data["notes"]:
        onset = _at(note["onset_quarter"])
        inside = [n for n, (start, end, _) in filled.items() if start <= onset < end]
        if note["role"] == "fill":
            start, _, late = filled.get(note["gap"], (Fraction(1), Fraction(0), Fraction(0)))
            if not start <= onset < late:
                wrong.append(f"fill note at {onset} lies outside its gap {note['gap']}")
        elif note["gap"] is not None and note["role"] == "base":
            wrong.append(f"base note at {onset} names a gap")
        elif note["role"] == "base" and inside:
            wrong.append(f"base note at {onset} inside filled gap {inside}")
    own: Counter[int] = Counter()
    for note in data["notes"]:
        if note["role"] == "fill":
            own[note["gap"]] += 1
    for fill in data["fills"]:
        if own[fill["gap"]] != len(fill["notes"]):
            wrong.append(f"gap {fill['gap']}: notes of fill and arrangement differ")
    return wrong


def _held(data: Json) -> list[str]:
    """The held note sounds as long as its fill says, and its key agrees."""
    wrong = []
    gaps = {g["number"]: g for g in data["gaps"]}
    for fill in data["fills"]:
        gap = gaps[fill["gap"]]
        if gap["held"] is None:
            continue
        onset = _at(gap["onset_quarter"])
        until = _at(fill["melody_until_quarter"])
        key = next(n for n in data["notes"] if n["role"] == "melody"
                   and _at(n["onset_quarter"]) == onset)
        end = onset + _at(key["duration_quarter"])
        if fill["melody_kept"] == "pedal":
            if end > until:
                wrong.append(f"gap {fill['gap']}: key held longer than the sound")
        elif end != until:
            wrong.append(f"gap {fill['gap']}: key up at {end}, sound until {until}")
    return wrong


def _keys(data: Json) -> list[str]:
    """No key is struck while it is down; fingers are one to five; hands do not cross."""
    wrong = []
    down: dict[int, Fraction] = {}
    fingers: dict[tuple[str, int], tuple[int, Fraction]] = {}
    for note in data["notes"]:
        onset, end = _at(note["onset_quarter"]), (_at(note["onset_quarter"])
                                                  + _at(note["duration_quarter"]))
        if midi_of(note["pitch"]) != note["midi"]:
            wrong.append(f"{note['pitch']} is not {note['midi']}")
        if note["finger"] not in (1, 2, 3, 4, 5):
            wrong.append(f"no finger at {onset}")
        if down.get(note["midi"], Fraction(-1)) > onset:
            wrong.append(f"key {note['pitch']} struck at {onset} while down")
        down[note["midi"]] = end
        place = (note["hand"], note["finger"])
        busy = fingers.get(place)
        if busy is not None and busy[1] > onset and busy[0] != note["midi"]:
            wrong.append(f"{note['hand']} finger {note['finger']} in two places at {onset}")
        fingers[place] = (note["midi"], end)
    ordered = [(_at(n["onset_quarter"]), n["midi"]) for n in data["notes"]]
    if ordered != sorted(ordered):
        wrong.append("notes are not in order")
    return wrong


def _chords(data: Json) -> list[str]:
    wrong = []
    ids = {f["id"] for f in data["fills"]}
    if len(ids) != len(data["fills"]):
        wrong.append("two fills share an id")
    for chord in data["chords"]:
        if chord["added"] and chord["fill"] not in ids:
            wrong.append(f"added chord {chord['symbol']} belongs to no fill")
        if chord["kind"] == "none" and chord["pitch_classes"]:
            wrong.append("N.C. has tones")
        if chord["kind"] != "none" and not chord["pitch_classes"]:
            wrong.append(f"{chord['symbol']} has no tones")
    return wrong


def _fill_chords(data: Json) -> list[str]:
    """A fill names the chords of its gap with their spans, and its own added ones."""
    wrong = []
    gaps = {gap["number"]: gap for gap in data["gaps"]}
    for fill in data["fills"]:
        gap = gaps[fill["gap"]]
        if [c for c in fill["chords"] if not c["added"]] != gap["chords"]:
            wrong.append(f"{fill['id']} changes the chords of the sheet")
        wrong += [f"{fill['id']} holds an added chord of {c['fill']}"
                  for c in fill["chords"] if c["added"] and c["fill"] != fill["id"]]
    return wrong


def _gaps(data: Json) -> list[str]:
    wrong = []
    onsets = [_at(n["onset_quarter"]) for n in data["melody"]]
    length = _at(data["tune"]["length_quarter"])
    for gap in data["gaps"]:
        start = _at(gap["onset_quarter"])
        end = start + _at(gap["duration_quarter"])
        if gap["landing"] is None:
            if end != length:
                wrong.append(f"gap {gap['number']} without landing ends at {end}")
        elif _at(gap["landing"]["onset_quarter"]) != end or end not in onsets:
            wrong.append(f"gap {gap['number']} does not end at its landing")
        if any(start < o < end for o in onsets):
            wrong.append(f"melody inside gap {gap['number']}")
    return wrong


def broken_rules(data: Json) -> list[str]:
    """What an arrangement's JSON promises and does not keep."""
    return [sentence for check in (_melody, _regions, _held, _keys, _chords,
                                   _fill_chords, _gaps)
            for sentence in check(data)]
