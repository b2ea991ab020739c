"""The engraver's fonts as files."""

from __future__ import annotations

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from fillwright.score.fonts import font_folder

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def _forget() -> None:
    font_folder.cache_clear()


def test_unpacked_once_with_the_signs_of_chord_symbols(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    folder = font_folder()
    assert tmp_path in folder.parents
    fonts = [TTFont(path) for path in sorted(folder.glob("*.otf"))]
    names = {(font["name"].getDebugName(1), font["name"].getDebugName(2)) for font in fonts}
    assert {("Liberation Serif", style)
            for style in ("Regular", "Bold", "Italic", "Bold Italic")} <= names
    music = next(font for font in fonts if font["name"].getDebugName(1) == "Leipzig")
    assert {0xE260, 0xE262} <= set(music.getBestCmap())   # SMuFL: flat, sharp
    before = {path: path.stat().st_mtime_ns for path in folder.iterdir()}
    font_folder.cache_clear()
    assert font_folder() == folder
    assert {path: path.stat().st_mtime_ns for path in folder.iterdir()} == before


def test_a_cache_that_cannot_be_written(tmp_path: Path,
                                        monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
    folder = font_folder()
    assert blocked not in folder.parents
    assert len(list(folder.glob("*.otf"))) == 5
    font_folder.cache_clear()
