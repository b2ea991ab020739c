"""Names for the notes of a line: by chord where the chord has them, else by direction.

One key has one name as long as a chord lasts, unless the chord itself has both.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.fills.devices.line.sounding import is_blue_third
from fillwright.fills.devices.line.walk import TENSION, Slot
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, NoteName, Pitch, spell_plain, spelled

__all__ = ["both_hands", "spell_line"]

_FLATS = -4
"""From so many flats in the key on C flat and F flat are at home."""

_ALTERED = ("b9", "#9", "#11", "b13")


def spell_line(midis: Sequence[int], slots: Sequence[Slot], harmonies: Sequence[Harmony],
               landing: Pitch | None, melody: Sequence[Pitch] = (), key: Key | None = None
               ) -> tuple[Pitch, ...]:
    """Spell a line from its end to its start.

    melody   notes it is heard beside: a key has their name before one that has to be thought over
    key      the tune's, whose thirds are blue; None where it is the chords' own

    A note of the chord or its scale takes the chord's name for it; a foreign note is a
    neighbour of the note it leads to: sharp (or natural) below it where the line rises,
    flat (or natural) above it where it falls; or of the note that it encloses with the next.
    """
    following, later = landing, None
    result: list[Pitch] = []
    blues: dict[int, Pitch] = {}
    for index in reversed(range(len(midis))):
        midi, slot = midis[index], slots[index]
        blue = None
        if index + 1 < len(midis):
            before = midis[index - 1] if index else None
            blue = _blue(midis[index:index + 2], harmonies[slot.span],
                         key or harmonies[slot.span].key, before)
        if blue is not None:
            blues[index] = blue
        here = (blue or _enclosing(midi, harmonies[slot.span], following, later)
                or _spell(midi, slot, harmonies[slot.span], following))
        following, later = here, following
        result.append(here)
    names = {p.pitch_class: p.note_name for p in melody if _is_plain(p)}
    pitches = tuple(
        p if _is_plain(p) else spelled(names.get(p.pitch_class, p.note_name), p.midi)
        for p in _of_one_name(tuple(reversed(result)), slots, harmonies, landing))
    pitches = _across(_as_sung(pitches, landing, melody), landing, melody, harmonies[0].key)
    pitches = tuple(_unmixed(pitches, i, harmonies[slot.span].key) for i, slot in enumerate(slots))
    sung = {p.note_name for p in melody[-_JUST:]}
    own = [None if i in blues else sung | set(harmonies[slot.span].key.scale) | {
        harmonies[slot.span].symbol.name_of(d) for d in harmonies[slot.span].symbol.degrees}
        for i, slot in enumerate(slots)]
    colours = [slot.kinds[midi % 12] <= TENSION for midi, slot in zip(midis, slots, strict=True)]
    pitches = _by_step(pitches, own, colours, landing)
    return tuple(blues.get(i, pitch) for i, pitch in enumerate(pitches))


def both_hands(right: Sequence[tuple[int, Pitch]], left: Sequence[tuple[int, Pitch]],
               harmonies: Sequence[Harmony], held: Pitch | None
               ) -> tuple[tuple[Pitch, ...], tuple[Pitch, ...]]:
    """The pitches of both hands, each with the index of its chord, so that a key which both strike
    over one chord has one name: the held note's, else the one that the chord prints, else the
    plainer. A diminished chord has plain names, but for those of its key.

    held   the melody note over the first chord, or None
    """
    names: dict[tuple[int, int], set[NoteName]] = {}
    for index, pitch in (*right, *left):
        names.setdefault((index, pitch.pitch_class), set()).add(pitch.note_name)
    shared = {(i, p.pitch_class) for i, p in right} & {(i, p.pitch_class) for i, p in left}

    def named(index: int, pitch: Pitch) -> Pitch:
        harmony, place = harmonies[index], (index, pitch.pitch_class)
        found = names[place] if place in shared else {pitch.note_name}
        if held is not None and not index and held.note_name in found:
            return spelled(held.note_name, pitch.midi)
        if harmony.symbol.quality == "diminished":
            found = {n if _is_at_home(n, harmony.key) else spell_plain(
                pitch.midi, sharps=n.alter > 0).note_name for n in found}
        return spelled(_agreed(found, harmony), pitch.midi)

    return (tuple(named(i, p) for i, p in right), tuple(named(i, p) for i, p in left))


def _is_at_home(name: NoteName, key: Key) -> bool:
    """Whether a name is plain, or one of the key's own, or a flat among so many."""
    return _is_plain(name) or name in key.scale or (name.alter == -1 and key.fifths <= _FLATS)


def _agreed(names: set[NoteName], harmony: Harmony) -> NoteName:
    own = {harmony.symbol.name_of(d) for d in harmony.symbol.degrees}
    return min(names, key=lambda n: (n not in own, (n.step, n.alter) in _AWKWARD,
                                     abs(n.fifths - harmony.key.fifths)))


def _by_step(pitches: Sequence[Pitch], own: Sequence[set[NoteName] | None],
             colours: Sequence[bool], landing: Pitch | None) -> tuple[Pitch, ...]:
    """What goes on by a half or whole step is written as one, on the letter beside its goal.

    own       per note the names it keeps all the same: of its chord, of the key and of what has
              just been sung; None where it keeps any
    colours   per note whether it colours its chord, and keeps a plain name a whole step off
    """
    found = [*pitches, *([] if landing is None else [landing])]
    for i in reversed(range(min(len(pitches), len(found) - 1))):
        pitch, there, names = found[i], found[i + 1], own[i]
        if names is None or pitch.note_name in names or not 0 < abs(there.midi - pitch.midi) <= 2:
            continue
        own_colour = colours[i] and _is_plain(pitch) and abs(there.midi - pitch.midi) == 2
        if own_colour or _is_second(pitch, there) or (
                i + 2 < len(found) and _encloses(*found[i:i + 3])):
            continue
        step = there + Interval(1 if pitch.midi > there.midi else -1, pitch.midi - there.midi)
        if _is_plain(step):
            found[i] = step
    return tuple(found[:len(pitches)])


def _is_second(one: Pitch, two: Pitch) -> bool:
    """Whether two pitches a step apart stand on letters beside each other."""
    return abs(one.staff_position - two.staff_position) == 1


def _encloses(one: Pitch, two: Pitch, goal: Pitch) -> bool:
    """Whether the first two stand on either side of the third, the first on the letter beside
    it."""
    return _is_second(one, goal) and (one.midi - goal.midi) * (two.midi - goal.midi) < 0


def _unmixed(pitches: tuple[Pitch, ...], index: int, key: Key) -> Pitch:
    """A sharp beside flats (a flat beside sharps) takes the name the key's scale has for it, though
    it leads by half step: B flat, C, E flat, E in G minor."""
    pitch = pitches[index]
    around = [p.alter for p in pitches[max(index - _FIGURE, 0):index + _FIGURE + 1]]
    own = next((n for n in key.scale if n.pitch_class == pitch.pitch_class), None)
    if own is None or own.alter * pitch.alter >= 0 or pitch.alter in {
            a for i, a in enumerate(around) if i != min(index, _FIGURE)} or own.alter not in around:
        return pitch
    return spelled(own, pitch.midi)


_FIGURE = 3
"""Notes on either side that are read in one glance."""


def _as_sung(pitches: tuple[Pitch, ...], landing: Pitch | None, melody: Sequence[Pitch]
             ) -> tuple[Pitch, ...]:
    """A key that the melody has just used keeps the melody's name, unless it leads up by half
    step from the letter below."""
    sung = {p.pitch_class: p.note_name for p in melody[-_JUST:]}
    after = (*pitches[1:], landing)
    return tuple(
        spelled(sung[p.pitch_class], p.midi)
        if p.pitch_class in sung and not (there is not None and there.midi - p.midi == 1
                                          and there.step != p.step) else p
        for p, there in zip(pitches, after, strict=True))


_JUST = 3
"""Notes of the melody that are still before the eye."""


_NEAR = 4
"""Notes within which the eye still has the name of a key before it."""


def _across(pitches: tuple[Pitch, ...], landing: Pitch | None, melody: Sequence[Pitch], key: Key
            ) -> tuple[Pitch, ...]:
    """A passage is read as one across its chords: where one key would have two names within a few
    notes, both take the one that lies nearer to the other notes and the melody on the line of
    fifths. A half step that leads keeps its own."""
    after = (*pitches[1:], landing)
    leads = [there is not None and abs(there.midi - p.midi) == 1 and there.step != p.step
             for p, there in zip(pitches, after, strict=True)]
    found = list(pitches)
    for i, pitch in enumerate(pitches):
        for k in range(i + 1, min(i + _NEAR, len(pitches))):
            other = pitches[k]
            if (other.pitch_class != pitch.pitch_class or other.note_name == pitch.note_name
                    or (leads[i] and leads[k])):
                continue
            around = [key.fifths, *(p.note_name.fifths for p in (*pitches, *melody)
                                    if p.pitch_class != pitch.pitch_class)]
            name = min((pitch.note_name, other.note_name), key=lambda n: (
                abs(len(around) * n.fifths - sum(around)), n.fifths))
            found[i], found[k] = spelled(name, pitch.midi), spelled(name, other.midi)
    return tuple(found)


def _of_one_name(pitches: tuple[Pitch, ...], slots: Sequence[Slot],
                 harmonies: Sequence[Harmony], landing: Pitch | None) -> tuple[Pitch, ...]:
    """Where one key has two names over one chord, the chord's own is taken for both, else
    the key's side of the line of fifths (D flat and C sharp in a key with flats: D flat). What
    goes on by half step keeps the name of its way."""
    after = (*pitches[1:], landing)
    names: dict[tuple[int, int], set[NoteName]] = {}
    for pitch, slot in zip(pitches, slots, strict=True):
        names.setdefault((slot.span, pitch.pitch_class), set()).add(pitch.note_name)
    result = []
    for pitch, slot, following in zip(pitches, slots, after, strict=True):
        both = names[slot.span, pitch.pitch_class]
        leads = following is not None and abs(following.midi - pitch.midi) == 1 and (
            following.step != pitch.step)
        if len(both) > 1 and not leads:
            harmony = harmonies[slot.span]
            own = {harmony.symbol.name_of(d) for d in harmony.symbol.degrees}
            side = 1 if harmony.key.fifths > 0 else -1
            name = min(both, key=lambda n: (n not in own, not _is_plain(spelled(n, pitch.midi)),
                                            -side * n.fifths))
            pitch = spelled(name, pitch.midi)
        result.append(pitch)
    return tuple(result)


def _spell(midi: int, slot: Slot, harmony: Harmony, following: Pitch | None) -> Pitch:
    falling = following is not None and following.midi < midi
    symbol = harmony.symbol
    degree = harmony.degree_of(midi % 12)
    if degree is None and slot.kinds[midi % 12] <= TENSION:
        relative = symbol.relative(midi % 12)
        degree = next((d for d in _ALTERED if degree_pitch_class(d) == relative), None)
    up = following is not None and following.midi - midi == 1
    if degree == "#9" and (not up or symbol.name_of("b3") in harmony.key.scale):
        degree = "b3"  # unless it leads up into the third; or the key's own name
    if degree == "7" and "7" not in symbol.degrees and symbol.quality == "diminished" and (
            not up):
        degree = None  # a neighbour of the diminished chord, not a leading note
    flat_nine = slot.kinds[(harmony.root.pitch_class + 1) % 12] <= TENSION
    if degree == "#11" and falling and symbol.quality == "dominant" and flat_nine:
        degree = "b5"  # among the altered colours, on its way down
    flats = harmony.root.alter < 0 or harmony.key.fifths <= _FLATS
    leading = _leading(midi, following, flats)
    if degree is not None:
        pitch = spelled(symbol.name_of(degree), midi)
        printed = degree in symbol.degrees
        fits = abs(pitch.alter) <= 1 and (_is_plain(pitch) or printed
                                          or pitch.alter * harmony.root.alter > 0)
        written = printed and not (leading is not None and degree in _ALTERED and up
                                   and following is not None
                                   and pitch.step == following.step)
        if leading is None or written:
            return pitch if fits else spell_plain(midi, sharps=pitch.alter > 0)
        assert following is not None
        if fits and (pitch.step != following.step or pitch.note_name in harmony.key.scale):
            return pitch
        return leading
    if leading is not None:
        return leading
    if harmony.degree_of(midi % 12) is not None:
        return spell_plain(midi, sharps=not falling)
    return spelled(harmony.spell(midi % 12), midi)


def _enclosing(midi: int, harmony: Harmony, following: Pitch | None, goal: Pitch | None
               ) -> Pitch | None:
    """A note a half step off the one after the next, which the next comes to from the other side,
    stands on the letter beside it: D flat, B, C; None where it does not enclose, or where the chord
    prints it."""
    if following is None or goal is None or abs(midi - goal.midi) != 1 or not (
            0 < abs(following.midi - goal.midi) <= 2
            and (midi > goal.midi) != (following.midi > goal.midi)):
        return None
    if midi % 12 in {harmony.symbol.name_of(d).pitch_class for d in harmony.symbol.degrees}:
        return None
    pitch = goal + (Interval(1, 1) if midi > goal.midi else Interval(-1, -1))
    return pitch if _is_plain(pitch) else None


def _leading(midi: int, following: Pitch | None, flats: bool) -> Pitch | None:
    """A note that goes by half step is written on the letter beside the one it goes to; but no
    E sharp or B sharp, and C flat and F flat only where chord or key have `flats` enough, before
    another flat."""
    if following is None or abs(following.midi - midi) != 1:
        return None
    falling = following.midi < midi
    pitch = following + (Interval(1, 1) if falling else Interval(-1, -1))
    if _is_plain(pitch) or (flats and falling and following.alter == pitch.alter == -1):
        return pitch
    return spell_plain(midi, sharps=not falling)


def _blue(midis: Sequence[int], harmony: Harmony, key: Key, before: int | None) -> Pitch | None:
    """The blue third of a major key by its own name, C flat in A flat; None where the first of two
    notes is not that.

    before   the note before them in the line, None where there is none
    """
    if not is_blue_third(key, harmony, before, midis[0], midis[1]):
        return None
    blue = spelled(key.tonic + Interval(2, 3), midis[0])
    flat = blue.alter == -1 and key.fifths <= _FLATS
    return blue if flat or _is_plain(blue) else None


def _is_plain(name: Pitch | NoteName) -> bool:
    """Whether nobody has to think twice: no double sign, no E sharp, B sharp, C or F flat."""
    return abs(name.alter) <= 1 and (name.step, name.alter) not in _AWKWARD


_AWKWARD = {("E", 1), ("B", 1), ("C", -1), ("F", -1)}
