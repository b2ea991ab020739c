"""The engraver's fonts as files, for programs that cannot read them from a page.

Verovio carries its text font (Liberation Serif, SIL Open Font License) and its music font
(Leipzig, SIL Open Font License) as WOFF2 inside style sheets. `font_folder` unpacks them
into OpenType files in the user's cache, once.
"""

from __future__ import annotations

import atexit
import base64
import io
import os
import re
import shutil
import tempfile
from functools import lru_cache
from pathlib import Path

__all__ = ["font_folder"]

_SHEETS = ("Liberation", "Leipzig")


@lru_cache(maxsize=1)
def font_folder() -> Path:
    """A folder with the fonts; made on first use, in a temporary place if the cache cannot
    be written."""
    import verovio

    data = Path(verovio.__file__).parent / "data"
    version = re.sub(r"[^\w.-]", "_", str(verovio.toolkit().getVersion()))
    try:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
        target = base / "fillwright" / f"fonts-{version}"
        if not (target / "complete").exists():
            target.mkdir(parents=True, exist_ok=True)
            _unpack(data, target)
    except (OSError, RuntimeError):  # not writable, or no home at all
        target = Path(tempfile.mkdtemp(prefix="fillwright-fonts-"))
        atexit.register(shutil.rmtree, target, ignore_errors=True)
        _unpack(data, target)
    return target


def _unpack(data: Path, target: Path) -> None:
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    for sheet in _SHEETS:
        text = (data / f"{sheet}.css").read_text(encoding="ascii")
        for number, packed in enumerate(re.findall(r"base64,([^)]*)\)", text)):
            font = TTFont(io.BytesIO(base64.b64decode(packed)), recalcTimestamp=False)
            font.flavor = None
            # Written beside and moved, so that two programs at once do no harm.
            handle, name = tempfile.mkstemp(dir=target, suffix=".part")
            with os.fdopen(handle, "wb") as stream:
                font.save(stream)
            os.replace(name, target / f"{sheet}-{number}.otf")
    (target / "complete").touch()
