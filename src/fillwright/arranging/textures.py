"""Left-hand textures between the fills.

shells           the chord struck at once and held
broken shells    the bass speaks first, the upper notes join it
two-feel         bass notes in halves: root, then fifth or seventh
bass and chord   a low bass, let go for a rootless chord in the middle
broken tenths    root, fifth (of a seventh chord the seventh) and tenth one after the other: in
                 eighths and pedalled in ballads, beat by beat in waltzes
spread           bass and inner voices in the left hand, the others close under the melody
drop 2           the second voice of a close chord under the melody, an octave lower in the
                 left hand; its root is the lowest voice, or a bass struck before

The last two are for both hands: they stand under a melody note of a beat or more that comes
with the chord, which is their top voice; where none does, a texture of the left hand stands in.
Which one is used depends on level, tempo and section; all common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction

from fillwright.arranging.sections import section_at
from fillwright.fills.player import Level, Player
from fillwright.fills.voicing.voicings import left_hand_voicings, two_hand_voicings
from fillwright.hands.jumps import jump_ok
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import MUD, RUB
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, nearest_pitch
from fillwright.tune.model import Chorus, ChorusBar

__all__ = ["LEFT_TEXTURE", "LeftChord", "chords_of_both", "left_chords", "strokes_of",
           "texture_at"]

_BALLAD_BPM = 90
_FAST_BPM = 200
_MOVE_SECONDS = 0.33
"""A felt beat this long lets the left hand strike a bass and move up (common practice)."""
_AT_ONCE = ("shells", "spread", "drop 2")


@dataclass(frozen=True, slots=True)
class LeftChord:
    """What the left hand plays over one portion, in the order of striking.

    under   what the right hand strikes with it under the melody note that begins there
    """

    pitches: tuple[Pitch, ...]
    texture: str
    under: tuple[Pitch, ...] = ()

    @property
    def midis(self) -> tuple[int, ...]:
        return tuple(p.midi for p in self.pitches)

    @property
    def all_midis(self) -> tuple[int, ...]:
        """Both hands', without the melody."""
        return (*self.midis, *(p.midi for p in self.under))


LEFT_TEXTURE: Mapping[str, str] = {"spread": "bass and chord", "drop 2": "broken shells"}
"""What the left hand plays where a texture for both hands finds no melody note to stand under."""


def texture_at(chorus: Chorus, duration_quarter: Fraction, bar: ChorusBar, level: Level,
               fuller: bool) -> str:
    """The texture for a chord of that length in that bar.

    fuller   a second chorus: one step thicker
    """
    beat = bar.meter.beat_quarter
    pace = chorus.seconds_per_quarter * float(beat)
    bpm = 60 / pace
    if duration_quarter < 2 * beat:
        return "shells"
    section = section_at(chorus, bar.onset_quarter)
    contrast, again = section.contrast != fuller, section.times > 0
    taste = level.base.textures
    if bpm > _FAST_BPM:
        wanted = taste.fast
    elif bpm < _BALLAD_BPM:
        wanted = (taste.ballad_contrast if contrast else taste.ballad)[again]
    elif pace < _MOVE_SECONDS and taste.hurried:
        wanted = taste.hurried
    else:
        wanted = taste.contrast if contrast else taste.home[min(section.times, 2)]
    if wanted == "two-feel" and bar.meter.beats != 4:
        return "shells" if bpm > _FAST_BPM else taste.in_three
    return wanted


def chords_of_both(harmony: Harmony, texture: str, player: Player, low: int, top: int
                   ) -> list[LeftChord]:
    """Chords for both hands with the melody key `top` as their highest voice.

    From the voicings of comping. A drop 2 without its root has a bass below it that the left
    hand strikes first.
    """
    found: list[LeftChord] = []
    bass = harmony.symbol.lowest
    assert bass is not None  # a harmony always has a root
    homes = flat_nine_homes(harmony.symbol)
    for voicing in two_hand_voicings(harmony, player.level, player.hand.name, top=top,
                                     bottom=low):
        under = voicing.right_pitches[:-1]
        if (voicing.kind != texture or voicing.midis[-1] != top or not under
                or RUB.cost([p.midi for p in under], top, homes)):
            continue
        left = voicing.left_pitches
        if left[0].pitch_class == bass.pitch_class:
            found.append(LeftChord(left, texture, under))
            continue
        root = nearest_pitch(bass, left[0].midi - 12)
        if root.midi >= low and not MUD.pairs((root.midi, *voicing.midis)):
            found.append(LeftChord((root, *left), f"bass, then {texture}", under))
    return found


def left_chords(harmony: Harmony, texture: str, player: Player, low: int, ceiling: int
                ) -> list[LeftChord]:
    """Left-hand chords for a texture below a ceiling, the bare root always among them."""
    top = max(ceiling - 1, low + 12)
    level, hand = player.level, player.hand.name
    shells = [v for v in left_hand_voicings(harmony, level, hand, low=low, top=top)
              if v.midis[-1] < ceiling and len(v.pitches) <= player.most_base_keys]
    bass = harmony.symbol.lowest
    assert bass is not None  # a harmony always has a root
    roots = [root for centre in (38, 50) if low <= (root := nearest_pitch(bass, centre)).midi
             and root.midi < ceiling]
    found: list[LeftChord] = []
    if texture == "bass and chord":
        uppers = [v.pitches for v in left_hand_voicings(harmony, level, hand, low=low, top=top,
                                                        rootless=True) if len(v.pitches) <= 4]
        if not uppers:  # half-diminished, diminished and slash chords: a shell without its root
            uppers = [v.pitches[1:] for v in shells if len(v.pitches) == 3]
        found = [LeftChord((root, *upper), texture) for root in roots for upper in uppers
                 if 7 <= upper[0].midi - root.midi <= 19 and upper[-1].midi < ceiling]
    elif texture == "two-feel":
        fifth_name = harmony.symbol.name_of(harmony.symbol.fifth or "5")
        for root in roots:
            seconds = [nearest_pitch(fifth_name, root.midi + step) for step in (-5, 7)]
            if harmony.symbol.seventh is not None:
                name = harmony.symbol.name_of(harmony.symbol.seventh)
                seconds += [nearest_pitch(name, root.midi + step) for step in (-2, 10)]
            found += [LeftChord((root, second), texture) for second in seconds
                      if low - 2 <= second.midi < ceiling and root.midi != second.midi]
    elif texture == "broken tenths":
        middles = [(d, step) for d, step in ((harmony.symbol.fifth, 7),
                                             (harmony.symbol.seventh, 10)) if d is not None]
        third_name = harmony.symbol.name_of(harmony.third or harmony.symbol.fifth or "5")
        for root in roots:
            tenth = nearest_pitch(third_name, root.midi + 16)
            for degree, step in middles or [("5", 7)]:
                middle = nearest_pitch(harmony.symbol.name_of(degree), root.midi + step)
                if root.midi < middle.midi < tenth.midi < ceiling and jump_ok(
                        (middle.midi,), (tenth.midi,), _MOVE_SECONDS, hand):
                    found.append(LeftChord((root, middle, tenth), texture))
    if not found or texture in ("shells", "broken shells"):
        kind = texture if texture == "broken shells" else "shells"
        found += [LeftChord(v.pitches, kind) for v in shells]
    found += [LeftChord((root,), "shells") for root in roots]
    if not found:
        found.append(LeftChord((nearest_pitch(bass, min(low, ceiling - 6)),), "shells"))
    return list(dict.fromkeys(found))


def strokes_of(chord: LeftChord, duration_quarter: Fraction, beat_quarter: Fraction,
               attacks: Collection[Fraction], feel: str, previous: tuple[Fraction, ...]
               ) -> tuple[tuple[Fraction, Fraction], ...]:
    """(onset, length) of each note of the chord, counted from the chord's beginning.

    attacks    where the melody strikes, on the same scale
    previous   onsets of the chord before, not to be repeated without end
    """
    whole, count = duration_quarter, len(chord.pitches)
    beats = whole / beat_quarter
    if count == 1 or beats < 2 or chord.texture in _AT_ONCE:
        return ((Fraction(0), whole),) * count
    half_beat = beat_quarter / 2 if beat_quarter == 1 else beat_quarter / 3
    if chord.texture == "two-feel":
        middle = 2 * beat_quarter if beats >= 4 else beat_quarter
        return ((Fraction(0), middle), (middle, whole - middle))
    if chord.texture == "broken tenths":
        step = beat_quarter if beats == 3 else half_beat
        return ((Fraction(0), step), (step, step), (2 * step, whole - 2 * step))
    options = [beat_quarter]
    if beats >= 3:
        options = ([beat_quarter, beat_quarter + half_beat] if feel == "straight"
                   else [beat_quarter + half_beat, beat_quarter])
    if beats >= 4:
        options.append(2 * beat_quarter)
    options.sort(key=lambda o: (o in attacks, (Fraction(0), o) == previous))
    later = options[0]
    first = later if chord.texture in ("bass and chord", "bass, then drop 2") else whole
    return ((Fraction(0), first), *(((later, whole - later),) * (count - 1)))
