"""What a part gives to others, each name imported when it is first asked for: who wants one does
not wait for all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import Any

__all__ = ["on_first_use"]


def on_first_use(part: str, homes: Mapping[str, Sequence[str]]) -> Callable[[str], Any]:
    """The `__getattr__` of a part.

    part    its full name
    homes   for each module, by its name after the package's, the names that live in it

    >>> on_first_use("fillwright", {"errors": ("InputError",)})("InputError").__module__
    'fillwright.errors'
    """
    home = {name: module for module, names in homes.items() for name in names}

    def given(name: str) -> Any:
        if name not in home:
            raise AttributeError(f"module {part!r} has no attribute {name!r}")
        return getattr(import_module(f"fillwright.{home[name]}"), name)

    return given
