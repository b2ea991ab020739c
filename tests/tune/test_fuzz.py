"""Mutated real files: a clean result or one clear sentence, never anything else.

The mutations are seeded, so a failure comes back. The files are of music21's corpus.
"""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import music21
import pytest

from fillwright.errors import InputError
from fillwright.tune.container import unpack
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.read import read_bytes

pytestmark = pytest.mark.slow

CORPUS = Path(str(music21.__file__)).parent / "corpus"
ARCHIVES = [(CORPUS / name).read_bytes() for name in (
    "leadSheet/fosterBrownHair.mxl", "leadSheet/berlinAlexandersRagtime.mxl",
    "demos/ComprehensiveChordSymbolsTestFile.mxl", "demos/chord_realization_exercise.mxl")]
SHEETS = [unpack(archive) for archive in ARCHIVES]
ABC = [(CORPUS / "nottingham-dataset" / "reelsa-c.abc").read_bytes(),
       b'X:1\nT:t\nM:4/4\nL:1/8\nK:Gm\n|:"Gm7"G2A2 "C7"(3Bcd e2|"F"f4-[1f4:|[2"F#dim"f2 '
       b'z2!D.C.!|]\nV:2\nG8|A8|',
       b'X:1\nT:t\nP:A2(BA)2C\nM:4/4\nL:1/4\nK:C\nP:A\n|:"C"c4|1"F"f3:|2"Dm"f3||\nP:B\n'
       b'e|"G7"d4|[P:C]"C"c4|]']

NUMBERS = [b"0", b"-1", b"99999999999", b"1e9", b"", b"NaN", b"1.5", b"-7", b"x", b"3", b"12",
           b"1" + b"0" * 30]
VALUES = [b"major", b"minor", b"yes", b"no", b"forward", b"backward", b"start", b"stop",
          b"discontinue", b"none", b"other", b"D.C. al Fine", b"D.S. al Coda", b"N.C.", b"Fine",
          b"To Coda", b"alternate", b"subtract"]
ABC_PIECES = ['"', "[", "]", "|", ":", "(3", "{", "}", "%", "\n", "X:", "K:", "V:3\n", "&", ">",
              "!", "-", "999999", "/", "^", "", '"C7"', "[1", "$", "\\\n", "[K:F#]", "é", "\0",
              "(9:2:1", "M:0/0\n", "L:1/0\n", "Q:1/0=9\n", "Z9999|",
              "P:B\n", "P:(AC)9\n", "[P:A]"]

Mutation = Callable[[bytes, random.Random], bytes]


def flip_bytes(data: bytes, rnd: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(rnd.choice([1, 3, 20])):
        changed[rnd.randrange(len(changed))] = rnd.randrange(256)
    return bytes(changed)


def cut_off(data: bytes, rnd: random.Random) -> bytes:
    return data[:rnd.randrange(len(data))]


def change_numbers(data: bytes, rnd: random.Random) -> bytes:
    return re.sub(rb"(?<=>)-?\d+(?=<)",
                  lambda m: rnd.choice(NUMBERS) if rnd.random() < 0.02 else m[0], data)


def change_values(data: bytes, rnd: random.Random) -> bytes:
    return re.sub(rb'(?<=[">])[A-Za-z.-]+(?=["<])',
                  lambda m: rnd.choice(VALUES) if rnd.random() < 0.02 else m[0], data)


def drop_elements(data: bytes, rnd: random.Random) -> bytes:
    return re.sub(rb"<(\w[\w-]*)[^<>]*>[^<>]*</\1>|<[\w-]+[^<>]*/>",
                  lambda m: rnd.choice([b"", m[0] * 2]) if rnd.random() < 0.02 else m[0], data)


def move_elements(data: bytes, rnd: random.Random) -> bytes:
    found = list(re.finditer(
        rb"<(note|harmony|backup|forward|barline|direction|attributes|measure)\b.*?</\1>", data,
        re.DOTALL))
    for _ in range(3):
        piece, place = rnd.choice(found)[0], rnd.choice(found).start()
        data = data[:place] + piece + data[place:]
    return data


def repack(data: bytes, rnd: random.Random) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(buffer, "w") as new:
        for number, member in enumerate(old.infolist()):
            content = old.read(member)
            if rnd.random() < 0.3:
                content = flip_bytes(content, rnd)
            if rnd.random() < 0.2:
                content = content.decode("latin-1").encode(rnd.choice(["utf-16", "utf-32"]))
            new.writestr(f"{number}" + rnd.choice(
                [member.filename, "/../" + member.filename, ".xml", "/META-INF/a.xml"]), content)
    return buffer.getvalue()


def change_abc(data: bytes, rnd: random.Random) -> bytes:
    text = data.decode()
    for _ in range(rnd.choice([1, 3, 8])):
        place = rnd.randrange(len(text))
        text = text[:place] + rnd.choice(ABC_PIECES) + text[place + rnd.choice([0, 1, 5]):]
    return text.encode()


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
