"""What reach and clamps of the press close to one more punched hole."""

from __future__ import annotations

import numpy as np
import shapely

from railgen.data.plant import Press
from railgen.placing.free_frame import grown
from railgen.rules.pattern import Pattern
from railgen.rules.press import blank_lies, with_dead_zone
from railgen.shop.clamps import clamp_boxes
from railgen.shop.press_lie import PressLie


def clamps_closed(
    pattern: Pattern, hole: Pattern, row: int, side: int, part: int, warnings: bool = False
) -> list[shapely.Geometry]:
    """Areas of a blank, in un-mirrored blank axes, closed to the centre of a punched round hole by reach and clamps.

    pattern: of the serial; hole: of the hole alone, whose row tells its size and limits.
    """
    press = pattern.order.library.press
    far = 2 * press.longest_blank
    lie = next(lie for s, p, lie in blank_lies(pattern, press) if (s, p) == (side, part))
    found: list[shapely.Geometry] = []
    if pattern.limits.holds("press-limit", "reach"):
        beyond = (press.reach, far) if press.gauge_edge == "bottom" else (-far, lie.width - press.reach)
        found.append(shapely.box(-far, beyond[0], far, beyond[1]))
    key = ("press-limit", "clamp")
    if press.clamps and pattern.limits.holds(*key):
        limits = with_dead_zone(hole.limit(*key), press)
        asked = np.maximum(limits.error, limits.warning) if warnings else limits.error
        distance = float(asked[row]) + float(hole.cores.radius[row])
        shifts = [shapely.union_all(_clamps_in_blank(press, lie, shift, side)) for shift in press.clamp_shifts]
        found.append(shapely.intersection_all(grown(np.array(shifts), distance)))
    return found


def _clamps_in_blank(press: Press, lie: PressLie, shift: float, side: int) -> np.ndarray:
    """Clamps as they lie on a blank, in un-mirrored blank axes."""
    boxes = clamp_boxes(press, lie, shift)
    x, y = lie.to_press(boxes[:, [0, 2]], boxes[:, [1, 3]])
    x = x if side == 0 else lie.length - x
    return np.asarray(shapely.box(x.min(axis=1), y.min(axis=1), x.max(axis=1), y.max(axis=1)))
