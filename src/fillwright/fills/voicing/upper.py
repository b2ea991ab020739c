"""Forms of voicings for the right hand, and for both hands together.

Right-hand forms are built from the degrees that a chord has on offer at a level; what a form
is, and the sources, are told in `forms`.
"""

from __future__ import annotations

from itertools import combinations

from fillwright.fills.player import Level
from fillwright.fills.voicing.forms import (
    Colours,
    VoicingForm,
    colours,
    inner_seconds,
    is_sound,
    kind_of,
    rootless_forms,
    unique_forms,
)
from fillwright.memory import VOICINGS
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["drop_2", "fourths", "locked_forms", "right_forms", "two_hand_forms", "upper_structures"]

_FOUR = 4


def drop_2(degrees: tuple[str, ...]) -> tuple[str, ...]:
    """The second voice from the top of a close chord of four, an octave down.

    >>> drop_2(("1", "3", "5", "7"))
    ('5', '1', '3', '7')
    """
    return (degrees[-2], *degrees[:-2], degrees[-1])


@VOICINGS.keep
def fourths(harmony: Harmony, level: Level, size: int = 3) -> tuple[tuple[str, ...], ...]:
    """Stacks of fourths from the degrees on offer; at most one of them augmented."""
    c = colours(harmony, level.voicing.palette)
    pool = (*c.all_but_root, "1")
    by_class: dict[int, str] = {}
    for degree in pool:
        by_class.setdefault(degree_pitch_class(degree), degree)
    found = []

    def grow(row: tuple[str, ...], wide: int) -> None:
        if len(row) == size:
            found.append(row)
            return
        for step in (5, 6):
            if step == 6 and wide:
                continue
            degree = by_class.get((degree_pitch_class(row[-1]) + step) % 12)
            if degree is not None and degree not in row:
                grow((*row, degree), wide + (step == 6))

    for degree in by_class.values():
        grow((degree,), 0)
    return tuple(row for row in sorted(set(found)) if is_sound(row))


_TRIADS = {"major": (0, 4, 7), "minor": (0, 3, 7)}
_PLAIN_TRIADS = ((0, "major"), (7, "minor"), (9, "minor"))
"""Triads on the root, the fifth and the sixth: the plain dominant, its ninth, its sixth."""


@VOICINGS.keep
def upper_structures(harmony: Harmony) -> tuple[tuple[int, str, tuple[str, ...]], ...]:
    """Triads in the right hand that colour a dominant: (semitones above the root, "major" or
    "minor", degrees of root position).

    Every triad without the eleventh or the major seventh that is not part of the plain
    chord (rule and table: J. C. Baez, notes on upper structures, 2023; Levine ch. 14),
    cut to the tensions the chord takes here.
    """
    if harmony.symbol.quality != "dominant" or "3" not in harmony.tones:
        return ()
    names: dict[int, str] = {}
    for degree in harmony.tones + harmony.tensions:
        names.setdefault(degree_pitch_class(degree), degree)
    found = []
    for root in range(12):
        for mode, shape in _TRIADS.items():
            classes = [(root + step) % 12 for step in shape]
            if any(c not in names for c in classes) or {5, 11} & set(classes):
                continue
            degrees = tuple(names[c] for c in classes)
            if (root, mode) in _PLAIN_TRIADS:
                continue
            if is_sound(degrees):
                found.append((root, mode, degrees))
    return tuple(found)


def _turns(degrees: tuple[str, ...]) -> list[tuple[str, ...]]:
    return [degrees[turn:] + degrees[:turn] for turn in range(len(degrees))]


def _close(degrees: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted(degrees, key=degree_pitch_class))


def right_forms(harmony: Harmony, level: Level, most: int) -> tuple[VoicingForm, ...]:
    """Forms of one to `most` notes for the right hand, root mostly left to the left hand."""
    return _right_forms(kind_of(harmony), level, most)


@VOICINGS.keep
def _right_forms(harmony: Harmony, level: Level, most: int) -> tuple[VoicingForm, ...]:
    c = colours(harmony, level.voicing.palette)
    pool = c.all_but_root
    guides = set(c.guides)
    forms: list[VoicingForm] = []
    forms += [VoicingForm("single tone", (d,)) for d in (*pool, "1")]
    if most >= 2:
        if len(guides) == 2:
            kind = "third and fifth" if c.bare else "guide tones"
            forms += [VoicingForm(kind, turn) for turn in _turns(c.guides)]
        elif c.third is not None and c.fifth is not None:
            forms += [VoicingForm("third and fifth", turn) for turn in _turns((c.third, c.fifth))]
        elif c.fifth is not None:
            forms += [VoicingForm("root and fifth", turn) for turn in _turns(("1", c.fifth))]
        for pair in combinations(pool, 2):
            if set(pair) != guides and set(pair) & guides:
                forms += [VoicingForm("two notes", turn) for turn in _turns(_close(pair))
                          if not inner_seconds(turn)]
    if most >= 3:
        for rest in pool:
            if len(guides) == 2 and rest not in guides:
                coloured = degree_number(rest) > 7 and not c.bare
                forms += [VoicingForm("guide tones and a colour" if coloured else "close", turn)
                          for turn in _turns(_close((*c.guides, rest)))]
        if c.third is not None and c.fifth is not None:
            triad = _close(("1", c.third, c.fifth))
            forms += [VoicingForm("triad", turn) for turn in _turns(triad)]
        forms += [VoicingForm("fourths", row) for row in fourths(harmony, level, 3)]
        for _, _, degrees in upper_structures(harmony):
            if level.voicing.free_forms or set(degrees) <= set(pool) | {"1"}:
                forms += [VoicingForm("upper structure", turn) for turn in _turns(degrees)]
        if harmony.symbol.quality != "dominant":
            forms += [VoicingForm("upper triad", turn) for turn in _upper_triads(harmony, level)]
        if level.voicing.free_forms:
            forms += [VoicingForm("cluster", row) for row in _clusters(harmony, level)]
    if most >= 4:
        for form in rootless_forms(harmony, level):
            if len(form.degrees) == 4:
                for turn in _turns(form.degrees):
                    kind = form.kind if turn == form.degrees else "close"
                    forms.append(VoicingForm(kind, turn))
                    forms.append(VoicingForm("drop 2", drop_2(turn)))
        whole = _whole_chord(c)
        forms += [VoicingForm("four tones", turn) for turn in (_turns(whole) if whole else ())]
        if level.voicing.full_octaves:
            forms += _full_octaves(pool, guides)
    return unique_forms([f for f in forms if is_sound(f.degrees)])


def _whole_chord(c: Colours) -> tuple[str, ...]:
    """A sixth or minor seventh chord with its root; () where the chord is another one. On a
    major chord the sixth stands for its seventh."""
    if c.third not in ("3", "b3") or c.fifth != "5" or c.seventh is None:
        return ()
    return ("1", c.third, c.fifth, "6" if c.seventh == "7" else c.seventh)


def _full_octaves(pool: tuple[str, ...], guides: set[str]) -> list[VoicingForm]:
    """Octaves with one or two notes inside, a guide tone among the three."""
    forms = []
    for outer in (*pool, "1"):
        above = sorted((d for d in pool if d != outer),
                       key=lambda d, o=outer: (  # type: ignore[misc]
                           degree_pitch_class(d) - degree_pitch_class(o)) % 12)
        for inside in (*combinations(above, 1), *combinations(above, 2)):
            if set(inside) & guides or outer in guides:
                forms.append(VoicingForm("octave with inner notes", (outer, *inside, outer)))
    return forms


def _upper_triads(harmony: Harmony, level: Level) -> list[tuple[str, ...]]:
    """Triads above the root of a chord that is not a dominant, from its tones and tensions."""
    c = colours(harmony, level.voicing.palette)
    names = {degree_pitch_class(d): d for d in reversed(c.all_but_root)}
    rows: list[tuple[str, ...]] = []
    for root in range(12):
        for shape in _TRIADS.values():
            classes = [(root + step) % 12 for step in shape]
            if all(k in names for k in classes):
                rows += _turns(tuple(names[k] for k in classes))
    return rows


def _clusters(harmony: Harmony, level: Level) -> list[tuple[str, ...]]:
    """Three notes with a second at the bottom and a guide tone among them."""
    c = colours(harmony, level.voicing.palette)
    guides = set(c.guides)
    rows = []
    for trio in combinations(_close(c.all_but_root), 3):
        for turn in _turns(trio):
            seconds = inner_seconds(turn)
            if len(seconds) == 1 and seconds[0][0] == 0 and set(turn) & guides:
                rows.append(turn)
    return rows


def two_hand_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    """Forms that belong to both hands together: spreads, drop 2, fourths, upper structures."""
    return _two_hand_forms(kind_of(harmony), level)


@VOICINGS.keep
def _two_hand_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    c = colours(harmony, level.voicing.palette)
    third, fifth, seventh = c.third, c.fifth, c.seventh
    forms: list[VoicingForm] = []
    if third is None or seventh is None:
        if fifth is not None:
            forms.append(VoicingForm("open fifths", ("1", fifth, "1", fifth), 2))
        return tuple(forms)
    dominant = harmony.symbol.quality in ("dominant", "suspended") and seventh == "b7"
    insides = list(c.thirteens) if dominant and c.thirteens else []
    if fifth is not None:
        insides.append(fifth)
    nines: tuple[str, ...] = c.nines or ("1",)
    for nine in nines:
        for inside in insides:
            forms.append(VoicingForm("spread", ("1", third, seventh, nine, inside), 2))
            forms.append(VoicingForm("spread", ("1", seventh, third, inside, nine), 2))
        if fifth is not None:
            forms.append(VoicingForm("spread", ("1", fifth, third, seventh, nine), 2))
            forms.append(VoicingForm("spread", ("1", seventh, third, fifth, nine), 2))
    if fifth is not None:
        forms.append(VoicingForm("spread", ("1", fifth, third, seventh), 2))
        forms.append(VoicingForm("spread", ("1", seventh, third, fifth), 2))
        forms.append(VoicingForm("spread", ("1", fifth, seventh, third), 2))
    forms += [VoicingForm("spread", ("1", seventh, third, inside), 2) for inside in insides]
    # drop 2 in all inversions, with the root and with the ninth in its place
    if fifth is not None:
        closes = [("1", third, fifth, seventh)]
        closes += [f.degrees for f in rootless_forms(harmony, level) if len(f.degrees) == 4]
        for close in closes:
            for turn in _turns(close):
                forms.append(VoicingForm("drop 2", drop_2(turn), 2))
                forms.append(VoicingForm("drop 2", drop_2(turn), 1))
    forms += _fourths_and_a_third(harmony, level)
    if level.voicing.free_forms:
        forms += _structures_over_guides(harmony, third, seventh)
    for form in rootless_forms(harmony, level):
        if len(form.degrees) == 4:
            forms.append(VoicingForm(f"root under {form.kind}", ("1", *form.degrees), 1))
    return _unique_two(harmony, forms)


def locked_forms(harmony: Harmony, level: Level) -> tuple[VoicingForm, ...]:
    """Four-way close with the top doubled an octave below by the left hand: the whole sixth or
    seventh chord and the rootless forms, in all inversions."""
    closes = [f.degrees for f in rootless_forms(harmony, level) if len(f.degrees) == _FOUR]
    whole = _whole_chord(colours(harmony, level.voicing.palette))
    turns = [turn for close in (*([whole] if whole else []), *closes)
             for turn in _turns(_close(close))]
    return tuple(dict.fromkeys(VoicingForm("locked hands", (turn[-1], *turn), 1) for turn in turns
                               if is_sound(turn)))


def _structures_over_guides(harmony: Harmony, third: str, seventh: str) -> list[VoicingForm]:
    """Upper structures in the right hand over what tells the chord in the left."""
    lows = ((third, seventh), (seventh, third), ("1", third, seventh), ("1", seventh))
    return [VoicingForm("upper structure", (*low, *turn), len(low))
            for _, _, degrees in upper_structures(harmony)
            for turn in _turns(degrees) for low in lows
            if set(low) | set(degrees) >= {third, seventh}]


def _unique_two(harmony: Harmony, forms: list[VoicingForm]) -> tuple[VoicingForm, ...]:
    seen: dict[tuple[tuple[str, ...], int], VoicingForm] = {}
    for form in forms:
        if form.kind != "upper structure" and len(set(form.degrees)) < len(form.degrees):
            continue
        seen.setdefault((form.degrees, form.left), form)
    return tuple(seen.values())


def _fourths_and_a_third(harmony: Harmony, level: Level) -> list[VoicingForm]:
    """Three fourths and a major third on top, wherever the chord has those five tones."""
    c = colours(harmony, level.voicing.palette)
    names: dict[int, str] = {}
    for degree in ("1", *c.all_but_root):
        names.setdefault(degree_pitch_class(degree), degree)
    forms = []
    for start in range(12):
        classes = [(start + step) % 12 for step in (0, 5, 10, 15, 19)]
        if all(k in names for k in classes):
            row = tuple(names[k] for k in classes)
            if {c.third, c.seventh} <= set(row) and not {"11", "3"} <= set(row):
                forms.append(VoicingForm("fourths", row, 2))
    return forms
