"""The whole chorus: base texture, one fill a gap at most, picks kept."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillwright.arrange.model import Arrangement, Options
    from fillwright.tune.model import Tune


class _CallablePackage(ModuleType):
    """`fillwright.arrange` is this subpackage and, called, the function `build.arrange`.

    Importing a subpackage sets its name on the parent package, so one object has to be both.
    """

    def __call__(self, tune: Tune, options: Options | None = None, *,
                 progress: Callable[[int, int], None] | None = None) -> Arrangement:
        """See `fillwright.arrange.build.arrange`."""
        from fillwright.arrange.build import arrange

        return arrange(tune, options, progress=progress)


sys.modules[__name__].__class__ = _CallablePackage
