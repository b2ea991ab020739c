"""Devices of comping that are told from the notes alone: each hears itself in a passage, says
what it heard there, and has a worked example.

A texture that is one of them is offered only where its device is heard in the notes found, and
is explained by the device's own sentence, so that neither name nor reason can be false.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.inner import LINES, Line, line_fits, there_and_back
from fillwright.fills.devices.comp.textures import TEXTURES, Texture, textures_of
from fillwright.fills.devices.device import Example, Passage
from fillwright.fills.player import Player
from fillwright.fills.rhythm.patterns import style_of
from fillwright.fills.situation import Task
from fillwright.theory.chord import degree_pitch_class

__all__ = ["DEVICES", "CompDevice", "device_of"]

Sentence = Callable[[Passage], str]
"""What is heard, as a sentence; "" where the device is not heard."""

_TENTHS = (15, 16)
_FOURTHS = {5, 6}


@dataclass(frozen=True, slots=True)
class CompDevice:
    """A texture that can be told from the notes, as `Device` asks for it."""

    texture: Texture
    hears: Sentence
    example: Example

    @property
    def name(self) -> str:
        return self.texture.name

    @property
    def family(self) -> str:
        return "comp"

    def applies(self, situation: Task, player: Player) -> bool:
        return self.texture in textures_of(player, style_of(situation),
                                           situation.held is not None, situation)

    def is_heard_in(self, passage: Passage) -> bool:
        return self.hears(passage) != ""

    def says(self, passage: Passage) -> str:
        found = self.hears(passage)
        if not found:
            raise ValueError(f"no {self.name} is heard")
        return found


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + " and " + words[-1]


def _keys(passage: Passage, onset: Fraction, hand: str) -> tuple[int, ...]:
    """What a hand has down at a place, from low to high."""
    return tuple(sorted(n.midi for n in passage.notes if n.hand == hand
                        and n.onset_quarter <= onset < n.end_quarter))


def _named(passage: Passage, onset: Fraction, hand: str) -> str:
    struck = sorted((n for n in passage.notes if n.hand == hand and n.onset_quarter == onset),
                    key=lambda n: n.midi)
    return " ".join(n.pitch.note_name.pretty for n in struck)


def _moving(line: Line) -> Sentence:
    """The lowest voice of the right hand goes through the line over one chord; what it has
    besides stays."""
    degrees = there_and_back(line)

    def hears(passage: Passage) -> str:
        after = [*(c.harmony for c in passage.chords[1:]), passage.goal]
        for chord, following in zip(passage.chords, after, strict=True):
            if not line_fits(line, chord.harmony, following):
                continue
            onsets = [o for o, _ in passage.struck("right")
                      if chord.onset_quarter <= o < chord.end_quarter]
            root = chord.harmony.root.pitch_class
            rows: list[tuple[int, ...]] = []
            for onset in onsets:
                row = _keys(passage, onset, "right")
                if ((row[0] - root) % 12 != degree_pitch_class(degrees[len(rows) % len(degrees)])
                        or (rows and (row[1:] != rows[-1][1:] or abs(row[0] - rows[-1][0]) > 2))):
                    break
                rows.append(row)
            if len(rows) >= len(line.degrees):
                wanted = [degrees[i % len(degrees)] for i in range(len(rows))]
                names = [next(n for n in passage.notes if n.midi == row[0] and n.hand == "right"
                              and n.onset_quarter <= o < n.end_quarter).pitch.note_name.pretty
                         for row, o in zip(rows, onsets, strict=False)]
                steps = [f"{n} ({d})".replace("b", "♭").replace("#", "♯")
                         for n, d in zip(names, wanted, strict=True)]
                return (f"One voice moves over {chord.harmony.symbol.pretty}: {_listed(steps)}; "
                        "everything else stays where it is.")
        return ""

    return hears


def _broken(passage: Passage) -> str:
    """Three keys of the left hand one after another, upwards, over one chord."""
    first = passage.struck("left")[:3]
    if (len(first) < 3 or any(len(keys) != 1 for _, keys in first)
            or passage.chord_at(first[0][0]) != passage.chord_at(first[2][0])):
        return ""
    (low,), (middle,), (high,) = (keys for _, keys in first)
    if not low < middle < high:
        return ""
    names = [_named(passage, onset, "left") for onset, _ in first]
    tenth = " up to the tenth" if high - low in _TENTHS else ""
    return f"The left hand breaks its chord{tenth}: {_listed(names)}, one after another."


def _broken_tenth(passage: Passage) -> str:
    text = _broken(passage)
    return text if "tenth" in text else ""


def _stride(passage: Passage) -> str:
    """Low single keys and chords above them, beat by beat, a chord after every low key."""
    left = passage.struck("left")
    if len(left) < 4 or len({b - a for (a, _), (b, _) in pairwise(left)}) > 1:
        return ""
    lows = [place for place, (_, keys) in enumerate(left) if len(keys) == 1]
    if len(lows) < 2 or lows[0] != 0 or any(b - a < 2 for a, b in pairwise(lows)):
        return ""
    if any(place + 1 < len(left) and left[place + 1][1][0] <= left[place][1][0]
           for place in lows):
        return ""
    names = list(dict.fromkeys(_named(passage, left[place][0], "left") for place in lows))
    return (f"Stride: {names[0] if len(names) == 1 else _listed(names)} low on the strong beats, "
            "a chord in the middle on the others.")


def _bell(passage: Passage) -> str:
    """Single keys high above the held note, over a left-hand chord of three."""
    right, left = passage.struck("right"), passage.struck("left")
    if (passage.held is None or not right or len(left[0][1]) < 3
            or any(len(keys) != 1 or keys[0] < passage.held.midi + 5 for _, keys in right)):
        return ""
    onset = right[0][0]
    chord = passage.chord_at(onset).harmony
    degree = chord.degree_of(right[0][1][0] % 12)
    if degree is None:
        return ""
    shown = degree.replace("b", "♭").replace("#", "♯")
    return (f"{_named(passage, onset, 'right')}, the {shown} of {chord.symbol.pretty}, rings "
            "above the held note like a bell.")


def _slide(passage: Passage) -> str:
    """A chord of the right hand half a step away from the next one, which follows at once."""
    for (one, before), (two, after) in pairwise(passage.struck("right")):
        shifts = {b - a for a, b in zip(before, after, strict=False)}
        joined = all(n.end_quarter == two for n in passage.notes
                     if n.hand == "right" and n.onset_quarter == one)
        if (joined and len(before) == len(after) > 1 and len(shifts) == 1
                and shifts <= {1, -1}
                and passage.chord_at(one) == passage.chord_at(two)):
            way = "up" if shifts == {1} else "down"
            return (f"{_named(passage, one, 'right')} slide {way} a half step into "
                    f"{_named(passage, two, 'right')}.")
    return ""


def _thirds(passage: Passage) -> str:
    """Three pairs of the right hand, thirds or sixths, that go the same way by step over one
    chord."""
    right = passage.struck("right")
    for row in zip(right, right[1:], right[2:], strict=False):
        onsets, pairs = [onset for onset, _ in row], [keys for _, keys in row]
        if any(len(keys) != 2 or keys[1] - keys[0] not in (3, 4, 8, 9) for keys in pairs) or any(
                passage.chord_at(onset) != passage.chord_at(onsets[0]) for onset in onsets):
            continue
        steps = [b - a for one, two in pairwise(pairs) for a, b in zip(one, two, strict=True)]
        if all(1 <= s <= 2 for s in steps) or all(-2 <= s <= -1 for s in steps):
            what = "Sixths" if pairs[0][1] - pairs[0][0] > 4 else "Thirds"
            way = "climb" if steps[0] > 0 else "come down"
            return (f"{what} {way} by step: "
                    f"{_listed([_named(passage, onset, 'right') for onset in onsets])}.")
    return ""


def _low_end(passage: Passage) -> str:
    """The last thing struck is the root alone, lower than all before it."""
    last, keys = passage.struck()[-1]
    before = [key for onset, row in passage.struck() for key in row if onset < last]
    root = passage.chord_at(last).harmony.root.pitch_class
    if passage.goal is not None or len(keys) != 1 or keys[0] % 12 != root or not before or (
            min(before) <= keys[0]) or not passage.struck("right"):
        return ""
    return f"The end stands on {_named(passage, last, 'left')}, low and last."


def _planed(passage: Passage) -> str:
    """Stacks of fourths that move the same way by step over one chord."""
    for (one, before), (two, after) in pairwise(passage.struck("right")):
        if len(before) != len(after) or len(before) < 3:
            continue
        steps = [b - a for a, b in zip(before, after, strict=True)]
        if (all({b - a for a, b in pairwise(keys)} <= _FOURTHS for keys in (before, after))
                and (min(steps) > 0 or max(steps) < 0) and 1 < max(map(abs, steps)) <= 3
                and passage.chord_at(one) == passage.chord_at(two)):
            return (f"The whole shape moves in parallel, {_named(passage, one, 'right')} to "
                    f"{_named(passage, two, 'right')}.")
    return ""


def _thicker(passage: Passage) -> str:
    """Two hits, and the same two with a key more, half a beat off their first place."""
    right = passage.struck("right")
    if len(right) != 4:
        return ""
    (a, one), (b, two), (c, three), (d, four) = right
    moved = (c - a) % 1 == Fraction(1, 2)
    if b - a != d - c or not moved or max(len(one), len(two)) >= min(len(three), len(four)):
        return ""
    return (f"{_named(passage, a, 'right')} and {_named(passage, b, 'right')} are a cell of two "
            "hits; it comes back thicker and half a beat off its place.")


def _texture(name: str) -> Texture:
    return next(t for t in TEXTURES if t.name == name)


def _lines() -> list[CompDevice]:
    return [CompDevice(t, _moving(line), line.example)
            for line in LINES for t in TEXTURES if t.line == line]


DEVICES: tuple[CompDevice, ...] = (
    *_lines(),
    CompDevice(_texture("broken chord under the held note"), _broken,
               Example("Dm7 4", "0 1 D3, 1 1 F3, 2 2 C4", held="A4")),
    CompDevice(_texture("broken tenth under the held note"), _broken_tenth,
               Example("Dm7 4", "0 1 D3, 1 1/2 C4, 3/2 5/2 F4", held="A4")),
    CompDevice(_texture("stride under the held note"), _stride,
               Example("Cmaj7 4", "0 1 C2, 1 1 E3 A3 B3, 2 1 G2, 3 1 E3 G3 B3", held="G4")),
    CompDevice(_texture("bell note over a spread chord"), _bell,
               Example("Cmaj7 4", "0 4 C3 B3 E4", "2 2 D5", held="G4")),
    CompDevice(_texture("two notes slid into under the held note"), _slide,
               Example("Cmaj7 4", "0 4 C3", "3/2 1/2 A#3 D#4, 2 2 B3 E4", held="G4")),
    CompDevice(_texture("last chord, then a low root"), _low_end,
               Example("Cmaj7 4", "0 2 C3 B3, 2 2 C2", "1 1 E4", held="G4")),
    CompDevice(_texture("last chords, then a low root"), _low_end,
               Example("C6 4", "0 2 C3 G3, 2 2 C2", "0 1 A3 E4, 1 1 A3 D4", held="G4")),
    CompDevice(_texture("thirds or sixths in step under the held note"), _thirds,
               Example("Cmaj7 4", "0 4 C3 B3", "0 1 E4 G4, 1 1 F4 A4, 2 2 G4 B4", held="D5")),
    CompDevice(_texture("chord slid into from a half step"), _slide,
               Example("Cmaj7 4", "0 4 C3", "3/2 1/2 A#3 D#4 G#4, 2 2 B3 E4 A4", held="G4")),
    CompDevice(_texture("planed fourths over a shell"), _planed,
               Example("Dm7 4", "0 4 D3 F3 C4", "1 1 D4 G4 C5, 2 2 E4 A4 D5", held="A4")),
    CompDevice(_texture("cell that comes back thicker, under the held note"), _thicker,
               Example("Cmaj7 6", "0 6 C3",
                       "1 3/2 A3 E4, 5/2 1/2 B3 E4, 7/2 3/2 B3 D4 E4, 5 1 A3 D4 E4", held="G4")),
)

_BY_TEXTURE = MappingProxyType({device.texture: device for device in DEVICES})


def device_of(texture: Texture) -> CompDevice | None:
    """The device that a texture is, where it can be told from the notes alone."""
    return _BY_TEXTURE.get(texture)
