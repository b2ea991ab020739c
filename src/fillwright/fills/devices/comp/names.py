"""What a comping fill is called: the texture's name, true of the notes found.

A texture names what it looks for; over a triad or a slash chord, or with little room, the
hands may find less. Then the name says less, too: of every part of it (see `Texture.said`)
the fullest that is true.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fillwright.fills.devices.comp.search import FoundHands
from fillwright.fills.devices.comp.strokes import StrokePlan
from fillwright.fills.devices.comp.texture import Texture, Truth
from fillwright.fills.player import Palette
from fillwright.fills.voicing.forms import colours
from fillwright.fills.voicing.voicings import Voicing
from fillwright.theory.chord import degree_number
from fillwright.theory.harmony import Harmony

__all__ = ["TRUTHS", "texture_name"]

_FIFTH = 5


@dataclass(frozen=True, slots=True)
class _Struck:
    """What a name speaks of: the chords of the right hand, or of the left where it is alone (in
    "stride" all chords it strikes); all that the left hand strikes; which of these are shells."""

    chords: Sequence[Voicing]
    left: Sequence[Voicing]
    shells: Collection[Voicing]


def _is_shell(harmony: Harmony, voicing: Voicing) -> bool:
    """The root with third and seventh (or sixth), or one of them, and no fifth: of a chord that has
    both (common practice). Root and third of a bare triad are none."""
    return (voicing.kind.startswith("shell") and colours(harmony, Palette.NAMED).shell is not None
            and not any(degree_number(d) == _FIFTH for d in voicing.degrees))


TRUTHS: MappingProxyType[Truth, Callable[[_Struck], bool]] = MappingProxyType({
    Truth.ANY: lambda struck: True,
    Truth.ROOTLESS: lambda struck: all("1" not in v.degrees for v in struck.chords),
    Truth.GUIDES: lambda struck: all(v.kind == "guide tones" for v in struck.chords),
    Truth.GUIDES_AND_COLOUR: lambda struck: all(
        v.kind == "guide tones and a colour" for v in struck.chords),
    Truth.TWO_KEYS: lambda struck: all(len(v.pitches) == 2 for v in struck.chords),
    Truth.THREE_KEYS: lambda struck: all(len(v.pitches) == 3 for v in struck.chords),
    Truth.SHELLS: lambda struck: all(v in struck.shells for v in struck.left),
    Truth.SHELL_BELOW: lambda struck: bool(struck.shells) and all(
        v in struck.shells for v in struck.left if len(v.pitches) > 1),
    Truth.CHORD_BELOW: lambda struck: any(len(v.pitches) > 2 for v in struck.left),
})


def texture_name(texture: Texture, plan: StrokePlan, found: FoundHands) -> str:
    """The first part of the device name."""
    below = [v for s, v in zip(plan.left, found.left, strict=True)
             if s.family == texture.left] or list(found.left)
    chords = below
    if texture.mode == "stride":
        chords = [v for v in found.left if len(set(v.degrees)) > 1]
    shells = [v for s, v in zip(plan.left, found.left, strict=True) if _is_shell(s.harmony, v)]
    struck = _Struck(found.right or chords, found.left, shells)
    return "".join(part if isinstance(part, str) else next(
        text for truth, text in part if TRUTHS[truth](struck))
        for part in texture.said or (texture.name,))
