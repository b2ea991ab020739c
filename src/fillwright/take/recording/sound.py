"""The sound of a file, whatever it was recorded with.

What libsndfile opens (WAV, FLAC, Ogg, MP3, AIFF) needs nothing else. A telephone's AAC (.m4a) and a
browser's WebM are opened by PyAV, which comes with the extra `listen`, or by the program ffmpeg.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.errors import InputError, printable_name
from fillwright.given import a
from fillwright.take.recording.model import Recording
from fillwright.tune.read import file_bytes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["MAX_RECORDING_BYTES", "MAX_RECORDING_SEC", "RECORDINGS", "is_recording",
           "read_recording", "recording_from_bytes"]

RECORDINGS = (".wav", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".aif", ".aiff", ".m4a", ".aac",
              ".mp4", ".webm", ".caf", ".wma", ".3gp")
"""How the name of a recording may end."""

MAX_RECORDING_BYTES = 200 * 1024 * 1024
MAX_RECORDING_SEC = 1200.0
"""Twenty minutes: a take of one tune is seldom longer than five."""

_NEEDS = ("opening this kind of recording needs PyAV (it comes with the extra fillwright[listen]) "
          "or the program ffmpeg; WAV, FLAC, Ogg, MP3 and AIFF need neither")
_FFMPEG_SEC = 120.0


def is_recording(path: str | Path) -> bool:
    """Whether a file's name is a recording's.

    >>> is_recording("Take 3.M4A"), is_recording("take.mid")
    (True, False)
    """
    return Path(path).suffix.lower() in RECORDINGS


def read_recording(path: str | Path) -> Recording:
    """The sound of a file; several channels become one.

    Raises InputError, whose `source` is the file's name, where it cannot be opened, is too long or
    is silent.
    """
    if not isinstance(path, str | Path):
        raise InputError(f"a recording is read from the name of a file, not from {a(path)}")
    path = Path(path)
    return recording_from_bytes(file_bytes(path, MAX_RECORDING_BYTES), path.name)


def recording_from_bytes(data: bytes, name: str) -> Recording:
    """The sound of a file's bytes; raises InputError."""
    try:
        if len(data) > MAX_RECORDING_BYTES:
            raise InputError(f"the file is larger than {MAX_RECORDING_BYTES // 2 ** 20} MB")
        samples, rate = _opened(data)
        if not len(samples) or not float(abs(samples).max()) > 0:
            raise InputError("nothing sounds in it")
        return Recording(printable_name(name), samples, rate)
    except InputError as error:
        raise InputError(error.message, name) from error


def _opened(data: bytes) -> tuple[NDArray[np.float32], int]:
    import soundfile  # type: ignore[import-untyped]

    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            if file.frames > MAX_RECORDING_SEC * file.samplerate:
                raise _too_long(file.frames / file.samplerate)
            read: NDArray[np.float32] = file.read(dtype="float32", always_2d=True)
            return _one_channel(read), int(file.samplerate)
    except soundfile.LibsndfileError:
        return _by_pyav(data)


def _by_pyav(data: bytes) -> tuple[NDArray[np.float32], int]:
    try:
        import av
    except ImportError:
        return _by_ffmpeg(data)
    import numpy as np

    parts: list[NDArray[np.float32]] = []
    rate = length = 0
    try:
        with av.open(io.BytesIO(data), "r") as container:
            if not container.streams.audio:
                raise InputError("there is no sound in it")
            rate = int(container.streams.audio[0].rate)
            to_float: Any = av.AudioResampler("flt", "mono", rate)
            for frame in container.decode(audio=0):
                for piece in to_float.resample(frame):
                    parts.append(piece.to_ndarray()[0].astype(np.float32))
                    length += len(parts[-1])
                if length > MAX_RECORDING_SEC * rate:
                    raise _too_long(length / rate)
    except (av.FFmpegError, ValueError) as error:
        if not parts:
            raise InputError("it is no sound that can be opened") from error
    return np.concatenate(parts) if parts else np.zeros(0, np.float32), rate


def _by_ffmpeg(data: bytes) -> tuple[NDArray[np.float32], int]:
    import numpy as np

    program = shutil.which("ffmpeg")
    if program is None:
        raise InputError(_NEEDS)
    rate = 44_100
    try:
        done = subprocess.run(
            [program, "-nostdin", "-v", "error", "-i", "pipe:0", "-t", str(MAX_RECORDING_SEC + 1),
             "-f", "f32le", "-ac", "1", "-ar", str(rate), "pipe:1"],
            input=data, capture_output=True, timeout=_FFMPEG_SEC, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise InputError("ffmpeg could not open it") from error
    samples = np.frombuffer(done.stdout[:len(done.stdout) // 4 * 4], np.float32)
    if not len(samples):
        raise InputError("it is no sound that can be opened")
    if len(samples) > MAX_RECORDING_SEC * rate:
        raise _too_long(len(samples) / rate)
    return samples, rate


def _one_channel(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """The mean of all channels. Samples that are no number are silence."""
    import numpy as np

    mean: NDArray[np.float32] = samples.mean(axis=1, dtype=np.float32)
    return np.nan_to_num(mean, nan=0.0, posinf=0.0, neginf=0.0)


def _too_long(seconds: float) -> InputError:
    return InputError(f"it lasts {seconds / 60:.0f} minutes; a recording has "
                      f"{MAX_RECORDING_SEC / 60:.0f} at most")
