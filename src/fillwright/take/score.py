"""The tune as the ear wants it: the written melody in floating numbers, a note a row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.tune.model import Chorus

__all__ = ["MelodyLine", "line_of"]


@dataclass(frozen=True, slots=True, eq=False)
class MelodyLine:
    """The melody of a chorus.

    quarters           onsets, shape (notes,)
    midis              keys, shape (notes,)
    length_quarter     of the chorus
    beat_quarter       the felt beat of the first meter
    quarter_sec        how long a quarter lasts at the tempo that is written or asked for
    """

    quarters: npt.NDArray[np.float64]
    midis: npt.NDArray[np.int64]
    length_quarter: float
    beat_quarter: float
    quarter_sec: float

    def __len__(self) -> int:
        return len(self.quarters)


def line_of(chorus: Chorus) -> MelodyLine:
    """The melody of a chorus, as it is to be heard."""
    return MelodyLine(np.array([float(note.onset_quarter) for note in chorus.melody]),
                      np.array([note.midi for note in chorus.melody], dtype=np.int64),
                      float(chorus.length_quarter), float(chorus.meter.beat_quarter),
                      chorus.seconds_per_quarter)
