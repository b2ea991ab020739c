"""The public names: exactly those of `__all__`, each importable, none imported early."""

from __future__ import annotations

import ast
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

import fillwright
from fillwright.arranging import model
from fillwright.cli import options as cli_options

PARTS = ("fillwright", *sorted(f"fillwright.{path.parent.name}" for path in Path(
    fillwright.__file__).parent.glob("*/__init__.py")))


@pytest.mark.parametrize("part", PARTS)
def test_a_part_gives_what_it_says(part: str) -> None:
    module = import_module(part)
    names = getattr(module, "__all__", [])
    given = [getattr(module, name) for name in names]  # each has a home
    assert not [one for one in given if isinstance(one, ModuleType)], "a module of that name"
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    homes = [ast.literal_eval(node.value.args[1]) for node in tree.body
             if isinstance(node, ast.Assign) and isinstance(node.value, ast.Call)
             and ast.unparse(node.value.func) == "on_first_use"]
    if homes:  # and nothing else has one
        assert sorted(name for row in homes[0].values() for name in row) == sorted(names)


def test_exports_equal_all() -> None:
    assert len(set(fillwright.__all__)) == len(fillwright.__all__)
    assert set(fillwright.__all__) <= set(dir(fillwright))


@pytest.mark.parametrize("name", fillwright.__all__)
def test_each_export_is_the_object_of_that_name(name: str) -> None:
    value = getattr(fillwright, name)
    assert callable(value)
    assert value.__name__ == {"engrave": "render_score"}.get(name, name)


def test_unknown_names_are_attribute_errors() -> None:
    with pytest.raises(AttributeError, match="no_such_thing"):
        fillwright.no_such_thing  # noqa: B018


def test_importing_the_package_and_asking_for_help_imports_nothing_heavy() -> None:
    code = ("import sys, fillwright, fillwright.cli\n"
            "heavy = {'numpy', 'lxml', 'verovio', 'typst', 'music21', 'mido', 'soundfile',\n"
            "         'pretty_midi', 'midirenderer'} & set(sys.modules)\n"
            "assert not heavy, heavy\n")
    subprocess.run([sys.executable, "-c", code], check=True)


def test_listing_gaps_imports_no_search() -> None:
    code = ("import sys\n"
            "from contextlib import suppress\n"
            "from fillwright.cli import main\n"
            "from fillwright.demo import demo_path\n"
            "with suppress(SystemExit):\n"
            "    main(['gaps', str(demo_path('lamp'))])\n"
            "searches = [name for name in sys.modules\n"
            "            if name.startswith('fillwright.fills.devices')]\n"
            "assert not searches, searches\n")
    found = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert "Lamp" in found.stdout


def test_the_formats_of_the_command_line_are_those_of_an_arrangement() -> None:
    assert cli_options.FORMATS == model.FORMATS
