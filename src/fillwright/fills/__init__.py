"""Ideas for a gap: comping, passing chords, lines.

`propose.propose` asks the three families; each describes states and costs to the lattice
and hands its drafts to `build.finish`, the only place where a draft becomes a `Fill`: it
is fingered, audited, counted and named there, or refused.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwright.lazy import on_first_use

if TYPE_CHECKING:
    from fillwright.fills.counts import count_marks, counts_text
    from fillwright.fills.devices.device import Device, Example, FillPassage, passage_of
    from fillwright.fills.devices.registry import (
        DEVICES,
        LINE_DEVICES,
        device_names,
        devices_in,
        is_called,
        is_device,
        known_devices,
    )
    from fillwright.fills.draft import Draft, DraftChord, DraftNote
    from fillwright.fills.finish import Refusal
    from fillwright.fills.hearing import hear, situation_of
    from fillwright.fills.landing import early_shift, late_shift, shifted_melody
    from fillwright.fills.model import FAMILIES, EmptyFamily, Fill, HeldEnd, Proposal, Shift
    from fillwright.fills.player import (
        ADVANCED,
        ALL_LEVELS,
        BEGINNER,
        INTERMEDIATE,
        LARGE,
        MEDIUM,
        RHYTHM_STYLES,
        Level,
        Player,
        hand_of,
        level_of,
        player_of,
    )
    from fillwright.fills.propose import fills_in_turn, fills_of, no_room, why_none
    from fillwright.fills.quickest import quickest_tempo
    from fillwright.fills.relation import Cell, Relation, cell_of, develops, relation_of
    from fillwright.fills.situation import LEAST_SECONDS, Situation, Task, task_of
    from fillwright.fills.tempo import Tempo, pace_of

__all__ = ["ADVANCED", "ALL_LEVELS", "BEGINNER", "DEVICES", "FAMILIES", "INTERMEDIATE", "LARGE",
           "LEAST_SECONDS", "LINE_DEVICES", "MEDIUM", "RHYTHM_STYLES", "Cell", "Device", "Draft",
           "DraftChord", "DraftNote", "EmptyFamily", "Example", "Fill", "FillPassage", "HeldEnd",
           "Level", "Player", "Proposal", "Refusal", "Relation", "Shift", "Situation", "Task",
           "Tempo", "cell_of", "count_marks", "counts_text", "develops", "device_names",
           "devices_in", "early_shift", "fills_in_turn", "fills_of", "hand_of", "hear", "is_called",
           "is_device", "known_devices", "late_shift", "level_of", "no_room", "pace_of",
           "passage_of", "player_of", "quickest_tempo", "relation_of", "shifted_melody",
           "situation_of", "task_of", "why_none"]

__getattr__ = on_first_use(__name__, {
    "fills.counts": ("count_marks", "counts_text"),
    "fills.devices.device": ("Device", "Example", "FillPassage", "passage_of"),
    "fills.devices.registry": ("DEVICES", "LINE_DEVICES", "device_names", "devices_in",
                               "is_called", "is_device", "known_devices"),
    "fills.draft": ("Draft", "DraftChord", "DraftNote"),
    "fills.finish": ("Refusal",),
    "fills.hearing": ("hear", "situation_of"),
    "fills.landing": ("early_shift", "late_shift", "shifted_melody"),
    "fills.model": ("FAMILIES", "EmptyFamily", "Fill", "HeldEnd", "Proposal", "Shift"),
    "fills.player": ("ADVANCED", "ALL_LEVELS", "BEGINNER", "INTERMEDIATE", "LARGE", "MEDIUM",
                     "RHYTHM_STYLES", "Level", "Player", "hand_of", "level_of", "player_of"),
    "fills.propose": ("fills_in_turn", "fills_of", "no_room", "why_none"),
    "fills.quickest": ("quickest_tempo",),
    "fills.relation": ("Cell", "Relation", "cell_of", "develops", "relation_of"),
    "fills.situation": ("LEAST_SECONDS", "Situation", "Task", "task_of"),
    "fills.tempo": ("Tempo", "pace_of"),
})
