"""The ways of comping: who strikes what, where, and what becomes of the held note.

A *texture* is a division of labour between the hands; the rhythm and the voicings are
searched for each. The table is the vocabulary of the trade (common practice). Every row is a
device: it has the test that hears it in the notes, and an example worked by hand in C.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.fills.devices.comp import grips, ideas
from fillwright.fills.devices.comp.inner import CLOSES, LINES, MovingVoice
from fillwright.fills.devices.comp.tenor import TENORS, moving_tenor
from fillwright.fills.devices.comp.texture import Part, Texture, Truth
from fillwright.fills.devices.device import Example
from fillwright.fills.player import ADVANCED, ALL_LEVELS, BEGINNER, INTERMEDIATE, Level, Player
from fillwright.fills.situation import Situation

__all__ = ["TEXTURES", "in_rotation", "texture_cost", "textures_of"]

_COUNTED = ((Truth.TWO_KEYS, "two notes"), (Truth.THREE_KEYS, "three notes"),
            (Truth.ANY, "chord tones"))
_GUIDES: Part = ((Truth.GUIDES, "guide tones"), *_COUNTED)
_COLOURED: Part = ((Truth.GUIDES_AND_COLOUR, "guide tones and a colour"), *_COUNTED)
_ROOTLESS: Part = ((Truth.ROOTLESS, "rootless voicings"), (Truth.ANY, "four-note voicings"))
_THREE_ROOTLESS: Part = ((Truth.ROOTLESS, "three-note rootless voicings"),
                         (Truth.ANY, "three-note voicings"))
_TWO: Part = ((Truth.TWO_KEYS, "two notes"), (Truth.ANY, "chord tones"))
_THREE: Part = ((Truth.THREE_KEYS, "three notes"), (Truth.ANY, "chord tones"))
_THREE_VOICED: Part = ((Truth.THREE_KEYS, "three-note voicings"), (Truth.ANY, "chord tones"))
_OVER: Part = ((Truth.SHELL_BELOW, "over a shell"), (Truth.CHORD_BELOW, "over a left-hand chord"),
               (Truth.ANY, "over the bass"))
_SHELL: Part = ((Truth.SHELL_BELOW, "shell"), (Truth.CHORD_BELOW, "left-hand chord"),
                (Truth.ANY, "bass"))

_BEGINNER = (BEGINNER,)
_MIDDLE = (INTERMEDIATE,)
_UP = (INTERMEDIATE, ADVANCED)
_TOP = (ADVANCED,)
_ALL = ALL_LEVELS
_EASY = (BEGINNER, INTERMEDIATE)
_SLOW = ("ballad",)
_MOVING = ("medium", "fast", "waltz", "fast waltz", "straight", "compound")

def _moving(line: MovingVoice, *, alone: bool) -> Texture:
    """A line of one voice: alone under the held note for beginners, below another key for the
    others. (Which finger plays it, the hand decides.)"""
    if alone:
        return Texture(f"moving lower voice {line.name} under the held note", _BEGINNER, "over",
                       "under line", "moving", (1, 1), "under", line=line, time="steps",
                       cost=(line.cost,) * 3,
                       hears=ideas.moving_voice(line), example=line.example)
    levels = _TOP if line.lowest == ADVANCED else _UP
    return Texture(f"moving voice {line.name} under the held note", levels, "over",
                   "under line", "moving", (1, 2), "under", line=line, time="steps",
                   cost=(line.cost,) * 3,
                   hears=ideas.moving_voice(line), example=line.example)


def _tenor(line: MovingVoice) -> Texture:
    """A line of the left hand's thumb over the root, under the note that the right hand holds."""
    return Texture(f"left-hand tenor {line.name} under the held note",
                   _ALL if line.lowest == BEGINNER else _UP, "tenor", "tenor", "moving", (1, 1),
                   "under", line=line, time="steps", cost=(2, 5, 7),
                   hears=moving_tenor(line), example=line.example)


def _close(name: str, line: MovingVoice) -> Texture:
    """Two voices that come home together under a tune's last note."""
    return Texture(f"{name} under the last note", _ALL if line.lowest == BEGINNER else _UP, "over",
                   "root", "moving", (2, 2), "under", line=line, time="steps", ends=True,
                   hears=ideas.close(line), example=line.example)


_SOME = (2, 99)

TEXTURES: tuple[Texture, ...] = (
    # The left hand alone, the right hand keeps the melody note.
    Texture("shells", _ALL, "left", "shell", waits=True, cost=(0, 4, 16),
            said=(((Truth.SHELLS, "shells"), (Truth.ANY, "left-hand chords")),),
            hears=grips.left_hand(grips.all_of(grips.shell, grips.keys(2, 4))), plain=True,
            example=Example("Dm7 2, G7 2",
                            "0 1 D3 F3 C4, 3/2 1/2 D3 F3 C4, 2 2 G2 B2 F3", held="A4")),
    Texture("two-note shells", _ALL, "left", "two-note shell", waits=True, cost=(1, 5, 18),
            said=(((Truth.SHELLS, "two-note shells"), (Truth.ANY, "left-hand chords")),),
            hears=grips.left_hand(grips.all_of(grips.shell, grips.keys(2, 2))), plain=True,
            example=Example("Dm7 2, G7 2", "0 1 D3 C4, 1 1 D3 F3, 2 2 G2 F3", held="A4")),
    Texture("root, then guide tones in the left hand", _ALL, "stride", "guides",
            cost=(1, 2, 7),
            said=("root, then ", _GUIDES, " in the left hand"),
            hears=grips.then_chords(grips.guides), plain=True,
            example=Example("Dm7 4", "0 1 D2, 1 1 F3 C4, 5/2 1/2 C4 F4", held="A4")),
    Texture("root, then rootless voicings in the left hand", _UP, "stride", "rootless",
            cost=(0, 0, 2),
            said=("root, then ", _ROOTLESS, " in the left hand"),
            hears=grips.then_chords(grips.all_of(grips.rootless, grips.keys(4, 4))), plain=True,
            example=Example("Dm7 4", "0 1 D2, 1 1 F3 A3 C4 E4, 5/2 1/2 F3 A3 C4 E4", held="A4")),
    Texture("root, then three-note rootless voicings in the left hand", _UP, "stride",
            "three-note rootless", cost=(0, 1, 4),
            said=("root, then ", _THREE_ROOTLESS, " in the left hand"),
            hears=grips.then_chords(grips.all_of(grips.rootless, grips.keys(3, 3))), plain=True,
            example=Example("Dm7 4", "0 1 D2, 1 1 F3 C4 E4, 5/2 1/2 F3 C4 E4", held="A4")),
    Texture("rootless voicings", _TOP, "left", "rootless", waits=True, cost=(0, 0, 3),
            said=(_ROOTLESS,),
            hears=grips.left_hand(grips.all_of(grips.rootless, grips.keys(3, 5))), plain=True,
            example=Example("Dm7 2, G7 2", "0 1 F3 A3 C4 E4, 5/2 1/2 F3 A3 B3 E4", held="A4")),
    Texture("stride under the held note", _UP, "time", "three-note rootless", time="stride",
            styles=("medium", "straight", "waltz"), cost=(0, 4, 4),
            hears=ideas.stride,
            example=Example("Cmaj7 4", "0 1 C2, 1 1 E3 A3 B3, 2 1 G2, 3 1 E3 G3 B3", held="G4")),
    Texture("broken chord under the held note", _BEGINNER, "break", "broken", hits=(2, 2),
            close=True, styles=_SLOW, rare=True, cost=(4, 0, 0),
            hears=ideas.broken,
            example=Example("Dm7 4", "0 1 D3, 1 1 F3, 2 2 C4", held="A4")),
    Texture("broken tenth under the held note", _MIDDLE, "break", "broken tenth", hits=(2, 2),
            close=True, styles=_SLOW, rare=True, cost=(0, 9, 9),
            hears=ideas.broken_tenth,
            example=Example("Dm7 4", "0 1 D3, 1 1/2 C4, 3/2 5/2 F4", held="A4")),
    Texture("bass line under the held note", _UP, "bass", "walk", "two", (2, 2),
            "under", "finger", time="walk", cost=(0, 4, 4),
            hears=ideas.bass(tenths=False),
            example=Example("Dm7 4",
                            "0 1 D3, 1 1 E3, 2 1 F3, 3 1 F#3", "0 4 C4 F4", "G7 B4", "A4")),
    Texture("bass and tenths under the held note", _UP, "bass", "walk tenth", "two", (2, 2),
            "under", "finger", time="walk", cost=(0, 3, 2),
            hears=ideas.bass(tenths=True),
            example=Example("Cmaj7 4", "0 2 C3 E4, 2 2 E3", "0 4 B3 E4", "Fmaj7 A4", "G4")),
    # One voice moves under the held note.
    *(_moving(line, alone=True) for line in LINES if line.lowest == BEGINNER),
    *(_moving(line, alone=False) for line in LINES),
    *(_tenor(line) for line in TENORS),
    # The right hand plays under the note it keeps.
    Texture("shell and one note under the held note", _BEGINNER, "over", "two-note shell",
            "one", (1, 1), "under", "finger", waits=True, cost=(2, 0, 0),
            said=(_SHELL, " and one note under the held note"),
            hears=grips.both(grips.keys(1, 1), grips.shell, grips.under_held), plain=True,
            example=Example("Dm7 4", "0 4 D3 C4", "0 2 F4, 2 2 E4", held="A4")),
    Texture("guide tones under the held note", _ALL, "over", "root", "guides", (2, 2),
            "under", "finger", cost=(2, 3, 6),
            said=(_GUIDES, " under the held note"),
            hears=grips.both(grips.guides, grips.rooted, grips.under_held), plain=True,
            example=Example("Dm7 4", "0 4 D3", "0 3/2 C4 F4, 3/2 5/2 C4 F4", held="A4")),
    Texture("two notes under the held note", _UP, "over", "two-note shell", "two", (2, 2),
            "under", "finger", waits=True, cost=(0, 1, 4),
            said=(_TWO, " under the held note"),
            hears=grips.both(grips.keys(2, 2), grips.rooted, grips.under_held), plain=True,
            example=Example("Dm7 4", "0 4 D3 C4", "0 3/2 E4 F4, 3/2 5/2 C4 F4", held="A4")),
    Texture("three notes under the held note", _TOP, "over", "open", "three", (3, 3), "under",
            "finger", waits=True, cost=(0, 0, 1),
            said=(_THREE, " under the held note"),
            hears=grips.both(grips.keys(3, 3), grips.rooted, grips.under_held), plain=True,
            example=Example("Dm7 4", "0 4 D3 A3", "0 3/2 C4 E4 F4, 3/2 5/2 C4 E4 F4", held="A4")),
    Texture("four-note voicings with the melody on top", _UP, "over", "root", "melody on top",
            (3, 3), "under", "finger", waits=True, cost=(0, 1, 0),
            hears=ideas.on_top,
            example=Example("Dm7 4", "0 4 D3", "1 1 C4 E4 F4, 5/2 3/2 C4 E4 F4", held="A4")),
    Texture("fourths under the held note", _UP, "over", "two-note shell", "fourths", (3, 3),
            "under", "finger", rare=True, cost=(0, 1, 0),
            hears=ideas.stacked(under=True),
            example=Example("Dm7 4", "0 4 D3 C4", "1 1 D4 G4 C5, 5/2 3/2 D4 G4 C5", held="F5")),
    Texture("inner line under the held note", _UP, "over", "open", "two", (2, 2), "under",
            "finger", "inner", hits=_SOME, rare=True, cost=(0, 1, 1),
            hears=ideas.inner,
            example=Example("Dm7 4", "0 4 D3 A3", "0 2 C4, 0 4 F4, 2 2 B3", held="A4")),
    Texture("two notes slid into under the held note", _UP, "over", "root", "two",
            (2, 2), "under", "finger", "slide", rare=True,
            said=(_TWO, " slid into under the held note"),
            hears=ideas.slide,
            example=Example("Cmaj7 4", "0 4 C3", "3/2 1/2 A#3 D#4, 2 2 B3 E4", held="G4")),
    Texture("thirds or sixths in step under the held note", _UP, "over", "two-note shell", "two",
            (2, 2), "under", "finger", "thirds", hits=(2, 2), rare=True, cost=(0, 4, 4),
            hears=ideas.thirds,
            example=Example("Cmaj7 4", "0 4 C3 B3", "0 1 E4 G4, 1 1 F4 A4, 2 2 G4 B4", held="D5")),
    Texture("top line into the landing, under the held note", _ALL, "over", "two-note shell",
            "two", (1, 2), "under", "finger", "leading", hits=(2, 4), rare=True, cost=(1, 0, 0),
            hears=ideas.leading,
            example=Example("G7 4", "0 4 G2 F3", "0 2 B3 F4, 2 2 B3 E4", "Cmaj7 D4", "G4")),
    Texture("cell that comes back thicker, under the held note", _UP, "over", "root", "two",
            (2, 2), "under", "finger", "thicken", hits=(4, 4), cost=(0, 0, 0),
            hears=ideas.thicker,
            example=Example("Cmaj7 6", "0 6 C3",
                            "1 3/2 A3 E4, 5/2 1/2 B3 E4, 7/2 3/2 B3 D4 E4, 5 1 A3 D4 E4",
                            held="G4")),
    # Where nothing follows.
    *(_close(name, line) for name, line in CLOSES),
    Texture("last chord, then a low root", _BEGINNER, "close", "two-note shell", "one", (1, 1),
            "under", hits=(1, 2), ends=True,
            hears=ideas.low_end,
            example=Example("Cmaj7 4", "0 2 C3 B3, 2 2 C2", "1 1 E4", held="G4")),
    Texture("last chords, then a low root", _UP, "close", "two-note shell", "two", (2, 2),
            "under", hits=(1, 3), ends=True,
            hears=ideas.low_end,
            example=Example("C6 4", "0 2 C3 G3, 2 2 C2", "0 1 A3 E4, 1 1 A3 D4", held="G4")),
    # The right hand leaves the melody note when it has been heard.
    Texture("guide tones over the root", _EASY, "over", "root", "guides", (2, 2), "middle",
            "released", cost=(1, 3, 0),
            said=(_GUIDES, " over the root"),
            hears=grips.both(grips.guides), plain=True,
            example=Example("Dm7 4", "0 4 D3", "2 1 F4 C5, 7/2 1/2 F4 C5", held="A4")),
    Texture("two notes in the top register over a shell", _BEGINNER, "over",
            "two-note shell", "two", (2, 2), "top", "released", hits=_SOME, cost=(3, 0, 0),
            said=(_TWO, " in the top register ", _OVER),
            hears=grips.both(grips.keys(2, 2), grips.rooted, grips.top), plain=True,
            example=Example("Dm7 4", "0 4 D3 C4", "2 1 C5 F5, 3 1 E5 A5", held="A4")),
    Texture("shell and guide tones, hands together", _BEGINNER, "together", "two-note shell",
            "two", (1, 2), "middle", "released", cost=(2, 0, 0),
            said=(_SHELL, " and ", _GUIDES, ", hands together"),
            hears=grips.both(grips.keys(1, 2), grips.rooted, together=True), plain=True,
            example=Example("Dm7 4",
                            "1 1 D3 C4, 5/2 1/2 D3 C4", "1 1 F4 C5, 5/2 1/2 F4 C5", held="A4")),
    Texture("three-note voicings over the root", _MIDDLE, "over", "root", "three", (3, 3),
            "middle", "released",
            said=(_THREE_VOICED, " over the root"),
            hears=grips.both(grips.keys(3, 3)), plain=True,
            example=Example("Dm7 4", "0 4 D3", "2 1 F4 A4 C5, 7/2 1/2 E4 A4 C5", held="A4")),
    Texture("both hands low, guide tones and a colour", _UP, "over", "root", "three", (3, 3),
            "low", "released", cost=(0, 2, 2),
            said=("both hands low, ", _COLOURED),
            hears=grips.both(grips.keys(3, 3), grips.rooted, grips.low), plain=True,
            example=Example("Dm7 4", "0 4 D2", "2 1 C3 E3 F3, 7/2 1/2 C3 E3 F3", held="A4")),
    Texture("rootless voicings over the root", _UP, "over", "root", "four", (4, 4), "middle",
            "released", cost=(0, 0, 1),
            said=(_ROOTLESS, " over the root"),
            hears=grips.both(grips.all_of(grips.rootless, grips.keys(4, 4))), plain=True,
            example=Example("Dm7 4", "0 4 D3", "2 1 F4 A4 C5 E5, 7/2 1/2 F4 A4 C5 E5", held="A4")),
    Texture("spread voicings", _UP, "over", "open", "three", (3, 3), "middle", "released",
            cost=(0, 1, 0),
            hears=grips.both(grips.keys(3, 3), grips.wide), plain=True,
            example=Example("Dm7 4", "0 4 D2 A2", "2 1 F3 C4 E4, 7/2 1/2 F3 C4 E4", held="A4")),
    Texture("spread voicing with inner motion", _UP, "over", "open", "three", (3, 3),
            "middle", "released", "inner", hits=_SOME, rare=True, cost=(0, 1, 0),
            hears=ideas.inner,
            example=Example("Dm7 4", "0 4 D2 A2", "1 3 F3 E4, 1 1 C4, 2 2 B3", held="A4")),
    Texture("top register, octave with inner notes", _UP, "over", "shell", "octave", (3, 4),
            "top", "released", hits=_SOME, rare=True, cost=(0, 2, 1),
            shouts=True,
            hears=ideas.octave,
            example=Example("Dm7 4",
                            "0 4 D3 F3 C4", "2 1 A4 C5 F5 A5, 3 1 C5 F5 A5 C6", held="A4")),
    Texture("top line into the landing", _ALL, "over", "two-note shell", "two", (1, 3), "middle",
            "released", "leading", hits=(2, 4), rare=True, cost=(1, 0, 0),
            hears=ideas.leading,
            example=Example("G7 4", "0 4 G2 F3", "2 1 B4 A5, 3 1 B4 G5", "Cmaj7 F5", "G4")),
    Texture("low to high", _UP, "over", "two-note shell", "three", (3, 3), "rising",
            "released", hits=_SOME, rare=True, cost=(0, 2, 2),
            hears=ideas.register(1),
            example=Example("Dm7 4", "0 4 D3 C4", "1 1 F4 A4 C5, 3 1 F5 A5 C6", held="A4")),
    Texture("high to low", _UP, "over", "two-note shell", "three", (3, 3), "falling",
            "released", hits=_SOME, rare=True, cost=(0, 3, 3),
            hears=ideas.register(-1),
            example=Example("Dm7 4", "0 4 D3 C4", "1 1 F5 A5 C6, 3 1 F4 A4 C5", held="A4")),
    Texture("fourths over the root", _UP, "over", "open", "fourths", (3, 3), "middle",
            "released", rare=True, cost=(0, 3, 0),
            hears=ideas.stacked(under=False),
            example=Example("Dm7 4", "0 4 D3 A3", "2 1 E4 A4 D5, 7/2 1/2 E4 A4 D5", held="A4")),
    Texture("chord slid into from a half step", _UP, "over", "root", "three", (3, 3), "middle",
            "released", "slide", rare=True, cost=(0, 1, 0),
            hears=ideas.slide,
            example=Example("Cmaj7 4", "0 4 C3", "3/2 1/2 A#3 D#4 G#4, 2 2 B3 E4 A4", held="G4")),
    Texture("passing diminished between inversions", _UP, "over", "root", "whole", (4, 4),
            "middle", "released", "diminished", hits=(2, 3), rare=True, cost=(0, 4, 4),
            hears=ideas.passing_diminished,
            example=Example("C6 4", "0 4 C3",
                            "1 1 A3 C4 E4 G4, 2 1 B3 D4 F4 Ab4, 3 1 C4 E4 G4 A4", held="G5")),
    Texture("the melody's last notes in harmony", _UP, "over", "open", "three", (3, 3), "echo",
            "released", time="echo",
            hears=ideas.echo(voices=3),
            example=Example("Dm7 4", "0 4 D3 A3",
                            "2 1/2 C4 E4 F4, 5/2 3/2 C4 F4 A4", held="A4", melody="-1/2 F4, 0 A4")),
    Texture("the melody's last notes in two voices", _EASY, "over", "two-note shell", "two",
            (2, 2), "echo", "released", time="echo", cost=(1, 1, 0),
            hears=ideas.echo(voices=2),
            example=Example("Dm7 4", "0 4 D3 A3",
                            "2 1/2 C4 F4, 5/2 3/2 F4 A4", held="A4", melody="-1/2 F4, 0 A4")),
    Texture("planed fourths over a shell", _TOP, "over", "shell", "fourths", (3, 3), "middle",
            "released", "planed", hits=_SOME, rare=True,
            said=("planed fourths ", _OVER),
            hears=ideas.planed,
            example=Example("Dm7 4", "0 4 D3 F3 C4", "1 1 D4 G4 C5, 2 2 E4 A4 D5", held="A4")),
    Texture("upper structures over a shell", _TOP, "over", "shell", "upper", (3, 3), "middle",
            "released", rare=True,
            said=("upper structures ", _OVER),
            hears=ideas.upper,
            example=Example("Dm7 4", "0 4 D3 F3 C4", "2 1 E4 G4 C5, 7/2 1/2 E4 G4 C5", held="A4")),
    Texture("clusters over a shell", _TOP, "over", "two-note shell", "cluster", (3, 3),
            "middle", "released", rare=True, cost=(0, 0, 5),
            said=("clusters ", _OVER),
            hears=grips.both(grips.cluster), plain=True,
            example=Example("Dm7 4", "0 4 D3 C4", "2 1 E4 F4 A4, 7/2 1/2 E4 F4 A4", held="A4")),
    Texture("the hands answer each other", _UP, "answer", "two-note shell", "three", (3, 3),
            "middle", "released", hits=_SOME, styles=_MOVING, rare=True, cost=(0, 2, 1),
            hears=ideas.answers,
            example=Example("Dm7 4", "0 1 D3 C4, 5/2 1/2 D3 C4",
                            "3/2 1/2 F4 A4 C5, 7/2 1/2 F4 A4 C5", held="A4")),
    Texture("drop 2 through the inversions", _UP, "both", "root", "drop 2", (4, 4), "middle",
            "released", "inversions", hits=_SOME, rare=True, cost=(0, 3, 0),
            shouts=True,
            hears=ideas.drop_two,
            example=Example("Dm7 4",
                            "0 2 D3, 2 1 A3 D4, 3 1 C4 F4", "2 1 F4 C5, 3 1 A4 D5", held="E5")),
    Texture("locked hands", _TOP, "both", "root", "locked", (5, 5), "middle", "released",
            "locked", hits=(3, 6), styles=_MOVING, rare=True, cost=(0, 0, 0),
            shouts=True,
            hears=ideas.locked(),
            example=Example("C6 4", "0 1 C3, 1 1 G3, 2 1 A3, 3 1 G3",
                            "1 1 A3 C4 E4 G4, 2 1 C4 E4 G4 A4, 3 1 A3 C4 E4 G4", held="E5")),
    Texture("the melody's last notes in locked hands", _TOP, "both", "root", "locked", (5, 5),
            "echo", "released", "locked", time="echo", styles=_MOVING,
            shouts=True,
            hears=ideas.locked(ideas.echo(voices=4)),
            example=Example("Dm7 4", "0 2 D3, 2 1/2 F3, 5/2 3/2 A3",
                            "2 1/2 A3 C4 E4 F4, 5/2 3/2 C4 E4 F4 A4", held="A4",
                            melody="-1/2 F4, 0 A4")),
    # A bass that stays while the chords go.
    Texture("chords under the held note over a pedal point", _TOP, "pedal", "pedal",
            "three", (3, 3), "under", "finger", hits=_SOME, cost=(0, 0, 0),
            hears=ideas.pedal,
            example=Example("Dm7 2, G7 2", "0 2 G2, 2 2 G2", "1 1 C4 E4 F4, 5/2 3/2 B3 E4 F4",
                            "Cmaj7 E5", "A4")),
    Texture("chords over a pedal point", _TOP, "pedal", "pedal", "three", (3, 3), "middle",
            "released", hits=_SOME, cost=(0, 0, 0),
            hears=ideas.pedal,
            example=Example("Dm7 2, G7 2", "0 2 G2, 2 2 G2", "1 1 C4 E4 F4, 5/2 3/2 B3 E4 F4",
                            "Cmaj7 E5")),
    # Slow tempo: the pedal holds the melody note, the left hand may roll.
    Texture("chord above the held note, kept by the pedal", _UP, "over", "open", "three",
            (3, 3), "above", "pedal", styles=_SLOW, rare=True, cost=(0, 1, 0),
            hears=grips.both(grips.keys(3, 3), grips.rooted, grips.above_held), plain=True,
            example=Example("Dm7 4", "0 4 D2 A2", "2 2 C5 E5 F5", held="A4")),
    Texture("bell note over a spread chord", _UP, "bell", "broken tenth", "bell", (1, 1), "bell",
            "pedal", hits=(1, 2), styles=_SLOW, rare=True, ends=True, cost=(0, 6, 6),
            hears=ideas.bell,
            example=Example("Cmaj7 4", "0 4 C3 B3 E4", "2 2 D5", held="G4")),
    Texture("chord that rises through both hands under the held note", _UP, "harp", "broken tenth",
            "two", (2, 2), "under", "finger", time="harp", styles=_SLOW, rare=True,
            ends=True, cost=(0, 5, 4),
            hears=ideas.harp,
            example=Example("Cmaj7 4", "0 4 C2, 1/2 7/2 G2, 1 3 E3", "3/2 5/2 B3, 2 2 D4",
                            held="G4")),
    Texture("chord that rises through both hands", _UP, "harp", "broken", "two", (2, 2), "above",
            "pedal", time="harp", styles=_SLOW, rare=True, ends=True, cost=(0, 5, 4),
            hears=ideas.harp,
            example=Example("Cmaj7 4", "0 4 C3, 1/2 7/2 E3, 1 3 B3",
                            "3/2 5/2 G4, 2 2 D5", held="E4")),
    Texture("tenths in the left hand", _UP, "over", "tenth", "three", (3, 3), "under",
            "finger", styles=_SLOW, tenths=True, cost=(0, 1, 0),
            hears=ideas.tenths,
            example=Example("Dm7 4", "0 4 D3 F4", "2 2 C4 E4", held="A4")),
)


def texture_cost(texture: Texture, level: Level, style: str) -> int:
    """What a texture costs at a level; in a ballad repeated left-hand chords cost more."""
    plain = style == "ballad" and texture.mode == "left" and level.comp.strict
    return texture.cost[level.rank] + (4 if plain else 0)


def textures_of(player: Player, style: str, holds: bool, situation: Situation | None = None
                ) -> tuple[Texture, ...]:
    """The textures a player is offered in a style of rhythm (see `Texture.suits`)."""
    return tuple(t for t in TEXTURES if t.suits(player, style, holds, situation))


def in_rotation(textures: Sequence[Texture], rotation: int) -> str:
    """The name of the rare texture whose turn it is, "" where there is none."""
    rare = [t.name for t in textures if t.rare]
    return rare[rotation % len(rare)] if rare else ""
