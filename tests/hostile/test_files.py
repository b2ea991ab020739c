"""Spoilt files: a clean result or one clear sentence, never anything else."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from tests.hostile.attack import attack_files
from tests.hostile.mutations import (
    ABC,
    ARCHIVES,
    SHEETS,
    Mutation,
    change_abc,
    change_numbers,
    change_values,
    cut_off,
    drop_elements,
    flip_bytes,
    move_elements,
    repack,
)

from fillwright import InputError, find_gaps, unfold
from fillwright.tune import read_bytes

pytestmark = pytest.mark.slow


def survives(data: bytes, name: str) -> bool:
    """Whether the file is read, the whole way to its gaps; else it was refused properly."""
    try:
        chorus = unfold(read_bytes(data, name))
    except InputError as error:
        assert error.source == name
        assert "\n" not in str(error)
        assert len(str(error)) < 300
        return False
    find_gaps(chorus)
    end = 0
    for note in chorus.melody:
        assert end <= note.onset_quarter < note.end_quarter <= chorus.length_quarter
        end = note.end_quarter  # type: ignore[assignment]
    return True


@pytest.mark.parametrize("mutation", [flip_bytes, cut_off, change_numbers, change_values,
                                      drop_elements, move_elements])
@pytest.mark.parametrize("number", range(len(SHEETS)))
def test_musicxml(mutation: Mutation, number: int) -> None:
    for seed in range(12):
        rnd = random.Random(seed)
        survives(mutation(SHEETS[number], rnd), "a.xml")


def test_several_mutations_at_once() -> None:
    read = 0
    for seed in range(60):
        rnd = random.Random(1000 + seed)
        data = rnd.choice(SHEETS)
        for mutation in rnd.sample([change_values, drop_elements, move_elements], 2):
            data = mutation(data, rnd)
        read += survives(data, "a.xml")
    assert read >= 20, "mutations that leave a sheet readable must be among them"


@pytest.mark.parametrize("mutation", [flip_bytes, cut_off, repack])
def test_archives(mutation: Mutation) -> None:
    for seed in range(40):
        rnd = random.Random(seed)
        survives(mutation(rnd.choice(ARCHIVES), rnd), "a.mxl")


@pytest.mark.parametrize("mutation", [flip_bytes, cut_off, change_abc])
def test_abc(mutation: Mutation) -> None:
    for seed in range(40):
        rnd = random.Random(seed)
        survives(mutation(rnd.choice(ABC), rnd), "a.abc")


def test_random_bytes() -> None:
    for seed in range(30):
        rnd = random.Random(seed)
        data = rnd.randbytes(rnd.randrange(400))
        for start in (b"", b"PK\x03\x04", b"<score-partwise>", b"X:1\nK:C\n"):
            for name in ("a.xml", "a.mxl", "a.abc", "a"):
                assert not survives(start + data, name) or name == "a.abc"


def test_the_command_line_has_a_table_or_a_sentence(tmp_path: Path) -> None:
    outcome = attack_files(120, 14, tmp_path)
    assert outcome.faults == []
    assert outcome.counts["read"] >= 20 and outcome.counts["refused"] >= 20
