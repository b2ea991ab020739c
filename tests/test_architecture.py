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
_PAGE = {"theory", "tune", "errors", "shown"}
_IDEAS = _PAGE | {"lattice", "memory", "hands", "rules", "fills"}
_WHOLE = _IDEAS | {"arranging"}
MAY_IMPORT: dict[str, set[str]] = {
    "theory": {"theory"},
    "lattice": set(),
    "errors": set(),
    "memory": set(),
    "swing": set(),
    "tune": _PAGE,
    "hands": _PAGE | {"lattice", "memory", "hands"},
    "rules": _PAGE | {"memory", "hands", "rules"},
    "fills": _IDEAS,
    "arranging": _WHOLE,
    "edition": _WHOLE | {"edition"},
    "score": _WHOLE | {"score", "swing"},
    "sound": _WHOLE | {"sound", "swing"},
    "contract": _WHOLE,
    "tables": _WHOLE,
    "output": _WHOLE | {"contract", "score", "sound"},
    "display": _WHOLE | {"score", "sound"},
    "shown": set(),
    "progress": set(),
    "demo": set(),
}
DOORS = {"cli", "cli_audit", "cli_shared", "web"}
LONGEST_MODULE = 600


def part_of(path: Path) -> str:
    """``theory/pitch.py`` belongs to theory, ``cli.py`` to cli."""
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


@cache
def imported_parts(path: Path) -> frozenset[str]:
    """Parts of fillwright that a module imports anywhere, also inside functions."""
    return frozenset(_imports(path))


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
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
        assert ast.get_docstring(ast.parse(text)), "no docstring at the top"


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
