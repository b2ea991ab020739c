"""All devices and their names, gathered from the tables that hold them.

A device that is switched off is named as `fillwright fills` prints it, or by the part of that
name which stands in a table: "shells" for "shells, on the beat", "sus delay" also where it
is one of two.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from functools import cache
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.fills.devices.comp.table import TEXTURES
from fillwright.fills.devices.comp.times import RHYTHM_NAMES
from fillwright.fills.devices.device import Device
from fillwright.fills.devices.line.devices import HEARD
from fillwright.fills.devices.line.doubles import DOUBLE_DEVICES
from fillwright.fills.devices.line.naming import LineDevice
from fillwright.fills.devices.line.octaves import OCTAVE_DEVICE
from fillwright.fills.devices.line.shift import SHIFTED_LANDINGS, ShiftedLanding
from fillwright.fills.devices.reharm import recognise
from fillwright.fills.devices.reharm.moves import MOVES

__all__ = ["DEVICES", "LINE_DEVICES", "device_names", "devices_in", "is_called", "is_device",
           "known_devices"]

LINE_DEVICES: tuple[LineDevice | ShiftedLanding, ...] = (
    *HEARD, OCTAVE_DEVICE, *DOUBLE_DEVICES, *SHIFTED_LANDINGS)

DEVICES: MappingProxyType[str, tuple[Device, ...]] = MappingProxyType({
    "comp": TEXTURES, "reharm": recognise.DEVICES, "line": LINE_DEVICES})
"""Family: its devices, each one object with all that is known of it."""

_THEN = ", then "
_MOST_NEAR = 4


@cache
def device_names() -> MappingProxyType[str, tuple[str, ...]]:
    """Family: the names in its tables, sorted."""
    return MappingProxyType({"comp": tuple(sorted({t.name for t in TEXTURES})),
                             "reharm": tuple(sorted({move.name for move in MOVES})),
                             "line": tuple(sorted(device.name for device in DEVICES["line"]))})


@cache
def _comp_names() -> MappingProxyType[str, str]:
    """All that a texture may be called: the name in its table."""
    return MappingProxyType({name: texture.name for texture in reversed(TEXTURES)
                             for name in reversed(texture.names)})


def is_device(name: str) -> bool:
    """Whether a fill may be called so, or be switched off by this name."""
    families = device_names()
    if name in families["line"] or name in _comp_names():
        return True
    if any(name.endswith(f", {rhythm}") and name.removesuffix(f", {rhythm}") in _comp_names()
           for rhythm in RHYTHM_NAMES):
        return True
    return bool(_row(name))


def _row(name: str) -> tuple[str, ...]:
    """The reharmonizations that a name joins by "then", which some have in their own name; () for
    what is no such row."""
    for device in sorted(device_names()["reharm"], key=len, reverse=True):
        if name == device:
            return (device,)
        if name.startswith(device + _THEN):
            rest = _row(name[len(device + _THEN):])
            if rest:
                return (device, *rest)
    return ()


def _without_rhythm(name: str) -> str:
    """What of a name a texture may be called; the name where there is nothing."""
    base = name
    while base not in _comp_names() and ", " in base:
        base = base.rpartition(", ")[0]
    return base if base in _comp_names() else name


def devices_in(name: str, family: str) -> tuple[str, ...]:
    """The devices of the tables that a fill's device is made of: a rhythm is no device, and one
    chord after another is two.

    >>> devices_in("shells, on the beat", "comp")
    ('shells',)
    >>> devices_in("dominant on the way, then sus delay", "reharm")
    ('dominant on the way', 'sus delay')
    """
    if family == "comp":
        return (_comp_names().get(_without_rhythm(name), name),)
    return tuple(dict.fromkeys(_row(name))) or (name,)


def is_called(device: str, name: str) -> bool:
    """Whether a fill's device is the one of this name, in any rhythm or among others.

    >>> is_called("dominant on the way, then sus delay", "sus delay")
    True
    >>> is_called("IV, then IV minor", "IV minor")
    False
    """
    played, asked = _row(device), _row(name)
    if asked:
        return any(played[i:i + len(asked)] == asked for i in range(len(played)))
    base = _without_rhythm(device)
    return name in (device, base, _comp_names().get(base))


def known_devices(names: Iterable[str]) -> tuple[str, ...]:
    """The names as they are written in the tables, whatever their case. Raises InputError for
    one that is no device, with those that come near."""
    return tuple(_known(name) for name in names)


def _known(name: str) -> str:
    asked = " ".join(name.split())
    if is_device(asked):
        return asked
    every = [n for family in device_names().values() for n in family]
    small = {n.lower(): n for n in every}
    asked = asked.lower()
    if asked in small:
        return small[asked]
    inside = sorted((n for n in small if asked and asked in n), key=lambda n: (len(n), n))
    near = [*inside, *(n for n in get_close_matches(asked, small, n=_MOST_NEAR, cutoff=0.5)
                       if n not in inside)][:_MOST_NEAR]
    hint = ("the nearest are " + ", ".join(repr(small[n]) for n in near) if near else
            "they are called as the fills are listed, such as 'shells' or 'scale run'")
    raise InputError(f"{name!r} is no device; {hint}")
