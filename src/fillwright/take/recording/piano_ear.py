"""The ear of the extra `listen`: transkun (MIT), a network trained on a player piano's recordings.

Its weights lie in its package; nothing is fetched. It wants PyTorch, of which the build for
processors without a graphics card is enough.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from fillwright.errors import InputError
from fillwright.take.recording.model import HeardKey

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["EAR_MEMORY_BYTES", "MISSING", "memory_words", "open_piano_ear",
           "piano_ear_is_installed", "processes_for"]

EAR_MEMORY_BYTES = 1_700_000_000
"""What a process that hears takes at most (counted: 1.6 GB, of which 0.4 GB is there before the
first piece)."""

MISSING = ("hearing a recording needs the extra fillwright[listen] (PyTorch for the processor and "
           "the package transkun with its weights: 1.5 GB on the disk, 1.7 GB of memory while it "
           "listens); a MIDI file needs nothing")

_PIECE_SEC = 12.0       # of a recording that a process hears at once, the rest is heard twice
_PEDAL = -64            # how the network names the damper pedal
_SILENT = 10 ** (-70 / 20)
"""A piece that is nowhere louder (of full scale) is not listened to: the network brings every piece
to the same level, and noise with it."""


def piano_ear_is_installed() -> bool:
    """Whether the extra is there; nothing is loaded."""
    return all(find_spec(name) is not None for name in ("torch", "torchaudio", "transkun", "soxr"))


def memory_words(processes: int) -> str:
    """What so many processes that hear take.

    >>> memory_words(2)
    '2 processes, 3.4 GB of memory'
    """
    return (f"{processes} process{'es' * (processes != 1)}, "
            f"{processes * EAR_MEMORY_BYTES / 1e9:.1f} GB of memory")


def processes_for(length_sec: float) -> int:
    """How many processes may hear a recording at once on this computer: by its processors, by
    the memory that is free, and as many as have pieces to hear."""
    most = os.cpu_count() or 1
    pieces = int(length_sec / _PIECE_SEC) + 1
    try:
        free = os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):       # not to be known here
        free = EAR_MEMORY_BYTES
    return max(min(most, pieces, int(0.8 * free / EAR_MEMORY_BYTES)), 1)


def open_piano_ear() -> PianoEar:
    """Load the network. Raises InputError, with what to install, where it is not there."""
    if not piano_ear_is_installed():
        raise InputError(MISSING)
    try:
        return PianoEar()
    except (ImportError, OSError) as error:
        said = str(error).splitlines()[0]
        raise InputError("PyTorch, torchaudio and transkun are there, but do not fit each other "
                         f"({said}); install all three for the same processor") from error


class PianoEar:
    """An `Ear`; loading it takes seconds."""

    def __init__(self) -> None:
        from importlib.resources import as_file, files

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import moduleconf
            import torch
            import transkun.ModelTransformer as network

            folder = files("transkun") / "pretrained"
            with as_file(folder / "2.0.conf") as path:
                asked = moduleconf.parseFromFile(str(path))["Model"].config
            model = network.TransKun(conf=asked)
            with as_file(folder / "2.0.pt") as path:
                kept = torch.load(path, map_location="cpu", weights_only=True)
        model.load_state_dict(kept.get("best_state_dict", kept.get("state_dict")))
        model.eval()
        self._model: Any = model
        self._network: Any = network
        self._torch: Any = torch

    @property
    def rate(self) -> int:
        return int(self._model.fs)

    @property
    def window_sec(self) -> float:
        return float(self._model.segmentSizeInSecond)

    def hear(self, samples: NDArray[np.float32]) -> Sequence[HeardKey]:
        """The keys of a piece, and the damper pedal; the other pedals are left out."""
        if not len(samples) or float(abs(samples).max()) < _SILENT:
            return ()
        model, torch = self._model, self._torch
        size = round(self.window_sec * self.rate)
        length_sec = len(samples) / self.rate
        sound = torch.zeros(1, size)
        sound[0, :len(samples)] = torch.from_numpy(samples[:size].copy())
        with torch.inference_mode(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            frames = self._network.makeFrame(sound, model.hopSize, model.windowSize)
            found, _ = model.transcribeFrames(frames[None],
                                              lastFrameIdx=round(size / model.hopSize))
        return tuple(
            HeardKey(max(one.start, 0.0), min(max(one.end, one.start, 0.0), length_sec),
                     None if one.pitch == _PEDAL else one.pitch,
                     min(max(one.velocity, 1), 127), bool(one.hasOnset),
                     bool(one.hasOffset) and one.end < length_sec)
            for one in found[0] if (one.pitch > 0 or one.pitch == _PEDAL)
            and one.start < length_sec)
