"""Which level a fill belongs to: its difficulty, and what the level has been taught.

`fills.player` says what a level is given; here a finished fill is held against it, and the
answer is a sentence where it asks for more.
"""

from __future__ import annotations

from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.draft import Draft
from fillwright.fills.ladder.thinning import EIGHTH
from fillwright.fills.player import ALL_LEVELS, Level, Palette
from fillwright.fills.situation import Task

__all__ = ["level_for", "what_asks_more"]


def level_for(draft: Draft, difficulty: int, task: Task, highest: Level) -> Level:
    """The lowest level up to `highest` whose range of difficulty it lies in and that has been
    taught all that is in it; where there is none, the lowest whose range it lies in."""
    allowed = [level for level in ALL_LEVELS if level.rank <= highest.rank]
    inside = [level for level in allowed
              if level.difficulty[0] <= difficulty <= level.difficulty[1]]
    for level in inside:
        if not what_asks_more(draft, difficulty, task, level):
            return level
    return inside[-1] if inside else allowed[0]


def what_asks_more(draft: Draft, difficulty: int, task: Task, level: Level) -> str:
    """What in it a level is not up to, as the end of a sentence; "" where nothing is."""
    most = level.difficulty[1]
    if difficulty > most:
        return f"has difficulty {difficulty}, {level.with_article}'s ends at {most}"
    for asks in (_keys, _hits, _colours, _grip, _speed):
        said = asks(draft, task, level)
        if said:
            return said
    return ""


def _keys(draft: Draft, task: Task, level: Level) -> str:
    """More keys at a stroke than a level has in its hands."""
    most = level.keys
    if most is None:
        return ""
    rows: dict[Fraction, list[str]] = {}
    for note in draft.notes:
        rows.setdefault(note.onset_quarter, []).append(note.hand)
    for hands in rows.values():
        right, left = hands.count("right"), hands.count("left")
        for count, limit, who in ((right, most[0], "the right hand"), (left, most[1],
                                  "the left hand"), (len(hands), most[2], "both hands")):
            if count > limit:
                return f"has {count} keys at once in {who}, {level.with_article}'s have {limit}"
    return ""


def _hits(draft: Draft, task: Task, level: Level) -> str:
    """Chords closer together than a level comps."""
    if draft.family != "comp" or level.rhythm.neighbours:
        return ""
    onsets = sorted({n.onset_quarter for n in draft.notes})
    rows = {onset: sum(n.onset_quarter == onset for n in draft.notes) for onset in onsets}
    if any(b - a <= EIGHTH and rows[a] > 1 and rows[b] > 1 for a, b in pairwise(onsets)):
        return f"has chords on neighbouring eighths, {level.with_article} has a beat between them"
    return ""


def _colours(draft: Draft, task: Task, level: Level) -> str:
    """Notes of chords beyond what the symbols name."""
    if level.voicing.palette is not Palette.NAMED or draft.family == "line":
        return ""
    for note in draft.notes:
        chord = task.span_at(note.onset_quarter).harmony
        for one in draft.chords:
            if one.onset_quarter <= note.onset_quarter < one.end_quarter:
                chord = one.harmony
        degree = chord.degree_of(note.midi % 12)
        if degree in ("b9", "#9", "#11", "b13") and degree not in chord.symbol.degrees:
            pretty = degree.replace("b", "♭").replace("#", "♯")
            return (f"has the {pretty} of {chord.symbol.pretty}, {level.with_article} plays what "
                    "the symbol names")
    return ""


def _grip(draft: Draft, task: Task, level: Level) -> str:
    """Keys under a held note that span more than the level's hand does."""
    if task.held is None or draft.held.kept != "finger":
        return ""
    under: dict[Fraction, list[int]] = {}
    for note in draft.notes:
        if note.hand == "right" and note.onset_quarter < draft.held.until_quarter:
            under.setdefault(note.onset_quarter, []).append(note.midi)
    for keys in under.values():
        span = max(*keys, task.held.midi) - min(*keys, task.held.midi)
        if not level.voicing.grips(len(keys) + 1, span):
            return (f"spans {span} semitones under the held note, "
                    f"{level.with_article}'s hand {level.voicing.grip[len(keys) + 1 > 2]}")
    return ""


def _speed(draft: Draft, task: Task, level: Level) -> str:
    """Strokes of a line, or chords of a reharmonization, faster than the level's."""
    if draft.family == "line":
        onsets = sorted({n.onset_quarter for n in draft.notes if n.hand == "right"})
        least = min((task.seconds(b - a) for a, b in pairwise(onsets)), default=9.0)
        if least < level.line.least_sec:
            return (f"has notes {least:.2f} seconds apart, {level.with_article}'s have "
                    f"{level.line.least_sec:g}")
    if draft.family == "reharm":
        least = min((task.seconds(c.end_quarter - c.onset_quarter) for c in draft.chords
                     if c.added), default=9.0)
        if least < level.reharm.least_chord_sec:
            return (f"has a chord of {least:.2f} seconds, {level.with_article}'s last "
                    f"{level.reharm.least_chord_sec:g}")
    return ""
