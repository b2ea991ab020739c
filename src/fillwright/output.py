"""Writing an arrangement to a folder: everything or nothing.

All files are made in memory first, then written into a temporary folder, then moved, so that a
failure leaves nothing half-written. The temporary folder lies inside the wanted one where that
exists (it may be a mount point, or its parent closed to us), else beside it; its name says
which process made it, so that a later run removes what a killed one left.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from fillwright.arranging.model import FORMATS, MORE_FORMATS, Arrangement

__all__ = ["OWN_FILE", "check_folder", "render", "write_folder"]

_SCORE = ("musicxml", "svg", "pdf", "lead")
_SOUND = ("mid", "flac", "mp3", "opus", "left", "right", "clicks")

OWN_FILE = re.compile(
    r"arrangement\.(json|musicxml|mid|pdf|flac|mp3|opus)|page-\d+\.svg|round\.json"
    r"|arrangement-(left|right|clicks)\.flac|arrangement-lead\.musicxml|study\.pdf")
"""Names of an arrangement's files: those an earlier one left behind are replaced or removed. A
pack or a drill beside it touches none of them."""


def render(arrangement: Arrangement, formats: Sequence[str] = FORMATS,
           stage: Callable[[str], None] | None = None, soundfont: Path | None = None,
           click: bool = False, printing: Mapping[str, Any] | None = None) -> dict[str, bytes]:
    """All files of an arrangement in the given formats: name -> content.

    stage       called with a word on what is being made
    soundfont   the piano that plays, a .sf2 file; None for the one that comes along
    click       sound with a count-in and a click
    printing    what is chosen of the page, the fields of `score.Printing`

    Raises ValueError for an unknown format, InputError for a SoundFont that cannot be used.
    """
    unknown = [name for name in formats if name not in FORMATS + MORE_FORMATS]
    if unknown:
        raise ValueError(f"not a format: {unknown[0]}")
    say = stage or (lambda _: None)
    files: dict[str, bytes] = {}
    if "json" in formats:
        from fillwright.contract import arrangement_document, dump

        files["arrangement.json"] = dump(arrangement_document(arrangement)).encode()
    score = tuple(name for name in formats if name in _SCORE)
    if score:
        from fillwright.score import Printing, render_score

        say("engraving")
        files |= render_score(arrangement, score, printing=Printing(**(printing or {})))
    sound = tuple(name for name in formats if name in _SOUND)
    if sound:
        from fillwright.sound import render_sound

        say("playing")
        files |= render_sound(arrangement, sound, soundfont, click)
    return files


def write_folder(files: Mapping[str, bytes], folder: Path) -> list[Path]:
    """Put files into a folder, made if need be; where they are those of an arrangement, stale
    ones of an earlier one in it are removed.

    Returns the paths in the order of `files`. Raises OSError, and then no file of `folder`
    has been touched, unless the last moves themselves fail.
    """
    _clean(folder)
    missing = [path for path in folder.parents if not path.exists()]  # innermost first
    staging: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        staging = _staging(folder)
        for name, content in files.items():
            (staging / name).write_bytes(content)
        if folder.exists():
            for name in files:
                os.replace(staging / name, folder / name)
            _remove_stale(files, folder)
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


def _remove_stale(files: Mapping[str, bytes], folder: Path) -> None:
    if not any(OWN_FILE.fullmatch(name) for name in files):
        return
    for path in sorted(folder.iterdir()):
        if OWN_FILE.fullmatch(path.name) and path.name not in files:
            path.unlink()


def check_folder(folder: Path) -> None:
    """Raise OSError where `write_folder` could not write; leaves nothing behind."""
    where = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    Path(tempfile.mkdtemp(prefix=_STAGING, dir=where)).rmdir()


_STAGING = ".fillwright-"
_LEFT_BEHIND = re.compile(re.escape(_STAGING) + r"(\d+)-[a-z0-9_]+")


def _staging(folder: Path) -> Path:
    where = folder if folder.exists() else folder.parent
    return Path(tempfile.mkdtemp(prefix=f"{_STAGING}{os.getpid()}-", dir=where))


def _clean(folder: Path) -> None:
    """Remove the temporary folders of runs that were killed."""
    for where in (folder, folder.parent):
        with suppress(OSError):
            for path in sorted(where.iterdir()):
                made = _LEFT_BEHIND.fullmatch(path.name)
                if made is not None and not _runs(int(made[1])) and path.is_dir() \
                        and not path.is_symlink():
                    shutil.rmtree(path, ignore_errors=True)


def _runs(process: int) -> bool:
    if os.name == "nt":  # asking after a process would end it there
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def _umask() -> int:
    """The process's umask, which can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
