"""What a comping fill is called: the texture's name, true of the notes found.

A texture names what it looks for; over a triad or a slash chord, or with little room, the
hands may find less. Then the name says less, too.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.fills.devices.comp.search import Found
from fillwright.fills.devices.comp.strokes import Plan
from fillwright.fills.devices.comp.textures import Texture
from fillwright.fills.voicing.voicings import Voicing

__all__ = ["texture_name"]


def texture_name(texture: Texture, plan: Plan, found: Found) -> str:
    """The first part of the device name."""
    name = texture.name
    chords = [v for s, v in zip(plan.left, found.left, strict=True) if s.family == texture.left]
    right = list(found.right)
    if "rootless" in name:
        voicings = right if texture.mode == "over" else chords
        if any("1" in v.degrees for v in voicings):
            count = "three" if "three-note" in name else "four"
            name = name.replace("three-note rootless", "rootless").replace(
                "rootless voicings", f"{count}-note voicings")
    if "guide tones" in name:
        wanted = "guide tones and a colour" if "and a colour" in name else "guide tones"
        voicings = right or chords
        if any(v.kind != wanted for v in voicings):
            name = name.replace(wanted, _counted(voicings))
    if name in ("shells", "two-note shells") and any(
            not v.kind.startswith("shell") for v in found.left):
        name = "left-hand chords"
    if ("shell" in name and texture.mode in ("over", "together")
            and any(not v.kind.startswith("shell") for v in chords)):
        name = name.replace("over a shell", "over the bass").replace("shell and", "bass and")
    for word, keys in (("two notes", 2), ("three notes", 3), ("three-note voicings", 3)):
        if word in name and right and any(len(v.pitches) != keys for v in right):
            name = name.replace(word, "chord tones")
    return name


def _counted(voicings: Sequence[Voicing]) -> str:
    counts = {len(v.pitches) for v in voicings}
    if counts == {2}:
        return "two notes"
    return "three notes" if counts == {3} else "chord tones"
