"""A recording, and what an ear hears in a piece of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Ear", "HeardKey", "OpenEar", "Recording"]


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """Sound: one channel of samples from -1 to 1, so many a second.

    cents   how far above concert pitch (A4 = 440 Hz) the piano was, before it was brought there;
            all seconds are those of the recording as it was made
    """

    name: str
    samples: NDArray[np.float32]
    rate: int
    cents: float = 0.0

    @property
    def length_sec(self) -> float:
        return len(self.samples) / self.rate * self.stretch

    @property
    def stretch(self) -> float:
        """Seconds as they were for each second of these samples: sound that was brought down
        lasts longer."""
        return float(2.0 ** (-self.cents / 1200))


@dataclass(frozen=True, slots=True)
class HeardKey:
    """A key, or the damper pedal, that is down for a while, in seconds of what was listened to.

    midi     the key; None: the damper pedal
    begins   it went down in there; False: it was down from the beginning
    ends     it came up in there; False: it was still down at the end
    """

    onset_sec: float
    release_sec: float
    midi: int | None
    velocity: int
    begins: bool = True
    ends: bool = True


class Ear(Protocol):
    """What hears keys in sound. `rate` is how many samples a second it wants, `window_sec` how
    long a piece it hears at once."""

    @property
    def rate(self) -> int: ...

    @property
    def window_sec(self) -> float: ...

    def hear(self, samples: NDArray[np.float32]) -> Sequence[HeardKey]:
        """The keys of one piece (`window_sec` at most, one channel)."""


OpenEar = Callable[[], Ear]
"""Gets an ear ready, which may take seconds and much memory; a function of a module's top level, so
that another process can call it. Raises InputError where the ear is not installed."""
