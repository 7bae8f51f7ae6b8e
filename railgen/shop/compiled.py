"""Compiling of inner loops to machine code, kept in a cache between runs.

Import modules that use this where they are called, not at the top of a module: the compiler takes half a second
to load.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """The function as machine code, made when it is first called; loops over arrays and numbers only."""
    try:
        return cast(F, numba.njit(cache=True)(function))
    except RuntimeError:  # no folder that can be written: compiled anew in every run
        return cast(F, numba.njit(function))
