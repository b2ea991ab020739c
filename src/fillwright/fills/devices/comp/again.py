"""Rhythms and textures that are asked for in a chorus: what takes up an idea played where the music
came before, and the shout at its high point."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.setting import CompSetting
from fillwright.fills.devices.comp.table import TEXTURES
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.devices.comp.times import rhythms_for
from fillwright.fills.relation import LEAST_STRIKES, SHIFTS_QUARTER, Stated
from fillwright.fills.rhythm.grid import Rhythm, style_of
from fillwright.fills.situation import Task

__all__ = ["shouts_at", "sketched_again", "sketched_shouts"]

WIDE = 6
"""So many times more rhythms are looked at than usual: the wanted one need not be a good one."""

OWN = 16
"""How much dearer the stated texture may be and still be tried before others (design choice)."""

LEAST_SHOUTED = 3
"""Fewer strokes are no shout."""

PER_STROKE = 6
"""What each stroke of a shout may cost more than a rhythm without it (design choice)."""

_EACH = 2
"""Rhythms of one way for a texture, at most."""


def sketched_again(setting: CompSetting, textures: Sequence[Texture], stated: Stated
                   ) -> Iterator[tuple[Texture, Rhythm, int]]:
    """Textures with rhythms, and how much each is favoured: the stated rhythm in every texture,
    and in the stated one also displaced, or broken off."""
    wanted = stated.cell.onsets
    displaced = {tuple(onset + by for onset in wanted) for by in SHIFTS_QUARTER}
    for texture in textures:
        own = texture.name == stated.voicing
        same: list[Rhythm] = []
        moved: list[Rhythm] = []
        for rhythm in rhythms_for(setting, texture, WIDE):
            struck = _leading(setting, texture, rhythm)
            if struck == wanted or (own and set(wanted) < set(struck)):
                same.append(rhythm)
            elif own and (struck in displaced or (
                    len(struck) >= LEAST_STRIKES and struck == wanted[:len(struck)])):
                moved.append(rhythm)
        for rhythm in (*same[:_EACH], *moved[:_EACH]):
            yield texture, rhythm, OWN if own else 0


def _leading(setting: CompSetting, texture: Texture, rhythm: Rhythm) -> tuple[Fraction, ...]:
    """Where the leading hand strikes, as far as it is known before keys are found: the right one
    where it has two strokes, else both."""
    if texture.right and len(rhythm.hits) > 1:
        return rhythm.onsets
    opening = max(setting.opening, rhythm.opening_quarter)
    return tuple(sorted({opening, *setting.changes, *rhythm.onsets}))


def shouts_at(task: Task) -> list[Texture]:
    """The textures of a shout here, whatever level they are taught at: what is too hard is refused
    like every fill."""
    found = [replace(texture, levels=(task.player.level,)) for texture in TEXTURES
             if texture.shouts and texture.name not in task.without]
    return [texture for texture in found if texture.suits(
        task.player, style_of(task), task.held is not None, task)]


def sketched_shouts(setting: CompSetting, textures: Sequence[Texture]
                    ) -> Iterator[tuple[Texture, Rhythm, int]]:
    """Textures with rhythms, and how much each is favoured: by its strokes."""
    for texture in textures:
        rhythms = [r for r in rhythms_for(setting, texture, WIDE) if len(r.hits) >= LEAST_SHOUTED]
        for rhythm in sorted(rhythms, key=lambda r: r.cost - PER_STROKE * len(r.hits))[:2 * _EACH]:
            yield texture, rhythm, PER_STROKE * len(rhythm.hits)
