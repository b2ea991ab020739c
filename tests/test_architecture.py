"""How the parts may depend on each other, how large they may be, what may not be in them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.sweep import every

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "fillwright"
MODULES = sorted(PACKAGE.rglob("*.py"))

# What each part may import of the others. Values flow one way: the page, the hands, the
# ideas, the whole, then paper and sound; the doors are at the end.
_PAGE = {"exact", "theory", "tune", "errors", "given", "shown"}
_IDEAS = _PAGE | {"lattice", "memory", "hands", "rules", "fills"}
_WHOLE = _IDEAS | {"arranging"}
MAY_IMPORT: dict[str, set[str]] = {
    "exact": set(),
    "theory": {"theory", "errors"},
    "lattice": set(),
    "errors": set(),
    "lazy": set(),
    "given": {"errors", "exact"},
    "memory": set(),
    "swing": {"exact"},
    "tune": _PAGE,
    "hands": _PAGE | {"lattice", "memory", "hands"},
    "rules": _PAGE | {"memory", "hands", "rules"},
    "fills": _IDEAS | {"lazy"},
    "arranging": _WHOLE,
    "edition": _WHOLE | {"edition"},
    "score": _WHOLE | {"score", "swing"},
    "sound": _WHOLE | {"sound", "swing"},
    "take": _WHOLE | {"take", "swing"},
    "contract": _WHOLE | {"take"},
    "tables": _WHOLE | {"take"},
    "output": _WHOLE | {"contract", "score", "sound"},
    "display": _WHOLE | {"score", "sound"},
    "lesson": _WHOLE | {"edition", "score", "sound", "swing", "contract", "tables", "output",
                        "demo", "take", "lesson", "lazy"},
    "library": _WHOLE | {"library", "contract", "tables"},
    "shown": set(),
    "progress": set(),
    "demo": set(),
}
DOORS = {"cli", "web"}
LONGEST_MODULE = 600


def part_of(path: Path) -> str:
    """``theory/pitch.py`` belongs to theory, ``lattice.py`` to lattice."""
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def parts_in(path: Path) -> tuple[ast.AST, ...]:
    """The imports and functions of a module, in one walk."""
    return tuple(node for node in ast.walk(parsed(path)) if isinstance(
        node, (ast.Import, ast.ImportFrom, ast.FunctionDef, ast.AsyncFunctionDef)))


@cache
def imported_parts(path: Path) -> frozenset[str]:
    """Parts of fillwright that a module imports anywhere, also inside functions."""
    return frozenset(_imports(path))


def _imports(path: Path) -> Iterator[str]:
    for node in parts_in(path):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            module = node.module or ""
            names = ([f"fillwright.{alias.name}" for alias in node.names]
                     if module == "fillwright" else [module])
        else:
            continue
        for name in names:
            if name.startswith("fillwright."):
                yield name.split(".")[1]


@every(MODULES)
def test_each_part_imports_only_what_lies_below_it(path: Path) -> None:
    part = part_of(path)
    if part == "__init__" or part in DOORS:
        return
    assert part in MAY_IMPORT, f"say in MAY_IMPORT where {part} belongs"
    assert imported_parts(path) <= MAY_IMPORT[part]


def test_score_time_is_counted_in_compiled_fractions() -> None:
    slow = [path.relative_to(PACKAGE).as_posix() for path in MODULES if path.name != "exact.py"
            and re.search(r"^from fractions import", path.read_text(encoding="utf-8"), re.M)]
    assert not slow, "write: from fillwright.exact import Fraction"


def test_the_rules_are_applied_to_something() -> None:
    parts = {part_of(path) for path in MODULES}
    assert set(MAY_IMPORT) <= parts
    assert "theory" in imported_parts(PACKAGE / "tune" / "model.py")


def test_nothing_imports_the_doors() -> None:
    for path in MODULES:
        if part_of(path) not in DOORS:
            assert not DOORS & imported_parts(path), path


@every(MODULES)
def test_a_module_can_be_read_in_one_sitting(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= LONGEST_MODULE
    if path.name != "__init__.py" or text:
        assert ast.get_docstring(parsed(path)), "no docstring at the top"


# Folders whose docstring says in which order they are read.
TOLD = ("fills/devices/comp", "fills/devices/reharm", "fills/devices/line", "score", "library",
        "web")


@every(TOLD)
def test_a_folder_tells_of_each_of_its_modules(folder: str) -> None:
    told = ast.get_docstring(parsed(PACKAGE / folder / "__init__.py")) or ""
    words = set(re.findall(r"\w+", told))
    silent = {path.stem for path in (PACKAGE / folder).glob("*.py")} - words - {"__init__"}
    assert not silent
    named = set(re.findall(r"`(\w+)`", told))
    gone = {name for name in named if not (PACKAGE / folder / f"{name}.py").exists()}
    assert not gone


LONGEST_FUNCTION, MOST_PARAMETERS, DEEPEST_NESTING = 60, 6, 4

# Functions that are larger for a reason. What is no longer so has to leave the list.
LARGE = {
    "cli/listing.py:gaps": "a parameter an option of the command",
    "cli/listing.py:fills": "a parameter an option of the command",
    "cli/ladder.py:ladder": "a parameter an option of the command",
    "cli/round.py:round_": "a parameter an option of the command",
    "cli/drill.py:drill": "a parameter an option of the command",
    "cli/student.py:change": "a parameter an option of the command",
    "cli/student.py:give": "a parameter an option of the command",
    "cli/student.py:rate": "a parameter an option of the command",
    "lesson/students.py:item_of": "what may be practised, by keyword",
    "cli/library.py:add": "a parameter an option of the command",
    "cli/library.py:like": "a parameter an option of the command",
    "cli/library.py:order": "a parameter an option of the command",
    "cli/library.py:find": "a parameter an option of the command",
    "cli/arrange.py:arrange": "a parameter an option of the command",
    "cli/plan.py:plan": "a parameter an option of the command",
    "fills/propose.py:propose": "the wishes of a caller, by keyword",
    "fills/asked.py:check_asked": "the same wishes",
    "arranging/window.py:window_of": "the parts of a chorus that are seen through a window",
    "hands/costs.py:pair_costs": "the key of a memo of small numbers",
    "hands/parts.py:_joined": "the key of a memo",
    "theory/chordtext.py:_take_tokens": "a case a token of the grammar",
    "tune/notexml.py:read": "one pass over the children of a note: reading is as fast as this",
    "cli/take.py:take": "a parameter an option of the command",
    "cli/write.py:write": "a parameter an option of the command",
    "web/store.py:_kept": "a parameter a column of the table",
}
# Still to be divided.
TOO_LARGE: set[str] = set()


def functions() -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    for path in MODULES:
        for node in parts_in(path):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                yield f"{path.relative_to(PACKAGE).as_posix()}:{node.name}", node


def nesting(node: ast.AST) -> int:
    """How deep its loops and conditions stand in one another; "elif" is no deeper than "if"."""
    deepest = 0
    for child in ast.iter_child_nodes(node):
        if isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
            continue
        is_block = isinstance(child, (ast.If, ast.For, ast.While, ast.With, ast.Try, ast.Match))
        is_elif = (isinstance(child, ast.If) and isinstance(node, ast.If)
                   and node.orelse == [child])
        deepest = max(deepest, nesting(child) + (is_block and not is_elif))
    return deepest


def parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    given = node.args
    names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    names += [one.arg for one in (given.vararg, given.kwarg) if one is not None]
    return len([name for name in names if name not in ("self", "cls")])


def test_a_function_can_be_kept_in_mind() -> None:
    large = {name: (node.end_lineno - node.lineno + 1, parameters(node), nesting(node))
             for name, node in functions() if node.end_lineno is not None and (
                 node.end_lineno - node.lineno + 1 > LONGEST_FUNCTION
                 or parameters(node) > MOST_PARAMETERS or nesting(node) > DEEPEST_NESTING)}
    assert not LARGE.keys() & TOO_LARGE
    unknown = {name: sizes for name, sizes in large.items() if name not in LARGE.keys() | TOO_LARGE}
    assert not unknown, "divide these (lines, parameters, nesting)"
    known = {name for name, _ in functions()}
    assert not (LARGE.keys() | TOO_LARGE) & known - large.keys(), "small now: take them off"


# Where a small number is remembered for a few small numbers, or something as small for some
# hundred chords (3 KB a chord at most). All else is kept in the stores of
# `fillwright.memory`, which are bounded by bytes. Theory, the page and paper are below and
# beside the search: their few tables are bounded by number.
SMALL_MEMORIES = {
    "hands/costs.py:pair_costs", "hands/costs.py:position_costs", "hands/jumps.py:_needed",
    "rules/harmony.py:_with_sixth", "fills/player.py:player_of",
    "fills/devices/reharm/place.py:_collection", "fills/devices/reharm/place.py:steps",
    "fills/devices/reharm/voice.py:_led", "fills/devices/reharm/never.py:_tones",
    "fills/devices/reharm/function.py:sounds_as", "fills/devices/reharm/function.py:named_classes",
    "fills/devices/line/costs.py:moves_of", "fills/devices/line/walk.py:_weights",
    "fills/devices/line/walk.py:_shape_rules",
    "fills/devices/line/rhythms.py:_lengths", "fills/devices/line/rhythms.py:_power",
    "fills/devices/line/room.py:kinds",
    "fills/devices/line/sounding.py:_is_third", "fills/devices/line/sounding.py:_is_seventh",
}
WITHIN_THE_SEARCH = ("hands", "rules", "fills", "arranging")


def remembering(node: ast.FunctionDef | ast.AsyncFunctionDef) -> Iterator[str | int]:
    """The decorators of `functools` that keep answers, and how many they keep."""
    for decorator in node.decorator_list:
        text = ast.unparse(decorator)
        if re.fullmatch(r"(functools\.)?(cache|lru_cache)", text):
            yield text
        size = re.fullmatch(r"(functools\.)?lru_cache\((?:maxsize=)?(.*)\)", text)
        if size is not None:
            yield int(size[2]) if size[2].isdigit() else size[2]


def test_what_is_remembered_is_bounded() -> None:
    kept = {name: size for name, node in functions() for size in remembering(node)}
    unbounded = {name for name, node in functions()
                 for size in remembering(node) if size == "cache" and parameters(node)}
    assert unbounded <= {"fills/devices/line/costs.py:moves_of"}, "a table that grows without end"
    searching = {name for name, size in kept.items()
                 if size != "cache" and name.split("/")[0] in WITHIN_THE_SEARCH}
    assert searching <= SMALL_MEMORIES, "use a store of fillwright.memory"


MOST_INNER_IMPORTS = 512
"""Names and modules that the tests take from inside a part, not from the package or its door. The
fewer, the freer the inside: lower it where it can be lowered."""


def _is_inner(module: str, name: str) -> bool:
    """Whether it is taken from inside: from a module of a part, or such a module itself."""
    path = ROOT / "src" / module.replace(".", "/")
    return not path.is_dir() or (path / f"{name}.py").is_file()


def test_the_tests_speak_to_what_is_public() -> None:
    inner = [f"{path.name}: {node.module}.{alias.name}"
             for path in sorted(Path(__file__).parent.rglob("*.py"))
             for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
             if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("fillwright.")
             for alias in node.names if _is_inner(str(node.module), alias.name)]
    assert len(inner) <= MOST_INNER_IMPORTS, "use the public functions, or a device"
    assert not [name for name in inner if name.rpartition(".")[2].startswith("_")]


# Written in pieces so that this file does not contain them.
_FORBIDDEN = re.compile("|".join((
    r"(?<![<\w])/" + r"work\b", r"(?<![<\w])/" + r"root\b", "/" + "home/", "py" + r"pi\.org",
    "python" + "hosted", "--" + "index-url", r"\bTO" + r"DO\b", r"\bFIX" + r"ME\b",
    r"\bX" + r"XX\b",
)))
_TEXT = {".py", ".md", ".toml", ".txt", ".musicxml", ".typ", ".html", ".css", ".js", ""}


def text_files() -> list[Path]:
    roots = [ROOT / name for name in ("src", "tests", "bench", "tools", "docs", "examples", ".ci")]
    found = [path for root in roots if root.exists() for path in root.rglob("*")]
    found += [path for path in ROOT.iterdir() if path.suffix in {".md", ".toml", ".txt"}]
    found.append(ROOT / "Makefile")
    return sorted(path for path in found if path.is_file() and path.suffix in _TEXT
                  and not {"__pycache__", "fillwright.egg-info"} & set(path.parts))


@every(text_files())
def test_no_machine_paths_registry_addresses_or_loose_ends(path: Path) -> None:
    match = _FORBIDDEN.search(path.read_text(encoding="utf-8"))
    assert match is None, match


def test_pinned_versions_name_no_place() -> None:
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    assert lines
    for line in lines:
        assert re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.!+]+", line), line
