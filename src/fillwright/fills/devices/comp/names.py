"""What a comping fill is called: the texture's name, true of the notes found.

A texture names what it looks for; over a triad or a slash chord, or with little room, the
hands may find less. Then the name says less, too: of every part of it (see `Texture.said`)
the fullest that is true.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fillwright.fills.devices.comp.search import FoundHands
from fillwright.fills.devices.comp.strokes import StrokePlan
from fillwright.fills.devices.comp.texture import Texture, Truth
from fillwright.fills.voicing.voicings import Voicing

__all__ = ["TRUTHS", "texture_name"]


@dataclass(frozen=True, slots=True)
class _Struck:
    """What a name speaks of: the chords of the right hand, or of the left where it is alone (in
    "stride" all chords it strikes); those of the texture's own family in the left hand; all that
    the left hand strikes."""

    chords: Sequence[Voicing]
    below: Sequence[Voicing]
    left: Sequence[Voicing]


def _are_shells(voicings: Sequence[Voicing]) -> bool:
    return all(v.kind.startswith("shell") for v in voicings)


TRUTHS: MappingProxyType[Truth, Callable[[_Struck], bool]] = MappingProxyType({
    Truth.ANY: lambda struck: True,
    Truth.ROOTLESS: lambda struck: all("1" not in v.degrees for v in struck.chords),
    Truth.GUIDES: lambda struck: all(v.kind == "guide tones" for v in struck.chords),
    Truth.GUIDES_AND_COLOUR: lambda struck: all(
        v.kind == "guide tones and a colour" for v in struck.chords),
    Truth.TWO_KEYS: lambda struck: all(len(v.pitches) == 2 for v in struck.chords),
    Truth.THREE_KEYS: lambda struck: all(len(v.pitches) == 3 for v in struck.chords),
    Truth.SHELLS: lambda struck: _are_shells(struck.left),
    Truth.SHELL_BELOW: lambda struck: _are_shells(struck.below),
})


def texture_name(texture: Texture, plan: StrokePlan, found: FoundHands) -> str:
    """The first part of the device name."""
    below = [v for s, v in zip(plan.left, found.left, strict=True)
             if s.family == texture.left] or list(found.left)
    chords = below
    if texture.mode == "stride":
        chords = [v for v in found.left if len(set(v.degrees)) > 1]
    struck = _Struck(found.right or chords, below, found.left)
    return "".join(part if isinstance(part, str) else next(
        text for truth, text in part if TRUTHS[truth](struck))
        for part in texture.said or (texture.name,))
