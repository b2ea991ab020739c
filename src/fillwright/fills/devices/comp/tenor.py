"""A tenor that moves in the left hand: the thumb goes by step over a root that the little finger
keeps, while the right hand holds the melody, and under it what else tells the chord (common
practice). The lines are like those of `inner`, which the right hand sings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fillwright.fills.devices.comp.inner import (
    MovingVoice,
    line_fits,
    line_steps,
    there_and_back,
)
from fillwright.fills.devices.comp.passages import Sentence, joined, keys_down, sung_steps
from fillwright.fills.devices.comp.setting import CompSetting
from fillwright.fills.devices.comp.states import NO_HELD, WEIGHTS, States, rubs
from fillwright.fills.devices.comp.strokes import PlannedStroke
from fillwright.fills.devices.device import Example, FillPassage
from fillwright.fills.player import BEGINNER, INTERMEDIATE, Player
from fillwright.fills.voicing.forms import VoicingForm
from fillwright.fills.voicing.voicings import form_voicings, holds_guides
from fillwright.lattice import FORBIDDEN, Costs
from fillwright.memory import VOICINGS
from fillwright.rules.sound import MUD
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["TENORS", "moving_tenor", "tenor_goes_on", "tenor_hands", "tenor_states", "tenor_tones"]

KIND = "moving tenor"

_ROOM = (41, 52)
"""Where the root lies at ease under a tenor: F2 to E3 (common practice)."""

_LOWEST, _TOP = 36, 69

TENORS: tuple[MovingVoice, ...] = (
    MovingVoice(("5", "6", "b7"), ("dominant",), ("5", "b7"), BEGINNER,
                example=Example("G7 3", "0 3 G2, 0 1 D3, 1 1 E3, 2 1 F3", "0 3 B3", held="G4")),
    MovingVoice(("7", "6"), ("major",), ("7",), BEGINNER,
                example=Example("Cmaj7 4", "0 4 C3, 0 2 B3, 2 2 A3", "0 4 E4", held="G4")),
    MovingVoice(("5", "6"), ("major",), ("5",), BEGINNER,
                example=Example("C6 4", "0 4 C3, 0 2 G3, 2 2 A3", "0 4 E4", held="C5")),
    MovingVoice(("5", "#5", "6"), ("major",), ("5",), INTERMEDIATE,
                example=Example("C6 3", "0 3 C3, 0 1 G3, 1 1 G#3, 2 1 A3", "0 3 E4", held="C5")),
    MovingVoice(("b7", "6"), ("minor",), ("b7", "5"), INTERMEDIATE, once=True,
                into=("dominant", "suspended"),
                example=Example("Dm7 4", "0 4 D3, 0 2 C4, 2 2 B3", "0 4 F4", "G7 B4", "A4")),
    MovingVoice(("5", "b6", "6"), ("minor",), ("5",), INTERMEDIATE,
                example=Example("Cm 3", "0 3 C3, 0 1 G3, 1 1 Ab3, 2 1 A3", "0 3 Eb4", held="C5",
                                key="Cm")),
)


def tenor_hands(setting: CompSetting, line: MovingVoice, hits: Sequence[PlannedStroke],
                guides: Sequence[PlannedStroke]) -> tuple[list[PlannedStroke], list[PlannedStroke]]:
    """The strokes of both hands; ([], []) where the tenor cannot move.

    hits     the steps of the tenor, and where a chord begins that does not take it
    guides   what the right hand would lay under the held note, once a chord: where root, tenor
             and melody tell the chord, it keeps the melody alone
    """
    stepped = line_steps(line, hits, setting.task.landing_harmony, setting.beat)
    if stepped is None:
        return [], []
    left = [replace(s, family="tenor" if s.degree else "two-note shell") for s in stepped]
    right = [g for g in guides if not _is_told(setting, line, left, g)]
    return left, right


def _is_told(setting: CompSetting, line: MovingVoice, left: Sequence[PlannedStroke],
             guide: PlannedStroke) -> bool:
    """Do the left hand and the held note tell the chord of a stroke, all the while it sounds?"""
    held = setting.task.held
    if held is None or setting.held_end < guide.end_quarter or not any(
            s.degree and s.harmony == guide.harmony for s in left):
        return False
    sung = guide.harmony.degree_of(held.pitch.pitch_class)
    return sung is not None and holds_guides(
        guide.harmony, (*tenor_tones(line, guide.harmony), sung))


def tenor_tones(line: MovingVoice, harmony: Harmony) -> tuple[str, ...]:
    """What the left hand tells of a chord while its tenor moves: the root, and those of the chord's
    own tones that the line goes through."""
    return "1", *(d for d in line.degrees if d in harmony.tones)


@VOICINGS.keep
def tenor_states(harmony: Harmony, degree: str, player: Player, held: int) -> States | None:
    """The root, and the tenor on a degree above it, or None."""
    top = _TOP if held == NO_HELD else min(_TOP, held - 3)
    pool = [v for v in form_voicings(harmony, VoicingForm(KIND, ("1", degree), 2),
                                     player.hand.name, low=_LOWEST, top=top)
            if held == NO_HELD or not rubs(v.midis, held, harmony)]
    costs = [{"left register": WEIGHTS["left register"] * (
        max(_ROOM[0] - v.midis[0], 0) + max(v.midis[0] - _ROOM[1], 0)),
        "low intervals": WEIGHTS["low intervals"] * MUD.cost(v.midis)} for v in pool]
    return States(pool, costs) if pool else None


def tenor_goes_on(a: States, b: States) -> Costs:
    """From one stroke to the next over one chord: the root stays, the tenor goes by step."""
    stays = a.keys[:, None, -1] == b.keys[None, :, -1]
    step = np.abs(a.keys[:, None, 0] - b.keys[None, :, 0])
    return {"tenor": np.where(stays & (step > 0) & (step <= 2), 0, FORBIDDEN)}


def moving_tenor(line: MovingVoice) -> Sentence:
    """Over one chord the upper key of the left hand goes through the line, the lower one stays; the
    right hand strikes no more than once for each chord."""

    def hears(passage: FillPassage) -> str:
        if len(passage.struck("right")) > len(passage.chords):
            return ""
        after = [*(c.harmony for c in passage.chords[1:]), passage.goal]
        for chord, following in zip(passage.chords, after, strict=True):
            if not line_fits(line, chord.harmony, following):
                continue
            root = chord.harmony.root.pitch_class
            onsets = [o for o, _ in passage.struck("left")
                      if chord.onset_quarter <= o < chord.end_quarter]
            rows = [keys_down(passage, onset, "left") for onset in onsets]
            turning = there_and_back(line)
            wanted = [turning[place % len(turning)] for place in range(len(rows))]
            if (len(rows) >= len(line.degrees) and all(len(row) == 2 for row in rows)
                    and {row[0] % 12 for row in rows} == {root}
                    and len({row[0] for row in rows}) == 1
                    and [(row[-1] - root) % 12 for row in rows] == [
                        degree_pitch_class(d) for d in wanted]):
                steps = sung_steps(passage, "left", [(o, row[-1]) for o, row in zip(
                    onsets, rows, strict=True)], wanted)
                return (f"The tenor moves in the left hand over {chord.harmony.symbol.pretty}: "
                        f"{joined(steps)}; {chord.harmony.root.pretty} stays below it.")
        return ""

    return hears
