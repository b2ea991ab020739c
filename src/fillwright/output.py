"""Writing an arrangement to a folder: everything or nothing.

All files are made in memory first, then written into a temporary folder beside the wanted
one, then moved, so that a failure leaves nothing half-written.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from fillwright.arranging.model import Arrangement

__all__ = ["FORMATS", "OWN_FILE", "render", "write_folder"]

FORMATS = ("json", "musicxml", "mid", "svg", "pdf", "flac")
_SCORE, _SOUND = ("musicxml", "svg", "pdf"), ("mid", "flac")

OWN_FILE = re.compile(r"arrangement\.(json|musicxml|mid|pdf|flac)|page-\d+\.svg")
"""Names this program writes: those an earlier run left behind are replaced or removed."""


def render(arrangement: Arrangement, formats: Sequence[str] = FORMATS,
           stage: Callable[[str], None] | None = None, soundfont: Path | None = None,
           click: bool = False) -> dict[str, bytes]:
    """All files of an arrangement in the given formats: name -> content.

    stage       called with a word on what is being made
    soundfont   the piano that plays, a .sf2 file; None for the one that comes along
    click       sound with a count-in and a click

    Raises ValueError for an unknown format, InputError for a SoundFont that cannot be used.
    """
    unknown = [name for name in formats if name not in FORMATS]
    if unknown:
        raise ValueError(f"not a format: {unknown[0]}")
    say = stage or (lambda _: None)
    files: dict[str, bytes] = {}
    if "json" in formats:
        from fillwright.contract import arrangement_document, dump

        files["arrangement.json"] = dump(arrangement_document(arrangement)).encode()
    score = tuple(name for name in formats if name in _SCORE)
    if score:
        from fillwright.score import render_score

        say("engraving")
        files |= render_score(arrangement, score)
    sound = tuple(name for name in formats if name in _SOUND)
    if sound:
        from fillwright.sound import render_sound

        say("playing")
        files |= render_sound(arrangement, sound, soundfont, click)
    return files


def write_folder(files: Mapping[str, bytes], folder: Path) -> list[Path]:
    """Put files into a folder, made if need be; stale files of ours in it are removed.

    Returns the paths in the order of `files`. Raises OSError, and then no file of `folder`
    has been touched, unless the last moves themselves fail.
    """
    missing = [path for path in folder.parents if not path.exists()]  # innermost first
    staging: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        staging = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        for name, content in files.items():
            (staging / name).write_bytes(content)
        if folder.exists():
            for name in files:
                os.replace(staging / name, folder / name)
            for path in sorted(folder.iterdir()):
                if OWN_FILE.fullmatch(path.name) and path.name not in files:
                    path.unlink()
            staging.rmdir()
        else:
            staging.chmod(0o777 & ~_umask())
            staging.rename(folder)
    except BaseException:  # an interrupt must leave nothing behind either
        if staging is not None:
            shutil.rmtree(staging, ignore_errors=True)
        for path in missing:
            with suppress(OSError):
                path.rmdir()
        raise
    return [folder / name for name in files]


def _umask() -> int:
    """The process's umask, which can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
