"""The notebooks in `examples/` run from top to bottom, and their values show something.

They are run as a kernel would run them, cell by cell in one namespace, the last expression of
a cell being what is shown; a kernel itself would bring thirty packages for this one test.
"""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

NOTEBOOKS = sorted((Path(__file__).parent.parent / "examples").glob("*.ipynb"))


def run(cells: list[str]) -> list[Any]:
    """What each cell shows."""
    names: dict[str, Any] = {"__name__": "__main__"}
    shown = []
    for source in cells:
        tree = ast.parse(source)
        last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
        exec(compile(tree, "cell", "exec"), names)
        if isinstance(last, ast.Expr):
            shown.append(eval(compile(ast.Expression(last.value), "cell", "eval"), names))
    return shown


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_runs(path: Path) -> None:
    book = json.loads(path.read_text(encoding="utf-8"))
    assert book["nbformat"] == 4
    code = [cell for cell in book["cells"] if cell["cell_type"] == "code"]
    assert all(cell["outputs"] == [] for cell in code), "outputs are not kept in the repository"
    shown = run(["".join(cell["source"]) for cell in code])
    html = [value._repr_html_() for value in shown if hasattr(value, "_repr_html_")]
    assert any("<img " in text for text in html) and any("<audio " in text for text in html)


def test_there_is_one() -> None:
    assert NOTEBOOKS
