"""Scales of views that are drawn as large as their room allows."""

from __future__ import annotations

from collections.abc import Sequence

REDUCTIONS = (10, 20, 25, 50, 100, 200, 500)
"""Scales of whole rails and blanks, 1 to these."""
SCALES: tuple[float, ...] = (1, 2, 2.5, 5, *REDUCTIONS)
"""Millimetres of steel for one of paper: those of ISO 5455, and 1:2.5 and 1:25, usual on drawings of trucks."""


def fitting_scale(size: float, room: float, scales: Sequence[float] = SCALES) -> float:
    """The largest picture: the first scale at which `size` mm of steel take at most `room` mm of paper."""
    return next((scale for scale in scales if size / scale <= room), scales[-1])
