"""The study page: bars of one gap, each time with another idea."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
from lxml import etree

from fillwright import find_gaps, read_tune, unfold
from fillwright.demo import demo_path
from fillwright.library import devices_in

pytestmark = pytest.mark.slow

SCRIPT = Path(__file__).parents[2] / "examples" / "study.py"


@pytest.fixture(scope="module")
def study() -> ModuleType:
    spec = importlib.util.spec_from_file_location("study", SCRIPT)
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


@pytest.mark.parametrize("family", ["comp", "reharm", "line"])
def test_every_option_is_on_the_page(study: ModuleType, family: str) -> None:
    pages, fills = study.study_pages(read_tune(demo_path("lamp")), None, 3, "intermediate", family)
    assert len(fills) == 3
    assert {fill.family for fill in fills} == {family}
    assert len({fill.device for fill in fills}) == 3
    text = " ".join(word for page in pages
                    for part in etree.fromstring(page.encode()).itertext()
                    for word in str(part).split())
    for number, fill in enumerate(fills, 1):  # its name without the rhythm, and what comes first
        assert f" {number} {devices_in(fill.device, family)[0]} " in text
