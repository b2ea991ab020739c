"""All devices of the line family in one row; what is heard in a line."""

from __future__ import annotations

from fillwright.fills.devices.line.gestures import GESTURES
from fillwright.fills.devices.line.motives import MOTIVES
from fillwright.fills.devices.line.naming import Found, LineDevice
from fillwright.fills.devices.line.pitchwork import PITCHWORK
from fillwright.fills.devices.line.sounding import Line
from fillwright.fills.player import Level

__all__ = ["HEARD", "heard"]

HEARD: tuple[LineDevice, ...] = tuple(sorted((*PITCHWORK, *GESTURES, *MOTIVES),
                                             key=lambda d: -d.worth))


def heard(line: Line, level: Level) -> list[tuple[LineDevice, Found]]:
    """What is heard in a line of what the level is taught, the worthiest first."""
    found = []
    for device in HEARD:
        if level.is_taught(device.level):
            where = device.find(line)
            if where is not None:
                found.append((device, where))
    return found
