"""A ladder: one idea thinned from the level it was offered at down to a beginner's.

The idea is taken back to a draft; `ladder.thinning` leaves out one thing after another; what is
left is fingered and checked like every fill. A step is taken where the rest can be played, is
no harder, still tells its chords and is still heard as the device it was: the test of the
device itself decides, the same that names the fills. Of the steps those are kept as rungs that
are easier by enough to be felt.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.devices.device import Device
from fillwright.fills.draft import Draft, DraftChord
from fillwright.fills.ladder.fits import level_for, what_asks_more
from fillwright.fills.ladder.frames import frame_name, is_its_frame
from fillwright.fills.ladder.naming import heard_in, joined, retold
from fillwright.fills.ladder.taken_back import (
    Place,
    draft_of,
    names_in,
    plainest_name,
    says_what_it_hears,
)
from fillwright.fills.ladder.thinning import EIGHTH, less_of
from fillwright.fills.model import Fill
from fillwright.fills.place import placed
from fillwright.fills.player import ALL_LEVELS, Level, hand_of, level_of
from fillwright.fills.quickest import divided_to
from fillwright.fills.situation import LEAST_SECONDS
from fillwright.fills.tempo import pace_of
from fillwright.given import a
from fillwright.hands.difficulty import difficulty
from fillwright.hands.difficulty import highest_tempo as fastest
from fillwright.theory.chord import degree_pitch_class
from fillwright.tune.model import Chorus, Gap

__all__ = ["Ladder", "Missing", "Rung", "ladder", "rung_named"]

_LEAST_FALLS = (4, 6, 9, 14)
"""A rung is easier than the one above by so much at least; by more where there would be too
many (design choice)."""
_MOST_RUNGS = 6
_COMPARED = 3
"""So many easier forms are compared, so that a ladder goes down gently."""
_LEAST_TEMPO = 20
_RUNG = "-rung"
"""Between the id of an idea and the number of a rung of it, from 1."""


@dataclass(frozen=True, slots=True)
class Rung:
    """One form of the idea.

    level           the level it belongs to
    highest_tempo   felt beats a minute up to which its difficulty lies within that level and
                    the hands can play it
    fill            its notes, fingers, counts and reasons
    left_out        what the rung above has and this one has not, in words
    """

    level: str
    highest_tempo: int
    fill: Fill
    left_out: tuple[str, ...] = ()
    hand: str = "medium"

    @property
    def difficulty(self) -> int:
        return self.fill.difficulty

    def difficulty_at(self, tempo: int) -> int:
        """How hard it is at another tempo, in quarter notes a minute."""
        return difficulty(self.fill.notes, self.hand, 60 / tempo).total


@dataclass(frozen=True, slots=True)
class Missing:
    """A level that has no rung, and the sentence that says why."""

    level: str
    reason: str


@dataclass(frozen=True, slots=True)
class Ladder:
    """The forms of one idea, the hardest first, and the levels without one."""

    chorus: Chorus = field(repr=False)
    gap: Gap
    hand: str
    rungs: tuple[Rung, ...]
    missing: tuple[Missing, ...]

    def __repr__(self) -> str:
        return (f"<Ladder of {self.rungs[0].fill.device!r}, gap {self.gap.number}: "
                + ", ".join(f"{rung.level} {rung.difficulty}" for rung in self.rungs) + ">")


def ladder(fill: Fill, *, hand: str = "medium", chorus: Chorus | None = None) -> Ladder:
    """The rungs of a fill that was offered, from its own level down.

    fill     as `propose` gives it
    hand     the size of the hand it was offered to
    chorus   where it stands; None: as the fill knows it

    Raises InputError for what is no fill, no hand, or a fill of another chorus.
    """
    if not isinstance(fill, Fill):
        raise InputError(f"a ladder is made of a Fill, not of {a(fill)}")
    hand_of(hand)
    chorus = fill.chorus if chorus is None else chorus
    if not isinstance(chorus, Chorus):
        raise InputError("a ladder wants the chorus its fill stands in")
    place = Place.of(chorus, fill.gap, hand)
    climb = _Climb.of(fill, place)
    rungs = _rungs(climb)
    return Ladder(chorus, place.gap, hand, rungs, tuple(_missing(climb, rungs)))


def rung_named(fill_id: str) -> tuple[str, int] | None:
    """The id of the idea and the number of the rung that an id names; None where it is no
    rung's.

    >>> rung_named("5.1.3-comp-shells-8c-rung2")
    ('5.1.3-comp-shells-8c', 2)
    """
    idea, mark, number = fill_id.rpartition(_RUNG)
    return (idea, int(number)) if mark and number.isdecimal() else None


@dataclass(frozen=True, slots=True)
class _Form:
    """A form of the idea: its draft, the fill it makes (from the gap's onset), and what the form
    before it has and it has not."""

    draft: Draft
    fill: Fill
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Climb:
    """All forms of an idea, each with one thing less than the one before, and why there is no
    plainer one (a word: "idea", "chord", "hands", "" where nothing is left to leave out)."""

    place: Place
    offered: Fill
    forms: tuple[_Form, ...]
    end: str

    @classmethod
    def of(cls, fill: Fill, place: Place) -> _Climb:
        idea = _Idea.of(fill, place)
        forms = [_Form(idea.draft, fill)]
        while True:
            why: Counter[str] = Counter()
            plainer = next(_plainer(idea, forms[-1], place, why), None)
            if plainer is None:
                end = min(why, key=lambda word: (-why[word], word), default="")
                return cls(place, fill, tuple(forms), end)
            forms.append(plainer)

    def level_of(self, form: _Form, highest: Level) -> Level:
        return level_for(form.draft, form.fill.difficulty, self.place.task, highest)


@dataclass(frozen=True, slots=True)
class _Idea:
    """What has to stay: the devices heard in the fill, and what its chords tell."""

    fill: Fill
    draft: Draft
    devices: tuple[Device, ...]
    onsets: int
    strokes: int

    @classmethod
    def of(cls, fill: Fill, place: Place) -> _Idea:
        draft = draft_of(fill, place)
        return cls(fill, draft, heard_in(fill, draft, place),
                   len({n.onset_quarter for n in draft.notes}), _lead(draft))

    def is_kept(self, draft: Draft, place: Place) -> bool:
        """Whether both hands that played play, half of its strokes are there, and what gave it
        its name is heard: one at least of its devices."""
        if ({n.hand for n in draft.notes} != {n.hand for n in self.draft.notes}
                or 2 * len({n.onset_quarter for n in draft.notes}) < self.onsets
                or 2 * _lead(draft) < self.strokes):
            return False
        return (not self.devices or bool(heard_in(self.fill, draft, place))
                or is_its_frame(self.draft, draft, self.devices))

    def tells(self, draft: Draft, place: Place) -> bool:
        """Whether every chord whose third (or fourth, where that stands for it) sounded in the
        idea still has it, and every added chord that was struck still is: its symbol does not
        stand over a stroke of the chord before."""
        return all(not _third_sounds(self.draft, place, at) or _third_sounds(draft, place, at)
                   for at in (chord.onset_quarter for chord in draft.chords)) and all(
            not (told := _told_by(self.draft, chord)) or _told_by(draft, chord) & told
            or any(_is_at(n.onset_quarter, chord) for n in draft.notes)
            for chord in draft.chords if chord.added)


def _lead(draft: Draft) -> int:
    """Strokes of the right hand."""
    return len({n.onset_quarter for n in draft.notes if n.hand == "right"})


def _told_by(draft: Draft, chord: DraftChord) -> set[Fraction]:
    """Where a chord is struck: at its place, or as a push that lasts until then. A stroke that does
    only because what came after it is gone is none of these in the idea, and stays none."""
    first = chord.onset_quarter - EIGHTH
    return {n.onset_quarter for n in draft.notes if _is_at(n.onset_quarter, chord)
            or first <= n.onset_quarter < chord.onset_quarter <= n.end_quarter}


def _is_at(onset: Fraction, chord: DraftChord) -> bool:
    return chord.onset_quarter <= onset < chord.end_quarter


def _third_sounds(draft: Draft, place: Place, at: Fraction) -> bool:
    chord = next((c for c in draft.chords if c.onset_quarter == at), None)
    if chord is None:
        return False
    third = chord.harmony.third
    if third is None:
        return False
    keys = {n.midi % 12 for n in draft.notes
            if n.onset_quarter < chord.end_quarter and n.end_quarter > at}
    if place.task.held is not None and draft.held.until_quarter > at:
        keys.add(place.task.held.midi % 12)
    return (chord.harmony.root.pitch_class + degree_pitch_class(third)) % 12 in keys


def _plainer(idea: _Idea, form: _Form, place: Place, why: Counter[str]) -> Iterator[_Form]:
    """The forms with one thing less that can stand after one: of the first few that are easier
    the one that is so by least, keys before strokes; then those that are no harder."""
    easier: list[_Form] = []
    level: list[_Form] = []
    for less in less_of(form.draft, place.task):
        if less.stroke and easier:
            break  # the rhythm stays as long as there are keys to leave out
        if not idea.is_kept(less.draft, place):
            why["idea"] += 1
            continue
        if not idea.tells(less.draft, place):
            why["chord"] += 1
            continue
        found = place.finished(replace(less.draft, costs=()))
        if not isinstance(found, Fill):
            why["hands"] += 1
        elif found.difficulty < form.fill.difficulty:
            easier.append(_Form(less.draft, found, (less.words,)))
            if len(easier) == _COMPARED:
                break
        elif found.difficulty == form.fill.difficulty:
            level.append(_Form(less.draft, found, (less.words,)))
    yield from sorted(easier, key=lambda one: -one.fill.difficulty)
    yield from level


# --- which of them are rungs ------------------------------------------------------------------

def _rungs(climb: _Climb) -> tuple[Rung, ...]:
    rows = [_chosen(climb, fall) for fall in _LEAST_FALLS]
    row = next((row for row in rows if len(row) <= _MOST_RUNGS), rows[-1])
    return tuple(_rung(climb, form, level, number) for number, (form, level) in enumerate(row))


def _chosen(climb: _Climb, fall: int) -> list[tuple[_Form, Level]]:
    """The first form, and of the others those that are easier by so much, or a level lower."""
    top = level_of(climb.offered.level)
    found = [(climb.forms[0], top)]
    gone: list[str] = []
    said: set[str] = set()
    for form in climb.forms[1:]:
        gone += (_once_more(word) if word in said else word for word in form.left_out)
        last, above = found[-1]
        level = climb.level_of(form, above)
        easier = last.fill.difficulty - form.fill.difficulty
        if easier >= fall or (easier > 0 and level.rank < above.rank):
            found.append((replace(form, left_out=_joined(gone)), level))
            said.update(gone)
            gone = []
    return _level_by_level(found)


def _level_by_level(found: list[tuple[_Form, Level]]) -> list[tuple[_Form, Level]]:
    """Where a level is passed over whose range the next rung lies in, and a lower rung is left
    for the level below, that rung is the level's: ranges overlap, and a ladder goes down level
    by level."""
    row = list(found)
    for place in range(1, len(row) - 1):
        (form, level), above = row[place], row[place - 1][1]
        between = next((one for one in reversed(ALL_LEVELS) if level.rank < one.rank < above.rank
                        and one.difficulty[0] <= form.fill.difficulty <= one.difficulty[1]), None)
        if between is not None:
            row[place] = (form, between)
    return row


def _once_more(words: str) -> str:
    """What another rung was already said to leave out.

    >>> _once_more("an inner note of each chord in the left hand")
    'another inner note of each chord in the left hand'
    """
    return words.replace("an ", "another ", 1) if words.startswith("an ") else words


def _joined(words: list[str]) -> tuple[str, ...]:
    """The words, what was left out twice only once."""
    return tuple(dict.fromkeys(words))


def _rung(climb: _Climb, form: _Form, level: Level, number: int) -> Rung:
    tempo = _highest_tempo(climb.place, form, level)
    if not number:
        return Rung(level.name, tempo, climb.offered, (), climb.place.hand)
    return Rung(level.name, tempo, _named(climb, form, level, number), form.left_out,
                climb.place.hand)


def _named(climb: _Climb, form: _Form, level: Level, number: int) -> Fill:
    """A form as a fill of its own: its id says which rung it is, its name and reasons say what
    is heard in it and no more."""
    place, offered = climb.place, climb.offered
    device = _device_name(climb, form)
    name = f"{offered.id}{_RUNG}{number + 1}"
    fill = placed(form.fill, place.gap)
    said, chords = retold(offered, form.draft, place, fill.chords)
    return replace(
        fill, id=name, device=device, level=level.name, chorus=place.chorus,
        chords=tuple(replace(c, fill=name) if c.added else c for c in chords),
        reasons=(*said, f"The same idea without {joined(form.left_out)}."))


def _device_name(climb: _Climb, form: _Form) -> str:
    """What a form is called. Comping is called by what the hands strike and by its rhythm:
    where the one or the other has changed, less is said of it."""
    offered, idea = climb.offered, climb.forms[0].draft
    heard = heard_in(offered, form.draft, climb.place)
    if not heard:
        return frame_name(offered, form.draft, climb.place)
    if offered.family != "comp":
        return ", then ".join(one.name for one in heard)
    device, name = names_in(offered)[0]
    rhythm = offered.device.removeprefix(name)
    before, now = _strokes(idea), _strokes(form.draft)
    if any(now[place] != before.get(place) for place in now) and not says_what_it_hears(
            device, name):
        name = plainest_name(device)
    return name + rhythm if before.keys() == now.keys() else name


def _strokes(draft: Draft) -> dict[Fraction, tuple[int, int]]:
    """How many keys the left and the right hand strike, by onset."""
    rows: dict[Fraction, tuple[int, int]] = {}
    for note in draft.notes:
        left, right = rows.get(note.onset_quarter, (0, 0))
        left_too = note.hand == "left"
        rows[note.onset_quarter] = left + left_too, right + (not left_too)
    return rows


def _highest_tempo(place: Place, form: _Form, level: Level) -> int:
    """Felt beats a minute; never below the tempo of the chorus, at which it was found."""
    beat, most = place.task.beat_quarter, level.difficulty[1]
    meter = place.task.meter
    offset = place.task.bar_at(place.task.onset_quarter).first_beat_quarter
    limit = fastest(form.fill.notes, place.hand, most, offset_quarter=offset)
    divided = divided_to(form.fill.notes, level, meter)
    here = max(int(place.chorus.quarters_per_minute / beat), _LEAST_TEMPO)
    in_time = int(float(place.gap.beats) * 60 / LEAST_SECONDS)
    high = max(min(0 if limit is None else int(limit / beat), in_time,
                   in_time if divided is None else divided), here)

    def plays(tempo: int) -> bool:
        pace = pace_of(Fraction(tempo), meter)
        found = replace(place, task=replace(
            place.task, quarters_per_minute=pace * beat)).finished(form.draft)
        return isinstance(found, Fill) and found.difficulty <= most

    low = here
    while low < high:
        middle = (low + high + 1) // 2
        if plays(middle):
            low = middle
        else:
            high = middle - 1
    return low


# --- what is missing --------------------------------------------------------------------------

def _missing(climb: _Climb, rungs: tuple[Rung, ...]) -> Iterator[Missing]:
    have = {rung.level for rung in rungs}
    top = level_of(climb.offered.level)
    last = level_of(rungs[-1].level)
    for level in reversed(ALL_LEVELS):
        if level.name in have:
            continue
        if level.rank > top.rank:
            reason = (f"the idea was offered to the {top.name} level; a ladder leaves out, it "
                      "puts nothing in")
        elif level.rank > last.rank:
            reason = f"what the rung above it leaves out makes it {last.with_article}'s at once"
        else:
            reason = _why_no_plainer(climb, level)
        yield Missing(level.name, reason)


_ENDS = {
    "idea": "with any less it is no longer heard as {device}",
    "chord": "with any less its chords are not told by their thirds",
    "hands": "with any less the rules of the hands or of the melody speak against it",
    "": "nothing more can be left out",
}


def _why_no_plainer(climb: _Climb, level: Level) -> str:
    form = climb.forms[-1]
    asks = what_asks_more(form.draft, form.fill.difficulty, climb.place.task, level)
    end = _ENDS[climb.end].format(device=climb.offered.device)
    if not asks:
        return (f"{end}; as it stands its difficulty of {form.fill.difficulty} lies in "
                f"{level.with_article}'s range as well")
    said = f"its plainest form {asks}; {end}"
    offset = climb.place.task.bar_at(climb.place.task.onset_quarter).first_beat_quarter
    limit = fastest(form.fill.notes, climb.place.hand, level.difficulty[1],
                    offset_quarter=offset)
    beat = climb.place.task.beat_quarter
    if form.fill.difficulty > level.difficulty[1] and limit is not None:
        said += f"; at {int(limit / beat)} a minute and slower that form is {level.with_article}'s"
    return said
