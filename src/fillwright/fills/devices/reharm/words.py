"""What is said about passing chords, computed from the chords themselves."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.fills.devices.reharm.function import letter
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, NoteName, degree_interval

__all__ = ["Words", "common_tones", "inner_line", "is_two", "leads", "sentence", "spoken_list"]

_THIRDS = (3, 4, 8, 9)


@dataclass(frozen=True, slots=True)
class Words:
    """What a sentence may speak of."""

    here: Harmony
    goal: Harmony
    chords: tuple[Harmony, ...]
    leads: str
    key: Key
    delay: bool = False
    top: NoteName | None = None


def spoken_list(items: list[str]) -> str:
    """``"A"``, ``"A and B"``, ``"A, B and C"``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def _low(harmony: Harmony) -> NoteName:
    return harmony.symbol.lowest or harmony.root


_NUMBERS = ("none", "one", "two", "three", "four", "five")


def common_tones(first: Harmony, second: Harmony, named: bool = False) -> list[str]:
    """Names (as the first chord spells them) of the chord tones two chords share.

    named   count only what the second symbol names, and the major seventh of a major chord
    """
    degrees = second.tones
    if named:
        degrees = second.symbol.degrees + (("7",) if letter(second) == "M" else ())
    theirs = {(second.root.pitch_class + degree_pitch_class(d)) % 12 for d in degrees}
    return [first.symbol.name_of(d).pretty for d in first.tones
            if (first.root.pitch_class + degree_pitch_class(d)) % 12 in theirs]


def is_two(harmony: Harmony) -> bool:
    """Whether a chord is heard as a II: of the key, or before its own dominant."""
    return harmony.function.startswith("II") and not harmony.function.startswith("III")


def leads(last: Harmony, goal: Harmony, key: Key) -> str | None:
    """How a chord leads to the next one, in words, or None where it does not.

    Dominants must fall a fifth, slip down a half step, rise a whole step to a major chord at
    home (the back door) or step up to the sixth degree (deceptive); diminished chords must
    move their bass by a half step, keep it, or stand for the dominant of the goal or of its
    fifth; other chords lead on by any motion but a tritone.
    """
    name, target = last.symbol.pretty, goal.symbol.pretty
    motion = (goal.root.pitch_class - last.root.pitch_class) % 12
    bass = (_low(goal).pitch_class - _low(last).pitch_class) % 12
    quality = letter(last)
    if quality == "7":
        if motion == 5:
            return f"{name} falls a fifth to {target}"
        if motion == 11:
            return f"{name} slips down a half step to {target}"
        if motion == 2 and letter(goal) == "M" and goal.root.pitch_class == \
                key.tonic.pitch_class:
            return f"{name} steps up to {target}, by the back door"
        if motion == 7 and letter(goal) in "M7" and last.root.pitch_class == (
                key.tonic.pitch_class + 5) % 12:
            return f"{name} goes home to {target}, as in a blues"
        if last.root.pitch_class == (key.tonic.pitch_class + 7) % 12 and (
                motion in (1, 2)) and letter(goal) in "mM7":
            return f"{name} steps up to {target}, not home: a deceptive cadence"
        if last.root.pitch_class == (key.tonic.pitch_class + 7) % 12 and motion == 9 and (
                letter(goal) in "m7h"):
            return f"{name} goes to {target}, in the place of the tonic"
        if last.root.pitch_class == (key.tonic.pitch_class + 4) % 12 and motion == 1 and (
                letter(goal) == "M"):
            return f"{name} steps up to {target}: a deceptive cadence"
        if last.root.pitch_class == (key.tonic.pitch_class + 7) % 12 and motion == 10 and (
                letter(goal) == "7"):
            return f"{name} steps down to {target}, as in a blues"
        if motion == 7 and letter(goal) == "m":
            return f"{name} goes back to {target}, its own II"
        if motion == 6 and letter(goal) in "mh" and is_two(goal):
            return f"{name} gives way to {target}, with which the next II V begins"
        if motion == 6 and letter(goal) == "7":
            return f"{name} gives way to {target}, its tritone substitute"
        if motion == 0 and "b7" not in last.tones:
            return f"{name} falls back to {target}"
        if motion == 1 and letter(goal) == "7":
            return f"{name} slides up a half step to {target}"
        if motion == 0 and letter(goal) in "7m":
            return (f"{name} stays on the root of {target}" if letter(goal) == "7"
                    else f"{name} turns into {target}, the II of what follows")
        if motion == 6 and letter(goal) == "m" and last.root.pitch_class == (
                key.tonic.pitch_class + 10) % 12:
            return f"{name} steps by the back door to {target}, which stands for the tonic"
        return None
    if quality == "o":
        if bass == 1:
            return f"the bass of {name} leads up a half step to {target}"
        if bass == 11:
            return f"the bass of {name} leads down a half step to {target}"
        if bass == 0:
            return f"{name} keeps the bass of {target}"
        root = (last.root.pitch_class - goal.root.pitch_class) % 3
        if root == 2:
            return f"{name} stands for the dominant of {target}"
        if root == 0 and letter(goal) in "M7":
            return f"the voices of {name} step into {target}"
        if root == 1 and letter(goal) in "m7":
            return f"one voice of {name} falls a half step onto the root of {target}"
        return None
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
    if motion in _THIRDS:
        shared = common_tones(last, goal)
        if len(shared) >= 2:
            return f"{name} leads to {target} by the tones they share ({spoken_list(shared)})"
        if shared:
            return f"{name} leads to {target} by the tone they share ({shared[0]})"
    if motion == 6 and quality == "M" and letter(goal) in "mh":
        return f"{name} leaps to {target}, where a new II V begins"
    return None


def _guides(last: Harmony, goal: Harmony) -> str:
    """Where the third and the seventh of the last chord lead: ``"B leads up to C and F down to
    E"``. That is how the chords hang together; which voice takes the step is the voicing's matter.

    Of two tones equally near, a dominant's third takes the one above (it is a leading tone),
    any other guide tone the one below.
    """
    tones = [((goal.root.pitch_class + degree_pitch_class(d)) % 12, goal.symbol.name_of(d))
             for d in goal.tones]
    said = []
    for degree in (last.third, last.seventh):
        if degree is None:
            continue
        name = last.symbol.name_of(degree)
        up = degree == last.third and letter(last) == "7"
        steps = [((t[0] - name.pitch_class + 6) % 12 - 6, t) for t in tones]
        step, best = min(steps, key=lambda s: (abs(s[0]), -s[0] if up else s[0]))
        if step == 0:
            said.append(f"{name.pretty} belongs to both")
        elif abs(step) <= 2:
            verb = "" if any("leads" in clause for clause in said) else "leads "
            said.append(f"{name.pretty} {verb}{'up' if step > 0 else 'down'} to {best[1].pretty}")
    return spoken_list(said) or "its voices step into place"


def inner_line(words: Words) -> tuple[NoteName, ...]:
    """The voice that moves by half steps through the chords, note by note: from the chord here
    where they stand on its root, else from the first of them, as far as it goes."""
    over = words.chords[0].root == words.here.root and not words.delay
    rows = [words.here, *words.chords] if over else [*words.chords, words.goal]
    best: list[NoteName] = []
    for start in rows[0].tones:
        for direction in (-1, 1):
            line = [rows[0].symbol.name_of(start)]
            for harmony in rows[1:]:
                wanted = (line[-1].pitch_class + direction) % 12
                degree = next((d for d in harmony.tones + harmony.symbol.degrees
                               if (harmony.root.pitch_class + degree_pitch_class(d)) % 12
                               == wanted), None)
                if degree is None:
                    break
                line.append(harmony.symbol.name_of(degree))
            if len(line) > len(best):
                best = line
    return tuple(best)


def _line_of(basses: list[str]) -> str:
    """A bass line as it moves: a note that stays is named once."""
    return "–".join(b for i, b in enumerate(basses) if not i or b != basses[i - 1])


def sentence(template: str, words: Words) -> str:
    """A row's sentence with its blanks filled in."""
    x, y = words.chords[0], words.chords[-1]
    written = words.here if words.delay else words.goal
    row = [h.symbol.pretty for h in words.chords]
    basses = [_low(h).pretty for h in (words.here, *words.chords, words.goal)]
    dominant = written.root + Interval(4, 7)
    fields = {
        "here": words.here.symbol.pretty,
        "goal": words.goal.symbol.pretty,
        "key": f"{words.key.tonic.pretty} {words.key.mode}",
        "x": x.symbol.pretty,
        "y": y.symbol.pretty,
        "row": spoken_list(row),
        "bass": _line_of(basses),
        "walk": _line_of(basses[1:]),
        "tones": "",
        "leads": words.leads or "it leads on",
        "shared": "",
        "dominant": f"{dominant.pretty}7",
        "guides": "",
        "inner": "",
        "third": "",
        "turn": "",
        "shared_here": "",
        "top": (words.top or words.here.root).pretty,
    }
    if "{shared}" in template:
        fields["shared"] = _shared(template, x, words, dominant)
    if "{tones}" in template:
        shared = common_tones(x, words.here, named=True)
        fields["tones"] = (f"{_NUMBERS[len(shared)]} of its {_NUMBERS[len(x.tones)]} tones "
                           f"({spoken_list(shared)})")
    if "{guides}" in template:
        fields["guides"] = _guides(y, written)
    if "{shared_here}" in template:
        third, seventh = words.here.symbol.name_of("3"), words.here.symbol.name_of("b7")
        fields["shared_here"] = f"{third.pretty} and {seventh.pretty}"
    if "{inner}" in template:
        fields["inner"] = "–".join(name.pretty for name in inner_line(words))
    if "{turn}" in template:
        third = x.symbol.name_of("3")
        fields["turn"] = f"{third.pretty}–{words.goal.symbol.name_of('b3').pretty}"
    if "{third}" in template:
        fourth = x.root + degree_interval("4")
        fields["third"] = fourth.pretty
    return template.format(**fields)


def _shared(template: str, x: Harmony, words: Words, dominant: NoteName) -> str:
    if "{dominant}" in template:  # a substitute shares third and seventh with the dominant
        third, seventh = dominant + Interval(2, 4), dominant + Interval(6, 10)
        return f"{third.pretty} and {seventh.pretty}"
    named = letter(words.goal) == "M"  # a bare triad may be played without its sixth
    return spoken_list(common_tones(x, words.goal, named)) or "no tone"
