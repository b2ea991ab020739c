"""Every fill goes by a name of the list of devices, and nothing else does."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from fillwright import Fill, InputError, Options, propose, read_tune
from fillwright.arranging.build import prepare
from fillwright.demo import demo_path
from fillwright.fills import FAMILIES, device_names, is_device, known_devices
from fillwright.fills.devices.comp.names import TRUTHS
from fillwright.fills.devices.comp.table import TEXTURES
from fillwright.fills.devices.comp.texture import Truth
from fillwright.hands import LEVELS


@cache
def some_fills(name: str, level: str) -> tuple[Fill, ...]:
    chorus, gaps = prepare(read_tune(demo_path(name)), Options(level=level))
    return propose(chorus, gaps, level=level, numbers=(1, 3), count=20).fills


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", ["lamp", "snow"])
def test_every_fill_has_a_name_of_the_list(name: str, level: str) -> None:
    found = some_fills(name, level)
    assert {fill.family for fill in found} == set(FAMILIES)
    assert [fill.device for fill in found if not is_device(fill.device)] == []


def test_every_name_of_the_tables_is_one() -> None:
    names = [name for family in FAMILIES for name in device_names()[family]]
    assert len(names) == len(set(names)) > 60
    assert all(is_device(name) for name in names)
    assert known_devices(names) == tuple(names)


@pytest.mark.parametrize(("name", "device"), [
    ("Tritone Substitute", "tritone substitute"), ("  shells ", "shells"),
    ("iv minor", "IV minor"), ("shells, on the beat", "shells, on the beat"),
    ("II V into the coming chord, then IV, then IV minor",
     "II V into the coming chord, then IV, then IV minor"),
])
def test_how_a_device_may_be_named(name: str, device: str) -> None:
    assert known_devices([name]) == (device,)


@pytest.mark.parametrize(("name", "nearest"), [
    ("tritone substitution", "'tritone substitute'"), ("walk-up", "'diatonic walk-up'"),
    ("rootles voicings", "'rootless voicings'"), ("shell", "'shells'"),
    ("shells, nonsense", "'shells"), ("xyzzy", "as the fills are listed"),
    ("", "as the fills are listed"), ("sus delay, then", "'sus delay'"),
])
def test_what_is_no_device(name: str, nearest: str) -> None:
    assert not is_device(name)
    with pytest.raises(InputError, match="is no device") as caught:
        known_devices([name])
    assert nearest in caught.value.message


def test_a_texture_has_a_name_whatever_the_hands_find() -> None:
    assert set(TRUTHS) == set(Truth)
    for texture in TEXTURES:
        assert texture.names[0] == texture.name
        assert len(set(texture.names)) == len(texture.names)
        assert all(is_device(name) for name in texture.names)
        for part in texture.said:
            if not isinstance(part, str):  # the last thing to say is always true
                assert [truth for truth, _ in part].index(Truth.ANY) == len(part) - 1
    with pytest.raises(ValueError, match="is not said by its parts"):
        replace(TEXTURES[0], name="another")
