"""Compiling of inner loops to machine code, kept in a cache between runs.

Import modules that use this where they are called, not at the top of a module: the compiler takes half a second
to load.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., Any])
_LINEAR_ALGEBRA = "scipy.linalg"


def compiled(function: F) -> F:
    """The function as machine code, made when it is first called; loops over arrays and numbers only.

    While it works other threads work on.
    """
    try:
        return cast(F, numba.njit(cache=True, nogil=True)(function))
    except RuntimeError:  # no folder that can be written: compiled anew in every run
        return cast(F, numba.njit(nogil=True)(function))


def _load_without_linear_algebra() -> None:
    """Load what the compiler knows of arrays; where scipy is installed it would load that too, for a tenth of a second.

    No inner loop multiplies matrices.
    """
    if _LINEAR_ALGEBRA in sys.modules:
        return
    sys.modules[_LINEAR_ALGEBRA] = None  # type: ignore[assignment]
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        del sys.modules[_LINEAR_ALGEBRA]


_load_without_linear_algebra()
