"""What is said about passing chords, computed from the chords and from what is struck.

A tone is named only where it is heard: `ChordWords.heard` holds the pitch classes that sound with
each chord, so that no sentence speaks of a third that is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from fillwright.fills.devices.reharm.function import sounds_as
from fillwright.fills.devices.reharm.place import is_two, scale_place
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, NoteName, degree_interval

__all__ = ["ChordWords", "common_tones", "inner_line", "leads", "over_the_same",
           "sentence", "spoken_list"]

_THIRDS = (3, 4, 8, 9)
_ALL = frozenset(range(12))


@dataclass(frozen=True, slots=True)
class ChordWords:
    """What a sentence may speak of.

    heard   pitch classes that sound with the chord here and with each added chord
    steps   the pitch classes between which a voice goes by step, or may go at the landing, from
            the last added chord to the chord it leads to; None where nobody knows
    top     the note on top, where there is one
    """

    here: Harmony
    goal: Harmony
    chords: tuple[Harmony, ...]
    leads: str
    key: Key
    delay: bool = False  # the chords come before the written one, or in its place
    top: NoteName | None = None
    heard: tuple[frozenset[int], ...] = ()
    steps: frozenset[tuple[int, int]] | None = None

    def sounds(self, index: int) -> frozenset[int]:
        """What is heard with an added chord; -1 is the chord here."""
        return self.heard[index + 1] if index + 1 < len(self.heard) else _ALL


def spoken_list(items: list[str]) -> str:
    """``"A"``, ``"A and B"``, ``"A, B and C"``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def _low(harmony: Harmony) -> NoteName:
    return harmony.symbol.lowest or harmony.root


_NUMBERS = ("none", "one", "two", "three", "four", "five")


def common_tones(first: Harmony, second: Harmony, heard: frozenset[int] = _ALL) -> list[str]:
    """Names (as the first chord spells them) of the chord tones two chords share, of those that
    are heard. Of the second chord only what its symbol names counts."""
    named = second.symbol.degrees
    theirs = {(second.root.pitch_class + degree_pitch_class(d)) % 12
              for d in named if d != "11" or "3" not in named}  # that a thirteenth chord leaves out
    return [first.symbol.name_of(d).pretty for d in first.tones
            if (first.root.pitch_class + degree_pitch_class(d)) % 12 in theirs & heard]


def leads(last: Harmony, goal: Harmony, key: Key) -> str | None:
    """How a chord leads to the next one, in words, or None where it does not.

    Dominants must fall a fifth, slip down a half step, rise a whole step to a major chord at
    home (the back door) or step up to the sixth degree (deceptive); diminished chords must
    move their bass by a half step, keep it, or go by a whole step to the chord whose dominant
    they stand for or whose voices lie next to theirs; other chords lead on by any motion but a
    tritone, a half-diminished one not by a third to a dominant, whose II it is not.
    """
    motion = (goal.root.pitch_class - last.root.pitch_class) % 12
    quality = sounds_as(last)
    if quality == "7":
        return _dominant_leads(last, goal, key, motion) or _seventh_leads(last, goal)
    if quality == "o":
        return _diminished_leads(last, goal)
    name, target = last.symbol.pretty, goal.symbol.pretty
    if motion == 0 and _low(last) == _low(goal):
        return f"{name} stays on the root of {target}"
    if _low(last) != last.root or _low(goal) != goal.root:
        step = (_low(goal).pitch_class - _low(last).pitch_class + 6) % 12 - 6
        if abs(step) <= 2:
            if not step:
                return f"the bass of {name} stays for {target}"
            return f"the bass of {name} steps {'up' if step > 0 else 'down'} to {target}"
        if motion == 0:
            return f"the bass goes back to {_low(goal).pretty} for {target}"
        if motion == 6:
            return None
        return f"{name} leads to {target}"
    if motion == 0:
        return f"{name} stays on the root of {target}"
    if motion == 5:
        return f"{name} falls a fifth to {target}"
    if motion == 7:
        return f"{name} falls a fourth to {target}"
    if motion in (1, 2):
        return f"{name} steps up to {target}"
    if motion in (10, 11):
        return f"{name} steps down to {target}"
    if motion in _THIRDS and (quality, sounds_as(goal)) != ("h", "7"):
        shared = common_tones(last, goal)
        if shared:
            return f"{name} leads to {target} by what they share"
    if motion == 6 and sounds_as(goal) in "mh" and is_two(goal):
        return f"{name} leaps to {target}, where a new II V begins"
    return None


def _in_root_position(*chords: Harmony) -> bool:
    return all(_low(chord) == chord.root for chord in chords)


def _falls(dominant: Harmony, goal: Harmony) -> str:
    """How a dominant is heard to go to its goal: over another bass than its root no fifth falls."""
    if _in_root_position(dominant, goal):
        return "its root falls a fifth"
    step = (_low(goal).pitch_class - _low(dominant).pitch_class + 6) % 12 - 6
    if not step:
        return "the bass stays"
    if abs(step) <= 2:
        return f"the bass steps {'up' if step > 0 else 'down'} to {_low(goal).pretty}"
    return f"the bass goes to {_low(goal).pretty}"


def _seventh_leads(last: Harmony, goal: Harmony) -> str | None:
    """A seventh in the bass wants down: it may go on as a bass line where the roots do not."""
    by = (_low(last).pitch_class - _low(goal).pitch_class) % 12
    if last.seventh is None or by not in (1, 2) or (
            last.symbol.name_of(last.seventh).pitch_class != _low(last).pitch_class):
        return None
    return f"the bass of {last.symbol.pretty} steps down to {goal.symbol.pretty}"


def _dominant_leads(last: Harmony, goal: Harmony, key: Key, motion: int) -> str | None:
    name, target = last.symbol.pretty, goal.symbol.pretty
    place = (last.root.pitch_class - key.tonic.pitch_class) % 12
    kind = sounds_as(goal)
    ways = (
        (motion == 5, f"{name} falls a fifth to {target}" if _in_root_position(last, goal)
         else f"{name} is the dominant of {target}: {_falls(last, goal)}"),
        (motion == 11, f"{name} slips down a half step to {target}"),
        (motion == 2 and kind == "M" and goal.root.pitch_class == key.tonic.pitch_class,
         f"{name} steps up to {target}, by the back door"),
        (motion == 7 and kind in "M7" and place == 5,
         f"{name} goes home to {target}, as in a blues"),
        (place == 7 and (motion, kind) in ((2, "m"), (1, "M")),
         f"{name} steps up to {target}, not home: a deceptive cadence"),
        (place == 7 and motion == 9 and kind in "mh",
         f"{name} goes to {target}, in the place of the tonic"),
        (place == 4 and motion == 1 and kind == "M",
         f"{name} steps up to {target}: a deceptive cadence"),
        (motion == 7 and kind == "m", f"{name} goes back to {target}, its own II"),
        (motion == 1 and kind == "o" and _in_root_position(last, goal),
         f"the bass of {name} climbs a half step to {target}"),
        (motion == 6 and kind == "7", f"{name} gives way to {target}, its tritone substitute"),
        (motion == 0 and "b7" not in last.tones, f"{name} falls back to {target}"),
        (motion == 1 and kind == "7", f"{name} slides up a half step to {target}"),
        (motion == 0 and kind == "7", f"{name} stays on the root of {target}"),
        (motion == 0 and kind == "m", f"{name} turns into {target}"),
        (motion == 6 and kind in "mh" and is_two(goal),
         f"{name} lies a half step above the dominant that {target} puts off"),
        (motion == 6 and kind == "m" and place == 10,
         f"{name} steps by the back door to {target}, which stands for the tonic"),
    )
    return next((said for holds, said in ways if holds), None)


def _diminished_leads(last: Harmony, goal: Harmony) -> str | None:
    name, target = last.symbol.pretty, goal.symbol.pretty
    bass = (_low(goal).pitch_class - _low(last).pitch_class) % 12
    root = (last.root.pitch_class - goal.root.pitch_class) % 3
    near = bass in (2, 10)
    ways = (
        (bass == 1, f"the bass of {name} leads up a half step to {target}"),
        (bass == 11, f"the bass of {name} leads down a half step to {target}"),
        (bass == 0, f"{name} keeps the bass of {target}"),
        (near and root == 2, f"{name} stands for the dominant of {target}"),
        (root == 0 and sounds_as(goal) in "M7" and bass != 6,  # its tones are those of the
         f"the voices of {name} step into {target}"),  # diminished chord on the coming root
        (near and root == 1 and sounds_as(goal) in "m7",
         f"one voice of {name} falls a half step onto the root of {target}"),
    )
    return next((said for holds, said in ways if holds), None)


def _guides(last: Harmony, goal: Harmony, heard: frozenset[int],
            struck: frozenset[tuple[int, int]] | None) -> str:
    """Where the third and the seventh of the last chord lead, if they are heard: ``"; B leads up
    to C and F down to E"``. Which voice takes the step is the landing's matter.

    Of two tones equally near, a dominant's third takes the one above (it is a leading tone),
    any other guide tone the one below.
    """
    tones = [((goal.root.pitch_class + degree_pitch_class(d)) % 12, goal.symbol.name_of(d))
             for d in goal.symbol.degrees if d != "11" or "3" not in goal.symbol.degrees]
    said: list[str] = []
    for degree in (last.third, last.seventh):
        if degree is None:
            continue
        name = last.symbol.name_of(degree)
        if name.pitch_class not in heard:
            continue
        up = degree == last.third and sounds_as(last) == "7"
        steps = [((t[0] - name.pitch_class + 6) % 12 - 6, t) for t in tones]
        step, best = min(steps, key=lambda s: (abs(s[0]), -s[0] if up else s[0]))
        if struck is not None and (name.pitch_class, best[0]) not in struck:
            continue  # no voice takes the step
        if step == 0:
            said.append(f"{name.pretty} stays")
        elif abs(step) <= 2:
            verb = "" if any("leads" in clause for clause in said) else "leads "
            said.append(f"{name.pretty} {verb}{'up' if step > 0 else 'down'} to {best[1].pretty}")
    return f"; {spoken_list(said)}" if said else ""


def over_the_same(one: Harmony, other: Harmony) -> bool:
    """Whether two chords have one root, or one bass: a voice may go on from the one to the other
    while that stays."""
    return one.root == other.root or _low(one) == _low(other)


def inner_line(words: ChordWords) -> tuple[NoteName, ...]:
    """The voice that moves by half steps through the chords, note by note: from the chord here
    where they stand on its root, else from the first of them, as far as it goes."""
    over = not words.delay and over_the_same(words.here, words.chords[0])
    rows = [words.here, *words.chords] if over else [*words.chords, words.goal]
    best: list[NoteName] = []
    for start in (*rows[0].tones, *rows[0].symbol.degrees):
        for direction in (-1, 1):
            line = [rows[0].symbol.name_of(start)]
            for harmony in rows[1:]:
                wanted = (line[-1].pitch_class + direction) % 12
                degree = next((d for d in harmony.symbol.degrees + harmony.tones
                               if (harmony.root.pitch_class + degree_pitch_class(d)) % 12
                               == wanted), None)
                if degree is None:
                    break
                line.append(harmony.symbol.name_of(degree))
            if len(line) > len(best) and _through_raised(rows, line):
                best = line
    return tuple(best)


def _through_raised(rows: list[Harmony], line: list[NoteName]) -> bool:
    """Whether a line goes through every raised fifth: where there is one, it is the voice."""
    raised = [i for i, row in enumerate(rows) if "#5" in row.symbol.degrees]
    return all(i < len(line) and line[i].pitch_class == (rows[i].root.pitch_class + 8) % 12
               for i in raised)


_ROMAN = ("I", "♭II", "II", "♭III", "III", "IV", "♯IV", "V", "♭VI", "VI", "♭VII", "VII")
_SCALE_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")


def _numeral(harmony: Harmony, key: Key) -> str:
    """The step of a key a chord stands on."""
    step = scale_place(harmony, key)
    if step is not None:
        return _SCALE_ROMAN[step]
    return _ROMAN[(harmony.root.pitch_class - key.tonic.pitch_class) % 12]


def _line_of(basses: list[NoteName]) -> str:
    """A bass line as it moves: a note that stays is named once, by the name it goes on from."""
    return "–".join(one.pretty for one, after in pairwise([*basses, None])
                    if one is not None and (after is None or one.pitch_class != after.pitch_class))


def _shared_clause(shared: list[str], says: str) -> str:
    return says.format(spoken_list(shared)) if shared else ""


def sentence(template: str, words: ChordWords) -> str:
    """A way's sentence with its blanks filled in. Blanks that name tones bring their own
    clause, and are empty where nothing is heard of it."""
    x, y = words.chords[0], words.chords[-1]
    last = len(words.chords) - 1
    written = words.here if words.delay else words.goal  # what they lead to first
    basses = [_low(h) for h in (words.here, *words.chords, words.goal)]
    dominant = written.root + Interval(4, 7)
    third_and_seventh = [dominant + Interval(2, 4), dominant + Interval(6, 10)]
    both = words.sounds(0) & words.sounds(-1)
    own = common_tones(x, words.here, both)
    fourth = x.root + degree_interval("4")
    own_five = words.here.root + Interval(4, 7)
    between = frozenset[int]().union(*(
        words.sounds(i) for i, chord in enumerate(words.chords) if sounds_as(chord) == "o"))
    fields = {
        "here": words.here.symbol.pretty,
        "goal": words.goal.symbol.pretty,
        "key": f"{words.key.tonic.pretty} {words.key.mode}",
        "numeral": _numeral(x, words.key),
        "x": x.symbol.pretty,
        "y": y.symbol.pretty,
        "row": spoken_list([h.symbol.pretty for h in words.chords]),
        "bass": _line_of(basses),
        "walk": _line_of(basses[1:]),
        "climb": _line_of(basses[:-1]),
        "leads": words.leads,
        "falls": _falls(y, words.goal),
        "fifths": ("two falling fifths" if _in_root_position(*words.chords, words.goal)
                   else f"a falling fifth, and then {_falls(y, words.goal)}"),
        "dominant": f"{dominant.pretty}7",
        "rootless": _rootless(dominant, words.sounds(0)),
        "own_dominant": f"{own_five.pretty}7 with a flat nine{_rootless(own_five, between)}",
        "third": fourth.pretty,
        "turn": f"{x.symbol.name_of('3').pretty}–{words.goal.symbol.name_of('b3').pretty}",
        "top": (words.top or words.here.root).pretty,
        "inner": "–".join(name.pretty for name in inner_line(words)),
        "guides": _guides(y, written, words.sounds(last), words.steps),
        "sharing": _shared_clause(common_tones(x, words.goal, words.sounds(0)),
                                  ", with {} in common"),
        "sharing_both": _both_sides(x, words),
        "own": _shared_clause(own, f", with {_NUMBERS[len(own)]} of its tones ({{}})"),
        "both": _shared_clause(_heard(third_and_seventh, words.sounds(0)),
                               ", with which it shares {}"),
        "dominant_both": _shared_clause(_heard(third_and_seventh, words.sounds(last)),
                                        ", with which it shares {}"),
        "both_here": _shared_clause(common_tones(x, words.here, both),
                                    ", with which it shares {}"),
    }
    return template.format(**fields)


def _rootless(dominant: NoteName, heard: frozenset[int]) -> str:
    """What a diminished chord lacks of the dominant it stands for: nothing, where the melody or
    a hand has the root."""
    return "" if heard != _ALL and dominant.pitch_class in heard else " and no root"


def _heard(names: list[NoteName], heard: frozenset[int]) -> list[str]:
    return [name.pretty for name in names if name.pitch_class in heard]


def _both_sides(x: Harmony, words: ChordWords) -> str:
    """What a chord shares with its neighbours on both sides: that is how it hangs between."""
    heard = words.sounds(0)
    before = common_tones(x, words.here, heard & words.sounds(-1))
    after = common_tones(x, words.goal, heard)
    both = [name for name in before if name in after]
    here, goal = words.here.symbol.pretty, words.goal.symbol.pretty
    if both:
        return f", with {spoken_list(both)} of both neighbours"
    said = [f"{spoken_list(row)} of {chord}" for row, chord in ((before, here), (after, goal))
            if row]
    return f", with {spoken_list(said)}" if said else ""
