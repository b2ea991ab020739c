"""The study page: bars of one gap, each time with another comping fill."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from fillwright import find_gaps, read_tune, unfold
from fillwright.demo import demo_path

pytestmark = pytest.mark.slow

SCRIPT = Path(__file__).parents[2] / "examples" / "comp_study.py"


@pytest.fixture(scope="module")
def study() -> ModuleType:
    spec = importlib.util.spec_from_file_location("comp_study", SCRIPT)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_bars_of_a_gap_are_set_one_after_another(study: ModuleType) -> None:
    tune = read_tune(demo_path("lamp"))
    chorus = unfold(tune)
    gap = find_gaps(chorus)[study.default_gap(find_gaps(chorus)) - 1]
    again = study.study_tune(tune, chorus, gap, 3)
    written = study.bars_around(tune, chorus, gap)
    assert len(again.bars) == 3 * len(written)
    gaps = find_gaps(unfold(again))
    alike = [g for g in gaps if g.held is not None and g.beats == gap.beats
             and g.held.pitch == gap.held.pitch]
    assert len(alike) == 3


def test_every_option_is_on_the_page(study: ModuleType) -> None:
    pages, fills = study.study_pages(read_tune(demo_path("lamp")), None, 3, "intermediate")
    assert len(fills) == 3
    assert len({fill.device for fill in fills}) == 3
    text = "".join(pages)
    assert all(fill.device.split(",")[0] in text for fill in fills)
