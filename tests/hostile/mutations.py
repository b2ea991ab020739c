"""Files of several notations, and ways to spoil them. All is seeded, so that a failure comes back.

Some of the files are of music21's corpus, the others are written here.
"""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path

from fillwright.tune.container import unpack

__all__ = ["ABC", "ARCHIVES", "OTHERS", "SHEETS", "Mutation", "change_abc", "change_numbers",
           "change_values", "cut_off", "drop_elements", "flip_bytes", "move_elements", "mutants",
           "repack"]

CORPUS = Path(str(find_spec("music21").origin)).parent / "corpus"  # type: ignore[union-attr]
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


OTHERS = {
    ".tntxt": b"tinyNotation: 4/4 c4_C d4 e2_G7 c1_Am7 trip{c8 d8 e8} f2_Dm7 r4_G7 c1~_C c1_C",
    ".krn": b"**kern\t**mxhm\n*M4/4\t*\n=1\t=1\n4c\tC\n4d\t.\n2e\tG7\n=2\t=2\n1c\tAm7\n"
            b"*-\t*-\n",
    ".rntxt": b"Time Signature: 4/4\nm1 C: I b3 V7\nm2 vi\nm3 b: V7/V b2.5 V\nm4 I\n",
    ".mei": b'<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
            b'<scoreDef meter.count="4" meter.unit="4"><staffGrp>'
            b'<staffDef n="1" lines="5"/></staffGrp>'
            b'</scoreDef><section><measure n="1"><staff n="1"><layer n="1"><note pname="c" oct="5" '
            b'dur="1"/></layer></staff><harm tstamp="1" staff="1">C7</harm></measure></section>'
            b"</score></mdiv></body></music></mei>"}
"""By the ending: what music21 reads besides."""

TEXT_PIECES = [b"\t", b"\n", b"*", b"=", b"_", b"4/4", b"0/0", b"trip{", b"}", b"~", b"m1 b9 V\n",
               b"*^", b"*-", b"!!", b'"', b"<", b"&", b"9" * 30, b"\xff", b"-1", b"C#m7b5"]


def change_text(data: bytes, rnd: random.Random) -> bytes:
    for _ in range(rnd.choice([1, 3, 8])):
        place = rnd.randrange(len(data))
        data = data[:place] + rnd.choice(TEXT_PIECES) + data[place + rnd.choice([0, 1, 5]):]
    return data


_XML = (flip_bytes, cut_off, change_numbers, change_values, drop_elements, move_elements)


def mutants(count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """Name and bytes of spoilt files, notation after notation, with one mutation or two."""
    rnd = random.Random(seed)
    kinds: list[tuple[str, list[bytes], tuple[Mutation, ...]]] = [
        ("musicxml", SHEETS, _XML), ("mxl", ARCHIVES, (flip_bytes, cut_off, repack)),
        ("abc", ABC, (flip_bytes, cut_off, change_abc)), ("musicxml", SHEETS, _XML),
        *((ending[1:], [data], (flip_bytes, cut_off, change_text))
          for ending, data in OTHERS.items())]
    for number in range(count):
        ending, files, ways = kinds[number % len(kinds)]
        data = rnd.choice(files)
        for way in rnd.sample(ways, rnd.choice([1, 2])):
            with suppress(Exception):
                data = way(data, rnd)  # what the first has spoilt may be no file to the second
        yield f"spoilt-{seed}-{number}.{ending}", data
