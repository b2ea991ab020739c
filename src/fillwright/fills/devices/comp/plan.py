"""From a texture and a rhythm to strokes of each hand.

A `PlannedStroke` knows when it is struck, how long it lasts and over which chord; which keys it
takes is found later (see `search`). Every mode of comping is a row of `LABOUR`: which hand
takes the hits, what the left hand lays under them, whether it sustains. The left hand
strikes the harmony under the held note and again where the chord changes, unless a push has
taken the change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.ending import closed
from fillwright.fills.devices.comp.inner import line_steps
from fillwright.fills.devices.comp.led import LED
from fillwright.fills.devices.comp.setting import CompSetting, is_strong, pedal_of
from fillwright.fills.devices.comp.strokes import PlannedStroke, StrokePlan
from fillwright.fills.devices.comp.tenor import tenor_hands
from fillwright.fills.devices.comp.texture import Mode, Texture
from fillwright.fills.model import HeldEnd
from fillwright.fills.rhythm.grid import Hit, Rhythm
from fillwright.fills.voicing.forms import bass_degree, is_inversion
from fillwright.theory.harmony import Harmony

__all__ = ["LABOUR", "plan_of"]

TELLING = ("", "shell", "guides", "rootless", "three-note rootless")
"""Families of strokes that tell a chord's kind; "" are those of the right hand."""

LEAST_STRIDE_SEC = 0.28
"""From a low root to a chord the hand needs as long (common practice: a quarter at 210)."""

MOST_AFTER_BREAK = 2
"""Felt beats that the last key of a broken chord rings alone at most (design choice)."""

LEAST_GUIDES_SEC = 0.3
"""Guide tones are not laid under the held note so shortly before the landing (common practice)."""

_FEW = 3
"""Strokes that the hands may all have together (common practice)."""

UNTOLD_SEC = 0.65
"""So long, or a beat where that is longer, a chord may sound before its third and seventh come
(design choice: a hollow fifth that lasts is heard as all there is)."""


@dataclass(frozen=True, slots=True)
class Labour:
    """Who does what in a mode of comping.

    hits       who takes the hits: "left", "right", "turns" (the right hand first), "together",
               "break" (they are the keys of one left-hand chord, struck one after another),
               "harp" (those of one chord, up through both hands), "tenor" (the upper key of the
               left hand, over one that stays) or
               "time" (the left hand, low on the strong beats)
    on_change  family of the left hand where a chord begins; "" for the texture's own
    sustains   left-hand strokes ring on; else they are as long as the rhythm says
    renews     a root far from other strokes is struck again at a bar line
    tells      the left hand alone tells the chords
    inverts    it makes sense over the bass of an inversion
    closes     after the last hit the left hand strikes a low root: the end of a tune
    guides     the right hand lays guide tones under the held note, once a chord
    joins      the left hand strikes with the right on every hit
    stays      the bass stays on one key through all chords
    """

    hits: str
    on_change: str = ""
    sustains: bool = False
    renews: bool = False
    tells: bool = False
    inverts: bool = True
    closes: bool = False
    guides: bool = False
    joins: bool = False
    stays: bool = False


LABOUR: Mapping[Mode, Labour] = MappingProxyType({
    "left": Labour("left", tells=True),
    "stride": Labour("left", "low root", inverts=False),
    "time": Labour("time", "low root", inverts=False),
    "over": Labour("right", sustains=True, renews=True),
    "both": Labour("right", "root", sustains=True, renews=True, joins=True),
    "bell": Labour("right", sustains=True, tells=True),
    "answer": Labour("turns", renews=True),
    "together": Labour("together"),
    "bass": Labour("left", sustains=True, tells=True, inverts=False, guides=True),
    "close": Labour("right", sustains=True, closes=True),
    "pedal": Labour("right", sustains=True, renews=True, inverts=False, stays=True),
    "break": Labour("break", sustains=True, tells=True, inverts=False),
    "tenor": Labour("tenor", sustains=True, tells=True, inverts=False, guides=True),
    "harp": Labour("harp", sustains=True, tells=True, inverts=False),
})


def plan_of(setting: CompSetting, texture: Texture, rhythm: Rhythm) -> StrokePlan | None:
    """The strokes of a fill, or None where the texture makes no sense here."""
    labour = LABOUR[texture.mode]
    if not labour.inverts and _inverted(setting, texture):
        return None
    ends = setting.task.landing is None
    if (ends and (labour.joins or labour.on_change == "low root" or rhythm.opening_quarter)) or (
            labour.closes and not ends):
        return None  # where nothing follows, the end stands on its root, in its place
    hits = [_struck(setting, hit) for hit in rhythm.hits]
    if rhythm.tops:
        hits = [replace(h, top=top) for h, top in zip(hits, rhythm.tops, strict=True)]
    left, right = _divided(setting, texture, labour, rhythm, hits)
    left += _renewed(setting, texture, labour, left, hits)
    left = _telling(setting, texture, labour, sorted(left, key=lambda s: s.onset_quarter),
                    right)
    if labour.stays:
        left = _on_a_pedal(setting, left)
    elif texture.motion == "locked":
        left = _before_the_blocks(left, right)
    if not left or (labour.closes and left[-1].family != "last root"):
        return None  # no room for it
    if not _playable_in_time(setting, texture, left) or _told_late(setting, left, right):
        return None
    left = _lengths(setting, labour, left, right)
    if labour.hits == "break" and any(
            s.breaks and not 0 < s.end_quarter - s.onset_quarter - s.breaks[-1]
            <= MOST_AFTER_BREAK * setting.beat for s in left):
        return None  # the next chord comes before the last key of a broken one, or nothing does
    if texture.legato:
        right = _legato(setting, right)
    sings = texture.line is not None and labour.hits != "tenor"
    if texture.line is not None and sings:
        stepped = line_steps(texture.line, right, setting.task.landing_harmony,
                             setting.beat)
        if stepped is None:
            return None
        right = stepped
    if texture.motion in LED:
        right = LED[texture.motion](setting, texture, right)
        if not any(s.is_led for s in right):
            return None
    if _loses_the_beat(setting, texture, left, right):
        return None
    held = _held(setting, texture, right)
    moved = right[-1:] if sings else left[-1:] if labour.guides else right[:1]
    if texture.place == "under" and _is_over(setting, right, moved):
        return None  # the melody note is over: hardly anything is under it
    if held is None or (texture.moves and not any(
            a.harmony == b.harmony for a, b in pairwise(right))):
        return None  # nothing moves over one chord
    if held.kept == "finger":
        right = [_with_the_held(setting, stroke, held) for stroke in right]
    kept = _without_hollow(left, right, held)
    hands = None if kept is None else closed(setting, (kept, right), held)
    if hands is None or _is_lone_stab(setting, hands[1]):
        return None
    left, right = hands
    return StrokePlan(tuple(left), tuple(right), texture.mode == "both", held, rhythm,
                      labour.guides)


def _is_over(setting: CompSetting, right: Sequence[PlannedStroke],
             moved: Sequence[PlannedStroke]) -> bool:
    """Has the held note ended when what moves under it, or most of the right hand, is struck?"""
    late = [s.onset_quarter >= setting.held_end for s in right]
    return 2 * sum(late) > len(late) or any(s.onset_quarter >= setting.held_end for s in moved)


_HOLLOW = ("root", "low root", "open", "under line", "two-note shell", "walk", "walk tenth")
"""Families that do not tell a chord by themselves, and those of a bass that moves under what is
kept."""


def _without_hollow(left: Sequence[PlannedStroke], right: Sequence[PlannedStroke], held: HeldEnd
                    ) -> list[PlannedStroke] | None:
    """The left hand's strokes without those that would be a bare bass or fifth when the right hand
    and the held note are over: the chord before lasts on in their place. None where that is
    another one."""
    over = max([held.until_quarter, *(s.end_quarter for s in right)])
    kept: list[PlannedStroke] = []
    for stroke in left:
        if not right or stroke.onset_quarter < over or stroke.alone or stroke.over or (
                stroke.family not in _HOLLOW):
            kept.append(stroke)
        elif kept and kept[-1].harmony == stroke.harmony:
            kept[-1] = replace(kept[-1], end_quarter=stroke.end_quarter)
        else:
            return None
    return kept


def _on_a_pedal(setting: CompSetting, left: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """The strokes on one key, [] where no key goes with all chords or one of them is told by
    nothing else."""
    name = pedal_of(setting.task)
    if name is None or any(s.family != "pedal" for s in left):
        return []
    return [replace(s, pedal=name) for s in left]


def _before_the_blocks(left: Sequence[PlannedStroke],
                       right: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """What the left hand strikes before it is locked to the right; [] where a chord would come
    later by itself."""
    first = right[0].onset_quarter
    told = {s.harmony for s in right}
    if any(s.onset_quarter > first and s.harmony not in told for s in left):
        return []
    return [s for s in left if s.onset_quarter < first]


def _is_lone_stab(setting: CompSetting, right: Sequence[PlannedStroke]) -> bool:
    """Is in a ballad one stroke between the beats, let go at once, all the right hand plays?"""
    return (setting.slow and len(right) == 1
            and right[0].end_quarter - right[0].onset_quarter < setting.beat
            and setting.task.beat_at(right[0].onset_quarter).denominator > 1)


def _is_together(left: Sequence[PlannedStroke], right: Sequence[PlannedStroke]) -> bool:
    """Do the hands strike three strokes and more together and nothing else, but for one of more
    than three?"""
    one, other = ({s.onset_quarter for s in hand} for hand in (left, right))
    every = len(one | other)
    return every >= _FEW and len(one & other) >= every - (every > _FEW)


def _loses_the_beat(setting: CompSetting, texture: Texture, left: Sequence[PlannedStroke],
                    right: Sequence[PlannedStroke]) -> bool:
    """Is there no beat to count by, or nothing but beats, or nothing that one hand has alone?"""
    strict = setting.player.level.comp.strict
    if _floats(setting, (*left, *right), _FEW + 2 * strict):
        return True
    if strict:
        return _is_together(left, right) or (
            not texture.time and _marches(setting, (*left, *right)))
    return _floats_over(setting, (*left, *right))


def _floats(setting: CompSetting, strokes: Sequence[PlannedStroke], most: int) -> bool:
    """Do so many strokes in a row come between the beats? Nobody strikes a beat to count by."""
    onsets = sorted({s.onset_quarter + later for s in strokes for later in s.breaks or (0,)})
    off = [setting.task.beat_at(onset).denominator > 1 for onset in onsets]
    return any(all(off[place:place + most]) for place in range(len(off) - most + 1))


def _floats_over(setting: CompSetting, strokes: Sequence[PlannedStroke]) -> bool:
    """Do two strokes in a row come between the beats, a bar line between them? A beginner counts
    from a beat that is struck."""
    task = setting.task
    onsets = sorted({s.onset_quarter for s in strokes})
    return any(task.beat_at(a).denominator > 1 and task.beat_at(b).denominator > 1
               and any(a < line <= b for line in setting.bar_lines)
               for a, b in pairwise(onsets))


def _marches(setting: CompSetting, strokes: Sequence[PlannedStroke]) -> bool:
    """Is in swing every beat of more than a bar struck, and nothing else? That is no comping."""
    onsets = sorted({s.onset_quarter for s in strokes})
    return (setting.swings and not setting.slow
            and len(onsets) * setting.beat > setting.task.meter.length_quarter
            and all(b - a == setting.beat for a, b in pairwise(onsets))
            and setting.task.beat_at(onsets[0]).denominator == 1)


def _inverted(setting: CompSetting, texture: Texture) -> bool:
    """Would a root be played where another bass is printed?"""
    return any(is_inversion(s.harmony) or (texture.left != "guides" and bass_degree(s.harmony))
               for s in setting.task.spans)


def _struck(setting: CompSetting, hit: Hit) -> PlannedStroke:
    """A hit with its chord: a push takes the coming one."""
    stroke = PlannedStroke(hit.onset_quarter, hit.end_quarter,
                           setting.harmony_at(hit.onset_quarter),
                           push=hit.anticipates)
    if not hit.anticipates:
        return stroke
    for span in setting.task.spans:
        if span.onset_quarter > hit.onset_quarter:
            return replace(stroke, harmony=span.harmony)
    landing = setting.task.landing_harmony
    return stroke if landing is None else replace(stroke, harmony=landing, over=True)


def _divided(setting: CompSetting, texture: Texture, labour: Labour, rhythm: Rhythm,
             hits: Sequence[PlannedStroke]) -> tuple[list[PlannedStroke], list[PlannedStroke]]:
    """The hits as strokes of the left and the right hand, the opening among them."""
    own, root = texture.left, _root(texture, labour)
    opening = max(setting.opening, rhythm.opening_quarter)
    first = PlannedStroke(opening, setting.length, setting.harmony_at(setting.opening), root)
    if labour.hits == "time" and setting.in_three and not is_strong(setting.task, opening):
        first = replace(first, family=own)  # the bass of the bar has been on its first beat
    if labour.hits == "break":
        later = tuple(hit.onset_quarter - opening for hit in hits)
        return [replace(first, breaks=(Fraction(0), *later))], []
    if labour.hits == "harp":
        return _risen(setting, first, hits)
    if labour.hits == "tenor" and texture.line is not None:
        return tenor_hands(setting, texture.line, hits, _guides(setting))
    left, right = [first], []
    if labour.guides:
        right = _guides(setting)
    for order, hit in enumerate(hits):
        mine = labour.hits == "left" or (labour.hits == "turns" and order % 2 == 1)
        if labour.hits == "time":
            low = is_strong(setting.task, hit.onset_quarter)
            lows = [s for s in left if s.family != own]
            again = bool(lows) and lows[-1].harmony == hit.harmony and lows[-1].family == root
            below = "low fifth" if again else root
            left.append(replace(hit, family=below if low else own))
        elif mine and not (hit.over and labour.hits == "turns"):
            begins = labour.guides and hit.onset_quarter in setting.changes
            left.append(replace(hit, family=root if begins else _own(setting, texture, hit)))
        else:
            right.append(replace(hit, end_quarter=_until_change(setting, hit)))
            if labour.closes and order + 1 == len(hits):
                left += _low_end(setting, hit)
            if labour.hits == "together" or (hit.push and texture.mode != "both"):
                # both hands hear a push
                left.append(replace(hit, family=root))
    return left, right


def _risen(setting: CompSetting, first: PlannedStroke, hits: Sequence[PlannedStroke]
           ) -> tuple[list[PlannedStroke], list[PlannedStroke]]:
    """A chord key by key, three of the left hand and the others of the right, all over the chord
    it begins with; the keys ring until that ends."""
    end = _until_change(setting, replace(first, end_quarter=setting.length))
    starts = [first.onset_quarter, *(h.onset_quarter for h in hits)]
    low, high = starts[:_FEW], starts[_FEW:]
    if len(high) < 2 or high[-1] >= end:
        return [], []
    above = replace(first, family="", onset_quarter=high[0], end_quarter=end,
                    breaks=tuple(o - high[0] for o in high))
    return [replace(first, end_quarter=end, breaks=tuple(o - low[0] for o in low))], [above]


def _low_end(setting: CompSetting, hit: PlannedStroke) -> list[PlannedStroke]:
    """The low root a beat or two after the last hit, on a beat, where there is room, while the
    tune's last note still sounds."""
    task = setting.task
    for later in (2 * setting.beat, setting.beat):
        place = hit.onset_quarter + later
        place -= (task.beat_at(place) - 1) % 1 * setting.beat
        last = setting.length if task.held is None else setting.held_end
        if hit.onset_quarter < place <= min(last, setting.length) - setting.beat:
            return [PlannedStroke(place, setting.length, setting.harmony_at(place), "last root")]
    return []


def _root(texture: Texture, labour: Labour) -> str:
    """What the left hand plays where a chord begins."""
    return f"{texture.left} root" if labour.guides else labour.on_change or texture.left


def _own(setting: CompSetting, texture: Texture, hit: PlannedStroke) -> str:
    """What the left hand plays on a hit; the landing's chord has its root, unless the player
    may leave it to the landing."""
    rooted = hit.over and texture.mode == "stride" and (
        not setting.player.level.comp.bare_landing)
    return "shell" if rooted else texture.left


def _until_change(setting: CompSetting, stroke: PlannedStroke) -> Fraction:
    """Where a chord ends: at the latest where another chord than its own comes."""
    offsets = (span.onset_quarter for span in setting.task.spans
               if span.harmony != stroke.harmony)
    return min([stroke.end_quarter, *(o for o in offsets if o > stroke.onset_quarter)])


def _guides(setting: CompSetting) -> list[PlannedStroke]:
    """Guide tones that the right hand lays under the held note with every chord, and once more
    after a bar line that passes over a chord which lasts: on the off-beat of the second beat,
    where there is time."""
    later = setting.beat * (1 if setting.slow or setting.in_three else Fraction(3, 2))
    starts = [setting.opening, *(c for c in setting.changes if setting.task.seconds(
        setting.length - c) >= LEAST_GUIDES_SEC)]
    again = [line + later for line in setting.bar_lines
             if all(abs(line - at) >= 2 * setting.beat for at in starts)
             and line + later + setting.beat <= setting.length]
    strokes = [PlannedStroke(at, end, setting.harmony_at(at))
               for at, end in pairwise([*sorted([*starts, *again]), setting.length])]
    return [replace(s, end_quarter=_until_change(setting, s)) for s in strokes]


def _renewed(setting: CompSetting, texture: Texture, labour: Labour, left: list[PlannedStroke],
             hits: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """Roots where the chord changes, unless a push has taken it, and at bar lines that would
    pass in silence."""
    if not left:
        return []  # it makes no sense here
    root = _root(texture, labour)
    struck = {s.onset_quarter for s in left}
    pushed = {_next_change(setting, hit) for hit in hits if hit.push}
    found = [PlannedStroke(change, setting.length, setting.harmony_at(change), root)
             for change in setting.changes
             if change not in struck and not (change in pushed and texture.mode != "both" and (
                 labour.hits != "left" or labour.tells))]
    if labour.hits == "break":
        found = [_broken_alike(setting, stroke, left[0]) for stroke in found]
    if labour.hits == "harp":  # one chord rises; what comes after it is plain
        found = [replace(stroke, family="shell") for stroke in found]
    if labour.renews:
        for offset in setting.bar_lines:
            lasts = offset + setting.beat <= setting.length
            if lasts and all(abs(offset - s.onset_quarter) >= 2 * setting.beat
                             for s in (*left, *found)):
                found.append(PlannedStroke(offset, setting.length, setting.harmony_at(offset),
                                           root))
    return found


def _broken_alike(setting: CompSetting, stroke: PlannedStroke,
                  model: PlannedStroke) -> PlannedStroke:
    """A later chord broken as the first one, where it lasts long enough; else at once."""
    after = min([c for c in setting.changes if c > stroke.onset_quarter] + [setting.length])
    fits = stroke.onset_quarter + model.breaks[-1] < after
    return replace(stroke, breaks=model.breaks) if fits else replace(stroke, family="shell")


def _next_change(setting: CompSetting, hit: PlannedStroke) -> Fraction:
    return next((s.onset_quarter for s in setting.task.spans
                 if s.onset_quarter > hit.onset_quarter), setting.length)


def _telling(setting: CompSetting, texture: Texture, labour: Labour, left: list[PlannedStroke],
             right: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """Where no other stroke tells a chord, or those that do are over, the left hand plays a shell
    instead of a root; where nothing else is struck for more than a beat, not the root alone."""
    if labour.tells:
        return [replace(s, alone=not labour.guides and not s.over) for s in left]
    chords = [*right, *(s for s in left if labour.on_change == "low root"
                        and s.family == texture.left)]
    done: list[PlannedStroke] = []
    for stroke in left:
        others = _others_in_run(stroke, chords, (*left, *right))
        told = any(other.end_quarter > stroke.onset_quarter for other in others)
        late = told and not stroke.over and _untold(setting, stroke, others)
        if late and stroke.family in ("open", "two-note shell"):
            done.append(replace(stroke, family="shell", alone=True))
        elif told and stroke.family == "root" and not stroke.over and all(
                not 0 <= s.onset_quarter - stroke.onset_quarter <= setting.beat
                for s in (*left, *right) if s is not stroke):
            done.append(replace(stroke, family="open"))
        elif told or stroke.over:
            done.append(stroke)
        else:
            family = stroke.family if stroke in chords else "shell"
            done.append(replace(stroke, family=family, alone=True))
    return done


def _untold(setting: CompSetting, stroke: PlannedStroke, chords: Sequence[PlannedStroke]) -> bool:
    """Does it take too long from a stroke to the first that tells its chord?"""
    wait = min(abs(other.onset_quarter - stroke.onset_quarter) for other in chords)
    return _is_late(setting, wait)


def _others_in_run(stroke: PlannedStroke, chords: Sequence[PlannedStroke],
                   strokes: Sequence[PlannedStroke]
                   ) -> list[PlannedStroke]:
    """The other chords over a stroke's harmony, with no other harmony struck in between."""
    changes = [s.onset_quarter for s in strokes if s.harmony != stroke.harmony]
    start = max((c for c in changes if c <= stroke.onset_quarter), default=Fraction(-1))
    stop = min((c for c in changes if c > stroke.onset_quarter), default=None)
    return [s for s in chords if s is not stroke and s.harmony == stroke.harmony
            and start < s.onset_quarter and (stop is None or s.onset_quarter < stop)]


def _is_late(setting: CompSetting, wait_quarter: Fraction) -> bool:
    return wait_quarter > setting.beat and setting.task.seconds(wait_quarter) > UNTOLD_SEC


def _told_late(setting: CompSetting, left: Sequence[PlannedStroke],
               right: Sequence[PlannedStroke]) -> bool:
    """Does a chord sound too long before a stroke comes that tells its kind, or does that come when
    there is no time left to hear it?"""
    strokes = sorted((*left, *right), key=lambda s: s.onset_quarter)
    first: dict[Harmony, Fraction] = {}
    for stroke in strokes:
        if stroke.harmony not in first:
            first.clear()
        begun = first.setdefault(stroke.harmony, stroke.onset_quarter)
        if stroke.is_led or stroke.over or not (stroke.alone or stroke.family in TELLING):
            continue
        if _is_late(setting, stroke.onset_quarter - begun) or (
                stroke.onset_quarter - begun >= setting.beat
                and _until_change(setting, replace(stroke, end_quarter=setting.length))
                - stroke.onset_quarter < setting.beat):
            return True
        first[stroke.harmony] = setting.length  # it is told
    return False


def _playable_in_time(setting: CompSetting, texture: Texture,
                      left: Sequence[PlannedStroke]) -> bool:
    """Has the left hand time to go where it goes, and does it not stutter?"""
    task = setting.task
    low = LABOUR[texture.mode].on_change == "low root"
    if low and (left[0].family == "shell" or all(s.over for s in left[1:])):
        return False  # no chord follows the first root
    for one, two in pairwise(left):
        space = two.onset_quarter - one.onset_quarter
        if low and one.family != two.family and task.seconds(space) < LEAST_STRIDE_SEC:
            return False
        if texture.mode == "answer" and space < setting.beat and one.harmony == two.harmony:
            return False
    return True


def _lengths(setting: CompSetting, labour: Labour, left: list[PlannedStroke],
             right: Sequence[PlannedStroke]
             ) -> list[PlannedStroke]:
    """The left hand rings until its next stroke, or until a new chord comes or the other hand
    takes it; a hit of the rhythm keeps its own length."""
    length = setting.length
    done: list[PlannedStroke] = []
    for index, stroke in enumerate(left):
        stop = left[index + 1].onset_quarter if index + 1 < len(left) else length
        stop = min(stop, _until_change(setting, replace(stroke, end_quarter=stop)))
        stop = min([stop, *(o.onset_quarter for o in right
                            if o.onset_quarter > stroke.onset_quarter
                            and o.harmony != stroke.harmony)])
        if index + 1 < len(left) and left[index + 1].family == "last root":
            stop = max(stop - setting.beat, stroke.onset_quarter + setting.beat / 2)
        if labour.joins:  # the hand leaves its root for what both hands strike
            stop = min([stop, *(o.onset_quarter for o in right
                                if o.onset_quarter > stroke.onset_quarter)])
        if stroke.over:  # the push rings over the landing
            stop = length + setting.beat / 2
        elif not labour.sustains and stroke.end_quarter < length:
            stop = min(stop, stroke.end_quarter)
        done.append(replace(stroke, end_quarter=stop))
    return done


def _legato(setting: CompSetting, right: Sequence[PlannedStroke]) -> list[PlannedStroke]:
    """Every right-hand chord until the next one."""
    starts = [s.onset_quarter for s in right]
    return [replace(one, end_quarter=min(two, _until_change(
        setting, replace(one, end_quarter=setting.length))))
            for one, two in zip(right, [*starts[1:], setting.length], strict=False)]


def _with_the_held(setting: CompSetting, stroke: PlannedStroke, held: HeldEnd) -> PlannedStroke:
    """What is struck under the note that a finger keeps ends with it at the latest: its top would
    ring on as if it were the tune."""
    until = held.until_quarter
    if stroke.onset_quarter + setting.beat / 2 <= until < stroke.end_quarter:
        return replace(stroke, end_quarter=until)
    return stroke


def _held(setting: CompSetting, texture: Texture, right: Sequence[PlannedStroke]) -> HeldEnd | None:
    """What becomes of the held note; None where the melody would not be heard."""
    if setting.task.held is None:
        return HeldEnd("released", Fraction(0))
    end = setting.held_end
    if texture.held == "finger":
        return HeldEnd("finger", end)
    until = end
    if right and texture.held == "released":
        until = min(end, right[0].onset_quarter)
    if texture.held == "pedal":
        spans = setting.task.spans
        until = min(end, spans[1].onset_quarter if len(spans) > 1 else end)
        if not right or right[0].onset_quarter >= until:
            return None  # the pedal would keep nothing
    return None if until < min(setting.speak, end) else HeldEnd(texture.held, until)
